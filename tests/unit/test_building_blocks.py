"""Checks, assumptions, sources and tables behave the same way for every calculation."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sunhitch.texts import Text, sentence
from sunhitch.types.check import VERDICTS
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.checks import verdict_of, worst
from sunhitch_service.engine.errors import ContradictionError, Faults
from sunhitch_service.engine.rules.families import admits
from sunhitch_service.engine.rules.rule import rule
from sunhitch_service.engine.sources import basis
from sunhitch_service.engine.tables import number, table

RULE = rule("system-voltage-in-light", remedy="fewer", fitting=1)
MILD = rule("touch-voltage")
amounts = st.floats(1e-3, 1e6)


@given(amounts, amounts)
def test_a_check_fails_exactly_when_demand_exceeds_capacity(demand: float, capacity: float) -> None:
    found = RULE.at_most(demand, capacity)
    assert found.utilisation_fraction == pytest.approx(demand / capacity)
    assert (found.verdict == "fail") == (demand > capacity * (1 + 1e-9))
    assert (found.remedy == "") == (found.verdict == "pass")


@given(amounts, amounts)
def test_at_least_is_at_most_turned_round(present: float, needed: float) -> None:
    found = RULE.at_least(present, needed)
    assert (found.demand, found.capacity) == (needed, present)
    assert found.verdict == RULE.at_most(needed, present).verdict


def test_little_reserve_is_a_review() -> None:
    assert RULE.at_most(0.95, 1.0, review_above=0.9).verdict == "review"
    assert RULE.at_most(0.85, 1.0, review_above=0.9).verdict == "pass"


def test_nothing_allowed_means_any_demand_fails() -> None:
    beyond = RULE.at_most(1.0, 0.0)
    assert (beyond.verdict, beyond.utilisation_fraction) == ("fail", None)
    assert RULE.at_most(0.0, 0.0).verdict == "pass"


def test_no_verdict_is_worse_than_the_severity_of_its_rule() -> None:
    assert MILD.at_most(2.0, 1.0).verdict == "review"
    assert MILD.check("not-assessed").unit is None
    with pytest.raises(ValueError, match="touch-voltage: fail is worse than review"):
        MILD.check("fail")


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), float("-inf")])
def test_no_check_carries_a_number_that_is_not_finite(bad: float) -> None:
    with pytest.raises(ArithmeticError, match="system-voltage-in-light"):
        RULE.check("pass", demand=bad)


@given(st.lists(st.sampled_from(VERDICTS)))
def test_the_worst_verdict_wins(verdicts: list) -> None:
    found = worst(verdicts)
    assert all(VERDICTS.index(found) >= VERDICTS.index(v) for v in verdicts)
    assert found in (verdicts or ["pass"])
    assert verdict_of(RULE.check(v) for v in verdicts) == found


def test_assumptions_are_noted_once_and_only_when_chosen() -> None:
    made, default = Assumptions(), Text("default", "mend", {})
    assert made.choose("/a", 2.0, 1.0, default) == 2.0
    assert made.listed() == []
    assert made.choose("/a", None, 1.0, default) == 1.0
    made.note("/a", 5.0, Text("again", "mend", {}))
    assert [(a.field, a.value, a.why) for a in made.listed()] == [("/a", 1.0, "default")]


def test_all_faults_are_reported_together() -> None:
    faults = Faults()
    faults.raise_any()
    faults.add_if(False, "/x", "no-such-code")
    faults.add("/a", "given-twice")
    faults.add_if(True, "/b", "fewer-groups", groups=2)
    with pytest.raises(ContradictionError) as raised:
        faults.raise_any()
    assert [(f.pointer, f.message, f.message.parameters) for f in raised.value.faults] == [
        ("/a", sentence("given-twice"), {}),
        ("/b", sentence("fewer-groups", groups=2), {"groups": 2.0}),
    ]


def test_a_basis_names_its_source_and_how_it_was_checked() -> None:
    found = basis("bishop-1988", "equation 1", "Refitted.")
    assert found.kind == "published"
    assert "equation 1" in found.reference
    assert found.note.startswith("Refitted.")
    assert len(found.note) > len("Refitted.")
    with pytest.raises(KeyError):
        basis("nobody-wrote-this")


def test_a_table_reads_numbers_and_gaps() -> None:
    with pytest.raises(FileNotFoundError):
        table("wiring", "no_such_table")
    assert number({"a_v": "2.5"}, "a_v") == 2.5
    assert number({"a_v": ""}, "a_v") is None


@pytest.mark.parametrize(
    ("words", "value", "admitted"),
    [
        ("any", "pv", True),
        ("pv", "pv", True),
        ("pv-string pv-output", "pv-output", True),
        ("pv-string pv-output", "pv", False),
        ("nec iec", "us-33-cfr-183", False),
        ("", "pv", False),
    ],
)
def test_a_cell_admits_the_words_that_it_lists(words: str, value: str, admitted: bool) -> None:
    """Whole words: what is for strings' leads is not for all circuits of panels."""
    assert admits(words, value) == admitted
