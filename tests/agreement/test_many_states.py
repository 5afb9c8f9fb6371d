"""Many light states at once: within 1e-4 of the exact solver, and of every promise it makes."""

import json
from pathlib import Path

import msgspec
import pytest
from hostile_arrays import array_without_diodes, hostile_array, hostile_light
from loops_switch import solving
from run_hostile_states import ROUNDING, Tally, examine

from sunhitch.types.shade import ShadedIvAnswer, ShadedIvRequest
from sunhitch_service.engine.pv.accelerate import installed
from sunhitch_service.engine.pv.many_states import LightSolver
from sunhitch_service.engine.pv.maxima import CERTIFIED
from sunhitch_service.engine.shade.calculation import shaded_iv

pytestmark = pytest.mark.skipif(not installed(), reason="the extra `fast` is not installed")
DATA = Path(__file__).parent / "data"
MANY = 200
"""States from which the compiled kernel takes over."""


def repeated(name: str, count: int) -> ShadedIvAnswer:
    """A request with its states so many times, one round after the other."""
    body = json.loads((DATA / name).read_text())
    states = body["states"] * count
    body["states"] = [{**state, "name": str(number)} for number, state in enumerate(states)]
    return shaded_iv(msgspec.convert(body, ShadedIvRequest))


@pytest.mark.parametrize(
    "name",
    [
        "bypass_groups_of_unequal_length.json",
        "diode_for_every_two_cells.json",
        "no_diodes_in_dim_light.json",
    ],
)
def test_a_state_gives_the_same_among_many_as_alone(name):
    """Two tops of nearly the same power: the lower one was 0.39 % and 0.84 % lower.

    Without diodes, driven backwards beyond 709 V, two states were 26 % and 55 % too high.
    """
    alone, many = repeated(name, 1).states, repeated(name, MANY).states
    exact = [state.maximum_power_point.power_w for state in alone]
    powers = [state.maximum_power_point.power_w for state in many]
    assert powers == pytest.approx(exact * MANY, rel=CERTIFIED)


@pytest.mark.parametrize("count", [1, MANY])
def test_groups_of_unequal_length_give_their_higher_top(count):
    """241.863 W, found by dense sampling."""
    states = repeated("bypass_groups_of_unequal_length.json", count).states
    assert states[0].maximum_power_point.power_w == pytest.approx(241.863, rel=CERTIFIED)


@pytest.mark.parametrize("seed", range(150))
def test_hostile_states(seed):
    """A sample; `run_hostile_states.py` goes on for as long as one likes."""
    tally = Tally()
    with solving(compiled=True):
        examine(hostile_array(seed), seed, 6, tally)
    assert tally.states == 6
    assert tally.broken == 0
    assert tally.open_ended == 0


@pytest.mark.parametrize("seed", range(150))
def test_arrays_without_diodes_in_dim_light(seed, monkeypatch):
    """By the kernel itself: what it leaves to the exact solver would not show its errors."""
    array = array_without_diodes(seed)
    exact, fast = (
        LightSolver(array.panels, array.wiring, compiled=compiled) for compiled in (False, True)
    )
    lit = hostile_light(seed, fast.cells, 6), array.irradiance_w_m2, array.cell_temperature_c
    monkeypatch.setattr(fast, "_one_by_one", None)
    with solving(compiled=True):
        wanted, found = exact.maxima(*lit), fast.maxima(*lit)
    assert found.power == pytest.approx(wanted.power, rel=CERTIFIED)
    assert (wanted.power <= found.bound * (1.0 + ROUNDING)).all()
