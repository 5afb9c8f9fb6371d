"""One OpenTelemetry span for each request; needs the extra `traces`."""

from litestar.enums import ScopeType
from litestar.types import ASGIApp, Receive, Scope, Send
from opentelemetry.exporter.otlp.proto.http.trace_exporter import OTLPSpanExporter
from opentelemetry.propagate import extract
from opentelemetry.sdk.resources import (
    SERVICE_NAME,
    SERVICE_VERSION,
    OTELResourceDetector,
    Resource,
)
from opentelemetry.sdk.trace import TracerProvider
from opentelemetry.sdk.trace.export import BatchSpanProcessor
from opentelemetry.trace import SpanKind, StatusCode

from sunhitch._version import __version__

_FAULT = 500
_CARRIERS = ("traceparent", "tracestate")


def otlp_provider() -> TracerProvider:
    """Provider that sends spans by OTLP, as OpenTelemetry's own environment variables say."""
    own = Resource({SERVICE_NAME: "sunhitch", SERVICE_VERSION: __version__})
    provider = TracerProvider(resource=own.merge(OTELResourceDetector().detect()))
    provider.add_span_processor(BatchSpanProcessor(OTLPSpanExporter()))
    return provider


class Traced:
    """Wraps an application in spans, joined to the caller's trace if it names one.

    A span holds the path, but neither query, headers nor bodies: keys travel there. The
    framework's own spans hold all of the address. Unknown paths share one name.
    """

    def __init__(self, app: ASGIApp, paths: frozenset[str], provider: TracerProvider) -> None:
        self._app = app
        self._paths = paths
        self._tracer = provider.get_tracer("sunhitch", __version__)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one connection."""
        if scope["type"] != ScopeType.HTTP:
            await self._app(scope, receive, send)
            return
        exchange = scope["state"]["exchange"]
        route = exchange.path if exchange.path in self._paths else "other"
        carried = {name.decode(): value.decode("latin-1") for name, value in scope["headers"]}
        with self._tracer.start_as_current_span(
            f"{scope['method']} {route}",
            extract({name: carried[name] for name in _CARRIERS if name in carried}),
            SpanKind.SERVER,
            {
                "http.request.method": scope["method"],
                "http.route": route,
                "url.scheme": scope["scheme"],
                "sunhitch.calculation": route.rpartition("/")[2] if route[:4] == "/v1/" else "",
                "sunhitch.request_id": exchange.request_id,
            },
            record_exception=False,
            set_status_on_exception=False,
        ) as span:
            await self._app(scope, receive, send)
            span.set_attribute("http.response.status_code", exchange.status)
            if exchange.status >= _FAULT:
                span.set_status(StatusCode.ERROR)
