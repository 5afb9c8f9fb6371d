"""`POST /v1/batch/{calculation}`: exactly one line out for each line in, in order, streamed."""

from collections.abc import AsyncGenerator, Iterator
from contextlib import aclosing

from litestar import post
from litestar.handlers import HTTPRouteHandler
from litestar.response import Stream

from sunhitch_service.calculations.calculation import AnyCalculation

from .compute import Compute
from .exchange import HttpExchange, exchange_of
from .jobs import Answered, Lines, Task, answer_lines
from .ordered import in_order
from .problems import BATCH_ENDED, TOO_LARGE, WORKER_DIED, ProblemError, body_of
from .requests import NDJSON, Request, accepted, query_of, require_media_type, whole_body
from .settings import Settings
from .work import WorkOrder

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
        exchange, operation = exchange_of(request), endpoint.operation
        compute.require_place(exchange)
        bodies = _bodies(await whole_body(request), settings.max_batch_lines)
        compute.require_place(exchange)
        task = Task(operation.request, endpoint.calculate, endpoint.computing_time)
        lines = Lines(task, compute.limit_s, exchange.request_id, 1, bodies)
        return Stream(_streamed(lines, compute, exchange, settings), media_type=NDJSON)

    return batch


def _bodies(body: bytes, most: int) -> list[bytes]:
    """Lines of a body; the end of the last line may be missing."""
    whole = body.removesuffix(b"\n")
    count = whole.count(b"\n") + 1 if body else 0
    if count > most:
        raise ProblemError(TOO_LARGE, f"{count} lines, above the limit of {most} for a batch.")
    return whole.split(b"\n") if body else []


async def _streamed(
    lines: Lines, compute: Compute, exchange: HttpExchange, settings: Settings
) -> AsyncGenerator[bytes]:
    done = malformed = 0
    with compute.place(exchange):
        pieces = _Pieces(lines, compute, exchange)
        async with aclosing(in_order(map(pieces.answered, pieces), compute.width)) as results:
            async for answered in results:
                if answered.defects:
                    exchange.error = RuntimeError("".join(answered.defects))
                yield b"".join(body + b"\n" for body in answered.bodies)
                done += len(answered.bodies)
                malformed += answered.malformed
                why = _why_over(malformed, exchange.cost_ms / 1000.0, settings)
                if why and done < len(lines.bodies):
                    yield _ended(lines, done, why) + b"\n"
                    return


def _why_over(malformed: int, cost_s: float, settings: Settings) -> str:
    """Why a batch goes no further; empty if it does."""
    if malformed >= settings.max_batch_malformed:
        return f"{malformed} lines are malformed"
    if cost_s >= settings.max_batch_processor_seconds:
        return f"it has taken {cost_s:.0f} s of a processor"
    return ""


def _ended(lines: Lines, done: int, why: str) -> bytes:
    """The line after the last that was answered."""
    count = len(lines.bodies)
    detail = f"The batch ended after line {done}: {why}. Lines {done + 1} to {count} were not read."
    return body_of(ProblemError(BATCH_ENDED, detail), f"{lines.label}:{done + 1}")


class _Pieces:
    """Cuts a batch into pieces that take about as long as single calls may wait for."""

    def __init__(self, lines: Lines, compute: Compute, exchange: HttpExchange) -> None:
        self._lines = lines
        self._compute = compute
        self._exchange = exchange
        self._size = 1
        self._line_s = 0.0

    def __iter__(self) -> Iterator[Lines]:
        start = 0
        while start < len(self._lines.bodies):
            size = self._size
            yield self._lines.piece(start, size)
            start += size

    async def answered(self, piece: Lines) -> Answered:
        """Answer a piece, and let its cost decide how large the next ones are.

        One line at a time if the piece as a whole does not get through. A line whose worker died is
        tried once more even if it was alone: the worker may have been stopped from outside. One
        that took too long would take too long again.
        """
        count = len(piece.bodies)
        try:
            answered = await self._in_pool(piece)
        except ProblemError as error:
            if count == 1 and error.kind is not WORKER_DIED:
                return _failed(piece, error)
            singly = [await self._alone(piece.piece(index, 1)) for index in range(count)]
            return Answered(
                [body for one in singly for body in one.bodies],
                [defect for one in singly for defect in one.defects],
                sum(one.malformed for one in singly),
            )
        self._line_s = max(answered.cost_s / count, 1e-6)
        self._size = max(1, min(int(_PIECE_S / self._line_s), 2 * count, _LARGEST_PIECE))
        return answered

    async def _in_pool(self, piece: Lines) -> Answered:
        expected_s = self._line_s * len(piece.bodies)
        order = WorkOrder(self._exchange, "batch", self._compute.limit_s, expected_s)
        return await self._compute.in_pool(answer_lines, piece, order)

    async def _alone(self, line: Lines) -> Answered:
        try:
            return await self._in_pool(line)
        except ProblemError as error:
            return _failed(line, error)


def _failed(line: Lines, error: ProblemError) -> Answered:
    return Answered([body_of(error, f"{line.label}:{line.first}")], [])
