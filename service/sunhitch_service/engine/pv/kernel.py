"""Maximum power of many light states, compiled: one state after the other, no memory kept.

Imported only where numba is installed, when the first batch is solved. Every operating point is
solved afresh, with a table of the junction voltage; nothing is drawn beforehand. As in `bounds`,
conductances at two points bound those between them, and intervals are split until none can hold
more power than the best point by more than `EXCESS` of it.

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
from .compiling import OPTIONS, F, compiled, inlined

Rows = NDArray[np.void]
Index = NDArray[np.int64]

OCTAVES, _FINENESS = 20, 4
"""A junction table has 2^fineness even intervals in every octave of 1 + |IL − I|, in its units."""
SPAN = 2.0**OCTAVES
"""1 + |IL − I| at the end of a table."""
HALF = OCTAVES << _FINENESS
"""Intervals of a junction table on either side of zero."""
TABLE_ROWS = 2 * (HALF + 1)
"""Forward, then reverse, each with one more for what is beyond."""
_COEFFICIENTS = 4
TAIL = 52 - _FINENESS
FIRST_ROW = 1023 << _FINENESS
"""A binary number without its last bits is the start of its interval; what is left counts them."""
LEVEL = np.dtype([("current", "f8"), ("many", "f8")])
"""Light current [A] and how many cells of the path have it; both change with the light."""
PATH = np.dtype(
    [
        ("cell", "i8"),  # first cell, and row of its levels
        ("cells", "i8"),  # how many
        ("table", "i8"),  # first row in the table of junction voltages
        ("gain", "f8"),  # its units per ampere
        ("resistance", "f8"),  # of all cells in series [Ω]
        ("turn", "f8"),  # IL − I at which a junction conducts least [A]
        ("largest", "f8"),  # its resistance there [Ω]
        ("count", "i8"),  # changes: how many levels
        ("many", "f8"),  # changes: equal paths of the group, 0 for all but the first
        ("i", "f8"),  # changes: current, voltage and −dI/dV when last evaluated
        ("v", "f8"),
        ("conductance", "f8"),
        ("forward", "f8"),  # changes: resistance of junctions above the turn [Ω]
        ("reverse", "f8"),  # changes: and of those below it [Ω]
        ("reversed", "f8"),  # changes: how many these are
    ]
)
GROUP = np.dtype(
    [
        ("cell", "i8"),
        ("cells", "i8"),
        ("first", "i8"),  # path
        ("end", "i8"),
        ("saturation", "f8"),  # bypass diode; 0 for none
        ("vt", "f8"),  # infinite for none
        ("r", "f8"),
        ("drop", "f8"),  # its voltage at a common current [V]
        ("many", "f8"),  # changes: equal groups of the string, 0 for all but the first
        ("onset", "f8"),  # changes: current at zero voltage [A]
        ("u", "f8"),  # changes: junction voltage of its diode when last evaluated [V]
        ("diode", "f8"),  # changes: conductance of the diode then [S]
        ("known", "i8"),  # changes: how many of its currents are traced
    ]
)
STRING = np.dtype(
    [
        ("cell", "i8"),
        ("cells", "i8"),
        ("first", "i8"),  # group
        ("end", "i8"),
        ("saturation", "f8"),  # blocking diode; 0 for none
        ("vt", "f8"),
        ("r", "f8"),  # its resistance and the cable's
        ("many", "f8"),  # changes: equal strings, 0 for all but the first
        ("i", "f8"),  # changes: current when last evaluated [A]
        ("known", "i8"),  # changes: how many of its points are known
    ]
)
MOST_KNOWN, MOST_PLACES = 48, 160
EXCESS = 8e-5
"""Share of the best power by which no interval may exceed it."""

_STEPS, _FEW_STEPS = 60, 12
_CLOSE_V = 1e-5
"""Error of voltage, as a share, from which one more straight step is exact enough."""
_HIGHEST_CELL_V, _LARGEST_REVERSE_V = 2.0, 1e6
_FIXED = 3
"""Places evaluated in any case, evenly spaced."""
_NARROWEST, _STEEPEST = 0.05, 8.0
_LEVEL, _POLISHES = 1e-3, 3
"""ln(x·|dy/dx|/y) at a top: the power is then right to the square of it."""
_DARK_A = 1e-9


def _entry(function: F) -> F:
    """Compile at the first call and keep the result on disk where a folder for it exists.

    Only functions with plain arguments: what is kept must be readable by later versions.
    """
    try:
        return cast(F, numba.njit(cache=True, **OPTIONS)(function))
    except RuntimeError:
        return cast(F, numba.njit(**OPTIONS)(function))


class Net(NamedTuple):
    """The array under one state of light.

    `levels`, `paths`, `groups` and `strings` are rows of the types above; `kinds` numbers what each
    cell belongs to: equal for groups of equal cells, paths and diode. `points` are what is known of
    every string, its current over its voltage, and `traces` of every path, its current over that of
    its group: abscissa, ordinate and slope, shape (…, MOST_KNOWN, 3). `table` is the cubic of the
    junction voltage [V] in how far |IL − I| is above the start of every interval, flat; `scale`
    the current at its end [A]. `places` are the operating points of the search: abscissa x,
    ordinate y, dy/dx, and the logarithm of its steepness over that at a top, which rises through
    zero there; of each, `junctions` are the fields forward, reverse and reversed of every path,
    `diodes` the conductances of the groups' diodes and `currents` those of the strings.
    """

    levels: Rows
    kinds: Index
    paths: Rows
    groups: Rows
    strings: Rows
    points: Array
    traces: Array
    table: Array
    scale: float
    places: Array
    junctions: Array
    diodes: Array
    currents: Array


@inlined
def _path_voltage(net: Net, p: int) -> None:
    """Voltage of a path at its current, −dI/dV, and what bounds that elsewhere.

    Unsigned, for a signed index would be looked at for counting from the end.
    """
    path = net.paths[p]
    gain, zero = path["gain"], np.uint64(_COEFFICIENTS * (path["table"] - FIRST_ROW))
    turn, v, own = path["turn"] * gain, 0.0, path["i"] * gain
    forward, reverse, reversed_ = 0.0, 0.0, 0.0
    for k in range(np.uint64(path["cell"]), np.uint64(path["cell"] + path["count"])):
        j, many = net.levels[k]["current"] * gain - own, net.levels[k]["many"]
        x = abs(j) + 1.0
        inside = x if x < SPAN else SPAN  # also where x is no number, else past the table's end
        bits = np.float64(inside).view(np.uint64) >> np.uint64(TAIL)
        t = x - np.uint64(bits << np.uint64(TAIL)).view(np.float64)
        at = bits * np.uint64(_COEFFICIENTS) + zero
        if j < 0.0:
            at += np.uint64(_COEFFICIENTS * (HALF + 1))
        c1, c2 = net.table[at + np.uint64(1)], net.table[at + np.uint64(2)]
        c3 = net.table[at + np.uint64(3)]
        volts = net.table[at] + t * (c1 + t * (c2 + t * c3))
        slope = many * (c1 + t * (2.0 * c2 + 3.0 * t * c3))
        v += -many * volts if j < 0.0 else many * volts
        if j < turn:
            reverse += slope
            reversed_ += many
        else:
            forward += slope
    path["forward"], path["reverse"], path["reversed"] = gain * forward, gain * reverse, reversed_
    path["v"] = v - path["resistance"] * path["i"]
    path["conductance"] = 1.0 / (path["resistance"] + gain * (forward + reverse))


@compiled
def _solve_path(net: Net, p: int, v: float) -> None:
    """Bring a path to a voltage, by Newton inside a bracket."""
    path = net.paths[p]
    low, high = -np.inf, np.inf
    for count in range(_STEPS):
        _path_voltage(net, p)
        left = path["v"] - v
        if abs(left) < _CLOSE_V:
            return
        if left > 0.0:
            low = path["i"]
        else:
            high = path["i"]
        path["i"] += left * path["conductance"]
        if not low < path["i"] < high or count % 4 == 3:
            path["i"] = _within(low, high, net.scale)


@inlined
def _within(low: float, high: float, scale: float) -> float:
    """Middle of a bracket, or a step beyond its only end."""
    if low == -np.inf:
        return high - 0.05 * scale - abs(high)
    if high == np.inf:
        return low + 0.05 * scale + abs(low)
    return 0.5 * (low + high)


@inlined
def _between(known: Array, count: int, x: float) -> tuple[int, int]:
    """Rows of what is known next below and above an abscissa; of one twice where it is beyond."""
    below, above = -1, -1
    for k in range(min(count, MOST_KNOWN)):
        if known[k, 0] <= x:
            if below < 0 or known[k, 0] > known[below, 0]:
                below = k
        elif above < 0 or known[k, 0] < known[above, 0]:
            above = k
    return (below if below >= 0 else above), (above if above >= 0 else below)


@inlined
def _expected(known: Array, below: int, above: int, x: float) -> float:
    """Ordinate by a monotone cubic between two rows, or along the tangent of one."""
    x0, y0, m0 = known[below, 0], known[below, 1], known[below, 2]
    if below == above:
        return float(y0 + (x - x0) * m0)
    h, m1 = known[above, 0] - x0, known[above, 2]
    t, chord = (x - x0) / h, (known[above, 1] - y0) / h
    m0 = m0 if abs(m0) < 3.0 * abs(chord) else 3.0 * chord
    m1 = m1 if abs(m1) < 3.0 * abs(chord) else 3.0 * chord
    c2, c3 = 3.0 * chord - 2.0 * m0 - m1, m0 + m1 - 2.0 * chord
    return float(y0 + h * t * (m0 + t * (c2 + t * c3)))


@inlined
def _keep(known: Array, count: int, x: float, y: float, slope: float) -> None:
    """Keep a point, in place of an older one where there is no room; the first two stay."""
    k = count if count < MOST_KNOWN else 2 + (count - 2) % (MOST_KNOWN - 2)
    known[k, 0], known[k, 1], known[k, 2] = x, y, slope


@inlined
def _drop(group: Any, u: float) -> float:  # noqa: ANN401 - a row of GROUP
    """Voltage across a bypass diode with its resistance, from that of its junction."""
    return float(u + group["r"] * group["saturation"] * np.expm1(u / group["vt"]))


@inlined
def _balanced(group: Any, surplus: float, conductance: float, u: float) -> float:  # noqa: ANN401
    """Junction voltage of a bypass diode that shares a current with a conductance.

    `surplus` is what the cells leave to the diode, and to their conductance below zero voltage.
    """
    saturation, vt, r = group["saturation"], group["vt"], group["r"]
    if saturation == 0.0:
        return float(surplus / conductance)
    for _ in range(_STEPS):
        e = saturation * np.exp(u / vt)
        through = e - saturation
        slope = conductance * (1.0 + r * e / vt) + e / vt
        change = (surplus - through - conductance * (u + r * through)) / slope
        moved = u + change
        if change > vt and moved > 0.0:
            moved = min(moved, max(u, 0.0) + vt * np.log1p(change / vt))
        u = moved
        if abs(change) < 0.01 * _CLOSE_V:
            break
    return float(u)


@compiled
def _group_voltage(net: Net, g: int, i: float) -> tuple[float, float]:
    """Voltage of a group and dV/dI at its current: Newton on all its currents at once."""
    group = net.groups[g]
    below, above = _between(net.traces[group["first"]], group["known"], i)
    for p in range(group["first"], group["end"]):
        if net.paths[p]["many"] > 0.0:
            net.paths[p]["i"] = _expected(net.traces[p], below, above, i)
    u = group["u"]
    for _ in range(_FEW_STEPS):
        total, conductance, off = 0.0, 0.0, 0.0
        for p in range(group["first"], group["end"]):
            path = net.paths[p]
            if path["many"] > 0.0:
                _path_voltage(net, p)
                total += path["many"] * (path["i"] + path["v"] * path["conductance"])
                conductance += path["many"] * path["conductance"]
        u = _balanced(group, i - total, conductance, u)
        v = -_drop(group, u)
        for p in range(group["first"], group["end"]):
            path = net.paths[p]
            if path["many"] > 0.0:
                off = max(off, abs(path["v"] - v))
                path["i"] += (path["v"] - v) * path["conductance"]
        if off < _CLOSE_V * (1.0 + abs(v)):
            return v, _keep_group(net, g, i, u, conductance)
    return _by_halving(net, g, i)


@inlined
def _keep_group(net: Net, g: int, i: float, u: float, conductance: float) -> float:
    """Keep what was found of a group; dV/dI."""
    group = net.groups[g]
    e = group["saturation"] * np.exp(u / group["vt"]) / group["vt"]
    group["u"], group["diode"] = u, e / (1.0 + group["r"] * e)
    slope = -1.0 / (conductance + group["diode"])
    for p in range(group["first"], group["end"]):
        path = net.paths[p]
        if path["many"] > 0.0:
            _keep(net.traces[p], group["known"], i, path["i"], -slope * path["conductance"])
    group["known"] += 1
    return float(slope)


@compiled
def _by_halving(net: Net, g: int, i: float) -> tuple[float, float]:
    """The same where Newton runs in circles: halving the voltage of the diode, or of the group."""
    group, low, u, conductance = net.groups[g], -_HIGHEST_CELL_V * net.groups[g]["cells"], 0.0, 0.0
    high = _LARGEST_REVERSE_V
    if group["saturation"] > 0.0:
        high = group["vt"] * np.log1p(net.scale / group["saturation"])
    while high - low > 0.1 * _CLOSE_V:
        u = 0.5 * (low + high)
        total, conductance = _current_at(net, g, u)
        if total > i:
            high = u
        else:
            low = u
    return -_drop(group, u), _keep_group(net, g, i, u, conductance)


@compiled
def _current_at(net: Net, g: int, u: float) -> tuple[float, float]:
    """Current and conductance of a group at the junction voltage of its diode."""
    group = net.groups[g]
    total, conductance = group["saturation"] * np.expm1(u / group["vt"]), 0.0
    for p in range(group["first"], group["end"]):
        path = net.paths[p]
        if path["many"] > 0.0:
            _solve_path(net, p, -_drop(group, u))
            total += path["many"] * path["i"]
            conductance += path["many"] * path["conductance"]
    return total, conductance


@compiled
def _string_voltage(net: Net, number: int, i: float) -> tuple[float, float]:
    """Voltage of a string and dV/dI at its current."""
    string = net.strings[number]
    string["i"] = i
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


@compiled
def _string_current(net: Net, number: int, v: float) -> tuple[float, float]:
    """Current of a string and dI/dV at its voltage, by Newton inside a bracket."""
    string = net.strings[number]
    low = -net.scale
    if string["saturation"] > 0.0:
        low, surplus = 0.0, net.points[number, 0, 0] - v
        if surplus <= 0.0:
            _string_voltage(net, number, 0.0)
            e = string["saturation"] * np.exp(surplus / string["vt"])
            string["i"] = e - string["saturation"]
            return e - string["saturation"], -e / string["vt"]
    i, at_v, slope = low, v, -1.0
    for count in range(_STEPS):
        known = net.points[number]
        below, above = _between(known, string["known"], v)
        i = _expected(known, below, above, v)
        if count % 8 == 7:
            i = 0.5 * (known[below, 1] + known[above, 1])
        i = min(max(i, low), net.scale)
        at_v, slope = _string_point(net, number, i)
        if not abs(at_v - v) >= _CLOSE_V * (1.0 + v):
            break
    return i + (v - at_v) / slope, 1.0 / slope


@inlined
def _string_point(net: Net, number: int, i: float) -> tuple[float, float]:
    """Evaluate a string at a current and keep the point: voltage and dV/dI."""
    v, slope = _string_voltage(net, number, i)
    _keep(net.points[number], net.strings[number]["known"], v, i, 1.0 / slope)
    net.strings[number]["known"] += 1
    return v, slope


@inlined
def _alike(kinds: Index, cells: Array, one: Any, other: Any) -> bool:  # noqa: ANN401 - rows
    """Whether two parts have cells of the same kinds in the same light."""
    if one["cells"] != other["cells"]:
        return False
    for k in range(one["cells"]):
        a, b = one["cell"] + k, other["cell"] + k
        if cells[a] != cells[b] or kinds[a] != kinds[b]:
            return False
    return True


@compiled
def _merge(parts: Rows, first: int, end: int, each: float, kinds: Index, cells: Array) -> None:
    """Count equal parts at the first of them."""
    for k in range(first, end):
        parts[k]["many"] = each
        for other in range(first, k):
            if parts[other]["many"] > 0.0 and _alike(kinds, cells, parts[k], parts[other]):
                parts[other]["many"] += each
                parts[k]["many"] = 0.0
                break


@compiled
def _load(net: Net, cells: Array) -> None:
    """Take one state's light currents, rising within every path: distinct parts, levels, onsets."""
    _merge(net.strings, 0, len(net.strings), 1.0, net.kinds, cells)
    for string in net.strings:
        each = 1.0 if string["many"] > 0.0 else 0.0
        _merge(net.groups, string["first"], string["end"], each, net.kinds, cells)
        for g in range(string["first"], string["end"]):
            group = net.groups[g]
            if group["many"] > 0.0:
                _merge(net.paths, group["first"], group["end"], 1.0, net.kinds, cells)
                for p in range(group["first"], group["end"]):
                    if net.paths[p]["many"] > 0.0:
                        _find_levels(net, net.paths[p], cells)
                _find_onset(net, g)


@inlined
def _find_levels(net: Net, path: Any, cells: Array) -> None:  # noqa: ANN401 - a row of PATH
    """Distinct light currents of a path with their numbers of cells."""
    last = path["cell"] - 1
    for k in range(path["cell"], path["cell"] + path["cells"]):
        if last >= path["cell"] and net.levels[last]["current"] == cells[k]:
            net.levels[last]["many"] += 1.0
        else:
            last += 1
            net.levels[last]["current"], net.levels[last]["many"] = cells[k], 1.0
    path["count"] = last + 1 - path["cell"]


@compiled
def _find_onset(net: Net, g: int) -> None:
    """Trace a group's currents at zero voltage, and where its diode carries a common current."""
    group = net.groups[g]
    for p in range(group["first"], group["end"]):
        net.paths[p]["i"] = net.levels[net.paths[p]["cell"]]["current"]
    group["known"] = 0
    for u in (group["drop"], 0.0):
        group["onset"], conductance = _current_at(net, g, u)
        _keep_group(net, g, group["onset"], u, conductance)


@compiled
def _solve_place(net: Net, k: int, x: float) -> None:
    """Evaluate a place: of one string voltage over current, of several current over voltage."""
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
    place = net.places[k]
    place[0], place[1], place[2], place[3] = x, y, slope, _STEEPEST
    if x * y > 0.0:
        place[3] = min(max(np.log(-slope * x / y), -_STEEPEST), _STEEPEST)
    elif x == 0.0:
        place[3] = -_STEEPEST
    for p in range(len(net.paths)):
        path, kept = net.paths[p], net.junctions[k, p]
        kept[0], kept[1], kept[2] = path["forward"], path["reverse"], path["reversed"]
    for g in range(len(net.groups)):
        net.diodes[k, g] = net.groups[g]["diode"]
    for number in range(len(net.strings)):
        net.currents[k, number] = net.strings[number]["i"]


@inlined
def _path_bounds(net: Net, p: int, low: int, high: int) -> tuple[float, float]:
    """Least and largest resistance of a path between two places, its voltages lower at the first.

    Above the turn a junction's resistance falls as its voltage rises, below it rises.
    """
    path, one, two = net.paths[p], net.junctions[low, p], net.junctions[high, p]
    crossed = max(one[2] - two[2], 0.0) * path["largest"]
    least = max(min(two[0], one[0] + crossed) + min(one[1], two[1] + crossed) - crossed, 0.0)
    return path["resistance"] + least, path["resistance"] + one[0] + two[1] + crossed


@compiled
def _conductance_bounds(net: Net, low: int, high: int) -> tuple[float, float]:
    """Least and largest −dI/dV of the array between two places, voltages lower at the first."""
    least, most = 0.0, 0.0
    for number in range(len(net.strings)):
        string = net.strings[number]
        if string["many"] == 0.0:
            continue
        below = above = string["r"]
        if string["saturation"] > 0.0:
            one, two = net.currents[low, number], net.currents[high, number]
            below += string["vt"] / (string["saturation"] + max(one, two))
            above += string["vt"] / max(string["saturation"] + min(one, two), 1e-300)
        for g in range(string["first"], string["end"]):
            group = net.groups[g]
            if group["many"] > 0.0:
                small = min(net.diodes[low, g], net.diodes[high, g])
                large = max(net.diodes[low, g], net.diodes[high, g])
                for p in range(group["first"], group["end"]):
                    many = net.paths[p]["many"]
                    if many > 0.0:
                        bottom, top = _path_bounds(net, p, low, high)
                        small += many / top
                        large += many / bottom
                below += group["many"] / large
                above += group["many"] / small
        least += string["many"] / above
        most += string["many"] / below
    return least, most


@compiled
def _power_bound(net: Net, left: int, right: int) -> float:
    """Power that no place between two exceeds; see `bounds.power_bounds`."""
    x0, y0 = net.places[left, 0], net.places[left, 1]
    x1, y1 = net.places[right, 0], net.places[right, 1]
    if len(net.strings) == 1:
        inverse_most, inverse_least = _conductance_bounds(net, right, left)
        least, most = 1.0 / inverse_least, 1.0 / inverse_most
    else:
        least, most = _conductance_bounds(net, left, right)
    if not most < np.inf:
        return float(x1 * y0)
    on_left, on_right, meet = y0 + least * x0, y1 + most * x1, x1
    if most > least:
        meet = min(max((on_right - on_left) / (most - least), x0), x1)
    first = min(max(0.5 * on_left / least, x0), meet)
    second = min(max(0.5 * on_right / most, meet), x1)
    bound = max(first * (on_left - least * first), second * (on_right - most * second))
    return float(min(bound, x1 * y0))


@inlined
def _end(net: Net) -> float:
    """Abscissa from which on there is no power; of several strings, learn both ends of each."""
    end = 0.0
    for number in range(len(net.strings)):
        string = net.strings[number]
        if string["many"] > 0.0:
            top = 0.0
            for g in range(string["first"], string["end"]):
                if net.groups[g]["many"] > 0.0:
                    top = max(top, net.groups[g]["onset"])
            if len(net.strings) > 1:
                string["known"] = 0
                opens, _ = _string_point(net, number, 0.0)
                _string_point(net, number, top)
                top = opens
            end = max(end, top)
    return end


@compiled
def _search(net: Net, rights: Index, bounds: Array) -> tuple[int, float]:
    """Best of the places, polished, and what bounds the power.

    Splits what may hold more, the likeliest first. Every place but the last begins an interval;
    `rights` and `bounds` are where it ends and what its power does not exceed.
    """
    end, best, count = _end(net), 0, _FIXED + 2
    for k in range(count):
        _solve_place(net, k, end * k / (count - 1))
        rights[k], best = k + 1, _better(net, best, k)
    for k in range(count - 1):
        bounds[k] = _power_bound(net, k, k + 1)
    rights[count - 1] = -1
    widest = int(np.argmax(bounds[:count]))
    while bounds[widest] > _power(net, best) * (1.0 + EXCESS) and count < MOST_PLACES - _POLISHES:
        _insert(net, widest, rights, count)
        bounds[widest], bounds[count] = (
            _power_bound(net, widest, count),
            _power_bound(net, count, rights[count]),
        )
        best, count = _better(net, best, count), count + 1
        widest = int(np.argmax(bounds[:count]))
    bound = float(bounds[widest])
    for _ in range(_POLISHES):
        left = best
        if abs(net.places[best, 3]) < _LEVEL:
            break
        if net.places[best, 3] > 0.0:
            left = 0
            while rights[left] != best:
                left += 1
        _insert(net, left, rights, count)
        best, count = _better(net, best, count), count + 1
    for k in range(count):  # a curve that does not fall, or is no number, was not solved
        slack = 10.0 * _CLOSE_V * (1.0 + abs(net.places[k, 1]))
        falls = rights[k] < 0 or net.places[rights[k], 1] <= net.places[k, 1] + slack
        if not (falls and net.places[k, 2] <= 0.0):
            bound = np.inf
    return best, max(bound, _power(net, best))


@inlined
def _power(net: Net, k: int) -> float:
    return float(net.places[k, 0] * net.places[k, 1])


@inlined
def _better(net: Net, one: int, other: int) -> int:
    """The place with more power."""
    return other if _power(net, other) > _power(net, one) else one


@inlined
def _insert(net: Net, left: int, rights: Index, new: int) -> None:
    """Split an interval near its top if it holds one, else in the middle."""
    right = rights[left]
    x0, h0 = net.places[left, 0], net.places[left, 3]
    x1, h1 = net.places[right, 0], net.places[right, 3]
    share = 0.5
    if h0 < 0.0 < h1:
        share = min(max(h0 / (h0 - h1), _NARROWEST), 1.0 - _NARROWEST)
    _solve_place(net, new, x0 + share * (x1 - x0))
    rights[new], rights[left] = right, new


@_entry
def maxima(tables: tuple[Any, ...], cells: Array) -> Array:
    """Global maximum of power for many states of light.

    Parameters
    ----------
    tables : tuple
        Fields of `Net`; what changes with the light is overwritten.
    cells : ndarray, shape (states, cells)
        Light current of every cell [A], path by path, rising within each.

    Returns
    -------
    ndarray, shape (states, 4)
        Power [W], voltage [V] and current [A], and the power that none exceeds [W].
    """
    net = Net(*tables)
    rights, bounds = np.zeros(MOST_PLACES, np.int64), np.zeros(MOST_PLACES)
    found = np.zeros((len(cells), 4))
    for n in range(len(cells)):
        if cells[n].max() < _DARK_A:
            continue
        _load(net, cells[n])
        best, bound = _search(net, rights, bounds)
        x, y = net.places[best, 0], net.places[best, 1]
        found[n, 0], found[n, 1], found[n, 2], found[n, 3] = x * y, x, y, bound
        if len(net.strings) == 1:
            found[n, 1], found[n, 2] = y, x
    return found
