"""Verdict on every reading."""

from sunhitch.types.check import Check
from sunhitch.types.commissioning import (
    ClearSkySun,
    QuantityResult,
    ReadingResult,
    UncertaintyPart,
)
from sunhitch_service.engine.rules.readings import enough_light, least_normal, measured
from sunhitch_service.engine.rules.table import unit_of

from .expected import Figure, figures_of
from .practice import figure
from .setup import CommissioningInspection, ReadingConditions

_ARRAY_MARGIN = 1.25
_DARK_W_M2 = 1.0


def judged(inspection: CommissioningInspection, index: int) -> tuple[ReadingResult, list[Check]]:
    """One reading beside what a faultless array would show.

    Parameters
    ----------
    inspection : CommissioningInspection
        Settled request.
    index : int
        Which reading.

    Returns
    -------
    tuple of (ReadingResult, list of Check)
        The last figure decides.
    """
    reading, conditions = inspection.request.readings[index], inspection.conditions[index]
    figures = figures_of(inspection, index)
    judgements = [_judgement(reading.name, f, conditions) for f in figures]
    own, deciding = judgements[-1]
    parts = sorted(figures[-1].parts(conditions).items(), key=lambda part: -part[1])
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
    down = isinstance(reading.light, ClearSkySun) and present < _DARK_W_M2
    return result, [own, enough_light(reading.name, present, sun_is_down=down)]


def _judgement(
    name: str, figure_: Figure, conditions: ReadingConditions
) -> tuple[Check, QuantityResult]:
    quantity, value, expected = figure_.quantity, figure_.measured, figure_.expected
    uncertainty = figure("coverage") * figure_.share(conditions) * expected
    light = conditions.irradiance_w_m2
    check = measured(name, quantity, value, expected, uncertainty, light)
    return check, QuantityResult(
        quantity=quantity,
        unit=unit_of(f"measured-{quantity}"),
        measured=value,
        expected=expected,
        uncertainty=uncertainty,
        least=least_normal(quantity, expected),
        of_expected_fraction=value / expected if expected else 0.0,
        verdict=check.verdict,
    )


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
    return _ARRAY_MARGIN * max(
        inspection.panels[s.panel_type].electrical.v_oc_v * s.panels_in_series
        for s in inspection.request.array.strings
    )
