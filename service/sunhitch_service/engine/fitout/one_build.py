"""Compose roof, array, cables, mount, parts and steps into one checked build."""

from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Literal

from sunhitch.texts import statement
from sunhitch.types.array import ArrayConfigurationAnswer
from sunhitch.types.check import Check
from sunhitch.types.fitout import FitOutAnswer, FitOutRequest
from sunhitch.types.mount import MountCheckAnswer
from sunhitch.types.parts import Part
from sunhitch.types.work import WorkCost, WorkStep
from sunhitch_service.engine.answering import common
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.cautions import cautions
from sunhitch_service.engine.checks import verdict_of
from sunhitch_service.engine.mount.calculation import governing_checks
from sunhitch_service.engine.rules.mount import WHOLE_ROOF
from sunhitch_service.engine.rules.strings import panels_wired
from sunhitch_service.engine.sources import keys_of

from .build import Build
from .cables import notes, schedule
from .circuit import glands
from .job import Job, resolve
from .lost import refuse_fields, refuse_parts, without_lost
from .mounts import check_mounts, panel_mount
from .parts import parts_list
from .placement import PlacedPanels, place_panels
from .pointers import faults_of
from .step_readings import panel_test
from .steps import work_steps
from .summary import sentences
from .vehicle import vehicle_balance
from .wiring_choice import choose_wiring
from .wiring_of_parts import build_with_parts
from .wording import about
from .work_times import work_cost

_CAUTIONS = (
    "judgement",
    "road-safety",
    "lit-panel",
    "dc-arc",
    "battery-energy",
    "connection-order",
    "roof-work",
    "roof-leak",
    "heat-under-panel",
)


def build_of(request: FitOutRequest) -> FitOutAnswer:
    """One build, its energy apart; what its parts leave open is as planned without them.

    Parameters
    ----------
    request : FitOutRequest
        The job; a single type where it is one of several candidates.

    Raises
    ------
    ContradictionError
        If the request contradicts itself.
    """
    refuse_fields(request)
    known = Assumptions()
    job = resolve(request)
    if request.parts:
        placed = place_panels(job, Assumptions()).job
        refuse_parts(placed.request)
        job = replace(job, request=without_lost(placed.request))
    roof, array = _laid_and_wired(job, known)
    with faults_of(roof.translate):
        return _built(roof, array, known)


def _laid_and_wired(job: Job, known: Assumptions) -> tuple[PlacedPanels, ArrayConfigurationAnswer]:
    """Panels on the roof, and their wirings.

    Where as many panels as fit are laid out, and the best wiring within the limits leaves some
    unused, these stay off the roof: nothing is bought, glued and carried for nothing.
    """
    roof = place_panels(job, known)
    with faults_of(roof.translate):
        chosen = Assumptions()
        array = choose_wiring(roof.job, roof, chosen)
    best = array.arrangements[0]
    if (
        job.placed_by_caller
        or any(kind.panels_wanted is not None for kind in job.given.panel_types)
        or job.given.drawn
        or not best.leftover
        or best.verdict == "fail"
    ):
        known.merge(chosen.listed(), roof.translate)
        return roof, array
    placed = len(roof.laid)
    why = statement("others-fit-no-wiring", placed=placed)
    known.note("/panel_types", f"{placed - len(best.leftover)} panels", why)
    return _laid_and_wired(roof.job.without(best.leftover), known)


def _built(roof: PlacedPanels, array: ArrayConfigurationAnswer, known: Assumptions) -> FitOutAnswer:
    """Everything that follows from places and wiring."""
    assumptions = Assumptions()
    wired = build_with_parts(roof, array, assumptions)
    job, array, best = wired.job, wired.array, wired.array.arrangements[0]
    answers = check_mounts(job, roof.laid, roof.site, assumptions)
    mounts = [panel_mount(panel, answer) for panel, answer in answers.items()]
    protected, switches = wired.protected, wired.switches
    lines, entry = protected.lines, glands(protected.lines)
    made = protected.bond, protected.fuses, switches, entry, mounts, array.hot_cell_c
    build = Build(job, best, roof.summary, lines, *made)
    checks = [
        *wired.checks,
        *roof.checks,
        *_wired(array),
        *_whole_roof(answers.values()),
        *_of_mounts(answers, job.given.detail),
    ]
    known.merge(assumptions.listed(), roof.translate)
    noted, (parts, steps, cost) = notes(lines), _work(build, known)
    dangers = dict.fromkeys([*_CAUTIONS, *(code for step in steps for code in step.cautions)])
    told = keys_of(
        [check for one in array.arrangements for check in one.checks], switches.listed, noted
    )
    return FitOutAnswer(
        **common(job.given, checks, known, cautions(*dangers), told),
        title=job.request.title,
        summary=sentences(build, verdict_of(checks), checks),
        candidates=[],
        array_power_w=sum(part.p_mp_w for part in best.arrays),
        configurations=array.arrangements,
        rejections=array.rejections,
        hot_cell_c=array.hot_cell_c,
        roof=roof.summary,
        vehicle=vehicle_balance(build),
        plan=roof.plan,
        wire_schedule=schedule(lines),
        protection_schedule=protected.fuses,
        current_paths=protected.paths,
        disconnects=switches.listed,
        glands=entry,
        wiring_notes=noted,
        mounts=mounts,
        parts_list=parts,
        work_steps=steps,
        work_cost=cost,
        harvest=None,
    )


def _work(build: Build, known: Assumptions) -> tuple[list[Part], list[WorkStep], WorkCost]:
    """What to buy, what to do, and what both cost."""
    parts, job = parts_list(build), build.job
    steps = work_steps(build, parts, panel_test(job, known))
    return parts, steps, work_cost(steps, parts, job.request.work)


def _wired(array: ArrayConfigurationAnswer) -> list[Check]:
    """Panels on the roof that nothing connects."""
    best = array.arrangements[0]
    if not best.leftover:
        return []
    wired = sum(len(string.panels) for array in best.arrays for string in array.strings)
    most = max(array.rejections, key=lambda one: one.arrangements, default=None)
    kept_out_by = most.code if most else ""
    return [panels_wired(wired, wired + len(best.leftover), best.leftover, kept_out_by)]


def _of_mounts(
    answers: dict[str, MountCheckAnswer], detail: Literal["governing", "all"]
) -> Iterator[Check]:
    """Checks of every panel's mount, but for those of the whole roof."""
    for panel, answer in answers.items():
        own = [check for check in answer.checks if check.subject != WHOLE_ROOF]
        yield from about(panel, own if detail == "all" else governing_checks(own))


def _whole_roof(answers: Iterable[MountCheckAnswer]) -> list[Check]:
    """What the roof carries in all: every panel's mount check says it, the answer says it once."""
    found: dict[tuple[str, str], Check] = {}
    for item in (item for answer in answers for item in answer.checks):
        if item.subject == WHOLE_ROOF:
            # Sums of the same masses in another order differ in their last digits.
            demand = "" if item.demand is None else f"{item.demand:.9g}"
            found.setdefault((item.code, demand), item)
    return list(found.values())
