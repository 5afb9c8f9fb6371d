"""Newton's steps and the bounds between solved points, compiled: as in `newton` and `bounds`.

Imported only by `loops`. A step of a small array takes some fifty calls of NumPy; here it is one,
and the points take the same steps as there.
"""

import numpy as np
from numpy.typing import NDArray

from .compiling import F1, F2, F3, I1, MADE_1, MADE_2, MADE_3, entry, inlined

Array = NDArray[np.float64]
Index = NDArray[np.int64]
Mask = NDArray[np.bool_]
Limits = tuple[float, float, float]
"""Largest exponent of e, nearest share of the breakdown voltage, least conductance of a diode."""
Tree = tuple[
    Array, Array, Array, Index, Array, Array, Index, Array, Array, Index, Array, Array, float
]
"""As `Network.flat` has it."""
Linear = tuple[Array, Array, Array, Array, Array, Array]
"""Of one point: of cells what is left of the light current [A] and the resistance [Ω]; of paths,
groups, strings the source and the resistance or conductance, and of groups' and strings' diodes
the current last, the parts of these in columns."""
_TREE = f"Tuple(({F2}, {F1}, {F1}, {I1}, {F1}, {F1}, {I1}, {F1}, {F2}, {I1}, {F1}, {F1}, f8))"


@inlined
def _dark_current(v: float, cell: Array, limits: Limits) -> tuple[float, float, float]:
    """As `cell.dark_current`; multiplies by reciprocals, which takes a quarter of the time."""
    saturation, shunt, vbr, factor, m = cell[0], cell[3], cell[4], cell[5], cell[6]
    per_vt, per_vbr = cell[7], cell[8]
    e = saturation * np.exp(min(v * per_vt, limits[0]))
    ohmic, first, second = shunt, 0.0, 0.0
    if factor > 0.0:
        inner = min(vbr - v, limits[1] * vbr)
        per_inner = 1.0 / inner
        avalanche = shunt * factor * (inner * per_vbr) ** -m
        ohmic += avalanche
        first = avalanche * m * per_inner
        second = first * (m + 1.0) * per_inner
    slope = e * per_vt
    return (
        e - saturation + ohmic * v,
        slope + ohmic + v * first,
        slope * per_vt + 2.0 * first + v * second,
    )


@inlined
def _diode_current(u: float, diode: Array, limits: Limits) -> tuple[float, float, float]:
    """As `cell.diode_current`, of a diode with the fields of `Diode` in order."""
    e = diode[0] * np.exp(min(u / diode[1], limits[0]))
    slope = e / diode[1]
    return e - diode[0] + limits[2] * u, slope + limits[2], slope / diode[1]


@inlined
def _turned(
    source: float, conductance: float, curvature: float, many: float
) -> tuple[float, float, float]:
    """So many equal parts in the other form, from Norton's to Thévenin's or back."""
    inverse = 1.0 / conductance
    weight = many * inverse
    return weight * source, weight, weight * curvature * inverse * inverse


@entry(f"{MADE_3}({F3}, {F1}, {I1})")
def reduced(parts: Array, many: Array, starts: Index) -> Array:
    """Owners in the other form: their parts turned and added up; as `newton.reduced`.

    Parameters
    ----------
    parts : ndarray, shape (3, points, parts)
        Sources, conductances or resistances, and curvatures.
    many : ndarray, shape (parts,)
        How many of each.
    starts : ndarray of int, shape (owners,)
        First part of every owner.

    Returns
    -------
    ndarray, shape (3, points, owners)
        The same of the owners.
    """
    _, points, count = parts.shape
    found = np.zeros((3, points, len(starts)))
    for point in range(points):
        for owner in range(len(starts)):
            end = starts[owner + 1] if owner + 1 < len(starts) else count
            for part in range(starts[owner], end):
                source, conductance, curvature = _turned(
                    parts[0, point, part], parts[1, point, part], parts[2, point, part], many[part]
                )
                found[0, point, owner] += source
                found[1, point, owner] += conductance
                found[2, point, owner] += curvature
    return found


@inlined
def _reduced(
    tree: Tree, own_v: Array, bypass_u: Array, blocking_u: Array, limits: Limits, linear: Linear
) -> tuple[float, float, float]:
    """Linearise all parts of a point, and reduce them to source, conductance and curvature."""
    cells, current, many, branch_start, branch_many, branch_r = tree[:6]
    group_start, group_many, bypass, string_start, string_many, blocking, resistance = tree[6:]
    short, resistances, branches, groups, strings, diodes = linear
    a0, a1, a2 = 0.0, 0.0, 0.0
    for string in range(len(string_many)):
        s0, s1, s2 = 0.0, resistance, 0.0
        for group in range(string_start[string], string_start[string + 1]):
            u = bypass_u[group]
            i, g, bend = _diode_current(u, bypass[group], limits)
            loop = 1.0 + g * bypass[group, 2]
            g0, g1, g2 = (i - g * u) / loop, g / loop, bend / (loop * loop * loop)
            diodes[group, 0], diodes[group, 1], diodes[group, 2] = g0, g1, i
            for branch in range(group_start[group], group_start[group + 1]):
                b0, b1, b2 = 0.0, branch_r[branch], 0.0
                for cell in range(branch_start[branch], branch_start[branch + 1]):
                    v = own_v[cell]
                    own = cells[cell % len(cells)]
                    dark, conductance, bend = _dark_current(v, own, limits)
                    light = current[cell] - dark
                    c0, c1, c2 = _turned(light + conductance * v, conductance, -bend, many[cell])
                    short[cell], resistances[cell] = light, 1.0 / conductance
                    b0, b1, b2 = b0 + c0, b1 + c1, b2 + c2
                branches[branch, 0], branches[branch, 1] = b0, b1
                b0, b1, b2 = _turned(b0, b1, b2, branch_many[branch])
                g0, g1, g2 = g0 + b0, g1 + b1, g2 + b2
            groups[group, 0], groups[group, 1] = g0, g1
            g0, g1, g2 = _turned(g0, g1, g2, group_many[group])
            s0, s1, s2 = s0 + g0, s1 + g1, s2 + g2
        if blocking[0] > 0.0:
            u = blocking_u[string]
            i, g, bend = _diode_current(u, blocking, limits)
            s0 -= u - i / g
            s1 += blocking[2] + 1.0 / g
            s2 += bend / (g * g * g)
            strings[string, 2], strings[string, 3] = i, g
        strings[string, 0], strings[string, 1] = s0, s1
        s0, s1, s2 = _turned(s0, s1, s2, string_many[string])
        a0, a1, a2 = a0 + s0, a1 + s1, a2 + s2
    return a0, a1, a2


@inlined
def _terminal_v(v: float, reduced: tuple[float, float, float], low: float, high: float) -> float:
    """Voltage where power is level, between two; as `newton.NewtonTree.terminals`."""
    source, conductance, curvature = reduced
    bend = v * curvature - 2.0 * conductance
    if bend < 0.0:
        v -= (source - 2.0 * conductance * v) / bend
    return min(max(v, low), high)


@inlined
def _moved(v: float, change: float, cell: Array, shortest: float) -> float:
    """As `newton.NewtonTree._limited`."""
    vt, moved = float(cell[1]), v + change
    if cell[5] > 0.0:
        moved = max(moved, (1.0 - shortest) * cell[4] + shortest * v)
    if change > 2.0 * vt:
        moved = min(moved, max(v, 0.0) + vt * np.log1p(change / vt))
    return moved


@inlined
def _moved_diode(u: float, wanted: float, thermal: float) -> float:
    """As `newton._limited_diode`."""
    change = wanted - u
    if change > 2.0 * thermal and wanted > 5.0 * thermal:
        wanted = min(wanted, max(u, 5.0 * thermal) + thermal * np.log1p(change / thermal))
    return wanted


@inlined
def _worse(worst: float, change: float) -> float:
    """The larger; once it is no number, it stays so."""
    return change if change > worst or np.isnan(change) else worst


@inlined
def _carried_down(
    tree: Tree,
    terminal_v: float,
    state: tuple[Array, Array, Array, Array, Array, Array],
    linear: Linear,
    scale: float,
    shortest: float,
) -> float:
    """Currents and voltages of all parts of a point, moved; returns the largest change."""
    cells, _, _, branch_start, _, _ = tree[:6]
    group_start, _, bypass, string_start, string_many, blocking, _ = tree[6:]
    short, resistances, branches, groups, strings, diodes = linear
    own_v, bypass_u, blocking_u, string_i, group_v, branch_i = state
    worst = 0.0
    for string in range(len(string_many)):
        i = (strings[string, 0] - terminal_v) / strings[string, 1]
        string_i[string] = i
        for group in range(string_start[string], string_start[string + 1]):
            v = (groups[group, 0] - i) / groups[group, 1]
            group_v[group] = v
            for branch in range(group_start[group], group_start[group + 1]):
                through = (branches[branch, 0] - v) / branches[branch, 1]
                branch_i[branch] = through
                for cell in range(branch_start[branch], branch_start[branch + 1]):
                    before = own_v[cell]
                    change = (short[cell] - through) * resistances[cell]
                    own_v[cell] = after = _moved(before, change, cells[cell % len(cells)], shortest)
                    worst = _worse(worst, abs(after - before) / (1.0 + abs(after)))
            goal = diodes[group, 0] - diodes[group, 1] * v
            wanted = -v - goal * bypass[group, 2]
            bypass_u[group] = _moved_diode(bypass_u[group], wanted, bypass[group, 1])
            worst = _worse(worst, abs(goal - diodes[group, 2]) / scale)
        if blocking[0] > 0.0:
            apart = i - strings[string, 2]
            wanted = blocking_u[string] + apart / strings[string, 3]
            blocking_u[string] = _moved_diode(blocking_u[string], wanted, blocking[1])
            worst = _worse(worst, abs(apart) / scale)
    return worst


@entry(
    f"b1({_TREE}, UniTuple({MADE_1}, 4), UniTuple({MADE_2}, 6), b1[::1], {F2}, f8,"
    " Tuple((UniTuple(f8, 3), UniTuple(f8, 4), UniTuple(i8, 3))))"
)
def solved(
    tree: Tree,
    array: tuple[Array, Array, Array, Array],
    parts: tuple[Array, Array, Array, Array, Array, Array],
    is_open: Mask,
    reach: Array,
    scale: float,
    settings: tuple[Limits, tuple[float, float, float, float], tuple[int, int, int]],
) -> bool:
    """Iterate to the exact operating points, step by step as `newton.solve`.

    Parameters
    ----------
    tree : tuple
        The network.
    array : tuple of ndarray, shape (points,)
        Voltage [V], current [A], conductance [S] and curvature [A/V²] of the array.
    parts : tuple of ndarray, shape (points, …)
        As in `newton.State` from `junction_v` on.
    is_open : ndarray of bool, shape (points,)
        Points at which no current flows.
    reach : ndarray, shape (2, points)
        Voltages between which a point is taken to where power is level.
    scale : float
        Against which currents are small or not [A].
    settings : tuple
        Limits; of `newton` `_TOLERANCE`, `_NEAR`, `_ROUNDING`, `_SHORTEST_APPROACH`; and
        `_MANY_STEPS`, `_MOST_STEPS`, `_FOLLOWED_STEPS`.

    Returns
    -------
    bool
        Whether all are solved; `array` and `parts` are changed in place.
    """
    limits, (tolerance, near, rounding, shortest), counts = settings
    many_steps, most_steps, followed_steps = counts
    voltages, currents, conductances, curvatures = array
    all_v, bypass_u, blocking_u, string_i, group_v, branch_i = parts
    cells, groups = all_v.shape[1], group_v.shape[1]
    branches, strings = branch_i.shape[1], string_i.shape[1]
    linear = (
        np.empty(cells),
        np.empty(cells),
        np.empty((branches, 2)),
        np.empty((groups, 2)),
        np.empty((strings, 4)),
        np.empty((groups, 3)),
    )
    before = 0.0
    for step in range(most_steps):
        worst = 0.0
        for k in range(len(voltages)):
            own = all_v[k], bypass_u[k], blocking_u[k], string_i[k], group_v[k], branch_i[k]
            reduced = _reduced(tree, own[0], own[1], own[2], limits, linear)
            source, conductance, curvature = reduced
            if not conductance > 0.0:
                return False
            v = source / conductance if is_open[k] else voltages[k]
            if step < followed_steps and reach[0, k] < reach[1, k]:
                v = _terminal_v(v, reduced, reach[0, k], reach[1, k])
            worst = _worse(worst, abs(v - voltages[k]) / (1.0 + v))
            voltages[k], currents[k] = v, source - conductance * v
            conductances[k], curvatures[k] = conductance, curvature
            worst = _worse(worst, _carried_down(tree, v, own, linear, scale, shortest))
        if (
            worst < tolerance
            or (worst < near and worst * worst < tolerance * before)
            or (worst < rounding and step > many_steps)
        ):
            return True
        before = worst
    return False


@inlined
def _turn(cell: Array) -> tuple[float, float]:
    """As `bounds._turn`."""
    shunt, vbr, factor, m = cell[3], cell[4], cell[5], cell[6]
    share = 2.0 / max(m - 1.0, 1e-9) if m > 1.0 else np.inf
    x = 1.0 + min(share, 1e9)
    return -vbr * share, shunt * (1.0 + factor * x**-m * (1.0 - m * (x - 1.0) / x))


@inlined
def _diode_conductance(u: float, diode: Array, limits: Limits) -> float:
    """Of a diode with its resistance [S]."""
    slope = _diode_current(u, diode, limits)[1]
    return float(slope / (1.0 + slope * diode[2]))


@entry(f"{MADE_2}({_TREE}, UniTuple({F2}, 3), {I1}, {I1}, UniTuple(f8, 3))")
def conductance_bounds(
    tree: Tree, parts: tuple[Array, Array, Array], left: Index, right: Index, limits: Limits
) -> Array:
    """Least and largest conductance of the array between points; as `bounds.conductance_bounds`.

    Parameters
    ----------
    tree : tuple
        The network.
    parts : tuple of ndarray, shape (points, …)
        Voltages of cells, bypass diodes and blocking diodes [V].
    left, right : ndarray of int, shape (intervals,)
        Points at the ends.
    limits : tuple
        Of `cell`.

    Returns
    -------
    ndarray, shape (2, intervals)
        [S].
    """
    cells, _, many, branch_start, branch_many, branch_r = tree[:6]
    group_start, group_many, bypass, string_start, string_many, blocking, resistance = tree[6:]
    cell_v, bypass_u, blocking_u = parts
    points, count = cell_v.shape
    rising, rest = np.empty((points, count)), np.empty((points, count))
    turns = np.empty((count, 2))
    for cell in range(count):
        own = cells[cell % len(cells)]
        turns[cell, 0], turns[cell, 1] = _turn(own)
        for k in range(points):
            v = cell_v[k, cell]
            diode = own[0] * own[7] * np.exp(min(v * own[7], limits[0]))
            rising[k, cell], rest[k, cell] = diode, _dark_current(v, own, limits)[1] - diode
    found = np.zeros((2, len(left)))
    for number in range(len(left)):
        one, two = left[number], right[number]
        for string in range(len(string_many)):
            low_r, high_r = resistance, resistance
            if blocking[0] > 0.0:
                first = _diode_conductance(blocking_u[one, string], blocking, limits)
                second = _diode_conductance(blocking_u[two, string], blocking, limits)
                low_r += 1.0 / max(first, second)
                high_r += 1.0 / min(first, second)
            for group in range(string_start[string], string_start[string + 1]):
                first = _diode_conductance(bypass_u[one, group], bypass[group], limits)
                second = _diode_conductance(bypass_u[two, group], bypass[group], limits)
                least, most = min(first, second), max(first, second)
                for branch in range(group_start[group], group_start[group + 1]):
                    low, high = branch_r[branch], branch_r[branch]
                    for cell in range(branch_start[branch], branch_start[branch + 1]):
                        first, second = rest[one, cell], rest[two, cell]
                        floor = min(first, second)
                        if cell_v[one, cell] < turns[cell, 0] < cell_v[two, cell]:
                            floor = min(floor, turns[cell, 1])
                        e1, e2 = rising[one, cell], rising[two, cell]
                        low += many[cell] / max(max(e1, e2) + max(first, second), limits[2])
                        high += many[cell] / max(min(e1, e2) + floor, limits[2])
                    least += branch_many[branch] / high
                    most += branch_many[branch] / low
                low_r += group_many[group] / most
                high_r += group_many[group] / least
            found[0, number] += string_many[string] / high_r
            found[1, number] += string_many[string] / low_r
    return found


@entry(f"{MADE_2}({F2}, {F1}, UniTuple(f8, 3), f8, i8)")
def cell_maxima(
    cells: Array, currents: Array, limits: Limits, close_v: float, most_steps: int
) -> Array:
    """Maximum power of single cells and its voltage, each by itself; as `cell.cell_maxima`.

    Parameters
    ----------
    cells : ndarray, shape (n, 9) or (1, 9)
        As `cell.rows_of` has them.
    currents : ndarray, shape (n,)
        Light currents [A].
    limits, close_v, most_steps : tuple, float, int
        Of `cell`.

    Returns
    -------
    ndarray, shape (2, n)
        Power [W] and terminal voltage [V].
    """
    found = np.empty((2, len(currents)))
    for k in range(len(currents)):
        cell, current = cells[k % len(cells)], currents[k]
        vt, rs = cell[1], cell[2]
        ratio = np.log1p(current / cell[0])
        arm = max(vt * (ratio - np.log1p(ratio)) - 2.0 * rs * current, 0.0)
        v = vt * (ratio - np.log1p(min(arm / vt, ratio)))
        v = min(v, current / (2.0 * cell[3]))
        i = current
        for _ in range(most_steps):
            taken, slope, bend = _dark_current(v, cell, limits)
            arm = v - 2.0 * rs * (current - taken)
            change = current - taken - slope * arm
            change /= bend * arm + 2.0 * slope * (1.0 + slope * rs)
            moved = min(max(v + change, 0.0), ratio * vt)
            change, v = moved - v, moved
            i = current - taken - change * (slope + 0.5 * bend * change)
            if abs(change) < close_v:
                break
        v -= i * rs
        found[0, k], found[1, k] = max(i * v, 0.0), v
    return found
