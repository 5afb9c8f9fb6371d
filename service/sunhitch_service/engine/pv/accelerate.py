"""Compiled inner loops: used where they are installed, once a process has asked for them.

Loading them takes half a second, which a process that solves a few arrays does not get back.
"""

from importlib import import_module
from importlib.util import find_spec
from types import ModuleType

_asked: list[ModuleType] = []


def installed() -> bool:
    """Whether there is a compiler (extra `fast`)."""
    return find_spec("numba") is not None


def load_loops() -> None:
    """Use the compiled loops in this process from now on, where they can be kept on disk.

    The first process that asks waits some seconds for the compiler, later ones half a second.
    """
    if not installed() or _asked:
        return
    try:
        _asked.append(import_module(f"{__package__}.loops"))
    except ImportError:  # there is no folder to keep them in: every process would compile again
        return


def drop_loops() -> None:
    """Do without them from now on."""
    _asked.clear()


def loops() -> ModuleType | None:
    """The compiled loops, if this process uses them."""
    return _asked[0] if _asked else None
