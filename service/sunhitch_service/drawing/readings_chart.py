"""Readings against a faultless array: each with its uncertainty and what counts as normal."""

from sunhitch.report.amounts import figure, percent
from sunhitch.types.commissioning import (
    CommissioningCheckAnswer,
    CommissioningCheckRequest,
    QuantityResult,
    ReadingResult,
)

from .axes import Chart, whole_percent
from .sheet import Sheet, shortened

LEFT, WIDTH, _ROW = 330.0, 380.0, 30.0
_LONGEST_NAME = 46
_LEAST_END, _MOST_END = 1.25, 2.0
"""Range of the axis as a share of what is expected; readings beyond stand at its end."""


def readings_chart(request: CommissioningCheckRequest, answer: CommissioningCheckAnswer) -> str:
    """Draw the chart: the figure of each reading that decides, as a share of what is expected.

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
    return sheet.svg(chart.right + 230, chart.bottom + 56)


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
