"""`POST /v1/{calculation}`: one route for each calculation of the catalogue."""

from typing import Any, cast

from litestar import Request, post
from litestar.handlers import HTTPRouteHandler
from litestar.response.base import ASGIResponse

from sunhitch.codec import decode_strict

from .asgi import Receive
from .catalogue import Endpoint
from .compute import Compute
from .jobs import Job, Refusal, answer, run
from .problems import contradictory
from .requests import JSON, accepted, body_in, refuse_query


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
        refuse_query(request)
        media_type = accepted(request, [JSON])
        body = await body_in(request, JSON)
        decoded = decode_strict(body, endpoint.operation.request)
        estimate_s = endpoint.estimate_s(decoded)
        compute.require_affordable(estimate_s)
        with compute.slot():
            if compute.belongs_inline(estimate_s):
                outcome = answer(endpoint.calculate, decoded)
            else:
                job = Job(endpoint.calculate, endpoint.operation.request, body)
                outcome = await compute.in_pool(run, job, cast("Receive", request.receive))
        if isinstance(outcome, Refusal):
            raise contradictory(outcome.faults)
        return ASGIResponse(body=outcome, media_type=media_type, status_code=200)

    return calculate
