"""Who may call, and how often: API keys and the rate limit.

`/v1/…` and `/metrics` are guarded. `/health/…`, `/openapi.json` and `/docs` answer anyone: they
tell nothing that is not public, and whoever watches the service needs no key.
"""

import time
from dataclasses import dataclass
from typing import Any, cast
from urllib.parse import unquote_to_bytes

from cachetools import TTLCache
from litestar import Request
from litestar.types import HTTPScope

from .exchange import HttpExchange, exchange_of
from .keys import Keyring
from .problems import Kind, ProblemError
from .settings import CALLS, METRICS, Settings

KEY_HEADER = "X-API-Key"

_CHALLENGE = {"WWW-Authenticate": f'ApiKey realm="sunhitch", header="{KEY_HEADER}"'}
_WINDOW_S = 60
_MOST_CALLERS = 100_000
"""Callers kept in mind at a time; beyond that, those counted longest ago are forgotten."""


class Access:
    """Lets through calls with a valid key, as many as the rate limit allows."""

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._never_open = settings.needs_key(settings.host)
        self._keyring = Keyring(settings.api_keys)
        per_minute = settings.rate_limit_per_minute
        self._rate = None if per_minute is None else Rate(per_minute)

    async def admit(self, request: Request[Any, Any, Any]) -> None:
        """Hook of the framework before a handler; takes a key out of the query.

        Raises
        ------
        ProblemError
            `RATE_LIMITED`, `UNAUTHORISED`, or `FORBIDDEN`; `NOT_FOUND` for a path that the
            framework mends.
        """
        scope, exchange = request.scope, exchange_of(request)
        path = scope["path"]
        if len(exchange.path) != len(path):
            raise ProblemError(Kind.NOT_FOUND)
        counted = path.startswith("/v1/")
        if request.method == "OPTIONS" or not (counted or path == "/metrics"):
            return
        key = request.headers.get(KEY_HEADER)
        if self._settings.query_keys and path.startswith("/v1/quick/"):
            shown = _taken_from_query(scope)
            key = key or shown
        found = self._keyring.find(key) if key else None
        if found is not None:
            exchange.caller = found.name
        if self._rate is not None and counted:
            self._rate.spend(exchange)
        if not (self._never_open or self._settings.needs_key(_own_address(scope))):
            return
        if found is None:
            told = "This key is not valid, or has expired."
            detail = told if key else f"Send a key in the header {KEY_HEADER}."
            raise ProblemError(Kind.UNAUTHORISED, detail, headers=_CHALLENGE)
        if (CALLS if counted else METRICS) not in found.scopes:
            raise ProblemError(Kind.FORBIDDEN, f"This key is for {' and '.join(found.scopes)}.")


class Rate:
    """Counts the calls of each key name, or of each address, by the minute.

    The clock is one that nobody can set, so that no change of the time of day locks callers out.

    Attributes
    ----------
    minutes : TTLCache
        The minute that each caller's first call began.
    """

    def __init__(self, per_minute: int) -> None:
        self._most = per_minute
        self.minutes: TTLCache[str, _Minute] = TTLCache(_MOST_CALLERS, _WINDOW_S, timer=_now_s)
        self._policy = f'"minute";q={per_minute};w={_WINDOW_S}'

    def spend(self, exchange: HttpExchange) -> None:
        """Count one call, and have its answer tell what is left; may raise `RATE_LIMITED`."""
        who = exchange.payer
        minute = self.minutes.get(who)
        if minute is None:
            minute = self.minutes[who] = _Minute(_now_s())
        minute.calls += 1
        reset_s = max(1, round(minute.began_s + _WINDOW_S - _now_s()))
        left = max(0, self._most - minute.calls)
        exchange.headers["RateLimit-Policy"] = self._policy
        exchange.headers["RateLimit"] = f'"minute";r={left};t={reset_s}'
        if minute.calls > self._most:
            detail = f"Too many calls in a minute; try again in {reset_s} s."
            raise ProblemError(Kind.RATE_LIMITED, detail, headers={"Retry-After": str(reset_s)})


@dataclass(slots=True)
class _Minute:
    """A minute that began with a caller's first call."""

    began_s: float
    calls: int = 0


def _now_s() -> float:
    return time.monotonic()


def _taken_from_query(scope: HTTPScope) -> str | None:
    """Key in the query, which loses it, so that nothing further on can show it."""
    pairs = scope["query_string"].split(b"&")
    keys = [pair for pair in pairs if pair.partition(b"=")[0] == b"api_key"]
    if not keys:
        return None
    scope["query_string"] = b"&".join(pair for pair in pairs if pair not in keys)
    return unquote_to_bytes(keys[0].partition(b"=")[2]).decode("utf-8", "replace")


def _own_address(scope: HTTPScope) -> str:
    """Address of this machine that the call arrived at; a socket in the file system is local."""
    server = cast("dict[str, Any]", scope).get("server") or ("/",)
    return str(server[0])
