"""A solved array in the contract's terms."""

import numpy as np

from sunhitch.types.shade import (
    CellState,
    Curve,
    PanelState,
    PowerPoint,
    SubstringState,
    TrackerResult,
)
from sunhitch_service.engine.pv.cell import Array
from sunhitch_service.engine.pv.losses import bypass_currents
from sunhitch_service.engine.pv.network import LitPanel
from sunhitch_service.engine.pv.presets import ResolvedPanel
from sunhitch_service.engine.pv.solution import Solution, drawn

_CONDUCTS_FRACTION = 0.01
"""Share of the panel's short-circuit current from which a diode counts as conducting."""


def clean(value: float) -> float:
    """A plain number, with no negative zero."""
    return float(value) + 0.0


def power_point(solution: Solution, row: int) -> PowerPoint:
    """An operating point of the array."""
    state = solution.points.state
    return PowerPoint(
        power_w=clean(solution.power(row)),
        voltage_v=clean(state.voltage[row]),
        current_a=clean(state.current[row]),
    )


def curve(solution: Solution, points: int | None) -> Curve:
    """The curve on that many points, or an empty one."""
    if points is None:
        return Curve(voltage_v=[], current_a=[])
    v, i = drawn(solution, points)
    return Curve(voltage_v=v.tolist(), current_a=i.tolist())


def tracker_result(solution: Solution) -> TrackerResult:
    """Where a simple tracker stops, and what that costs."""
    best, found = solution.power(solution.best), solution.power(solution.tracked)
    return TrackerResult(
        found=power_point(solution, solution.tracked),
        lost_w=max(clean(best - found), 0.0),
        lost_fraction=max(clean((best - found) / best), 0.0) if best > 0.0 else 0.0,
    )


class Reporter:
    """Reads the states of panels, groups and cells off the global maximum.

    Parameters
    ----------
    solution : Solution
        The array solved.
    """

    def __init__(self, solution: Solution) -> None:
        self.network = n = solution.network
        state, row = solution.points.state, solution.best
        self.string_i = state.string_i[row]
        self.group_v = state.group_v[row]
        self.branch_i = state.branch_i[row]
        self.diode_i = bypass_currents(n, state, row)
        self.cell_i = self.branch_i[n.branch_of_cell]
        self.cell_v = state.junction_v[row] - self.cell_i * n.cells.series_resistance
        self.heat = -self.cell_v * self.cell_i
        hottest = np.maximum.reduceat(self.heat, n.branch_start)
        self.group_heat = np.maximum.reduceat(hottest, n.group_start)

    def panel(self, name: str, resolved: ResolvedPanel, lit: LitPanel, cells: bool) -> PanelState:
        """State of one panel.

        Parameters
        ----------
        name : str
            Its name.
        resolved : ResolvedPanel
            Its type.
        lit : LitPanel
            Its light.
        cells : bool
            Whether to list groups and cells.
        """
        place = self.network.places[name]
        voltage, current = float(self.group_v[place.groups].sum()), self.string_i[place.string]
        least = _CONDUCTS_FRACTION * resolved.electrical.i_sc_a
        return PanelState(
            name=name,
            power_w=clean(voltage * current),
            voltage_v=clean(voltage),
            current_a=clean(current),
            conducting_diodes=int((self.diode_i[place.groups] >= least).sum()),
            hottest_cell_dissipation_w=clean(self.group_heat[place.groups].max()),
            substrings=[
                self._substring(index, group, place.branches[index], lit, least)
                for index, group in enumerate(place.groups)
                if cells
            ],
        )

    def hottest(self) -> float:
        """Largest dissipation of any cell of the array [W]."""
        return clean(self.heat.max())

    def _substring(
        self, index: int, group: int, branches: list[int], lit: LitPanel, least: float
    ) -> SubstringState:
        first, last, _ = lit.groups[index]
        through = float(self.branch_i[branches].sum())
        diode = float(self.diode_i[group])
        return SubstringState(
            first=first,
            last=last,
            voltage_v=clean(self.group_v[group]),
            cell_current_a=clean(through),
            diode_current_a=clean(diode),
            diode_conducts=diode >= least,
            cells=[
                cell
                for path, branch in enumerate(branches)
                for cell in self._cells(path, branch, first, lit.light[path, first : last + 1])
            ],
        )

    def _cells(self, path: int, branch: int, first: int, light: Array) -> list[CellState]:
        span = self.network.branch_cells(branch)
        element = span.start + np.searchsorted(self.network.fraction[span], light)
        rows = zip(
            light.tolist(), self.cell_v[element].tolist(), self.heat[element].tolist(), strict=True
        )
        current = clean(self.branch_i[branch])
        return [
            CellState(
                path=path,
                position=first + offset,
                irradiance_fraction=clean(share),
                voltage_v=clean(voltage),
                current_a=current,
                dissipation_w=clean(heat),
            )
            for offset, (share, voltage, heat) in enumerate(rows)
        ]
