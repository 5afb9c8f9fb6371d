"""Which checks are limits, and how far an arrangement stays from them."""

from collections.abc import Iterable

from sunhitch.types.check import Check

LIMITS = frozenset(
    {
        "cold-voc-controller",
        "system-voltage",
        "hot-vmp-run",
        "controller-short-circuit",
        "controller-array-power",
        "plug-current",
        "branch-connector-current",
        "string-fuse-rating",
        "battery-charge-rate",
    }
)
"""Checks whose distance from the limit counts as margin; the others tell of losses or habits."""


def margin(checks: Iterable[Check]) -> float:
    """Distance from the nearest limit [1]; 1 where nothing could be compared."""
    used = [c.utilisation_fraction for c in checks if c.code in LIMITS]
    return 1.0 - max((u for u in used if u is not None), default=0.0)
