"""Customary figures of this calculation."""

from sunhitch_service.engine.practice import Practice

PRACTICE = Practice("harvest", "practice")
