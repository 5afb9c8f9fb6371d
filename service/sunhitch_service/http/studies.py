"""Long calculations in pieces: lines of progress, then the answer, on the usual path."""

import asyncio
from contextlib import aclosing
from dataclasses import dataclass
from typing import Any

import msgspec

from sunhitch.codec import decode_strict, encode
from sunhitch_service.calculations.calculation import AnyCalculation
from sunhitch_service.engine.divided import Divided
from sunhitch_service.engine.errors import ContradictionError

from .asgi import Receive, Scope, Send, encoded
from .cluster import Crew
from .compute import unless_hung_up
from .jobs import Refusal
from .ordered import in_order
from .problems import (
    INTERNAL,
    TIMED_OUT,
    ProblemError,
    as_problem,
    body_of,
    request_id_of,
    send_error,
)
from .requests import JSON, NDJSON, accepted, query_of, require_media_type, whole_body
from .settings import Settings
from .work import require_affordable

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

    def is_wanted(self, scope: Scope) -> bool:
        """Whether the caller wants to be told the progress.

        Raises
        ------
        ProblemError
            `NOT_ACCEPTABLE` for a media type that is not on offer here in any way.
        """
        drawn = [rendering.media_type for rendering in self._endpoint.renderings]
        return accepted(scope, [JSON, *drawn, NDJSON]) == NDJSON

    async def respond(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request line by line; a fault before the first line is a problem document."""
        lines = _Lines(scope, send)
        try:
            body = await self._accepted(scope, receive)
            with self._compute.place():
                await unless_hung_up(self._told(body, lines), receive)
        except Exception as error:  # noqa: BLE001 - becomes a problem document
            await lines.fail(error)

    async def _accepted(self, scope: Scope, receive: Receive) -> bytes:
        """Body of a request that may be worked on."""
        query_of(scope)
        require_media_type(scope, JSON)
        self._compute.require_place()
        body = await whole_body(scope, receive, self._settings.max_body_bytes)
        decoded = decode_strict(body, self._endpoint.operation.request)
        require_affordable(self._endpoint.computing_time, decoded, self._settings.study_limit_s)
        self._compute.require_place()
        return body

    async def _told(self, body: bytes, lines: "_Lines") -> None:
        try:
            async with asyncio.timeout(self._settings.study_limit_s):
                await self._worked(body, lines)
        except TimeoutError:
            limit = f"It did not finish within {self._settings.study_limit_s:g} s."
            raise ProblemError(TIMED_OUT, limit) from None

    async def _worked(self, body: bytes, lines: "_Lines") -> None:
        compute, divided = self._compute, self._divided
        task = _Task(divided, self._endpoint.operation.request)
        prepared = await compute.in_pool(_prepare, (task, body))
        if isinstance(prepared, Refusal):
            raise ContradictionError(prepared.faults)
        jobs = prepared.jobs
        found: list[Any] = []
        await lines.progress(0, len(jobs))
        work = (self._crew.run(self._divided.work, job) for job in jobs)
        async with aclosing(in_order(work, self._crew.width)) as results:
            async for result in results:
                found.append(result)
                await lines.progress(len(found), len(jobs))
        await lines.end(await compute.in_pool(_conclude, (task, prepared, found)))


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


class _Lines:
    """The response: nothing until there is a first line, which fixes its status."""

    def __init__(self, scope: Scope, send: Send) -> None:
        self._scope = scope
        self._send = send
        self._begun = False

    async def progress(self, done: int, total: int) -> None:
        """Tell how many pieces are done."""
        await self._line(msgspec.json.encode({"done": done, "total": total}), more=True)

    async def end(self, body: bytes) -> None:
        """Send the last line."""
        await self._line(body, more=False)

    async def fail(self, error: Exception) -> None:
        """End with a problem, as a response of its own or as the last line."""
        if not self._begun:
            await send_error(self._send, self._scope, error)
            return
        problem = as_problem(error)
        if problem.kind is INTERNAL:
            self._scope["state"]["exception"] = error
        await self.end(body_of(problem, request_id_of(self._scope)))

    async def _line(self, body: bytes, *, more: bool) -> None:
        if not self._begun:
            self._begun = True
            headers = encoded({"Content-Type": NDJSON})
            await self._send({"type": "http.response.start", "status": 200, "headers": headers})
        await self._send({"type": "http.response.body", "body": body + b"\n", "more_body": more})
