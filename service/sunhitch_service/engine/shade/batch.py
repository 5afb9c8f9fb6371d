"""Maximum power of one array under very many states of light, for energy work."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from importlib.util import find_spec
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from .cell import Array, Diode, Junction, dark_current, diode_current
from .light import lit_panel
from .network import NO_DIODE, LitPanel
from .presets import ResolvedPanel
from .solution import Wiring, solve_array
from .table import current_scale, junction_table

if TYPE_CHECKING:
    from .kernel import Layout

Index = NDArray[np.int64]
_HEADROOM = 1.1
_MOST_CELL_V = 1.0
_POLISH_STEPS = 6
_BLOCK = 4096
"""States per call of the kernel: bounds the copy of the light that it needs."""


@dataclass(frozen=True, slots=True)
class MaximumPowers:
    """Global maxima, one per state.

    Parameters
    ----------
    power, voltage, current : ndarray, shape (states,)
        [W], [V], [A].
    """

    power: Array
    voltage: Array
    current: Array


class LightSolver:
    """One array at one irradiance and temperature, ready for many states of shade.

    Uses a compiled kernel where numba is installed (extra `fast`), else the exact solver state
    by state, which is about fifty times slower; both agree within 0.05 % of power.

    Parameters
    ----------
    panels : dict of LitPanel
        Panels by name; their own light is not used.
    wiring : Wiring
        Names every panel once.
    """

    def __init__(self, panels: dict[str, LitPanel], wiring: Wiring) -> None:
        self.panels = panels
        self.wiring = wiring
        self.names = [name for string in wiring.strings for name in string]

    @property
    def cells(self) -> int:
        """Cells of the array: panels in the order of the strings, paths, positions."""
        return sum(self.panels[name].light.size for name in self.names)

    def maximum(self, light: Array) -> MaximumPowers:
        """Global maxima of power.

        Parameters
        ----------
        light : ndarray, shape (states, cells)
            Share of the sun on every cell: panels in the order of the strings, then path, then
            position.

        Returns
        -------
        MaximumPowers
            One per state.

        Raises
        ------
        ValueError
            If the number of cells is wrong.
        """
        if light.ndim != 2 or light.shape[1] != self.cells:
            raise ValueError(f"expected light of shape (states, {self.cells}), got {light.shape}")
        found = self._compiled(light) if find_spec("numba") else self._one_by_one(light)
        return MaximumPowers(found[:, 0], found[:, 1], found[:, 2])

    def stream(self, blocks: Iterable[Array]) -> Iterator[MaximumPowers]:
        """Maxima block by block, so that memory does not grow with the number of states."""
        for block in blocks:
            yield self.maximum(block)

    def _compiled(self, light: Array) -> Array:
        from .kernel import maxima

        layout, order = self._layout
        longest = int(np.max(np.diff(layout.path_start)))
        blocks = [light[start : start + _BLOCK] for start in range(0, len(light), _BLOCK)]
        return np.concatenate(
            [maxima(layout, np.ascontiguousarray(block[:, order]), longest) for block in blocks]
            or [np.zeros((0, 3))]
        )

    @cached_property
    def _layout(self) -> tuple["Layout", Index]:
        """The array for the kernel, and where each of its cells is among the caller's."""
        return _Flattened(self.panels, self.wiring).layout()

    def _one_by_one(self, light: Array) -> Array:
        distinct, back = np.unique(light, axis=0, return_inverse=True)
        found = np.array([self._exact(state) for state in distinct])
        return np.asarray(found[back.ravel()], dtype=np.float64)

    def _exact(self, state: Array) -> tuple[float, float, float]:
        panels: dict[str, LitPanel] = {}
        start = 0
        for name in self.names:
            panel = self.panels[name]
            own = state[start : start + panel.light.size].reshape(panel.light.shape)
            panels[name] = _with_light(panel, own)
            start += own.size
        solution = solve_array(panels, self.wiring)
        found, row = solution.points.state, solution.best
        return solution.power(row), float(found.voltage[row]), float(found.current[row])


def _with_light(panel: LitPanel, light: Array) -> LitPanel:
    return LitPanel(panel.junction, panel.full_current, light, panel.groups, panel.diode)


class _Flattened:
    """Numbers every path, group and string of an array, without merging any."""

    def __init__(self, panels: dict[str, LitPanel], wiring: Wiring) -> None:
        self.wiring = wiring
        self.junctions = list(dict.fromkeys(panel.junction for panel in panels.values()))
        self.order: list[int] = []
        self.path_start, self.group_start, self.string_start = [0], [0], [0]
        self.path_model: list[int] = []
        self.full: list[float] = []
        self.diodes: list[Diode] = []
        start = 0
        for names in wiring.strings:
            for name in names:
                self._add(panels[name], start)
                start += panels[name].light.size
            self.string_start.append(len(self.diodes))

    def _add(self, panel: LitPanel, start: int) -> None:
        paths, positions = panel.light.shape
        for first, last, guarded in panel.groups:
            for path in range(paths):
                at = start + path * positions
                self.order += range(at + first, at + last + 1)
                self.path_start.append(len(self.order))
                self.path_model.append(self.junctions.index(panel.junction))
                self.full.append(panel.full_current)
            self.group_start.append(len(self.full))
            self.diodes.append(panel.diode if guarded else NO_DIODE)

    def layout(self) -> tuple["Layout", Index]:
        """The kernel's arrays."""
        from .kernel import DIODE_POINTS, HALF, Layout

        most = _HEADROOM * sum(
            max(sum(self.full[p] for p in self._paths(g)) for g in self._groups(s))
            for s in range(len(self.string_start) - 1)
        )
        tables = [_kernel_table(junction, most, HALF) for junction in self.junctions]
        diodes = [_kernel_diode(diode, most, DIODE_POINTS) for diode in self.diodes]
        layout = Layout(
            path_start=np.array(self.path_start),
            group_start=np.array(self.group_start),
            string_start=np.array(self.string_start),
            path_model=np.array(self.path_model),
            full=np.array(self.full),
            rs=np.array([junction.series_resistance for junction in self.junctions]),
            scale=np.full(len(tables), most),
            j=np.stack([table[0] for table in tables]),
            v=np.stack([table[1] for table in tables]),
            slope=np.stack([table[2] for table in tables]),
            diode_v=np.stack([curve[0] for curve in diodes]),
            diode_i=np.stack([curve[1] for curve in diodes]),
            diode_slope=np.stack([curve[2] for curve in diodes]),
            guarded=np.array([diode != NO_DIODE for diode in self.diodes]),
            kind=np.array(self._kinds()),
            lowest_v=np.array([self._lowest(g, curve) for g, curve in enumerate(diodes)]),
            blocking=np.array(_diode_row(self.wiring.blocking)),
            backwards=most,
            resistance=float(self.wiring.resistance),
        )
        return layout, np.array(self.order)

    def _kinds(self) -> list[int]:
        """Number of every group's kind: its paths' models, cells and light currents, its diode."""
        kinds = [
            (
                tuple((self.path_model[p], self.full[p], self._cells(p)) for p in self._paths(g)),
                self.diodes[g],
            )
            for g in range(len(self.diodes))
        ]
        listed = list(dict.fromkeys(kinds))
        return [listed.index(kind) for kind in kinds]

    def _lowest(self, group: int, diode: tuple[Array, Array, Array]) -> float:
        """Lowest voltage of a group: its diode at full current, or all other cells against it."""
        if self.diodes[group] != NO_DIODE:
            return float(diode[0][-1])
        return -_MOST_CELL_V * max(
            sum(self._cells(next(iter(self._paths(g)))) for g in self._groups(s))
            for s in range(len(self.string_start) - 1)
        )

    def _cells(self, path: int) -> int:
        return self.path_start[path + 1] - self.path_start[path]

    def _groups(self, string: int) -> range:
        return range(self.string_start[string], self.string_start[string + 1])

    def _paths(self, group: int) -> range:
        return range(self.group_start[group], self.group_start[group + 1])


def _diode_row(diode: Diode) -> tuple[float, float, float]:
    return diode.saturation_current, diode.thermal_voltage, diode.series_resistance


def _kernel_diode(diode: Diode, most: float, points: int) -> tuple[Array, Array, Array]:
    """Group voltage, falling, diode current and dI/dV; zeros where there is no diode."""
    if diode == NO_DIODE:
        return np.zeros(points), np.zeros(points), np.zeros(points)
    vt, r = diode.thermal_voltage, diode.series_resistance
    top = vt * np.log1p(most / diode.saturation_current)
    u = 3.0 * vt * np.log(np.linspace(1.0, np.exp(top / vt / 3.0), points))
    i, slope, _ = diode_current(u, diode.saturation_current, vt)
    return -(u + i * r), i, -(1.0 / slope + r)


def _kernel_table(junction: Junction, most: float, half: int) -> tuple[Array, Array, Array]:
    """Start, voltage and slope of every interval, even in √|IL − I|: forward, then reverse."""
    knots = most * (np.arange(half + 1) / half) ** 2
    table = junction_table(junction, current_scale(most), current_scale(most))
    parts: list[Array] = []
    for j in (knots, -knots):
        v = _exact_voltages(junction, j, table.voltages(j)[0])
        parts.append(np.stack((j[:-1], v[:-1], np.diff(v) / np.diff(j))))
    joined = np.concatenate(parts, axis=1)
    return joined[0], joined[1], joined[2]


def _exact_voltages(junction: Junction, j: Array, start: Array) -> Array:
    v = start
    for _ in range(_POLISH_STEPS):
        taken, slope, _ = dark_current(v, junction)
        lowest = junction.breakdown_voltage * (1.0 - 1e-9) if junction.breakdown_factor else -np.inf
        v = np.maximum(v - (taken - j) / slope, lowest)
    return v


def panel_at(
    panel: ResolvedPanel, irradiance: float, temperature: float
) -> tuple[float, float, float, float, float]:
    """One unshaded panel at given conditions.

    Parameters
    ----------
    panel : ResolvedPanel
        Type of panel.
    irradiance : float
        [W/m²], positive.
    temperature : float
        Of the cells [°C].

    Returns
    -------
    tuple of float
        Pmp [W], Vmp [V], Imp [A], Voc [V] and Isc [A].
    """
    light = np.ones((panel.layout.paths_in_parallel, panel.layout.positions_in_series))
    lit = lit_panel(panel, irradiance, temperature, light)
    solution = solve_array({"panel": lit}, Wiring([["panel"]]))
    state, row, ends = solution.points.state, solution.best, solution.points
    return (
        solution.power(row),
        float(state.voltage[row]),
        float(state.current[row]),
        ends.open_circuit_voltage,
        ends.short_circuit_current,
    )
