"""Cell temperature of panels in full sun, by how they are mounted."""

import math

from sunhitch.types.system import PanelMountingHeat, SiteTemperatures
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.tables import table

from .practice import limit, why

_INCH_M = 0.0254


def sapm_cell_c(
    irradiance_w_m2: float, air_c: float, wind_m_s: float, parameters: tuple[float, float, float]
) -> float:
    """Cell temperature after the Sandia model.

    Parameters
    ----------
    irradiance_w_m2 : float
        Irradiance in the panel's plane [W/m²].
    air_c : float
        Air temperature [°C].
    wind_m_s : float
        Wind speed [m/s].
    parameters : tuple of float
        a [1], b [s/m], ΔT [K].

    Returns
    -------
    float
        Cell temperature [°C].

    References
    ----------
    King, Boyson, Kratochvil, SAND2004-3535, equations 11 and 12.
    """
    a, b, delta_t = parameters
    back = air_c + irradiance_w_m2 * math.exp(a + b * wind_m_s)
    return back + irradiance_w_m2 / 1000.0 * delta_t


def noct_cell_c(irradiance_w_m2: float, air_c: float, noct_c: float) -> float:
    """Cell temperature by NOCT: T = Tair + G ÷ 800 W/m² · (NOCT − 20 °C).

    Parameters
    ----------
    irradiance_w_m2 : float
        Irradiance in the panel's plane [W/m²].
    air_c : float
        Air temperature [°C].
    noct_c : float
        Nominal operating cell temperature, mounting adder included [°C].

    Returns
    -------
    float
        Cell temperature [°C].

    References
    ----------
    Ross 1976 as in `pvlib.temperature.ross`; adder after NREL/TP-6A20-67399.
    """
    return air_c + irradiance_w_m2 / 800.0 * (noct_c - 20.0)


def sapm_parameters(name: str) -> tuple[float, float, float]:
    """Parameters a, b, ΔT of a set in `sapm_temperature.csv`."""
    row = table("array", "sapm_temperature").row("set", name)
    return float(row["a"]), float(row["b_s_per_m"]), float(row["delta_t_k"])


def noct_adder_k(gap_m: float) -> float:
    """What a narrow air gap adds to NOCT [K]; the last row holds for wider gaps."""
    rows = table("array", "noct_adder").rows
    inches = gap_m / _INCH_M
    fitting = [row for row in rows if inches < float(row["gap_to_in"])]
    return float((fitting or rows[-1:])[0]["adder_k"])


def cell_in_sun_c(
    mounting: PanelMountingHeat,
    irradiance_w_m2: float,
    air_c: float,
    assumptions: Assumptions,
) -> float:
    """Cell temperature in calm air, chosen so that it is rather too high than too low.

    Bonded panels take the Sandia model with an insulated back; all others NOCT with its adder.

    Parameters
    ----------
    mounting : PanelMountingHeat
        How the panel sheds heat.
    irradiance_w_m2, air_c : float
        Irradiance [W/m²] and air temperature [°C].
    assumptions : Assumptions
        Takes note of what was chosen.

    Returns
    -------
    float
        Cell temperature [°C].
    """
    if mounting.back == "bonded":
        parameters = sapm_parameters("insulated-back-glass-polymer")
        return sapm_cell_c(irradiance_w_m2, air_c, limit("calm"), parameters)
    noct = assumptions.choose("/mounting/noct_c", mounting.noct_c, limit("noct"), why("noct"))
    return noct_cell_c(irradiance_w_m2, air_c, noct + _adder(mounting, assumptions))


def _adder(mounting: PanelMountingHeat, assumptions: Assumptions) -> float:
    if mounting.back == "open-rack":
        return 0.0
    if mounting.back == "spacer-sheet":
        return noct_adder_k(0.0)
    gap = assumptions.choose("/mounting/gap_m", mounting.gap_m, limit("gap"), why("gap"))
    return noct_adder_k(gap)


_HOW = {
    "bonded": "Sandia model with an insulated back, 1 m/s of wind, 1000 W/m² (SAND2004-3535)",
    "spacer-sheet": "NOCT with the adder for the narrowest gap, 1000 W/m² (NREL/TP-6A20-67399)",
    "open-gap": "NOCT with the adder for its air gap, 1000 W/m² (NREL/TP-6A20-67399)",
    "open-rack": "NOCT, 1000 W/m²",
}


def hot_cell_c(
    site: SiteTemperatures, mounting: PanelMountingHeat, assumptions: Assumptions
) -> float:
    """Cell temperature at noon on the hottest day: given, or estimated by mounting [°C]."""
    if site.hot_cell_c is not None:
        return site.hot_cell_c
    estimate = cell_in_sun_c(mounting, 1000.0, site.highest_ambient_c, assumptions)
    assumptions.note("/site/hot_cell_c", round(estimate, 1), f"{_HOW[mounting.back]}.")
    return estimate
