"""Lines of a stream, one JSON object each: of a batch, or of an answer that tells its progress."""

from typing import Annotated, Generic, TypeVar

from .base import Output
from .problem import Problem
from .quantity import count, prose

A = TypeVar("A")


class ProgressLine(Output, kw_only=True, tag_field="kind", tag="progress"):
    """How far a calculation has come."""

    done: Annotated[int, count(0, 1_000_000_000, "Pieces that are done.", 3)]
    total: Annotated[int, count(0, 1_000_000_000, "Pieces there are.", 12)]


class AnswerLine(Output, Generic[A], kw_only=True, tag_field="kind", tag="answer"):
    """An answer: the last line of progress, or a line of a batch."""

    answer: A


class ProblemLine(Output, kw_only=True, tag_field="kind", tag="problem"):
    """What stands in place of an answer."""

    problem: Annotated[Problem, prose("Why there is no answer.")]


def answer_line(answer: bytes) -> bytes:
    """Line with an answer that is JSON already, without its end."""
    return b'{"kind":"answer","answer":' + answer + b"}"


def problem_line(problem: bytes) -> bytes:
    """Line with a problem document that is JSON already, without its end."""
    return b'{"kind":"problem","problem":' + problem + b"}"
