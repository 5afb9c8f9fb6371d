"""Parts of which a job says how far they are but not which: as they are planned without that."""

from collections.abc import Callable, Iterator, Sequence
from typing import Any, NamedTuple

from msgspec import convert
from msgspec.structs import replace

from sunhitch.texts import statement
from sunhitch.types.array import ControllerArray
from sunhitch.types.fitout import (
    FitOutRequest,
    LineKind,
    PartInWork,
    ProtectiveDevice,
    WireLine,
    WorkPart,
)
from sunhitch.types.wiring import ConductorSize, Disconnect, Gland
from sunhitch_service.engine.errors import Faults
from sunhitch_service.engine.rules.limits import limit

from .circuit import string_name
from .disconnects import switched
from .in_work import SITS_IN, rating_for
from .pointers import Translate, moved

_VALUE: dict[WorkPart, str] = {"cable": "size", "gland": "gland"}
"""What says which one it is; of all others their rating."""


class Schedules(NamedTuple):
    """What a plan lists: that of an answer, or of a build that grows."""

    arrays: list[ControllerArray]
    wires: list[WireLine]
    fuses: list[ProtectiveDevice]
    disconnects: list[Disconnect]
    glands: list[Gland]


class PlannedPart(NamedTuple):
    """A part in a line as it is planned."""

    part: WorkPart
    names: tuple[str, ...]
    line: LineKind
    device: str
    values: dict[str, Any]


def is_open_part(one: PartInWork) -> bool:
    """Whether only the plan can tell which one it is."""
    by_number = (one.name or "")[:1] in ("W", "F") and (one.name or "")[1:].isdecimal()
    if one.part not in SITS_IN or one.state == "planned":
        return False
    return by_number or getattr(one, _VALUE.get(one.part, "rating_a")) is None


Numbered = tuple[int, PartInWork]
"""An entry, and the place in the caller's list that it stands at or comes from."""


def with_parts(
    request: FitOutRequest, found: Sequence[Numbered]
) -> tuple[FitOutRequest, Translate]:
    """The job with such entries, and where the caller set each of them."""
    own = {f"/parts/{at}": f"/parts/{index}" for at, (index, _) in enumerate(found)}
    return replace(request, parts=[one for _, one in found]), moved(own)


def without_parts(
    request: FitOutRequest, which: Callable[[PartInWork], bool]
) -> tuple[FitOutRequest, Translate]:
    """The job without some entries, and where the caller set each of the others."""
    numbered = enumerate(request.parts)
    return with_parts(request, [(i, one) for i, one in numbered if not which(one)])


def with_values(request: FitOutRequest, plan: Schedules) -> list[Numbered]:
    """What is said of the parts of a job, with what it leaves open.

    Parameters
    ----------
    request : FitOutRequest
        Perhaps with parts by their number, or without size or rating.
    plan : Schedules
        Of the plan without these parts.

    Raises
    ------
    ContradictionError
        With the parts that there are.
    """
    planned = list(planned_parts(request, plan))
    found: list[Numbered] = []
    faults = Faults()
    for index, one in enumerate(request.parts):
        if not is_open_part(one):
            found.append((index, one))
            continue
        own = [(index, _valued(one, each)) for each in planned if _is_of(one, each)]
        there = [
            f"{each.names[0]} {each.line} {each.device}"
            for each in planned
            if each.part == one.part
        ]
        lines = ", ".join(there) or statement("nothing-else")
        faults.add_if(not own, f"/parts/{index}", "no-such-line", lines=lines)
        found += own
    faults.raise_any()
    return found


def _is_of(one: PartInWork, planned: PlannedPart) -> bool:
    here = one.part == planned.part and one.line in (None, planned.line)
    return here and one.name in (None, *planned.names)


def _valued(one: PartInWork, planned: PlannedPart) -> PartInWork:
    given = {name for name in planned.values if getattr(one, name) is not None}
    values = {name: value for name, value in planned.values.items() if name not in given}
    if one.state != "fixed":
        values.pop("length_m", None)
    return replace(one, line=planned.line, name=planned.device, **values)


def planned_parts(request: FitOutRequest, plan: Schedules) -> Iterator[PlannedPart]:
    """Every cable of a build and what sits in it, by numbers, lines and devices."""
    switches_a, plugs = _switches_a(plan), request.connectors
    for line in plan.wires:
        number, unit = line.drop_of.split(" ")
        size = {"awg": number} if unit == "AWG" else {"area_mm2": float(number)}
        values: dict[WorkPart, dict[str, Any]] = {
            "cable": {
                "size": convert(size, ConductorSize),
                "length_m": round(line.length_m, 3),
            },
            "plug": {"rating_a": plugs.plug_current_a or limit("plug-current")},
            "branch-connector": {"rating_a": plugs.branch_current_a or limit("branch-current")},
            "gland": {"gland": next((one.size for one in plan.glands), None)},
            "disconnect": {"rating_a": switches_a.get((line.kind, line.device))},
        }
        for part, own in values.items():
            here = SITS_IN[part]
            if None not in own.values() and (not here or line.kind in here):
                yield PlannedPart(part, _names(plan, line), line.kind, line.device, own)
    yield from _fuses(plan)


def _switches_a(plan: Schedules) -> dict[tuple[LineKind, str], float]:
    """Ratings of the disconnects, by the kind and device of the line that each sits in [A].

    A key tells three digits, which may be less than is needed.
    """
    kinds = switched([line.kind for line in plan.wires])
    lines = [line for line in plan.wires if line.kind in kinds]
    rated_a: dict[tuple[LineKind, str], float] = {}
    for line, one in zip(lines, plan.disconnects, strict=True):
        told_a = float(one.part_key.rpartition(":")[2].removesuffix("a"))
        least_a = max(rating_for(one.minimum_current_a), told_a)
        rated_a[line.kind, line.device] = least_a if one.at_hand_a is None else one.at_hand_a
    return rated_a


def _names(plan: Schedules, line: WireLine) -> tuple[str, ...]:
    """By which a line goes: number, ends, device, panels."""
    panels = [
        panel
        for array in plan.arrays
        for string in array.strings
        if line.device == (string.panels[0] if line.kind == "pv-string" else array.controller)
        for panel in string.panels
    ]
    return (line.line, line.start, line.end, line.device, *panels)


def _fuses(plan: Schedules) -> Iterator[PlannedPart]:
    lines = {(line.kind, line.device): line for line in plan.wires}
    at: dict[str, tuple[LineKind, str]] = {
        line.line: (line.kind, line.device) for line in plan.wires
    }
    panels: dict[tuple[LineKind, str], list[str]] = {}
    for array in plan.arrays:
        for number, string in enumerate(array.strings, start=1):
            own: tuple[LineKind, str] = "pv-string", string.panels[0]
            at[string_name(array.controller, number)] = own
            panels[own] = [array.controller, *string.panels]
        if array.removable is not None:
            at[array.removable.panels[0]] = "removable-panel", array.controller
    for fuse in plan.fuses:
        if fuse.rating_a:
            _, family, _ = fuse.part_key.split(":")
            own = at[fuse.protects]
            there = lines.get(own)
            names = (
                fuse.device,
                own[1],
                *panels.get(own, []),
                *(_names(plan, there) if there else ()),
            )
            values = {"rating_a": fuse.rating_a, "family": family}
            yield PlannedPart("fuse", names, *own, values)
