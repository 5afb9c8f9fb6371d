"""Many light states at once give the maxima of the exact solver, state by state."""

import msgspec
import numpy as np
import pytest
from numpy.typing import NDArray
from shade_networks import random_request

from sunhitch.types.panel import BypassGroup, CellLayout, CellModel, Panel, PanelElectrical
from sunhitch.types.shade import ShadedIvRequest
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.pv.accelerate import installed
from sunhitch_service.engine.pv.cell import Diode
from sunhitch_service.engine.pv.many_states import LightSolver
from sunhitch_service.engine.pv.presets import ResolvedPanel, resolve_panel
from sunhitch_service.engine.pv.solution import Interconnection
from sunhitch_service.engine.shade.compare import solver_wiring
from sunhitch_service.engine.shadow.light import lit_panels

PLATE = PanelElectrical(
    p_mp_w=115.0, v_mp_v=19.2, i_mp_a=5.99, v_oc_v=22.9, i_sc_a=6.4, cells_in_series=36
)
SMALL = PanelElectrical(
    p_mp_w=50.0, v_mp_v=17.6, i_mp_a=2.84, v_oc_v=21.2, i_sc_a=3.05, cells_in_series=36
)
EARLY_BREAKDOWN = CellModel(
    photocurrent_a=6.4,
    saturation_current_a=4e-10,
    ideality_factor=1.1,
    series_resistance_ohm=0.004,
    shunt_resistance_ohm=60.0,
    breakdown_voltage_v=-5.0,
    breakdown_factor=0.002,
    breakdown_exponent=3.5,
)
BLOCKING = Diode(1e-6, 0.027, 0.01)
WIRINGS = {
    "series": Interconnection([["a", "b", "c"]]),
    "parallel": Interconnection([["a"], ["b"], ["c"]]),
    "unequal": Interconnection([["a", "b"], ["c"]]),
    "blocking": Interconnection([["a", "b"], ["c"]], BLOCKING, 0.05),
}
CONSTRUCTIONS = [
    "full-cell-2-diodes",
    "full-cell-no-diode",
    "half-cell-2-diodes",
    "diode-every-2-cells",
    "back-contact-no-diode",
    "back-contact-2-diodes",
]
PROMISED = 1e-4
"""Largest relative error of power that the batch promises."""
needs_kernel = pytest.mark.skipif(not installed(), reason="the extra `fast` is not installed")


def _resolved(panel: Panel) -> ResolvedPanel:
    return resolve_panel(panel, Assumptions(), "/panel")


def _solvers(
    kinds: list[ResolvedPanel], wiring: Interconnection
) -> tuple[LightSolver, LightSolver]:
    panels = dict(zip("abc", kinds, strict=True))
    return LightSolver(panels, wiring, compiled=True), LightSolver(panels, wiring, compiled=False)


def _states(shapes: list[tuple[int, int]], count: int) -> NDArray[np.float64]:
    """Blocks in shade, scattered cells at random levels, dim and dark panels, nothing at all."""
    rng = np.random.default_rng(7)
    rows = [np.concatenate([_light(rng, size) for size in shapes]) for _ in range(count)]
    cells = sum(paths * positions for paths, positions in shapes)
    return np.array([*rows, np.full(cells, 0.37), np.zeros(cells)])


def _light(rng: np.random.Generator, size: tuple[int, int]) -> NDArray[np.float64]:
    light, kind = np.ones(size), rng.random()
    if kind < 0.4:
        first = int(rng.integers(size[1]))
        light[rng.integers(size[0]), first : first + 8] = rng.choice([0.0, 0.15, 0.6])
    elif kind < 0.7:
        some = rng.random(size) < rng.choice([0.05, 0.3, 0.9])
        light[some] = rng.choice([0.05, 0.2, 0.33, 0.5, 0.8], int(some.sum()))
    elif kind < 0.85:
        light[:] = rng.choice([0.0, 0.08, 0.5])
    return light.ravel()


def _agree(kinds: list[ResolvedPanel], wiring: Interconnection, count: int) -> None:
    fast, exact = _solvers(kinds, wiring)
    states = _states(fast.shapes, count)
    found, wanted = fast.maxima(states, 870.0, 41.0), exact.maxima(states, 870.0, 41.0)
    assert found.power == pytest.approx(wanted.power, rel=PROMISED, abs=1e-9)
    assert found.power == pytest.approx(found.voltage * found.current, rel=1e-9)
    assert found.power[-1] == 0.0


@needs_kernel
@pytest.mark.parametrize("construction", CONSTRUCTIONS)
@pytest.mark.parametrize("wiring", WIRINGS.values(), ids=WIRINGS)
def test_compiled_maxima_meet_the_exact_solver(wiring, construction):
    _agree([_resolved(Panel(electrical=PLATE, construction=construction))] * 3, wiring, 25)


@needs_kernel
@pytest.mark.parametrize("wiring", WIRINGS.values(), ids=WIRINGS)
def test_mixed_types_and_early_breakdown(wiring):
    kinds = [
        Panel(electrical=PLATE, construction="half-cell-2-diodes"),
        Panel(electrical=SMALL, construction="diode-every-2-cells"),
        Panel(electrical=PLATE, construction="full-cell-2-diodes", cell_model=EARLY_BREAKDOWN),
    ]
    _agree([_resolved(kind) for kind in kinds], wiring, 40)


@needs_kernel
@pytest.mark.parametrize("wiring", WIRINGS.values(), ids=WIRINGS)
def test_groups_of_unequal_length_and_without_diode(wiring):
    layout = CellLayout(
        paths_in_parallel=2,
        positions_in_series=36,
        bypass=[
            BypassGroup(first=0, last=9, has_diode=True),
            BypassGroup(first=10, last=15, has_diode=False),
            BypassGroup(first=16, last=35, has_diode=True),
        ],
    )
    _agree([_resolved(Panel(electrical=PLATE, cells=layout))] * 3, wiring, 40)


@needs_kernel
@pytest.mark.parametrize("seed", [10495, 11693, 12051, 12713])
def test_cells_on_the_way_to_breakdown_beside_a_conducting_diode(seed):
    """Their curve bends within the diode's drop: a straight line is up to 0.13 % off, and some
    steps from it run away."""
    request = msgspec.convert(random_request(seed), ShadedIvRequest)
    panels, _ = lit_panels(request, request.panels, Assumptions())
    wiring = solver_wiring(request.wiring)
    fast, exact = (LightSolver(panels, wiring, compiled) for compiled in (True, False))
    rng = np.random.default_rng(seed)
    states = np.array([_scattered_or_banded(rng, fast.cells) for _ in range(15)])
    found, wanted = fast.maxima(states, 1000.0, 25.0), exact.maxima(states, 1000.0, 25.0)
    assert found.power == pytest.approx(wanted.power, rel=PROMISED)


def _scattered_or_banded(rng: np.random.Generator, cells: int) -> NDArray[np.float64]:
    levels = np.sort(rng.uniform(0.02, 1.0, int(rng.integers(1, 9))))
    shaded = rng.random(cells) < rng.random()
    if rng.random() < 0.7:
        return np.where(shaded, rng.choice(levels, cells), 1.0)
    return np.repeat(rng.choice(levels, 1 + cells // 6), 6)[:cells]


@needs_kernel
def test_irradiance_and_temperature_per_state():
    kind = _resolved(Panel(electrical=PLATE, construction="half-cell-2-diodes"))
    fast, exact = _solvers([kind] * 3, WIRINGS["series"])
    states = _states(fast.shapes, 10)
    sun, warm = np.linspace(40.0, 1100.0, len(states)), np.linspace(70.0, -10.0, len(states))
    wanted = exact.maxima(states, sun, warm)
    assert fast.maxima(states, sun, warm).power == pytest.approx(wanted.power, rel=PROMISED)
    assert np.ptp(wanted.power[:-1]) > 0.0


@pytest.mark.parametrize("compiled", [pytest.param(True, marks=needs_kernel), False])
def test_blocks_give_what_the_whole_gives(compiled):
    kind = _resolved(Panel(electrical=PLATE, construction="half-cell-2-diodes"))
    solver = LightSolver(dict.fromkeys("abc", kind), WIRINGS["series"], compiled)
    states = _states(solver.shapes, 4)
    parts = [solver.maxima(block, 900.0, 45.0) for block in np.array_split(states, 3)]
    whole = solver.maxima(states, 900.0, 45.0).power
    assert np.concatenate([part.power for part in parts]) == pytest.approx(whole, rel=1e-12)


@pytest.mark.parametrize("compiled", [pytest.param(True, marks=needs_kernel), False])
def test_one_panel_at_standard_conditions_meets_its_nameplate(compiled):
    kind = _resolved(Panel(electrical=PLATE))
    solver = LightSolver({"a": kind}, Interconnection([["a"]]), compiled)
    found = solver.maxima(np.ones((1, solver.cells)), 1000.0, 25.0)
    assert found.power[0] == pytest.approx(PLATE.v_mp_v * PLATE.i_mp_a, rel=5e-3)
    assert found.voltage[0] == pytest.approx(PLATE.v_mp_v, rel=5e-3)
    assert found.current[0] == pytest.approx(PLATE.i_mp_a, rel=5e-3)


def test_light_of_the_wrong_size_is_refused():
    kind = _resolved(Panel(electrical=PLATE, construction="half-cell-2-diodes"))
    solver = LightSolver(dict.fromkeys("abc", kind), WIRINGS["series"])
    with pytest.raises(ValueError, match="216"):
        solver.maxima(np.ones((2, 215)), 1000.0, 25.0)


@needs_kernel
def test_what_the_kernel_cannot_certify_goes_to_the_exact_solver(monkeypatch):
    from sunhitch_service.engine.pv import kernel

    solve = kernel.maxima

    def short(tables, light):
        found = solve(tables, light)
        found[1] = 0.5 * found[1, 0], *found[1, 1:3], found[1, 3]
        return found

    kind = _resolved(Panel(electrical=PLATE, construction="half-cell-2-diodes"))
    fast, exact = _solvers([kind] * 3, WIRINGS["unequal"])
    states = _states(fast.shapes, 4)
    states[:, :: fast.cells // len(fast.panels)] = 1.0  # as bright in all, so solved together
    monkeypatch.setattr(kernel, "maxima", short)
    found, wanted = fast.maxima(states, 900.0, 45.0), exact.maxima(states, 900.0, 45.0)
    assert found.power[1] == wanted.power[1]
    assert found.bound[1] == wanted.bound[1]
    assert found.power == pytest.approx(wanted.power, rel=PROMISED)
