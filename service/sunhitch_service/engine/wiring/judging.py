"""One conductor size judged by every rule of a ladder."""

from collections.abc import Iterator

import msgspec

from sunhitch.types.check import Verdict
from sunhitch.types.wiring import RuleOutcome, SizeResult

from .ampacity import Reading, RunFactors, run_ampacity
from .bench import Bench
from .citation import unit_of
from .ladders import Size
from .resistance import conductor_temperature_c, resistance_at, table_ohm_per_m
from .voltage_drop import Drop, drop, loop_resistance_ohm


class _Carrying(msgspec.Struct, frozen=True):
    readings: list[Reading]
    governing: int
    base_a: float
    corrected_a: float
    terminal_a: float | None
    small_a: float | None
    ampacity_a: float
    largest_device_a: float


class Measured(msgspec.Struct, frozen=True):
    """Figures of one size, before they are written out.

    Parameters
    ----------
    size : Size
        Size.
    carrying : _Carrying
        Ampacities.
    warm_c : float
        Conductor temperature behind the resistance [°C].
    lost : Drop
        Loop resistance, drop and loss.
    tests : list of (str, float, float)
        Code, demand and capacity of every rule.
    passes : bool
        Whether no rule fails.
    """

    size: Size
    carrying: _Carrying
    warm_c: float
    lost: Drop
    tests: list[tuple[str, float, float]]
    passes: bool


def exceeds(demand: float, capacity: float) -> bool:
    """Whether a demand is above a capacity by more than rounding."""
    return demand > capacity + 1e-9 * abs(capacity)


def hopeless(on: Bench, size: Size) -> bool:
    """Whether a size fails at a glance: too little metal, or too much drop even without heating.

    A loaded conductor is never cooler than its air, so that a size ruled out here is ruled out.
    """
    table_ohm = table_ohm_per_m(size, on.metal)
    if table_ohm is None or exceeds(max(on.smallest_mm2, on.least_area_mm2 or 0.0), size.area_mm2):
        return True
    air_c = on.warmest_c
    ohm_per_m = resistance_at(table_ohm, on.metal, air_c)
    loop = loop_resistance_ohm(ohm_per_m, on.case.request.length_m, on.case.chassis_ohm)
    return exceeds(on.currents.operating_a * loop, on.case.allowed_drop_v)


def measure(on: Bench, size: Size) -> Measured | None:
    """Figures of one size; None where the ladder's table has no resistance for its metal.

    Parameters
    ----------
    on : Bench
        Tables and circuit.
    size : Size
        Size of that ladder.

    Returns
    -------
    Measured or None
        Ampacity, drop, loss, and demand and capacity of every rule.
    """
    table_ohm = table_ohm_per_m(size, on.metal)
    if table_ohm is None:
        return None
    carrying = _carrying(on, size)
    warm = _temperature_c(on, carrying.readings)
    ohm_per_m = resistance_at(table_ohm, on.metal, warm)
    loop = loop_resistance_ohm(ohm_per_m, on.case.request.length_m, on.case.chassis_ohm)
    lost = drop(on.currents.operating_a, loop)
    tests = list(_tests(on, size, carrying, lost.drop_v))
    passes = not any(exceeds(demand, capacity) for _, demand, capacity in tests)
    return Measured(size, carrying, warm, lost, tests, passes)


def written(on: Bench, measured: Measured) -> SizeResult:
    """Figures of one size as the contract writes them."""
    request, carrying, lost = on.case.request, measured.carrying, measured.lost
    hours, price = request.hours_per_year, request.energy_price_per_kwh
    energy = None if hours is None else lost.loss_w * hours
    pairs = zip(carrying.readings, on.factors, strict=True)
    return SizeResult(
        size=measured.size.label,
        ladder=on.ladder,
        area_mm2=measured.size.area_mm2,
        verdict="pass" if measured.passes else "fail",
        rules=[_outcome(*test) for test in measured.tests],
        runs=[run_ampacity(reading, factors) for reading, factors in pairs],
        governing_run=carrying.governing,
        terminal_limit_a=carrying.terminal_a,
        small_conductor_limit_a=carrying.small_a,
        ampacity_a=carrying.ampacity_a,
        largest_device_a=carrying.largest_device_a,
        conductor_temperature_c=measured.warm_c,
        loop_resistance_ohm=lost.loop_ohm,
        drop_v=lost.drop_v,
        drop_fraction=lost.drop_v / request.voltage_v,
        loss_w=lost.loss_w,
        energy_lost_wh_per_year=energy,
        cost_per_year=None if energy is None or price is None else energy / 1000.0 * price,
    )


def _outcome(code: str, demand: float, capacity: float) -> RuleOutcome:
    verdict: Verdict = "fail" if exceeds(demand, capacity) else "pass"
    unit = unit_of(code)
    return RuleOutcome(code=code, verdict=verdict, demand=demand, capacity=capacity, unit=unit)


def _carrying(on: Bench, size: Size) -> _Carrying:
    case = on.case
    readings = [on.tables.reading(size, run) for run in case.runs]
    pairs = zip(readings, on.factors, strict=True)
    corrected = [reading.base_a * factors.product for reading, factors in pairs]
    least = min(corrected)
    terminal = None
    if case.terminal_c is not None:
        terminal = on.tables.terminal_limit_a(size, case.runs, case.terminal_c, case.ambient_c)
    ampacity = least if terminal is None else min(least, terminal)
    return _Carrying(
        readings=readings,
        governing=corrected.index(least),
        base_a=min(reading.base_a for reading in readings),
        corrected_a=least,
        terminal_a=terminal,
        small_a=on.tables.small_limit_a(size),
        ampacity_a=ampacity,
        largest_device_a=on.tables.largest_device_a(size, ampacity, case.highest_v),
    )


def _temperature_c(on: Bench, readings: list[Reading]) -> float:
    """Conductor temperature on the hottest run at the operating current [°C]."""
    pairs = zip(readings, on.factors, strict=True)
    return max(_run_temperature_c(on, reading, factors) for reading, factors in pairs)


def _run_temperature_c(on: Bench, reading: Reading, factors: RunFactors) -> float:
    reference = reading.base_a * factors.bundling * factors.enclosure
    if reference <= 0.0:
        return max(on.tables.limit_c, factors.temperature_c)
    return conductor_temperature_c(
        on.currents.operating_a / reference,
        reading.conductor_c - reading.air_c,
        reading.conductor_c,
        factors.temperature_c,
        on.metal,
        on.tables.limit_c,
    )


def _tests(
    on: Bench, size: Size, carrying: _Carrying, drop_v: float
) -> Iterator[tuple[str, float, float]]:
    """Code, demand and capacity of every rule that applies to a size."""
    currents, device = on.currents, on.device
    yield "ambient-in-table", *on.hottest_c
    if on.family == "nec":
        yield "ampacity-table", currents.before_correction_a, carrying.base_a
    yield "ampacity-corrected", currents.after_correction_a, carrying.corrected_a
    if carrying.terminal_a is not None:
        yield "terminal-temperature", currents.before_correction_a, carrying.terminal_a
    if device.fitted and carrying.small_a is not None:
        yield "small-conductor", device.judged_a, carrying.small_a
    if device.fitted:
        yield "device-protects-conductor", device.judged_a, carrying.largest_device_a
    elif on.backfeed_a > 0.0:
        yield "string-backfeed", on.backfeed_a, carrying.ampacity_a
    yield "voltage-drop", drop_v, on.case.allowed_drop_v
    yield "smallest-size", on.smallest_mm2, size.area_mm2
    if on.least_area_mm2 is not None:
        yield "equivalent-area", on.least_area_mm2, size.area_mm2
