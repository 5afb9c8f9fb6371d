"""Customary figures of this calculation, read from its tables."""

from functools import cache

from sunhitch_service.engine.practice import Practice
from sunhitch_service.engine.tables import table

_PRACTICE = Practice("commissioning", "practice")

figure = _PRACTICE.figure
"""A figure of `practice.csv`."""

usual = _PRACTICE.usual
"""The given value, or that figure with a note."""


@cache
def trend(name: str) -> float:
    """A threshold of `trend.csv`."""
    return float(table("commissioning", "trend").row("name", name)["value"])
