"""Who may call, and how often: API keys and the rate limit.

`/v1/…` and `/metrics` are guarded. `/health/…`, `/openapi.json` and `/docs` answer anyone: they
tell nothing that is not public, and whoever watches the service needs no key.
"""

from urllib.parse import unquote_to_bytes

from .asgi import App, Receive, Scope, Send, header
from .keys import Keyring
from .pace import Pace, neighbourhood
from .problems import (
    RATE_LIMITED,
    UNAUTHORISED,
    ProblemError,
    request_id_of,
    send_problem,
)
from .settings import Settings

KEY_HEADER = "X-API-Key"
KEY_PARAMETER = "api_key"
CHALLENGE = {"WWW-Authenticate": f'ApiKey realm="sunhitch", header="{KEY_HEADER}"'}

_COUNTED = "/v1/"
_GUARDED = (_COUNTED, "/metrics")
_QUERY_KEYS_AT = "/v1/quick/"


class Access:
    """Lets through calls with a valid key, as many as the rate limit allows.

    Parameters
    ----------
    app : ASGI application
        What answers.
    settings : Settings
        Keys and limit.
    """

    def __init__(self, app: App, settings: Settings) -> None:
        self._app = app
        self._settings = settings
        self._never_open = settings.needs_key(settings.host)
        self._keyring = Keyring(settings.api_keys)
        per_minute = settings.rate_limit_per_minute
        self._pace = None if per_minute is None else Pace(per_minute)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one connection."""
        if scope["type"] == "http" and scope["path"].startswith(_GUARDED):
            try:
                scope = self._admitted(scope)
            except ProblemError as refusal:
                await send_problem(send, refusal, request_id_of(scope))
                return
        await self._app(scope, receive, send)

    def _admitted(self, scope: Scope) -> Scope:
        """The request without its key.

        Raises
        ------
        ProblemError
            `RATE_LIMITED` or `UNAUTHORISED`.
        """
        if scope["method"] == "OPTIONS":
            return scope
        key, scope = self._key(scope)
        owner = self._keyring.owner(key) if key else None
        if owner is not None:
            scope["state"]["caller"] = owner
        if self._pace is not None and scope["path"].startswith(_COUNTED):
            self._spend(self._pace, scope, owner)
        if owner is None and self._needs_key(scope):
            raise _unauthorised(key)
        return scope

    def _needs_key(self, scope: Scope) -> bool:
        """As the settings say, also where another server than ours took the call."""
        return self._never_open or self._settings.needs_key(_own_address(scope))

    def _key(self, scope: Scope) -> tuple[str | None, Scope]:
        key = header(scope, KEY_HEADER.lower())
        if self._settings.query_keys and scope["path"].startswith(_QUERY_KEYS_AT):
            found, scope = _taken_from_query(scope)
            key = key or found
        return key, scope

    def _spend(self, pace: Pace, scope: Scope, owner: str | None) -> None:
        client = (scope.get("client") or ("unknown",))[0]
        standing = pace.spend(neighbourhood(client) if owner is None else f"key {owner}")
        scope["state"]["headers"] = standing.headers
        if not standing.within:
            detail = f"Too many calls in a minute; try again in {standing.reset_s} s."
            raise ProblemError(RATE_LIMITED, detail, headers={"Retry-After": str(standing.reset_s)})


def _taken_from_query(scope: Scope) -> tuple[str | None, Scope]:
    """Key in the query, and the request without it, so that nothing further on can show it."""
    pairs = scope["query_string"].split(b"&")
    keys = [pair for pair in pairs if pair.partition(b"=")[0] == KEY_PARAMETER.encode()]
    if not keys:
        return None, scope
    rest = b"&".join(pair for pair in pairs if pair not in keys)
    key = unquote_to_bytes(keys[0].partition(b"=")[2]).decode("utf-8", "replace")
    return key, {**scope, "query_string": rest}


def _own_address(scope: Scope) -> str:
    """Address of this machine that the call arrived at; a socket in the file system is local."""
    server = scope.get("server") or ("/",)
    return str(server[0])


def _unauthorised(key: str | None) -> ProblemError:
    detail = "This key is not valid." if key else f"Send a key in the header {KEY_HEADER}."
    return ProblemError(UNAUTHORISED, detail, headers=CHALLENGE)
