"""The application: handlers by table, wrapped in gate, cross-origin rules and envelope."""

import sys
from collections.abc import AsyncGenerator, Sequence
from contextlib import asynccontextmanager
from typing import TYPE_CHECKING, cast

from litestar import Litestar
from litestar.handlers import HTTPRouteHandler
from litestar.routes import HTTPRoute

from sunhitch_service.calculations import calculations
from sunhitch_service.calculations.calculation import AnyCalculation

from .access import Access
from .asgi import App, Route
from .batch import batch_route
from .cache import Cache
from .calculations import calculation_route
from .cluster import Crew
from .compute import Compute
from .cors import Cors
from .docs import docs_routes, schema_route
from .envelope import Envelope
from .gate import Gate
from .health import health_routes, metrics_route
from .logs import RequestLog
from .metrics import Metrics
from .openapi import encoded
from .quick import quick_routes
from .reference import reference_routes
from .responding import respond
from .settings import Settings, SettingsError, variable
from .studies import study_of

if TYPE_CHECKING:
    from opentelemetry.sdk.trace import TracerProvider


def create_app(
    settings: Settings,
    endpoints: Sequence[AnyCalculation] | None = None,
    log: RequestLog | None = None,
    traces: "TracerProvider | None" = None,
) -> App:
    """The service as an ASGI application.

    Parameters
    ----------
    settings : Settings
        What the operator chose.
    endpoints : sequence of Calculation, optional
        What to offer; every calculation of the contract if not given.
    log : RequestLog, optional
        Where the line of each request goes; standard output if not given.
    traces : TracerProvider, optional
        Where the span of each request goes; by OTLP if not given and the settings ask for traces.

    Returns
    -------
    ASGI application
        With a lifespan that owns the pool of workers.
    """
    endpoints = calculations() if endpoints is None else endpoints
    traces = traces or (_otlp() if settings.traces else None)
    metrics = Metrics()
    compute = Compute(settings, metrics.in_flight)
    crew = Crew(compute, settings)
    inner = Litestar(
        _handlers(settings, endpoints, compute, metrics),
        lifespan=[lambda _app: _running(crew, traces)],
        exception_handlers={Exception: respond},
        request_max_body_size=settings.max_body_bytes,
        openapi_config=None,
        logging_config=None,
    )
    routes = _routes(settings, endpoints, crew, metrics)
    gate = Gate(cast("App", inner), _methods(inner), routes)
    whole: App = Access(gate, settings)
    if settings.cors_origins:
        whole = Cors(whole, settings.cors_origins)
    if traces is not None:
        whole = _traced(whole, gate.paths, traces)
    log = log or RequestLog(settings.log_level, sys.stdout)
    return Envelope(whole, gate.paths, log, metrics)


@asynccontextmanager
async def _running(crew: Crew, traces: "TracerProvider | None") -> AsyncGenerator[None]:
    async with crew.compute.running(), crew.connected():
        yield
    if traces is not None:
        traces.shutdown()


def _otlp() -> "TracerProvider":
    try:
        from .traces import otlp_provider
    except ModuleNotFoundError as missing:
        raise SettingsError(
            f"{variable('traces')} needs {missing.name}; run pip install 'sunhitch[traces]'"
        ) from missing
    return otlp_provider()


def _traced(app: App, paths: frozenset[str], provider: "TracerProvider") -> App:
    from .traces import Traced

    return Traced(app, paths, provider)


def _routes(
    settings: Settings, endpoints: Sequence[AnyCalculation], crew: Crew, metrics: Metrics
) -> list[Route]:
    cache = Cache(settings.cache_megabytes, metrics.cache_hits)
    calculations = [
        calculation_route(
            endpoint, crew.compute, cache, settings, study_of(endpoint, crew, settings)
        )
        for endpoint in endpoints
    ]
    return [*calculations, *quick_routes(crew.compute), *reference_routes()]


def _handlers(
    settings: Settings, endpoints: Sequence[AnyCalculation], compute: Compute, metrics: Metrics
) -> list[HTTPRouteHandler]:
    handlers = [batch_route(endpoint, compute, settings) for endpoint in endpoints]
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
