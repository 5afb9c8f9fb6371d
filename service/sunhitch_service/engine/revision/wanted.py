"""The job with what its caller wants to be different."""

from collections import Counter
from collections.abc import Container, Iterator
from dataclasses import dataclass
from typing import Any, TypeGuard

import msgspec
from msgspec.structs import replace

from sunhitch.codec import MalformedBody, NonFiniteError, decode_strict, encode, plain_data
from sunhitch.pointers import get, put
from sunhitch.texts import Text, sentence
from sunhitch.texts.templates import Parameter
from sunhitch.types.fitout import FitOutRequest, LineKind, PartInWork, WorkPart
from sunhitch.types.revision import JobChange, WantedValue
from sunhitch_service.engine.errors import ContradictionError, Fault, Faults
from sunhitch_service.engine.fitout.in_work import SITS_IN
from sunhitch_service.engine.fitout.lost import lost_feet, replaced_at, without_lost
from sunhitch_service.engine.fitout.part_states import PartStates
from sunhitch_service.engine.fitout.placement import MOST_PANELS

from .changes import told
from .fixed_parts import lost_in_lines
from .part_states import Parts, lies_within, value_place, within_job
from .placing import with_more
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
    changed = _with_values(before.job, parts)
    _refuse_changed_parts(before, changed, parts)
    made = [
        _value_set(value)
        for value in parts.asked.values
        if not value.pointer.startswith("/placements/")
    ]
    changed, lost = _without_lost(changed, before, parts)
    changed, left_out = _with_added(changed, parts, left_out)
    return Wanted(changed, [*made, *lost], left_out)


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
        at = f"/values/{index}/pointer"
        said = lies_within(one.pointer, "/parts") and one.pointer != "/parts/-"
        faults.add_if(said, at, "say-in-parts")
        try:
            put(plain, one.pointer, one.value)
        except LookupError:
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
        fault = Fault(_asked_at(parts, error.pointer), sentence("not-finite"))
        raise ContradictionError([fault]) from None


def _asked_at(parts: Parts, pointer: str, code: str = "") -> str:
    """Where the caller asked for the value at a place of the job, or for a place that is none."""
    for index, one in enumerate(parts.asked.values):
        if code.startswith("unknown-field") and lies_within(one.pointer, pointer):
            return f"/values/{index}/pointer"
        place = value_place(one)
        if lies_within(pointer, place) or lies_within(place, pointer):
            return f"/values/{index}/value"
    return f"/job{pointer}"


def _refuse_changed_parts(standing: TriedJob, after: FitOutRequest, parts: Parts) -> None:
    """Refuse values that change what is fixed."""
    faults, before, states = Faults(), standing.job, parts.states
    places = {place.name: place for place in after.placements}
    held = {kind.name: kind.mounting for kind in after.panel_types}
    fixed = states.fixed_panels(before)
    for place in before.placements:
        if place.name in fixed and places.get(place.name) != place:
            _refuse(faults, parts, "/placements", place.name)
    for kind in before.panel_types:
        own = [place for place in before.placements if place.panel_type == kind.name]
        new = held.get(kind.name)
        if not all(new is not None and states.keeps_fixed(before, place, new) for place in own):
            _refuse(faults, parts, "/panel_types", kind.name)
    for controller in before.controllers:
        if parts.is_fixed("controller", controller.name) and controller not in after.controllers:
            _refuse(faults, parts, "/controllers", controller.name)
    old, new = plain_data(before), plain_data(after)
    for pointer, part in _fixed_values(standing, parts):
        if get(old, pointer) != get(new, pointer):
            _refuse(faults, parts, pointer, part)
    faults.raise_any()


def _fixed_values(standing: TriedJob, parts: Parts) -> Iterator[tuple[str, str]]:
    """Where the job says what is fixed; of cables metal, and lengths of kinds that all lie."""
    for part, line, pointer in _FIXED_AT:
        if parts.is_fixed(part, line=line):
            yield pointer, part
    lying = {(line.kind, line.line): standing.lies(line) for line in standing.answer.wire_schedule}
    for (_, number), lies in lying.items():
        if lies:
            yield "/cables/conductor", number
            break
    for kind, pointer in _LENGTHS.items():
        own = [(number, lies) for (k, number), lies in lying.items() if k == kind]
        if own and all(lies for _, lies in own):
            yield pointer, own[0][0]


_LENGTHS: dict[LineKind, str] = {
    "pv-output": "/cables/entry_to_controller_m",
    "controller-to-battery": "/cables/controller_to_battery_m",
    "bus-to-battery": "/cables/bus_to_battery_m",
}
"""Where the job says how long the cables of a kind are."""


_FIXED_AT: tuple[tuple[WorkPart, LineKind | None, str], ...] = (
    ("battery", None, "/battery"),
    ("cable", None, "/drawn"),
    ("plug", None, "/connectors/plug_current_a"),
    ("branch-connector", None, "/connectors/branch_current_a"),
    ("entry", None, "/roof/cable_entry"),
)
"""Where the job says what may not change once all of a kind are fixed."""


def _refuse(faults: Faults, parts: Parts, within: str, name: str) -> None:
    at = parts.wanted_at(within)
    faults.add(f"/values/{at}/pointer", "part-is-fixed", part=name)


def _without_lost(
    job: FitOutRequest, before: TriedJob, parts: Parts
) -> tuple[FitOutRequest, list[JobChange]]:
    """The job without what is not available, and without its states."""
    news = [one for one in before.news if not _is_replaced(job, one, parts)]
    job = replace(job, parts=[*job.parts, *news])
    with within_job():
        changed = without_lost(job)
    names = [one.name for one in changed.controllers]
    gone = [one.name for one in job.controllers if one.name not in names]
    made = [told("controller-lost", {"controller": name}, wanted=True) for name in gone]
    made += lost_in_lines(news, before.answer)
    for panel, numbers in lost_feet(job, PartStates(job.parts)).items():
        named = ", ".join(map(str, numbers))
        made.append(told("feet-lost", {"panel": panel, "named": named}, wanted=True))
    there = {*names, *(p.name for p in changed.placements), *(k.name for k in job.panel_types)}
    left = [one for one in changed.parts if one.part in SITS_IN or _is_left(one, there)]
    return replace(changed, parts=left), made


def _is_left(one: PartInWork, there: Container[str | None]) -> bool:
    """Whether anything is said of a panel, a foot or a controller that is there."""
    return one.state in ("fixed", "owned") and (one.name is None or one.name in there)


def _is_replaced(job: FitOutRequest, one: PartInWork, parts: Parts) -> bool:
    """Whether the caller says what takes the place of a part that is gone."""
    place = replaced_at(job, one)
    return place is not None and parts.wanted_at(place) is not None


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
    fixed = parts.states.fixed_panels(job)
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
