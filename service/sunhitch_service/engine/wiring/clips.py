"""What it would bring to hold a cable off the hot skin of a roof."""

import msgspec

from sunhitch.types.wiring import LadderResult, Run, WiringNote
from sunhitch_service.engine.rules.families import edition_of
from sunhitch_service.engine.tables import table

from .case import Case
from .correction import roof_clearance_m
from .device import Device
from .ladder_case import ladder_case
from .search import search

_BY_HEAT = frozenset({"ampacity-corrected", "ambient-in-table"})


def clips(case: Case, device: Device, own: LadderResult) -> list[WiringNote]:
    """Advice to use clips, where the heat of the roof's skin asks for a larger size.

    Parameters
    ----------
    case : Case
        Resolved request.
    device : Device
        Overcurrent device.
    own : LadderResult
        Result in the ladder of the rules.

    Returns
    -------
    list of WiringNote
        One with the size that would do off the roof, or none.
    """
    words = "" if _BY_HEAT.isdisjoint(own.governing.split(", ")) else clip_words(case)
    if not words:
        return []
    lifted = msgspec.structs.replace(case, runs=[_lifted(case, run) for run in case.runs])
    found = search(ladder_case(lifted, device, own.ladder, None)).chosen
    if found is None or (own.chosen is not None and found.area_mm2 >= own.chosen.area_mm2):
        return []
    instead = f" instead of {own.chosen.size}" if own.chosen else ""
    text = f"{words}: {found.size} would then do{instead}."
    return [WiringNote(topic="workmanship", text=text, basis=table("wiring", "nec_rooftop").basis)]


def clip_words(case: Case) -> str:
    """How to escape the addition for cables close to a roof; empty where there is none to escape.

    IEC rules count the air behind panels as 70 °C whatever the height.
    """
    if case.family == "iec" or not any(_on_skin(case, run) for run in case.runs):
        return ""
    rooftop = table("wiring", "nec_rooftop").row("rules", edition_of(case.request.rules))
    return (
        f"Clips that hold the cable {_clearance_m(case) * 1000:.0f} mm or more above the roof take "
        f"away the {rooftop['add_c']} K that its skin adds"
    )


def _clearance_m(case: Case) -> float:
    return roof_clearance_m(edition_of(case.request.rules))


def _on_skin(case: Case, run: Run) -> bool:
    return run.where == "on-roof" and (run.height_above_roof_m or 0.0) < _clearance_m(case)


def _lifted(case: Case, run: Run) -> Run:
    if not _on_skin(case, run):
        return run
    return msgspec.structs.replace(run, height_above_roof_m=_clearance_m(case))
