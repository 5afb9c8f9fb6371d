"""How many calls a key or an address may make in a minute."""

import ipaddress
import time
from dataclasses import dataclass
from functools import lru_cache

from cachetools import TTLCache

_WINDOW_S = 60
_MOST_CALLERS = 100_000
"""Callers kept in mind at a time; beyond that, those counted longest ago are forgotten."""


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a caller stands after a call.

    Parameters
    ----------
    within : bool
        Whether the call was still allowed.
    headers : dict of str
        Limit, rest and time to the next minute, as response headers.
    reset_s : int
        Seconds until calls are counted anew.
    """

    within: bool
    headers: dict[str, str]
    reset_s: int


@dataclass(slots=True)
class _Window:
    """A minute that began with a caller's first call."""

    began_s: float
    calls: int = 0


class Pace:
    """Counts calls by a clock that nobody can set.

    Parameters
    ----------
    per_minute : int
        Calls that are allowed.
    """

    def __init__(self, per_minute: int) -> None:
        self._most = per_minute
        self._windows: TTLCache[str, _Window] = TTLCache(_MOST_CALLERS, _WINDOW_S, timer=_now)
        self._policy = f'"minute";q={per_minute};w={_WINDOW_S}'

    def spend(self, who: str) -> Standing:
        """Count one call of a caller."""
        window = self._windows.get(who)
        if window is None:
            window = self._windows[who] = _Window(_now())
        window.calls += 1
        reset_s = max(1, round(window.began_s + _WINDOW_S - _now()))
        headers = {
            "RateLimit-Policy": self._policy,
            "RateLimit": f'"minute";r={max(0, self._most - window.calls)};t={reset_s}',
        }
        return Standing(window.calls <= self._most, headers, reset_s)


def _now() -> float:
    return time.monotonic()


@lru_cache(maxsize=4096)
def neighbourhood(address: str) -> str:
    """What an address is counted as: itself, or its /64, of which one subscriber has all."""
    try:
        parsed = ipaddress.ip_address(address)
    except ValueError:
        return address
    if parsed.version == 4:
        return address
    return str(ipaddress.ip_network((parsed, 64), strict=False))
