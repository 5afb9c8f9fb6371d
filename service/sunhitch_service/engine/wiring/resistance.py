"""Resistance of conductors, and the temperature that stands behind it."""

from dataclasses import dataclass
from functools import cache

import msgspec

from sunhitch.types.wiring import Ladder, Material

from .ladders import LADDER_TABLES, Size, by_size, sizes

FOOT_M = 0.3048


@dataclass(frozen=True, slots=True)
class Metal:
    """How a ladder's table states resistance.

    Parameters
    ----------
    column : str
        Column of the table.
    metres : float
        Length that a value stands for [m].
    reference_c : float
        Temperature of the table [°C].
    per_c : float
        Temperature coefficient at that temperature [1/K].
    """

    column: str
    metres: float
    reference_c: float
    per_c: float


def metal(ladder: Ladder, material: Material, fine: bool, tinned: bool) -> Metal:
    """Table column and temperature coefficient for a metal.

    The coefficients belong to their tables' temperatures and are never mixed: 0.00323 for copper
    at 75 °C is 0.00393 at 20 °C.

    References
    ----------
    NFPA 70, Chapter 9, Table 8, note 2; IEC 60287-1-1, Table 1.
    """
    suffix = "_tinned" if tinned and material == "copper" else ""
    if ladder == "awg":
        per_c = 0.00323 if material == "copper" else 0.00330
        return Metal(f"{material}{suffix}_ohm_per_1000ft", 1000 * FOOT_M, 75.0, per_c)
    strands = "class5" if fine else "class2"
    per_c = 0.00393 if material == "copper" else 0.00403
    return Metal(f"{strands}_{material}{suffix}_ohm_per_km", 1000.0, 20.0, per_c)


def table_ohm_per_m(size: Size, of: Metal) -> float | None:
    """Table value of one conductor [Ω/m] at the table's temperature; None where there is none."""
    value = by_size(LADDER_TABLES[size.ladder], of.column)[size.key]
    return None if value is None else value / of.metres


Rung = tuple[Size, float]
"""A size, and the resistance of one conductor at the table's temperature [Ω/m]."""


@cache
def rungs(ladder: Ladder, of: Metal) -> tuple[Rung, ...]:
    """All sizes that a ladder's table has a resistance for, smallest first."""
    found = [(size, table_ohm_per_m(size, of)) for size in sizes(ladder)]
    return tuple((size, ohm) for size, ohm in found if ohm is not None)


def resistance_at(table_ohm: float, of: Metal, temperature_c: float) -> float:
    """Resistance at a conductor temperature: R · (1 + α · (t − t_table)).

    Parameters
    ----------
    table_ohm : float
        Resistance at the table's temperature, in any unit of resistance.
    of : Metal
        Coefficient and temperature of the table.
    temperature_c : float
        Conductor temperature [°C].

    Returns
    -------
    float
        Resistance in the same unit.

    References
    ----------
    NFPA 70, Chapter 9, Table 8, note 2; IEC 60287-1-1.
    """
    return table_ohm * (1.0 + of.per_c * (temperature_c - of.reference_c))


class HeatBalance(msgspec.Struct, frozen=True):
    """The heat balance of a conductor under load, with all of it that no current changes.

    Parameters
    ----------
    reference_a : float
        Table value, bundling and enclosure included; 0 where there is none [A].
    rise_k : float
        Rise of the table: its conductor temperature less its air temperature [K].
    air_c : float
        Air around the conductor [°C].
    ceiling_c : float
        Higher one of insulation limit and air; an overloaded conductor is stated at this [°C].
    per_k : float
        Coefficient of the resistance at the table's conductor temperature [1/K].
    at_zero : float
        Resistance at 0 °C over that at the table's conductor temperature, on the same line [1].
    """

    reference_a: float
    rise_k: float
    air_c: float
    ceiling_c: float
    per_k: float
    at_zero: float

    def temperature_c(self, current_a: float) -> float:
        """Conductor temperature [°C] at a current [A]."""
        if self.reference_a <= 0.0:
            return self.ceiling_c
        heat = self.rise_k * (current_a / self.reference_a) ** 2
        fed_back = self.per_k * heat
        if fed_back >= 1.0:
            return self.ceiling_c
        warm_c = (self.air_c + heat * self.at_zero) / (1.0 - fed_back)
        return warm_c if warm_c < self.ceiling_c else self.ceiling_c


def heat_balance(
    reference_a: float, rise_k: float, rated_c: float, air_c: float, of: Metal, limit_c: float
) -> HeatBalance:
    """Heat balance behind an ampacity table, for the conductor temperature under load.

    A conductor that carries its table value in the table's air reaches the table's conductor
    temperature. The rise goes with the square of the current and with the resistance, which itself
    follows the temperature; as it does so linearly, the balance has a closed form.

    Parameters
    ----------
    reference_a : float
        Table value, bundling and enclosure included; 0 where there is none [A].
    rise_k : float
        Rise of the table: its conductor temperature less its air temperature [K].
    rated_c : float
        Conductor temperature of the table [°C].
    air_c : float
        Air around the conductor [°C].
    of : Metal
        Coefficient of the resistance.
    limit_c : float
        Insulation limit [°C].

    Returns
    -------
    HeatBalance
        Gives temperatures not above the higher of limit and air.

    References
    ----------
    IEC 60287-1-1, steady-state balance; no sun on the conductor.
    """
    per_k = of.per_c / (1.0 + of.per_c * (rated_c - of.reference_c))
    ceiling_c = max(limit_c, air_c)
    return HeatBalance(reference_a, rise_k, air_c, ceiling_c, per_k, 1.0 - per_k * rated_c)
