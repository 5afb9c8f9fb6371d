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


SIMULATOR = {"source": "ngspice 39, 6,000 voltage steps", "kind": "reference program"}


def test_power_and_its_place(solved, outside):
    case, answer = solved
    top, theirs, of = answer.maximum_power_point, case["expected"], case["id"]
    outside(top.power_w, theirs["p_mp_w"], rel=5e-5, of=f"{of}, Pmp", unit="W", **SIMULATOR)
    outside(top.voltage_v, theirs["v_mp_v"], rel=1e-3, of=f"{of}, Vmp", unit="V", **SIMULATOR)
    outside(top.current_a, theirs["i_mp_a"], rel=1e-3, of=f"{of}, Imp", unit="A", **SIMULATOR)


def test_ends_of_the_curve(solved, outside):
    case, answer = solved
    v_oc_v, i_sc_a, of = answer.open_circuit_voltage_v, answer.short_circuit_current_a, case["id"]
    theirs = case["expected"]
    outside(v_oc_v, theirs["v_oc_v"], rel=1e-4, of=f"{of}, Voc", unit="V", **SIMULATOR)
    outside(i_sc_a, theirs["i_sc_a"], rel=1e-4, of=f"{of}, Isc", unit="A", **SIMULATOR)


def test_every_local_maximum(solved, outside):
    case, answer = solved
    theirs = sorted((p for p, _ in case["expected"]["local_maxima"]), reverse=True)
    ours, of = [top.power_w for top in answer.local_maxima], f"{case['id']}, local maxima"
    outside(ours, theirs, rel=5e-5, of=of, unit="W", **SIMULATOR)


def test_curve(solved, outside):
    case, answer = solved
    v, i = np.array(case["expected"]["iv"]).T
    ours = np.interp(v, answer.curve.voltage_v, answer.curve.current_a)
    within = 1e-3 * case["expected"]["i_sc_a"]
    outside(ours, i, abs=within, of=f"{case['id']}, curve", unit="A", **SIMULATOR)
    assert len(answer.curve.voltage_v) == case["request"]["curve_points"]
