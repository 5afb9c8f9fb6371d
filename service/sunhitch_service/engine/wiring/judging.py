"""One conductor size judged by every rule of a ladder."""

import math

from sunhitch.types.wiring import RuleOutcome, SizeResult

from .bench import Bench
from .ladders import Size
from .outcome import outcome
from .resistance import Rung, resistance_at
from .voltage_drop import Drop, drop, loop_resistance_ohm
from .way import Carrying

_ROUNDING = 1.0 + 1e-6
"""Far above what rounding does."""


def hopeful(on: Bench) -> int:
    """Index of the first rung that does not fail at a glance; the ladder's length if all do.

    Passed over are rungs of too much drop even without heating, as a loaded conductor is never
    cooler than its air, and of too little metal. What rounding could decide is left to `measure`.
    """
    most_ohm = _most_ohm_per_m(on) / on.way.in_air
    least_mm2 = max(on.way.smallest_mm2, on.least_area_mm2 or 0.0) / _ROUNDING
    for index, rung in enumerate(on.way.rungs):
        if rung.table_ohm <= most_ohm and rung.size.area_mm2 >= least_mm2:
            return index
    return len(on.way.rungs)


def _most_ohm_per_m(on: Bench) -> float:
    """Resistance of one conductor that just keeps the allowed drop, and a little more [Ω/m]."""
    case, operating_a = on.case, on.currents.operating_a
    if operating_a <= 0.0:
        return math.inf
    loop_ohm = case.allowed_drop_v * _ROUNDING / operating_a
    one_way = loop_ohm / 2.0 if case.chassis_ohm is None else loop_ohm - case.chassis_ohm
    return one_way / case.request.length_m


def measure(on: Bench, rung: Rung) -> SizeResult:
    """Judge one size.

    Parameters
    ----------
    on : Bench
        Way, device and currents.
    rung : Rung
        Size of that ladder.

    Returns
    -------
    SizeResult
        Ampacity, drop, loss, and demand and capacity of every rule.
    """
    case, operating_a = on.case, on.currents.operating_a
    carrying = on.way.carrying(rung.size)
    warm_c = carrying.warmest_c(operating_a)
    ohm_per_m = resistance_at(rung.table_ohm, on.way.metal, warm_c)
    loop = loop_resistance_ohm(ohm_per_m, case.request.length_m, case.chassis_ohm)
    lost = drop(operating_a, loop)
    return _result(on, rung, carrying, warm_c, lost)


def _result(on: Bench, rung: Rung, carrying: Carrying, warm_c: float, lost: Drop) -> SizeResult:
    request = on.case.request
    hours, price = request.hours_per_year, request.energy_price_per_kwh
    energy = None if hours is None else lost.loss_w * hours
    rules = _rules(on, rung.size, carrying, lost.drop_v)
    return SizeResult(
        size=rung.label,
        ladder=on.ladder,
        area_mm2=rung.size.area_mm2,
        verdict="fail" if "fail" in [rule.verdict for rule in rules] else "pass",
        rules=rules,
        runs=carrying.runs.copy(),
        governing_run=carrying.governing,
        terminal_limit_a=carrying.terminal_a,
        small_conductor_limit_a=carrying.small_a,
        ampacity_a=carrying.ampacity_a,
        largest_device_a=carrying.largest_device_a,
        conductor_temperature_c=warm_c,
        loop_resistance_ohm=lost.loop_ohm,
        drop_v=lost.drop_v,
        drop_fraction=lost.drop_v / request.voltage_v,
        loss_w=lost.loss_w,
        energy_lost_wh_per_year=energy,
        cost_per_year=None if energy is None or price is None else energy / 1000.0 * price,
    )


def _rules(on: Bench, size: Size, carrying: Carrying, drop_v: float) -> list[RuleOutcome]:
    """Every rule that applies to a size."""
    currents = on.currents
    found = [on.way.ambient]
    if on.way.family == "nec":
        found.append(outcome("ampacity-table", currents.before_correction_a, carrying.base_a))
    found.append(outcome("ampacity-corrected", currents.after_correction_a, carrying.corrected_a))
    if carrying.terminal_a is not None:
        demand = currents.before_correction_a
        found.append(outcome("terminal-temperature", demand, carrying.terminal_a))
    if on.device_a is not None:
        found += _of_device(on.device_a, carrying)
    elif on.backfeed_a > 0.0:
        found.append(outcome("string-backfeed", on.backfeed_a, carrying.ampacity_a))
    found.append(outcome("voltage-drop", drop_v, on.case.allowed_drop_v))
    found.append(carrying.smallest)
    if on.least_area_mm2 is not None:
        found.append(outcome("equivalent-area", on.least_area_mm2, size.area_mm2))
    return found


def _of_device(device_a: float, carrying: Carrying) -> list[RuleOutcome]:
    """Rules of a device that is fitted."""
    found = [outcome("device-protects-conductor", device_a, carrying.largest_device_a)]
    if carrying.small_a is not None:
        found.insert(0, outcome("small-conductor", device_a, carrying.small_a))
    return found
