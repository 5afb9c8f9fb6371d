"""Exact operating points of a network: Newton on the tree, at linear cost.

Every cell and diode is linearised at its own voltage. Series parts are reduced to a source
voltage with a resistance (Thévenin), parallel parts to a source current with a conductance
(Norton), from the cells up to the array; the answer is carried back down.
"""

from dataclasses import dataclass
from types import ModuleType

import numpy as np
from numpy.typing import NDArray

from sunhitch_service.engine.errors import ContradictionError, Fault

from .accelerate import loops
from .cell import (
    LEAST_CONDUCTANCE_S,
    Array,
    Junction,
    Junctions,
    dark_current,
    diode_columns,
    diode_current,
)
from .network import NO_DIODE, Index, Network

_TOLERANCE, _NEAR = 1e-10, 1e-8
"""Relative change that may be left in a step, or from `_NEAR` in the next one, which shrinks at
least as the last did (E. Hairer, G. Wanner, Solving ODEs II, IV.8; from memory)."""
_ROUNDING, _MANY_STEPS = 1e-5, 30
"""A relative change as small as this after so many steps is rounding: a cell with hardly any shunt
has any voltage at its light current."""
_MOST_STEPS = 120
_SHORTEST_APPROACH = 0.3
"""Share of the distance to breakdown that must be left after one step."""
_LIMITS = (
    _TOLERANCE,
    _NEAR,
    _ROUNDING,
    _MANY_STEPS,
    _MOST_STEPS,
    _SHORTEST_APPROACH,
    LEAST_CONDUCTANCE_S,
)
"""All of these, for the compiled loops."""
_ALL: Index = np.zeros(1, dtype=np.intp)
"""One owner of all strings."""


@dataclass(slots=True)
class State:
    """Unknowns and results for several operating points; the first axis counts points.

    `voltage`, `current` and `conductance` (−dI/dV) are those of the array's terminals [V, A, S],
    `curvature` is d²I/dV² [A/V²]; `junction_v` belongs to cells, `bypass_u` and `group_v` to
    groups, `blocking_u` and `string_i` to strings, `branch_i` to paths [V, A]. `bypass_u` and
    `blocking_u` are positive where the diode conducts.
    """

    voltage: Array
    current: Array
    conductance: Array
    curvature: Array
    junction_v: Array
    bypass_u: Array
    blocking_u: Array
    string_i: Array
    group_v: Array
    branch_i: Array

    @property
    def power(self) -> Array:
        """Power at the terminals [W], shape (points,)."""
        return self.voltage * self.current

    @property
    def rise(self) -> Array:
        """dP/dV [A], shape (points,)."""
        return self.current - self.voltage * self.conductance

    @property
    def bend(self) -> Array:
        """d²P/dV² [A/V], shape (points,)."""
        return self.voltage * self.curvature - 2.0 * self.conductance


class NotSolvedError(ContradictionError):
    """Newton's method found no operating point, which no real part has been seen to cause."""

    def __init__(self) -> None:
        message = (
            "The array cannot be solved: a nameplate, cell model or diode given is not of a real "
            "part. Check Voc and Isc against Vmp and Imp, and the number of cells in series."
        )
        super().__init__([Fault("", message)])


def solve(network: Network, state: State, is_open: NDArray[np.bool_], scale: float) -> State:
    """Iterate to the exact operating points.

    Parameters
    ----------
    network : Network
        The array.
    state : State
        Starting values; changed in place.
    is_open : ndarray of bool, shape (points,)
        Points at which no current flows; at the others the voltage stays as given.
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
    compiled = loops()
    if compiled is not None:
        return _in_loops(compiled, network, state, is_open, scale)
    tree = NewtonTree(network, is_open, scale)
    before = 0.0
    for count in range(_MOST_STEPS):
        change = tree.step(state)
        if (
            change < _TOLERANCE
            or (change < _NEAR and change**2 < _TOLERANCE * before)
            or (change < _ROUNDING and count > _MANY_STEPS)
        ):
            return state
        before = change
    raise NotSolvedError


def _in_loops(
    compiled: ModuleType, network: Network, state: State, is_open: NDArray[np.bool_], scale: float
) -> State:
    """The same steps, compiled; every point by itself."""
    terminals, *unknowns = unknown_tables(state)
    terminals[:, 4] = is_open
    if not compiled.iterate(network.tables, (terminals, *unknowns), (scale, *_LIMITS)):
        raise NotSolvedError
    state.junction_v, state.bypass_u, state.blocking_u = unknowns[:3]
    state.string_i, state.group_v, state.branch_i = unknowns[3:]
    state.voltage, state.current, state.conductance, state.curvature = terminals[:, :4].T
    return state


def unknown_tables(state: State) -> tuple[Array, ...]:
    """The state as the compiled loops take it, see `loops.points.Unknowns`."""
    terminals = np.zeros((len(state.voltage), 5))
    terminals[:, 0] = state.voltage
    parts = (
        state.junction_v, state.bypass_u, state.blocking_u,
        state.string_i, state.group_v, state.branch_i,
    )  # fmt: skip
    return terminals, *(np.ascontiguousarray(one) for one in parts)


class NewtonTree:
    """One linearisation and reduction of the network after the other.

    A part that is linearised is a row of three: a source, a resistance or conductance, and a
    curvature; of voltages where parts are in series, of currents where they are in parallel.
    """

    def __init__(self, network: Network, is_open: NDArray[np.bool_], scale: float) -> None:
        self.n, self.is_open, self.scale = network, is_open, scale
        self.d_sat, self.d_vt, self.d_rs = diode_columns(network.group_diode)
        self.branch_rs = np.add.reduceat(
            network.many * network.cells.series_resistance, network.branch_start
        )
        self.lowest_v = _lowest(network.cells)
        self.blocked = network.blocking != NO_DIODE

    def step(self, state: State) -> float:
        """One Newton step; largest relative change."""
        n, v = self.n, state.junction_v
        j, j1, j2 = dark_current(v, n.cells)
        short = n.current - j
        branches = reduced(np.array((short + j1 * v, j1, -j2)), n.many, n.branch_start)
        branches[1] += self.branch_rs
        i_d, diodes = self._diodes(state)
        groups = reduced(branches, n.branch_many, n.group_start)
        groups += diodes
        strings = reduced(groups, n.group_many, n.string_start)
        strings[1] += n.resistance
        i_k, g_k = self._add_blocking(state, strings)
        state.string_i = (strings[0] - self.terminals(state, strings)) / strings[1]
        state.group_v = (groups[0] - state.string_i.take(n.string_of_group, axis=1)) / groups[1]
        state.branch_i = (branches[0] - state.group_v.take(n.group_of_branch, axis=1)) / branches[1]
        change = (short - state.branch_i.take(n.branch_of_cell, axis=1)) / j1
        state.junction_v = self._limited(v, change)
        worst = [
            (np.abs(state.junction_v - v) / (1.0 + np.abs(state.junction_v))).max(),
            self._move_diodes(state, i_d, diodes),
        ]
        if self.blocked:
            worst.append(self._move_blocking(state, i_k, g_k))
        return float(np.max(worst))

    def terminals(self, state: State, strings: Array) -> Array:
        """Voltage and current of the array; returns the voltage of every string."""
        array = reduced(strings, self.n.string_many, _ALL)[:, :, 0]
        source, state.conductance, state.curvature = array
        if not (state.conductance > 0.0).all():
            raise NotSolvedError
        state.voltage = np.where(self.is_open, source / state.conductance, state.voltage)
        state.current = source - state.conductance * state.voltage
        return state.voltage[:, None]

    def _diodes(self, state: State) -> tuple[Array, Array]:
        """Currents of the bypass diodes [A], and the diodes linearised."""
        i, g, k = diode_current(state.bypass_u, self.d_sat, self.d_vt)
        loop = 1.0 + g * self.d_rs
        return i, np.array(((i - g * state.bypass_u) / loop, g / loop, k / loop**3))

    def _add_blocking(self, state: State, strings: Array) -> tuple[Array, Array]:
        d = self.n.blocking
        if not self.blocked:
            return strings[0], strings[1]
        i, g, k = diode_current(state.blocking_u, d.saturation_current, d.thermal_voltage)
        strings[0] -= state.blocking_u - i / g
        strings[1] += d.series_resistance + 1.0 / g
        strings[2] += k / g**3
        return i, g

    def _limited(self, v: Array, change: Array) -> Array:
        """Follow the exponential instead of its tangent upwards, and never reach breakdown."""
        moved = np.maximum(v + change, self.lowest_v + _SHORTEST_APPROACH * v)
        vt = self.n.cells.thermal_voltage
        far = change > 2.0 * vt
        if not far.any():
            return moved
        gentle = np.maximum(v, 0.0) + vt * np.log1p(np.maximum(change, 0.0) / vt)
        return np.where(far, np.minimum(moved, gentle), moved)

    def _move_diodes(self, state: State, i_d: Array, diodes: Array) -> float:
        goal_i = diodes[0] - diodes[1] * state.group_v
        wanted = -state.group_v - goal_i * self.d_rs
        state.bypass_u = _limited_diode(state.bypass_u, wanted, self.d_vt)
        return float(np.abs(goal_i - i_d).max()) / self.scale

    def _move_blocking(self, state: State, i_k: Array, g_k: Array) -> float:
        wanted = state.blocking_u + (state.string_i - i_k) / g_k
        state.blocking_u = _limited_diode(state.blocking_u, wanted, self.n.blocking.thermal_voltage)
        return float(np.abs(state.string_i - i_k).max()) / self.scale


def reduced(parts: Array, many: Array, starts: Index) -> Array:
    """Turn parts from Norton's form to Thévenin's, or back, and add up those of every owner."""
    inverse = 1.0 / parts[1]
    weight = many * inverse
    turned = parts * weight
    turned[1] = weight
    turned[2] *= inverse * inverse
    return np.add.reduceat(turned, starts, axis=2)


def _lowest(cells: Junction | Junctions) -> Array:
    """What to add to a share of a cell's voltage so that it stays above breakdown [V]."""
    return np.where(
        cells.breakdown_factor > 0.0,
        (1.0 - _SHORTEST_APPROACH) * cells.breakdown_voltage,
        -np.inf,
    )


def _limited_diode(u: Array, wanted: Array, thermal: Array | float) -> Array:
    change = wanted - u
    far = (change > 2.0 * thermal) & (wanted > 5.0 * thermal)
    if not far.any():
        return wanted
    knee = np.maximum(u, 5.0 * thermal)
    gentle = knee + thermal * np.log1p(np.maximum(change, 0.0) / thermal)
    return np.where(far, np.minimum(wanted, gentle), wanted)
