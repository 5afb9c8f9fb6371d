"""Readings against a faultless array: each with its uncertainty and what counts as normal."""

from sunhitch.report.amounts import figure, percent
from sunhitch.types.commissioning import (
    CommissioningCheckAnswer,
    CommissioningCheckRequest,
    QuantityResult,
    ReadingResult,
)

from .axes import Frame, ticks
from .schematic import Sheet

STYLE = """
.normal { fill: #e3efe9; stroke: none; }
.doubt { stroke: #1d2730; stroke-width: 1.6; fill: none; }
.good { fill: #1d2730; }
.bad { fill: #a3261b; stroke: #1d2730; stroke-width: 1; }
"""
LEFT, TOP, WIDTH, ROW = 330.0, 104.0, 380.0, 30.0
LONGEST_NAME = 46
LEAST_END, MOST_END = 1.25, 2.0
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
    sheet = Sheet(STYLE)
    sheet.text(40, 34, "Readings against a faultless array", "title")
    told = f"{len(request.readings)} readings. Mark: measured; line: its uncertainty (k = 2)"
    sheet.text(40, 56, f"{told}; shaded: normal.", "note")
    rows = [(one, one.quantities[-1]) for one in answer.readings]
    widest = max(_share(one, one.measured + one.uncertainty) for _, one in rows)
    end = min(MOST_END, max(LEAST_END, widest))
    frame = Frame(LEFT, TOP, WIDTH, ROW * len(rows), end, 1.0)
    _axis(sheet, frame)
    for index, (reading, found) in enumerate(rows):
        _row(sheet, frame, TOP + ROW * (index + 0.5), reading, found)
    one, _ = frame.place(1.0, 0.0)
    sheet.line("zone", (one, TOP - 6), (one, TOP + frame.height))
    return sheet.svg(LEFT + WIDTH + 260, TOP + frame.height + 56, "Readings against expectation")


def _share(found: QuantityResult, value: float) -> float:
    return value / found.expected if found.expected > 0.0 else 0.0


def _axis(sheet: Sheet, frame: Frame) -> None:
    bottom = frame.top + frame.height
    for value in ticks(frame.x_end):
        x, _ = frame.place(value, 0.0)
        sheet.line("rule", (x, frame.top), (x, bottom))
        sheet.text(x, bottom + 16, f"{100.0 * value:.0f} %", "small", "middle")
    sheet.line("thin", (frame.left, frame.top), (frame.left, bottom))
    sheet.text(frame.left + frame.width, bottom + 34, "of what is expected", "head", "end")


def _row(
    sheet: Sheet, frame: Frame, y: float, reading: ReadingResult, found: QuantityResult
) -> None:
    def across(value: float) -> float:
        return frame.place(min(max(0.0, _share(found, value)), frame.x_end), 0.0)[0]

    least, end = across(found.least), frame.left + frame.width
    sheet.box("normal", least, y - 11, (max(0.0, end - least), 22))
    low, high = found.measured - found.uncertainty, found.measured + found.uncertainty
    sheet.line("doubt", (across(low), y), (across(high), y))
    sheet.box(
        "good" if found.verdict == "pass" else "bad", across(found.measured) - 4, y - 6, (8, 12)
    )
    sheet.text(frame.left - 10, y + 1, _cut(reading.name), "", "end")
    sheet.text(frame.left - 10, y + 12, f"{reading.of}, {found.quantity}", "small", "end")
    said = f"{figure(found.measured)} of {figure(found.expected)} {found.unit}"
    judged = found.verdict.replace("-", " ")
    share = percent(found.of_expected_fraction)
    sheet.text(end + 10, y + 4, f"{share}: {said}, {judged}", "small")


def _cut(name: str) -> str:
    return name if len(name) <= LONGEST_NAME else f"{name[: LONGEST_NAME - 1]}…"
