"""`POST /v1/batch/{calculation}`: exactly one line out for each line in, in order, streamed."""

import time
from collections.abc import AsyncGenerator, Iterator
from contextlib import aclosing

from litestar import post
from litestar.handlers import HTTPRouteHandler
from litestar.response import Stream
from pebble import ProcessExpired

from sunhitch_service.calculations.calculation import AnyCalculation

from .compute import Compute
from .exchange import HttpExchange, exchange_of
from .jobs import Answered, Lines, Task, answer_lines
from .ordered import in_order
from .problems import INTERNAL, TOO_LARGE, ProblemError, as_problem, body_of
from .requests import NDJSON, Request, accepted, query_of, require_media_type, whole_body
from .settings import Settings

_PIECE_S = 0.05
_LARGEST_PIECE = 512


def batch_path(endpoint: AnyCalculation) -> str:
    """Path of a calculation's batch."""
    return f"/v1/batch/{endpoint.operation.name}"


def batch_handler(
    endpoint: AnyCalculation, compute: Compute, settings: Settings
) -> HTTPRouteHandler:
    """Handler that answers many requests of one calculation.

    The whole body is read first, since reading it while answering would race with watching for the
    end of the connection; only the answers are streamed.

    Parameters
    ----------
    endpoint : Calculation
        Operation and its function.
    compute : Compute
        Where it runs.
    settings : Settings
        Limits.

    Returns
    -------
    HTTPRouteHandler
        For the application.
    """

    @post(batch_path(endpoint), status_code=200, request_max_body_size=settings.max_batch_bytes)
    async def batch(request: Request) -> Stream:
        query_of(request)
        accepted(request, [NDJSON])
        require_media_type(request, NDJSON)
        compute.require_place()
        bodies = _bodies(await whole_body(request), settings.max_batch_lines)
        compute.require_place()
        operation, exchange = endpoint.operation, exchange_of(request)
        task = Task(operation.request, endpoint.calculate, endpoint.computing_time)
        lines = Lines(task, compute.limit_s, exchange.request_id, 1, bodies)
        return Stream(_streamed(lines, compute, exchange), media_type=NDJSON)

    return batch


def _bodies(body: bytes, most: int) -> list[bytes]:
    """Lines of a body; the end of the last line may be missing."""
    whole = body.removesuffix(b"\n")
    count = whole.count(b"\n") + 1 if body else 0
    if count > most:
        raise ProblemError(TOO_LARGE, f"{count} lines, above the limit of {most} for a batch.")
    return whole.split(b"\n") if body else []


async def _streamed(
    lines: Lines, compute: Compute, exchange: HttpExchange
) -> AsyncGenerator[bytes]:
    with compute.place():
        pieces = _Pieces(lines)
        work = (pieces.timed(piece, compute) for piece in pieces)
        async with aclosing(in_order(work, compute.width)) as results:
            async for answered in results:
                if answered.defects:
                    exchange.error = RuntimeError("".join(answered.defects))
                yield b"".join(body + b"\n" for body in answered.bodies)


class _Pieces:
    """Cuts a batch into pieces that take about as long as single calls may wait for."""

    def __init__(self, lines: Lines) -> None:
        self._lines = lines
        self._size = 1

    def __iter__(self) -> Iterator[Lines]:
        start = 0
        while start < len(self._lines.bodies):
            size = self._size
            yield self._lines.piece(start, size)
            start += size

    async def timed(self, piece: Lines, compute: Compute) -> Answered:
        """Answer a piece, and let its time decide how large the next ones are."""
        started = time.perf_counter()
        answered = await _answered(piece, compute)
        spent_s = time.perf_counter() - started
        fitting = int(len(piece.bodies) * _PIECE_S / max(spent_s, 1e-6))
        self._size = max(1, min(fitting, 2 * len(piece.bodies), _LARGEST_PIECE))
        return answered


async def _answered(piece: Lines, compute: Compute) -> Answered:
    """Answers of a piece, one line at a time if the piece as a whole does not get through.

    A line whose worker died is tried once more even if it was alone: the worker may have been
    stopped from outside. One that took too long would take too long again.
    """
    try:
        return await compute.in_pool(answer_lines, piece)
    except ProcessExpired:
        pass
    except ProblemError as error:
        if len(piece.bodies) == 1:
            return _failed(piece, error)
    singly = [await _alone(piece.piece(index, 1), compute) for index in range(len(piece.bodies))]
    return Answered(
        [body for one in singly for body in one.bodies],
        [defect for one in singly for defect in one.defects],
    )


async def _alone(line: Lines, compute: Compute) -> Answered:
    try:
        return await compute.in_pool(answer_lines, line)
    except (ProblemError, ProcessExpired) as error:
        return _failed(line, error)


def _failed(line: Lines, error: ProblemError | ProcessExpired) -> Answered:
    problem = as_problem(error)
    defects = [repr(error)] if problem.kind is INTERNAL else []
    return Answered([body_of(problem, f"{line.label}:{line.first}")], defects)
