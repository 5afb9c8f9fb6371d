"""Thresholds of common practice that rules judge by."""

from sunhitch_service.engine.practice import Practice

_PRACTICE = Practice("rules", "limits")

limit = _PRACTICE.figure
"""A figure of `limits.csv`."""

limit_why = _PRACTICE.why
"""The same as a reason for an assumption."""

usual_limit = _PRACTICE.usual
"""The given value, or that figure with a note."""

limit_basis = _PRACTICE.basis
"""Where that figure comes from."""
