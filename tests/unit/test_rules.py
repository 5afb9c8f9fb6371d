"""The table of rules: every entry is complete, and every call fits its entry."""

import ast
import tomllib
from collections.abc import Iterator
from itertools import product
from pathlib import Path

import msgspec
import pytest

from sunhitch.types.wiring import WiringRules
from sunhitch_service.engine.rules.families import edition_of, family_of
from sunhitch_service.engine.rules.rule import rule
from sunhitch_service.engine.rules.table import RuleEntry, entries
from sunhitch_service.engine.rules.titles import rule_title_of, title_of

SERVICE = Path(__file__).parents[2] / "service" / "sunhitch_service"
ENTRIES = pytest.mark.parametrize("entry", entries().values(), ids=lambda e: e.code)
_RESERVED = {"code", "subject", "rules", "group", "basis", "remedy"}


def _names(entry: RuleEntry) -> set[str]:
    """Parameters of all its sentences."""
    notes = [entry.note] if entry.note else []
    return set().union(*(t.names for t in (*notes, *entry.remedies.values())))


def test_no_code_stands_in_two_files() -> None:
    """Whichever is read last would decide."""
    files = (SERVICE / "engine/rules/codes").iterdir()
    tables = [tomllib.loads(file.read_text("utf-8")) for file in files]
    codes = [code for written in tables for code in written if code != "common"]
    assert sorted(codes) == sorted(entries())


@ENTRIES
def test_sentences_use_declared_parameters_only(entry: RuleEntry) -> None:
    """A parameter that the table does not describe has no meaning to a reader, nor one untold."""
    assert _names(entry) == set(entry.parameters)
    assert not set(entry.parameters) & _RESERVED


def test_every_declared_parameter_is_used() -> None:
    """One that no sentence tells is idle; those that rules of a file share serve at least one."""
    told = {pair for entry in entries().values() for pair in entry.parameters.items()}
    for file in (SERVICE / "engine/rules/codes").iterdir():
        common = tomllib.loads(file.read_text("utf-8")).get("common", {})
        assert common.get("parameters", {}).items() <= told


@ENTRIES
def test_every_entry_says_what_it_means_and_how_bad_it_is(entry: RuleEntry) -> None:
    """Meaning is one sentence, the title none; severities are those of a limit exceeded."""
    assert entry.meaning.endswith(".")
    assert not entry.title.endswith(".")
    assert "{" not in entry.title + "".join(cited.note for cited in entry.citations)
    assert entry.severity in ("review", "not-assessed", "fail")


@ENTRIES
def test_every_basis_is_found(entry: RuleEntry) -> None:
    """Each citation names a source or table that exists, for every family and circuit it lists."""
    figures = dict.fromkeys(entry.parameters, 1.0)
    editions = {"any": None, "nec": "nec-2017"}
    for cited in entry.citations:
        for family, group in product(cited.rules.split(), cited.group.split()):
            rules, circuit = editions.get(family, family), None if group == "any" else group
            found = rule(entry.code, rules=rules, group=circuit, basis=cited.key, **figures).basis
            assert found.reference, (entry.code, cited)


COMFORT = (
    "panels-wired crown-under-frame obstacle-shadow cable-entry-room layout-power mismatch-loss"
    " series-current-spread parallel-voltage-spread enough-light yearly-loss battery-frost"
    " hot-voltage-start controller-input-current controller-output-current tracker-loss"
    " controller-rating"
)
"""Yield, comfort and order: nobody is hurt and nothing breaks."""
BESIDE_OTHERS = (
    "conductor-material battery-cold-rate reverse-voltage cold-voc-table touch-voltage"
    " plug-interlock tilt-interlock panel-pressure-assumed span-divergence play-movement"
    " roof-edge laminate-strength panel-rating foot-below-frame"
)
"""Cautions beside a limit that other rules hold."""
WORTH_A_LOOK = {*COMFORT.split(), *BESIDE_OTHERS.split()}
NOT_KNOWN = {
    *("bracket", "roof-skin", "clamp-rating", "support-rating", "bond-heat", "bond-thickness"),
}
"""Where no formula or no figure is at hand: never a pass, and no fault either."""


@ENTRIES
def test_beyond_its_limit_a_rule_fails_unless_it_only_asks_for_a_look(entry: RuleEntry) -> None:
    """Every rule by which something burns, breaks or flies off fails."""
    softer = "review" if entry.code in WORTH_A_LOOK else "not-assessed"
    expected = softer if entry.code in WORTH_A_LOOK | NOT_KNOWN else "fail"
    assert entry.severity == expected


def test_a_basis_that_nothing_gives_is_refused() -> None:
    """A name that no citation has, and a rule set that none is for."""
    for code, basis, rules in [("polarity", "nobody", None), ("ampacity-table", "", "iec")]:
        with pytest.raises(KeyError, match=code):
            rule(code, basis=basis, rules=rules)


EDITIONS = ("nec-2017", "nec-2020", "nec-2023")


@pytest.mark.parametrize("rules", EDITIONS)
def test_an_edition_is_cited_as_itself(rules: WiringRules) -> None:
    """Under other rules the latest edition stands in."""
    assert (family_of(rules), edition_of(rules)) == ("nec", rules)
    assert rule("system-voltage", rules=rules).basis.key.startswith(f"{rules}: ")


@pytest.mark.parametrize("rules", ["iec", "us-33-cfr-183"])
def test_other_rules_are_families_of_their_own(rules: WiringRules) -> None:
    """Where they say nothing, the latest edition of NFPA 70 does."""
    assert (family_of(rules), edition_of(rules)) == (rules, "nec-2023")


def test_a_title_in_a_load_case_holds_both_titles() -> None:
    """The rule behind it is the longest code that the check's own code begins with."""
    plain = rule("roof-rating").check("not-assessed")
    assert (title_of(plain), title_of(plain).code) == (plain.title, "roof-rating")
    in_case = msgspec.structs.replace(
        plain, code="roof-rating-parked-head-wind", title="Rating: head wind: gusts"
    )
    told = title_of(in_case)
    assert rule_title_of(in_case).code == "roof-rating-parked"
    assert told == "Rating: head wind: gusts"
    assert told.parameters["title"] == "Rating"
    assert told.parameters["load_case"].code == "head-wind"
    short = msgspec.structs.replace(plain, code="hail-gusts", title="Hail: gusts")
    assert title_of(short).parameters["title"].code == "hail"


def _calls() -> Iterator[tuple[str, ast.Call]]:
    for path in SERVICE.rglob("*.py"):
        text = path.read_text("utf-8")
        if "rules.rule import" not in text:
            continue
        for node in ast.walk(ast.parse(text)):
            named = isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
            if named and node.func.id == "rule" and node.args:
                yield f"{path.stem}:{node.lineno}", node


def _texts(node: ast.expr | None) -> set[str] | None:
    """Every constant that an expression of remedies may be; None where it is not to be told."""
    if node is None:
        return {""}
    if isinstance(node, ast.Constant):
        return {node.value}
    if isinstance(node, ast.IfExp):
        parts = [_texts(node.body), _texts(node.orelse)]
    elif isinstance(node, ast.Tuple):
        parts = [_texts(one) for one in node.elts]
    else:
        return None
    return None if None in parts else set().union(*parts)


@pytest.mark.parametrize("call", [pytest.param(c, id=where) for where, c in _calls()])
def test_every_call_fits_its_entry(call: ast.Call) -> None:
    """Code and remedies stand in the table, and their parameters are given."""
    code = call.args[0]
    if not isinstance(code, ast.Constant):
        return
    entry = entries()[code.value]
    given = {word.arg: word.value for word in call.keywords}
    if None in given:
        return
    parameters = set(given) - _RESERVED
    assert parameters <= set(entry.parameters)
    picked = _texts(given.get("remedy"))
    names = set(entry.remedies) if picked is None else picked - ({""} - set(entry.remedies))
    assert names <= set(entry.remedies)
    noted = entry.note.names if entry.note else set()
    needed = set().union(noted, *(entry.remedies[n].names for n in names))
    assert needed <= parameters
