"""Maximum power of one array under very many states of light, for energy work."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from .accelerate import at_hand
from .cell import Array, Diode, Index, Junction, dark_current, diode_columns, least_conducting
from .curve import pieces
from .maxima import CERTIFIED
from .network import NO_DIODE
from .presets import ResolvedPanel, lit_panel
from .solution import Interconnection, maximum_power
from .table import junction_table

if TYPE_CHECKING:
    from .kernel import Net, Rows

_HEADROOM = 1.1
_USUAL_SHARE = 0.1
"""Of the largest current: about what a conducting bypass diode carries."""
_STEPS = 4
"""Of Newton, from an interpolated junction voltage to the exact one."""
_BLOCK = 4096
"""States per call of the kernel: bounds the copy of the light that it needs."""


@dataclass(frozen=True, slots=True)
class MaximumPowers:
    """Global maxima, one per state.

    Parameters
    ----------
    power, voltage, current : ndarray, shape (states,)
        [W], [V], [A]; zero where there is no light.
    bound : ndarray, shape (states,)
        Power that no operating point exceeds [W].
    """

    power: Array
    voltage: Array
    current: Array
    bound: Array


class LightSolver:
    """One array, ready for many states of light.

    Uses a compiled kernel where numba is installed (extra `fast`), else the exact solver state
    by state, which is about a hundred times slower; both are certified within 1e-4 of power. A
    state that the kernel cannot certify goes to the exact solver. States with the same irradiance,
    temperature and brightest cells share their tables: where these are many, round them.

    Parameters
    ----------
    panels : mapping of str to ResolvedPanel
        Panels by name.
    wiring : Interconnection
        Names every panel once; fixes their order: string after string.
    compiled : bool, optional
        Whether to use the kernel; by default where numba is installed.
    """

    def __init__(
        self,
        panels: Mapping[str, ResolvedPanel],
        wiring: Interconnection,
        compiled: bool | None = None,
    ) -> None:
        self.wiring = wiring
        self.names = [name for string in wiring.strings for name in string]
        self.panels = [panels[name] for name in self.names]
        self.compiled = at_hand() if compiled is None else compiled

    @cached_property
    def shapes(self) -> list[tuple[int, int]]:
        """Paths and positions of every panel, in the order of the strings."""
        return [(p.layout.paths_in_parallel, p.layout.positions_in_series) for p in self.panels]

    @property
    def cells(self) -> int:
        """Cells of the array."""
        return sum(self._sizes)

    @cached_property
    def _sizes(self) -> list[int]:
        return [paths * positions for paths, positions in self.shapes]

    def maxima(
        self, light: Array, irradiance_w_m2: ArrayLike, cell_temperature_c: ArrayLike
    ) -> MaximumPowers:
        """Global maxima of power.

        Parameters
        ----------
        light : ndarray, shape (states, cells)
            Share of the sun on every cell: panels in the order of the strings, then path, then
            position.
        irradiance_w_m2, cell_temperature_c : float or ndarray, shape (states,)
            Of the sun on an unshaded cell [W/m²], positive, and of all cells [°C].

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
        irradiance, temperature, _ = np.broadcast_arrays(
            irradiance_w_m2, cell_temperature_c, np.empty(len(light))
        )
        columns = np.column_stack((irradiance, temperature, self._brightest(light)))
        alike, number = np.unique(columns, axis=0, return_inverse=True)
        found = np.zeros((len(light), 4))
        solve = self._compiled if self.compiled else self._one_by_one
        order = np.argsort(number.ravel(), kind="stable")
        ends = np.cumsum(np.bincount(number.ravel(), minlength=len(alike)))
        for own, states in zip(alike.tolist(), np.split(order, ends[:-1]), strict=True):
            for start in range(0, len(states), _BLOCK):
                block = states[start : start + _BLOCK]
                found[block] = solve(light[block], own[0], own[1], own[2:])
        return MaximumPowers(*found.T)

    def _brightest(self, light: Array) -> Array:
        """Share of the sun on every panel's brightest cell; 1 where its shunt does not follow."""
        brightest = np.maximum.reduceat(light, np.cumsum([0, *self._sizes[:-1]]), axis=1)
        follows = np.array([panel.by_nameplate for panel in self.panels])
        return np.where(follows, brightest, 1.0)

    def _compiled(
        self, light: Array, irradiance: float, temperature: float, brightest: list[float]
    ) -> Array:
        from .kernel import maxima

        parts = self._wired
        net, full = parts.at(irradiance, temperature, brightest)
        # In one layout: the compiler would make a kernel of its own for every other one.
        cells = np.ascontiguousarray(light[:, parts.order] * full)
        found = maxima(tuple(net), parts.risen(cells))
        open_ended = ~(found[:, 3] <= found[:, 0] * (1.0 + CERTIFIED))
        if open_ended.any():
            found[open_ended] = self._one_by_one(
                light[open_ended], irradiance, temperature, brightest
            )
        return found

    @cached_property
    def _wired(self) -> "WiredParts":
        return WiredParts(self.panels, self.wiring)

    def _one_by_one(
        self, light: Array, irradiance: float, temperature: float, _: list[float]
    ) -> Array:
        distinct, back = np.unique(light, axis=0, return_inverse=True)
        found = np.array([self._exact(state, irradiance, temperature) for state in distinct])
        return np.asarray(found[back.ravel()], dtype=np.float64)

    def _exact(
        self, state: Array, irradiance: float, temperature: float
    ) -> tuple[float, float, float, float]:
        parts = np.split(state, np.cumsum(self._sizes)[:-1])
        lit = {
            name: lit_panel(panel, irradiance, temperature, own.reshape(shape))
            for name, panel, own, shape in zip(
                self.names, self.panels, parts, self.shapes, strict=True
            )
        }
        found = maximum_power(lit, self.wiring)
        return found.power, found.voltage, found.current, found.bound


class WiredParts:
    """An array's paths, groups and strings, numbered side by side without merging any.

    Parameters
    ----------
    panels : list of ResolvedPanel
        In the order of the strings.
    wiring : Interconnection
        How they are connected.
    """

    def __init__(self, panels: list[ResolvedPanel], wiring: Interconnection) -> None:
        self.wiring, self.panels = wiring, panels
        self.diodes: list[Diode] = []
        self._kinds: list[tuple[int, int, bool]] = []
        paths, groups, strings, cells = [0], [0], [0], list[int]()
        owners: list[int] = []
        start, queue = 0, enumerate(panels)
        for names in wiring.strings:
            for number, panel in (next(queue) for _ in names):
                positions = panel.layout.positions_in_series
                end = start + panel.layout.paths_in_parallel * positions
                for first, last, guarded in panel.groups:
                    for at in range(start, end, positions):
                        cells += range(at + first, at + last + 1)
                        paths.append(len(cells))
                        owners.append(number)
                    groups.append(len(owners))
                    self.diodes.append(panel.diode if guarded else NO_DIODE)
                    self._kinds.append((number, last - first + 1, guarded))
                start = end
            strings.append(len(self.diodes))
        self.order: Index = np.array(cells)
        self.path_panel: Index = np.array(owners)
        self.path_start: Index = np.array(paths)
        self.group_start: Index = np.array(groups)
        self.string_start: Index = np.array(strings)

    def risen(self, cells: Array) -> Array:
        """Figures of cells in the order of the parts, sorted within every path, in place."""
        starts, sizes = self.path_start[:-1], self.path_start[1:] - self.path_start[:-1]
        for size in {int(size) for size in sizes.tolist()}:
            own: Index = np.add.outer(starts[sizes == size], np.arange(size))
            cells[:, own] = np.sort(cells[:, own], axis=-1)
        return cells

    def at(
        self, irradiance: float, temperature: float, brightest: list[float]
    ) -> tuple["Net", Array]:
        """The kernel's arrays at one irradiance [W/m²], temperature [°C] and brightest cells.

        Beside them the light current of every cell in full light [A].
        """
        from .kernel import LEVEL, MOST_KNOWN, MOST_PLACES, Net

        lit = [
            panel.at(irradiance, temperature, share)
            for panel, share in zip(self.panels, brightest, strict=True)
        ]
        number = {own: k for k, own in enumerate(dict.fromkeys(lit))}
        model = np.array([number[own] for own in lit])
        full = np.array([current for current, _ in lit])[self.path_panel]
        junctions = [junction for _, junction in number]
        scale = _HEADROOM * self._largest_current(full)
        paths, groups, strings = len(self.path_panel), len(self.diodes), len(self.string_start) - 1
        own = [(model[panel], size, guarded) for panel, size, guarded in self._kinds]
        listed = list(dict.fromkeys(own))
        kinds = np.array([listed.index(kind) for kind in own])
        group_cells = self.path_start[self.group_start]
        net = Net(
            np.zeros(len(self.order), LEVEL),
            np.repeat(kinds, np.diff(group_cells)),
            self._paths(junctions, model[self.path_panel], scale),
            self._groups(group_cells, scale),
            self._strings(group_cells),
            np.zeros((strings, MOST_KNOWN, 3)),
            np.zeros((paths, MOST_KNOWN, 3)),
            np.concatenate([_table(junction, scale) for junction in junctions]).ravel(),
            scale,
            np.zeros((MOST_PLACES, 4)),
            np.zeros((MOST_PLACES, paths, 3)),
            np.zeros((MOST_PLACES, groups)),
            np.zeros((MOST_PLACES, strings)),
        )
        return net, np.repeat(full, np.diff(self.path_start))

    def _paths(self, junctions: list[Junction], model: Index, scale: float) -> "Rows":
        from .kernel import PATH, SPAN, TABLE_ROWS

        resistance = np.array([junction.series_resistance for junction in junctions])
        turn, largest = np.array([least_conducting(junction) for junction in junctions]).T
        rows = np.zeros(len(model), PATH)
        rows["cell"], rows["cells"] = self.path_start[:-1], np.diff(self.path_start)
        rows["table"] = model * TABLE_ROWS
        rows["gain"] = (SPAN - 1.0) / scale
        rows["resistance"] = resistance[model] * rows["cells"]
        rows["turn"], rows["largest"] = turn[model], largest[model]
        return rows

    def _groups(self, cells: Index, scale: float) -> "Rows":
        from .kernel import GROUP

        rows = np.zeros(len(self.diodes), GROUP)
        rows["cell"], rows["cells"] = cells[:-1], np.diff(cells)
        rows["first"], rows["end"] = self.group_start[:-1], self.group_start[1:]
        rows["saturation"], rows["vt"], rows["r"] = diode_columns(self.diodes)
        rows["vt"][rows["saturation"] == 0.0] = np.inf  # 0·exp(u/vt) is then 0, however large u
        rows["drop"] = [_drop(diode, _USUAL_SHARE * scale) for diode in self.diodes]
        return rows

    def _strings(self, group_cells: Index) -> "Rows":
        from .kernel import STRING

        cells, blocking = group_cells[self.string_start], self.wiring.blocking
        rows = np.zeros(len(cells) - 1, STRING)
        rows["cell"], rows["cells"] = cells[:-1], np.diff(cells)
        rows["first"], rows["end"] = self.string_start[:-1], self.string_start[1:]
        rows["saturation"], rows["vt"] = blocking.saturation_current, blocking.thermal_voltage
        rows["r"] = blocking.series_resistance + self.wiring.resistance
        return rows

    def _largest_current(self, paths: Array) -> float:
        """All strings together, and once more the largest path: a cell fed backwards [A]."""
        groups = np.add.reduceat(paths, self.group_start[:-1])
        strings = np.maximum.reduceat(groups, self.string_start[:-1])
        return float(np.sum(strings) + np.max(paths))


def _table(junction: Junction, scale: float) -> Array:
    """The kernel's cubics of |V| over |IL − I|, up to a current either way [A]."""
    from .kernel import FIRST_ROW, HALF, SPAN, TAIL

    x = ((np.arange(HALF + 1) + FIRST_ROW) << TAIL).view(np.float64)
    unit, tabulated = scale / (SPAN - 1.0), junction_table(junction, scale, scale)
    sides: list[Array] = []
    for sign in (1.0, -1.0):
        j = sign * unit * (x - 1.0)
        v = tabulated.voltages.at(j)[0]
        for _ in range(_STEPS):
            taken, slope, _ = dark_current(v, junction)
            v -= (taken - j) / slope
        slope = dark_current(v, junction)[1]
        sides.append(pieces(x, sign * v, unit / slope)[1:, 1:].T)
    return np.concatenate(sides)


def _drop(diode: Diode, current: float) -> float:
    """Voltage of a diode at a current [V]; some voltage where there is none."""
    if diode == NO_DIODE:
        return 1.0
    ideal = diode.thermal_voltage * np.log1p(current / diode.saturation_current)
    return float(ideal + current * diode.series_resistance)
