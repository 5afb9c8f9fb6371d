"""The application: the framework with its handlers, inside the layer that every request passes."""

import asyncio
import sys
from collections.abc import AsyncGenerator, Sequence
from contextlib import asynccontextmanager
from functools import cache, partial
from typing import TYPE_CHECKING

from litestar import Litestar
from litestar.config.compression import CompressionConfig
from litestar.config.cors import CORSConfig
from litestar.handlers import HTTPRouteHandler
from litestar.types import ASGIApp

from sunhitch.types.check import VERDICT_HEADER
from sunhitch_service.calculations import calculations
from sunhitch_service.calculations.calculation import AnyCalculation
from sunhitch_service.schema.openapi import encoded
from sunhitch_service.tasks.kept import Cache
from sunhitch_service.workers.fair import Shares

from .access import KEY_HEADER, Access
from .batch import batch_handler
from .calculations import calculation_handler
from .cluster import Crew
from .compression import Compression
from .compute import Compute
from .exchange import ENGINE_HEADER
from .health import health_handler, metrics_handler
from .logs import RequestLog
from .metrics import Metrics
from .outermost import Exchanges, refused
from .pages import docs_handlers, guide_handlers, schema_handler
from .quick import quick_handlers
from .reference import reference_handlers
from .settings import Settings, SettingsError, variable
from .turns import Turns

if TYPE_CHECKING:
    from opentelemetry.sdk.trace import TracerProvider


def create_app(
    settings: Settings,
    endpoints: Sequence[AnyCalculation] | None = None,
    log: RequestLog | None = None,
    traces: "TracerProvider | None" = None,
) -> ASGIApp:
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
    turns = Turns()
    crew = Crew(Compute(settings, metrics, turns), settings)
    framework = Litestar(
        _handlers(settings, endpoints, crew, metrics),
        lifespan=[lambda _app: _running(crew, metrics, traces)],
        before_request=Access(settings).admit,
        exception_handlers={Exception: refused},
        request_max_body_size=settings.max_body_bytes,
        cors_config=_cors(settings.cors_origins),
        compression_config=CompressionConfig("gzip", 1000, 4, middleware_class=Compression),
        openapi_config=None,
        logging_config=None,
    )
    paths = frozenset(route.path for route in framework.routes)
    app: ASGIApp = framework
    if traces is not None:
        from .traces import Traced

        app = Traced(app, paths, traces)
    log = log or RequestLog(settings.log_level, sys.stdout)
    return Exchanges(app, paths, log, metrics, Shares(settings.max_held_bytes), turns)


def _cors(origins: list[str]) -> CORSConfig | None:
    if not origins:
        return None
    return CORSConfig(
        allow_origins=origins,
        allow_methods=["GET", "POST"],
        allow_headers=["Accept", "Content-Type", KEY_HEADER, "X-Request-Id"],
        expose_headers=[
            "Allow", "ETag", "RateLimit", "RateLimit-Policy", "Retry-After", "Server-Timing",
            "X-Request-Id", ENGINE_HEADER, VERDICT_HEADER,
        ],
    )  # fmt: skip


@asynccontextmanager
async def _running(
    crew: Crew, metrics: Metrics, traces: "TracerProvider | None"
) -> AsyncGenerator[None]:
    async with crew.compute.running(), crew.connected():
        watching = asyncio.create_task(metrics.watch())
        yield
        watching.cancel()
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


def _handlers(
    settings: Settings, endpoints: Sequence[AnyCalculation], crew: Crew, metrics: Metrics
) -> list[HTTPRouteHandler]:
    compute, kept = crew.compute, Cache(settings.cache_megabytes, metrics.cache_hits)
    document = cache(partial(encoded, endpoints))  # made when it is first asked for
    handlers = [
        *(calculation_handler(one, crew, kept, settings) for one in endpoints),
        *(batch_handler(one, compute, settings) for one in endpoints),
        *quick_handlers(compute),
        *reference_handlers(endpoints),
        *(health_handler(status, compute) for status in ("live", "ready")),
        schema_handler(document),
    ]
    if settings.metrics:
        handlers.append(metrics_handler(metrics))
    if settings.docs:
        handlers += [*docs_handlers(document), *guide_handlers()]
    return handlers
