"""Power of many arrays at once: panel curves joined in series, then in parallel, then tracked."""

from collections import Counter
from dataclasses import dataclass

import numpy as np

from sunhitch_service.engine.controller.settings import InputWindow
from sunhitch_service.engine.pv.cell import Array
from sunhitch_service.engine.pv.curve import IvCurve

ClassString = tuple[int, ...]
"""Sorted classes of the panels of a string."""
ClassArray = tuple[ClassString, ...]
"""Sorted strings in parallel."""


@dataclass(frozen=True, slots=True)
class Resolution:
    """Points of the grids: currents of a string, voltages of an array."""

    currents: int
    voltages: int


COARSE = Resolution(220, 140)
FINE = Resolution(1200, 800)


UNLIMITED = InputWindow(0.5, 0.0, np.inf, False)


def array_powers(
    curves: list[IvCurve], arrays: list[ClassArray], limits: InputWindow, resolution: Resolution
) -> Array:
    """Largest power of each array under one state of light.

    Parameters
    ----------
    curves : list of IvCurve
        One per class of panels.
    arrays : list of ClassArray
        Strings in parallel.
    limits : InputWindow
        What the tracker may do.
    resolution : Resolution
        How fine the grids are.

    Returns
    -------
    ndarray, shape (arrays,)
        Power [W], not negative.
    """
    from scipy.sparse import csr_matrix

    strings = sorted({string for array in arrays for string in array})
    place = {string: n for n, string in enumerate(strings)}
    volts = _string_volts(curves, strings, resolution.currents)
    v = _voltages(volts, limits, resolution.voltages)
    if len(v) == 0:
        return np.zeros(len(arrays))
    amperes = np.stack([np.interp(v, row[::-1], volts.i[::-1]) for row in volts.v])
    members = [Counter(array) for array in arrays]
    columns = [place[string] for counter in members for string in counter]
    many = [float(n) for counter in members for n in counter.values()]
    starts = np.cumsum([0, *(len(counter) for counter in members)])
    joined = csr_matrix((many, columns, starts), shape=(len(arrays), len(strings))) @ amperes
    if limits.fixed:
        drawn = v[0] * np.minimum(np.asarray(joined)[:, 0], limits.largest_a)
        return np.asarray(np.maximum(drawn, 0.0))
    return _largest(v, np.asarray(joined), limits.largest_a)


@dataclass(frozen=True, slots=True)
class _Volts:
    """Voltages of strings (strings, points) at common rising currents (points,)."""

    i: Array
    v: Array


def _string_volts(curves: list[IvCurve], strings: list[ClassString], points: int) -> _Volts:
    high = max(float(curve.i[0]) for curve in curves)
    low = min(float(curve.i[-1]) for curve in curves)
    i = np.concatenate(
        (np.linspace(low, 0.0, points // 4, endpoint=False), np.linspace(0.0, high, points))
    )
    panels = np.stack([curve.voltages(i)[0] for curve in curves])
    counts = np.zeros((len(strings), len(curves)))
    for row, string in enumerate(strings):
        for panel_class in string:
            counts[row, panel_class] += 1.0
    return _Volts(i, counts @ panels)


def _voltages(volts: _Volts, limits: InputWindow, points: int) -> Array:
    if limits.fixed:
        return np.array([limits.lowest_v])
    top = float(np.max(volts.v[:, np.searchsorted(volts.i, 0.0)]))
    if top <= limits.lowest_v:
        return np.zeros(0)
    return np.linspace(limits.lowest_v, top, points)


def _largest(v: Array, i: Array, largest_a: float) -> Array:
    """Maximum of V·I in each row, by a parabola through the best point and its neighbours."""
    power = np.where(i <= largest_a, v * i, 0.0)
    best = np.argmax(power, axis=1)
    rows = np.arange(len(power))
    peak = power[rows, best]
    middle = np.clip(best, 1, len(v) - 2)
    left, centre, right = (power[rows, middle + step] for step in (-1, 0, 1))
    bend = left - 2.0 * centre + right
    smooth = (best == middle) & (bend < 0.0) & (left > 0.0) & (right > 0.0)
    lift = np.where(smooth, -((left - right) ** 2) / (8.0 * np.where(smooth, bend, -1.0)), 0.0)
    return np.asarray(np.maximum(peak + np.maximum(lift, 0.0), 0.0))
