"""Quantities for people: few digits, SI first and US customary beside it."""

import math
from collections.abc import Callable, Iterable
from fractions import Fraction

from sunhitch import units
from sunhitch.types.array import ArrangedString
from sunhitch.types.mount import Cure

_DIGITS = 3
_LARGE = 10_000.0
_SLIVER = 1e-9
_AGAINST_NOTHING = 1e6
_LARGER = {"Pa": "kPa", "kPa": "MPa", "N": "kN", "W": "kW", "Wh": "kWh"}


def figure(value: float, digits: int = _DIGITS) -> str:
    """A number with so many significant digits, without an exponent.

    Parameters
    ----------
    value : float
        Any finite number.
    digits : int
        Significant digits; digits in front of the decimal point are never dropped.
    """
    if value == 0.0:
        return "0"
    decimals = digits - 1 - math.floor(math.log10(abs(value)))
    if decimals <= 0 or value == round(value):
        return f"{value:.0f}"
    return f"{value:.{min(decimals, 9)}f}".rstrip("0").rstrip(".")


def beside(demand: float, capacity: float, unit: str) -> str:
    """A demand against its limit, in one unit; two decimals within a hundredth of each other."""
    if unit in _LARGER and max(abs(demand), abs(capacity)) >= _LARGE:
        demand, capacity, unit = demand / 1000.0, capacity / 1000.0, _LARGER[unit]
    near = 0.0 < abs(demand - capacity) <= 0.01 * abs(capacity)
    digits = max(_DIGITS, 3 + math.floor(math.log10(abs(capacity)))) if near else _DIGITS
    return f"{both(demand, unit, digits)} against {both(capacity, unit, digits)}"


def both(value: float, unit: str, digits: int = _DIGITS) -> str:
    """A quantity in its SI unit, with the US customary one in brackets where there is one.

    Parameters
    ----------
    value : float
        Amount.
    unit : str
        Unit symbol of the contract, for example ``"N"``; ``"1"`` or empty for a ratio.
    digits : int
        Significant digits of the SI figure.
    """
    if unit in _LARGER and abs(value) >= _LARGE:
        value, unit = value / 1000.0, _LARGER[unit]
    si = figure(value, digits) if unit in ("", "1") else f"{figure(value, digits)} {unit}"
    customary = _CUSTOMARY.get(unit)
    return f"{si} ({customary(value)})" if customary else si


def at_least(value: float) -> str:
    """A rating that a part must have; three significant digits, rounded up.

    Parameters
    ----------
    value : float
        Not negative.
    """
    steps = _steps(value)
    return figure(math.ceil(value * steps - _SLIVER) / steps)


def at_most(value: float) -> str:
    """What must not be exceeded; three significant digits, rounded down.

    Parameters
    ----------
    value : float
        Not negative.
    """
    steps = _steps(value)
    return figure(math.floor(value * steps + _SLIVER) / steps)


def _steps(value: float) -> float:
    """Steps of a whole that three significant digits tell apart; whole numbers at least."""
    return 10.0 ** max(0, _DIGITS - 1 - math.floor(math.log10(value))) if value > 0.0 else 1.0


def speed_limit(speed_m_s: float) -> str:
    """A road speed not to be passed, in the units of the road; rounded down in all of them."""
    tenths = math.floor(10.0 * speed_m_s + _SLIVER) / 10.0
    km_per_h = math.floor(units.to_km_per_h(speed_m_s) + _SLIVER)
    return (
        f"{tenths:.1f} m/s ({km_per_h} km/h, {math.floor(units.to_mph(speed_m_s) + _SLIVER)} mph)"
    )


def top_speed(speed_m_s: float | None) -> str:
    """As `speed_limit`; none where something passes at no speed."""
    return "no speed" if speed_m_s is None else speed_limit(speed_m_s)


def percent(fraction: float) -> str:
    """A share in percent; no longer a number where it is measured against nothing."""
    if fraction >= _AGAINST_NOTHING:
        return f"> {figure(100.0 * _AGAINST_NOTHING)} %"
    return f"{figure(100.0 * fraction)} %"


def utilisation(fraction: float | None) -> str:
    """Utilisation; two decimals next to the limit, none where nothing is allowed."""
    if fraction is None:
        return "no strength left"
    return f"{near_limit(fraction)} used"


def near_limit(fraction: float) -> str:
    """A share in percent with two decimals next to the whole."""
    near = 0.0 < abs(fraction - 1.0) <= 0.01
    return f"{figure(100.0 * fraction, 4 + (fraction >= 1.0))} %" if near else percent(fraction)


def infinite(fraction: float | None) -> float:
    """A utilisation as a number to compare: infinite where nothing is allowed."""
    return math.inf if fraction is None else fraction


def none_or(pick: Callable[[list[float]], float], values: Iterable[float | None]) -> float | None:
    """Largest or smallest of some values; none where one of them is none, which is worse."""
    given = list(values)
    known = [value for value in given if value is not None]
    return pick(known) if len(known) == len(given) else None


def at_least_hours(cure: Cure) -> int:
    """Whole hours of rest of a bond; less than a minute is no hour more."""
    return math.ceil(cure.hours_before_driving - 1.0 / 60.0)


def rest(cure: Cure) -> str:
    """Rest of a bond before it is driven, and the temperature and humidity at which that holds."""
    damp = cure.at_humidity_fraction
    air = "" if damp is None else f" and {percent(damp)} humidity"
    return f"{at_least_hours(cure)} h at {both(cure.at_c, '°C')}{air}"


def passes(speed_m_s: float | None) -> str:
    """Up to which road speed something passes."""
    return "passes at no speed" if speed_m_s is None else f"passes up to {speed_limit(speed_m_s)}"


def _with(convert: Callable[[float], float], symbol: str) -> Callable[[float], str]:
    return lambda value: f"{figure(convert(value))} {symbol}"


def tape(length_m: float) -> str:
    """Feet and inches to the sixteenth, as on a tape measure."""
    feet, rest = divmod(_tape_marks(length_m), 12 * 16)
    part = f"{_inches(rest)} in" if rest else ""
    amount = " ".join(text for text in (f"{feet} ft" if feet else "", part) if text)
    return ("-" if length_m < 0.0 else "") + (amount or "0 in")


def inches(length_m: float) -> str:
    """Inches to the sixteenth without a unit, for a list beside a tape measure."""
    return ("-" if length_m < 0.0 else "") + _inches(_tape_marks(length_m))


def _tape_marks(length_m: float) -> int:
    """Sixteenths of an inch."""
    return round(units.to_inches(abs(length_m)) * 16.0)


def _inches(sixteenths: int) -> str:
    whole, part = divmod(sixteenths, 16)
    texts = [str(whole) if whole or not part else "", str(Fraction(part, 16)) if part else ""]
    return " ".join(text for text in texts if text)


_CUSTOMARY: dict[str, Callable[[float], str]] = {
    "m": tape,
    "mm": _with(lambda value: units.to_inches(value / 1000.0), "in"),
    "m/s": lambda value: (
        f"{figure(units.to_km_per_h(value))} km/h, {figure(units.to_mph(value))} mph"
    ),
    "kg": _with(units.to_pounds, "lb"),
    "N": _with(units.to_pounds_force, "lbf"),
    "kN": _with(lambda value: units.to_pounds_force(value * 1000.0), "lbf"),
    "Pa": _with(units.to_psf, "psf"),
    "kPa": _with(lambda value: units.to_psi(value * 1000.0), "psi"),
    "MPa": _with(lambda value: units.to_psi(value * 1e6), "psi"),
    "°C": _with(units.to_fahrenheit, "°F"),
    "K": _with(lambda value: value * 1.8, "°F"),
    "N·m": _with(lambda value: units.to_inches(units.to_pounds_force(value)), "lbf·in"),
}


def cold_open_circuit(string: ArrangedString) -> str:
    """Open circuit of a string in the cold, by each method that applies; empty where none does.

    Parameters
    ----------
    string : ArrangedString
        With one voltage, both, or none.
    """
    methods = (
        (string.cold_voc_coefficient_v, "by the panels' coefficient"),
        (string.cold_voc_table_v, "by the rules' table"),
    )
    told = [f"{figure(volts)} V {method}" for volts, method in methods if volts is not None]
    return " and ".join(told)
