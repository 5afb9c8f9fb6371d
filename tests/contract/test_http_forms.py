"""One computation, many forms: parts of an answer, drawings along with it, kept answers."""

import csv
import json
import re
from email import message_from_bytes
from email.policy import HTTP
from io import BytesIO, StringIO
from pathlib import Path
from typing import Any

import httpx
import pytest
from contract_serving import TOY, Served, problem_of
from contract_toys import DRAWINGS, SHORT, ToyAnswer, ToyRequest, linger, toys
from msgspec import structs
from odf import opendocument, table
from openpyxl import load_workbook

from sunhitch import Client, RequestRejectedError, build, examples
from sunhitch.codec import plain_data
from sunhitch.operations import WIRE_SIZING
from sunhitch.operations.operation import Operation
from sunhitch.types.basis import Basis
from sunhitch.types.check import AnswerPart, Check
from sunhitch.types.wiring import WireSizingRequest
from sunhitch_service.calculations.calculation import AnyCalculation, Calculation
from sunhitch_service.drawing.spreadsheet import SPREADSHEETS

EXAMPLE: dict[str, Any] = json.loads(
    (Path(__file__).parents[2] / "client/sunhitch/examples/fit-out.json").read_text("utf-8")
)
SIZING = Path(__file__).parents[2] / "client/sunhitch/examples/wire-sizing.json"
SHADED = Path(__file__).parents[2] / "client/sunhitch/examples/shaded-iv.json"
MULTIPART = {"Accept": "multipart/mixed"}


def parts(content_type: str, body: bytes) -> dict[str, tuple[str, bytes]]:
    """Parts of a body by name, as the standard library reads them."""
    whole = message_from_bytes(f"Content-Type: {content_type}\r\n\r\n".encode() + body, policy=HTTP)
    return {
        part["Content-Disposition"].params["name"]: (
            part.get_content_type(),
            part.get_payload(decode=True),
        )
        for part in whole.iter_parts()
    }


def test_an_answer_comes_with_its_drawings(service: Served) -> None:
    views = ("roof-plan", "work-sheet", "parts")
    many = service.http.post(
        f"/v1/fit-out?views={','.join(views)}", json=EXAMPLE, headers=MULTIPART
    )
    assert many.status_code == 200
    found = parts(many.headers["content-type"], many.content)
    assert list(found) == ["answer", *views]
    one = service.http.post("/v1/fit-out", json=EXAMPLE)
    assert found["answer"] == ("application/json", one.content)
    for name in views:
        media_type, body = found[name]
        alone = service.http.post(
            f"/v1/fit-out?view={name}", json=EXAMPLE, headers={"Accept": media_type}
        )
        assert alone.content == body
    assert many.headers["x-sunhitch-verdict"] == one.json()["verdict"]


def test_all_drawings_come_where_none_is_named(service: Served) -> None:
    body = json.loads(
        (Path(__file__).parents[2] / "client/sunhitch/examples/wire-sizing.json").read_text("utf-8")
    )
    many = service.http.post("/v1/wire-sizing", json=body, headers=MULTIPART)
    found = parts(many.headers["content-type"], many.content)
    assert {media_type for media_type, _ in found.values()} > {"application/json", "image/svg+xml"}


def test_parts_of_an_answer_are_told_alone(service: Served) -> None:
    whole = service.http.post("/v1/fit-out", json=EXAMPLE).json()
    answer = service.http.post("/v1/fit-out?fields=summary,parts_list", json=EXAMPLE)
    assert answer.headers["content-type"] == "application/vnd.sunhitch.part+json"
    names = {"summary", "parts_list", "verdict", "counts", "answer_id"}
    assert answer.json() == {name: whole[name] for name in names}


def test_open_checks_are_told_with_their_sources(service: Served) -> None:
    whole = service.http.post("/v1/fit-out", json=EXAMPLE).json()
    told = service.http.post("/v1/fit-out?checks=open&fields=checks,sources", json=EXAMPLE).json()
    is_open = [check for check in whole["checks"] if check["verdict"] != "pass"]
    assert told["checks"] == is_open
    assert len(is_open) < len(whole["checks"])
    assert {one["key"] for one in told["sources"]} == {check["basis"] for check in is_open}
    counted = service.http.post("/v1/fit-out?checks=counts", json=EXAMPLE).json()
    assert counted["checks"] == []
    assert counted["counts"] == whole["counts"] == told["counts"]


def test_sources_asked_for_alone_are_all_told(service: Served) -> None:
    asked = json.loads(SIZING.read_text("utf-8"))
    whole = service.http.post("/v1/wire-sizing", json=asked).json()
    told = service.http.post("/v1/wire-sizing?fields=sources", json=asked).json()
    assert told["sources"] == whole["sources"] != []


def test_parts_are_the_same_embedded_and_from_a_service(service: Served) -> None:
    class FirstScreen(AnswerPart, kw_only=True):
        summary: list[str]
        checks: list[Check]
        sources: list[Basis]

    request = examples.load("fit-out")
    with Client(service.url) as remote, Client.embedded() as embedded:
        told = [
            one.with_options(texts=True).fit_out(request, fields=FirstScreen, checks="open")
            for one in (remote, embedded)
        ]
        drawn = [
            one.fit_out(request, fields=FirstScreen, views=["parts"]).csv()
            for one in (remote, embedded)
        ]
        refused = []
        for one in (remote, embedded):
            with pytest.raises(RequestRejectedError) as caught:
                one.fit_out(request, fields=["oven", "summary"])
            refused.append([structs.astuple(fault) for fault in caught.value.errors])
    assert told[0] == told[1]
    assert {check.verdict for check in told[0].checks} == {"review"}
    assert {one.key for one in told[0].sources} == {check.basis for check in told[0].checks}
    assert drawn[0].removeprefix("\ufeff") == drawn[1].removeprefix("\ufeff")
    assert refused[0] == refused[1]


@pytest.mark.parametrize("query", ["checks=counts", "texts=coded"])
def test_lines_of_a_batch_tell_what_was_asked_for(service: Served, query: str) -> None:
    body = json.loads(SIZING.read_text("utf-8"))
    whole = service.http.post(f"/v1/wire-sizing?{query}", json=body).json()
    lines = {"Content-Type": "application/x-ndjson"}
    path = f"/v1/batch/wire-sizing?{query}"
    told = service.http.post(path, content=f"{json.dumps(body)}\n{{}}\n", headers=lines)
    answer, problem = map(json.loads, told.text.splitlines())
    assert (answer["answer"], problem["kind"]) == (whole, "problem")
    problem_of(service.http.post(f"{path}&fields=notes", content="{}", headers=lines), 400)


def test_batches_tell_codes_embedded_and_from_a_service(service: Served) -> None:
    class Ladder(AnswerPart, kw_only=True):
        rules_ladder: str

    request = examples.load("wire-sizing")
    assert isinstance(request, WireSizingRequest)
    found = []
    with Client(service.url) as remote, Client.embedded() as embedded:
        for one in (remote, embedded):
            coded = one.with_options(texts=True)
            found.append([*coded.batch(WIRE_SIZING, [request])])
            found.append([*one.batch(WIRE_SIZING.part(Ladder), [request])])
    assert found[0] == found[2]
    assert found[1] == found[3]
    assert found[0][0].texts
    assert type(found[1][0]) is Ladder


@pytest.mark.parametrize("query", ["checks=counts", "texts=coded"])
def test_a_stream_ends_in_the_answer_that_was_asked_for(service: Served, query: str) -> None:
    """Its lines have the type of a whole answer, so parts come without progress."""
    lines = {"Accept": "application/x-ndjson"}
    week = plain_data(build.changed(examples.load("harvest"), {"/weather/days": 1}))
    whole = service.http.post(f"/v1/harvest?{query}", json=week).json()
    told = service.http.post(f"/v1/harvest?{query}", json=week, headers=lines)
    assert json.loads(told.text.splitlines()[-1])["answer"] == whole
    named = service.http.post("/v1/harvest?fields=years", json=week, headers=lines)
    problem_of(named, 406, "not-acceptable")


@pytest.mark.parametrize(
    ("query", "named"),
    [
        ("fields=summary,oven", "fields"),
        ("views=roof-plan,oven", "views"),
        ("checks=none", "checks"),
        ("fields=summary&fields=plan", "fields"),
        ("fields=", "fields"),
        ("field=summary", "field"),
    ],
)
def test_what_is_unknown_in_the_query_is_named(service: Served, query: str, named: str) -> None:
    answer = service.http.post(f"/v1/fit-out?{query}", json=EXAMPLE)
    problem = problem_of(answer, 400, "malformed")
    assert [(one.pointer, one.location) for one in problem.errors] == [(f"/{named}", "query")]


def test_views_are_answered_as_several_parts_only(service: Served) -> None:
    answer = service.http.post(
        "/v1/fit-out?views=parts", json=EXAMPLE, headers={"Accept": "application/json"}
    )
    problem_of(answer, 406, "not-acceptable")


def test_another_form_of_a_kept_answer_is_not_computed_again(start: Any, tmp_path: Path) -> None:
    operation = Operation("linger", ToyRequest, ToyAnswer, "Toy", "A toy.", lambda _p, _a: [])
    toy: AnyCalculation = Calculation(operation, linger, SHORT, DRAWINGS)
    for workers in (0, 1):
        served = start((toy, *toys()[:1]), pool_workers=workers, cache_megabytes=1)
        mark = tmp_path / f"done-{workers}"
        body = TOY | {"name": str(mark), "shapes": [{"kind": "square", "side_m": 0.01}]}
        first = served.http.post("/v1/linger", json=body).json()
        mark.unlink()
        sketch = served.http.post("/v1/linger", json=body, headers={"Accept": "image/svg+xml"})
        assert sketch.text.startswith("<svg")
        several = served.http.post("/v1/linger?views=areas", json=body, headers=MULTIPART)
        found = parts(several.headers["content-type"], several.content)
        assert json.loads(found["answer"][1]) == first
        assert not mark.exists()


def test_the_id_of_an_answer_is_that_of_the_request(service: Served) -> None:
    path = "/v1/fit-out?fields=title"
    spelt = json.dumps(dict(reversed(EXAMPLE.items())), indent=2)
    first = service.http.post(path, json=EXAMPLE).json()
    again = service.http.post(
        path, content=spelt, headers={"Content-Type": "application/json"}
    ).json()
    other = service.http.post(path, json=EXAMPLE | {"title": "Another"}).json()
    assert first == again
    assert other["answer_id"] != first["answer_id"]


def test_answers_are_as_small_as_they_are_held_to(service: Served) -> None:
    """30 kB for a whole job and 5 kB for its first screen, compressed, as callers were promised."""
    first = "?checks=open&fields=summary,checks,wire_schedule,protection_schedule"
    for query, most in (("", 30_000), (first, 5_000)):
        answer = service.http.post(f"/v1/fit-out{query}", json=EXAMPLE)
        assert answer.headers["content-encoding"] == "gzip"
        assert int(answer.headers["content-length"]) <= most


@pytest.mark.parametrize("media_type", SPREADSHEETS)
def test_a_workbook_holds_the_values_of_the_answer(service: Served, media_type: str) -> None:
    whole = service.http.post("/v1/fit-out", json=EXAMPLE).json()
    sheets = read_back(
        service.http.post("/v1/fit-out", json=EXAMPLE, headers={"Accept": media_type}), media_type
    )
    assert dict(sheets["about"])["answer_id"] == whole["answer_id"]
    assert dict(sheets["about"])["verdict"] == whole["verdict"]
    asked = dict(sheets["request"])
    assert asked["/placements/1/x_m"] == EXAMPLE["placements"][1]["x_m"]
    for name, part in (
        ("checks", "checks"),
        ("wire-schedule", "wire_schedule"),
        ("protection-schedule", "protection_schedule"),
        ("parts", "parts_list"),
    ):
        head, *rows = sheets[name]
        assert len(rows) == len(whole[part])
        for row, told in zip(rows, whole[part], strict=True):
            for column, cell in zip(head, row, strict=True):
                value = told.get(str(column))
                if str(column) not in told:
                    assert cell in (None, False)
                elif isinstance(value, float):
                    assert cell == pytest.approx(value, rel=1e-14)
                elif isinstance(value, int | str):
                    assert cell == (value if value != "" else None)


def test_a_table_comes_as_a_workbook_too(service: Served) -> None:
    body = json.loads(SHADED.read_text("utf-8")) | {"detail": "curve"}
    whole = service.http.post("/v1/shaded-iv", json=body).json()
    for media_type in SPREADSHEETS:
        sheets = read_back(
            service.http.post(
                "/v1/shaded-iv?view=curve-points", json=body, headers={"Accept": media_type}
            ),
            media_type,
        )
        assert list(sheets) == ["about", "curve-points"]
        curve = [list(row) for row in sheets["curve-points"][1:]]
        told = whole["curve"]
        for place, column in enumerate(("voltage_v", "current_a")):
            assert [row[place] for row in curve] == pytest.approx(told[column], rel=1e-14)


def read_back(answer: httpx.Response, media_type: str) -> dict[str, list[tuple[Any, ...]]]:
    """Values of every sheet, as the packages that the formats are read with tell them."""
    assert (answer.status_code, answer.headers["content-type"]) == (200, media_type)
    stream = BytesIO(answer.content)
    if SPREADSHEETS[media_type] == ".xlsx":
        book = load_workbook(stream)
        return {sheet.title: list(sheet.iter_rows(values_only=True)) for sheet in book}
    tables = opendocument.load(stream).getElementsByType(table.Table)
    return {
        one.getAttribute("name"): [
            tuple(_value(cell) for cell in row.getElementsByType(table.TableCell))
            for row in one.getElementsByType(table.TableRow)
        ]
        for one in tables
    }


def _value(cell: Any) -> Any:
    kind = cell.getAttribute("valuetype")
    if kind == "float":
        return float(cell.getAttribute("value"))
    if kind == "boolean":
        return cell.getAttribute("booleanvalue") == "true"
    return str(cell) or None


def test_a_table_is_written_as_the_country_writes_it(service: Served) -> None:
    path = "/v1/fit-out?view=wire-schedule&decimal=comma"
    told = service.http.post(path, json=EXAMPLE, headers={"Accept": "text/csv"}).text
    rows = csv.DictReader(StringIO(told.removeprefix("\ufeff")), delimiter=";")
    whole = service.http.post("/v1/fit-out?fields=wire_schedule", json=EXAMPLE).json()
    lengths = [float(row["length_m"].replace(",", ".")) for row in rows]
    assert lengths == pytest.approx([one["length_m"] for one in whole["wire_schedule"]])
    refused = service.http.post(f"{path}&separator=comma", json=EXAMPLE)
    problem_of(refused, 422, "contradictory")


def test_a_dark_picture_differs_from_the_light_one_by_its_colours_only(service: Served) -> None:
    path, headers = "/v1/fit-out?view=wiring-diagram", {"Accept": "image/svg+xml"}
    light = service.http.post(path, json=EXAMPLE, headers=headers).text
    dark = service.http.post(f"{path}&theme=dark", json=EXAMPLE, headers=headers).text
    assert light != dark
    colour = re.compile('"#[0-9a-f]{3,6}"')
    assert colour.sub("", light) == colour.sub("", dark)
    assert '"#fff"' not in dark


def test_all_load_cases_come_on_request(service: Served) -> None:
    usual = service.http.post("/v1/fit-out", json=EXAMPLE).json()
    full = service.http.post("/v1/fit-out", json=EXAMPLE | {"detail": "all"}).json()
    assert len(full["checks"]) > 2 * len(usual["checks"])
    assert all(check in full["checks"] for check in usual["checks"])
    for check in full["checks"]:
        if check not in usual["checks"]:
            rule, of = check["title"].partition(": ")[0], check["subject"].partition(": ")[0]
            told = [
                one["utilisation_fraction"]
                for one in usual["checks"]
                if one["title"].startswith(rule) and one["subject"].startswith(of)
            ]
            assert check["verdict"] == "pass"
            assert max(told) >= check["utilisation_fraction"]


def test_a_fit_out_travels_light(service: Served) -> None:
    """What the framework compresses: the first screen of 5 kB at most, the whole of 30."""
    first = "summary,checks,wire_schedule,protection_schedule"
    for query, most in (
        (f"?fields={first}&checks=open", 5000),
        ("", 30000),
    ):
        with service.http.stream("POST", f"/v1/fit-out{query}", json=EXAMPLE) as answer:
            assert answer.headers["content-encoding"] == "gzip"
            assert len(b"".join(answer.iter_raw())) <= most


def test_texts_come_with_their_codes_where_they_are_asked_for(service: Served) -> None:
    plain = service.http.post("/v1/fit-out", json=EXAMPLE).json()
    coded = service.http.post("/v1/fit-out?texts=coded", json=EXAMPLE).json()
    assert plain["texts"] == []
    assert {one["text"] for one in coded["texts"]} >= set(coded["summary"])
    assert coded | {"texts": []} == plain
    part = service.http.post("/v1/fit-out?texts=coded&fields=summary", json=EXAMPLE).json()
    assert {one["text"] for one in part["texts"]} >= set(part["summary"])
    assert len(part["texts"]) < len(coded["texts"])
    assert service.http.post("/v1/fit-out?texts=all", json=EXAMPLE).status_code == 400


@pytest.mark.parametrize("encoding", ["gzip", "identity"])
def test_a_kept_answer_tells_codes_where_they_are_asked_for(service: Served, encoding: str) -> None:
    """Whatever was asked of the same request before."""
    plain, coded = "/v1/wire-sizing", "/v1/wire-sizing?texts=coded"
    for length_m, asked in enumerate(((plain, coded), (coded, plain), ("sheet", plain, coded)), 2):
        body = json.loads(SIZING.read_text("utf-8")) | {"length_m": float(length_m)}
        for path in asked:
            accept = "text/html" if path == "sheet" else "application/json"
            headers = {"Accept": accept, "Accept-Encoding": encoding}
            url = plain if path == "sheet" else path
            answer = service.http.post(url, json=body, headers=headers)
            if path != "sheet":
                assert bool(answer.json()["texts"]) == (path == coded)


def test_faults_of_tables_come_in_words_for_cells(service: Served) -> None:
    for path in ("/v1/reference/none?errors=text", "/v1/reference?errors=text&x=1"):
        answer = service.http.get(path)
        assert (answer.status_code, answer.text[:6]) == (200, "Error:")
    table = service.http.get("/v1/reference/wiring-nec-table-8?errors=text&format=csv")
    assert table.headers["content-type"].startswith("text/csv")
