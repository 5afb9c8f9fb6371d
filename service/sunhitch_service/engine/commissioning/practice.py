"""Customary figures of this calculation, read from its tables."""

from sunhitch_service.engine.practice import Practice

_PRACTICE = Practice("commissioning", "practice")

figure = _PRACTICE.figure
"""A figure of `practice.csv`."""

usual = _PRACTICE.usual
"""The given value, or that figure with a note."""
