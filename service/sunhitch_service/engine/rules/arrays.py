"""Rules on panels that share a current or a voltage."""

from sunhitch.types.check import Check

from .limits import limit
from .rule import rule


def mismatch_loss(subject: str, lost_fraction: float) -> Check:
    """Share of the panels' own maxima lost in full sun because they share [1]."""
    return rule("mismatch-loss", subject, lost_fraction=lost_fraction).at_most(
        lost_fraction, limit("mismatch-loss")
    )


def series_current_spread(subject: str, spread_fraction: float) -> Check:
    """1 − smallest ÷ largest Imp among panels in series [1]."""
    return rule("series-current-spread", subject).at_most(spread_fraction, limit("mismatch-spread"))


def parallel_voltage_spread(subject: str, spread_fraction: float) -> Check:
    """1 − smallest ÷ largest Vmp among strings in parallel [1]."""
    return rule("parallel-voltage-spread", subject).at_most(
        spread_fraction, limit("mismatch-spread")
    )


def target_power(charging_w: float, wanted_w: float) -> Check:
    """Charging power in full sun against what was asked for [W]."""
    return rule("target-power", missing_w=wanted_w - charging_w).at_least(charging_w, wanted_w)
