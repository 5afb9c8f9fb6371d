"""Fuses of strings and batteries."""

from typing import Annotated, Literal

from sunhitch.types.base import Input
from sunhitch.types.check import Verdict
from sunhitch.types.panel import Bifaciality
from sunhitch.types.quantity import choice, count, prose, quantity
from sunhitch.types.system import RuleSet, StrongestSun
from sunhitch.types.wiring import FuseFamily, WiringRules

from .texts import Remedy, WarnedAnswer

FuseNeed = Literal["yes", "no", "unknown"]

_AMPS = 1e6


class StringFuseQuestion(Input, kw_only=True):
    """Whether parallel strings need a fuse each, and which."""

    i_sc_a: Annotated[
        float, quantity("A", 0.01, 120.0, "Short-circuit current of one string, nameplate.", 6.4)
    ]
    strings_in_parallel: Annotated[int, count(1, 60, "Strings in parallel.", 3)]
    other_strings_i_sc_a: (
        Annotated[
            float,
            quantity("A", 0.01, 7200.0, "Isc of the other strings together, where unequal.", 9.0),
        ]
        | None
    ) = None
    max_series_fuse_a: (
        Annotated[
            float, quantity("A", 0.1, 200.0, "Largest series fuse that the panel maker allows.", 15)
        ]
        | None
    ) = None
    bifaciality_fraction: Bifaciality | None = None
    strongest_w_m2: StrongestSun | None = None
    battery_backfeed_a: (
        Annotated[
            float,
            quantity("A", 0.0, 200_000.0, "Current that the battery can push back.", 0.0),
        ]
        | None
    ) = None
    rules: Annotated[RuleSet, choice("Rule set.", "nec-2023")] | None = None


class QuickStringFuse(WarnedAnswer):
    """Whether parallel strings need a fuse each, and which."""

    needed: Annotated[
        FuseNeed,
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
    verdict: Annotated[Verdict, choice("`review` if one is needed, `fail` if none fits.", "pass")]
    remedy: Remedy


class BatteryFuseQuestion(Input, kw_only=True):
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


class QuickBatteryFuse(WarnedAnswer):
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
