"""What the server says to bytes that are no HTTP request, and to connections that fall silent."""

import asyncio
import logging
from functools import partial
from http import HTTPStatus
from typing import Any, cast

from uvicorn.protocols.http.httptools_impl import HttpToolsProtocol, RequestResponseCycle

from sunhitch_service.tasks.media_types import PROBLEM
from sunhitch_service.tasks.problems import LONGEST_HEAD, Kind, ProblemError

_LOG = logging.getLogger(__name__)


class Protocol(HttpToolsProtocol):
    """HTTP/1.1 as the server has it, with problem documents, and an end to all waiting.

    Parameters
    ----------
    head_limit_s, body_limit_s : float
        Longest time for a head, and for a body or for an answer that nobody takes [s].
    *given, **named : object
        As the server makes its protocols.
    """

    _head_bytes = 0
    _deadline: asyncio.TimerHandle | None = None
    _unread: asyncio.TimerHandle | None = None

    def __init__(
        self,
        head_limit_s: float,
        body_limit_s: float,
        *given: Any,  # noqa: ANN401 - the server's business
        **named: Any,  # noqa: ANN401
    ) -> None:
        super().__init__(*given, **named)
        self._head_limit_s, self._body_limit_s = head_limit_s, body_limit_s

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Wait for a head."""
        super().connection_made(transport)
        self._expect("head", self._head_limit_s)

    def connection_lost(self, exc: Exception | None) -> None:
        """Wait for nothing any more."""
        self._expect()
        self.resume_writing()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Take what came, unless the request line and the headers never end."""
        if self._deadline is None:
            self._expect("head", self._head_limit_s)
        super().data_received(data)
        if self._head_bytes:
            self._head_bytes += len(data)
            if self._head_bytes > LONGEST_HEAD and not self.transport.is_closing():
                self._refuse(Kind.HEAD_TOO_LARGE)

    def on_message_begin(self) -> None:
        """Start counting."""
        super().on_message_begin()
        self._head_bytes = 1

    def on_headers_complete(self) -> None:
        """Stop counting, and wait for the body."""
        self._head_bytes = 0
        self._expect("body", self._body_limit_s)
        super().on_headers_complete()

    def on_message_complete(self) -> None:
        """Wait for nothing until the next request begins."""
        self._expect()
        super().on_message_complete()

    def pause_writing(self) -> None:
        """Wait for the caller to read."""
        super().pause_writing()
        self._unread = self.loop.call_later(self._body_limit_s, self._drop, "reads nothing")

    def resume_writing(self) -> None:
        """Go on."""
        if self._unread is not None:
            self._unread.cancel()
            self._unread = None
        super().resume_writing()

    def timeout_keep_alive_handler(self) -> None:
        """Close an idle connection, also one whose last answer was not taken."""
        self.transport.abort() if self._unread else super().timeout_keep_alive_handler()

    def send_400_response(self, msg: str) -> None:
        """Answer what cannot be read, and close."""
        self._refuse(Kind.NOT_HTTP, msg)

    def _expect(self, part: str = "", limit_s: float = 0.0) -> None:
        """Give a part of the request its time."""
        if self._deadline is not None:
            self._deadline.cancel()
        self._deadline = self.loop.call_later(limit_s, self._late, part) if part else None

    def _late(self, part: str) -> None:
        cycle = cast("RequestResponseCycle | None", self.cycle)
        answering = cycle is not None and not cycle.response_complete
        if self.pipeline or (part == "head" and answering):
            return
        if part == "head" and not self._head_bytes:
            self._drop("says nothing")
        elif not self.transport.is_closing():
            _LOG.warning("%s: a %s did not arrive in time", self._peer(), part)
            self._refuse(Kind.TOO_SLOW, f"The {part} did not arrive in time.")

    def _drop(self, why: str) -> None:
        if not self.transport.is_closing():
            _LOG.warning("%s: closed a connection that %s", self._peer(), why)
            self.transport.abort()

    def _peer(self) -> str:
        return self.client[0] if self.client else "unknown"

    def _refuse(self, kind: Kind, detail: str = "") -> None:
        cycle = cast("RequestResponseCycle | None", self.cycle)
        if cycle is None or not cycle.response_started:
            body = ProblemError(kind, detail).body("unreadable")
            head = (
                f"HTTP/1.1 {kind.status} {HTTPStatus(kind.status).phrase}\r\n"
                f"content-type: {PROBLEM}\r\n"
                f"content-length: {len(body)}\r\n"
                "cache-control: no-store\r\n"
                "x-content-type-options: nosniff\r\n"
                "connection: close\r\n\r\n"
            )
            self.transport.write(head.encode() + body)
        self.transport.close()


def protocol(head_limit_s: float, body_limit_s: float) -> "partial[Protocol]":
    """What the server makes for each connection."""
    return partial(Protocol, head_limit_s, body_limit_s)
