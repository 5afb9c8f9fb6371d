"""The few ASGI 3 shapes that the layers around the framework work with."""

from collections.abc import Awaitable, Callable, Mapping, MutableMapping, Sequence
from typing import Any, TypeAlias

Scope: TypeAlias = MutableMapping[str, Any]
Message: TypeAlias = MutableMapping[str, Any]
Receive: TypeAlias = Callable[[], Awaitable[Message]]
Send: TypeAlias = Callable[[Message], Awaitable[None]]
Header: TypeAlias = tuple[bytes, bytes]
App: TypeAlias = Callable[[Scope, Receive, Send], Awaitable[None]]


def header(scope: Scope, name: str) -> str | None:
    """First value of a request header.

    Parameters
    ----------
    scope : mapping
        Of an HTTP request.
    name : str
        In lower case.

    Returns
    -------
    str or None
        None if the header is absent.
    """
    wanted = name.encode("latin-1")
    for key, value in scope["headers"]:
        if key == wanted:
            return str(value, "latin-1")
    return None


def add_headers(message: Message, headers: Mapping[str, str]) -> None:
    """Add response headers, but leave those that are there."""
    add_encoded(message, encoded(headers))


def add_encoded(message: Message, headers: Sequence[Header]) -> None:
    """As `add_headers`, for headers with names in lower case."""
    present = {key for key, _ in message["headers"]}
    message["headers"] = [
        *message["headers"],
        *(pair for pair in headers if pair[0] not in present),
    ]


def encoded(headers: Mapping[str, str]) -> list[Header]:
    """Headers as ASGI carries them."""
    return [
        (name.lower().encode("latin-1"), value.encode("latin-1")) for name, value in headers.items()
    ]


async def send_whole(send: Send, status: int, headers: Mapping[str, str], body: bytes) -> None:
    """Send a response in one piece."""
    await send({"type": "http.response.start", "status": status, "headers": encoded(headers)})
    await send({"type": "http.response.body", "body": body, "more_body": False})
