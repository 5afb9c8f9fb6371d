"""What strings in parallel give, faultless or with a fault.

Cells of a string are alike, so a string is one cell's curve times its positions; a path with a
cell that gives less is added to it, and strings in parallel add their currents at a common voltage.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from sunhitch_service.engine.pv.cell import (
    Array,
    Diode,
    Junction,
    conducting_v,
    dark_current,
    diode_columns,
)
from sunhitch_service.engine.pv.presets import ResolvedPanel
from sunhitch_service.engine.pv.translate import open_circuit

_LOWEST_JUNCTION_V = -0.5
_REACH = 0.95
"""Of the breakdown voltage: how far a cell is followed backwards."""
_POINTS = 1500
_LEAST_LIGHT_W_M2 = 0.1


@dataclass(frozen=True, slots=True)
class WeakGroup:
    """A bypass group in which one path gives less.

    Parameters
    ----------
    positions : int
        Cells in series.
    guarded : bool
        Whether a bypass diode spans it.
    light : float
        Share of the light current that the weak cells give [1].
    weak : int
        How many cells of one path are weak.
    paths : int
        Paths with such cells.
    """

    positions: int
    guarded: bool
    light: float
    weak: int = 1
    paths: int = 1


@dataclass(frozen=True, slots=True)
class StringState:
    """A string and what is wrong with it.

    Parameters
    ----------
    panel : ResolvedPanel
        Type of its panels.
    in_series : int
        Panels in series.
    light : float
        Share of the light that reaches it [1].
    warmer_k : float
        How much hotter its cells are [K].
    lost_positions : float
        Cells in series that add no voltage.
    weak : WeakGroup or None
        A group with weak cells.
    weak_groups : int
        How many such groups.
    extra_ohm : float
        Resistance in series [Ω].
    is_open : bool
        Whether it is interrupted.
    """

    panel: ResolvedPanel
    in_series: int
    light: float = 1.0
    warmer_k: float = 0.0
    lost_positions: float = 0.0
    weak: WeakGroup | None = None
    weak_groups: int = 0
    extra_ohm: float = 0.0
    is_open: bool = False

    @property
    def positions(self) -> int:
        """Cells in series."""
        return self.in_series * self.panel.layout.positions_in_series

    def __hash__(self) -> int:
        return hash((id(self.panel), self.light, self.warmer_k, self.lost_positions, self.weak))


@dataclass(frozen=True, slots=True)
class Terminals:
    """What a meter would show at the array.

    Parameters
    ----------
    open_circuit_v, short_circuit_a : float
        [V] and [A].
    maximum_v, maximum_a : float
        At maximum power [V] and [A].
    voltage, current : ndarray
        The whole curve [V], [A].
    """

    open_circuit_v: float
    short_circuit_a: float
    maximum_v: float
    maximum_a: float
    voltage: Array
    current: Array


def terminals(
    strings: Sequence[StringState], cable_ohm: float, irradiance_w_m2: float, cell_c: float
) -> Terminals:
    """Curve and special points of strings in parallel.

    Parameters
    ----------
    strings : sequence of StringState
        At least one.
    cable_ohm : float
        From where the strings meet to the meter [Ω].
    irradiance_w_m2, cell_c : float
        Light [W/m²] and cell temperature [°C] of a faultless panel.

    Returns
    -------
    Terminals
        Zeros where no string gives current, or a shorted one takes all of it.
    """
    curves = [_string_curve(s, irradiance_w_m2, cell_c) for s in strings if not s.is_open]
    tops = [float(np.interp(0.0, i[::-1], v[::-1])) for v, i in curves]
    if min(tops, default=0.0) <= 0.0:
        return Terminals(0.0, 0.0, 0.0, 0.0, np.zeros(2), np.zeros(2))
    voltage, current = _joined(curves, cable_ohm, 0.0, max(tops))
    shorted = int(np.searchsorted(voltage, 0.0, side="right")) - 1
    if shorted > _POINTS // 2:  # A long cable leaves little of the curve.
        begin = float(voltage[shorted] + cable_ohm * current[shorted])
        voltage, current = _joined(curves, cable_ohm, begin, max(tops))
    return _points(voltage, current)


def _joined(
    curves: list[tuple[Array, Array]], cable_ohm: float, low: float, high: float
) -> tuple[Array, Array]:
    """Voltage behind a cable and current where strings meet at voltages from low to high."""
    inner = np.linspace(low, high, _POINTS)
    current = np.sum([np.interp(inner, v, i) for v, i in curves], axis=0)
    return inner - cable_ohm * current, current


def _points(voltage: Array, current: Array) -> Terminals:
    power = voltage * current
    best = int(np.clip(np.argmax(power), 1, len(power) - 2))
    maximum_v = _top(voltage[best - 1 : best + 2], power[best - 1 : best + 2])
    return Terminals(
        open_circuit_v=float(np.interp(0.0, current[::-1], voltage[::-1])),
        short_circuit_a=float(np.interp(0.0, voltage, current)),
        maximum_v=maximum_v,
        maximum_a=float(np.interp(maximum_v, voltage, current)),
        voltage=voltage,
        current=current,
    )


def _top(v: Array, p: Array) -> float:
    """Voltage of the top of the parabola through three points [V]."""
    a, b = (p[1] - p[0]) / (v[1] - v[0]), (p[2] - p[1]) / (v[2] - v[1])
    return float(np.clip(0.5 * (v[0] + v[1]) + a * 0.5 * (v[2] - v[0]) / (a - b), v[0], v[2]))


@lru_cache(maxsize=512)
def _string_curve(string: StringState, irradiance: float, cell_c: float) -> tuple[Array, Array]:
    """Voltages, rising [V], and currents of a string [A], beyond open circuit."""
    lit = max(irradiance * string.light, _LEAST_LIGHT_W_M2)
    light_a, junction = string.panel.at(lit, cell_c + string.warmer_k)
    vd = _junction_voltages(light_a, junction)
    i = light_a - dark_current(vd, junction)[0]
    v = vd - i * junction.series_resistance
    amperes = i * string.panel.layout.paths_in_parallel
    positions = string.positions - string.lost_positions
    weak_v = np.zeros_like(v)
    if string.weak is not None:
        positions -= string.weak_groups * string.weak.positions
        weak_v = _weak_voltages(string, string.weak, light_a, junction, (v, i))
    return v * positions + string.weak_groups * weak_v - amperes * string.extra_ohm, amperes


def _weak_voltages(
    string: StringState,
    weak: WeakGroup,
    light_a: float,
    junction: Junction,
    cell: tuple[Array, Array],
) -> Array:
    """Voltage of a weak group at the currents of a string [V]."""
    v, i = cell
    reverse = np.linspace(_REACH * junction.breakdown_voltage, _LOWEST_JUNCTION_V, 150)
    weak_vd = np.concatenate((reverse[:-1], _junction_voltages(light_a * weak.light, junction)))
    weak_i = light_a * weak.light - dark_current(weak_vd, junction)[0]
    weak_v = weak_vd - weak_i * junction.series_resistance
    path_i = np.sort(np.concatenate((i, weak_i[weak_i < i[0]])))
    path_v = (weak.positions - weak.weak) * np.interp(path_i, i[::-1], v[::-1])
    path_v += weak.weak * np.interp(path_i, weak_i[::-1], weak_v[::-1])
    amperes = light_a * string.panel.layout.paths_in_parallel
    low = -_drop_v(string.panel.diode, amperes) if weak.guarded else -np.inf
    grid = np.maximum(path_v[::-1], low)
    whole = string.panel.layout.paths_in_parallel - weak.paths
    amperes = weak.paths * np.interp(grid, path_v[::-1], path_i[::-1])
    amperes += whole * np.interp(grid, weak.positions * v, i)
    found = np.interp(i * string.panel.layout.paths_in_parallel, amperes[::-1], grid[::-1])
    return np.asarray(found, dtype=np.float64)


def _drop_v(diode: Diode, amperes: float) -> float:
    """Voltage over a diode that carries a current [V]."""
    junction_v = conducting_v(diode_columns([diode]), np.array([amperes]))
    return float(junction_v[0]) + amperes * diode.series_resistance


def _junction_voltages(light_a: float, junction: Junction) -> Array:
    """From slight reverse to twice the light current backwards."""
    top = open_circuit(light_a, junction)
    beyond = top + 2.0 * junction.thermal_voltage
    near = np.linspace(0.75 * top, beyond, _POINTS)
    lowest = max(_LOWEST_JUNCTION_V, 0.5 * junction.breakdown_voltage)
    return np.concatenate((np.linspace(lowest, 0.75 * top, 200, endpoint=False), near))
