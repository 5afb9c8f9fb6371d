"""How many calls a key or an address may make in a minute."""

import ipaddress
import time
from dataclasses import dataclass
from functools import lru_cache

from limits import RateLimitItemPerMinute
from limits.storage import MemoryStorage
from limits.strategies import FixedWindowRateLimiter

_WINDOW_S = 60


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


class Pace:
    """Counts calls.

    Parameters
    ----------
    per_minute : int
        Calls that are allowed.
    """

    def __init__(self, per_minute: int) -> None:
        self._limit = RateLimitItemPerMinute(per_minute)
        self._limiter = FixedWindowRateLimiter(MemoryStorage())
        self._policy = f'"minute";q={per_minute};w={_WINDOW_S}'

    def spend(self, who: str) -> Standing:
        """Count one call of a caller."""
        within = self._limiter.hit(self._limit, who)
        window = self._limiter.get_window_stats(self._limit, who)
        reset_s = max(1, round(window.reset_time - time.time()))
        headers = {
            "RateLimit-Policy": self._policy,
            "RateLimit": f'"minute";r={window.remaining};t={reset_s}',
        }
        return Standing(within, headers, reset_s)


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
