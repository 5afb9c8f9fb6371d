"""One calculation from JSON to bytes, as it runs in the serving process or in a pool worker."""

import gzip
import os
import time
import traceback
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, TypeVar

import msgspec

from sunhitch.codec import MalformedBody, decode_strict, encode
from sunhitch.types.check import Verdict
from sunhitch_service.calculations.calculation import ComputingTime
from sunhitch_service.engine.errors import ContradictionError, Fault

from .problems import INTERNAL, MALFORMED, ProblemError, as_problem, body_of
from .work import require_affordable

A = TypeVar("A")
R = TypeVar("R")
Draw = Callable[[Any, Any], str]

WORTH_COMPRESSING = 1000
"""Bytes above which an answer becomes notably smaller."""
_LEVEL = 4


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
    draw : callable, optional
        From request and answer to text; the answer as JSON if not given.
    gzip : bool
        Whether the caller takes the answer compressed.
    """

    kind: type[Any]
    calculate: Callable[[Any], Any]
    time: ComputingTime
    draw: Draw | None = None
    gzip: bool = False


@dataclass(frozen=True, slots=True)
class Refusal:
    """The calculation found the request contradictory."""

    faults: list[Fault]


class Shown(msgspec.Struct, frozen=True):
    """An answer as JSON or drawn, and its verdict, which not every drawing tells."""

    body: bytes
    verdict: Verdict
    compressed: bool = False


def compressed(shown: Shown) -> Shown:
    """The same for a caller who takes it compressed, if that is worth it."""
    if shown.compressed or len(shown.body) < WORTH_COMPRESSING:
        return shown
    return Shown(gzip.compress(shown.body, _LEVEL, mtime=0), shown.verdict, compressed=True)


def measured(given: tuple[Callable[[A], R], A]) -> tuple[R, float, int]:
    """Result of some work, the processor time that it took [ms], and the process that did it."""
    work, argument = given
    before_s = time.thread_time()
    result = work(argument)
    return result, (time.thread_time() - before_s) * 1000.0, os.getpid()


def shown(task: Task, request: Any, result: Any) -> Shown:  # noqa: ANN401
    """A result as its task wants to see it, uncompressed."""
    body = encode(result) if task.draw is None else task.draw(request, result).encode()
    return Shown(body, result.verdict)


def answer(task: Task, request: Any) -> Shown | Refusal:  # noqa: ANN401
    """Answer a decoded request.

    Returns
    -------
    Shown or Refusal
        The answer. Errors of the caller come back as values, since exceptions with
        fields of their own do not survive the way between processes.

    Raises
    ------
    NonFiniteError
        If the answer holds a number that JSON cannot carry.
    """
    try:
        result = task.calculate(request)
    except ContradictionError as error:
        return Refusal(error.faults)
    return shown(task, request, result)


def answer_body(given: tuple[Task, bytes, float]) -> Shown | Refusal | ProblemError:
    """Answer an encoded request that may take so many seconds; a problem comes back as a value."""
    task, body, limit_s = given
    try:
        request = decode_strict(body, task.kind)
        require_affordable(task.time, request, limit_s)
    except (MalformedBody, ProblemError) as error:
        return as_problem(error)
    outcome = answer(task, request)
    return compressed(outcome) if task.gzip and isinstance(outcome, Shown) else outcome


@dataclass(frozen=True, slots=True)
class Lines:
    """Some lines of a batch.

    Parameters
    ----------
    task : Task
        What is done with each.
    limit_s : float
        Seconds that a line may take.
    label : str
        Request id; each problem's instance is this and the line's number.
    first : int
        Number of the first line, from 1.
    bodies : list of bytes
        Requests as JSON.
    """

    task: Task
    limit_s: float
    label: str
    first: int
    bodies: list[bytes]

    def piece(self, start: int, size: int) -> "Lines":
        """Some of the lines."""
        bodies = self.bodies[start : start + size]
        return replace(self, first=self.first + start, bodies=bodies)


@dataclass(slots=True)
class Answered:
    """Answers or problems, one a line in the lines' order.

    Also what went wrong on our side, how many lines were malformed, and what it cost [s].
    """

    bodies: list[bytes]
    defects: list[str]
    malformed: int = 0
    cost_s: float = 0.0


def answer_lines(lines: Lines) -> Answered:
    """Answer every line by itself; a fault in one does not touch the others."""
    answered = Answered([], [])
    before_s = time.thread_time()
    for number, body in enumerate(lines.bodies, start=lines.first):
        try:
            answered.bodies.append(_answer_line(lines, body))
        except Exception as error:  # noqa: BLE001 - becomes this line's problem document
            problem = as_problem(error)
            answered.bodies.append(body_of(problem, f"{lines.label}:{number}"))
            answered.malformed += problem.kind is MALFORMED
            if problem.kind is INTERNAL:
                answered.defects.append("".join(traceback.format_exception(error)))
    answered.cost_s = time.thread_time() - before_s
    return answered


def _answer_line(lines: Lines, body: bytes) -> bytes:
    request = decode_strict(body, lines.task.kind)
    require_affordable(lines.task.time, request, lines.limit_s)
    return encode(lines.task.calculate(request))
