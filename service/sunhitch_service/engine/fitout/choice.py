"""Which of several panel types to build with: each is laid out, wired and judged."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from msgspec.structs import replace

from sunhitch.report.amounts import figure
from sunhitch.texts import sentence
from sunhitch.types.check import VERDICTS, Check
from sunhitch.types.fitout import (
    FitOutAnswer,
    FitOutCandidate,
    FitOutPanelType,
    FitOutRequest,
    PanelChoice,
)
from sunhitch_service.engine.answering import answer_id
from sunhitch_service.engine.errors import ContradictionError, Fault, Faults, listed

from .pointers import moved
from .wording import pass_speed

Build = Callable[[FitOutRequest], FitOutAnswer]
_FAIL = VERDICTS.index("fail")


@dataclass(frozen=True, slots=True)
class Candidate:
    """A panel type with what it gives, or why it cannot be built."""

    kind: FitOutPanelType
    answer: FitOutAnswer | None
    faults: tuple[Fault, ...] = ()

    @property
    def panels(self) -> int:
        """Panels that are wired."""
        if self.answer is None:
            return 0
        return len(self.answer.roof.placements) - len(self.answer.configurations[0].leftover)

    @property
    def power_w(self) -> float:
        """Charging power averaged over sun and shade."""
        return self.answer.configurations[0].weighted_power_w if self.answer else 0.0

    @property
    def price(self) -> float | None:
        """Of the panels on the roof."""
        return (
            None
            if self.kind.price is None or self.answer is None
            else (self.kind.price * len(self.answer.roof.placements))
        )

    @property
    def mass_kg(self) -> float:
        """Of the panels on the roof."""
        return self.answer.roof.panel_mass_kg if self.answer else 0.0


def chosen(request: FitOutRequest, choice: PanelChoice, build: Build) -> FitOutAnswer:
    """The build with the best candidate, and all of them in order.

    Parameters
    ----------
    request : FitOutRequest
        Its panel types are the candidates.
    choice : PanelChoice
        What makes one better than another, and numbers to try.
    build : callable
        From a request with one type to its answer.

    Raises
    ------
    ContradictionError
        If something is placed or drawn already, a price is missing, or no candidate can be built.
    """
    _refuse(request, choice)
    found = [one for kind in request.panel_types for one in _of_type(request, kind, choice, build)]
    found.sort(key=lambda one: _order(one, choice))
    best = found[0].answer
    if best is None:
        raise ContradictionError(list(found[0].faults))
    return replace(
        best,
        candidates=[_told(rank, one, found, choice) for rank, one in enumerate(found, 1)],
        summary=[_chosen_because(found, choice), *best.summary],
        answer_id=answer_id(request),
    )


def _refuse(request: FitOutRequest, choice: PanelChoice) -> None:
    faults = Faults()
    faults.unique(listed("/panel_types", (kind.name for kind in request.panel_types)))
    faults.add_if(bool(request.placements), "/placements", sentence("chosen-panels-laid-out"))
    faults.add_if(bool(request.drawn), "/drawn", sentence("chosen-panels-wired"))
    for index, kind in enumerate(request.panel_types):
        faults.add_if(
            choice.rank_by == "price" and kind.price is None,
            f"/panel_types/{index}/price",
            sentence("price-to-rank-by"),
        )
    faults.raise_any()


def _of_type(
    request: FitOutRequest, kind: FitOutPanelType, choice: PanelChoice, build: Build
) -> list[Candidate]:
    """A type in each number to try, no more than there are."""
    most = kind.stock or kind.panels_wanted
    numbers = [number for number in choice.numbers if most is None or number <= most]
    if numbers:
        return [_built(request, kind, number, build) for number in numbers]
    whole = _built(request, kind, kind.panels_wanted, build)
    placed = len(whole.answer.roof.placements) if whole.answer else 0
    if kind.stock is not None and (placed > kind.stock or whole.answer is None):
        return [_built(request, kind, kind.stock, build)]
    return [whole]


def _built(
    request: FitOutRequest, kind: FitOutPanelType, number: int | None, build: Build
) -> Candidate:
    asked = replace(request, choose=None, panel_types=[replace(kind, panels_wanted=number)])
    try:
        return Candidate(kind, build(asked))
    except ContradictionError as error:
        at = next(i for i, one in enumerate(request.panel_types) if one.name == kind.name)
        own = moved({"/panel_types/0": f"/panel_types/{at}"})
        faults = (Fault(own(fault.pointer), fault.message) for fault in error.faults)
        return Candidate(kind, None, tuple(faults))


def _order(one: Candidate, choice: PanelChoice) -> tuple[int, float, float]:
    """Those that hold first, then those not judged in full, then those that fail."""
    if one.answer is None:
        return len(VERDICTS), 0.0, 0.0
    at = VERDICTS.index(one.answer.verdict)
    return max(at, VERDICTS.index("review")), _worth(one, choice), -one.power_w


def _worth(one: Candidate, choice: PanelChoice) -> float:
    """The less the better."""
    if choice.rank_by == "power" or one.power_w <= 0.0:
        return -one.power_w
    return ((one.price or 0.0) if choice.rank_by == "price" else one.mass_kg) / one.power_w


def _told(
    rank: int, one: Candidate, all_of_them: Sequence[Candidate], choice: PanelChoice
) -> FitOutCandidate:
    answer = one.answer
    return FitOutCandidate(
        rank=rank,
        panel_type=one.kind.name,
        panels=one.panels,
        verdict=answer.verdict if answer else "fail",
        array_power_w=answer.array_power_w if answer else 0.0,
        weighted_power_w=one.power_w,
        price=one.price,
        mass_kg=one.mass_kg,
        pass_speed_m_s=pass_speed(answer.mounts) if answer else None,
        reason=_reason(one, all_of_them[0], choice),
        needs=_needs(answer) if answer else [fault.message for fault in one.faults],
    )


def _needs(answer: FitOutAnswer) -> list[str]:
    """Remedies of what fails or could not be judged, the failing ones first."""
    open_ones = [check for check in answer.checks if check.verdict in ("fail", "not-assessed")]
    open_ones.sort(key=_failing_first)
    return list(dict.fromkeys(check.remedy for check in open_ones if check.remedy))


def _failing_first(check: Check) -> int:
    return _FAIL - VERDICTS.index(check.verdict)


def _reason(one: Candidate, best: Candidate, choice: PanelChoice) -> str:
    if one.answer is None:
        return "It cannot be built here."
    if one is best:
        return _first_because(one, choice)
    if one.answer.verdict in ("fail", "not-assessed") and best.answer is not None:
        failing = sum(check.verdict == one.answer.verdict for check in one.answer.checks)
        state = "fail" if one.answer.verdict == "fail" else "could not be judged"
        return f"{failing} of its checks {state}."
    more_w = best.power_w - one.power_w
    mass = f"{figure(one.mass_kg)} kg against {figure(best.mass_kg)} kg"
    return f"{figure(abs(more_w))} W {'less' if more_w > 0 else 'more'} than the first, {mass}."


def _first_because(one: Candidate, choice: PanelChoice) -> str:
    what = {
        "power": "most power into the battery, averaged over sun and shade",
        "price": "least price of the panels for each watt",
        "mass": "least mass of the panels for each watt",
    }[choice.rank_by]
    holds = one.answer is not None and one.answer.verdict in ("pass", "review")
    return f"Of those {'that hold' if holds else 'tried'}: {what}."


def _chosen_because(found: Sequence[Candidate], choice: PanelChoice) -> str:
    best = found[0]
    price = "" if best.price is None else f", price {figure(best.price)}"
    told = (
        f"{best.panels} × {best.kind.name} of {len(found)} candidates: "
        f"{figure(best.power_w)} W on average, {figure(best.mass_kg)} kg{price}. "
        f"{_first_because(best, choice)}"
    )
    if len(found) < 2:
        return told
    second = found[1]
    return f"{told} Second: {second.panels} × {second.kind.name}: {_reason(second, best, choice)}"
