"""Every error status, each with a problem document after RFC 9457."""

import json
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from contract_serving import TOY, Served, half_open, problem_of, until
from contract_toys import toys

from sunhitch.types.problem import Problem


def pointers(problem: Problem) -> dict[str, str]:
    """Message by pointer."""
    return {error.pointer: error.message for error in problem.errors}


@pytest.mark.parametrize(
    ("change", "pointer", "said"),
    [
        (
            {"name": 5},
            "/name",
            "Expected text of 1 to 80 characters without control characters; got 5.",
        ),
        ({"name": ""}, "/name", "Expected text of 1 to 80 characters"),
        ({"shapes": []}, "/shapes", "Expected a list of 1 to 20 entries; got a list of 0."),
        ({"shapes": None}, "/shapes", "got null"),
        ({"copies": "2"}, "/copies", 'Expected a whole number from 1 to 10; got "2".'),
        ({"copies": 2.5}, "/copies", "Expected a whole number from 1 to 10; got 2.5."),
        ({"copies": True}, "/copies", "got true"),
        ({"size": "huge"}, "/size", "Expected one of `large`, `small`"),
        ({"height_m": 11}, "/height_m", "Expected a number from 0 to 10 m or null; got 11."),
        ({"hieght_m": 1}, "/hieght_m", "did you mean `height_m`?"),
        ({"shapes": [{"kind": "oval"}]}, "/shapes/0/kind", "Expected one of `round`, `square`"),
        ({"shapes": [{"kind": "round"}]}, "/shapes/0/radius_m", "Missing. Expected a number"),
        ({"shapes": [3]}, "/shapes/0", "got 3"),
    ],
)
def test_a_field_at_fault_is_named(
    toy_service: Served, change: dict[str, Any], pointer: str, said: str
) -> None:
    answer = toy_service.http.post("/v1/add-up", json=TOY | change)
    problem = problem_of(answer, 400, "malformed")
    assert said in pointers(problem)[pointer]
    assert {error.location for error in problem.errors} == {"body"}


def test_all_faults_are_named_at_once(toy_service: Served) -> None:
    body = {"shapes": [{"kind": "square", "side_m": -1}, 7], "copies": 0, "extra": 1}
    problem = problem_of(toy_service.http.post("/v1/add-up", json=body), 400, "malformed")
    assert set(pointers(problem)) == {
        "/name",
        "/shapes/0/side_m",
        "/shapes/1",
        "/copies",
        "/extra",
    }


@pytest.mark.parametrize(
    ("body", "said"),
    [
        (b"", "empty"),
        (b"{", "not valid JSON"),
        (b"null", "Expected an object"),
        (b"[]", "Expected an object"),
        (b'{"copies": nan}', "not valid JSON"),
        (b'{"copies": NaN,}', "not valid JSON"),
        (b'{"copies": NaN, "name":' + b"[" * 9000 + b"]" * 9000 + b"}", "not valid JSON"),
        (b'{"name": "\xff"}', "UTF-8"),
        (b"[" * 9000, "nested"),
        (b'{"shapes":' + b"[" * 9000 + b"]" * 9000 + b"}", "nested"),
    ],
)
def test_a_body_that_is_not_json_is_malformed(toy_service: Served, body: bytes, said: str) -> None:
    headers = {"Content-Type": "application/json"}
    answer = toy_service.http.post("/v1/add-up", content=body, headers=headers)
    assert said in problem_of(answer, 400, "malformed").detail


@pytest.mark.parametrize("number", [b"NaN", b"-Infinity", b"1e999", b"-1e400"])
def test_numbers_without_end_are_named_where_they_stand(toy_service: Served, number: bytes) -> None:
    body = b'{"name": "%b", "shapes": [{"side_m": %b}], "copies": %b}' % (number, number, number)
    headers = {"Content-Type": "application/json"}
    answer = toy_service.http.post("/v1/add-up", content=body, headers=headers)
    faults = problem_of(answer, 400, "malformed").errors
    assert [fault.pointer for fault in faults] == ["/shapes/0/side_m", "/copies"]
    assert {fault.code for fault in faults} == {"not-finite"}


def test_what_is_nested_deep_is_refused_where_it_stands(toy_service: Served) -> None:
    body = b'{"name": "first", "shapes":' + b"[" * 900 + b"]" * 900 + b"}"
    headers = {"Content-Type": "application/json"}
    answer = toy_service.http.post("/v1/add-up", content=body, headers=headers)
    assert [fault.pointer for fault in problem_of(answer, 400, "malformed").errors] == ["/shapes/0"]


def test_a_whole_number_may_have_a_decimal_point(toy_service: Served) -> None:
    body = json.dumps(TOY | {"copies": 3.0}).encode()
    headers = {"Content-Type": "application/json"}
    answer = toy_service.http.post("/v1/add-up", content=body, headers=headers)
    assert answer.status_code == 200
    assert answer.json()["area_m2"] == 12.0


def test_contradictions_come_all_at_once(toy_service: Served) -> None:
    answer = toy_service.http.post("/v1/add-up", json=TOY | {"size": "large", "copies": 7})
    problem = problem_of(answer, 422, "contradictory")
    assert set(pointers(problem)) == {"/height_m", "/copies"}


def test_too_much_work_is_refused_before_it_starts(toy_service: Served) -> None:
    answer = toy_service.http.post("/v1/too-much", json=TOY)
    assert "1000000 s" in problem_of(answer, 422, "too-much-work").detail


@pytest.mark.parametrize("path", ["/", "/v1", "/v1/", "/v2/add-up", "/v1/%00"])
def test_unknown_paths(toy_service: Served, path: str) -> None:
    assert problem_of(toy_service.http.get(path), 404, "not-found").errors == []


@pytest.mark.parametrize(
    ("method", "path", "allow"),
    [
        ("GET", "/v1/add-up", "OPTIONS, POST"),
        ("DELETE", "/v1/add-up", "OPTIONS, POST"),
        ("POST", "/health/live", "GET, HEAD, OPTIONS"),
        ("TRACE", "/openapi.json", "GET, HEAD, OPTIONS"),
    ],
)
def test_other_methods(toy_service: Served, method: str, path: str, allow: str) -> None:
    answer = toy_service.http.request(method, path)
    problem_of(answer, 405, "method-not-allowed")
    assert answer.headers["allow"] == allow


@pytest.mark.parametrize(
    "accept",
    [
        "text/html",
        "image/png, audio/*;q=0.5",
        "application/json;q=0, */*;q=0.0, text/html",
        "x",
        "/;;q=z",
    ],
)
def test_a_media_type_that_is_not_on_offer(toy_service: Served, accept: str) -> None:
    answer = toy_service.http.post("/v1/add-up", json=TOY, headers={"Accept": accept})
    assert "application/json" in problem_of(answer, 406, "not-acceptable").detail


@pytest.mark.parametrize("accept", ["*/*", "application/*", "text/html, */*;q=0.1", ""])
def test_media_types_that_are_on_offer(toy_service: Served, accept: str) -> None:
    answer = toy_service.http.post("/v1/add-up", json=TOY, headers={"Accept": accept})
    assert answer.status_code == 200


@pytest.mark.parametrize("media_type", ["text/plain", "application/x-ndjson", ""])
def test_a_body_of_another_media_type(toy_service: Served, media_type: str) -> None:
    headers = {"Content-Type": media_type}
    answer = toy_service.http.post("/v1/add-up", content=b"{}", headers=headers)
    problem_of(answer, 415, "unsupported-media-type")
    assert answer.headers["accept"] == "application/json"


def test_a_compressed_body(toy_service: Served) -> None:
    headers = {"Content-Type": "application/json", "Content-Encoding": "gzip"}
    answer = toy_service.http.post("/v1/add-up", content=b"\x1f\x8b", headers=headers)
    problem_of(answer, 415, "unsupported-media-type")
    assert answer.headers["accept-encoding"] == "identity"


def test_a_body_above_the_limit(toy_service: Served) -> None:
    headers = {"Content-Type": "application/json"}
    whole = toy_service.http.post("/v1/add-up", content=b" " * 20_001, headers=headers)
    assert problem_of(whole, 413, "content-too-large").status == 413
    parts = (b" " * 5000 for _ in range(5))
    chunked = toy_service.http.post("/v1/add-up", content=parts, headers=headers)
    assert problem_of(chunked, 413, "content-too-large").status == 413


@pytest.mark.parametrize("query", ["x=1", "x", "x=1&x=2"])
@pytest.mark.parametrize("path", ["/health/live", "/openapi.json", "/metrics"])
def test_unknown_query_parameters(toy_service: Served, path: str, query: str) -> None:
    problem = problem_of(toy_service.http.get(f"{path}?{query}"), 400, "malformed")
    assert [(e.pointer, e.location) for e in problem.errors] == [("/x", "query")]


@pytest.mark.parametrize("name", ["not-a-number", "crash"])
def test_a_defect_is_a_clean_500_and_in_the_log(toy_service: Served, name: str) -> None:
    answer = toy_service.http.post(f"/v1/{name}", json=TOY, headers={"X-Request-Id": f"id-{name}"})
    problem_of(answer, 500, "internal")
    assert "secret" not in answer.text
    assert "Traceback" not in answer.text
    line = toy_service.line(f"id-{name}")
    assert line["level"] == "error"
    assert "Traceback" in line["exception"]


def test_more_than_the_limit_in_flight(start: Callable[..., Served]) -> None:
    served = start(toys(), pool_workers=1, max_in_flight=1, retry_after_s=7)
    body = json.dumps(TOY | {"shapes": [{"kind": "square", "side_m": 5.0}]}).encode()
    with half_open(served.url, "/v1/linger", body):
        until(lambda: "in_flight 1.0" in served.http.get("/metrics").text)
        answer = served.http.post("/v1/linger", json=TOY)
        problem_of(answer, 503, "overloaded")
        assert served.http.post("/v1/add-up", json=TOY).status_code == 200, "it takes no place"
        assert answer.headers["retry-after"] == "7"
        assert served.http.get("/health/live").status_code == 200
        assert served.http.get("/health/ready").status_code == 200
    until(lambda: "in_flight 0.0" in served.http.get("/metrics").text)
    assert served.http.post("/v1/add-up", json=TOY).status_code == 200


def test_a_calculation_above_the_time_limit(start: Callable[..., Served]) -> None:
    served = start(toys(), pool_workers=1, time_limit_s=5.0)
    endless = TOY | {"shapes": [{"kind": "square", "side_m": 9.0}]}
    answer = served.http.post("/v1/linger", json=endless)
    problem_of(answer, 503, "timed-out")
    assert answer.headers["retry-after"] == "1"
    quick = TOY | {"shapes": [{"kind": "square", "side_m": 0}]}
    assert served.http.post("/v1/linger", json=quick).status_code == 200


def test_a_killed_worker_is_replaced_and_its_work_repeated(
    start: Callable[..., Served], tmp_path: Path
) -> None:
    served = start(toys(), pool_workers=1)
    mark = tmp_path / "d"
    answer = served.http.post("/v1/die-once", json=TOY | {"name": str(mark)})
    assert answer.status_code == 200
    assert mark.read_text("utf-8") == "died"


def test_work_stops_when_the_caller_hangs_up(start: Callable[..., Served], tmp_path: Path) -> None:
    served = start(toys(), pool_workers=1)
    mark = tmp_path / "l"
    shape = {"kind": "square", "side_m": 1.0}
    body = json.dumps({"name": str(mark), "shapes": [shape]}).encode()
    with half_open(served.url, "/v1/linger", body):
        until(lambda: "in_flight 1.0" in served.http.get("/metrics").text)
    until(lambda: any(line["status"] == 499 for line in served.lines()))
    quick = {"name": "after", "shapes": [shape | {"side_m": 0}]}
    assert served.http.post("/v1/linger", json=quick).status_code == 200
    time.sleep(1.2)
    assert not mark.exists()
