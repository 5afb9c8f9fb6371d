"""Answers that show, save and compare themselves, over HTTP as from the engine."""

import json
import logging
import runpy
import sys
from collections.abc import Callable
from pathlib import Path

import anyio
import httpx
import msgspec
import pytest
from odf import opendocument
from openpyxl import load_workbook
from service_in_memory import ANSWER, JSON, REQUEST, Script, answer, check, good, refusal

from sunhitch import (
    AsyncClient,
    Client,
    RequestRejectedError,
    UnexpectedAnswerError,
    build,
    examples,
)
from sunhitch.codec import encode, plain_data
from sunhitch.operations import FIT_OUT, SHADED_IV
from sunhitch.pictures import drawn_as
from sunhitch.testing import Canned
from sunhitch.types.check import AnswerPart
from sunhitch.types.fitout import FitOutAnswer
from sunhitch.types.shade import Curve, ShadedIvAnswer

EXAMPLES = Path(__file__).parents[2] / "client" / "sunhitch" / "examples"
BASE = "http://service.test"
Ask = Callable[..., ShadedIvAnswer]


def ask_waiting(script: Script, request: object = REQUEST, **how: object) -> ShadedIvAnswer:
    http = httpx.Client(transport=httpx.MockTransport(script))
    return Client(BASE, http_client=http).shaded_iv(request, **how)


def ask_in_loop(script: Script, request: object = REQUEST, **how: object) -> ShadedIvAnswer:
    async def ask() -> ShadedIvAnswer:
        http = httpx.AsyncClient(transport=httpx.MockTransport(script))
        async with http:
            return await AsyncClient(BASE, http_client=http).shaded_iv(request, **how)

    return anyio.run(ask)


@pytest.fixture(params=[ask_waiting, ask_in_loop], ids=["Client", "AsyncClient"])
def ask(request: pytest.FixtureRequest) -> Ask:
    return request.param


def several(_request: httpx.Request) -> httpx.Response:
    """The answer and two documents, as RFC 2046 puts them together."""
    parts = [
        (b"application/json", b"answer", encode(ANSWER)),
        (b"text/html; charset=utf-8", b"sheet", "<p>Ω</p>\r\n--no end\r\n".encode()),
        (b"image/svg+xml", b"cells", b"<svg/>"),
    ]
    body = b"".join(
        b"--cut-7\r\nContent-Type: %s\r\nContent-Disposition: inline; name=%s\r\n\r\n%s\r\n" % part
        for part in parts
    )
    head = {"Content-Type": 'multipart/mixed; boundary="cut-7"', "X-Request-Id": "r-1"}
    return httpx.Response(200, content=body + b"--cut-7--\r\n", headers=head)


def test_documents_come_along_with_the_answer(ask: Ask) -> None:
    script = Script(several)
    found = ask(script, views=["sheet", "cells"])
    assert found == ANSWER
    assert found.html() == found.html("sheet") == "<p>Ω</p>\r\n--no end\r\n"
    assert found.svg("cells") == "<svg/>"
    (asked,) = script.asked
    assert asked.headers["accept"] == "multipart/mixed"
    assert dict(asked.url.params) == {"views": "sheet,cells"}


def part(_request: httpx.Request) -> httpx.Response:
    told = {"verdict", "counts", "answer_id", "open_circuit_voltage_v"}
    whole = plain_data(ANSWER)
    body = json.dumps({name: one for name, one in whole.items() if name in told})
    head = {"Content-Type": "application/vnd.sunhitch.part+json"}
    return httpx.Response(200, content=body, headers=head)


class Voltage(AnswerPart, kw_only=True):
    """The part of an answer that a program wants."""

    open_circuit_voltage_v: float


@pytest.mark.parametrize("fields", [Voltage, ["open_circuit_voltage_v"]])
def test_parts_of_an_answer_have_a_type_of_their_own(ask: Ask, fields: object) -> None:
    script = Script(part)
    found = ask(script, fields=fields, checks="open")
    assert isinstance(found, AnswerPart)
    assert not isinstance(found, ShadedIvAnswer)
    assert found.open_circuit_voltage_v == ANSWER.open_circuit_voltage_v
    assert (found.verdict, found.counts) == (ANSWER.verdict, ANSWER.counts)
    assert not hasattr(found, "curve")
    (asked,) = script.asked
    assert asked.headers["accept"] == "application/vnd.sunhitch.part+json"
    always = {"verdict", "counts", "answer_id"} if fields is Voltage else set()
    assert set(asked.url.params["fields"].split(",")) == {"open_circuit_voltage_v", *always}
    assert asked.url.params["checks"] == "open"


def test_a_part_that_the_service_does_not_tell_is_missed(ask: Ask) -> None:
    class Curved(AnswerPart, kw_only=True):
        curve: Curve

    with pytest.raises(UnexpectedAnswerError, match="/curve"):
        ask(Script(part), fields=Curved)


def test_parts_come_with_documents_and_from_prepared_answers(ask: Ask) -> None:
    script = Script(several)
    found = ask(script, fields=Voltage, views=["cells"])
    assert (found.svg(), type(found)) == ("<svg/>", Voltage)
    assert script.asked[0].headers["accept"] == "multipart/mixed"
    assert set(script.asked[0].url.params) == {"views", "fields"}
    canned = Client.over(Canned({SHADED_IV: ANSWER}))
    assert canned.shaded_iv(REQUEST, fields=Voltage).verdict == ANSWER.verdict


def test_a_document_that_did_not_come_along_cannot_be_had_in_a_loop() -> None:
    with pytest.raises(ValueError, match=r"name it in views=\[…\]"):
        ask_in_loop(Script(several), views=["sheet", "cells"]).svg("power")


def test_answers_know_the_id_of_their_call(ask: Ask) -> None:
    named = httpx.Response(200, content=encode(ANSWER), headers={**JSON, "X-Request-Id": "r-9"})
    assert ask(Script(named)).request_id == "r-9"


def test_calls_and_retries_are_logged(
    ask: Ask, pauses: list[float], caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level(logging.DEBUG, "sunhitch"):
        ask(Script(refusal(503), good))
    told = [(one.levelname, one.getMessage()) for one in caplog.records if one.name == "sunhitch"]
    assert [level for level, _ in told] == ["DEBUG", "WARNING", "DEBUG"]
    assert f"POST {BASE}/v1/shaded-iv answered" in told[2][1]
    assert "503 Some problem" in told[1][1]
    assert "Asking again in" in told[1][1]


def test_other_options_leave_the_client_as_it_is() -> None:
    script = Script(good)
    http = httpx.Client(transport=httpx.MockTransport(script))
    client = Client(BASE, "k-1", http_client=http)
    options = {"timeout": 2.5, "headers": {"x-job": "7", "accept": "text/html"}}
    client.with_options(**options).shaded_iv(REQUEST)
    client.shaded_iv(REQUEST)
    other, own = script.asked
    assert other.headers["x-job"] == "7"
    assert other.headers["accept"] == "application/json"
    assert [one.extensions["timeout"]["read"] for one in (other, own)] == [2.5, 60.0]
    assert "x-job" not in own.headers
    assert own.headers["x-api-key"] == other.headers["x-api-key"] == "k-1"
    with pytest.raises(ValueError, match="above 0"):
        client.with_options(time_limit=-1.0)


def test_a_time_limit_of_its_own_ends_the_attempts(pauses: list[float]) -> None:
    http = httpx.Client(transport=httpx.MockTransport(Script(refusal(503))))
    client = Client(BASE, http_client=http).with_options(time_limit=0.5)
    with pytest.raises(Exception, match="503"):
        client.shaded_iv(REQUEST)
    assert sum(pauses) < 0.5


NEWER = {**msgspec.to_builtins(REQUEST), "snow_m": 0.2}


def test_plain_data_of_a_newer_contract_is_passed_on_where_asked() -> None:
    script = Script(good)
    http = httpx.Client(transport=httpx.MockTransport(script))
    client = Client(BASE, http_client=http)
    with pytest.raises(RequestRejectedError):
        client.shaded_iv(NEWER)
    assert client.with_options(checked=False).shaded_iv(NEWER) == ANSWER
    spaced = msgspec.json.format(msgspec.json.encode(NEWER), indent=2)
    assert client.with_options(checked=False).raw(SHADED_IV, spaced).body == encode(ANSWER)
    with pytest.raises(RequestRejectedError, match="not valid JSON"):
        client.with_options(checked=False).shaded_iv(b"{")
    assert [msgspec.json.decode(asked.content) for asked in script.asked] == [NEWER, NEWER]


def test_the_address_may_stand_in_the_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    script = Script(good)
    monkeypatch.setenv("SUNHITCH_URL", BASE)
    Client(http_client=httpx.Client(transport=httpx.MockTransport(script))).shaded_iv(REQUEST)
    assert script.asked[0].url.host == "service.test"
    monkeypatch.delenv("SUNHITCH_URL")
    with pytest.raises(ValueError, match="SUNHITCH_URL"):
        Client()


def test_what_is_different_is_told_in_ten_lines() -> None:
    older = answer(check("rule-a", "fail", subject="foot 1 (left)", utilisation_fraction=1.5))
    eased = answer(check("rule-a", subject="foot 1 (right)", utilisation_fraction=0.5))
    newer = msgspec.structs.replace(eased, open_circuit_voltage_v=30.0)
    with_documents = ask_waiting(Script(good))
    told = with_documents._documents.differences(older, newer).splitlines()
    assert told == [
        "verdict: fail → pass",
        "Heat in the hottest cell (foot 1): fail, 150 % used → pass, 50 % used",
        "open_circuit_voltage_v: 21.9 → 30",
    ]
    many = answer(*(check(f"rule-{n}", subject=str(n)) for n in range(40)))
    changed = msgspec.structs.replace(many, panels=[], local_maxima=[], comparison=[])
    assert len(with_documents._documents.differences(older, changed).splitlines()) <= 10


def test_only_answers_of_one_calculation_compare() -> None:
    job = (EXAMPLES / "fit-out.json").read_bytes()
    with Client.embedded() as client, pytest.raises(TypeError, match="different calculations"):
        client.call(FIT_OUT, job).diff(client.shaded_iv(REQUEST))  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def fit() -> FitOutAnswer:
    with Client.embedded() as client:
        return client.call(FIT_OUT, (EXAMPLES / "fit-out.json").read_bytes())


def test_a_fit_tells_itself_in_one_line_and_its_lists_as_frames(fit: FitOutAnswer) -> None:
    assert repr(fit) == f"<FitOutAnswer {fit.verdict}: {len(fit.checks)} checks>"
    assert list(fit.frame().code) == [check.code for check in fit.checks]
    assert list(fit.frame("wire_schedule").line) == [wire.line for wire in fit.wire_schedule]


def test_a_variant_is_told_by_what_it_changes(fit: FitOutAnswer) -> None:
    job = msgspec.json.decode((EXAMPLES / "fit-out.json").read_bytes(), type=FIT_OUT.request)
    with Client.embedded() as client:
        longer = client.fit_out(build.changed(job, {"/cables/controller_to_battery_m": 6.0}))
    told = fit.diff(longer)
    assert len(told.splitlines()) <= 10
    assert "wire_schedule[W2].length_m: 1 → 6" in told


def test_frames_of_polars(fit: FitOutAnswer) -> None:
    assert fit.polars("wire_schedule")["line"].to_list() == [one.line for one in fit.wire_schedule]


VANS = """plate,roof_length_m,roof_width_m,panels,battery_ah
books-1,5.4,1.9,2,200
books-2,3.2,1.7,2,100
books-3,0.1,1.7,2,100
"""


def test_the_script_of_a_fleet_writes_the_documents_of_every_van(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    script = Path(__file__).parent / "fleet.py"
    source = script.read_text("utf-8")
    assert len(source.splitlines()) <= 40
    assert "ignore" not in source
    (tmp_path / "vans.csv").write_text(VANS, "utf-8")
    monkeypatch.setattr(sys, "argv", ["fleet.py", str(tmp_path / "vans.csv"), str(tmp_path)])
    runpy.run_path(str(script))
    told = capsys.readouterr().out.splitlines()
    assert told[0] == "books-1 pass"
    assert told[2].startswith("books-3 400 Malformed request")
    assert any(line.startswith("4 piece Panel panel") for line in told)
    for plate in ("books-1", "books-2"):
        documents = [f"{plate}.html"] + [f"{plate}-{k}" for k in DOCUMENTS]
        assert all((tmp_path / name).stat().st_size > 500 for name in documents)


DOCUMENTS = ("roof.svg", "wiring.svg", "parts.csv")


@pytest.mark.parametrize("suffix", [".xlsx", ".ods"])
def test_a_service_sends_workbooks_that_are_saved(tmp_path: Path, suffix: str) -> None:
    drawn = httpx.Response(
        200, content=b"PK\x03\x04\xff\x00", headers={"Content-Type": drawn_as(f"answer{suffix}")}
    )
    script = Script(good, drawn)
    ask_waiting(script).save(tmp_path / f"answer{suffix}")
    assert (tmp_path / f"answer{suffix}").read_bytes() == b"PK\x03\x04\xff\x00"
    assert script.asked[1].headers["accept"] == drawn_as(f"answer{suffix}")


def test_the_engine_writes_workbooks_of_the_answer_at_hand(tmp_path: Path) -> None:
    with Client.embedded() as client:
        found = client.shaded_iv(examples.load(SHADED_IV))
        found.save(tmp_path / "all.xlsx")
        found.save(tmp_path / "curve.xlsx", "curve-points")
        found.save(tmp_path / "all.ods")
    whole = load_workbook(tmp_path / "all.xlsx")
    assert {"about", "request", "checks", "curve-points", "sources"} <= set(whole.sheetnames)
    assert found.answer_id in {cell.value for row in whole["about"].rows for cell in row}
    assert set(load_workbook(tmp_path / "curve.xlsx").sheetnames) == {"about", "curve-points"}
    assert opendocument.load(tmp_path / "all.ods").spreadsheet.hasChildNodes()
