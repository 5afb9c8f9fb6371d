"""Cross-origin rules for web pages that call the service, for the origins in the settings."""

from sunhitch.types.check import VERDICT_HEADER

from .asgi import App, Message, Receive, Scope, Send, add_headers, header


class Cors:
    """Adds cross-origin headers to what an application answers; no cookies are ever involved.

    Parameters
    ----------
    app : ASGI application
        What answers, OPTIONS with `Allow` included.
    origins : list of str
        Origins that may call; ``*`` for all.
    """

    def __init__(self, app: App, origins: list[str]) -> None:
        self._app = app
        self._origins = frozenset(origins)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one connection."""
        if scope["type"] == "http":
            send = self._with_headers(scope, send)
        await self._app(scope, receive, send)

    def _with_headers(self, scope: Scope, send: Send) -> Send:
        origin = header(scope, "origin")
        preflight = header(scope, "access-control-request-method") is not None
        allowed = origin is not None and not self._origins.isdisjoint({"*", origin})

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                add_headers(message, {"Vary": "Origin"})
                if allowed:
                    add_headers(message, _allowance(message, str(origin), preflight=preflight))
            await send(message)

        return with_headers


def _allowance(message: Message, origin: str, *, preflight: bool) -> dict[str, str]:
    headers = {
        "Access-Control-Allow-Origin": origin,
        "Access-Control-Expose-Headers": "Allow, RateLimit, RateLimit-Policy, Retry-After, "
        f"X-Request-Id, X-Sunhitch-Engine, {VERDICT_HEADER}",
    }
    methods = header(message, "allow")
    if preflight and methods:
        headers["Access-Control-Allow-Methods"] = methods
        headers["Access-Control-Allow-Headers"] = "Accept, Content-Type, X-API-Key, X-Request-Id"
        headers["Access-Control-Max-Age"] = "600"
    return headers
