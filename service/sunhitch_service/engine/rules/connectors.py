"""Rules on plugs and branch connectors: what flows through them and what goes into them."""

import math

from sunhitch.types.check import Check

from .controllers import maximum_current_a
from .rule import rule


def connector_current(
    subject: str, current_a: float, rating_a: float, *, given: bool, joined: bool = False
) -> Check:
    """Largest current of a circuit against the rating of its plugs.

    Parameters
    ----------
    subject : str
        Which circuit.
    current_a, rating_a : float
        The circuit's largest current, and the plugs' rating [A].
    given : bool
        Whether the caller gave that rating.
    joined : bool
        Whether the current is that of several strings, which other plugs could share.
    """
    remedy = ("larger", "split") if joined else "larger"
    basis = "given" if given else ""
    return rule(
        "connector-current", subject, basis=basis, remedy=remedy, wanted_a=current_a
    ).at_most(current_a, rating_a)


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
    fitting = math.floor(rating_a / maximum_current_a(largest_string_a) + 1e-9)
    return rule(
        "branch-connector-current",
        subject,
        basis="given" if given else "",
        remedy="fewer" if fitting >= 2 else "none",
        fitting=fitting,
    ).at_most(maximum_current_a(i_sc_a), rating_a)


def connector_conductor(size: str, area_mm2: float, largest_mm2: float, *, given: bool) -> Check:
    """Conductor against its plugs' sleeves [mm²]: beyond a usual size, not given, `review`."""
    return rule("connector-conductor", size, size=size, largest_mm2=largest_mm2).at_most(
        area_mm2, largest_mm2, beyond=None if given else "review"
    )


def plug_interlock(subject: str, live_a: float, *, interlocked: bool) -> Check:
    """A plug that people pull, beside an array that keeps its socket live [A]."""
    return rule("plug-interlock", subject, live_a=live_a).check("pass" if interlocked else "review")
