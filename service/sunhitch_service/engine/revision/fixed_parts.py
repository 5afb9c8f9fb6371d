"""The job as it stands: what is fixed, owned or gone is said where the engine chose it."""

from collections.abc import Iterator

from msgspec import convert
from msgspec.structs import replace

from sunhitch.types.fitout import (
    PV_LINES,
    CableInWork,
    FitOutAnswer,
    FitOutRequest,
    FuseInWork,
    InWork,
    LineState,
    ProtectiveDevice,
    WireLine,
)
from sunhitch.types.revision import JobChange, WorkState
from sunhitch.types.roof import RoofSpot
from sunhitch.types.wiring import ConductorSize
from sunhitch_service.engine.fitout.placement import as_placed

from .changes import told
from .part_states import Parts, fuse_state
from .placing import as_arranged, on_roof


def as_it_stands(job: FitOutRequest, answer: FitOutAnswer, parts: Parts) -> FitOutRequest:
    """The job with every panel at its place, and with all that is fixed or owned.

    Parameters
    ----------
    job : FitOutRequest
        As sent.
    answer : FitOutAnswer
        What was chosen for it.
    parts : Parts
        What is fixed.
    """
    entry = RoofSpot(x_m=answer.roof.entry_x_m, y_m=answer.roof.entry_y_m)
    if not job.placements or parts.is_fixed("entry"):
        job = replace(job, roof=replace(job.roof, cable_entry=entry))
    if not job.placements:
        placed = [as_placed(panel) for panel in answer.plan.panels]
        job = on_roof(replace(job, choose=None), placed)
    lying = [line.kind for line in answer.wire_schedule if parts.is_fixed("cables", line.line)]
    if any(kind in PV_LINES for kind in lying):
        job = job if job.drawn else as_arranged(job, answer.configurations[0])
    job = with_lines(job, answer, parts, ("fixed", "owned"))
    glands = {gland.size for gland in answer.glands}
    if parts.is_fixed("glands") and job.cables.gland_at_hand is None and len(glands) == 1:
        job = replace(job, cables=replace(job.cables, gland_at_hand=glands.pop()))
    strings = [s for a in answer.configurations[0].arrays for s in a.strings]
    ratings = {string.fuse_a for string in strings if string.fuse_a}
    fixed = [fuse_state(parts, one, "") == "fixed" for one in answer.protection_schedule]
    of_strings = [one.of_string for one in answer.protection_schedule]
    lying_fuse = any(a and b for a, b in zip(fixed, of_strings, strict=True))
    if lying_fuse and job.connectors.string_fuse_a is None and len(ratings) == 1:
        job = replace(job, connectors=replace(job.connectors, string_fuse_a=ratings.pop()))
    return job


def with_lines(
    job: FitOutRequest, answer: FitOutAnswer, parts: Parts, states: tuple[LineState, ...]
) -> FitOutRequest:
    """The job with cables and fuses in such states said of their lines.

    Parameters
    ----------
    job : FitOutRequest
        Perhaps with others said already.
    answer : FitOutAnswer
        With the lines that the states are of.
    parts : Parts
        How far each is.
    states : tuple of LineState
        Which to say.
    """
    lines = {line.line: line for line in answer.wire_schedule}
    cables = [
        _cable(line, state)
        for line in lines.values()
        if (state := _of(parts.state("cables", line.line), states))
    ]
    fuses = [
        _fuse(lines[fuse.protects], fuse, state)
        for fuse in answer.protection_schedule
        if not fuse.of_string and fuse.rating_a and fuse.protects in lines
        if (state := _of(fuse_state(parts, fuse, lines[fuse.protects].kind), states))
    ]
    known = [*job.cables.in_work, *(one for one in cables if not _said(job.cables.in_work, one))]
    fused = [*job.fuses_in_work, *(one for one in fuses if not _said(job.fuses_in_work, one))]
    return replace(job, cables=replace(job.cables, in_work=known), fuses_in_work=fused)


def _of(state: WorkState, states: tuple[LineState, ...]) -> LineState | None:
    return next((one for one in states if one == state), None)


def _said(entries: list[CableInWork] | list[FuseInWork], one: InWork) -> bool:
    """Whether the job says already that something lies there."""
    fixed = (each for each in entries if one.state == each.state == "fixed")
    return any(
        each.kind in (None, one.kind) and each.device in (None, one.device) for each in fixed
    )


def lost_sizes(
    before: FitOutRequest, after: FitOutRequest, answer: FitOutAnswer
) -> Iterator[JobChange]:
    """Sizes and ratings that are not available, by the line that they were chosen for."""
    names = {(line.kind, line.device): line.line for line in answer.wire_schedule}
    for cable in after.cables.in_work[len(before.cables.in_work) :]:
        line = names[cable.kind or "pv-output", cable.device or ""]
        at = {"line": line, "at_hand": size_words(cable.size)}
        yield told("other-cable-size", {**at}, wanted=True)
    for fuse in after.fuses_in_work[len(before.fuses_in_work) :]:
        line = names[fuse.kind or "pv-output", fuse.device or ""]
        yield told("other-fuse", {"line": line, "rating_a": fuse.rating_a}, wanted=True)


def size_words(size: ConductorSize) -> str:
    """A size as written on the cable."""
    return f"{size.awg} AWG" if size.awg else f"{size.area_mm2 or 0.0:g} mm²"


def _cable(line: WireLine, state: LineState) -> CableInWork:
    number, unit = line.drop_of.split(" ")
    size = {"awg": number} if unit == "AWG" else {"area_mm2": float(number)}
    return CableInWork(
        kind=line.kind,
        device=line.device,
        state=state,
        size=convert(size, ConductorSize),
        length_m=round(line.length_m, 3) if state == "fixed" else None,
    )


def _fuse(line: WireLine, fuse: ProtectiveDevice, state: LineState) -> FuseInWork:
    _, family, rating = fuse.part_key.split(":")
    plain = {"rating_a": float(rating.removesuffix("a")), "family": family, "state": state}
    return convert(plain | {"kind": line.kind, "device": line.device}, FuseInWork)
