"""Checks out of a rule and figures."""

import math

from sunhitch.types.check import VERDICTS, Check, Verdict

from .rule import Rule

_ALWAYS = ("pass", "not-assessed")
"""Verdicts that any rule may give."""
_ROUNDING = 1e-9
MOST_TIMES = 1e9
"""Utilisation above which as good as nothing is allowed."""


def at_most(
    rule: Rule,
    demand: float,
    capacity: float | None,
    review_above: float = 1.0,
    beyond: Verdict | None = None,
) -> Check:
    """Demand must not exceed capacity; beyond it the rule's severity is the verdict.

    Parameters
    ----------
    rule : Rule
        What is checked.
    demand, capacity : float
        In the rule's unit, not negative; without a capacity nothing is assessed.
    review_above : float
        Utilisation above which a pass becomes a `review`.
    beyond : Verdict or None
        Verdict beyond the capacity, where something softens the rule's severity.

    Returns
    -------
    Check
        With utilisation = demand ÷ capacity; without one where nothing is allowed.
    """
    if capacity is None:
        return check(rule, "not-assessed", demand)
    failed = beyond or rule.entry.severity
    if demand > MOST_TIMES * capacity or capacity <= 0.0:
        fits = demand <= capacity
        return check(rule, "pass" if fits else failed, demand, capacity, 0.0 if fits else None)
    used = demand / capacity
    near: Verdict = "review" if used > review_above + _ROUNDING else "pass"
    return check(rule, failed if used > 1.0 + _ROUNDING else near, demand, capacity, used)


def at_least(rule: Rule, present: float, needed: float, *, beyond: Verdict | None = None) -> Check:
    """What is present must reach what is needed; utilisation = needed ÷ present.

    The check's demand is `needed`, its capacity is `present`; see `at_most`.
    """
    return at_most(rule, needed, present, beyond=beyond)


def check(
    rule: Rule,
    verdict: Verdict,
    demand: float | None = None,
    capacity: float | None = None,
    used: float | None = None,
) -> Check:
    """A check with a verdict reached elsewhere; numbers only where there are any.

    Raises
    ------
    ArithmeticError
        If a number is not finite: no answer may carry one.
    ValueError
        If the verdict is worse than the rule's severity.
    """
    if verdict not in _ALWAYS and VERDICTS.index(verdict) > VERDICTS.index(rule.entry.severity):
        raise ValueError(f"{rule.entry.code}: {verdict} is worse than {rule.entry.severity}")
    if not math.isfinite((demand or 0.0) + (capacity or 0.0) + (used or 0.0)):
        raise ArithmeticError(f"{rule.entry.code}: not finite")
    return Check(
        code=rule.entry.code,
        title=rule.entry.title,
        subject=rule.subject or None,
        verdict=verdict,
        demand=None if demand is None else float(demand),
        capacity=None if capacity is None else float(capacity),
        unit=None if demand is None and capacity is None else rule.entry.unit,
        utilisation_fraction=None if used is None else max(0.0, float(used)),
        basis=rule.basis.key,
        parameters=rule.told(passes=verdict == "pass"),
        note=rule.note,
        remedy="" if verdict == "pass" else rule.remedy,
        remedies=[] if verdict == "pass" else rule.remedy_codes,
    )
