"""Solving with and without the compiled loops, and with the same source as plain Python."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from importlib import import_module
from importlib.machinery import ModuleSpec
from types import ModuleType
from typing import Any

import numpy as np
import pytest

from sunhitch_service.engine import pv
from sunhitch_service.engine.pv.accelerate import _asked, installed, load_loops


@contextmanager
def solving(compiled: bool) -> Iterator[None]:
    """Use the loops, or not, for as long as the block lasts; the test is skipped without them."""
    _asked.clear()
    if compiled:
        if not installed():
            pytest.skip("the compiler is an extra")
        load_loops()
    try:
        yield
    finally:
        _asked.clear()


@contextmanager
def interpreted(kept: bool = True) -> Iterator[ModuleType]:
    """The kernel and the loops as written, with or without a compiler; hands on the kernel.

    So coverage and changes on purpose see them, and a fault is found where it is. Overflow and
    division by zero are as silent as they are compiled. Where nothing is kept, there is no folder
    for what was compiled.
    """

    def as_written(*given: Any, cache: bool = False, **_: object) -> Callable[..., Any]:
        if cache and not kept:
            raise RuntimeError
        return given[0] if given and callable(given[0]) else as_written

    compiler = ModuleType("numba")
    compiler.__spec__ = ModuleSpec("numba", None)
    compiler.__dict__["njit"] = as_written
    _asked.clear()
    with pytest.MonkeyPatch.context() as patch, np.errstate(all="ignore"):
        patch.setitem(sys.modules, "numba", compiler)
        for name in ("kernel", "compiling", "tree_loops", "loops"):
            patch.setattr(pv, name, None, raising=False)
            patch.setitem(sys.modules, f"{pv.__name__}.{name}", None)
            del sys.modules[f"{pv.__name__}.{name}"]
        load_loops()
        yield import_module(f"{pv.__name__}.kernel")
        _asked.clear()
