"""Fuses of strings and batteries."""

import math

from sunhitch.texts import sentence, statement, together
from sunhitch.types.quick.fuses import (
    BatteryFuseQuestion,
    QuickBatteryFuse,
    QuickStringFuse,
    StringFuseQuestion,
)
from sunhitch.types.system import RuleSet
from sunhitch.types.wiring import FuseOption, WiringRules
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.battery.settings import fault_current_a
from sunhitch_service.engine.cautions import cautions
from sunhitch_service.engine.circuit.devices import DeviceNeed, chosen_option, fitting_families
from sunhitch_service.engine.circuit.rule_figures import CONTINUOUS
from sunhitch_service.engine.circuit.string_fuse import counted_i_sc_a, string_fuse
from sunhitch_service.engine.errors import ContradictionError, Fault
from sunhitch_service.engine.rules.strings import reverse_current_check
from sunhitch_service.engine.rules.weakest import weakest_rating
from sunhitch_service.engine.sources import basis, sources_of
from sunhitch_service.engine.wiring.device import within_m

from .words import assumed, cited, warned


def string_fuse_for(asked: StringFuseQuestion) -> QuickStringFuse:
    """Need, range and stocked size of a string fuse."""
    notes = Assumptions()
    rules: RuleSet = notes.choose("/rules", asked.rules, "nec-2023", statement("newest-edition"))
    back = notes.choose(
        "/battery_backfeed_a",
        asked.battery_backfeed_a,
        0.0,
        statement("blocks-reverse"),
    )
    light = asked.bifaciality_fraction, asked.strongest_w_m2
    i_sc_a = counted_i_sc_a(asked.i_sc_a, *light)
    others = (asked.strings_in_parallel - 1) * i_sc_a
    if asked.other_strings_i_sc_a is not None:
        others = counted_i_sc_a(asked.other_strings_i_sc_a, *light)
        if asked.strings_in_parallel == 1:
            told = sentence("string-alone-has-no-others")
            raise ContradictionError([Fault("/other_strings_i_sc_a", told)])
    series_fuse = weakest_rating([asked.max_series_fuse_a])
    found = string_fuse(i_sc_a, others, series_fuse, rules, back)
    judged = reverse_current_check(found, rules)
    return QuickStringFuse(
        needed="unknown" if found.needed is None else "yes" if found.needed else "no",
        fuse_a=found.stocked_a,
        minimum_a=found.minimum_a,
        maximum_a=found.maximum_a,
        backfeed_a=found.reverse_a,
        why=found.why,
        verdict=judged.verdict,
        remedy=judged.remedy,
        assumed=assumed(notes.listed()),
        basis=cited(*sources_of([judged.basis])),
        caution=warned(cautions("lit-panel", "dc-arc")),
    )


def battery_fuse_for(asked: BatteryFuseQuestion) -> QuickBatteryFuse:
    """Family, size and place of a battery fuse."""
    notes = Assumptions()
    rules: WiringRules = notes.choose(
        "/rules", asked.rules, "nec-2023", statement("newest-edition")
    )
    fault = fault_current_a(asked.fault_current_a, None, "/fault_current_a", notes)
    minimum = CONTINUOUS * asked.current_a
    need = DeviceNeed(
        minimum_a=minimum,
        above_minimum=False,
        maximum_a=math.inf,
        voltage_v=asked.max_voltage_v,
        fault_a=fault,
        for_pv=False,
        family=asked.fuse_family,
    )
    best = chosen_option(need)
    chosen = best if best and best.suitable else None
    return QuickBatteryFuse(
        fuse_a=chosen.rating_a if chosen else None,
        family=chosen.family if chosen else "none",
        title=chosen.title if chosen else "",
        minimum_a=minimum,
        interrupting_rating_a=chosen.interrupting_rating_a if chosen else None,
        within_m=within_m(rules, "battery"),
        verdict="pass" if chosen else "fail",
        remedy="" if chosen else _battery_remedy(need, best),
        assumed=assumed(notes.listed()),
        basis=cited(
            *sources_of([chosen.basis] if chosen else []),
            basis("practice", "80 % load for hours"),
        ),
        caution=warned(cautions("battery-energy", "wire-fire")),
    )


def _battery_remedy(need: DeviceNeed, best: FuseOption | None) -> str:
    able = fitting_families(need)
    told = [statement("fuse-unfit", fuse=best.title, why=best.why)] if best else []
    told.append(statement("use-fuses", fuses=able) if able else statement("no-fuse-family"))
    return together("space", told)
