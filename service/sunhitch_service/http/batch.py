"""`POST /v1/batch/{calculation}`: exactly one line out for each line in, in order, streamed."""

from collections.abc import AsyncGenerator, Iterator
from contextlib import aclosing
from dataclasses import replace
from functools import partial

from litestar import post
from litestar.handlers import HTTPRouteHandler
from litestar.response import Stream

from sunhitch.types.stream import problem_line
from sunhitch_service.calculations.calculation import AnyCalculation
from sunhitch_service.schema.paths import BATCH
from sunhitch_service.tasks.forms import Form
from sunhitch_service.tasks.lines import Answered, Body, Lines, answer_lines
from sunhitch_service.tasks.media_types import NDJSON
from sunhitch_service.tasks.problems import Kind, ProblemError
from sunhitch_service.tasks.task import Task, task_of
from sunhitch_service.workers.ordered import in_order
from sunhitch_service.workers.pool import WorkOrder

from .compute import Compute
from .exchange import HttpExchange, exchange_of
from .requests import (
    TOLD_WORDS,
    Request,
    accepted,
    body_pieces,
    query_of,
    require_media_type,
    selection_of,
)
from .settings import Settings

_PIECE_S = 0.05
_LARGEST_PIECE = 512


def batch_handler(
    endpoint: AnyCalculation, compute: Compute, settings: Settings
) -> HTTPRouteHandler:
    """Handler that answers many requests of one calculation.

    The whole body is read first, since reading it while answering would race with watching for the
    end of the connection; only the answers are streamed.
    """
    task, path = task_of(endpoint), BATCH.format(calculation=endpoint.operation.name)

    @post(path, status_code=200, request_max_body_size=settings.max_batch_bytes)
    async def batch(request: Request) -> Stream:
        told = Form(selection=selection_of(query_of(request, TOLD_WORDS)))
        accepted(request, [NDJSON])
        require_media_type(request, NDJSON)
        exchange = exchange_of(request)
        compute.require_place(exchange)
        body = Body(settings.max_batch_lines, settings.max_body_bytes)
        async for piece in body_pieces(request):
            body.take(piece)
        compute.take_place(exchange)
        pieces = _Pieces(replace(task, form=told), body, compute, exchange)
        return Stream(_streamed(pieces, settings), media_type=NDJSON)

    return batch


async def _streamed(pieces: "_Pieces", settings: Settings) -> AsyncGenerator[bytes]:
    done = malformed = 0
    exchange, count = pieces.exchange, pieces.body.count
    async with aclosing(in_order(map(pieces.answered, pieces), pieces.compute.width)) as results:
        async for answered in results:
            if answered.defects:
                exchange.error = RuntimeError(answered.defects)
            yield answered.text
            done += answered.count
            malformed += answered.malformed
            why = _why_over(malformed, exchange.cost_ms / 1000.0, settings)
            if why and done < count:
                said = f"The batch ended after line {done}: {why}. "
                ended = ProblemError(
                    Kind.BATCH_ENDED, f"{said}Lines {done + 1} to {count} were not read."
                )
                yield problem_line(ended.body(f"{exchange.request_id}:{done + 1}")) + b"\n"
                return


def _why_over(malformed: int, cost_s: float, settings: Settings) -> str:
    """Why a batch goes no further; empty if it does."""
    if malformed >= settings.max_batch_malformed:
        return f"{malformed} lines are malformed"
    if cost_s >= settings.max_batch_processor_seconds:
        return f"it has taken {cost_s:.0f} s of a processor"
    return ""


class _Pieces:
    """Cuts a batch into pieces that take about as long as single calls may wait for."""

    def __init__(self, task: Task, body: Body, compute: Compute, exchange: HttpExchange) -> None:
        self.body, self.compute, self.exchange = body, compute, exchange
        self._task = task
        self._size = 1
        self._line_s = 0.0

    def __iter__(self) -> Iterator[Lines]:
        first = 1
        while bodies := self.body.cut(self._size):
            limit_s, label = self.compute.limit_s, self.exchange.request_id
            yield Lines(self._task, limit_s, label, first, bodies)
            first += len(bodies)

    async def answered(self, piece: Lines) -> Answered:
        """Answer a piece, and let its cost decide how large the next ones are.

        One line at a time if the piece as a whole does not get through.
        """
        count = len(piece.bodies)
        order = WorkOrder(self.exchange, "batch", self.compute.limit_s, self._line_s * count)
        try:
            answered = await self.compute.in_pool(partial(answer_lines, piece), order)
        except ProblemError as error:
            if count == 1:
                document = error.body(f"{piece.label}:{piece.first}")
                return Answered(problem_line(document) + b"\n", 1)
            answered = Answered()
            for one in piece.singly():
                answered.add(await self.answered(one))
            return answered
        self._line_s = max(answered.cost_s / count, 1e-6)
        self._size = max(1, min(int(_PIECE_S / self._line_s), 2 * count, _LARGEST_PIECE))
        return answered
