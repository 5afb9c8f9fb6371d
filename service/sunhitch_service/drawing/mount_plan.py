"""Plan of a panel on the roof with its feet and the utilisation of each."""

import math

from sunhitch.types.mount import (
    AdhesiveFeet,
    FootResult,
    MountCheckAnswer,
    MountCheckRequest,
    Rails,
)

from .lettering import Box, Point, Room, around
from .plan_scale import PlanScale
from .sheet import MARGIN, Sheet
from .used import percent, shade

_TOP, _PLAN_SIDE, _TABLE_WIDTH, _ROW = 96.0, 420.0, 445.0, 19.0
_FOOT_M = 0.04
"""Side of a foot whose pad is not given."""
_DIMENSIONS = 46.0
"""Room for dimensions beside the plan."""
_LEAST_APART = 13.0
"""Distance on paper of two dimensions that can both be read."""
_RAIL = 3.0
"""Half the width of a rail on paper, along either axis."""
_LABEL_HIGH = 26.0
"""Height on paper of a foot that holds its own label."""
_KINDS = {
    "adhesive-feet": "Glued feet",
    "fastened-feet": "Fastened feet",
    "bonded-sheet": "Sheet bonded over its area",
    "rails": "Clamps on rails",
}


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
    rails = _rail_ends(request)
    feet = [(foot.roof_x_m, foot.roof_y_m) for foot in answer.feet]
    shown = [*outline, *rails, *feet]
    scale = PlanScale.of(shown, MARGIN + _DIMENSIONS, _TOP, (_PLAN_SIDE, _PLAN_SIDE))
    sheet = Sheet("Panel and its feet, seen from above", _headline(answer))
    corners = [scale(x, y) for x, y in [*outline, *rails]]
    right, bottom = (max(corner[i] for corner in corners) for i in (0, 1))
    sheet.area("panel", *(scale(x, y) for x, y in outline))
    ends = [scale(*end) for end in rails]
    for start, end in zip(ends[::2], ends[1::2], strict=True):
        sheet.line("rail", start, end)
    frame = (scale.left - 2.0, _TOP - 20.0, right + 80.0, bottom + 3.0)
    room = Room(sheet.texts, frame, corners[:4])
    for aside in (-_RAIL, 0.0, _RAIL):
        moved = [(x + aside, y + aside) for x, y in ends]
        room.lines += zip(moved[::2], moved[1::2], strict=True)
    room.boxes += [_foot(sheet, request, answer, scale, foot) for foot in answer.feet]
    _dimensions(sheet, request, answer, scale, bottom)
    room.boxes += sheet.texts
    for foot in answer.feet:
        _label(sheet, room, request, answer, scale, foot)
    bottom += 20
    sheet.line("asked", (MARGIN + 8, bottom + 44), (MARGIN + 8, bottom + 22))
    sheet.pointer("tip", MARGIN + 8, bottom + 14, 10.0)
    sheet.text(MARGIN + 22, bottom + 34, "forward", "note")
    left = max(right + 100, 300.0)
    end_of_table = _table(sheet, answer, left)
    return sheet.svg(left + _TABLE_WIDTH + MARGIN, max(bottom + 70, end_of_table + 30))


def _dimensions(
    sheet: Sheet,
    request: MountCheckRequest,
    answer: MountCheckAnswer,
    scale: PlanScale,
    bottom: float,
) -> None:
    """Distances of the feet's rows from the panel's front left corner, where sides are square."""
    if request.position.rotation_deg % 90.0 != 0.0:
        return
    turned = request.position.rotation_deg % 180.0 != 0.0
    first = on_roof(request, 0.0, 0.0)
    last = -math.inf
    for foot in sorted(answer.feet, key=lambda one: one.roof_x_m):
        y = scale(foot.roof_x_m, foot.roof_y_m)[1]
        if y - last >= _LEAST_APART:
            along = foot.y_m if turned else foot.x_m
            sheet.line("thin", (MARGIN + 30, y), (scale.left - 4, y))
            sheet.text(MARGIN + 26, y + 4, f"{1000 * along:.0f}", "small", "end")
            last = y
    last = -math.inf
    for foot in sorted(answer.feet, key=lambda one: one.roof_y_m):
        x = scale(foot.roof_x_m, foot.roof_y_m)[0]
        if x - last >= 2.0 * _LEAST_APART:
            across = foot.x_m if turned else foot.y_m
            sheet.line("thin", (x, bottom + 4), (x, bottom + 12))
            sheet.text(x, bottom + 24, f"{1000 * across:.0f}", "small", "middle")
            last = x
    corner = scale(*first)
    sheet.dot(*corner, 3.0)


def on_roof(request: MountCheckRequest, x_m: float, y_m: float) -> Point:
    """Roof coordinates of a point of the panel."""
    angle = math.radians(request.position.rotation_deg)
    along, across = math.cos(angle), math.sin(angle)
    return (
        request.position.x_m + x_m * along - y_m * across,
        request.position.y_m + x_m * across + y_m * along,
    )


def _headline(answer: MountCheckAnswer) -> str:
    title = next(c.title for c in answer.checks if c.code == answer.governing.code)
    kind = _KINDS[answer.mounting]
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


def _pad(request: MountCheckRequest, foot: FootResult) -> tuple[float, float]:
    """Length and width of a foot's plate along the panel's sides [m]."""
    mounting = request.mounting
    if not isinstance(mounting, AdhesiveFeet):
        return _FOOT_M, _FOOT_M
    own = mounting.feet[int(foot.foot.split()[-1]) - 1]
    return own.pad_length_m or mounting.pad_length_m, own.pad_width_m or mounting.pad_width_m


def _foot(
    sheet: Sheet,
    request: MountCheckRequest,
    answer: MountCheckAnswer,
    scale: PlanScale,
    foot: FootResult,
) -> Box:
    """A foot's plate; returns the box around it."""
    pad, signs = _pad(request, foot), ((-1, -1), (1, -1), (1, 1), (-1, 1))
    corners = [
        scale(*on_roof(request, foot.x_m + i * pad[0] / 2, foot.y_m + j * pad[1] / 2))
        for i, j in signs
    ]
    sheet.area(shade(foot.utilisation_fraction, answer.reserve_fraction), *corners)
    return around(corners, 1.0)


def _label(
    sheet: Sheet,
    room: Room,
    request: MountCheckRequest,
    answer: MountCheckAnswer,
    scale: PlanScale,
    foot: FootResult,
) -> None:
    """Number and utilisation, inside the foot or beside it; the number alone where room is short.

    The table tells both.
    """
    x, y = scale(foot.roof_x_m, foot.roof_y_m)
    number, used = foot.foot.split()[-1], percent(foot.utilisation_fraction)
    size = min(_pad(request, foot)) * scale.per_m
    if size < max(_LABEL_HIGH, sheet.length(used, "head") + 2.0):
        sheet.label(room, (x, y), (f"{number}: {used}", number), gap=size / 2 + 2)
        return
    over = shade(foot.utilisation_fraction, answer.reserve_fraction) == "over"
    words = "on-dark" if over else "head"
    sheet.text(x, y - 1, number, words, "middle")
    sheet.text(x, y + 11, used, words, "middle")


def _table(sheet: Sheet, answer: MountCheckAnswer, left: float) -> float:
    """Forces of every foot and what the shades mean; returns where they end."""
    heads = ("Foot", "x, y [mm]", "Pull", "Shear", "Pull, one lost", "Utilisation")
    rows: list[tuple[str, ...]] = [
        (
            foot.foot,
            f"{1000 * foot.x_m:.0f}, {1000 * foot.y_m:.0f}",
            f"{foot.uplift_n:.0f} N",
            f"{foot.shear_n:.0f} N",
            "tips" if foot.lost_uplift_n is None else f"{foot.lost_uplift_n:.0f} N",
            percent(foot.utilisation_fraction),
        )
        for foot in answer.feet
    ] or [("No feet: the sheet is bonded over its area.",)]
    y = sheet.table(left, _TOP, (130.0, 200.0, 270.0, 365.0, _TABLE_WIDTH), heads, rows) + _ROW
    spare = percent(1 - answer.reserve_fraction)
    for kind, words in (
        ("spare", f"up to {spare}: passes"),
        ("close", f"{spare} to 100 %: for a person to review"),
        ("over", "above 100 %: fails"),
    ):
        y += _ROW
        sheet.key(left, y, kind, words)
    return y
