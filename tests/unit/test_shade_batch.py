"""Many light states at once give the maxima of the exact solver, state by state."""

import numpy as np
import pytest
from numpy.typing import NDArray

from sunhitch.types.panel import Panel, PanelElectrical
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.shade.batch import LightSolver
from sunhitch_service.engine.shade.light import lit_panel
from sunhitch_service.engine.shade.network import LitPanel
from sunhitch_service.engine.shade.presets import resolve_panel
from sunhitch_service.engine.shade.report import power_point
from sunhitch_service.engine.shade.solution import Wiring, solve_array

PLATE = PanelElectrical(
    p_mp_w=115.0, v_mp_v=19.2, i_mp_a=5.99, v_oc_v=22.9, i_sc_a=6.4, cells_in_series=36
)


def _panels(names: list[str]) -> dict[str, LitPanel]:
    kind = resolve_panel(
        Panel(electrical=PLATE, construction="half-cell-2-diodes"), Assumptions(), "/panel"
    )
    size = (kind.layout.paths_in_parallel, kind.layout.positions_in_series)
    return {name: lit_panel(kind, 900.0, 45.0, np.ones(size)) for name in names}


def _states(cells: int, count: int) -> NDArray[np.float64]:
    levels = np.random.default_rng(7).choice([0.0, 0.15, 0.4, 1.0], (count, cells // 6))
    return np.repeat(np.where(levels < 0.5, levels, 1.0), 6, axis=1)


@pytest.mark.parametrize("strings", [[["a", "b", "c"]], [["a"], ["b"], ["c"]]])
def test_batch_meets_the_exact_solver(strings: list[list[str]]) -> None:
    """Within 0.05 % of power, the bound that the batch promises."""
    panels = _panels(["a", "b", "c"])
    wiring = Wiring(strings=strings)
    solver = LightSolver(panels, wiring)
    states = _states(solver.cells, 12)
    found = solver.maximum(states)
    for state, power in zip(states, found.power, strict=True):
        share = np.split(state, 3)
        lit = {
            name: LitPanel(
                p.junction, p.full_current, part.reshape(p.light.shape), p.groups, p.diode
            )
            for (name, p), part in zip(panels.items(), share, strict=True)
        }
        exact = solve_array(lit, wiring)
        assert power == pytest.approx(power_point(exact, exact.best).power_w, rel=5e-4, abs=1e-3)
