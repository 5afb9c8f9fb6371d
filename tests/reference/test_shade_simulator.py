"""The engine against a general circuit simulator, live, on seeded random arrays.

Tolerances are those that the service promises: power 0.005 %, open-circuit voltage and
short-circuit current 0.01 %, the curve 0.1 % of the short-circuit current. Set
SUNHITCH_NETWORKS=200 for the long run.
"""

import os

import msgspec
import numpy as np
import pytest
from loops_switch import solving
from shade_netlist import simulate
from shade_networks import random_request, tops

from sunhitch.types.shade import ShadedIvAnswer, ShadedIvRequest
from sunhitch_service.engine.pv.accelerate import installed
from sunhitch_service.engine.shade.calculation import shaded_iv

NETWORKS = int(os.environ.get("SUNHITCH_NETWORKS", "24"))
STEPS = 2000
pytestmark = pytest.mark.needs_program("ngspice")


@pytest.mark.parametrize("seed", range(NETWORKS))
def test_random_network_agrees_with_the_circuit_simulator(seed):
    request = random_request(seed)
    answers = _answers(msgspec.convert(request, ShadedIvRequest))
    sim = simulate(request, STEPS, 1.0002 * answers[0].open_circuit_voltage_v)
    for answer in answers:
        _agrees(request, answer, sim)


def _answers(request: ShadedIvRequest) -> list[ShadedIvAnswer]:
    """Without the compiled loops, and with them where they are installed."""
    answers = []
    for compiled in [False, True] if installed() else [False]:
        with solving(compiled):
            answers.append(shaded_iv(request))
    return answers


def _agrees(request, answer: ShadedIvAnswer, sim) -> None:
    i_sc = float(np.interp(0.0, sim.v, sim.i))
    assert answer.short_circuit_current_a == pytest.approx(i_sc, rel=1e-4)
    _same_open_circuit(request, answer, sim, i_sc)
    _same_maxima(answer, sim)
    inside = (sim.v >= 0.0) & (sim.v <= answer.open_circuit_voltage_v)
    ours = np.interp(sim.v[inside], answer.curve.voltage_v, answer.curve.current_a)
    assert np.max(np.abs(ours - sim.i[inside])) < 1e-3 * i_sc
    _same_diodes(request, answer, sim)


def _same_open_circuit(request, answer: ShadedIvAnswer, sim, i_sc: float) -> None:
    if "blocking_diode" in request["wiring"]:
        # A blocked array's current is smaller than what the simulator resolves (reltol 1e-5).
        at = float(np.interp(answer.open_circuit_voltage_v, sim.v, sim.i))
        assert abs(at) < 2e-5 * i_sc
    else:
        v_oc = float(np.interp(0.0, -sim.i, sim.v))
        assert answer.open_circuit_voltage_v == pytest.approx(v_oc, rel=1e-4)


def _same_maxima(answer: ShadedIvAnswer, sim) -> None:
    """Small maxima are compared in shares of the best: the simulator's tolerance is a share of
    the largest current."""
    best = answer.maximum_power_point.power_w
    theirs = tops(sim.v, sim.i, 1e-4 * best)
    assert best == pytest.approx(max(p for _, p in theirs), rel=5e-5)
    for v, p in theirs:
        near = min(answer.local_maxima, key=lambda top: abs(top.voltage_v - v))
        assert near.power_w == pytest.approx(p, abs=5e-5 * best)
    for top in answer.local_maxima:
        nearest = int(np.argmin(np.abs(sim.v - top.voltage_v)))
        around = (sim.v * sim.i)[max(nearest - 2, 0) : nearest + 3]
        assert top.power_w == pytest.approx(around.max(), abs=5e-5 * best)


def _same_diodes(request, answer: ShadedIvAnswer, sim) -> None:
    at = int(np.argmin(np.abs(sim.v - answer.maximum_power_point.voltage_v)))
    for given, state in zip(request["panels"], answer.panels, strict=True):
        i_sc = given["panel"]["electrical"]["i_sc_a"]
        own = [series[at] for (name, _), series in sim.diodes.items() if name == given["name"]]
        surely = sum(current > 0.012 * i_sc for current in own)
        maybe = sum(current > 0.008 * i_sc for current in own)
        assert surely <= state.conducting_diodes <= maybe
