"""How inner loops and the kernel of many states are compiled, and how arguments are named."""

from collections.abc import Callable
from typing import Any, TypeVar, cast

import numba
import numpy as np
from numpy.typing import NDArray

F = TypeVar("F", bound=Callable[..., object])
Array = NDArray[np.float64]
Index = NDArray[np.int64]

F1, F2, F3, I1 = "float64[::1]", "float64[:, ::1]", "float64[:, :, ::1]", "int64[::1]"
OPTIONS: dict[str, Any] = {"error_model": "numpy", "fastmath": {"contract"}}
"""Divide without looking for zero; multiply and add at once where the machine can."""


def entry(signature: str) -> Callable[[F], F]:
    """Compile for these arguments only, at import, or take what an earlier process kept on disk.

    Parameters
    ----------
    signature : str
        Types of result and arguments.

    Returns
    -------
    callable
        Decorator.

    Raises
    ------
    ImportError
        If there is no folder to keep the result in.
    """

    def compiled(function: F) -> F:
        try:
            return cast(F, numba.njit(signature, cache=True, **OPTIONS)(function))
        except RuntimeError as nowhere:
            raise ImportError("There is no folder to keep compiled loops in.") from nowhere

    return compiled


def called(function: F) -> F:
    """Compile with the entry that calls it."""
    return cast(F, numba.njit(**OPTIONS)(function))


def inlined(function: F) -> F:
    """Compile into whatever calls it."""
    return cast(F, numba.njit(forceinline=True, **OPTIONS)(function))
