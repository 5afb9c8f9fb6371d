"""Compiled inner loops: used where they are installed, once a process has asked for them.

Loading them takes half a second, which a process that solves a few arrays does not get back.
"""

import hashlib
import os
import platform
import sys
from contextlib import suppress
from functools import cache
from importlib import import_module, metadata
from importlib.util import find_spec
from pathlib import Path
from types import ModuleType

_asked: list[ModuleType] = []
_waiting: list[bool] = []

_HERE = Path(__file__).parent
_SOURCES = tuple(_HERE / f"{name}.py" for name in ("kernel", "loops", "tree_loops", "compiling"))


def installed() -> bool:
    """Whether there is a compiler (extra `fast`)."""
    return find_spec("numba") is not None


def postpone() -> None:
    """Compile nothing in this process until it asks for the loops: another one compiles."""
    _waiting[:] = [True]


def at_hand() -> bool:
    """Whether something compiled may be used here, if need be after compiling it."""
    return installed() and not _waiting


def kept() -> bool:
    """Whether an earlier process has left everything compiled on disk."""
    return installed() and _mark().exists()


def keep() -> None:
    """Say so to later processes, where there is a folder for it."""
    with suppress(OSError):
        _mark().parent.mkdir(parents=True, exist_ok=True)
        _mark().touch()


@cache
def _mark() -> Path:
    """A file whose name tells all that the compiler's result depends on."""
    folder = os.environ.get("NUMBA_CACHE_DIR") or _HERE / "__pycache__"
    stats = [(path.name, path.stat().st_mtime_ns, path.stat().st_size) for path in _SOURCES]
    told = (sys.version, metadata.version("numba"), str(_HERE), _processor(), stats)
    return Path(folder) / f"compiled-{hashlib.sha256(repr(told).encode()).hexdigest()[:16]}"


def _processor() -> str:
    """What kind of processor this is, as far as the machine tells."""
    try:
        lines = Path("/proc/cpuinfo").read_text("utf-8").splitlines()
    except OSError:
        return platform.processor()
    return "".join(line for line in lines[:30] if line.startswith(("model name", "flags")))


def load_loops() -> None:
    """Use the compiled loops in this process from now on, where they can be kept on disk.

    The first process that asks waits some seconds for the compiler, later ones half a second.
    """
    _waiting.clear()
    if not installed() or _asked:
        return
    try:
        _asked.append(import_module(f"{__package__}.loops"))
    except ImportError:  # there is no folder to keep them in: every process would compile again
        return


def loops() -> ModuleType | None:
    """The compiled loops, if this process uses them."""
    return _asked[0] if _asked else None
