"""Exact operating points of a network: Newton on the tree, at linear cost.

Every cell and diode is linearised at its own voltage. Series parts are reduced to a source
voltage with a resistance (Thévenin), parallel parts to a source current with a conductance
(Norton), from the cells up to the array; the answer is carried back down.
"""

from dataclasses import dataclass, fields

import numpy as np

from sunhitch.texts import sentence
from sunhitch_service.engine.errors import ContradictionError, Fault

from .accelerate import loops
from .cell import LIMITS, Array, Index, Junction, Junctions, Mask, dark_current, diode_current
from .network import NO_DIODE, Network

_TOLERANCE, _NEAR = 1e-9, 1e-6
"""Relative change that may be left in a step, or from `_NEAR` in the next one, which shrinks at
least as the last did (E. Hairer, G. Wanner, Solving ODEs II, IV.8; from memory)."""
_ROUNDING, _MANY_STEPS = 1e-5, 30
"""A relative change as small as this after so many steps is rounding: a cell with hardly any shunt
has any voltage at its light current."""
_MOST_STEPS, _FOLLOWED_STEPS = 120, 8
"""Tops are followed in the first steps, and solved where they are by then."""
_SHORTEST_APPROACH = 0.3
"""Share of the distance to breakdown that must be left after one step."""
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


_FIELDS = [field.name for field in fields(State)]


class NotSolvedError(ContradictionError):
    """Newton's method found no operating point, which no real part has been seen to cause."""

    def __init__(self) -> None:
        message = sentence("array-not-solved")
        super().__init__([Fault("", message)])


def solve(
    network: Network,
    state: State,
    is_open: Mask,
    scale: float,
    tops: tuple[Array, Array] | None = None,
) -> State:
    """Iterate to the exact operating points.

    Parameters
    ----------
    network : Network
        The array.
    state : State
        Starting values; changed in place.
    is_open : ndarray of bool, shape (points,)
        Points at which no current flows.
    scale : float
        Largest string current [A], against which currents are small or not.
    tops : tuple of ndarray, shape (points,), optional
        Voltages between which a point is taken to where power is level; at all others, and where
        both are equal, the voltage stays as given.

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
        if not compiled.solved(*_for_loops(network, state, is_open, scale, tops)):
            raise NotSolvedError
        return state
    tree = NewtonTree(network, is_open, scale)
    tree.tops = tops
    before = 0.0
    for count in range(_MOST_STEPS):
        if count == _FOLLOWED_STEPS:
            tree.tops = None
        change = tree.step(state)
        if (
            change < _TOLERANCE
            or (change < _NEAR and change**2 < _TOLERANCE * before)
            or (change < _ROUNDING and count > _MANY_STEPS)
        ):
            return state
        before = change
    raise NotSolvedError


def _for_loops(
    network: Network, state: State, is_open: Mask, scale: float, tops: tuple[Array, Array] | None
) -> tuple[object, ...]:
    """What the compiled loop takes; it changes the state's arrays, which are its own then."""
    columns = tuple(np.array(getattr(state, name), np.float64, order="C") for name in _FIELDS)
    for name, column in zip(_FIELDS, columns, strict=True):
        setattr(state, name, column)
    reach = np.array((state.voltage, state.voltage) if tops is None else tops)
    tolerances = _TOLERANCE, _NEAR, _ROUNDING, _SHORTEST_APPROACH
    counts = _MANY_STEPS, _MOST_STEPS, _FOLLOWED_STEPS
    settings = LIMITS, tolerances, counts
    return network.flat, columns[:4], columns[4:], is_open, reach, scale, settings


class NewtonTree:
    """One linearisation and reduction of the network after the other.

    A part that is linearised is a row of three: a source, a resistance or conductance, and a
    curvature; of voltages where parts are in series, of currents where they are in parallel.
    """

    def __init__(self, network: Network, is_open: Mask, scale: float) -> None:
        self.n, self.is_open, self.scale = network, is_open, scale
        self.d_sat, self.d_vt, self.d_rs = network.bypass
        self.lowest_v = _lowest(network.cells)
        self.blocked = network.blocking != NO_DIODE
        self.tops: tuple[Array, Array] | None = None
        self.moved = 0.0

    def step(self, state: State) -> float:
        """One Newton step; largest relative change."""
        n, v = self.n, state.junction_v
        j, j1, j2 = dark_current(v, n.cells)
        short = n.current - j
        branches = reduced(np.array((short + j1 * v, j1, -j2)), n.many, n.branch_start)
        branches[1] += n.branch_resistance
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
            self.moved,
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
        before = state.voltage
        v = np.where(self.is_open, source / state.conductance, before)
        state.voltage, state.current = v, source - state.conductance * v
        if self.tops is None:
            self.moved = 0.0
            return v[:, None]
        low, high = self.tops
        bend = state.bend
        top = v - state.rise / np.where(bend < 0.0, bend, -np.inf)
        v = np.where(low < high, np.minimum(np.maximum(top, low), high), v)
        state.voltage, state.current = v, source - state.conductance * v
        self.moved = float((np.abs(v - before) / (1.0 + v)).max())
        return v[:, None]

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
    compiled = loops()
    if compiled is not None:
        return np.asarray(compiled.reduced(parts, many, starts))
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
