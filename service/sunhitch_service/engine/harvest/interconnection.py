"""Strings in series, arrays in parallel, and where a controller can work on their curves."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sunhitch_service.engine.controller.settings import InputWindow
from sunhitch_service.engine.pv.cell import Array, Diode
from sunhitch_service.engine.pv.network import NO_DIODE
from sunhitch_service.engine.pv.table import current_scale, diode_curve

from .curves import rows_at
from .setup import Index

_VOLTAGES = 260
_BLOCKED_V = 1e4


@dataclass(frozen=True, slots=True)
class ControllerInput:
    """One controller's panels.

    Parameters
    ----------
    strings : tuple of tuple of int
        Panels by number in series, strings in parallel.
    blocking : Diode
        In series with every string.
    resistance : float
        In series with every string [Ω].
    window : InputWindow
        What the controller can do.
    """

    strings: tuple[tuple[int, ...], ...]
    blocking: Diode
    resistance: float
    window: InputWindow


@dataclass(frozen=True, slots=True)
class ArrayCurves:
    """Currents of distinct arrays over common voltages.

    Parameters
    ----------
    voltage : ndarray, shape (points,)
        Rising [V].
    current : ndarray, shape (arrays, points)
        [A], falling.
    of_state : ndarray of int, shape (states,)
        Which array each state has.
    """

    voltage: Array
    current: Array
    of_state: Index


@dataclass(frozen=True, slots=True)
class StateFactors:
    """From reference conditions to each state, shape (states,): factors of voltage and power."""

    voltage: Array
    power: Array


@dataclass(frozen=True, slots=True)
class OperatingPoints:
    """Each state of one controller's array, shape (states,).

    Parameters
    ----------
    maximum_w : ndarray
        Largest power whatever the controller [W].
    drawn_w, drawn_v : ndarray
        Power and voltage at which the controller works; 0 where it cannot [W], [V].
    """

    maximum_w: Array
    drawn_w: Array
    drawn_v: Array


def array_curves(
    wired: ControllerInput, currents: Array, volts: Array, groups: Sequence[Index]
) -> ArrayCurves:
    """Join groups to strings and strings to arrays.

    Parameters
    ----------
    wired : ControllerInput
        Strings of panels.
    currents : ndarray, shape (points,)
        Common current grid [A].
    volts : ndarray, shape (groups, points)
        Voltage of distinct groups [V].
    groups : sequence of ndarray of int, shape (states, groups of the panel)
        For every panel, which groups it has.

    Returns
    -------
    ArrayCurves
        Every distinct array once.
    """
    members = [_distinct(np.concatenate([groups[p] for p in s], axis=1)) for s in wired.strings]
    rows = np.concatenate([volts[own].sum(axis=1) for own, _ in members])
    first = np.cumsum([0, *(len(own) for own, _ in members[:-1])])
    strings = np.stack([start + of for start, (_, of) in zip(first, members, strict=True)], axis=1)
    arrays, of_state = _distinct(strings)
    rows = rows - wired.resistance * currents - _blocking_drop(wired.blocking, currents)
    voltage = np.linspace(0.0, _open_circuit(currents, rows), _VOLTAGES)
    amperes = rows_at(voltage, rows[:, ::-1], np.broadcast_to(currents[::-1], rows.shape))
    return ArrayCurves(voltage, amperes[arrays].sum(axis=1), of_state)


def _distinct(members: Index) -> tuple[Index, Index]:
    """Rows that differ by more than the order of their members, and which each row is."""
    rows, of_row = np.unique(np.sort(members, axis=1), axis=0, return_inverse=True)
    return rows, of_row.ravel()


def _open_circuit(currents: Array, rows: Array) -> float:
    zero = int(np.searchsorted(currents, 0.0))
    return 1.001 * max(float(rows[:, zero].max()), 1e-3)


def _blocking_drop(diode: Diode, currents: Array) -> Array:
    """Voltage over a blocking diode; almost any backwards."""
    if diode == NO_DIODE:
        return np.zeros_like(currents)
    curve = diode_curve(diode, current_scale(float(currents[-1])), 20.0 * diode.thermal_voltage)
    forward = -curve.voltages(np.maximum(currents, 0.0))[0]
    return np.where(currents < 0.0, -_BLOCKED_V + currents, np.maximum(forward, 0.0))


def working_points(
    curves: ArrayCurves, window: InputWindow, scale: StateFactors
) -> OperatingPoints:
    """Where a controller works on the curve of each state.

    Parameters
    ----------
    curves : ArrayCurves
        At reference conditions.
    window : InputWindow
        What the controller can do.
    scale : StateFactors
        From these conditions to each state's.

    Returns
    -------
    OperatingPoints
        The tracker is taken to find the largest maximum that it may use.
    """
    power = np.maximum(curves.voltage * curves.current, 0.0)
    top_v, top_w = _tops(curves.voltage, power)
    own_v, own_w = top_v[curves.of_state], top_w[curves.of_state]
    lowest = window.lowest_v / scale.voltage
    if window.fixed:
        drawn_v, drawn = lowest, _read(curves, power, lowest)
        limit = window.largest_a * window.lowest_v / scale.power
        drawn = np.minimum(drawn, limit)
    else:
        lowest = np.maximum(lowest, _voltage_of(curves, window.largest_a, scale))
        beyond_v, beyond_w = _from_right(curves, power, lowest)
        free = own_v >= lowest
        drawn_v, drawn = np.where(free, own_v, beyond_v), np.where(free, own_w, beyond_w)
    opens = _open_voltages(curves)[curves.of_state] * scale.voltage >= window.start_v
    drawn = np.where(opens, drawn, 0.0)
    return OperatingPoints(
        maximum_w=own_w * scale.power,
        drawn_w=drawn * scale.power,
        drawn_v=np.where(drawn > 0.0, drawn_v * scale.voltage, 0.0),
    )


def _tops(voltage: Array, power: Array) -> tuple[Array, Array]:
    """Largest power of each row, by a parabola through the best point and its neighbours."""
    rows = np.arange(len(power))
    best = np.clip(np.argmax(power, axis=1), 1, len(voltage) - 2)
    left, middle, right = (power[rows, best + step] for step in (-1, 0, 1))
    bend = left - 2.0 * middle + right
    curved = bend < 0.0
    shift = np.where(curved, 0.5 * (left - right) / np.where(curved, bend, 1.0), 0.0)
    shift = np.clip(shift, -1.0, 1.0)
    step = voltage[1] - voltage[0]
    lift = np.where(curved, -0.25 * (left - right) * shift, 0.0)
    return voltage[best] + shift * step, np.maximum(middle + lift, 0.0)


def _read(curves: ArrayCurves, power: Array, voltage: Array) -> Array:
    """Power of each state at a voltage of its own; zero beyond the curve."""
    at = voltage / (curves.voltage[1] - curves.voltage[0])
    left = np.clip(at.astype(np.int64), 0, len(curves.voltage) - 2)
    share = at - left
    rows = curves.of_state
    found = power[rows, left] * (1.0 - share) + power[rows, left + 1] * share
    return np.where(share > 1.0, 0.0, found)


def _from_right(curves: ArrayCurves, power: Array, lowest: Array) -> tuple[Array, Array]:
    """Voltage and power of the best point at or above a voltage of each state's own."""
    best = np.maximum.accumulate(power[:, ::-1], axis=1)[:, ::-1]
    every = np.arange(power.shape[1], dtype=np.int64)
    columns: Index = np.where(power >= best, every, every[-1])
    where = np.minimum.accumulate(columns[:, ::-1], axis=1)[:, ::-1]
    at = np.ceil(lowest / (curves.voltage[1] - curves.voltage[0])).astype(np.int64)
    inside = at < power.shape[1]
    column = np.minimum(at, power.shape[1] - 1)
    rows = curves.of_state
    grid_w, grid_v = best[rows, column], curves.voltage[where[rows, column]]
    edge = _read(curves, power, lowest)
    better = edge > grid_w
    volts = np.where(better, lowest, grid_v)
    return volts, np.where(inside, np.maximum(edge, grid_w), 0.0)


def _voltage_of(curves: ArrayCurves, largest_a: float, scale: StateFactors) -> Array:
    """Lowest voltage at which the current is within a limit [V]."""
    if not np.isfinite(largest_a):
        return np.zeros(len(curves.of_state))
    limit = largest_a * scale.voltage / scale.power
    too_much = curves.current[curves.of_state] > limit[:, None]
    return np.asarray(curves.voltage[np.minimum(too_much.sum(axis=1), len(curves.voltage) - 1)])


def _open_voltages(curves: ArrayCurves) -> Array:
    positive = (curves.current > 0.0).sum(axis=1)
    return np.asarray(curves.voltage[np.clip(positive, 0, len(curves.voltage) - 1)])
