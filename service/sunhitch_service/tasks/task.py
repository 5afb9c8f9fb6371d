"""One calculation from JSON to bytes, as it runs in the serving process or in a worker.

A long one may run in pieces: what comes before them, and what is made of them.
"""

import gzip
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, TypeVar

import msgspec

from sunhitch.codec import decode_strict, encode
from sunhitch.types.check import Answer, Verdict
from sunhitch_service.calculations.calculation import AnyCalculation, ComputingTime
from sunhitch_service.engine.divided import Divided

from .forms import WHOLE, Form
from .problems import CALLERS_FAULTS, Kind, ProblemError, as_problem

R = TypeVar("R")

_WORTH_COMPRESSING, _LEVEL = 1000, 5
"""Bytes above which an answer becomes notably smaller, and how hard to try."""


@dataclass(frozen=True, slots=True)
class Task:
    """What is done with a request; sent to other processes, so its functions are module-level.

    Parameters
    ----------
    kind : type
        Type of the request.
    calculate : callable
        From request to answer.
    time : ComputingTime
        What an answer costs.
    answered : type
        Type of the answer.
    form : Form
        In which form it is told.
    gzip : bool
        Whether the caller takes the answer compressed.
    keeps : bool
        Whether the answer is to be kept for other forms.
    made : Shown, optional
        The answer as JSON, where it was kept.
    """

    kind: type[Any]
    calculate: Callable[[Any], Any]
    time: ComputingTime
    answered: type[Any]
    form: Form = WHOLE
    gzip: bool = False
    keeps: bool = False
    made: "Shown | None" = None

    def result(self, request: Any) -> Any:  # noqa: ANN401
        """The answer to a request, computed unless it was kept."""
        if self.made is None:
            return self.calculate(request)
        return msgspec.json.decode(self.made.plain, type=self.answered)

    def read(self, body: bytes, limit_s: float) -> tuple[Any, float | None]:
        """A request, and what it will cost [ms], as far as that can be told.

        Raises
        ------
        MalformedBody
            If it is not what the task asks for.
        ProblemError
            `TOO_MUCH_WORK` if it would not end within the limit.
        """
        request = decode_strict(body, self.kind)
        return request, require_affordable(self.time, request, limit_s)

    def shown(self, request: Any, result: Any) -> "Shown":  # noqa: ANN401
        """A result as it is wanted, uncompressed, beside itself where it is to be kept."""
        body = self.form.body(request, result)
        kept = result if self.keeps and self.made is None else None
        return Shown(body, result.verdict, boundary=result.answer_id, answer=kept)


def task_of(endpoint: AnyCalculation) -> Task:
    """What is done with the requests of a calculation."""
    operation = endpoint.operation
    return Task(operation.request, endpoint.calculate, endpoint.computing_time, operation.answer)


class Shown(msgspec.Struct, frozen=True):
    """An answer in some form, its verdict, and the answer where it is to be kept: itself, or JSON.

    `boundary` parts the answer from its drawings where both come in one body.
    """

    body: bytes
    verdict: Verdict
    compressed: bool = False
    boundary: str = ""
    answer: Answer | bytes | None = None

    @property
    def plain(self) -> bytes:
        """Its body, uncompressed."""
        return gzip.decompress(self.body) if self.compressed else self.body

    @property
    def to_keep(self) -> bytes:
        """The answer as JSON with the codes of its texts, which no form tells unless asked."""
        kept = self.answer
        return encode(kept, texts=True) if isinstance(kept, Answer) else kept or b""


def require_affordable(time: ComputingTime, request: Any, limit_s: float) -> float | None:  # noqa: ANN401
    """Expected time [ms], None where it cannot be told; `TOO_MUCH_WORK` if above the limit."""
    expected_ms = time.expected_ms(request)
    if expected_ms is not None and expected_ms > limit_s * 1000.0:
        detail = (
            f"About {expected_ms / 1000.0:.0f} s of computing, above the limit of "
            f"{limit_s:g} s. {time.advice}"
        )
        raise ProblemError(Kind.TOO_MUCH_WORK, detail)
    return expected_ms


def measured(work: Callable[[], R]) -> tuple[R | ProblemError, float]:
    """Result of some work, and the processor time that it took [ms].

    A fault of the caller comes back as a value: it costs too, and leaves the process as it was.
    """
    before_s = time.thread_time()
    result: R | ProblemError
    try:
        result = work()
    except CALLERS_FAULTS as error:
        result = as_problem(error)
    return result, (time.thread_time() - before_s) * 1000.0


def compressed(task: Task, shown: Shown) -> Shown:
    """The same for a caller who takes it compressed, if that is worth it."""
    if not task.gzip or shown.compressed or len(shown.body) < _WORTH_COMPRESSING:
        return shown
    body = gzip.compress(shown.body, _LEVEL, mtime=0)
    return msgspec.structs.replace(shown, body=body, compressed=True)


def answer(task: Task, request: Any) -> Shown:  # noqa: ANN401
    """Answer a decoded request, uncompressed."""
    return task.shown(request, task.result(request))


def answer_body(task: Task, body: bytes, limit_s: float) -> Shown:
    """Answer an encoded request that may take so many seconds."""
    request, _ = task.read(body, limit_s)
    return _to_send(task, answer(task, request))


def _to_send(task: Task, shown: Shown) -> Shown:
    """The same for another process: as bytes alone."""
    return msgspec.structs.replace(compressed(task, shown), answer=shown.to_keep)


AnyDivided = Divided[Any, Any, Any, Any]


def prepare(task: Task, divided: AnyDivided, body: bytes, limit_s: float) -> tuple[Any, float]:
    """Prepare an encoded request that may take so many seconds, and tell its cost [s]."""
    request, expected_ms = task.read(body, limit_s)
    return divided.prepare(request), (expected_ms or 0.0) / 1000.0


def conclude(
    task: Task,
    divided: AnyDivided,
    body: bytes,
    prepared: Any,  # noqa: ANN401
    found: list[Any],
) -> Shown:
    """The answer, out of what was prepared and found."""
    request = decode_strict(body, task.kind)
    return _to_send(task, task.shown(request, divided.conclude(prepared, found)))
