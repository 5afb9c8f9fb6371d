"""One process that does one piece of work at a time.

Every process is a pool of its own. In a pool of several, all share one pipe and its locks, so that
the death of one can leave the others without work for good; and a pool gives up for good when a
process dies that had nothing to do.
"""

import asyncio
import logging
import multiprocessing
import os
import signal
import sys
import threading
import time
from collections.abc import Callable
from concurrent.futures.process import BrokenProcessPool
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TypeVar

from pebble import ProcessExpired, ProcessFuture, ProcessPool
from threadpoolctl import threadpool_limits

from sunhitch_service.engine.pv import accelerate
from sunhitch_service.engine.shade.states import load_kernel
from sunhitch_service.engine.stamp import stamp

R = TypeVar("R")

_COMPILING_S = 1800.0
_NICENESS_AHEAD = 2
"""Under all attacks at once a call of 25 ms takes 58 ms then (median); 75 with 5, 134 with 10."""
_LOG = logging.getLogger(__name__)


class WorkerDiedError(Exception):
    """A worker process ended before its work did."""


@dataclass(frozen=True, slots=True)
class PoolLimits:
    """What workers are and may.

    Parameters
    ----------
    size : int
        How many may be at long work at a time.
    niceness : int
        How far they stand back behind the serving process.
    memory_megabytes : int
        What each may take.
    compiled : bool
        Whether they use compiled loops.
    """

    size: int
    niceness: int
    memory_megabytes: int
    compiled: bool


class WorkerProcess:
    """A process for work, not started before it is warmed or used.

    Attributes
    ----------
    ahead : bool
        Whether it goes ahead of others on the processor.
    compiled : bool
        Whether it uses compiled loops.
    pid : int
        Its process, once it is warm.
    """

    def __init__(self, limits: PoolLimits, *, compiled: bool, ahead: bool = False) -> None:
        context = multiprocessing.get_context("spawn" if sys.platform == "win32" else "forkserver")
        self._niceness = limits.niceness
        own = min(_NICENESS_AHEAD, limits.niceness) if ahead else limits.niceness
        self._pool = ProcessPool(
            max_workers=1,
            initializer=_prepare,
            initargs=[own, limits.memory_megabytes],
            context=context,
        )
        self.compiled, self.ahead = compiled, ahead
        self.pid = 0

    @property
    def is_up(self) -> bool:
        """Whether it can take work."""
        return bool(self._pool.active)

    async def warm(self) -> None:
        """Start it, and wait until it has loaded the engine's tables; raises `WorkerDiedError`."""
        # A pool starts its process when it is first used, and waits for it.
        scheduled = await asyncio.to_thread(self._scheduled, partial(_warm, self.compiled))
        self.pid = await _result(scheduled)

    async def do(self, work: Callable[[], R]) -> R:
        """Result of some work; cancelling stops the process. May raise `WorkerDiedError`."""
        return await _result(self._scheduled(work))

    def spent_s(self) -> float:
        """Processor time so far; by the clock where the system does not tell [s]."""
        try:
            fields = Path(f"/proc/{self.pid}/stat").read_text("ascii").rpartition(")")[2].split()
        except OSError:
            return time.monotonic()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")

    def fall_back(self) -> None:
        """Go ahead of nobody any more."""
        self.ahead = False
        if sys.platform != "win32":
            usual = os.getpriority(os.PRIO_PROCESS, 0) + self._niceness
            with suppress(ProcessLookupError):
                os.setpriority(os.PRIO_PROCESS, self.pid, usual)

    def end(self) -> None:
        """Stop it beside the event loop, since that may take a while."""
        threading.Thread(target=self.end_here, daemon=True).start()

    def end_here(self) -> None:
        """Stop it, and wait until it is gone; what it is at is lost."""
        self._pool.stop()  # type: ignore[no-untyped-call]
        self._pool.join()

    def _scheduled(self, work: Callable[[], R]) -> ProcessFuture[R]:
        try:
            return self._pool.schedule(work)
        except RuntimeError as error:
            raise WorkerDiedError from error


async def _result(scheduled: ProcessFuture[R]) -> R:
    try:
        return await asyncio.wrap_future(scheduled)
    except (ProcessExpired, BrokenProcessPool) as error:
        raise WorkerDiedError from error


async def compile_beside(limits: PoolLimits) -> bool:
    """Have a process of its own compile all loops; whether they are on disk now.

    Without a compiler or a folder for them they are not.
    """
    if accelerate.kept() or not accelerate.installed():
        return accelerate.installed()
    compiling = WorkerProcess(limits, compiled=False)
    try:
        async with asyncio.timeout(_COMPILING_S):
            return await compiling.do(_compile)
    except (TimeoutError, WorkerDiedError, OSError) as error:
        _LOG.warning("loops could not be compiled, NumPy serves on: %r", error)
        return False
    finally:
        compiling.end()


def _prepare(niceness: int, megabytes: int) -> None:
    """One thread a worker, behind the serving process, and stopping is the parent's business."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threadpool_limits(1)
    if sys.platform != "win32":
        import resource

        os.nice(niceness)
        most_bytes = megabytes * 1_000_000
        resource.setrlimit(resource.RLIMIT_DATA, (most_bytes, most_bytes))


def _compile() -> bool:
    """Compile everything and keep it on disk; False where there is no folder for it."""
    accelerate.load_loops()
    load_kernel()
    if accelerate.loops() is not None:
        accelerate.keep()
    return accelerate.loops() is not None


def _warm(compiled: bool) -> int:
    """Load the engine's tables in a worker, and the compiled loops if wanted; its process id."""
    stamp()
    if compiled:
        accelerate.load_loops()
    else:
        accelerate.postpone()
    return os.getpid()
