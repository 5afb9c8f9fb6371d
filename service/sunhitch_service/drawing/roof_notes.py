"""Beside the roof plan: the places in numbers, cables, and what the signs mean."""

from sunhitch.report.amounts import both, figure, inches
from sunhitch.types.roof import RoofPlan, RoofPoint

from .roof_style import hatched, ring
from .schematic import Sheet

_ROW, _WIDTH = 19.0, 410.0
_COLUMNS = (0.0, 150.0, 228.0, 332.0, 410.0)
_HEADS = ("Panel", "From front", "From left", "Along × across", "Cable")


def draw_notes(sheet: Sheet, plan: RoofPlan, left: float, top: float) -> tuple[float, float]:
    """Write the notes.

    Parameters
    ----------
    sheet : Sheet
        Where to write.
    plan : RoofPlan
        The roof.
    left, top : float
        Upper left corner of the notes.

    Returns
    -------
    tuple of float
        Where they end below and at the right.
    """
    y = _table(sheet, plan, left, top)
    y = _sums(sheet, plan, left, y + 1.5 * _ROW)
    y = _legend(sheet, plan, left, y + 1.5 * _ROW)
    return y, left + _WIDTH


def _table(sheet: Sheet, plan: RoofPlan, left: float, y: float) -> float:
    _row(sheet, left, y, _HEADS, "head")
    sheet.line("rule", (left, y + 6), (left + _WIDTH, y + 6))
    front_m, left_m = (min(p[i] for p in plan.outline) for i in (0, 1))
    for panel in plan.panels:
        y += _ROW
        from_front, from_left = panel.x_m - front_m, panel.y_m - left_m
        cells = (
            panel.name,
            _mm(from_front),
            _mm(from_left),
            f"{1000.0 * panel.size_x_m:.0f} × {1000.0 * panel.size_y_m:.0f}",
            f"{figure(panel.cable.to_entry_m)} m",
        )
        _row(sheet, left, y, cells, "")
        y += 0.6 * _ROW
        small = ("", f"{inches(from_front)} in", f"{inches(from_left)} in")
        sizes = f"{inches(panel.size_x_m)} × {inches(panel.size_y_m)} in"
        length = both(panel.cable.to_entry_m, "m").partition("(")[2].rstrip(")")
        _row(sheet, left, y, (*small, sizes, length), "small")
    return y


def _mm(length_m: float) -> str:
    return f"{1000.0 * length_m:.0f} mm"


def _row(sheet: Sheet, left: float, y: float, cells: tuple[str, ...], kind: str) -> None:
    """One row: the first cell to the left, the others to the right of their columns."""
    sheet.text(left + _COLUMNS[0], y, cells[0], kind)
    ends = (*_COLUMNS[1:-1], _WIDTH)
    for at, cell in zip(ends, cells[1:], strict=True):
        sheet.text(left + at, y, cell, kind, "end")


def _sums(sheet: Sheet, plan: RoofPlan, left: float, y: float) -> float:
    front_m, left_m = (min(p[i] for p in plan.outline) for i in (0, 1))

    def at(point: RoofPoint) -> str:
        return f"{_mm(point.x_m - front_m)} from front, {_mm(point.y_m - left_m)} from left"

    lines = [f"Cable entry: {at(plan.cable_entry)}"] if plan.cable_entry else []
    if plan.branch_point:
        lines.append(f"All cables have met: {at(plan.branch_point)}")
        lines.append(f"From there to the entry: {both(plan.trunk_m, 'm')}")
    if plan.mass_centre:
        lines.append(f"Centre of the panels' mass: {at(plan.mass_centre)}")
        lines.append("Cables without slack")
    lines.append(
        f"Panels cover {figure(plan.panel_area_m2)} of {figure(plan.roof_area_m2)} m² "
        f"({100.0 * plan.area_use_fraction:.0f} %)"
    )
    for line in lines:
        sheet.text(left, y, line, "note")
        y += _ROW
    return y


def _legend(sheet: Sheet, plan: RoofPlan, left: float, y: float) -> float:
    """Only the signs that the plan uses."""
    kinds = {feature.kind for feature in plan.features}
    signs = [
        ("panel", "Panel; the black bar is where its leads leave", bool(plan.panels)),
        ("foot", "Foot plate", any(panel.feet for panel in plan.panels)),
        ("cable", "Cable, as it lies on the roof", bool(plan.panels)),
        ("branch", "All cables have met", plan.trunk_m > 0.0),
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
    corners = [(x, y - 6), (x + 28, y - 6), (x + 28, y + 6), (x, y + 6)]
    if sign == "panel":
        sheet.area("sheet-of-cells", *corners)
        sheet.line("plate", (x + 28, y - 4), (x + 28, y + 4))
    elif sign == "foot":
        sheet.area("foot", *((x + 9 + i, y + j) for i, j in ((0, -5), (10, -5), (10, 5), (0, 5))))
    elif sign == "cable":
        sheet.line("cable", (x, y), (x + 28, y))
    elif sign == "branch":
        sheet.dot(x + 14, y, 4.5)
    elif sign == "entry":
        sheet.area("entry", *ring(x + 14, y, 7.0))
        sheet.dot(x + 14, y, 3.0)
    elif sign == "mass":
        sheet.area("mass", *ring(x + 14, y, 5.5))
        sheet.line("thin", (x + 6, y), (x + 22, y))
        sheet.line("thin", (x + 14, y - 8), (x + 14, y + 8))
    elif sign == "obstacle":
        sheet.area("clearance", *corners)
        sheet.area(
            "obstacle", *((x + 5 + i, y + j) for i, j in ((0, -3), (18, -3), (18, 3), (0, 3)))
        )
    elif sign == "seam":
        sheet.band(8.0, (x, y), (x + 28, y))
        sheet.line("seam", (x, y), (x + 28, y))
    else:
        sheet.area("strip", *corners)
        hatched(sheet, corners, leaning=sign == "walking")
