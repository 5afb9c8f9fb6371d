"""Long calculations in pieces: lines of progress, then the answer, on the usual path."""

import asyncio
from collections.abc import AsyncGenerator
from contextlib import aclosing
from dataclasses import replace
from functools import partial
from typing import Any

from anyio import CancelScope
from litestar.response import Stream
from litestar.types import Receive

from sunhitch.codec import encode
from sunhitch.types.stream import ProgressLine, answer_line, problem_line
from sunhitch_service.tasks.forms import Form
from sunhitch_service.tasks.media_types import JSON, NDJSON
from sunhitch_service.tasks.problems import Kind, ProblemError
from sunhitch_service.tasks.task import AnyDivided, Shown, Task, conclude, prepare
from sunhitch_service.workers.ordered import in_order
from sunhitch_service.workers.pool import WorkOrder

from .cluster import Crew
from .compute import unless_hung_up
from .exchange import HttpExchange, exchange_of
from .requests import Request, require_media_type, whole_body
from .settings import Settings

_SECOND = 0.9
"""After so long without news the last line is told again, so that one comes every second [s]."""


class Study:
    """Answers one calculation in pieces, with its progress for those who ask.

    Parameters
    ----------
    task : Task
        What is done with a request.
    divided : Divided
        The calculation in pieces.
    crew : Crew
        Who carries them out.
    settings : Settings
        Limits.
    """

    def __init__(self, task: Task, divided: AnyDivided, crew: Crew, settings: Settings) -> None:
        self._task, self._divided = task, divided
        self._compute, self._crew = crew.compute, crew
        self._limit_s = settings.study_limit_s

    async def respond(self, request: Request, form: Form) -> Stream:
        """Answer one request line by line; a fault before the first line is raised."""
        require_media_type(request, JSON)
        exchange = exchange_of(request)
        self._compute.require_place(exchange)
        body = await whole_body(request)
        self._compute.take_place(exchange)
        task = replace(self._task, form=replace(form, media_type=JSON))
        lines = self._lines(task, body, exchange)
        first = await unless_hung_up(anext(lines), request.receive)
        return Stream(_whole(first, lines), media_type=NDJSON)

    async def answer(
        self, task: Task, body: bytes, exchange: HttpExchange, receive: Receive
    ) -> Shown:
        """Answer an encoded request in pieces, between which others have their turn.

        Parameters and errors as `Compute.answer`.
        """

        async def last() -> Shown:
            order = WorkOrder(exchange, "study", self._compute.limit_s)
            async with aclosing(self._steps(task, body, order)) as steps:
                async for step in steps:
                    if isinstance(step, Shown):
                        return step
            raise AssertionError

        return await self._compute.with_place(last, exchange, receive)

    async def _lines(
        self, task: Task, body: bytes, exchange: HttpExchange
    ) -> AsyncGenerator[bytes]:
        """Lines of progress and the answer; a fault after the first of them is the last line."""
        begun = False
        order = WorkOrder(exchange, "progress", self._limit_s)
        end = asyncio.get_running_loop().time() + self._limit_s
        try:
            async with (
                aclosing(self._steps(task, body, order)) as steps,
                aclosing(_each_second(steps, end)) as told,
            ):
                async for step in told:
                    begun = True
                    yield answer_line(step.body) if isinstance(step, Shown) else encode(step)
        except Exception as error:
            if isinstance(error, TimeoutError):
                error = ProblemError(
                    Kind.TIMED_OUT, f"It did not finish within {self._limit_s:g} s."
                )
            if not begun:
                raise error from None
            yield problem_line(exchange.problem_of(error).body(exchange.request_id))

    async def _steps(
        self, task: Task, body: bytes, order: WorkOrder
    ) -> AsyncGenerator[ProgressLine | Shown]:
        """How far the work has come, and at last the answer."""
        compute, divided = self._compute, self._divided
        piece = replace(order, limit_s=compute.limit_s)
        preparing = partial(prepare, task, divided, body, order.limit_s)
        prepared, expected_s = await compute.in_pool(preparing, piece)
        found: list[Any] = []
        yield ProgressLine(done=0, total=prepared.pieces)
        own = replace(piece, expected_s=expected_s / max(1, prepared.pieces))
        piece = replace(piece, expected_s=0.0)
        jobs = prepared.jobs
        while jobs:
            work = (self._crew.run(partial(divided.work, one), own) for one in jobs)
            async with aclosing(in_order(work, self._crew.width)) as results:
                async for result in results:
                    found.append(result)
                    yield ProgressLine(done=len(found), total=prepared.pieces)
            further = partial(divided.further, prepared, found)
            left = len(found) < prepared.pieces
            jobs = await compute.in_pool(further, piece) if left else ()
        concluding = partial(conclude, task, divided, body, prepared, found)
        yield await compute.in_pool(concluding, piece)


async def _whole(first: bytes, lines: AsyncGenerator[bytes]) -> AsyncGenerator[bytes]:
    async with aclosing(lines):
        yield first + b"\n"
        async for line in lines:
            yield line + b"\n"


async def _each_second(
    steps: AsyncGenerator[ProgressLine | Shown], end: float
) -> AsyncGenerator[ProgressLine | Shown]:
    """Steps as they come, and the last one again after every second without a new one.

    `end` is when the loop's clock says that it is too late.
    """
    loop, last = asyncio.get_running_loop(), None
    while not isinstance(last, Shown):
        following = asyncio.ensure_future(anext(steps))
        try:
            while not following.done():
                left_s = end - loop.time()
                if left_s <= 0.0:
                    raise TimeoutError
                await asyncio.wait([following], timeout=min(left_s, _SECOND))
                if last is not None and not following.done():
                    yield last
        finally:
            if not following.done():
                following.cancel()
                with CancelScope(shield=True):  # a caller who leaves is told so at every await
                    await asyncio.wait([following])
        last = following.result()
        yield last
