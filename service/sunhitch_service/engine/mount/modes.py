"""Modes of failure by code, read from their table."""

from functools import cache

from sunhitch_service.engine.sources import basis

from .figures import row
from .use import Mode


@cache
def mode(code: str, source: str = "") -> Mode:
    """One mode of failure.

    Parameters
    ----------
    code : str
        Code of the mode.
    source : str
        Key of the source of this part's strength, where it differs from the table's.

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
        basis=basis(source or entry["source"], entry["clause"], entry["note"]),
        remedy=entry["remedy"],
        screening=bool(entry["screening"]),
    )
