"""Fuses of strings and batteries."""

from typing import Annotated, Literal, cast

from sunhitch.types.base import Input, Output
from sunhitch.types.check import Verdict
from sunhitch.types.quantity import choice, count, prose, quantity
from sunhitch.types.wiring import FuseFamily, WiringRules
from sunhitch_service.engine.array.citations import cite
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.cautions import cautions
from sunhitch_service.engine.sources import basis
from sunhitch_service.engine.wiring.currents import CONTINUOUS
from sunhitch_service.engine.wiring.protection import (
    BATTERY_FAULT_A,
    BATTERY_FAULT_WHY,
    BatteryFuse,
    StringFuse,
    StringFuseNeed,
    battery_fuse,
    string_fuse_need,
    string_fuse_rating,
)

from .question import Assumed, Beware, Question, Remedy, Source, assumed, cited, warned

_AMPS = 100_000.0
PvRules = Literal["nec-2017", "nec-2020", "nec-2023", "iec"]


class StringFuseQuestion(Input):
    """Whether parallel strings need a fuse each, and which."""

    i_sc_a: Annotated[
        float, quantity("A", 0.01, 120.0, "Short-circuit current of one string, nameplate.", 6.4)
    ]
    strings_in_parallel: Annotated[int, count(1, 60, "Strings in parallel.", 3)]
    max_series_fuse_a: (
        Annotated[
            float, quantity("A", 0.1, 200.0, "Largest series fuse that the panel maker allows.", 15)
        ]
        | None
    ) = None
    battery_backfeed_a: (
        Annotated[
            float,
            quantity("A", 0.0, 10_000.0, "Current that the battery can push back.", 0.0),
        ]
        | None
    ) = None
    rules: Annotated[PvRules, choice("Rule set.", "nec-2023")] | None = None


class QuickStringFuse(Output):
    """Whether parallel strings need a fuse each, and which."""

    needed: Annotated[
        Literal["yes", "no", "unknown"],
        choice("`unknown` where the panel's largest series fuse is missing and decides.", "yes"),
    ]
    fuse_a: (
        Annotated[
            float,
            quantity("A", 0.0, 2000.0, "Stocked size, should one be fitted; null if none.", 10),
        ]
        | None
    )
    minimum_a: Annotated[float, quantity("A", 0.0, _AMPS, "Smallest that bears the sun.", 10.0)]
    maximum_a: Annotated[float, quantity("A", 0.0, _AMPS, "Largest that protects.", 15.0)]
    backfeed_a: Annotated[
        float, quantity("A", 0.0, _AMPS, "What other sources push into a faulty string.", 16.0)
    ]
    why: Annotated[str, prose("Reason.")]
    verdict: Annotated[Verdict, choice("`fail` if one is needed and no size fits.", "pass")]
    remedy: Remedy
    assumed: Assumed
    basis: Source
    caution: Beware


def string_fuse(asked: StringFuseQuestion) -> QuickStringFuse:
    """Need, range and stocked size of a string fuse."""
    notes = Assumptions()
    rules = cast("PvRules", notes.choose("/rules", asked.rules, "nec-2023", "The newest edition."))
    back = notes.choose(
        "/battery_backfeed_a",
        asked.battery_backfeed_a,
        0.0,
        "A charge controller that blocks reverse current.",
    )
    need = string_fuse_need(
        asked.i_sc_a, asked.strings_in_parallel, asked.max_series_fuse_a, rules, back
    )
    found = string_fuse_rating(asked.i_sc_a, asked.max_series_fuse_a, rules)
    verdict, remedy = _string_verdict(need, found)
    return QuickStringFuse(
        needed="unknown" if need.needed is None else "yes" if need.needed else "no",
        fuse_a=found.rating_a,
        minimum_a=found.minimum_a,
        maximum_a=found.maximum_a,
        backfeed_a=need.backfeed_a,
        why=need.why,
        verdict=verdict,
        remedy=remedy,
        assumed=assumed(notes.listed()),
        basis=cited(cite(rules, "690.9", "6.5.3, string overcurrent protection")),
        caution=warned(cautions("lit-panel", "dc-arc")),
    )


def _string_verdict(need: StringFuseNeed, found: StringFuse) -> tuple[Verdict, str]:
    if need.needed is None:
        return "not-assessed", "Give max_series_fuse_a from the panel's data sheet."
    if need.needed and found.rating_a is None:
        return "fail", (
            f"No stocked fuse lies between {found.minimum_a:.1f} and {found.maximum_a:.1f} A: put "
            "fewer strings in parallel, or use panels with a larger series fuse rating."
        )
    return "pass", ""


class BatteryFuseQuestion(Input):
    """Fuse of a circuit that a battery feeds."""

    current_a: Annotated[
        float, quantity("A", 0.1, 1600.0, "Largest current of the circuit, for hours.", 30.0)
    ]
    max_voltage_v: Annotated[
        float, quantity("V", 5.0, 1000.0, "Highest voltage of the battery, charging.", 14.6)
    ]
    fault_current_a: (
        Annotated[
            float,
            quantity("A", 1.0, 200_000.0, "Short-circuit current where the fuse sits.", 20_000.0),
        ]
        | None
    ) = None
    rules: Annotated[WiringRules, choice("Rule set.", "nec-2023")] | None = None
    fuse_family: (
        Annotated[FuseFamily, choice("Family that must be used.", "battery-stud")] | None
    ) = None


class QuickBatteryFuse(Output):
    """Fuse of a circuit that a battery feeds."""

    fuse_a: Annotated[float, quantity("A", 0.0, 2000.0, "Stocked size; null if none.", 40.0)] | None
    family: Annotated[str, prose("Family; `none` if none will do.", "battery-stud")]
    title: Annotated[str, prose("Family in words.", "Battery stud fuse")]
    minimum_a: Annotated[
        float, quantity("A", 0.0, _AMPS, "Smallest rating that does not trip in use.", 37.5)
    ]
    interrupting_rating_a: (
        Annotated[
            float,
            quantity("A", 1.0, 500_000.0, "Fault current that it breaks; null if none.", 20_000.0),
        ]
        | None
    )
    within_m: Annotated[
        float, quantity("m", 0.0, 20.0, "Largest distance from the battery, along the cable.", 0.18)
    ]
    verdict: Annotated[
        Verdict, choice("`fail` if no family bears voltage and fault current.", "pass")
    ]
    remedy: Remedy
    assumed: Assumed
    basis: Source
    caution: Beware


def battery_fuse_for(asked: BatteryFuseQuestion) -> QuickBatteryFuse:
    """Family, size and place of a battery fuse."""
    notes = Assumptions()
    rules = cast(
        "WiringRules", notes.choose("/rules", asked.rules, "nec-2023", "The newest edition.")
    )
    fault = notes.choose(
        "/fault_current_a",
        asked.fault_current_a,
        BATTERY_FAULT_A,
        BATTERY_FAULT_WHY,
    )
    minimum = CONTINUOUS * asked.current_a
    found = battery_fuse(minimum, asked.max_voltage_v, fault, rules, asked.fuse_family)
    chosen = found.chosen if found.chosen and found.chosen.suitable else None
    return QuickBatteryFuse(
        fuse_a=chosen.rating_a if chosen else None,
        family=chosen.family if chosen else "none",
        title=chosen.title if chosen else "",
        minimum_a=minimum,
        interrupting_rating_a=chosen.interrupting_rating_a if chosen else None,
        within_m=found.within_m,
        verdict="pass" if chosen else "fail",
        remedy=_battery_remedy(found),
        assumed=assumed(notes.listed()),
        basis=cited(*([chosen.basis] if chosen else []), basis("practice", "80 % load for hours")),
        caution=warned(cautions("battery-energy", "wire-fire")),
    )


def _battery_remedy(found: BatteryFuse) -> str:
    if found.chosen and found.chosen.suitable:
        return ""
    why = f"{found.chosen.title}: {found.chosen.why} " if found.chosen else ""
    able = "; ".join(one.title for one in found.options if one.suitable)
    if able:
        return f"{why}Use {able}."
    return f"{why}No family does it: split the circuit, or the bank behind fuses of its own."


FUSES = (
    Question(
        "string-fuse",
        "Do parallel strings need fuses?",
        "What the other strings can push into a faulty one against the panel's largest series "
        "fuse, and the stocked size that fits.",
        StringFuseQuestion,
        QuickStringFuse,
        string_fuse,
    ),
    Question(
        "battery-fuse",
        "Which fuse at the battery?",
        "Family and size of the fuse at a battery's post for a current, its interrupting rating "
        "against what the battery can give into a short circuit, and how close it must sit.",
        BatteryFuseQuestion,
        QuickBatteryFuse,
        battery_fuse_for,
    ),
)
"""Questions about fuses."""
