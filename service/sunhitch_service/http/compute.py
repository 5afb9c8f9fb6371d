"""Where calculations run: short ones inline, long ones in a pool of processes, within limits."""

import asyncio
import time
from collections.abc import AsyncGenerator, Callable, Coroutine
from contextlib import asynccontextmanager
from functools import partial
from typing import Any, TypeVar

from litestar.types import Receive
from prometheus_client import Gauge

from sunhitch.codec import decode_strict
from sunhitch_service.engine.pv.accelerate import load_loops
from sunhitch_service.engine.stamp import stamp

from .exchange import HttpExchange
from .jobs import Refusal, Shown, Task, answer, answer_body, compressed, measured
from .metrics import several_add_up
from .problems import HUNG_UP, NOT_READY, OVERLOADED, TIMED_OUT, ProblemError
from .settings import Settings
from .work import require_affordable
from .workers import Workers

A = TypeVar("A")
R = TypeVar("R")

_DECODED_HERE_BYTES = 8_000
_LARGE_BYTES = 50_000
"""Compressed beside the event loop."""
_ROUND_S = 0.001
"""Inline work in one round of the event loop, before the server sees to its connections again."""


class Compute:
    """Runs calculations for one serving process.

    Parameters
    ----------
    settings : Settings
        Pool size and limits.
    gauge : Gauge
        Shows how many calculations are under way.

    Attributes
    ----------
    in_flight : int
        Calculations accepted and not yet answered.
    ready : bool
        Whether the engine's tables are loaded and the pool is up.
    """

    def __init__(self, settings: Settings, gauge: Gauge) -> None:
        self._settings = settings
        self._gauge = gauge
        self._shown_at_once = several_add_up()
        if not self._shown_at_once:
            gauge.set_function(lambda: self.in_flight)
        self._workers: Workers | None = None
        self._spent_s = 0.0
        self.in_flight = 0
        self.ready = False

    @property
    def limit_s(self) -> float:
        """Longest time for one calculation [s]."""
        return self._settings.time_limit_s

    @property
    def width(self) -> int:
        """How many pieces of a batch are worth having under way."""
        return self._settings.pool_size

    @asynccontextmanager
    async def running(self) -> AsyncGenerator[None]:
        """Keep the pool up; owned by the application's lifespan."""
        stamp()
        if self._settings.pool_size:
            self._workers = Workers(self._settings)
            await self._workers.start()
        if self._settings.compiled:
            await asyncio.to_thread(load_loops)
        self.ready = True
        try:
            yield
        finally:
            self.ready = False
            if self._workers is not None:
                self._workers.stop()

    def require_ready(self) -> None:
        """Refuse while starting or stopping.

        Raises
        ------
        ProblemError
            `NOT_READY`.
        """
        if not self.ready:
            raise ProblemError(NOT_READY, "Try again shortly.", headers=self._retry_after())

    def require_place(self) -> None:
        """Refuse a calculation while as many as allowed are under way.

        Raises
        ------
        ProblemError
            `OVERLOADED`.
        """
        if self.in_flight >= self._settings.max_in_flight:
            detail = f"{self.in_flight} calculations are under way; try again shortly."
            raise ProblemError(OVERLOADED, detail, headers=self._retry_after())

    def place(self) -> "_Place":
        """Count one calculation as under way for as long as a block lasts."""
        return _Place(self)

    def count(self, change: int) -> None:
        """Count calculations that begin, or fewer as they end."""
        self.in_flight += change
        if self._shown_at_once:
            self._gauge.set(self.in_flight)

    async def answer(
        self, task: Task, body: bytes, exchange: HttpExchange, receive: Receive
    ) -> Shown | Refusal:
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
            `OVERLOADED`, `TOO_MUCH_WORK`, `TIMED_OUT`, `HUNG_UP`.
        MalformedBody
            If it is not what the task asks for.
        """
        if self._workers is None or len(body) <= _DECODED_HERE_BYTES:
            request = decode_strict(body, task.kind)
            expected_ms = require_affordable(task.time, request, self.limit_s)
            if self.belongs_inline(expected_ms):
                work = partial(answer, task)
                outcome = await self.carry_out(work, request, True, exchange, receive)
                if task.gzip and isinstance(outcome, Shown) and len(outcome.body) > _LARGE_BYTES:
                    return await asyncio.to_thread(compressed, outcome)
                return outcome
        given = (task, body, self.limit_s)
        found = await self.carry_out(answer_body, given, False, exchange, receive)
        if isinstance(found, ProblemError):
            raise found
        return found

    async def carry_out(
        self,
        work: Callable[[A], R],
        given: A,
        inline: bool,
        exchange: HttpExchange,
        receive: Receive,
    ) -> R:
        """Result of some work within the limits of the service, here or in a worker.

        Parameters
        ----------
        work : callable
            Module-level function, unless it is done here.
        given : object
            Its argument.
        inline : bool
            Whether it is done here.
        exchange, receive : HttpExchange, callable
            As in `answer`.

        Raises
        ------
        ProblemError
            `OVERLOADED`, `TIMED_OUT`, `HUNG_UP`.
        """
        self.require_place()
        with self.place():
            if inline:
                result, cost_ms, worker = await self.inline(measured, (work, given))
            else:
                working = self.in_time(measured, (work, given))
                result, cost_ms, worker = await unless_hung_up(working, receive)
        exchange.cost_ms += cost_ms
        exchange.worker = worker
        return result

    def belongs_inline(self, expected_ms: float) -> bool:
        """Whether handing a calculation over would cost more than it spares."""
        return self._workers is None or expected_ms < self._settings.inline_below_ms

    async def inline(self, work: Callable[[A], R], given: A) -> R:
        """Run short work here, after what came before it.

        Once some of it has taken its time, the server sees to its connections before the next
        piece, so that health checks and refusals do not wait for all that came in together.
        """
        while self._spent_s >= _ROUND_S:
            await asyncio.sleep(0)
        started = time.perf_counter()
        try:
            return work(given)
        finally:
            self._spent_s += time.perf_counter() - started
            if self._spent_s >= _ROUND_S:
                asyncio.get_running_loop().call_soon(self._next_round)

    def _next_round(self) -> None:
        """Called when the event loop has been round once."""
        self._spent_s = 0.0

    async def in_pool(self, work: Callable[[A], R], given: A) -> R:
        """Run work in a worker, which is stopped if it takes longer than the time limit.

        Parameters
        ----------
        work : callable
            Module-level function.
        given : object
            Its argument.

        Returns
        -------
        object
            What `work` returned.

        Raises
        ------
        ProblemError
            `TIMED_OUT`.
        ProcessExpired
            If a worker died twice over it.
        """
        if self._workers is None:
            return work(given)
        try:
            return await self._workers.run(work, given, self.limit_s)
        except TimeoutError:
            raise self._timed_out() from None

    async def in_time(self, work: Callable[[A], R], given: A) -> R:
        """As `in_pool`, but waiting for a worker counts towards the limit too."""
        try:
            async with asyncio.timeout(self.limit_s):
                return await self.in_pool(work, given)
        except TimeoutError:
            raise self._timed_out() from None

    def _timed_out(self) -> ProblemError:
        detail = f"It did not finish within {self.limit_s:g} s; ask for less at a time."
        return ProblemError(TIMED_OUT, detail, headers=self._retry_after())

    def _retry_after(self) -> dict[str, str]:
        return {"Retry-After": str(self._settings.retry_after_s)}


class _Place:
    """One calculation under way."""

    __slots__ = ("_compute",)

    def __init__(self, compute: Compute) -> None:
        self._compute = compute

    def __enter__(self) -> None:
        self._compute.count(+1)

    def __exit__(self, *_: object) -> None:
        self._compute.count(-1)


async def unless_hung_up(work: Coroutine[Any, Any, R], receive: Receive) -> R:
    """Result of some work, which is cancelled if the caller closes the connection first.

    Parameters
    ----------
    work : coroutine
        What is waited for.
    receive : callable
        The request's ASGI receive, its body already read.

    Raises
    ------
    ProblemError
        `HUNG_UP`.
    """
    working = asyncio.ensure_future(work)
    watching = asyncio.ensure_future(_hang_up(receive))
    try:
        await asyncio.wait({working, watching}, return_when=asyncio.FIRST_COMPLETED)
        if working.done():
            return working.result()
        raise ProblemError(HUNG_UP, "The caller closed the connection.")
    finally:
        watching.cancel()
        working.cancel()


async def _hang_up(receive: Receive) -> None:
    while (await receive())["type"] != "http.disconnect":
        pass
