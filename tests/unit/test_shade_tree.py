"""An array as a tree of parts: all are counted, power is kept, bounds close, no top is missed."""

from dataclasses import replace

import numpy as np
import pytest
from hostile_arrays import array_without_diodes, hostile_array, hostile_light
from loops_switch import solving
from scipy.optimize import minimize_scalar

from sunhitch_service.engine.pv import losses, newton
from sunhitch_service.engine.pv.bounds import _cells, _turn, conductance_bounds, power_bounds
from sunhitch_service.engine.pv.cell import Diode, Junction, dark_current
from sunhitch_service.engine.pv.curve_sets import common_grid, padded, rising, side_by_side
from sunhitch_service.engine.pv.maxima import start
from sunhitch_service.engine.pv.network import NO_DIODE, LitPanel, build
from sunhitch_service.engine.pv.newton import NotSolvedError, solve
from sunhitch_service.engine.pv.solution import Interconnection, Solution, drawn, solve_array
from sunhitch_service.engine.pv.sweep import sweep

CELL = Junction(4e-10, 0.0283, 0.004, 1.0 / 60.0, -15.0, 0.002, 3.5)
OTHER = Junction(2e-9, 0.0295, 0.006, 1.0 / 20.0, -6.0, 0.05, 2.5)
DIODE = Diode(1e-6, 0.027, 0.01)
BLOCKING = Diode(1e-7, 0.026, 0.02)
SEEDS = range(1, 12)


@pytest.fixture(autouse=True)
def plain():
    with solving(compiled=False):
        yield


def lit(light, groups, cell: Junction = CELL) -> LitPanel:
    return LitPanel(cell, cell, 6.0, np.array(light, dtype=float), groups, DIODE)


def hostile(seed: int) -> tuple[dict[str, LitPanel], Interconnection]:
    array = (array_without_diodes if seed % 4 == 3 else hostile_array)(seed)
    cells = sum(p.layout.paths_in_parallel * p.layout.positions_in_series
                for p in (array.panels[name] for name in array.names))  # fmt: skip
    return array.lit(hostile_light(seed, cells, 1)[0]), array.wiring


@pytest.fixture(params=SEEDS)
def solved(request) -> tuple[dict[str, LitPanel], Solution]:
    panels, wiring = hostile(request.param)
    return panels, solve_array(panels, wiring)


def test_equal_parts_are_counted_once():
    """By hand: panel b is as a, but for the order of its cells; c has another diode in one group.

    Two strings alike, since order in a string does not count; in each, the groups (1, 1, ½) and
    (1, 1, 1) of both panels are one each, taken twice.
    """
    groups = ((0, 2, True), (3, 5, True))
    a = lit([[1.0, 0.5, 1.0, 1.0, 1.0, 1.0]], groups)
    b = lit([[1.0, 1.0, 1.0, 1.0, 1.0, 0.5]], groups)
    c = lit([[1.0, 0.5, 1.0, 1.0, 1.0, 1.0]], ((0, 2, True), (3, 5, False)))
    net = build({"a": a, "b": b, "d": a, "e": b, "c": c}, [["a", "b"], ["e", "d"], ["c"]])
    assert net.string_many.tolist() == [2.0, 1.0]
    assert net.group_start.tolist() == [0, 1, 2, 3]
    found = {
        (net.string_of_group[k], net.group_diode[k], *net.fraction[own], *net.many[own]): (
            net.group_many[k],
            *net.cells_in_all[own],
        )
        for k, own in enumerate(map(net.branch_cells, range(4)))
    }
    assert found == {
        (0, DIODE, 0.5, 1.0, 1.0, 2.0): (2.0, 4.0, 8.0),
        (0, DIODE, 1.0, 3.0): (2.0, 12.0),
        (1, DIODE, 0.5, 1.0, 1.0, 2.0): (1.0, 1.0, 2.0),
        (1, NO_DIODE, 1.0, 3.0): (1.0, 3.0),
    }
    assert net.places["b"].groups == net.places["a"].groups[::-1]
    assert net.places["c"].string == 1


@pytest.mark.parametrize("unlike", ["light", "cells", "current"])
def test_unlike_parts_are_kept_apart(unlike):
    groups = ((0, 1, True),)
    other = {
        "light": lit([[1.0, 0.9]], groups),
        "cells": lit([[1.0, 1.0]], groups, OTHER),
        "current": LitPanel(CELL, CELL, 5.0, np.ones((1, 2)), groups, DIODE),
    }[unlike]
    net = build({"a": lit([[1.0, 1.0]], groups), "b": other}, [["a"], ["b"]])
    assert net.string_many.tolist() == [1.0, 1.0]
    assert float(net.cells_in_all.sum()) == 4.0


def test_all_cells_are_counted_and_lie_where_their_panel_says(solved):
    panels, solution = solved
    net = solution.network
    assert net.cells_in_all.sum() == sum(panel.light.size for panel in panels.values())
    for name, panel in panels.items():
        places = net.places[name]
        for (first, last, _), group, branches in zip(
            panel.groups, places.groups, places.branches, strict=True
        ):
            assert net.string_of_group[group] == places.string
            for row, branch in zip(panel.light, branches, strict=True):
                own = net.branch_cells(branch)
                shares = np.repeat(net.fraction[own], net.many[own].astype(int))
                assert shares.tolist() == sorted(row[first : last + 1].tolist())


def test_what_the_cells_give_is_delivered_or_turned_into_heat(solved):
    """Tellegen's theorem at the global maximum: powers of all parts add up to the terminals'.

    What blocked diodes let through at their saturation current is left to the mismatch.
    """
    panels, solution = solved
    net, state, best = solution.network, solution.points.state, solution.best
    found = losses.loss_split(panels, solution, 0.0)
    current = state.branch_i[best][net.branch_of_cell]
    v = state.junction_v[best] - current * net.cells.series_resistance
    from_cells = float((current * v) @ net.cells_in_all)
    groups = net.string_many[net.string_of_group] * net.group_many
    leaked = float(groups @ (net.bypass[0] * np.abs(state.group_v[best])))
    spent = found.delivered_w + found.bypass_diodes_w + found.blocking_and_cable_w
    assert spent <= from_cells * (1.0 + 1e-6)
    assert spent == pytest.approx(from_cells, rel=1e-6, abs=1.001 * leaked)
    assert found.bypass_diodes_w >= 0.0
    assert found.blocking_and_cable_w >= -1e-12
    best_of_each = found.unshaded_w - found.light_lost_w
    assert found.mismatch_w == pytest.approx(best_of_each - spent, rel=1e-9, abs=1e-9)
    assert found.mismatch_w >= -1e-6 * best_of_each


def test_every_part_obeys_its_own_law(solved):
    """Cells Bishop's, diodes Shockley's, at every operating point that was solved."""
    _, solution = solved
    net, state = solution.network, solution.points.state
    cells = net.current - dark_current(state.junction_v, net.cells)[0]
    scale = 1e-6 * float(net.current.max())
    assert np.abs(cells - state.branch_i[:, net.branch_of_cell]).max() <= scale
    saturation, thermal, resistance = net.bypass
    through = np.where(saturation > 0.0, saturation * np.expm1(state.bypass_u / thermal), 0.0)
    paths = np.add.reduceat(net.branch_many * state.branch_i, net.group_start, axis=1)
    strings = state.string_i[:, net.string_of_group]
    assert np.abs(paths + through - strings).max() <= scale
    across = -(state.bypass_u + through * resistance)
    assert np.abs(np.where(saturation > 0.0, across - state.group_v, 0.0)).max() <= 1e-4
    totals = np.add.reduceat(net.group_many * state.group_v, net.string_start, axis=1)
    totals -= net.resistance * state.string_i
    if net.blocking != NO_DIODE:
        totals -= state.blocking_u + net.blocking.series_resistance * state.string_i
    assert totals == pytest.approx(np.broadcast_to(state.voltage[:, None], totals.shape), abs=1e-4)
    assert state.current == pytest.approx(state.string_i @ net.string_many, abs=scale)


@pytest.mark.parametrize("steps", [0, 1, 2])
def test_what_is_not_solved_in_the_steps_allowed_is_refused(steps, monkeypatch):
    monkeypatch.setattr(newton, "_MOST_STEPS", steps)
    light = np.linspace(0.1, 1.0, 6)[None]
    with pytest.raises(NotSolvedError):
        solve_array({"a": lit(light, ((0, 2, True), (3, 5, True)))}, Interconnection([["a"]]))


def sampled(solution: Solution, v: np.ndarray):
    net = solution.network
    curves = sweep(net)
    return solve(net, start(net, curves, v), np.zeros(len(v), dtype=bool), curves.scale)


def test_every_top_is_told_and_every_told_top_is_one(solved):
    """Against 800 even points: none stands out between the maxima that are told."""
    _, solution = solved
    points, best = solution.points, solution.power(solution.best)
    v = np.linspace(0.0, points.open_circuit_voltage, 800)
    power = sampled(solution, v).power
    told = sorted((points.state.voltage[row], solution.power(row)) for row in points.maxima)
    inner = np.flatnonzero((power[1:-1] > power[:-2]) & (power[1:-1] >= power[2:])) + 1
    assert len(inner) <= len(told)
    for at in inner:
        near = min(told, key=lambda top: abs(top[0] - v[at]))
        assert near[0] == pytest.approx(v[at], abs=2.0 * v[1])
        assert power[at] <= near[1] + 1e-9 * best
    powers = [solution.power(row) for row in points.maxima]
    assert powers == sorted(powers, reverse=True)
    for volts, watts in told:
        beside = sampled(solution, volts + np.array([-1e-4, 1e-4]) * points.open_circuit_voltage)
        assert (beside.power <= watts * (1.0 + 1e-9)).all()
    assert solution.tracked == max(points.maxima, key=lambda row: points.state.voltage[row])


@pytest.mark.parametrize("at", [0.3, 0.55, 0.8, 0.97])
def test_power_rises_and_bends_as_its_derivatives_say(solved, at):
    """Against differences of what is solved a ten-thousandth of open circuit to either side."""
    _, solution = solved
    step = 1e-4 * solution.points.open_circuit_voltage
    state = sampled(solution, at / 1e-4 * step + step * np.array([-1.0, 0.0, 1.0]))
    rise = (state.power[2] - state.power[0]) / (2.0 * step)
    bend = (state.rise[2] - state.rise[0]) / (2.0 * step)
    assert state.rise[1] == pytest.approx(rise, rel=1e-3, abs=1e-3 * state.current[1])
    assert state.bend[1] == pytest.approx(bend, rel=2e-2)


@pytest.mark.parametrize("at", [0.05, 0.3, 0.55, 0.8, 0.97])
def test_bounds_close_upon_slope_and_power_as_points_come_together(solved, at):
    _, solution = solved
    v = solution.points.open_circuit_voltage * np.array([at, at + 1e-6])
    state = sampled(solution, v)
    ends = np.array([0]), np.array([1])
    least, most = conductance_bounds(solution.network, state, *ends)[:, 0]
    slope = float(state.conductance.mean())
    assert (least, most) == pytest.approx((slope, slope), rel=1e-2)
    bound = power_bounds(solution.network, state, *ends)[0]
    assert bound == pytest.approx(float(state.power.max()), rel=1e-5)
    assert bound >= float(state.power.max()) * (1.0 - 1e-12)


@pytest.mark.parametrize(
    "cell",
    [
        Junction(4e-10, 0.028, 0.0, 0.05, -12.0, 0.01, 3.2),
        Junction(1e-25, 0.028, 0.0, 0.05, -2.0, 0.3, 9.0),
    ],
)
def test_no_cell_between_two_voltages_conducts_beyond_its_bounds(cell):
    """The other one, of hardly any diode, conducts least at half a volt: 2 V·2 ÷ (9 − 1)."""
    ends = np.sort(np.random.default_rng(3).uniform(0.9 * cell.breakdown_voltage, 0.8, (2, 60)), 0)
    least, most = _cells(cell, *ends)
    slopes = dark_current(np.linspace(*ends, 200), cell)[1]
    assert (least <= slopes.min(axis=0) * (1.0 + 1e-9)).all()
    assert (most >= slopes.max(axis=0) * (1.0 - 1e-9)).all()


def test_a_bound_of_power_is_the_highest_point_of_what_both_ends_allow(solved):
    """The larger of V·I below two straight lines: from the left with the least conductance, from
    the right with the largest; and no more than the right end's voltage times the left's current.
    """
    _, solution = solved
    state = sampled(solution, np.linspace(0.0, solution.points.open_circuit_voltage, 9))
    left = np.arange(8)
    slopes = conductance_bounds(solution.network, state, left, left + 1).T
    found = power_bounds(solution.network, state, left, left + 1)
    v, i = state.voltage, state.current
    for k, (least, most) in enumerate(slopes):
        along = np.linspace(v[k], v[k + 1], 2001)
        highest = np.minimum(i[k] - least * (along - v[k]), i[k + 1] + most * (v[k + 1] - along))
        wanted = min(float((along * highest).max()), v[k + 1] * i[k])
        assert wanted * (1.0 - 1e-9) <= found[k] <= wanted * 1.002 + 1e-9


@pytest.mark.parametrize("cell", [CELL, OTHER])
def test_shunt_and_avalanche_conduct_least_where_they_turn(cell):
    """Against scipy, without the diode: there a conductance may be least between two points."""
    bare = replace(cell, saturation_current=0.0)
    found = minimize_scalar(
        lambda v: float(dark_current(np.array(v), bare)[1]),
        bounds=(0.0, 20.0 * -cell.breakdown_voltage),
        method="bounded",
        options={"xatol": 1e-9},
    )
    turn, least = _turn(cell)
    assert (turn, least) == pytest.approx((found.x, found.fun), rel=1e-5)
    late = _turn(replace(cell, breakdown_exponent=1.05))  # 2 ÷ (m − 1) of the breakdown voltage
    assert late[0] == pytest.approx(-40.0 * cell.breakdown_voltage)
    without = _turn(replace(cell, breakdown_exponent=1.0))
    assert without[0] > 1e6


def test_a_curve_is_drawn_from_short_circuit_to_open_circuit_through_its_maximum(solved):
    _, solution = solved
    points, state = solution.points, solution.points.state
    v, i = drawn(solution, 300)
    assert (v[0], i[0]) == (0.0, points.short_circuit_current)
    assert (v[-1], i[-1]) == (pytest.approx(points.open_circuit_voltage), 0.0)
    at = int(np.argmax(v * i))
    assert (v[at], i[at]) == (state.voltage[solution.best], state.current[solution.best])
    exact = sampled(solution, v[1:-1]).current
    assert np.abs(exact - i[1:-1]).max() < 1e-3 * points.short_circuit_current


def test_an_array_in_the_dark_has_no_curve():
    solution = solve_array({"a": lit(np.zeros((1, 6)), ((0, 5, True),))}, Interconnection([["a"]]))
    v, i = drawn(solution, 5)
    assert not v.any()
    assert not i.any()
    assert solution.power(solution.best) == 0.0
    assert solution.points.power_bound == 0.0


def test_a_single_cell_in_hardly_any_light_has_a_curve():
    """1e-5 of full light: 60 µA, nearly all through the shunt of 60 Ω at 3.6 mV."""
    light = np.full((1, 1), 1e-5)
    solution = solve_array({"a": lit(light, ((0, 0, False),))}, Interconnection([["a"]]))
    v, i = drawn(solution, 50)
    assert i[0] == pytest.approx(6e-5, rel=1e-3)
    assert v[-1] == pytest.approx(60.0 * 6e-5, rel=0.01)
    assert (np.diff(i) < 0.0).all()
    assert (v * i).max() == pytest.approx(solution.power(solution.best))


# Sets of curves


def test_rows_that_rise_but_for_rounding_are_made_to_rise():
    x = np.array([[0.0, 1.0, 1.0, 0.9999999, 2.0], [0.0, 1.0, 2.0, 3.0, 4.0]])
    found = rising(x)
    assert (np.diff(found) > 0.0).all()
    assert found == pytest.approx(np.maximum.accumulate(x, axis=1), abs=1e-10)
    straight = np.array([[0.0, 1.0, 2.0]])
    assert rising(straight) is straight


def test_rows_of_unequal_length_are_filled_up():
    rows = [np.array([1.0]), np.array([2.0, 3.0, 4.0])]
    assert padded(rows).tolist() == [[1.0, np.inf, np.inf], [2.0, 3.0, 4.0]]
    assert padded(rows[1:]).tolist() == [[2.0, 3.0, 4.0]]


@pytest.mark.parametrize(("most", "kept"), [(100, 8), (11, 4), (6, 3), (3, 2)])
def test_of_too_many_points_only_every_so_many_are_looked_at(most, kept):
    rows = np.arange(16.0).reshape(2, 8)
    found = side_by_side(rows, np.array([0, 1]), most)
    assert found.shape == (2, kept)
    assert found[0, 0] == 0.0
    assert found[1, 0] == 8.0


@pytest.mark.parametrize(
    ("share", "most", "places"), [(0.5, 1000, 150), (0.5, 120, 120), (0.01, 1000, 101)]
)
def test_so_many_places_as_points_and_no_more_than_asked(share, most, places):
    """A hundred and a share of the points, at most as many as points."""
    points = np.linspace(0.0, 1.0, 101)[None]
    found = common_grid(points, np.zeros(1), np.ones(1), share, most)
    assert found.shape == (1, min(places, 101))
    assert found[0, 0] == 0.0
    assert found[0, -1] == pytest.approx(1.0)
