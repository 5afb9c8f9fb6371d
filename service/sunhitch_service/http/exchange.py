"""One request while it is answered: what passes, who asks, what it costs, what became of it."""

import asyncio
import ipaddress
import re
import secrets
import time
from collections.abc import Callable
from functools import cache, lru_cache
from itertools import count
from typing import Any, TypeAlias, cast

from litestar.connection import ASGIConnection
from litestar.types import HTTPReceiveMessage, HTTPScope, Message, Receive, Send

from sunhitch_service.engine.stamp import stamp
from sunhitch_service.tasks.problems import (
    LONGEST_HEAD,
    LONGEST_URI,
    Kind,
    ProblemError,
    as_problem,
)
from sunhitch_service.workers.fair import Shares

_REQUEST_ID = re.compile(rb"[A-Za-z0-9._~:-]{1,64}")

_PROCESS, _COUNTER = secrets.token_hex(12), count()
"""Request ids are chance drawn once and a count: to draw it each time is a call of the system."""

ENGINE_HEADER = "X-Sunhitch-Engine"
"""What computed an answer, for those that are not JSON and carry no stamp inside."""

_Headers: TypeAlias = list[tuple[bytes, bytes]]

_PREFLIGHT = "Pages of this origin may not send this method, or one of these headers."
_VARY = (b"vary", b"Accept, Accept-Encoding, Origin")
"""What any answer may depend on."""
_LONGEST_PATH = 200
"""Characters of a path that are kept; no known path has as many."""
_SMALL_BYTES = 65_536
"""The server throws away the rest of a body as small as this and keeps the connection."""
_LINGER_BYTES, _LINGER_S = 1_000_000, 2.0


class HttpExchange:
    """One request while it is answered.

    Parameters
    ----------
    scope, receive, send : mapping, callable, callable
        The request.
    bytes_held : Shares
        Bytes of bodies that all requests under way hold.

    Attributes
    ----------
    client, caller : str
        Address that asks, as told by proxies that are believed, and the name of its key, if any.
    headers : dict of str
        Further headers of the answer.
    cost_ms, worker : float, int
        Processor time of the calculation, and the process that spent it; 0 without one.
    problem, error : str, Exception or None
        Kind of problem that was answered, and the fault of the service behind it, if any.
    at_end : callable or None
        Gives back what the request holds.
    status, received_bytes, sent_bytes : int
        What passed so far.
    """

    def __init__(self, scope: HTTPScope, receive: Receive, send: Send, bytes_held: Shares) -> None:
        self._scope, self._receive, self._send = scope, receive, send
        self._bytes_held = bytes_held
        self._ended = self._closing = False
        self.started = time.perf_counter()
        self.request_id = f"{_PROCESS}{next(_COUNTER):08x}"
        self.path = scope["path"][:_LONGEST_PATH]
        self.client = (cast("dict[str, Any]", scope).get("client") or ("unknown",))[0]
        self.caller = self.problem = ""
        self.headers: dict[str, str] = {}
        self.cost_ms = 0.0
        self.worker = self.status = self.received_bytes = self.sent_bytes = 0
        self.error: Exception | None = None
        self.at_end: Callable[[], None] | None = None
        scope["state"]["exchange"] = self

    @property
    def payer(self) -> str:
        """Whom the request is counted to: its key's name, or else its address."""
        return f"key {self.caller}" if self.caller else neighbourhood(self.client)

    def read_head(self) -> None:
        """Take the caller's request id.

        Raises
        ------
        ProblemError
            `MALFORMED` without exactly one host (RFC 9112, 3.2), `URI_TOO_LONG`, or
            `HEAD_TOO_LARGE`.
        """
        hosts = 0
        length = len(self._scope["raw_path"]) + len(self._scope["query_string"])
        if length > LONGEST_URI:
            raise ProblemError(Kind.URI_TOO_LONG)
        for name, value in self._scope["headers"]:
            length += len(name) + len(value)
            if name == b"host":
                hosts += 1
            elif name == b"x-request-id" and _REQUEST_ID.fullmatch(value):
                self.request_id = value.decode()
        if length > LONGEST_HEAD:
            raise ProblemError(Kind.HEAD_TOO_LARGE)
        if hosts != 1 and (hosts or self._scope["http_version"] != "1.0"):
            raise ProblemError(Kind.MALFORMED, "Send the header Host exactly once.")

    def problem_of(self, error: Exception) -> ProblemError:
        """Problem that an exception stands for, noted for the log."""
        problem = as_problem(error)
        self.problem = problem.kind.value
        if problem.kind is Kind.INTERNAL:
            self.error = error
        return problem

    def end(self) -> None:
        """Give back bytes and place, and leave nothing for the collector of garbage to find."""
        self._scope["state"].clear()
        self._bytes_held.add(self.payer, -self.received_bytes)
        if self.at_end is not None:
            self.at_end()

    async def receive(self) -> HTTPReceiveMessage:
        """Pass on a part of the request; may raise `OVERLOADED`."""
        message = await self._received()
        if not self._bytes_held.has_room(self.payer):
            detail = "Too many bytes of requests are held already; try again shortly."
            raise ProblemError(Kind.OVERLOADED, detail, headers={"Retry-After": "1"})
        return message

    async def _received(self) -> HTTPReceiveMessage:
        message = cast("HTTPReceiveMessage", await self._receive())
        size = len(message["body"]) if message["type"] == "http.request" else 0
        self._ended = not message.get("more_body", False)
        self.received_bytes += size
        self._bytes_held.add(self.payer, size)
        return message

    async def send(self, message: Message) -> None:
        """Pass on a part of the answer; the framework refuses a preflight as plain text."""
        if message["type"] == "http.response.start":
            refused = message["status"] == 400 and self._scope["method"] == "OPTIONS"
            if refused and not self.problem:
                raise ProblemError(Kind.MALFORMED, _PREFLIGHT)
            self.status = message["status"]
            self._closing = not self._ended and self._has_long_rest()
            message["headers"] = self._dressed([*message["headers"]])
        elif message["type"] == "http.response.body":
            if self._scope["method"] == "HEAD":
                message["body"] = b""
            self.sent_bytes += len(message["body"])
            if self._closing and not message.get("more_body", False):
                await self._linger(message)
                message["body"] = b""
        await self._send(message)

    def _dressed(self, given: _Headers) -> _Headers:
        """Headers with those of every answer, of which the answer's own go first."""
        own = {name for name, _ in given}
        told = [one for one in given if one[0] != b"vary"]
        told += [one for one in _every_answer() if one[0] not in own]
        told += [(b"x-request-id", self.request_id.encode()), _VARY]
        told += [(name.lower().encode(), text.encode()) for name, text in self.headers.items()]
        if self.cost_ms and b"content-length" in own:  # else it is not over yet
            told.append((b"server-timing", f"cpu;dur={self.cost_ms:.2f}".encode()))
        if self._closing:
            told.append((b"connection", b"close"))
        return told

    def _has_long_rest(self) -> bool:
        headers = dict(self._scope["headers"])
        declared = headers.get(b"content-length", b"0")
        rest = (int(declared) if declared.isdigit() else 0) - self.received_bytes
        return b"transfer-encoding" in headers or rest > _SMALL_BYTES

    async def _linger(self, message: Message) -> None:
        """Send the answer's last part, but close a little later than a long rest is given up.

        A caller who is still sending would otherwise lose the answer.
        """
        await self._send(cast("Message", {**message, "more_body": True}))
        until = self.received_bytes + _LINGER_BYTES
        try:
            async with asyncio.timeout(_LINGER_S):
                while not self._ended and self.received_bytes < until:
                    await self._received()
        except TimeoutError:
            return


@lru_cache(maxsize=4096)
def neighbourhood(address: str) -> str:
    """What an address is counted as: itself, or its /64, of which one subscriber has all."""
    try:
        parsed = ipaddress.ip_address(address)
    except ValueError:
        return address
    if parsed.version == 4:
        return address
    return str(ipaddress.ip_network((parsed, 64), strict=False))


def exchange_of(request: "ASGIConnection[Any, Any, Any, Any]") -> HttpExchange:
    """The exchange that a request of the framework belongs to."""
    return cast("HttpExchange", request.scope["state"]["exchange"])


@cache
def _every_answer() -> _Headers:
    """Headers of every answer, unless the answer brings its own."""
    engine = stamp()
    return [
        (b"x-content-type-options", b"nosniff"),
        (b"x-frame-options", b"DENY"),
        (b"referrer-policy", b"no-referrer"),
        (b"content-security-policy", b"default-src 'none'; frame-ancestors 'none'"),
        (b"cache-control", b"no-store"),
        (
            ENGINE_HEADER.lower().encode(),
            f"version={engine.version}; data-sha256={engine.data_sha256}".encode(),
        ),
    ]
