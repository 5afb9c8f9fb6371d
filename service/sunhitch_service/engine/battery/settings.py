"""A battery's voltages, charging limit and fault current with every default settled."""

from dataclasses import dataclass

from sunhitch.texts import statement
from sunhitch.types.system import Battery, Chemistry
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.practice import Practice
from sunhitch_service.engine.tables import table

PRACTICE = Practice("battery", "practice")
_BLOCK_V = 12.0
_RATED_C = 25.0
"""Temperature that charging voltages are told for [°C]."""


@dataclass(frozen=True, slots=True)
class BatterySettings:
    """Voltage at the end of a charge and through most of it [V], largest charging current [A]."""

    charge_v: float
    working_v: float
    charge_limit_a: float


def chemistry_row(chemistry: Chemistry) -> dict[str, str]:
    """What is common practice for a chemistry, a row of `chemistry.csv`."""
    return table("battery", "chemistry").row("chemistry", chemistry)


def usual_charge_v(chemistry: Chemistry, nominal_v: float) -> float:
    """Highest charging voltage where the maker gives none [V]."""
    return float(chemistry_row(chemistry)["charge_voltage_v"]) * nominal_v / _BLOCK_V


def highest_charge_v(battery: Battery, charge_v: float, coldest_c: float) -> float:
    """Voltage that everything on a battery's circuits must bear [V].

    Chargers give lead-acid batteries more in the cold: 3 to 5 mV per cell and kelvin by makers'
    manuals; the most counts here, whether or not a charger reads the temperature.

    Parameters
    ----------
    battery : Battery
        Its chemistry and nominal voltage.
    charge_v : float
        Highest charging voltage at 25 °C [V].
    coldest_c : float
        Coldest that it gets [°C].
    """
    per_k = float(chemistry_row(battery.chemistry)["cold_v_per_k"])
    blocks = battery.nominal_voltage_v / _BLOCK_V
    return charge_v + per_k * blocks * max(0.0, _RATED_C - coldest_c)


def battery_settings(battery: Battery, notes: Assumptions) -> BatterySettings:
    """Settle a battery's voltages and charging limit by common practice for its chemistry.

    Parameters
    ----------
    battery : Battery
        As given, at `/battery`.
    notes : Assumptions
        Takes note of what was chosen.

    Returns
    -------
    BatterySettings
        Given figures come first.
    """
    row = chemistry_row(battery.chemistry)
    charge = notes.choose(
        "/battery/charge_voltage_v",
        battery.charge_voltage_v,
        usual_charge_v(battery.chemistry, battery.nominal_voltage_v),
        statement("usual-of-chemistry", note=row["row_note"]),
    )
    working = notes.choose(
        "/battery/working_voltage_v",
        battery.working_voltage_v,
        min(charge, float(row["working_voltage_v"]) * battery.nominal_voltage_v / _BLOCK_V),
        statement("voltage-through-charge"),
    )
    limit = notes.choose(
        "/battery/max_charge_current_a",
        battery.max_charge_current_a,
        float(row["charge_rate_per_h"]) * battery.capacity_ah,
        statement("charge-rate-of-chemistry", rate_per_h=row["charge_rate_per_h"]),
    )
    return BatterySettings(charge, working, limit)


def fault_current_a(
    given_a: float | None, capacity_ah: float | None, field: str, notes: Assumptions
) -> float:
    """Fault current at a battery's posts [A].

    Parameters
    ----------
    given_a : float or None
        The maker's figure [A].
    capacity_ah : float or None
        Capacity [Ah], where it is known.
    field : str
        JSON Pointer of the maker's figure.
    notes : Assumptions
        Takes note of what was chosen.

    Returns
    -------
    float
        The maker's figure, else 20 kA or 25 A per Ah, whichever is more: rather too much, since
        it decides on interrupting ratings and on what may flow back into an array.
    """
    by_capacity = PRACTICE.figure("fault-current-per-ah") * (capacity_ah or 0.0)
    least = PRACTICE.figure("fault-current")
    name = "fault-current" if by_capacity <= least else "fault-current-per-ah"
    return notes.choose(field, given_a, max(least, by_capacity), PRACTICE.why(name))
