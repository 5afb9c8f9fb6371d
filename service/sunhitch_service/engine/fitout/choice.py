"""Which of several panel types to build with: each is laid out, wired and judged."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import product

import msgspec

from sunhitch.texts import statement, together
from sunhitch.types.check import VERDICTS
from sunhitch.types.fitout import (
    FitOutAnswer,
    FitOutCandidate,
    FitOutPanelType,
    FitOutRequest,
    PanelChoice,
    PanelRanking,
)
from sunhitch.types.harvest import HarvestAnswer
from sunhitch.types.panel import ConstructionName
from sunhitch_service.engine.answering import answer_id
from sunhitch_service.engine.errors import ContradictionError, Fault, Faults, Named, listed
from sunhitch_service.engine.harvest.outcome import HarvestOutcome

from .energy import NamedBuild, alone, with_energy
from .pointers import moved
from .wording import pass_speed

Build = Callable[[FitOutRequest], FitOutAnswer]
MOST_CANDIDATES = 24


@dataclass(frozen=True, slots=True)
class Candidate:
    """A panel type with what it gives, or why it cannot be built."""

    kind: FitOutPanelType
    number: int | None
    construction: ConstructionName | None
    answer: FitOutAnswer | None
    faults: tuple[Fault, ...] = ()
    energy_wh: float | None = None

    @property
    def placed(self) -> int:
        """Panels on the roof."""
        return len(self.answer.roof.placements) if self.answer else 0

    @property
    def panels(self) -> int:
        """Panels that are wired."""
        return self.placed - len(self.answer.configurations[0].leftover) if self.answer else 0

    @property
    def power_w(self) -> float:
        """Charging power averaged over sun and shade."""
        return self.answer.configurations[0].weighted_power_w if self.answer else 0.0

    @property
    def build(self) -> NamedBuild | None:
        """What is compared with others; none where it cannot be built."""
        if self.answer is None:
            return None
        return NamedBuild(str.__str__(self.name), [self.kind], self.answer)

    @property
    def gives(self) -> float:
        """Energy where it is known, else power."""
        return self.power_w if self.energy_wh is None else self.energy_wh

    @property
    def price(self) -> float | None:
        """Of the panels on the roof."""
        if self.kind.price is None or self.answer is None:
            return None
        return self.kind.price * self.placed

    @property
    def mass_kg(self) -> float:
        """Of the panels on the roof."""
        return self.answer.roof.panel_mass_kg if self.answer else 0.0

    @property
    def name(self) -> str:
        """Number, type and, where several are tried, construction."""
        panels, kind = self.number or self.placed, self.kind.name
        if self.construction is None:
            return statement("candidate", panels=panels, panel_type=kind)
        own = self.construction
        return statement("candidate-construction", panels=panels, panel_type=kind, construction=own)

    def spent(self, by: PanelRanking) -> float | None:
        """Price or mass that it is ranked by; none where it is ranked by what it gives."""
        return {"price": self.price or 0.0, "mass": self.mass_kg}.get(by)


def candidates_of(request: FitOutRequest, choice: PanelChoice, build: Build) -> list[Candidate]:
    """All candidates, their energy apart, the best first.

    Parameters
    ----------
    request : FitOutRequest
        Its panel types are the candidates.
    choice : PanelChoice
        What makes one better than another, constructions and numbers to try.
    build : callable
        From a request with one type to its answer, its energy apart.

    Raises
    ------
    ContradictionError
        If something is placed or drawn already, a price is missing, there are too many candidates,
        or none can be built.
    """
    by = _ranking(request, choice)
    _refuse(request, choice, by)
    constructions: list[ConstructionName | None] = [*choice.constructions]
    found = [
        one
        for kind, construction in product(request.panel_types, constructions or [None])
        for one in _of_type(request, kind, construction, choice.numbers, build)
    ]
    found.sort(key=lambda one: _order(one, by))
    if found[0].answer is None:
        raise ContradictionError(list(found[0].faults))
    return found


def _ranking(request: FitOutRequest, choice: PanelChoice) -> PanelRanking:
    return choice.rank_by or ("power" if request.harvest is None else "energy")


def chosen(
    request: FitOutRequest,
    choice: PanelChoice,
    found: list[Candidate],
    studied: Sequence[HarvestOutcome],
    own: HarvestAnswer | None,
) -> FitOutAnswer:
    """The build with the best candidate, and all of them in order.

    Parameters
    ----------
    request : FitOutRequest
        Its panel types are the candidates.
    choice : PanelChoice
        What makes one better than another.
    found : list of Candidate
        Their energy apart, the best first.
    studied : sequence of HarvestOutcome
        Energy of those that can be built; each is compared with the one that is built.
    own : HarvestAnswer or None
        Energy of the only one, where it is known.

    Raises
    ------
    ContradictionError
        If the time of `harvest` asks for too much work.
    """
    by = _ranking(request, choice)
    by_name = {one.variant.name: one for one in studied}
    wh = {name: one.available_wh for name, one in by_name.items()}
    found = [replace(one, energy_wh=wh.get(one.name)) for one in found]
    found.sort(key=lambda one: _order(one, by))
    first, *others = [one.build for one in found if one.build]
    best = first.answer
    if request.harvest is not None:
        compared = [by_name[one.name] for one in (first, *others) if studied]
        own = own or alone(request, request.harvest, first)
        best = with_energy(request, first, own, compared)
    return msgspec.structs.replace(
        best,
        candidates=[_told(rank, one, found, best, by) for rank, one in enumerate(found, 1)],
        summary=[_chosen_because(found, best, by), *best.summary],
        answer_id=answer_id(request),
    )


def _refuse(request: FitOutRequest, choice: PanelChoice, by: PanelRanking) -> None:
    faults = Faults()
    faults.unique(listed("/panel_types", (kind.name for kind in request.panel_types)))
    for field, tried in (("numbers", choice.numbers), ("constructions", choice.constructions)):
        faults.unique([Named(f"/choose/{field}/{i}", str(one)) for i, one in enumerate(tried)])
    faults.add_if(bool(request.placements), "/placements", "chosen-panels-laid-out")
    faults.add_if(bool(request.drawn), "/drawn", "chosen-panels-wired")
    faults.add_if(
        by == "energy" and request.harvest is None,
        "/choose/rank_by",
        "energy-needs-harvest",
    )
    for index, kind in enumerate(request.panel_types):
        faults.add_if(
            by == "price" and kind.price is None,
            f"/panel_types/{index}/price",
            "price-to-rank-by",
        )
        if choice.constructions:
            at = f"/panel_types/{index}/panel"
            cells, model = kind.panel.cells, kind.panel.cell_model
            faults.add_if(cells is not None, f"{at}/cells", "cells-or-construction")
            faults.add_if(
                model is not None,
                f"{at}/cell_model",
                "cell-model-fits-one-construction",
                name=kind.name,
            )
    each = max(1, len(choice.constructions)) * max(1, len(choice.numbers))
    candidates = each * len(request.panel_types)
    faults.add_if(
        candidates > MOST_CANDIDATES,
        "/choose",
        "too-many-candidates",
        candidates=candidates,
        most_candidates=MOST_CANDIDATES,
    )
    faults.raise_any()


def _of_type(
    request: FitOutRequest,
    given: FitOutPanelType,
    construction: ConstructionName | None,
    numbers: Sequence[int],
    build: Build,
) -> list[Candidate]:
    """A type in each number to try, no more than there are."""
    kind = given
    if construction is not None:
        panel = msgspec.structs.replace(given.panel, construction=construction)
        kind = msgspec.structs.replace(given, panel=panel)

    def built(number: int | None) -> Candidate:
        return _built(request, kind, number, construction, build)

    most = kind.stock or kind.panels_wanted
    tried = [number for number in numbers if most is None or number <= most]
    if tried:
        return [built(number) for number in tried]
    whole = built(kind.panels_wanted)
    if kind.stock is not None and (whole.placed > kind.stock or whole.answer is None):
        return [built(kind.stock)]
    return [whole]


def _built(
    request: FitOutRequest,
    kind: FitOutPanelType,
    number: int | None,
    construction: ConstructionName | None,
    build: Build,
) -> Candidate:
    own_kind = msgspec.structs.replace(kind, panels_wanted=number)
    asked = msgspec.structs.replace(request, choose=None, panel_types=[own_kind])
    try:
        return Candidate(kind, number, construction, build(asked))
    except ContradictionError as error:
        at = next(i for i, one in enumerate(request.panel_types) if one.name == kind.name)
        own = moved({"/panel_types/0": f"/panel_types/{at}"})
        faults = tuple(Fault(own(fault.pointer), fault.message) for fault in error.faults)
        return Candidate(kind, number, construction, None, faults)


def _order(one: Candidate, by: PanelRanking) -> tuple[int, float, float]:
    """Those that hold first, then those not judged in full, then those that fail."""
    if one.answer is None:
        return len(VERDICTS), 0.0, 0.0
    at = VERDICTS.index(one.answer.verdict)
    return max(at, VERDICTS.index("review")), _worth(one, by), -one.power_w


def _worth(one: Candidate, by: PanelRanking) -> float:
    """The less the better."""
    spent = one.spent(by)
    if by == "power":
        return -one.power_w
    return -one.gives if spent is None or one.gives <= 0.0 else spent / one.gives


def _told(
    rank: int, one: Candidate, found: Sequence[Candidate], best: FitOutAnswer, by: PanelRanking
) -> FitOutCandidate:
    answer, first = one.answer, found[0]
    return FitOutCandidate(
        rank=rank,
        panel_type=one.kind.name,
        construction=one.construction,
        panels=one.panels,
        verdict=answer.verdict if answer else "fail",
        array_power_w=answer.array_power_w if answer else 0.0,
        weighted_power_w=one.power_w,
        energy_wh=one.energy_wh,
        price=one.price,
        mass_kg=one.mass_kg,
        pass_speed_m_s=pass_speed(answer.mounts) if answer else None,
        reason=_reason(one, first, best, by),
        needs=_needs(one, first, by),
    )


def _needs(one: Candidate, first: Candidate, by: PanelRanking) -> list[str]:
    """Remedies of what fails or could not be judged, the failing ones first; else what it lacks."""
    if one.answer is None:
        return [fault.message for fault in one.faults]
    open_ones = sorted(
        (check for check in one.answer.checks if check.verdict in ("fail", "not-assessed")),
        key=lambda check: check.verdict != "fail",
    )
    remedies = list(dict.fromkeys(check.remedy for check in open_ones if check.remedy))
    return remedies if remedies or one is first else _lacks(one, first, by)


def _lacks(one: Candidate, first: Candidate, by: PanelRanking) -> list[str]:
    """What a candidate that holds would need to come first."""
    if one.spent(by) is None:
        more = _behind(one, first, by)
        return [statement("first-by-more", amount=_amount(more, first, by))] if more > 0.0 else []
    most = _worth(first, by) * one.gives / one.placed
    return [
        statement("first-by-price", price=most)
        if by == "price"
        else statement("first-by-mass", mass_kg=most)
    ]


def _by_power(first: Candidate, by: PanelRanking) -> bool:
    """Whether power is compared, as energy is not known or does not count."""
    return by == "power" or first.energy_wh is None


def _behind(one: Candidate, first: Candidate, by: PanelRanking) -> float:
    """How much more the first gives."""
    return first.power_w - one.power_w if _by_power(first, by) else first.gives - one.gives


def _amount(value: float, first: Candidate, by: PanelRanking) -> str:
    if _by_power(first, by):
        return statement("watts-on-average", power_w=value)
    return statement("kilowatt-hours", energy_kwh=value / 1000.0)


def _reason(one: Candidate, first: Candidate, best: FitOutAnswer, by: PanelRanking) -> str:
    if one.answer is None:
        return statement("cannot-be-built")
    if one is first:
        return _first_because(one, by)
    if one.answer.verdict in ("fail", "not-assessed"):
        failing = sum(check.verdict == one.answer.verdict for check in one.answer.checks)
        failed = one.answer.verdict == "fail"
        return statement("checks-fail" if failed else "checks-not-judged", checks=failing)
    more = _behind(one, first, by)
    code = "less-than-first" if more > 0 else "more-than-first"
    told = [statement(code, amount=_amount(abs(more), first, by))]
    if one.mass_kg != first.mass_kg:
        told.append(statement("mass-against", mass_kg=one.mass_kg, first_mass_kg=first.mass_kg))
    if one.price is not None and first.price is not None and one.price != first.price:
        told.append(statement("price-against", price=one.price, first_price=first.price))
    compared = best.harvest.comparison if best.harvest else []
    losses = [line.reason for line in compared if line.name == one.name]
    return together("space", [statement("as-a-sentence", told=together("comma", told)), *losses])


def _first_because(one: Candidate, by: PanelRanking) -> str:
    holds = one.answer is not None and one.answer.verdict in ("pass", "review")
    best = statement(f"best-for-{by}")
    return statement("of-those-that-hold" if holds else "of-those-tried", best=best)


def _chosen_because(found: Sequence[Candidate], best: FitOutAnswer, by: PanelRanking) -> str:
    first = found[0]
    figures: list[str] = [
        statement("watts-on-average", power_w=first.power_w),
        statement("mass", mass_kg=first.mass_kg),
    ]
    if first.energy_wh is not None:
        figures.insert(0, statement("kilowatt-hours", energy_kwh=first.energy_wh / 1000.0))
    if first.price is not None:
        figures.append(statement("price", price=first.price))
    told = statement(
        "best-candidate",
        candidate=first.name,
        candidates=len(found),
        figures=figures,
        why=_first_because(first, by),
    )
    if len(found) < 2:
        return told
    second = found[1]
    why = _reason(second, first, best, by)
    runner_up = statement("second-candidate", candidate=second.name, why=why)
    return together("space", [told, runner_up, *_needs(second, first, by)[:1]])
