"""Exact operating points of one array under many states of light.

The states are solved side by side as one network, block by block, from starting values read off
coarse curves. Cells of a path that see nearly the same light count as equal cells in their mean
light: the nearer to the path's current, the more alike they must be.
"""

from collections.abc import Iterator
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from sunhitch_service.engine.controller.settings import InputWindow
from sunhitch_service.engine.pv.cell import (
    Array,
    Index,
    Junctions,
    Mask,
    conducting_v,
    diode_columns,
)
from sunhitch_service.engine.pv.many_states import WiredParts
from sunhitch_service.engine.pv.network import Network
from sunhitch_service.engine.pv.newton import NewtonTree, State, reduced

_BLOCK = 120_000
"""Cells of the states in a block; once merged, what a processor's cache holds."""
_ALIKE, _NEAREST = 0.07, 5e-3
"""Cells are alike within this share of their distance from the path's current, which counts as
this share of the brightest cell's at least."""
_FIXED_STEPS, _STEPS = 1, (4, 5, 12, 30, 30)
"""Steps before an array leaves the voltage where it starts; most steps in a round. What is not
settled goes on in the next one."""
_REACH, _STEADY = 0.06, 0.05
"""How far an array may go from its first voltage, and how far its current may change in a step
before the voltage moves, as shares."""
_CLOSE, _SETTLED = 1e-3, 3e-5
"""Relative change of voltages, and of power, in the last step of a state that is settled."""
_CLOSEST = 1e-4
"""Change of any voltage after which no state of a block needs a further step."""
_ASTRAY = 0.02
"""Of the brightest cell's current: a path may end this far from where cells were merged for it."""
_SAFE = 0.8
"""Of the breakdown voltage: no cell starts beyond."""


@dataclass(frozen=True, slots=True)
class StartingPoints:
    """Where to begin, a row for every state.

    Parameters
    ----------
    voltage : ndarray, shape (states,)
        Of the array [V].
    group_v, string_i, path_i : ndarray, shape (states, parts)
        Voltages of bypass groups [V], currents of strings and of paths [A].
    """

    voltage: Array
    group_v: Array
    string_i: Array
    path_i: Array

    def put(self, states: Index, given: "StartingPoints") -> None:
        """Note those of some states."""
        for each in fields(self):
            getattr(self, each.name)[states] = getattr(given, each.name)

    def of(self, states: Index) -> "StartingPoints":
        """Those of some states."""
        return StartingPoints(*(getattr(self, each.name)[states] for each in fields(self)))

    def scaled(self, volts: Array, amperes: Array) -> "StartingPoints":
        """The same at other light and heat, by factors; skipped groups keep their voltage."""
        v, a = volts[:, None], amperes[:, None]
        group_v = np.where(self.group_v > 0.0, self.group_v * v, self.group_v)
        return StartingPoints(self.voltage * volts, group_v, self.string_i * a, self.path_i * a)


@dataclass(frozen=True, slots=True)
class LitCells:
    """Cells of an array in every state of light.

    Parameters
    ----------
    current : ndarray, shape (states, cells)
        Light current [A], rising within a path.
    junctions : ndarray, shape (7, panels, states)
        Fields of `Junction`.
    """

    current: Array
    junctions: Array


def operating_points(
    parts: WiredParts, lit: LitCells, start: StartingPoints, window: InputWindow
) -> tuple[Array, Array, Mask]:
    """Voltage and current at which a tracker works, near where it starts.

    Parameters
    ----------
    parts : WiredParts
        The array.
    lit : LitCells
        Its cells in every state.
    start : StartingPoints
        The top to climb.
    window : InputWindow
        What the tracker may do; the starting voltage does not count.

    Returns
    -------
    tuple of ndarray
        Voltage [V], current [A], and whether the state is settled.
    """
    first_v, start = start.voltage, start.of(np.arange(len(start.voltage)))
    current, settled = np.zeros(len(start.voltage)), np.zeros(len(start.voltage), dtype=bool)
    for steps in _STEPS:
        for own in _blocks(np.flatnonzero(~settled), lit.current.shape[1]):
            cells = LitCells(lit.current[own], lit.junctions[:, :, own])
            state, settled[own] = _settled(parts, cells, start.of(own), first_v[own], window, steps)
            parted = (
                each.reshape(len(own), -1)
                for each in (state.group_v, state.string_i, state.branch_i)
            )
            start.put(own, StartingPoints(state.voltage, *parted))
            current[own] = state.current
    return start.voltage, current, settled


def _blocks(states: Index, cells: int) -> Iterator[Index]:
    step = max(1, _BLOCK // cells)
    for first in range(0, len(states), step):
        yield states[first : first + step]


def _settled(
    parts: WiredParts,
    lit: LitCells,
    start: StartingPoints,
    first_v: Array,
    window: InputWindow,
    steps: int,
) -> tuple[State, Mask]:
    network = _side_by_side(parts, lit, start)
    arrays = _Arrays(network, first_v, float(lit.current.max()), window)
    state = _begun(network, start)
    power, before = start.voltage, state.junction_v
    for count in range(steps):
        power, before = state.voltage * state.current, state.junction_v
        if arrays.step(state) < _CLOSEST and count > _FIXED_STEPS:
            break
    moved = np.abs(state.junction_v - before)[0] / (1.0 + np.abs(before[0]))
    first_cells = network.branch_start[:: len(parts.path_panel)]
    settled = np.maximum.reduceat(moved, first_cells) < _CLOSE
    settled &= np.abs(state.voltage * state.current - power) <= _SETTLED * power
    settled &= np.abs(state.voltage / first_v - 1.0) < 0.999 * _REACH
    # Cells are merged by the currents that their paths were to have.
    astray = np.abs(state.branch_i.reshape(start.path_i.shape) - start.path_i).max(axis=1)
    settled &= astray < _ASTRAY * lit.current.max(axis=1)
    return state, settled


class _Arrays(NewtonTree):
    """Arrays side by side, each at a voltage of its own, which moves to where its tracker works."""

    def __init__(self, network: Network, first_v: Array, scale: float, window: InputWindow) -> None:
        super().__init__(network, np.zeros(1, dtype=bool), scale)
        self._first_v, self._window, self._count = first_v, window, 0
        self._strings = len(network.string_start) // len(first_v)
        self._starts: Index = np.arange(len(first_v)) * self._strings

    def terminals(self, state: State, strings: Array) -> Array:
        """Move every array and return the voltage of every string."""
        source, g, bend = reduced(strings, self.n.string_many, self._starts)[:, 0]
        window, v = self._window, state.voltage
        if not window.fixed and self._count >= _FIXED_STEPS:
            i = source - g * v
            steady = np.abs(i - state.current) <= _STEADY * np.abs(i)
            top = v - (i - v * g) / np.minimum(v * bend - 2.0 * g, -g)
            wanted = np.maximum(top, v + (i - window.largest_a) / g)
            reach = _REACH * self._first_v
            # Ever shorter steps end a swing about a kink.
            wanted = np.clip(wanted, v - reach / self._count, v + reach / self._count)
            wanted = np.clip(wanted, self._first_v - reach, self._first_v + reach)
            v = np.where(steady, np.maximum(wanted, window.lowest_v), v)
        self._count += 1
        state.voltage, state.current = v, source - g * v
        return np.repeat(v, self._strings)[None]


def _side_by_side(parts: WiredParts, lit: LitCells, start: StartingPoints) -> Network:
    """All states as one network, like cells merged."""
    states, paths = start.path_i.shape
    path_start = parts.path_start
    rank = _rank(lit, np.repeat(start.path_i, np.diff(path_start), axis=1))
    first = np.empty(rank.shape, dtype=bool)
    np.not_equal(rank[:, 1:], rank[:, :-1], out=first[:, 1:])
    first[:, path_start[:-1]] = True
    begin = np.flatnonzero(first)
    many = np.diff(begin, append=first.size).astype(np.float64)
    count = np.add.reduceat(first, path_start[:-1], axis=1, dtype=np.intp).ravel()
    branch_of_cell = np.repeat(np.arange(states * paths, dtype=np.intp), count)
    panel: Index = np.tile(parts.path_panel, states)
    state = np.repeat(np.arange(states, dtype=np.intp), paths)
    own = (panel * states + state)[branch_of_cell]
    current = np.add.reduceat(lit.current.ravel(), begin) / many
    group_start, group_of_branch = _repeated(parts.group_start, states)
    string_start, string_of_group = _repeated(parts.string_start, states)
    return Network(
        current=current,
        many=many,
        fraction=current,
        model=panel[branch_of_cell],
        junctions=[],
        cells=Junctions(*[np.asarray(row.ravel()[own], dtype=np.float64) for row in lit.junctions]),
        branch_start=np.cumsum(count) - count,
        branch_many=np.ones(len(count)),
        group_start=group_start,
        group_many=np.ones(len(group_start)),
        group_diode=parts.diodes * states,
        string_start=string_start,
        string_many=np.ones(len(string_start)),
        blocking=parts.wiring.blocking,
        resistance=parts.wiring.resistance,
        places={},
        branch_of_cell=branch_of_cell,
        group_of_branch=group_of_branch,
        string_of_group=string_of_group,
    )


def _rank(lit: LitCells, path_i: Array) -> NDArray[np.float32]:
    """Equal for cells that are alike; in place and in single precision, for they are many."""
    off: NDArray[np.float32] = np.subtract(lit.current, path_i, dtype=np.float32)
    off /= (_NEAREST * lit.current.max(axis=1, keepdims=True)).astype(np.float32)
    rank = np.abs(off)
    np.log1p(rank, out=rank)
    rank *= np.float32(1.0 / _ALIKE)
    np.copysign(rank, off, out=rank)
    return np.rint(rank, out=rank)


def _repeated(bounds: Index, states: int) -> tuple[Index, Index]:
    """First part of every owner, and owner of every part, of one array after the other."""
    starts: Index = np.arange(states)[:, None] * bounds[-1] + bounds[:-1]
    owners: Index = np.repeat(np.arange(starts.size), np.tile(np.diff(bounds), states))
    return starts.ravel(), owners


def _begun(network: Network, start: StartingPoints) -> State:
    """Cells at the voltage of what their junctions take, as if only the diode or the shunt did."""
    cells, path_i = network.cells, start.path_i.reshape(1, -1)
    taken = network.current - path_i.take(network.branch_of_cell, axis=1)
    ohmic = taken / cells.shunt_conductance
    ideal = cells.thermal_voltage * np.log1p(np.maximum(taken, 0.0) / cells.saturation_current)
    reverse = np.maximum(ohmic, _SAFE * cells.breakdown_voltage)
    group_v, string_i = start.group_v.reshape(1, -1), start.string_i.reshape(1, -1)
    none = np.zeros(len(start.voltage))
    return State(
        voltage=start.voltage,
        current=none,
        conductance=none,
        curvature=none,
        junction_v=np.where(taken > 0.0, np.minimum(ideal, ohmic), reverse),
        bypass_u=np.minimum(
            -group_v, conducting_v(network.bypass, string_i[:, network.string_of_group])
        ),
        blocking_u=conducting_v(diode_columns([network.blocking]), string_i),
        string_i=string_i,
        group_v=group_v,
        branch_i=path_i,
    )
