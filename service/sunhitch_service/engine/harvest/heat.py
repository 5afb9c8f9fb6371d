"""Cell temperature through the day, by mounting, gap and wind."""

from importlib import import_module
from typing import Any

import numpy as np

from sunhitch.types.system import PanelMountingHeat
from sunhitch_service.engine.array import practice as customary
from sunhitch_service.engine.array.temperature import noct_adder_k, sapm_parameters
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.sky import Array
from sunhitch_service.engine.tables import table

_NO_GAP_M = 0.0
_WIND_AT_THE_ROOF = 0.51
"""Share of the wind that `pvlib.temperature.noct_sam` takes to reach a roof; ours is there."""


def settled_heat(mounting: PanelMountingHeat, at: str, notes: Assumptions) -> PanelMountingHeat:
    """A mounting whose gap counts, since it goes with a NOCT.

    Parameters
    ----------
    mounting : PanelMountingHeat
        How the panels shed heat.
    at : str
        Its JSON Pointer.
    notes : Assumptions
        Takes note of what was chosen.

    Returns
    -------
    PanelMountingHeat
        With a NOCT where a gap was given without one.
    """
    if mounting.back != "open-gap" or mounting.gap_m is None:
        return mounting
    why = customary.why("noct")
    noct = notes.choose(f"{at}/noct_c", mounting.noct_c, customary.limit("noct"), why)
    return PanelMountingHeat(back=mounting.back, gap_m=mounting.gap_m, noct_c=noct)


def cell_c(
    mounting: PanelMountingHeat, efficiency: float, irradiance: Array, air_c: Array, wind_m_s: Array
) -> Array:
    """Cell temperature.

    Parameters
    ----------
    mounting : PanelMountingHeat
        How the panels shed heat.
    efficiency : float
        Of the panels at standard test conditions [1].
    irradiance : ndarray
        In the panels' plane [W/m²].
    air_c, wind_m_s : ndarray
        Air [°C] and wind over the roof [m/s].

    Returns
    -------
    ndarray
        [°C]; by NOCT, its adder for the gap and the wind where a NOCT is given, else by the Sandia
        model.

    References
    ----------
    Gilman et al., NREL/TP-6A20-67399 (2018), 10.6, as in `pvlib.temperature.noct_sam`; King,
    Boyson, Kratochvil, SAND2004-3535, as in `pvlib.temperature.sapm_cell`.
    """
    model: Any = import_module("pvlib.temperature")
    if mounting.noct_c is not None:
        noct = mounting.noct_c + _adder_k(mounting)
        wind = wind_m_s / _WIND_AT_THE_ROOF
        return np.asarray(model.noct_sam(irradiance, air_c, wind, noct, efficiency))
    total = np.zeros_like(irradiance)
    for row in table("harvest", "heat_sets").rows:
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
