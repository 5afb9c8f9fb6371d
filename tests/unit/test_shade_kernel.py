"""The kernel of many states as plain Python: the laws of its parts, and the exact solver's maxima.

`test_shade_batch` and `agreement/test_many_states` hold it to the same, compiled, on more arrays.
"""

from itertools import pairwise

import numpy as np
import pytest
from hostile_arrays import array_without_diodes, hostile_array, hostile_light
from loops_switch import interpreted
from scipy.optimize import brentq

from sunhitch.types.panel import BypassGroup, CellLayout, PanelElectrical
from sunhitch_service.engine.pv.cell import Diode, Junction, dark_current
from sunhitch_service.engine.pv.many_states import LightSolver
from sunhitch_service.engine.pv.maxima import CERTIFIED
from sunhitch_service.engine.pv.presets import ResolvedPanel
from sunhitch_service.engine.pv.solution import Interconnection
from sunhitch_service.engine.pv.translate import Coefficients, ReferenceCell

JUNCTION = Junction(4e-10, 0.0283, 0.01, 0.05, -12.0, 0.01, 3.2)
EARLY = Junction(2e-9, 0.0295, 0.02, 0.02, -6.0, 0.05, 2.5)
IDEAL = Junction(4e-10, 0.0283, 0.0, 0.05, -12.0, 0.01, 3.2)
DIODE = Diode(1e-6, 0.027, 0.01)
BLOCKING = Diode(1e-7, 0.026, 0.02)
TABLED = 1e-6
"""Share to which the cubics of the junction voltage are right."""
WIRINGS = {
    "one string": Interconnection([["two paths", "early"]], resistance=0.1),
    "two strings": Interconnection([["two paths", "early"], ["other"]], resistance=0.1),
    "blocked": Interconnection([["two paths", "early"], ["other"]], BLOCKING, 0.1),
}


def panel(junction: Junction, paths: int, *groups: tuple[int, bool]) -> ResolvedPanel:
    """A panel of cells as given, with groups of so many positions, with a diode or not."""
    ends = np.cumsum([0, *[size for size, _ in groups]]).tolist()
    return ResolvedPanel(
        PanelElectrical(
            p_mp_w=1.0, v_mp_v=1.0, i_mp_a=1.0, v_oc_v=1.0, i_sc_a=1.0, cells_in_series=ends[-1]
        ),
        CellLayout(
            paths_in_parallel=paths,
            positions_in_series=ends[-1],
            bypass=[
                BypassGroup(first=first, last=end - 1, has_diode=guarded)
                for (first, end), (_, guarded) in zip(pairwise(ends), groups, strict=True)
            ],
        ),
        ReferenceCell(6.0 / paths, junction),
        Coefficients(0.0, 0.0, 0.0),
        DIODE,
        by_nameplate=False,
    )


PANELS = {
    "two paths": panel(JUNCTION, 2, (4, True), (2, False), (4, True)),
    "early": panel(EARLY, 1, (6, True)),
    "other": panel(JUNCTION, 1, (3, True), (3, True)),
    **dict.fromkeys(("ideal", "ideal too"), panel(IDEAL, 1, (2, False))),
}


class Loaded:
    """An array under light from a few levels: the kernel's tables, and what they were made of."""

    def __init__(self, kernel, wiring: Interconnection, full: bool = False) -> None:
        solver = LightSolver(PANELS, wiring, compiled=True)
        light = np.random.default_rng(0).choice([0.02, 0.3, 0.31, 0.8, 1.0], solver.cells)
        light[:] = 1.0 if full else light
        parts = solver._wired
        self.net, full = parts.at(1000.0, 25.0, [1.0] * len(solver.panels))
        (self.cells,) = parts.risen(np.ascontiguousarray(light[None, parts.order] * full))
        self.panels = solver.panels
        self.junctions = [solver.panels[k].cell.junction for k in parts.path_panel]
        kernel._load(self.net, self.cells)
        kernel._end(self.net)

    def cells_of(self, path) -> np.ndarray:
        return self.cells[path["cell"] : path["cell"] + path["cells"]]

    def by_hand(self, p: int, current: float) -> tuple[np.ndarray, np.ndarray]:
        """Voltage and resistance of the junctions of a path, each by a bracketed root."""
        junction = self.junctions[p]
        volts = np.array(
            [
                brentq(
                    lambda v, taken=own - current: (
                        float(dark_current(np.array(v), junction)[0]) - taken
                    ),
                    (1.0 - 1e-9) * junction.breakdown_voltage,
                    2.0,
                    xtol=1e-14,
                )
                for own in self.cells_of(self.net.paths[p])
            ]
        )
        return volts, 1.0 / dark_current(volts, junction)[1]

    def placed(self, kernel, count: int, first: float = 0.0, last: float = 1.0) -> np.ndarray:
        """Even places, in shares of where power ends: voltage and current of every one."""
        end = kernel._end(self.net)
        for k, x in enumerate(np.linspace(first * end, last * end, count)):
            kernel._solve_place(self.net, k, x)
        x, y = self.net.places[:count, :2].T
        return np.array((y, x) if len(self.net.strings) == 1 else (x, y))


@pytest.fixture(autouse=True, scope="module")
def kernel():
    with interpreted() as module:
        yield module


@pytest.fixture(params=WIRINGS.values(), ids=WIRINGS)
def array(kernel, request):
    return Loaded(kernel, request.param)


@pytest.mark.parametrize(
    ("array_of", "seed"),
    [(hostile_array, seed) for seed in (2, 3, 5, 6, 7, 9, 10, 11)]
    + [(array_without_diodes, seed) for seed in range(1, 5)],
)
def test_maxima_are_those_of_the_exact_solver(array_of, seed, monkeypatch):
    """The polish ends at a steepness of 1e-3, from where power is right to the square of it.

    By the kernel itself: what it leaves to the exact solver would not show its errors.
    """
    own = array_of(seed)
    fast, exact = (
        LightSolver(own.panels, own.wiring, compiled=compiled) for compiled in (True, False)
    )
    lit = hostile_light(seed, fast.cells, 1), own.irradiance_w_m2, own.cell_temperature_c
    monkeypatch.setattr(fast, "_one_by_one", None)
    found, wanted = fast.maxima(*lit), exact.maxima(*lit)
    assert found.power == pytest.approx(wanted.power, rel=1e-6)
    assert found.power == pytest.approx(found.voltage * found.current, rel=1e-9)
    assert (wanted.power <= found.bound * (1.0 + 1e-6)).all()
    assert (found.bound <= found.power * (1.0 + CERTIFIED)).all()


def test_a_path_has_the_voltage_and_the_resistance_of_its_cells(kernel, array):
    for p, path in enumerate(array.net.paths):
        for current in (-7.0, -0.5, 0.0, 0.9, 2.99, 6.5):
            path["i"] = current
            kernel._path_voltage(array.net, p)
            volts, ohms = array.by_hand(p, current)
            series = path["cells"] * array.junctions[p].series_resistance
            assert path["v"] == pytest.approx(volts.sum() - series * current, abs=1e-5)
            assert path["conductance"] == pytest.approx(1.0 / (ohms.sum() + series), rel=1e-3)
            below = array.cells_of(path) - current < path["turn"]
            assert path["reversed"] == below.sum()
            assert path["reverse"] == pytest.approx(ohms[below].sum(), rel=1e-3)
            assert path["forward"] == pytest.approx(ohms[~below].sum(), rel=1e-3)


def test_a_path_is_brought_to_any_voltage(kernel, array):
    for p, path in enumerate(array.net.paths):
        for of_a_cell in (-2.5, -0.5, 0.0, 0.3, 0.6):
            path["i"], v = 0.0, of_a_cell * path["cells"]
            kernel._solve_path(array.net, p, v)
            volts, _ = array.by_hand(p, path["i"])
            series = path["cells"] * array.junctions[p].series_resistance
            assert volts.sum() - series * path["i"] == pytest.approx(v, abs=2e-5)


def test_currents_of_a_group_add_up_and_its_slope_is_its_own(kernel, array):
    net = array.net
    for g, group in enumerate(net.groups):
        if group["many"] == 0.0:
            continue
        for current in (-4.0, 0.0, 0.7, 2.5, 5.9):
            v, slope = kernel._group_voltage(net, g, current)
            own = net.paths[group["first"] : group["end"]]
            u = group["u"]
            through = group["saturation"] * np.expm1(u / group["vt"])
            assert own["v"] == pytest.approx(np.full(len(own), v), abs=1e-4)
            assert (own["many"] * own["i"]).sum() + through == pytest.approx(current, abs=1e-4)
            assert v == pytest.approx(-(u + group["r"] * through), abs=1e-9)
            step = 1e-4
            low, high = (kernel._group_voltage(net, g, current + d)[0] for d in (-step, step))
            assert slope == pytest.approx((high - low) / (2.0 * step), rel=5e-3)
            halved, steep = kernel._by_halving(net, g, current)
            assert halved == pytest.approx(v, abs=1e-4 * (1.0 + abs(v)))
            assert steep == pytest.approx(slope, rel=1e-2)


@pytest.mark.parametrize("wiring", WIRINGS.values(), ids=WIRINGS)
@pytest.mark.parametrize("sun", [1.0, 20.0, 1300.0])
def test_a_top_is_found_as_exactly_in_dim_light_as_in_strong(wiring, sun, monkeypatch):
    """Of 10 mW as of 50 W."""
    fast, exact = (LightSolver(PANELS, wiring, compiled) for compiled in (True, False))
    monkeypatch.setattr(fast, "_one_by_one", None)
    lit = np.linspace(0.3, 1.0, fast.cells)[None], sun, 25.0
    found, wanted = fast.maxima(*lit), exact.maxima(*lit)
    assert found.power == pytest.approx(wanted.power, rel=1e-6)
    assert found.voltage == pytest.approx(wanted.voltage, rel=3e-3)


def test_a_group_that_newton_does_not_settle_is_halved(kernel, array, monkeypatch):
    net = array.net
    groups = np.flatnonzero(net.groups["many"] > 0.0).tolist()
    settled = [kernel._group_voltage(net, g, 1.3) for g in groups]
    monkeypatch.setattr(kernel, "_FEW_STEPS", 0)
    for g, (v, slope) in zip(groups, settled, strict=True):
        halved, steep = kernel._group_voltage(net, g, 1.3)
        assert halved == pytest.approx(v, abs=1e-4 * (1.0 + abs(v)))
        assert steep == pytest.approx(slope, rel=1e-2)


def test_equal_strings_give_as_many_times_the_current_of_one(kernel):
    two = Loaded(kernel, Interconnection([["ideal"], ["ideal too"]]), full=True)
    places = two.placed(kernel, 7)
    assert two.net.strings["many"].tolist() == [2.0, 0.0]
    least, most = kernel._conductance_bounds(two.net, 2, 3)
    for k, v in enumerate(places[0].tolist()):
        own, _ = kernel._string_current(two.net, 0, v)
        assert places[1, k] == pytest.approx(2.0 * own, rel=1e-3, abs=1e-3)
    slope = (places[1, 2] - places[1, 3]) / (places[0, 3] - places[0, 2])
    assert least <= slope <= most


def test_a_place_bounds_itself_by_its_own_power(kernel, array):
    array.placed(kernel, 4)
    x, y = array.net.places[1, :2]
    assert kernel._power_bound(array.net, 1, 1) == pytest.approx(x * y)


@pytest.mark.parametrize("column", [1, 2])
def test_a_curve_that_was_not_solved_is_left_to_the_exact_solver(kernel, monkeypatch, column):
    """Its current rises somewhere, or its slope does."""
    solve = kernel._solve_place

    def wrong(net, k: int, x: float) -> None:
        solve(net, k, x)
        if k == 2:
            net.places[k, column] = 50.0

    fast, exact = (LightSolver(PANELS, WIRINGS["two strings"], own) for own in (True, False))
    lit = np.linspace(0.3, 1.0, fast.cells)[None], 1000.0, 25.0
    wanted = exact.maxima(*lit)
    assert fast.maxima(*lit).power[0] != wanted.power[0]
    monkeypatch.setattr(kernel, "_solve_place", wrong)
    found = fast.maxima(*lit)
    assert (found.power[0], found.bound[0]) == (wanted.power[0], wanted.bound[0])


def test_a_state_that_needs_more_places_than_there_is_room_for_is_left_to_the_exact_solver(
    kernel, monkeypatch
):
    """Room for the five places solved in any case, and for three steps to a top; no further."""
    monkeypatch.setattr(kernel, "MOST_PLACES", kernel._FIXED + 2 + kernel._POLISHES)
    fast, exact = (LightSolver(PANELS, WIRINGS["two strings"], own) for own in (True, False))
    light = np.array([np.linspace(0.05, 1.0, fast.cells), np.ones(fast.cells)])
    lit = light[:, np.random.default_rng(1).permutation(fast.cells)], 1000.0, 25.0
    found, wanted = fast.maxima(*lit), exact.maxima(*lit)
    assert found.power == pytest.approx(wanted.power, rel=1e-6)
    assert (found.bound <= found.power * (1.0 + CERTIFIED)).all()
    assert found.power[0] == wanted.power[0]


def test_a_strings_voltage_is_that_of_its_parts(kernel, array):
    """Groups in series, less what resistance and blocking diode take: n·k·T/q·ln(1 + I/I0)."""
    net = array.net
    for number, string in enumerate(net.strings):
        for current in (0.0, 0.5, 2.0, 5.0):
            v, slope = kernel._string_voltage(net, number, current)
            parts = [
                net.groups[g]["many"] * np.array(kernel._group_voltage(net, g, current))
                for g in range(string["first"], string["end"])
                if net.groups[g]["many"] > 0.0
            ]
            wanted = sum(parts) - 0.1 * np.array((current, 1.0))
            if string["saturation"] > 0.0:
                d = BLOCKING
                ahead = d.saturation_current + current
                wanted[0] -= d.thermal_voltage * np.log(ahead / d.saturation_current)
                wanted[0] -= d.series_resistance * current
                wanted[1] -= d.thermal_voltage / ahead + d.series_resistance
            assert (v, slope) == pytest.approx(tuple(wanted), rel=1e-3, abs=1e-4)


def test_a_strings_current_is_the_inverse_of_its_voltage(kernel, array):
    net = array.net
    for number in range(len(net.strings)):
        for current in (0.01, 0.5, 2.0, 4.0):
            v, slope = kernel._string_voltage(net, number, current)
            found, steep = kernel._string_current(net, number, v)
            assert found == pytest.approx(current, abs=2e-4)
            assert steep == pytest.approx(1.0 / slope, rel=1e-2)
        opens, _ = kernel._string_voltage(net, number, 0.0)
        backwards, _ = kernel._string_current(net, number, 1.2 * opens)
        if net.strings[number]["saturation"] > 0.0:
            assert backwards == pytest.approx(-BLOCKING.saturation_current, rel=1e-3)
        else:
            assert backwards < -0.1


def voltages_rise(places: np.ndarray, left: int, right: int) -> tuple[int, int]:
    """Two places by rising voltage."""
    return (left, right) if places[0, left] < places[0, right] else (right, left)


def test_two_places_bound_conductance_and_power_of_all_between(kernel, array):
    """Sampled five times as densely as bounded; a place tells on which side of a top it is."""
    net, places = array.net, array.placed(kernel, 61)
    power, (x, y, slope, steep) = places[0] * places[1], net.places[:61].T
    slopes = np.abs(np.diff(places[1]) / np.diff(places[0]))
    for k in range(0, 60, 5):
        least, most = kernel._conductance_bounds(net, *voltages_rise(places, k, k + 5))
        assert least <= slopes[k : k + 5].min() * 1.001
        assert most >= slopes[k : k + 5].max() * 0.999
        bound, own = kernel._power_bound(net, k, k + 5), power[k : k + 6].max()
        assert own <= 0.0 or bound >= own * (1.0 - TABLED)
        steepness = (least, most) if len(net.strings) > 1 else (1.0 / most, 1.0 / least)
        along = np.linspace(x[k], x[k + 5], 2001)
        highest = np.minimum(
            y[k] - steepness[0] * (along - x[k]), y[k + 5] + steepness[1] * (x[k + 5] - along)
        )
        # The current does not rise with the voltage.
        wanted = min(float((along * highest).max()), x[k + 5] * y[k])
        assert wanted - 1e-9 * (1.0 + abs(wanted)) <= bound <= wanted + 2e-3 * abs(wanted) + 1e-6
    top = int(np.argmax(power))
    assert steep[0] < 0.0
    assert steep[top - 1] < 0.0 < steep[top + 1]
    assert steep[top] == pytest.approx(np.log(-slope[top] * x[top] / y[top]), abs=1e-12)


@pytest.mark.parametrize("first", np.linspace(0.02, 0.97, 12).tolist())
def test_bounds_close_upon_the_slope_as_places_come_together(kernel, array, first):
    places = array.placed(kernel, 2, first, first + 1e-4)
    least, most = kernel._conductance_bounds(array.net, *voltages_rise(places, 0, 1))
    slope = abs(np.diff(places[1])[0] / np.diff(places[0])[0])
    assert (least, most) == pytest.approx((slope, slope), rel=0.05)
    power = (places[0] * places[1]).max()
    assert kernel._power_bound(array.net, 0, 1) == pytest.approx(power, rel=1e-3)


def test_without_any_resistance_far_places_bound_power_by_their_rectangle(kernel):
    """Nothing but the diodes' own resistance, which may vanish in between."""
    array = Loaded(kernel, Interconnection([["ideal"], ["ideal too"]]))
    array.placed(kernel, 2)
    least, most = kernel._conductance_bounds(array.net, 0, 1)
    assert 0.0 <= least < most == np.inf
    (x0, y0), (x1, _) = array.net.places[:2, :2]
    assert x0 == 0.0 < x1
    assert kernel._power_bound(array.net, 0, 1) == x1 * y0


def test_equal_parts_are_counted_once_and_all_are_counted(kernel):
    """Two alike panels in two strings, one cell of one string dimmer."""
    alike = Interconnection([["a", "b"], ["c", "d"], ["e", "f"]])
    solver = LightSolver(dict.fromkeys("abcdef", PANELS["two paths"]), alike, compiled=True)
    parts = solver._wired
    net, full = parts.at(1000.0, 25.0, [1.0] * 6)
    light = np.ones((1, solver.cells))
    light[0, 7] = 0.5  # the last group of panel a, on its first path
    (cells,) = parts.risen(light[:, parts.order] * full)
    kernel._load(net, cells)
    assert net.strings["many"].tolist() == [1.0, 2.0, 0.0]
    by_panel = net.groups["many"].reshape(6, 3)
    # Two groups of four with a diode and one of two without are alike in every full panel.
    assert by_panel[:2].tolist() == [[3.0, 2.0, 1.0], [0.0, 0.0, 0.0]]
    assert by_panel[2:4].tolist() == [[4.0, 2.0, 0.0], [0.0, 0.0, 0.0]]
    paths = net.paths["many"].reshape(6, 3, 2)
    assert paths[0].tolist() == [[2.0, 0.0], [2.0, 0.0], [1.0, 1.0]]
    for path, many, current in ((4, [1.0, 3.0], [1.5, 3.0]), (0, [4.0], [3.0])):
        own = net.paths[path]
        levels = net.levels[own["cell"] : own["cell"] + own["count"]]
        assert levels["many"].tolist() == many
        assert levels["current"].tolist() == current


KNOWN = [(2.0, 8.0, 12.0), (1.0, 1.0, 3.0), (4.0, 64.0, 48.0)]
"""x³ and its slope."""


@pytest.mark.parametrize(
    ("x", "rows"), [(0.5, (1, 1)), (1.0, (1, 0)), (1.5, (1, 0)), (2.0, (0, 2)), (5.0, (2, 2))]
)
def test_rows_next_below_and_above(kernel, x, rows):
    known = np.array([*KNOWN, (1.6, 0.0, 0.0)])
    assert kernel._between(known, 3, x) == rows


@pytest.mark.parametrize("x", [1.0, 1.3, 1.9, 2.0])
def test_between_two_rows_a_cubic_and_beyond_them_a_line(kernel, x):
    known = np.array(KNOWN)
    assert kernel._expected(known, 1, 0, x) == pytest.approx(x**3)
    assert kernel._expected(known, 2, 2, x) == pytest.approx(64.0 + 48.0 * (x - 4.0))


@pytest.mark.parametrize(("steep", "other"), [(40.0, 3.0), (3.0, 40.0), (40.0, 40.0)])
def test_a_row_too_steep_does_not_make_the_cubic_turn(kernel, steep, other):
    """Slopes of three times the chord's at most (Fritsch, Carlson 1980), rising or falling."""
    for sign in (1.0, -1.0):
        known = np.array([(1.0, 0.0, sign * steep), (2.0, sign * 7.0, sign * other)])
        x = np.linspace(1.0, 2.0, 41)
        y = np.array([kernel._expected(known, 0, 1, at) for at in x])
        assert (sign * np.diff(y) >= -1e-12).all()
        slope = (y[1] - y[0]) / (x[1] - x[0])
        assert abs(slope) == pytest.approx(min(steep, 21.0), rel=0.1)


def test_of_rows_kept_the_first_two_stay_and_the_oldest_others_go(kernel):
    known, room = np.zeros((kernel.MOST_KNOWN, 3)), kernel.MOST_KNOWN
    for count in range(room + 5):
        kernel._keep(known, count, float(count), 10.0 * count, -1.0)
    assert known[:2, 0].tolist() == [0.0, 1.0]
    assert sorted(known[2:, 0].tolist()) == [float(k) for k in range(7, room + 5)]
    assert known[:, 1].tolist() == (10.0 * known[:, 0]).tolist()


@pytest.mark.parametrize("surplus", [-3.0, 0.0, 0.2, 8.0])
@pytest.mark.parametrize("conductance", [0.01, 5.0])
@pytest.mark.parametrize("guarded", [True, False])
def test_a_bypass_diode_takes_what_the_cells_conductance_leaves(
    kernel, surplus, conductance, guarded
):
    group = {"saturation": 1e-6 * guarded, "vt": 0.027 if guarded else np.inf, "r": 0.01}
    u = kernel._balanced(group, surplus, conductance, 0.0)
    through = 1e-6 * np.expm1(u / 0.027) if guarded else 0.0
    assert through + conductance * (u + 0.01 * through) == pytest.approx(surplus, abs=1e-4)


@pytest.mark.parametrize(
    ("low", "high", "wanted"),
    [(1.0, 3.0, 2.0), (-np.inf, -2.0, -4.5), (-np.inf, 2.0, -0.5), (2.0, np.inf, 4.5)],
)
def test_the_middle_of_a_bracket_or_a_step_beyond_its_only_end(kernel, low, high, wanted):
    """A step of the end itself and a twentieth of the largest current."""
    assert kernel._within(low, high, 10.0) == pytest.approx(wanted)


def test_a_state_without_light_gives_nothing(kernel):
    solver = LightSolver(PANELS, WIRINGS["two strings"], compiled=True)
    found = solver.maxima(np.zeros((2, solver.cells)), 1000.0, 25.0)
    assert not np.array((found.power, found.voltage, found.current, found.bound)).any()


def test_tables_reach_as_far_as_all_strings_can_drive_one_path_backwards(kernel):
    """Two strings of 6 A, and once more the largest path: 6 A."""
    net = Loaded(kernel, WIRINGS["two strings"]).net
    assert 18.0 <= net.scale <= 1.25 * 18.0


def test_a_straight_line_bounds_power_by_its_own_top(kernel, monkeypatch):
    """From 5 A at 0 V to 1 A at 4 V at one siemens: (5 − V)·V is largest at 2.5 V."""
    net = Loaded(kernel, WIRINGS["two strings"]).net
    net.places[:2, :2] = (0.0, 5.0), (4.0, 1.0)
    monkeypatch.setattr(kernel, "_conductance_bounds", lambda _net, _left, _right: (1.0, 1.0))
    assert kernel._power_bound(net, 0, 1) == pytest.approx(6.25)
