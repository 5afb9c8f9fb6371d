"""One calculation from JSON to bytes, as it runs in the serving process or in a pool worker."""

import traceback
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import msgspec

from sunhitch.codec import decode_strict, encode
from sunhitch.types.check import Verdict
from sunhitch_service.calculations.calculation import ComputingTime
from sunhitch_service.engine.errors import ContradictionError, Fault

from .problems import INTERNAL, as_problem, body_of
from .work import require_affordable

Draw = Callable[[Any, Any], str]


@dataclass(frozen=True, slots=True)
class Task:
    """What is done with a request; sent to other processes, so its functions are module-level.

    Parameters
    ----------
    kind : type
        Type of the request.
    calculate : callable
        From request to answer.
    draw : callable, optional
        From request and answer to text; the answer as JSON if not given.
    """

    kind: type[Any]
    calculate: Callable[[Any], Any]
    draw: Draw | None = None


@dataclass(frozen=True, slots=True)
class Refusal:
    """The calculation found the request contradictory."""

    faults: list[Fault]


class Shown(msgspec.Struct, frozen=True):
    """An answer as JSON or drawn, and its verdict, which not every drawing tells."""

    body: bytes
    verdict: Verdict


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
    body = encode(result) if task.draw is None else task.draw(request, result).encode()
    return Shown(body, result.verdict)


def answer_body(given: tuple[Task, bytes]) -> Shown | Refusal:
    """Answer an encoded request, which must have been decoded once before."""
    task, body = given
    return answer(task, decode_strict(body, task.kind))


@dataclass(frozen=True, slots=True)
class Lines:
    """Some lines of a batch.

    Parameters
    ----------
    task : Task
        What is done with each.
    computing_time, limit_s : ComputingTime, float
        What a line will take, and the seconds that it may take.
    label : str
        Request id; each problem's instance is this and the line's number.
    first : int
        Number of the first line, from 1.
    bodies : list of bytes
        Requests as JSON.
    """

    task: Task
    computing_time: ComputingTime
    limit_s: float
    label: str
    first: int
    bodies: list[bytes]

    def piece(self, start: int, size: int) -> "Lines":
        """Some of the lines."""
        bodies = self.bodies[start : start + size]
        return replace(self, first=self.first + start, bodies=bodies)


@dataclass(frozen=True, slots=True)
class Answered:
    """Answers or problems, one a line in the lines' order, and what went wrong on our side."""

    bodies: list[bytes]
    defects: list[str]


def answer_lines(lines: Lines) -> Answered:
    """Answer every line by itself; a fault in one does not touch the others."""
    answered = Answered([], [])
    for number, body in enumerate(lines.bodies, start=lines.first):
        try:
            answered.bodies.append(_answer_line(lines, body))
        except Exception as error:  # noqa: BLE001 - becomes this line's problem document
            problem = as_problem(error)
            answered.bodies.append(body_of(problem, f"{lines.label}:{number}"))
            if problem.kind is INTERNAL:
                answered.defects.append("".join(traceback.format_exception(error)))
    return answered


def _answer_line(lines: Lines, body: bytes) -> bytes:
    request = decode_strict(body, lines.task.kind)
    require_affordable(lines.computing_time, request, lines.limit_s)
    return encode(lines.task.calculate(request))
