"""What to change when a conductor fails a rule, and what it would bring to lift it off a roof."""

import math

import msgspec

from sunhitch.texts import statement
from sunhitch.texts.templates import Parameter
from sunhitch.types.wiring import LadderResult, RuleOutcome, Run, SizeResult, WiringNote
from sunhitch_service.engine.rules.families import edition_of
from sunhitch_service.engine.tables import table

from .case import Case
from .correction import roof_clearance_m
from .device import Device
from .search import ladder_case, search
from .voltage_drop import longest_m

Remedy = tuple[tuple[str, ...], dict[str, Parameter]]
"""Names of the sentences, and the figures that they tell."""


def remedy(case: Case, outcome: RuleOutcome, size: SizeResult) -> Remedy:
    """What to change when a size fails a rule.

    Parameters
    ----------
    case : Case
        Resolved request.
    outcome : RuleOutcome
        Rule with demand and capacity.
    size : SizeResult
        Size that it was applied to.

    Returns
    -------
    tuple
        Names of one or more remedies of the rule, and their parameters.
    """
    code, need, clips = outcome.code, outcome.demand, clip_words(case)
    lifted = ("clips",) if clips else ()
    if code == "voltage-drop":
        return _drop(case, outcome, size)
    nowhere = outcome.capacity <= 0.0
    if nowhere and code in ("ampacity-corrected", "device-protects-conductor"):
        return ("none",), {}
    hotter = "boat" if case.family == "us-33-cfr-183" else "hotter"
    told: dict[str, Remedy] = {
        "ambient-in-table": (
            (hotter, *lifted),
            {"air_c": need, "table_c": outcome.capacity, "clips": clips},
        ),
        "ampacity-corrected": (("more", *lifted, "split"), {"wanted_a": need, "clips": clips}),
        "smallest-size": (("",), {"wanted_mm2": need}),
        "equivalent-area": (("",), {"wanted_mm2": need}),
        "overcurrent-protection": (
            ("none" if nowhere else "",),
            {
                "lasting_a": need,
                "largest_device_a": size.largest_device_a,
                "from_end": statement("whole-build"),
            },
        ),
        "small-conductor": (("", "split"), {"device_a": need}),
        "device-protects-conductor": (("", "split"), {"device_a": need}),
    }
    return told.get(code, (("", "split"), {"wanted_a": need}))


def _drop(case: Case, outcome: RuleOutcome, size: SizeResult) -> Remedy:
    current = size.drop_v / size.loop_resistance_ohm if size.loop_resistance_ohm else 0.0
    chassis_v = (case.chassis_ohm or 0.0) * current
    room = outcome.capacity - chassis_v
    if room <= 0.0:
        return ("chassis",), {}
    return ("shorter",), {
        "size": size.size,
        "allowed_v": outcome.capacity,
        "reach_m": longest_m(case.request.length_m, outcome.demand, outcome.capacity, chassis_v),
        "drop_fraction": outcome.demand / case.request.voltage_v,
        "conductors": math.ceil((outcome.demand - chassis_v) / room),
    }


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
    off_skin = {"height_above_roof_m": _clearance_m(case)}
    runs = [
        msgspec.structs.replace(run, **off_skin) if _on_skin(case, run) else run
        for run in case.runs
    ]
    lifted = msgspec.structs.replace(case, runs=runs)
    found = search(ladder_case(lifted, device, own.ladder, None)).chosen
    if found is None or (own.chosen is not None and found.area_mm2 >= own.chosen.area_mm2):
        return []
    told: dict[str, Parameter] = {"clips": words, "size": found.size}
    text = (
        statement("off-the-roof-instead", other=own.chosen.size, **told)
        if own.chosen
        else statement("off-the-roof", **told)
    )
    return [
        WiringNote(
            code="off-the-roof",
            parameters={"size": found.size},
            topic="workmanship",
            text=text,
            basis=table("wiring", "nec_rooftop").basis.key,
        )
    ]


def clip_words(case: Case) -> str:
    """How to escape the addition for cables close to a roof; empty where there is none to escape.

    IEC rules count the air behind panels as 70 °C whatever the height.
    """
    if case.family == "iec" or not any(_on_skin(case, run) for run in case.runs):
        return ""
    rooftop = table("wiring", "nec_rooftop").row("rules", edition_of(case.request.rules))
    return statement(
        "clips-hold-cable", clearance_mm=_clearance_m(case) * 1000, added_k=rooftop["add_c"]
    )


def _clearance_m(case: Case) -> float:
    return roof_clearance_m(edition_of(case.request.rules))


def _on_skin(case: Case, run: Run) -> bool:
    return run.where == "on-roof" and (run.height_above_roof_m or 0.0) < _clearance_m(case)
