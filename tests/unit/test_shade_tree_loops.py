"""Each part of the compiled tree, as written, against the same in NumPy over all that is legal."""

from collections.abc import Iterator
from dataclasses import fields
from importlib import import_module
from typing import Any

import numpy as np
import pytest
from loops_switch import interpreted, solving

from sunhitch_service.engine.pv import newton
from sunhitch_service.engine.pv.bounds import _turn, conductance_bounds
from sunhitch_service.engine.pv.cell import (
    LIMITS,
    Diode,
    Junction,
    cell_maxima,
    cell_maxima_of,
    dark_current,
    diode_columns,
    diode_current,
    gather,
)
from sunhitch_service.engine.pv.network import LitPanel, Network, build
from sunhitch_service.engine.pv.newton import (
    NewtonTree,
    NotSolvedError,
    State,
    _limited_diode,
    solve,
)

ROUNDING = 1e-12
CELLS = [
    Junction(1e-9, 0.028, 0.005, 0.05, -15.0, factor, exponent)
    for factor in (0.0, 0.002, 0.4)
    for exponent in (0.6, 1.0, 1.05, 3.5, 13.0)
]
DIODE = Diode(1e-6, 0.027, 0.01)


@pytest.fixture(scope="module")
def tree() -> Iterator[Any]:
    """The module, not compiled."""
    with interpreted():
        yield import_module("sunhitch_service.engine.pv.tree_loops")


def network_of(cell: Junction) -> Network:
    """One cell behind its diode."""
    light = np.ones((1, 1))
    panel = LitPanel(cell, cell, 5.0, light, ((0, 0, True),), DIODE)
    return build({"A": panel}, [["A"]])


def row_of(cell: Junction) -> Any:
    """The cell as the loops read it."""
    network = network_of(cell)
    return network.flat[0][0]


@pytest.mark.parametrize("cell", CELLS)
def test_current_of_a_cell(tree, cell):
    v = np.concatenate((-15.0 + np.geomspace(1e-14, 14.0, 60), np.linspace(-1.0, 0.9, 60), [30.0]))
    plainly = np.array(dark_current(v, cell))
    found = np.array([tree._dark_current(one, row_of(cell), LIMITS) for one in v]).T
    assert found == pytest.approx(plainly, rel=1e-9)


def test_current_of_a_diode(tree):
    u = np.concatenate((np.linspace(-40.0, 1.2, 80), [20.0]))
    own = diode_columns([DIODE])[:, 0]
    plainly = np.array(diode_current(u, *own[:2]))
    found = np.array([tree._diode_current(one, own, LIMITS) for one in u]).T
    assert found == pytest.approx(plainly, rel=ROUNDING)
    slope = plainly[1]
    through = [tree._diode_conductance(one, own, LIMITS) for one in u]
    assert through == pytest.approx(slope / (1.0 + slope * own[2]), rel=ROUNDING)


@pytest.mark.parametrize("cell", CELLS)
def test_where_a_cell_conducts_least(tree, cell):
    assert tree._turn(row_of(cell)) == pytest.approx([float(x) for x in _turn(cell)], rel=ROUNDING)


@pytest.mark.parametrize("cell", CELLS)
def test_how_far_a_cell_moves(tree, cell):
    v, change = (
        each.ravel()
        for each in np.meshgrid(np.linspace(-14.9, 0.7, 30), np.linspace(-40.0, 40.0, 161))
    )
    near = np.linspace(-0.2, 0.2, 161)
    v, change = np.append(v, np.full(161, 0.55)), np.append(change, near)
    newton = NewtonTree(network_of(cell), np.zeros(len(v), dtype=bool), 5.0)
    plainly = newton._limited(v[:, None], change[:, None])[:, 0]
    found = [
        tree._moved(*each, row_of(cell), 0.3)
        for each in zip(v.tolist(), change.tolist(), strict=True)
    ]
    assert found == pytest.approx(plainly, rel=ROUNDING)


def test_how_far_a_diode_moves(tree):
    u, wanted = (
        each.ravel()
        for each in np.meshgrid(np.linspace(-20.0, 0.6, 40), np.linspace(-25.0, 9.0, 200))
    )
    u = np.append(u, np.linspace(0.0, 0.5, 101))
    wanted = np.append(wanted, np.full(101, 0.3))
    found = [
        tree._moved_diode(*each, 0.027) for each in zip(u.tolist(), wanted.tolist(), strict=True)
    ]
    assert found == pytest.approx(_limited_diode(u, wanted, 0.027), rel=ROUNDING)


@pytest.mark.parametrize("curvature", [0.0, -0.4, 0.2])
def test_a_step_to_where_power_is_level(tree, curvature):
    """Newton's on P = V·I, with I a parabola about the voltage where it was linearised."""
    source, conductance = 9.0, 0.7
    for v in (2.0, 5.0, 8.0):
        current, rise_v = source - conductance * v, 1e-4

        def power(at: float, v: float = v, current: float = current) -> float:
            off = at - v
            return at * (current - conductance * off + 0.5 * curvature * off**2)

        first = (power(v + rise_v) - power(v - rise_v)) / (2.0 * rise_v)
        second = (power(v + rise_v) - 2.0 * power(v) + power(v - rise_v)) / rise_v**2
        wanted = v - first / second if second < 0.0 else v
        reduced = source, conductance, curvature
        found = tree._terminal_v(v, reduced, -100.0, 100.0)
        assert found == pytest.approx(wanted, rel=1e-5)
        assert tree._terminal_v(v, reduced, 6.0, 7.0) == min(max(found, 6.0), 7.0)


@pytest.mark.parametrize("cell", CELLS)
def test_largest_power_of_a_cell(cell):
    currents = np.concatenate(([0.0, 1e-12], np.geomspace(1e-6, 12.0, 60)))
    many = gather([cell], np.zeros(len(currents), dtype=np.intp))
    with solving(compiled=False):
        plainly = cell_maxima(cell, currents)
    with interpreted():
        for own in (cell, many):
            found = cell_maxima_of(own, currents)
            assert found[0] == pytest.approx(plainly[0], rel=1e-9, abs=1e-15)
            assert found[1] == pytest.approx(plainly[1], abs=1e-6)


def test_the_worst_change_is_the_largest_or_none(tree):
    assert tree._worse(1.0, 2.0) == 2.0
    assert tree._worse(2.0, 1.0) == 2.0
    assert np.isnan(tree._worse(2.0, np.nan))
    assert np.isnan(tree._worse(np.nan, 2.0))


def two_strings(blocking: Diode) -> Network:
    """Unlike strings of unlike panels, with shade, and cells that turn at 0.33 V."""
    kinds = [
        Junction(1e-9, 0.028, 0.005, 0.05, -2.0, 0.02, 13.0),
        Junction(2e-10, 0.03, 0.008, 0.01, -15.0, 0.002, 3.5),
    ]
    groups = ((0, 1, True), (2, 3, False))
    panels = {
        name: LitPanel(kind, kind, 5.0, np.array(light), groups, DIODE)
        for name, kind, light in (
            ("A", kinds[0], [[1.0, 0.2, 1.0, 1.0], [1.0, 1.0, 0.6, 1.0]]),
            ("B", kinds[1], [[1.0, 1.0, 1.0, 0.4]]),
            ("C", kinds[0], [[0.5, 0.5, 1.0, 1.0]]),
        )
    }
    return build(panels, [["A", "B"], ["C"]], blocking, 0.02)


def state_of(network: Network, points: int, seed: int) -> State:
    """Any voltages that parts may have, rising from point to point."""
    random = np.random.default_rng(seed)

    def rising(parts: int, low: float, high: float) -> Any:
        return np.sort(random.uniform(low, high, (points, parts)), axis=0)

    strings, groups = len(network.string_many), len(network.group_many)
    zero = np.zeros((points, 1))
    return State(
        voltage=np.sort(random.uniform(0.0, 3.0, points)),
        current=zero[:, 0].copy(),
        conductance=zero[:, 0].copy(),
        curvature=zero[:, 0].copy(),
        junction_v=rising(len(network.current), -1.5, 0.7),
        bypass_u=rising(groups, -2.0, 0.5)[::-1].copy(),
        blocking_u=rising(strings, -2.0, 0.5)[::-1].copy(),
        string_i=np.zeros((points, strings)),
        group_v=np.zeros((points, groups)),
        branch_i=np.zeros((points, len(network.branch_many))),
    )


BLOCKING = pytest.mark.parametrize("blocking", [newton.NO_DIODE, Diode(1e-7, 0.03, 0.005)])


@BLOCKING
def test_bounds_between_any_two_points(blocking):
    network, left = two_strings(blocking), np.arange(11)
    state = state_of(network, 12, 5)
    with solving(compiled=False):
        plainly = conductance_bounds(network, state, left, left + 1)
    with interpreted():
        found = conductance_bounds(network, state, left, left + 1)
    assert found == pytest.approx(plainly, rel=1e-9)


@pytest.mark.parametrize("starts", [(0,), (0, 1, 4), (0, 2, 5)])
def test_parts_in_the_other_form(starts):
    random = np.random.default_rng(7)
    parts = random.uniform(0.1, 9.0, (3, 2, 6))
    parts[2] -= 4.0
    many = random.integers(1, 40, 6).astype(np.float64)
    with solving(compiled=False):
        plainly = newton.reduced(parts, many, np.array(starts))
    with interpreted():
        found = newton.reduced(parts, many, np.array(starts))
    assert found == pytest.approx(plainly, rel=ROUNDING)


SETTINGS = [
    {},
    {"_FOLLOWED_STEPS": 2},
    {"_TOLERANCE": 1e-4, "_NEAR": 0.0},
    {"_TOLERANCE": 1e-7, "_NEAR": 1e-1, "_ROUNDING": 0.0},
    {"_TOLERANCE": 0.0, "_ROUNDING": 1e-2, "_MANY_STEPS": 3},
]


@BLOCKING
@pytest.mark.parametrize("most_steps", [1, 2, 3, 4, 5, 6, 8, 11, 40])
@pytest.mark.parametrize("settings", SETTINGS, ids=range(len(SETTINGS)))
def test_every_step_is_the_same(blocking, most_steps, settings, monkeypatch):
    """Where they end too, by whichever limit ends them."""
    network = two_strings(blocking)
    for name, value in (settings | {"_MOST_STEPS": most_steps}).items():
        monkeypatch.setattr(newton, name, value)

    def stepped() -> tuple[bool, State]:
        state = state_of(network, 6, 8)
        low, high = 0.9 * state.voltage, 1.1 * state.voltage
        low[:3] = high[:3] = state.voltage[:3]
        is_open = np.arange(6) == 2
        try:
            solve(network, state, is_open, 5.0, (low, high))
        except NotSolvedError:
            return False, state
        return True, state

    with solving(compiled=False):
        ended, plainly = stepped()
    with interpreted():
        ended_in_loops, found = stepped()
    assert ended_in_loops == ended
    for field in fields(State):
        one, other = (getattr(state, field.name) for state in (plainly, found))
        assert other == pytest.approx(one, rel=1e-7, abs=1e-9), field.name


def test_a_network_without_conductance_is_not_solved(tree):
    """As where every voltage is beyond all numbers."""
    network = two_strings(newton.NO_DIODE)
    state = state_of(network, 2, 8)
    state.junction_v[1, 0] = np.nan
    with interpreted(), pytest.raises(NotSolvedError):
        solve(network, state, np.zeros(2, dtype=bool), 5.0)
