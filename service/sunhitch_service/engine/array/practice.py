"""Customary figures where the caller gives none, read from this folder's table."""

from sunhitch_service.engine.practice import Practice

_PRACTICE = Practice("array", "practice_limits")

limit = _PRACTICE.figure
"""A figure of `practice_limits.csv`."""

why = _PRACTICE.why
"""The same as a reason for an assumption."""

usual = _PRACTICE.usual
"""The given value, or that figure with a note."""
