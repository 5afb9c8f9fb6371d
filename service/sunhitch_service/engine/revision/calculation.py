"""`fit-out-change`: what to do differently on a job that is under way, or that fails."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

from msgspec.structs import replace

from sunhitch.report.grouping import worst_first
from sunhitch.texts.templates import Parameter
from sunhitch.types.check import Check
from sunhitch.types.fitout import FitOutAnswer, FitOutRequest
from sunhitch.types.parts import Part
from sunhitch.types.revision import (
    FailingCheck,
    FitOutChangeAnswer,
    FitOutChangeRequest,
    JobChange,
    JobFigures,
)
from sunhitch_service.engine.answering import answer_id
from sunhitch_service.engine.fitout.calculation import fit_out
from sunhitch_service.engine.fitout.wording import pass_speed
from sunhitch_service.engine.sources import keys_of, sources_of

from .changes import Change, told
from .part_states import Parts, refuse_unknown_parts, within_job
from .patches import patch
from .placing import as_it_stands
from .search import Search, TriedJob, failing, key_of
from .wanted import Wanted, as_wanted


def fit_out_change(request: FitOutChangeRequest) -> FitOutChangeAnswer:
    """Change a job as wanted, and as little beyond as makes it hold.

    Parameters
    ----------
    request : FitOutChangeRequest
        The job, how far its parts are, and what is wanted.

    Returns
    -------
    FitOutChangeAnswer
        Changes, their patch, and the checks of the job after them. Fixed parts are as they were.

    Raises
    ------
    ContradictionError
        If the job contradicts itself, or what is wanted contradicts what is fixed.
    """
    refuse_unknown_parts(request)
    parts = Parts(request)
    with within_job():
        before = fit_out(request.job)
    job = TriedJob(as_it_stands(request.job, before, parts), before)
    found = _attempt(job, parts, 0)
    asked = sum(one.number for one in request.add_panels)
    for left_out in sorted({*range(1, min(asked, _FEWER) + 1), asked} - {0}):
        if found.met:
            break
        fewer = _attempt(job, parts, left_out)
        found = fewer if fewer.met else found
    return _answer(request, job, found)


_FEWER = 2
"""How many panels less than wanted are tried one after the other; then none."""


@dataclass(frozen=True, slots=True)
class _Attempt:
    """The job as wanted, as it came to hold, and what still fails."""

    wanted: Wanted
    now: TriedJob
    made: list[Change]
    against: list[Check]

    @property
    def met(self) -> bool:
        return not self.against


def _attempt(before: TriedJob, parts: Parts, left_out: int) -> _Attempt:
    wanted = as_wanted(before.job, parts, left_out)
    with within_job():
        start = before if wanted.job == before.job else TriedJob(wanted.job, fit_out(wanted.job))
    known = {key_of(check) for check in failing(before.answer)}
    goal = parts.asked.goal

    def counts(check: Check) -> bool:
        return goal == "no-failure" or key_of(check) not in known

    now, made = start, list[Change]()
    if goal != "as-wanted":
        now, made = Search(parts, counts).mended(start)
    return _Attempt(wanted, now, made, [check for check in failing(now.answer) if counts(check)])


def _answer(request: FitOutChangeRequest, before: TriedJob, found: _Attempt) -> FitOutChangeAnswer:
    now, wanted = found.now, found.wanted
    after = now.answer
    changes = [
        *wanted.changes,
        *_of_places(before.job, wanted.job, now.job),
        *(one.told for one in found.made if one.code not in _BY_PLACE),
    ]
    added, spared = _parts_changed(before.answer.parts_list, after.parts_list)
    shared = {name: getattr(after, name) for name in _SHARED}
    return FitOutChangeAnswer(
        **shared,
        sources=sources_of(keys_of(after.checks)),
        answer_id=answer_id(request),
        title=request.job.title,
        met=found.met and not wanted.left_out,
        summary=_summary(request, found, changes),
        changes=changes,
        patch=patch(request.job, now.job) if changes else [],
        before=_figures(before.answer),
        after=_figures(after),
        plan=after.plan,
        parts_added=added,
        parts_spared=spared,
    )


_SHARED = ("verdict", "counts", "checks", "assumptions", "cautions", "engine")
_LEAST_AMOUNT = 1e-6
_BY_PLACE = ("panel-moved", "panel-less")


def _of_places(
    before: FitOutRequest, wanted: FitOutRequest, after: FitOutRequest
) -> Iterator[JobChange]:
    """Panels that are gone, set elsewhere or new."""
    old = {place.name: place for place in before.placements}
    asked = {place.name: place for place in wanted.placements}
    new = {place.name: place for place in after.placements}
    for name in (one for one in old if one not in new):
        code = "panel-less" if name in asked else "panel-lost"
        yield told(code, {"panel": name}, wanted=name not in asked)
    for name, place in new.items():
        at: dict[str, Parameter] = {"panel": name, "x_mm": 1000 * place.x_m}
        at["y_mm"] = 1000 * place.y_m
        if name not in old:
            yield told("panel-added", at, wanted=True)
            continue
        was = old[name]
        by_caller = place == asked.get(name)
        moved_mm = 1000 * math.hypot(place.x_m - was.x_m, place.y_m - was.y_m)
        if place.rotated != was.rotated:
            yield told("panel-turned", at, wanted=by_caller)
        elif moved_mm > 0.05:
            yield told("panel-moved", at | {"moved_mm": moved_mm}, wanted=by_caller)


def _figures(answer: FitOutAnswer) -> JobFigures:
    return JobFigures(
        verdict=answer.verdict,
        failing=[
            FailingCheck(
                code=check.code,
                subject=check.subject or "",
                title=check.title,
                remedy=check.remedy,
            )
            for check in worst_first(failing(answer))
        ],
        panels=len(answer.roof.placements),
        array_power_w=answer.array_power_w,
        weighted_power_w=answer.configurations[0].weighted_power_w,
        panel_mass_kg=answer.roof.panel_mass_kg,
        pass_speed_m_s=pass_speed(answer.mounts),
    )


def _parts_changed(before: list[Part], after: list[Part]) -> tuple[list[Part], list[Part]]:
    """What is to be bought beyond before, and what no longer is."""
    return _beyond(before, after), _beyond(after, before)


def _beyond(have: list[Part], need: list[Part]) -> list[Part]:
    """Parts that are needed beyond those that there are."""
    amounts = {part.key: part.amount for part in have}
    more = [replace(part, amount=part.amount - amounts.get(part.key, 0.0)) for part in need]
    return [part for part in more if part.amount > _LEAST_AMOUNT]


def _summary(request: FitOutChangeRequest, found: _Attempt, changes: list[JobChange]) -> list[str]:
    beyond = sum(not change.wanted for change in changes)
    after = found.now.answer
    lines = [_opening(len(changes) - beyond, beyond, found)]
    if found.wanted.left_out:
        number = sum(one.number for one in request.add_panels)
        kept = number - found.wanted.left_out
        lines.append(f"Nearest to what is wanted: {kept} of {number} panels added.")
    if found.against:
        titles = ", ".join(dict.fromkeys(check.title for check in found.against))
        lines.append(f"Still failing: {titles}.")
    power_w = after.configurations[0].weighted_power_w
    lines.append(
        f"Then {len(after.roof.placements)} panels, {after.array_power_w:.0f} W wired, "
        f"{power_w:.0f} W into the battery on average."
    )
    return lines


def _opening(asked: int, beyond: int, found: _Attempt) -> str:
    if not asked and not beyond:
        return (
            "Nothing fails, and nothing is to be changed."
            if found.met
            else "Nothing was found that may be changed and helps."
        )
    parts = [_counted(asked, "as wanted")] if asked else []
    parts += [_counted(beyond, "so that it holds")] if beyond else []
    return f"{', '.join(parts)}."


def _counted(number: int, why: str) -> str:
    return f"{number} change{'s' if number != 1 else ''} {why}"
