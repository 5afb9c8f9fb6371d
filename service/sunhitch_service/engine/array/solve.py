"""Power of many arrays at once: panel curves in series, then in parallel, then in a window.

A search has hundreds of arrays out of a few strings out of a few panels. Curves of strings are
formed once for each state of light and read by cubics, so that power stays within 1e-4 of the
exact solver's, which would take some milliseconds for every array and state.
"""

from collections import Counter
from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sunhitch_service.engine.controller.settings import ANY_VOLTAGE, InputWindow
from sunhitch_service.engine.pv.cell import Array
from sunhitch_service.engine.pv.curve import CubicSet, IvCurve, open_circuit
from sunhitch_service.engine.pv.curve_sets import CurveSet, common_grid, padded, rising
from sunhitch_service.engine.pv.network import Index

ClassString = tuple[int, ...]
"""Sorted classes of the panels of a string."""
ClassArray = tuple[ClassString, ...]
"""Sorted strings in parallel."""

_STRING_POINTS = 600
_VOLTAGES = 128
_ROUNDS, _PLACES = 2, 13
_TOPS = 2
"""Intervals searched for the maximum of an array."""
_MOST_ROWS = 2000
"""Strings of arrays looked at in one go."""


@dataclass(frozen=True, slots=True)
class StringCurves:
    """Curves of strings in some states of light, one row for each state and string.

    `top_v` is the highest open-circuit voltage of each state [V].
    """

    cubics: CubicSet
    numbers: dict[ClassString, int]
    top_v: Array


def string_curves(states: Sequence[list[IvCurve]], strings: list[ClassString]) -> StringCurves:
    """Put panels in series.

    Parameters
    ----------
    states : sequence of list of IvCurve
        Curves of all classes of panels, for every state of light.
    strings : list of ClassString
        Distinct strings.

    Returns
    -------
    StringCurves
        Voltage over common currents of each state, hence current over voltage.
    """
    points = padded([np.concatenate([-curve.i for curve in curves]) for curves in states])
    low = np.array([min(-float(curve.i[0]) for curve in curves) for curves in states])
    high = np.array([max(-float(curve.i[-1]) for curve in curves) for curves in states])
    back = common_grid(points, low, high, 1.0, _STRING_POINTS)
    counts = np.zeros((len(strings), len(states[0])))
    for row, string in enumerate(strings):
        np.add.at(counts[row], list(string), 1.0)
    panels = np.array(
        [[c.voltages(-own) for c in curves] for curves, own in zip(states, back, strict=True)]
    )
    v, r = np.einsum("kc,scxn->xskn", counts, panels)
    shape = v.shape
    rows = np.broadcast_to(back[:, None], shape).reshape(-1, shape[-1])
    v = rising(v.reshape(rows.shape))
    top = np.array([open_circuit(own, volts) for own, volts in zip(rows, v, strict=True)])
    return StringCurves(
        CurveSet(v, rows, 1.0 / r.reshape(rows.shape)).over_voltage,
        {string: n for n, string in enumerate(strings)},
        top.reshape(shape[:2]).max(axis=1),
    )


@dataclass(frozen=True, slots=True)
class DrawnPowers:
    """Power of each array in every state, shape (states, arrays) [W].

    `unlimited` is whatever the controller, `drawn` within its window; `full` is drawn in the last
    state alone with a full battery, shape (arrays,).
    """

    unlimited: Array
    drawn: Array
    full: Array


def drawn_powers(
    states: Sequence[list[IvCurve]],
    arrays: list[ClassArray],
    working: InputWindow,
    full: InputWindow,
) -> DrawnPowers:
    """Largest power of each array in every state of light.

    Parameters
    ----------
    states : sequence of list of IvCurve
        Curves of all classes of panels, for every state of light; at least one.
    arrays : list of ClassArray
        Strings in parallel.
    working, full : InputWindow
        What the tracker may do while charging, and with a full battery; the starting voltage
        does not count.

    Returns
    -------
    DrawnPowers
        Not negative.
    """
    strings = sorted({string for array in arrays for string in array})
    unlimited, drawn = np.zeros((2, len(states), len(arrays)))
    hot = np.zeros(len(arrays))
    step = max(1, _MOST_ROWS // sum(len(set(array)) for array in arrays))
    for first in range(0, len(states), step):
        own = slice(first, first + step)
        parallel = _Parallel(string_curves(states[own], strings), arrays)
        found = _best(parallel, ANY_VOLTAGE)
        unlimited[own] = found[0].reshape(-1, len(arrays))
        drawn[own] = _drawn(parallel, working, *found).reshape(-1, len(arrays))
        last = np.arange(len(found[0]) - len(arrays), len(found[0]))
        hot = _drawn(parallel.only(last), full, *(each[last] for each in found))
    return DrawnPowers(unlimited, drawn, hot)


def roughly_drawn_powers(
    curves: list[IvCurve], arrays: list[ClassArray], window: InputWindow
) -> Array:
    """The same in one state of light within 1e-3, for comparing thousands of arrays.

    Parameters
    ----------
    curves : list of IvCurve
        Curves of all classes of panels.
    arrays : list of ClassArray
        Strings in parallel.
    window : InputWindow
        What the tracker may do.

    Returns
    -------
    ndarray, shape (arrays,)
        Power [W], not negative.
    """
    from scipy.sparse import csr_array

    found = string_curves([curves], sorted({string for array in arrays for string in array}))
    top = max(float(found.top_v[0]), window.lowest_v)
    v = (
        np.array([window.lowest_v])
        if window.fixed
        else np.linspace(window.lowest_v, top, _VOLTAGES)
    )
    strings = -found.cubics.at(v, np.arange(len(found.numbers))[:, None])[0]
    members = [Counter(array) for array in arrays]
    columns = [found.numbers[string] for each in members for string in each]
    many = [float(n) for each in members for n in each.values()]
    starts = np.cumsum([0, *map(len, members)])
    i = np.asarray(csr_array((many, columns, starts), shape=(len(arrays), len(strings))) @ strings)
    if window.fixed:
        return np.asarray(np.maximum(v[0] * np.minimum(i[:, 0], window.largest_a), 0.0))
    power = np.where(i <= window.largest_a, v * i, 0.0)
    rows, best = np.arange(len(power)), np.clip(power.argmax(axis=1), 1, len(v) - 2)
    left, middle, right = (power[rows, best + step] for step in (-1, 0, 1))
    bend = left - 2.0 * middle + right
    smooth = (bend < 0.0) & (left > 0.0) & (right > 0.0) & (middle >= np.maximum(left, right))
    lift = np.where(smooth, -((left - right) ** 2) / (8.0 * np.where(smooth, bend, -1.0)), 0.0)
    return np.asarray(np.maximum(power.max(axis=1), middle + lift))


class _Parallel:
    """Rows of strings in parallel: every array in every state."""

    def __init__(self, curves: StringCurves, arrays: list[ClassArray]) -> None:
        states, members = len(curves.top_v), [Counter(array) for array in arrays]
        strings = np.array([curves.numbers[s] for each in members for s in each])
        shift = np.arange(states)[:, None] * len(curves.numbers)
        self._curves = curves.cubics
        self._strings: Index = (shift + strings).ravel()
        self._many = np.tile([float(n) for each in members for n in each.values()], states)
        self._sizes = np.tile([len(each) for each in members], states)
        self.top_v = np.repeat(curves.top_v, len(arrays))
        self._number()

    def _number(self) -> None:
        self._row: Index = np.repeat(np.arange(len(self._sizes)), self._sizes)
        self._starts: Index = np.cumsum(self._sizes) - self._sizes

    def only(self, rows: Index) -> "_Parallel":
        """Some of the rows."""
        kept = copy(self)
        among = np.isin(self._row, rows)
        kept._strings, kept._many = self._strings[among], self._many[among]
        kept._sizes, kept.top_v = self._sizes[rows], self.top_v[rows]
        kept._number()
        return kept

    def currents(self, v: Array) -> tuple[Array, Array]:
        """Current [A] and −dI/dV [S] at voltages of every row, shape (rows, n)."""
        own = self._curves.at(v.take(self._row, axis=0), self._strings[:, None])
        own *= self._many[:, None]
        back, slope = np.add.reduceat(own, self._starts, axis=1)
        return -back, slope


def _drawn(
    arrays: _Parallel, window: InputWindow, power: Array, voltage: Array, current: Array
) -> Array:
    """Power of each row that a tracker draws [W]; its maximum is known."""
    if window.fixed:
        i, _ = arrays.currents(np.full((len(power), 1), window.lowest_v))
        fixed = np.maximum(window.lowest_v * np.minimum(i[:, 0], window.largest_a), 0.0)
        return np.minimum(fixed, power)
    drawn = power.copy()
    barred = np.flatnonzero((voltage < window.lowest_v) | (current > window.largest_a))
    if len(barred):
        drawn[barred] = np.minimum(_best(arrays.only(barred), window)[0], power[barred])
    return drawn


def _best(arrays: _Parallel, window: InputWindow) -> tuple[Array, Array, Array]:
    """Power [W], voltage [V] and current [A] of each row at its best within a window."""
    reach = np.maximum(arrays.top_v - window.lowest_v, 0.0)
    v = window.lowest_v + reach[:, None] * np.linspace(0.0, 1.0, _VOLTAGES)
    i, slope = arrays.currents(v)
    within = i <= window.largest_a
    bound = _bounds(v, np.where(within, v * i, 0.0), i - v * slope, within)
    tops = np.argpartition(-bound, _TOPS - 1, axis=1)[:, :_TOPS]
    return _refined(arrays, window, np.take_along_axis(v, tops, 1), reach / (_VOLTAGES - 1))


def _refined(
    arrays: _Parallel, window: InputWindow, left: Array, width: Array
) -> tuple[Array, Array, Array]:
    """The same from a few intervals of each row, by ever finer steps; `left` is (rows, tops)."""
    steps, rows = np.linspace(0.0, 1.0, _PLACES), np.arange(len(left))
    highest = left + width[:, None]
    volts = i = power = np.zeros((len(left), 1))
    for _ in range(_ROUNDS):
        places = left[:, :, None] + width[:, None, None] * steps
        volts = places.reshape(len(left), -1)
        i = arrays.currents(volts)[0]
        power = np.where((i <= window.largest_a) & (i > 0.0), volts * i, 0.0)
        best = power.reshape(places.shape).argmax(axis=2, keepdims=True)
        width = width * (2.0 / (_PLACES - 1))
        middle = np.take_along_axis(places, best, 2)[:, :, 0]
        left = np.clip(middle - 0.5 * width[:, None], left, highest - width[:, None])
        highest = left + width[:, None]
    column = power.argmax(axis=1)
    barred: Index = column - (column % _PLACES > 0)
    over_a = i[rows, barred] - i[rows, column]
    # A row may end where its current reaches what the window admits, between two places.
    edge = (i[rows, barred] > window.largest_a) & (over_a > 0.0)
    share = np.where(edge, window.largest_a - i[rows, column], 0.0) / np.where(edge, over_a, 1.0)
    found_v = volts[rows, column] - share * (volts[rows, column] - volts[rows, barred])
    found_i = i[rows, column] + share * over_a
    return np.where(edge, found_v * found_i, power[rows, column]), found_v, found_i


def _bounds(v: Array, power: Array, rise: Array, within: NDArray[np.bool_]) -> Array:
    """What each interval may hold at most [W], were the power concave in it: by tangents."""
    h = v[:, 1:] - v[:, :-1]
    a, b, up, down = power[:, :-1], power[:, 1:], rise[:, :-1], rise[:, 1:]
    inside = (up > 0.0) & (down < 0.0)
    bend = np.where(inside, up - down, 1.0)
    peak = np.where(inside, a + up * (b - a - down * h) / bend, np.maximum(a, b))
    return np.where(within[:, :-1], peak, np.maximum(b, b - down * h) * within[:, 1:])
