"""Work is judged before it starts, and an answer that is kept is the answer that was given."""

import json
import re
from collections.abc import Callable
from importlib import resources

import pytest
from contract_serving import TOY, Served, problem_of
from contract_toys import toys
from msgspec.structs import replace

from sunhitch.codec import decode_strict
from sunhitch.types.revision import FitOutChangeRequest
from sunhitch_service.calculations import calculations
from sunhitch_service.calculations.calculation import AnyCalculation
from sunhitch_service.tasks.problems import Kind, ProblemError
from sunhitch_service.tasks.task import require_affordable

ENDPOINTS = {endpoint.operation.name: endpoint for endpoint in calculations()}


def example(name: str) -> bytes:
    return resources.files("sunhitch").joinpath("examples", f"{name}.json").read_bytes()


@pytest.mark.parametrize("endpoint", ENDPOINTS.values(), ids=list(ENDPOINTS))
def test_every_calculation_is_refused_before_it_starts_where_it_would_take_too_long(
    endpoint: AnyCalculation,
) -> None:
    request = decode_strict(example(endpoint.operation.name), endpoint.operation.request)
    if isinstance(request, FitOutChangeRequest):  # how long a search takes is not known before
        request = replace(request, goal="as-wanted")
    expected_ms = require_affordable(endpoint.computing_time, request, 3600.0)
    assert expected_ms > 0.0
    with pytest.raises(ProblemError) as caught:
        require_affordable(endpoint.computing_time, request, expected_ms / 1000.0 * 0.99)
    assert caught.value.kind is Kind.TOO_MUCH_WORK
    assert re.search(r"s\. (Give fewer|Lower) ", caught.value.detail)


def test_the_refusal_says_what_to_reduce(start: Callable[..., Served]) -> None:
    served = start(None, pool_workers=0, time_limit_s=4.4)
    headers = {"Content-Type": "application/json"}
    answer = served.http.post("/v1/harvest", content=example("harvest"), headers=headers)
    problem = problem_of(answer, 422, "too-much-work")
    assert "above the limit of 4.4 s" in problem.detail
    assert "fewer days" in problem.detail
    shorter = json.loads(example("harvest")) | {"compare": [], "other_years": []}
    shorter["weather"]["days"] = 7
    answer = served.http.post("/v1/harvest", json=shorter)
    assert answer.status_code == 200, answer.text


def test_answers_are_kept_where_that_was_chosen(start: Callable[..., Served]) -> None:
    served = start(toys(), pool_workers=0, cache_megabytes=1)

    def area(side_m: float, accept: str = "application/json") -> str:
        body = TOY | {"shapes": [{"kind": "square", "side_m": side_m}]}
        return served.http.post("/v1/add-up", json=body, headers={"Accept": accept}).text

    def hits() -> int:
        text = served.http.get("/metrics").text
        (line,) = [one for one in text.splitlines() if one.startswith("sunhitch_cache_hits_total")]
        return int(float(line.split()[1]))

    first = area(2.0)
    assert hits() == 0
    assert area(2.0) == first
    assert hits() == 1
    assert json.loads(area(3.0))["area_m2"] == 9.0
    assert area(2.0, "image/svg+xml").startswith("<svg")
    assert area(2.0, "text/csv").startswith("name")
    assert hits() == 3, "each is drawn from the answer that was kept"


def test_what_was_refused_is_not_kept(start: Callable[..., Served]) -> None:
    served = start(toys(), pool_workers=0, cache_megabytes=1)
    for _ in range(2):
        assert served.http.post("/v1/add-up", json=TOY | {"copies": 7}).status_code == 422
    assert "sunhitch_cache_hits_total 0.0" in served.http.get("/metrics").text


def test_answers_are_kept_by_default(start: Callable[..., Served]) -> None:
    served = start(toys(), pool_workers=0)
    for _ in range(2):
        assert served.http.post("/v1/add-up", json=TOY).status_code == 200
    assert "sunhitch_cache_hits_total 1.0" in served.http.get("/metrics").text


def test_every_answer_says_what_computed_it(service: Served) -> None:
    stamp = service.http.get("/health/live").json()["engine"]
    told = f"version={stamp['version']}; data-sha256={stamp['data_sha256']}"
    body = {"content": example("wire-sizing"), "headers": {"Content-Type": "application/json"}}
    answer = service.http.post("/v1/wire-sizing", **body)
    assert answer.json()["engine"] == stamp
    for one in (
        answer,
        service.http.get("/v1/quick/cold-voc?v_oc_v=22.9&lowest_ambient_c=-18&format=txt"),
        service.http.get("/v1/nothing"),
        service.http.get("/openapi.json"),
    ):
        assert one.headers["x-sunhitch-engine"] == told
