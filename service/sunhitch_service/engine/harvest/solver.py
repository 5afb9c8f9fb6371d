"""Power of wired panels in every state of light, within what their controllers can do.

States of about equal light and heat share their tables; what is left of the difference is made
good by the exact power of unshaded panels, so that an unshaded array is exact.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sunhitch_service.engine.pv.presets import ResolvedPanel
from sunhitch_service.engine.sky import Array

from .curves import LEVELS, GroupBook, Reference, group_voltages
from .interconnection import (
    ControllerInput,
    OperatingPoints,
    StateFactors,
    array_curves,
    working_points,
)
from .setup import Index, Module
from .uniform import Maximum, unshaded

_LIGHT_RATIO = 1.6
_HEAT_STEP_K = 12.0
_LEAST_W_M2 = 2.0


@dataclass(frozen=True, slots=True)
class CellLight:
    """Panels in every state of light.

    Parameters
    ----------
    panels : sequence of Module
        The panels.
    cells : sequence of ndarray, shape (states, paths, positions)
        Light that each cell uses [W/m²], one array per panel.
    cell_c : ndarray, shape (states,)
        Cell temperature [°C].
    """

    panels: Sequence[Module]
    cells: Sequence[Array]
    cell_c: Array

    @property
    def brightest(self) -> Array:
        """Light on the brightest cell of each state [W/m²]."""
        brightest = [cells.max(axis=(1, 2)) for cells in self.cells]
        return np.asarray(np.max(brightest, axis=0), dtype=np.float64)


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
    kinds = list({panel.kind: panel.panel for panel in lit.panels}.values())
    names = list(dict.fromkeys(panel.kind for panel in lit.panels))
    numbers = [names.index(panel.kind) for panel in lit.panels]
    bright = lit.brightest
    own = [unshaded(kind, bright, lit.cell_c) for kind in kinds]
    found = [OperatingPoints(*np.zeros((3, len(bright)))) for _ in inputs]
    for reference, states in _bins(kinds, bright, lit.cell_c, inputs):
        parts = _solve_bin(lit, inputs, reference, states, numbers, _Bin(bright, own))
        for whole, part in zip(found, parts, strict=True):
            whole.maximum_w[states] = part.maximum_w
            whole.drawn_w[states] = part.drawn_w
            whole.drawn_v[states] = part.drawn_v
    return found


@dataclass(frozen=True, slots=True)
class _Bin:
    """Brightest cell of all states, and unshaded maxima by type."""

    bright: Array
    own: list[Maximum]


def _bins(
    kinds: list[ResolvedPanel], bright: Array, cell_c: Array, inputs: Sequence[ControllerInput]
) -> list[tuple[Reference, Index]]:
    """States of about equal light and heat."""
    lit = np.flatnonzero(bright >= _LEAST_W_M2)
    light = np.rint(np.log(bright[lit]) / np.log(_LIGHT_RATIO)).astype(np.int64)
    heat = np.rint(cell_c[lit] / _HEAT_STEP_K).astype(np.int64)
    pairs, back = np.unique(np.stack([light, heat], axis=1), axis=0, return_inverse=True)
    strings = max(len(wired.strings) for wired in inputs)
    return [
        (
            Reference(
                kinds, float(_LIGHT_RATIO ** pair[0]), float(_HEAT_STEP_K * pair[1]), strings
            ),
            lit[back.ravel() == number],
        )
        for number, pair in enumerate(pairs)
    ]


def _solve_bin(
    lit: CellLight,
    inputs: Sequence[ControllerInput],
    reference: Reference,
    states: Index,
    numbers: list[int],
    all_states: _Bin,
) -> list[OperatingPoints]:
    bright = all_states.bright[states]
    book = GroupBook()
    groups = _groups(lit, states, bright, numbers, book)
    currents = reference.currents()
    volts = group_voltages(reference, currents, list(book.keys))
    base = [_at(kind, reference) for kind in reference.panels]
    found: list[OperatingPoints] = []
    for wired in inputs:
        own = [numbers[panel] for string in wired.strings for panel in string]
        scale = _scale(own, base, all_states.own, states)
        curves = array_curves(wired, currents, volts, groups)
        found.append(working_points(curves, wired.window, scale))
    return found


def _groups(
    lit: CellLight, states: Index, bright: Array, numbers: list[int], book: GroupBook
) -> list[Index]:
    """Numbers of the groups of every panel, shape (states, groups) each."""
    found: list[Index] = [np.zeros((0, 0), dtype=np.int64)] * len(numbers)
    for kind in dict.fromkeys(numbers):
        own = [k for k, number in enumerate(numbers) if number == kind]
        share = np.stack([lit.cells[k][states] for k in own]) / bright[:, None, None]
        levels = np.rint(LEVELS * share).astype(np.uint8)
        for k, rows in zip(own, book.numbers(levels, kind, lit.panels[own[0]].panel), strict=True):
            found[k] = rows
    return found


def _at(kind: ResolvedPanel, reference: Reference) -> tuple[float, float]:
    """Power [W] and voltage [V] of an unshaded panel at reference conditions."""
    one = unshaded(kind, np.array([reference.irradiance]), np.array([reference.cell_c]))
    return float(one.power[0]), float(one.voltage[0])


def _scale(
    wired: list[int], base: list[tuple[float, float]], own: list[Maximum], states: Index
) -> StateFactors:
    """Factors from reference to state: of power over all panels, of voltage by the strongest."""
    reference = sum(base[kind][0] for kind in wired)
    power = np.sum([own[kind].power[states] for kind in wired], axis=0)
    strongest = max(wired, key=lambda kind: base[kind][0])
    voltage = own[strongest].voltage[states] / base[strongest][1]
    return StateFactors(voltage, power / reference)
