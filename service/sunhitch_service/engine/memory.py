"""Freed memory stays with the process while long calculations run."""

import ctypes
import sys
from functools import cache

_TRIM_THRESHOLD, _MMAP_THRESHOLD = -1, -3
"""Parameters of `mallopt`, GNU C library."""
_KEPT_BYTES, _LARGEST_BYTES = 64 * 2**20, 8 * 2**20


@cache
def keep_freed_memory() -> None:
    """Keep up to 64 MiB of freed memory for the next arrays, where the C library lets one choose.

    Without it arrays of some hundred kilobytes go back to the system each time: in workers of a
    cluster, which ask for memory back early, page faults took longer than the figures.
    """
    if sys.platform == "linux" and hasattr(library := ctypes.CDLL(None), "mallopt"):
        library.mallopt(_TRIM_THRESHOLD, _KEPT_BYTES)
        library.mallopt(_MMAP_THRESHOLD, _LARGEST_BYTES)
