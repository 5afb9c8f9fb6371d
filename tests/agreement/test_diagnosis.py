"""Diagnoses of arrays with known faults, whose readings come from the exact solver.

A sample: `simulated_arrays.py` diagnoses 300 sound arrays and 100 of each fault.
"""

import pytest
from msgspec.structs import replace
from simulated_arrays import FAULTS, bound, reported, simulated, tally

from sunhitch_service.engine.commissioning.calculation import commissioning_check

FAINT = "cell cracked to 80 %"
"""Takes 1 to 8 % of the power; `simulated_arrays.bound` tells how often any test could see it."""


def test_sound_arrays_pass():
    """At most 5 % false reviews; none fails."""
    found = tally("", range(20))
    assert found.verdicts["pass"] >= 19
    assert found.verdicts["fail"] == 0


def test_a_voltage_at_rest_accuses_nobody_of_what_it_cannot_show():
    """At most 5 % false reviews there too; dirt hardly changes it, and stays possible."""
    reviewed = 0
    for seed in range(20):
        asked = reported(simulated(seed, "")[0])
        at_rest = [one for one in asked.readings if one.kind == "open-circuit"][-1:]
        answer = commissioning_check(replace(asked, readings=at_rest))
        (day,) = answer.diagnoses
        reviewed += answer.verdict != "pass"
        assert "dirt" in {one.code for one in day.still_possible}
        assert day.next_reading is not None
    assert reviewed <= 1


@pytest.mark.parametrize("seed", [59, 160, 232])
def test_one_high_figure_among_many_is_chance(seed):
    """Above its own 95 % interval, as one of seven often is."""
    answer = simulated(seed, "")[1]
    figures = [f for reading in answer.readings for f in reading.quantities]
    assert any(f.measured > f.expected + f.uncertainty for f in figures)
    assert answer.verdict == "pass"


@pytest.mark.parametrize("fault", [fault for fault in FAULTS if fault != FAINT])
def test_the_right_cause_comes_first(fault):
    """In 95 % of all cases and more; a thin cloud never makes an array fail."""
    found = tally(fault, range(100, 104))
    assert found.right >= 3
    assert found.kept == 4 or fault == "low light"
    assert fault not in ("thin cloud", "low light") or found.verdicts["fail"] == 0


def test_a_faint_crack_is_never_excluded():
    """Right first in nine of ten and more; no test of all could do better than some 92 of 100."""
    found = tally(FAINT, range(6))
    assert found.kept == 6
    assert found.right >= 4
    assert 0.75 <= bound(FAINT, range(4), 25) <= 1.0


def test_the_next_reading_is_one_that_nobody_took():
    told = 0
    for seed in range(6):
        array, answer = simulated(seed, FAINT)
        following = answer.diagnoses[0].next_reading
        if following is None:
            continue
        told += 1
        taken = {("open-circuit", f"s{k}") for k in range(len(array.strings))}
        taken |= {(kind, "array") for kind in ("open-circuit", "short-circuit", "operating")}
        assert (following.kind, following.of) not in taken
        assert 0.0 < following.doubt_removed_fraction <= 1.0
    assert told >= 3
