"""How far one mode of failure is used up in one load case, and the check made of it."""

import math
from dataclasses import dataclass

import numpy as np
from msgspec.structs import replace
from numpy.typing import NDArray

from sunhitch.types.check import Check
from sunhitch.types.mount import LoadCaseName
from sunhitch_service.engine.rules.judging import MOST_TIMES, at_most
from sunhitch_service.engine.rules.rule import rule
from sunhitch_service.engine.rules.table import entries

from .figures import figure

Floats = NDArray[np.float64]

LEFT_OUT_OF_SPEED = frozenset({"span-divergence"})
"""Screenings that limit no speed: what steadies the sheet, its own pull, is not counted."""

_NO_SIZE_HELPS = 1e6
"""Utilisation beyond which the strength, not the size, is at fault."""


@dataclass(frozen=True, slots=True)
class ModeResult:
    """One mode of failure in one load case on its worst part.

    `code` is the rule's, `basis` the name of one of its bases, `each` the utilisation of every
    foot where the mode belongs to feet; case title and `lost` are empty where there is none.
    """

    code: str
    case: LoadCaseName
    case_title: str
    subject: str
    demand: float
    capacity: float
    depends_on_speed: bool
    lost: str = ""
    each: Floats | None = None
    basis: str = ""

    @property
    def check_code(self) -> str:
        """Code of the check: the rule's, with the load case."""
        return self.code if self.case == "any" else f"{self.code}-{self.case}"

    @property
    def utilisation(self) -> float:
        """Demand over capacity; infinite where nothing is allowed."""
        if self.demand > MOST_TIMES * self.capacity:
            return math.inf
        return self.demand / self.capacity if self.capacity > 0 else 0.0

    @property
    def may_fail(self) -> bool:
        """Whether too much is a failure, not only for a person to review."""
        return entries()[self.code].severity == "fail"

    @property
    def fails(self) -> bool:
        """Whether the check fails."""
        return self.utilisation > 1 + 1e-9 and self.may_fail

    @property
    def limits_speed(self) -> bool:
        """Whether the highest speed takes it into account."""
        return self.code not in LEFT_OUT_OF_SPEED

    def check(self) -> Check:
        """The check: a pass only with the stated reserve."""
        review_above = figure("limit", "review_above")
        times = self.utilisation / review_above
        told = rule(
            self.code,
            self.subject + (f", {self.lost} lost" if self.lost else ""),
            basis=self.basis,
            remedy="no-strength" if times >= _NO_SIZE_HELPS else "",
            times=times,
        )
        judged = at_most(told, self.demand, self.capacity, review_above)
        title = f"{judged.title}: {self.case_title.lower()}" if self.case_title else judged.title
        return replace(judged, code=self.check_code, title=title)


def utilisation_by_foot(demand: Floats, capacity: float | Floats) -> Floats:
    """Utilisation by state and foot, both of shape (m, n); infinite where there is no capacity."""
    if isinstance(capacity, float) and capacity > 0.0:
        return demand / capacity
    nothing = np.where(demand > 0.0, np.inf, 0.0)
    return np.divide(demand, capacity, out=nothing, where=np.asarray(capacity > 0.0))


def finite(utilisation: float) -> float | None:
    """Utilisation for the answer: none where nothing is allowed."""
    return utilisation if math.isfinite(utilisation) else None
