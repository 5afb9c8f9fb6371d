"""Outermost layer: request id, security headers, metrics and one log line, come what may."""

import re
import time
import uuid
from collections.abc import Mapping
from dataclasses import dataclass, field

from structlog.typing import FilteringBoundLogger

from .asgi import App, Message, Receive, Scope, Send, add_headers, header
from .metrics import Metrics
from .problems import INTERNAL, ProblemError, send_problem

_REQUEST_ID = re.compile(r"[A-Za-z0-9._~:-]{1,64}")

SECURITY_HEADERS: Mapping[str, str] = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Content-Security-Policy": "default-src 'none'; frame-ancestors 'none'",
    "Cache-Control": "no-store",
}
"""Headers of every answer, unless the answer brings its own."""


@dataclass
class _Exchange:
    """What is known of one request while it is answered."""

    request_id: str
    started: float = field(default_factory=time.perf_counter)
    status: int = 0
    received_bytes: int = 0
    sent_bytes: int = 0


class Envelope:
    """Wraps an application.

    Parameters
    ----------
    app : ASGI application
        What answers.
    paths : collection of str
        Known paths; others are counted as one, so that strangers cannot inflate the metrics.
    log : FilteringBoundLogger
        Where the line goes.
    metrics : Metrics
        Where the request is counted.
    """

    def __init__(
        self, app: App, paths: frozenset[str], log: FilteringBoundLogger, metrics: Metrics
    ) -> None:
        self._app = app
        self._paths = paths
        self._log = log
        self._metrics = metrics

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one connection."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        exchange = _Exchange(_request_id(scope))
        scope.setdefault("state", {})["request_id"] = exchange.request_id
        try:
            await self._app(scope, _counted(receive, exchange), _dressed(send, exchange))
        except Exception as error:  # noqa: BLE001 - nothing may leave the service undescribed
            scope["state"]["exception"] = error
            await _last_resort(_dressed(send, exchange), exchange)
        finally:
            self._note(scope, exchange)

    def _note(self, scope: Scope, exchange: _Exchange) -> None:
        seconds = time.perf_counter() - exchange.started
        path = scope["path"] if scope["path"] in self._paths else "other"
        self._metrics.count(str(scope["method"]), path, exchange.status, seconds)
        write = self._log.error if "exception" in scope["state"] else self._log.info
        write(
            "request",
            request_id=exchange.request_id,
            method=scope["method"],
            path=scope["path"][:200],
            status=exchange.status,
            duration_ms=round(seconds * 1000.0, 2),
            received_bytes=exchange.received_bytes,
            sent_bytes=exchange.sent_bytes,
            exc_info=scope["state"].get("exception"),
        )


def _request_id(scope: Scope) -> str:
    given = header(scope, "x-request-id") or ""
    return given if _REQUEST_ID.fullmatch(given) else uuid.uuid4().hex


def _counted(receive: Receive, exchange: _Exchange) -> Receive:
    async def counted() -> Message:
        message = await receive()
        if message["type"] == "http.request":
            exchange.received_bytes += len(message.get("body", b""))
        return message

    return counted


def _dressed(send: Send, exchange: _Exchange) -> Send:
    async def dressed(message: Message) -> None:
        if message["type"] == "http.response.start":
            exchange.status = message["status"]
            add_headers(message, {"X-Request-Id": exchange.request_id, **SECURITY_HEADERS})
        elif message["type"] == "http.response.body":
            exchange.sent_bytes += len(message.get("body", b""))
        await send(message)

    return dressed


async def _last_resort(send: Send, exchange: _Exchange) -> None:
    """A problem document for a fault outside the framework's reach, if nothing was sent yet."""
    if exchange.status == 0:
        error = ProblemError(INTERNAL, "Something failed on our side. Quote the request id.")
        await send_problem(send, error, exchange.request_id)
