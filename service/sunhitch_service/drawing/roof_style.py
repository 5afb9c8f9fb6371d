"""What the parts of a roof plan share: scale, shades, and shapes made of straight lines."""

import math
from dataclasses import dataclass

from .schematic import Sheet

Point = tuple[float, float]

STYLE = """
.roof { fill: #fff; stroke: #1d2730; stroke-width: 2; }
.sheet-of-cells { fill: #e3e9ee; stroke: #1d2730; stroke-width: 1.5; }
.foot { fill: #fff; stroke: #1d2730; stroke-width: 0.9; }
.obstacle { fill: #fff; stroke: #1d2730; stroke-width: 1.5; }
.clearance { fill: none; stroke: #46525d; stroke-width: 0.9; stroke-dasharray: 3 3; }
.strip { fill: none; stroke: #7b8791; stroke-width: 0.9; stroke-dasharray: 7 5; }
.hatch { stroke: #c6ced4; stroke-width: 0.9; }
.seam { stroke: #1d2730; stroke-width: 1; stroke-dasharray: 9 3 2 3; fill: none; }
.band { stroke: #c6ced4; stroke-opacity: 0.6; fill: none; }
.cable { stroke: #a3261b; stroke-width: 2.4; fill: none; }
.veil { stroke: #fff; stroke-width: 4.6; fill: none; }
.stem { stroke: #1d2730; stroke-width: 2.2; fill: none; }
.entry { fill: #fff; stroke: #1d2730; stroke-width: 2; }
.mass { fill: none; stroke: #1d2730; stroke-width: 1.1; }
.tip { fill: #1d2730; }
.number { font-size: 10.5px; font-weight: 600; }
.on-panel, .named { paint-order: stroke; stroke: #fff; stroke-width: 2.5px; }
.on-panel { font-size: 10.5px; font-weight: 600; }
.named { font-size: 9.5px; }
"""

_HATCH_STEP = 9.0
_CIRCLE = 48


@dataclass(frozen=True, slots=True)
class RoofScale:
    """From roof to paper: forward is up.

    Parameters
    ----------
    front_m, left_m : float
        Roof coordinates of the plan's upper left corner.
    length_m, width_m : float
        Size of the roof.
    per_m : float
        Paper units per metre.
    left, top : float
        Where the plan's upper left corner is on paper.
    """

    front_m: float
    left_m: float
    length_m: float
    width_m: float
    per_m: float
    left: float
    top: float

    def __call__(self, x_m: float, y_m: float) -> Point:
        """Place on paper of a point of the roof."""
        return (
            self.left + (y_m - self.left_m) * self.per_m,
            self.top + (x_m - self.front_m) * self.per_m,
        )

    @property
    def right(self) -> float:
        """Right edge of the roof on paper."""
        return self.left + self.width_m * self.per_m

    @property
    def bottom(self) -> float:
        """Rear edge of the roof on paper."""
        return self.top + self.length_m * self.per_m


def ring(x: float, y: float, radius: float) -> list[Point]:
    """Corners of a many-sided figure that stands for a circle."""
    angles = [2.0 * math.pi * k / _CIRCLE for k in range(_CIRCLE)]
    return [(x + radius * math.cos(a), y + radius * math.sin(a)) for a in angles]


def hatched(sheet: Sheet, corners: list[Point], leaning: bool) -> None:
    """Fill an upright rectangle on paper with light lines, leaning or level."""
    x1, y1 = min(x for x, _ in corners), min(y for _, y in corners)
    x2, y2 = max(x for x, _ in corners), max(y for _, y in corners)
    if not leaning:
        for k in range(1, math.ceil((y2 - y1) / _HATCH_STEP)):
            sheet.line("hatch", (x1, y1 + k * _HATCH_STEP), (x2, y1 + k * _HATCH_STEP))
        return
    for k in range(1, math.ceil((x2 - x1 + y2 - y1) / _HATCH_STEP)):
        d = k * _HATCH_STEP
        start = (x1 + max(0.0, d - (y2 - y1)), y1 + min(d, y2 - y1))
        end = (x1 + min(d, x2 - x1), y1 + max(0.0, d - (x2 - x1)))
        sheet.line("hatch", start, end)
