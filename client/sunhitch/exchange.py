"""One call as plain data: built from a request, carried by a transport, read as an answer."""

import uuid
from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Protocol, TypeAlias, TypeVar
from urllib.parse import quote, urlencode

from ._version import __version__
from .codec import MalformedBody, NonFiniteError, decode_strict, encode
from .errors import UnexpectedAnswerError, service_error
from .operations.operation import Operation, Plain
from .problems import malformed, refused
from .progress import ProgressCallback
from .tolerant import decode_answer
from .types.base import Input, Output
from .types.check import Answer, Verdict

if TYPE_CHECKING:
    from .questions import AnyQuestion, FlatQuestion

Q = TypeVar("Q", bound=Input)
A = TypeVar("A", bound=Answer)
F = TypeVar("F", bound=Output)
Body_co = TypeVar("Body_co", covariant=True)
Closed_co = TypeVar("Closed_co", covariant=True)
VerdictCallback: TypeAlias = Callable[[Verdict], None]
"""Called with the verdict of an answer."""


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
    on_progress : callable or None
        Called with the pieces done and that of all.
    on_verdict : callable or None
        Called with the verdict of an answer that is drawn.
    """

    operation: Operation[Any, Any]
    body: bytes
    batch: bool = False
    drawn_as: str = ""
    view: str = ""
    request_id: str = field(default_factory=_new_request_id)
    on_progress: ProgressCallback | None = None
    on_verdict: VerdictCallback | None = None
    method = "POST"

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
        followed = "application/x-ndjson" if self.on_progress else self.media_type
        return self.drawn_as or followed


@dataclass(frozen=True, slots=True)
class Lookup:
    """One flat question.

    Parameters
    ----------
    question : FlatQuestion
        What is asked.
    given : dict
        Text of each parameter that was given.
    request_id : str
        The same for every attempt, so that logs on both sides match.
    """

    question: "AnyQuestion"
    given: dict[str, str]
    request_id: str = field(default_factory=_new_request_id)
    method = "GET"
    body = b""
    media_type = ""
    accept = "application/json"

    @property
    def path(self) -> str:
        """Path of the call, with its query: all that is asked."""
        return f"{self.question.path}?{urlencode(self.given)}"


Call: TypeAlias = Exchange | Lookup


class Carrier(Protocol[Body_co, Closed_co]):
    """Carries calls: to a service, or to the engine in this process."""

    def send(self, exchange: Call) -> Body_co:
        """Answer as JSON; raises a `SunhitchError` where there is none."""
        ...

    def close(self) -> Closed_co:
        """Let go of connections."""
        ...


Transport: TypeAlias = Carrier[bytes, None]
"""Carries calls of a client that waits."""
AsyncTransport: TypeAlias = Carrier[Awaitable[bytes], Awaitable[None]]
"""Carries calls of a client in an event loop."""


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
        Plain data or JSON that does not fit the contract, or a number that JSON cannot carry:
        infinity and NaN are faults and never stand for what is not given.
    TypeError
        Something else than a request of this operation.
    """
    if isinstance(request, Mapping):
        request = _encoded(dict(request))
    if isinstance(request, bytes):
        return Exchange(operation, encode(read_request(operation, request)))
    if not isinstance(request, operation.request):
        raise TypeError(
            f"{operation.name} takes {operation.request.__name__}, a plain dict or JSON, "
            f"not {type(request).__name__}"
        )
    return Exchange(operation, _encoded(request))


def _encoded(request: Input | dict[str, Any]) -> bytes:
    try:
        return encode(request)
    except NonFiniteError as fault:
        told = "Not a number, or infinite; give a finite number, or leave it out if not known."
        raise refused(told, fault.pointer) from None
    except (OverflowError, RecursionError, ValueError) as fault:
        raise refused(f"JSON cannot carry this request: {fault}.") from None


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


def look_up(question: "FlatQuestion[..., F]", asked: Input) -> Lookup:
    """The call that asks a flat question.

    Parameters
    ----------
    question : FlatQuestion
        From `sunhitch.questions`.
    asked : Input
        Its parameters.
    """
    given = {name: getattr(asked, name) for name in asked.__struct_fields__}
    return Lookup(question, {name: str(one) for name, one in given.items() if one is not None})


def read_answer(name: str, kind: type[F], body: bytes, request_id: str) -> F:
    """Decode an answer.

    Parameters
    ----------
    name : str
        Operation or flat question.
    kind : type
        Struct of its answer.
    body : bytes
        What came back.
    request_id : str
        Of the call.

    Raises
    ------
    UnexpectedAnswerError
        The answer lacks something that this version cannot do without.
    """
    try:
        return decode_answer(body, kind)
    except MalformedBody as fault:
        raise UnexpectedAnswerError(
            f"The answer to {name} does not fit the contract of sunhitch {__version__} "
            f"at {fault.pointer or 'its start'}: {fault.message} Bring client and service to the "
            "same version: pip install --upgrade sunhitch on the side that is behind.",
            request_id,
        ) from None
