"""Conductors, fuses, disconnects and cable entries of one circuit."""
