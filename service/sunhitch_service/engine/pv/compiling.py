"""How inner loops are compiled, and the types of what they take.

The compiler keeps its result until the file of the entry changes, and does not notice a change in
any other (numba, "Notes on caching"): so what an entry calls is in its file, and limits are passed.
"""

from collections.abc import Callable
from typing import Any, TypeVar, cast

import numba

F = TypeVar("F", bound=Callable[..., object])
MADE_1, MADE_2, MADE_3 = "f8[::1]", "f8[:, ::1]", "f8[:, :, ::1]"
"""Arrays that are made or changed."""
F1, F2, F3 = (f"Array(f8, {axes}, 'C', readonly=True)" for axes in (1, 2, 3))
I1 = "Array(i8, 1, 'C', readonly=True)"
"""Arrays that are read: others may be taken for them, but not the other way round."""
OPTIONS: dict[str, Any] = {"error_model": "numpy", "fastmath": {"contract"}}
"""Divide without looking for zero; multiply and add at once where the machine can."""
_LEAN: dict[str, Any] = {**OPTIONS, "_nrt": False}
"""Without counting who refers to an array, which takes longer than what is done with it.

The caller of the entry keeps them all; such a function cannot make a new one.
"""


def entry(signature: str) -> Callable[[F], F]:
    """Compile for these types at import, or take what an earlier process kept on disk."""

    def compile_now(function: F) -> F:
        try:
            return cast(F, numba.njit(signature, cache=True, **OPTIONS)(function))
        except RuntimeError as nowhere:
            raise ImportError("There is no folder to keep compiled loops in.") from nowhere

    return compile_now


def compiled(function: F) -> F:
    """Compile where it is first called from compiled code; it makes no array."""
    return cast(F, numba.njit(**_LEAN)(function))


def inlined(function: F) -> F:
    """For small functions: passing arrays to them costs more than what they do."""
    return cast(F, numba.njit(forceinline=True, **_LEAN)(function))
