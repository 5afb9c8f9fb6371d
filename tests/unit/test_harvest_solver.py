"""Mass solving of light states against the exact solver, and what a controller's window does."""

from dataclasses import replace

import numpy as np
import pytest
from harvest_builders import panel

from sunhitch.types.panel import CellModel
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.controller.settings import InputWindow
from sunhitch_service.engine.harvest import operating, solver
from sunhitch_service.engine.harvest.interconnection import ControllerInput
from sunhitch_service.engine.harvest.operating import LitCells, StartingPoints, operating_points
from sunhitch_service.engine.harvest.solver import CellLight, OperatingPoints, solve
from sunhitch_service.engine.harvest.uniform import unshaded
from sunhitch_service.engine.pv.cell import Diode, Junctions, cell_maxima
from sunhitch_service.engine.pv.many_states import WiredParts
from sunhitch_service.engine.pv.network import NO_DIODE
from sunhitch_service.engine.pv.presets import ResolvedPanel, lit_panel, resolve_panel
from sunhitch_service.engine.pv.solution import Interconnection, Solution, solve_array
from sunhitch_service.engine.pv.translate import translated_all

CELL = CellModel(
    photocurrent_a=3.2,
    saturation_current_a=1e-9,
    ideality_factor=1.1,
    series_resistance_ohm=0.008,
    shunt_resistance_ohm=12.0,
    breakdown_voltage_v=-15.0,
    breakdown_factor=0.0,
    breakdown_exponent=3.5,
)
FREE = InputWindow(lowest_v=0.0, start_v=0.0, largest_a=np.inf, fixed=False)
SERIES, PARALLEL, MIXED = ((0, 1, 2),), ((0,), (1,), (2,)), ((0, 1), (2,))


class _Placed:
    """As much of a module as the solver asks for."""

    def __init__(self, resolved: ResolvedPanel) -> None:
        self.kind, self.panel = "sheet", resolved


def patterns(resolved: ResolvedPanel, states: int) -> tuple[list[np.ndarray], np.ndarray]:
    """Bright and dull states, many with blocks of cells in shade."""
    draw = np.random.default_rng(11)
    paths = resolved.layout.paths_in_parallel
    sun, heat = draw.uniform(50.0, 1000.0, states), draw.uniform(-5.0, 65.0, states)
    cells = []
    for _ in range(3):
        share = np.ones((states, paths, 36))
        for state in range(states):
            if draw.random() < 0.6:
                first = int(draw.integers(0, 30))
                share[state, draw.integers(0, paths), first : first + 6] = draw.choice([0.1, 0.5])
            if draw.random() < 0.3:
                share[state] *= draw.uniform(0.3, 1.0)
        cells.append(share * sun[:, None, None])
    return cells, heat


def solved(
    resolved: ResolvedPanel,
    cells: list[np.ndarray],
    heat: np.ndarray,
    strings: tuple[tuple[int, ...], ...],
    window: InputWindow = FREE,
    blocking: Diode = NO_DIODE,
) -> OperatingPoints:
    panels = [_Placed(resolved) for _ in cells]
    (found,) = solve(
        CellLight(panels, cells, heat), [ControllerInput(strings, blocking, 0.0, window)]
    )
    return found


def exact(
    resolved: ResolvedPanel,
    cells: list[np.ndarray],
    heat: np.ndarray,
    strings: tuple[tuple[int, ...], ...],
    state: int,
) -> Solution:
    brightest = max(float(c[state].max()) for c in cells)
    lit = {
        str(k): lit_panel(resolved, brightest, float(heat[state]), c[state] / brightest)
        for k, c in enumerate(cells)
    }
    return solve_array(lit, Interconnection([[str(k) for k in string] for string in strings]))


@pytest.mark.parametrize("construction", ["half-cell-2-diodes", "diode-every-2-cells"])
@pytest.mark.parametrize("strings", [SERIES, PARALLEL, MIXED], ids=["series", "parallel", "mixed"])
def test_power_is_the_exact_solvers(
    construction: str, strings: tuple[tuple[int, ...], ...]
) -> None:
    resolved = resolve_panel(panel(construction), Assumptions(), "")
    cells, heat = patterns(resolved, 40)
    ours = solved(resolved, cells, heat, strings).maximum_w
    theirs = []
    for state in range(40):
        solution = exact(resolved, cells, heat, strings, state)
        theirs.append(solution.power(solution.best))
    assert ours == pytest.approx(np.array(theirs), rel=1e-4)


@pytest.mark.parametrize("strings", [SERIES, PARALLEL], ids=["series", "parallel"])
def test_power_of_a_measured_cell_is_the_exact_solvers(
    strings: tuple[tuple[int, ...], ...],
) -> None:
    """Its shunts follow the sun, those of a nameplate the light on each panel."""
    resolved = resolve_panel(panel(cell_model=CELL), Assumptions(), "")
    cells, heat = patterns(resolved, 20)
    solutions = [exact(resolved, cells, heat, strings, state) for state in range(20)]
    due = [solution.power(solution.best) for solution in solutions]
    assert solved(resolved, cells, heat, strings).maximum_w == pytest.approx(due, rel=1e-4)


def test_unshaded_panels_are_exact() -> None:
    resolved = resolve_panel(panel(), Assumptions(), "")
    sun, heat = np.array([1.0, 37.0, 333.0, 1111.0]), np.array([-20.0, 0.0, 41.0, 88.0])
    read_w, read_v = unshaded(resolved, sun, heat)
    light, junctions = translated_all(resolved.cell, resolved.coefficients, sun, heat)
    power, voltage = cell_maxima(Junctions(*junctions), light)
    assert read_w == pytest.approx(72.0 * power, rel=1e-4)
    assert read_v == pytest.approx(36.0 * voltage, rel=1e-3)
    even = [np.ones((4, 2, 36)) * sun[:, None, None] for _ in range(3)]
    lit = solved(resolved, even, heat, PARALLEL)
    assert lit.maximum_w[1:] == pytest.approx(3.0 * read_w[1:], rel=1e-4)


@pytest.mark.parametrize("share", [0.02, 0.3, 0.59, 0.7])
@pytest.mark.parametrize("strings", [SERIES, PARALLEL], ids=["series", "parallel"])
def test_a_tracker_from_open_circuit_finds_what_the_exact_solver_does(
    share: float, strings: tuple[tuple[int, ...], ...]
) -> None:
    """One panel of three in less light; below 0.6 of the brightest its top is a bright one's."""
    resolved = resolve_panel(panel(), Assumptions(), "")
    even = 800.0 * np.ones((1, 2, 36))
    cells, heat = [share * even, even, even], np.array([40.0])
    panels = [_Placed(resolved) for _ in cells]
    wired = ControllerInput(strings, NO_DIODE, 0.0, FREE, first_maximum=True)
    (found,) = solve(CellLight(panels, cells, heat), [wired])
    solution = exact(resolved, cells, heat, strings, 0)
    assert found.tracked_w[0] == pytest.approx(solution.power(solution.tracked), rel=1e-3)
    assert found.drawn_w[0] == pytest.approx(found.tracked_w[0], rel=1e-6)


def test_a_window_forbids_low_maxima() -> None:
    """One of two groups dark: the highest maximum lies below the battery's voltage."""
    resolved = resolve_panel(panel(), Assumptions(), "")
    share = np.ones((1, 2, 36))
    share[0, :, :18] = 0.1
    cells, heat = [800.0 * share] * 3, np.array([40.0])
    free = solved(resolved, cells, heat, PARALLEL)
    barred = solved(resolved, cells, heat, PARALLEL, InputWindow(14.0, 14.0, np.inf, False))
    solution = exact(resolved, cells, heat, PARALLEL, 0)
    curve = solution.curve
    above = curve.v >= 14.0
    best = float(np.max((curve.v * curve.i)[above]))
    assert free.drawn_v[0] < 12.0
    assert barred.drawn_v[0] >= 14.0 - 1e-9
    assert barred.drawn_w[0] == pytest.approx(best, rel=1e-3)
    assert barred.maximum_w[0] == free.maximum_w[0]


def test_a_plain_switch_works_at_the_battery() -> None:
    resolved = resolve_panel(panel(), Assumptions(), "")
    cells, heat = [900.0 * np.ones((1, 2, 36))] * 3, np.array([45.0])
    found = solved(resolved, cells, heat, PARALLEL, InputWindow(13.2, 14.0, np.inf, True))
    curve = exact(resolved, cells, heat, PARALLEL, 0).curve
    current = float(curve.currents(np.array([13.2]))[0][0])
    assert found.drawn_v[0] == pytest.approx(13.2)
    assert found.drawn_w[0] == pytest.approx(13.2 * current, rel=1e-4)


def test_too_low_a_voltage_gives_nothing_and_a_current_limit_moves_the_point() -> None:
    resolved = resolve_panel(panel(), Assumptions(), "")
    cells, heat = [900.0 * np.ones((1, 2, 36))] * 3, np.array([45.0])
    none = solved(resolved, cells, heat, PARALLEL, InputWindow(30.0, 34.0, np.inf, False))
    assert (none.drawn_w[0], none.drawn_v[0]) == (0.0, 0.0)
    asleep = solved(resolved, cells, heat, PARALLEL, InputWindow(13.0, 25.0, np.inf, False))
    working = asleep.drawn_w[0], asleep.drawn_v[0]
    assert working == (0.0, 0.0), "open circuit stays below the starting voltage"
    held = solved(resolved, cells, heat, PARALLEL, InputWindow(0.0, 0.0, 8.0, False))
    assert held.drawn_w[0] / held.drawn_v[0] == pytest.approx(8.0, rel=1e-4)
    assert held.drawn_w[0] < held.maximum_w[0]


@pytest.mark.parametrize("by_current", [False, True])
@pytest.mark.parametrize("edge", [1.0, 1.05])
def test_a_window_that_begins_just_beyond_one_top_leaves_the_other(
    edge: float, by_current: bool
) -> None:
    """One of two groups in 0.4 to 0.5 of the light: the better of its edge and the far top."""
    resolved = resolve_panel(panel(), Assumptions(), "")
    shares = np.linspace(0.4, 0.5, 21)
    light = np.ones((21, 2, 36))
    light[:, :, :18] = shares[:, None, None]
    cells, heat = [800.0 * light], np.full(21, 40.0)
    free = solved(resolved, cells, heat, ((0,),))
    near_v, near_a = free.drawn_v[0], free.drawn_w[0] / free.drawn_v[0]
    window = InputWindow(edge * near_v, 0.0, np.inf, False)
    if by_current:
        window = InputWindow(0.0, 0.0, near_a / edge, False)
    found = solved(resolved, cells, heat, ((0,),), window)
    due = []
    for state in range(21):
        solution = exact(resolved, cells, heat, ((0,),), state)
        v = np.linspace(window.lowest_v, solution.points.open_circuit_voltage, 20_000)
        i = solution.curve.currents(v)[0]
        due.append(float(np.max(np.where(i <= window.largest_a, v * i, 0.0))))
    assert near_v < 12.0
    assert found.drawn_v[-1] > 15.0
    assert found.drawn_w == pytest.approx(due, rel=5e-4 if by_current else 1e-4)


def test_cells_stay_in_their_paths() -> None:
    """Six dark cells in each of two paths, at the same and at different places."""
    resolved = resolve_panel(panel(), Assumptions(), "")
    light = np.ones((2, 2, 36))
    light[:, 0, :6] = 0.2
    light[0, 1, :6] = light[1, 1, 8:14] = 0.2
    cells, heat = [800.0 * light], np.full(2, 40.0)
    found = solved(resolved, cells, heat, ((0,),)).maximum_w
    for state in (0, 1):
        solution = exact(resolved, cells, heat, ((0,),), state)
        assert found[state] == pytest.approx(solution.power(solution.best), rel=1e-4)


@pytest.mark.parametrize("first_maximum", [False, True])
def test_no_light_gives_no_power(first_maximum: bool) -> None:
    resolved = resolve_panel(panel(), Assumptions(), "")
    cells, heat = [np.array([800.0, 0.0])[:, None, None] * np.ones((2, 2, 36))] * 3, np.zeros(2)
    wired = ControllerInput(PARALLEL, NO_DIODE, 0.0, FREE, first_maximum)
    (found,) = solve(CellLight([_Placed(resolved)] * 3, cells, heat), [wired])
    for each in (found.maximum_w, found.tracked_w, found.drawn_w, found.drawn_v):
        assert each[0] > 0.0
        assert each[1] == 0.0


def test_a_blocking_diode_costs_its_voltage() -> None:
    resolved = resolve_panel(panel(), Assumptions(), "")
    cells, heat = [900.0 * np.ones((1, 2, 36))] * 3, np.array([25.0])
    diode = Diode(1e-6, 0.027, 0.0)
    bare = solved(resolved, cells, heat, PARALLEL).maximum_w[0]
    guarded = solved(resolved, cells, heat, PARALLEL, blocking=diode).maximum_w[0]
    current = bare / 18.5
    drop = 0.027 * np.log1p(current / 3.0 / 1e-6)
    assert bare - guarded == pytest.approx(drop * current, rel=0.08)


WINDOWS = {
    "free": FREE,
    "above 14 V": InputWindow(14.0, 14.0, np.inf, False),
    "below 8 A": InputWindow(0.0, 0.0, 8.0, False),
    "both": InputWindow(14.0, 14.0, 3.0, False),
    "at 13.2 V": InputWindow(13.2, 13.2, np.inf, True),
}


def nothing_settles(
    _parts: object, _lit: object, start: StartingPoints, _window: object
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    states = len(start.voltage)
    return start.voltage, np.zeros(states), np.zeros(states, dtype=bool)


@pytest.mark.parametrize("off", [0.8, 0.96, 1.03, 1.2])
def test_a_top_is_climbed_from_beside_it_and_left_to_the_exact_solver_from_afar(
    off: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Begun three and four per cent beside its top an array settles there, a fifth beside not."""
    resolved = resolve_panel(panel(), Assumptions(), "")
    cells, heat = patterns(resolved, 8)
    by_climbing: list[bool] = []

    def beside(
        parts: WiredParts, lit: LitCells, start: StartingPoints, window: InputWindow
    ) -> tuple[np.ndarray, ...]:
        begun = replace(start, voltage=off * start.voltage)
        voltage, current, settled = operating_points(parts, lit, begun, window)
        by_climbing.extend(settled.tolist())
        return voltage, current, settled

    monkeypatch.setattr(solver, "operating_points", beside)
    found = solved(resolved, cells, heat, PARALLEL)
    due = [
        solution.power(solution.best)
        for solution in (exact(resolved, cells, heat, PARALLEL, state) for state in range(8))
    ]
    assert found.drawn_w == pytest.approx(due, rel=1e-4)
    if abs(off - 1.0) < 0.05:
        assert any(by_climbing)
    else:
        assert not any(by_climbing)


@pytest.mark.parametrize("steps", [(1,), (2,), (4,), operating._STEPS])
def test_power_is_the_exact_solvers_after_however_few_steps_in_bright_light_and_dim(
    steps: tuple[int, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    """What a few steps do not settle is left to it; 1 to 20 W/m² give milliamperes."""
    monkeypatch.setattr(operating, "_STEPS", steps)
    resolved = resolve_panel(panel(), Assumptions(), "")
    cells, heat = patterns(resolved, 24)
    cells = [np.where((np.arange(24) < 12)[:, None, None], each, 0.02 * each) for each in cells]
    found = solved(resolved, cells, heat, SERIES).maximum_w
    lit = [k for k in range(24) if max(float(each[k].max()) for each in cells) >= 2.0]
    solutions = [exact(resolved, cells, heat, SERIES, state) for state in lit]
    due = [solution.power(solution.best) for solution in solutions]
    assert len(lit) > 20
    assert found[lit] == pytest.approx(due, rel=1e-4)


@pytest.mark.parametrize("settles", [True, False])
@pytest.mark.parametrize("share", [0.9, 0.98, 1.02, 1.04, 1.1])
def test_a_window_that_begins_beyond_the_top_is_worked_at_its_edge(
    share: float, settles: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of one top power falls to either side: from below it is reached, beyond it the edge is."""
    resolved = resolve_panel(panel(), Assumptions(), "")
    cells, heat = [900.0 * np.ones((1, 2, 36))] * 3, np.array([45.0])
    solution = exact(resolved, cells, heat, PARALLEL, 0)
    best = float(solution.points.state.voltage[solution.best])
    edge_v = share * best
    if not settles:
        monkeypatch.setattr(solver, "operating_points", nothing_settles)
    found = solved(resolved, cells, heat, PARALLEL, InputWindow(edge_v, edge_v, np.inf, False))
    due_v = max(best, edge_v)
    due_w = due_v * float(solution.curve.currents(np.array([due_v]))[0][0])
    assert found.drawn_w[0] == pytest.approx(due_w, rel=1e-4)
    if share > 1.0:
        assert found.drawn_v[0] == pytest.approx(edge_v, rel=1e-9)


@pytest.mark.parametrize("settles", [True, False])
@pytest.mark.parametrize("share", [0.5, 0.9, 0.97, 1.03])
def test_a_limit_of_current_below_the_tops_is_drawn_to_the_full(
    share: float, settles: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Power rises with current up to the top's."""
    resolved = resolve_panel(panel(), Assumptions(), "")
    cells, heat = [900.0 * np.ones((1, 2, 36))] * 3, np.array([45.0])
    solution = exact(resolved, cells, heat, PARALLEL, 0)
    top_a = float(solution.points.state.current[solution.best])
    if not settles:
        monkeypatch.setattr(solver, "operating_points", nothing_settles)
    window = InputWindow(0.0, 0.0, share * top_a, False)
    found = solved(resolved, cells, heat, PARALLEL, window)
    assert found.drawn_w[0] / found.drawn_v[0] == pytest.approx(min(share, 1.0) * top_a, rel=3e-4)
    there = np.array([found.drawn_v[0]])
    assert float(solution.curve.currents(there)[0][0]) == pytest.approx(
        min(share, 1.0) * top_a, rel=3e-4
    )


@pytest.mark.parametrize("window", WINDOWS.values(), ids=WINDOWS)
def test_what_does_not_settle_is_the_best_that_a_window_admits(
    window: InputWindow, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Looked for along the exact curve at 4,000 places; an edge lies between two of them."""
    resolved = resolve_panel(panel(), Assumptions(), "")
    cells, heat = patterns(resolved, 5)
    quickly = solved(resolved, cells, heat, MIXED, window)
    monkeypatch.setattr(solver, "operating_points", nothing_settles)
    found = solved(resolved, cells, heat, MIXED, window)
    assert found.drawn_w == pytest.approx(quickly.drawn_w, rel=1e-3)
    for state in range(5):
        solution = exact(resolved, cells, heat, MIXED, state)
        opens = solution.points.open_circuit_voltage
        v = np.linspace(window.lowest_v, window.lowest_v if window.fixed else opens, 4000)
        i = solution.curve.currents(v)[0]
        best = float(np.max(np.where(i <= window.largest_a, v * i, 0.0)))
        assert found.drawn_w[state] == pytest.approx(best, rel=2e-3)
        if window == FREE:
            top = solution.power(solution.best)
            assert found.drawn_w[state] == pytest.approx(top, rel=1e-12), "solved, not looked for"


def test_a_first_top_that_does_not_settle_is_the_exact_solvers(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """One of six bypass groups at 0.3 of the light: six tops' worth of 0.3 are less than five."""
    resolved = resolve_panel(panel(), Assumptions(), "")
    even = 800.0 * np.ones((1, 2, 36))
    shaded = even * np.where(np.arange(36) < 18, 0.3, 1.0)
    cells, heat = [shaded, even, even], np.array([40.0])
    monkeypatch.setattr(solver, "operating_points", nothing_settles)
    wired = ControllerInput(SERIES, NO_DIODE, 0.0, FREE, first_maximum=True)
    (found,) = solve(CellLight([_Placed(resolved)] * 3, cells, heat), [wired])
    solution = exact(resolved, cells, heat, SERIES, 0)
    assert found.tracked_w[0] == pytest.approx(solution.power(solution.tracked), rel=1e-9)
    assert found.tracked_w[0] < 0.99 * found.maximum_w[0]


def test_a_switch_gives_no_more_than_its_tracker_is_said_to_find() -> None:
    """The battery's voltage is at the higher top, the first from open circuit is a lower one."""
    resolved = resolve_panel(panel(), Assumptions(), "")
    even = 800.0 * np.ones((1, 2, 36))
    window = InputWindow(36.0, 36.0, np.inf, True)
    wired = ControllerInput(SERIES, NO_DIODE, 0.0, window, first_maximum=True)
    panels = [_Placed(resolved) for _ in range(3)]
    (found,) = solve(CellLight(panels, [0.3 * even, even, even], np.array([40.0])), [wired])
    assert found.tracked_w[0] < 0.7 * found.maximum_w[0]
    assert found.drawn_w[0] == found.tracked_w[0]


def test_a_controller_wakes_in_dim_light_whose_open_circuit_suffices() -> None:
    """5 W/m² gives a thirtieth of an ampere, and four fifths of the voltage."""
    resolved = resolve_panel(panel(), Assumptions(), "")
    sun = np.array([800.0, 5.0])
    cells = [np.ones((2, 2, 36)) * sun[:, None, None]] * 3
    found = solved(resolved, cells, np.full(2, 10.0), SERIES, InputWindow(0.0, 40.0, np.inf, False))
    assert found.drawn_w == pytest.approx(found.maximum_w, rel=1e-6)
    assert (found.drawn_w > 0.0).all()


def test_a_controller_sleeps_in_heat_that_brings_the_open_circuit_below_its_start() -> None:
    """0.28 % of 22.9 V a kelvin: 22 K lie 1.4 V apart."""
    resolved = resolve_panel(panel(), Assumptions(), "")
    cells, heat = [800.0 * np.ones((2, 2, 36))] * 3, np.array([14.0, 36.0])
    cold_v, warm_v = (
        exact(resolved, cells, heat, PARALLEL, state).points.open_circuit_voltage
        for state in (0, 1)
    )
    window = InputWindow(0.0, 0.5 * (cold_v + warm_v), np.inf, False)
    found = solved(resolved, cells, heat, PARALLEL, window)
    assert found.drawn_w[0] == pytest.approx(found.maximum_w[0], rel=1e-6)
    assert found.drawn_w[1] == 0.0


def test_a_switch_draws_nothing_at_a_battery_above_open_circuit() -> None:
    resolved = resolve_panel(panel(), Assumptions(), "")
    cells, heat = [800.0 * np.ones((1, 2, 36))] * 3, np.array([40.0])
    found = solved(resolved, cells, heat, PARALLEL, InputWindow(26.0, 0.0, np.inf, True))
    assert (found.drawn_w[0], found.drawn_v[0]) == (0.0, 0.0)
