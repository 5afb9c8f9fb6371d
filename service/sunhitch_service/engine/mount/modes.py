"""Utilisation of modes of failure, and the checks made of it."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from msgspec.structs import replace

from sunhitch.texts import statement, together
from sunhitch.texts.templates import Parameter
from sunhitch.types.check import Check
from sunhitch.types.mount import LoadCaseName
from sunhitch_service.engine.arrays import Floats, Mask
from sunhitch_service.engine.rules.rule import MOST_TIMES, rule
from sunhitch_service.engine.rules.table import entries

from .figures import figure

_NO_SIZE_HELPS = 1e6
"""Times beyond which the strength, not the size, is at fault."""
_MOST_BY_SIZE = 5.0
"""Times up to which larger or more parts are a remedy that can be built."""


@dataclass(frozen=True, slots=True)
class Mode:
    """One mode of failure in load cases c, layouts m and parts n at speeds v.

    Parameters
    ----------
    code : str
        The rule's.
    demand : ndarray, shape (v, c, m, n)
        What acts; modes that share it are weighed together.
    capacity : ndarray or float
        In the rule's unit: one for all, one a load case (c, 1, 1), or one a part (v, c, m, n).
    parts : tuple of str
        What may fail, n names.
    cases : ndarray of bool, shape (c,)
        Where it counts.
    scale : float
        From `demand` to the rule's unit.
    basis : str
        Name of one of the rule's bases.
    given : bool
        Whether the capacity is a maker's figure, which a lost support does not raise.
    """

    code: str
    demand: Floats
    capacity: Floats | float
    parts: tuple[str, ...]
    cases: Mask
    scale: float = 1.0
    basis: str = ""
    given: bool = False

    def at(self, case: int | slice) -> tuple[Floats, Floats]:
        """Demand and capacity by layout and part in load cases, at the first speed."""
        capacity: Floats = np.broadcast_to(self.capacity, self.demand.shape)
        return self.demand[0, case] * self.scale, capacity[0, case]


def ratio(demand: Floats, capacity: Floats) -> Floats:
    """Demand over capacity; infinite where as good as nothing is allowed."""
    nothing = np.where(demand > 0.0, np.inf, 0.0)
    used = np.divide(demand, capacity, out=nothing, where=np.greater(capacity, 0.0))
    return np.where(used > MOST_TIMES, np.inf, used)


@dataclass(frozen=True, slots=True)
class ModeResult:
    """One mode of failure in one load case on its worst part.

    `code` is the rule's, `basis` the name of one of its bases; case title and `lost` are empty
    where there is none. `place` numbers mode, load case, layout and part, where there is one;
    `when` tells climate, and the load case after a loss; `drawn` whether a flexible sheet's own
    pull makes most of the push on the part. `bond_m` is a bond line thick enough for it [m].
    """

    code: str
    case: LoadCaseName
    case_title: str
    subject: str
    demand: float
    capacity: float
    by_speed: bool = False
    lost: str = ""
    basis: str = ""
    place: tuple[int, int, int, int] | None = None
    when: str = ""
    drawn: bool = False
    bond_m: float | None = None

    @property
    def check_code(self) -> str:
        """Code of the check: the rule's, with the load case."""
        return check_code(self.code, self.case)

    @property
    def about(self) -> str:
        """What it is about: the part, what is lost, and when."""
        lost = statement("lost", support=self.lost) if self.lost else ""
        return together("comma", [self.subject, lost, self.when])

    @property
    def utilisation(self) -> float:
        """Demand over capacity; infinite where nothing is allowed."""
        if self.demand > MOST_TIMES * self.capacity:
            return math.inf
        return self.demand / self.capacity if self.capacity > 0 else 0.0

    @property
    def severity(self) -> tuple[bool, float]:
        """Order of results: failures before anything else, then by utilisation."""
        return self.utilisation > 1 + 1e-9 and may_fail(self.code), self.utilisation

    def check(self, larger: Callable[[float], dict[str, Parameter]]) -> Check:
        """The check: a pass only with the stated reserve.

        Parameters
        ----------
        larger : callable
            Figures of the remedy, out of how many times as strong the part must become.
        """
        review_above = figure("limit", "review_above")
        times = self.utilisation / review_above
        figures: dict[str, Any] = larger(times) if 1.0 < times <= _MOST_BY_SIZE else {}
        if figures and self.bond_m is not None:
            figures["bond_mm"] = 1000 * self.bond_m
        told = rule(
            self.code,
            self.about,
            basis=self.basis,
            remedy=_remedy(self, times),
            less_fraction=math.ceil(1000 * (1.0 - 1.0 / max(times, 1.0)) - 1e-9) / 1000,
            **figures,
        )
        judged = told.at_most(self.demand, self.capacity, review_above)
        case_title = f": {self.case_title.lower()}" if self.case_title else ""
        return replace(judged, code=self.check_code, title=f"{judged.title}{case_title}")


def _remedy(result: ModeResult, times: float) -> str:
    """Name of the remedy: another where no size that can be built would help, or after a loss.

    Larger pads give less, so that a sheet pulls them harder: where it does, other things help.
    """
    told = entries()[result.code].remedies
    if times >= _NO_SIZE_HELPS:
        return "no-strength"
    if result.drawn and "drawn" in told:
        return "drawn"
    if "too-thick" in told and result.bond_m is None:
        return "too-thick"
    if told[""].names not in ((), ("less_fraction",)) and times > _MOST_BY_SIZE:
        return "no-size"
    return "lost" if result.lost and "lost" in told else ""


def check_code(code: str, case: LoadCaseName) -> str:
    """Code of a check: the rule's, with the load case."""
    return code if case == "any" else f"{code}-{case}"


def may_fail(code: str) -> bool:
    """Whether too much is a failure, not only for a person to review."""
    return entries()[code].severity == "fail"


def finite(utilisation: float) -> float | None:
    """Utilisation for the answer: none where nothing is allowed."""
    return utilisation if math.isfinite(utilisation) else None
