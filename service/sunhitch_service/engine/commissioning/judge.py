"""Verdict on every reading."""

from collections.abc import Sequence

from sunhitch.types.check import Check
from sunhitch.types.commissioning import (
    ClearSkySun,
    MeasuredQuantity,
    QuantityResult,
    ReadingResult,
    UncertaintyPart,
)
from sunhitch_service.engine.rules.readings import (
    enough_light,
    insulation_voltage_v,
    least_normal,
    measured,
)
from sunhitch_service.engine.rules.table import unit_of

from .evidence import Figure
from .practice import figure
from .setup import CommissioningInspection


def judged(
    inspection: CommissioningInspection,
    index: int,
    figures: Sequence[Figure],
    of_day: int,
    *,
    is_fault: bool,
) -> tuple[ReadingResult, list[Check]]:
    """One reading beside what a faultless array would show.

    Parameters
    ----------
    inspection : CommissioningInspection
        Settled request.
    index : int
        Which reading.
    figures : sequence of Figure
        Its figures.
    of_day : int
        Figures that were read on its day.
    is_fault : bool
        Whether the readings of its day, taken together, show a fault.

    Returns
    -------
    tuple of (ReadingResult, list of Check)
        The last figure decides.
    """
    reading, conditions = inspection.request.readings[index], inspection.conditions[index]
    may_be_held = _may_be_held(figures)
    judgements = [
        _judgement(f, of_day, is_fault=is_fault, may_be_held=may_be_held) for f in figures
    ]
    own, deciding = judgements[-1]
    parts = sorted(figures[-1].parts().items(), key=lambda part: -part[1])
    result = ReadingResult(
        name=reading.name,
        kind=reading.kind,
        of=reading.of,
        verdict=deciding.verdict,
        irradiance_w_m2=conditions.irradiance_w_m2,
        cell_temperature_c=conditions.cell_c,
        quantities=[each for _, each in judgements],
        uncertainty_parts=[
            UncertaintyPart(source=source, standard_fraction=share) for source, share in parts
        ],
    )
    if deciding.quantity == "voltage":
        return result, [own]
    present = conditions.irradiance_w_m2
    down = isinstance(reading.light, ClearSkySun) and present < figure("night")
    return result, [own, enough_light(reading.name, present, sun_is_down=down)]


def _may_be_held(figures: Sequence[Figure]) -> bool:
    """Whether voltage lacks and current does not, as where a plain switch loads the array."""
    shares = {f.quantity: f.measured / f.expected for f in figures if f.expected > 0.0}
    volts, amperes = (shares.get(name, 0.0) for name in ("voltage", "current"))
    return 0.0 < volts < least_normal("voltage", 1.0) and amperes >= least_normal("current", 1.0)


def _judgement(
    item: Figure, of_day: int, *, is_fault: bool, may_be_held: bool
) -> tuple[Check, QuantityResult]:
    """One figure among as many of its day.

    Of many, some sound one is above its own interval by chance: what none exceeds has the odds of
    one interval for all together (Bonferroni's inequality).
    """
    from scipy.special import ndtr, ndtri

    quantity, value, expected = item.quantity, item.measured, item.expected
    uncertainty, least = sound_within(quantity, expected, item.share())
    most = expected * (1.0 - item.share() * float(ndtri(ndtr(-figure("coverage")) / of_day)))
    check = measured(
        item.reading.name,
        quantity,
        value,
        expected,
        uncertainty,
        most,
        item.at.irradiance_w_m2,
        is_fault=is_fault,
        may_be_held=may_be_held,
    )
    return check, QuantityResult(
        quantity=quantity,
        unit=unit_of(f"measured-{quantity}"),
        measured=value,
        expected=expected,
        uncertainty=uncertainty,
        least=least,
        of_expected_fraction=value / expected,
        verdict=check.verdict,
    )


def sound_within(quantity: MeasuredQuantity, expected: float, share: float) -> tuple[float, float]:
    """Half the width of an expected reading's 95 % interval, and the least that counts as sound.

    Parameters
    ----------
    quantity : str
        What is read.
    expected : float
        Of a faultless array [V, A or W].
    share : float
        Standard uncertainty as a share of it [1].
    """
    uncertainty = figure("coverage") * share * expected
    return uncertainty, max(0.0, least_normal(quantity, expected) - uncertainty)


def system_voltage_v(inspection: CommissioningInspection) -> float:
    """Open-circuit voltage of the longest string by its nameplates, with margin [V].

    Parameters
    ----------
    inspection : CommissioningInspection
        Settled request.

    Returns
    -------
    float
        1.25 × Voc.
    """
    return insulation_voltage_v(
        max(
            inspection.panels[s.panel_type].electrical.v_oc_v * s.panels_in_series
            for s in inspection.request.array.strings
        )
    )
