"""The process that workers are forked from: what it loads, they share."""

import sys
from multiprocessing import forkserver

from sunhitch_service.engine.pv import accelerate

_LOADED = [
    "sunhitch_service.calculations",
    "sunhitch_service.tasks.lines",
    "sunhitch_service.tasks.question",
    "scipy.optimize",
    "shapely",
    "pvlib",
    "ortools.sat.python.cp_model",
]
"""The engine, and what it imports only where it is needed: else the first call of every worker pays
for it, up to half a second. What is not installed is left out.
"""
_COMPILED = ["sunhitch_service.engine.pv.loops"]


def begin(*, compiled: bool) -> None:
    """Start it, once; it loads beside whatever else this process has to do."""
    if sys.platform != "win32":
        kept = compiled and accelerate.kept()
        forkserver.set_forkserver_preload(_LOADED + (_COMPILED if kept else []))
        forkserver.ensure_running()
