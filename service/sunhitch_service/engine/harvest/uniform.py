"""Maximum power of evenly lit panels under very many conditions at once.

Solved exactly on a grid of light and heat, once for each type of panel, and read by a cubic spline
in between: power per light is smooth there, the spline keeps it within 0.01 %.
"""

from dataclasses import dataclass
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
    light, junctions = translated_all(cell, coefficients, sun.ravel(), heat.ravel())
    power, voltage = cell_maxima(Junctions(*junctions), light)
    axes = np.log(_LIGHT_W_M2), _HEAT_C
    return _CellMap(
        RectBivariateSpline(*axes, power.reshape(sun.shape) / sun),
        RectBivariateSpline(*axes, voltage.reshape(sun.shape)),
    )
