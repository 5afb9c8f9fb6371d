"""Processes for long calculations, shared fairly, each replaced when it dies, is stopped, or fails.

Every process is a pool of its own. In a pool of several, all share one pipe and its locks, so that
the death of one can leave the others without work for good; and a pool gives up for good when a
process dies that had nothing to do.

There is one process more than long work may hold, so that short work always finds one.
"""

import asyncio
import logging
import multiprocessing
import os
import signal
import sys
import threading
import time
from collections.abc import Callable, Coroutine
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from pebble import ProcessExpired, ProcessFuture, ProcessPool
from threadpoolctl import threadpool_limits

from sunhitch_service.engine.pv import accelerate
from sunhitch_service.engine.shade.states import load_kernel
from sunhitch_service.engine.stamp import stamp

from . import forkserver
from .access import payer
from .exchange import HttpExchange
from .fair import FairQueue, QueuedWork
from .jobs import measured
from .metrics import Metrics
from .problems import ProblemError
from .settings import Settings

A = TypeVar("A")
R = TypeVar("R")

_SHORT_S, _SHORT_LIMIT_S = 0.5, 1.0
"""Expected cost of short work, and processor time after which it begins again as long."""
_TICK_S = 0.01
"""The system counts processor time in steps of this."""
_FIRST_PAUSE_S, _LONGEST_PAUSE_S = 0.1, 10.0
"""Between attempts to start a process that ends at once."""
_COMPILING_S = 1800.0
_LOG = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class WorkOrder:
    """One piece of work for a worker.

    Parameters
    ----------
    exchange : HttpExchange
        The request that it is part of.
    kind : str
        For the metrics: calculation, question, batch or study.
    limit_s : float
        Longest time in a worker [s].
    expected_s : float
        Expected cost [s of a processor]; 0 where it cannot be told.
    """

    exchange: HttpExchange
    kind: str
    limit_s: float
    expected_s: float = 0.0


@dataclass(eq=False, slots=True)
class _Worker:
    """One process, and whether it uses compiled loops."""

    pool: ProcessPool
    compiled: bool
    pid: int = 0

    def spent_s(self) -> float:
        """Processor time so far; by the clock where the system does not tell [s]."""
        try:
            fields = Path(f"/proc/{self.pid}/stat").read_text("ascii").rpartition(")")[2].split()
        except OSError:
            return time.monotonic()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


class _NotShortError(Exception):
    """Work took longer than short work may."""


class Workers:
    """Runs work in other processes, one piece in each at a time.

    Parameters
    ----------
    settings : Settings
        How many, how far they stand back behind the serving process, how much memory each may
        take, and whether they use compiled loops.
    metrics : Metrics
        Where deaths, stops and waits are counted.
    charge : callable
        Told of the processor time of every piece [ms].
    """

    def __init__(
        self, settings: Settings, metrics: Metrics, charge: Callable[[WorkOrder, float], None]
    ) -> None:
        self._settings = settings
        self._charge = charge
        self._metrics = metrics
        self._queue: FairQueue[asyncio.Future[_Worker]] = FairQueue()
        self._all: set[_Worker] = set()
        self._idle: list[_Worker] = []
        self._long = 0
        self._tasks: set[asyncio.Task[None]] = set()
        self._compiled = settings.compiled and accelerate.kept()
        forkserver.begin(settings)

    @property
    def compiled(self) -> bool:
        """Whether those that start from now on use compiled loops."""
        return self._compiled

    async def start(self) -> None:
        """Start all, and wait until each has loaded the engine's tables.

        One that ends before it is up raises `ProcessExpired`: then none would stay up.
        """
        await asyncio.gather(*(self._add() for _ in range(self._settings.pool_size + 1)))

    def stop(self) -> None:
        """Stop all; what they are at is lost."""
        for task in self._tasks:
            task.cancel()
        for worker in self._all:
            worker.pool.stop()  # type: ignore[no-untyped-call]
        for worker in self._all:
            worker.pool.join()

    async def run(self, work: Callable[[A], R], given: A, order: WorkOrder) -> R:
        """Result of some work; once more if its process dies, since all work can be repeated.

        Arguments as `Compute.in_pool`.

        Raises
        ------
        TimeoutError
            After the longest time, from when it has a process; the process is stopped.
        ProcessExpired
            If a process died twice over it.
        MemoryError
            If it takes more memory than a process may.
        ProblemError
            For what is wrong with the request.
        """
        short, died = order.expected_s <= _SHORT_S, False
        while True:
            try:
                return await self._once(work, given, order, short=short)
            except _NotShortError:
                short = False
                self._metrics.timeouts.labels("short").inc()
            except TimeoutError:
                self._metrics.timeouts.labels(order.kind).inc()
                raise
            except ProcessExpired:
                if died:
                    raise
                died = True

    async def renew(self) -> None:
        """Have workers with compiled loops take the place of those without, one after the other."""
        self._compiled = True
        for _ in range(self._settings.pool_size + 1):
            await self._add()
            plain = next((one for one in self._idle if not one.compiled), None)
            if plain is not None:
                self._idle.remove(plain)
                self._drop(plain)

    async def _once(self, work: Callable[[A], R], given: A, order: WorkOrder, *, short: bool) -> R:
        waiting, worker = await self._turn(order, long=not short)
        order.exchange.worker = worker.pid
        started_s = time.perf_counter()
        cost_ms, whole = None, False
        try:
            working = asyncio.wrap_future(_scheduled(worker.pool, measured, (work, given)))
            result, cost_ms, _ = await _within(working, worker, order.limit_s, short=short)
            whole = True
        except (ProcessExpired, BrokenProcessPool) as error:
            self._metrics.deaths.inc()
            said = "A worker process ended early."
            raise ProcessExpired(said) from error  # type: ignore[no-untyped-call]
        finally:
            if cost_ms is None:
                cost_ms = 1000.0 * (time.perf_counter() - started_s)
            self._settle(waiting, order, cost_ms)
            self._release(worker, whole=whole)
        if isinstance(result, ProblemError):
            raise result
        return result

    async def _turn(
        self, order: WorkOrder, *, long: bool
    ) -> tuple[QueuedWork[asyncio.Future[_Worker]], _Worker]:
        """Wait for a worker."""
        asked_s = time.perf_counter()
        due = asyncio.get_running_loop().create_future()
        waiting = self._queue.push(payer(order.exchange), due, order.expected_s, long=long)
        self._serve()
        try:
            worker = await due
        except asyncio.CancelledError:
            self._queue.discard(waiting)
            if not due.cancelled():
                self._settle(waiting, order, 0.0)
                self._release(due.result(), whole=True)
            raise
        finally:
            self._metrics.queue.set(len(self._queue))
        self._metrics.waits.observe(time.perf_counter() - asked_s)
        return waiting, worker

    def _serve(self) -> None:
        """Give idle workers to whose turn it is."""
        while worker := self._living():
            waiting = self._queue.pop(with_long=self._long < self._settings.pool_size)
            if waiting is None:
                self._idle.append(worker)
                break
            if waiting.item.cancelled():
                self._queue.settle(waiting, 0.0)
                self._idle.append(worker)
                continue
            self._long += waiting.long
            waiting.item.set_result(worker)
        self._metrics.queue.set(len(self._queue))

    def _living(self) -> _Worker | None:
        """A process without work; those that died meanwhile are replaced."""
        while self._idle:
            worker = self._idle.pop()
            if worker.pool.active:
                return worker
            self._metrics.deaths.inc()
            self._drop(worker)
            self._begin(self._restore())
        return None

    def _settle(
        self, waiting: QueuedWork[asyncio.Future[_Worker]], order: WorkOrder, cost_ms: float
    ) -> None:
        self._queue.settle(waiting, cost_ms / 1000.0)
        self._long -= waiting.long
        self._charge(order, cost_ms)

    def _release(self, worker: _Worker, *, whole: bool) -> None:
        """Take back a worker that is done, or replace it."""
        if not whole:
            self._drop(worker)
            self._begin(self._restore())
        elif self._compiled and not worker.compiled:
            self._drop(worker)
        else:
            self._idle.append(worker)
        self._serve()

    def _drop(self, worker: _Worker) -> None:
        """Stop one beside the event loop, since that may take a while."""
        self._all.discard(worker)
        threading.Thread(target=_ended, args=(worker.pool,), daemon=True).start()
        self._show()

    def _begin(self, work: Coroutine[Any, Any, None]) -> None:
        task = asyncio.ensure_future(work)
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    def _show(self) -> None:
        self._metrics.workers.set(len(self._all))
        self._metrics.compiled.set(sum(one.compiled for one in self._all))

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
        worker = _Worker(_started(self._settings), self._compiled)
        self._all.add(worker)
        try:
            # A pool starts its process when it is first used, and waits for it.
            warming = await asyncio.to_thread(_scheduled, worker.pool, _warm, worker.compiled)
            worker.pid = await asyncio.wrap_future(warming)
        except (ProcessExpired, BrokenProcessPool) as error:
            self._all.discard(worker)
            _ended(worker.pool)
            said = "A worker process ended while it started."
            raise ProcessExpired(said) from error  # type: ignore[no-untyped-call]
        self._show()
        self._idle.append(worker)
        self._serve()


async def _within(working: asyncio.Future[R], worker: _Worker, limit_s: float, *, short: bool) -> R:
    """Result of work within its time; short work is measured by the processor time that it takes.

    By the clock it would be stopped for what else a busy machine does.
    """
    clock = asyncio.get_running_loop().time
    end_s, most_s = clock() + limit_s, worker.spent_s() + _SHORT_LIMIT_S
    try:
        while (left_s := end_s - clock()) > 0.0:
            short_s = max(most_s - worker.spent_s(), _TICK_S) if short else left_s
            done, _ = await asyncio.wait({working}, timeout=min(left_s, short_s))
            if done:
                return working.result()
            if short and worker.spent_s() >= most_s:
                raise _NotShortError
        raise TimeoutError
    finally:
        working.cancel()


async def compile_beside(settings: Settings) -> bool:
    """Have a process of its own compile all loops; whether they are on disk now.

    Without a compiler or a folder for them they are not.
    """
    if accelerate.kept() or not accelerate.installed():
        return accelerate.installed()
    compiling = _started(settings)
    try:
        async with asyncio.timeout(_COMPILING_S):
            return await asyncio.wrap_future(_scheduled(compiling, _compile, None))
    except (TimeoutError, ProcessExpired, BrokenProcessPool, OSError) as error:
        _LOG.warning("loops could not be compiled, NumPy serves on: %r", error)
        return False
    finally:
        threading.Thread(target=_ended, args=(compiling,), daemon=True).start()


def _scheduled(pool: ProcessPool, work: Callable[[A], R], given: A) -> ProcessFuture[R]:
    try:
        return pool.schedule(work, args=(given,))
    except RuntimeError as error:
        raise BrokenProcessPool from error


def _started(settings: Settings) -> ProcessPool:
    context = multiprocessing.get_context("spawn" if sys.platform == "win32" else "forkserver")
    limits = [settings.pool_niceness, settings.worker_memory_megabytes]
    return ProcessPool(max_workers=1, initializer=_prepare, initargs=limits, context=context)


def _ended(pool: ProcessPool) -> None:
    pool.stop()  # type: ignore[no-untyped-call]
    pool.join()


def _prepare(niceness: int, megabytes: int) -> None:
    """One thread a worker, behind the serving process, and stopping is the parent's business."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threadpool_limits(1)
    if sys.platform != "win32":
        import resource

        os.nice(niceness)
        most_bytes = megabytes * 1_000_000
        resource.setrlimit(resource.RLIMIT_DATA, (most_bytes, most_bytes))


def _compile(_given: None) -> bool:
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
