"""Panels and arrays: cell, nameplate, translation, network, solvers, maxima."""
