"""What a change costs beyond the job as it stood."""

from collections.abc import Iterable, Sequence

from msgspec.structs import replace

from sunhitch.texts import statement
from sunhitch.types.fitout import FitOutAnswer, FitOutPanelType, WorkPart
from sunhitch.types.panel import Panel
from sunhitch.types.parts import Part, merged
from sunhitch.types.revision import ChangeCost, FitOutChangeRequest
from sunhitch.types.work import WorkConditions
from sunhitch_service.engine.fitout.lost import first_name
from sunhitch_service.engine.fitout.parts import IN_WORK

from .search import TriedJob

_LEAST_AMOUNT = 1e-6


def parts_changed(before: TriedJob, after: TriedJob) -> tuple[list[Part], list[Part]]:
    """What is to be bought beyond before, and what no longer is."""
    kinds = [*before.job.panel_types, *after.job.panel_types]
    had, needed = (_by_panel(one.answer.parts_list, kinds) for one in (before, after))
    return _beyond(had, needed), _beyond(needed, had)


def _by_panel(parts: Iterable[Part], kinds: Sequence[FitOutPanelType]) -> list[Part]:
    """Panels that are held otherwise are bought as what they are."""
    panels = {kind.name: kind.panel for kind in kinds}
    return merged(_as_first(part, panels) if part.kind == "panel" else part for part in parts)


def _as_first(part: Part, panels: dict[str, Panel]) -> Part:
    """A panel by the type that its own was made beside, if that is the same panel."""
    own, first = part.given_name, first_name(part.given_name)
    if own == first or panels.get(own) != panels.get(first):
        return part
    name = statement("panel-of-type", panel_type=first)
    key = part.key.replace(f":{own}:", f":{first}:", 1)
    return replace(part, key=key, name=name, given_name=first)


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
    before: TriedJob,
    after: FitOutAnswer,
    added: Iterable[Part],
    spared: Iterable[Part],
    request: FitOutChangeRequest,
) -> ChangeCost:
    """Hours and money of a change, by the rates and prices of the job after it.

    Parameters
    ----------
    before : TriedJob
        The job as it stood, and what of it is gone: paid for, and not saved.
    after : FitOutAnswer
        As it is to be.
    added, spared : iterable of Part
        What is to be bought beyond before, and what no longer is.
    request : FitOutChangeRequest
        With rates and prices.
    """
    given: WorkConditions = request.job.work
    lost = _lost_names(before)
    bought = list(added)
    unbought = [one for part in spared if (one := _still_planned(part, lost)) is not None]
    hours = round(after.work_cost.hours - before.answer.work_cost.hours, 2)
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


def _lost_names(before: TriedJob) -> set[tuple[WorkPart, str | None]]:
    """Parts that are gone, those in lines by the numbers of the schedules."""
    lines = {(line.kind, line.device): line.line for line in before.answer.wire_schedule}
    lost: set[tuple[WorkPart, str | None]] = set()
    for one in before.news:
        number = lines.get((one.line, one.name or "")) if one.line else one.name
        lost.add((one.part, number))
        fuses = before.answer.protection_schedule if one.part == "fuse" else []
        lost |= {("fuse", fuse.device) for fuse in fuses if number == fuse.protects}
    return lost


def _still_planned(part: Part, lost: set[tuple[WorkPart, str | None]]) -> Part | None:
    """As much of a part as is not gone; none where all of it is."""
    kind = IN_WORK.get(part.kind)
    if kind is None or not part.needed_for:
        return part
    there = sum(not {(kind, name), (kind, None)} & lost for name in part.needed_for)
    amount = part.amount * there / len(part.needed_for)
    return replace(part, amount=amount) if amount > 0.0 else None
