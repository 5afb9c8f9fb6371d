"""Answers as text for people: pages, amounts with their units, what every answer tells."""
