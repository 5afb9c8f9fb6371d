"""The engine against stored results of a circuit simulator (ngspice 39, 6,000 voltage steps)."""

import json
from pathlib import Path

import msgspec
import numpy as np
import pytest
from loops_switch import solving

from sunhitch.types.shade import ShadedIvRequest
from sunhitch_service.engine.shade.calculation import shaded_iv

CASES = json.loads((Path(__file__).parent / "data" / "shaded-iv.json").read_text())["cases"]


@pytest.fixture(params=[False, True], ids=["plain", "compiled"])
def loops(request):
    """Solves without the compiled loops, then with them."""
    with solving(compiled=request.param):
        yield


@pytest.fixture(params=CASES, ids=lambda case: case["id"])
def solved(request, loops):
    case = request.param
    return case, shaded_iv(msgspec.convert(case["request"], ShadedIvRequest))


def test_power_and_its_place(solved):
    case, answer = solved
    top = answer.maximum_power_point
    assert top.power_w == pytest.approx(case["expected"]["p_mp_w"], rel=5e-5)
    assert top.voltage_v == pytest.approx(case["expected"]["v_mp_v"], rel=1e-3)
    assert top.current_a == pytest.approx(case["expected"]["i_mp_a"], rel=1e-3)


def test_ends_of_the_curve(solved):
    case, answer = solved
    assert answer.open_circuit_voltage_v == pytest.approx(case["expected"]["v_oc_v"], rel=1e-4)
    assert answer.short_circuit_current_a == pytest.approx(case["expected"]["i_sc_a"], rel=1e-4)


def test_every_local_maximum(solved):
    case, answer = solved
    theirs = sorted((p for p, _ in case["expected"]["local_maxima"]), reverse=True)
    assert [top.power_w for top in answer.local_maxima] == pytest.approx(theirs, rel=5e-5)


def test_curve(solved):
    case, answer = solved
    v, i = np.array(case["expected"]["iv"]).T
    ours = np.interp(v, answer.curve.voltage_v, answer.curve.current_a)
    assert np.max(np.abs(ours - i)) < 1e-3 * case["expected"]["i_sc_a"]
    assert len(answer.curve.voltage_v) == case["request"]["curve_points"]
