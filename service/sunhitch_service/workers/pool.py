"""Workers shared fairly, each replaced when it dies, is stopped, or fails.

There is one more than long work may hold, so that short work always finds one. Another goes ahead
of them on the processor, for short work of callers who have none, so that nobody waits for all that
somebody else asks: a worker of one's own is little use if it has a tenth of a processor.
"""

import asyncio
import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Protocol, TypeAlias

from sunhitch_service.engine.pv import accelerate

from . import forkserver
from .fair import FairQueue, QueuedWork
from .metrics import PoolMetrics
from .process import PoolLimits, R, WorkerDiedError, WorkerProcess

_SHORT_S, _SHORT_LIMIT_S = 0.5, 1.0
"""Expected cost of short work, and processor time after which it counts as long."""
_SPARE = 1
"""Workers beyond those that long work may hold, and the one that goes ahead."""
_TICK_S = 0.01
"""The system counts processor time in steps of this."""
_FIRST_PAUSE_S, _LONGEST_PAUSE_S = 0.1, 10.0
"""Between attempts to start a process that ends at once."""

_Due: TypeAlias = asyncio.Future[WorkerProcess]


class Payer(Protocol):
    """Whoever has work done, and is told the process that did it and what it cost so far."""

    worker: int
    cost_ms: float

    @property
    def payer(self) -> str:
        """Whom work is counted to."""
        ...


@dataclass(frozen=True, slots=True)
class WorkOrder:
    """One piece of work for a worker.

    Parameters
    ----------
    account : Payer
        Who has it done.
    kind : str
        For the metrics: calculation, question, batch or study.
    limit_s : float
        Longest time in a worker [s].
    expected_s : float
        Expected cost [s of a processor]; 0 where it cannot be told.
    """

    account: Payer
    kind: str
    limit_s: float
    expected_s: float = 0.0


class _NotShortError(Exception):
    """Work took longer than short work may, and there is no room for more that is long."""


class Workers:
    """Runs work in other processes, one piece in each at a time.

    Parameters
    ----------
    limits : PoolLimits
        How many workers, and what each may.
    metrics : PoolMetrics
        Where deaths, stops and waits are counted.
    charge : callable
        Told of the processor time of every piece [ms].
    """

    def __init__(
        self, limits: PoolLimits, metrics: PoolMetrics, charge: Callable[[WorkOrder, float], None]
    ) -> None:
        self._limits = limits
        self._charge = charge
        self._metrics = metrics
        self._queue: FairQueue[_Due] = FairQueue()
        self._all: set[WorkerProcess] = set()
        self._idle: dict[bool, list[WorkerProcess]] = {False: [], True: []}
        self._long = 0
        self._tasks: set[asyncio.Task[None]] = set()
        self.compiled = limits.compiled and accelerate.kept()
        forkserver.begin(compiled=limits.compiled)

    async def start(self) -> None:
        """Start all, and wait until each has loaded the engine's tables.

        One that ends before it is up raises `WorkerDiedError`: then none would stay up.
        """
        await asyncio.gather(*(self._add(ahead=ahead) for ahead in self._wanted()))

    def _wanted(self) -> list[bool]:
        """Which of all workers go ahead."""
        return [True] + [False] * (self._limits.size + _SPARE)

    def stop(self) -> None:
        """Stop all; what they are at is lost."""
        for task in self._tasks:
            task.cancel()
        for worker in self._all:
            worker.end_here()

    async def run(self, work: Callable[[], tuple[R, float]], order: WorkOrder) -> R:
        """Result of some work; once more if its process dies, since all work can be repeated.

        Parameters
        ----------
        work : callable
            Fit to be sent to another process; returns its result and its processor time [ms].
        order : WorkOrder
            Who pays, and what it may cost.

        Raises
        ------
        TimeoutError
            After the longest time, from when it has a process; the process is stopped.
        WorkerDiedError
            If a process died twice over it.
        MemoryError
            If it takes more memory than a process may.
        """
        short, died = order.expected_s <= _SHORT_S, False
        while True:
            try:
                return await self._once(work, order, short=short)
            except _NotShortError:
                short = False
                self._metrics.timeouts.labels("short").inc()
            except TimeoutError:
                self._metrics.timeouts.labels(order.kind).inc()
                raise
            except WorkerDiedError:
                self._metrics.deaths.inc()
                if died:
                    raise
                died = True

    async def renew(self) -> None:
        """Have workers with compiled loops take the place of those without, one after the other."""
        self.compiled = True
        for ahead in self._wanted():
            await self._add(ahead=ahead)
            idle = self._idle[ahead]
            plain = next((one for one in idle if not one.compiled), None)
            if plain is not None:
                idle.remove(plain)
                self._replace(plain)

    async def _once(
        self, work: Callable[[], tuple[R, float]], order: WorkOrder, *, short: bool
    ) -> R:
        waiting, worker = await self._turn(order, long=not short)
        order.account.worker = worker.pid
        started_s = time.perf_counter()
        cost_ms = None
        try:
            working = asyncio.ensure_future(worker.do(work))
            lengthen = partial(self._lengthen, waiting, worker) if short else None
            result, cost_ms = await _within(working, worker, order.limit_s, lengthen)
            return result
        finally:
            whole = cost_ms is not None
            if cost_ms is None:
                cost_ms = 1000.0 * (time.perf_counter() - started_s)
            self._settle(waiting, order, cost_ms)
            self._release(worker, whole=whole)

    def _lengthen(self, waiting: QueuedWork[_Due], worker: WorkerProcess) -> bool:
        """Count work as long from now on, if there is room for more of that."""
        waiting.long = self._long < self._limits.size
        self._long += waiting.long
        if waiting.long and worker.ahead:
            worker.fall_back()
            self._start_another(ahead=True)
        return waiting.long

    async def _turn(
        self, order: WorkOrder, *, long: bool
    ) -> tuple[QueuedWork[_Due], WorkerProcess]:
        """Wait for a worker."""
        asked_s = time.perf_counter()
        due = asyncio.get_running_loop().create_future()
        waiting = self._queue.push(order.account.payer, due, order.expected_s, long=long)
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
        for ahead in (False, True):
            idle = self._idle[ahead]
            while worker := self._living(idle):
                room = not ahead and self._long < self._limits.size
                waiting = self._queue.pop(with_long=room, with_more=not ahead)
                if waiting is None:
                    idle.append(worker)
                    break
                if waiting.item.cancelled():
                    self._queue.settle(waiting, 0.0)
                    idle.append(worker)
                    continue
                self._long += waiting.long
                waiting.item.set_result(worker)
        self._metrics.queue.set(len(self._queue))

    def _living(self, idle: list[WorkerProcess]) -> WorkerProcess | None:
        """A process without work; those that died meanwhile are replaced."""
        while idle:
            worker = idle.pop()
            if worker.is_up:
                return worker
            self._metrics.deaths.inc()
            self._replace(worker)
        return None

    def _settle(self, waiting: QueuedWork[_Due], order: WorkOrder, cost_ms: float) -> None:
        self._queue.settle(waiting, cost_ms / 1000.0)
        self._long -= waiting.long
        self._charge(order, cost_ms)

    def _release(self, worker: WorkerProcess, *, whole: bool) -> None:
        """Take back a worker that is done, or replace it."""
        is_old = self.compiled and not worker.compiled
        if is_old or not whole or self._excess(ahead=worker.ahead) > 0:
            self._replace(worker)
        else:
            self._idle[worker.ahead].append(worker)
        self._serve()

    def _excess(self, *, ahead: bool) -> int:
        """How many there are beyond those that are wanted; less than 0 where some are missing."""
        there = [one.ahead for one in self._all]
        return there.count(ahead) - self._wanted().count(ahead)

    def _replace(self, worker: WorkerProcess) -> None:
        """Let a worker go, and start another if one is missing then."""
        self._all.discard(worker)
        worker.end()
        self._show()
        if self._excess(ahead=worker.ahead) < 0:
            self._start_another(ahead=worker.ahead)

    def _start_another(self, *, ahead: bool) -> None:
        task = asyncio.ensure_future(self._restore(ahead=ahead))
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    def _show(self) -> None:
        self._metrics.workers.set(len(self._all))
        self._metrics.compiled.set(sum(one.compiled for one in self._all))

    async def _restore(self, *, ahead: bool) -> None:
        """Start one more, tried until it is up: without it there would be one fewer for good."""
        pause_s = _FIRST_PAUSE_S
        while True:
            try:
                await self._add(ahead=ahead)
            except WorkerDiedError:
                await asyncio.sleep(pause_s)
                pause_s = min(2.0 * pause_s, _LONGEST_PAUSE_S)
            else:
                return

    async def _add(self, *, ahead: bool) -> None:
        worker = WorkerProcess(self._limits, compiled=self.compiled, ahead=ahead)
        self._all.add(worker)
        try:
            await worker.warm()
        except WorkerDiedError:
            self._all.discard(worker)
            worker.end()
            raise
        self._show()
        self._idle[ahead].append(worker)
        self._serve()


async def _within(
    working: asyncio.Future[R],
    worker: WorkerProcess,
    limit_s: float,
    lengthen: Callable[[], bool] | None,
) -> R:
    """Result of work within its time; short work that takes longer must be able to `lengthen`.

    That goes by processor time: by the clock it would be stopped for what else a busy machine does.
    """
    clock = asyncio.get_running_loop().time
    end_s, most_s = clock() + limit_s, worker.spent_s() + _SHORT_LIMIT_S
    try:
        while (left_s := end_s - clock()) > 0.0:
            short_s = max(most_s - worker.spent_s(), _TICK_S) if lengthen else left_s
            done, _ = await asyncio.wait({working}, timeout=min(left_s, short_s))
            if done:
                return working.result()
            if lengthen and worker.spent_s() >= most_s:
                if not lengthen():
                    raise _NotShortError
                lengthen = None
        raise TimeoutError
    finally:
        working.cancel()
