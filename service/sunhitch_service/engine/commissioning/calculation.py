"""`commissioning-check`: readings, causes, follow-up and the acceptance test."""

from collections import Counter

from sunhitch.texts import statement
from sunhitch.texts import together as in_a_row
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
from sunhitch_service.engine.rules.readings import insulation, polarity, taken_together

from .checklist import checklist
from .diagnosis import NO_FAULT, days, diagnosis_of
from .evidence import figures_of
from .follow_up import follow_ups
from .judge import judged, system_voltage_v
from .setup import CommissioningInspection, settle

_MOST_TOLD = 4
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
    found = [diagnosis_of(day) for day in days(inspection)]
    cleared = {d.day for d in found if d.explained and d.verdict != "fail"}
    figures = [figures_of(inspection, index) for index in range(len(request.readings))]
    read_on: Counter[str] = Counter()
    for reading, own in zip(request.readings, figures, strict=True):
        read_on[reading.taken_at[:10]] += len(own)
    outcomes = [
        judged(inspection, index, figures[index], read_on[day], is_fault=day not in cleared)
        for index, day in enumerate(reading.taken_at[:10] for reading in request.readings)
    ]
    results = [result for result, _ in outcomes]
    tests = _tests(inspection, results, [checks for _, checks in outcomes])
    followed = follow_ups(inspection, results)
    trends = [trend for trend, _ in followed]
    checks = [
        *map(together, found),
        *(c for group in tests.values() for c in group),
        *(check for _, check in followed),
    ]
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
    lines: list[str] = [statement("normal-readings", normal=normal, readings=len(results))]
    if normal == len(results) and any(each.verdict != "pass" for each in found):
        lines = [statement("together-not-normal")]
    lines += dict.fromkeys(map(_cause_line, found))
    lines += [statement("follow-up-of", of=t.of, kind=t.kind, why=t.why) for t in trends]
    return lines[:20]


def _cause_line(diagnosis: Diagnosis) -> str:
    first, more = diagnosis.causes[0], diagnosis.next_reading
    share = first.share_fraction
    if not diagnosis.explained:
        return statement("no-single-cause", readings=diagnosis.readings, test=first.test)
    if diagnosis.verdict == "pass":
        possible = [
            statement("possible-at-most", title=one.title, at_most=one.at_most)
            for one in diagnosis.still_possible[:_MOST_TOLD]
        ]
        allowed = in_a_row("semicolon", possible) if possible else statement("nothing-else")
        return statement("nothing-wrong-shown", share_fraction=share, possible=allowed)
    likeliest = statement(
        "likeliest-cause",
        share_fraction=share,
        title=first.title,
        explains=first.explains,
        test=first.test,
    )
    following = (
        statement("read-next", kind=more.kind, quantity=more.quantity, of=more.of, tells=more.tells)
        if more
        else ""
    )
    return in_a_row("space", [likeliest, following])


def together(diagnosis: Diagnosis) -> Check:
    """All readings of a day as one check."""
    shares = {cause.code: cause.share_fraction for cause in diagnosis.causes}
    sound = sum(share for code, share in shares.items() if code in NO_FAULT)
    fault = max((share for code, share in shares.items() if code not in NO_FAULT), default=0.0)
    first = diagnosis.causes[0]
    return taken_together(
        diagnosis.day,
        sound,
        fault,
        diagnosis.verdict,
        statement("lowered", title=first.title),
        first.test,
    )
