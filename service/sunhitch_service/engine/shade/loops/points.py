"""Operating points of a network and of single cells, by Newton's method."""

from typing import Any, NamedTuple

import numpy as np

from .compiler import F1, F2, I1, Array, Index, called, entry, inlined

_LARGEST_EXPONENT, _NEAREST_BREAKDOWN = 600.0, 1e-12
"""As in `cell`."""


class Tree(NamedTuple):
    """A network's parts.

    Parameters
    ----------
    current, cell_many : ndarray, shape (cells,)
        As in `network.Network`.
    model : ndarray of int, shape (cells,)
        Row of `junctions`.
    junctions : ndarray, shape (models, 7)
        Fields of `cell.Junction`.
    branch_start, branch_many : ndarray
        First cell of every path; how many paths, shape (branches,).
    group_start, group_many : ndarray
        First path of every group.
    diodes : ndarray, shape (3, groups)
        Saturation currents [A], n·k·T/q [V] and series resistances [Ω] of the bypass diodes.
    string_start, string_many : ndarray
        First group of every string.
    blocking : ndarray, shape (3,)
        The same of the blocking diode; no saturation current for none.
    resistance : float
        In series with every string [Ω].
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
    """What changes from step to step, a row for each operating point.

    Parameters
    ----------
    terminals : ndarray, shape (points, 7)
        Voltage, current, dP/dV and d²P/dV² of the array; whether it is open; bounds of the voltage.
    junction_v, bypass_u, blocking_u, string_i, group_v, branch_i : ndarray
        As in `newton.State`.
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
    most_steps: int
    hasty: float
    hasty_steps: int
    settled: float
    shortest_approach: float
    least_conductance: float


_LIMITS = "Tuple((float64, float64, float64, int64, float64, int64, float64, float64, float64))"


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


@called
def _reduce(
    point: int,
    tree: Tree,
    unknown: Unknowns,
    limit: Limits,
    cells: Array,
    parts: Array,
    diodes: Array,
) -> tuple[float, float, float]:
    """Linearise every part and add it to its owner; source, conductance and curvature of all.

    Keeps light less dark current and its slope in `cells`, the linear parts in `parts`, and the
    diodes in `diodes`.
    """
    junction_v, bypass_u = unknown.junction_v[point], unknown.bypass_u[point]
    blocking_u, least = unknown.blocking_u[point], limit.least_conductance
    branches, groups = len(tree.branch_many), len(tree.group_many)
    a0 = a1 = a2 = 0.0
    for s in range(len(tree.string_many)):
        s0, s1, s2 = 0.0, tree.resistance, 0.0
        for g in _own(tree.string_start, s, len(tree.group_many)):
            resistance = tree.diodes[2, g]
            i, slope, bend = _diode(bypass_u[g], tree.diodes[0, g], tree.diodes[1, g], least)
            loop = 1.0 + slope * resistance
            g0, g1, g2 = (i - slope * bypass_u[g]) / loop, slope / loop, bend / loop**3
            diodes[0, g], diodes[1, g], diodes[2, g] = i, g0, g1
            for b in _own(tree.group_start, g, len(tree.branch_many)):
                b0 = b1 = b2 = 0.0
                for c in _own(tree.branch_start, b, len(tree.current)):
                    cell, v = tree.junctions[tree.model[c]], junction_v[c]
                    taken, slope, bend = _dark(v, cell)
                    short, inverse = tree.current[c] - taken, 1.0 / slope
                    cells[0, c], cells[1, c] = short, inverse
                    weight = tree.cell_many[c] * inverse
                    b0 += weight * (short + slope * v)
                    b1 += weight + tree.cell_many[c] * cell[2]
                    b2 -= weight * bend * inverse * inverse
                parts[0, b], parts[1, b] = b0, b1
                inverse = 1.0 / b1
                weight = tree.branch_many[b] * inverse
                g0 += weight * b0
                g1 += weight
                g2 += weight * b2 * inverse * inverse
            parts[0, branches + g], parts[1, branches + g] = g0, g1
            inverse = 1.0 / g1
            weight = tree.group_many[g] * inverse
            s0 += weight * g0
            s1 += weight
            s2 += weight * g2 * inverse * inverse
        if tree.blocking[0] > 0.0:
            u = blocking_u[s]
            i, slope, bend = _diode(u, tree.blocking[0], tree.blocking[1], least)
            diodes[0, groups + s], diodes[1, groups + s] = i, slope
            s0 -= u - i / slope
            s1 += tree.blocking[2] + 1.0 / slope
            s2 += bend / slope**3
        parts[0, branches + groups + s], parts[1, branches + groups + s] = s0, s1
        inverse = 1.0 / s1
        weight = tree.string_many[s] * inverse
        a0 += weight * s0
        a1 += weight
        a2 += weight * s2 * inverse * inverse
    return a0, a1, a2


@inlined
def _move(
    terminal: Array,
    source: float,
    conductance: float,
    curvature: float,
    worst: float,
    patience: float,
    limit: Limits,
) -> float:
    """As `newton._Point.move`; relative change of the voltage that is still wanted."""
    if terminal[4] > 0.0:
        terminal[0] = source / conductance
        return 0.0
    v, twice = terminal[0], 2.0 * conductance
    slope, excess = v * curvature - twice, source - twice * v
    if worst < limit.settled and abs(excess) > limit.settled * limit.scale:
        terminal[5 if excess > 0.0 else 6] = v
    wanted = excess / (-slope if slope < 0.0 else twice)
    wanted = min(max(wanted, 0.5 * (terminal[5] - v)), 0.5 * (terminal[6] - v))
    ahead = float(abs(wanted) / (1.0 + abs(v)))
    if worst >= patience:
        wanted = 0.0
    terminal[0] = v + wanted
    terminal[1] = source - conductance * terminal[0]
    terminal[2], terminal[3] = excess + slope * wanted, slope
    return ahead


@called
def _carry_back(
    point: int,
    tree: Tree,
    unknown: Unknowns,
    limit: Limits,
    cells: Array,
    parts: Array,
    diodes: Array,
) -> float:
    """New voltages and currents of every part; largest relative change, or not a number."""
    branches, groups = len(tree.branch_many), len(tree.group_many)
    voltage, worst, all_changes = unknown.terminals[point, 0], 0.0, 0.0
    for s in range(len(tree.string_many)):
        row = branches + groups + s
        string_i = (parts[0, row] - voltage) / parts[1, row]
        unknown.string_i[point, s] = string_i
        if tree.blocking[0] > 0.0:
            u, i, slope = unknown.blocking_u[point, s], diodes[0, groups + s], diodes[1, groups + s]
            unknown.blocking_u[point, s] = _followed(
                u, u + (string_i - i) / slope, tree.blocking[1]
            )
            change = abs(string_i - i) / limit.scale
            worst, all_changes = max(worst, change), all_changes + change
        for g in _own(tree.string_start, s, len(tree.group_many)):
            group_v = (parts[0, branches + g] - string_i) / parts[1, branches + g]
            unknown.group_v[point, g] = group_v
            through = diodes[1, g] - diodes[2, g] * group_v
            unknown.bypass_u[point, g] = _followed(
                unknown.bypass_u[point, g],
                -group_v - through * tree.diodes[2, g],
                tree.diodes[1, g],
            )
            change = abs(through - diodes[0, g]) / limit.scale
            worst, all_changes = max(worst, change), all_changes + change
            for b in _own(tree.group_start, g, len(tree.branch_many)):
                branch_i = (parts[0, b] - group_v) / parts[1, b]
                unknown.branch_i[point, b] = branch_i
                for c in _own(tree.branch_start, b, len(tree.current)):
                    v = unknown.junction_v[point, c]
                    moved = _approached(
                        v,
                        (cells[0, c] - branch_i) * cells[1, c],
                        tree.junctions[tree.model[c]],
                        limit.shortest_approach,
                    )
                    unknown.junction_v[point, c] = moved
                    change = abs(moved - v) / (1.0 + abs(moved))
                    worst, all_changes = max(worst, change), all_changes + change
    return worst if all_changes < np.inf else np.nan


@called
def _point(
    point: int,
    tree: Tree,
    unknown: Unknowns,
    limit: Limits,
    cells: Array,
    parts: Array,
    diodes: Array,
) -> bool:
    worst, before = limit.settled, 0.0
    for count in range(limit.most_steps):
        patience = limit.hasty if count < limit.hasty_steps else limit.settled
        source, conductance, curvature = _reduce(point, tree, unknown, limit, cells, parts, diodes)
        if not conductance > 0.0:
            return False
        ahead = _move(
            unknown.terminals[point], source, conductance, curvature, worst, patience, limit
        )
        worst = _carry_back(point, tree, unknown, limit, cells, parts, diodes)
        change = max(worst, ahead)
        if change < limit.tolerance or (
            change < limit.near and change * change < limit.tolerance * before
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
    cells = np.empty((2, len(tree.current)))
    parts = np.empty((3, len(tree.branch_many) + len(tree.group_many) + len(tree.string_many)))
    diodes = np.empty((4, len(tree.group_many) + len(tree.string_many)))
    for point in range(len(unknown.terminals)):
        if not _point(point, tree, unknown, limit, cells, parts, diodes):
            return False
    return True


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
