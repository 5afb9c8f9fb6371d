"""Maximum power of many light states, compiled: one state after the other, no memory kept.

Imported only where numba is installed, when the first batch is solved. Every evaluation is exact
but for a table of the junction voltage; nothing is drawn beforehand. The search for the maximum
splits whatever interval may still hold a larger power.

An array is a few tables of records, passed as they are: one row per distinct light level of a
path, per path, per bypass group and per string. Fields that change with the light are marked.

What is compiled is in one file, as long as that is: the compiler keeps its result until the file of
the entry changes, and does not notice a change in any other (numba, "Notes on caching").
"""

from typing import Any, NamedTuple, cast

import numba
import numpy as np
from numpy.typing import NDArray

from .cell import Array
from .compiler import OPTIONS, F, called

Rows = NDArray[np.void]

OCTAVES, _FINENESS = 14, 5
"""A junction table has 2^fineness even intervals in every octave of 1 + |IL − I|, in its units."""
SPAN = 2.0**OCTAVES
"""1 + |IL − I| at the end of a table."""
HALF = OCTAVES << _FINENESS
"""Intervals of a junction table on either side of zero."""
ROWS = 2 * (HALF + 1)
"""Rows of a junction table: forward, then reverse, each with one more for what is beyond."""
_COEFFICIENTS = 4
_TAIL = 52 - _FINENESS
_FIRST_ROW = 1023 << _FINENESS
"""A binary number without its last bits is the start of its interval; what is left counts them."""
LEVEL = np.dtype([("current", "f8"), ("many", "f8")])
"""Light current [A] and how many cells of the path have it; both change with the light."""
PATH = np.dtype(
    [
        ("first", "i8"),  # cell, and row of its levels
        ("end", "i8"),
        ("table", "i8"),  # first row in the table of junction voltages
        ("gain", "f8"),  # its units per ampere
        ("full", "f8"),  # light current in full light [A]
        ("resistance", "f8"),  # of all cells in series [Ω]
        ("avalanche", "f8"),  # reverse current at which it sets in [A]
        ("count", "i8"),  # changes: how many levels
        ("many", "f8"),  # changes: equal paths of the group, 0 for all but the first
        ("zero", "f8"),  # changes: current at zero voltage [A]
        ("ahead", "f8"),  # changes: current at the diode's usual drop [A]
        ("i", "f8"),  # changes: current, voltage and dV/dI when last evaluated
        ("v", "f8"),
        ("slope", "f8"),
        ("ease", "f8"),  # changes: dI/dV
    ]
)
GROUP = np.dtype(
    [
        ("first", "i8"),  # path
        ("end", "i8"),
        ("kind", "i8"),  # equal for groups of equal cells, paths and diode
        ("saturation", "f8"),  # bypass diode; 0 for none
        ("vt", "f8"),
        ("r", "f8"),
        ("drop", "f8"),  # its voltage at a common current [V]
        ("distinct", "i8"),  # changes: unlike paths
        ("many", "f8"),  # changes: equal groups of the string, 0 for all but the first
        ("onset", "f8"),  # changes: current through the cells at zero voltage [A]
        ("steep", "f8"),  # changes: how it grows with the diode's voltage [S]
        ("known", "i8"),  # changes: how many of its currents are traced
    ]
)
STRING = np.dtype(
    [
        ("first", "i8"),  # group
        ("end", "i8"),
        ("saturation", "f8"),  # blocking diode; 0 for none
        ("vt", "f8"),
        ("r", "f8"),  # its resistance and the cable's
        ("many", "f8"),  # changes: equal strings, 0 for all but the first
        ("known", "i8"),  # changes: how many of its points are known
    ]
)
POINT = np.dtype([("i", "f8"), ("v", "f8"), ("slope", "f8")])
"""Current, voltage and dV/dI of a string, known from earlier."""
MOST_KNOWN, MOST_TRACED = 64, 24

_SHORTEST_APPROACH = 0.3
_STEPS = 60
_FEW_STEPS, _FEWER_STEPS = 12, 4
_CLOSE_V = 4e-4
"""Error of voltage, as a share, from which one more straight step is exact enough."""
_CLOSE_TO_ZERO_V = 2e-3
_CLOSE_DROP_V = 1e-5
_CLOSE_TO_DROP_V = 0.02
"""As far as this the cells beside a conducting diode are straight."""
_CLOSE_JUNCTION_V = 1e-8
_CLOSEST_BREAKS = 1e-5
_WORTH = 1.0002
"""An interval is dropped when no power in it can exceed the best by more than this factor."""
_NARROW = 0.004
_TRUSTED, _NEAR_BREAK = 0.04, 0.006
"""Width, as a share, from which slopes are trusted to tell that a curve is concave."""
_LEVEL = 1e-2
"""ln(x·|dy/dx|/y) at a top: the power is then right to the square of it."""
_STEEPEST = 8.0
_SPLIT_WIDE, _WIDE = 0.7, 0.1
_SPARE = 64
_DARK_A = 1e-9
_LEAN: dict[str, Any] = {**OPTIONS, "_nrt": False}
"""Without counting who refers to an array, which takes longer than what is done with it.

The caller of the entry keeps them all; such a function cannot make a new one.
"""


def _entry(function: F) -> F:
    """Compile at the first call and keep the result on disk where a folder for it exists.

    Only functions with plain arguments: what is kept must be readable by later versions.
    """
    try:
        return cast(F, numba.njit(cache=True, **OPTIONS)(function))
    except RuntimeError:
        return cast(F, numba.njit(**OPTIONS)(function))


def _compiled(function: F) -> F:
    return cast(F, numba.njit(**_LEAN)(function))


def _inlined(function: F) -> F:
    """For small functions: passing the tables to them costs more than what they do."""
    return cast(F, numba.njit(forceinline=True, **_LEAN)(function))


class Net(NamedTuple):
    """The array under one state of light.

    Parameters
    ----------
    levels, paths, groups, strings : ndarray
        Rows of `LEVEL`, `PATH`, `GROUP` and `STRING`.
    points : ndarray, shape (strings, MOST_KNOWN)
        Rows of `POINT`.
    traces : ndarray, shape (groups + paths, MOST_TRACED, 2)
        Of every group, rising: currents known from earlier [A], each with its number, by which
        a path has its own current [A] and how it grows with the group's.
    table : ndarray, shape (models * ROWS * 4,)
        Junction voltage in every interval: cubic in how far |IL − I| is above its start [V].
    scale : float
        Current at the end of the tables [A].
    """

    levels: Rows
    paths: Rows
    groups: Rows
    strings: Rows
    points: Rows
    traces: Array
    table: Array
    scale: float


@_inlined
def _path_voltage(net: Net, p: int, i: float) -> tuple[float, float]:
    """Voltage of a path and dV/dI at its current.

    Unsigned, for a signed index would be looked at for counting from the end.
    """
    path = net.paths[p]
    gain, zero = path["gain"], np.uint64(_COEFFICIENTS * (path["table"] - _FIRST_ROW))
    v, slope, own = 0.0, 0.0, i * gain
    for k in range(np.uint64(path["first"]), np.uint64(path["first"] + path["count"])):
        j, many = net.levels[k]["current"] * gain - own, net.levels[k]["many"]
        x = abs(j) + 1.0
        bits = np.float64(min(x, SPAN)).view(np.uint64) >> np.uint64(_TAIL)
        t = x - np.uint64(bits << np.uint64(_TAIL)).view(np.float64)
        at = bits * np.uint64(_COEFFICIENTS) + zero
        if j < 0.0:
            at += np.uint64(_COEFFICIENTS * (HALF + 1))
        c1, c2 = net.table[at + np.uint64(1)], net.table[at + np.uint64(2)]
        c3 = net.table[at + np.uint64(3)]
        volts = net.table[at] + t * (c1 + t * (c2 + t * c3))
        v += -many * volts if j < 0.0 else many * volts
        slope += many * (c1 + t * (2.0 * c2 + 3.0 * t * c3))
    return v - path["resistance"] * i, -path["resistance"] - gain * slope


@_compiled
def _solve_path(net: Net, p: int, v: float) -> None:
    """Bring a path to a voltage, by Newton inside a bracket."""
    path = net.paths[p]
    low, high, i = -np.inf, np.inf, path["i"]
    for count in range(_STEPS):
        own, slope = _path_voltage(net, p, i)
        path["i"], path["v"], path["slope"] = i, own, slope
        if abs(own - v) < _CLOSE_TO_ZERO_V:
            return
        if own > v:
            low = i
        else:
            high = i
        i += (v - own) / slope
        if not low < i < high or count % 4 == 3:
            i = _within(low, high, net.scale)


@_inlined
def _within(low: float, high: float, scale: float) -> float:
    """Middle of a bracket, or a step beyond its only end."""
    if low == -np.inf:
        return high - 0.05 * scale - abs(high)
    if high == np.inf:
        return low + 0.05 * scale + abs(low)
    return 0.5 * (low + high)


@_inlined
def _drop(group: Any, u: float) -> float:  # noqa: ANN401 - a row of GROUP
    """Voltage across a bypass diode with its resistance, from that of its junction."""
    return float(u + group["r"] * group["saturation"] * np.expm1(u / group["vt"]))


@_compiled
def _bypassed(net: Net, g: int, i: float) -> tuple[float, float]:
    """Voltage of a group whose diode conducts: by a straight line first, then by its cells.

    One step from the line is exact enough but where a cell is driven towards its breakdown.
    """
    group = net.groups[g]
    u = group["vt"] * np.log1p((i - group["onset"]) / group["saturation"])
    u, _ = _divided(group, i - group["onset"], group["steep"], 0.0, u)
    drop = _drop(group, u)
    share = drop / group["drop"]
    for p in range(group["first"], group["end"]):
        path = net.paths[p]
        path["i"] = path["zero"] + share * (path["ahead"] - path["zero"])
    for _ in range(_FEWER_STEPS):
        u, slope, off = _settled(net, g, i, drop, u)
        drop = _drop(group, u)
        if off < _CLOSE_TO_DROP_V:
            return -drop, slope
    return _bypassed_by_halving(net, g, i)


@_inlined
def _settled(net: Net, g: int, i: float, drop: float, start: float) -> tuple[float, float, float]:
    """Junction voltage of a group's diode, its cells taken as straight where they are.

    Moves their currents there; also dV/dI, and how far voltages were moved at most.
    """
    group = net.groups[g]
    cells, conductance, low, high = 0.0, 0.0, np.inf, -np.inf
    for p in range(group["first"], group["end"]):
        path = net.paths[p]
        if path["many"] > 0.0:
            v, slope = _path_voltage(net, p, path["i"])
            path["ease"] = 1.0 / slope
            path["i"] -= (drop + v) * path["ease"]
            cells += path["many"] * path["i"]
            conductance -= path["many"] * path["ease"]
            low, high = min(low, v), max(high, v)
    u, slope = _divided(group, i - cells, conductance, drop, start)
    moved = _drop(group, u) - drop
    for p in range(group["first"], group["end"]):
        path = net.paths[p]
        path["i"] -= moved * path["ease"]
    return u, slope, max(drop + moved + high, -drop - moved - low)


@_compiled
def _bypassed_by_halving(net: Net, g: int, i: float) -> tuple[float, float]:
    """The same where steps do not settle: halving the voltage of the diode's junction."""
    group = net.groups[g]
    low, high = 0.0, group["vt"] * np.log1p((i - group["onset"]) / group["saturation"])
    while high - low > _CLOSE_V:
        u = 0.5 * (low + high)
        through = group["saturation"] * np.expm1(u / group["vt"])
        if through + _current_at(net, g, -_drop(group, u)) > i:
            high = u
        else:
            low = u
    u, slope, _ = _settled(net, g, i, _drop(group, low), low)
    return -_drop(group, u), slope


@_inlined
def _divided(
    group: Any,  # noqa: ANN401 - a row of GROUP
    spare: float,
    conductance: float,
    at: float,
    start: float,
) -> tuple[float, float]:
    """Junction voltage of a bypass diode that shares a current with a conductance.

    `spare` flows through the diode where its drop is `at`; also dV/dI of the group.
    """
    saturation, vt, r, u = group["saturation"], group["vt"], group["r"], start
    e, slope = 0.0, 1.0
    for _ in range(_STEPS):
        e = saturation * np.exp(u / vt)
        i = e - saturation
        slope = conductance * (1.0 + r * e / vt) + e / vt
        change = (i + conductance * (u + i * r - at) - spare) / slope
        u -= max(change, -vt)
        if abs(change) < _CLOSE_DROP_V:
            break
    return u, -(1.0 + r * e / vt) / slope


@_compiled
def _shared_voltage(net: Net, g: int, i: float) -> tuple[float, float]:
    """Voltage of a group with unlike paths and dV/dI: Newton on all their currents at once."""
    group = net.groups[g]
    _foresee(net, g, i)
    for _ in range(_FEW_STEPS):
        total, conductance, off = 0.0, 0.0, 0.0
        for p in range(group["first"], group["end"]):
            path = net.paths[p]
            if path["many"] > 0.0:
                own, steep = _path_voltage(net, p, path["i"])
                path["v"], path["ease"] = own, 1.0 / steep
                total += path["many"] * (path["i"] - own * path["ease"])
                conductance += path["many"] * path["ease"]
        slope = 1.0 / conductance
        v = (i - total) * slope
        for p in range(group["first"], group["end"]):
            path = net.paths[p]
            if path["many"] > 0.0:
                off = max(off, abs(path["v"] - v))
                path["i"] += (v - path["v"]) * path["ease"]
        if off < _CLOSE_V * (1.0 + abs(v)):
            _trace(net, g, i, slope)
            return v, slope
    return _shared_by_halving(net, g, i)


@_inlined
def _foresee(net: Net, g: int, i: float) -> None:
    """Set the currents of a group's paths to what those traced before let expect."""
    known, above = net.groups[g]["known"], 0
    while above < known and net.traces[g, above, 0] <= i:
        above += 1
    near = max(above - 1, 0)
    more, h = i - net.traces[g, near, 0], 0.0
    if 0 < above < known:
        h = net.traces[g, above, 0] - net.traces[g, near, 0]
    one, two = int(net.traces[g, near, 1]), int(net.traces[g, above, 1])
    for p in range(net.groups[g]["first"], net.groups[g]["end"]):
        if net.paths[p]["many"] > 0.0:
            row = len(net.groups) + p
            i0, share0 = net.traces[row, one, 0], net.traces[row, one, 1]
            if h > 0.0:
                i1, share1 = net.traces[row, two, 0], net.traces[row, two, 1]
                t, chord = more / h, (i1 - i0) / h
                c2, c3 = 3.0 * chord - 2.0 * share0 - share1, share0 + share1 - 2.0 * chord
                share0 += t * (c2 + t * c3)
            net.paths[p]["i"] = i0 + more * share0


@_inlined
def _trace(net: Net, g: int, i: float, slope: float) -> None:
    """Keep the currents of a group's paths, in the order of the group's."""
    known = net.groups[g]["known"]
    if known < MOST_TRACED - 1:
        net.groups[g]["known"] = known + 1
        k = known
        while k > 0 and net.traces[g, k - 1, 0] > i:
            net.traces[g, k, 0] = net.traces[g, k - 1, 0]
            net.traces[g, k, 1] = net.traces[g, k - 1, 1]
            k -= 1
        net.traces[g, k, 0], net.traces[g, k, 1] = i, known
        for p in range(net.groups[g]["first"], net.groups[g]["end"]):
            if net.paths[p]["many"] > 0.0:
                row = len(net.groups) + p
                net.traces[row, known, 0] = net.paths[p]["i"]
                net.traces[row, known, 1] = slope * net.paths[p]["ease"]


@_inlined
def _joined(net: Net, g: int, i: float) -> tuple[float, float]:
    """Common voltage of a group's paths and dV/dI, along their tangents."""
    total, conductance = 0.0, 0.0
    for p in range(net.groups[g]["first"], net.groups[g]["end"]):
        path = net.paths[p]
        if path["many"] > 0.0:
            total += path["many"] * (path["i"] - path["v"] / path["slope"])
            conductance += path["many"] / path["slope"]
    return (i - total) / conductance, 1.0 / conductance


@_compiled
def _shared_by_halving(net: Net, g: int, i: float) -> tuple[float, float]:
    """The same where Newton runs in circles: halving the voltage between bounds."""
    low, high = -1.0, 1.0
    for _ in range(_STEPS):
        if _current_at(net, g, high) > i:
            high += high
        elif _current_at(net, g, low) < i:
            low += low
        else:
            break
    for _ in range(_STEPS):
        v = 0.5 * (low + high)
        if _current_at(net, g, v) > i:
            low = v
        else:
            high = v
        if high - low < _CLOSE_V:
            break
    return _joined(net, g, i)


@_compiled
def _current_at(net: Net, g: int, v: float) -> float:
    """Current of all paths of a group at their voltage."""
    total = 0.0
    for p in range(net.groups[g]["first"], net.groups[g]["end"]):
        if net.paths[p]["many"] > 0.0:
            _solve_path(net, p, v)
            total += net.paths[p]["many"] * net.paths[p]["i"]
    return total


@_inlined
def _group_voltage(net: Net, g: int, i: float) -> tuple[float, float]:
    """Voltage of a group and dV/dI at its current."""
    group = net.groups[g]
    if group["saturation"] > 0.0:
        if i > group["onset"]:
            return _bypassed(net, g, i)
        i = min(i + group["saturation"], group["onset"])
    if group["distinct"] > 1:
        return _shared_voltage(net, g, i)
    many = float(net.paths[group["first"]]["many"])
    v, slope = _path_voltage(net, group["first"], i / many)
    return v, slope / many


@_compiled
def _string_voltage(net: Net, number: int, i: float) -> tuple[float, float]:
    """Voltage of a string and dV/dI at its current."""
    string = net.strings[number]
    v, slope = -string["r"] * i, -string["r"]
    if string["saturation"] > 0.0:
        ahead = string["saturation"] + max(i, 0.0)
        v -= string["vt"] * np.log(ahead / string["saturation"])
        slope -= string["vt"] / ahead
    for g in range(string["first"], string["end"]):
        many = net.groups[g]["many"]
        if many > 0.0:
            own, steep = _group_voltage(net, g, i)
            v += many * own
            slope += many * steep
    return v, slope


@_compiled
def _string_current(net: Net, number: int, v: float) -> tuple[float, float]:
    """Current of a string and dI/dV at its voltage, by Newton inside a bracket."""
    string = net.strings[number]
    low = -net.scale
    if string["saturation"] > 0.0:
        spare = _string_voltage(net, number, 0.0)[0] - v
        if spare <= 0.0:
            e = string["saturation"] * np.exp(spare / string["vt"])
            return e - string["saturation"], -e / string["vt"]
        low = 0.0
    below, above = _around(net, number, v)
    at = below
    for count in range(_STEPS):
        i = _guess(below, above, v)
        if count % 8 == 7 and above[1] - below[1] < np.inf:
            i = 0.5 * (below[0] + above[0])
        at = _learn(net, number, min(max(i, low), net.scale))
        if abs(at[1] - v) < _CLOSE_V * (1.0 + v):
            break
        if at[1] > v:
            above = at
        else:
            below = at
    return at[0] + (v - at[1]) / at[2], 1.0 / at[2]


@_compiled
def _learn(net: Net, number: int, i: float) -> tuple[float, float, float]:
    """Evaluate a string at a current and keep the point: current, voltage and dV/dI."""
    v, slope = _string_voltage(net, number, i)
    known = net.strings[number]["known"]
    if known < MOST_KNOWN:
        point = net.points[number, known]
        point["i"], point["v"], point["slope"] = i, v, slope
        net.strings[number]["known"] = known + 1
    return i, v, slope


@_inlined
def _around(
    net: Net, number: int, v: float
) -> tuple[tuple[float, float, float], tuple[float, float, float]]:
    """Known points of a string next below and above a voltage; infinite voltages for none."""
    below, above = (0.0, -np.inf, -1.0), (0.0, np.inf, -1.0)
    for k in range(net.strings[number]["known"]):
        point = net.points[number, k]
        if below[1] < point["v"] <= v:
            below = (point["i"], point["v"], point["slope"])
        elif v < point["v"] < above[1]:
            above = (point["i"], point["v"], point["slope"])
    return below, above


@_inlined
def _guess(below: tuple[float, float, float], above: tuple[float, float, float], v: float) -> float:
    """Current at a voltage: by a cubic between two points, or along the tangent of one."""
    h = above[1] - below[1]
    if h == np.inf:
        one = below if below[1] > -np.inf else above
        return one[0] + (v - one[1]) / one[2]
    t, chord = (v - below[1]) / h, (above[0] - below[0]) / h
    m0, m1 = max(1.0 / below[2], 3.0 * chord), max(1.0 / above[2], 3.0 * chord)
    c2, c3 = 3.0 * chord - 2.0 * m0 - m1, m0 + m1 - 2.0 * chord
    return below[0] + h * t * (m0 + t * (c2 + t * c3))


@_compiled
def _look(net: Net, x: float, found: Array, best: Array) -> None:
    """Evaluate a place and keep it if it is the best so far.

    Of a single string the voltage y over the current x, of several the current y over the
    voltage x: x, y, dy/dx, the logarithm of its steepness over that at a top, which rises
    through zero there, and whether it is the place of a break.
    """
    y, slope = 0.0, 0.0
    if len(net.strings) == 1:
        y, slope = _string_voltage(net, 0, x)
    else:
        for number in range(len(net.strings)):
            many = net.strings[number]["many"]
            if many > 0.0:
                own, steep = _string_current(net, number, x)
                y += many * own
                slope += many * steep
    found[0], found[1], found[2], found[3], found[4] = x, y, slope, _STEEPEST, 0.0
    if x * y > 0.0:
        found[3] = min(max(np.log(-slope * x / y), -_STEEPEST), _STEEPEST)
    elif x == 0.0:
        found[3] = -_STEEPEST
    if x * y > best[0] * best[1]:
        for k in range(5):
            best[k] = found[k]


@_compiled
def _load(net: Net, light: Array) -> float:
    """Sort the light on every path into distinct levels; the largest light current [A]."""
    brightest = 0.0
    for p in range(len(net.paths)):
        path = net.paths[p]
        first = path["first"]
        path["count"] = _sort_levels(light[first : path["end"]], path["full"], net.levels, first)
        brightest = max(brightest, float(net.levels[first + path["count"] - 1]["current"]))
    return brightest


@_inlined
def _sort_levels(light: Array, full: float, levels: Rows, first: int) -> int:
    """Distinct light currents of a path, rising, with their numbers of cells; how many."""
    end, last = first, first
    for share in light:
        own = full * share
        if end > first and levels[last]["current"] == own:
            levels[last]["many"] += 1.0
            continue
        last = end
        while last > first and levels[last - 1]["current"] > own:
            last -= 1
        if last > first and levels[last - 1]["current"] == own:
            last -= 1
            levels[last]["many"] += 1.0
            continue
        for k in range(end, last, -1):
            levels[k]["current"] = levels[k - 1]["current"]
            levels[k]["many"] = levels[k - 1]["many"]
        levels[last]["current"], levels[last]["many"] = own, 1.0
        end += 1
    return end - first


@_compiled
def _same_path(net: Net, p: int, other: int) -> bool:
    """Whether two paths of one kind have the same light."""
    one, two = net.paths[p], net.paths[other]
    if one["count"] != two["count"]:
        return False
    for k in range(one["count"]):
        a, b = net.levels[one["first"] + k], net.levels[two["first"] + k]
        if a["current"] != b["current"] or a["many"] != b["many"]:
            return False
    return True


@_compiled
def _same_group(net: Net, g: int, other: int) -> bool:
    """Whether two groups are of one kind and have the same light, path by path."""
    one, two = net.groups[g], net.groups[other]
    if one["kind"] != two["kind"]:
        return False
    for k in range(one["end"] - one["first"]):
        if not _same_path(net, one["first"] + k, two["first"] + k):
            return False
    return True


@_compiled
def _same_string(net: Net, number: int, other: int) -> bool:
    """Whether two strings are alike, group by group."""
    one, two = net.strings[number], net.strings[other]
    if one["end"] - one["first"] != two["end"] - two["first"]:
        return False
    for k in range(one["end"] - one["first"]):
        if not _same_group(net, one["first"] + k, two["first"] + k):
            return False
    return True


@_compiled
def _merge(net: Net) -> None:
    """Find equal strings, equal groups of a string and equal paths of a group."""
    for number in range(len(net.strings)):
        string = net.strings[number]
        string["many"] = 1.0
        for other in range(number):
            if net.strings[other]["many"] > 0.0 and _same_string(net, number, other):
                net.strings[other]["many"] += 1.0
                string["many"] = 0.0
                break
        for g in range(string["first"], string["end"]):
            net.groups[g]["many"] = string["many"] > 0.0
            for other in range(string["first"], g):
                if net.groups[other]["many"] > 0.0 and _same_group(net, g, other):
                    net.groups[other]["many"] += net.groups[g]["many"]
                    net.groups[g]["many"] = 0.0
                    break
            if net.groups[g]["many"] > 0.0:
                _merge_paths(net, net.groups[g])
                _find_onset(net, g)


@_compiled
def _merge_paths(net: Net, group: Any) -> None:  # noqa: ANN401 - a row of GROUP
    group["distinct"] = 0
    for p in range(group["first"], group["end"]):
        net.paths[p]["many"] = 1.0
        for other in range(group["first"], p):
            if net.paths[other]["many"] > 0.0 and _same_path(net, p, other):
                net.paths[other]["many"] += 1.0
                net.paths[p]["many"] = 0.0
                break
        group["distinct"] += net.paths[p]["many"] > 0.0


@_compiled
def _find_onset(net: Net, g: int) -> None:
    """Current of a group's cells at zero voltage, and how it grows below."""
    group = net.groups[g]
    group["onset"] = group["steep"] = 0.0
    conductance = 0.0
    for p in range(group["first"], group["end"]):
        path = net.paths[p]
        if path["many"] > 0.0:
            path["i"] = net.levels[path["first"]]["current"]
            _solve_path(net, p, 0.0)
            path["zero"] = path["i"] - path["v"] / path["slope"]
            group["onset"] += path["many"] * path["zero"]
            conductance += path["many"] / path["slope"]
            net.traces[len(net.groups) + p, 0, 0] = path["zero"]
            net.traces[len(net.groups) + p, 0, 1] = 1.0 / path["slope"]
            path["i"] = path["zero"] - group["drop"] / path["slope"]
            _solve_path(net, p, -group["drop"])
            path["ahead"] = path["i"] - (group["drop"] + path["v"]) / path["slope"]
            group["steep"] += path["many"] * (path["ahead"] - path["zero"]) / group["drop"]
    group["known"], net.traces[g, 0, 0], net.traces[g, 0, 1] = 1, group["onset"], 0.0
    for p in range(group["first"], group["end"]):
        net.traces[len(net.groups) + p, 0, 1] /= conductance


@_compiled
def _breaks(net: Net, number: int, found: Array) -> int:
    """Currents about which a part of a string gives up its voltage; how many there are."""
    count = 0
    for g in range(net.strings[number]["first"], net.strings[number]["end"]):
        group = net.groups[g]
        if group["many"] > 0.0:
            found[count] = group["onset"]
            count += 1
            for p in range(group["first"], group["end"]):
                if net.paths[p]["many"] > 0.0:
                    count = _avalanches(net, g, p, found, count)
    return count


@_compiled
def _avalanches(net: Net, g: int, p: int, found: Array, count: int) -> int:
    """Add the currents at which a level of a path is driven into avalanche."""
    path, group = net.paths[p], net.groups[g]
    for k in range(path["first"], path["first"] + path["count"]):
        own = net.levels[k]["current"] + path["avalanche"]
        if own > net.scale or (own > path["zero"] and group["saturation"] > 0.0):
            break
        found[count] = path["many"] * own
        if group["distinct"] > 1:
            found[count] = _current_at(net, g, _path_voltage(net, p, own)[0])
        count += 1
    return count


@called
def _nodes(net: Net, room: Array, found: Array) -> int:
    """Places of the breaks, rising, with both ends of the curve; how many there are."""
    count, top, single = 1, 0.0, len(net.strings) == 1
    for number in range(len(net.strings)):
        string = net.strings[number]
        if string["many"] == 0.0:
            continue
        new = _breaks(net, number, room)
        if single:
            top = np.max(room[:new])
        else:
            string["known"] = 0
            opens = _learn(net, number, 0.0)[1]
            top = max(top, opens)
            for k in range(new):
                room[k] = _learn(net, number, room[k])[1]
            if string["saturation"] > 0.0:
                room[new] = opens
                new += 1
        found[count : count + new] = room[:new]
        count += new
    return _distinct(found, count, top)


@called
def _distinct(found: Array, count: int, top: float) -> int:
    """Sort places between zero and the top, each once; how many there are."""
    kept, last = 0, 0.0
    found[1:count].sort()
    found[0] = 0.0
    for k in range(1, count):
        if last + _CLOSEST_BREAKS * top < found[k] < top * (1.0 - _CLOSEST_BREAKS):
            kept, last = kept + 1, found[k]
            found[kept] = last
    found[kept + 1] = top
    return kept + 2


@_inlined
def _most(left: Array, right: Array) -> float:
    """Bound of x·y between two places.

    As y falls with x, no power exceeds the right x times the left y; where the slopes say that y
    is concave and the places are close, none exceeds that where the tangents meet.
    """
    x0, y0, s0, x1, y1, s1 = left[0], left[1], left[2], right[0], right[1], right[2]
    chord = (y1 - y0) / (x1 - x0)
    breaks = left[4] + right[4] > 0.0
    if x1 - x0 > (_NEAR_BREAK if breaks else _TRUSTED) * x1 or not s1 < chord < s0:
        return float(x1 * y0)
    meet = (y1 - y0 + s0 * x0 - s1 * x1) / (s0 - s1)
    on_left = min(max(0.5 * (x0 - y0 / s0), x0), meet)
    on_right = min(max(0.5 * (x1 - y1 / s1), meet), x1)
    highest = max(on_left * (y0 + s0 * (on_left - x0)), on_right * (y1 + s1 * (on_right - x1)))
    return float(highest)


@called
def _search(net: Net, nodes: Array, count: int, best: Array) -> None:
    """Find the largest x·y by splitting whatever interval may hold a larger one."""
    room = count + _SPARE
    lefts, rights = np.zeros((room, 5)), np.zeros((room, 5))
    pending = _first_intervals(net, nodes[:count], lefts, rights, best)
    while 0 < pending < room - 1:
        pending -= 1
        left, right = lefts[pending], rights[pending].copy()
        if _most(left, right) <= best[0] * best[1] * _WORTH:
            continue
        holds, wide = left[3] < 0.0 < right[3], (right[0] - left[0]) / right[0]
        if wide < _NARROW and not holds:
            continue
        if holds:
            _polish(net, left, right, rights[pending], best)
        else:
            share = _SPLIT_WIDE if wide > _WIDE else 0.5
            _look(net, left[0] + (right[0] - left[0]) * share, rights[pending], best)
        if wide > _NARROW:
            lefts[pending + 1] = rights[pending]
            rights[pending + 1] = right
            pending += 2


@called
def _first_intervals(net: Net, nodes: Array, lefts: Array, rights: Array, best: Array) -> int:
    """Intervals between the breaks, the most promising last; how many there are."""
    places = np.zeros((len(nodes), 5))
    for k in range(len(nodes)):
        _look(net, nodes[k], places[k], best)
        places[k, 4] = 1.0
    order = np.argsort(places[1:, 0] * places[:-1, 1])
    for k in range(len(order)):
        lefts[k], rights[k] = places[order[k]], places[order[k] + 1]
    return len(order)


@_compiled
def _polish(net: Net, left: Array, right: Array, found: Array, best: Array) -> None:
    """Top between two places: regula falsi on the steepness.

    An end that stays is lowered as Anderson and Björck do (BIT 13, 1973; from memory).
    """
    x0, h0, x1, h1, side = left[0], left[3], right[0], right[3], 0
    for _ in range(_STEPS):
        _look(net, (x0 * h1 - x1 * h0) / (h1 - h0), found, best)
        if abs(found[3]) < _LEVEL or x1 - x0 < 1e-5 * x1:
            break
        if found[3] < 0.0:
            h1 *= _damped(found[3] / h0) if side == 1 else 1.0
            x0, h0, side = found[0], found[3], 1
        else:
            h0 *= _damped(found[3] / h1) if side == -1 else 1.0
            x1, h1, side = found[0], found[3], -1
    found[3] = 0.0


@_inlined
def _damped(left: float) -> float:
    """By how much an end that stays is lowered, from the share left of the other."""
    return 1.0 - left if left < 1.0 else 0.5


@_entry
def maxima(tables: tuple[Any, ...], light: Array) -> Array:
    """Global maximum of power for many states of light.

    Parameters
    ----------
    tables : tuple
        Fields of `Net`; what changes with the light is overwritten.
    light : ndarray, shape (states, cells)
        Share of the sun on every cell, path by path.

    Returns
    -------
    ndarray, shape (states, 3)
        Power [W], voltage [V] and current [A].
    """
    net = Net(*tables)
    groups, levels, strings = net.groups, net.levels, net.strings
    room, nodes = np.zeros((2, len(groups) + len(levels) + len(strings) + 3))
    found, best = np.zeros((len(light), 3)), np.zeros(5)
    for n in range(len(light)):
        if _load(net, light[n]) < _DARK_A:
            continue
        _merge(net)
        best[:] = 0.0
        _search(net, nodes, _nodes(net, room, nodes), best)
        x, y = best[0], best[1]
        found[n] = (x * y, y, x) if len(strings) == 1 else (x * y, x, y)
    return found


@_entry
def junction_voltages(cell: tuple[float, ...], scale: float, found: Array) -> None:
    """Tabulate the junction voltage over IL − I, to either side of zero.

    Parameters
    ----------
    cell : tuple of float
        Fields of `cell.Junction`, in their order.
    scale : float
        Current at both ends of the table [A].
    found : ndarray, shape (ROWS, 4)
        Takes the cubic of every interval in |V| over |IL − I|, and straight lines beyond the ends.
    """
    unit = scale / (SPAN - 1.0)
    for side in range(2):
        sign = 1.0 - 2.0 * side
        row, x, v = side * (HALF + 1), 1.0, 0.0
        slope = _junction_slope(cell, 0.0)
        for k in range(HALF):
            next_x = np.int64((k + 1 + _FIRST_ROW) << _TAIL).view(np.float64)
            next_j = unit * (next_x - 1.0)
            next_v = _junction_voltage(cell, sign * next_j, sign * v) * sign
            next_slope = _junction_slope(cell, sign * next_v)
            h = next_x - x
            chord = (next_v - v) / h
            m0, m1 = min(slope * unit, 3.0 * chord), min(next_slope * unit, 3.0 * chord)
            c2, c3 = (3.0 * chord - 2.0 * m0 - m1) / h, (m0 + m1 - 2.0 * chord) / h**2
            found[row + k] = (v, m0, c2, c3)
            x, v, slope = next_x, next_v, next_slope
        found[row + HALF] = (v, slope * unit, 0.0, 0.0)


@_inlined
def _junction_slope(cell: tuple[float, ...], v: float) -> float:
    """Slope of the junction's voltage over its current [Ω]."""
    saturation, vt, _, g, vbr, factor, exponent = cell
    x = 1.0 - v / vbr
    p = factor * x**-exponent if factor > 0.0 else 0.0
    forward = float(saturation * np.exp(v / vt) / vt)
    return 1.0 / (forward + g * (1.0 + float(p) + v * float(p) * exponent / (vbr * x)))


@_inlined
def _junction_voltage(cell: tuple[float, ...], j: float, start: float) -> float:
    """Solve for the voltage by Newton, from a voltage nearer to zero."""
    saturation, vt, _, g, vbr, factor, exponent = cell
    v = start
    for _ in range(_STEPS):
        e = saturation * np.exp(v / vt)
        x = 1.0 - v / vbr
        p = factor * x**-exponent if factor > 0.0 else 0.0
        taken = e - saturation + g * v * (1.0 + p)
        slope = e / vt + g * (1.0 + p + v * p * exponent / (vbr * x))
        moved = v - (taken - j) / slope
        if j > 0.0:
            moved = min(moved, vt * np.log1p(j / saturation))
        elif factor > 0.0:
            moved = max(moved, vbr + _SHORTEST_APPROACH * (v - vbr))
        if abs(moved - v) < _CLOSE_JUNCTION_V:
            return float(moved)
        v = float(moved)
    return v
