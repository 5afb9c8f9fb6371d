"""Torques of terminal screws whose maker names none."""

from typing import NamedTuple

from sunhitch_service.engine.tables import table


class TerminalTorque(NamedTuple):
    """Torques for slotted screws No. 10 and larger and for hexagon screws [N·m]."""

    slotted_n_m: float
    hexagon_n_m: float


def terminal_torque(area_mm2: float) -> TerminalTorque:
    """Torques for a conductor of an area [mm²]: of the largest wire in the table not above it.

    References
    ----------
    NFPA 70, Informative Annex I, Table I.1: of slotted screws the largest value of a wire counts.
    """
    rows = table("wiring", "terminal_torque").rows
    row = next(row for row in reversed(rows) if float(row["from_mm2"]) <= area_mm2)
    return TerminalTorque(float(row["slotted_n_m"]), float(row["hexagon_n_m"]))
