"""Operating points that matter: short circuit, open circuit and every maximum of power.

The global maximum is certified: intervals between solved points are split until none can hold
more power than the best point by more than `CERTIFIED` of it.
"""

from dataclasses import dataclass, fields

import numpy as np

from .bounds import power_bounds
from .cell import Array, Mask, conducting_v
from .curve import IvCurve
from .network import NO_DIODE, Network
from .newton import State, solve
from .sweep import Sweep

CERTIFIED = 1e-4
"""Share of the maximum power by which no point between those solved can exceed it."""
_LEVEL = 1e-9
"""Share of the maximum power that one more step to a top would add at most."""
_FIXED = np.arange(1.0, 8.0) / 8.0
"""Voltages solved in any case, as shares of that in open circuit."""
_BESIDE = np.array((0.95, 1.03, 1.08))
_BUDGET = 64
"""Points to split intervals with."""
_MOST_PIECES = 3
_MOST_ROUNDS = 40
_REACH = 0.75
_LEAST_W = 1e-30
"""Counts as the best power found where there is none yet."""


@dataclass(frozen=True, slots=True)
class Points:
    """Solved operating points of an array.

    Parameters
    ----------
    short_circuit_current : float
        [A].
    open_circuit_voltage : float
        [V].
    maxima : list of int
        Rows of `state` that are maxima, by falling power.
    power_bound : float
        Power that no operating point exceeds [W]: at most `CERTIFIED` above the first maximum,
        unless the points allowed for the search were used up.
    state : State
        All points.
    """

    short_circuit_current: float
    open_circuit_voltage: float
    maxima: list[int]
    power_bound: float
    state: State

    @property
    def certified(self) -> bool:
        """Whether the bound is as close as promised."""
        best = float(self.state.power[self.maxima[0]])
        return self.power_bound <= best * (1.0 + CERTIFIED)


def solve_points(network: Network, curves: Sweep) -> Points:
    """Find and solve the points that matter.

    Parameters
    ----------
    network : Network
        The array.
    curves : Sweep
        Its curves.

    Returns
    -------
    Points
        Exact to rounding.
    """
    search = _Search(network, curves)
    budget = _BUDGET
    for _ in range(_MOST_ROUNDS):
        splits, tops = search.splits(budget), search.tops()
        budget -= len(splits)
        if not (splits.size or tops.size):
            break
        search.add(splits, tops)
    state = search.state
    return Points(
        float(state.current[0]), float(state.voltage[1]), search.maxima(), search.bound, state
    )


class _Search:
    """Solved points by rising voltage, and what may lie between them."""

    def __init__(self, network: Network, curves: Sweep) -> None:
        self._network, self._curves = network, curves
        opens = min(curves.array.open_circuit, _highest_open_circuit(network))
        tops = _tops_on_points(curves.array)
        tops = tops[tops < opens]
        power = tops * curves.array.currents(tops)[0]
        beside = (_BESIDE * tops[power > 0.95 * power.max(initial=0.0), None]).ravel()
        fixed = np.concatenate(([0.0, opens], _FIXED * opens, beside[beside < opens]))
        self.state = self._solved(fixed, tops, fixed, np.arange(len(fixed)) == 1)
        self._arrange()

    def add(self, fixed: Array, tops: Array) -> None:
        """Solve further points at some voltages, and tops near others."""
        known = np.concatenate((self._v, fixed))
        new = self._solved(fixed, tops, known, np.zeros(len(fixed), dtype=bool))
        names = [field.name for field in fields(State)]
        self.state = State(
            *(np.concatenate((getattr(self.state, name), getattr(new, name))) for name in names)
        )
        self._arrange()

    def _solved(self, fixed: Array, tops: Array, known: Array, is_open: Mask) -> State:
        """Points at fixed voltages, then tops, each followed as far as the points beside it."""
        ends = np.sort(np.concatenate((known, tops)))
        v = np.concatenate((fixed, tops))
        low, high = ends[ends.searchsorted(tops) - 1], ends[ends.searchsorted(tops, "right")]
        low, high = tops + _REACH * (low - tops), tops + _REACH * (high - tops)
        reach = np.concatenate((fixed, low)), np.concatenate((fixed, high))
        is_open = np.append(is_open, np.zeros(len(tops), dtype=bool))
        state = start(self._network, self._curves, v)
        return solve(self._network, state, is_open, self._curves.scale, reach)

    def _arrange(self) -> None:
        """Sort the points, and bound the power between neighbours."""
        v = self.state.voltage
        rows = np.flatnonzero((v >= 0.0) & (v <= v[1]))
        self._rows = rows = rows[np.argsort(v[rows], kind="stable")]
        of_points = self.state.voltage, self.state.power, self.state.rise, self.state.bend
        self._v, self._power, self._rise, self._bend = (column[rows] for column in of_points)
        self._best = int(np.argmax(self._power))
        self._most = float(self._power[self._best])
        self._bounds = power_bounds(self._network, self.state, rows[:-1], rows[1:])

    @property
    def bound(self) -> float:
        """Power that no point exceeds [W]."""
        return float(np.max(self._bounds, initial=self._most))

    def splits(self, budget: int) -> Array:
        """Voltages that split the intervals that could hold more than the best point.

        What is left between bound and truth shrinks with the square of the width.
        """
        excess = (self._bounds - self._most) / max(self._most, _LEAST_W)
        found: list[float] = []
        for k in np.flatnonzero(excess > CERTIFIED):
            pieces = int(min(np.sqrt(excess[k] / CERTIFIED) + 1.0, _MOST_PIECES))
            shares = np.arange(1.0, pieces) / pieces
            found += (self._v[k] + (self._v[k + 1] - self._v[k]) * shares).tolist()
        return np.array(found[:budget])

    def tops(self) -> Array:
        """Voltages closer to tops than the points beside them, by Newton or by halving."""
        v, rise, bend = self._v, self._rise, self._bend
        low, high = np.concatenate((v[:1], v[:-1])), np.concatenate((v[1:], v[-1:]))
        falls = np.flatnonzero((rise[:-1] > 0.0) & (rise[1:] <= 0.0))
        tops = np.zeros(len(v), dtype=bool)
        tops[falls + (self._power[falls] < self._power[falls + 1])] = True
        tops[self._best] = True
        tops &= ~self._level()
        wanted = v - rise / np.where(bend < 0.0, bend, -np.inf)
        inside = (bend < 0.0) & (wanted > low) & (wanted < high)
        wanted = np.where(inside, wanted, 0.5 * (v + np.where(rise > 0.0, high, low)))
        return np.asarray(wanted[tops])

    def maxima(self) -> list[int]:
        """Rows of the tops, each once, by falling power.

        Points that lie much farther apart than where a further step would take them are at one.
        """
        found, v = [self._best], self._v.tolist()
        ahead = (self._v - self._rise / self._bend).tolist()
        level = np.flatnonzero(self._level() & (self._power > 0.0))
        for k in level[np.argsort(-self._power[level], kind="stable")].tolist():
            if all(abs(ahead[top] - ahead[k]) > 0.5 * abs(v[top] - v[k]) for top in found):
                found.append(k)
        return [int(row) for row in self._rows[found]]

    def _level(self) -> Mask:
        """At which points one more step would add hardly any power."""
        least = -2.0 * _LEVEL * self._most
        level = (self._bend < 0.0) & (self._rise * self._rise <= least * self._bend)
        return np.asarray(level, dtype=np.bool_)


def _highest_open_circuit(network: Network) -> float:
    """Bound of the open-circuit voltage: that of every cell without its shunt, added up [V]."""
    n, cells = network, network.cells
    each = n.many * cells.thermal_voltage * np.log1p(n.current / cells.saturation_current)
    groups = np.maximum.reduceat(np.add.reduceat(each, n.branch_start), n.group_start)
    return float(np.add.reduceat(n.group_many * groups, n.string_start).max())


def _tops_on_points(array: IvCurve) -> Array:
    """Voltages where dP/dV of a curve falls through zero, straight between its points."""
    v, rise = array.v, array.i + array.v * array.slope
    at = np.flatnonzero((rise[:-1] > 0.0) & (rise[1:] <= 0.0))
    share = rise[at] / (rise[at] - rise[at + 1])
    return np.asarray(v[at] + (v[at + 1] - v[at]) * share)


def start(network: Network, curves: Sweep, v: Array) -> State:
    """Voltages and currents of every part, read off the curves from the array down."""
    of_strings = np.repeat(v[:, None], len(network.string_start), axis=1)
    strings = -curves.strings.over_voltage.each(of_strings)
    groups = curves.groups.over_current.each(-strings.take(network.string_of_group, axis=1))
    of_branches = groups.take(network.group_of_branch, axis=1)
    branches = -curves.branches.over_voltage.each(of_branches)
    taken = network.current - branches[:, network.branch_of_cell]
    junctions = np.empty_like(taken)
    for model, table in enumerate(curves.tables):
        ours = network.model == model
        junctions[:, ours] = table.voltages.at(taken[:, ours].clip(table.j[0], table.j[-1]))[0]
    return State(
        voltage=v,
        current=np.zeros(len(v)),
        conductance=np.zeros(len(v)),
        curvature=np.zeros(len(v)),
        junction_v=junctions,
        bypass_u=_bypass_start(network, groups, strings, branches),
        blocking_u=_blocking_start(network, v, groups, strings),
        string_i=strings,
        group_v=groups,
        branch_i=branches,
    )


def _bypass_start(network: Network, group_v: Array, string_i: Array, branch_i: Array) -> Array:
    through_cells = np.add.reduceat(network.branch_many * branch_i, network.group_start, axis=1)
    through = string_i[:, network.string_of_group]
    spare = np.maximum(through - through_cells, 0.0)
    start = np.minimum(-group_v - spare * network.bypass[2], conducting_v(network.bypass, through))
    return np.asarray(start)


def _blocking_start(network: Network, v: Array, group_v: Array, string_i: Array) -> Array:
    diode = network.blocking
    if diode == NO_DIODE:
        return np.zeros_like(string_i)
    panels = np.add.reduceat(network.group_many * group_v, network.string_start, axis=1)
    blocked = panels - v[:, None]
    least = 10.0 * diode.saturation_current
    conducting = diode.thermal_voltage * np.log(
        np.maximum(string_i, least) / diode.saturation_current
    )
    return np.where(string_i > least, conducting, np.minimum(blocked, conducting))
