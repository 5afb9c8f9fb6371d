"""Cell parameters at other irradiance and temperature, tuned to the nameplate's coefficients.

De Soto's translation with two parameters set so that the modelled coefficients of Voc and Pmp
meet the nameplate's between 25 and 50 °C: the band gap, and the growth of series resistance.
"""

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, TypeVar

import numpy as np

from .cell import BOLTZMANN_OVER_CHARGE_V_K, STC_KELVIN, Array, Junction, dark_current

_WARM_K = 25.0
_LARGEST_GROWTH_PER_K = 0.01
_HALVINGS = 30
_CLOSE_V = 1e-13
_ZERO_CELSIUS_K = 273.15
_LEAST_SHUNT_W_M2 = 2.0
_DIM_SHARE = 0.2
T = TypeVar("T", float, Array)


@dataclass(frozen=True, slots=True)
class Coefficients:
    """Relative change of Isc, Voc and Pmp per kelvin."""

    alpha_sc: float
    beta_voc: float
    gamma_pmp: float


@dataclass(frozen=True, slots=True)
class ReferenceCell:
    """One cell at 1000 W/m² and 25 °C: light current [A] and junction."""

    photocurrent: float
    junction: Junction


@dataclass(frozen=True, slots=True)
class Tuning:
    """What the coefficients ask for.

    Parameters
    ----------
    band_gap : float
        Effective band gap [eV].
    resistance_growth : float
        Relative growth of series resistance [1/K].
    gamma_pmp : float
        Coefficient of power that the model reaches [1/K].
    """

    band_gap: float
    resistance_growth: float
    gamma_pmp: float


@lru_cache(maxsize=4096)
def translated(
    cell: ReferenceCell, coefficients: Coefficients, irradiance: float, temperature: float
) -> tuple[float, Junction]:
    """Light current and junction at other conditions.

    Parameters
    ----------
    cell : ReferenceCell
        At standard test conditions.
    coefficients : Coefficients
        Of the nameplate.
    irradiance : float
        On an unshaded cell [W/m²], positive.
    temperature : float
        Of the cell [°C].

    Returns
    -------
    tuple of (float, Junction)
        Light current of an unshaded cell [A], and the other parameters.

    References
    ----------
    W. De Soto, S. A. Klein, W. A. Beckman, Solar Energy 80 (2006).
    """
    sun, warmer = irradiance / 1000.0, temperature + _ZERO_CELSIUS_K - STC_KELVIN
    warm = _warmed(cell, tuning(cell, coefficients), warmer)
    current = cell.photocurrent * (1.0 + coefficients.alpha_sc * warmer)
    return current * sun, dimmed(warm, sun)


def dimmed(junction: Junction, sun: float) -> Junction:
    """A junction whose shunt conductance is a share of what it was."""
    return replace(junction, shunt_conductance=junction.shunt_conductance * sun)


def shunt_share(irradiance: T, brightest: T) -> T:
    """Light that a panel's shunts follow, as a share of the sun.

    Parameters
    ----------
    irradiance : float or ndarray
        Of the sun [W/m²].
    brightest : float or ndarray
        Share of it on the panel's brightest cell [1].

    Returns
    -------
    float or ndarray
        That share, but never so little that a dark cell would be without shunt and avalanche.
    """
    share: Any = np.maximum(irradiance * brightest, _LEAST_SHUNT_W_M2) / irradiance
    found: T = share
    return found


def _warmed(cell: ReferenceCell, tuned: Tuning, warmer: float) -> Junction:
    saturation, thermal, resistance = map(float, _heated(cell.junction, tuned, np.array(warmer)))
    return replace(
        cell.junction,
        saturation_current=saturation,
        thermal_voltage=thermal,
        series_resistance=resistance,
    )


def _heated(junction: Junction, tuned: Tuning, warmer: Array) -> tuple[Array, Array, Array]:
    """Saturation current [A], thermal voltage [V] and series resistance [Ω] of warmer cells."""
    kelvin = STC_KELVIN + warmer
    activation = tuned.band_gap / BOLTZMANN_OVER_CHARGE_V_K * (1.0 / STC_KELVIN - 1.0 / kelvin)
    return (
        junction.saturation_current * (kelvin / STC_KELVIN) ** 3 * np.exp(activation),
        junction.thermal_voltage * kelvin / STC_KELVIN,
        junction.series_resistance * np.exp(tuned.resistance_growth * warmer),
    )


def translated_all(
    cell: ReferenceCell, coefficients: Coefficients, irradiance: Array, temperature: Array
) -> tuple[Array, Array]:
    """Light current and junction at many conditions at once, as `translated`.

    Parameters
    ----------
    cell : ReferenceCell
        At standard test conditions.
    coefficients : Coefficients
        Of the nameplate.
    irradiance, temperature : ndarray, shape (n,)
        On an unshaded cell [W/m²], positive, and of the cell [°C].

    Returns
    -------
    tuple of ndarray
        Light current of an unshaded cell [A], shape (n,), and the fields of `Junction` in their
        order, shape (7, n).
    """
    sun, warmer = irradiance / 1000.0, temperature + _ZERO_CELSIUS_K - STC_KELVIN
    junction = cell.junction
    fields = (
        *_heated(junction, tuning(cell, coefficients), warmer),
        junction.shunt_conductance * sun,
        junction.breakdown_voltage,
        junction.breakdown_factor,
        junction.breakdown_exponent,
    )
    current = cell.photocurrent * (1.0 + coefficients.alpha_sc * warmer) * sun
    return current, np.array([np.broadcast_to(field, sun.shape) for field in fields])


@lru_cache(maxsize=512)
def tuning(cell: ReferenceCell, coefficients: Coefficients) -> Tuning:
    """Band gap and growth of series resistance that meet the coefficients.

    Parameters
    ----------
    cell : ReferenceCell
        At standard test conditions.
    coefficients : Coefficients
        To be met between 25 and 50 °C.

    Returns
    -------
    Tuning
        The coefficient of power may be missed where series resistance has too little leverage.
    """
    gap = _band_gap(cell, coefficients)
    cold = standard_power(cell)
    warm = _warmed(cell, Tuning(gap, 0.0, 0.0), _WARM_K)
    v, i = _forward(cell.photocurrent * (1.0 + coefficients.alpha_sc * _WARM_K), warm)

    def gamma(growth: float) -> float:
        resistance = cell.junction.series_resistance * np.exp(growth * _WARM_K)
        return (_largest_power(v, i, resistance) / cold - 1.0) / _WARM_K

    low, high = -_LARGEST_GROWTH_PER_K, _LARGEST_GROWTH_PER_K
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if gamma(middle) > coefficients.gamma_pmp else (low, middle)
    growth = 0.5 * (low + high)
    return Tuning(gap, growth, gamma(growth))


def _band_gap(cell: ReferenceCell, coefficients: Coefficients) -> float:
    """Effective band gap that gives Voc its coefficient."""
    kelvin = STC_KELVIN + _WARM_K
    v = open_circuit(cell.photocurrent, cell.junction) * (1.0 + coefficients.beta_voc * _WARM_K)
    vt = cell.junction.thermal_voltage * kelvin / STC_KELVIN
    shunt = dark_current(np.array([v]), replace(cell.junction, saturation_current=0.0))[0][0]
    current = cell.photocurrent * (1.0 + coefficients.alpha_sc * _WARM_K)
    ratio = (current - shunt) / np.expm1(v / vt) / cell.junction.saturation_current
    span = (1.0 / STC_KELVIN - 1.0 / kelvin) / BOLTZMANN_OVER_CHARGE_V_K
    return float((np.log(max(ratio, 1e-30)) - 3.0 * np.log(kelvin / STC_KELVIN)) / span)


@lru_cache(maxsize=4096)
def open_circuit(photocurrent: float, junction: Junction) -> float:
    """Open-circuit voltage of one cell [V], light current in [A]."""
    v = junction.thermal_voltage * np.log1p(photocurrent / junction.saturation_current)
    for _ in range(_HALVINGS):
        taken, slope, _ = dark_current(np.array([v]), junction)
        change = (photocurrent - taken[0]) / slope[0]
        v += change
        if abs(change) < _CLOSE_V:
            break
    return float(v)


@lru_cache(maxsize=512)
def dim_efficiency(cell: ReferenceCell) -> float:
    """Efficiency at 200 W/m² and 25 °C as a share of that at 1000 W/m²."""
    dim = ReferenceCell(cell.photocurrent * _DIM_SHARE, dimmed(cell.junction, _DIM_SHARE))
    return standard_power(dim) / (_DIM_SHARE * standard_power(cell))


@lru_cache(maxsize=512)
def standard_power(cell: ReferenceCell) -> float:
    """Maximum power of one cell at standard test conditions [W]."""
    v, i = _forward(cell.photocurrent, cell.junction)
    return _largest_power(v, i, cell.junction.series_resistance)


def _forward(photocurrent: float, junction: Junction) -> tuple[Array, Array]:
    """Junction voltages up to open circuit [V], and cell currents [A]."""
    v = np.linspace(0.0, open_circuit(photocurrent, junction), 1000)
    return v, photocurrent - dark_current(v, junction)[0]


def _largest_power(v: Array, i: Array, resistance: float) -> float:
    """Maximum power of one cell [W] over its junction voltages and currents."""
    return float(np.max(i * (v - i * resistance)))
