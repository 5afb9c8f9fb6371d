"""Modes of failure by code, read from their table."""

from functools import cache

from sunhitch_service.engine.sources import basis

from .figures import row
from .use import Mode


@cache
def mode(code: str) -> Mode:
    """One mode of failure.

    Raises
    ------
    KeyError
        If there is no such mode.
    """
    entry = row("mode", code)
    return Mode(
        code=code,
        title=entry["title"],
        unit=entry["unit"],
        basis=basis(entry["source"], entry["clause"], entry["note"]),
        remedy=entry["remedy"],
        screening=bool(entry["screening"]),
    )
