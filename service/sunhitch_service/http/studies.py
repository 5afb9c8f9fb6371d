"""Long calculations in pieces: lines of progress, then the answer, on the usual path."""

import asyncio
from collections.abc import AsyncGenerator, Coroutine
from contextlib import aclosing
from dataclasses import dataclass
from typing import Any, TypeVar

import msgspec
from litestar.response import Stream

from sunhitch.codec import decode_strict, encode
from sunhitch_service.calculations.calculation import AnyCalculation
from sunhitch_service.engine.divided import Divided
from sunhitch_service.engine.errors import ContradictionError

from .cluster import Crew
from .compute import unless_hung_up
from .exchange import HttpExchange, exchange_of
from .jobs import Refusal
from .ordered import in_order
from .problems import INTERNAL, TIMED_OUT, ProblemError, as_problem, body_of
from .requests import JSON, NDJSON, Request, accepted, query_of, require_media_type, whole_body
from .settings import Settings
from .work import require_affordable

R = TypeVar("R")

AnyDivided = Divided[Any, Any, Any, Any]


class Study:
    """Answers one calculation with its progress.

    Parameters
    ----------
    endpoint : Calculation
        Operation and its limits.
    divided : Divided
        The calculation in pieces.
    crew : Crew
        Who carries them out.
    settings : Settings
        Limits.
    """

    def __init__(
        self, endpoint: AnyCalculation, divided: AnyDivided, crew: Crew, settings: Settings
    ) -> None:
        self._endpoint = endpoint
        self._divided = divided
        self._compute = crew.compute
        self._crew = crew
        self._settings = settings

    def is_wanted(self, request: Request) -> bool:
        """Whether the caller wants to be told the progress.

        Raises
        ------
        ProblemError
            `NOT_ACCEPTABLE` for a media type that is not on offer here in any way.
        """
        drawn = [rendering.media_type for rendering in self._endpoint.renderings]
        return accepted(request, [JSON, *drawn, NDJSON]) == NDJSON

    async def respond(self, request: Request) -> Stream:
        """Answer one request line by line; a fault before the first line is raised."""
        lines = self._lines(await self._accepted(request), exchange_of(request))
        first = await unless_hung_up(_next(lines), request.receive)
        return Stream(_whole(first, lines), media_type=NDJSON)

    async def _accepted(self, request: Request) -> bytes:
        """Body of a request that may be worked on."""
        query_of(request)
        require_media_type(request, JSON)
        self._compute.require_place()
        body = await whole_body(request)
        decoded = decode_strict(body, self._endpoint.operation.request)
        require_affordable(self._endpoint.computing_time, decoded, self._settings.study_limit_s)
        self._compute.require_place()
        return body

    async def _lines(self, body: bytes, exchange: HttpExchange) -> AsyncGenerator[bytes]:
        """Lines of progress and the answer; a fault after the first of them is the last line."""
        begun = False
        try:
            with self._compute.place():
                async with aclosing(self._worked(body)) as worked:
                    async for line in worked:
                        begun = True
                        yield line
        except Exception as error:
            if not begun:
                raise
            problem = as_problem(error)
            if problem.kind is INTERNAL:
                exchange.error = error
            yield body_of(problem, exchange.request_id)

    async def _worked(self, body: bytes) -> AsyncGenerator[bytes]:
        compute, divided = self._compute, self._divided
        task = _Task(divided, self._endpoint.operation.request)
        until = _Until(self._settings.study_limit_s)
        prepared = await until.done(compute.in_pool(_prepare, (task, body)))
        if isinstance(prepared, Refusal):
            raise ContradictionError(prepared.faults)
        jobs = prepared.jobs
        found: list[Any] = []
        yield _progress(0, len(jobs))
        work = (self._crew.run(divided.work, job) for job in jobs)
        async with aclosing(in_order(work, self._crew.width)) as results:
            for done in range(1, len(jobs) + 1):
                found.append(await until.done(_next(results)))
                yield _progress(done, len(jobs))
        yield await until.done(compute.in_pool(_conclude, (task, prepared, found)))


async def _next(lines: AsyncGenerator[R]) -> R:
    return await anext(lines)


async def _whole(first: bytes, lines: AsyncGenerator[bytes]) -> AsyncGenerator[bytes]:
    async with aclosing(lines):
        yield first + b"\n"
        async for line in lines:
            yield line + b"\n"


def _progress(done: int, total: int) -> bytes:
    return msgspec.json.encode({"done": done, "total": total})


class _Until:
    """The end of the time that all steps may take together."""

    def __init__(self, limit_s: float) -> None:
        self._limit_s = limit_s
        self._end = asyncio.get_running_loop().time() + limit_s

    async def done(self, step: Coroutine[Any, Any, R]) -> R:
        """Result of one step; each may be waited for by another task."""
        try:
            async with asyncio.timeout_at(self._end):
                return await step
        except TimeoutError:
            limit = f"It did not finish within {self._limit_s:g} s."
            raise ProblemError(TIMED_OUT, limit) from None


def study_of(endpoint: AnyCalculation, crew: Crew, settings: Settings) -> Study | None:
    """How to answer a calculation with its progress; None where it is not in pieces."""
    divided = endpoint.divided
    return Study(endpoint, divided, crew, settings) if divided else None


@dataclass(frozen=True, slots=True)
class _Task:
    """What is done with a request; sent to other processes."""

    divided: AnyDivided
    kind: type[Any]


def _prepare(given: tuple[_Task, bytes]) -> Any:  # noqa: ANN401 - what the calculation prepares
    """Prepare an encoded request; a contradiction comes back as a value."""
    task, body = given
    try:
        return task.divided.prepare(decode_strict(body, task.kind))
    except ContradictionError as error:
        return Refusal(error.faults)


def _conclude(given: tuple[_Task, Any, list[Any]]) -> bytes:
    task, prepared, found = given
    return encode(task.divided.conclude(prepared, found))
