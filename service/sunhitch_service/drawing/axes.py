"""Axes of a chart: round steps, and from values to places on the sheet."""

from collections.abc import Callable
from dataclasses import dataclass
from math import floor, log10

from .lettering import Point
from .sheet import Sheet

_ROUND = (1.0, 2.0, 2.5, 5.0, 10.0)
_MOST_STEPS = 8
Written = Callable[[float], str]


def ticks(end: float) -> list[float]:
    """Round values from 0 up to the positive end of an axis, at most nine of them."""
    least = end / _MOST_STEPS
    decade = 10.0 ** floor(log10(least))
    step = next(step * decade for step in _ROUND if step * decade >= least * (1.0 - 1e-9))
    return [k * step for k in range(int(end / step + 1e-9) + 1)]


def whole_percent(share: float) -> str:
    """A share as it stands at an axis."""
    return f"{100.0 * share:.0f} %"


@dataclass(frozen=True, slots=True)
class Chart:
    """A chart's rectangle on the sheet, and what its right and upper ends stand for.

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

    @property
    def bottom(self) -> float:
        """Where the horizontal axis lies."""
        return self.top + self.height

    @property
    def right(self) -> float:
        """Where the horizontal axis ends."""
        return self.left + self.width

    def place(self, x: float, y: float) -> Point:
        """Where a point of the chart is on the sheet."""
        across, up = x / self.x_end, y / self.y_end
        return self.left + self.width * across, self.top + self.height * (1.0 - up)

    def x_axis(self, sheet: Sheet, *units: tuple[str, Written]) -> None:
        """Draw the horizontal axis; below it a row of figures for each unit.

        Parameters
        ----------
        sheet : Sheet
            Where to draw.
        *units : tuple
            Name of the axis or of its unit, and how a value is written.
        """
        for value in ticks(self.x_end):
            x, _ = self.place(value, 0.0)
            if value:
                sheet.line("rule", (x, self.top), (x, self.bottom))
            for row, (_, written) in enumerate(units):
                sheet.text(x, self.bottom + 16 + 14 * row, written(value), "small", "middle")
        sheet.line("thin", (self.left, self.bottom), (self.right, self.bottom))
        names = " · ".join(name for name, _ in units)
        sheet.text(self.right, self.bottom + 20 + 14 * len(units), names, "head", "end")

    def y_axis(self, sheet: Sheet, name: str, written: Written = "{:g}".format) -> None:
        """Draw the vertical axis, its name above it."""
        for value in ticks(self.y_end):
            _, y = self.place(0.0, value)
            if value:
                sheet.line("rule", (self.left, y), (self.right, y))
            sheet.text(self.left - 8, y + 4, written(value), "small", "end")
        sheet.line("thin", (self.left, self.top), (self.left, self.bottom))
        sheet.text(self.left - 44, self.top - 12, name, "head")
