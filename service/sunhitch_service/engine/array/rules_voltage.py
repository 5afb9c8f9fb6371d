"""Voltage rules: cold against every upper limit, hot against every lower one."""

import math

from msgspec.structs import replace

from sunhitch.types.basis import Basis
from sunhitch.types.check import Check, Verdict
from sunhitch_service.engine.checks import Rule, at_most, check
from sunhitch_service.engine.pv.voltage import largest_series_count
from sunhitch_service.engine.sources import basis
from sunhitch_service.engine.tables import table

from .citations import cite
from .figures import ArrayFigures, StringFigures
from .job import Job
from .practice import limit, limit_basis

HOT_RUN = "hot-vmp-run"
"""Code of the rule that a hot string short of a full battery may just miss."""


def voltage_checks(job: Job, array: ArrayFigures) -> list[Check]:
    """Every voltage rule on one controller's array, each on its worst string.

    Parameters
    ----------
    job : Job
        Settled request.
    array : ArrayFigures
        The array.

    Returns
    -------
    list of Check
        Cold voltage by every method that applies, system voltage, touch, hot voltages.
    """
    coldest = max(array.strings, key=lambda s: s.cold_voc_v)
    hottest = min(array.strings, key=lambda s: s.hot_vmp_v)
    return [
        _cold_voc(job, array, coldest),
        *_cold_voc_by_table(job, array, coldest),
        *_system_voltage(array, job),
        _touch_voltage(array, coldest),
        _hot_run(job, array, hottest),
        _hot_start(job, array, hottest),
    ]


def _cold_voc(job: Job, array: ArrayFigures, string: StringFigures) -> Check:
    capacity = array.feed.controller.max_input_voltage_v
    rule = Rule(
        "cold-voc-controller",
        "Open-circuit voltage in the cold against the controller's input",
        "V",
        _cold_basis(job, string),
        _shorten(string, capacity),
        array.subject(string),
    )
    if string.cold_is_known:
        return at_most(rule, string.cold_voc_v, capacity, 1.0 - job.voltage_reserve)
    return _beyond_the_table(rule, string.cold_voc_v, capacity)


def _beyond_the_table(rule: Rule, least_v: float, capacity: float) -> Check:
    """Colder than the table: what its last band gives may rule a string out, never admit it."""
    used = least_v / capacity
    verdict: Verdict = "fail" if used > 1.0 else "not-assessed"
    fewer = "Put fewer panels in series, and give" if used > 1.0 else "Give"
    remedy = (
        f"{fewer} the panel's temperature coefficient of Voc: the table ends at −40 °C, where it "
        f"is {least_v:.1f} V already."
    )
    told = replace(rule, remedy=remedy)
    return check(told, verdict, least_v, capacity, used)


def _cold_basis(job: Job, string: StringFigures) -> Basis:
    if string.cold_coefficient_v is not None:
        return cite(job.rules, "690.7(A)(1)", "maximum voltage by the maker's coefficient")
    return _table_basis(job)


def _table_basis(job: Job) -> Basis:
    printed = table("pv", "voc_correction").basis
    if job.rules != "iec":
        return printed
    return basis("iec-62548", "correction factors for Voc", f"From memory; as {printed.reference}.")


def _shorten(string: StringFigures, capacity: float) -> str:
    each = string.cold_voc_v / len(string.members)
    fitting = largest_series_count(each, capacity)
    wanted = math.ceil(string.cold_voc_v / 5.0) * 5
    if fitting < 1:
        return f"Use a controller with an input of at least {wanted} V."
    count = f"{fitting} such panel{'s' if fitting > 1 else ''}"
    if fitting < len(string.members):
        return f"At most {count} in series, or a controller with an input of at least {wanted} V."
    return "Little reserve: check the coldest temperature on record for every place visited."


def _cold_voc_by_table(job: Job, array: ArrayFigures, string: StringFigures) -> list[Check]:
    """The table beside the coefficient: informative where the coefficient governs."""
    if string.cold_coefficient_v is None or string.cold_table_v is None:
        return []
    capacity = array.feed.controller.max_input_voltage_v
    rule = Rule(
        "cold-voc-table",
        "The same by the table for crystalline silicon, for comparison",
        "V",
        _table_basis(job),
        "The panel's own coefficient governs and the table is coarser; make sure that the "
        "coefficient is the maker's and per cent per kelvin of Voc.",
        array.subject(string),
    )
    used = string.cold_table_v / capacity
    verdict: Verdict = "review" if used > 1.0 else "pass"
    return [check(rule, verdict, string.cold_table_v, capacity, used)]


def _system_voltage(array: ArrayFigures, job: Job) -> list[Check]:
    """Only where panels are in series: one panel alone never exceeds its own rating."""
    series = [s for s in array.strings if len(s.members) > 1]
    if not series:
        return []
    unknown = [s for s in series if s.system_voltage_v is None]
    if unknown:
        rule = _system_rule(array, unknown[0], job)
        return [check(rule, "not-assessed")]
    worst = max(series, key=lambda s: s.cold_voc_v / (s.system_voltage_v or 1.0))
    rule, capacity = _system_rule(array, worst, job), worst.system_voltage_v or 0.0
    if not worst.cold_is_known:
        return [_beyond_the_table(rule, worst.cold_voc_v, capacity)]
    return [at_most(rule, worst.cold_voc_v, capacity)]


def _system_rule(array: ArrayFigures, string: StringFigures, job: Job) -> Rule:
    missing = string.system_voltage_v is None
    return Rule(
        "system-voltage",
        "Open-circuit voltage in the cold against the panels' system voltage",
        "V",
        cite(job.rules, "690.7 and 110.3(B)", "maximum system voltage of the modules"),
        "Give the panel's largest system voltage from its label."
        if missing
        else "Fewer panels in series.",
        array.subject(string),
    )


def _touch_voltage(array: ArrayFigures, string: StringFigures) -> Check:
    rule = Rule(
        "touch-voltage",
        "Open-circuit voltage in the cold against the limit of touch-safe direct voltage",
        "V",
        limit_basis("touch-voltage"),
        "Protect live parts from touch, use double-insulated cable and mark the circuit; or put "
        "fewer panels in series.",
        array.subject(string),
    )
    capacity = limit("touch-voltage")
    used = string.cold_voc_v / capacity
    return check(rule, "review" if used > 1.0 else "pass", string.cold_voc_v, capacity, used)


def _hot_run(job: Job, array: ArrayFigures, string: StringFigures) -> Check:
    """Hot Vmp should reach a full battery, and must nearly reach one that is still charging."""
    margin, present = array.feed.run_margin_v, string.hot_vmp_v
    full, working = job.charge_voltage_v + margin, job.working_voltage_v + margin
    rule = Rule(
        HOT_RUN,
        "Voltage at maximum power with hot cells against full battery plus running margin",
        "V",
        limit_basis("hot-vmp-shortfall"),
        f"Hot cells give {present:.1f} V, a battery that is still charging asks for "
        f"{working:.1f} V, a full one for {full:.1f} V: {_lengthen(string, full)}",
        array.subject(string),
    )
    least = working * (1.0 - limit("hot-vmp-shortfall"))
    verdict: Verdict = "fail" if present < least else "review" if present < full - 1e-9 else "pass"
    return check(rule, verdict, full, present, _used(full, present))


def _hot_start(job: Job, array: ArrayFigures, string: StringFigures) -> Check:
    """A controller wakes up on open circuit; a late start on the hottest days costs little."""
    needed, present = job.charge_voltage_v + array.feed.start_margin_v, string.hot_voc_v
    rule = Rule(
        "hot-voltage-start",
        "Open-circuit voltage with hot cells against full battery plus starting margin",
        "V",
        basis("practice", "A controller needs some volts above the battery to wake up"),
        f"Open circuit with hot cells is {present:.1f} V: it may start late on a hot day with a "
        f"full battery. {_lengthen(string, needed)}",
        array.subject(string),
    )
    return check(
        rule, "review" if present < needed else "pass", needed, present, _used(needed, present)
    )


def _used(needed: float, present: float) -> float:
    return needed / present if present > 0 else 1e9


def _lengthen(string: StringFigures, needed: float) -> str:
    each = string.hot_vmp_v / len(string.members)
    if each <= 0:
        return "Use panels with a higher voltage."
    return f"At least {math.ceil(needed / each)} such panels in series avoid it."
