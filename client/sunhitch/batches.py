"""Many requests of one calculation: cut into batches on the way out, put in order on the way in."""

from collections.abc import Callable, Generator, Iterable, Iterator, Sized
from contextlib import contextmanager
from dataclasses import dataclass, replace
from itertools import islice
from typing import Any, Generic, TypeAlias, TypeVar

from .documents import read_documented
from .errors import RequestRejectedError, ServiceError, UnexpectedAnswerError, service_error
from .exchange import CallOptions, Exchange, RawAnswer, prepare
from .operations.operation import A, Operation, Plain, Q
from .problems import read_problem, refused
from .progress import bars, read_line
from .texts import sentence

RequestProgress: TypeAlias = Callable[[int], object]
"""Told how many requests were answered since it was last called, such as a bar's `update`."""

T = TypeVar("T")


_ENDED = b'"urn:sunhitch:problem:batch-ended"'


@dataclass(frozen=True, slots=True)
class Batch(Generic[A]):
    """Requests that travel together.

    Parameters
    ----------
    operation : Operation
        Calculation asked for.
    exchange : Exchange
        The call; its body is empty where no request is fit to be sent.
    asked : list of Exchange or RequestRejectedError
        One entry a request: the same alone, or why it was not sent.
    """

    operation: Operation[Any, A]
    exchange: Exchange
    asked: list[Exchange | RequestRejectedError]

    def outcomes(self, reply: RawAnswer) -> Iterator[A | ServiceError]:
        """One outcome a request, in the order of the requests.

        Parameters
        ----------
        reply : RawAnswer
            What came back, one line for each request that was sent. Where the service ended the
            batch, what it says of that is the outcome of every request that it did not read.

        Raises
        ------
        UnexpectedAnswerError
            The number of lines is not that of the requests, or one is neither answer nor problem.
        """
        lines = list(reply.lines) or [replace(reply, body=one) for one in reply.body.splitlines()]
        sent = sum(isinstance(one, Exchange) for one in self.asked)
        if lines and _ENDED in lines[-1].body:
            lines += lines[-1:] * (sent - len(lines))
        if len(lines) != sent:
            raise UnexpectedAnswerError(
                f"{len(lines)} lines came back for {sent} requests.", reply.request_id
            )
        answered = iter(lines)
        for one in self.asked:
            yield self._outcome(one, next(answered)) if isinstance(one, Exchange) else one

    def _outcome(self, alone: Exchange, line: RawAnswer) -> A | ServiceError:
        told = read_line(line.body, line.request_id)
        if told.kind == "answer":
            answer = replace(line, body=bytes(told.answer))
            return read_documented(alone, self.operation.answer, answer)
        return service_error(
            read_problem(bytes(told.problem) or line.body, line.request_id), line.request_id
        )


def batches(
    operation: Operation[Q, A],
    requests: Iterable[Q | Plain],
    lines: int,
    options: CallOptions,
) -> Iterator[Batch[A]]:
    """Cut requests into batches; plain data that does not fit is sorted out here.

    Parameters
    ----------
    operation : Operation
        Calculation to ask for.
    requests : iterable of Input, mapping or bytes
        Read no further than needed.
    lines : int
        Most requests in a batch.
    options : CallOptions
        How to ask.
    """
    for several in groups(requests, lines):
        prepared = [_prepared(operation, request, options) for request in several]
        bodies = [one.body for one in prepared if isinstance(one, Exchange)]
        yield Batch(
            operation,
            Exchange(
                operation, b"".join(one + b"\n" for one in bodies), batch=True, options=options
            ),
            prepared,
        )


def _prepared(
    operation: Operation[Q, A], request: Q | Plain, options: CallOptions
) -> Exchange | RequestRejectedError:
    try:
        return prepare(operation, request, options)
    except RequestRejectedError as fault:
        return fault
    except TypeError as fault:
        return refused(sentence("no-request", reason=str(fault)))


def groups(items: Iterable[T], size: int) -> Iterator[list[T]]:
    """Runs of up to so many items, in order, reading no further than needed.

    Raises
    ------
    ValueError
        A size below 1.
    """
    if size < 1:
        raise ValueError(f"lines and at_once must be at least 1, not {size}")
    rest = iter(items)
    while several := list(islice(rest, size)):
        yield several


@contextmanager
def request_reporter(
    progress: bool | RequestProgress, requests: Iterable[Any]
) -> Generator[RequestProgress]:
    """Where progress is told: nowhere, to a function, or to a bar that is drawn here.

    Raises
    ------
    ModuleNotFoundError
        A bar was asked for and tqdm, which draws it, is not installed.
    """
    if not isinstance(progress, bool):
        yield progress
        return
    if not progress:
        yield lambda _answered: None
        return
    total = len(requests) if isinstance(requests, Sized) else None
    with bars()(total=total, unit="request") as bar:
        yield bar.update
