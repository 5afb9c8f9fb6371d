"""Maximum power of one array under very many states of light, for energy work."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import astuple, dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .accelerate import at_hand
from .cell import Array, Diode, Junction, least_conducting
from .maxima import CERTIFIED
from .network import NO_DIODE
from .presets import ResolvedPanel, lit_panel
from .solution import Interconnection, maximum_power

if TYPE_CHECKING:
    from .kernel import Net, Rows

Index = NDArray[np.int64]
_HEADROOM = 1.1
_USUAL_SHARE = 0.1
"""Of the largest current: about what a conducting bypass diode carries."""
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
    state that the kernel cannot certify goes to the exact solver. States with the same irradiance
    and temperature share their tables: where these are many, round them.

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

    @property
    def shapes(self) -> list[tuple[int, int]]:
        """Paths and positions of every panel, in the order of the strings."""
        return [(p.layout.paths_in_parallel, p.layout.positions_in_series) for p in self.panels]

    @property
    def cells(self) -> int:
        """Cells of the array."""
        return sum(paths * positions for paths, positions in self.shapes)

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
        given = np.broadcast_arrays(irradiance_w_m2, cell_temperature_c, np.empty(len(light)))
        pairs, number = np.unique(np.stack(given[:2], axis=1), axis=0, return_inverse=True)
        found = np.zeros((len(light), 4))
        solve = self._compiled if self.compiled else self._one_by_one
        order = np.argsort(number.ravel(), kind="stable")
        ends = np.cumsum(np.bincount(number.ravel(), minlength=len(pairs)))
        for pair, states in zip(pairs, np.split(order, ends[:-1]), strict=True):
            for start in range(0, len(states), _BLOCK):
                block = states[start : start + _BLOCK]
                found[block] = solve(light[block], float(pair[0]), float(pair[1]))
        return MaximumPowers(*found.T)

    def stream(
        self, blocks: Iterable[Array], irradiance_w_m2: float, cell_temperature_c: float
    ) -> Iterator[MaximumPowers]:
        """Maxima block by block, so that memory does not grow with the number of states."""
        for block in blocks:
            yield self.maxima(block, irradiance_w_m2, cell_temperature_c)

    def _compiled(self, light: Array, irradiance: float, temperature: float) -> Array:
        from .kernel import maxima

        net = self._wired.at(irradiance, temperature)
        own = np.ascontiguousarray(light[:, self._wired.order], dtype=np.float64)
        found = maxima(tuple(net), own)
        open_ended = ~(found[:, 3] <= found[:, 0] * (1.0 + CERTIFIED))
        if open_ended.any():
            found[open_ended] = self._one_by_one(light[open_ended], irradiance, temperature)
        return found

    @cached_property
    def _wired(self) -> "WiredParts":
        return WiredParts(self.panels, self.wiring)

    def _one_by_one(self, light: Array, irradiance: float, temperature: float) -> Array:
        distinct, back = np.unique(light, axis=0, return_inverse=True)
        found = np.array([self._exact(state, irradiance, temperature) for state in distinct])
        return np.asarray(found[back.ravel()], dtype=np.float64)

    def _exact(
        self, state: Array, irradiance: float, temperature: float
    ) -> tuple[float, float, float, float]:
        sizes = [paths * positions for paths, positions in self.shapes]
        parts = np.split(state, np.cumsum(sizes)[:-1])
        lit = {
            name: lit_panel(panel, irradiance, temperature, own.reshape(shape))
            for name, panel, own, shape in zip(
                self.names, self.panels, parts, self.shapes, strict=True
            )
        }
        found = maximum_power(lit, self.wiring)
        return found.power, found.voltage, found.current, found.bound


class WiredParts:
    """An array's paths, groups and strings, numbered for the kernel without merging any."""

    def __init__(self, panels: list[ResolvedPanel], wiring: Interconnection) -> None:
        self.wiring = wiring
        self.models = list({id(panel): panel for panel in panels}.values())
        self.path_start, self.group_start, self.string_start = [0], [0], [0]
        self.path_model: list[int] = []
        self.diodes: list[Diode] = []
        self.kinds: list[tuple[int, int, bool]] = []
        cells: list[int] = []
        start, queue = 0, iter(panels)
        for names in wiring.strings:
            for panel in (next(queue) for _ in names):
                start = self._add(panel, start, cells)
            self.string_start.append(len(self.diodes))
        self.order: Index = np.array(cells)

    def _add(self, panel: ResolvedPanel, start: int, cells: list[int]) -> int:
        """Number a panel's parts and note which cells they have; first cell of the next panel."""
        model = next(k for k, other in enumerate(self.models) if other is panel)
        paths, positions = panel.layout.paths_in_parallel, panel.layout.positions_in_series
        for first, last, guarded in panel.groups:
            for path in range(paths):
                at = start + path * positions
                cells += range(at + first, at + last + 1)
                self.path_start.append(len(cells))
                self.path_model.append(model)
            self.group_start.append(len(self.path_model))
            self.diodes.append(panel.diode if guarded else NO_DIODE)
            self.kinds.append((model, last - first + 1, guarded))
        return start + paths * positions

    def at(self, irradiance: float, temperature: float) -> "Net":
        """The kernel's arrays at one irradiance [W/m²] and temperature [°C]."""
        from .kernel import (
            LEVEL,
            MOST_KNOWN,
            MOST_PLACES,
            MOST_TRACED,
            POINT,
            ROWS,
            Net,
            junction_voltages,
        )

        lit = [panel.at(irradiance, temperature) for panel in self.models]
        full = np.array([current for current, _ in lit])[self.path_model]
        scale = _HEADROOM * self._largest_current(full)
        table = np.empty((len(lit), ROWS, 4))
        for rows, (_, junction) in zip(table, lit, strict=True):
            junction_voltages(astuple(junction), scale, rows)
        return Net(
            np.zeros(len(self.order), LEVEL),
            self._paths(full, [junction for _, junction in lit], scale),
            self._groups(scale),
            self._strings(),
            np.zeros((len(self.string_start) - 1, MOST_KNOWN), POINT),
            np.zeros((len(self.diodes) + len(self.path_model), MOST_TRACED, 2)),
            table.ravel(),
            scale,
            np.zeros((MOST_PLACES, 4)),
            np.zeros((MOST_PLACES, len(self.path_model), 3)),
            np.zeros((MOST_PLACES, len(self.diodes))),
            np.zeros((MOST_PLACES, len(self.string_start) - 1)),
        )

    def _paths(self, full: Array, junctions: list[Junction], scale: float) -> "Rows":
        from .kernel import PATH, ROWS, SPAN

        resistance = np.array([junction.series_resistance for junction in junctions])
        turn, largest = np.array([least_conducting(junction) for junction in junctions]).T
        rows = np.zeros(len(self.path_model), PATH)
        rows["first"], rows["end"] = self.path_start[:-1], self.path_start[1:]
        rows["table"] = np.array(self.path_model) * ROWS
        rows["gain"] = (SPAN - 1.0) / scale
        rows["full"] = full
        rows["resistance"] = resistance[self.path_model] * np.diff(self.path_start)
        rows["turn"], rows["largest"] = turn[self.path_model], largest[self.path_model]
        return rows

    def _groups(self, scale: float) -> "Rows":
        from .kernel import GROUP

        rows = np.zeros(len(self.diodes), GROUP)
        rows["first"], rows["end"] = self.group_start[:-1], self.group_start[1:]
        listed = list(dict.fromkeys(self.kinds))
        rows["kind"] = [listed.index(kind) for kind in self.kinds]
        rows["saturation"], rows["vt"], rows["r"] = zip(*map(astuple, self.diodes), strict=True)
        rows["vt"][rows["saturation"] == 0.0] = np.inf  # 0·exp(u/vt) is then 0, however large u
        rows["drop"] = [_drop(diode, _USUAL_SHARE * scale) for diode in self.diodes]
        return rows

    def _strings(self) -> "Rows":
        from .kernel import STRING

        rows = np.zeros(len(self.string_start) - 1, STRING)
        rows["first"], rows["end"] = self.string_start[:-1], self.string_start[1:]
        blocking = self.wiring.blocking
        rows["saturation"], rows["vt"] = blocking.saturation_current, blocking.thermal_voltage
        rows["r"] = blocking.series_resistance + self.wiring.resistance
        return rows

    def _largest_current(self, paths: Array) -> float:
        """All strings together, and once more the largest path: a cell fed backwards [A]."""
        groups = np.add.reduceat(paths, self.group_start[:-1])
        strings = np.maximum.reduceat(groups, self.string_start[:-1])
        return float(np.sum(strings) + np.max(paths))


def _drop(diode: Diode, current: float) -> float:
    """Voltage of a diode at a current [V]; some voltage where there is none."""
    if diode == NO_DIODE:
        return 1.0
    ideal = diode.thermal_voltage * np.log1p(current / diode.saturation_current)
    return float(ideal + current * diode.series_resistance)
