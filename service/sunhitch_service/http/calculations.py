"""`POST /v1/{calculation}`: one route for each calculation of the catalogue."""

from typing import Any, cast

from litestar import Request, post
from litestar.handlers import HTTPRouteHandler
from litestar.response.base import ASGIResponse

from sunhitch.codec import decode_strict
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.renderings import Rendering

from .asgi import Receive
from .catalogue import Endpoint
from .compute import Compute, unless_hung_up
from .jobs import Refusal, Task, answer, answer_body
from .problems import require_affordable
from .requests import JSON, AnyRequest, accepted, body_in, query_choice, query_of

_DRAWN = {"Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'; img-src data:"}
"""Drawings carry their own styles; nothing in them may be loaded or run."""


def calculation_route(endpoint: Endpoint, compute: Compute) -> HTTPRouteHandler:
    """Route that answers one calculation.

    Parameters
    ----------
    endpoint : Endpoint
        Operation and its function.
    compute : Compute
        Where it runs.

    Returns
    -------
    HTTPRouteHandler
        For the application.
    """

    @post(endpoint.operation.path, status_code=200, include_in_schema=False)
    async def calculate(request: Request[Any, Any, Any]) -> ASGIResponse:
        rendering = _rendering(endpoint, request)
        draw = rendering.draw if rendering else None
        task = Task(endpoint.operation.request, endpoint.calculate, draw)
        body = await body_in(request, JSON)
        outcome = await _outcome(endpoint, compute, request, task, body)
        if isinstance(outcome, Refusal):
            raise ContradictionError(outcome.faults)
        media_type = rendering.media_type if rendering else JSON
        headers = _DRAWN if rendering else None
        return ASGIResponse(body=outcome, media_type=media_type, headers=headers, status_code=200)

    return calculate


def _rendering(endpoint: Endpoint, request: AnyRequest) -> Rendering | None:
    """What the caller wants to see; None for JSON."""
    offered = endpoint.renderings
    query = query_of(request, ["view"] if offered else [])
    view = query_choice(query, "view", [rendering.view for rendering in offered])
    shown = [rendering for rendering in offered if view in (None, rendering.view)]
    plain = [JSON] if view is None else []
    media_type = accepted(request, [*plain, *(rendering.media_type for rendering in shown)])
    return next((one for one in shown if one.media_type == media_type), None)


async def _outcome(
    endpoint: Endpoint, compute: Compute, request: AnyRequest, task: Task, body: bytes
) -> bytes | Refusal:
    decoded = decode_strict(body, task.kind)
    estimate_s = endpoint.estimate_s(decoded)
    require_affordable(estimate_s, compute.limit_s)
    compute.require_place()
    with compute.place():
        if compute.belongs_inline(estimate_s):
            return answer(task, decoded)
        work = compute.in_time(answer_body, (task, body))
        return await unless_hung_up(work, cast("Receive", request.receive))
