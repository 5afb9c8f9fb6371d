"""Bodies of requests that were refused before they were read."""

import asyncio

from .asgi import Message, Receive, Scope, Send, header

_SMALL_BYTES = 65_536
"""The server throws away the rest of a body as small as this and keeps the connection."""
_LINGER_BYTES = 1_000_000
_LINGER_S = 2.0


class Unread:
    """What of a request's body is still on its way when the answer goes out.

    A long rest is not read to its end: the answer says that the connection closes. It closes a
    little later, since a caller who is still sending would otherwise lose the answer.

    Parameters
    ----------
    scope : mapping
        The request.
    receive : callable
        Its ASGI receive.

    Attributes
    ----------
    received_bytes : int
        How much of the body was read.
    """

    def __init__(self, scope: Scope, receive: Receive) -> None:
        self._scope = scope
        self._receive = receive
        self._ended = False
        self._closing = False
        self.received_bytes = 0

    async def receive(self) -> Message:
        """Pass on a part of the request."""
        message = await self._receive()
        if message["type"] == "http.request":
            self.received_bytes += len(message.get("body", b""))
            self._ended = not message.get("more_body", False)
        else:
            self._ended = True
        return message

    def announce(self, message: Message) -> None:
        """Say in the answer's headers that the connection closes, where a long rest remains."""
        self._closing = not self._ended and self._has_long_rest()
        if self._closing:
            message["headers"] = [*message["headers"], (b"connection", b"close")]

    async def drain_before_end(self, message: Message, send: Send) -> None:
        """Send the answer's last part, then wait for some of the rest before it counts as ended."""
        if not self._closing or message.get("more_body", False):
            return
        await send({**message, "more_body": True})
        message["body"] = b""
        try:
            async with asyncio.timeout(_LINGER_S):
                await self._drain()
        except TimeoutError:
            return

    async def _drain(self) -> None:
        until = self.received_bytes + _LINGER_BYTES
        while not self._ended and self.received_bytes < until:
            await self.receive()

    def _has_long_rest(self) -> bool:
        if header(self._scope, "transfer-encoding") is not None:
            return True
        declared = header(self._scope, "content-length") or "0"
        return not declared.isdecimal() or int(declared) - self.received_bytes > _SMALL_BYTES
