"""One call as plain data: built from a request, carried by a transport, read as an answer."""

import uuid
from collections.abc import Awaitable, Mapping
from dataclasses import dataclass, field
from os import PathLike
from pathlib import Path
from typing import Any, Protocol, TypeAlias, TypeVar
from urllib.parse import quote

import msgspec

from ._version import __version__
from .codec import MalformedBody, NonFiniteError, decode_strict, encode
from .errors import UnexpectedAnswerError, service_error
from .operations import Operation
from .problems import malformed
from .types.base import Input
from .types.check import Answer
from .types.problem import FieldError

Q = TypeVar("Q", bound=Input)
A = TypeVar("A", bound=Answer)
Plain: TypeAlias = Mapping[str, Any] | bytes
"""A request as plain data, or as JSON text in UTF-8."""


def _new_request_id() -> str:
    return uuid.uuid4().hex


@dataclass(frozen=True, slots=True)
class Exchange:
    """One call.

    Parameters
    ----------
    operation : Operation
        Calculation asked for.
    body : bytes
        Request as JSON; for a batch, one a line.
    batch : bool
        Whether the body holds many requests.
    drawn_as : str
        Media type of a drawing of the answer; empty for the answer itself.
    view : str
        Which drawing of that type; empty for the first.
    request_id : str
        The same for every attempt, so that logs on both sides match.
    """

    operation: Operation[Any, Any]
    body: bytes
    batch: bool = False
    drawn_as: str = ""
    view: str = ""
    request_id: str = field(default_factory=_new_request_id)

    @property
    def path(self) -> str:
        """Path of the call, with its query."""
        path = f"/v1/batch/{self.operation.name}" if self.batch else self.operation.path
        return f"{path}?view={quote(self.view)}" if self.view else path

    @property
    def media_type(self) -> str:
        """Media type of the request."""
        return "application/x-ndjson" if self.batch else "application/json"

    @property
    def accept(self) -> str:
        """Media type of the answer."""
        return self.drawn_as or self.media_type


class Transport(Protocol):
    """Carries calls: to a service, or to the engine in this process."""

    def send(self, exchange: Exchange) -> bytes:
        """Answer as JSON; raises a `SunhitchError` where there is none."""
        ...

    def close(self) -> None:
        """Let go of connections."""
        ...


class AsyncTransport(Protocol):
    """`Transport` for event loops."""

    def send(self, exchange: Exchange) -> Awaitable[bytes]:
        """Answer as JSON; raises a `SunhitchError` where there is none."""
        ...

    async def close(self) -> None:
        """Let go of connections."""
        ...


def prepare(operation: Operation[Q, A], request: Q | Plain) -> Exchange:
    """The call that asks `operation` about `request`.

    Parameters
    ----------
    operation : Operation
        Calculation to ask for.
    request : Input, mapping or bytes
        Contract Struct, or the same as plain data or JSON, which is checked before it is sent.

    Raises
    ------
    RequestRejectedError
        Plain data or JSON that does not fit the contract, or a number that JSON cannot carry.
    TypeError
        Something else than a request of this operation.
    """
    if isinstance(request, Mapping):
        request = msgspec.json.encode(dict(request), enc_hook=_plain)
    if isinstance(request, bytes):
        return Exchange(operation, encode(read_request(operation, request)))
    if not isinstance(request, operation.request):
        raise TypeError(
            f"{operation.name} takes {operation.request.__name__}, a plain dict or JSON, "
            f"not {type(request).__name__}"
        )
    return Exchange(operation, _encoded(request))


def _encoded(request: Input) -> bytes:
    try:
        return encode(request)
    except NonFiniteError as fault:
        at = FieldError(pointer="", message=f"{fault}; give a finite number.", location="body")
        raise service_error(malformed([at])) from None
    except TypeError:
        return msgspec.json.encode(request, enc_hook=_plain)


def _plain(value: object) -> object:
    """Numbers and arrays of numpy and its kin as plain numbers and lists."""
    tolist = getattr(value, "tolist", None)
    if callable(tolist):
        return tolist()
    raise TypeError(f"A request cannot hold a {type(value).__name__}: {value!r}")


_MEDIA_TYPES = {
    ".json": "",
    ".svg": "image/svg+xml",
    ".html": "text/html",
    ".csv": "text/csv",
}


def drawn_as(path: str | PathLike[str]) -> str:
    """Media type of the drawing that a file's suffix asks for; empty for the answer itself.

    Raises
    ------
    ValueError
        None of the suffixes that stand for one.
    """
    suffix = Path(path).suffix.lower()
    if suffix not in _MEDIA_TYPES:
        raise ValueError(f"{path}: end the name in one of {', '.join(_MEDIA_TYPES)}")
    return _MEDIA_TYPES[suffix]


def read_request(operation: Operation[Q, A], body: bytes, request_id: str = "") -> Q:
    """Check a JSON request against the contract, with the limits of the service.

    Raises
    ------
    RequestRejectedError
        What the service would answer, status 400.
    """
    try:
        return decode_strict(body, operation.request)
    except MalformedBody as fault:
        raise service_error(malformed(fault.faults, request_id), request_id) from None


def read_answer(operation: Operation[Q, A], body: bytes, request_id: str) -> A:
    """Decode an answer.

    Raises
    ------
    UnexpectedAnswerError
        The answer does not fit the contract of this version.
    """
    try:
        return decode_strict(body, operation.answer)
    except MalformedBody as fault:
        raise UnexpectedAnswerError(
            f"The answer to {operation.name} does not fit the contract of sunhitch {__version__} "
            f"at {fault.pointer or 'its start'}: {fault.message} Use the same version of client "
            "and service.",
            request_id,
        ) from None
