"""What the meter proves, for people."""

from sunhitch.report.amounts import both, figure, percent
from sunhitch.report.layout import Page
from sunhitch.types.commissioning import (
    CommissioningCheckAnswer,
    CommissioningCheckRequest,
    Diagnosis,
    FollowUp,
    ReadingResult,
)

from .operation import Operation


def present(page: Page, answer: CommissioningCheckAnswer) -> list[str]:
    """Readings against expectation, likely causes, the trend, and the acceptance test."""
    return [
        page.heading("In short"),
        *page.bullets(answer.summary),
        *page.columns(
            "Readings",
            [(one.name, found) for one in answer.readings for found in one.quantities],
            {
                "Reading": lambda one: one[0],
                "Figure": lambda one: one[1].quantity,
                "Measured": lambda one: f"{figure(one[1].measured)} {one[1].unit}",
                "Expected": lambda one: (
                    f"{figure(one[1].expected)} ± {figure(one[1].uncertainty, 2)} {one[1].unit}"
                ),
                "Normal from": lambda one: f"{figure(one[1].least)} {one[1].unit}",
                "Share": lambda one: percent(one[1].of_expected_fraction),
                "Verdict": lambda one: one[1].verdict,
            },
        ),
        *page.bullets(_light(one) for one in answer.readings),
        *(line for found in answer.diagnoses for line in _causes(page, found)),
        *page.section("Over the years", [_trend(one) for one in answer.follow_up]),
        *page.section(
            "Acceptance test, in order",
            [f"{step.title} ({step.state}). {step.how}" for step in answer.checklist],
        ),
    ]


def _light(reading: ReadingResult) -> str:
    parts = ", ".join(
        f"{part.source} {percent(part.standard_fraction)}" for part in reading.uncertainty_parts
    )
    return (
        f"{reading.name}: {reading.kind} of {reading.of} at "
        f"{figure(reading.irradiance_w_m2)} W/m², cells at "
        f"{both(reading.cell_temperature_c, '°C')}. Uncertain by: {parts}."
    )


def _causes(page: Page, found: Diagnosis) -> list[str]:
    unsure = "" if found.explained else " (none agrees with the readings)"
    return [
        *page.section(
            f"Likely causes, all readings of {found.day} together{unsure}",
            [
                f"{percent(cause.share_fraction)} {cause.title}: {cause.explains}. "
                f"To tell: {cause.test}"
                for cause in found.causes
            ],
        ),
        *page.section("Read next", _next(found)),
        *page.section(
            "What these readings still allow",
            [f"{one.title}: {one.at_most}." for one in found.still_possible],
        ),
    ]


def _next(found: Diagnosis) -> list[str]:
    told = found.next_reading
    if told is None:
        return []
    removed = percent(told.doubt_removed_fraction)
    return [
        f"{told.kind.capitalize()} {told.quantity} of {told.of}, with the light read before and "
        f"after: removes {removed} of the doubt. {told.tells}"
    ]


def _trend(one: FollowUp) -> str:
    return (
        f"{one.of}, {one.kind}, {one.readings} readings over {figure(one.span_years)} years: "
        f"{one.outcome.replace('-', ' ')}; {percent(one.yearly_loss_fraction)} lost a year "
        f"(95 % between {percent(one.low_fraction)} and {percent(one.high_fraction)}). {one.why}"
    )


COMMISSIONING_CHECK = Operation(
    "commissioning-check",
    CommissioningCheckRequest,
    CommissioningCheckAnswer,
    "What the meter should show, and why it does not",
    "Readings of voltage and current against a faultless array in the same light, each with its "
    "uncertainty, the probability of every cause from all readings of a day, what a pass still "
    "allows, the most telling next reading, insulation and polarity, the yearly loss from dated "
    "readings, and the acceptance test in order.",
    present,
)
