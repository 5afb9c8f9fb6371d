"""Which checks are limits, and how far an arrangement stays from them."""

from collections.abc import Iterable

from sunhitch.types.check import VERDICTS, Check

LIMITS = frozenset(
    {
        "cold-voc-controller",
        "system-voltage",
        "hot-vmp-run",
        "controller-short-circuit",
        "controller-array-power",
        "connector-current",
        "branch-connector-current",
        "string-fuse-rating",
        "battery-charge-rate",
    }
)
"""Checks whose distance from the limit counts as margin; the others tell of losses or habits."""


def margin(checks: Iterable[Check]) -> float:
    """Distance from the nearest limit [1]; 1 where nothing could be compared.

    A limit that fails without a ratio, as where nothing is allowed, leaves no more than 0.
    """
    limits = [c for c in checks if c.code in LIMITS]
    nearest = max((c.utilisation_fraction or 0.0 for c in limits), default=0.0)
    return min(1.0 - nearest, 0.0) if any(c.verdict == "fail" for c in limits) else 1.0 - nearest


def severity_of(found: Check) -> tuple[int, float]:
    """What the worst check of several strings is chosen by: verdict, then use of its limit."""
    return VERDICTS.index(found.verdict), found.utilisation_fraction or found.demand or 0.0
