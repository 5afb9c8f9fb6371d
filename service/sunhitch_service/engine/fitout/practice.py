"""Customary figures of the work."""

from sunhitch_service.engine.practice import Practice

WORK = Practice("fitout", "work_practice")
"""Light of the bench test, reach, tolerances."""
