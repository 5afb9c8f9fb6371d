"""Operating points that matter: short circuit, open circuit and every maximum of power."""

from dataclasses import dataclass

import numpy as np

from .cell import Array, diode_columns
from .curve import Curve
from .network import NO_DIODE, Network
from .newton import Goal, State, solve
from .sweep import Sweep

_SAME_VOLTAGE = 1e-6
_LEVEL = 1e-6
"""dP/dV at a maximum, as a share of the largest string current."""


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
    state : State
        All points.
    """

    short_circuit_current: float
    open_circuit_voltage: float
    maxima: list[int]
    state: State


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
    array = curves.array
    tops, low, high = _tops_on_points(array)
    v = np.concatenate(([0.0, array.open_circuit], tops))
    goal = Goal(
        open_circuit=np.arange(len(v)) == 1,
        low=np.concatenate(([0.0, 0.0], low)),
        high=np.concatenate(([0.0, 0.0], high)),
    )
    state = solve(network, start(network, curves, v), goal, curves.scale)
    return Points(
        float(state.current[0]),
        float(state.voltage[1]),
        _maxima(state, curves.scale, float(array.v[-1])),
        state,
    )


def _tops_on_points(array: Curve) -> tuple[Array, Array, Array]:
    """Voltages where dP/dV falls through zero, with the dips on either side as bounds."""
    v, rise = array.v, array.i + array.v * array.slope
    up = rise > 0.0
    at = np.flatnonzero(up[:-1] & ~up[1:])
    dips = np.flatnonzero(up[1:] & ~up[:-1])
    rises = np.array((v, rise))
    ends = rises.take(at, axis=1), rises.take(at + 1, axis=1)
    top = _crossing(*ends)
    i, slope = array.currents(top)
    middle = np.array((top, i + top * slope))
    beyond = middle[1] <= 0.0
    top = _crossing(np.where(beyond, ends[0], middle), np.where(beyond, middle, ends[1]))
    after = v[dips].searchsorted(top)
    low = np.maximum(v[np.concatenate(([0], dips))[after]], 0.0)
    high = v[np.concatenate((dips + 1, [len(v) - 1]))[after]]
    return top, low, high


def _crossing(left: Array, right: Array) -> Array:
    """Where straight lines between points above and below zero cross it."""
    (x0, y0), (x1, y1) = left, right
    return np.asarray(x0 + (x1 - x0) * (y0 / (y0 - y1)))


def _maxima(state: State, scale: float, widest: float) -> list[int]:
    """Rows that are maxima, each once, by falling power."""
    powers = state.voltage * state.current
    true = (np.abs(state.rise) < _LEVEL * scale) & (state.curvature < 0.0) & (powers > 0.0)
    found: list[int] = []
    for row in np.argsort(-powers, kind="stable"):
        apart = all(
            abs(state.voltage[row] - state.voltage[other]) > _SAME_VOLTAGE * widest
            for other in found
        )
        if row > 1 and true[row] and apart:
            found.append(int(row))
    return found


def start(network: Network, curves: Sweep, v: Array) -> State:
    """Voltages and currents of every part, read off the curves from the array down."""
    everywhere = np.repeat(v[:, None], len(network.string_start), axis=1)
    strings = -curves.strings.over_voltage.each(everywhere)
    of_groups = strings.take(network.string_of_group, axis=1)
    groups = curves.groups.over_current.each(-of_groups)
    of_branches = groups.take(network.group_of_branch, axis=1)
    branches = -curves.branches.over_voltage.each(of_branches)
    taken = network.current - branches[:, network.branch_of_cell]
    junctions = np.empty_like(taken)
    for model, table in enumerate(curves.tables):
        ours = network.model == model
        junctions[:, ours] = table.voltages(taken[:, ours].clip(table.j[0], table.j[-1]))[0]
    return State(
        voltage=v,
        current=np.zeros(len(v)),
        junction_v=junctions,
        bypass_u=_bypass_start(network, groups, strings, branches),
        blocking_u=_blocking_start(network, v, groups, strings),
        string_i=strings,
        group_v=groups,
        branch_i=branches,
        rise=np.zeros(len(v)),
        curvature=np.zeros(len(v)),
    )


def _bypass_start(network: Network, group_v: Array, string_i: Array, branch_i: Array) -> Array:
    saturation, thermal, resistance = diode_columns(network.group_diode)
    through_cells = np.add.reduceat(network.branch_many * branch_i, network.group_start, axis=1)
    spare = np.maximum(string_i[:, network.string_of_group] - through_cells, 0.0)
    present = np.where(saturation > 0.0, saturation, np.inf)
    highest = thermal * np.log1p(np.maximum(string_i[:, network.string_of_group], 0.0) / present)
    start: Array = np.minimum(-group_v - spare * resistance, highest)
    return start


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
