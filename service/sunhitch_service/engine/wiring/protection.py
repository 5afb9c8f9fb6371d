"""Battery fuses and means to switch off."""

from dataclasses import dataclass
from functools import cache

from sunhitch.types.basis import Basis
from sunhitch.types.wiring import Disconnect, FuseFamily, FuseOption, WiringRules
from sunhitch_service.engine.circuit.devices import DeviceNeed, chosen_option, fuse_options
from sunhitch_service.engine.rules.families import Group, admits, family_of
from sunhitch_service.engine.tables import table

from .citation import cited


@dataclass(frozen=True, slots=True)
class BatteryFuse:
    """Choice of a fuse at a battery.

    Parameters
    ----------
    chosen : FuseOption or None
        Family and size; the least unsuitable if none is suitable, None if no family has a size.
    options : tuple of FuseOption
        Families side by side.
    within_m : float
        Largest distance from the battery, along the conductor [m].
    """

    chosen: FuseOption | None
    options: tuple[FuseOption, ...]
    within_m: float


def battery_fuse(
    minimum_a: float,
    voltage_v: float,
    fault_current_a: float,
    rules: WiringRules,
    family: FuseFamily | None = None,
) -> BatteryFuse:
    """Fuse of a circuit that a battery feeds.

    Parameters
    ----------
    minimum_a : float
        Smallest rating that does not trip in use [A].
    voltage_v : float
        Highest voltage of the battery [V].
    fault_current_a : float
        Short-circuit current where the fuse sits [A].
    rules : str
        Rule set; it decides how close the fuse must sit.
    family : str, optional
        Family that must be used.

    Returns
    -------
    BatteryFuse
        Family, size and distance.

    References
    ----------
    NFPA 70, 110.9 and 552.10(E); 33 CFR 183.460(a).
    """
    need = DeviceNeed(
        minimum_a, False, float("inf"), voltage_v, fault_current_a, False, None, family
    )
    options = fuse_options(need)
    return BatteryFuse(chosen_option(need), options, within_m(rules, "battery"))


def within_m(rules: WiringRules, group: Group) -> float:
    """Largest distance from a battery, or another source, to its device along the cable [m]."""
    row = table("wiring", "device_distance").row("rules", family_of(rules))
    return float(row[f"{group}_m"])


def disconnects(
    group: Group, rules: WiringRules, current_a: float, voltage_v: float
) -> list[Disconnect]:
    """Means to switch off a circuit.

    Parameters
    ----------
    group : {'pv', 'battery'}
        Kind of circuit.
    rules : str
        Rule set.
    current_a, voltage_v : float
        Ratings that it needs: current [A] and direct voltage [V].

    Returns
    -------
    list of Disconnect
        All of them open under load.

    References
    ----------
    NFPA 70, 690.13, 690.15 and 480.7; IEC 60364-7-712.
    """
    return [
        Disconnect(
            name=row["name"],
            place=row["place"],
            poles=row["poles"],
            minimum_current_a=current_a,
            minimum_voltage_v=voltage_v,
            load_break=True,
            note=row["note"],
            basis=cited_by,
        )
        for row, cited_by in _disconnect_rows(group, rules)
    ]


@cache
def _disconnect_rows(group: Group, rules: WiringRules) -> list[tuple[dict[str, str], Basis]]:
    family = family_of(rules)
    return [
        (row, cited(row, rules))
        for row in table("wiring", "disconnects").rows
        if row["group"] == group and admits(row["rules"], family)
    ]
