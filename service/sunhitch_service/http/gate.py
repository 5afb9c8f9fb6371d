"""Answers what needs no handler: unknown paths, other methods, OPTIONS, and HEAD."""

from collections.abc import Mapping

from .asgi import App, Message, Receive, Scope, Send, send_whole
from .problems import METHOD_NOT_ALLOWED, NOT_FOUND, ProblemError, request_id_of, send_problem


class Gate:
    """Lets through only requests that a handler answers.

    Parameters
    ----------
    app : ASGI application
        The handlers.
    methods : mapping
        Methods by path, without HEAD and OPTIONS.
    """

    def __init__(self, app: App, methods: Mapping[str, frozenset[str]]) -> None:
        self._app = app
        self._methods = methods
        self._allow = {path: _allow(own) for path, own in methods.items()}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one connection."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        methods = self._methods.get(scope["path"])
        if methods is not None and scope["method"] in methods:
            await self._app(scope, receive, send)
        elif methods is not None and scope["method"] == "HEAD" and "GET" in methods:
            await self._app({**scope, "method": "GET"}, receive, _without_body(send))
        elif methods is not None and scope["method"] == "OPTIONS":
            await send_whole(send, 204, {"Allow": self._allow[scope["path"]]}, b"")
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
