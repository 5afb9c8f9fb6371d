"""One conductor size judged by every rule of a ladder."""

import math

from sunhitch.types.wiring import RuleOutcome, SizeResult

from .installation import SizeAmpacity
from .ladder_case import LadderCase
from .ladders import Size
from .outcome import outcome
from .resistance import Rung, resistance_at
from .voltage_drop import Drop, drop, loop_resistance_ohm

_ROUNDING = 1.0 + 1e-6
"""Far above what rounding does."""


def first_candidate(on: LadderCase) -> int:
    """Index of the first rung that does not fail at a glance; the ladder's length if all do.

    Passed over are rungs of too much drop even without heating, as a loaded conductor is never
    cooler than its air, and of too little metal. What rounding could decide `judge_size` decides.
    """
    most_ohm = _most_ohm_per_m(on) / on.installation.in_air
    least_mm2 = max(on.installation.smallest_mm2, on.least_area_mm2 or 0.0) / _ROUNDING
    for index, rung in enumerate(on.installation.rungs):
        if rung.table_ohm <= most_ohm and rung.size.area_mm2 >= least_mm2:
            return index
    return len(on.installation.rungs)


def _most_ohm_per_m(on: LadderCase) -> float:
    """Resistance of one conductor that just keeps the allowed drop, and a little more [Ω/m]."""
    case, operating_a = on.case, on.currents.operating_a
    if operating_a <= 0.0:
        return math.inf
    loop_ohm = case.allowed_drop_v * _ROUNDING / operating_a
    one_way = loop_ohm / 2.0 if case.chassis_ohm is None else loop_ohm - case.chassis_ohm
    return one_way / case.request.length_m


def judge_size(on: LadderCase, rung: Rung) -> SizeResult:
    """Judge one size.

    Parameters
    ----------
    on : LadderCase
        Installation, device and currents.
    rung : Rung
        Size of that ladder.

    Returns
    -------
    SizeResult
        Ampacity, drop, loss, and demand and capacity of every rule.
    """
    case, operating_a = on.case, on.currents.operating_a
    ampacity = on.installation.ampacity_of(rung.size)
    warm_c = ampacity.warmest_c(operating_a)
    ohm_per_m = resistance_at(rung.table_ohm, on.installation.metal, warm_c)
    loop = loop_resistance_ohm(ohm_per_m, case.request.length_m, case.chassis_ohm)
    lost = drop(operating_a, loop)
    return _result(on, rung, ampacity, warm_c, lost)


def _result(
    on: LadderCase, rung: Rung, ampacity: SizeAmpacity, warm_c: float, lost: Drop
) -> SizeResult:
    request = on.case.request
    hours, price = request.hours_per_year, request.energy_price_per_kwh
    energy = None if hours is None else lost.loss_w * hours
    rules = _rules(on, rung.size, ampacity, lost.drop_v)
    return SizeResult(
        size=rung.label,
        ladder=on.ladder,
        area_mm2=rung.size.area_mm2,
        verdict="fail" if "fail" in [rule.verdict for rule in rules] else "pass",
        rules=rules,
        runs=ampacity.runs.copy(),
        governing_run=ampacity.governing,
        terminal_limit_a=ampacity.terminal_a,
        small_conductor_limit_a=ampacity.small_a,
        ampacity_a=ampacity.ampacity_a,
        largest_device_a=ampacity.largest_device_a,
        conductor_temperature_c=warm_c,
        loop_resistance_ohm=lost.loop_ohm,
        drop_v=lost.drop_v,
        drop_fraction=lost.drop_v / request.voltage_v,
        loss_w=lost.loss_w,
        energy_lost_wh_per_year=energy,
        cost_per_year=None if energy is None or price is None else energy / 1000.0 * price,
    )


def _rules(on: LadderCase, size: Size, ampacity: SizeAmpacity, drop_v: float) -> list[RuleOutcome]:
    """Every rule that applies to a size."""
    currents = on.currents
    found = [on.installation.ambient]
    if on.installation.rules.family == "nec":
        found.append(outcome("ampacity-table", currents.before_correction_a, ampacity.base_a))
    found.append(outcome("ampacity-corrected", currents.after_correction_a, ampacity.corrected_a))
    if ampacity.terminal_a is not None:
        demand = currents.before_correction_a
        found.append(outcome("terminal-temperature", demand, ampacity.terminal_a))
    if on.device_a is not None:
        found += _of_device(on.device_a, ampacity)
    elif on.backfeed_a > 0.0:
        found.append(outcome("string-backfeed", on.backfeed_a, ampacity.ampacity_a))
    found.append(outcome("voltage-drop", drop_v, on.case.allowed_drop_v))
    found.append(ampacity.smallest)
    if on.least_area_mm2 is not None:
        found.append(outcome("equivalent-area", on.least_area_mm2, size.area_mm2))
    return found


def _of_device(device_a: float, ampacity: SizeAmpacity) -> list[RuleOutcome]:
    """Rules of a device that is fitted."""
    found = [outcome("device-protects-conductor", device_a, ampacity.largest_device_a)]
    if ampacity.small_a is not None:
        found.insert(0, outcome("small-conductor", device_a, ampacity.small_a))
    return found
