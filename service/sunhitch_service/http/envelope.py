"""Outermost layer: request id, headers of every answer, metrics and one log line, come what may."""

import asyncio
import re
import secrets
import time
from collections.abc import Mapping
from datetime import UTC, datetime
from functools import cache
from itertools import count
from traceback import format_exception

from msgspec import UNSET

from sunhitch_service.engine.stamp import stamp

from .asgi import App, Header, Message, Receive, Scope, Send, add_encoded, encoded, header
from .logs import RequestLine, RequestLog
from .metrics import Metrics
from .problems import INTERNAL, ProblemError, send_problem
from .unread import Unread

_REQUEST_ID = re.compile(r"[A-Za-z0-9._~:-]{1,64}")

_PROCESS, _COUNTER = secrets.token_hex(12), count()
"""Request ids are chance drawn once and a count: to draw it each time is a call of the system."""

SECURITY_HEADERS: Mapping[str, str] = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Content-Security-Policy": "default-src 'none'; frame-ancestors 'none'",
    "Cache-Control": "no-store",
}
"""Headers of every answer, unless the answer brings its own."""

ENGINE_HEADER = "X-Sunhitch-Engine"
"""What computed an answer, for those that are not JSON and carry no stamp inside."""

NOTED_AFTER_S = 0.01
"""Answered requests wait that long to be noted together: by itself each costs several times as
much, since whatever notes it has left the processor's caches while the next one was answered."""


_LONGEST_PATH = 200
"""Characters of a path that are kept; no known path has as many."""


class _Exchange:
    """One request while it is answered: watches what passes, and dresses the answer."""

    __slots__ = ("_send", "_state", "request_id", "sent_bytes", "started", "status", "unread")

    def __init__(self, scope: Scope, receive: Receive, send: Send) -> None:
        self.request_id = _request_id(scope)
        self.started = time.perf_counter()
        self.status = 0
        self.sent_bytes = 0
        self.unread = Unread(scope, receive)
        self._state = scope.setdefault("state", {})
        self._state["request_id"] = self.request_id
        self._send = send

    async def send(self, message: Message) -> None:
        """Pass on a part of the answer."""
        if message["type"] == "http.response.start":
            self.status = message["status"]
            told = [(b"x-request-id", self.request_id.encode()), *_every_answer()]
            if "headers" in self._state:
                told += encoded(self._state["headers"])
            add_encoded(message, told)
            self.unread.announce(message)
        elif message["type"] == "http.response.body":
            self.sent_bytes += len(message.get("body", b""))
            await self.unread.drain_before_end(message, self._send)
        await self._send(message)


class Envelope:
    """Wraps an application.

    Parameters
    ----------
    app : ASGI application
        What answers.
    paths : collection of str
        Known paths; others are counted as one, so that strangers cannot inflate the metrics.
    log : RequestLog
        Where the line goes.
    metrics : Metrics
        Where the request is counted.
    """

    def __init__(
        self,
        app: App,
        paths: frozenset[str],
        log: RequestLog,
        metrics: Metrics,
    ) -> None:
        self._app = app
        self._paths = paths
        self._log = log
        self._metrics = metrics
        self._answered: list[tuple[RequestLine, float]] = []
        metrics.before_reading = self._note_all

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one connection."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            self._note_all()
            return
        exchange = _Exchange(scope, receive, send)
        try:
            await self._app(scope, exchange.unread.receive, exchange.send)
        except Exception as error:  # noqa: BLE001 - nothing may leave the service undescribed
            scope["state"]["exception"] = error
            await _last_resort(exchange)
        finally:
            self._take_down(scope, exchange)

    def _take_down(self, scope: Scope, exchange: _Exchange) -> None:
        """Remember a request until those of some time are noted in one go."""
        state, error = scope["state"], scope["state"].get("exception")
        seconds = time.perf_counter() - exchange.started
        line = RequestLine(
            event="request",
            timestamp=datetime.now(UTC),
            level="info" if error is None else "error",
            request_id=exchange.request_id,
            method=scope["method"],
            path=scope["path"][:_LONGEST_PATH],
            status=exchange.status,
            caller=state.get("caller", ""),
            duration_ms=round(seconds * 1000.0, 2),
            received_bytes=exchange.unread.received_bytes,
            sent_bytes=exchange.sent_bytes,
            exception=UNSET if error is None else "".join(format_exception(error)),
        )
        self._answered.append((line, seconds))
        if len(self._answered) == 1:
            asyncio.get_running_loop().call_later(NOTED_AFTER_S, self._note_all)

    def _note_all(self) -> None:
        answered, self._answered = self._answered, []
        for line, seconds in answered:
            path = line.path if line.path in self._paths else "other"
            self._metrics.count(line.method, path, line.status, seconds)
            self._log.take(line)
        self._log.write_out()


@cache
def _every_answer() -> list[Header]:
    engine = stamp()
    told = f"version={engine.version}; data-sha256={engine.data_sha256}"
    return encoded({ENGINE_HEADER: told, **SECURITY_HEADERS})


def _request_id(scope: Scope) -> str:
    given = header(scope, "x-request-id")
    if given and _REQUEST_ID.fullmatch(given):
        return given
    return f"{_PROCESS}{next(_COUNTER):08x}"


async def _last_resort(exchange: _Exchange) -> None:
    """A problem document for a fault outside the framework's reach, if nothing was sent yet."""
    if exchange.status == 0:
        error = ProblemError(INTERNAL, "Something failed on our side. Quote the request id.")
        await send_problem(exchange.send, error, exchange.request_id)
