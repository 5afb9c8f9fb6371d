"""Curves of every part of a network on points: good enough to draw, and to start Newton from."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from .cell import Array, Diode, Index
from .curve import CurveSet, IvCurve, open_circuit
from .curve_sets import common_grid, padded, rising, side_by_side
from .network import NO_DIODE, Network
from .table import JunctionTable, current_scale, diode_curve, junction_table

_LEAST_POINTS, _MOST_POINTS = 250, 500
_ALL_POINTS = 40_000
"""Points of the curves of branches or groups: fewer a curve where there are many."""
_STRING_POINTS = 4000
_ALL_STRING_READS = 20_000_000
"""Points of the strings' curves times their unlike groups."""
_ALL_SORTED = 1_000_000
"""Points looked at to tell where those of a sum should be."""
_BRANCH_SHARE, _GROUP_SHARE, _STRING_SHARE, _ARRAY_SHARE = 0.5, 0.6, 0.3, 0.5
"""Points of a sum for every one of its parts' curves."""
_SHARED_LEVELS = 24
"""Up to this many light levels, all paths of one cell model are drawn on common currents."""


@dataclass(frozen=True)
class Sweep:
    """Curves of the distinct parts of a network.

    Parameters
    ----------
    network : Network
        With some light on it.
    tables : list of JunctionTable
        One per cell model.
    branches, groups, strings : CurveSet
        One curve per part of the network.
    scale : float
        Largest string current [A].
    """

    network: Network
    tables: list[JunctionTable]
    branches: CurveSet
    groups: CurveSet
    strings: CurveSet
    scale: float

    @cached_property
    def array(self) -> IvCurve:
        """The whole, at least from short circuit to open circuit."""
        return _array(self.network, self.strings)


def sweep(
    network: Network, string_share: float = _STRING_SHARE, systems: Sequence[Index] | None = None
) -> Sweep:
    """Draw every part of a network, or of several that have nothing but parts in common.

    Parameters
    ----------
    network : Network
        With some light on it.
    string_share : float
        Points of a string's curve for every one of its groups' curves: the more, the closer.
    systems : sequence of ndarray of int or None
        Strings in parallel in each; all in one where it is None.

    Returns
    -------
    Sweep
        Curves of branches, groups and strings, and of the array when asked for.
    """
    low, high = _reach(network, systems)
    scale = float(high.max())
    string = network.string_of_group[network.group_of_branch]
    reach = low[string], high[string]
    tables = _tables(network, *reach)
    branches = _branches(network, tables, *reach)
    groups = _groups(network, branches, scale)
    strings = _strings(network, groups, high, string_share)
    return Sweep(network, tables, branches, groups, strings, scale)


def _reach(network: Network, systems: Sequence[Index] | None) -> tuple[Array, Array]:
    """Current of every string at least and at most [A].

    A dim path is fed backwards by the paths beside it, a dim string by the other strings.
    """
    per_string = _string_currents(network)
    if systems is None:
        systems = [np.repeat(np.arange(len(per_string)), network.string_many.astype(np.intp))]
    low, high = np.zeros((2, len(per_string)))
    for own in systems:
        most = 1.002 * float(np.max(per_string[own]))
        fed_back = len(own) > 1 and network.blocking == NO_DIODE
        low[own] = np.minimum(low[own], -max(float(per_string[own].sum()) * fed_back, most))
        high[own] = np.maximum(high[own], most)
    return low, high


def _tables(network: Network, low: Array, high: Array) -> list[JunctionTable]:
    """Junction voltages of every cell model, as far as its branches reach."""
    models = network.model[network.branch_start]
    own = [models == model for model in range(len(network.junctions))]
    return [
        junction_table(one, current_scale(high[of].max()), current_scale(-low[of].min()))
        for one, of in zip(network.junctions, own, strict=True)
    ]


def _string_currents(network: Network) -> Array:
    """Bound of each string's short-circuit current: some group must stay at positive voltage."""
    path = np.maximum.reduceat(network.current, network.branch_start) * network.branch_many
    group = np.add.reduceat(path, network.group_start)
    return np.asarray(np.maximum.reduceat(group, network.string_start), dtype=np.float64)


def _points(parts: int) -> int:
    """Points of a curve where there are so many."""
    return max(_LEAST_POINTS, min(_MOST_POINTS, _ALL_POINTS // parts))


def _branches(network: Network, tables: list[JunctionTable], low: Array, high: Array) -> CurveSet:
    models = network.model[network.branch_start]
    jobs = [
        job
        for model, table in enumerate(tables)
        for job in _of_few_levels(network, np.flatnonzero(models == model), table)
    ]
    # Minus the currents, so that they rise with the voltage.
    points = [(job.table.coarse_j - job.levels[:, None]).ravel() for job in jobs]
    first = -np.array([high[job.branches].max() for job in jobs])
    last = -np.array([low[job.branches].min() for job in jobs])
    x = common_grid(padded(points), first, last, _BRANCH_SHARE, _points(len(models)))
    v, back, slope = np.empty((3, len(models), x.shape[1]))
    for own, job in zip(x, jobs, strict=True):
        cell_v, cell_slope = job.table.voltages.at(job.levels[:, None] + own)
        back[job.branches] = own
        v[job.branches] = job.counts @ (cell_v + job.resistance * own)
        slope[job.branches] = 1.0 / (job.counts @ (cell_slope + job.resistance))
    return CurveSet(rising(v), back, slope)


@dataclass(frozen=True, slots=True)
class _SharedLevels:
    """Branches of one cell model to draw on common currents."""

    branches: Index
    levels: Array
    counts: Array
    table: JunctionTable
    resistance: float


def _of_few_levels(network: Network, branches: Index, table: JunctionTable) -> list[_SharedLevels]:
    row = np.full(len(network.branch_start), -1)
    row[branches] = np.arange(len(branches))
    row_of_cell = row.take(network.branch_of_cell)
    cells = np.flatnonzero(row_of_cell >= 0)
    current = network.current.take(cells)
    levels = np.array(sorted(set(current.tolist())))
    if len(levels) > _SHARED_LEVELS and len(branches) > 1:
        half = len(branches) // 2
        first = _of_few_levels(network, branches[:half], table)
        return first + _of_few_levels(network, branches[half:], table)
    counts = np.zeros((len(branches), len(levels)))
    column = levels.searchsorted(current)
    counts[row_of_cell.take(cells), column] = network.many.take(cells)
    resistance = network.junctions[int(network.model[cells[0]])].series_resistance
    return [_SharedLevels(branches, levels, counts, table, resistance)]


def _groups(network: Network, branches: CurveSet, high: float) -> CurveSet:
    starts = network.group_start
    low = np.maximum.reduceat(branches.v[:, 0], starts)
    top = np.maximum.reduceat(branches.v[:, -1], starts)
    diodes = [
        (diode_curve(diode, current_scale(high), 20.0 * diode.thermal_voltage), own)
        for diode, own in _alike(network.group_diode)
    ]
    points = [side_by_side(branches.v, network.group_of_branch, _ALL_SORTED)]
    for curve, own in diodes:
        low[own] = curve.v[0]
        points.append(np.full((len(starts), len(curve.v)), np.inf))
        points[-1][own] = curve.v
    together = np.concatenate(points, axis=1)
    v = common_grid(together, low, top, _GROUP_SHARE, _points(len(starts)))
    back, slope = found = branches.over_voltage.sums(
        v, network.group_of_branch, starts, network.branch_many
    )
    for curve, own in diodes:
        found[:, own] -= curve.currents(v[own])
    return CurveSet(v, rising(back), slope)


def _alike(diodes: list[Diode]) -> list[tuple[Diode, Index | slice]]:
    """Every kind of diode, and the groups that have it."""
    own: dict[Diode, list[int]] = {}
    for group, diode in enumerate(diodes):
        if diode != NO_DIODE:
            own.setdefault(diode, []).append(group)
    everywhere = slice(None)
    return [
        (diode, everywhere if len(groups) == len(diodes) else np.array(groups))
        for diode, groups in own.items()
    ]


def _strings(network: Network, groups: CurveSet, high: Array, share: float) -> CurveSet:
    starts = network.string_start
    points = side_by_side(groups.back, network.string_of_group, _ALL_SORTED)
    low = np.maximum(np.minimum.reduceat(groups.back[:, 0], starts), -high)
    top = np.minimum.reduceat(groups.back[:, -1], starts)
    blocking = _blocking_curve(network, groups, float(high.max()))
    if blocking is not None:
        top = np.minimum(top, -blocking.i[-1])
        own = np.broadcast_to(-blocking.i, (len(starts), len(blocking.i)))
        points = np.concatenate((points, own), axis=1)
    most = min(_STRING_POINTS, _ALL_STRING_READS // len(groups.v))
    back = common_grid(points, low, top, share, most)
    v, r = found = groups.over_current.sums(
        back, network.string_of_group, starts, network.group_many
    )
    if blocking is not None:
        found += blocking.voltages(-back)
    v += network.resistance * back
    r += network.resistance
    return CurveSet(rising(v), back, 1.0 / r)


def _blocking_curve(network: Network, groups: CurveSet, high: float) -> IvCurve | None:
    if network.blocking == NO_DIODE:
        return None
    tops = np.add.reduceat(network.group_many * groups.v[:, -1], network.string_start)
    return diode_curve(network.blocking, current_scale(high), 2.0 * float(tops.max()))


def _array(network: Network, strings: CurveSet) -> IvCurve:
    """Of several unlike strings from short circuit to just beyond open circuit."""
    if float(network.string_many.sum()) == 1.0:
        return strings[0]
    highest = 1.001 * max(map(open_circuit, strings.back, strings.v))
    bounds = np.zeros(1), np.full(1, highest)
    v = common_grid(strings.v.reshape(1, -1), *bounds, _ARRAY_SHARE, strings.v.size)
    owner = np.zeros(len(strings.v), dtype=np.intp)
    back, slope = strings.over_voltage.sums(v, owner, owner[:1], network.string_many)
    return IvCurve(v[0], -rising(back)[0], -slope[0])
