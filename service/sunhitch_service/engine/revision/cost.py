"""What a change costs beyond the job as it stood."""

from collections.abc import Iterable

from msgspec.structs import replace

from sunhitch.texts import statement
from sunhitch.types.fitout import FitOutAnswer
from sunhitch.types.parts import Part, PartKind, merged
from sunhitch.types.revision import ChangeCost, WorkPart
from sunhitch.types.work import WorkConditions

from .mounting import first_name
from .part_states import Parts

_LEAST_AMOUNT = 1e-6
_IN_WORK: dict[PartKind, WorkPart] = {
    "panel": "panel",
    "controller": "controller",
    "foot": "feet",
    "adhesive": "feet",
    "fastener": "feet",
    "sealing-washer": "feet",
    "lock-nut": "feet",
    "rail": "feet",
    "panel-clamp": "feet",
    "rail-support": "feet",
    "spacer-sheet": "feet",
    "pv-cable": "cables",
    "battery-cable": "cables",
    "extension-lead": "cables",
    "crimp-lug": "cables",
    "plug-pair": "plugs",
    "branch-connector": "plugs",
    "string-fuse-holder": "string-fuses",
    "cable-gland": "glands",
    "entry-housing": "entry",
    "fuse": "fuse",
}
"""Which state says how far parts of a kind are; all others are planned."""


def parts_changed(before: FitOutAnswer, after: FitOutAnswer) -> tuple[list[Part], list[Part]]:
    """What is to be bought beyond before, and what no longer is."""
    had, needed = _by_panel(before.parts_list), _by_panel(after.parts_list)
    return _beyond(had, needed), _beyond(needed, had)


def _by_panel(parts: Iterable[Part]) -> list[Part]:
    """Panels that are held otherwise are bought as what they are."""
    return merged(
        replace(
            part,
            key=first_name(part.key),
            name=statement("panel-of-type", panel_type=first_name(part.given_name)),
            given_name=first_name(part.given_name),
        )
        if part.kind == "panel" and part.key != first_name(part.key)
        else part
        for part in parts
    )


def _beyond(have: list[Part], need: list[Part]) -> list[Part]:
    """Parts that are needed beyond those that there are, with what needs those."""
    known = {part.key: part for part in have}
    more: list[Part] = []
    for part in need:
        old = known.get(part.key)
        amount = part.to_buy - (old.to_buy if old else 0.0)
        if amount > _LEAST_AMOUNT:
            new = [name for name in part.needed_for if not old or name not in old.needed_for]
            needed_for = new or part.needed_for
            more.append(replace(part, amount=amount, at_hand=0.0, needed_for=needed_for))
    return more


def change_cost(
    before: FitOutAnswer,
    after: FitOutAnswer,
    added: Iterable[Part],
    spared: Iterable[Part],
    parts: Parts,
) -> ChangeCost:
    """Hours and money of a change, by the rates and prices of the job after it.

    Parameters
    ----------
    before, after : FitOutAnswer
        The job as it stood, and as it is to be.
    added, spared : iterable of Part
        What is to be bought beyond before, and what no longer is.
    parts : Parts
        What is owned, fixed or broken is not saved.
    """
    given: WorkConditions = parts.asked.job.work
    bought = list(added)
    unbought = [one for part in spared if (one := _still_planned(part, parts)) is not None]
    hours = round(after.work_cost.hours - before.work_cost.hours, 2)
    labour = None if given.labour_per_hour is None else given.labour_per_hour * hours
    more, less = _price(bought), _price(unbought)
    return ChangeCost(
        hours=hours,
        currency=given.currency,
        labour=labour,
        parts_added=more,
        parts_spared=less,
        total=None if labour is None or more is None or less is None else labour + more - less,
        without_price=[part.key for part in [*bought, *unbought] if part.price is None],
    )


def _price(parts: Iterable[Part]) -> float | None:
    total = 0.0
    for part in parts:
        if part.price is None:
            return None
        total += part.price * part.amount
    return total


def _still_planned(part: Part, parts: Parts) -> Part | None:
    """As much of a part as is neither bought nor built in; none where all of it is."""
    state = _IN_WORK.get(part.kind)
    if state is None:
        return part
    named = state in ("panel", "controller", "feet", "cables", "fuse") and part.needed_for
    names: list[str | None] = [*part.needed_for] if named else [None]
    planned = sum(parts.state(state, name) == "planned" for name in names)
    amount = part.amount * planned / len(names)
    return replace(part, amount=amount) if amount > 0.0 else None
