"""Readings against a faultless array, and below them how likely each cause is, day by day."""

import textwrap

from sunhitch.report.amounts import figure, percent
from sunhitch.types.commissioning import (
    CommissioningCheckAnswer,
    CommissioningCheckRequest,
    Diagnosis,
    QuantityResult,
    ReadingResult,
)

from .axes import Chart, whole_percent
from .sheet import MARGIN, Sheet, shortened

LEFT, WIDTH, _ROW, _BAR = 330.0, 380.0, 30.0, 19.0
_LONGEST_NAME, _LONGEST_CAUSE, _LONGEST_LINE = 46, 56, 140
_LEAST_END, _MOST_END = 1.25, 2.0
"""Range of the axis as a share of what is expected; readings beyond stand at its end."""


def readings_chart(request: CommissioningCheckRequest, answer: CommissioningCheckAnswer) -> str:
    """Draw the figure of each reading that decides, as a share of what is expected, and causes.

    Parameters
    ----------
    request : CommissioningCheckRequest
        What was read.
    answer : CommissioningCheckAnswer
        How it was judged.

    Returns
    -------
    str
        SVG picture.
    """
    told = f"{len(request.readings)} readings. Mark: measured; line: its uncertainty (k = 2)"
    sheet = Sheet("Readings against a faultless array", f"{told}; shaded: normal.")
    rows = [(one, one.quantities[-1]) for one in answer.readings]
    widest = max(_share(one, one.measured + one.uncertainty) for _, one in rows)
    end = min(_MOST_END, max(_LEAST_END, widest))
    chart = Chart(LEFT, 88.0, WIDTH, _ROW * len(rows), end, 1.0)
    chart.x_axis(sheet, ("of what is expected", whole_percent))
    for index, (reading, found) in enumerate(rows):
        _row(sheet, chart, chart.top + _ROW * (index + 0.5), reading, found)
    one, _ = chart.place(1.0, 0.0)
    sheet.line("zone", (one, chart.top - 6), (one, chart.bottom))
    bottom = chart.bottom + 56.0
    for diagnosis in answer.diagnoses:
        bottom = _causes(sheet, diagnosis, bottom)
    return sheet.svg(chart.right + 230, bottom)


def _causes(sheet: Sheet, found: Diagnosis, top: float) -> float:
    """Probability of every cause of one day as bars, and what to read next; where they end."""
    unsure = "" if found.explained else "; none agrees with the readings"
    sheet.text(MARGIN, top, f"Probability of causes, {found.day}{unsure}")
    y = top + 8.0
    for cause in found.causes:
        share = cause.share_fraction
        kind = "sound" if cause.code == "nothing-wrong" else "cause"
        sheet.text(LEFT - 10, y + 13, shortened(cause.title, _LONGEST_CAUSE), "small", "end")
        sheet.bar(LEFT, y + 9, [(kind, max(1.0, WIDTH * share))], whole_percent(share))
        y += _BAR
    if found.next_reading is not None:
        told = found.next_reading
        said = f"Read next: {told.kind} {told.quantity} of {told.of}. {told.tells}"
        for line in textwrap.wrap(said, _LONGEST_LINE):
            sheet.text(MARGIN, y + 14, line, "small")
            y += 14.0
    return y + 34.0


def _share(found: QuantityResult, value: float) -> float:
    return value / found.expected if found.expected > 0.0 else 0.0


def _row(
    sheet: Sheet, chart: Chart, y: float, reading: ReadingResult, found: QuantityResult
) -> None:
    def across(value: float) -> float:
        return chart.place(min(max(0.0, _share(found, value)), chart.x_end), 0.0)[0]

    least, end = across(found.least), chart.right
    sheet.box("normal", least, y - 11, (max(0.0, end - least), 22))
    low, high = found.measured - found.uncertainty, found.measured + found.uncertainty
    sheet.line("doubt", (across(low), y), (across(high), y))
    kind = "good" if found.verdict == "pass" else "bad"
    sheet.box(kind, across(found.measured) - 4, y - 6, (8, 12))
    sheet.text(chart.left - 10, y + 1, shortened(reading.name, _LONGEST_NAME), "", "end")
    sheet.text(chart.left - 10, y + 13, f"{reading.of}, {found.quantity}", "small", "end")
    said = f"{figure(found.measured)} of {figure(found.expected)} {found.unit}"
    judged = found.verdict.replace("-", " ")
    share = percent(found.of_expected_fraction)
    sheet.text(end + 10, y + 4, f"{share}: {said}, {judged}", "small")
