"""Partly shaded arrays: panel model, cell network, maxima, shadows."""
