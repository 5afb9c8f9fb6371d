"""Whether a battery may be charged as hot as it gets."""

from sunhitch.texts import statement
from sunhitch.types.check import Check
from sunhitch.types.system import Battery
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.rules.batteries import hot_charging

from .settings import PRACTICE, chemistry_row


def hottest_c(battery: Battery, air_c: float) -> float:
    """Temperature of a battery on a day whose hottest air is given, in a parked vehicle [°C].

    Air in there is hotter than outside, whatever warmth the battery is said to have in the cold.
    """
    own_c = air_c + max(battery.above_air_k, PRACTICE.figure("inside-hotter"))
    return own_c if battery.kept_above_c is None else max(own_c, battery.kept_above_c)


def in_heat(battery: Battery, air_c: float, notes: Assumptions) -> list[Check]:
    """What is said of charging on the hottest day; nothing where the battery stays cool enough.

    Parameters
    ----------
    battery : Battery
        As given, at `/battery`.
    air_c : float
        Hottest air outside [°C].
    notes : Assumptions
        Takes note of what was chosen.
    """
    row, given_c = chemistry_row(battery.chemistry), battery.no_charge_above_c
    limit_c = notes.choose(
        "/battery/no_charge_above_c",
        given_c,
        float(row["no_charge_above_c"]),
        statement("usual-of-chemistry", note=row["row_note"]),
    )
    own_c = hottest_c(battery, air_c)
    return [hot_charging(own_c, limit_c, usual=given_c is None)] if own_c > limit_c else []
