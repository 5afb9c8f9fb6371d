"""Texts come from codes and parameters: with other templates nothing of ours stays English."""

import json
import re
from pathlib import Path
from random import Random
from typing import Any

import pytest
from contract_serving import Served
from hostile import malformed as broken
from msgspec import structs
from plausible import light_example, varied

from sunhitch import texts
from sunhitch.codec import MalformedBody, decode_strict
from sunhitch.faults import MOST_FAULTS, fault_at
from sunhitch.operations import OPERATIONS, SHADED_IV, WIRE_SIZING
from sunhitch.operations.operation import Operation
from sunhitch.problems import contradictory, malformed
from sunhitch.texts import sentence, table_of, templates
from sunhitch.types.problem import FieldError
from sunhitch_service.calculations import calculation_of
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.revision.changes import change_kinds
from sunhitch_service.engine.rules.table import entries
from sunhitch_service.tasks.problems import as_problem

FREE = {"description", "reason", "known", "fields"}
"""Parameters whose words stay: a parser's own, the contract's, and names of its fields."""
ROOT = Path(__file__).parents[2]
CODE = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")


def foreign(text: str) -> str:
    """A text of the pseudo-locale: every letter of ours becomes another."""
    return re.sub(r"[A-Za-z]", "ж", text)


@pytest.fixture
def pseudo(monkeypatch: pytest.MonkeyPatch) -> None:
    """The one place where texts are made, with templates of the pseudo-locale."""
    whole = templates.Template.filled
    ours = {*table_of("faults").values(), *table_of("phrases").values()}

    def filled(self: templates.Template, parameters: Any) -> str:
        if self.text not in ours:
            return whole(self, parameters)
        parts = tuple((foreign(text), name, form) for text, name, form in self.parts)
        return whole(structs.replace(self, parts=parts), parameters)

    abroad = {key: foreign(word) for key, word in templates.words().items()}
    monkeypatch.setattr(templates.Template, "filled", filled)
    monkeypatch.setattr(templates, "words", lambda: abroad)
    monkeypatch.setattr(texts, "_plain", texts._plain.__wrapped__)  # what was made is ours


def refused(operation: Operation[Any, Any], body: bytes) -> list[FieldError]:
    try:
        calculation_of(operation).calculate(decode_strict(body, operation.request))
    except (MalformedBody, ContradictionError) as refusal:
        return list(as_problem(refusal).errors)
    return []


def escapes(fault: FieldError) -> list[str]:
    """Words of ours in a message, beside names, units and figures."""
    text = fault.message
    for name, one in fault.parameters.items():
        if isinstance(one, str) and (name in FREE or " " not in one):
            text = text.replace(one, "")
    text = re.sub(r"`[^`]*`|'[^']*'|\"[^\"]*\"", "", text)
    return re.findall(r"\b(?:an?|the|of|from|to|or|and|is|at|with|got|must|give)\b", text)


def test_no_fault_escapes_the_pseudo_locale(pseudo: None) -> None:
    dice = Random(7).randrange
    found: list[FieldError] = []
    for operation in OPERATIONS:
        for _ in range(25):
            found += refused(operation, broken(operation, dice))
    for _ in range(150):
        body = json.dumps(varied(WIRE_SIZING, dice, 4)).encode()
        found += refused(WIRE_SIZING, body)
    assert len({fault.code for fault in found}) > 12
    assert {fault.code for fault in found} & table_of("faults").keys() == {
        fault.code for fault in found
    }
    assert [(one.code, one.message) for one in found if escapes(one)] == []


def test_every_fault_follows_from_its_code_and_parameters() -> None:
    dice = Random(8).randrange
    for operation in OPERATIONS:
        for fault in refused(operation, broken(operation, dice)):
            known = templates.template(table_of("faults")[fault.code])
            assert fault.message == known.filled(fault.parameters)


LIMITS = re.compile(
    r"(?i)(?:at most|no more than|more than|up to|to within|at least|needs?|rated(?: for)?"
    r"|use one for"
    r"|no (?:long|wid)er than|no (?:tighter|faster) than|washers of|pads of|plates of|bond line of"
    r"|brackets|leave no flap wider than|as much as) \{(\w+):(?:\.\d[fg]|g|figure|percent)\}"
    r"|\{(\w+):\.\d[fg]\}(?: [^\s{;.]+){1,3} (?:or more|at most|or warmer)"
    r"|\{(\w+):\.\d[fg]\} (?:mm (?:thick|high|of play)|times as much|h before driving)"
)
GIVEN = {"largest_a", "largest_device_a", "largest_mm2", "beyond_m", "total", "total_m", "rated_v"}
GIVEN |= {"largest_diode_drop_v", "thickness_mm", "least_mohm", "wanted_mm2", "without_power_h"}
GIVEN |= {"inches"}
"""Figures told in full, as they were given or stand in a table; the last two are results."""


def test_no_limit_is_rounded_to_the_wrong_side() -> None:
    """`at-least` and `at-most` round a limit so that whoever keeps what is told keeps it."""
    written = [each.text for rule in entries().values() for each in rule.remedies.values()]
    written += [rule.note.text for rule in entries().values() if rule.note is not None]
    written += [text for name in ("statements", "faults") for text in table_of(name).values()]
    written += [kind.text for kind in change_kinds().values()]
    told = "\n".join(written)
    found = {name for pair in LIMITS.findall(told) for name in pair if name}
    assert found <= GIVEN
    assert found


def test_every_code_of_a_fault_is_told_somewhere() -> None:
    """As written, or put together out of a word and one of these endings."""
    sources = "".join(
        path.read_text("utf-8")
        for root in (ROOT / "client/sunhitch", ROOT / "service/sunhitch_service")
        for path in root.rglob("*.py")
    )
    endings = (
        "-voltage",
        "-cell",
        "-current",
        "-beyond-end",
        "-below-half",
        "-field",
        "-parameter",
        "-near",
    )
    for code, text in table_of("faults").items():
        assert CODE.fullmatch(code)
        assert text.endswith((".", "?", "}"))
        assert f'"{code}"' in sources or any(end in code for end in endings), code


@pytest.mark.parametrize("judge", [malformed, contradictory])
def test_each_code_stands_once_at_a_pointer_and_the_rest_is_counted(judge: Any) -> None:
    several = [fault_at(f"/a/{i // 2}", sentence("given-twice")) for i in range(140)]
    problem = judge(several)
    assert problem.error_count == 70
    assert len(problem.errors) == MOST_FAULTS
    assert len({(one.pointer, one.code) for one in problem.errors}) == MOST_FAULTS
    assert [one.pointer for one in problem.errors[:2]] == ["/a/0", "/a/1"]


@pytest.mark.parametrize("path", ["/v1/quick/cold-voc", "/v1/codes", "/v1/quick"])
def test_thousands_of_unknown_names_have_a_bounded_answer(service: Served, path: str) -> None:
    """Within the longest address that is read."""
    many = "&".join(f"x{i}=" for i in range(5000))
    assert service.http.get(f"{path}?{many}").status_code == 414
    many = "&".join(f"x{i}=" for i in range(900))
    answer = service.http.get(f"{path}?{many}")
    assert answer.status_code == 400
    assert len(answer.json()["errors"]) <= MOST_FAULTS < answer.json()["error_count"]
    assert len(answer.content) < 30_000


def test_unknown_parts_are_one_fault(service: Served) -> None:
    body = json.dumps(light_example(WIRE_SIZING))
    names = ",".join(f"part{i}" for i in range(900))
    headers = {"Content-Type": "application/json"}
    answer = service.http.post(f"/v1/wire-sizing?fields={names}", content=body, headers=headers)
    (fault,) = answer.json()["errors"]
    assert (answer.status_code, fault["pointer"], fault["code"]) == (400, "/fields", "unknown-name")


@pytest.mark.parametrize("held", ['"0000"', 'W/"stale"', "nonsense", "*"])
def test_a_stale_tag_gets_the_content_and_any_tag_will_do_for_a_star(
    service: Served, held: str
) -> None:
    """RFC 9110, 13.1.2: the star stands for any content there is."""
    answer = service.http.get("/v1/codes", headers={"If-None-Match": held})
    assert answer.status_code == (304 if held == "*" else 200)
    again = service.http.get("/v1/codes", headers={"If-None-Match": answer.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")


@pytest.mark.parametrize("name", ["\0", "a\u0007b", "\u009f", "line\nbreak", "\uffff"])
def test_a_control_character_in_a_name_is_refused_where_it_stands(name: str) -> None:
    body = light_example(SHADED_IV)
    body["panels"][0]["name"] = name
    faults = refused(SHADED_IV, json.dumps(body).encode())
    assert ("/panels/0/name", "unfit") in [(one.pointer, one.code) for one in faults]


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda one: one.name)
def test_one_code_has_one_title(operation: Operation[Any, Any]) -> None:
    answer = calculation_of(operation).calculate(
        decode_strict(json.dumps(light_example(operation)).encode(), operation.request)
    )
    titles: dict[str, set[str]] = {}
    for check in answer.checks:
        titles.setdefault(check.code, set()).add(check.title)
    assert [code for code, told in titles.items() if len(told) > 1] == []
