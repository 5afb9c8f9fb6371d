"""Customary figures of this calculation, read from its tables."""

from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.practice import Practice

_PRACTICE = Practice("energy", "practice")

figure = _PRACTICE.figure
"""A figure of `practice.csv`."""

why = _PRACTICE.why
"""The same as a reason for an assumption."""

figure_basis = _PRACTICE.basis
"""Where that figure comes from."""


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
