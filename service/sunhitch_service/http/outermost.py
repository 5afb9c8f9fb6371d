"""Outermost layer: metrics and one log line of every request, and an answer come what may."""

import time
from datetime import UTC, datetime
from traceback import format_exception
from typing import Any, cast

from litestar import Request, Response
from litestar.enums import ScopeType
from litestar.exceptions import HTTPException, MethodNotAllowedException
from litestar.types import ASGIApp, Receive, Scope, Send
from msgspec import UNSET

from sunhitch_service.tasks.media_types import PROBLEM, TEXT
from sunhitch_service.tasks.problems import Kind, ProblemError
from sunhitch_service.workers.fair import Shares

from .exchange import HttpExchange, exchange_of
from .logs import RequestLine, RequestLog
from .metrics import Metrics
from .turns import Turns

_OF_FRAMEWORK = {
    kind.status: kind
    for kind in (Kind.MALFORMED, Kind.NOT_FOUND, Kind.METHOD_NOT_ALLOWED, Kind.TOO_LARGE)
}
"""What the framework refuses by itself, by status."""
_FOR_CELLS, _AS_TEXT = ("/v1/quick", "/v1/reference"), b"errors=text"
"""Where a caller may ask for status 200 and a line that begins with ``Error:``."""
_AT_ONCE = "/health/"
"""Waits for nobody."""


class Exchanges:
    """Wraps the framework: whatever it answers, also to what it never routes, passes here.

    Parameters
    ----------
    app : ASGI application
        What answers.
    paths : collection of str
        Known paths; others are counted as one, so that strangers cannot inflate the metrics.
    log : RequestLog
        Where the line of each request goes.
    metrics : Metrics
        Where it is counted.
    bytes_held : Shares
        Bytes of bodies that all requests under way hold.
    turns : Turns
        Which request may begin.
    """

    def __init__(
        self,
        app: ASGIApp,
        paths: frozenset[str],
        log: RequestLog,
        metrics: Metrics,
        bytes_held: Shares,
        turns: Turns,
    ) -> None:
        self._app, self._paths = app, paths
        self._log, self._metrics = log, metrics
        self._bytes_held, self._turns = bytes_held, turns

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one connection."""
        if scope["type"] != ScopeType.HTTP:
            await self._app(scope, receive, send)
            return
        cast("dict[str, Any]", scope).setdefault("state", {})
        scope["path"] = "/" + scope["path"].strip("/")
        exchange = HttpExchange(scope, receive, send, self._bytes_held)
        try:
            exchange.read_head()
            if not exchange.path.startswith(_AT_ONCE):
                await self._turns.wait()
            await self._app(scope, exchange.receive, exchange.send)
        except Exception as error:  # noqa: BLE001 - nothing may leave the service undescribed
            request = Request[Any, Any, Any](scope)
            answer = refused(request, error)
            if exchange.status == 0:
                whole = answer.to_asgi_response(None, request)  # pyright: ignore[reportUnknownMemberType]
                await whole(scope, exchange.receive, exchange.send)
        finally:
            exchange.end()
            self._note(scope["method"], exchange)

    def _note(self, method: str, exchange: HttpExchange) -> None:
        seconds = time.perf_counter() - exchange.started
        path = exchange.path if exchange.path in self._paths else "other"
        self._metrics.count(method, path, exchange.status, seconds)
        error = exchange.error
        self._log.write(
            RequestLine(
                timestamp=datetime.now(UTC),
                level="info" if error is None else "error",
                request_id=exchange.request_id,
                method=method,
                path=exchange.path,
                status=exchange.status,
                client=exchange.client,
                caller=exchange.caller,
                duration_ms=round(seconds * 1000.0, 2),
                received_bytes=exchange.received_bytes,
                sent_bytes=exchange.sent_bytes,
                problem=exchange.problem or UNSET,
                cost_ms=round(exchange.cost_ms, 3) or UNSET,
                worker=exchange.worker or UNSET,
                exception=UNSET if error is None else "".join(format_exception(error)),
            )
        )


def refused(request: Request[Any, Any, Any], error: Exception) -> Response[bytes]:
    """Answer any exception with a problem document, or a line of text where that is asked for."""
    exchange = exchange_of(request)
    if isinstance(error, HTTPException) and error.status_code in _OF_FRAMEWORK:
        error = _of_framework(error)
    problem = exchange.problem_of(error)
    if exchange.path.startswith(_FOR_CELLS) and _AS_TEXT in request.scope["query_string"]:
        return Response(f"Error: {_said(problem)}".encode(), media_type=TEXT)
    return Response(
        problem.body(exchange.request_id),
        status_code=problem.kind.status,
        media_type=PROBLEM,
        headers=dict(problem.headers),
    )


def _said(problem: ProblemError) -> str:
    """A problem in a line without an end, for cells that cannot show anything else."""
    faults = [f"{one.pointer.removeprefix('/')}: {one.message}" for one in problem.errors]
    own = f"{problem.kind.title}. {problem.detail}".rstrip()
    return " ".join(fault.removeprefix(": ") for fault in faults) or own


def _of_framework(error: HTTPException) -> ProblemError:
    if not isinstance(error, MethodNotAllowedException):
        return ProblemError(_OF_FRAMEWORK[error.status_code])
    methods = (error.headers or {}).get("allow", "")
    allow = ", ".join(sorted(methods.split(", ")))
    return ProblemError(Kind.METHOD_NOT_ALLOWED, f"Use {allow}.", headers={"Allow": allow})
