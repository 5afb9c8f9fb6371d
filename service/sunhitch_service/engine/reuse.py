"""Parts of a calculation that its trials share are computed once."""

from collections.abc import Callable, Generator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import wraps
from typing import Any, TypeVar

import msgspec

from sunhitch.types.base import Input

Q = TypeVar("Q", bound=Input)
A = TypeVar("A")
_found: ContextVar[dict[tuple[Callable[..., Any], bytes], Any] | None] = ContextVar(
    "_found", default=None
)


@contextmanager
def reusing() -> Generator[None]:
    """Let `reusable` functions answer the same request once in the outermost block."""
    token = _found.set({} if (known := _found.get()) is None else known)
    try:
        yield
    finally:
        _found.reset(token)


def reusable(function: Callable[[Q], A]) -> Callable[[Q], A]:
    """A pure function whose answers are kept within `reusing`, and nowhere else."""

    @wraps(function)
    def once(request: Q) -> A:
        found = _found.get()
        if found is None:
            return function(request)
        key = function, msgspec.msgpack.encode(request, enc_hook=str.__str__)
        if key not in found:
            found[key] = function(request)
        return found[key]  # type: ignore[no-any-return]

    return once
