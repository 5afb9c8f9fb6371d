"""Power of many arrays at once: panel curves in series, then in parallel, then in a window.

A search has hundreds of arrays out of a few strings out of a few panels. Curves of strings are
formed once for each state of light and read by cubics, so that power stays within 1e-4 of the
exact solver's, which would take some milliseconds for every array and state.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from sunhitch_service.engine.controller.settings import ANY_VOLTAGE, InputWindow
from sunhitch_service.engine.pv.cell import Array, Index
from sunhitch_service.engine.pv.curve import CubicSet, CurveSet, open_circuit
from sunhitch_service.engine.pv.curve_sets import common_grid, padded, rising

ClassString = tuple[int, ...]
"""Sorted classes of the panels of a string."""
ClassArray = tuple[ClassString, ...]
"""Sorted strings in parallel."""

_STRING_POINTS = 600
_VOLTAGES = 128
_ROUNDS, _PLACES = 2, 13
_TOPS = 3
"""Intervals searched for the maximum of an array."""
_MOST_ROWS = 2000
"""Strings of arrays looked at in one go."""


def _in_series(states: Sequence[CurveSet], strings: list[ClassString]) -> tuple[CubicSet, Array]:
    """Current over voltage of strings in every state, a row each: state after state.

    Beside them the highest open-circuit voltage of each state [V].
    """
    points = padded([curves.back.ravel() for curves in states])
    low = np.array([curves.back[:, 0].min() for curves in states])
    high = np.array([curves.back[:, -1].max() for curves in states])
    back = common_grid(points, low, high, 1.0, _STRING_POINTS)
    classes = np.arange(len(states[0].v))
    counts = np.array([[string.count(own) for own in classes] for string in strings], dtype=float)
    panels = np.array(
        [c.over_current.at(own, classes[:, None]) for c, own in zip(states, back, strict=True)]
    )
    v, r = np.einsum("kc,sxcn->xskn", counts, panels)
    rows = np.broadcast_to(back[:, None], v.shape).reshape(-1, back.shape[1])
    v = rising(v.reshape(rows.shape))
    top = np.array([open_circuit(own, volts) for own, volts in zip(rows, v, strict=True)])
    curves = CurveSet(v, rows, 1.0 / r.reshape(rows.shape)).over_voltage
    return curves, top.reshape(len(states), -1).max(axis=1)


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
    states: Sequence[CurveSet],
    arrays: list[ClassArray],
    working: InputWindow,
    full: InputWindow,
) -> DrawnPowers:
    """Largest power of each array in every state of light.

    Parameters
    ----------
    states : sequence of CurveSet
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
    unlimited, drawn = np.zeros((2, len(states), len(arrays)))
    hot = np.zeros(len(arrays))
    for own, rows in _blocks(states, _Members(arrays)):
        every = np.arange(len(states[own]) * len(arrays))
        found = _best(rows, ANY_VOLTAGE, every)
        unlimited[own] = found[0].reshape(-1, len(arrays))
        drawn[own] = _drawn(rows, working, every, found).reshape(-1, len(arrays))
        last = every[-len(arrays) :]
        hot = _drawn(rows, full, last, found[:, last])
    return DrawnPowers(unlimited, drawn, hot)


def roughly_drawn_powers(
    states: Sequence[CurveSet], arrays: list[ClassArray], window: InputWindow
) -> Array:
    """The same within 1e-3, for comparing thousands of arrays.

    Parameters
    ----------
    states : sequence of CurveSet
        Curves of all classes of panels, for every state of light.
    arrays : list of ClassArray
        Strings in parallel.
    window : InputWindow
        What the tracker may do.

    Returns
    -------
    ndarray, shape (states, arrays)
        Power [W], not negative.
    """
    found = np.zeros((len(states), len(arrays)))
    for own, rows in _blocks(states, _Members(arrays)):
        powers = (
            _fixed(rows, window, np.arange(found[own].size))
            if window.fixed
            else _bounds(*rows.on_grid(window), window).max(axis=1, initial=0.0)
        )
        found[own] = powers.reshape(-1, len(arrays))
    return found


class _Members:
    """Distinct strings of some arrays; of every array which it has, and how many of each."""

    def __init__(self, arrays: list[ClassArray]) -> None:
        self.strings = sorted({string for array in arrays for string in array})
        counted = [Counter(array) for array in arrays]
        shape = len(arrays), max(map(len, counted))
        of = {string: number for number, string in enumerate(self.strings)}
        self.number, self.many = np.zeros(shape, dtype=np.intp), np.zeros(shape)
        for number, many, own in zip(self.number, self.many, counted, strict=True):
            number[: len(own)], many[: len(own)] = [of[s] for s in own], list(own.values())


class _ParallelStrings:
    """Every array in every state, a row each: state after state."""

    def __init__(self, states: Sequence[CurveSet], members: _Members) -> None:
        self._curves, self._top_v = _in_series(states, members.strings)
        self._states, self._members = len(states), members

    def on_grid(self, window: InputWindow) -> tuple[Array, Array, Array]:
        """Voltage [V], current [A] and −dI/dV [S] on even voltages of a window, (rows, n) each."""
        from scipy.sparse import csr_array

        states, strings = self._states, len(self._members.strings)
        reach = np.maximum(self._top_v - window.lowest_v, 0.0)
        v = window.lowest_v + reach[:, None] * np.linspace(0.0, 1.0, _VOLTAGES)
        own = self._curves.at(v[:, None], np.arange(states * strings).reshape(states, -1, 1))
        arrays, most = self._members.number.shape
        entries = self._members.many.ravel(), self._members.number.ravel()
        members = csr_array((*entries, np.arange(arrays + 1) * most), shape=(arrays, strings))
        summed: Array = np.asarray(members @ own.transpose(2, 0, 1, 3).reshape(strings, -1))
        back, slope = summed.reshape(arrays, 2, -1, _VOLTAGES).transpose(1, 2, 0, 3)
        shape = states * arrays, _VOLTAGES
        return np.repeat(v, arrays, axis=0), -back.reshape(shape), slope.reshape(shape)

    def currents(self, v: Array, rows: Index) -> Array:
        """Current of some rows at voltages of their own [A], shape (rows, n)."""
        state, array = np.divmod(rows, len(self._members.number))
        own = state[:, None] * len(self._members.strings) + self._members.number[array]
        back = self._curves.at(v[:, None], own[:, :, None])[0]
        return np.asarray(-(back * self._members.many[array][:, :, None]).sum(axis=1))


def _blocks(
    states: Sequence[CurveSet], members: _Members
) -> Iterator[tuple[slice, _ParallelStrings]]:
    step = max(1, _MOST_ROWS // members.number.size)
    for first in range(0, len(states), step):
        own = slice(first, first + step)
        yield own, _ParallelStrings(states[own], members)


def _fixed(arrays: _ParallelStrings, window: InputWindow, rows: Index) -> Array:
    """Power of some rows at the only voltage of a window [W]."""
    i = arrays.currents(np.full((len(rows), 1), window.lowest_v), rows)[:, 0]
    return np.asarray(np.maximum(window.lowest_v * np.minimum(i, window.largest_a), 0.0))


def _drawn(arrays: _ParallelStrings, window: InputWindow, rows: Index, best: Array) -> Array:
    """Power of some rows that a tracker draws [W]; their power, voltage and current are known."""
    power, voltage, current = best
    if window.fixed:
        return np.asarray(np.minimum(_fixed(arrays, window, rows), power))
    drawn: Array = power.copy()
    barred = (voltage < window.lowest_v) | (current > window.largest_a)
    if barred.any():
        drawn[barred] = np.minimum(_best(arrays, window, rows[barred])[0], power[barred])
    return drawn


def _best(arrays: _ParallelStrings, window: InputWindow, rows: Index) -> Array:
    """Power [W], voltage [V] and current [A] of some rows at their best within a window."""
    v, i, slope = (each[rows] for each in arrays.on_grid(window))
    tops = np.argpartition(-_bounds(v, i, slope, window), _TOPS - 1, axis=1)[:, :_TOPS]
    return _refined(arrays, window, rows, np.take_along_axis(v, tops, 1), v[:, 1] - v[:, 0])


def _refined(
    arrays: _ParallelStrings, window: InputWindow, rows: Index, left: Array, width: Array
) -> Array:
    """The same from a few intervals of each row, by ever finer steps; `left` is (rows, tops)."""
    steps, highest = np.linspace(0.0, 1.0, _PLACES), left + width[:, None]
    shape = *left.shape, _PLACES
    volts = i = power = np.zeros(shape)
    place: Index = np.zeros((*left.shape, 1), dtype=np.intp)
    for _ in range(_ROUNDS):
        volts = left[:, :, None] + width[:, None, None] * steps
        i = arrays.currents(volts.reshape(len(left), -1), rows).reshape(shape)
        power = np.where((i <= window.largest_a) & (i > 0.0), volts * i, 0.0)
        place = power.argmax(axis=2, keepdims=True)
        width = width * (2.0 / (_PLACES - 1))
        middle = np.take_along_axis(volts, place, 2)[:, :, 0]
        left = np.clip(middle - 0.5 * width[:, None], left, highest - width[:, None])
        highest = left + width[:, None]
    # An interval may end where its current reaches what the window admits, between two places;
    # before the first place stands the last, of less current.
    (own_v, left_v), (own_a, left_a) = (
        [np.take_along_axis(each, n, 2)[:, :, 0] for n in (place, place - 1)] for each in (volts, i)
    )
    edge = (left_a > window.largest_a) & (left_a > own_a)
    share = np.where(edge, window.largest_a - own_a, 0.0) / np.where(edge, left_a - own_a, 1.0)
    found_v, found_a = own_v - share * (own_v - left_v), own_a + share * (left_a - own_a)
    found_w = np.where(edge, found_v * found_a, power.max(axis=2))
    best = np.arange(len(left)), found_w.argmax(axis=1)
    return np.array((found_w[best], found_v[best], found_a[best]))


def _bounds(v: Array, i: Array, slope: Array, window: InputWindow) -> Array:
    """What each interval may hold [W], were the power concave in it: by tangents."""
    power, rise = v * i, i - v * slope
    h = v[:, 1:] - v[:, :-1]
    a, b, up, down = power[:, :-1], power[:, 1:], rise[:, :-1], rise[:, 1:]
    inside = (up > 0.0) & (down < 0.0)
    bend = np.where(inside, up - down, 1.0)
    peak = np.where(inside, a + up * (b - a - down * h) / bend, np.maximum(a, b))
    within = i <= window.largest_a
    if within.all():
        return peak
    # Where the current comes to what the window admits, the interval counts from there on.
    found: Array = np.where(within[:, :-1], peak, 0.0)
    row, left = np.nonzero(~within[:, :-1] & within[:, 1:])
    over_a = i[row, left] - window.largest_a
    share = over_a / (i[row, left] - i[row, left + 1])
    edge = window.largest_a * (v[row, left] + share * h[row, left])
    found[row, left] = np.maximum(edge, b[row, left])
    return found
