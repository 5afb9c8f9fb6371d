"""Verdict on every reading, on polarity and on insulation."""

import math

from sunhitch.report.amounts import percent
from sunhitch.types.check import Check, Verdict
from sunhitch.types.commissioning import (
    ClearSkySun,
    InsulationReading,
    MeasuredQuantity,
    PolarityReading,
    QuantityResult,
    Reading,
    ReadingResult,
    UncertaintyPart,
)
from sunhitch_service.engine.checks import Rule, check
from sunhitch_service.engine.sources import basis
from sunhitch_service.engine.tables import table

from .expected import Figure, figures_of
from .practice import figure, figure_basis, why
from .setup import Conditions, Job

UNITS: dict[MeasuredQuantity, str] = {"voltage": "V", "current": "A", "power": "W"}
_ARRAY_MARGIN = 1.25
_DARK_W_M2 = 1.0


def judged(job: Job, index: int) -> tuple[ReadingResult, list[Check]]:
    """One reading beside what a faultless array would show.

    Parameters
    ----------
    job : Job
        Settled request.
    index : int
        Which reading.

    Returns
    -------
    tuple of (ReadingResult, list of Check)
        The last figure decides.
    """
    reading, conditions = job.request.readings[index], job.conditions[index]
    figures = figures_of(job, index)
    results = [_result(f, conditions) for f in figures]
    deciding = results[-1]
    parts = sorted(figures[-1].parts(conditions).items(), key=lambda part: -part[1])
    result = ReadingResult(
        name=reading.name,
        kind=reading.kind,
        of=reading.of,
        verdict=deciding.verdict,
        irradiance_w_m2=conditions.irradiance_w_m2,
        cell_temperature_c=conditions.cell_c,
        quantities=results,
        uncertainty_parts=[
            UncertaintyPart(source=source, standard_fraction=share) for source, share in parts
        ],
    )
    own = _check(reading.name, deciding)
    return result, [own, *_light_check(reading, deciding, conditions)]


def _result(figure_: Figure, conditions: Conditions) -> QuantityResult:
    share = figure("coverage") * figure_.share(conditions)
    uncertainty = share * figure_.expected
    least = figure(f"normal-{figure_.quantity}") * figure_.expected
    return QuantityResult(
        quantity=figure_.quantity,
        unit=UNITS[figure_.quantity],
        measured=figure_.measured,
        expected=figure_.expected,
        uncertainty=uncertainty,
        least=least,
        of_expected_fraction=figure_.measured / figure_.expected if figure_.expected else 0.0,
        verdict=_verdict(figure_, least, uncertainty, conditions),
    )


def _verdict(figure_: Figure, least: float, uncertainty: float, conditions: Conditions) -> Verdict:
    least_light = "weak-light-voltage" if figure_.quantity == "voltage" else "weak-light"
    if conditions.irradiance_w_m2 < figure(least_light):
        return "not-assessed"
    if figure_.measured < least - uncertainty:
        return "fail"
    beyond = figure_.measured > figure_.expected + uncertainty
    return "review" if beyond or figure_.measured < least else "pass"


def _check(name: str, result: QuantityResult) -> Check:
    rule = Rule(
        f"measured-{result.quantity}",
        f"Measured {result.quantity} against what a faultless array gives in this light",
        result.unit,
        basis(
            "de-soto-2006",
            "translation to the light and heat of the reading",
            f"Least that counts as normal: {why(f'normal-{result.quantity}')}",
        ),
        _remedy(result),
        name,
    )
    used = result.least / result.measured if result.measured > 0.0 else 1e9
    if result.verdict == "not-assessed":
        return check(rule, "not-assessed")
    return check(rule, result.verdict, result.least, max(0.0, result.measured), used)


def _remedy(result: QuantityResult) -> str:
    if result.verdict == "not-assessed":
        return "Too little light to judge by: repeat in more than 400 W/m², best above 800 W/m²."
    if result.measured < 0.0:
        return (
            f"It shows {result.measured:.4g} {result.unit}: swap the meter's leads and look again; "
            "if they were right, plus and minus of the circuit are swapped. Connect nothing to it "
            "until the leads are marked right."
        )
    expected = f"{result.expected:.4g} {result.unit}"
    share = f"{percent(result.of_expected_fraction)} of the expected {expected}"
    if result.measured > result.expected:
        return (
            f"It shows {share}, more than the array can give in this light: check the irradiance "
            "reading, its plane and the panel data."
        )
    if result.verdict == "fail":
        return f"It shows {share}: follow the causes below in order, then measure again."
    return (
        f"It shows {share}; the shortfall lies within ±{result.uncertainty:.3g} {result.unit} of "
        "uncertainty: repeat with an irradiance meter in the panels' plane and a temperature "
        "reading at a panel's back."
    )


def _light_check(reading: Reading, result: QuantityResult, conditions: Conditions) -> list[Check]:
    if result.quantity == "voltage":
        return []
    present, needed = conditions.irradiance_w_m2, figure("full-light")
    dark = (
        " At that moment the sun is down there: check date, time and offset."
        if isinstance(reading.light, ClearSkySun) and present < _DARK_W_M2
        else ""
    )
    rule = Rule(
        "enough-light",
        "Light in the panels' plane when the reading was taken",
        "W/m²",
        figure_basis("full-light"),
        f"Repeat the reading in more than {needed:.0f} W/m²: {present:.0f} W/m² magnifies every "
        f"error.{dark}",
        reading.name,
    )
    verdict: Verdict = (
        "pass"
        if present >= needed
        else "review"
        if present >= figure("weak-light")
        else "not-assessed"
    )
    return [check(rule, verdict, needed, present, needed / max(present, 1e-6))]


def polarity_check(reading: PolarityReading) -> Check:
    """Whether plus is plus.

    Parameters
    ----------
    reading : PolarityReading
        Signed voltage.

    Returns
    -------
    Check
        Below 1 V there is nothing to judge.
    """
    wrong = reading.voltage_v < 0.0
    rule = Rule(
        "polarity",
        "Voltage between the wires marked plus and minus",
        "",
        basis("iec-62446-1", "polarity test"),
        "Plus and minus are swapped: find where, correct and mark the leads before anything is "
        "joined or connected."
        if wrong
        else "Too little voltage to tell: repeat in daylight.",
        reading.of,
    )
    clear = abs(reading.voltage_v) >= 1.0
    return check(rule, "not-assessed" if not clear else "fail" if wrong else "pass")


def system_voltage_v(job: Job) -> float:
    """Open-circuit voltage of the longest string by its nameplates, with margin [V].

    Parameters
    ----------
    job : Job
        Settled request.

    Returns
    -------
    float
        1.25 × Voc.
    """
    return _ARRAY_MARGIN * max(
        job.panels[s.panel_type].electrical.v_oc_v * s.panels_in_series
        for s in job.request.array.strings
    )


def insulation_row(volts: float) -> dict[str, str] | None:
    """Row of `insulation.csv` for a system voltage; None beyond the table."""
    for row in table("commissioning", "insulation").rows:
        if volts <= float(row["system_voltage_to_v"]):
            return row
    return None


def insulation_check(job: Job, reading: InsulationReading) -> Check:
    """Whether a circuit is insulated from the vehicle.

    Parameters
    ----------
    job : Job
        Settled request.
    reading : InsulationReading
        Test voltage and resistance.

    Returns
    -------
    Check
        `not-assessed` beyond the table, or where the test voltage was too low.
    """
    volts = system_voltage_v(job)
    row = insulation_row(volts)
    source = table("commissioning", "insulation").basis
    title = "Insulation resistance between the circuit and the vehicle's metal"
    if row is None:
        remedy = f"{volts:.0f} V is beyond the table; ask a licensed electrician for the test."
        return check(Rule("insulation", title, "", source, remedy, reading.of), "not-assessed")
    least, needed_v = float(row["least_resistance_ohm"]), float(row["test_voltage_v"])
    enough = reading.test_voltage_v >= needed_v
    remedy = (
        "Part the strings and test one by one; look for chafed cable, wet plugs and screws through "
        f"the panel's back. At least {least / 1e6:g} MΩ is needed."
        if reading.resistance_ohm < least
        else f"Repeat the test at {needed_v:.0f} V."
    )
    rule = Rule("insulation", title, "Ω", source, remedy, reading.of)
    verdict: Verdict = (
        "fail" if reading.resistance_ohm < least else "pass" if enough else "not-assessed"
    )
    used = least / reading.resistance_ohm if reading.resistance_ohm > 0.0 else math.inf
    return check(rule, verdict, least, reading.resistance_ohm, min(used, 1e9))
