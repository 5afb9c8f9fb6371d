"""Cell temperature by light, air and wind, and by how a panel is mounted."""

from typing import TypeVar

import numpy as np

from sunhitch.texts import statement
from sunhitch.types.harvest import WIND_AT_THE_ROOF
from sunhitch.types.system import PanelMountingHeat, SiteTemperatures
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.tables import table

from .cell import Array, Mask
from .practice import PRACTICE

T = TypeVar("T", float, Array)
_INCH_M = 0.0254
ABSORBED = 0.9
"""Share of the light that a panel takes in: transmittance times absorptance [1]."""
FULL_SUN = 1000.0
"""[W/m²]."""
_NO_GAP_M = 0.0
_BONDED_SET = "insulated-back-glass-polymer"


def sapm_cell_c(
    irradiance_w_m2: float | Array,
    air_c: float | Array,
    wind_at_10_m_m_s: float | Array,
    parameters: tuple[float, float, float],
) -> Array:
    """Cell temperature after the Sandia model.

    Parameters
    ----------
    irradiance_w_m2 : float or ndarray
        Irradiance in the panel's plane [W/m²].
    air_c : float or ndarray
        Air temperature [°C].
    wind_at_10_m_m_s : float or ndarray
        Wind speed at a height of 10 m [m/s].
    parameters : tuple of float
        a [1], b [s/m], ΔT [K].

    Returns
    -------
    ndarray
        Cell temperature [°C].

    References
    ----------
    King, Boyson, Kratochvil, SAND2004-3535, equations 11 and 12.
    """
    a, b, delta_t = parameters
    factor = np.exp(a + np.multiply(b, wind_at_10_m_m_s)) + delta_t / 1000.0
    return np.asarray(air_c + irradiance_w_m2 * factor, dtype=np.float64)


def noct_cell_c(
    irradiance_w_m2: T, air_c: T, noct_c: float, efficiency: float = 0.0, wind_m_s: T | float = 1.0
) -> T:
    """Cell temperature by NOCT.

    T = Tair + G ÷ 800 W/m² · (NOCT − 20 °C) · (1 − η ÷ 0.9) · 9.5 ÷ (5.7 + 3.8·v)

    Parameters
    ----------
    irradiance_w_m2 : float or ndarray
        Irradiance in the panel's plane [W/m²].
    air_c : float or ndarray
        Air temperature [°C].
    noct_c : float
        Nominal operating cell temperature, mounting adder included [°C].
    efficiency : float
        Share of the light that leaves as power; none by default [1].
    wind_m_s : float or ndarray
        Wind at the panel; that of the NOCT by default [m/s].

    Returns
    -------
    float or ndarray
        Cell temperature [°C].

    References
    ----------
    Gilman et al., NREL/TP-6A20-67399 (2018), 10.6, as in `pvlib.temperature.noct_sam`; without
    efficiency and in the wind of the NOCT that of Ross 1976, as in `pvlib.temperature.ross`.
    """
    cooled = (1.0 - efficiency / ABSORBED) * 9.5 / (5.7 + 3.8 * wind_m_s)
    rise: T = irradiance_w_m2 / 800.0 * (noct_c - 20.0) * cooled
    return air_c + rise


def sapm_parameters(name: str) -> tuple[float, float, float]:
    """Parameters a, b, ΔT of a set in `sapm_temperature.csv`."""
    row = table("pv", "sapm_temperature").row("set", name)
    return float(row["a"]), float(row["b_s_per_m"]), float(row["delta_t_k"])


def noct_adder_k(gap_m: float) -> float:
    """What a narrow air gap adds to NOCT [K]; the last row holds for wider gaps."""
    rows = table("pv", "noct_adder").rows
    inches = gap_m / _INCH_M
    fitting = [row for row in rows if inches < float(row["gap_to_in"])]
    return float((fitting or rows[-1:])[0]["adder_k"])


def _adder_k(mounting: PanelMountingHeat, gap_m: float) -> float:
    if mounting.back == "open-rack":
        return 0.0
    return noct_adder_k(gap_m if mounting.back == "open-gap" else _NO_GAP_M)


def cell_in_sun_c(
    mounting: PanelMountingHeat,
    irradiance_w_m2: float,
    air_c: float,
    assumptions: Assumptions,
    at: str = "/mounting_heat",
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
    at : str
        JSON Pointer of the mounting.

    Returns
    -------
    float
        Cell temperature [°C].
    """
    if mounting.back == "bonded":
        parameters = sapm_parameters(_BONDED_SET)
        return float(sapm_cell_c(irradiance_w_m2, air_c, PRACTICE.figure("calm"), parameters))
    noct = PRACTICE.usual(assumptions, f"{at}/noct_c", mounting.noct_c, "noct")
    gap_m = _NO_GAP_M
    if mounting.back == "open-gap":
        gap_m = PRACTICE.usual(assumptions, f"{at}/gap_m", mounting.gap_m, "gap")
    return noct_cell_c(irradiance_w_m2, air_c, noct + _adder_k(mounting, gap_m))


_HOW = {
    "bonded": statement("sandia-insulated-back"),
    "spacer-sheet": statement("noct-narrowest-gap"),
    "open-gap": statement("noct-own-gap"),
    "open-rack": statement("noct-alone"),
}


def hot_cell_c(
    site: SiteTemperatures, mounting: PanelMountingHeat, assumptions: Assumptions
) -> float:
    """Cell temperature at noon on the hottest day: given, or estimated by mounting [°C]."""
    if site.hot_cell_c is not None:
        return site.hot_cell_c
    estimate = cell_in_sun_c(mounting, FULL_SUN, site.highest_ambient_c, assumptions)
    assumptions.note("/site/hot_cell_c", estimate, _HOW[mounting.back])
    return estimate


def settled_heat(mounting: PanelMountingHeat, at: str, notes: Assumptions) -> PanelMountingHeat:
    """A mounting as `cell_c` takes it, by the rules of `cell_in_sun_c`.

    Behind an open gap NOCT and gap count together. NOCT is measured on an open rack: of a bonded
    panel it tells nothing.
    """
    back, gap_m, noct_c = mounting.back, mounting.gap_m, mounting.noct_c
    if back == "bonded":
        if noct_c is not None:
            notes.note(f"{at}/noct_c", _BONDED_SET, statement("insulated-back"))
        return PanelMountingHeat(back=back)
    if back != "open-gap" or (gap_m, noct_c) == (None, None):
        return mounting
    return PanelMountingHeat(
        back=back,
        gap_m=PRACTICE.usual(notes, f"{at}/gap_m", gap_m, "gap"),
        noct_c=PRACTICE.usual(notes, f"{at}/noct_c", noct_c, "noct"),
    )


def cell_c(
    mounting: PanelMountingHeat, efficiency: float, irradiance: Array, air_c: Array, wind_m_s: Array
) -> Array:
    """Cell temperature through the day.

    Parameters
    ----------
    mounting : PanelMountingHeat
        How the panels shed heat, by `settled_heat`.
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
        model, which takes the wind at 10 m.
    """
    if mounting.noct_c is not None:
        gap_m = _NO_GAP_M if mounting.gap_m is None else mounting.gap_m
        noct = mounting.noct_c + _adder_k(mounting, gap_m)
        return noct_cell_c(irradiance, air_c, noct, efficiency, wind_m_s)
    at_10_m = wind_m_s / WIND_AT_THE_ROOF
    total = np.zeros_like(irradiance)
    for row in table("pv", "heat_sets").rows:
        if row["back"] == mounting.back:
            cells = sapm_cell_c(irradiance, air_c, at_10_m, sapm_parameters(row["set"]))
            total += float(row["share"]) * cells
    return total


def lagging_cells(steady_c: Array, air_c: Array, steps: Array, follows: Mask) -> Array:
    """Cell temperature of panels that take in heat, mean over each step.

    C·dT/dt = U·(T_steady − T), solved exactly for steps that are even in themselves.

    Parameters
    ----------
    steady_c : ndarray, shape (states,)
        Temperature that would be reached [°C].
    air_c : ndarray, shape (states,)
        Air, at which panels begin after a night [°C].
    steps : ndarray, shape (states,)
        Time constant C ÷ U, in steps.
    follows : ndarray of bool, shape (states,)
        Whether a state follows the one before it without a gap.

    Returns
    -------
    ndarray, shape (states,)
        [°C].

    References
    ----------
    A. D. Jones, C. P. Underwood, Solar Energy 70 (2001): heat balance of a panel with its heat
    capacity. From memory.
    """
    kept, found = np.exp(-1.0 / steps), np.empty(len(steady_c))
    over = steps * (1.0 - kept)
    own = 0.0
    for k, after in enumerate(follows.tolist()):
        before = own if after else air_c[k]
        found[k] = steady_c[k] + (before - steady_c[k]) * over[k]
        own = steady_c[k] + (before - steady_c[k]) * kept[k]
    return found
