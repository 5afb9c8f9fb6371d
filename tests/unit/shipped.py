"""Answers to shipped requests and whole jobs, worked out once for all tests of a process."""

from collections.abc import Callable
from functools import wraps
from typing import Any, TypeVar

import msgspec
from plausible import example, light_example

from sunhitch.operations.operation import Operation
from sunhitch_service.calculations import calculation_of
from sunhitch_service.engine.fitout import calculation

Q = TypeVar("Q")
A = TypeVar("A")


def kept(calculate: Callable[[Q], A]) -> Callable[[Q], A]:
    """A calculation that answers an equal request with the answer it gave before."""
    answers: dict[bytes, A] = {}

    @wraps(calculate)
    def answer(request: Q) -> A:
        asked = msgspec.json.encode(request)
        if asked not in answers:
            answers[asked] = calculate(request)
        return answers[asked]

    return answer


fit_out = kept(calculation.fit_out)
_EACH: dict[str, Callable[[Any], Any]] = {}


def answered(operation: Operation[Any, Any]) -> tuple[Any, Any]:
    """The shipped request, or a smaller piece of the same work, and its answer."""
    body = light_example(operation)
    if "compare" in body:
        body["compare"] = example(operation)["compare"]
    request = msgspec.convert(body, operation.request)
    one = _EACH.setdefault(operation.name, kept(calculation_of(operation).calculate))
    return request, one(request)
