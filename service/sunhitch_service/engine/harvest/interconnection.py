"""Coarse curves of strings in series and arrays in parallel, and where to look for their maxima."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sunhitch_service.engine.controller.settings import InputWindow
from sunhitch_service.engine.pv.cell import Array, Diode, Index
from sunhitch_service.engine.pv.network import NO_DIODE
from sunhitch_service.engine.pv.table import current_scale, diode_curve

from .curves import GroupCurves, distinct, read, rows_at
from .operating import StartingPoints

_VOLTAGES = 130
_BLOCKED_V = 1e4
_RIVAL, MOST_TOPS = 0.9, 3
"""Further maxima with this share of the first, to so many in all, may be the better ones."""


@dataclass(frozen=True, slots=True)
class ControllerInput:
    """One controller's panels.

    Parameters
    ----------
    strings : tuple of tuple of int
        Panels by number in series, strings in parallel.
    blocking : Diode
        In series with every string.
    resistance : float
        In series with every string [Ω].
    window : InputWindow
        What the controller can do.
    first_maximum : bool
        Whether its tracker stays on the first maximum from open circuit.
    """

    strings: tuple[tuple[int, ...], ...]
    blocking: Diode
    resistance: float
    window: InputWindow
    first_maximum: bool = False


class ArrayCurves:
    """Currents of distinct strings and arrays over common voltages.

    Parameters
    ----------
    wired : ControllerInput
        Strings of panels.
    curves : GroupCurves
        Distinct groups.
    groups : sequence of ndarray of int, shape (states, groups of the panel)
        For every panel, which groups it has.
    """

    def __init__(
        self, wired: ControllerInput, curves: GroupCurves, groups: Sequence[Index]
    ) -> None:
        own = [np.concatenate([groups[p] for p in s], axis=1) for s in wired.strings]
        self._curves, self._groups = curves, np.concatenate(own, axis=1)
        self._string_of_group = np.repeat(np.arange(len(own)), [g.shape[1] for g in own])
        members = [distinct(each) for each in own]
        rows = np.concatenate(
            [
                curves.voltage[each[one]].sum(axis=1)
                for each, (one, _) in zip(own, members, strict=True)
            ]
        )
        first = np.cumsum([0, *(len(each) for each, _ in members[:-1])])
        self._strings = np.stack(
            [n + of for n, (_, of) in zip(first, members, strict=True)], axis=1
        )
        arrays, self.of_state = distinct(self._strings)
        i = curves.current
        rows = rows - wired.resistance * i - _blocking_drop(wired.blocking, i)
        self.voltage = np.linspace(0.0, _open_circuit(i, rows), _VOLTAGES)
        self._amperes = rows_at(self.voltage, rows[:, ::-1], np.broadcast_to(i[::-1], rows.shape))
        self.current = self._amperes[self._strings[arrays]].sum(axis=1)

    def start(self, states: Index, voltage: Array) -> StartingPoints:
        """Voltages and currents of all parts of some states, each at a voltage of its own [V]."""
        groups, strings = self._groups[states], self._strings[states]
        string_i = read(self.voltage, self._amperes, strings, voltage[:, None])
        group_v = self._curves.voltages(groups, string_i[:, self._string_of_group])
        return StartingPoints(
            voltage, group_v, string_i, self._curves.path_currents(groups, group_v)
        )

    @property
    def open_circuit_v(self) -> Array:
        """Open-circuit voltage of every state [V]."""
        positive = (self.current > 0.0).sum(axis=1)
        return np.asarray(self.voltage[np.clip(positive, 0, len(self.voltage) - 1)])[self.of_state]

    def tops(self) -> Array:
        """Voltages of the largest maxima of every state, NaN where there are less of them."""
        return _tops(self.voltage, np.maximum(self.voltage * self.current, 0.0))[:, self.of_state]

    def first_tops(self) -> Array:
        """Voltage of the maximum next to open circuit of every state."""
        power = np.maximum(self.voltage * self.current, 0.0)
        rises = power[:, 1:] > power[:, :-1]
        last = rises.shape[1] - 1 - np.argmax(rises[:, ::-1], axis=1)
        return np.asarray(self.voltage[last + 1])[self.of_state]

    def tops_within(self, states: Index, lowest_v: Array, largest_a: Array) -> Array:
        """Voltages of the largest maxima of some states that a window admits, its edges too."""
        current = self.current[self.of_state[states]]
        power = np.maximum(self.voltage * current, 0.0)
        barred = (self.voltage < lowest_v[:, None]) | (current > largest_a[:, None])
        return np.maximum(_tops(self.voltage, np.where(barred, -1.0, power)), lowest_v)


def _open_circuit(currents: Array, rows: Array) -> float:
    zero = int(np.searchsorted(currents, 0.0))
    return 1.001 * max(float(rows[:, zero].max()), 1e-3)


def _blocking_drop(diode: Diode, currents: Array) -> Array:
    """Voltage over a blocking diode; almost any backwards."""
    if diode == NO_DIODE:
        return np.zeros_like(currents)
    curve = diode_curve(diode, current_scale(float(currents[-1])), 20.0 * diode.thermal_voltage)
    forward = -curve.voltages(np.maximum(currents, 0.0))[0]
    return np.where(currents < 0.0, -_BLOCKED_V + currents, np.maximum(forward, 0.0))


def _tops(voltage: Array, power: Array) -> Array:
    """Voltages of the largest maxima of every row, shape (`MOST_TOPS`, rows)."""
    rows = np.arange(len(power))
    top = np.zeros(power.shape, dtype=bool)
    top[:, 1:-1] = (power[:, 1:-1] > power[:, :-2]) & (power[:, 1:-1] >= power[:, 2:])
    left = np.where(top, power, 0.0)
    best = power.argmax(axis=1)
    found = [voltage[best]]
    for _ in range(1, MOST_TOPS):
        left[rows, best] = 0.0
        best = left.argmax(axis=1)
        close = left[rows, best] > _RIVAL * power.max(axis=1)
        found.append(np.where(close, voltage[best], np.nan))
    return np.array(found)
