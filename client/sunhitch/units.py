"""Feet, inches, miles per hour, °F, pounds, psf and AWG to the SI units of the contract and back.

``feet(6, inches=2)`` reads "6 ft 2 in, in metres"; the ``to_`` functions go back. Factors are
exact by definition, after [1]_ appendix B; wire gauges follow the geometric law of [2]_.

References
----------
.. [1] NIST Special Publication 811, 2008 edition, appendix B (factors in bold are exact).
.. [2] ASTM B258-18, Standard specification for standard nominal diameters and cross-sectional
       areas of AWG sizes of solid round wires used as electrical conductors.
"""

import math
from collections.abc import Callable
from typing import TypeAlias, get_args

from .types.wiring import Awg

Conversion: TypeAlias = Callable[[float], float]

_M_PER_FT = 0.3048
_M_PER_IN = 0.0254
_KG_PER_LB = 0.45359237
_N_PER_LBF = _KG_PER_LB * 9.80665

_AWG_SIZES = (*(str(size) for size in range(40, 0, -1)), "1/0", "2/0", "3/0", "4/0")
_AWG_IN_TRADE: tuple[str, ...] = get_args(Awg)


def feet(value: float, inches: float = 0.0) -> float:
    """Feet and inches in metres; 1 ft = 0.3048 m exactly (NIST SP 811, appendix B).

    Parameters
    ----------
    value : float
        Feet.
    inches : float
        Inches beside them.

    Returns
    -------
    float
        Length [m].
    """
    return value * _M_PER_FT + inches * _M_PER_IN


def to_feet(length_m: float) -> float:
    """Metres in feet; 1 ft = 0.3048 m exactly (NIST SP 811, appendix B)."""
    return length_m / _M_PER_FT


def pounds(value: float, ounces: float = 0.0) -> float:
    """Pounds and ounces in kilograms; 1 lb = 0.45359237 kg exactly, 16 oz to it (NIST SP 811).

    Parameters
    ----------
    value : float
        Pounds (avoirdupois).
    ounces : float
        Ounces beside them.

    Returns
    -------
    float
        Mass [kg].
    """
    return (value + ounces / 16.0) * _KG_PER_LB


def to_pounds(mass_kg: float) -> float:
    """Kilograms in pounds; 1 lb = 0.45359237 kg exactly (NIST SP 811)."""
    return mass_kg / _KG_PER_LB


def fahrenheit(value: float) -> float:
    """Degrees Fahrenheit in degrees Celsius; t/°C = (t/°F − 32) / 1.8 (NIST SP 811)."""
    return (value - 32.0) / 1.8


def to_fahrenheit(temperature_c: float) -> float:
    """Degrees Celsius in degrees Fahrenheit; t/°F = 1.8 t/°C + 32 (NIST SP 811)."""
    return temperature_c * 1.8 + 32.0


def _both_ways(si_per_unit: float) -> tuple[Conversion, Conversion]:
    """From a unit to that of the contract, and back."""
    return lambda value: value * si_per_unit, lambda amount: amount / si_per_unit


inches, to_inches = _both_ways(_M_PER_IN)
"""Inches in metres, and back; 1 in = 0.0254 m exactly (NIST SP 811, appendix B)."""

mph, to_mph = _both_ways(5280.0 * _M_PER_FT / 3600.0)
"""Miles per hour in metres per second, and back; 1 mi/h = 0.44704 m/s exactly (NIST SP 811)."""

km_per_h, to_km_per_h = _both_ways(1000.0 / 3600.0)
"""Kilometres per hour in metres per second, and back; 1 km/h = 1000/3600 m/s exactly."""

pounds_force, to_pounds_force = _both_ways(_N_PER_LBF)
"""Pounds-force in newtons, and back; 1 lbf = 1 lb × 9.80665 m/s² exactly (NIST SP 811)."""

psf, to_psf = _both_ways(_N_PER_LBF / _M_PER_FT**2)
"""Pounds-force per square foot in pascals, and back, from the exact foot and pound-force."""

psi, to_psi = _both_ways(_N_PER_LBF / _M_PER_IN**2)
"""Pounds-force per square inch in pascals, and back, from the exact inch and pound-force."""


def awg(size: str | int) -> float:
    """Cross-section of a solid American wire gauge size in square millimetres.

    Parameters
    ----------
    size : str or int
        ``40`` to ``1``, ``"1/0"`` to ``"4/0"``.

    Returns
    -------
    float
        Area [mm²]. Nominal values of stranded conductors differ in the last digit shown.

    Raises
    ------
    ValueError
        No such size.

    References
    ----------
    ASTM B258: diameters form a geometric series from 0.0050 in (36 AWG) to 0.4600 in (4/0 AWG) in
    39 steps.
    """
    diameter_mm = 0.005 * 25.4 * math.pow(92.0, (36 - _gauge_number(size)) / 39.0)
    return math.pi / 4.0 * diameter_mm**2


def to_awg(area_mm2: float) -> str:
    """Thinnest American wire gauge size of the trade with at least a given cross-section.

    Parameters
    ----------
    area_mm2 : float
        Area needed [mm²].

    Returns
    -------
    str
        ``"18"`` to ``"4/0"``, without the odd sizes that nobody stocks. The area is never rounded
        down: 4 mm² needs 10 AWG (5.26 mm²).

    Raises
    ------
    ValueError
        The area is not positive, or larger than 4/0 AWG.

    References
    ----------
    ASTM B258, as in `awg`. Areas equal to the standard's four digits count as enough.
    """
    if area_mm2 > 0.0:
        for size in _AWG_IN_TRADE:
            if awg(size) >= area_mm2 * (1.0 - 5e-4):
                return size
    raise ValueError(f"{area_mm2} mm² is no AWG size; 4/0 AWG, {awg('4/0'):.1f} mm², ends the list")


def _gauge_number(size: str | int) -> int:
    name = str(size)
    if name not in _AWG_SIZES:
        raise ValueError(f"{size!r} is no AWG size; 40 to 1 and 1/0 to 4/0 are")
    return 1 - int(name[0]) if "/" in name else int(name)
