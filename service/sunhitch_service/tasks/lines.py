"""Lines of a batch: counted, cut into pieces, and each answered by itself."""

import time
import traceback
from dataclasses import dataclass, replace

from sunhitch.types.stream import answer_line, problem_line

from .problems import Kind, ProblemError, as_problem
from .task import Task

_PIECE_BYTES = 500_000


class Body:
    """Lines, counted as they arrive and cut off when they are due: nothing walks over all.

    The end of the last line may be missing. There may be so many lines of so many bytes.
    """

    def __init__(self, most: int, longest: int) -> None:
        self._most, self._longest = most, longest
        self._text = bytearray()
        self._ends = self._open = 0

    @property
    def count(self) -> int:
        """How many lines came."""
        return self._ends + (self._open > 0)

    def take(self, piece: bytes) -> None:
        """Add what came; may raise `TOO_LARGE`."""
        self._text += piece
        ends = piece.count(b"\n")
        whole = max(map(len, piece.split(b"\n"))) if len(piece) > self._longest else 0
        first = self._open + (piece.find(b"\n") if ends else len(piece))
        self._open = len(piece) - piece.rfind(b"\n") - 1 if ends else first
        if max(whole, first) > self._longest:
            said = f"A line is above the limit of {self._longest} bytes."
            raise ProblemError(Kind.TOO_LARGE, said)
        self._ends += ends
        if self.count > self._most:
            said = f"More lines than {self._most}, the limit for a batch."
            raise ProblemError(Kind.TOO_LARGE, said)

    def cut(self, most: int) -> list[bytes]:
        """The next lines, fewer than so many if they are long; none at the end."""
        found, length = list[bytes](), 0
        while self._text and len(found) < most and length < _PIECE_BYTES:
            end = self._text.find(b"\n")
            found.append(bytes(self._text[: len(self._text) if end < 0 else end]))
            length += len(found[-1])
            del self._text[: len(found[-1]) + 1]
        return found


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

    def singly(self) -> "list[Lines]":
        """Each line by itself."""
        return [
            replace(self, first=number, bodies=[body])
            for number, body in enumerate(self.bodies, start=self.first)
        ]


@dataclass(slots=True)
class Answered:
    """Answers or problems as text, one a line in the lines' order: the event loop joins nothing.

    Also what went wrong on our side, how many lines were malformed, and what it cost [s].
    """

    text: bytes = b""
    count: int = 0
    defects: str = ""
    malformed: int = 0
    cost_s: float = 0.0

    def add(self, other: "Answered") -> None:
        """Have another follow."""
        self.text += other.text
        self.count += other.count
        self.defects += other.defects
        self.malformed += other.malformed
        self.cost_s += other.cost_s


def answer_lines(lines: Lines) -> Answered:
    """Answer every line by itself; a fault in one does not touch the others."""
    answered, texts = Answered(count=len(lines.bodies)), list[bytes]()
    before_s = time.thread_time()
    for number, body in enumerate(lines.bodies, start=lines.first):
        try:
            request, _ = lines.task.read(body, lines.limit_s)
            told = lines.task.form.body(request, lines.task.calculate(request))
            texts.append(answer_line(told))
        except Exception as error:  # noqa: BLE001 - becomes this line's problem document
            problem = as_problem(error)
            texts.append(problem_line(problem.body(f"{lines.label}:{number}")))
            answered.malformed += problem.kind is Kind.MALFORMED
            if problem.kind is Kind.INTERNAL:
                answered.defects += "".join(traceback.format_exception(error))
    answered.text = b"\n".join([*texts, b""])
    answered.cost_s = time.thread_time() - before_s
    return answered
