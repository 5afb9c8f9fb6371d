"""Beside the roof plan: the places in numbers, cables, and what the signs mean."""

from collections.abc import Mapping, Sequence
from math import ceil

from sunhitch.report.amounts import both, figure, inches
from sunhitch.types.roof import RoofPlan, RoofPoint

from .lettering import Box, Point
from .sheet import Sheet, ring

_ROW, _WIDTH = 19.0, 430.0
_ENDS = (160.0, 240.0, 346.0, _WIDTH)
_HEADS = ("Panel", "From front", "From left", "Along × across", "Cable")
_HATCH = 9.0


def _upright(x: float, y: float, width: float, height: float) -> list[Point]:
    return [(x, y), (x + width, y), (x + width, y + height), (x, y + height)]


_AROUND, _ACROSS = _upright(0, -6, 28, 12), [(0.0, 0.0), (28.0, 0.0)]
_SHAPES: Mapping[str, Sequence[tuple[str, Sequence[Point]]]] = {
    "panel": [("panel", _AROUND), ("plate", [(28, -4), (28, 4)])],
    "foot": [("foot", _upright(9, -5, 10, 10))],
    **{lead: [(lead, _ACROSS)] for lead in ("cable", "plus", "minus", "link")},
    "obstacle": [("clearance", _AROUND), ("obstacle", _upright(5, -3, 18, 6))],
    "walking": [("strip", _AROUND)],
    "zone": [("strip", _AROUND)],
}
"""Areas and lines of signs that are made of nothing else, and what is below hatching."""


def draw_notes(
    sheet: Sheet, plan: RoofPlan, left: float, top: float, wired: bool
) -> tuple[Box, Point]:
    """Write the notes.

    Parameters
    ----------
    sheet : Sheet
        Where to write.
    plan : RoofPlan
        The roof.
    left, top : float
        Upper left corner of the notes.
    wired : bool
        Whether the plan shows every conductor.

    Returns
    -------
    tuple
        Box of the legend; where all end at the right and below.
    """
    front_m, left_m = (min(p[i] for p in plan.outline) for i in (0, 1))
    rows: list[tuple[str, ...]] = []
    below: list[tuple[str, ...]] = []
    for panel in plan.panels:
        from_front, from_left = panel.x_m - front_m, panel.y_m - left_m
        size = f"{1000.0 * panel.size_x_m:.0f} × {1000.0 * panel.size_y_m:.0f}"
        cable = f"{figure(panel.cable.to_entry_m)} m"
        rows.append((panel.name, _mm(from_front), _mm(from_left), size, cable))
        size = f"{inches(panel.size_x_m)} × {inches(panel.size_y_m)} in"
        cable = both(panel.cable.to_entry_m, "m").partition("(")[2].rstrip(")")
        below.append(("", f"{inches(from_front)} in", f"{inches(from_left)} in", size, cable))
    y = sheet.table(left, top, _ENDS, _HEADS, rows, below) + 1.5 * _ROW
    for line in _sums(plan, front_m, left_m):
        sheet.text(left, y, line, "note")
        y += _ROW
    first, y = y, _legend(sheet, plan, left, y + 0.5 * _ROW, wired)
    right = max(box[2] for box in sheet.texts if box[1] > first)
    return (left - 4.0, first - 4.0, right, y - 10.0), (left + _WIDTH, y)


def _mm(length_m: float) -> str:
    return f"{1000.0 * length_m:.0f} mm"


def _sums(plan: RoofPlan, front_m: float, left_m: float) -> list[str]:
    def at(point: RoofPoint) -> str:
        return f"{_mm(point.x_m - front_m)} from front, {_mm(point.y_m - left_m)} from left"

    lines = [f"Cable entry: {at(plan.cable_entry)}"] if plan.cable_entry else []
    if plan.branch_point:
        lines.append(f"All cables have met: {at(plan.branch_point)}")
        lines.append(f"From there to the entry: {both(plan.trunk_m, 'm')}")
    if plan.mass_centre:
        lines.append(f"Centre of the panels' mass: {at(plan.mass_centre)}")
        lines.append("Cables without slack")
    share = f"{100.0 * plan.area_use_fraction:.0f} %"
    covered = f"{figure(plan.panel_area_m2)} of {figure(plan.roof_area_m2)} m² ({share})"
    return [*lines, f"Panels cover {covered}"]


def _legend(sheet: Sheet, plan: RoofPlan, left: float, y: float, wired: bool) -> float:
    """Only the signs that the plan uses."""
    kinds = {feature.kind for feature in plan.features}
    signs = [
        ("panel", "Panel; the black bar is where its leads leave", bool(plan.panels)),
        ("foot", "Foot plate", any(panel.feet for panel in plan.panels)),
        ("cable", "Cable, as it lies on the roof", bool(plan.panels) and not wired),
        ("plus", "Plus lead of a string", wired),
        ("minus", "Minus lead of a string", wired),
        ("link", "From minus of a panel to plus of the next", wired),
        ("branch", "Branch connector" if wired else "All cables have met", plan.trunk_m > 0.0),
        ("entry", "Cable entry", True),
        ("mass", "Centre of the panels' mass", bool(plan.panels)),
        ("obstacle", "Obstacle with the space kept around it", "obstacle" in kinds),
        ("seam", "Seam, rib or rivets with the space that feet keep", "no-foot-line" in kinds),
        ("walking", "Walking strip", "walking-strip" in kinds),
        ("zone", "Cable zone", "cable-zone" in kinds),
    ]
    for sign, words, used in signs:
        if used:
            _sign(sheet, sign, left, y - 4)
            sheet.text(left + 40, y, words, "note")
            y += _ROW
    return y


def _sign(sheet: Sheet, sign: str, x: float, y: float) -> None:
    """A sign of about 28 by 12 around the line at y."""
    for kind, points in _SHAPES.get(sign, ()):
        draw = sheet.area if len(points) > len(_ACROSS) else sheet.line
        draw(kind, *((x + right, y + down) for right, down in points))
    if sign == "branch":
        sheet.dot(x + 14, y, 4.5)
    elif sign == "entry":
        entry_sign(sheet, x + 14, y)
    elif sign == "mass":
        mass_sign(sheet, x + 14, y)
    elif sign == "seam":
        sheet.line("keep-off", (x, y), (x + 28, y), width=8.0)
        sheet.line("seam", (x, y), (x + 28, y))
    elif sign in ("walking", "zone"):
        hatched(sheet, _upright(x, y - 6, 28, 12), leaning=sign == "walking")


def entry_sign(sheet: Sheet, x: float, y: float) -> None:
    """Draw a cable entry."""
    sheet.area("entry", *ring(x, y, 7.5))
    sheet.dot(x, y, 3.2)


def mass_sign(sheet: Sheet, x: float, y: float) -> None:
    """Draw a centre of mass."""
    sheet.area("mass", *ring(x, y, 6.0))
    sheet.line("thin", (x - 9, y), (x + 9, y))
    sheet.line("thin", (x, y - 9), (x, y + 9))


def hatched(sheet: Sheet, corners: list[Point], leaning: bool) -> None:
    """Fill an upright rectangle on paper with light lines, leaning or level."""
    (x1, x2), (y1, y2) = ((min(c[i] for c in corners), max(c[i] for c in corners)) for i in (0, 1))
    width, height = x2 - x1, y2 - y1
    for k in range(1, ceil((height + leaning * width) / _HATCH)):
        d = k * _HATCH
        if leaning:
            start = (x1 + max(0.0, d - height), y1 + min(d, height))
            sheet.line("hatch", start, (x1 + min(d, width), y1 + max(0.0, d - width)))
        else:
            sheet.line("hatch", (x1, y1 + d), (x2, y1 + d))
