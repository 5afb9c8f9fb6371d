"""Figures in which rule families differ about currents."""

from functools import cache
from typing import cast

import msgspec

from sunhitch.types.wiring import WiringRules
from sunhitch_service.engine.rules.families import family_of
from sunhitch_service.engine.rules.limits import limit
from sunhitch_service.engine.tables import number, table

STRONG_SUN = limit("current-factor")
"""Isc may be exceeded by a quarter for hours: NFPA 70, 690.8(A)(1); IEC 60364-7-712."""
CONTINUOUS = 1.25
"""NFPA 70 loads a conductor before correction, and its device, to 80 % for three hours."""


class RuleFigures(msgspec.Struct, frozen=True):
    """What one rule family counts.

    Parameters
    ----------
    pushed_factor : float
        Of the other strings' Isc, as counted against a panel's largest series fuse [1].
    string_fuse_from, output_fuse_from : float
        Smallest fuse of a string, and of the common line, over its Isc [1].
    above_from : bool
        Whether a rating must lie above that, not at it.
    pv_fuse_to : float or None
        Largest fuse over Isc [1]; None where the family gives none.
    """

    pushed_factor: float
    string_fuse_from: float
    output_fuse_from: float
    above_from: bool
    pv_fuse_to: float | None


@cache
def rule_figures(rules: WiringRules) -> RuleFigures:
    """Figures of a rule set.

    Parameters
    ----------
    rules : str
        Rule set.

    Returns
    -------
    RuleFigures
        One row of `rule_figures.csv`.

    References
    ----------
    NFPA 70, 690.8 and 690.9; IEC 62548, 6.5.3.
    """
    row = table("circuit", "rule_figures").row("family", family_of(rules))
    return RuleFigures(
        pushed_factor=cast("float", number(row, "pushed_factor")),
        string_fuse_from=cast("float", number(row, "string_fuse_from")),
        output_fuse_from=cast("float", number(row, "output_fuse_from")),
        above_from=row["above_from"] == "yes",
        pv_fuse_to=number(row, "pv_fuse_to"),
    )
