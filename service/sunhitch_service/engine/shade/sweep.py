"""Curves of every part of a network on points: good enough to draw, and to start Newton from."""

from dataclasses import dataclass

import numpy as np

from .cell import Array
from .curve import Curve, distinct, in_parallel, in_series, merged, pieces, thinned
from .network import NO_DIODE, Network
from .table import JunctionTable, current_scale, diode_curve, junction_table

_GROUP_POINTS = (250, 1500)
_ALL_GROUP_POINTS = 40_000
"""Points of a group's curve: fewer where there are many groups."""
_STRING_POINTS = 4000
_ALL_STRING_READS = 20_000_000
"""Points of a string's curve times its unlike groups, before it is thinned."""
_SHARED_LEVELS = 24
"""Up to this many light levels, all paths of one cell model are drawn on common currents."""


@dataclass(frozen=True, slots=True)
class Sweep:
    """Curves of the distinct parts of a network.

    Parameters
    ----------
    tables : list of JunctionTable
        One per cell model.
    branches, groups, strings : list of Curve
        One per part of the network.
    array : Curve
        The whole, from short circuit to open circuit.
    scale : float
        Largest string current [A].
    """

    tables: list[JunctionTable]
    branches: list[Curve]
    groups: list[Curve]
    strings: list[Curve]
    array: Curve
    scale: float


def sweep(network: Network) -> Sweep:
    """Draw every part of a network.

    Parameters
    ----------
    network : Network
        With some light on it.

    Returns
    -------
    Sweep
        Curves of branches, groups, strings and the array.
    """
    per_string = _string_currents(network)
    high = 1.002 * float(np.max(per_string))
    # A dim path is fed backwards by the paths beside it, a dim string by the other strings.
    others = float(per_string @ network.string_many) if _can_feed_back(network) else 0.0
    low = -max(others, high)
    forward, total = current_scale(high), current_scale(-low)
    tables = [junction_table(junction, forward, total) for junction in network.junctions]
    branches = _branch_curves(network, tables, low, high)
    groups = [_group_curve(network, g, branches, high) for g in range(len(network.group_start))]
    strings = [_string_curve(network, s, groups, high) for s in range(len(network.string_start))]
    return Sweep(tables, branches, groups, strings, _array_curve(network, strings), high)


def _can_feed_back(network: Network) -> bool:
    return float(np.sum(network.string_many)) > 1.0 and network.blocking == NO_DIODE


def _string_currents(network: Network) -> Array:
    """Bound of each string's short-circuit current: some group must stay at positive voltage."""
    path = np.maximum.reduceat(network.current, network.branch_start) * network.branch_many
    group = np.add.reduceat(path, network.group_start)
    return np.asarray(np.maximum.reduceat(group, network.string_start), dtype=np.float64)


def _branch_curves(
    network: Network, tables: list[JunctionTable], low: float, high: float
) -> list[Curve]:
    models = network.model[network.branch_start]
    curves: dict[int, Curve] = {}
    for model, table in enumerate(tables):
        ours = [int(b) for b in np.flatnonzero(models == model)]
        curves |= _drawn(network, ours, table, low, high)
    return [curves[b] for b in range(len(models))]


def _drawn(
    network: Network, branches: list[int], table: JunctionTable, low: float, high: float
) -> dict[int, Curve]:
    """Curves of some branches of one cell model."""
    cells = [network.branch_cells(b) for b in branches]
    if not branches:
        return {}
    levels = np.unique(np.concatenate([network.current[span] for span in cells]))
    if len(levels) > _SHARED_LEVELS and len(branches) > 1:
        half = len(branches) // 2
        first = _drawn(network, branches[:half], table, low, high)
        return first | _drawn(network, branches[half:], table, low, high)
    counts = np.zeros((len(branches), len(levels)))
    for row, span in enumerate(cells):
        counts[row, np.searchsorted(levels, network.current[span])] = network.many[span]
    i = (levels[:, None] - table.coarse_j).ravel()
    i = merged([i[(i > low) & (i < high)], np.array([low, high])])
    i = i[distinct(i)]
    i = i[::-1]
    cell_v, cell_slope = table.voltages(levels[:, None] - i)
    rs = network.junctions[int(network.model[cells[0].start])].series_resistance
    v, slope = counts @ (cell_v - rs * i), 1.0 / (counts @ (-cell_slope - rs))
    known = pieces(v, i, slope)
    return {b: Curve(v[k], i, slope[k], known[k]) for k, b in enumerate(branches)}


def _group_curve(network: Network, group: int, branches: list[Curve], high: float) -> Curve:
    span = network.group_branches(group)
    fewest, most = _GROUP_POINTS
    points = max(fewest, min(most, _ALL_GROUP_POINTS // len(network.group_start)))
    parts = [(branches[b], int(network.branch_many[b])) for b in range(span.start, span.stop)]
    diode = network.group_diode[group]
    if diode == NO_DIODE and len(parts) == 1:
        return thinned(parts[0][0].scaled(1.0, parts[0][1]), 0.0, high, points)
    if diode != NO_DIODE:
        parts.append((diode_curve(diode, current_scale(high), 20.0 * diode.thermal_voltage), 1))
    lowest = parts[-1][0].v[0] if diode != NO_DIODE else max(c.v[0] for c, _ in parts)
    v = merged([curve.v for curve, _ in parts])
    v = v[v.searchsorted(lowest) :]
    return thinned(in_parallel(parts, v[distinct(v)]), lowest, high, points)


def _string_curve(network: Network, string: int, groups: list[Curve], high: float) -> Curve:
    span = network.string_groups(string)
    parts = [(groups[g], int(network.group_many[g])) for g in range(span.start, span.stop)]
    if network.blocking != NO_DIODE:
        reverse = 2.0 * sum(many * curve.v[-1] for curve, many in parts)
        parts.append((diode_curve(network.blocking, current_scale(high), reverse), 1))
    i = merged([curve.i for curve, _ in parts])
    lowest = max(curve.i[-1] for curve, _ in parts)
    i = i[i.searchsorted(lowest) : i.searchsorted(high, "right")]
    i = i[distinct(i)]
    most = _ALL_STRING_READS // len(parts)
    if len(i) > most:
        i = i[np.linspace(0, len(i) - 1, most).astype(np.intp)]
    curve = in_series(parts, i)
    if network.resistance:
        slope = curve.slope / (1.0 - network.resistance * curve.slope)
        curve = Curve(curve.v - network.resistance * curve.i, curve.i, slope)
    return thinned(curve, 0.0, high, _STRING_POINTS)


def _array_curve(network: Network, strings: list[Curve]) -> Curve:
    parts = [(curve, int(many)) for curve, many in zip(strings, network.string_many, strict=True)]
    highest = 1.001 * max(curve.open_circuit for curve in strings)
    v = merged([curve.v for curve in strings])
    inside = v[v.searchsorted(0.0, "right") : v.searchsorted(highest)]
    v = np.concatenate(([0.0], inside, [highest]))
    return in_parallel(parts, v[distinct(v)])
