"""How far from its source a device may sit, and means to switch off."""

from sunhitch.types.wiring import Disconnect, WiringRules
from sunhitch_service.engine.rules.families import Group, admits, family_of
from sunhitch_service.engine.tables import table

from .citation import cited


def within_m(rules: WiringRules, group: Group) -> float:
    """Largest distance from a battery, or another source, to its device along the cable [m].

    References
    ----------
    NFPA 70, 552.10(E); 33 CFR 183.455(b) and 183.460(a); ISO 10133.
    """
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
            basis=cited(row, rules),
        )
        for row in table("wiring", "disconnects").rows
        if row["group"] == group and admits(row["rules"], family_of(rules))
    ]
