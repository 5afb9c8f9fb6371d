"""One conductor size judged by every rule of a ladder."""

from sunhitch.types.wiring import RuleOutcome, SizeResult

from .bench import Bench
from .ladders import Size
from .outcome import exceeds, outcome
from .resistance import conductor_temperature_c, resistance_at, table_ohm_per_m
from .voltage_drop import Drop, drop, loop_resistance_ohm
from .way import Carrying, Warming


def hopeless(on: Bench, size: Size) -> bool:
    """Whether a size fails at a glance: too little metal, or too much drop even without heating.

    A loaded conductor is never cooler than its air, so that a size ruled out here is ruled out.
    """
    table_ohm = table_ohm_per_m(size, on.way.metal)
    if table_ohm is None or exceeds(max(on.smallest_mm2, on.least_area_mm2 or 0.0), size.area_mm2):
        return True
    lost = _drop(on, table_ohm, on.way.warmest_c)
    return exceeds(lost.drop_v, on.case.allowed_drop_v)


def measure(on: Bench, size: Size) -> SizeResult | None:
    """Judge one size; None where the ladder's table has no resistance for its metal.

    Parameters
    ----------
    on : Bench
        Way, device and currents.
    size : Size
        Size of that ladder.

    Returns
    -------
    SizeResult or None
        Ampacity, drop, loss, and demand and capacity of every rule.
    """
    table_ohm = table_ohm_per_m(size, on.way.metal)
    if table_ohm is None:
        return None
    carrying = on.way.carrying(size)
    warm_c = _temperature_c(on, carrying.warming)
    lost = _drop(on, table_ohm, warm_c)
    return _result(on, size, carrying, warm_c, lost)


def _drop(on: Bench, table_ohm: float, conductor_c: float) -> Drop:
    ohm_per_m = resistance_at(table_ohm, on.way.metal, conductor_c)
    loop = loop_resistance_ohm(ohm_per_m, on.case.request.length_m, on.case.chassis_ohm)
    return drop(on.currents.operating_a, loop)


def _result(on: Bench, size: Size, carrying: Carrying, warm_c: float, lost: Drop) -> SizeResult:
    request = on.case.request
    hours, price = request.hours_per_year, request.energy_price_per_kwh
    energy = None if hours is None else lost.loss_w * hours
    rules = _rules(on, size, carrying, lost.drop_v)
    return SizeResult(
        size=size.label,
        ladder=on.ladder,
        area_mm2=size.area_mm2,
        verdict="fail" if any(rule.verdict == "fail" for rule in rules) else "pass",
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


def _temperature_c(on: Bench, warming: list[Warming]) -> float:
    """Conductor temperature on the hottest run at the operating current [°C]."""
    return max([_run_temperature_c(on, run) for run in warming])


def _run_temperature_c(on: Bench, run: Warming) -> float:
    limit_c = on.way.tables.limit_c
    if run.reference_a <= 0.0:
        return max(limit_c, run.air_c)
    load = on.currents.operating_a / run.reference_a
    return conductor_temperature_c(load, run.rise_k, run.rated_c, run.air_c, on.way.metal, limit_c)


def _rules(on: Bench, size: Size, carrying: Carrying, drop_v: float) -> list[RuleOutcome]:
    """Every rule that applies to a size."""
    currents, device = on.currents, on.device
    found = [on.way.ambient]
    if on.way.family == "nec":
        found.append(outcome("ampacity-table", currents.before_correction_a, carrying.base_a))
    found.append(outcome("ampacity-corrected", currents.after_correction_a, carrying.corrected_a))
    if carrying.terminal_a is not None:
        demand = currents.before_correction_a
        found.append(outcome("terminal-temperature", demand, carrying.terminal_a))
    if device.fitted and carrying.small_a is not None:
        found.append(outcome("small-conductor", device.judged_a, carrying.small_a))
    if device.fitted:
        capacity = carrying.largest_device_a
        found.append(outcome("device-protects-conductor", device.judged_a, capacity))
    elif on.backfeed_a > 0.0:
        found.append(outcome("string-backfeed", on.backfeed_a, carrying.ampacity_a))
    found.append(outcome("voltage-drop", drop_v, on.case.allowed_drop_v))
    found.append(outcome("smallest-size", on.smallest_mm2, size.area_mm2))
    if on.least_area_mm2 is not None:
        found.append(outcome("equivalent-area", on.least_area_mm2, size.area_mm2))
    return found
