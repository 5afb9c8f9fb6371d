"""Plan of a roof to scale: panels, feet, cables, what stands in the way, and dimensions."""

from itertools import pairwise, product
from math import dist, floor, hypot, inf
from textwrap import wrap

import msgspec

from sunhitch.report.amounts import both, figure, inches
from sunhitch.types.fitout import FitOutAnswer
from sunhitch.types.revision import FitOutChangeAnswer
from sunhitch.types.roof import FootPlate, LaidPanel, RoofFeature, RoofLayoutAnswer, RoofPlan

from .lettering import Point, Room, around
from .plan_scale import PlanScale
from .roof_harness import DrawnHarness, Harness, draw_harness
from .roof_notes import draw_notes, entry_sign, hatched, mass_sign
from .sheet import MARGIN, Drawn, Sheet, ring, shortened

_LEFT, _TOP, _DIMENSIONS = 122.0, 190.0, 120.0
_MOST = (380.0, 600.0)
_APART_DOWN, _APART_ALONG, _APART_UPRIGHT = 25.0, 62.0, 14.0
"""Least distance of two dimensions' texts."""
_MOST_ALONG, _UPRIGHT = 6, 62.0
"""Beyond so many dimensions above the plan they stand upright, and the plan so much lower."""
_NEAR, _AROUND, _MOST_OF_DETAIL = 0.1, 0.4, (140.0, 250.0)
"""What a detail shows around a panel and around the entry [m], and its largest size on paper."""
_OVER = 4.0
"""What a panel's name may stand out on either side."""
_LINE, _SIGN = 13.0, 9.0
"""Height of a line of a label, and half the size of a sign."""


def roof_plan(
    _request: object, answer: RoofLayoutAnswer | FitOutAnswer | FitOutChangeAnswer
) -> str:
    """Draw the plan of a layout or a fit-out as SVG."""
    if not isinstance(answer, FitOutAnswer):
        return drawn_plan(answer.plan).svg
    return drawn_plan(answer.plan, Harness.of(answer.plan, answer.configurations[0])).svg


def drawn_plan(plan: RoofPlan, harness: Harness | None = None, most: Point = _MOST) -> Drawn:
    """The plan, at most so wide and high, with the windows `plan` and `legend`.

    With a harness it shows every conductor, else the courses of the cables.
    """
    top = _TOP + (_UPRIGHT if _is_crowded(plan) else 0.0)
    scale = PlanScale.of(plan.outline, _LEFT, top, most)
    sheet = Sheet(
        "Roof plan, seen from above",
        _headline(plan),
        "Measured from the foremost and the leftmost line of the roof, looking forward: "
        "millimetres, inches below.",
    )
    _front(sheet, scale.left + scale.width_m * scale.per_m / 2)
    drawn = _roof(sheet, plan, harness, scale)
    _dimensions(sheet, plan, scale)
    room = _room(sheet, plan, scale)
    _polarities(sheet, room, drawn)
    for feature in plan.features:
        _name(sheet, room, feature, scale)
    for panel in plan.panels:
        _label(sheet, room, panel, scale)
    left = scale.right + _DIMENSIONS
    beside = [box for box in sheet.texts if box[1] > scale.top]
    start, bottom = (pick(box[i] for box in beside) for pick, i in ((min, 0), (max, 3)))
    own = start - 4.0, _TOP - 90.0, left - 10.0, max(scale.bottom, bottom) + 4.0
    end = _scale_bars(sheet, scale)
    legend, (notes_right, notes_end) = draw_notes(sheet, plan, left, _TOP, harness is not None)
    windows = {"plan": own, "legend": legend}
    return Drawn(sheet.svg(notes_right + 30, max(end, notes_end) + 30), windows)


def drawn_detail(
    plan: RoofPlan, harness: Harness, title: str, panel: LaidPanel | None = None
) -> Drawn:
    """A panel with the places of its feet and corners on the roof, else the cable entry.

    As wide as a phone shows in letters that can be read on a roof.
    """
    front, left = (min(point[i] for point in plan.outline) for i in (0, 1))
    if panel:
        ends = [(panel.x_m, panel.y_m), (panel.x_m + panel.size_x_m, panel.y_m + panel.size_y_m)]
    else:
        points = (plan.cable_entry, plan.branch_point)
        ends = [(point.x_m, point.y_m) for point in points if point]
    near = _NEAR if panel else _AROUND
    (x1, y1), (x2, y2) = (
        [pick(end[i] for end in ends) + side * near for i in (0, 1)]
        for pick, side in ((min, -1), (max, 1))
    )
    scale = PlanScale.of([(x1, y1), (x2, y2)], 4.0, 4.0, _MOST_OF_DETAIL)
    sheet = Sheet(title, "Millimetres and inches from the roof's front and left edge.", left=None)
    sheet.clip = scale.left, scale.top, scale.right, scale.bottom
    drawn = _roof(sheet, plan, harness, scale)
    sheet.clip = None
    for x, y, wide, high in _beyond(scale):
        sheet.box("blank", x, y, (wide, high))
    places = dict.fromkeys(ends, "number")
    feet = {(foot.x_m, foot.y_m): "small" for foot in panel.feet} if panel else {}
    _running(sheet, scale, (front, left), feet | places)
    if panel:
        room = _room(sheet, msgspec.structs.replace(plan, panels=[panel]), scale)
        _label(sheet, room, panel, scale)
        room.frame = scale.left, scale.top, scale.right, scale.bottom
        shown = [one for one in drawn.signs if room.is_free((*one[0], *one[0]))]
        _polarities(sheet, room, drawn._replace(signs=shown))
    right, bottom = (max(box[i] for box in sheet.texts) + 4.0 for i in (2, 3))
    return Drawn(sheet.svg(right, bottom), {"all": (0.0, 0.0, right, bottom)})


def _beyond(scale: PlanScale) -> list[tuple[float, float, float, float]]:
    """What surrounds the detail: places and sizes of four areas."""
    far, right, bottom = 4000.0, scale.right, scale.bottom
    return [
        (-far, -far, 2 * far, far + scale.top),
        (-far, bottom, 2 * far, far),
        (-far, -far, far + scale.left, 2 * far),
        (right, -far, far, 2 * far),
    ]


def _roof(sheet: Sheet, plan: RoofPlan, harness: Harness | None, scale: PlanScale) -> DrawnHarness:
    """Everything on the roof, without words."""
    sheet.area("roof", *(scale(x, y) for x, y in plan.outline))
    for feature in plan.features:
        _feature(sheet, feature, scale)
    for panel in plan.panels:
        _panel(sheet, panel, scale)
    if harness:
        drawn = draw_harness(sheet, harness, scale)
    else:
        cables = [[scale(x, y) for x, y in panel.cable.points] for panel in plan.panels]
        for kind, cable in product(("veil", "cable"), cables):
            sheet.line(kind, *cable)
        drawn = DrawnHarness(cables, [])
    if plan.branch_point and not harness:
        sheet.dot(*scale(plan.branch_point.x_m, plan.branch_point.y_m), 4.5)
    _points(sheet, plan, scale)
    return drawn


def _polarities(sheet: Sheet, room: Room, harness: DrawnHarness) -> None:
    """Signs beside the ends of leads, off every conductor."""
    room.lines += [ends for course in harness.courses for ends in pairwise(course)]
    for at, sign in harness.signs:
        sheet.label(room, at, [sign], gap=4.0)


def _room(sheet: Sheet, plan: RoofPlan, scale: PlanScale) -> Room:
    """What of the plan names keep off: foot plates, signs, dimensions."""
    frame = (MARGIN, scale.top - 4.0, scale.right + _DIMENSIONS - 10.0, scale.bottom + 14.0)
    room = Room(sheet.texts, frame, [])
    for foot in (foot for panel in plan.panels for foot in panel.feet):
        room.boxes.append(around(_plate(foot, scale)))
    signs = (plan.mass_centre, plan.branch_point, plan.cable_entry)
    room.boxes += [around([scale(sign.x_m, sign.y_m)], _SIGN) for sign in signs if sign]
    return room


def _plate(foot: FootPlate, scale: PlanScale) -> list[Point]:
    dx, dy = foot.size_x_m / 2, foot.size_y_m / 2
    return scale.rectangle(foot.x_m - dx, foot.y_m - dy, foot.x_m + dx, foot.y_m + dy)


def _headline(plan: RoofPlan) -> str:
    proof = plan.proof
    proven = "no layout has more power" if proof.proven else "more might fit"
    if proof.how == "not-searched":
        proven = "places as given"
    told = f"{len(plan.panels)} panels, {figure(proof.power_w)} W, {both(plan.total_mass_kg, 'kg')}"
    return f"{told}; {proven}"


def _front(sheet: Sheet, middle: float) -> None:
    tip = _TOP - 84
    sheet.line("asked", (middle, tip + 24), (middle, tip + 8))
    sheet.pointer("tip", middle, tip, 10.0)
    sheet.text(middle + 12, tip + 18, "FRONT", "head")


def _feature(sheet: Sheet, feature: RoofFeature, scale: PlanScale) -> None:
    """A thing on the roof under the panels, without its name."""
    if feature.kind == "no-foot-line":
        course = [scale(x, y) for x, y in feature.points]
        sheet.line("keep-off", *course, width=2 * feature.clearance_m * scale.per_m)
        sheet.line("seam", *course)
    elif feature.kind == "obstacle":
        corners = _shape(feature, scale)
        quarter = len(corners) // 4
        sheet.area("clearance", *_shape(feature, scale, feature.clearance_m))
        sheet.area("obstacle", *corners)
        sheet.line("hatch", corners[0], corners[2 * quarter])
        sheet.line("hatch", corners[quarter], corners[3 * quarter])
    elif feature.kind != "cable-entry":
        corners = _shape(feature, scale)
        sheet.area("strip", *corners)
        hatched(sheet, corners, leaning=feature.kind == "walking-strip")


def _shape(feature: RoofFeature, scale: PlanScale, more_m: float = 0.0) -> list[Point]:
    if feature.radius_m is not None:
        x, y = feature.points[0]
        return [scale(*p) for p in ring(x, y, feature.radius_m + more_m)]
    (ax, ay), (bx, by), _, (dx, dy) = feature.points
    across, along = hypot(bx - ax, by - ay), hypot(dx - ax, dy - ay)
    right = (bx - ax) / across * more_m, (by - ay) / across * more_m
    rear = (dx - ax) / along * more_m, (dy - ay) / along * more_m
    signs = ((-1, -1), (1, -1), (1, 1), (-1, 1))
    return [
        scale(x + right[0] * i + rear[0] * j, y + right[1] * i + rear[1] * j)
        for (x, y), (i, j) in zip(feature.points, signs, strict=True)
    ]


def _panel(sheet: Sheet, panel: LaidPanel, scale: PlanScale) -> None:
    x, y = panel.x_m, panel.y_m
    corners = scale.rectangle(x, y, x + panel.size_x_m, y + panel.size_y_m)
    sheet.area("panel", *corners)
    for foot in panel.feet:
        sheet.area("foot", *_plate(foot, scale))
    front_left, front_right, rear_right, rear_left = corners
    edge = {
        "front": (front_left, front_right),
        "rear": (rear_left, rear_right),
        "left": (front_left, rear_left),
        "right": (front_right, rear_right),
    }[panel.plugs_towards]
    half = 8.0 / dist(*edge)
    (xa, ya), (xb, yb) = edge
    bar = [(xa + share * (xb - xa), ya + share * (yb - ya)) for share in (0.5 - half, 0.5 + half)]
    sheet.line("plate", *bar)


def _label(sheet: Sheet, room: Room, panel: LaidPanel, scale: PlanScale) -> None:
    """Name and power inside the panel, as near the middle as may be.

    Where there is no room for both, the name alone, of a numbered one its number, or nothing: the
    table tells all of them.
    """
    low = scale(panel.x_m, panel.y_m)
    size = panel.size_y_m * scale.per_m, panel.size_x_m * scale.per_m
    middle = low[0] + size[0] / 2, low[1] + size[1] / 2
    power, number = f"{figure(panel.p_mp_w)} W", panel.name.rpartition("-")[2]
    short = [[number, power], [number]] if number.isdigit() else []
    for lines in ([panel.name, power], [panel.name], *short):
        wide = max(sheet.length(words, "on-panel") for words in lines)
        half = wide / 2 + 1.0, _LINE * len(lines) / 2
        if half[0] > size[0] / 2 + _OVER or half[1] > size[1] / 2:
            continue
        spot = _spot(room, middle, half, size)
        if spot:
            for n, words in enumerate(lines):
                y = spot[1] - half[1] + _LINE * n + 10
                sheet.text(spot[0], y, words, "on-panel", "middle")
            return


def _spot(room: Room, middle: Point, half: Point, size: Point) -> Point | None:
    """The free place nearest to the middle of a panel for a box of half a size, which it takes."""
    steps = [max(0, floor((size[i] / 2 - half[i]) / 2.0)) for i in (0, 1)]
    offsets = product(*(range(-most, most + 1) for most in steps))
    spots = ((middle[0] + 2.0 * i, middle[1] + 2.0 * j) for i, j in offsets)
    for x, y in sorted(spots, key=lambda spot: dist(spot, middle)):
        box = x - half[0], y - half[1], x + half[0], y + half[1]
        if room.is_free(box):
            room.boxes.append(box)
            return x, y
    return None


def _points(sheet: Sheet, plan: RoofPlan, scale: PlanScale) -> None:
    """Mass centre and entry."""
    if plan.mass_centre:
        mass_sign(sheet, *scale(plan.mass_centre.x_m, plan.mass_centre.y_m))
    if plan.cable_entry:
        entry_sign(sheet, *scale(plan.cable_entry.x_m, plan.cable_entry.y_m))


def _name(sheet: Sheet, room: Room, feature: RoofFeature, scale: PlanScale) -> None:
    """Obstacles and strips are named inside, lines at the right edge of the roof or beside."""
    names = [feature.name, *(shortened(feature.name, most) for most in (16, 8))]
    if feature.kind == "no-foot-line":
        ends = sorted(scale(*feature.points[k]) for k in (0, -1))
        (xa, ya), (xb, yb) = ends
        if xb - xa >= abs(yb - ya):
            at = scale.right + sheet.length(names[0], "named") / 2 + 4.0, yb
            sheet.label(room, at, names, "named", gap=-_LINE / 2)
        else:
            sheet.label(room, max(ends, key=lambda end: end[1]), names, "named")
    elif feature.kind != "cable-entry":
        corners = _shape(feature, scale)
        x, y = (sum(corner[i] for corner in corners) / len(corners) for i in (0, 1))
        tall = f"{figure(1000.0 * feature.height_m)} mm high" if feature.height_m > 0.0 else ""
        lines = [*_wrapped(sheet, names[0], sheet.length(tall, "named")), tall]
        size = max(sheet.length(words, "named") for words in lines), len(lines) * _LINE
        middle = room.beside((x, y), size, -size[1] / 2) if tall else None
        if middle:
            top = middle[1] - size[1] / 2 + _LINE - 2.0
            for number, words in enumerate(lines):
                sheet.text(middle[0], top + number * (_LINE - 0.5), words, "named", "middle")
        else:
            sheet.label(room, (x, y), names, "named", gap=-_LINE / 2)


def _wrapped(sheet: Sheet, name: str, most: float) -> list[str]:
    """A name in lines that are no longer, as far as its words allow."""
    told = sheet.length(name, "named")
    return wrap(name, max(1, int(len(name) * most / told)), break_long_words=False) or [name]


def _dimensions(sheet: Sheet, plan: RoofPlan, scale: PlanScale) -> None:
    """Running dimensions of panel edges: from the front on the left, from the left above."""
    values = {round(panel.x_m - scale.front_m, 4) for panel in plan.panels}
    down = sorted({0.0, *values, scale.length_m})
    line = scale.left - 14
    places = [scale.top + value * scale.per_m for value in down]
    sheet.line("thin", (line, places[0]), (line, places[-1]))
    for value, y, told in zip(down, places, _pushed_apart(places, _APART_DOWN), strict=True):
        sheet.line("thin", (scale.left - 4, y), (line - 4, y), (line - 16, told), (line - 22, told))
        sheet.text(line - 26, told + 1, _mm(value), "number", "end")
        sheet.text(line - 26, told + 11, f"{inches(value)} in", "small", "end")
    along = _from_left(plan)
    line = scale.top - 12
    places = [scale.left + value * scale.per_m for value in along]
    upright = _is_crowded(plan)
    apart = _APART_UPRIGHT if upright else _APART_ALONG
    sheet.line("thin", (places[0], line), (places[-1], line))
    for value, x, told in zip(along, places, _pushed_apart(places, apart), strict=True):
        sheet.line("thin", (x, scale.top - 3), (x, line - 4), (told, line - 10))
        if upright:
            words = f"{_mm(value)} · {inches(value)} in"
            sheet.text(told + 4, line - 13, words, "small", upwards=True)
        else:
            sheet.text(told, line - 25, _mm(value), "number", "middle")
            sheet.text(told, line - 14, f"{inches(value)} in", "small", "middle")
    feet = {(foot.x_m, foot.y_m): "small" for panel in plan.panels for foot in panel.feet}
    _running(sheet, scale, (scale.front_m, scale.left_m), feet)


def _running(sheet: Sheet, scale: PlanScale, origin: Point, points: dict[Point, str]) -> None:
    """Dimensions of points from the front on the right, and from the left below, if there is room.

    Points have the kind of their words; the last of several in a line counts.
    """
    down = {round(x, 4): kind for (x, _), kind in points.items()}
    rows = sorted(down)
    if len(rows) * _LINE <= scale.bottom - scale.top + _LINE:
        places = [scale(x, 0.0)[1] for x in rows]
        # None beside the roof's width above the plan.
        apart = _pushed_apart(places, _LINE, least=scale.top)
        for x_m, y, told in zip(rows, places, apart, strict=True):
            x = scale.right + 6
            sheet.line("thin", (x, y), (x + 6, y), (x + 16, told), (x + 20, told))
            sheet.text(x + 23, told + 4, _both(x_m - origin[0]), down[x_m])
    along = {round(y, 4): kind for (_, y), kind in points.items()}
    columns = sorted(along)
    if len(columns) * _LINE <= scale.right - scale.left + 60.0:
        places = [scale(0.0, y)[0] for y in columns]
        for y_m, x, told in zip(columns, places, _pushed_apart(places, _LINE), strict=True):
            y = scale.bottom + 6
            sheet.line("thin", (x, y), (x, y + 6), (told, y + 14), (told, y + 18))
            words = _both(y_m - origin[1])
            end = y + 21 + sheet.length(words, along[y_m])
            sheet.text(told + 4, end, words, along[y_m], upwards=True)


def _both(length_m: float) -> str:
    return f"{_mm(length_m)} · {inches(length_m)}"


def _from_left(plan: RoofPlan) -> list[float]:
    """Places of panels' left edges from the roof's leftmost line, and the roof's width [m]."""
    ys = [y for _, y in plan.outline]
    edges = {round(panel.y_m - min(ys), 4) for panel in plan.panels}
    return sorted({0.0, *edges, max(ys) - min(ys)})


def _is_crowded(plan: RoofPlan) -> bool:
    """Whether dimensions above the plan are more than stand side by side."""
    return len(_from_left(plan)) > _MOST_ALONG


def _pushed_apart(places: list[float], apart: float, least: float = -inf) -> list[float]:
    """Rising places pushed apart as little as need be, around where they were, none below least."""

    def start(group: list[float]) -> float:
        return max(sum(group) / len(group) - len(group) * apart / 2, least - apart / 2)

    groups: list[list[float]] = []
    for place in places:
        groups.append([place])
        while len(groups) > 1 and start(groups[-1]) < start(groups[-2]) + len(groups[-2]) * apart:
            last = groups.pop()
            groups[-1] += last
    return [start(group) + (k + 0.5) * apart for group in groups for k in range(len(group))]


def _mm(length_m: float) -> str:
    return f"{1000.0 * length_m:.0f}"


def _scale_bars(sheet: Sheet, scale: PlanScale) -> float:
    """A bar of whole metres and one of whole feet; returns where they end."""
    y = max(scale.bottom + 14, *(box[3] for box in sheet.texts)) + 20
    for unit_m, name in ((1.0, "m"), (0.3048, "ft")):
        whole = max(1, floor(0.6 * scale.width_m / unit_m))
        marks = [scale.left + k * unit_m * scale.per_m for k in range(whole + 1)]
        sheet.line("thin", (marks[0], y), (marks[-1], y))
        for x in marks:
            sheet.line("thin", (x, y - 4), (x, y + 4))
        sheet.text(marks[0] - 8, y + 4, "0", "small", "end")
        sheet.text(marks[-1] + 8, y + 4, f"{whole} {name}", "small")
        y += 22
    return y
