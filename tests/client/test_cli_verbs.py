"""The command line as its users meet it: output, exit codes, readable faults."""

import errno
import io
import json
import os
import re
import socket
import subprocess
import sys
from pathlib import Path

import httpx
import msgspec
import pytest
from plausible import light_example
from service_in_memory import REQUEST, Script, answer, change_shaded_iv, check, good, refusal
from test_client_weather import epw

from sunhitch import Client, SunhitchError, __version__, cli, weather
from sunhitch.cli import calculating
from sunhitch.cli.arguments import parser
from sunhitch.cli.sharing import RequestText
from sunhitch.codec import encode
from sunhitch.operations import OPERATIONS
from sunhitch.questions import QUESTIONS
from sunhitch.report.layout import Page
from sunhitch.texts import Text
from sunhitch.types.basis import Assumption
from sunhitch.types.check import Answer
from sunhitch.types.harvest import HarvestRequest
from sunhitch.types.shade import ShadedIvAnswer
from sunhitch.types.stream import AnswerLine, ProblemLine
from sunhitch_service.calculations import calculation_of
from sunhitch_service.calculations.calculation import Rendering
from sunhitch_service.engine.errors import ContradictionError, Fault
from sunhitch_service.http import serve


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "van.json"
    path.write_bytes(encode(REQUEST))
    return path


@pytest.fixture(autouse=True)
def engine(monkeypatch: pytest.MonkeyPatch):
    """Sets the checks of the answer that the calculation gives."""

    def gives(*checks: object) -> None:
        change_shaded_iv(monkeypatch, calculate=lambda _request: answer(*checks))

    gives(check())
    return gives


@pytest.mark.parametrize(
    ("verdicts", "code"),
    [
        ([], 0),
        (["pass"], 0),
        (["pass", "review"], 3),
        (["review", "not-assessed"], 4),
        (["fail", "not-assessed", "pass"], 5),
    ],
)
def test_the_exit_code_is_the_worst_verdict(engine, file, capsys, verdicts, code) -> None:
    engine(*(check(f"rule-{i}", verdict) for i, verdict in enumerate(verdicts)))
    worst = {0: "PASS", 3: "REVIEW", 4: "NOT ASSESSED", 5: "FAIL"}[code]
    for how in ([], ["--long"], ["--full"]):
        assert cli.main(["shaded-iv", str(file), *how]) == code
        told = capsys.readouterr().out.splitlines()
        assert told[0] == told[-1] == f"VERDICT: {worst}  Power of a partly shaded array"


def test_faults_come_first_with_what_to_change_then_results(engine, file, capsys) -> None:
    engine(
        check("rule-a", "pass", title="Rule that passes"),
        check("rule-b", "review", title="Rule to look at", remedy="Look."),
        check(
            "rule-c",
            "fail",
            title="Rule that fails",
            subject="foot 3",
            demand=282.0,
            capacity=108.0,
            unit="N",
            utilisation_fraction=2.611,
            remedy="Use larger pads.",
        ),
        check("rule-d", "not-assessed", title="Rule unknown", demand=None, capacity=None),
    )
    cli.main(["shaded-iv", "--long", str(file)])
    told = capsys.readouterr().out
    places = [
        told.index(part)
        for part in (
            "4 checks: 1 fail, 1 not assessed, 1 review, 1 pass",
            "Rule that fails (foot 3)",
            "282 N (63.4 lbf) against 108 N (24.3 lbf), 261 % used",
            "→ Use larger pads.",
            "Rule unknown",
            "Rule to look at",
            "Highest: 44.2 W",
            "Rule that passes",
            "/panels/0/panel/cells = half. Common practice.",
            "Electric shock: A lit panel is live.",
            "Engine 0.1.0, data 0123456789ab",
        )
    ]
    assert places == sorted(places)


def test_one_rule_on_many_subjects_is_told_once_by_its_worst(engine, file, capsys) -> None:
    engine(
        *(
            check("foot-peel", "fail", subject=f"foot {n}", utilisation_fraction=1.0 + n)
            for n in range(1, 5)
        )
    )
    cli.main(["shaded-iv", str(file)])
    told = capsys.readouterr().out
    assert told.count("Heat in the hottest cell") == 1
    assert "Heat in the hottest cell (foot 4)" in told
    assert "also: foot 3 400 %; foot 2 300 %; foot 1 200 %" in told


def test_one_rule_in_many_cases_is_told_once_with_its_cases(engine, file, capsys) -> None:
    engine(
        *(
            check(f"peel-{n}", "fail", title=f"Peel: gust {n}", utilisation_fraction=9.0 - n)
            for n in range(8)
        )
    )
    cli.main(["shaded-iv", str(file)])
    told = " ".join(capsys.readouterr().out.split())
    assert told.count("Peel") == 1
    assert "1. Peel: gust 0 (left)" in told
    assert "also: gust 1 (left) 800 %; gust 2 (left) 700 %;" in told
    assert "gust 3 (left) 600 %; and 4 more" in told


def test_everything_is_listed_on_wish(engine, file, capsys) -> None:
    engine(*(check(f"rule-{n}", title=f"Rule {n}") for n in range(12)))
    cli.main(["shaded-iv", "--long", str(file)])
    long = capsys.readouterr().out
    cli.main(["shaded-iv", "--full", str(file)])
    full = capsys.readouterr().out
    assert long.count("  - Rule ") == 5
    assert "12 RULES, THE TIGHTEST OF THEM" in long
    assert full.count(". Rule ") == 12
    assert "basis: Bishop 1988. Read [rule-3]" in full
    assert "basis" not in long


def test_the_same_assumption_on_many_panels_is_told_once(file, capsys, monkeypatch) -> None:
    fields = [*(f"/panels/{n}/panel/cells" for n in range(12)), "/sun/tilt_deg"]
    assumed = [Assumption(field=field, value=0.1 + 0.2, why="Usual.") for field in fields]
    shown = msgspec.structs.replace(answer(check()), assumptions=assumed)
    change_shaded_iv(monkeypatch, calculate=lambda _request: shown)
    cli.main(["shaded-iv", "--long", str(file)])
    told = capsys.readouterr().out
    assert told.count("Usual.") == 2
    assert "/panels/*/panel/cells = 0.3. Usual." in told
    assert "/sun/tilt_deg = 0.3. Usual." in told


def test_text_fits_the_page(engine, file, capsys) -> None:
    engine(*(check(f"r-{n}", "fail", title="Long " * 30, remedy="Do " * 90) for n in range(3)))
    cli.main(["shaded-iv", "--full", str(file)])
    assert max(len(line) for line in capsys.readouterr().out.splitlines()) <= 100


def test_json_is_the_answer_itself(engine, file, capsys) -> None:
    engine(check("rule", "review"))
    assert cli.main(["shaded-iv", "--json", str(file)]) == 3
    told = capsys.readouterr()
    assert msgspec.json.decode(told.out, type=ShadedIvAnswer) == answer(check("rule", "review"))
    assert told.err == ""


def batch_file(path: Path, *lines: bytes) -> Path:
    path.write_bytes(b"\n".join(lines) + b"\n")
    return path


def test_a_batch_is_answered_line_by_line(tmp_path, capsys, engine) -> None:
    engine(check("rule", "review"))
    body = encode(REQUEST)
    path = batch_file(
        tmp_path / "vans.ndjson", body, b"", body.replace(b"45.0", b"-99"), b"{", body
    )
    assert cli.main(["shaded-iv", "--batch", str(path)]) == 2
    first, cold, broken, last = capsys.readouterr().out.splitlines()
    told = msgspec.json.decode(first, type=AnswerLine[ShadedIvAnswer])
    assert told.answer == answer(check("rule", "review"))
    assert last == first
    faults = msgspec.json.decode(cold, type=ProblemLine).problem.errors
    assert [fault.pointer for fault in faults] == ["/sun/cell_temperature_c"]
    assert msgspec.json.decode(broken, type=ProblemLine).problem.status == 400


def test_a_batch_ends_with_the_worst_verdict(tmp_path, engine) -> None:
    engine(check("rule", "review"))
    path = batch_file(tmp_path / "vans.ndjson", encode(REQUEST), encode(REQUEST))
    assert cli.main(["shaded-iv", "--batch", str(path)]) == 3


def test_a_batch_needs_its_requests(capsys) -> None:
    assert cli.main(["shaded-iv", "--batch"]) == 2
    assert "needs a file" in capsys.readouterr().err


def test_drawings_are_printed(file, capsys, monkeypatch) -> None:
    drawn = (
        Rendering("image/svg+xml", "power", "Power.", lambda _q, shown: f"<svg>{shown.verdict}"),
        Rendering("image/svg+xml", "cells", "Cells.", lambda _q, _shown: "<svg>cells"),
        Rendering("text/html", "sheet", "Sheet.", lambda _q, _shown: "<html>Ω"),
    )
    change_shaded_iv(monkeypatch, renderings=drawn)
    told = []
    for how in (["--svg"], ["--svg", "--view", "cells"], ["--html"]):
        assert cli.main(["shaded-iv", str(file), *how]) == 0
        told.append(capsys.readouterr().out)
    assert told == ["<svg>pass", "<svg>cells", "<html>Ω"]
    for how in (["--csv"], ["--svg", "--view", "diodes"]):
        assert cli.main(["shaded-iv", str(file), *how]) == 2
        assert "image/svg+xml (cells)" in capsys.readouterr().err
    assert cli.main(["shaded-iv", str(file), "--view", "cells"]) == 2
    assert "--svg" in capsys.readouterr().err


def test_a_request_may_come_from_standard_input(file, capsys, monkeypatch) -> None:
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(file.read_bytes())))
    assert cli.main(["shaded-iv", "-"]) == 0


def test_without_a_request_the_example_is_used_and_said_to_be_one(capsys) -> None:
    assert cli.main(["shaded-iv"]) == 0
    told = capsys.readouterr()
    assert "shipped example of shaded-iv" in told.err
    assert told.out.startswith("VERDICT")


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda operation: operation.name)
def test_every_operation_has_a_verb_and_an_example(operation, capsys) -> None:
    assert cli.main([operation.name, "--example"]) == 0
    shipped = msgspec.json.decode(capsys.readouterr().out, type=operation.request)
    assert isinstance(shipped, operation.request)


def test_a_file_that_is_not_there(tmp_path, capsys) -> None:
    assert cli.main(["shaded-iv", str(tmp_path / "none.json")]) == 2
    assert "none.json: no such file" in capsys.readouterr().err


def test_a_directory_is_no_request(tmp_path, capsys) -> None:
    assert cli.main(["shaded-iv", str(tmp_path)]) == 2
    assert "cannot be read" in capsys.readouterr().err


def test_broken_json_is_told_with_line_column_and_the_place(tmp_path, capsys) -> None:
    path = tmp_path / "van.json"
    path.write_text('{\n  "panels": [],\n  "wiring" {}\n}\n')
    assert cli.main(["shaded-iv", str(path)]) == 2
    told = capsys.readouterr().err
    assert "van.json, line 3, column 12" in told
    lines = told.splitlines()
    assert lines[-2] == '    "wiring" {}'
    assert lines[-1].index("^") == lines[-2].index("{")


@pytest.mark.parametrize(
    ("body", "said"),
    [
        (b"", "line 1, column 1"),
        (b"\xff\xfe{\x00}\x00", "not UTF-8"),
        (b"[" * 100_000, "van.json"),
        (b'{"panels": NaN}', "/panels: Not a number that JSON"),
        (b"[]", "object"),
    ],
    ids=["empty", "UTF-16", "deep", "NaN", "list"],
)
def test_files_that_are_no_request(tmp_path, capsys, body: bytes, said: str) -> None:
    path = tmp_path / "van.json"
    path.write_bytes(body)
    assert cli.main(["shaded-iv", str(path)]) == 2
    assert said in capsys.readouterr().err


def test_a_byte_order_mark_does_no_harm(file) -> None:
    file.write_bytes(b"\xef\xbb\xbf" + file.read_bytes())
    assert cli.main(["shaded-iv", str(file)]) == 0


def test_faults_are_listed_with_pointer_and_what_would_be_right(file, capsys) -> None:
    request = json.loads(file.read_text())
    request["sun"]["irradiance_w_m2"] = 9000
    request["panels"][0]["panels"] = 3
    file.write_text(json.dumps(request))
    assert cli.main(["shaded-iv", str(file)]) == 2
    told = capsys.readouterr().err
    assert "  /sun/irradiance_w_m2: " in told
    assert "1500" in told
    assert "  /panels/0/panels: " in told


def test_contradictions_are_listed_with_pointer(file, capsys, monkeypatch) -> None:
    def refuse(_request: object) -> object:
        raise ContradictionError(
            [Fault("/wiring/strings", Text("Wire every panel once.", "mend", {}))]
        )

    change_shaded_iv(monkeypatch, calculate=refuse)
    assert cli.main(["shaded-iv", str(file)]) == 2
    told = capsys.readouterr().err
    assert "Contradictory request" in told
    assert "  /wiring/strings: Wire every panel once." in told


def serve_from(monkeypatch: pytest.MonkeyPatch, script: object) -> None:
    """Let the command line's client reach a service in memory."""

    def client(*arguments: object, **settings: object) -> Client:
        http = httpx.Client(transport=httpx.MockTransport(script))
        return Client(*arguments, **settings, http_client=http)

    client.embedded = Client.embedded
    monkeypatch.setattr(cli, "Client", client)


def test_a_service_is_asked_where_one_is_named(file, capsys, monkeypatch) -> None:
    script = Script(good)
    serve_from(monkeypatch, script)
    monkeypatch.setenv("SUNHITCH_API_KEY", "k-7")
    assert cli.main(["shaded-iv", str(file), "--url", "http://service.test", "--json"]) == 0
    assert script.asked[0].headers["x-api-key"] == "k-7"
    assert script.asked[0].extensions["timeout"]["read"] == 60.0


def test_a_service_that_fails_is_told_with_the_request_id(file, capsys, monkeypatch) -> None:
    serve_from(monkeypatch, Script(refusal(500, **{"X-Request-Id": "r-9"})))
    assert cli.main(["shaded-iv", str(file), "--url", "http://service.test"]) == 1
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.startswith("sunhitch: 500 Some problem: What to do.")
    assert "r-9" in told.err


@pytest.mark.parametrize(
    "words",
    [
        [],
        ["unknown-verb"],
        ["shaded-iv", "--json", "--full"],
        ["mount-check", "--csv"],
        ["fitout"],
        ["quick", "cold-vok"],
        ["quick", "cold-voc", "v_oc_v"],
        ["quick", "cold-voc", "v_oc=22.9"],
        ["shaded-iv", "--output", "a.gif"],
        ["shaded-iv", "--batch", "a.json", "b.json"],
        ["shaded-iv", "--timeout", "soon"],
        ["shaded-iv", "--timeout", "-1", "--url", "http://service.test"],
        ["shaded-iv", "--url", "service.test"],
    ],
    ids=" ".join,
)
def test_wrong_command_lines_exit_with_2(words: list[str], capsys) -> None:
    try:
        code = cli.main(words)
    except SystemExit as end:
        code = end.code
    assert code == 2
    assert capsys.readouterr().err


def test_the_version_is_told(capsys) -> None:
    with pytest.raises(SystemExit) as end:
        cli.main(["--version"])
    assert end.value.code == 0
    assert capsys.readouterr().out == f"sunhitch {__version__}\n"


def test_help_names_every_verb_and_every_exit_code() -> None:
    told = parser().format_help()
    assert all(operation.name in told for operation in OPERATIONS)
    assert "serve" in told
    assert all(f"\n  {code}  " in told for code in (1, 2, *calculating.EXIT_CODES.values()))


def test_serving_hands_on_what_was_chosen(monkeypatch) -> None:
    chosen: dict[str, object] = {}
    monkeypatch.setattr(serve, "run", lambda **given: chosen.update(given))
    assert cli.main(["serve", "--host", "::1", "--port", "9000", "--workers", "2"]) == 0
    assert chosen == {"host": "::1", "port": 9000, "workers": 2}


def test_settings_that_cannot_be_are_a_wrong_command_line(capsys, monkeypatch) -> None:
    monkeypatch.delenv("SUNHITCH_HTTP_PORT", raising=False)
    assert cli.main(["serve", "--port", "70000"]) == 2
    assert "65535" in capsys.readouterr().err


@pytest.mark.parametrize("verb", ["shaded-iv", "serve"])
def test_a_missing_service_extra_is_told(verb: str, capsys, monkeypatch) -> None:
    monkeypatch.setitem(sys.modules, "sunhitch_service.calculations", None)
    monkeypatch.setitem(sys.modules, "sunhitch_service.http.serve", None)
    assert cli.main([verb]) == 1
    assert "pip install 'sunhitch[service]'" in capsys.readouterr().err


def test_a_reader_that_has_seen_enough_is_no_fault() -> None:
    """The reading end of the pipe is closed, as after `… | head`."""
    reading, writing = os.pipe()
    os.close(reading)
    with os.fdopen(writing, "wb") as output:
        done = subprocess.run(
            [sys.executable, "-m", "sunhitch", "shaded-iv", "--example"],
            stdout=output,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
    assert done.stderr == ""
    assert done.returncode == 1


def test_a_console_that_lacks_a_character_gets_a_question_mark(monkeypatch, engine, file) -> None:
    engine(check(unit="Ω"))
    narrow = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
    monkeypatch.setattr(sys, "stdout", narrow)
    assert cli.main(["shaded-iv", "--full", str(file)]) == 0
    assert b"8.2 ? against 20 ?" in narrow.buffer.getvalue()


@pytest.mark.parametrize("option", ["--json", "--svg", "--example", "--batch"])
def test_what_programs_read_is_utf_8_whatever_the_console_shows(
    option, monkeypatch, engine, file, tmp_path
) -> None:
    engine(check(unit="Ω"))
    drawn = Rendering("image/svg+xml", "power", "Power.", lambda _q, _a: "<svg>Ω</svg>")
    change_shaded_iv(monkeypatch, renderings=(drawn,))
    monkeypatch.setattr(calculating, "example", lambda _operation: RequestText("e", "Ω".encode()))
    narrow = io.TextIOWrapper(io.BytesIO(), encoding="latin-1")
    monkeypatch.setattr(sys, "stdout", narrow)
    asked = batch_file(tmp_path / "lines", encode(REQUEST)) if option == "--batch" else file
    assert cli.main(["shaded-iv", str(asked), option]) == 0
    assert "Ω" in narrow.buffer.getvalue().decode()


@pytest.mark.parametrize("option", ["--json", "--full", "--example", "--svg"])
def test_a_full_disk_is_told_in_one_line(option: str, file: Path) -> None:
    with Path("/dev/full").open("wb") as output:
        done = subprocess.run(
            [sys.executable, "-m", "sunhitch", "shaded-iv", str(file), option],
            stdout=output,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
    assert done.stderr.splitlines() == [
        f"sunhitch: The output cannot be written: {os.strerror(errno.ENOSPC)}."
    ]
    assert done.returncode == 1


def test_an_address_in_use_is_told_before_the_engine_is_loaded(capsys) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        assert cli.main(["serve", "--port", str(taken.getsockname()[1])]) == 2
    assert "Address already in use" in capsys.readouterr().err


@pytest.mark.parametrize(("stopped", "code"), [(3, 1), (0, 0), (None, 0)])
def test_a_server_that_does_not_start_is_no_verdict(monkeypatch, stopped, code: int) -> None:
    def run(**_given: object) -> None:
        raise SystemExit(stopped)

    monkeypatch.setattr(serve, "run", run)
    assert cli.main(["serve"]) == code


def test_completion_knows_verbs_and_options(capsys, tmp_path) -> None:
    """The script is run by bash itself, as on a press of the tabulator key."""
    assert cli.main(["completion", "bash"]) == 0
    script = tmp_path / "sunhitch"
    script.write_text(capsys.readouterr().out)
    pressed = (
        f"source {script}; COMP_WORDS=(sunhitch wire-sizing --js); COMP_CWORD=2; "
        "COMP_LINE='sunhitch wire-sizing --js'; _shtab_sunhitch 2>/dev/null; echo ${COMPREPLY[@]}"
    )
    done = subprocess.run(["bash", "-c", pressed], capture_output=True, text=True, check=False)
    assert done.stdout.split() == ["--json"]


def test_completion_without_its_library_tells_the_way_to_it(capsys, monkeypatch) -> None:
    monkeypatch.setitem(sys.modules, "shtab", None)
    assert cli.main(["completion", "zsh"]) == 2
    assert "pip install shtab" in capsys.readouterr().err


def test_what_an_operator_needs(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["settings"]) == 0
    told = capsys.readouterr().out
    assert "SUNHITCH_HTTP_API_KEYS\n" in told
    assert " from 1000 to 1000000000; " in told  # figures in full
    assert cli.main(["key", "shop"]) == 0
    assert re.search(r"shop:[0-9a-f]{64}\n", capsys.readouterr().out)
    assert cli.main(["key", "no name"]) == 2
    assert "cannot name a key" in capsys.readouterr().err


def test_it_does_not_serve_strangers_by_accident(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["serve", "--host", "192.0.2.1"]) == 2
    assert "sunhitch key NAME" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("verdict", "code"), [("pass", 0), ("review", 3), ("not-assessed", 4), ("fail", 5)]
)
def test_a_drawing_exits_by_its_verdict(engine, file, capsys, monkeypatch, verdict, code) -> None:
    engine(check("rule", verdict))
    drawn = (Rendering("image/svg+xml", "power", "Power.", lambda _q, _a: SQUARE),)
    change_shaded_iv(monkeypatch, renderings=drawn)
    assert cli.main(["shaded-iv", str(file), "--svg"]) == code
    assert capsys.readouterr().out.strip() == SQUARE


SQUARE = '<svg xmlns="http://www.w3.org/2000/svg" width="30" height="20"/>'


def test_a_picture_as_png_goes_to_a_file(capfdbinary, monkeypatch: pytest.MonkeyPatch) -> None:
    drawn = (Rendering("image/svg+xml", "power", "Power.", lambda _q, _a: SQUARE),)
    change_shaded_iv(monkeypatch, renderings=drawn)
    assert cli.main(["shaded-iv", "--png"]) == 0
    assert capfdbinary.readouterr().out.startswith(b"\x89PNG\r\n")


def test_png_is_not_thrown_at_a_terminal(capsys, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True)
    assert cli.main(["shaded-iv", "--png"]) == 2
    assert "--output a.png" in capsys.readouterr().err


def test_png_without_its_library_tells_the_way_to_it(capsys, monkeypatch) -> None:
    monkeypatch.setitem(sys.modules, "resvg_py", None)
    assert cli.main(["shaded-iv", "--png"]) == 2
    assert "sunhitch[pictures]" in capsys.readouterr().err


def vans(tmp_path: Path, *names: str) -> list[str]:
    for name in names:
        (tmp_path / name).write_bytes(encode(REQUEST))
    return [str(tmp_path / name) for name in names]


@pytest.mark.parametrize(
    ("name", "begins"),
    [
        ("a.txt", b"VERDICT: REVIEW"),
        ("a.json", b"{"),
        ("a.svg", b"<svg"),
        ("a.PNG", b"\x89PNG"),
        ("a.xlsx", b"PK"),
        ("a.ods", b"PK"),
    ],
)
def test_the_suffix_of_the_output_says_how(
    engine, file, tmp_path, capsys, monkeypatch, name: str, begins: bytes
) -> None:
    engine(check("rule", "review", unit="Ω"))
    drawn = (Rendering("image/svg+xml", "power", "Power.", lambda _q, _a: SQUARE),)
    change_shaded_iv(monkeypatch, renderings=drawn)
    assert cli.main(["shaded-iv", str(file), "--output", str(tmp_path / name)]) == 3
    assert (tmp_path / name).read_bytes().startswith(begins)
    assert capsys.readouterr().out == f"REVIEW  {tmp_path / name}\n"


def test_one_answer_is_written_in_several_forms(tmp_path, capsys, monkeypatch) -> None:
    asked: list[object] = []

    def calculate(request: object) -> ShadedIvAnswer:
        asked.append(request)
        return answer(check())

    drawn = tuple(
        Rendering(kind, name, "Power.", lambda _q, _a, text=text: text)
        for kind, name, text in (
            ("image/svg+xml", "power", SQUARE),
            ("text/csv", "curve", "voltage_v"),
        )
    )
    change_shaded_iv(monkeypatch, calculate=calculate, renderings=drawn)
    (van,) = vans(tmp_path, "van")
    files = [tmp_path / name for name in ("van-answer.json", "van.svg", "van.csv")]
    words = [word for path in files for word in ("-o", str(path))]
    assert cli.main(["shaded-iv", van, *words]) == 0
    assert [path.read_bytes()[:4] for path in files] == [b"{\n  ", b"<svg", b"volt"]
    assert len(asked) == 1
    assert cli.main(["shaded-iv", van, "--batch", *words]) == 2


def test_several_requests_go_into_a_directory(engine, tmp_path, capsys) -> None:
    engine(check("rule", "review"))
    files = vans(tmp_path, "one.json", "two.json")
    assert cli.main(["shaded-iv", *files, "--json", "-o", str(tmp_path / "out")]) == 3
    for name in ("one", "two"):
        found = (tmp_path / "out" / f"{name}.json").read_bytes()
        assert msgspec.json.decode(found, type=ShadedIvAnswer).verdict == "review"
    assert cli.main(["shaded-iv", *files, "-o", files[0]]) == 2
    assert "name a directory" in capsys.readouterr().err


def test_a_fault_in_one_of_several_requests_leaves_the_others(tmp_path, capsys) -> None:
    one, two = vans(tmp_path, "one.json", "two.json")
    Path(one).write_text("{")
    assert cli.main(["shaded-iv", one, two, str(tmp_path / "none.json")]) == 2
    told = capsys.readouterr()
    assert told.out.count("VERDICT: PASS") == 2
    assert f"== {two}" in told.out
    assert "one.json, line 1" in told.err
    assert "none.json: no such file" in told.err


def test_a_batch_goes_into_a_file(tmp_path, capsys) -> None:
    path = batch_file(tmp_path / "vans.ndjson", encode(REQUEST), encode(REQUEST))
    out = tmp_path / "answers.json"
    assert cli.main(["shaded-iv", "--batch", str(path), "--output", str(out)]) == 0
    assert len(out.read_text("utf-8").splitlines()) == 2
    assert capsys.readouterr().out == ""


def test_a_full_disk_of_files_is_told_in_one_line(file, capfd) -> None:
    assert cli.main(["shaded-iv", str(file), "--json", "--output", "/dev/full"]) == 1
    told = capfd.readouterr().err
    assert told == f"sunhitch: The output cannot be written: {os.strerror(errno.ENOSPC)}.\n"


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda one: one.name)
def test_the_short_answer_fits_a_screen_of_any_width(operation, examples_answered) -> None:
    answered = examples_answered[operation.name]
    for width in (40, 60, 100):
        lines = operation.text(answered, Page(width), "short").splitlines()
        assert len(lines) <= 40
        assert lines[0] == lines[-1]
        assert lines[0].startswith("VERDICT: ")
        long = operation.text(answered, Page(width)).splitlines()
        words = [line for line in (*lines, *long) if len(line) > width]
        assert all(len(max(line.split(), key=len)) > width / 2 for line in words)


@pytest.fixture(scope="module")
def examples_answered() -> dict[str, Answer]:
    with Client.embedded() as client:
        return {one.name: client.call(one, light_example(one)) for one in OPERATIONS}


def test_what_must_be_mended_is_told_as_far_as_there_is_room(engine, file, capsys) -> None:
    engine(*(check(f"r-{n}", "fail", title=f"Rule {n}", remedy="Do " * 90) for n in range(9)))
    cli.main(["shaded-iv", str(file)])
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) <= 40
    (more,) = (line for line in lines if "more in the long form" in line)
    told = sum(line.strip().startswith(f"{n + 1}. Rule") for line in lines for n in range(9))
    assert int(more.split()[1]) == 9 - told


@pytest.mark.parametrize(
    ("word", "meant"), [("fitout", "fit-out"), ("shadediv", "shaded-iv"), ("sreve", "serve")]
)
def test_a_misspelt_verb_is_answered_with_the_nearest(word: str, meant: str, capsys) -> None:
    assert cli.main([word]) == 2
    assert f"did you mean {meant}?" in capsys.readouterr().err


def test_flat_questions_are_answered(capsys) -> None:
    asked = ["quick", "cold-voc", "v_oc_v=22.9", "lowest_ambient_c=-18", "panels_in_series=2"]
    with Client.embedded() as client:
        found = client.quick.cold_voc(v_oc_v=22.9, lowest_ambient_c=-18.0, panels_in_series=2)
    assert cli.main(asked) == 4
    assert f"string_v_oc_v  {found.string_v_oc_v:.6g}" in capsys.readouterr().out
    assert cli.main([*asked, "--field", "string_v_oc_v"]) == 4
    assert float(capsys.readouterr().out) == pytest.approx(found.string_v_oc_v, rel=1e-5)
    assert cli.main([*asked, "--json"]) == 4
    assert json.loads(capsys.readouterr().out)["panel_v_oc_v"] == found.panel_v_oc_v
    assert cli.main([*asked, "max_input_voltage_v=100"]) == 0
    assert cli.main([*asked, "v_oc_v=9000"]) == 2
    assert "  v_oc_v: " in capsys.readouterr().err


def test_questions_and_their_parameters_are_listed(capsys) -> None:
    assert cli.main(["quick"]) == 0
    told = capsys.readouterr().out
    assert all(question.name in told for question in QUESTIONS)
    for question in QUESTIONS:
        assert cli.main(["quick", question.name]) == 0
        told = capsys.readouterr().out
        assert all(name in told for name in question.asked.__struct_fields__)
    assert cli.main(["quick", "cold-voc"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "v_oc_v V Open-circuit voltage of a panel, nameplate. lowest_ambient_c" in told
    assert "panels_in_series 1 Equal panels in series. May be left out." in told
    assert cli.main(["quick", "wire-ampacity"]) == 0
    assert " en-50618, " in capsys.readouterr().out


def test_the_environment_may_name_the_service(file, monkeypatch) -> None:
    script = Script(good)
    serve_from(monkeypatch, script)
    monkeypatch.setenv("SUNHITCH_URL", "http://service.test")
    assert cli.main(["shaded-iv", str(file)]) == 0
    assert script.asked[0].url.host == "service.test"


def test_a_harvest_takes_the_weather_of_a_file(tmp_path, capsys, monkeypatch) -> None:
    seen: list[HarvestRequest] = []

    def answered(_client: Client, _operation: object, request: HarvestRequest, *_: object) -> None:
        seen.append(request)
        raise SunhitchError("Enough.")

    monkeypatch.setattr(Client, "call", answered)
    path = epw(tmp_path / "station.epw")
    assert cli.main(["harvest", "--weather", str(path)]) == 1
    assert seen[0].weather == weather.read(path).weather
    assert seen[0].place == weather.read(path).place
    assert cli.main(["harvest", "--weather", str(tmp_path / "none.epw")]) == 2
    assert "no such file" in capsys.readouterr().err


def test_fish_completes_too(capsys) -> None:
    assert cli.main(["completion", "fish"]) == 0
    told = capsys.readouterr().out
    assert "complete -c sunhitch" in told
    assert "wire-sizing" in told


def test_tables_are_offered_where_there_are_any() -> None:
    for operation in OPERATIONS:
        renderings = calculation_of(operation).renderings
        assert operation.has_tables == any(one.media_type == "text/csv" for one in renderings)
