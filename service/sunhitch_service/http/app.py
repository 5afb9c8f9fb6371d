"""The application: handlers by table, wrapped in gate, cross-origin rules and envelope."""

from collections.abc import Sequence
from contextlib import AbstractAsyncContextManager
from typing import cast

from litestar import Litestar
from litestar.handlers import HTTPRouteHandler
from litestar.routes import HTTPRoute
from structlog.typing import FilteringBoundLogger

from .asgi import App
from .batch import batch_route
from .calculations import calculation_route
from .catalogue import Endpoint, catalogue
from .compute import Compute
from .cors import Cors
from .docs import docs_routes, schema_route
from .envelope import Envelope
from .gate import Gate
from .health import health_routes, metrics_route
from .logs import request_log
from .metrics import Metrics
from .openapi import encoded
from .quick import quick_routes
from .reference import reference_routes
from .responding import respond
from .settings import Settings


def create_app(
    settings: Settings,
    endpoints: Sequence[Endpoint] | None = None,
    log: FilteringBoundLogger | None = None,
) -> App:
    """The service as an ASGI application.

    Parameters
    ----------
    settings : Settings
        What the operator chose.
    endpoints : sequence of Endpoint, optional
        What to offer; every calculation of the contract if not given.
    log : FilteringBoundLogger, optional
        Where the line of each request goes; standard output if not given.

    Returns
    -------
    ASGI application
        With a lifespan that owns the pool of workers.
    """
    endpoints = catalogue() if endpoints is None else endpoints
    metrics = Metrics()
    compute = Compute(settings, metrics.in_flight)
    handlers = _handlers(settings, endpoints, compute, metrics)
    inner = Litestar(
        handlers,
        lifespan=[lambda _app: _running(compute)],
        exception_handlers={Exception: respond},
        request_max_body_size=settings.max_body_bytes,
        openapi_config=None,
        logging_config=None,
    )
    methods = _methods(inner)
    cors = Cors(Gate(cast("App", inner), methods), settings.cors_origins)
    return Envelope(cors, frozenset(methods), log or request_log(settings.log_level), metrics)


def _running(compute: Compute) -> AbstractAsyncContextManager[None]:
    return compute.running()


def _handlers(
    settings: Settings, endpoints: Sequence[Endpoint], compute: Compute, metrics: Metrics
) -> list[HTTPRouteHandler]:
    handlers = [calculation_route(endpoint, compute) for endpoint in endpoints]
    handlers += [batch_route(endpoint, compute, settings) for endpoint in endpoints]
    handlers += [*quick_routes(compute), *reference_routes()]
    document = encoded(endpoints)
    handlers += [*health_routes(compute), schema_route(document)]
    if settings.metrics:
        handlers.append(metrics_route(metrics))
    if settings.docs:
        handlers += docs_routes(document)
    return handlers


def _methods(app: Litestar) -> dict[str, frozenset[str]]:
    """Methods by path, without those that the gate answers."""
    return {
        route.path: frozenset(route.methods) - {"OPTIONS", "HEAD"}
        for route in app.routes
        if isinstance(route, HTTPRoute)
    }
