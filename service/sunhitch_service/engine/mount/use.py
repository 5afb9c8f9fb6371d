"""How far one mode of failure is used up in one load case, and the check made of it."""

import math
from dataclasses import dataclass

import msgspec
import numpy as np
from numpy.typing import NDArray

from sunhitch.types.basis import Basis
from sunhitch.types.check import Check
from sunhitch.types.mount import LoadCaseName
from sunhitch_service.engine.checks import Rule, at_most, check
from sunhitch_service.engine.rules.template import Template

from .figures import figure

Floats = NDArray[np.float64]

WHOLE_ROOF = "roof"
"""Subject of checks that concern all of the roof, whichever panel they come with."""

_NO_SIZE_HELPS = 1e6
"""Utilisation beyond which the strength, not the size, is at fault."""


@dataclass(frozen=True, slots=True)
class Mode:
    """A way in which a mounting fails.

    Parameters
    ----------
    code, title, unit : str
        Stable code, the mode in words, unit of demand and capacity.
    basis : Basis
        Where demand and capacity come from.
    remedy : Template
        What to change; `{times}` stands for how much stronger it must become.
    screening : bool
        Whether too much is for a person to review rather than a failure.
    limits_speed : bool
        Whether the highest speed takes it into account.
    """

    code: str
    title: str
    unit: str
    basis: Basis
    remedy: Template
    screening: bool = False
    limits_speed: bool = True


@dataclass(frozen=True, slots=True)
class Use:
    """One mode in one case on its worst part.

    Parameters
    ----------
    mode : Mode
        What may fail.
    case : str
        Load case.
    case_title : str
        The case in words; empty where the mode stands by itself.
    subject : str
        Part that is used up most.
    demand, capacity : float
        In the mode's unit.
    depends_on_speed : bool
        Whether road speed changes it.
    lost : str
        Foot that is missing; empty when all are there.
    each : ndarray or None
        Utilisation of every foot, where the mode belongs to feet.
    """

    mode: Mode
    case: LoadCaseName
    case_title: str
    subject: str
    demand: float
    capacity: float
    depends_on_speed: bool
    lost: str = ""
    each: Floats | None = None

    @property
    def code(self) -> str:
        """Stable code of the check."""
        return self.mode.code if self.case == "any" else f"{self.mode.code}-{self.case}"

    @property
    def utilisation(self) -> float:
        """Demand over capacity; infinite where nothing is allowed."""
        if self.capacity > 0:
            return self.demand / self.capacity
        return math.inf if self.demand > 0 else 0.0

    @property
    def fails(self) -> bool:
        """Whether the check fails."""
        return self.utilisation > 1 + 1e-9 and not self.mode.screening

    def rule(self) -> Rule:
        """The rule behind the check, with its remedy worked out."""
        times = self.utilisation / figure("limit", "review_above")
        title = self.mode.title + (f": {self.case_title.lower()}" if self.case_title else "")
        subject = self.subject + (f", {self.lost} lost" if self.lost else "")
        remedy = self.mode.remedy.filled({"times": times})
        if times >= _NO_SIZE_HELPS:
            remedy = (
                "No strength is left, so that no size helps: see what surface, heat and cure say."
            )
        return Rule(self.code, title, self.mode.unit, self.mode.basis, remedy, subject)

    def check(self) -> Check:
        """The check: a pass only with the stated reserve; a screening asks for review at most."""
        rule, review_above = self.rule(), figure("limit", "review_above")
        judged = at_most(rule, self.demand, self.capacity, review_above)
        if judged.verdict != "fail" or not self.mode.screening:
            return judged
        return msgspec.structs.replace(judged, verdict="review")


def unassessed(mode: Mode, subject: str) -> Check:
    """A check that cannot be made for want of something the remedy names."""
    rule = Rule(mode.code, mode.title, mode.unit, mode.basis, mode.remedy.filled({}), subject)
    return check(rule, "not-assessed")


def used_by_foot(demand: Floats, capacity: float | Floats) -> Floats:
    """Utilisation by layout and foot; infinite where there is no capacity.

    Parameters
    ----------
    demand : ndarray, shape (m, n)
        Demand by layout and foot.
    capacity : float or ndarray, shape (m, n)
        Capacity.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(demand > 0.0, demand / capacity, 0.0)


def finite(utilisation: float) -> float | None:
    """Utilisation for the answer: none where nothing is allowed."""
    return utilisation if math.isfinite(utilisation) else None
