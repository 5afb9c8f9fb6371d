"""Build checks and verdicts in one way everywhere."""

import math
from collections.abc import Iterable
from typing import Protocol

import msgspec

from sunhitch.types.basis import Basis
from sunhitch.types.check import VERDICTS, Check, Verdict

_RANK: dict[Verdict, int] = {verdict: rank for rank, verdict in enumerate(VERDICTS)}
_ALWAYS = ("pass", "not-assessed")
"""Verdicts that any rule may give."""
_ROUNDING = 1e-9
MOST_TIMES = 1e9
"""Utilisation above which as good as nothing is allowed."""


class Applied(Protocol):
    """A rule before it is applied, from the table of rules or written where it is applied."""

    @property
    def code(self) -> str:
        """Stable code."""
        ...

    @property
    def title(self) -> str:
        """The rule in words."""
        ...

    @property
    def unit(self) -> str:
        """Unit of demand and capacity."""
        ...

    @property
    def basis(self) -> Basis:
        """Where it comes from."""
        ...

    @property
    def remedy(self) -> str:
        """What to change."""
        ...

    @property
    def subject(self) -> str:
        """What it is applied to."""
        ...

    @property
    def severity(self) -> Verdict:
        """Verdict beyond the limit."""
        ...


class Rule(msgspec.Struct, frozen=True):
    """A rule before it is applied.

    Parameters
    ----------
    code, title : str
        Stable code, and the rule in words.
    unit : str
        Unit of demand and capacity.
    basis : Basis
        Where the rule comes from.
    remedy : str
        What to change if it does not pass.
    subject : str
        What it is applied to.
    severity : str
        Verdict beyond the limit.
    """

    code: str
    title: str
    unit: str
    basis: Basis
    remedy: str
    subject: str = ""
    severity: Verdict = "fail"


def worst(verdicts: Iterable[Verdict]) -> Verdict:
    """Worst of some verdicts; `pass` if there are none."""
    return VERDICTS[max([_RANK[verdict] for verdict in set(verdicts)], default=0)]


def verdict_of(checks: Iterable[Check]) -> Verdict:
    """Worst verdict among checks."""
    return worst([check.verdict for check in checks])


def at_most(rule: Applied, demand: float, capacity: float, review_above: float = 1.0) -> Check:
    """Demand must not exceed capacity; beyond it the rule's severity is the verdict.

    Parameters
    ----------
    rule : Applied
        What is checked.
    demand, capacity : float
        In the rule's unit, not negative.
    review_above : float
        Utilisation above which a pass becomes a `review`.

    Returns
    -------
    Check
        With utilisation = demand ÷ capacity; without one where nothing is allowed.
    """
    if demand > MOST_TIMES * capacity or capacity <= 0.0:
        fits = demand <= capacity
        return check(
            rule, "pass" if fits else rule.severity, demand, capacity, 0.0 if fits else None
        )
    used = demand / capacity
    judged = rule.severity if used > 1.0 + _ROUNDING else "pass"
    near: Verdict = "review" if judged == "pass" and used > review_above else judged
    return check(rule, near, demand, capacity, used)


def at_least(rule: Applied, present: float, needed: float, review_above: float = 1.0) -> Check:
    """What is present must reach what is needed; utilisation = needed ÷ present.

    The check's demand is `needed`, its capacity is `present`.
    """
    return at_most(rule, needed, present, review_above)


def check(
    rule: Applied,
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
    if verdict not in _ALWAYS and _RANK[verdict] > _RANK[rule.severity]:
        raise ValueError(f"{rule.code}: {verdict} is worse than {rule.severity}")
    if not math.isfinite((demand or 0.0) + (capacity or 0.0) + (used or 0.0)):
        raise ArithmeticError(f"{rule.code}: not finite")
    return Check(
        code=rule.code,
        title=rule.title,
        subject=rule.subject or None,
        verdict=verdict,
        demand=None if demand is None else float(demand),
        capacity=None if capacity is None else float(capacity),
        unit=None if demand is None and capacity is None else rule.unit,
        utilisation_fraction=None if used is None else max(0.0, float(used)),
        basis=rule.basis,
        remedy="" if verdict == "pass" else rule.remedy,
    )
