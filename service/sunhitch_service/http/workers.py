"""Processes for long calculations, each replaced when it dies, is stopped, or fails.

Every process is a pool of its own. In a pool of several, all share one pipe and its locks, so that
the death of one can leave the others without work for good; and a pool gives up for good when a
process dies that had nothing to do.
"""

import asyncio
import multiprocessing
import os
import signal
import sys
import threading
from collections.abc import Callable
from concurrent.futures.process import BrokenProcessPool
from typing import Any, TypeVar

from pebble import ProcessExpired, ProcessFuture, ProcessPool
from threadpoolctl import threadpool_limits

from sunhitch_service.engine.pv.accelerate import load_loops
from sunhitch_service.engine.shade.states import load_kernel
from sunhitch_service.engine.stamp import stamp

from .settings import Settings

A = TypeVar("A")
R = TypeVar("R")

_FIRST_PAUSE_S, _LONGEST_PAUSE_S = 0.1, 10.0
"""Between attempts to start a process that ends at once."""
_COMPILING_S = 300.0
_PRELOADED = ["sunhitch_service.calculations", "sunhitch_service.http.jobs"]
_COMPILED = ["sunhitch_service.engine.pv.loops"]
"""Fails with an `ImportError`, which stops nothing, where there is no compiler."""


class Workers:
    """Runs work in other processes, one piece in each at a time.

    Parameters
    ----------
    settings : Settings
        How many, how far they stand back behind the serving process, and whether they use
        compiled loops.
    """

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._all: set[ProcessPool] = set()
        self._idle: asyncio.Queue[ProcessPool] = asyncio.Queue()
        self._starting: set[asyncio.Task[None]] = set()

    async def start(self) -> None:
        """Start all, and wait until each has loaded the engine's tables.

        Raises
        ------
        ProcessExpired
            If one ends before it is up: then none would stay up.
        """
        await asyncio.gather(*(self._add() for _ in range(self._settings.pool_size)))
        await self._once(_compile, None, _COMPILING_S)

    def stop(self) -> None:
        """Stop all; what they are at is lost."""
        for task in self._starting:
            task.cancel()
        for worker in self._all:
            worker.stop()  # type: ignore[no-untyped-call]
        for worker in self._all:
            worker.join()

    async def run(self, work: Callable[[A], R], given: A, limit_s: float) -> R:
        """Result of some work; once more if its process dies, since all work can be repeated.

        Parameters
        ----------
        work : callable
            Module-level function.
        given : object
            Its argument.
        limit_s : float
            Longest time once it has a process, by a clock that nobody can set [s].

        Returns
        -------
        object
            What `work` returned.

        Raises
        ------
        TimeoutError
            After the longest time; the process is stopped.
        ProcessExpired
            If a process died twice over it.
        """
        try:
            return await self._once(work, given, limit_s)
        except ProcessExpired:
            return await self._once(work, given, limit_s)

    async def _once(self, work: Callable[[A], R], given: A, limit_s: float) -> R:
        worker = await self._living()
        done = False
        try:
            async with asyncio.timeout(limit_s):
                result = await asyncio.wrap_future(_scheduled(worker, work, given))
            done = True
        except BrokenProcessPool as error:
            raise ProcessExpired("It ended early.") from error  # type: ignore[no-untyped-call]
        finally:
            if done:
                self._idle.put_nowait(worker)
            else:
                self._replace(worker)
        return result

    async def _living(self) -> ProcessPool:
        """The next process without work; those that died meanwhile are replaced."""
        while True:
            worker = await self._idle.get()
            if worker.active:
                return worker
            self._replace(worker)

    def _replace(self, worker: ProcessPool) -> None:
        """Stop one beside the event loop, since that may take a while, and start another."""
        self._all.discard(worker)
        threading.Thread(target=_ended, args=(worker,), daemon=True).start()
        starting = asyncio.ensure_future(self._restore())
        self._starting.add(starting)
        starting.add_done_callback(self._starting.discard)

    async def _restore(self) -> None:
        """Start one more, tried until it is up: without it there would be one fewer for good."""
        pause_s = _FIRST_PAUSE_S
        while True:
            try:
                await self._add()
            except ProcessExpired:
                await asyncio.sleep(pause_s)
                pause_s = min(2.0 * pause_s, _LONGEST_PAUSE_S)
            else:
                return

    async def _add(self) -> None:
        worker = _started(self._settings)
        self._all.add(worker)
        try:
            await asyncio.wrap_future(_scheduled(worker, _warm, self._settings.compiled))
        except (ProcessExpired, BrokenProcessPool) as error:
            self._all.discard(worker)
            _ended(worker)
            said = "A worker process ended while it started."
            raise ProcessExpired(said) from error  # type: ignore[no-untyped-call]
        self._idle.put_nowait(worker)


def _scheduled(worker: ProcessPool, work: Callable[[A], R], given: A) -> ProcessFuture[R]:
    try:
        return worker.schedule(work, args=(given,))
    except RuntimeError as error:
        raise BrokenProcessPool from error


def _started(settings: Settings) -> ProcessPool:
    context = multiprocessing.get_context("spawn" if sys.platform == "win32" else "forkserver")
    if sys.platform != "win32":
        context.set_forkserver_preload(_PRELOADED + (_COMPILED if settings.compiled else []))
    return ProcessPool(
        max_workers=1, initializer=_prepare, initargs=[settings.pool_niceness], context=context
    )


def _ended(worker: ProcessPool) -> None:
    worker.stop()  # type: ignore[no-untyped-call]
    worker.join()


def _prepare(niceness: int) -> None:
    """One thread a worker, behind the serving process, and stopping is the parent's business."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threadpool_limits(1)
    if sys.platform != "win32":
        os.nice(niceness)


def _compile(_given: Any) -> None:  # noqa: ANN401 - every piece of work takes an argument
    """Have what is compiled ready on disk before the first call needs it."""
    load_kernel()


def _warm(compiled: bool) -> None:
    """Load the engine's tables in a worker, and the compiled loops if wanted."""
    stamp()
    if compiled:
        load_loops()
