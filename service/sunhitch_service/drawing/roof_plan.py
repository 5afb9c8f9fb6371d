"""Plan of a roof to scale: panels, feet, cables, what stands in the way, and dimensions."""

import math

from sunhitch.report.amounts import both, figure, inches
from sunhitch.types.fitout import FitOutAnswer, FitOutRequest
from sunhitch.types.roof import (
    LaidPanel,
    RoofFeature,
    RoofLayoutAnswer,
    RoofLayoutRequest,
    RoofPlan,
)

from .roof_notes import draw_notes
from .roof_style import STYLE, RoofScale, hatched, ring
from .schematic import Sheet

Point = tuple[float, float]

_LEFT, _TOP, _DIMENSIONS = 112.0, 176.0, 112.0
_MOST_WIDTH, _MOST_HEIGHT = 380.0, 780.0
_APART = 12.5
"""Least distance of two dimensions' texts."""
_SMALLEST_LABEL = 34.0
"""Side of a panel on paper from which its label fits inside."""


def roof_layout_plan(request: RoofLayoutRequest, answer: RoofLayoutAnswer) -> str:  # noqa: ARG001
    """Draw the plan of a layout."""
    return draw_plan(answer.plan)


def fit_out_plan(request: FitOutRequest, answer: FitOutAnswer) -> str:  # noqa: ARG001
    """Draw the plan of a fit-out."""
    return draw_plan(answer.plan)


def draw_plan(plan: RoofPlan) -> str:
    """Draw a plan.

    Parameters
    ----------
    plan : RoofPlan
        Roof, panels, feet and cables.

    Returns
    -------
    str
        SVG picture, forward up.
    """
    scale = _scale(plan)
    sheet = Sheet(STYLE)
    _roof(sheet, plan, scale)
    for feature in plan.features:
        _feature(sheet, feature, scale)
    for panel in plan.panels:
        _panel(sheet, panel, scale)
    for kind in ("veil", "cable"):
        for panel in plan.panels:
            sheet.line(kind, *(scale(x, y) for x, y in panel.cable.points))
    _points(sheet, plan, scale)
    for feature in plan.features:
        _name(sheet, feature, scale)
    _dimensions(sheet, plan, scale)
    notes_left = scale.right + _DIMENSIONS
    notes_end, notes_right = draw_notes(sheet, plan, notes_left, _TOP)
    bottom = _scale_bar(sheet, scale)
    _heading(sheet, plan)
    return sheet.svg(notes_right + 30, max(bottom, notes_end) + 30, "Roof plan")


def _scale(plan: RoofPlan) -> RoofScale:
    xs, ys = [x for x, _ in plan.outline], [y for _, y in plan.outline]
    size = max(xs) - min(xs), max(ys) - min(ys)
    per_m = min(_MOST_HEIGHT / size[0], _MOST_WIDTH / size[1])
    return RoofScale(min(xs), min(ys), size[0], size[1], per_m, _LEFT, _TOP)


def _heading(sheet: Sheet, plan: RoofPlan) -> None:
    proof = plan.proof
    proven = "no layout has more power" if proof.proven else "more might fit"
    if proof.how == "not-searched":
        proven = "places as given"
    sheet.text(30, 34, "Roof plan, seen from above", "title")
    told = f"{len(plan.panels)} panels, {figure(proof.power_w)} W, {both(plan.total_mass_kg, 'kg')}"
    sheet.text(30, 56, f"{told}; {proven}", "note")
    sheet.text(
        30,
        74,
        "Measured from the foremost and the leftmost line of the roof, looking forward: "
        "millimetres, inches below.",
        "small",
    )


def _roof(sheet: Sheet, plan: RoofPlan, scale: RoofScale) -> None:
    sheet.area("roof", *(scale(x, y) for x, y in plan.outline))
    middle = (scale.left + scale.right) / 2
    tip = scale.top - 80
    sheet.line("stem", (middle, tip + 24), (middle, tip + 8))
    sheet.area("tip", (middle - 5, tip + 10), (middle + 5, tip + 10), (middle, tip))
    sheet.text(middle + 12, tip + 18, "FRONT", "head")


def _feature(sheet: Sheet, feature: RoofFeature, scale: RoofScale) -> None:
    """A thing on the roof under the panels, without its name."""
    if feature.kind == "no-foot-line":
        sheet.band(2 * feature.clearance_m * scale.per_m, *_course(feature, scale))
        sheet.line("seam", *_course(feature, scale))
    elif feature.kind == "obstacle":
        sheet.area("clearance", *_around(feature, scale))
        sheet.area("obstacle", *_shape(feature, scale))
        _cross(sheet, feature, scale)
    elif feature.kind != "cable-entry":
        corners = _shape(feature, scale)
        sheet.area("strip", *corners)
        hatched(sheet, corners, leaning=feature.kind == "walking-strip")


def _course(feature: RoofFeature, scale: RoofScale) -> list[Point]:
    return [scale(x, y) for x, y in feature.points]


def _shape(feature: RoofFeature, scale: RoofScale, more_m: float = 0.0) -> list[Point]:
    if feature.radius_m is not None:
        x, y = feature.points[0]
        return [scale(*p) for p in ring(x, y, feature.radius_m + more_m)]
    xs, ys = [x for x, _ in feature.points], [y for _, y in feature.points]
    x1, x2, y1, y2 = min(xs) - more_m, max(xs) + more_m, min(ys) - more_m, max(ys) + more_m
    return [scale(x1, y1), scale(x1, y2), scale(x2, y2), scale(x2, y1)]


def _around(feature: RoofFeature, scale: RoofScale) -> list[Point]:
    return _shape(feature, scale, feature.clearance_m)


def _cross(sheet: Sheet, feature: RoofFeature, scale: RoofScale) -> None:
    corners = _shape(feature, scale)
    quarter = len(corners) // 4
    sheet.line("thin", corners[0], corners[2 * quarter])
    sheet.line("thin", corners[quarter], corners[3 * quarter])


def _panel(sheet: Sheet, panel: LaidPanel, scale: RoofScale) -> None:
    x, y = panel.x_m, panel.y_m
    far = x + panel.size_x_m, y + panel.size_y_m
    corners = [scale(x, y), scale(x, far[1]), scale(*far), scale(far[0], y)]
    sheet.area("sheet-of-cells", *corners)
    for foot in panel.feet:
        dx, dy = foot.size_x_m / 2, foot.size_y_m / 2
        ends = ((-dx, -dy), (-dx, dy), (dx, dy), (dx, -dy))
        sheet.area("foot", *(scale(foot.x_m + i, foot.y_m + j) for i, j in ends))
    _plugs(sheet, panel, scale)
    _label(sheet, panel, corners)


def _plugs(sheet: Sheet, panel: LaidPanel, scale: RoofScale) -> None:
    """A black bar on the side where the leads leave."""
    cx, cy = scale(panel.x_m + panel.size_x_m / 2, panel.y_m + panel.size_y_m / 2)
    half_x, half_y = panel.size_y_m * scale.per_m / 2, panel.size_x_m * scale.per_m / 2
    at = {
        "front": ((cx - 8, cy - half_y), (cx + 8, cy - half_y)),
        "rear": ((cx - 8, cy + half_y), (cx + 8, cy + half_y)),
        "left": ((cx - half_x, cy - 8), (cx - half_x, cy + 8)),
        "right": ((cx + half_x, cy - 8), (cx + half_x, cy + 8)),
    }
    sheet.line("plate", *at[panel.plugs_towards])


def _label(sheet: Sheet, panel: LaidPanel, corners: list[Point]) -> None:
    (x1, y1), (x2, y2) = corners[0], corners[2]
    x, y = (x1 + x2) / 2, (y1 + y2) / 2
    if _foot_in_the_middle(panel):
        y -= (y2 - y1) / 4
    sheet.text(x, y - 2, panel.name, "on-panel", "middle")
    if min(x2 - x1, y2 - y1) >= _SMALLEST_LABEL:
        sheet.text(x, y + 11, f"{figure(panel.p_mp_w)} W", "on-panel", "middle")


def _foot_in_the_middle(panel: LaidPanel) -> bool:
    x, y = panel.x_m + panel.size_x_m / 2, panel.y_m + panel.size_y_m / 2
    return any(
        abs(foot.x_m - x) < foot.size_x_m / 2 and abs(foot.y_m - y) < foot.size_y_m
        for foot in panel.feet
    )


def _points(sheet: Sheet, plan: RoofPlan, scale: RoofScale) -> None:
    """Mass centre, branch and entry."""
    if plan.mass_centre:
        x, y = scale(plan.mass_centre.x_m, plan.mass_centre.y_m)
        sheet.area("mass", *ring(x, y, 7.0))
        sheet.line("thin", (x - 10, y), (x + 10, y))
        sheet.line("thin", (x, y - 10), (x, y + 10))
    if plan.branch_point:
        sheet.dot(*scale(plan.branch_point.x_m, plan.branch_point.y_m), 4.5)
    if plan.cable_entry:
        x, y = scale(plan.cable_entry.x_m, plan.cable_entry.y_m)
        sheet.area("entry", *ring(x, y, 8.0))
        sheet.dot(x, y, 3.4)


def _name(sheet: Sheet, feature: RoofFeature, scale: RoofScale) -> None:
    """Obstacles and strips are named inside, lines at the right edge of the roof."""
    if feature.kind == "cable-entry":
        return
    if feature.kind == "no-foot-line":
        _name_line(sheet, feature, scale)
        return
    corners = _shape(feature, scale)
    x = sum(corner[0] for corner in corners) / len(corners)
    y = sum(corner[1] for corner in corners) / len(corners)
    tall = f"{figure(1000.0 * feature.height_m)} mm high" if feature.height_m > 0.0 else ""
    sheet.text(x, y - 1 if tall else y + 4, feature.name, "named", "middle")
    sheet.text(x, y + 10, tall, "named", "middle")


def _name_line(sheet: Sheet, feature: RoofFeature, scale: RoofScale) -> None:
    (xa, ya), (xb, yb) = (scale(*feature.points[k]) for k in (0, -1))
    if abs(xb - xa) >= abs(yb - ya):
        sheet.text(scale.right + 6, (yb if xb > xa else ya) + 3, feature.name, "named")
    else:
        sheet.turned(max(xa, xb) - 3, max(ya, yb) - 6, feature.name, "named")


def _dimensions(sheet: Sheet, plan: RoofPlan, scale: RoofScale) -> None:
    """Running dimensions of panel edges: from the front on the left, from the left above."""
    from_front = sorted({round(panel.x_m - scale.front_m, 4) for panel in plan.panels})
    from_left = sorted({round(panel.y_m - scale.left_m, 4) for panel in plan.panels})
    _down(sheet, scale, [0.0, *from_front, scale.length_m])
    _along_top(sheet, scale, [0.0, *from_left, scale.width_m])


def _down(sheet: Sheet, scale: RoofScale, values: list[float]) -> None:
    line = scale.left - 14
    places = [scale.top + value * scale.per_m for value in values]
    texts = _spread(places, 2 * _APART)
    sheet.line("thin", (line, places[0]), (line, places[-1]))
    for value, y, text_y in zip(values, places, texts, strict=True):
        sheet.line(
            "thin", (scale.left - 4, y), (line - 4, y), (line - 16, text_y), (line - 22, text_y)
        )
        sheet.text(line - 26, text_y + 1, _mm(value), "number", "end")
        sheet.text(line - 26, text_y + 11, f"{inches(value)} in", "small", "end")


def _along_top(sheet: Sheet, scale: RoofScale, values: list[float]) -> None:
    """Numbers stand upright over the plan where there is room, spread where there is not."""
    line = scale.top - 12
    places = [scale.left + value * scale.per_m for value in values]
    texts = _spread(places, 46.0)
    sheet.line("thin", (places[0], line), (places[-1], line))
    for value, x, text_x in zip(values, places, texts, strict=True):
        sheet.line("thin", (x, scale.top - 3), (x, line - 4), (text_x, line - 10))
        sheet.text(text_x, line - 24, _mm(value), "number", "middle")
        sheet.text(text_x, line - 14, f"{inches(value)} in", "small", "middle")


def _spread(places: list[float], apart: float) -> list[float]:
    """Rising places pushed apart as little as need be, around where they were."""
    groups: list[list[float]] = []
    for place in places:
        groups.append([place])
        while len(groups) > 1 and _start(groups[-1], apart) < _end(groups[-2], apart):
            last = groups.pop()
            groups[-1] += last
    return [_start(group, apart) + (k + 0.5) * apart for group in groups for k in range(len(group))]


def _start(group: list[float], apart: float) -> float:
    return sum(group) / len(group) - len(group) * apart / 2


def _end(group: list[float], apart: float) -> float:
    return _start(group, apart) + len(group) * apart


def _mm(length_m: float) -> str:
    return f"{1000.0 * length_m:.0f}"


def _scale_bar(sheet: Sheet, scale: RoofScale) -> float:
    """A bar of whole metres and one of whole feet; returns where they end."""
    y = scale.bottom + 34
    for unit_m, name in ((1.0, "m"), (0.3048, "ft")):
        whole = max(1, math.floor(0.6 * scale.width_m / unit_m))
        end = scale.left + whole * unit_m * scale.per_m
        sheet.line("thin", (scale.left, y), (end, y))
        for k in range(whole + 1):
            x = scale.left + k * unit_m * scale.per_m
            sheet.line("thin", (x, y - 4), (x, y + 4))
        sheet.text(scale.left - 8, y + 4, "0", "small", "end")
        sheet.text(end + 8, y + 4, f"{whole} {name}", "small")
        y += 22
    return y
