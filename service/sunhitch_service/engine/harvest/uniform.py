"""Maximum power of evenly lit panels under very many conditions at once.

Solved exactly on a grid of light and heat, once for each type of panel, and read by a cubic spline
in between: power per light is smooth there, the spline keeps it within 0.01 %.
"""

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from sunhitch_service.engine.pv.cell import Array, Junctions, cell_maxima
from sunhitch_service.engine.pv.presets import ResolvedPanel
from sunhitch_service.engine.pv.translate import Coefficients, ReferenceCell, translated_all

if TYPE_CHECKING:
    from scipy.interpolate import RectBivariateSpline

_LEAST_W_M2 = 0.5
_LIGHT_W_M2 = np.geomspace(_LEAST_W_M2, 2500.0, 56)
_HEAT_C = np.arange(-80.0, 181.0, 6.0)


def unshaded(panel: ResolvedPanel, irradiance: Array, cell_c: Array) -> Array:
    """Maximum of one panel whose cells all see the same.

    Parameters
    ----------
    panel : ResolvedPanel
        Type of panel.
    irradiance, cell_c : ndarray, shape (n,)
        Light [W/m²] and cell temperature [°C].

    Returns
    -------
    ndarray, shape (2, n)
        Power [W] and voltage [V]; zero below half a watt per square metre.
    """
    power_per_light, voltage = _cell_map(panel.cell, panel.coefficients)
    at = np.log(np.maximum(irradiance, _LEAST_W_M2)), cell_c
    positions, paths = panel.layout.positions_in_series, panel.layout.paths_in_parallel
    power = power_per_light.ev(*at) * irradiance * (positions * paths)
    return np.array((power, voltage.ev(*at) * positions)) * (irradiance > _LEAST_W_M2)


@lru_cache(maxsize=64)
def _cell_map(
    cell: ReferenceCell, coefficients: Coefficients
) -> "tuple[RectBivariateSpline, RectBivariateSpline]":
    """Splines over ln(light) and heat: power per light [m²] and voltage [V] of one cell."""
    from scipy.interpolate import RectBivariateSpline

    sun, heat = np.meshgrid(_LIGHT_W_M2, _HEAT_C, indexing="ij")
    light, junctions = translated_all(cell, coefficients, sun.ravel(), heat.ravel())
    power, voltage = cell_maxima(Junctions(*junctions), light)
    axes = np.log(_LIGHT_W_M2), _HEAT_C
    return (
        RectBivariateSpline(*axes, power.reshape(sun.shape) / sun),
        RectBivariateSpline(*axes, voltage.reshape(sun.shape)),
    )
