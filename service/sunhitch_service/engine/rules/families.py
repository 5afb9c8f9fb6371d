"""Families of rule sets: the editions of one code share their tables and clauses."""

from typing import Literal

from sunhitch.types.wiring import WiringRules

Family = Literal["nec", "iec", "us-33-cfr-183"]
Group = Literal["pv", "battery"]
"""Whether a circuit belongs to the panels or to the battery."""


def family_of(rules: WiringRules) -> Family:
    """Rule family of a rule set."""
    if rules == "iec":
        return "iec"
    return "us-33-cfr-183" if rules == "us-33-cfr-183" else "nec"


def edition_of(rules: WiringRules) -> WiringRules:
    """The rule set where it is an edition of NFPA 70, else the latest one."""
    return rules if family_of(rules) == "nec" else "nec-2023"


def admits(words: str, value: str) -> bool:
    """Whether a table's cell, `any` or a list of words, admits a value."""
    return words == "any" or value in words.split()
