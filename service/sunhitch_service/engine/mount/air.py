"""Density of air and the pressure of its motion."""

import math

from .figures import figure

GAS_CONSTANT = 287.05287
"""Specific gas constant of dry air [J/(kg·K)], ISO 2533."""
SEA_LEVEL_K = 288.15
SEA_LEVEL_PA = 101325.0
LAPSE_K_PER_M = 0.0065
EARTH_RADIUS_M = 6356766.0
GRAVITY = 9.80665
"""Standard gravity [m/s²]."""
ZERO_C_IN_K = 273.15


def geopotential_altitude(altitude_m: float) -> float:
    """Geopotential altitude [m] of a geometric one.

    References
    ----------
    ISO 2533:1975.
    """
    return EARTH_RADIUS_M * altitude_m / (EARTH_RADIUS_M + altitude_m)


def standard_temperature(altitude_m: float) -> float:
    """Temperature [K] of the standard atmosphere up to 11 km.

    References
    ----------
    ISO 2533:1975.
    """
    return SEA_LEVEL_K - LAPSE_K_PER_M * geopotential_altitude(altitude_m)


def pressure(altitude_m: float) -> float:
    """Pressure [Pa] of the standard atmosphere up to 11 km.

    References
    ----------
    ISO 2533:1975.
    """
    exponent = GRAVITY / (GAS_CONSTANT * LAPSE_K_PER_M)
    return SEA_LEVEL_PA * math.pow(standard_temperature(altitude_m) / SEA_LEVEL_K, exponent)


def density(altitude_m: float, air_c: float | None = None) -> float:
    """Density of air [kg/m³].

    Parameters
    ----------
    altitude_m : float
        Geometric altitude [m], up to 11 km.
    air_c : float or None
        Air temperature [°C]; None takes the standard atmosphere's.

    Returns
    -------
    float
        Standard pressure over gas constant and temperature.

    References
    ----------
    ISO 2533:1975.
    """
    kelvin = standard_temperature(altitude_m) if air_c is None else air_c + ZERO_C_IN_K
    return pressure(altitude_m) / (GAS_CONSTANT * kelvin)


def dynamic_pressure(density_kg_m3: float, speed_m_s: float) -> float:
    """Pressure of moving air brought to rest [Pa], ½·ρ·v²."""
    return 0.5 * density_kg_m3 * speed_m_s**2


def velocity_pressure(
    gust_m_s: float,
    velocity_coefficient: float,
    topographic_factor: float = 1.0,
    directionality: float = 1.0,
    elevation_factor: float = 1.0,
) -> float:
    """Velocity pressure of a design storm [Pa].

    Parameters
    ----------
    gust_m_s : float
        3 s gust at 10 m in open country [m/s].
    velocity_coefficient, topographic_factor, directionality, elevation_factor : float
        Kz, Kzt, Kd and Ke.

    References
    ----------
    ASCE/SEI 7-16, 26.10.2, equation 26.10-1.
    """
    factors = velocity_coefficient * topographic_factor * directionality * elevation_factor
    return 0.613 * factors * gust_m_s**2


def storm_pressure(gust_m_s: float, exposure: str, topographic_factor: float) -> float:
    """Velocity pressure on a parked vehicle's roof in the gust that is expected [Pa]."""
    return velocity_pressure(
        gust_m_s,
        figure("exposure", exposure, "velocity_coefficient"),
        topographic_factor,
        figure("wind_default", "directionality"),
    )
