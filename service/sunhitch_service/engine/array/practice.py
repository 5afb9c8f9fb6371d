"""Customary figures where the caller gives none, read from this folder's tables."""

from functools import cache

from sunhitch.types.basis import Basis
from sunhitch_service.engine.sources import basis
from sunhitch_service.engine.tables import table


@cache
def limit(name: str) -> float:
    """A threshold of `practice_limits.csv`."""
    return float(table("array", "practice_limits").row("name", name)["value"])


@cache
def limit_basis(name: str) -> Basis:
    """Where that threshold comes from."""
    row = table("array", "practice_limits").row("name", name)
    return basis("practice", row["meaning"], row["row_note"])


@cache
def why(name: str) -> str:
    """The same as a reason for an assumption."""
    row = table("array", "practice_limits").row("name", name)
    return " ".join(filter(None, [f"{row['meaning']}.", row["row_note"], "Common practice."]))


@cache
def battery_practice(chemistry: str) -> dict[str, str]:
    """Row of `battery_practice.csv`."""
    return table("array", "battery_practice").row("chemistry", chemistry)


@cache
def controller_practice(kind: str) -> dict[str, str]:
    """Row of `controller_practice.csv`."""
    return table("array", "controller_practice").row("kind", kind)
