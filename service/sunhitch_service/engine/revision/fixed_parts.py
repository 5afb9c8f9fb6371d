"""The job as it stands: what is fixed, owned or gone is said where the engine chose it."""

from collections.abc import Iterator

from msgspec.structs import replace

from sunhitch.grouping import grouped
from sunhitch.texts import statement
from sunhitch.types.fitout import PV_LINES, FitOutAnswer, FitOutRequest, PartInWork, WorkPart
from sunhitch.types.revision import JobChange
from sunhitch.types.roof import RoofSpot
from sunhitch.types.wiring import ConductorSize
from sunhitch_service.engine.errors import Faults
from sunhitch_service.engine.fitout.calculation import fit_out
from sunhitch_service.engine.fitout.in_work import SITS_IN
from sunhitch_service.engine.fitout.lost import on_roof, refuse_fields, refuse_parts
from sunhitch_service.engine.fitout.open_parts import (
    Schedules,
    is_open_part,
    with_values,
    without_parts,
)
from sunhitch_service.engine.fitout.placement import as_placed
from sunhitch_service.engine.fitout.pointers import faults_of

from .changes import told
from .part_states import Parts, within_job
from .placing import as_arranged
from .search import TriedJob


def is_news(one: PartInWork) -> bool:
    """Whether an entry says that something of the job as planned is not there.

    A size or rating that cannot be had is part of the plan.
    """
    return one.state == "unavailable" and (one.part not in SITS_IN or is_open_part(one))


def as_planned(job: FitOutRequest) -> FitOutAnswer:
    """The build before anything of it was lost.

    Raises
    ------
    ContradictionError
        If the job contradicts itself.
    """
    refuse_fields(job)
    planned, translate = without_parts(job, is_news)
    with faults_of(translate):
        return fit_out(planned)


def as_it_stands(
    job: FitOutRequest, answer: FitOutAnswer, parts: Parts
) -> tuple[FitOutRequest, list[PartInWork]]:
    """The job with every panel at its place and what is fixed or owned; and what of it is gone.

    Parameters
    ----------
    job : FitOutRequest
        As sent.
    answer : FitOutAnswer
        Of what was planned.
    parts : Parts
        What is fixed.

    Raises
    ------
    ContradictionError
        With parts that there are not.
    """
    entry = RoofSpot(x_m=answer.roof.entry_x_m, y_m=answer.roof.entry_y_m)
    if not job.placements or parts.is_fixed("entry"):
        job = replace(job, roof=replace(job.roof, cable_entry=entry))
    if not job.placements:
        job = on_roof(replace(job, choose=None), [as_placed(panel) for panel in answer.plan.panels])
    with within_job():
        refuse_parts(job)
        plan = Schedules(
            answer.configurations[0].arrays,
            answer.wire_schedule,
            answer.protection_schedule,
            answer.disconnects,
            answer.glands,
        )
        valued = with_values(job, plan)
    standing = [one for index, one in valued if not is_news(job.parts[index])]
    wired = [one for one in standing if one.part in _WIRED and one.state == "fixed"]
    if any(one.line is None or one.line in PV_LINES for one in wired):
        job = job if job.drawn else as_arranged(job, answer.configurations[0])
    return replace(job, parts=standing), [one for index, one in valued if is_news(job.parts[index])]


_WIRED: tuple[WorkPart, ...] = ("cable", "fuse", "plug")


def refuse_without_cables(standing: TriedJob, parts: Parts) -> None:
    """Refuse more panels where all cables lie already.

    Raises
    ------
    ContradictionError
        At the panels.
    """
    faults = Faults()
    lying = all(standing.lies(line) for line in standing.answer.wire_schedule)
    faults.add_if(lying and bool(parts.asked.add_panels), "/add_panels", "added-panels-need-cables")
    faults.raise_any()


def lost_in_lines(news: list[PartInWork], answer: FitOutAnswer) -> Iterator[JobChange]:
    """Sizes and ratings that are not available, each once with the lines it was chosen for."""
    lines = {(line.kind, line.device): line.line for line in answer.wire_schedule}
    found = grouped(
        ((one.part, part_words(one)), lines.get((one.line, one.name or ""), one.name or ""))
        for one in news
        if one.part in SITS_IN and one.line
    )
    for (part, at_hand), of in found.items():
        named = ", ".join(dict.fromkeys(of))
        yield told("part-lost", {"part": part, "line": named, "at_hand": at_hand}, wanted=True)


def part_words(one: PartInWork) -> str:
    """Size or rating of a part."""
    if one.size is not None:
        return size_words(one.size)
    return one.gland or statement("rating", rating_a=one.rating_a or 0.0)


def size_words(size: ConductorSize) -> str:
    """A size as written on the cable."""
    return f"{size.awg} AWG" if size.awg else f"{size.area_mm2 or 0.0:g} mm²"
