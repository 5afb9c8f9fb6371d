"""Customary figures where the caller gives none, read from this folder's tables."""

from functools import cache

from sunhitch_service.engine.practice import Practice
from sunhitch_service.engine.tables import table

_PRACTICE = Practice("array", "practice_limits")

limit = _PRACTICE.figure
"""A figure of `practice_limits.csv`."""

why = _PRACTICE.why
"""The same as a reason for an assumption."""

limit_basis = _PRACTICE.basis
"""Where that figure comes from."""


@cache
def battery_practice(chemistry: str) -> dict[str, str]:
    """Row of `battery_practice.csv`."""
    return table("array", "battery_practice").row("chemistry", chemistry)


@cache
def controller_practice(kind: str) -> dict[str, str]:
    """Row of `controller_practice.csv`."""
    return table("array", "controller_practice").row("kind", kind)
