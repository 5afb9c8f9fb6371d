"""Plan of a panel on the roof with its feet and how far each is used up."""

import math
from dataclasses import dataclass

from sunhitch.types.mount import (
    AdhesiveFeet,
    FootResult,
    MountCheckAnswer,
    MountCheckRequest,
    Rails,
)

from .mount_style import STYLE, percent, shade
from .schematic import Sheet

Point = tuple[float, float]
MARGIN, TOP, PLAN_SIDE, TABLE_WIDTH, ROW = 40.0, 96.0, 420.0, 430.0, 19.0
FOOT_M = 0.04
"""Side of a foot whose pad is not given."""
LABEL_INSIDE = 34.0
"""Size on paper from which a foot holds its own label."""
KINDS = {
    "adhesive-feet": "Glued feet",
    "fastened-feet": "Fastened feet",
    "bonded-sheet": "Sheet bonded over its area",
    "rails": "Clamps on rails",
}


@dataclass(frozen=True, slots=True)
class PlanScale:
    """From roof to paper: forward is up.

    Parameters
    ----------
    left_m, front_m : float
        Roof coordinates of the plan's upper left corner.
    per_m : float
        Paper units per metre.
    """

    left_m: float
    front_m: float
    per_m: float

    def __call__(self, x_m: float, y_m: float) -> Point:
        """Place on paper of a point of the roof."""
        return MARGIN + (y_m - self.left_m) * self.per_m, TOP + (x_m - self.front_m) * self.per_m


def mount_plan(request: MountCheckRequest, answer: MountCheckAnswer) -> str:
    """Draw the plan.

    Parameters
    ----------
    request : MountCheckRequest
        What was asked.
    answer : MountCheckAnswer
        What was found.

    Returns
    -------
    str
        SVG picture.
    """
    length, width = request.panel.length_m, request.panel.width_m
    corners_m = ((0.0, 0.0), (length, 0.0), (length, width), (0.0, width))
    outline = [on_roof(request, *corner) for corner in corners_m]
    feet = [(foot.roof_x_m, foot.roof_y_m) for foot in answer.feet]
    scale = _scale([*outline, *_rail_ends(request), *feet])
    sheet = Sheet(STYLE)
    sheet.text(MARGIN, 34, "Panel and its feet, seen from above", "title")
    sheet.text(MARGIN, 56, _headline(answer), "note")
    corners = [scale(x, y) for x, y in [*outline, *_rail_ends(request)]]
    right, bottom = (max(corner[i] for corner in corners) for i in (0, 1))
    sheet.area("panel", *(scale(x, y) for x, y in outline))
    _rails(sheet, request, scale)
    for foot in answer.feet:
        _foot(sheet, request, answer, scale, foot)
    _forward(sheet, bottom)
    left = max(right + 90, 300.0)
    end = _table(sheet, answer, left)
    height = max(bottom + 70, end + 30)
    return sheet.svg(left + TABLE_WIDTH + MARGIN, height, "Mount plan")


def on_roof(request: MountCheckRequest, x_m: float, y_m: float) -> Point:
    """Roof coordinates of a point of the panel."""
    angle = math.radians(request.position.rotation_deg)
    along, across = math.cos(angle), math.sin(angle)
    return (
        request.position.x_m + x_m * along - y_m * across,
        request.position.y_m + x_m * across + y_m * along,
    )


def _scale(outline: list[Point]) -> PlanScale:
    front, left = (min(point[i] for point in outline) for i in (0, 1))
    size = max(max(point[i] for point in outline) - (front, left)[i] for i in (0, 1))
    return PlanScale(left, front, PLAN_SIDE / size)


def _headline(answer: MountCheckAnswer) -> str:
    title = next(c.title for c in answer.checks if c.code == answer.governing.code)
    kind = KINDS[answer.mounting]
    used = percent(answer.governing.utilisation_fraction)
    return f"{kind}; verdict {answer.verdict}; most used: {title.lower()}, {used}"


def _rail_ends(request: MountCheckRequest) -> list[Point]:
    """Both ends of every rail on the roof, rail by rail."""
    mounting = request.mounting
    if not isinstance(mounting, Rails):
        return []
    ends = [(end, rail.across_m) for rail in mounting.rails for end in (rail.start_m, rail.end_m)]
    if mounting.run == "along-width":
        ends = [(across, end) for end, across in ends]
    return [on_roof(request, *end) for end in ends]


def _rails(sheet: Sheet, request: MountCheckRequest, scale: PlanScale) -> None:
    ends = [scale(x, y) for x, y in _rail_ends(request)]
    for start, end in zip(ends[::2], ends[1::2], strict=True):
        sheet.line("rail", start, end)


def _foot(
    sheet: Sheet,
    request: MountCheckRequest,
    answer: MountCheckAnswer,
    scale: PlanScale,
    foot: FootResult,
) -> None:
    mounting = request.mounting
    pad = (FOOT_M, FOOT_M)
    if isinstance(mounting, AdhesiveFeet):
        pad = (mounting.pad_length_m, mounting.pad_width_m)
    signs = ((-1, -1), (1, -1), (1, 1), (-1, 1))
    corners = [
        on_roof(request, foot.x_m + i * pad[0] / 2, foot.y_m + j * pad[1] / 2) for i, j in signs
    ]
    kind = shade(foot.utilisation_fraction, answer.reserve_fraction)
    sheet.area(kind, *(scale(x, y) for x, y in corners))
    x, y = scale(foot.roof_x_m, foot.roof_y_m)
    number, used = foot.foot.split()[-1], percent(foot.utilisation_fraction)
    if min(pad) * scale.per_m < LABEL_INSIDE:
        sheet.text(x + pad[1] * scale.per_m / 2 + 4, y - 8, f"{number}: {used}", "head")
        return
    words = "on-dark" if kind == "over" else "head"
    sheet.text(x, y - 1, number, words, "middle")
    sheet.text(x, y + 11, used, words, "middle")


def _forward(sheet: Sheet, bottom: float) -> None:
    x = MARGIN + 8
    sheet.line("curve", (x, bottom + 44), (x, bottom + 22))
    sheet.area("tip", (x - 5, bottom + 24), (x + 5, bottom + 24), (x, bottom + 14))
    sheet.text(x + 14, bottom + 34, "forward", "note")


def _table(sheet: Sheet, answer: MountCheckAnswer, left: float) -> float:
    """Forces of every foot; returns where the table ends."""
    columns = (0.0, 160.0, 235.0, 330.0, 400.0)
    heads = ("Foot", "Pull", "Shear", "Pull, one lost", "Utilisation")
    y = TOP
    _row(sheet, left, y, columns, heads, "head")
    sheet.line("rule", (left, y + 6), (left + TABLE_WIDTH, y + 6))
    for foot in answer.feet:
        y += ROW
        cells = (
            foot.foot,
            f"{foot.uplift_n:.0f} N",
            f"{foot.shear_n:.0f} N",
            "tips" if foot.lost_uplift_n is None else f"{foot.lost_uplift_n:.0f} N",
            percent(foot.utilisation_fraction),
        )
        _row(sheet, left, y, columns, cells, "")
    if not answer.feet:
        y += ROW
        sheet.text(left, y, "No feet: the sheet is bonded over its area.", "note")
    return _legend(sheet, answer, left, y + 2 * ROW)


def _row(
    sheet: Sheet,
    left: float,
    y: float,
    columns: tuple[float, ...],
    cells: tuple[str, ...],
    kind: str,
) -> None:
    """One row of the table: the first cell to the left, the others to the right."""
    sheet.text(left + columns[0], y, cells[0], kind)
    for at, cell in zip(columns[1:], cells[1:], strict=True):
        sheet.text(left + at, y, cell, kind, "end")


def _legend(sheet: Sheet, answer: MountCheckAnswer, left: float, y: float) -> float:
    spare = percent(1 - answer.reserve_fraction)
    entries = (
        ("spare", f"up to {spare}: passes"),
        ("close", f"{spare} to 100 %: for a person to review"),
        ("over", "above 100 %: fails"),
    )
    for kind, words in entries:
        sheet.box(kind, left, y - 10, (14, 12))
        sheet.text(left + 22, y, words, "note")
        y += ROW
    return y
