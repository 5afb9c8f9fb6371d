"""Maximum power of many light states, compiled: one scalar solve after the other, no memory kept.

Only imported where numba is installed. Every function works on one state at a time: `Layout` is
the array, `Work` holds the state's light and the last solution, from which the next one starts.
"""

from collections.abc import Callable
from typing import NamedTuple, TypeVar, cast

import numba
import numpy as np
from numpy.typing import NDArray

from .cell import Array

F = TypeVar("F", bound=Callable[..., object])
Index = NDArray[np.int64]

HALF = 2048
"""Intervals of a junction table on either side of zero, even in √|IL − I|."""
_CLOSE_V = 1e-6
_CLOSE_A = 1e-9
_STEPS = 60
_SPARE_INTERVALS = 64
_NODES = 12
_CLOSEST_NODES = 0.01
_LEVEL = 3e-4
"""dP/dx at a top, as a share of y: the power is then right to the square of it."""
_DARK_A = 1e-9
_SPLIT_FRACTION = 0.03
"""Intervals wider than this share of their upper end are split before they are given up."""


def _compiled(function: F) -> F:
    return cast(F, numba.njit(cache=True, error_model="numpy")(function))


class Layout(NamedTuple):
    """The array; `*_start` are offsets with the end appended.

    Parameters
    ----------
    path_start, group_start, string_start : ndarray of int
        First cell of a path, first path of a group, first group of a string.
    path_model : ndarray of int, shape (paths,)
        Cell model of a path.
    full : ndarray, shape (paths,)
        Light current in full light [A].
    rs : ndarray, shape (models,)
        Series resistance of a cell [Ω].
    scale : ndarray, shape (models,)
        Current at the end of the junction table [A].
    j, v, slope : ndarray, shape (models, 2 * HALF)
        Start, voltage and slope of every interval of the junction table.
    diode : ndarray, shape (groups, 3)
        Saturation current [A], n·k·T/q [V] and series resistance [Ω]; 0 A for none.
    blocking : ndarray, shape (3,)
        The same for the diode in series with every string.
    resistance : float
        In series with every string [Ω].
    """

    path_start: Index
    group_start: Index
    string_start: Index
    path_model: Index
    full: Array
    rs: Array
    scale: Array
    j: Array
    v: Array
    slope: Array
    diode: Array
    blocking: Array
    resistance: float


class Work(NamedTuple):
    """One state of light, and where its parts were last.

    Parameters
    ----------
    level, many : ndarray, shape (paths, cells)
        Distinct light currents of a path [A] and how many cells have them.
    levels : ndarray of int, shape (paths,)
        How many distinct ones.
    lowest, highest : ndarray, shape (paths,)
        Least and largest light current of a path [A].
    twin : ndarray of int, shape (groups,)
        First group of the same string with the same light, or the group itself.
    path_i, group_v, string_i : ndarray
        Last path currents [A], group voltages [V] and string currents [A].
    """

    level: Array
    many: Array
    levels: Index
    lowest: Array
    highest: Array
    twin: Index
    path_i: Array
    group_v: Array
    string_i: Array


@_compiled
def _junction(a: Layout, m: int, j: float) -> tuple[float, float]:
    """Junction voltage and slope for the current that the junction takes."""
    at = int(np.sqrt(abs(j) / a.scale[m]) * HALF)
    at = min(at, HALF - 1)
    if j < 0.0:
        at += HALF
    return a.v[m, at] + (j - a.j[m, at]) * a.slope[m, at], a.slope[m, at]


@_compiled
def _path_voltage(a: Layout, w: Work, p: int, i: float) -> tuple[float, float]:
    """Voltage of a path and dV/dI at its current."""
    m = a.path_model[p]
    cells = a.path_start[p + 1] - a.path_start[p]
    v, slope = -a.rs[m] * i * cells, -a.rs[m] * cells
    for k in range(w.levels[p]):
        own, steep = _junction(a, m, w.level[p, k] - i)
        v += w.many[p, k] * own
        slope -= w.many[p, k] * steep
    return v, slope


@_compiled
def _path_current(a: Layout, w: Work, p: int, v: float) -> tuple[float, float]:
    """Current of a path and dI/dV at its voltage, by Newton inside a shrinking bracket."""
    low, high = -np.inf, np.inf
    i = w.path_i[p]
    slope = -1.0
    for _ in range(_STEPS):
        own, slope = _path_voltage(a, w, p, i)
        if own > v:
            low = i
        else:
            high = i
        step = (v - own) / slope
        if abs(own - v) < _CLOSE_V or abs(step) < _CLOSE_A:
            i += step
            break
        i += step
        if not low < i < high:
            i = 0.5 * (low + high)
    w.path_i[p] = i
    return i, 1.0 / slope


@_compiled
def _diode_current(d: Array, v: float) -> tuple[float, float]:
    """Current of a bypass diode and dI/dV at the group's voltage."""
    if v > 0.0:
        return 0.0, 0.0
    u = min(-v, d[1] * np.log1p(-v / (d[0] * (d[2] + 1e-9))))
    for _ in range(_STEPS):
        e = d[0] * np.exp(u / d[1])
        step = (-v - u - (e - d[0]) * d[2]) / (1.0 + e / d[1] * d[2])
        u += step
        if abs(step) < _CLOSE_V * d[1]:
            break
    g = d[0] * np.exp(u / d[1]) / d[1]
    return d[0] * np.expm1(u / d[1]), -g / (1.0 + g * d[2])


@_compiled
def _diode_drop(d: Array, i: float) -> tuple[float, float]:
    """Voltage across a conducting diode and its slope; steep where it blocks."""
    ahead = max(i, -0.999999 * d[0])
    drop = d[1] * np.log1p(ahead / d[0]) + i * d[2]
    slope = d[1] / (d[0] + ahead) + d[2]
    if ahead > i:
        drop += (i - ahead) * slope
    return drop, slope


@_compiled
def _group_voltage(a: Layout, w: Work, g: int, i: float) -> tuple[float, float]:
    """Voltage of a group and dV/dI at its current."""
    first, last = a.group_start[g], a.group_start[g + 1]
    guarded = a.diode[g, 0] > 0.0
    low, high = -np.inf, np.inf
    if guarded:
        low = -_diode_drop(a.diode[g], max(i, 0.0))[0] - 1e-9
    elif last == first + 1:
        return _path_voltage(a, w, first, i)
    v = w.group_v[g]
    slope = -1.0
    for _ in range(_STEPS):
        total, slope = -i, 0.0
        for p in range(first, last):
            own, steep = _path_current(a, w, p, v)
            total += own
            slope += steep
        if guarded:
            own, steep = _diode_current(a.diode[g], v)
            total += own
            slope += steep
        if total > 0.0:
            low = v
        else:
            high = v
        step = -total / slope
        v += step
        if abs(step) < _CLOSE_V:
            break
        if not low < v < high:
            v = 0.5 * (low + high)
    w.group_v[g] = v
    return v, 1.0 / slope


@_compiled
def _string_voltage(a: Layout, w: Work, s: int, i: float) -> tuple[float, float]:
    """Voltage of a string and dV/dI at its current."""
    v, slope = -a.resistance * i, -a.resistance
    if a.blocking[0] > 0.0:
        drop, steep = _diode_drop(a.blocking, i)
        v -= drop
        slope -= steep
    for g in range(a.string_start[s], a.string_start[s + 1]):
        if w.twin[g] != g:
            continue
        own, steep = _group_voltage(a, w, g, i)
        alike = 0
        for other in range(g, a.string_start[s + 1]):
            alike += w.twin[other] == g
        v += alike * own
        slope += alike * steep
    return v, slope


@_compiled
def _string_current(a: Layout, w: Work, s: int, v: float) -> tuple[float, float]:
    """Current of a string and dI/dV at its voltage."""
    low, high = -np.inf, np.inf
    i, slope = w.string_i[s], -1.0
    for _ in range(_STEPS):
        own, slope = _string_voltage(a, w, s, i)
        if own > v:
            low = i
        else:
            high = i
        step = (v - own) / slope
        i += step
        if abs(own - v) < 2.0 * _CLOSE_V or abs(step) < _CLOSE_A:
            break
        if not low < i < high:
            i = 0.5 * (low + high)
    w.string_i[s] = i
    return i, 1.0 / slope


@_compiled
def _point(a: Layout, w: Work, by_current: bool, x: float) -> tuple[float, float]:
    """Voltage over current of a single string, or current over voltage of several."""
    if by_current:
        return _string_voltage(a, w, 0, x)
    y, slope = 0.0, 0.0
    for s in range(len(a.string_start) - 1):
        own, steep = _string_current(a, w, s, x)
        y += own
        slope += steep
    return y, slope


@_compiled
def _load(a: Layout, w: Work, light: Array) -> float:
    """Sort a state's light into distinct levels; largest light current [A]."""
    brightest = 0.0
    for p in range(len(a.path_start) - 1):
        found = 0
        lowest, highest = np.inf, 0.0
        for c in range(a.path_start[p], a.path_start[p + 1]):
            current = a.full[p] * light[c]
            lowest = min(lowest, current)
            highest = max(highest, current)
            k = 0
            while k < found and w.level[p, k] != current:
                k += 1
            if k == found:
                w.level[p, k] = current
                w.many[p, k] = 0.0
                found += 1
            w.many[p, k] += 1.0
        w.levels[p] = found
        w.lowest[p] = lowest
        w.highest[p] = highest
        brightest = max(brightest, highest)
        w.path_i[p] = 0.9 * lowest
    for s in range(len(a.string_start) - 1):
        w.string_i[s] = 0.0
        for g in range(a.string_start[s], a.string_start[s + 1]):
            w.group_v[g] = 0.0
            w.twin[g] = g
            for other in range(a.string_start[s], g):
                if w.twin[g] == g and _alike(a, light, g, other):
                    w.twin[g] = other
    return brightest


@_compiled
def _alike(a: Layout, light: Array, g: int, other: int) -> bool:
    """Whether two groups have the same cells, diode and light."""
    first, second = a.group_start[g], a.group_start[other]
    if a.group_start[g + 1] - first != a.group_start[other + 1] - second:
        return False
    for k in range(3):
        if a.diode[g, k] != a.diode[other, k]:
            return False
    paths = a.group_start[g + 1] - first
    for p in range(paths):
        same = (
            a.path_model[first + p] == a.path_model[second + p]
            and a.full[first + p] == a.full[second + p]
        )
        if not same:
            return False
    cells, start = a.path_start[first + paths] - a.path_start[first], a.path_start[first]
    shift = a.path_start[second] - start
    if a.path_start[second + paths] - a.path_start[second] != cells:
        return False
    for c in range(start, start + cells):
        if light[c] != light[c + shift]:
            return False
    return True


@_compiled
def _knees(a: Layout, w: Work, nodes: Array) -> int:
    """Currents about which a group of the only string may give up, rising; how many.

    The last one is more than any group can give at positive voltage.
    """
    count = 1
    nodes[0] = 0.0
    top = 0.0
    for g in range(len(a.group_start) - 1):
        knee, most = 0.0, 0.0
        for p in range(a.group_start[g], a.group_start[g + 1]):
            knee += w.lowest[p]
            most += w.highest[p]
        top = max(top, most)
        if w.twin[g] == g and knee > 0.0:
            nodes[count] = knee
            count += 1
    nodes[count] = 1.001 * top
    nodes[: count + 1].sort()
    kept = 0
    for k in range(1, count + 1):
        if nodes[k] > nodes[kept] + _CLOSEST_NODES * top:
            kept += 1
            nodes[kept] = nodes[k]
    nodes[kept] = nodes[count]
    return kept + 1


@_compiled
def _voltages(a: Layout, w: Work, nodes: Array) -> int:
    """Evenly spaced voltages up to the highest open circuit of any string; how many."""
    top = 0.0
    for s in range(len(a.string_start) - 1):
        top = max(top, _string_voltage(a, w, s, 0.0)[0])
    for k in range(_NODES):
        nodes[k] = top * k / (_NODES - 1)
    return _NODES


@_compiled
def _search(
    a: Layout, w: Work, by_current: bool, nodes: Array, count: int
) -> tuple[float, float, float]:
    """Global maximum of x·y by splitting the intervals that may still hold it.

    As y falls with x, no power between two nodes exceeds the right node's x times the left
    node's y.
    """
    room = len(nodes) + _SPARE_INTERVALS
    left, right = np.empty((room, 3)), np.empty((room, 3))
    best_x, best_y = 0.0, 0.0
    before = np.zeros(3)
    for k in range(count):
        y, slope = _point(a, w, by_current, nodes[k])
        if nodes[k] * y > best_x * best_y:
            best_x, best_y = nodes[k], y
        if k > 0:
            left[k - 1] = before
        before[0], before[1], before[2] = nodes[k], y, y + nodes[k] * slope
        if k > 0:
            right[k - 1] = before
    pending = count - 1
    while pending > 0:
        pending -= 1
        l, r = left[pending].copy(), right[pending].copy()
        if r[0] * l[1] <= best_x * best_y * (1.0 + 1e-6):
            continue
        holds = l[2] > 0.0 and r[2] < 0.0
        if not holds and r[0] - l[0] < _SPLIT_FRACTION * r[0]:
            continue
        if holds:
            x, y = _polish(a, w, by_current, l, r)
            rise = 0.0
        else:
            x = 0.5 * (l[0] + r[0])
            y, slope = _point(a, w, by_current, x)
            rise = y + x * slope
        if x * y > best_x * best_y:
            best_x, best_y = x, y
        if pending + 2 <= room:
            left[pending], right[pending + 1] = l, r
            right[pending, 0], right[pending, 1], right[pending, 2] = x, y, rise
            left[pending + 1, 0], left[pending + 1, 1], left[pending + 1, 2] = x, y, rise
            pending += 2
    if by_current:
        return best_x * best_y, best_y, best_x
    return best_x * best_y, best_x, best_y


@_compiled
def _polish(a: Layout, w: Work, by_current: bool, l: Array, r: Array) -> tuple[float, float]:
    """Top of x·y between two nodes: regula falsi on its derivative, Illinois variant."""
    x0, h0, x1, h1 = l[0], l[2], r[0], r[2]
    x, y = x0, l[1]
    side = 0
    for _ in range(_STEPS):
        x = (x0 * h1 - x1 * h0) / (h1 - h0)
        y, slope = _point(a, w, by_current, x)
        h = y + x * slope
        if abs(h) < _LEVEL * abs(y) or x1 - x0 < 1e-4 * x1:
            break
        if h > 0.0:
            x0, h0 = x, h
            if side == 1:
                h1 *= 0.5
            side = 1
        else:
            x1, h1 = x, h
            if side == -1:
                h0 *= 0.5
            side = -1
    return x, y


@_compiled
def maxima(a: Layout, light: Array, most_cells: int) -> Array:
    """Global maximum of power for many states of light.

    Parameters
    ----------
    a : Layout
        The array.
    light : ndarray, shape (states, cells)
        Share of the sun on every cell, in the layout's order.
    most_cells : int
        Cells of the longest path.

    Returns
    -------
    ndarray, shape (states, 3)
        Power [W], voltage [V] and current [A].
    """
    paths, groups = len(a.path_start) - 1, len(a.group_start) - 1
    strings = len(a.string_start) - 1
    w = Work(
        np.zeros((paths, most_cells)),
        np.zeros((paths, most_cells)),
        np.zeros(paths, dtype=np.int64),
        np.zeros(paths),
        np.zeros(paths),
        np.zeros(groups, dtype=np.int64),
        np.zeros(paths),
        np.zeros(groups),
        np.zeros(strings),
    )
    nodes = np.zeros(2 * groups + _NODES)
    found = np.zeros((len(light), 3))
    for n in range(len(light)):
        if _load(a, w, light[n]) < _DARK_A:
            continue
        by_current = strings == 1
        count = _knees(a, w, nodes) if by_current else _voltages(a, w, nodes)
        found[n, 0], found[n, 1], found[n, 2] = _search(a, w, by_current, nodes, count)
    return found
