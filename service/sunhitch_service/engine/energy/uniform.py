"""Maximum power of evenly lit panels under very many conditions at once."""

from dataclasses import dataclass

import numpy as np

from sunhitch_service.engine.shade.cell import Array, dark_current, gather
from sunhitch_service.engine.shade.presets import ResolvedPanel

_HALVINGS = 34
_LEAST_W_M2 = 0.5


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
    pairs, back = np.unique(np.stack([irradiance, cell_c], axis=1), axis=0, return_inverse=True)
    lit = pairs[:, 0] > _LEAST_W_M2
    found = np.zeros((2, len(pairs)))
    if bool(lit.any()):
        found[:, lit] = _solved(panel, pairs[lit])
    power, voltage = found[:, back.ravel()]
    return Maximum(power, voltage)


def _solved(panel: ResolvedPanel, pairs: Array) -> Array:
    """Power and voltage by halving on dP/dV over the junction voltage, shape (2, n)."""
    cells = [panel.at(float(sun), float(heat)) for sun, heat in pairs]
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
    volts = (v - i * rs) * panel.layout.positions_in_series
    return np.stack([volts * i * panel.layout.paths_in_parallel, volts])
