"""The junction voltage as a function of the current that the junction takes from the light.

At one temperature the cells of a panel share one function Vd = F(IL − I): shade changes IL only.
"""

import math
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from .cell import NEAREST_BREAKDOWN, Array, Diode, Junction, dark_current, diode_current
from .curve import CubicSet, IvCurve, distinct

_FINE, _COARSE = 8, 12
"""Points for every step of voltage; one point in so many is enough to draw a cell's curve."""
_HEADROOM = 1.05


@dataclass(frozen=True)
class JunctionTable:
    """Points of F with slopes.

    Parameters
    ----------
    j : ndarray
        IL − I [A], rising.
    v : ndarray
        Junction voltage [V].
    slope : ndarray
        dVd/dj [Ω].
    coarse_j : ndarray
        Fewer of the same currents, enough to draw a cell's curve.
    """

    j: Array
    v: Array
    slope: Array
    coarse_j: Array

    @cached_property
    def voltages(self) -> CubicSet:
        """Junction voltage [V] over IL − I [A]."""
        return CubicSet(self.j[None], self.v[None], self.slope[None])


def current_scale(current: float) -> float:
    """Next power of two: currents of one size share their tables."""
    return float(2.0 ** np.ceil(np.log2(current)))


@lru_cache(maxsize=256)
def junction_table(cell: Junction, forward: float, total: float) -> JunctionTable:
    """Tabulate F.

    Parameters
    ----------
    cell : Junction
        The junction.
    forward : float
        Largest current of one string [A]: the table is finest below it, and reaches as far in
        reverse.
    total : float
        Largest current that the rest of the array can drive through the cell backwards [A].

    Returns
    -------
    JunctionTable
        From breakdown to strong forward bias.
    """
    coarse = _junction_voltages(cell, forward, total)
    steps = np.linspace(0.0, 1.0, _FINE, endpoint=False)
    fine = np.append((coarse[:-1, None] + np.diff(coarse)[:, None] * steps).ravel(), coarse[-1])
    j, slope, _ = dark_current(fine, cell)
    return JunctionTable(j, fine, 1.0 / slope, j[::_COARSE])


def _junction_voltages(cell: Junction, forward: float, total: float) -> Array:
    """Voltages that suit Hermite interpolation: even in ∛current, log-like towards breakdown."""
    vt, saturation = cell.thermal_voltage, cell.saturation_current
    top = float(vt * np.log1p(_HEADROOM * forward / saturation))
    beyond = float(vt * np.log1p((forward + total) / saturation) + vt)
    near = _cube_root_even(vt, top, 44)
    far = np.linspace(top, beyond, 8)
    reverse = _reverse_limit(cell, _HEADROOM * (forward + total))
    v = np.unique(
        np.concatenate((_towards_breakdown(cell, reverse), near, np.linspace(0.0, top, 14), far))
    )
    return np.asarray(v[distinct(v)])


def _cube_root_even(vt: float, top: float, points: int) -> Array:
    """Voltages up to `top` at which the cube root of an exponential's current is evenly spaced."""
    return np.asarray(3.0 * vt * np.log(np.linspace(1.0, math.exp(top / vt / 3.0), points)))


def _reverse_limit(cell: Junction, current: float) -> float:
    """Reverse voltage at which the junction takes at least `current`."""
    ohmic = -current / cell.shunt_conductance
    strength = cell.breakdown_factor * cell.shunt_conductance * -cell.breakdown_voltage
    if strength <= 0.0:
        return ohmic
    x = (0.5 * strength / current) ** (1.0 / cell.breakdown_exponent)
    x = min(0.5, max(NEAREST_BREAKDOWN, x))
    return float(max(ohmic, cell.breakdown_voltage * (1.0 - x)))


def _towards_breakdown(cell: Junction, limit: float) -> Array:
    small = -np.geomspace(min(1e-3, -0.01 * limit), -limit, 14)
    if cell.breakdown_factor <= 0.0:
        return small
    x = np.geomspace(1.0, 1.0 - limit / cell.breakdown_voltage, 22)[1:]
    return np.concatenate((small, cell.breakdown_voltage * (1.0 - x)))


@lru_cache(maxsize=256)
def diode_curve(diode: Diode, current: float, reverse: float) -> IvCurve:
    """A diode as a source: across cells it conducts at negative voltage, in series it takes some.

    Parameters
    ----------
    diode : Diode
        The diode.
    current : float
        Largest forward current [A].
    reverse : float
        Largest reverse voltage [V].

    Returns
    -------
    IvCurve
        Current over minus the diode's voltage; a blocked diode passes its saturation current.
    """
    u = _diode_voltages(diode, current, reverse)
    i, slope, _ = diode_current(u, diode.saturation_current, diode.thermal_voltage)
    r = diode.series_resistance
    return IvCurve(-(u + i * r)[::-1], i[::-1], -(slope / (1.0 + slope * r))[::-1])


def _diode_voltages(diode: Diode, current: float, reverse: float) -> Array:
    vt = diode.thermal_voltage
    top = float(vt * np.log1p(_HEADROOM * current / diode.saturation_current))
    forward = _cube_root_even(vt, top, 36)
    linear = np.linspace(-8.0 * vt, top, 16)
    backwards = -np.geomspace(8.0 * vt, reverse + 9 * vt, 6)
    u = np.unique(np.concatenate((forward, linear, backwards)))
    return np.asarray(u[distinct(u)])
