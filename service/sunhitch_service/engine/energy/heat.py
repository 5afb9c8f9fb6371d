"""Cell temperature through the day, by mounting and wind."""

from importlib import import_module
from typing import Any

import numpy as np

from sunhitch.types.system import PanelMountingHeat
from sunhitch_service.engine.array.temperature import noct_adder_k, sapm_parameters
from sunhitch_service.engine.sky import Array
from sunhitch_service.engine.tables import table

_NO_GAP_M = 0.0


def cell_c(mounting: PanelMountingHeat, irradiance: Array, air_c: Array, wind_m_s: Array) -> Array:
    """Cell temperature.

    Parameters
    ----------
    mounting : PanelMountingHeat
        How the panels shed heat.
    irradiance : ndarray
        In the panels' plane [W/m²].
    air_c, wind_m_s : ndarray
        Air [°C] and wind [m/s].

    Returns
    -------
    ndarray
        [°C]; by NOCT and its mounting adder where NOCT is given, else by the Sandia model.

    References
    ----------
    King, Boyson, Kratochvil, SAND2004-3535, as in `pvlib.temperature.sapm_cell`.
    """
    model: Any = import_module("pvlib.temperature")
    if mounting.noct_c is not None:
        return np.asarray(model.ross(irradiance, air_c, noct=mounting.noct_c + _adder_k(mounting)))
    total = np.zeros_like(irradiance)
    for row in table("energy", "heat_sets").rows:
        if row["back"] == mounting.back:
            a, b, delta_t = sapm_parameters(row["set"])
            cells = model.sapm_cell(irradiance, air_c, wind_m_s, a, b, delta_t)
            total += float(row["share"]) * np.asarray(cells)
    return total


def _adder_k(mounting: PanelMountingHeat) -> float:
    if mounting.back == "open-rack":
        return 0.0
    gap = mounting.gap_m if mounting.back == "open-gap" else _NO_GAP_M
    return noct_adder_k(_NO_GAP_M if gap is None else gap)
