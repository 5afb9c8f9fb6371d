"""Roof layout: where panels, feet and cables go."""
