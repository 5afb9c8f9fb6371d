"""Operating points of a network and of single cells, by Newton's method."""

from typing import Any, NamedTuple

import numpy as np

from sunhitch_service.engine.pv.compiler import F1, F2, I1, Array, Index, called, entry, inlined

Part = tuple[float, float, float]
"""Source, resistance or conductance, and curvature of something linearised."""
Bounds = tuple[float, float]
"""Least and largest."""
Ends = tuple[int, int]
"""Rows of the points at the ends of an interval."""
_LARGEST_EXPONENT, _NEAREST_BREAKDOWN = 600.0, 1e-12
"""As in `cell`."""


class Tree(NamedTuple):
    """A network's parts, named as in `network.Network`.

    `junctions` are rows of the fields of `cell.Junction`; `diodes` and `blocking` are saturation
    currents [A], n·k·T/q [V] and series resistances [Ω], with no saturation current for none.
    """

    current: Array
    cell_many: Array
    model: Index
    junctions: Array
    branch_start: Index
    branch_many: Array
    group_start: Index
    group_many: Array
    diodes: Array
    string_start: Index
    string_many: Array
    blocking: Array
    resistance: float


_TREE = f"Tuple(({F1}, {F1}, {I1}, {F2}, {I1}, {F1}, {I1}, {F1}, {F2}, {I1}, {F1}, {F1}, float64))"


class Unknowns(NamedTuple):
    """What changes from step to step, a row for each operating point, as in `newton.State`.

    The columns of `terminals` are voltage, current, −dI/dV and d²I/dV² of the array, and whether
    it is open.
    """

    terminals: Array
    junction_v: Array
    bypass_u: Array
    blocking_u: Array
    string_i: Array
    group_v: Array
    branch_i: Array


_UNKNOWNS = f"UniTuple({F2}, 7)"


class Limits(NamedTuple):
    """What ends and damps the iteration; as the constants of `newton`."""

    scale: float
    tolerance: float
    near: float
    rounding: float
    many_steps: int
    most_steps: int
    shortest_approach: float
    least_conductance: float


_LIMITS = "Tuple((float64, float64, float64, float64, int64, int64, float64, float64))"


class Work(NamedTuple):
    """What one point after the other is computed with.

    Rows of `cells` are light less dark current [A] and the inverse of its slope [Ω]; of `branches`,
    `groups` and `strings` the source and the resistance or conductance of what is linear; of
    `bypass` the diode's current [A] and then the same; of `blocking` current [A] and slope [S].
    """

    tree: Tree
    unknown: Unknowns
    limit: Limits
    cells: Array
    branches: Array
    groups: Array
    strings: Array
    bypass: Array
    blocking: Array


@inlined
def _own(starts: Index, owner: int, parts: int) -> range:
    """Numbers of an owner's parts."""
    return range(starts[owner], starts[owner + 1] if owner + 1 < len(starts) else parts)


@inlined
def _dark(v: float, cell: Array) -> tuple[float, float, float]:
    """As `cell.dark_current`."""
    saturation, vt, g, vbr = cell[0], cell[1], cell[3], cell[4]
    factor, m = cell[5], cell[6]
    e = saturation * np.exp(min(v / vt, _LARGEST_EXPONENT))
    e1 = e / vt
    p = p1 = bend = p2 = 0.0
    if factor > 0.0:
        inner = min(vbr - v, _NEAREST_BREAKDOWN * vbr)
        p = g * factor * (inner / vbr) ** -m
        p1 = p * m / inner
        bend = v * p1
        p2 = 2.0 * p1 + bend * ((m + 1.0) / inner)
    return e - saturation + (g + p) * v, e1 + g + p + bend, e1 / vt + p2


@inlined
def _diode(u: float, saturation: float, vt: float, least: float) -> tuple[float, float, float]:
    """As `cell.diode_current`."""
    e = saturation * np.exp(min(u / vt, _LARGEST_EXPONENT))
    slope = e / vt
    return e - saturation + least * u, slope + least, slope / vt


@inlined
def _followed(u: float, wanted: float, vt: float) -> float:
    """A diode's voltage after one step: along the exponential where it conducts."""
    change = wanted - u
    if change > 2.0 * vt and wanted > 5.0 * vt:
        return min(wanted, max(u, 5.0 * vt) + vt * float(np.log1p(change / vt)))
    return wanted


@inlined
def _approached(v: float, change: float, cell: Array, share: float) -> float:
    """A junction's voltage after one step: along the exponential, and never to breakdown."""
    vt = cell[1]
    moved = v + change
    if cell[5] > 0.0:
        moved = max(moved, (1.0 - share) * cell[4] + share * v)
    if change > 2.0 * vt:
        moved = min(moved, max(v, 0.0) + vt * np.log1p(change / vt))
    return moved


@inlined
def _turned(many: float, source: float, size: float, bend: float) -> Part:
    """So many equal parts from Norton's form to Thévenin's, or back; as `newton.reduced`."""
    inverse = 1.0 / size
    weight = many * inverse
    return weight * source, weight, weight * bend * inverse * inverse


@inlined
def _sum(one: Part, other: Part) -> Part:
    return one[0] + other[0], one[1] + other[1], one[2] + other[2]


@called
def _branch(point: int, b: int, work: Work) -> Part:
    """A path's cells, linearised at their voltages and added up."""
    tree, found = work.tree, (0.0, 0.0, 0.0)
    for c in _own(tree.branch_start, b, len(tree.current)):
        cell, v = tree.junctions[tree.model[c]], work.unknown.junction_v[point, c]
        taken, slope, bend = _dark(v, cell)
        short, many = tree.current[c] - taken, tree.cell_many[c]
        work.cells[0, c], work.cells[1, c] = short, 1.0 / slope
        found = _sum(found, _turned(many, short + slope * v, slope, -bend))
        found = _sum(found, (0.0, many * cell[2], 0.0))
    work.branches[0, b], work.branches[1, b] = found[0], found[1]
    return found


@called
def _group(point: int, g: int, work: Work) -> Part:
    """A group's diode, linearised, and its paths."""
    tree, u = work.tree, work.unknown.bypass_u[point, g]
    saturation, vt, resistance = tree.diodes[0, g], tree.diodes[1, g], tree.diodes[2, g]
    i, slope, bend = _diode(u, saturation, vt, work.limit.least_conductance)
    loop = 1.0 + slope * resistance
    found = (i - slope * u) / loop, slope / loop, bend / loop**3
    work.bypass[0, g], work.bypass[1, g], work.bypass[2, g] = i, found[0], found[1]
    for b in _own(tree.group_start, g, len(tree.branch_many)):
        source, size, curvature = _branch(point, b, work)
        found = _sum(found, _turned(tree.branch_many[b], source, size, curvature))
    work.groups[0, g], work.groups[1, g] = found[0], found[1]
    return found


@called
def _string(point: int, s: int, work: Work) -> Part:
    """A string's groups, its cable and its blocking diode."""
    tree, found = work.tree, (0.0, work.tree.resistance, 0.0)
    for g in _own(tree.string_start, s, len(tree.group_many)):
        source, size, curvature = _group(point, g, work)
        found = _sum(found, _turned(tree.group_many[g], source, size, curvature))
    saturation, vt, resistance = tree.blocking
    if saturation > 0.0:
        u = work.unknown.blocking_u[point, s]
        i, slope, bend = _diode(u, saturation, vt, work.limit.least_conductance)
        work.blocking[0, s], work.blocking[1, s] = i, slope
        found = _sum(found, (i / slope - u, resistance + 1.0 / slope, bend / slope**3))
    work.strings[0, s], work.strings[1, s] = found[0], found[1]
    return found


@called
def _array(point: int, work: Work) -> Part:
    """Source, conductance and curvature of all strings."""
    found = (0.0, 0.0, 0.0)
    for s in range(len(work.tree.string_many)):
        source, size, curvature = _string(point, s, work)
        found = _sum(found, _turned(work.tree.string_many[s], source, size, curvature))
    return found


@inlined
def _worse(one: float, other: float) -> float:
    """The larger change, or not a number if either is none."""
    other = abs(other)
    return one if one > other or np.isnan(one) else other


@called
def _branch_moved(point: int, b: int, group_v: float, work: Work) -> float:
    """New voltages of a path's cells; largest relative change."""
    tree, unknown, worst = work.tree, work.unknown, 0.0
    branch_i = (work.branches[0, b] - group_v) / work.branches[1, b]
    unknown.branch_i[point, b] = branch_i
    for c in _own(tree.branch_start, b, len(tree.current)):
        v, cell = unknown.junction_v[point, c], tree.junctions[tree.model[c]]
        change = (work.cells[0, c] - branch_i) * work.cells[1, c]
        moved = _approached(v, change, cell, work.limit.shortest_approach)
        unknown.junction_v[point, c] = moved
        worst = _worse(worst, (moved - v) / (1.0 + abs(moved)))
    return worst


@called
def _group_moved(point: int, g: int, string_i: float, work: Work) -> float:
    """New voltages of a group's diode and cells; largest relative change."""
    tree, unknown = work.tree, work.unknown
    group_v = (work.groups[0, g] - string_i) / work.groups[1, g]
    unknown.group_v[point, g] = group_v
    through = work.bypass[1, g] - work.bypass[2, g] * group_v
    wanted = -group_v - through * tree.diodes[2, g]
    unknown.bypass_u[point, g] = _followed(unknown.bypass_u[point, g], wanted, tree.diodes[1, g])
    worst = _worse(0.0, (through - work.bypass[0, g]) / work.limit.scale)
    for b in _own(tree.group_start, g, len(tree.branch_many)):
        worst = _worse(worst, _branch_moved(point, b, group_v, work))
    return worst


@called
def _string_moved(point: int, s: int, work: Work) -> float:
    """New current of a string, and voltages in it; largest relative change."""
    tree, unknown, worst = work.tree, work.unknown, 0.0
    string_i = (work.strings[0, s] - unknown.terminals[point, 0]) / work.strings[1, s]
    unknown.string_i[point, s] = string_i
    if tree.blocking[0] > 0.0:
        u, left = unknown.blocking_u[point, s], string_i - work.blocking[0, s]
        wanted = u + left / work.blocking[1, s]
        unknown.blocking_u[point, s] = _followed(u, wanted, tree.blocking[1])
        worst = _worse(worst, left / work.limit.scale)
    for g in _own(tree.string_start, s, len(tree.group_many)):
        worst = _worse(worst, _group_moved(point, g, string_i, work))
    return worst


@called
def _settle(point: int, work: Work) -> bool:
    """Iterate to one operating point; whether it was found."""
    limit, terminal = work.limit, work.unknown.terminals[point]
    before = 0.0
    for count in range(limit.most_steps):
        source, conductance, curvature = _array(point, work)
        if not conductance > 0.0:
            return False
        if terminal[4] > 0.0:
            terminal[0] = source / conductance
        terminal[1] = source - conductance * terminal[0]
        terminal[2], terminal[3] = conductance, curvature
        change = 0.0
        for s in range(len(work.tree.string_many)):
            change = _worse(change, _string_moved(point, s, work))
        if (
            change < limit.tolerance
            or (change < limit.near and change * change < limit.tolerance * before)
            or (change < limit.rounding and count > limit.many_steps)
        ):
            return True
        before = change
    return False


@entry(f"boolean({_TREE}, {_UNKNOWNS}, {_LIMITS})")
def iterate(tables: tuple[Any, ...], state: tuple[Any, ...], limits: tuple[Any, ...]) -> bool:
    """Iterate to the exact operating points, one after the other.

    Parameters
    ----------
    tables : tuple
        Fields of `Tree`.
    state : tuple
        Fields of `Unknowns`, which are changed in place.
    limits : tuple
        Fields of `Limits`.

    Returns
    -------
    bool
        Whether all were found.
    """
    tree, unknown, limit = Tree(*tables), Unknowns(*state), Limits(*limits)
    groups, strings = len(tree.group_many), len(tree.string_many)
    work = Work(
        tree,
        unknown,
        limit,
        np.empty((2, len(tree.current))),
        np.empty((2, len(tree.branch_many))),
        np.empty((2, groups)),
        np.empty((2, strings)),
        np.empty((3, groups)),
        np.empty((2, strings)),
    )
    point, points = 0, len(unknown.terminals)
    while point < points and _settle(point, work):
        point += 1
    return point == points


@inlined
def _avalanche(v: float, cell: Array) -> float:
    """Conductance of a junction's shunt and avalanche."""
    vbr, factor, m = cell[4], cell[5], cell[6]
    if factor <= 0.0:
        return float(cell[3])
    inner = min(vbr - v, _NEAREST_BREAKDOWN * vbr)
    return float(cell[3] * (1.0 + factor * (inner / vbr) ** -m * (1.0 + m * v / inner)))


@inlined
def _cell_bounds(low: float, high: float, cell: Array, least: float) -> Bounds:
    """As `bounds._cells`."""
    saturation, vt, m = cell[0], cell[1], cell[6]
    one = saturation / vt * np.exp(min(low / vt, _LARGEST_EXPONENT))
    two = saturation / vt * np.exp(min(high / vt, _LARGEST_EXPONENT))
    below, above = _avalanche(low, cell), _avalanche(high, cell)
    floor = min(below, above)
    if m > 1.0 and low < -2.0 * cell[4] / (m - 1.0) < high:
        floor = min(floor, _avalanche(-2.0 * cell[4] / (m - 1.0), cell))
    return max(min(one, two) + floor, least), max(max(one, two) + max(below, above), least)


@inlined
def _diode_bounds(one: float, two: float, diode: Array, least: float) -> Bounds:
    """As `bounds._diodes`."""
    saturation, vt, resistance = diode[0], diode[1], diode[2]
    small = saturation / vt * np.exp(min(min(one, two) / vt, _LARGEST_EXPONENT)) + least
    large = saturation / vt * np.exp(min(max(one, two) / vt, _LARGEST_EXPONENT)) + least
    return small / (1.0 + small * resistance), large / (1.0 + large * resistance)


@called
def _branch_bounds(tree: Tree, state: Unknowns, b: int, ends: Ends, least: float) -> Bounds:
    """Least and largest resistance of a path."""
    small, large = 0.0, 0.0
    for c in _own(tree.branch_start, b, len(tree.current)):
        cell, many = tree.junctions[tree.model[c]], tree.cell_many[c]
        low, high = state.junction_v[ends[0], c], state.junction_v[ends[1], c]
        one, two = _cell_bounds(low, high, cell, least)
        small += many * (cell[2] + 1.0 / two)
        large += many * (cell[2] + 1.0 / one)
    return small, large


@called
def _group_bounds(tree: Tree, state: Unknowns, g: int, ends: Ends, least: float) -> Bounds:
    """Least and largest conductance of a group."""
    one, two = state.bypass_u[ends[0], g], state.bypass_u[ends[1], g]
    small, large = _diode_bounds(one, two, tree.diodes[:, g], least)
    for b in _own(tree.group_start, g, len(tree.branch_many)):
        below, above = _branch_bounds(tree, state, b, ends, least)
        small += tree.branch_many[b] / above
        large += tree.branch_many[b] / below
    return small, large


@called
def _string_bounds(tree: Tree, state: Unknowns, s: int, ends: Ends, least: float) -> Bounds:
    """Least and largest resistance of a string."""
    small = large = tree.resistance
    for g in _own(tree.string_start, s, len(tree.group_many)):
        below, above = _group_bounds(tree, state, g, ends, least)
        small += tree.group_many[g] / above
        large += tree.group_many[g] / below
    if tree.blocking[0] > 0.0:
        one, two = state.blocking_u[ends[0], s], state.blocking_u[ends[1], s]
        below, above = _diode_bounds(one, two, tree.blocking, least)
        small += 1.0 / above
        large += 1.0 / below
    return small, large


@entry(f"{F2}({_TREE}, {_UNKNOWNS}, {I1}, {I1}, float64)")
def conductance_bounds(
    tables: tuple[Any, ...], state: tuple[Any, ...], left: Index, right: Index, least: float
) -> Array:
    """Least and largest −dI/dV of the array between solved points; as in `bounds`.

    Parameters
    ----------
    tables : tuple
        Fields of `Tree`.
    state : tuple
        Fields of `Unknowns`.
    left, right : ndarray of int, shape (intervals,)
        Points at the ends.
    least : float
        Least conductance of a cell or diode [S].

    Returns
    -------
    ndarray, shape (2, intervals)
        [S].
    """
    tree, unknown = Tree(*tables), Unknowns(*state)
    found = np.zeros((2, len(left)))
    for k in range(len(left)):
        for s in range(len(tree.string_many)):
            below, above = _string_bounds(tree, unknown, s, (left[k], right[k]), least)
            found[0, k] += tree.string_many[s] / above
            found[1, k] += tree.string_many[s] / below
    return found


@entry(f"{F1}({F1}, {F1}, int64, float64)")
def best_powers(currents: Array, cell: Array, steps: int, close_v: float) -> Array:
    """Maximum power of single cells; as `losses.best_powers`.

    Parameters
    ----------
    currents : ndarray, shape (n,)
        Light currents [A].
    cell : ndarray, shape (7,)
        Fields of `cell.Junction`.
    steps : int
        Most steps.
    close_v : float
        From here the next change of voltage does not matter [V].

    Returns
    -------
    ndarray, shape (n,)
        Power [W].
    """
    saturation, vt, rs, g = cell[0], cell[1], cell[2], cell[3]
    found = np.empty_like(currents)
    for n in range(len(currents)):
        current = currents[n]
        ratio = np.log1p(current / saturation)
        arm = max(vt * (ratio - np.log1p(ratio)) - 2.0 * rs * current, 0.0)
        v = min(vt * (ratio - np.log1p(min(arm / vt, ratio))), current / (2.0 * g))
        i = current
        for _ in range(steps):
            taken, slope, bend = _dark(v, cell)
            i = current - taken
            arm = v - 2.0 * rs * i
            change = (i - slope * arm) / (bend * arm + 2.0 * slope * (1.0 + slope * rs))
            moved = min(max(v + change, 0.0), ratio * vt)
            change = moved - v
            v = moved
            i -= change * (slope + 0.5 * bend * change)
            if abs(change) < close_v:
                break
        found[n] = max(i * (v - i * rs), 0.0)
    return found
