"""`fit-out-change`: what to do differently on a job that is under way, or that fails."""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from sunhitch.report.grouping import worst_first
from sunhitch.report.work_words import change_cost_words
from sunhitch.texts import statement, together
from sunhitch.texts.templates import Parameter
from sunhitch.types.check import Check
from sunhitch.types.fitout import FitOutAnswer, FitOutRequest
from sunhitch.types.revision import (
    ChangeCost,
    FailingCheck,
    FitOutChangeAnswer,
    FitOutChangeRequest,
    JobChange,
    JobFigures,
    NearestChange,
)
from sunhitch_service.engine.answering import answer_id
from sunhitch_service.engine.fitout.wording import pass_speed
from sunhitch_service.engine.reuse import reusing
from sunhitch_service.engine.roof.geometry import front_left
from sunhitch_service.engine.rules.titles import title_of
from sunhitch_service.engine.sources import keys_of, sources_of

from .changes import Change, few, told
from .cost import change_cost, parts_changed
from .fixed_parts import as_it_stands, as_planned, part_words, refuse_without_cables
from .part_states import Parts, refuse_unreplaced, within_job
from .patches import patch
from .search import Relevant, Search, TriedJob, failing, judged, key_of, tried
from .wanted import Wanted, as_wanted, partway


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
    with reusing():
        return _changed(request, Parts(request))


def _changed(request: FitOutChangeRequest, parts: Parts) -> FitOutChangeAnswer:
    refuse_unreplaced(parts)
    with within_job():
        before = as_planned(request.job)
    standing, news = as_it_stands(request.job, before, parts)
    job = TriedJob(standing, before, news)
    refuse_without_cables(job, parts)
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
    wanted = as_wanted(before, parts, left_out)
    with within_job():
        start = before if wanted.job == before.job else tried(wanted.job)
    return _mended(wanted, before, start, parts)


def _mended(wanted: Wanted, before: TriedJob, start: TriedJob, parts: Parts) -> _Attempt:
    """What comes of a job that is changed until nothing is against the goal."""
    counts = _counting(before, parts)
    now, made = start, list[Change]()
    if parts.asked.goal != "as-wanted":
        now, made = Search(parts, counts).mended(start)
    return _Attempt(wanted, now, made, [check for check in failing(now.answer) if counts(check)])


def _counting(before: TriedJob, parts: Parts) -> Relevant:
    """Which failing checks are against the goal."""
    known = {key_of(check) for check in failing(before.answer)}
    goal = parts.asked.goal

    def counts(check: Check) -> bool:
        return goal == "no-failure" or key_of(check) not in known

    return counts


def _answer(request: FitOutChangeRequest, before: TriedJob, found: _Attempt) -> FitOutChangeAnswer:
    after = found.now.answer
    changes = _changes(before.job, found)
    added, spared = parts_changed(before, found.now)
    cost = change_cost(before, after, added, spared, request)
    nearest = None if found.met else _nearest(request, before, found)
    return FitOutChangeAnswer(
        **{name: getattr(after, name) for name in _SHARED},
        sources=sources_of(keys_of(after.checks)),
        answer_id=answer_id(request),
        title=request.job.title,
        met=found.met and not found.wanted.left_out,
        summary=_summary(request, found, changes, cost, nearest),
        changes=few(changes),
        patch=patch(request.job, found.now.job) if changes else [],
        before=_figures(before.answer),
        after=_figures(after),
        plan=after.plan,
        parts_added=added,
        parts_spared=spared,
        cost=cost,
        nearest=nearest,
    )


def _changes(before: FitOutRequest, found: _Attempt) -> list[JobChange]:
    """All of them, what was wanted first."""
    wanted, now = found.wanted, found.now
    return [
        *wanted.changes,
        *_of_places(before, wanted.job, now.job),
        *(one.told for one in found.made if one.code not in _BY_PLACE),
        *_unused(before, now.job),
    ]


def _unused(before: FitOutRequest, after: FitOutRequest) -> Iterator[JobChange]:
    """Cables that lie already and lead nowhere any more."""
    for one in before.parts:
        if (one.part, one.state) == ("cable", "fixed") and one not in after.parts:
            at: dict[str, Parameter] = {"at_hand": part_words(one), "device": one.name or ""}
            yield told("cable-unused", at)


def _nearest(
    request: FitOutChangeRequest, before: TriedJob, found: _Attempt
) -> NearestChange | None:
    """What reaches the goal where wanted values may give way; none where nothing does."""
    parts = Parts(request, wishes_bind=False)
    near = _mended(found.wanted, before, found.now, parts)
    changes = _changes(before.job, replace(near, made=[*found.made, *near.made]))
    asked = replace(found.wanted, job=found.now.job, changes=[])
    instead = [one.text for one in _changes(found.now.job, replace(near, wanted=asked))]
    if not near.met:
        near = _partway(before, found, parts)
        changes = _changes(before.job, near)
        instead = [one.text for one in near.wanted.changes]
    if not near.met:
        return None
    return NearestChange(
        summary=together("semicolon", instead),
        changes=few(changes),
        patch=patch(request.job, near.now.job),
        after=_figures(near.now.answer),
    )


_HALVINGS = 5


def _partway(before: TriedJob, found: _Attempt, parts: Parts) -> _Attempt:
    """With wanted numbers as near to what is wanted as nothing is against the goal."""
    counts = _counting(before, parts)
    nearest, low, high = found, 0.0, 1.0
    for _ in range(_HALVINGS):
        share = (low + high) / 2.0
        wanted = partway(before, found.now.job, parts, share)
        job = judged(wanted.job) if wanted.changes else None
        if job is not None and not any(map(counts, failing(job.answer))):
            nearest, low = (
                _Attempt(Wanted(found.wanted.job, wanted.changes, 0), job, found.made, []),
                share,
            )
        else:
            high = share
    return nearest


_SHARED = ("verdict", "counts", "checks", "assumptions", "cautions", "engine")
_BY_PLACE = ("panel-moved", "panel-less")


def _of_places(
    before: FitOutRequest, wanted: FitOutRequest, after: FitOutRequest
) -> Iterator[JobChange]:
    """Panels that are gone, set elsewhere or new."""
    old, asked, new = (
        {place.name: place for place in job.placements} for job in (before, wanted, after)
    )
    front_m, left_m = front_left(after.roof.outline)
    for name in (one for one in old if one not in new):
        code = "panel-less" if name in asked else "panel-lost"
        yield told(code, {"panel": name}, wanted=name not in asked)
    for name, place in new.items():
        at: dict[str, Parameter] = {
            "panel": name,
            "x_mm": 1000 * (place.x_m - front_m),
            "y_mm": 1000 * (place.y_m - left_m),
        }
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


def _summary(
    request: FitOutChangeRequest,
    found: _Attempt,
    changes: list[JobChange],
    cost: ChangeCost,
    nearest: NearestChange | None,
) -> list[str]:
    beyond = sum(not change.wanted for change in changes)
    after = found.now.answer
    lines = [_opening(len(changes) - beyond, beyond, found)]
    if found.wanted.left_out:
        number = sum(one.number for one in request.add_panels)
        lines.append(
            statement("nearest-to-wanted", added=number - found.wanted.left_out, wanted=number)
        )
    if found.against:
        lines.append(_still_failing(found.against))
    if nearest is not None:
        lines.append(statement("nearest-that-holds", changes=nearest.summary))
    power: dict[str, Parameter] = {
        "wired_w": after.array_power_w,
        "charging_w": after.configurations[0].weighted_power_w,
    }
    panels = len(after.roof.placements)
    lines.append(
        statement("then-one-panel", **power)
        if panels == 1
        else statement("then-panels", panels=panels, **power)
    )
    return [*lines, statement("costs", told=change_cost_words(cost))] if changes else lines


_TITLES = 5
"""Titles that a sentence names."""


def _still_failing(against: list[Check]) -> str:
    """What nothing mends; what has no capacity left follows from something else, and comes last."""
    ordered = sorted(against, key=lambda check: check.capacity == 0.0)
    titles: list[str] = [*dict.fromkeys(map(title_of, ordered))]
    more = len(titles) - _TITLES
    if more <= 0:
        return statement("still-failing", titles=titles)
    return statement("still-failing-most", titles=titles[:_TITLES], more=more)


def _opening(asked: int, beyond: int, found: _Attempt) -> str:
    if not asked and not beyond:
        return statement("nothing-to-change" if found.met else "nothing-found")
    numbers = ((asked, "as-wanted"), (beyond, "so-that" if found.met else "of-some"))
    return statement("changes-counted", counts=[_counted(*each) for each in numbers if each[0]])


def _counted(number: int, why: str) -> str:
    return statement(f"change-{why}" if number == 1 else f"changes-{why}", changes=number)
