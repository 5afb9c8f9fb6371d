"""`/health/live` and `/health/ready`, never limited; `/metrics`."""

from typing import Literal

from anyio import to_thread
from litestar.handlers import HTTPRouteHandler
from litestar.response.base import ASGIResponse

from sunhitch.codec import encode
from sunhitch.types.service import Health
from sunhitch_service.engine.stamp import stamp
from sunhitch_service.tasks.media_types import JSON, TEXT

from .compute import Compute
from .metrics import CONTENT_TYPE, Metrics
from .reading import reading
from .requests import Request, accepted, query_of


def health_handler(status: Literal["live", "ready"], compute: Compute) -> HTTPRouteHandler:
    """Handler for whoever watches the service; `ready` asks whether tables and workers are up."""

    async def respond(request: Request) -> ASGIResponse:
        query_of(request)
        media_type = accepted(request, [JSON])
        if status == "ready":
            compute.require_ready()
        body = encode(Health(status=status, loops=compute.loops, engine=stamp()))
        return ASGIResponse(body=body, media_type=media_type)

    return reading(f"/health/{status}", respond)


def metrics_handler(metrics: Metrics) -> HTTPRouteHandler:
    """Handler for Prometheus."""

    async def respond(request: Request) -> ASGIResponse:
        query_of(request)
        accepted(request, [TEXT])
        body = await to_thread.run_sync(metrics.exposition)
        return ASGIResponse(body=body, headers={"Content-Type": CONTENT_TYPE})

    return reading("/metrics", respond)
