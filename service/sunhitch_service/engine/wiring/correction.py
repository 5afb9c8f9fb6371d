"""Factors that turn a table ampacity into that of a real run: air, roof, company, insulation.

Every table is read in steps, at the next harsher row, and ends where it ends: beyond its last row
a function gives None and nothing is extrapolated.
"""

import math
from functools import cache

from sunhitch_service.engine.tables import number, table


@cache
def _steps(name: str, key: str, column: str) -> tuple[tuple[float, float | None], ...]:
    return tuple((float(row[key]), number(row, column)) for row in table("wiring", name).rows)


def step(name: str, key: str, column: str, value: float) -> float | None:
    """Entry of the first row whose `key` is not below `value`; None beyond the table.

    Parameters
    ----------
    name : str
        Table of this domain.
    key : str
        Column that rises from row to row.
    column : str
        Column to read.
    value : float
        Value to look up.

    Returns
    -------
    float or None
        Entry, or None where the table has none.
    """
    for upper, entry in _steps(name, key, column):
        if value <= upper:
            return entry
    return None


@cache
def last_key(name: str, key: str, column: str) -> float:
    """Largest `key` for which a column has an entry."""
    return max(upper for upper, entry in _steps(name, key, column) if entry is not None)


def heat_balance_factor(
    air_c: float, conductor_c: float, table_air_c: float, table_conductor_c: float
) -> float:
    """Factor on a table ampacity for another air or conductor temperature.

    Parameters
    ----------
    air_c, conductor_c : float
        Temperatures wanted [°C].
    table_air_c, table_conductor_c : float
        Temperatures behind the table [°C].

    Returns
    -------
    float
        √((conductor − air) / (table conductor − table air)); 0 where the air is as hot.

    References
    ----------
    NFPA 70, 310.15(B), equation; the tables of ambient factors follow it within 0.01.
    """
    room = conductor_c - air_c
    return math.sqrt(room / (table_conductor_c - table_air_c)) if room > 0 else 0.0


def roof_addition_c(rules: str, height_above_roof_m: float) -> float:
    """What sunlight adds to the air around a cable close to a roof, by edition [K].

    Parameters
    ----------
    rules : str
        Edition, for example ``nec-2020``.
    height_above_roof_m : float
        Gap below the cable or raceway [m].

    Returns
    -------
    float
        Addition [K]; 0 at and above the edition's height.

    References
    ----------
    NFPA 70, 310.15(B)(2); 310.15(B)(3)(c) in 2017.
    """
    below_m, add_c = _rooftop(rules)
    return add_c if height_above_roof_m < below_m else 0.0


def roof_clearance_m(rules: str) -> float:
    """Height from which an edition adds nothing [m]."""
    return _rooftop(rules)[0]


@cache
def _rooftop(rules: str) -> tuple[float, float]:
    row = table("wiring", "nec_rooftop").row("rules", rules)
    return float(row["below_height_m"]), float(row["add_c"])
