"""Maximum power of evenly lit panels under very many conditions at once.

Solved exactly on a grid of light and heat, once for each type of panel, and read by a cubic spline
in between: power per light is smooth there, the spline keeps it within 0.01 %.
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from sunhitch_service.engine.pv.cell import Array, dark_current, gather
from sunhitch_service.engine.pv.presets import ResolvedPanel
from sunhitch_service.engine.pv.translate import Coefficients, ReferenceCell, translated

if TYPE_CHECKING:
    from scipy.interpolate import RectBivariateSpline

_HALVINGS = 40
_LEAST_W_M2 = 0.5
_LIGHT_W_M2 = np.geomspace(_LEAST_W_M2, 2500.0, 56)
_HEAT_C = np.arange(-80.0, 181.0, 6.0)


@dataclass(frozen=True, slots=True)
class Maximum:
    """Maximum power points, one per condition: power [W] and voltage [V]."""

    power: Array
    voltage: Array


def unshaded(panel: ResolvedPanel, irradiance: Array, cell_c: Array) -> Maximum:
    """Maximum of one panel whose cells all see the same.

    Parameters
    ----------
    panel : ResolvedPanel
        Type of panel.
    irradiance, cell_c : ndarray, shape (n,)
        Light [W/m²] and cell temperature [°C].

    Returns
    -------
    Maximum
        Zero below half a watt per square metre.
    """
    own = _cell_map(panel.cell, panel.coefficients)
    at = np.log(np.maximum(irradiance, _LEAST_W_M2)), cell_c
    lit = irradiance > _LEAST_W_M2
    power = own.power_per_light.ev(*at) * irradiance * lit
    voltage = own.voltage.ev(*at) * lit
    positions, paths = panel.layout.positions_in_series, panel.layout.paths_in_parallel
    return Maximum(np.asarray(power * (positions * paths)), np.asarray(voltage * positions))


@dataclass(frozen=True, slots=True)
class _CellMap:
    """Splines over ln(light) and heat: power per light [m²] and voltage [V] of one cell."""

    power_per_light: "RectBivariateSpline"
    voltage: "RectBivariateSpline"


@lru_cache(maxsize=64)
def _cell_map(cell: ReferenceCell, coefficients: Coefficients) -> _CellMap:
    from scipy.interpolate import RectBivariateSpline

    sun, heat = np.meshgrid(_LIGHT_W_M2, _HEAT_C, indexing="ij")
    pairs = np.stack([sun.ravel(), heat.ravel()], axis=1)
    power, voltage = cell_maxima(cell, coefficients, pairs)
    axes = np.log(_LIGHT_W_M2), _HEAT_C
    return _CellMap(
        RectBivariateSpline(*axes, (power / pairs[:, 0]).reshape(sun.shape)),
        RectBivariateSpline(*axes, voltage.reshape(sun.shape)),
    )


def cell_maxima(cell: ReferenceCell, coefficients: Coefficients, pairs: Array) -> Array:
    """Power and voltage of a cell at its maximum, by halving on dP/dV over the junction voltage.

    Parameters
    ----------
    cell : ReferenceCell
        At standard test conditions.
    coefficients : Coefficients
        Of the nameplate.
    pairs : ndarray, shape (n, 2)
        Light [W/m²] and cell temperature [°C].

    Returns
    -------
    ndarray, shape (2, n)
        [W] and [V].
    """
    cells = [translated(cell, coefficients, float(sun), float(heat)) for sun, heat in pairs]
    light = np.array([current for current, _ in cells])
    junctions = gather([junction for _, junction in cells], np.arange(len(cells)))
    low = np.zeros(len(cells))
    high = junctions.thermal_voltage * np.log1p(light / junctions.saturation_current)
    rs = junctions.series_resistance
    for _ in range(_HALVINGS):
        v = 0.5 * (low + high)
        taken, slope, _ = dark_current(v, junctions)
        i = light - taken
        rising = i * (1.0 + rs * slope) > (v - i * rs) * slope
        low, high = np.where(rising, v, low), np.where(rising, high, v)
    v = 0.5 * (low + high)
    i = light - dark_current(v, junctions)[0]
    return np.stack([(v - i * rs) * i, v - i * rs])
