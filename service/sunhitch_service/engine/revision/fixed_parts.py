"""The job as it stands: what is fixed is said where the engine chose it."""

from collections.abc import Iterator

from msgspec import convert
from msgspec.structs import replace

from sunhitch.types.fitout import (
    PV_LINES,
    BatteryFuse,
    FitOutAnswer,
    FitOutRequest,
    FittedCable,
    WireLine,
)
from sunhitch.types.roof import RoofSpot
from sunhitch.types.wiring import ConductorSize
from sunhitch_service.engine.fitout.placement import as_placed

from .part_states import Parts
from .placing import as_arranged, on_roof


def as_it_stands(job: FitOutRequest, answer: FitOutAnswer, parts: Parts) -> FitOutRequest:
    """The job with every panel at its place, and with all that is fixed.

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
    if parts.is_fixed("cables"):
        job = job if job.drawn else as_arranged(job, answer.configurations[0])
        fitted = [*job.cables.fitted, *_fitted(answer)]
        job = replace(job, cables=replace(job.cables, fitted=fitted))
    return _with_devices(job, answer, parts)


def _fitted(answer: FitOutAnswer) -> Iterator[FittedCable]:
    for line in answer.wire_schedule:
        number, unit = line.drop_of.split(" ")
        size = {"awg": number} if unit == "AWG" else {"area_mm2": float(number)}
        yield FittedCable(kind=line.kind, device=_device(line), size=convert(size, ConductorSize))


def _device(line: WireLine) -> str:
    """The end that stays by its name whatever panels there are."""
    ends = (*PV_LINES, "starter-to-charger", "bus-to-load")
    return line.end if line.kind in ends else line.start


def _with_devices(job: FitOutRequest, answer: FitOutAnswer, parts: Parts) -> FitOutRequest:
    """Fuses and glands that are fixed, where all of a kind are alike."""
    cables, connectors = job.cables, job.connectors
    kinds = {line.line: line.kind for line in answer.wire_schedule}
    at_battery = {
        fuse.part_key
        for fuse in answer.protection_schedule
        if kinds.get(fuse.protects) == "controller-to-battery" and fuse.rating_a
    }
    if parts.is_fixed("battery-fuse") and job.battery_fuse is None and len(at_battery) == 1:
        _, family, rating = at_battery.pop().split(":")
        fuse = {"rating_a": float(rating.removesuffix("a")), "family": family}
        job = replace(job, battery_fuse=convert(fuse, BatteryFuse))
    glands = {gland.size for gland in answer.glands}
    if parts.is_fixed("glands") and cables.gland_at_hand is None and len(glands) == 1:
        job = replace(job, cables=replace(cables, gland_at_hand=glands.pop()))
    ratings = {s.fuse_a for a in answer.configurations[0].arrays for s in a.strings if s.fuse_a}
    if parts.is_fixed("string-fuses") and connectors.string_fuse_a is None and len(ratings) == 1:
        job = replace(job, connectors=replace(connectors, string_fuse_a=ratings.pop()))
    return job
