"""Sends each request where it is answered, and answers what needs no handler itself."""

from collections.abc import Mapping, Sequence

from .asgi import App, Message, Receive, Route, Scope, Send, send_whole
from .problems import METHOD_NOT_ALLOWED, NOT_FOUND, ProblemError, request_id_of, send_problem


class Gate:
    """Lets through only requests that something answers: unknown paths and other methods end here.

    Calculations and flat questions come often and are over fast. They are answered on the bare
    connection, as routing through the framework costs as much as a flat question.

    Parameters
    ----------
    app : ASGI application
        The framework with its handlers.
    handled : mapping
        Methods by path of those handlers, without HEAD and OPTIONS.
    routes : sequence of Route
        What is answered without the framework.
    """

    def __init__(
        self, app: App, handled: Mapping[str, frozenset[str]], routes: Sequence[Route]
    ) -> None:
        self._app = app
        self._bare = {route.path: route.app for route in routes}
        self._methods = {**handled, **{one.path: frozenset({one.method}) for one in routes}}
        self._allow = {path: _allow(own) for path, own in self._methods.items()}

    @property
    def paths(self) -> frozenset[str]:
        """Every path that is answered."""
        return frozenset(self._methods)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one connection."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        path = scope["path"]
        methods = self._methods.get(path)
        app = self._bare.get(path, self._app)
        if methods is not None and scope["method"] in methods:
            await app(scope, receive, send)
        elif methods is not None and scope["method"] == "HEAD" and "GET" in methods:
            await app({**scope, "method": "GET"}, receive, _without_body(send))
        elif methods is not None and scope["method"] == "OPTIONS":
            await send_whole(send, 204, {"Allow": self._allow[path]}, b"")
        else:
            await send_problem(send, self._refusal(scope), request_id_of(scope))

    def _refusal(self, scope: Scope) -> ProblemError:
        allow = self._allow.get(scope["path"])
        if allow is None:
            return ProblemError(NOT_FOUND, "There is nothing here; /openapi.json lists all calls.")
        return ProblemError(METHOD_NOT_ALLOWED, f"Use {allow}.", headers={"Allow": allow})


def _allow(methods: frozenset[str]) -> str:
    head = {"HEAD"} if "GET" in methods else set[str]()
    return ", ".join(sorted(methods | head | {"OPTIONS"}))


def _without_body(send: Send) -> Send:
    async def without_body(message: Message) -> None:
        if message["type"] == "http.response.body":
            message["body"] = b""
        await send(message)

    return without_body
