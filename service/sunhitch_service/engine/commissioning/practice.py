"""Customary figures of this calculation, read from its tables."""

from functools import cache

from sunhitch.types.basis import Basis
from sunhitch_service.engine.sources import basis
from sunhitch_service.engine.tables import table


@cache
def figure(name: str) -> float:
    """A figure of `practice.csv`."""
    return float(table("commissioning", "practice").row("name", name)["value"])


@cache
def why(name: str) -> str:
    """The same as a reason for an assumption."""
    row = table("commissioning", "practice").row("name", name)
    return " ".join(filter(None, [f"{row['meaning']}.", row["row_note"], "Common practice."]))


@cache
def figure_basis(name: str) -> Basis:
    """Where that figure comes from."""
    row = table("commissioning", "practice").row("name", name)
    return basis("practice", row["meaning"], row["row_note"])


@cache
def trend(name: str) -> float:
    """A threshold of `trend.csv`."""
    return float(table("commissioning", "trend").row("name", name)["value"])
