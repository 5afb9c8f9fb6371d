"""Axes of a chart: round steps, and from values to places on the sheet."""

from dataclasses import dataclass
from math import floor, log10

from .schematic import Sheet

_ROUND = (1.0, 2.0, 2.5, 5.0, 10.0)
_MOST_STEPS = 8


@dataclass(frozen=True, slots=True)
class Frame:
    """A chart's rectangle and what its right and upper ends stand for.

    Parameters
    ----------
    left, top, width, height : float
        Rectangle on the sheet.
    x_end, y_end : float
        Values at its right and upper end; the others are 0.
    """

    left: float
    top: float
    width: float
    height: float
    x_end: float
    y_end: float

    def place(self, x: float, y: float) -> tuple[float, float]:
        """Where a point of the chart is on the sheet."""
        return (
            self.left + self.width * x / self.x_end,
            self.top + self.height * (1.0 - y / self.y_end),
        )


def round_step(end: float) -> float:
    """Distance between ticks that gives at most eight of them.

    Parameters
    ----------
    end : float
        Value at the end of the axis, positive.
    """
    least = end / _MOST_STEPS
    decade = 10.0 ** floor(log10(least))
    return next(step * decade for step in _ROUND if step * decade >= least * (1.0 - 1e-9))


def ticks(end: float) -> list[float]:
    """Round values from 0 up to the end of an axis."""
    step = round_step(end)
    return [k * step for k in range(int(end / step + 1e-9) + 1)]


def draw_axes(sheet: Sheet, frame: Frame, x_name: str, y_name: str) -> None:
    """Draw both axes with ticks, light rules and names.

    Parameters
    ----------
    sheet : Sheet
        Where to draw.
    frame : Frame
        The chart.
    x_name, y_name : str
        Names with units; an empty `x_name` leaves the numbers out too.
    """
    bottom, right = frame.top + frame.height, frame.left + frame.width
    for value in ticks(frame.y_end):
        _, y = frame.place(0.0, value)
        sheet.line("rule", (frame.left, y), (right, y))
        sheet.text(frame.left - 8, y + 4, f"{value:g}", "small", "end")
    for value in ticks(frame.x_end):
        x, _ = frame.place(value, 0.0)
        sheet.line("rule", (x, frame.top), (x, bottom))
        if x_name:
            sheet.text(x, bottom + 16, f"{value:g}", "small", "middle")
    sheet.line("thin", (frame.left, frame.top), (frame.left, bottom), (right, bottom))
    sheet.text(frame.left - 8, frame.top - 10, y_name, "head", "end")
    if x_name:
        sheet.text(right, bottom + 32, x_name, "head", "end")
