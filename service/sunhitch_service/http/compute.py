"""Where calculations run: short ones inline, long ones in a pool of processes, within limits."""

import asyncio
import math
import time
from collections.abc import AsyncGenerator, Awaitable, Callable
from contextlib import asynccontextmanager
from dataclasses import replace
from functools import partial
from typing import Literal

from litestar.types import Receive

from sunhitch_service.engine.pv import accelerate
from sunhitch_service.engine.stamp import stamp
from sunhitch_service.tasks.problems import CALLERS_FAULTS, Kind, ProblemError, as_problem
from sunhitch_service.tasks.task import Shown, Task, answer, answer_body, compressed, measured
from sunhitch_service.workers.fair import Budgets, Shares
from sunhitch_service.workers.pool import Payer, Workers, WorkOrder
from sunhitch_service.workers.process import PoolLimits, R, WorkerDiedError, compile_beside

from .exchange import HttpExchange
from .metrics import Metrics
from .settings import Settings
from .turns import Turns

Loops = Literal["compiled", "compiling", "none"]

_DECODED_HERE_BYTES = 8_000
_LARGE_BYTES = 50_000
"""Compressed beside the event loop."""


class Compute:
    """Runs calculations for one serving process.

    Attributes
    ----------
    ready : bool
        Whether the engine's tables are loaded and the pool is up.
    limit_s : float
        Longest time for one calculation [s].
    width : int
        How many pieces of a batch are worth having under way.
    """

    def __init__(self, settings: Settings, metrics: Metrics, turns: Turns) -> None:
        self._settings, self._metrics, self._turns = settings, metrics, turns
        self._limits = PoolLimits(
            settings.pool_size,
            settings.pool_niceness,
            settings.worker_memory_megabytes,
            settings.compiled,
        )
        self._workers: Workers | None = None
        self._compiling: asyncio.Task[None] | None = None
        self._loading: asyncio.Future[None] | None = None
        self._places = Shares(settings.max_in_flight)
        per_minute_s = settings.processor_seconds_per_minute
        self._budgets = Budgets(per_minute_s, time.monotonic) if per_minute_s else None
        self.ready = False
        self.limit_s, self.width = settings.time_limit_s, settings.pool_size
        self._retry_after = {"Retry-After": str(settings.retry_after_s)}

    @property
    def loops(self) -> Loops:
        """Whether calculations use compiled loops already."""
        if accelerate.loops() is not None or (self._workers and self._workers.compiled):
            return "compiled"
        return "compiling" if self._compiling and not self._compiling.done() else "none"

    @asynccontextmanager
    async def running(self) -> AsyncGenerator["Compute"]:
        """Keep the pool up; owned by the application's lifespan."""
        stamp()
        if self._settings.pool_size:
            self._workers = Workers(self._limits, self._metrics.pool, self._charge)
            await self._workers.start()
        if self._settings.compiled:
            self._compiling = asyncio.create_task(self._compile())
        self.ready = True
        try:
            yield self
        finally:
            self.ready = False
            if self._compiling is not None:
                self._compiling.cancel()
            if self._loading is not None:
                await self._loading  # a thread cannot be stopped
            if self._workers is not None:
                self._workers.stop()

    async def _compile(self) -> None:
        """Compile beside the service where that is left to do; NumPy serves until then."""
        if self.loops != "compiled":
            if not await compile_beside(self._limits):
                return
            if self._workers is not None:
                await self._workers.renew()
        # Short calls are answered in this process too.
        self._loading = asyncio.ensure_future(asyncio.to_thread(accelerate.load_loops))
        await asyncio.shield(self._loading)

    def require_ready(self) -> None:
        """Refuse while starting or stopping, by `NOT_READY`."""
        if not self.ready:
            raise ProblemError(Kind.NOT_READY, "Try again shortly.", headers=self._retry_after)

    def require_place(self, exchange: HttpExchange) -> None:
        """Refuse a calculation while there is no place for its caller, or no budget.

        Raises
        ------
        ProblemError
            `OVERLOADED` or `RATE_LIMITED`.
        """
        self._require_budget(exchange)
        if not self._places.has_room(exchange.payer):
            own = self._places.held(exchange.payer)
            detail = (
                f"{self._places.total} calculations are under way, {own} of them yours; try again "
                "shortly."
            )
            raise ProblemError(Kind.OVERLOADED, detail, headers=self._retry_after)

    def _require_budget(self, account: Payer) -> None:
        wait_s = self._budgets.wait_s(account.payer) if self._budgets else 0.0
        if wait_s > 0.0:
            after_s = str(math.ceil(wait_s))
            detail = f"The processor time of a minute is used up; try again in {after_s} s."
            raise ProblemError(Kind.RATE_LIMITED, detail, headers={"Retry-After": after_s})

    def take_place(self, exchange: HttpExchange) -> None:
        """Count a calculation as under way until its request ends; raises as `require_place`."""
        self.require_place(exchange)
        who = exchange.payer
        self._hold(who, +1)
        exchange.at_end = partial(self._hold, who, -1)

    def _hold(self, who: str, change: int) -> None:
        self._places.add(who, change)
        self._metrics.in_flight.set(self._places.total)

    def _charge(self, order: WorkOrder, cost_ms: float) -> None:
        """Have a caller pay for a piece of work."""
        order.account.cost_ms += cost_ms
        self._metrics.pool.spent(order.kind).inc(cost_ms / 1000.0)
        if self._budgets is not None:
            self._budgets.spend(order.account.payer, cost_ms / 1000.0)

    async def answer(
        self, task: Task, body: bytes, exchange: HttpExchange, receive: Receive
    ) -> Shown:
        """Answer an encoded request under the limits of the service, for one caller.

        Parameters
        ----------
        task : Task
            What is done with it.
        body : bytes
            The request as JSON; a large one is decoded in a worker, since that holds this process.
        exchange : HttpExchange
            Who asks; is told what the answer cost.
        receive : callable
            The request's ASGI receive, by which a caller who leaves is noticed.

        Raises
        ------
        ProblemError
            As `with_place` and `in_pool`, or for what is wrong with the request.
        MalformedBody
            If it is not what the task asks for.
        """
        order = WorkOrder(exchange, "calculation", self.limit_s)
        if self._workers is None or len(body) <= _DECODED_HERE_BYTES:
            request, expected_ms = task.read(body, self.limit_s)
            if not task.form.draws and self.belongs_inline(expected_ms):
                shown = await self.inline(partial(answer, task, request), order)
                if len(shown.body) > _LARGE_BYTES:
                    return await asyncio.to_thread(compressed, task, shown)
                return shown
            order = replace(order, expected_s=(expected_ms or 0.0) / 1000.0)
        work = partial(answer_body, task, body, self.limit_s)
        return await self.with_place(partial(self.in_pool, work, order), exchange, receive)

    async def with_place(
        self, work: Callable[[], Awaitable[R]], exchange: HttpExchange, receive: Receive
    ) -> R:
        """Result of some work that its caller waits for; waiting for a worker counts as time.

        Raises
        ------
        ProblemError
            `OVERLOADED`, `RATE_LIMITED`, `TIMED_OUT`, `HUNG_UP`, and what the work raises.
        """
        self.take_place(exchange)
        try:
            async with asyncio.timeout(self.limit_s):
                return await unless_hung_up(work(), receive)
        except TimeoutError:
            self._metrics.pool.timeouts.labels("waiting").inc()
            raise self._timed_out() from None

    def belongs_inline(self, expected_ms: float | None) -> bool:
        """Whether handing a calculation over would cost more than it spares."""
        if self._workers is None:
            return True
        return expected_ms is not None and expected_ms < self._settings.inline_below_ms

    async def inline(self, work: Callable[[], R], order: WorkOrder) -> R:
        """Run short work here, when it is its turn; it takes no place.

        Raises as `in_pool`, and `RATE_LIMITED`.
        """
        self._require_budget(order.account)
        await self._turns.wait()
        started_s = time.perf_counter()
        try:
            return work()
        except CALLERS_FAULTS as error:
            raise as_problem(error) from error
        finally:
            self._charge(order, 1000.0 * (time.perf_counter() - started_s))

    async def in_pool(self, work: Callable[[], R], order: WorkOrder) -> R:
        """Run work in a worker, which is stopped if it takes longer than the time limit.

        Parameters
        ----------
        work : callable
            Fit to be sent to another process: a module-level function and its arguments.
        order : WorkOrder
            Who pays, and what it may cost.

        Returns
        -------
        object
            What `work` returned.

        Raises
        ------
        ProblemError
            `TIMED_OUT`; `TOO_MUCH_WORK` if it takes more memory than a worker may; `WORKER_DIED` if
            workers died over it; for what is wrong with the request.
        """
        if self._workers is None:
            return await self.inline(work, order)
        try:
            result = await self._workers.run(partial(measured, work), order)
        except TimeoutError:
            raise self._timed_out() from None
        except MemoryError:
            most = f"{self._settings.worker_memory_megabytes} MB"
            detail = f"It takes more memory than a worker may have, {most}; ask for less at a time."
            raise ProblemError(Kind.TOO_MUCH_WORK, detail) from None
        except WorkerDiedError:
            raise ProblemError(Kind.WORKER_DIED, headers=self._retry_after) from None
        if isinstance(result, ProblemError):
            raise result
        return result

    def _timed_out(self) -> ProblemError:
        detail = f"It did not finish within {self.limit_s:g} s; ask for less at a time."
        return ProblemError(Kind.TIMED_OUT, detail, headers=self._retry_after)


async def unless_hung_up(work: Awaitable[R], receive: Receive) -> R:
    """Result of some work, which is cancelled, by `HUNG_UP`, if the caller leaves first.

    `receive` is the request's, its body already read.
    """
    working = asyncio.ensure_future(work)
    watching = asyncio.ensure_future(_hang_up(receive))
    try:
        await asyncio.wait({working, watching}, return_when=asyncio.FIRST_COMPLETED)
        if working.done():
            return working.result()
        raise ProblemError(Kind.HUNG_UP, "The caller closed the connection.")
    finally:
        watching.cancel()
        working.cancel()


async def _hang_up(receive: Receive) -> None:
    while (await receive())["type"] != "http.disconnect":
        pass
