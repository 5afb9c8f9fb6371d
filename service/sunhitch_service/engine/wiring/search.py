"""The smallest size of a ladder that satisfies every rule, and its neighbours."""

import math
from functools import cache
from typing import Literal

import msgspec

from sunhitch.texts import statement
from sunhitch.types.basis import Basis
from sunhitch.types.wiring import Ladder, LadderResult, RuleOutcome, SizeResult
from sunhitch_service.engine.circuit.rule_figures import STRONG_SUN
from sunhitch_service.engine.sources import recited
from sunhitch_service.engine.tables import table

from .case import Case
from .currents import before_correction_a, others_i_sc_a
from .device import Device
from .installation import Installation, InstallationKey, SizeAmpacity, installation
from .ladders import Size, size_of
from .outcome import outcome
from .resistance import resistance_at
from .voltage_drop import drop, loop_resistance_ohm

LARGER_NEIGHBOURS = {"rules": 2, "equivalent": 1}
"""How many sizes above the chosen one are shown."""
_ROUNDING = 1.0 + 1e-6
"""Far above what rounding does."""


class LadderCase(msgspec.Struct, frozen=True):
    """What every size of one ladder is judged with.

    Parameters
    ----------
    case : Case
        Resolved request.
    ladder : str
        Ladder.
    installation : Installation
        What every size may carry.
    before_a : float
        Current before correction, under the rule family of its tables [A].
    device_a : float or None
        Rating of the overcurrent device, or the smallest that would do where no size fits [A]; None
        where none is fitted.
    backfeed_a : float
        What other strings and the battery push through an unfused string [A].
    own : LadderResult or None
        Result on the ladder of the rules; None on that ladder itself.
    """

    case: Case
    ladder: Ladder
    installation: Installation
    before_a: float
    device_a: float | None
    backfeed_a: float
    own: LadderResult | None


def ladder_case(case: Case, device: Device, ladder: Ladder, own: LadderResult | None) -> LadderCase:
    """Set up the judgement of one ladder."""
    conductor, panels = case.request.conductor, case.request.panels_behind
    key = InstallationKey(
        ladder=ladder,
        rules=case.request.rules,
        group=case.group,
        insulation=case.insulation,
        material=conductor.material,
        fine=case.stranding == "fine-stranded",
        tinned=conductor.tinned,
        runs=tuple(case.runs),
        ambient_c=case.ambient_c,
        terminal_c=case.terminal_c,
        below_50_v=case.highest_v < 50.0,
    )
    on = installation(key)
    judged_a = device.need.minimum_a if device.rating_a is None else device.rating_a
    backfeed_a = 0.0
    if panels is not None and case.request.circuit == "pv-string":
        backfeed_a = STRONG_SUN * others_i_sc_a(panels) + panels.battery_backfeed_a
    return LadderCase(
        case=case,
        ladder=ladder,
        installation=on,
        before_a=before_correction_a(case.request, on.rules.family, case.currents.maximum_a),
        device_a=judged_a if device.fitted else None,
        backfeed_a=backfeed_a,
        own=own,
    )


def search(on: LadderCase) -> LadderResult:
    """Go up a ladder to the first size that fails no rule, and a little further.

    Parameters
    ----------
    on : LadderCase
        Way and circuit for that ladder.

    Returns
    -------
    LadderResult
        Chosen size, what rules out the next smaller one, and the neighbours.
    """
    rungs = on.installation.rungs
    role: Literal["rules", "equivalent"] = "rules" if on.ladder == on.case.ladder else "equivalent"
    index, chosen, tried = _first_passing(on)
    below = [tried] if tried else [judge_size(on, *rung) for rung in rungs[:index][-1:]]
    beyond = index + 1 + LARGER_NEIGHBOURS[role]
    failing = [rule.code for each in below for rule in each.rules if rule.verdict == "fail"]
    return LadderResult(
        ladder=on.ladder,
        role=role,
        method=on.installation.method,
        note=_note(on, chosen),
        chosen=chosen,
        governing=", ".join(failing),
        neighbours=below + [judge_size(on, *rung) for rung in rungs[index + 1 : beyond]],
        sources=[
            *(source.key for source in on.installation.sources),
            _resistance_basis(on.ladder, (chosen or below[0]).size).key,
        ],
    )


def _first_passing(on: LadderCase) -> tuple[int, SizeResult | None, SizeResult | None]:
    """Index and figures of the first size that fails no rule, and the figures just below it.

    The ladder's end and no figures if none does; none below where that size failed at a glance.
    """
    below, unavailable = None, {size_of(one) for one in on.case.request.unavailable}
    rungs = on.installation.rungs
    for index in range(first_candidate(on), len(rungs)):
        if rungs[index][0] in unavailable:
            continue
        judged = judge_size(on, *rungs[index])
        if judged.verdict == "pass":
            return index, judged, below
        below = judged
    return len(rungs), None, below


def _note(on: LadderCase, chosen: SizeResult | None) -> str:
    words = (
        statement("american-wire-gauge") if on.ladder == "awg" else statement("square-millimetres")
    )
    if on.ladder == on.case.ladder:
        return statement("rules-written-for", units=words)
    if chosen is None:
        return statement("no-equivalent")
    if on.installation.method == "by-area":
        return statement("no-table-in-mm2")
    own = statement("iec-tables") if on.ladder == "mm2" else statement("nfpa-tables")
    return statement("equivalent-ladder", tables=own)


@cache
def _resistance_basis(ladder: Ladder, label: str) -> Basis:
    """Table of resistances, with the note of the chosen row where it has one."""
    if ladder == "mm2":
        return table("wiring", "iec_60228").basis
    found = table("wiring", "nec_table_8")
    note = found.row("awg", label.removesuffix(" AWG"))["row_note"]
    if not note:
        return found.basis
    return recited(found.basis, statement("note-on-size", size=label, note=note))


def first_candidate(on: LadderCase) -> int:
    """Index of the first rung that does not fail at a glance; the ladder's length if all do.

    Passed over are rungs of too much drop even without heating, as a loaded conductor is never
    cooler than its air, and of too little metal. What rounding could decide `judge_size` decides.
    """
    most_ohm = _most_ohm_per_m(on) / on.installation.in_air
    own_mm2 = on.own.shown.area_mm2 if on.own else 0.0
    least_mm2 = max(on.installation.smallest_mm2, own_mm2) / _ROUNDING
    for index, (size, table_ohm) in enumerate(on.installation.rungs):
        if table_ohm <= most_ohm and size.area_mm2 >= least_mm2:
            return index
    return len(on.installation.rungs)


def _most_ohm_per_m(on: LadderCase) -> float:
    """Resistance of one conductor that just keeps the allowed drop, and a little more [Ω/m]."""
    case, operating_a = on.case, on.case.currents.operating_a
    if operating_a <= 0.0:
        return math.inf
    loop_ohm = case.allowed_drop_v * _ROUNDING / operating_a
    one_way = loop_ohm / 2.0 if case.chassis_ohm is None else loop_ohm - case.chassis_ohm
    return one_way / case.request.length_m


def judge_size(on: LadderCase, size: Size, table_ohm: float) -> SizeResult:
    """Judge one size.

    Parameters
    ----------
    on : LadderCase
        Installation, device and currents.
    size : Size
        Of that ladder.
    table_ohm : float
        Resistance of one conductor at the table's temperature [Ω/m].

    Returns
    -------
    SizeResult
        Ampacity, drop, loss, and demand and capacity of every rule.
    """
    case, request, operating_a = on.case, on.case.request, on.case.currents.operating_a
    ampacity = on.installation.ampacity_of(size)
    warm_c = ampacity.warmest_c(operating_a)
    ohm_per_m = resistance_at(table_ohm, on.installation.metal, warm_c)
    loop_ohm = loop_resistance_ohm(ohm_per_m, request.length_m, case.chassis_ohm)
    drop_v, loss_w = drop(operating_a, loop_ohm)
    energy = None if request.hours_per_year is None else loss_w * request.hours_per_year
    price = request.energy_price_per_kwh
    rules = _rules(on, size, ampacity, drop_v)
    return SizeResult(
        size=size.label,
        ladder=on.ladder,
        area_mm2=size.area_mm2,
        verdict="fail" if "fail" in [rule.verdict for rule in rules] else "pass",
        rules=rules,
        runs=ampacity.runs.copy(),
        governing_run=ampacity.governing,
        terminal_limit_a=ampacity.terminal_a,
        small_conductor_limit_a=ampacity.small_a,
        ampacity_a=ampacity.ampacity_a,
        largest_device_a=ampacity.largest_device_a,
        conductor_temperature_c=warm_c,
        loop_resistance_ohm=loop_ohm,
        drop_v=drop_v,
        drop_fraction=drop_v / request.voltage_v,
        loss_w=loss_w,
        energy_lost_wh_per_year=energy,
        cost_per_year=None if energy is None or price is None else energy / 1000.0 * price,
    )


def _rules(on: LadderCase, size: Size, ampacity: SizeAmpacity, drop_v: float) -> list[RuleOutcome]:
    """Every rule that applies to a size."""
    found = [on.installation.ambient]
    if on.installation.rules.family == "nec":
        found.append(outcome("ampacity-table", on.before_a, ampacity.base_a))
    after_a = on.case.currents.after_correction_a
    found.append(outcome("ampacity-corrected", after_a, ampacity.corrected_a))
    if ampacity.terminal_a is not None:
        found.append(outcome("terminal-temperature", on.before_a, ampacity.terminal_a))
    if on.device_a is not None:
        if ampacity.small_a is not None:
            found.append(outcome("small-conductor", on.device_a, ampacity.small_a))
        found.append(outcome("device-protects-conductor", on.device_a, ampacity.largest_device_a))
    elif on.backfeed_a > 0.0:
        found.append(outcome("string-backfeed", on.backfeed_a, ampacity.ampacity_a))
    if (bears_a := on.case.request.bears_a) is not None:
        found.append(outcome("overcurrent-protection", bears_a, ampacity.ampacity_a))
    found.append(outcome("voltage-drop", drop_v, on.case.allowed_drop_v))
    found.append(ampacity.smallest)
    if on.own is not None:
        found.append(_equivalent(on.own, size))
    return found


def _equivalent(own: LadderResult, size: Size) -> RuleOutcome:
    """Area against the size that the rules chose; no size stands for one that they refuse."""
    found = outcome("equivalent-area", own.shown.area_mm2, size.area_mm2)
    return found if own.chosen else msgspec.structs.replace(found, verdict="fail")
