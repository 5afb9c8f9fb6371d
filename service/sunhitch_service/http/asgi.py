"""The few ASGI 3 shapes that the layers around the framework work with."""

from collections.abc import Awaitable, Callable, Mapping, MutableMapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, TypeAlias

Scope: TypeAlias = MutableMapping[str, Any]
Message: TypeAlias = MutableMapping[str, Any]
Receive: TypeAlias = Callable[[], Awaitable[Message]]
Send: TypeAlias = Callable[[Message], Awaitable[None]]
Header: TypeAlias = tuple[bytes, bytes]
App: TypeAlias = Callable[[Scope, Receive, Send], Awaitable[None]]


@dataclass(frozen=True, slots=True)
class Route:
    """A call that is answered on the bare connection.

    Parameters
    ----------
    method, path : str
        What it answers to.
    app : ASGI application
        What answers; it turns its own exceptions into problem documents.
    """

    method: str
    path: str
    app: App


def header(scope: Mapping[str, Any], name: str) -> str | None:
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
    wanted = _name(name)
    for key, value in scope["headers"]:
        if key == wanted:
            return str(value, "latin-1")
    return None


def headers(scope: Mapping[str, Any], name: str) -> list[str]:
    """All values of a request header; arguments as above."""
    wanted = _name(name)
    return [str(value, "latin-1") for key, value in scope["headers"] if key == wanted]


def add_headers(message: Message, given: Mapping[str, str]) -> None:
    """Add response headers, but leave those that are there."""
    add_encoded(message, encoded(given))


def add_encoded(message: Message, given: Sequence[Header]) -> None:
    """As `add_headers`, for headers with names in lower case."""
    there = message["headers"]
    present = {key for key, _ in there}
    message["headers"] = [*there, *[pair for pair in given if pair[0] not in present]]


def encoded(given: Mapping[str, str]) -> list[Header]:
    """Headers as ASGI carries them."""
    return [(_name(name), value.encode("latin-1")) for name, value in given.items()]


@lru_cache(maxsize=256)
def _name(name: str) -> bytes:
    """Name of a header as ASGI carries it."""
    return name.lower().encode("latin-1")


async def send_whole(send: Send, status: int, given: Mapping[str, str], body: bytes) -> None:
    """Send a response in one piece."""
    await send_encoded(send, status, encoded(given), body)


async def send_encoded(send: Send, status: int, given: Sequence[Header], body: bytes) -> None:
    """As `send_whole`, for headers with names in lower case."""
    await send({"type": "http.response.start", "status": status, "headers": given})
    await send({"type": "http.response.body", "body": body, "more_body": False})
