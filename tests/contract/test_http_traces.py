"""Traces: one span a request, joined to the caller's, and nothing in it that nobody should see."""

import json
from collections.abc import Iterator
from dataclasses import dataclass

import pytest
from contract_serving import TOY, Served, serve, until
from contract_toys import toys
from opentelemetry.sdk.trace import ReadableSpan, TracerProvider
from opentelemetry.sdk.trace.export import SimpleSpanProcessor
from opentelemetry.sdk.trace.export.in_memory_span_exporter import InMemorySpanExporter
from opentelemetry.trace import SpanKind

from sunhitch_service.http.keys import make_key
from sunhitch_service.http.settings import Settings

KEY, ENTRY = make_key("shop")
TRACE, PARENT = "4bf92f3577b34da6a3ce929d0e0e4736", "00f067aa0ba902b7"


@dataclass
class Traced:
    """A service and the spans that it sent."""

    served: Served
    exporter: InMemorySpanExporter

    def one(self) -> ReadableSpan:
        """The span of the only request so far."""
        until(lambda: bool(self.exporter.get_finished_spans()))
        (span,) = self.exporter.get_finished_spans()
        return span


@pytest.fixture
def traced() -> Iterator[Traced]:
    """Spans stay in memory."""
    exporter = InMemorySpanExporter()
    provider = TracerProvider()
    provider.add_span_processor(SimpleSpanProcessor(exporter))
    settings = Settings(pool_workers=0, query_keys=True, keys_required=True, api_keys=[ENTRY])
    with serve(settings, toys(), provider) as served:
        yield Traced(served, exporter)


def test_one_request_gives_one_span(traced: Traced) -> None:
    headers = {"X-API-Key": KEY, "X-Request-Id": "r1"}
    assert traced.served.http.post("/v1/add-up", json=TOY, headers=headers).status_code == 200
    span = traced.one()
    assert (span.name, span.kind) == ("POST /v1/add-up", SpanKind.SERVER)
    assert span.parent is None
    assert dict(span.attributes or {}) == {
        "http.request.method": "POST",
        "http.route": "/v1/add-up",
        "http.response.status_code": 200,
        "url.scheme": "http",
        "sunhitch.calculation": "add-up",
        "sunhitch.request_id": "r1",
    }
    assert span.status.is_unset


def test_a_span_joins_the_trace_of_the_caller(traced: Traced) -> None:
    headers = {"X-API-Key": KEY, "traceparent": f"00-{TRACE}-{PARENT}-01"}
    traced.served.http.post("/v1/add-up", json=TOY, headers=headers)
    span = traced.one()
    assert span.parent is not None
    assert (f"{span.context.trace_id:032x}", f"{span.parent.span_id:016x}") == (TRACE, PARENT)


@pytest.mark.parametrize(
    ("path", "name", "status"),
    [
        (f"/v1/quick?api_key={KEY}", "GET /v1/quick", 401),
        (f"/v1/quick/cold-voc?v_oc_v=1&api_key={KEY}", "GET /v1/quick/cold-voc", 422),
        (f"/v1/{KEY}", "GET other", 404),
    ],
    ids=["list", "question", "path"],
)
def test_no_key_shows_in_a_span(traced: Traced, path: str, name: str, status: int) -> None:
    assert traced.served.http.get(path).status_code == status
    span = traced.one()
    assert span.name == name
    assert KEY not in json.dumps(json.loads(span.to_json()))


def test_faults_of_the_service_are_marked(traced: Traced) -> None:
    headers = {"X-API-Key": KEY}
    assert traced.served.http.post("/v1/crash", json=TOY, headers=headers).status_code == 500
    span = traced.one()
    assert span.status.is_ok is False
    assert not span.status.is_unset
    assert "secret" not in span.to_json()
