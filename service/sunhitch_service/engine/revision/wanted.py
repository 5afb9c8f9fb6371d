"""The job with what its caller wants to be different."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, TypeGuard

import msgspec
from msgspec.structs import replace

from sunhitch.codec import MalformedBody, NonFiniteError, decode_strict, encode, plain_data
from sunhitch.pointers import get, put
from sunhitch.texts import Text, sentence
from sunhitch.texts.templates import Parameter
from sunhitch.types.fitout import FitOutAnswer, FitOutRequest, LineKind
from sunhitch.types.revision import JobChange, WantedValue, WorkPart
from sunhitch_service.engine.errors import ContradictionError, Fault, Faults
from sunhitch_service.engine.fitout.placement import MOST_PANELS

from .at_hand import AT_HAND
from .changes import told
from .fixed_parts import lost_sizes, with_lines
from .mounting import without_feet
from .part_states import Parts, lies_within
from .placing import with_more, without_panel
from .search import TriedJob


@dataclass(frozen=True, slots=True)
class Wanted:
    """The job as wanted, what was changed for it, and how many wanted panels it leaves out."""

    job: FitOutRequest
    changes: list[JobChange]
    left_out: int


def as_wanted(before: TriedJob, parts: Parts, left_out: int = 0) -> Wanted:
    """Set values, leave out what is not available, and lay out what is added.

    Parameters
    ----------
    before : TriedJob
        As it stands, every panel placed.
    parts : Parts
        What is wanted, and what is fixed.
    left_out : int
        How many of the wanted panels to leave out at least.

    Raises
    ------
    ContradictionError
        A value that does not fit, or that changes what is fixed; nothing is left of the job.
    """
    job = before.job
    changed = _with_values(job, parts)
    _refuse_changed_parts(before, changed, parts)
    made = [
        _value_set(value)
        for value in parts.asked.values
        if not value.pointer.startswith("/placements/")
    ]
    changed, lost = _without_lost(changed, parts)
    changed, named = _without_named(changed, before.answer, parts)
    changed, left_out = _with_added(changed, parts, left_out)
    return Wanted(changed, [*made, *lost, *named], left_out)


def partway(before: TriedJob, after: FitOutRequest, parts: Parts, share: float) -> Wanted:
    """A job whose wanted numbers lie between those that it had and those that are wanted.

    Parameters
    ----------
    before : TriedJob
        As it stood; what it left open is what the engine chose.
    after : FitOutRequest
        As it came to be.
    parts : Parts
        What is wanted.
    share : float
        1 for what is wanted, 0 for what it had; lengths to the millimetre.

    Raises
    ------
    ContradictionError
        A value that does not fit.
    """
    had: Any = plain_data(before.job)
    chosen = {one.field: one.value for one in before.answer.assumptions}
    plain: Any = plain_data(after)
    made: list[JobChange] = []
    for one in parts.asked.values:
        old = get(had, one.pointer)
        old = chosen.get(one.pointer) if old is None else old
        if _is_number(old) and _is_number(one.value):
            value = round(old + share * (one.value - old), 3)
            put(plain, one.pointer, value)
            at: dict[str, Parameter] = {"pointer": one.pointer, "value": f"{value:g}"}
            made.append(told("value-partway", at))
    return Wanted(_decoded(plain, parts), made, 0)


def _is_number(value: Any) -> TypeGuard[float]:  # noqa: ANN401
    return isinstance(value, float | int) and not isinstance(value, bool)


def _value_set(asked: WantedValue) -> JobChange:
    value = asked.value
    worded = value if isinstance(value, str) else msgspec.json.encode(value).decode()
    return told("value-set", {"pointer": asked.pointer, "value": worded}, wanted=True)


def _with_values(job: FitOutRequest, parts: Parts) -> FitOutRequest:
    plain: Any = plain_data(job)
    faults = Faults()
    for index, one in enumerate(parts.asked.values):
        try:
            put(plain, one.pointer, one.value)
        except LookupError:
            at = f"/values/{index}/pointer"
            faults.add(at, "place-not-in-job", place=one.pointer)
    faults.raise_any()
    return _decoded(plain, parts)


def _decoded(plain: Any, parts: Parts) -> FitOutRequest:  # noqa: ANN401
    """The job of plain data; what does not fit is a fault of the value that the caller wants."""
    try:
        return decode_strict(encode(plain), FitOutRequest)
    except MalformedBody as error:
        found = [
            Fault(_asked_at(parts, f.pointer, f.code), Text(f.message, f.code, f.parameters))
            for f in error.faults
        ]
        raise ContradictionError(found) from None
    except NonFiniteError as error:
        fault = Fault(_asked_at(parts, error.pointer), sentence("no-finite-number"))
        raise ContradictionError([fault]) from None


def _asked_at(parts: Parts, pointer: str, code: str = "") -> str:
    """Where the caller asked for the value at a place of the job, or for a place that is none."""
    for index, one in enumerate(parts.asked.values):
        if code.startswith("unknown-field") and lies_within(one.pointer, pointer):
            return f"/values/{index}/pointer"
        if lies_within(pointer, one.pointer) or lies_within(one.pointer, pointer):
            return f"/values/{index}/value"
    return f"/job{pointer}"


def _refuse_changed_parts(standing: TriedJob, after: FitOutRequest, parts: Parts) -> None:
    """Refuse values that change what is fixed."""
    faults, before = Faults(), standing.job
    places = {place.name: place for place in after.placements}
    held = {kind.name: kind.mounting for kind in after.panel_types}
    fixed = parts.fixed_panels(before)
    for place in before.placements:
        if place.name in fixed and places.get(place.name) != place:
            _refuse(faults, parts, "/placements", place.name)
    for kind in before.panel_types:
        own = [place for place in before.placements if place.panel_type == kind.name]
        new = held.get(kind.name)
        if not all(new is not None and parts.keeps_fixed(before, place, new) for place in own):
            _refuse(faults, parts, "/panel_types", kind.name)
    for controller in before.controllers:
        if parts.is_fixed("controller", controller.name) and controller not in after.controllers:
            _refuse(faults, parts, "/controllers", controller.name)
    old, new = plain_data(before), plain_data(after)
    for pointer, part in _fixed_values(standing.answer, parts):
        if get(old, pointer) != get(new, pointer):
            _refuse(faults, parts, pointer, part)
    faults.raise_any()


def _fixed_values(answer: FitOutAnswer, parts: Parts) -> Iterator[tuple[str, str]]:
    """Where the job says what is fixed; of cables metal, and lengths of kinds that all lie."""
    for part, pointers in _FIXED_AT.items():
        if parts.is_fixed(part):
            yield from ((pointer, part) for pointer in pointers)
    lines = [(line.kind, line.line) for line in answer.wire_schedule]
    lying = [one for one in lines if parts.is_fixed("cables", one[1])]
    if lying:
        yield "/cables/conductor", lying[0][1]
    for kind, pointer in _LENGTHS.items():
        own = [one for one in lines if one[0] == kind]
        if own and all(one in lying for one in own):
            yield pointer, own[0][1]


_LENGTHS: dict[LineKind, str] = {
    "pv-output": "/cables/entry_to_controller_m",
    "controller-to-battery": "/cables/controller_to_battery_m",
    "bus-to-battery": "/cables/bus_to_battery_m",
}
"""Where the job says how long the cables of a kind are."""


_FIXED_AT: dict[WorkPart, tuple[str, ...]] = {
    "battery": ("/battery",),
    "cables": ("/drawn", "/cables/conductor_at_hand", "/cables/in_work"),
    "battery-fuse": ("/battery_fuse",),
    "string-fuses": ("/connectors/string_fuse_a",),
    "plugs": ("/connectors/plug_current_a", "/connectors/branch_current_a"),
    "glands": ("/cables/gland_at_hand",),
    "entry": ("/roof/cable_entry",),
}
"""Where the job says what may not change once it is fixed."""


def _refuse(faults: Faults, parts: Parts, within: str, name: str) -> None:
    at = parts.wanted_at(within)
    faults.add(f"/values/{at}/pointer", "part-is-fixed", part=name)


def _without_lost(job: FitOutRequest, parts: Parts) -> tuple[FitOutRequest, list[JobChange]]:
    """The job without what is not available."""
    lost = [p.name for p in job.placements if parts.state("panel", p.name) == "unavailable"]
    gone = [c.name for c in job.controllers if parts.state("controller", c.name) == "unavailable"]
    faults = Faults()
    faults.add_if(len(lost) == len(job.placements) > 0, "/parts", "no-panel-left")
    faults.add_if(len(gone) == len(job.controllers), "/parts", "no-controller-left")
    _refuse_unreplaced(job, parts, faults)
    faults.raise_any()
    for name in lost:
        job = without_panel(job, name)
    made = [told("controller-lost", {"controller": name}, wanted=True) for name in gone]
    job = replace(
        job,
        controllers=[one for one in job.controllers if one.name not in gone],
        drawn=[one for one in job.drawn if one.controller not in gone],
    )
    for part, free in AT_HAND.items():
        at_hand = free.at_hand(job)
        if at_hand is not None and parts.state(part) == "unavailable":
            job = free.freed(job)
            made.append(told(free.code, at_hand, wanted=True))
    return job, made


def _without_named(
    job: FitOutRequest, answer: FitOutAnswer, parts: Parts
) -> tuple[FitOutRequest, list[JobChange]]:
    """The job without single cables, fuses and feet that are not available."""
    named = [one for one in parts.asked.parts if one.name and one.state == "unavailable"]
    own = Parts(replace(parts.asked, parts=named))
    changed = with_lines(job, answer, own, ("unavailable",))
    made = list(lost_sizes(job, changed, answer))
    feet: dict[str, list[int]] = {}
    for one in named:
        if one.part == "feet" and one.name and one.number:
            feet.setdefault(one.name, []).append(one.number)
    placed = {place.name for place in job.placements}
    for panel, numbers in feet.items():
        if panel in placed:
            changed = without_feet(changed, panel, numbers)
            told_feet = ", ".join(map(str, sorted(numbers)))
            made.append(told("feet-lost", {"panel": panel, "named": told_feet}, wanted=True))
    return changed, made


def _refuse_unreplaced(job: FitOutRequest, parts: Parts, faults: Faults) -> None:
    """Refuse that something is not available where nothing says what takes its place."""
    for index, one in enumerate(parts.asked.parts):
        by_name = one.part in ("cables", "fuse") and one.name
        if one.state != "unavailable" or one.part in ("panel", "controller") or by_name:
            continue
        if one.number is not None:
            continue
        if one.part in AT_HAND and AT_HAND[one.part].at_hand(job) is not None:
            continue
        kinds = [kind.name for kind in job.panel_types]
        at = kinds.index(one.name) if one.name in kinds else 0
        place = _REPLACED_AT[one.part].format(at=at)
        faults.add_if(
            parts.wanted_at(place) is None,
            f"/parts/{index}/state",
            "say-what-replaces",
            place=place,
        )


_REPLACED_AT: dict[WorkPart, str] = {
    "feet": "/panel_types/{at}/mounting",
    "battery": "/battery",
    "plugs": "/connectors",
    "fuse": "/fuses_in_work",
    "entry": "/roof/cable_entry",
    **{part: free.pointer for part, free in AT_HAND.items()},
}


def _with_added(job: FitOutRequest, parts: Parts, left_out: int) -> tuple[FitOutRequest, int]:
    """The job with the panels added, as many as find a place; those beside stay if they can."""
    wanted: Counter[str] = Counter()
    for added in parts.asked.add_panels:
        wanted[added.panel_type] += added.number
    if not wanted:
        return job, 0
    known = {kind.name for kind in job.panel_types}
    kinds = [kind for kind in parts.asked.job.panel_types if kind.name not in known]
    whole = replace(job, panel_types=[*job.panel_types, *kinds], drawn=[])
    names = [place.name for place in job.placements]
    fixed = parts.fixed_panels(job)
    too_many = len(names) + wanted.total() - MOST_PANELS
    for missing in range(max(left_out, too_many), wanted.total()):
        fewer = _fewer(wanted, missing)
        for kept in (names, fixed):
            again = Counter(p.panel_type for p in job.placements if p.name not in kept)
            found = with_more(whole, kept, fewer + again)
            if found is not None:
                return found, missing
    return job, wanted.total()


def _fewer(wanted: Counter[str], missing: int) -> Counter[str]:
    """The wanted panels without some, the last first."""
    flat = list(wanted.elements())
    return Counter(flat[: len(flat) - missing])
