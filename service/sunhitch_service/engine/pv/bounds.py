"""Bounds of power between solved operating points.

Cells, diodes and resistances are one-ports whose current falls as their voltage rises, in series
and in parallel. So as the array's voltage rises, every cell's voltage rises, and the voltage of
every conducting diode and the current of every string fall. Each conductance between two operating
points is then bounded by its values at both, and that of the array grows with each of them.
"""

import numpy as np

from .accelerate import loops
from .cell import (
    LARGEST_EXPONENT,
    LEAST_CONDUCTANCE_S,
    LIMITS,
    Array,
    Index,
    Junction,
    Junctions,
    dark_current,
    diode_columns,
)
from .network import NO_DIODE, Network
from .newton import State


def power_bounds(network: Network, state: State, left: Index, right: Index) -> Array:
    """Power that no operating point between two solved ones exceeds.

    The current is at most what the least conductance leaves of it on the left, and at most what
    the largest conductance adds to it from the right.

    Parameters
    ----------
    network : Network
        The array.
    state : State
        Solved operating points.
    left, right : ndarray of int, shape (intervals,)
        Points at the ends, at voltages from zero to open circuit.

    Returns
    -------
    ndarray, shape (intervals,)
        Power [W].
    """
    least, most = conductance_bounds(network, state, left, right)
    a, i_a = state.voltage[left], state.current[left]
    b, i_b = state.voltage[right], state.current[right]
    on_left, on_right = i_a + least * a, i_b + most * b
    apart = most - least
    meet = np.where(apart > 0.0, (on_right - on_left) / np.where(apart > 0.0, apart, 1.0), b)
    meet = np.minimum(np.maximum(meet, a), b)
    first = np.minimum(np.maximum(0.5 * on_left / least, a), meet)
    second = np.minimum(np.maximum(0.5 * on_right / most, meet), b)
    bound = np.maximum(first * (on_left - least * first), second * (on_right - most * second))
    return np.asarray(np.minimum(bound, b * i_a))


def conductance_bounds(network: Network, state: State, left: Index, right: Index) -> Array:
    """Least and largest −dI/dV of the array between two solved points [S], shape (2, intervals).

    Parameters
    ----------
    network : Network
        The array.
    state : State
        Solved operating points.
    left, right : ndarray of int, shape (intervals,)
        Points at the ends, by rising voltage.
    """
    n = network
    compiled = loops()
    if compiled is not None:
        parts = state.junction_v, state.bypass_u, state.blocking_u
        return np.asarray(compiled.conductance_bounds(n.flat, parts, left, right, LIMITS))
    cells = _cells(n.cells, state.junction_v[left], state.junction_v[right])
    resistances = np.add.reduceat(n.many / cells, n.branch_start, axis=2)
    resistances += n.branch_resistance
    groups: Array = np.add.reduceat(n.branch_many / resistances, n.group_start, axis=2)
    groups += _diodes(n.bypass, state.bypass_u[left], state.bypass_u[right])
    strings = np.add.reduceat(n.group_many / groups, n.string_start, axis=2) + n.resistance
    if n.blocking != NO_DIODE:
        own = diode_columns([n.blocking])
        strings += 1.0 / _diodes(own, state.blocking_u[left], state.blocking_u[right])
    return np.asarray((n.string_many / strings).sum(axis=2))


def _cells(cells: Junction | Junctions, low: Array, high: Array) -> Array:
    """Bounds of every cell's conductance: the diode's grows, the avalanche's falls with voltage."""
    ends = np.array((low, high))
    diode = (
        cells.saturation_current
        / cells.thermal_voltage
        * np.exp(np.minimum(ends / cells.thermal_voltage, LARGEST_EXPONENT))
    )
    rest = dark_current(ends, cells)[1] - diode
    turn, least = _turn(cells)
    inside = (low < turn) & (turn < high)
    floor = np.where(inside, np.minimum(rest.min(axis=0), least), rest.min(axis=0))
    found: Array = np.array((diode.min(axis=0) + floor, diode.max(axis=0) + rest.max(axis=0)))
    return np.asarray(np.maximum(found, LEAST_CONDUCTANCE_S))


def _turn(cells: Junction | Junctions) -> tuple[Array, Array]:
    """Voltage at which shunt and avalanche conduct least [V], and how much there [S]."""
    m, g = np.asarray(cells.breakdown_exponent), np.asarray(cells.shunt_conductance)
    share = np.where(m > 1.0, 2.0 / np.maximum(m - 1.0, 1e-9), np.inf)
    x = 1.0 + np.minimum(share, 1e9)
    avalanche = cells.breakdown_factor * x**-m * (1.0 - m * (x - 1.0) / x)
    return -cells.breakdown_voltage * share, g * (1.0 + avalanche)


def _diodes(diodes: Array, one: Array, two: Array) -> Array:
    """Bounds of every diode's conductance, with its resistance."""
    saturation, thermal, resistance = diodes
    u = np.array((np.minimum(one, two), np.maximum(one, two))) / thermal
    slope = saturation / thermal * np.exp(np.minimum(u, LARGEST_EXPONENT)) + LEAST_CONDUCTANCE_S
    return np.asarray(slope / (1.0 + slope * resistance))
