"""What holds for every answer: ids, headers, HEAD, OPTIONS, cross-origin rules, log and metrics."""

from collections.abc import Callable

import pytest
from contract_serving import TOY, Served, problem_of
from contract_toys import toys

READABLE = ["/health/live", "/health/ready", "/openapi.json", "/metrics"]


@pytest.mark.parametrize("path", READABLE)
def test_head_says_what_get_would(toy_service: Served, path: str) -> None:
    got, head = toy_service.http.get(path), toy_service.http.head(path)
    assert (head.status_code, head.content) == (200, b"")
    assert head.headers["content-type"] == got.headers["content-type"]
    assert path == "/metrics" or head.headers["content-length"] == got.headers["content-length"]


@pytest.mark.parametrize(
    ("path", "allow"),
    [("/v1/add-up", "OPTIONS, POST"), *((path, "GET, HEAD, OPTIONS") for path in READABLE)],
)
def test_options_lists_the_methods(toy_service: Served, path: str, allow: str) -> None:
    answer = toy_service.http.options(f"{path}?any=thing")
    assert (answer.status_code, answer.headers["allow"]) == (204, allow)


@pytest.mark.parametrize("given", ["job-4711", "a:b.c_d~e", "x" * 64])
def test_a_request_id_comes_back(toy_service: Served, given: str) -> None:
    answer = toy_service.http.get("/health/live", headers={"X-Request-Id": given})
    assert answer.headers["x-request-id"] == given


@pytest.mark.parametrize("given", ["", "x" * 65, "a b", 'a"b', "<i>"])
def test_an_unfit_request_id_is_replaced(toy_service: Served, given: str) -> None:
    answer = toy_service.http.get("/health/live", headers={"X-Request-Id": given})
    assert len(answer.headers["x-request-id"]) == 32


@pytest.mark.parametrize("path", ["/health/live", "/nowhere", "/v1/add-up"])
def test_every_answer_carries_security_headers(toy_service: Served, path: str) -> None:
    headers = toy_service.http.get(path).headers
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["x-frame-options"] == "DENY"
    assert headers["referrer-policy"] == "no-referrer"
    assert "default-src 'none'" in headers["content-security-policy"]
    assert headers["cache-control"] == "no-store"
    assert "server" not in headers


def test_one_log_line_a_request_without_its_body(toy_service: Served) -> None:
    headers = {"X-Request-Id": "logged-once"}
    toy_service.http.post("/v1/add-up", json=TOY | {"name": "confidential"}, headers=headers)
    line = toy_service.line("logged-once")
    assert line["event"] == "request"
    assert (line["method"], line["path"], line["status"]) == ("POST", "/v1/add-up", 200)
    assert line["received_bytes"] > 0
    assert line["sent_bytes"] > 0
    assert line["duration_ms"] > 0
    assert "confidential" not in toy_service.log.getvalue()


def test_metrics_count_what_the_framework_never_sees(start: Callable[..., Served]) -> None:
    served = start(toys(), pool_workers=0)
    served.http.get("/nowhere")
    served.http.get("/elsewhere")
    served.http.delete("/v1/add-up")
    served.http.post("/v1/add-up", json=TOY)
    text = served.http.get("/metrics").text
    assert 'requests_total{method="GET",path="other",status="404"} 2.0' in text
    assert 'requests_total{method="DELETE",path="/v1/add-up",status="405"} 1.0' in text
    assert 'requests_total{method="POST",path="/v1/add-up",status="200"} 1.0' in text


def test_health_says_what_computes(toy_service: Served) -> None:
    live, ready = (toy_service.http.get(f"/health/{name}").json() for name in ("live", "ready"))
    assert (live["status"], ready["status"]) == ("live", "ready")
    assert len(ready["engine"]["data_sha256"]) == 64


def test_other_origins_get_nothing_by_default(toy_service: Served) -> None:
    headers = {"Origin": "https://shop.example"}
    answer = toy_service.http.post("/v1/add-up", json=TOY, headers=headers)
    assert not [name for name in answer.headers if name.startswith("access-control")]


def test_allowed_origins(start: Callable[..., Served]) -> None:
    http = start(toys(), pool_workers=0, cors_origins=["https://shop.example"]).http
    ask = {"Access-Control-Request-Method": "POST", "Origin": "https://shop.example"}
    preflight = http.options("/v1/add-up", headers=ask)
    assert preflight.status_code == 204
    assert preflight.headers["access-control-allow-origin"] == "https://shop.example"
    assert "POST" in preflight.headers["access-control-allow-methods"]
    assert "content-type" in preflight.headers["access-control-allow-headers"].lower()
    good = http.post("/v1/add-up", json=TOY, headers={"Origin": "https://shop.example"})
    assert good.headers["access-control-allow-origin"] == "https://shop.example"
    assert "Origin" in good.headers["vary"]
    assert "X-Request-Id" in good.headers["access-control-expose-headers"]
    missing = http.get("/nowhere", headers={"Origin": "https://shop.example"})
    assert missing.headers["access-control-allow-origin"] == "https://shop.example"
    other = http.post("/v1/add-up", json=TOY, headers={"Origin": "https://evil.example"})
    assert "access-control-allow-origin" not in other.headers
    assert "Origin" in other.headers["vary"]


@pytest.mark.parametrize(
    "changed",
    [
        {"Origin": "https://evil.example"},
        {"Access-Control-Request-Method": "DELETE"},
        {"Access-Control-Request-Headers": "x-other"},
    ],
)
def test_a_preflight_is_refused_as_any_other_request(
    start: Callable[..., Served], changed: dict[str, str]
) -> None:
    http = start(toys(), pool_workers=0, cors_origins=["https://shop.example"]).http
    ask = {"Access-Control-Request-Method": "POST", "Origin": "https://shop.example"}
    problem = problem_of(http.options("/v1/add-up", headers=ask | changed), 400, "malformed")
    assert "this origin" in problem.detail


def test_all_origins(start: Callable[..., Served]) -> None:
    http = start(toys(), pool_workers=0, cors_origins=["*"]).http
    answer = http.get("/health/live", headers={"Origin": "https://any.example"})
    assert answer.headers["access-control-allow-origin"] == "*"


def test_operators_may_hide_metrics(start: Callable[..., Served]) -> None:
    http = start(toys(), pool_workers=0, metrics=False).http
    assert http.get("/metrics").status_code == 404


@pytest.mark.parametrize(
    ("query", "accept", "media_type", "begins"),
    [
        ("", "image/svg+xml", "image/svg+xml", "<svg"),
        ("", "text/csv", "text/csv; charset=utf-8", "name,area_m2"),
        ("", "text/html, image/*", "image/svg+xml", "<svg"),
        ("", "*/*", "application/json", "{"),
        ("?view=areas", "*/*", "text/csv; charset=utf-8", "name,area_m2"),
        ("?view=sketch", "image/svg+xml", "image/svg+xml", "<svg"),
    ],
)
def test_an_answer_may_be_drawn(
    toy_service: Served, query: str, accept: str, media_type: str, begins: str
) -> None:
    answer = toy_service.http.post(f"/v1/add-up{query}", json=TOY, headers={"Accept": accept})
    assert answer.status_code == 200
    assert answer.headers["content-type"] == media_type
    assert answer.text.startswith(begins)
    assert "script" not in answer.headers["content-security-policy"]
    assert answer.headers["x-sunhitch-verdict"] == "pass"


def test_views_are_checked(toy_service: Served) -> None:
    unknown = toy_service.http.post("/v1/add-up?view=ghost", json=TOY)
    assert (unknown.status_code, unknown.json()["errors"][0]["pointer"]) == (400, "/view")
    twice = toy_service.http.post("/v1/add-up?view=areas&view=areas", json=TOY)
    assert twice.status_code == 400
    mixed = toy_service.http.post(
        "/v1/add-up?view=areas", json=TOY, headers={"Accept": "image/svg+xml"}
    )
    assert mixed.status_code == 406
    none = toy_service.http.post("/v1/crash?view=areas", json=TOY)
    assert none.status_code == 400
