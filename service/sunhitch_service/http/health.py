"""`/health/live` and `/health/ready`, never limited; `/metrics`."""

from collections.abc import Callable
from functools import partial
from typing import Literal

from anyio import to_thread
from litestar.handlers import HTTPRouteHandler
from litestar.response.base import ASGIResponse

from sunhitch.codec import encode
from sunhitch.types.service import Health
from sunhitch_service.engine.stamp import stamp

from .compute import Compute
from .metrics import CONTENT_TYPE, Metrics
from .reading import TEXT, reading
from .requests import JSON, Request, accepted, query_of


def health_handlers(compute: Compute) -> list[HTTPRouteHandler]:
    """Handlers for whoever watches the service.

    Parameters
    ----------
    compute : Compute
        What must be up for `ready`.
    """

    def health(status: Literal["live", "ready"]) -> bytes:
        if status == "ready":
            compute.require_ready()
        return encode(Health(status=status, loops=compute.loops, engine=stamp()))

    return [
        _state("/health/live", partial(health, "live")),
        _state("/health/ready", partial(health, "ready")),
    ]


def metrics_handler(metrics: Metrics) -> HTTPRouteHandler:
    """Handler for Prometheus."""

    async def respond(request: Request) -> ASGIResponse:
        query_of(request)
        accepted(request, [TEXT])
        body = await to_thread.run_sync(metrics.exposition)
        return ASGIResponse(body=body, headers={"Content-Type": CONTENT_TYPE})

    return reading("/metrics", respond)


def _state(path: str, body: Callable[[], bytes]) -> HTTPRouteHandler:
    async def respond(request: Request) -> ASGIResponse:
        query_of(request)
        return ASGIResponse(body=body(), media_type=accepted(request, [JSON]))

    return reading(path, respond)
