"""The job without panels, feet and controllers that are not available."""

import re
from collections import Counter
from collections.abc import Sequence

from msgspec.structs import replace

from sunhitch.codec import encode
from sunhitch.types.fitout import (
    MOST_PANEL_TYPES,
    FitOutPanelType,
    FitOutRequest,
    PartInWork,
    WorkPart,
)
from sunhitch.types.mount import AdhesiveFeet, FastenedFeet
from sunhitch.types.roof import PlacedPanel
from sunhitch_service.engine.errors import Faults, Named

from .part_states import PartStates, feet_of, kind_of

_OTHERWISE = " held otherwise"
"""Behind the name of a type beside another of the same panels, some of which are fixed already."""
_APART = re.compile(_OTHERWISE + "(?: [0-9]+)?$")
_LONGEST_NAME = 60
"""Of a type, so that what is added fits a name."""


def first_name(name: str) -> str:
    """Name of a type of panel without what tells that it is held otherwise."""
    return _APART.sub("", name)


_FIELDS: dict[WorkPart, tuple[str, ...]] = {
    "panel": ("name",),
    "foot": ("name", "number"),
    "controller": ("name",),
    "cable": ("name", "line", "size", "length_m"),
    "fuse": ("name", "line", "rating_a", "family"),
    "disconnect": ("name", "line", "rating_a"),
    "plug": ("name", "line", "rating_a"),
    "branch-connector": ("name", "line", "rating_a"),
    "gland": ("name", "line", "gland"),
}
"""What may be said of a part beside its state."""
REPLACED_AT: dict[WorkPart, str] = {
    "foot": "/panel_types/{kind}/mounting",
    "battery": "/battery",
    "entry": "/roof/cable_entry",
}
"""Where a job says what takes the place of a part that it cannot do without."""


def refuse_fields(job: FitOutRequest) -> None:
    """Refuse what is said twice, or with what belongs to another kind of part.

    Raises
    ------
    ContradictionError
        At every such entry.
    """
    faults, seen = Faults(), dict[bytes, int]()
    for index, one in enumerate(job.parts):
        own = _FIELDS.get(one.part, ())
        for field in PartInWork.__struct_fields__[2:]:
            other = getattr(one, field) is not None and field not in own
            faults.add_if(other, f"/parts/{index}/{field}", "part-has-no", part=one.part)
        first = seen.setdefault(encode(replace(one, state="planned")), index)
        name, earlier = one.name or one.part, f"/parts/{first}/name"
        twice = first != index
        faults.add_if(twice, f"/parts/{index}/name", "name-given-twice", name=name, earlier=earlier)
    faults.raise_any()


def refuse_parts(job: FitOutRequest) -> None:
    """Refuse states of panels, feet and controllers that there are not; lines are known later.

    Parameters
    ----------
    job : FitOutRequest
        Every panel placed.

    Raises
    ------
    ContradictionError
        With the names that there are.
    """
    faults, places = Faults(), {place.name: place for place in job.placements}
    known: dict[WorkPart, list[str]] = {
        "panel": [*places],
        "foot": [*(kind.name for kind in job.panel_types), *places],
        "controller": [controller.name for controller in job.controllers],
    }
    for index, one in enumerate(job.parts):
        if one.name is not None and one.part in known:
            faults.known([Named(f"/parts/{index}/name", one.name)], known[one.part], one.part)
        if one.number is not None:
            place = places.get(one.name or "")
            there = len(feet_of(kind_of(job, place).mounting)) if place else 0
            faults.add_if(one.number > there, f"/parts/{index}/number", "no-such-foot", feet=there)
    faults.raise_any()


def replaced_at(job: FitOutRequest, one: PartInWork) -> str | None:
    """Where the job says what takes the place of a part that is gone; None where it goes without.

    Single feet and parts in lines have others beside them, or other sizes.
    """
    if one.state != "unavailable" or one.part not in REPLACED_AT or one.number is not None:
        return None
    kinds = [kind.name for kind in job.panel_types]
    name = {place.name: place.panel_type for place in job.placements}.get(one.name or "", one.name)
    return REPLACED_AT[one.part].format(kind=kinds.index(name) if name in kinds else 0)


def without_lost(job: FitOutRequest) -> FitOutRequest:
    """The job without panels, feet and controllers that are not available.

    Parameters
    ----------
    job : FitOutRequest
        Every panel placed.

    Raises
    ------
    ContradictionError
        Where nothing is left, or nothing says what takes the place of a part.
    """
    states, faults = PartStates(job.parts), Faults()
    lost = [p.name for p in job.placements if states.state("panel", p.name) == "unavailable"]
    gone = [c.name for c in job.controllers if states.state("controller", c.name) == "unavailable"]
    faults.add_if(len(lost) == len(job.placements), "/parts", "no-panel-left")
    faults.add_if(len(gone) == len(job.controllers), "/parts", "no-controller-left")
    for index, one in enumerate(job.parts):
        where = replaced_at(job, one)
        if where is not None:
            faults.add(f"/parts/{index}/state", "say-what-replaces", place=where)
    feet = lost_feet(job, states)
    for place in job.placements:
        if len(feet.get(place.name, [])) == max(1, len(feet_of(kind_of(job, place).mounting))):
            at = [kind.name for kind in job.panel_types].index(place.panel_type)
            where = REPLACED_AT["foot"].format(kind=at)
            faults.add("/parts", "say-what-replaces", place=where)
    faults.raise_any()
    job = on_roof(job, [place for place in job.placements if place.name not in lost])
    for panel, numbers in feet.items():
        job = without_feet(job, panel, numbers)
    return replace(
        job,
        controllers=[one for one in job.controllers if one.name not in gone],
        drawn=[one for one in job.drawn if one.controller not in gone],
        parts=[_renumbered(one, feet) for one in job.parts],
    )


def lost_feet(job: FitOutRequest, states: PartStates) -> dict[str, list[int]]:
    """Single feet that are not available, of each panel that is there."""
    found = {
        place.name: [
            number
            for number, _ in enumerate(feet_of(kind_of(job, place).mounting), start=1)
            if states.state("foot", place.name, number) == "unavailable"
        ]
        for place in job.placements
        if states.state("panel", place.name) != "unavailable"
    }
    return {name: numbers for name, numbers in found.items() if numbers}


def _renumbered(one: PartInWork, lost: dict[str, list[int]]) -> PartInWork:
    """A foot by its number among those that are left; nothing is said of one that is gone."""
    gone = lost.get(one.name or "", [])
    if one.number is None or not gone:
        return one
    if one.number in gone:
        return replace(one, state="planned")
    return replace(one, number=one.number - sum(number < one.number for number in gone))


def known_name(name: str, known: Sequence[str]) -> str:
    """A type by the name that the caller knows it by, some of its panels held otherwise."""
    return name if name in known else next(n for n in known if n.startswith(first_name(name)))


def on_roof(job: FitOutRequest, placements: Sequence[PlacedPanel]) -> FitOutRequest:
    """The job with other placements; wiring as drawn and numbers follow."""
    numbers = Counter(place.panel_type for place in placements)
    names = {place.name for place in placements}
    drawn = [
        replace(
            array,
            strings=[
                kept
                for string in array.strings
                if (kept := [panel for panel in string if panel in names])
            ],
        )
        for array in job.drawn
    ]
    return replace(
        job,
        placements=list(placements),
        panel_types=[
            replace(kind, panels_wanted=kind.panels_wanted and numbers[kind.name])
            for kind in job.panel_types
            if numbers[kind.name]
        ],
        drawn=[array for array in drawn if array.strings],
    )


def without_feet(job: FitOutRequest, panel: str, numbers: Sequence[int]) -> FitOutRequest:
    """The job with a panel that lacks feet of such numbers, its type beside that of the others."""
    kind = kind_of(job, next(one for one in job.placements if one.name == panel))
    held = kind.mounting
    if not isinstance(held, AdhesiveFeet | FastenedFeet):
        return job
    feet = [foot for number, foot in enumerate(held.feet, start=1) if number not in numbers]
    others = [one.name for one in job.placements if one.name != panel]
    return retyped(job, kind, replace(kind, mounting=replace(held, feet=feet)), others)


def retyped(
    job: FitOutRequest, kind: FitOutPanelType, new: FitOutPanelType, fixed: Sequence[str]
) -> FitOutRequest:
    """The new type in place of the old, or beside it where panels of the old one are fixed."""
    staying = [one for one in job.placements if one.panel_type == kind.name and one.name in fixed]
    if not staying:
        kinds = [new if one.name == kind.name else one for one in job.panel_types]
        return replace(job, panel_types=kinds)
    if len(job.panel_types) == MOST_PANEL_TYPES:
        return job
    free = sum(one.panel_type == kind.name for one in job.placements) - len(staying)
    taken = {one.name for one in job.panel_types}
    base = first_name(kind.name)[:_LONGEST_NAME]
    names = (f"{base}{_OTHERWISE}{number}" for number in ("", *(f" {i}" for i in range(2, 99))))
    new = replace(
        new,
        name=next(one for one in names if one not in taken),
        panels_wanted=kind.panels_wanted and free,
    )
    old = replace(kind, panels_wanted=kind.panels_wanted and len(staying))
    kinds = [old if one.name == kind.name else one for one in job.panel_types]
    placed = [
        replace(one, panel_type=new.name)
        if one.panel_type == kind.name and one.name not in fixed
        else one
        for one in job.placements
    ]
    return replace(job, panel_types=[*kinds, new], placements=placed)
