"""Who may call, and how often: API keys and the rate limit.

`/v1/…` and `/metrics` are guarded. `/health/…`, `/openapi.json` and `/docs` answer anyone: they
tell nothing that is not public, and whoever watches the service needs no key.
"""

import math
import time
from typing import Any, cast
from urllib.parse import unquote_to_bytes

from litestar import Request
from litestar.types import HTTPScope

from sunhitch_service.tasks.problems import Kind, ProblemError
from sunhitch_service.workers.fair import Budgets

from .exchange import HttpExchange, exchange_of
from .keys import Keyring
from .settings import CALLS, METRICS, Settings

KEY_HEADER = "X-API-Key"

_CHALLENGE = {"WWW-Authenticate": f'ApiKey realm="sunhitch", header="{KEY_HEADER}"'}


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
    """Counts the calls of each key name, or of each address."""

    def __init__(self, per_minute: int) -> None:
        self._most = per_minute
        self._calls = Budgets(per_minute, time.monotonic)
        self._policy = f'"minute";q={per_minute};w=60'

    def spend(self, exchange: HttpExchange) -> None:
        """Count one call, and have its answer tell what is left; may raise `RATE_LIMITED`."""
        who = exchange.payer
        wait_s = math.ceil(self._calls.wait_s(who, 1.0))
        if not wait_s:
            self._calls.spend(who, 1.0)
        used = self._calls.used(who)
        whole_s = math.ceil(self._calls.refilled_s(used))
        exchange.headers["RateLimit-Policy"] = self._policy
        exchange.headers["RateLimit"] = f'"minute";r={math.floor(self._most - used)};t={whole_s}'
        if wait_s:
            detail = f"Too many calls in a minute; try again in {wait_s} s."
            raise ProblemError(Kind.RATE_LIMITED, detail, headers={"Retry-After": str(wait_s)})


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
