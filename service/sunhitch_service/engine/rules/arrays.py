"""Rules on panels that share a current or a voltage, and on the plugs that join them."""

import math

from sunhitch.types.check import Check

from .controllers import maximum_current_a
from .judging import at_least, at_most
from .limits import limit
from .rule import rule


def plug_current(subject: str, i_sc_a: float, rating_a: float, *, given: bool) -> Check:
    """Largest current of a string against its plugs.

    Parameters
    ----------
    subject : str
        Which string.
    i_sc_a, rating_a : float
        The string's short-circuit current, and the plugs' rating [A].
    given : bool
        Whether the caller gave that rating.
    """
    demand = maximum_current_a(i_sc_a)
    told = rule("plug-current", subject, basis="given" if given else "", wanted_a=demand)
    return at_most(told, demand, rating_a)


def branch_connector_current(
    subject: str, i_sc_a: float, largest_string_a: float, rating_a: float, *, given: bool
) -> Check:
    """Sum of all strings against the joined side of the last branch connector and its plug.

    Parameters
    ----------
    subject : str
        Which array.
    i_sc_a, largest_string_a : float
        Short-circuit current of all strings together, and of the strongest of them [A].
    rating_a : float
        The smaller rating of connector and plug [A].
    given : bool
        Whether the caller gave the connector's.
    """
    fitting = math.floor(rating_a / maximum_current_a(largest_string_a))
    told = rule(
        "branch-connector-current",
        subject,
        basis="given" if given else "",
        remedy="fewer" if fitting >= 2 else "none",
        fitting=fitting,
    )
    return at_most(told, maximum_current_a(i_sc_a), rating_a)


def mismatch_loss(subject: str, lost_fraction: float) -> Check:
    """Share of the panels' own maxima lost in full sun because they share [1]."""
    told = rule("mismatch-loss", subject, lost_fraction=lost_fraction)
    return at_most(told, lost_fraction, limit("mismatch-loss"))


def series_current_spread(subject: str, spread_fraction: float) -> Check:
    """1 − smallest ÷ largest Imp among panels in series [1]."""
    told = rule("series-current-spread", subject)
    return at_most(told, spread_fraction, limit("mismatch-spread"))


def parallel_voltage_spread(subject: str, spread_fraction: float) -> Check:
    """1 − smallest ÷ largest Vmp among strings in parallel [1]."""
    told = rule("parallel-voltage-spread", subject)
    return at_most(told, spread_fraction, limit("mismatch-spread"))


def target_power(charging_w: float, wanted_w: float) -> Check:
    """Charging power in full sun against what was asked for [W]."""
    return at_least(rule("target-power", missing_w=wanted_w - charging_w), charging_w, wanted_w)
