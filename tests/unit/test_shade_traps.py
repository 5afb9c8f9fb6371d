"""Traps of shaded arrays, each with a test that fails without its cure."""

from typing import Any

import msgspec
import numpy as np
import pytest
from scipy.optimize import brentq

from sunhitch.types.shade import ShadedIvAnswer, ShadedIvRequest
from sunhitch_service.engine.pv.cell import Diode, Junction, dark_current
from sunhitch_service.engine.pv.nameplate import Plate, Reverse, fit
from sunhitch_service.engine.pv.network import LitPanel
from sunhitch_service.engine.pv.solution import Interconnection, Solution, solve_array
from sunhitch_service.engine.shade.calculation import shaded_iv

PLATE = {
    "p_mp_w": 100.0,
    "v_mp_v": 19.0,
    "i_mp_a": 5.27,
    "v_oc_v": 22.6,
    "i_sc_a": 5.62,
    "cells_in_series": 36,
}
CELL = Junction(4e-10, 0.0283, 0.004, 1.0 / 60.0, -15.0, 0.002, 3.5)
DIODE = Diode(1e-6, 0.027, 0.01)
TWO_GROUPS = ((0, 17, True), (18, 35, True))


def _lit(light: np.ndarray, groups=TWO_GROUPS, cell: Junction = CELL) -> LitPanel:
    return LitPanel(cell, cell, 6.0, light, groups, DIODE)


def _shaded(*cells: tuple[int, float], positions: int = 36) -> np.ndarray:
    light = np.ones((1, positions))
    for at, share in cells:
        light[0, at] = share
    return light


def _ask(panels: list[dict[str, Any]], strings: list[list[str]], **more: Any) -> ShadedIvAnswer:
    sun = {"irradiance_w_m2": 950.0, "cell_temperature_c": 25.0}
    request = {"panels": panels, "wiring": {"strings": strings}, "sun": sun, **more}
    return shaded_iv(msgspec.convert(request, ShadedIvRequest))


def _panel(construction: str, light: Any, name: str = "a", **plate: float) -> dict[str, Any]:
    kind = {"electrical": {**PLATE, **plate}, "construction": construction}
    return {"name": name, "panel": kind, "irradiance_fraction": light}


def _assert_kirchhoff(solution: Solution) -> None:
    """Every cell carries its path's current, and every group its string's."""
    n, state = solution.network, solution.points.state
    own = n.current - dark_current(state.junction_v, n.cells)[0]
    assert own == pytest.approx(state.branch_i[:, n.branch_of_cell], abs=1e-7)


@pytest.mark.parametrize("share", [-0.5, 0.5, 0.9, 0.99, 0.999])
def test_slopes_hold_deep_in_breakdown(share):
    """Published gradients of Bishop's term go wrong there; a small step tells."""
    v, h = np.array([share * CELL.breakdown_voltage]), 1e-6
    if share < 0.0:
        v = np.array([0.55])
    low, high = (dark_current(v + step, CELL) for step in (-h, h))
    _, slope, bend = dark_current(v, CELL)
    assert slope == pytest.approx((high[0] - low[0]) / (2 * h), rel=1e-5)
    assert bend == pytest.approx((high[1] - low[1]) / (2 * h), rel=1e-4)


def test_a_dark_cell_keeps_its_shunt_and_its_avalanche():
    """With a shunt that follows a cell's own light, a dark cell would block its panel for good."""
    solution = solve_array(
        {"a": _lit(_shaded((5, 0.0)), ((0, 35, False),))}, Interconnection([["a"]])
    )
    assert solution.points.short_circuit_current > 1.0


def test_a_cell_without_avalanche_goes_beyond_the_voltage_of_one():
    """One dark cell of 36 without a diode: 35 others press their current through its shunt."""
    vt, rs, shunt_ohm, saturation = 0.0283, 0.004, 60.0, 4e-10
    cell = Junction(saturation, vt, rs, 1.0 / shunt_ohm, -3.0, 0.0, 3.5)

    def lit_v(current: float) -> float:
        return float(
            brentq(lambda v: 6.0 - saturation * np.expm1(v / vt) - v / shunt_ohm - current, 0, 0.8)
        )

    expected = brentq(lambda i: 35.0 * lit_v(i) - i * (shunt_ohm + 36.0 * rs), 0.0, 6.0)
    assert expected * shunt_ohm > 20.0
    light = _lit(_shaded((5, 0.0)), ((0, 35, False),), cell)
    solution = solve_array({"a": light}, Interconnection([["a"]]))
    assert solution.points.short_circuit_current == pytest.approx(expected, rel=1e-7)
    dark_v = solution.points.state.junction_v[0].min()
    assert dark_v == pytest.approx((saturation - expected) * shunt_ohm, rel=1e-7)


@pytest.mark.parametrize("reverse", [Reverse(-15.0, 0.002, 3.5), Reverse(-5.5, 0.01, 3.28)])
def test_the_fit_accounts_for_the_avalanche_term_in_forward_bias(reverse):
    plate = Plate(19.0 / 36, 5.27, 22.6 / 36, 5.62)
    found = fit(plate, reverse).cell
    at = np.array([5.62 * found.junction.series_resistance, 0.0, plate.v_oc])
    at[1] = plate.v_mp + plate.i_mp * found.junction.series_resistance
    currents = found.photocurrent - dark_current(at, found.junction)[0]
    assert currents == pytest.approx([5.62, 5.27, 0.0], abs=1e-6)


@pytest.mark.parametrize("seed", range(12))
def test_every_operating_point_satisfies_kirchhoff(seed):
    """Newton without safeguards errs by thousands of percent under such shade."""
    rng = np.random.default_rng(seed)
    panels = {name: _lit(rng.choice([0.0, 0.02, 0.4, 1.0], (2, 36))) for name in "abc"}
    wiring = Interconnection([["a", "b"], ["c"]] if seed % 2 else [["a", "b", "c"]])
    _assert_kirchhoff(solve_array(panels, wiring))


def test_a_bypass_diode_carries_what_the_cells_leave():
    panels = [_panel("full-cell-2-diodes", _shaded((3, 0.4)).tolist())]
    answer = _ask(panels, [["a"]], detail="cells")
    top, group = answer.maximum_power_point, answer.panels[0].substrings[0]
    assert group.diode_conducts
    assert group.cell_current_a > 1.0
    assert group.diode_current_a + group.cell_current_a == pytest.approx(top.current_a, rel=1e-6)


def test_blocked_diodes_do_not_keep_the_solver_from_settling():
    """A dark string behind a blocking diode: its diode's voltage settles where no current tells."""
    panels = {"a": _lit(np.ones((1, 36))), "b": _lit(np.zeros((1, 36)))}
    solution = solve_array(panels, Interconnection([["a"], ["b"]], DIODE))
    alone = solve_array({"a": panels["a"]}, Interconnection([["a"]], DIODE))
    assert solution.power(solution.best) == pytest.approx(alone.power(alone.best), rel=1e-5)
    dark = solution.points.state.string_i[solution.best, solution.network.places["b"].string]
    assert dark == pytest.approx(-DIODE.saturation_current, rel=1e-3)


def test_a_dark_panel_in_parallel_is_fed_backwards():
    panels = {"a": _lit(np.ones((1, 36))), "b": _lit(np.zeros((1, 36)))}
    solution = solve_array(panels, Interconnection([["a"], ["b"]]))
    alone = solve_array({"a": panels["a"]}, Interconnection([["a"]]))
    dark = solution.points.state.string_i[solution.best, solution.network.places["b"].string]
    assert dark < -0.01
    assert solution.power(solution.best) < alone.power(alone.best)
    _assert_kirchhoff(solution)


def test_curves_reach_into_breakdown():
    """One dark cell against 35 others and no diode: it is driven almost to its breakdown."""
    solution = solve_array(
        {"a": _lit(_shaded((5, 0.0)), ((0, 35, False),))}, Interconnection([["a"]])
    )
    lowest = float(np.min(solution.points.state.junction_v[0]))
    assert CELL.breakdown_voltage < lowest < 0.9 * CELL.breakdown_voltage
    assert np.all(np.diff(solution.curve.i) < 0.0)


def test_nearly_equal_light_levels_do_no_harm():
    """Points of the same abscissa make an interpolation divide by zero."""
    one = solve_array({"a": _lit(_shaded((3, 0.5), (4, 0.5)))}, Interconnection([["a"]]))
    other = solve_array({"a": _lit(_shaded((3, 0.5), (4, 0.5 + 1e-15)))}, Interconnection([["a"]]))
    assert other.power(other.best) == pytest.approx(one.power(one.best), rel=1e-9)
    assert np.all(np.isfinite(other.curve.slope))


def test_a_tracker_from_open_circuit_misses_the_higher_maximum():
    """A dim string of cells gives a small top at high voltage, reached first."""
    answer = _ask([_panel("full-cell-2-diodes", _shaded((3, 0.1)).tolist())], [["a"]])
    assert len(answer.local_maxima) == 2
    assert answer.tracker.found.power_w < 0.5 * answer.maximum_power_point.power_w
    assert answer.tracker.lost_w == pytest.approx(
        answer.maximum_power_point.power_w - answer.tracker.found.power_w, rel=1e-9
    )
    assert next(c for c in answer.checks if c.code == "tracker-loss").verdict == "review"


def test_the_answer_says_how_much_hangs_on_reverse_parameters():
    answer = _ask([_panel("full-cell-no-diode", _shaded((3, 0.0)).tolist())], [["a"]])
    told = [a.why for a in answer.assumptions if a.field.endswith("breakdown_voltage_v")]
    assert len(told) == 1
    assert "20 to 75 W" in told[0]


@pytest.mark.parametrize(("v_mp", "word"), [(20.6, "optimistic"), (21.7, "physical")])
def test_inflated_nameplates_are_told(v_mp, word):
    answer = _ask([_panel("full-cell-2-diodes", 1.0, v_mp_v=v_mp, p_mp_w=v_mp * 5.27)], [["a"]])
    told = [a.why for a in answer.assumptions if a.field.endswith("ideality_factor")]
    assert word in told[0]


def test_half_cells_carry_half_the_current_and_change_nothing_in_full_light():
    whole = _ask([_panel("full-cell-2-diodes", 1.0)], [["a"]]).maximum_power_point
    halves = _ask([_panel("half-cell-2-diodes", 1.0)], [["a"]], detail="cells")
    assert halves.maximum_power_point.power_w == pytest.approx(whole.power_w, rel=1e-3)
    cell = halves.panels[0].substrings[0].cells[0]
    assert cell.current_a == pytest.approx(0.5 * whole.current_a, rel=1e-3)


def test_scattered_shade_with_many_and_with_few_diodes():
    """Check values, common practice, no source: 95 W in full sun; with light of 0.153 on one cell
    in nine, 62 W with a diode for every two cells and 17 W with two diodes."""
    full = _ask([_panel("full-cell-2-diodes", 1.0)], [["a"]]).maximum_power_point.power_w
    shadow = [(3, 0.153), (9, 0.153), (21, 0.153), (30, 0.153)]
    light = _shaded(*shadow).tolist()
    many = _ask([_panel("diode-every-2-cells", light)], [["a"]]).maximum_power_point.power_w
    usual = _ask([_panel("full-cell-2-diodes", light)], [["a"]]).maximum_power_point.power_w
    assert full == pytest.approx(95.0, rel=0.01)
    assert many == pytest.approx(62.0, rel=0.08)
    assert usual < 0.2 * full
    assert many > 0.6 * full


def test_a_hot_cell_is_reviewed_with_diodes_and_failed_without():
    """What every common panel does under one hard cell shadow is not beyond repair; without any
    diode the cell takes what the whole panel gives."""

    def hot(construction: str) -> Any:
        answer = _ask([_panel(construction, _shaded((3, 0.15)).tolist())], [["a"]])
        return next(c for c in answer.checks if c.code == "hot-cell")

    assert hot("diode-every-2-cells").verdict == "pass"
    with_diodes = hot("full-cell-2-diodes")
    assert with_diodes.verdict == "review"
    assert "85 °C" in with_diodes.note
    assert "180 °C" in with_diodes.note
    assert hot("full-cell-no-diode").verdict == "fail"


def test_without_a_diode_the_whole_string_drives_a_dark_cell():
    """By Kirchhoff's voltage law a shorted string's other cells, at open circuit, stand across the
    dark one, unless a diode bridges its group: 18 cells of 0.628 V alone stay below 15 V."""
    small = {"p_mp_w": 50.0, "v_mp_v": 9.5, "v_oc_v": 11.3, "cells_in_series": 18}

    def driven(construction: str, *names: str) -> tuple[str, float | None]:
        panels = [_panel(construction, 1.0, name, **small) for name in names]
        sun = {"irradiance_w_m2": 1000.0, "cell_temperature_c": 25.0}
        found = _ask(panels, [list(names)], sun=sun).checks
        check = next(c for c in found if c.code == "reverse-voltage")
        return check.verdict, check.demand

    assert driven("full-cell-no-diode", "a") == ("pass", pytest.approx(17 / 18 * 11.3, rel=1e-4))
    every = driven("full-cell-no-diode", "a", "b", "c")
    assert every == ("review", pytest.approx(53 / 18 * 11.3, rel=1e-4))
    guarded = driven("full-cell-2-diodes", "a", "b", "c")
    assert guarded == ("pass", pytest.approx(8 / 18 * 11.3, rel=1e-4))
