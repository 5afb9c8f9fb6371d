"""One OpenTelemetry span for each request; needs the extra `traces`."""

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
from opentelemetry.trace import Span, SpanKind, StatusCode

from sunhitch._version import __version__

from .asgi import App, Message, Receive, Scope, Send, header
from .problems import request_id_of

_FAULT = 500


def otlp_provider() -> TracerProvider:
    """Provider that sends spans by OTLP, as OpenTelemetry's own environment variables say."""
    own = Resource({SERVICE_NAME: "sunhitch", SERVICE_VERSION: __version__})
    provider = TracerProvider(resource=own.merge(OTELResourceDetector().detect()))
    provider.add_span_processor(BatchSpanProcessor(OTLPSpanExporter()))
    return provider


class Traced:
    """Wraps an application in spans, joined to the caller's trace if it names one.

    A span holds the path, but neither query, headers nor bodies: keys travel there.

    Parameters
    ----------
    app : ASGI application
        What answers.
    paths : collection of str
        Known paths; the others share one name.
    provider : TracerProvider
        Makes and sends spans.
    """

    def __init__(self, app: App, paths: frozenset[str], provider: TracerProvider) -> None:
        self._app = app
        self._paths = paths
        self._tracer = provider.get_tracer("sunhitch", __version__)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one connection."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        route = scope["path"] if scope["path"] in self._paths else "other"
        with self._tracer.start_as_current_span(
            f"{scope['method']} {route}",
            extract(_carried(scope)),
            SpanKind.SERVER,
            _attributes(scope, route),
            record_exception=False,
            set_status_on_exception=False,
        ) as span:
            await self._app(scope, receive, _noting(send, span))


def _attributes(scope: Scope, route: str) -> dict[str, str]:
    return {
        "http.request.method": scope["method"],
        "http.route": route,
        "url.scheme": scope["scheme"],
        "sunhitch.calculation": route.rpartition("/")[2] if route.startswith("/v1/") else "",
        "sunhitch.request_id": request_id_of(scope),
    }


def _carried(scope: Scope) -> dict[str, str]:
    """What of the request's headers says which trace it belongs to."""
    found = {name: header(scope, name) for name in ("traceparent", "tracestate")}
    return {name: value for name, value in found.items() if value is not None}


def _noting(send: Send, span: Span) -> Send:
    async def noting(message: Message) -> None:
        if message["type"] == "http.response.start":
            span.set_attribute("http.response.status_code", message["status"])
            if message["status"] >= _FAULT:
                span.set_status(StatusCode.ERROR)
        await send(message)

    return noting
