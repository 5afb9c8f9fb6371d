"""Customary figures of this calculation, read from its tables."""

from functools import cache

from sunhitch.types.basis import Basis
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.sources import basis
from sunhitch_service.engine.tables import table


@cache
def figure(name: str) -> float:
    """A figure of `practice.csv`."""
    return float(table("energy", "practice").row("name", name)["value"])


@cache
def why(name: str) -> str:
    """The same as a reason for an assumption."""
    row = table("energy", "practice").row("name", name)
    return " ".join(filter(None, [f"{row['meaning']}.", row["row_note"], "Common practice."]))


@cache
def figure_basis(name: str) -> Basis:
    """Where that figure comes from."""
    row = table("energy", "practice").row("name", name)
    return basis("practice", row["meaning"], row["row_note"])


def usual(notes: Assumptions, field: str, given: float | None, name: str) -> float:
    """The given value, or the customary one with a note.

    Parameters
    ----------
    notes : Assumptions
        Takes the note.
    field : str
        JSON Pointer.
    given : float or None
        What the caller said.
    name : str
        Row of `practice.csv`.

    Returns
    -------
    float
        Value to use.
    """
    return notes.choose(field, given, figure(name), why(name))
