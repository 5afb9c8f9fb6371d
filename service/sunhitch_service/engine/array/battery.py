"""A battery's voltages and charging limit with every default settled."""

from dataclasses import dataclass

from sunhitch.types.system import Battery
from sunhitch_service.engine.assumptions import Assumptions

from .practice import battery_practice

_BLOCK_V = 12.0


@dataclass(frozen=True, slots=True)
class Charging:
    """How a battery is charged.

    Parameters
    ----------
    charge_v, working_v : float
        Highest voltage, and voltage through most of a charge [V].
    limit_a : float
        Largest charging current [A].
    """

    charge_v: float
    working_v: float
    limit_a: float


def charging(battery: Battery, notes: Assumptions) -> Charging:
    """Settle a battery's voltages and charging limit.

    Parameters
    ----------
    battery : Battery
        As given, at `/battery`.
    notes : Assumptions
        Takes note of what was chosen.

    Returns
    -------
    Charging
        By common practice for the chemistry where nothing is given.
    """
    row = battery_practice(battery.chemistry)
    blocks = battery.nominal_voltage_v / _BLOCK_V
    why = f"Common practice for this chemistry. {row['row_note']}"
    charge = notes.choose(
        "/battery/charge_voltage_v",
        battery.charge_voltage_v,
        float(row["charge_voltage_v"]) * blocks,
        why,
    )
    working = notes.choose(
        "/battery/working_voltage_v",
        battery.working_voltage_v,
        min(charge, float(row["working_voltage_v"]) * blocks),
        "Voltage through most of a charge, by chemistry. Common practice, from memory.",
    )
    limit = notes.choose(
        "/battery/max_charge_current_a",
        battery.max_charge_current_a,
        float(row["charge_rate_per_h"]) * battery.capacity_ah,
        f"{row['charge_rate_per_h']} A per Ah, by chemistry. Common practice, from memory.",
    )
    return Charging(charge, working, limit)
