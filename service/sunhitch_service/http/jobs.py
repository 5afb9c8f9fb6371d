"""One calculation from JSON to JSON, as it runs in the serving process or in a pool worker."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from sunhitch.codec import decode_strict, encode
from sunhitch_service.engine.errors import ContradictionError, Fault


@dataclass(frozen=True, slots=True)
class Job:
    """A calculation and the body that it is to answer.

    Parameters
    ----------
    calculate : callable
        Module-level function from request to answer, so that it can be sent to another process.
    kind : type
        Type of the request.
    body : bytes
        The request as JSON.
    """

    calculate: Callable[[Any], Any]
    kind: type[Any]
    body: bytes


@dataclass(frozen=True, slots=True)
class Refusal:
    """The calculation found the request contradictory."""

    faults: list[Fault]


def answer(calculate: Callable[[Any], Any], request: Any) -> bytes | Refusal:  # noqa: ANN401
    """Answer a decoded request.

    Returns
    -------
    bytes or Refusal
        The answer as JSON; errors of the caller come back as values, since exceptions with fields
        of their own do not survive the way between processes.

    Raises
    ------
    NonFiniteError
        If the answer holds a number that JSON cannot carry.
    """
    try:
        return encode(calculate(request))
    except ContradictionError as error:
        return Refusal(error.faults)


def run(job: Job) -> bytes | Refusal:
    """Answer an encoded request; its body must have been decoded once before."""
    return answer(job.calculate, decode_strict(job.body, job.kind))
