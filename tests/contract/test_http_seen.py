"""What operators see of a request, and what callers' caches and spreadsheets make of an answer."""

import csv
import gzip
import io
import json
import os
import re
from collections.abc import Callable
from importlib import resources

import pytest
from contract_serving import TOY, Served, problem_of
from contract_toys import toys

from sunhitch_service.drawing.columns import Columns, CsvStyle
from sunhitch_service.http.keys import make_key

KEY, ENTRY = make_key("shop")
JSON = {"Content-Type": "application/json"}


def test_a_line_tells_who_asked_what_it_cost_and_what_went_wrong(
    start: Callable[..., Served],
) -> None:
    served = start(toys(), pool_workers=1, api_keys=[ENTRY], trusted_proxies=["127.0.0.1"])
    headers = {"X-API-Key": KEY, "X-Forwarded-For": "192.0.2.7"}
    shape = {"kind": "square", "side_m": 0.1}
    for name, body in {"good": TOY | {"shapes": [shape]}, "bad": {}}.items():
        served.http.post("/v1/linger", json=body, headers={**headers, "X-Request-Id": name})
    good, bad = served.line("good"), served.line("bad")
    assert (good["client"], good["caller"]) == ("192.0.2.7", "shop")
    assert good["cost_ms"] > 0.0
    assert good["worker"] != os.getpid()
    assert "problem" not in good
    assert bad["problem"] == "malformed"


def test_memory_descriptors_and_the_event_loop_are_metrics(toy_service: Served) -> None:
    toy_service.http.get("/health/live")
    text = toy_service.http.get("/metrics").text
    found = dict(re.findall(r"^(\w+) ([\d.e+-]+)$", text, re.MULTILINE))
    assert float(found["process_resident_memory_bytes"]) > 1e7
    assert float(found["process_open_fds"]) > 3
    assert float(found["sunhitch_loop_held_longest_seconds"]) >= 0.0
    assert float(found["sunhitch_loop_held_seconds_count"]) > 0
    assert 'sunhitch_http_request_seconds_bucket{le="600.0",path="/health/live"}' in text


def test_work_on_the_loop_shows_in_its_metric(start: Callable[..., Served]) -> None:
    served = start(toys(), pool_workers=0)
    shape = {"kind": "square", "side_m": 0.5}
    assert served.http.post("/v1/linger", json=TOY | {"shapes": [shape]}).status_code == 200
    text = served.http.get("/metrics").text
    (longest,) = re.findall(r"^sunhitch_loop_held_longest_seconds (\S+)$", text, re.MULTILINE)
    assert 0.2 < float(longest) < 10.0


@pytest.mark.parametrize(
    "path", ["/openapi.json", "/docs", "/v1/quick", "/v1/reference", "/v1/reference/mount-thread"]
)
def test_what_did_not_change_is_not_sent_again(service: Served, path: str) -> None:
    first = service.http.get(path)
    tag = first.headers["etag"]
    for known in (tag, tag.removeprefix("W/"), f'"other", {tag}', "*"):
        again = service.http.get(path, headers={"If-None-Match": known})
        assert (again.status_code, again.content, again.headers["etag"]) == (304, b"", tag)
        assert again.headers["cache-control"] == first.headers["cache-control"]
    assert service.http.get(path, headers={"If-None-Match": '"other"'}).content == first.content
    assert service.http.head(path, headers={"If-None-Match": tag}).status_code == 304


def test_each_form_of_a_table_has_a_tag_of_its_own(service: Served) -> None:
    path = "/v1/reference/mount-thread"
    tags = {service.http.get(f"{path}?format={word}").headers["etag"] for word in ("json", "csv")}
    assert len(tags) == 2


def _example(name: str) -> bytes:
    return resources.files("sunhitch").joinpath("examples", f"{name}.json").read_bytes()


@pytest.mark.parametrize("name", ["wire-sizing", "array-configuration"])
def test_answers_are_compressed_for_those_who_take_it(
    start: Callable[..., Served], name: str
) -> None:
    served = start(None, pool_workers=1)

    def asked(encoding: str) -> tuple[str, int, bytes]:
        headers = {**JSON, "Accept-Encoding": encoding}
        answer = served.http.post(f"/v1/{name}", content=_example(name), headers=headers)
        assert "Accept-Encoding" in answer.headers["vary"]
        length = int(answer.headers["content-length"])
        return answer.headers.get("content-encoding", ""), length, answer.content

    plain, packed, refused = asked("identity"), asked("gzip, br"), asked("br, gzip;q=0")
    assert (plain[0], packed[0], refused[0]) == ("", "gzip", "")
    assert packed[1] < plain[1] / 3
    assert plain[2] == packed[2] == refused[2]


def test_lines_are_never_held_back_to_be_compressed(toy_service: Served) -> None:
    headers = {"Content-Type": "application/x-ndjson", "Accept-Encoding": "gzip"}
    body = b"\n".join([json.dumps(TOY).encode()] * 100)
    answer = toy_service.http.post("/v1/batch/add-up", content=body, headers=headers)
    assert "content-encoding" not in answer.headers
    assert len(answer.text.splitlines()) == 100


def test_documents_are_compressed_once(service: Served) -> None:
    raw = service.http.stream("GET", "/openapi.json", headers={"Accept-Encoding": "gzip"})
    with raw as answer:
        packed = b"".join(answer.iter_raw())
    plain = service.http.get("/openapi.json", headers={"Accept-Encoding": "identity"})
    assert gzip.decompress(packed) == plain.content


@pytest.mark.parametrize(
    "sign", ["=", "+", "-", "@", "＝", "＋", " =", "\t=", "\n=", "\r=", "\u00a0="]
)
def test_no_cell_of_a_table_runs_as_a_formula(sign: str) -> None:
    written = CsvStyle().written(Columns(("a", "b"), [(f"{sign}1+1", -2.5)]))
    (_, (cell, number)) = csv.reader(io.StringIO(written))
    assert cell == f"'{sign}1+1"
    assert number == "-2.5"


@pytest.mark.parametrize("character", ["\x00", "\x08", "\t", "\x1b", "\x7f", "\x9f", "\ufffe"])
def test_names_hold_no_control_characters(toy_service: Served, character: str) -> None:
    answer = toy_service.http.post("/v1/add-up", json=TOY | {"name": f"a{character}b"})
    problem = problem_of(answer, 400, "malformed")
    (fault,) = problem.errors
    assert fault.pointer == "/name"
    assert "without control characters" in fault.message


def test_a_list_is_measured_before_it_is_walked(toy_service: Served) -> None:
    answer = toy_service.http.post("/v1/add-up", json=TOY | {"shapes": [7] * 3000})
    (fault,) = problem_of(answer, 400, "malformed").errors
    assert fault.pointer == "/shapes"
    assert "of 1 to 20 entries; got a list of 3000" in fault.message


def test_faults_are_told_once_and_no_more_than_fifty(toy_service: Served) -> None:
    unknown = {f"field {number}": 1 for number in range(90)}
    problem = problem_of(toy_service.http.post("/v1/add-up", json=TOY | unknown), 400)
    assert len({(fault.pointer, fault.message) for fault in problem.errors}) == 50
    assert len(problem.errors) == 50
    assert problem.detail.startswith("51 fields or more do not fit; the first 50 are named")
