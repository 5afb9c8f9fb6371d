"""A long calculation in pieces: what comes before them, and what is made of them."""

from collections.abc import Sequence
from typing import Any

from sunhitch.codec import decode_strict
from sunhitch_service.engine.divided import Divided

from .task import Shown, Task, compressed

AnyDivided = Divided[Any, Any, Any, Any]


def prepare(given: tuple[Task, AnyDivided, bytes, float]) -> tuple[Any, float]:
    """Prepare an encoded request that may take so many seconds, and tell its cost [s]."""
    task, divided, body, limit_s = given
    request, expected_ms = task.read(body, limit_s)
    return divided.prepare(request), (expected_ms or 0.0) / 1000.0


def further(given: tuple[AnyDivided, Any, list[Any]]) -> Sequence[Any]:
    """Pieces that follow from what was found so far."""
    divided, prepared, found = given
    return divided.further(prepared, found)


def conclude(given: tuple[Task, AnyDivided, bytes, Any, list[Any]]) -> Shown:
    """The answer, out of what was prepared and found."""
    task, divided, body, prepared, found = given
    request = decode_strict(body, task.kind)
    return compressed(task, task.shown(request, divided.conclude(prepared, found)))
