"""One call as plain data: built from a request, carried by a transport, read as an answer."""

import uuid
from collections.abc import Awaitable, Callable, Generator, Iterable, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Protocol, TypeAlias, TypeVar
from urllib.parse import urlencode

import msgspec

from ._version import __version__
from .codec import MalformedBody, NonFiniteError, decode_strict, encode
from .errors import UnexpectedAnswerError, service_error
from .operations.operation import A, Operation, Plain, Q
from .problems import malformed, refused
from .progress import ProgressCallback, piece_reporter
from .selection import PART, AnswerSelection
from .texts import sentence
from .tolerant import decode_answer
from .types.base import Input, Output
from .types.check import Checks

if TYPE_CHECKING:
    from .questions import AnyQuestion, FlatQuestion

F = TypeVar("F", bound=Output)
Body_co = TypeVar("Body_co", covariant=True)
Closed_co = TypeVar("Closed_co", covariant=True)
Draw: TypeAlias = Callable[["Exchange", str, str], bytes]
"""From a call, media type and name of a view to the document; no name stands for the usual one."""


MULTIPART = "multipart/mixed"
"""Media type of an answer with documents."""


def _new_request_id() -> str:
    return uuid.uuid4().hex


@dataclass(frozen=True, slots=True)
class CallOptions:
    """How long to wait, how often to try again, and what goes along.

    Parameters
    ----------
    timeout_s : float
        Longest silence of the service within one attempt [s].
    time_limit_s : float
        Time for all attempts and the pauses between them [s].
    retries : int
        Attempts after the first.
    headers : mapping
        Sent with every call beside those of the contract.
    checked : bool
        Whether plain data and JSON must fit the contract of this version before they are sent.
    texts : bool
        Whether answers tell code and parameters of their texts.

    Raises
    ------
    ValueError
        A time that is not positive.
    """

    timeout_s: float = 60.0
    time_limit_s: float = 180.0
    retries: int = 4
    headers: Mapping[str, str] = field(default_factory=dict[str, str])
    checked: bool = True
    texts: bool = False

    def __post_init__(self) -> None:
        if not (self.timeout_s > 0.0 and self.time_limit_s > 0.0 and self.retries >= 0):
            raise ValueError("timeout and time_limit must be above 0, retries not below 0")

    def changed(self, **given: Any) -> "CallOptions":  # noqa: ANN401 - by the names above
        """These, but for those that are given and not None."""
        return replace(self, **{name: one for name, one in given.items() if one is not None})


_DEFAULT = CallOptions()


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
    views : tuple of str
        Documents that come along with the answer, by name.
    checks : {'all', 'open', 'counts'}
        Which checks are told.
    options : CallOptions
        Time limits, retries, headers.
    """

    operation: Operation[Any, Any]
    body: bytes
    batch: bool = False
    drawn_as: str = ""
    view: str = ""
    request_id: str = field(default_factory=_new_request_id)
    on_progress: ProgressCallback | None = None
    views: tuple[str, ...] = ()
    checks: Checks = "all"
    options: CallOptions = _DEFAULT
    method = "POST"

    @property
    def path(self) -> str:
        """Path of the call, with its query."""
        path = f"/v1/batch/{self.operation.name}" if self.batch else self.operation.path
        asked = {"views": ",".join(self.views), "view": "" if self.views else self.view}
        if not self.drawn_as:
            asked |= self.selection.query
        query = urlencode({name: one for name, one in asked.items() if one}, safe=",")
        return f"{path}?{query}" if query else path

    @property
    def selection(self) -> AnswerSelection:
        """What of the answer is told; lines of a batch are whole answers."""
        fields = () if self.batch else self.operation.fields
        return AnswerSelection(self.checks, fields, "coded" if self.options.texts else "plain")

    @property
    def media_type(self) -> str:
        """Media type of the request."""
        return "application/x-ndjson" if self.batch else "application/json"

    @property
    def accept(self) -> str:
        """Media type of the answer."""
        if self.views:
            return MULTIPART
        if self.drawn_as or self.batch:
            return self.drawn_as or self.media_type
        whole = "application/x-ndjson" if self.on_progress else self.media_type
        return PART if self.operation.fields else whole


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
    options : CallOptions
        Time limits, retries, headers.
    """

    question: "AnyQuestion"
    given: dict[str, str]
    request_id: str = field(default_factory=_new_request_id)
    options: CallOptions = _DEFAULT
    method = "GET"
    body = b""
    media_type = ""
    accept = "application/json"

    @property
    def path(self) -> str:
        """Path of the call, with its query: all that is asked."""
        coded = {"texts": "coded"} if self.options.texts else {}
        return f"{self.question.path}?{urlencode(self.given | coded)}"


Call: TypeAlias = Exchange | Lookup


@dataclass(frozen=True, slots=True)
class RawAnswer:
    """What came back, as it came.

    Parameters
    ----------
    body : bytes
        JSON, a document, or one line for each request of a batch.
    request_id : str
        Id of the call, as in the log of the service.
    media_type : str
        Of the body.
    documents : dict
        Those that came along, by media type and name.
    draw : callable or None
        Gives other documents of the answer; None where nobody can be asked.
    lines : tuple of RawAnswer
        What the body of a batch holds, where each line can still be drawn.
    """

    body: bytes
    request_id: str
    media_type: str = "application/json"
    documents: Mapping[tuple[str, str], str] = field(default_factory=dict[tuple[str, str], str])
    draw: Draw | None = None
    lines: "tuple[RawAnswer, ...]" = ()


class Carrier(Protocol[Body_co, Closed_co]):
    """Carries calls: to a service, or to the engine in this process."""

    def send(self, exchange: Call) -> Body_co:
        """What comes back; raises a `SunhitchError` where there is no answer."""
        ...

    def close(self) -> Closed_co:
        """Let go of connections."""
        ...


Transport: TypeAlias = Carrier[RawAnswer, None]
"""Carries calls of a client that waits."""
AsyncTransport: TypeAlias = Carrier[Awaitable[RawAnswer], Awaitable[None]]
"""Carries calls of a client in an event loop."""


class AwaitedTransport:
    """A transport for an event loop, which stays free: calls are carried in a worker thread.

    Parameters
    ----------
    transport : Transport
        Carries the calls.
    """

    def __init__(self, transport: Transport) -> None:
        self._transport = transport

    async def send(self, exchange: Call) -> RawAnswer:
        """As the transport itself."""
        from anyio import to_thread

        return await to_thread.run_sync(self._transport.send, exchange)

    async def close(self) -> None:
        """As the transport itself."""
        self._transport.close()


def prepare(
    operation: Operation[Q, A], request: Q | Plain, options: CallOptions = _DEFAULT
) -> Exchange:
    """The call that asks `operation` about `request`.

    Parameters
    ----------
    operation : Operation
        Calculation to ask for.
    request : Input, mapping or bytes
        Contract Struct, or the same as plain data or JSON.
    options : CallOptions
        How to ask.

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
        read = encode(read_request(operation, request)) if options.checked else _on_line(request)
        return Exchange(operation, read, options=options)
    if not isinstance(request, operation.request):
        raise TypeError(
            f"{operation.name} takes {operation.request.__name__}, a plain dict or JSON, "
            f"not {type(request).__name__}"
        )
    return Exchange(operation, _encoded(request), options=options)


def _on_line(body: bytes) -> bytes:
    try:
        return msgspec.json.format(body, indent=-1)
    except msgspec.DecodeError as fault:
        raise refused(sentence("not-json", reason=str(fault))) from None


@contextmanager
def asking(
    operation: Operation[Q, A],
    request: Q | Plain,
    progress: bool | ProgressCallback,
    views: Iterable[str],
    checks: Checks,
    options: CallOptions,
) -> Generator[Exchange]:
    """The call that asks, while its progress is told; errors as of `prepare`."""
    exchange = replace(prepare(operation, request, options), views=tuple(views), checks=checks)
    if progress is False or not operation.in_pieces or exchange.views or operation.fields:
        yield exchange
        return
    with piece_reporter(progress) as report:
        yield replace(exchange, on_progress=report)


def _encoded(request: Input | dict[str, Any]) -> bytes:
    try:
        return encode(request)
    except NonFiniteError as fault:
        raise refused(sentence("not-finite"), fault.pointer) from None
    except (RecursionError, ValueError) as fault:
        raise refused(sentence("no-json", reason=str(fault))) from None


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


def look_up(
    question: "FlatQuestion[..., F]", asked: Input, options: CallOptions = _DEFAULT
) -> Lookup:
    """The call that asks a flat question.

    Parameters
    ----------
    question : FlatQuestion
        From `sunhitch.questions`.
    asked : Input
        Its parameters.
    options : CallOptions
        How to ask.
    """
    given = {name: getattr(asked, name) for name in asked.__struct_fields__}
    told = {name: str(one) for name, one in given.items() if one is not None}
    return Lookup(question, told, options=options)


def read_answer(name: str, kind: type[F], reply: RawAnswer) -> F:
    """Decode an answer.

    Parameters
    ----------
    name : str
        Operation or flat question.
    kind : type
        Struct of its answer.
    reply : RawAnswer
        What came back.

    Raises
    ------
    UnexpectedAnswerError
        The answer lacks something that this version cannot do without.
    """
    try:
        return decode_answer(reply.body, kind)
    except MalformedBody as fault:
        raise UnexpectedAnswerError(
            f"The answer to {name} does not fit the contract of sunhitch {__version__} "
            f"at {fault.pointer or 'its start'}: {fault.message} Bring client and service to the "
            "same version: pip install --upgrade sunhitch on the side that is behind.",
            reply.request_id,
        ) from None
