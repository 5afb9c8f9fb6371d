"""Shade through the day, energy through the year, and what the battery makes of it."""
