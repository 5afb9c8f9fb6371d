"""`/health/live` and `/health/ready`, never limited; `/metrics`."""

from typing import Annotated, Any, Literal

from litestar import Request, get
from litestar.handlers import HTTPRouteHandler
from litestar.response.base import ASGIResponse

from sunhitch.codec import encode
from sunhitch.types.base import Output
from sunhitch.types.basis import EngineStamp
from sunhitch.types.quantity import choice, prose
from sunhitch_service.engine.stamp import stamp

from .asgi import Scope
from .compute import Compute
from .metrics import CONTENT_TYPE, Metrics
from .requests import JSON, accepted, query_of, scope_of


class Health(Output, kw_only=True):
    """State of the service."""

    status: Annotated[
        Literal["live", "ready"],
        choice("`live`: it answers. `ready`: tables are loaded and workers are up.", "ready"),
    ]
    engine: Annotated[EngineStamp, prose("What computes the answers.")]


def health_routes(compute: Compute) -> list[HTTPRouteHandler]:
    """Routes for whoever watches the service.

    Parameters
    ----------
    compute : Compute
        What must be up for `ready`.
    """

    @get("/health/live", include_in_schema=False)
    async def live(request: Request[Any, Any, Any]) -> ASGIResponse:
        return _state(scope_of(request), "live")

    @get("/health/ready", include_in_schema=False)
    async def ready(request: Request[Any, Any, Any]) -> ASGIResponse:
        compute.require_ready()
        return _state(scope_of(request), "ready")

    return [live, ready]


def _state(scope: Scope, status: Literal["live", "ready"]) -> ASGIResponse:
    query_of(scope)
    media_type = accepted(scope, [JSON])
    return ASGIResponse(
        body=encode(Health(status=status, engine=stamp())), media_type=media_type, status_code=200
    )


def metrics_route(metrics: Metrics) -> HTTPRouteHandler:
    """Route for Prometheus."""

    @get("/metrics", include_in_schema=False)
    async def exposition(request: Request[Any, Any, Any]) -> ASGIResponse:
        scope = scope_of(request)
        query_of(scope)
        accepted(scope, ["text/plain"])
        body = metrics.exposition()
        return ASGIResponse(body=body, media_type=CONTENT_TYPE, status_code=200)

    return exposition
