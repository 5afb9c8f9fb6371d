"""Solving with and without the compiled loops."""

from collections.abc import Iterator
from contextlib import contextmanager

import pytest

from sunhitch_service.engine.pv.accelerate import drop_loops, installed, load_loops


@contextmanager
def solving(compiled: bool) -> Iterator[None]:
    """Use the loops, or not, for as long as the block lasts; the test is skipped without them."""
    drop_loops()
    if compiled:
        if not installed():
            pytest.skip("the compiler is an extra")
        load_loops()
    try:
        yield
    finally:
        drop_loops()
