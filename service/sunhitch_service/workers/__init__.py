"""Processes for long calculations, shared fairly among callers; nothing here is HTTP."""
