"""Customary figures where the caller gives none, read from this folder's table."""

from sunhitch_service.engine.practice import Practice

PRACTICE = Practice("wiring", "practice")
