"""Exact operating points of a network: Newton on the tree, at linear cost.

Every cell and diode is linearised at its own voltage. Series parts are reduced to a source
voltage with a resistance (Thévenin), parallel parts to a source current with a conductance
(Norton), from the cells up to the array; the answer is carried back down.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sunhitch_service.engine.errors import ContradictionError, Fault

from .cell import Array, Junctions, dark_current, diode_current
from .network import NO_DIODE, Network

_TOLERANCE = 1e-10
_MOST_STEPS = 120
_HASTY, _HASTY_STEPS = 0.05, 8
_SETTLED = 1e-5
"""Relative changes below which a terminal voltage may move, in the first steps and later; once
settled, each move shrinks its bounds."""
_SHORTEST_APPROACH = 0.3
"""Share of the distance to breakdown that must be left after one step."""


@dataclass(slots=True)
class State:
    """Unknowns and results for several operating points; the first axis counts points.

    Parameters
    ----------
    voltage, current : ndarray, shape (points,)
        At the array's terminals [V], [A].
    junction_v : ndarray, shape (points, cells)
        Junction voltages [V].
    bypass_u : ndarray, shape (points, groups)
        Junction voltage of every bypass diode [V].
    blocking_u : ndarray, shape (points, strings)
        Junction voltage of every blocking diode [V].
    string_i : ndarray, shape (points, strings)
        String currents [A].
    group_v : ndarray, shape (points, groups)
        Group voltages [V].
    branch_i : ndarray, shape (points, branches)
        Path currents [A].
    rise, curvature : ndarray, shape (points,)
        dP/dV [A] and d²P/dV² [A/V]: zero and negative at a maximum.
    """

    voltage: Array
    current: Array
    junction_v: Array
    bypass_u: Array
    blocking_u: Array
    string_i: Array
    group_v: Array
    branch_i: Array
    rise: Array
    curvature: Array


@dataclass(frozen=True, slots=True)
class Goal:
    """What fixes each operating point: zero current, or the maximum of power within bounds.

    Parameters
    ----------
    open_circuit : ndarray of bool, shape (points,)
        Points at which no current flows.
    low, high : ndarray, shape (points,)
        Bounds of the voltage elsewhere [V]; equal bounds fix it.
    """

    open_circuit: NDArray[np.bool_]
    low: Array
    high: Array


class NotSolvedError(ContradictionError):
    """Newton's method found no operating point, which no real part has been seen to cause."""

    def __init__(self) -> None:
        message = (
            "The array cannot be solved: a nameplate, cell model or diode given is not of a real "
            "part. Check Voc and Isc against Vmp and Imp, and the number of cells in series."
        )
        super().__init__([Fault("", message)])


def solve(network: Network, state: State, goal: Goal, scale: float) -> State:
    """Iterate to the exact operating points.

    Parameters
    ----------
    network : Network
        The array.
    state : State
        Starting values; changed in place.
    goal : Goal
        What fixes each point.
    scale : float
        Largest string current [A], against which currents are small or not.

    Returns
    -------
    State
        The same object, solved.

    Raises
    ------
    NotSolvedError
        If it does not converge.
    """
    tree = _Tree(network, goal)
    for count in range(_MOST_STEPS):
        tree.patience = _HASTY if count < _HASTY_STEPS else _SETTLED
        if float(np.max(tree.step(state, goal, scale))) < _TOLERANCE:
            return state
    raise NotSolvedError


class _Tree:
    """One linearisation and reduction of the network after the other."""

    def __init__(self, network: Network, goal: Goal) -> None:
        self.n = network
        self.d_sat = np.array([d.saturation_current for d in network.group_diode])
        self.d_vt = np.array([d.thermal_voltage for d in network.group_diode])
        self.d_rs = np.array([d.series_resistance for d in network.group_diode])
        self.blocked = network.blocking != NO_DIODE
        self.low, self.high = goal.low, goal.high
        self.patience = _HASTY
        self.ahead = np.zeros(len(goal.low))
        self.quiet = np.ones(len(goal.low), dtype=bool)
        self.settled = np.zeros(len(goal.low), dtype=bool)

    def step(self, state: State, goal: Goal, scale: float) -> Array:
        """One Newton step; largest relative change of every point, shape (points,).

        The terminal voltage of a maximum moves only while the parts are close to it, within
        bounds that shrink by the sign of dP/dV.
        """
        n = self.n
        j, j1, j2 = dark_current(state.junction_v, n.cells)
        short = n.current - j
        series = n.many * (state.junction_v + short / j1)
        e_b = np.add.reduceat(series, n.branch_start, axis=1)
        r_b = np.add.reduceat(
            n.many * (n.cells.series_resistance + 1.0 / j1), n.branch_start, axis=1
        )
        c_b = np.add.reduceat(n.many * -j2 / j1**3, n.branch_start, axis=1)
        i_d, g_d, k_d = diode_current(state.bypass_u, self.d_sat, self.d_vt)
        loop = 1.0 + g_d * self.d_rs
        j_d, s_d = (i_d - g_d * state.bypass_u) / loop, g_d / loop
        j_g = np.add.reduceat(n.branch_many * e_b / r_b, n.group_start, axis=1) + j_d
        g_g = np.add.reduceat(n.branch_many / r_b, n.group_start, axis=1) + s_d
        k_g = np.add.reduceat(n.branch_many * c_b / r_b**3, n.group_start, axis=1) + k_d / loop**3
        e_s = np.add.reduceat(n.group_many * j_g / g_g, n.string_start, axis=1)
        r_s = np.add.reduceat(n.group_many / g_g, n.string_start, axis=1) + n.resistance
        c_s = np.add.reduceat(n.group_many * k_g / g_g**3, n.string_start, axis=1)
        i_k, g_k = self._add_blocking(state, e_s, r_s, c_s)
        self._terminals(state, goal, scale, e_s, r_s, c_s)
        state.string_i = (e_s - state.voltage[:, None]) / r_s
        state.group_v = (j_g - state.string_i[:, n.string_of_group]) / g_g
        state.branch_i = (e_b - state.group_v[:, n.group_of_branch]) / r_b
        change = (short - state.branch_i[:, n.branch_of_cell]) / j1
        moved = _limited(state.junction_v, change, n.cells)
        worst = np.max(np.abs(moved - state.junction_v) / (1.0 + np.abs(moved)), axis=1)
        state.junction_v = moved
        worst = np.maximum(worst, self._move_diodes(state, i_d, j_d, s_d, scale))
        if self.blocked:
            worst = np.maximum(worst, self._move_blocking(state, i_k, g_k, scale))
        self.quiet = worst < self.patience
        self.settled = worst < _SETTLED
        largest: Array = np.maximum(worst, self.ahead)
        return largest

    def _add_blocking(
        self, state: State, e_s: Array, r_s: Array, c_s: Array
    ) -> tuple[Array, Array]:
        d = self.n.blocking
        if not self.blocked:
            return e_s, r_s
        i, g, k = diode_current(state.blocking_u, d.saturation_current, d.thermal_voltage)
        e_s -= state.blocking_u - i / g
        r_s += d.series_resistance + 1.0 / g
        c_s += k / g**3
        return i, g

    def _terminals(
        self, state: State, goal: Goal, scale: float, e_s: Array, r_s: Array, c_s: Array
    ) -> None:
        many = self.n.string_many
        j = (many * e_s / r_s).sum(axis=1)
        g = (many / r_s).sum(axis=1)
        k = (many * c_s / r_s**3).sum(axis=1)
        slope: Array = np.asarray(-2.0 * g + state.voltage * k, dtype=np.float64)
        excess = j - 2.0 * g * state.voltage
        sure = self.settled & (np.abs(excess) > _SETTLED * scale)
        self.low = np.where(sure & (excess > 0.0), state.voltage, self.low)
        self.high = np.where(sure & (excess < 0.0), state.voltage, self.high)
        steep: Array = np.minimum(slope, np.where(slope < 0.0, 0.0, -2.0 * g))
        moved: Array = np.asarray(state.voltage - excess / steep)
        moved = np.clip(moved, 0.5 * (state.voltage + self.low), 0.5 * (state.voltage + self.high))
        ahead = np.where(goal.open_circuit, 0.0, moved - state.voltage)
        self.ahead = np.abs(ahead) / (1.0 + np.abs(state.voltage))
        moved = np.where(self.quiet, moved, state.voltage)
        state.voltage = np.where(goal.open_circuit, j / g, moved)
        state.current = np.where(goal.open_circuit, 0.0, j - g * state.voltage)
        state.rise, state.curvature = excess, slope

    def _move_diodes(self, state: State, i_d: Array, j_d: Array, s_d: Array, scale: float) -> Array:
        goal_i = j_d - s_d * state.group_v
        wanted = -state.group_v - goal_i * self.d_rs
        state.bypass_u = _limited_diode(state.bypass_u, wanted, self.d_vt)
        active = self.d_sat > 0.0
        return np.asarray(np.max(np.abs(goal_i - i_d) * active, axis=1) / scale)

    def _move_blocking(self, state: State, i_k: Array, g_k: Array, scale: float) -> Array:
        wanted = state.blocking_u + (state.string_i - i_k) / g_k
        state.blocking_u = _limited_diode(state.blocking_u, wanted, self.n.blocking.thermal_voltage)
        return np.asarray(np.max(np.abs(state.string_i - i_k), axis=1) / scale)


def _limited(v: Array, change: Array, cells: Junctions) -> Array:
    """Follow the exponential instead of its tangent upwards, and never reach breakdown."""
    vt = cells.thermal_voltage
    ahead = np.maximum(change, 0.0)
    gentle = np.maximum(v, 0.0) + vt * np.log1p(ahead / vt)
    upwards = np.where(ahead > 2.0 * vt, np.minimum(v + ahead, gentle), v + ahead)
    vbr = cells.breakdown_voltage
    lowest = np.where(cells.breakdown_factor > 0.0, vbr + _SHORTEST_APPROACH * (v - vbr), -np.inf)
    return np.where(change > 0.0, upwards, np.maximum(v + change, lowest))


def _limited_diode(u: Array, wanted: Array, thermal: Array | float) -> Array:
    change = wanted - u
    knee = np.maximum(u, 5.0 * thermal)
    return np.where(
        (change > 2.0 * thermal) & (wanted > 5.0 * thermal),
        np.minimum(wanted, knee + thermal * np.log1p(np.maximum(change, 0.0) / thermal)),
        wanted,
    )
