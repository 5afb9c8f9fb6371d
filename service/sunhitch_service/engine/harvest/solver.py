"""Power of wired panels in every state of light, within what their controllers can do.

Coarse curves, which states of about equal light and heat share, tell where the maxima are; the
operating points themselves are solved exactly.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from sunhitch_service.engine.controller.settings import ANY_VOLTAGE, InputWindow
from sunhitch_service.engine.pv.many_states import WiredParts
from sunhitch_service.engine.pv.presets import ResolvedPanel, lit_panel
from sunhitch_service.engine.pv.solution import Interconnection, solve_array
from sunhitch_service.engine.pv.translate import shunt_share, translated_all
from sunhitch_service.engine.sky import Array, Index, Mask

from .curves import LEVELS, GroupBook, GroupCurves, Reference
from .interconnection import MOST_TOPS, ArrayCurves, ControllerInput
from .operating import LitCells, StartingPoints, operating_points
from .setup import Module
from .uniform import unshaded

_LIGHT_RATIO = 2.5
_HEAT_STEP_K = 25.0
_LEAST_W_M2 = 2.0
_DIM = 0.6
_NEAR = 0.03
"""Coarse points this near to a window's bounds may be out of it."""
_SHUNT = 3
"""Row of the shunt conductance among the fields of `Junction`."""
_PLACES = 600
"""Voltages looked at where an operating point does not settle, and once more about the best."""


@dataclass(frozen=True, slots=True)
class OperatingPoints:
    """Each state of one controller's array, shape (states,).

    Parameters
    ----------
    maximum_w : ndarray
        Largest power whatever the controller [W].
    tracked_w : ndarray
        Power of the maximum that its tracker finds [W].
    drawn_w, drawn_v : ndarray
        Power and voltage at which the controller works; 0 where it cannot [W], [V].
    """

    maximum_w: Array
    tracked_w: Array
    drawn_w: Array
    drawn_v: Array


@dataclass(frozen=True)
class CellLight:
    """Panels in every state of light.

    Parameters
    ----------
    panels : sequence of Module
        The panels.
    cells : sequence of ndarray, shape (states, paths, positions)
        Light that each cell uses [W/m²], one array per panel.
    cell_c : ndarray, shape (states,)
        Cell temperature, mean over the panels [°C].
    own_c : sequence of ndarray, shape (states,)
        The same of each panel, where they differ.
    """

    panels: Sequence[Module]
    cells: Sequence[Array]
    cell_c: Array
    own_c: Sequence[Array] = ()

    def heat_of(self, panel: int) -> Array:
        """Cell temperature of a panel, shape (states,) [°C]."""
        return self.own_c[panel] if self.own_c else self.cell_c

    @cached_property
    def brightest(self) -> Array:
        """Light on the brightest cell of each state [W/m²]."""
        brightest = [cells.max(axis=(1, 2)) for cells in self.cells]
        return np.asarray(np.max(brightest, axis=0), dtype=np.float64)

    @cached_property
    def kinds(self) -> dict[str, ResolvedPanel]:
        """Types of panels, by name."""
        return {panel.kind: panel.panel for panel in self.panels}


def solve(lit: CellLight, inputs: Sequence[ControllerInput]) -> list[OperatingPoints]:
    """Operating points of several ways to wire the same panels.

    Parameters
    ----------
    lit : CellLight
        Panels and light.
    inputs : sequence of ControllerInput
        Ways to wire; each is solved on its own.

    Returns
    -------
    list of OperatingPoints
        One per way, over all states.
    """
    arrays = [_TrackedArray(lit, wired) for wired in inputs]
    for at, states in _bins(lit, inputs):
        book = GroupBook()
        groups = _groups(lit, states, book)
        curves = GroupCurves(at, book)
        for array in arrays:
            array.begin(at, states, ArrayCurves(array.wired, curves, groups))
    cells: dict[tuple[int, ...], LitCells] = {}
    for array in arrays:
        if array.order not in cells:
            cells[array.order] = _lit_cells(lit, array.order, array.parts)
    return [array.solved(cells[array.order]) for array in arrays]


class _TrackedArray:
    """One controller's array: takes where to look in every state, then solves them all."""

    def __init__(self, lit: CellLight, wired: ControllerInput) -> None:
        self.lit, self.wired = lit, wired
        self.order = tuple(panel for string in wired.strings for panel in string)
        self._wiring = Interconnection(
            [[str(panel) for panel in string] for string in wired.strings],
            wired.blocking,
            wired.resistance,
        )
        self.parts = WiredParts([lit.panels[panel].panel for panel in self.order], self._wiring)
        self._tops, self._inside = ([self._nowhere() for _ in range(MOST_TOPS)] for _ in "ab")
        self._first = self._nowhere()
        self._opens = np.zeros(len(lit.cell_c), dtype=bool)

    def _nowhere(self) -> StartingPoints:
        parts, states = self.parts, len(self.lit.cell_c)
        counts = len(parts.diodes), len(self.wired.strings), len(parts.path_panel)
        return StartingPoints(np.zeros(states), *(np.zeros((states, n)) for n in counts))

    def begin(self, at: Reference, states: Index, curves: ArrayCurves) -> None:
        """Note where to look in some states, on curves at reference conditions."""
        window, lit = self.wired.window, self.lit
        kind = max((lit.panels[p].panel for p in self.order), key=lambda k: k.electrical.p_mp_w)
        light = np.append(lit.brightest[states], at.irradiance)
        _, voltage = unshaded(kind, light, np.append(lit.cell_c[states], at.cell_c))
        volts, amperes = voltage[:-1] / voltage[-1], light[:-1] / light[-1]

        def noted(into: StartingPoints, which: Index, v: Array) -> None:
            if len(which):
                into.put(states[which], curves.start(which, v).scaled(volts[which], amperes[which]))

        every = np.arange(len(states))
        for into, own_v in zip(self._tops, curves.tops(), strict=True):
            noted(into, there := np.flatnonzero(np.isfinite(own_v)), own_v[there])
        if self.wired.first_maximum:
            noted(self._first, every, curves.first_tops())
        self._opens[states] = curves.open_circuit_v * volts >= window.start_v
        if window.fixed:
            noted(self._inside[0], every, window.lowest_v / volts)
            return
        found = self._tops[0].of(states)
        self._inside[0].put(states, found)
        too_much = found.string_i.sum(axis=1) > (1.0 - _NEAR) * window.largest_a
        out = np.flatnonzero(too_much | (found.voltage < (1.0 + _NEAR) * window.lowest_v))
        bounds = window.lowest_v / volts[out], window.largest_a / amperes[out]
        for into, own_v in zip(self._inside, curves.tops_within(out, *bounds), strict=True):
            there = np.isfinite(own_v)
            noted(into, out[there], own_v[there])

    def solved(self, lit: LitCells) -> OperatingPoints:
        """Every state."""
        window = self.wired.window
        lit_up = self._tops[0].voltage > 0.0
        voltage, current = self._best(lit, self._tops, lit_up, ANY_VOLTAGE)
        power = voltage * current
        if self.wired.first_maximum:
            dimmest = np.min([self.lit.cells[p].max(axis=(1, 2)) for p in self.order], axis=0)
            # The top of a panel that is dim as a whole is hidden by a bright one's shunts.
            dim = (dimmest < _DIM * self.lit.brightest) & lit_up
            first = self._points(lit, self._first, lit_up & ~dim, ANY_VOLTAGE, first=True)
            for state in np.flatnonzero(dim).tolist():
                first[:, state] = self._exactly(state, ANY_VOLTAGE, first=True)
            voltage, current = first
        tracked = np.minimum(voltage * current, power)
        barred = (voltage < window.lowest_v) | (current > window.largest_a) | window.fixed
        barred &= lit_up
        limited = self._best(lit, self._inside, barred, window)
        voltage, current = np.where(barred, limited, (voltage, current))
        drawn = np.clip(voltage * np.minimum(current, window.largest_a), 0.0, tracked) * self._opens
        return OperatingPoints(power, tracked, drawn, np.where(drawn > 0.0, voltage, 0.0))

    def _best(
        self, lit: LitCells, starts: list[StartingPoints], which: Mask, window: InputWindow
    ) -> Array:
        """Voltage and current of the best points of some states near some places."""
        found = np.zeros((2, len(which)))
        for start in starts:
            others = self._points(lit, start, which & (start.voltage > 0.0), window)
            found = np.where(np.prod(others, axis=0) > np.prod(found, axis=0), others, found)
        return found

    def _points(
        self,
        lit: LitCells,
        start: StartingPoints,
        which: Mask,
        window: InputWindow,
        first: bool = False,
    ) -> Array:
        """Voltage and current of some states, shape (2, states); at the first top if asked."""
        found = np.zeros((2, len(which)))
        states = np.flatnonzero(which)
        if len(states):
            cells = LitCells(lit.current[states], lit.junctions[:, :, states])
            *points, settled = operating_points(self.parts, cells, start.of(states), window)
            found[:, states] = points
            for state in states[~settled]:
                found[:, state] = self._exactly(state, window, first)
        return found

    def _exactly(self, state: int, window: InputWindow, first: bool) -> tuple[float, float]:
        """Voltage and current of one state by the exact solver: its maximum, else on its curve."""
        lit = self.lit
        w_m2 = float(lit.brightest[state])
        panels = {
            str(p): lit_panel(
                lit.panels[p].panel,
                w_m2,
                float(lit.heat_of(p)[state]),
                lit.cells[p][state] / w_m2,
            )
            for p in self.order
        }
        solution = solve_array(panels, self._wiring)
        best = solution.points.state
        if first:
            return float(best.voltage[solution.tracked]), float(best.current[solution.tracked])
        top_v, top_a = float(best.voltage[solution.best]), float(best.current[solution.best])
        low = high = window.lowest_v
        if not window.fixed:
            if top_v >= low and top_a <= window.largest_a:
                return top_v, top_a
            high = max(solution.points.open_circuit_voltage, low)
        v, i, at = np.array([low]), solution.curve.currents(np.array([low]))[0], 0
        for _ in range(0 if window.fixed else 2):
            v = np.linspace(low, high, _PLACES)
            i = solution.curve.currents(v)[0]
            at = int(np.argmax(np.where(i <= window.largest_a, v * i, -np.inf)))
            low, high = float(v[max(at - 1, 0)]), float(v[min(at + 1, _PLACES - 1)])
        return float(v[at]), float(i[at])


def _lit_cells(lit: CellLight, order: Sequence[int], parts: WiredParts) -> LitCells:
    """Cells in the order of the parts, sorted within every path."""
    w_m2 = np.maximum(lit.brightest, _LEAST_W_M2)
    found: dict[tuple[int, int], tuple[Array, Array]] = {}
    current, at = np.empty((len(w_m2), len(parts.order))), 0
    junctions: list[Array] = []
    for p, panel in zip(order, parts.panels, strict=True):
        heat, cells = lit.heat_of(p), lit.cells[p]
        key = id(panel), id(heat)
        if key not in found:
            found[key] = translated_all(panel.cell, panel.coefficients, w_m2, heat)
        full, junction = found[key]
        if panel.by_nameplate:
            junction = junction.copy()
            junction[_SHUNT] *= shunt_share(w_m2, cells.max(axis=(1, 2)) / w_m2)
        junctions.append(junction)
        for first, last, _ in panel.groups:
            own = np.sort(cells[:, :, first : last + 1], axis=-1)
            own *= (full / w_m2)[:, None, None]
            end = at + own[0].size
            current[:, at:end] = own.reshape(len(own), -1)
            at = end
    return LitCells(current, np.stack(junctions, axis=1))


def _bins(lit: CellLight, inputs: Sequence[ControllerInput]) -> Iterator[tuple[Reference, Index]]:
    """States of about equal light and heat."""
    states = np.flatnonzero(lit.brightest >= _LEAST_W_M2)
    bright = np.rint(np.log(lit.brightest[states]) / np.log(_LIGHT_RATIO)).astype(np.int64)
    warm = np.rint(lit.cell_c[states] / _HEAT_STEP_K).astype(np.int64)
    pairs, back = np.unique(np.stack([bright, warm], axis=1), axis=0, return_inverse=True)
    strings = max(len(wired.strings) for wired in inputs)
    for number, (own_light, own_heat) in enumerate(pairs.tolist()):
        light, heat = _LIGHT_RATIO**own_light, _HEAT_STEP_K * own_heat
        at = Reference(list(lit.kinds.values()), light, heat, strings)
        yield at, states[back.ravel() == number]


def _groups(lit: CellLight, states: Index, book: GroupBook) -> list[Index]:
    """Numbers of the groups of every panel, shape (states, groups) each."""
    found: list[Index] = [np.zeros((0, 0), dtype=np.int64)] * len(lit.panels)
    levels_per_w_m2 = LEVELS / lit.brightest[states][:, None, None]
    for number, (kind, panel) in enumerate(lit.kinds.items()):
        own = [k for k, each in enumerate(lit.panels) if each.kind == kind]
        share = np.stack([lit.cells[k][states] for k in own])
        share *= levels_per_w_m2
        levels = np.rint(share, out=share).astype(np.uint8)
        for k, rows in zip(own, book.numbers(levels, number, panel), strict=True):
            found[k] = rows
    return found
