"""Which clause stands behind a check, by rule set and kind of circuit."""

from functools import cache

from sunhitch.types.basis import Basis
from sunhitch.types.wiring import Circuit, WiringRules
from sunhitch_service.engine.rules.families import Group
from sunhitch_service.engine.sources import basis
from sunhitch_service.engine.tables import table


@cache
def circuit_row(circuit: Circuit) -> dict[str, str]:
    """Usual allowance, runs and device place of a circuit."""
    return table("wiring", "circuits").row("circuit", circuit)


@cache
def group_of(circuit: Circuit) -> Group:
    """Whether a circuit belongs to the panels or to the battery."""
    return "pv" if circuit_row(circuit)["group"] == "pv" else "battery"


def cited(row: dict[str, str], rules: WiringRules) -> Basis:
    """Basis of a table row with `source` and `clause`; `edition` stands for the rules' edition."""
    return basis(rules if row["source"] == "edition" else row["source"], row["clause"])
