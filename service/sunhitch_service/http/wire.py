"""What the server says to bytes that are no HTTP request."""

from http import HTTPStatus

from uvicorn.protocols.http.httptools_impl import HttpToolsProtocol

from . import problems
from .problems import HEAD_TOO_LARGE, NOT_HTTP, Kind, ProblemError

_LONGEST_HEAD = 65_536


class Protocol(HttpToolsProtocol):
    """HTTP/1.1 as the server has it, with problem documents, and an end to what a head may hold."""

    _unfinished_head = 0

    def data_received(self, data: bytes) -> None:
        """Take what came, unless the request line and the headers never end."""
        super().data_received(data)
        if self._unfinished_head:
            self._unfinished_head += len(data)
            if self._unfinished_head > _LONGEST_HEAD and not self.transport.is_closing():
                self._refuse(HEAD_TOO_LARGE, HEAD_TOO_LARGE.meaning)

    def on_message_begin(self) -> None:
        """Start counting."""
        super().on_message_begin()
        self._unfinished_head = 1

    def on_headers_complete(self) -> None:
        """Stop counting."""
        self._unfinished_head = 0
        super().on_headers_complete()

    def send_400_response(self, msg: str) -> None:
        """Answer what cannot be read, and close."""
        self._refuse(NOT_HTTP, msg)

    def _refuse(self, kind: Kind, detail: str) -> None:
        body = problems.body_of(ProblemError(kind, detail), "unreadable")
        head = (
            f"HTTP/1.1 {kind.status} {HTTPStatus(kind.status).phrase}\r\n"
            f"content-type: {problems.MEDIA_TYPE}\r\n"
            f"content-length: {len(body)}\r\n"
            "cache-control: no-store\r\n"
            "x-content-type-options: nosniff\r\n"
            "connection: close\r\n\r\n"
        )
        self.transport.write(head.encode() + body)
        self.transport.close()
