"""`commissioning-check`: readings, causes, follow-up and the acceptance test."""

from sunhitch.report.amounts import percent
from sunhitch.types.check import Check
from sunhitch.types.commissioning import (
    CommissioningCheckAnswer,
    CommissioningCheckRequest,
    Diagnosis,
    FollowUp,
    ReadingResult,
)
from sunhitch_service.engine.answering import common
from sunhitch_service.engine.cautions import cautions
from sunhitch_service.engine.rules.readings import insulation, polarity

from .causes import diagnoses
from .checklist import checklist
from .follow_up import follow_ups, loss_check
from .judge import judged, system_voltage_v
from .setup import CommissioningInspection, settle

_CAUTIONS = ("lit-panel", "meter-work", "dc-arc", "battery-energy", "roof-work", "judgement")


def commissioning_check(request: CommissioningCheckRequest) -> CommissioningCheckAnswer:
    """Judge readings by what a faultless array would show in the same light.

    Parameters
    ----------
    request : CommissioningCheckRequest
        The array as built, and what was read.

    Returns
    -------
    CommissioningCheckAnswer
        Every reading judged, causes of shortfalls, and the trend over the years.

    Raises
    ------
    ContradictionError
        If the request contradicts itself.
    """
    inspection = settle(request)
    outcomes = [judged(inspection, index) for index in range(len(request.readings))]
    results = [result for result, _ in outcomes]
    tests = _tests(inspection, results, [checks for _, checks in outcomes])
    trends = follow_ups(inspection, results)
    checks = [*(c for group in tests.values() for c in group), *map(loss_check, trends)]
    found = diagnoses(inspection, results)
    return CommissioningCheckAnswer(
        **common(request, checks, inspection.assumptions, cautions(*_CAUTIONS)),
        summary=_summary(results, found, trends),
        readings=results,
        diagnoses=found,
        follow_up=trends,
        checklist=checklist(inspection, tests),
    )


def _tests(
    inspection: CommissioningInspection, results: list[ReadingResult], checks: list[list[Check]]
) -> dict[str, list[Check]]:
    """Checks by step of the acceptance test."""
    tests: dict[str, list[Check]] = {
        "polarity": [polarity(each.of, each.voltage_v) for each in inspection.request.polarity],
        "insulation": [
            insulation(
                each.of, each.resistance_ohm, each.test_voltage_v, system_voltage_v(inspection)
            )
            for each in inspection.request.insulation
        ],
    }
    for result, group in zip(results, checks, strict=True):
        tests.setdefault(result.kind, []).extend(group)
    return tests


def _summary(
    results: list[ReadingResult], found: list[Diagnosis], trends: list[FollowUp]
) -> list[str]:
    normal = sum(result.verdict == "pass" for result in results)
    lines = [f"{normal} of {len(results)} readings are as a faultless array would give."]
    lines += dict.fromkeys(_cause_line(diagnosis) for diagnosis in found)
    lines += [f"Follow-up of {t.of}, {t.kind}: {t.why}" for t in trends]
    return lines[:20]


def _cause_line(diagnosis: Diagnosis) -> str:
    first = diagnosis.causes[0]
    if not diagnosis.explained:
        return (
            f"{diagnosis.of}: no single cause explains {', '.join(diagnosis.readings)}; check the "
            f"readings, then begin with: {first.test}"
        )
    return (
        f"{diagnosis.of}: likeliest cause, {percent(first.share_fraction)}: {first.title.lower()} "
        f"({first.explains}). To tell: {first.test}"
    )
