"""Flat questions and reference tables over HTTP: formats, errors, caching, and the contract."""

import csv
import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import quote
from xml.etree import ElementTree

import pytest
from contract_serving import Served, problem_of
from contract_toys import toys

from sunhitch.questions import QUESTIONS
from sunhitch_service.engine.tables import table

COLD = "/v1/quick/cold-voc?v_oc_v=22.9&lowest_ambient_c=-18"
WIRE = "/v1/quick/wire-size?current_a=20&voltage_v=12&length_m=4"
SHADE = (
    "/v1/quick/shaded-power?p_mp_w=115&v_mp_v=19.2&i_mp_a=5.99&v_oc_v=22.9&i_sc_a=6.4"
    "&cells_in_series=36&shaded_cells=5"
)


def listed(served: Served) -> list[dict[str, Any]]:
    questions: list[dict[str, Any]] = served.http.get("/v1/quick").json()["questions"]
    return questions


def test_every_question_is_listed_with_a_call_that_works(service: Served) -> None:
    questions = listed(service)
    assert [one["name"] for one in questions] == [question.name for question in QUESTIONS]
    for one in questions:
        answer = service.http.get(one["example"])
        assert answer.status_code == 200, answer.text
        assert answer.headers["content-type"] == "text/plain; charset=utf-8"
        whole = service.http.get(one["example"].replace("format=txt", "format=json")).json()
        assert next(iter(whole)) == one["value"]
        assert answer.text
        assert answer.text == answer.text.strip()


def test_the_value_alone(service: Served) -> None:
    assert service.http.get(f"{COLD}&format=txt").content == b"27.022"
    assert service.http.get(f"{COLD}&format=txt&field=panel_v_oc_v").content == b"27.022"
    assert service.http.get(f"{WIRE}&format=txt").content == b"6 AWG"
    none = f"{WIRE.replace('=20&', '=9000&')}&format=txt&field=area_mm2"
    assert service.http.get(none).content == b"none"


def test_one_field_in_every_format(service: Served) -> None:
    field = "&field=metric_size"
    assert service.http.get(f"{WIRE}{field}").json() == "16 mm²"
    assert service.http.get(f"{WIRE}{field}&format=csv").text == "\ufeffmetric_size\r\n16 mm²\r\n"
    assert service.http.get(f"{WIRE}{field}&format=txt").text == "16 mm²"


def test_columns_hold_what_the_json_holds(service: Served) -> None:
    answer = service.http.get(f"{WIRE}&format=csv")
    assert answer.headers["content-type"] == "text/csv; charset=utf-8"
    names, values = csv.reader(io.StringIO(answer.text[1:]))
    whole = service.http.get(WIRE).json()
    assert names == list(whole)
    for value, known in zip(values, whole.values(), strict=True):
        if isinstance(known, float):
            assert float(value) == pytest.approx(known, rel=1e-11)
            assert "e" not in value.lower()
        else:
            assert value == ("" if known is None else known)


@pytest.mark.parametrize(
    ("accept", "query", "media_type"),
    [
        ("*/*", "", "application/json"),
        ("text/csv", "", "text/csv; charset=utf-8"),
        ("text/plain", "", "text/plain; charset=utf-8"),
        ("text/html, text/*;q=0.5", "&format=json", "application/json"),
    ],
)
def test_the_query_goes_before_accept(
    service: Served, accept: str, query: str, media_type: str
) -> None:
    answer = service.http.get(COLD + query, headers={"Accept": accept})
    assert (answer.status_code, answer.headers["content-type"]) == (200, media_type)
    assert "Accept" in answer.headers["vary"]


def test_other_media_types_are_not_on_offer(service: Served) -> None:
    assert problem_of(service.http.get(COLD, headers={"Accept": "image/png"}), 406).detail


@pytest.mark.parametrize(
    ("query", "status", "pointers"),
    [
        ("v_oc_v=22.9&lowest_ambient_c=-18&x=1", 400, ["/x"]),
        ("v_oc_v=22.9&v_oc_v=22.9&lowest_ambient_c=-18", 400, ["/v_oc_v"]),
        ("v_oc_v=NaN&lowest_ambient_c=-Infinity", 400, ["/v_oc_v", "/lowest_ambient_c"]),
        ("v_oc_v=&lowest_ambient_c=-18", 400, ["/v_oc_v"]),
        ("lowest_ambient_c=-18", 400, ["/v_oc_v"]),
        ("v_oc_v=22.9&lowest_ambient_c=-18&format=pdf", 400, ["/format"]),
        ("v_oc_v=22.9&lowest_ambient_c=-18&format=txt&format=txt", 400, ["/format"]),
        ("v_oc_v=22.9&lowest_ambient_c=-18&field=nothing&errors=loud", 400, ["/field", "/errors"]),
        ("v_oc_v=0&lowest_ambient_c=-18&field=nothing", 400, ["/field", "/v_oc_v"]),
        ("v_oc_v=22.9", 422, ["/lowest_ambient_c"]),
        (
            "v_oc_v=22.9&lowest_ambient_c=-18&lowest_ambient_f=0",
            422,
            ["/lowest_ambient_c", "/lowest_ambient_f"],
        ),
        ("v_oc_v=22.9&lowest_ambient_f=-50", 422, ["/beta_voc_fraction_per_c"]),
    ],
)
def test_faults_point_at_query_parameters(
    service: Served, query: str, status: int, pointers: list[str]
) -> None:
    problem = problem_of(service.http.get(f"/v1/quick/cold-voc?{query}"), status)
    assert [fault.pointer for fault in problem.errors] == pointers
    assert {fault.location for fault in problem.errors} == {"query"}


@pytest.mark.parametrize(
    ("query", "said"),
    [
        (
            "v_oc_v=abc&lowest_ambient_c=-18",
            "Error: v_oc_v: Expected a number from 0.1 to 600 V; got `abc`.",
        ),
        ("v_oc_v=22.9&lowest_ambient_f=-50", "Error: beta_voc_fraction_per_c: Give the panel's"),
        ("v_oc_v=22.9&lowest_ambient_c=-18&errors=text", "Error: errors: Given more than once"),
        ("v_oc_v=22.9&lowest_ambient_c=-18&format=pdf", "Error: format: Expected one of `json`"),
    ],
)
def test_errors_as_text(service: Served, query: str, said: str) -> None:
    answer = service.http.get(f"/v1/quick/cold-voc?{query}&errors=text")
    assert (answer.status_code, answer.headers["content-type"]) == (
        200,
        "text/plain; charset=utf-8",
    )
    assert answer.text.startswith(said)
    assert "\n" not in answer.text
    assert answer.headers["cache-control"] == "no-store"


def test_refused_media_types_as_text(service: Served) -> None:
    answer = service.http.get(f"{COLD}&errors=text", headers={"Accept": "image/png"})
    assert (answer.status_code, answer.text[:22]) == (200, "Error: Not acceptable.")


def test_every_refusal_comes_as_text(start: Callable[..., Served]) -> None:
    """Without a key 401, beyond the rate 429, of a name that is none 404: each in one cell."""
    guarded = start(toys(), pool_workers=0, keys_required=True)
    limited = start(toys(), pool_workers=0, rate_limit_per_minute=1)
    limited.http.get(COLD)
    asked = [
        (guarded.http, COLD),
        (limited.http, COLD),
        (start(toys(), pool_workers=0).http, "/v1/quick/no-question?"),
    ]
    for http, path in asked:
        answer = http.get(f"{path}&errors=text")
        assert (answer.status_code, answer.text[:7]) == (200, "Error: ")
        assert answer.headers["content-type"] == "text/plain; charset=utf-8"
        assert answer.text.endswith(".")
        assert http.get(path).status_code in {401, 404, 429}


def test_a_slash_at_the_end_does_no_harm(service: Served) -> None:
    path, query = COLD.split("?")
    assert service.http.get(f"{path}/?{query}").json() == service.http.get(COLD).json()


def test_too_many_at_a_time_as_text(start: Callable[..., Served], tmp_path: Path) -> None:
    """The limit is reached by a long call that the answer of the short one does not wait for."""
    from concurrent.futures import ThreadPoolExecutor

    from contract_serving import TOY, until
    from contract_toys import toys

    served = start(toys(), pool_workers=1, max_in_flight=1)
    over = tmp_path / "over"
    with ThreadPoolExecutor(1) as pool:
        waiting = pool.submit(served.http.post, "/v1/toil", json=TOY | {"name": str(over)})
        try:
            until(lambda: "in_flight 1.0" in served.http.get("/metrics").text)
            text = served.http.get(f"{SHADE}&errors=text")
            busy = served.http.get(SHADE)
            assert served.http.get(COLD).status_code == 200, "short calls take no place"
        finally:
            over.touch()
        assert waiting.result().status_code == 200
    assert (text.status_code, text.text[:18]) == (200, "Error: Overloaded.")
    assert problem_of(busy, 503).status == 503
    assert busy.headers["retry-after"]


def test_longer_answers_come_from_the_pool(start: Callable[..., Served]) -> None:
    """The same answer, and the same refusal, from another process."""
    inline, pooled = start((), pool_workers=0), start((), pool_workers=1)
    assert pooled.http.get(SHADE).content == inline.http.get(SHADE).content
    refused = f"{SHADE}&shaded_panels=2"
    problem = problem_of(pooled.http.get(refused), 422)
    assert [fault.pointer for fault in problem.errors] == ["/shaded_panels"]


@pytest.mark.parametrize(
    "path", [f"{COLD}&format=txt", WIRE, "/v1/quick", "/v1/reference", "/v1/reference/mount-thread"]
)
def test_head_and_options(service: Served, path: str) -> None:
    got, head = service.http.get(path), service.http.head(path)
    assert (head.status_code, head.content) == (200, b"")
    for name in ("content-type", "content-length", "vary", "cache-control"):
        assert head.headers[name] == got.headers[name]
    options = service.http.options(path)
    assert (options.status_code, options.headers["allow"]) == (204, "GET, HEAD, OPTIONS")
    assert problem_of(service.http.post(path), 405).status == 405


def test_options_does_not_mind_the_query(service: Served) -> None:
    assert service.http.options("/v1/quick/cold-voc?x=1&x=2").status_code == 204


def test_answers_may_be_kept(service: Served) -> None:
    first, again = service.http.get(COLD), service.http.get(COLD)
    assert first.headers["cache-control"] == "public, max-age=3600"
    assert {"Accept", "Accept-Encoding"} <= set(first.headers["vary"].split(", "))
    assert first.content == again.content


def test_a_shared_cache_keeps_origins_apart(start: Callable[..., Served]) -> None:
    http = start((), pool_workers=0, cors_origins=["https://shop.example"]).http
    answer = http.get(COLD, headers={"Origin": "https://shop.example"})
    assert answer.headers["access-control-allow-origin"] == "https://shop.example"
    assert "Origin" in answer.headers["vary"]


def test_unknown_questions_and_tables(service: Served) -> None:
    for path in ("/v1/quick/weather", "/v1/reference/mount-unknown", "/v1/reference/../secret"):
        assert problem_of(service.http.get(path), 404).status == 404


def test_every_table_of_the_engine_can_be_had(service: Served) -> None:
    tables = service.http.get("/v1/reference").json()["tables"]
    assert len(tables) > 40
    for one in tables:
        whole = service.http.get(f"/v1/reference/{one['name']}").json()
        assert whole["basis"] == one["basis"]
        assert whole["basis"]["reference"]
        assert len(whole["rows"]) == one["rows"]
        assert all(list(row) == one["columns"] for row in whole["rows"])
    rows = list(csv.reader(io.StringIO(service.http.get("/v1/reference?format=csv").text[1:])))
    assert [row[0] for row in rows[1:]] == [one["name"] for one in tables]


def test_a_table_is_given_as_the_engine_reads_it(service: Served) -> None:
    whole = service.http.get("/v1/reference/wiring-nec-table-8").json()
    read = table("wiring", "nec_table_8")
    assert [row["awg"] for row in whole["rows"]] == [row["awg"] for row in read.rows]
    for shown, row in zip(whole["rows"], read.rows, strict=True):
        assert shown["area_mm2"] == float(row["area_mm2"])
        assert shown["row_note"] == (row["row_note"] or None)
    text = service.http.get("/v1/reference/wiring-nec-table-8?format=csv").text[1:]
    first = next(csv.DictReader(io.StringIO(text)))
    assert first["source"].startswith(read.basis.reference)
    assert {name: first[name] for name in ("awg", "area_mm2")} == {
        name: read.rows[0][name] for name in ("awg", "area_mm2")
    }


def test_every_parameter_is_in_the_schema(service: Served) -> None:
    paths = json.loads(service.http.get("/openapi.json").content)["paths"]
    for question in QUESTIONS:
        operation = paths[question.path]["get"]
        asked = [one for one in operation["parameters"] if one["in"] == "query"]
        assert all(one["description"] for one in asked)
        assert {"format", "field", "errors"} < {one["name"] for one in asked}
        shown = "&".join(
            f"{one['name']}={quote(str(one['example']))}" for one in asked if "example" in one
        )
        assert service.http.get(f"{question.path}?{shown}").status_code == 200


def test_a_question_asked_again_is_not_sent_again(service: Served) -> None:
    path = "/v1/quick/cold-voc?v_oc_v=22.9&lowest_ambient_c=-18&format="
    for word in ("json", "csv", "txt", "xml"):
        first = service.http.get(path + word)
        again = service.http.get(path + word, headers={"If-None-Match": first.headers["etag"]})
        assert (again.status_code, again.content) == (304, b"")
        stale = service.http.get(path + word, headers={"If-None-Match": 'W/"stale"'})
        assert stale.content == first.content


def _parsed(content: bytes) -> ElementTree.Element:
    return ElementTree.fromstring(content)  # noqa: S314 - our own answer


def test_a_question_answers_as_flat_xml(service: Served) -> None:
    path = "/v1/quick/cold-voc?v_oc_v=22.9&lowest_ambient_c=-18&panels_in_series=3"
    whole = service.http.get(path).json()
    told = _parsed(service.http.get(f"{path}&format=xml").content)
    assert [one.tag for one in told] == list(whole)
    assert float(told.findtext("string_v_oc_v") or "") == pytest.approx(whole["string_v_oc_v"])
    (alone,) = _parsed(service.http.get(f"{path}&format=xml&field=remedy").content)
    assert alone.tag == "remedy"


def test_tables_are_written_as_the_country_writes_them(service: Served) -> None:
    german = service.http.get(f"{COLD}&format=csv&decimal=comma&field=string_v_oc_v")
    assert german.content == b"\xef\xbb\xbfstring_v_oc_v\r\n27,022\r\n"
    whole = service.http.get(f"{COLD}&format=csv&decimal=comma").text[1:]
    (row,) = csv.DictReader(io.StringIO(whole), delimiter=";")
    assert row["panel_v_oc_v"] == "27,022"
    table_ = service.http.get("/v1/reference/wiring-nec-table-8?format=csv&separator=tab").text
    assert table_.startswith("\ufeffawg\t")
    tags = {
        service.http.get(f"{COLD}&format=csv{style}").headers["etag"]
        for style in ("", "&decimal=comma", "&separator=tab")
    }
    assert len(tags) == 3


@pytest.mark.parametrize(
    ("query", "status", "named"),
    [
        ("decimal=comma&separator=comma", 422, "/separator"),
        ("decimal=dot", 400, "/decimal"),
        ("separator=", 400, "/separator"),
    ],
)
def test_tables_that_nobody_could_read_are_refused(
    service: Served, query: str, status: int, named: str
) -> None:
    for path in (f"{COLD}&format=csv&", "/v1/reference?format=csv&"):
        problem = problem_of(service.http.get(path + query), status)
        assert [fault.pointer for fault in problem.errors] == [named]


def test_slashes_before_and_behind_an_address_do_no_harm(service: Served) -> None:
    plain = service.http.get(f"{COLD}&format=txt").text
    for path in (COLD.replace("?", "/?"), f"/{COLD}"):
        assert service.http.get(f"{service.url}{path}&format=txt").text == plain


def test_codes_of_the_texts_of_a_row_come_with_json_alone(service: Served) -> None:
    whole, coded = (service.http.get(f"{COLD}{more}") for more in ("", "&texts=coded"))
    told = coded.json()
    assert {"caution", "statement"} <= {one["kind"] for one in told["texts"]}
    assert {one["text"] for one in told["texts"]} >= {told["assumed"], told["caution"]}
    assert {name: one for name, one in told.items() if name != "texts"} == whole.json()
    assert coded.headers["etag"] != whole.headers["etag"]
    for flat in ("format=csv", "format=txt", "format=xml", "field=caution"):
        plain, other = (service.http.get(f"{COLD}&{flat}{more}") for more in ("", "&texts=coded"))
        assert plain.content == other.content
    problem_of(service.http.get(f"{COLD}&texts=all"), 400)
