"""Modes of failure by code, out of the table of rules."""

from functools import cache

from sunhitch_service.engine.rules.table import basis_of, entries
from sunhitch_service.engine.rules.template import template
from sunhitch_service.engine.sources import basis

from .use import Mode

_NONE = template("")


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
    entry = entries()[code]
    cited = entry.citations[0]
    return Mode(
        code=code,
        title=entry.title.filled({}),
        unit=entry.unit,
        basis=basis(source, cited.clause, cited.note)
        if source
        else basis_of(entry, "", None, None, {}),
        remedy=entry.remedies.get("", _NONE),
        screening=entry.severity == "review",
    )
