"""Maximum power of many light states, compiled: one scalar solve after the other, no memory kept.

Only imported where numba is installed. Every function works on one state at a time: `Layout` is
the array, `Work` the state's light and the curves drawn for it. A path's curve has points around
every light level that it can reach, a group's curve joins its paths and its diode at common
voltages, and the array is read from those.
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
_STEPS = 60
_SPARE_INTERVALS = 64
_NODES = 14
_CLOSEST_NODES = 0.01
_LEVEL = 3e-4
"""dP/dx at a top, as a share of y: the power is then right to the square of it."""
_DARK_A = 1e-9
_WORTH = 1.0002
_SPLIT_FRACTION = 0.06
"""Intervals wider than this share of their upper end are split before they are given up."""
_BELOW = np.array([0.7, 0.45, 0.27, 0.15, 0.075, 0.03, 0.01, 0.002])
_ABOVE = np.array([0.002, 0.012, 0.04])
"""Points around a light level, as shares of it."""
_BEYOND = 8
"""Points from the lowest light level to where the path is fully reversed."""
_REFINEMENTS = 3
_BACKWARDS = np.array([1.0, 0.5, 0.22, 0.08])
"""Points of negative current, as shares of the largest."""
_CLOSEST_POINTS = 4e-4
_LEAST_A = 1e-3
DIODE_POINTS = 24
MOST_POINTS_PER_LEVEL = 16


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
    diode_v, diode_i, diode_slope : ndarray, shape (groups, DIODE_POINTS)
        Voltage of the group, falling, current of its diode and dI/dV.
    guarded : ndarray of bool, shape (groups,)
        Whether the group has a diode.
    kind : ndarray of int, shape (groups,)
        Equal for groups of equal cells, paths and diode.
    lowest_v : ndarray, shape (groups,)
        Lowest voltage that the group can be driven to [V].
    blocking : ndarray, shape (3,)
        Saturation current [A], n·k·T/q [V] and series resistance [Ω] of the diode in series with
        every string; 0 A for none.
    backwards : float
        Largest current that can be driven backwards through a path [A].
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
    diode_v: Array
    diode_i: Array
    diode_slope: Array
    guarded: NDArray[np.bool_]
    kind: Index
    lowest_v: Array
    blocking: Array
    backwards: float
    resistance: float


class Work(NamedTuple):
    """One state of light and its curves.

    Parameters
    ----------
    level, many : ndarray, shape (paths, cells)
        Distinct light currents of a path [A], rising, and how many cells have them.
    levels : ndarray of int, shape (paths,)
        How many distinct ones.
    path_i, path_v, path_slope : ndarray, shape (paths, points)
        Curve of a path: current [A], rising, voltage [V] and dV/dI [Ω].
    path_points : ndarray of int, shape (paths,)
        How many points.
    path_many : ndarray, shape (paths,)
        How many equal paths the group has; 0 for all but the first of them.
    at : ndarray of int, shape (paths,)
        Place in each path's curve while a group is joined.
    group_i, group_v, group_slope : ndarray, shape (groups, points)
        The same for a group.
    group_points : ndarray of int, shape (groups,)
        How many points.
    twin : ndarray of int, shape (groups,)
        First group of the same string with the same light, or the group itself.
    alike : ndarray, shape (groups,)
        How many groups of the string have it as their twin.
    string_i : ndarray, shape (strings,)
        Last string currents [A].
    """

    level: Array
    many: Array
    levels: Index
    path_i: Array
    path_v: Array
    path_slope: Array
    path_points: Index
    path_many: Array
    at: Index
    group_i: Array
    group_v: Array
    group_slope: Array
    group_points: Index
    twin: Index
    alike: Array
    string_i: Array


@_compiled
def _junction(a: Layout, m: int, j: float) -> tuple[float, float]:
    """Junction voltage and slope for the current that the junction takes."""
    at = min(int(np.sqrt(abs(j) / a.scale[m]) * HALF), HALF - 1)
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
def _cubic(h: float, t: float, y0: float, y1: float, m0: float, m1: float) -> tuple[float, float]:
    """Monotone cubic between two points: value and slope at the share `t` of the step `h`."""
    chord = (y1 - y0) / h
    m0 = max(m0, 3.0 * chord)
    m1 = max(m1, 3.0 * chord)
    c2 = 3.0 * chord - 2.0 * m0 - m1
    c3 = m0 + m1 - 2.0 * chord
    return y0 + h * t * (m0 + t * (c2 + t * c3)), m0 + t * (2.0 * c2 + 3.0 * t * c3)


@_compiled
def _read(x: Array, y: Array, slope: Array, n: int, at: float) -> tuple[float, float]:
    """Falling curve over rising `x`, straight beyond its ends."""
    if at <= x[0]:
        return y[0] + slope[0] * (at - x[0]), slope[0]
    if at >= x[n - 1]:
        return y[n - 1] + slope[n - 1] * (at - x[n - 1]), slope[n - 1]
    low, high = 0, n - 1
    while high - low > 1:
        middle = (low + high) // 2
        if x[middle] <= at:
            low = middle
        else:
            high = middle
    h = x[high] - x[low]
    return _cubic(h, (at - x[low]) / h, y[low], y[high], slope[low], slope[high])


@_compiled
def _add_levels(a: Layout, w: Work, p: int, light: Array) -> None:
    """Sort the light on a path into distinct levels, rising."""
    found = 0
    for c in range(a.path_start[p], a.path_start[p + 1]):
        current = a.full[p] * light[c]
        k = 0
        while k < found and w.level[p, k] < current:
            k += 1
        if k == found or w.level[p, k] != current:
            for n in range(found, k, -1):
                w.level[p, n], w.many[p, n] = w.level[p, n - 1], w.many[p, n - 1]
            w.level[p, k], w.many[p, k] = current, 0.0
            found += 1
        w.many[p, k] += 1.0
    w.levels[p] = found


@_compiled
def _insert(w: Work, p: int, n: int, i: float) -> int:
    """Put a current among the points of a path unless it is there; how many there are."""
    k = n
    while k > 0 and w.path_i[p, k - 1] > i:
        k -= 1
    if k > 0 and i - w.path_i[p, k - 1] <= _CLOSEST_POINTS * (abs(i) + _LEAST_A):
        return n
    for m in range(n, k, -1):
        w.path_i[p, m] = w.path_i[p, m - 1]
    w.path_i[p, k] = i
    return n + 1


@_compiled
def _draw_path(a: Layout, w: Work, p: int, lowest_v: float) -> None:
    """Points of a path's curve down to a voltage, around every level that it reaches."""
    n = 0
    for share in _BACKWARDS:
        n = _insert(w, p, n, -share * a.backwards)
    n = _insert(w, p, n, 0.0)
    most = _reach(a, w, p, lowest_v)
    for k in range(w.levels[p]):
        level = w.level[p, k]
        if level > most:
            break
        stride = 1 if k == 0 else 2
        for share in _BELOW[::stride]:
            n = _insert(w, p, n, level * (1.0 - share))
        n = _insert(w, p, n, level)
        for share in _ABOVE[::stride]:
            n = _insert(w, p, n, level * (1.0 + share) + share * _LEAST_A)
    for k in range(1, _BEYOND + 1):
        n = _insert(w, p, n, w.level[p, 0] + (most - w.level[p, 0]) * k / _BEYOND)
    kept = 0
    for k in range(n):
        i = w.path_i[p, k]
        v, slope = _path_voltage(a, w, p, i)
        w.path_i[p, kept], w.path_v[p, kept], w.path_slope[p, kept] = i, v, slope
        kept += 1
        if v < lowest_v:
            break
    w.path_points[p] = kept


@_compiled
def _reach(a: Layout, w: Work, p: int, lowest_v: float) -> float:
    """A current at which a path is below a voltage, not much more than needed."""
    low, high = w.level[p, 0], w.level[p, 0] + _LEAST_A
    for _ in range(_STEPS):
        if _path_voltage(a, w, p, high)[0] < lowest_v:
            break
        low, high = high, 1.6 * high
    for _ in range(_REFINEMENTS):
        middle = 0.5 * (low + high)
        if _path_voltage(a, w, p, middle)[0] < lowest_v:
            high = middle
        else:
            low = middle
    return float(high)


@_compiled
def _same_path(w: Work, p: int, other: int) -> bool:
    """Whether two paths of one group have the same light."""
    if w.levels[p] != w.levels[other]:
        return False
    for k in range(w.levels[p]):
        if w.level[p, k] != w.level[other, k] or w.many[p, k] != w.many[other, k]:
            return False
    return True


@_compiled
def _count_paths(a: Layout, w: Work, g: int) -> int:
    """Merge equal paths of a group; how many distinct ones there are."""
    distinct = 0
    for p in range(a.group_start[g], a.group_start[g + 1]):
        w.path_many[p] = 1.0
        w.at[p] = 0
        distinct += 1
        for other in range(a.group_start[g], p):
            if w.path_many[other] > 0.0 and _same_path(w, p, other):
                w.path_many[other] += 1.0
                w.path_many[p] = 0.0
                distinct -= 1
                break
    return distinct


@_compiled
def _draw_group(a: Layout, w: Work, g: int) -> None:
    """Join paths and diode at every voltage at which one of them has a point."""
    first = a.group_start[g]
    distinct = _count_paths(a, w, g)
    for p in range(first, a.group_start[g + 1]):
        if w.path_many[p] > 0.0:
            _draw_path(a, w, p, a.lowest_v[g])
    if distinct == 1 and not a.guarded[g]:
        n = w.path_points[first]
        for k in range(n):
            w.group_i[g, k] = w.path_i[first, k] * w.path_many[first]
            w.group_v[g, k] = w.path_v[first, k]
            w.group_slope[g, k] = w.path_slope[first, k] / w.path_many[first]
        w.group_points[g] = n
        return
    _join(a, w, g)


@_compiled
def _join(a: Layout, w: Work, g: int) -> None:
    first, last = a.group_start[g], a.group_start[g + 1]
    n, diode_at, before = 0, 0, np.inf
    while True:
        v = -np.inf
        for p in range(first, last):
            if w.path_many[p] > 0.0 and w.at[p] < w.path_points[p]:
                v = max(v, w.path_v[p, w.at[p]])
        if a.guarded[g] and diode_at < DIODE_POINTS:
            v = max(v, a.diode_v[g, diode_at])
        if v == -np.inf or (v < a.lowest_v[g] and n > 1):
            break
        if before - v > _CLOSE_V:
            i, slope = _joined(a, w, g, v, diode_at)
            w.group_i[g, n], w.group_v[g, n], w.group_slope[g, n] = i, v, 1.0 / slope
            n += 1
            before = v
        for p in range(first, last):
            if w.path_many[p] > 0.0 and w.at[p] < w.path_points[p]:
                w.at[p] += w.path_v[p, w.at[p]] >= v
        if a.guarded[g] and diode_at < DIODE_POINTS:
            diode_at += a.diode_v[g, diode_at] >= v
    w.group_points[g] = n


@_compiled
def _joined(a: Layout, w: Work, g: int, v: float, diode_at: int) -> tuple[float, float]:
    """Current of a group and dI/dV at a voltage between the places of its parts."""
    i, slope = 0.0, 0.0
    for p in range(a.group_start[g], a.group_start[g + 1]):
        if w.path_many[p] > 0.0:
            at, n = w.at[p], w.path_points[p]
            own, steep = _between(w.path_v[p], w.path_i[p], w.path_slope[p], at, n, v)
            i += w.path_many[p] * own
            slope += w.path_many[p] * steep
    if a.guarded[g] and diode_at > 0:
        own, steep = _between(
            a.diode_v[g], a.diode_i[g], a.diode_slope[g], diode_at, DIODE_POINTS, v
        )
        i += own
        slope += steep
    return i, slope


@_compiled
def _between(v: Array, i: Array, slope: Array, at: int, n: int, here: float) -> tuple[float, float]:
    """Current and dI/dV of a part at a voltage between its points `at` - 1 and `at`."""
    if at in (0, n):
        end = min(at, n - 1)
        return i[end] + (here - v[end]) / slope[end], 1.0 / slope[end]
    h = v[at - 1] - v[at]
    own, steep = _cubic(
        h, (v[at - 1] - here) / h, -i[at - 1], -i[at], 1.0 / slope[at - 1], 1.0 / slope[at]
    )
    return -own, steep


@_compiled
def _diode_drop(d: Array, i: float) -> tuple[float, float]:
    """Voltage across a blocking diode and its slope; steep where it blocks."""
    ahead = max(i, -0.999999 * d[0])
    drop = d[1] * np.log1p(ahead / d[0]) + i * d[2]
    slope = d[1] / (d[0] + ahead) + d[2]
    if ahead > i:
        drop += (i - ahead) * slope
    return drop, slope


@_compiled
def _string_voltage(a: Layout, w: Work, s: int, i: float) -> tuple[float, float]:
    """Voltage of a string and dV/dI at its current."""
    v, slope = -a.resistance * i, -a.resistance
    if a.blocking[0] > 0.0:
        drop, steep = _diode_drop(a.blocking, i)
        v -= drop
        slope -= steep
    for g in range(a.string_start[s], a.string_start[s + 1]):
        if w.twin[g] == g:
            own, steep = _read(w.group_i[g], w.group_v[g], w.group_slope[g], w.group_points[g], i)
            v += w.alike[g] * own
            slope += w.alike[g] * steep
    return v, slope


@_compiled
def _string_current(a: Layout, w: Work, s: int, v: float) -> tuple[float, float]:
    """Current of a string and dI/dV at its voltage, by Newton inside a shrinking bracket."""
    low, high = -np.inf, np.inf
    i, slope = w.string_i[s], -1.0
    for _ in range(_STEPS):
        own, slope = _string_voltage(a, w, s, i)
        if own > v:
            low = i
        else:
            high = i
        if abs(own - v) < _CLOSE_V:
            break
        i += (v - own) / slope
        if not low < i < high:
            i = _within(low, high)
    w.string_i[s] = i
    return i, 1.0 / slope


@_compiled
def _within(low: float, high: float) -> float:
    """Middle of a bracket, or beyond its only end."""
    if low == -np.inf:
        return high - abs(high) - _LEAST_A
    if high == np.inf:
        return low + abs(low) + _LEAST_A
    return 0.5 * (low + high)


@_compiled
def _load(a: Layout, w: Work, light: Array) -> float:
    """Draw the curves of a state's groups; largest light current [A]."""
    brightest = 0.0
    for p in range(len(a.path_start) - 1):
        _add_levels(a, w, p, light)
        brightest = max(brightest, w.level[p, w.levels[p] - 1])
    for s in range(len(a.string_start) - 1):
        w.string_i[s] = 0.0
        for g in range(a.string_start[s], a.string_start[s + 1]):
            w.twin[g] = g
            w.alike[g] = 1.0
            for other in range(a.string_start[s], g):
                if w.twin[other] == other and _alike(a, w, g, other):
                    w.twin[g] = other
                    w.alike[other] += 1.0
                    break
            if w.twin[g] == g:
                _draw_group(a, w, g)
    return brightest


@_compiled
def _alike(a: Layout, w: Work, g: int, other: int) -> bool:
    """Whether two groups are of one kind and have the same light on every path, in order."""
    first, second = a.group_start[g], a.group_start[other]
    if a.kind[g] != a.kind[other]:
        return False
    same = True
    for p in range(a.group_start[g + 1] - first):
        same = same and _same_path(w, first + p, second + p)
    return same


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
            knee += w.level[p, 0]
            most += w.level[p, w.levels[p] - 1]
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
    lefts, rights = np.empty((room, 3)), np.empty((room, 3))
    best_x, best_y = 0.0, 0.0
    for k in range(count):
        y, slope = _point(a, w, by_current, nodes[k])
        if nodes[k] * y > best_x * best_y:
            best_x, best_y = nodes[k], y
        lefts[k, 0], lefts[k, 1], lefts[k, 2] = nodes[k], y, y + nodes[k] * slope
    rights[: count - 1] = lefts[1:count]
    pending = count - 1
    while 0 < pending < room - 1:
        pending -= 1
        left, right = lefts[pending], rights[pending].copy()
        holds = left[2] > 0.0 and right[2] < 0.0
        wide = right[0] - left[0] > _SPLIT_FRACTION * right[0]
        if right[0] * left[1] <= best_x * best_y * _WORTH or not (holds or wide):
            continue
        x, y, rise = _inside(a, w, by_current, left, right, holds)
        if x * y > best_x * best_y:
            best_x, best_y = x, y
        rights[pending, 0], rights[pending, 1], rights[pending, 2] = x, y, rise
        lefts[pending + 1, 0], lefts[pending + 1, 1], lefts[pending + 1, 2] = x, y, rise
        rights[pending + 1] = right
        pending += 2
    if by_current:
        return best_x * best_y, best_y, best_x
    return best_x * best_y, best_x, best_y


@_compiled
def _inside(
    a: Layout, w: Work, by_current: bool, left: Array, right: Array, holds: bool
) -> tuple[float, float, float]:
    """The top between two nodes if one is sure to be there, else their middle."""
    if holds:
        x, y = _polish(a, w, by_current, left, right)
        return x, y, 0.0
    x = 0.5 * (left[0] + right[0])
    y, slope = _point(a, w, by_current, x)
    return x, y, y + x * slope


@_compiled
def _polish(a: Layout, w: Work, by_current: bool, left: Array, right: Array) -> tuple[float, float]:
    """Top of x·y between two nodes: regula falsi on its derivative, Illinois variant."""
    x0, h0, x1, h1 = left[0], left[2], right[0], right[2]
    x, y = x0, left[1]
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
    most_paths = np.max(a.group_start[1:] - a.group_start[:-1])
    points = MOST_POINTS_PER_LEVEL * (most_cells + 1)
    joined = most_paths * points + DIODE_POINTS
    w = Work(
        np.zeros((paths, most_cells)),
        np.zeros((paths, most_cells)),
        np.zeros(paths, dtype=np.int64),
        np.zeros((paths, points)),
        np.zeros((paths, points)),
        np.zeros((paths, points)),
        np.zeros(paths, dtype=np.int64),
        np.zeros(paths),
        np.zeros(paths, dtype=np.int64),
        np.zeros((groups, joined)),
        np.zeros((groups, joined)),
        np.zeros((groups, joined)),
        np.zeros(groups, dtype=np.int64),
        np.zeros(groups, dtype=np.int64),
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
