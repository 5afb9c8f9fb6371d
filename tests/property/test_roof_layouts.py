"""What must hold for every roof: nothing overlaps, bounds hold, mirrors change nothing."""

import msgspec
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sunhitch.codec import encode
from sunhitch.types.panel import PanelBody
from sunhitch.types.roof import (
    EdgeMargins,
    FootPattern,
    FrontCorners,
    LayoutSearch,
    NoFootLine,
    Obstacle,
    PlacedPanel,
    RectangularObstacle,
    Roof,
    RoofLayoutAnswer,
    RoofLayoutRequest,
    RoofPanelType,
    RoofPolygon,
    RoofRectangle,
    RoundObstacle,
)
from sunhitch_service.engine.roof.geometry import outline_points
from sunhitch_service.engine.roof.layout import roof_layout

_SETTINGS = settings(
    max_examples=12,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
    derandomize=True,
)

LENGTH_M, WIDTH_M = 3.0, 1.8


def _metres(low: float, high: float) -> st.SearchStrategy[float]:
    return st.integers(round(low * 200), round(high * 200)).map(lambda n: n / 200)


@st.composite
def _obstacles(draw: st.DrawFn) -> list[Obstacle]:
    found: list[Obstacle] = []
    for i in range(draw(st.integers(0, 3))):
        x, y = draw(_metres(0.3, 2.5)), draw(_metres(0.2, 1.4))
        clearance = draw(_metres(0.0, 0.1))
        if draw(st.booleans()):
            size = draw(_metres(0.1, 0.4))
            found.append(
                RoundObstacle(name=f"o{i}", x_m=x, y_m=y, diameter_m=size, clearance_m=clearance)
            )
        else:
            length, width = draw(_metres(0.1, 0.4)), draw(_metres(0.1, 0.35))
            found.append(
                RectangularObstacle(
                    name=f"o{i}",
                    x_m=x,
                    y_m=y,
                    length_m=length,
                    width_m=width,
                    clearance_m=clearance,
                )
            )
    return found


@st.composite
def _feet(draw: st.DrawFn) -> FootPattern | None:
    if not draw(st.booleans()):
        return None
    return FootPattern(
        plate_length_m=0.08,
        plate_width_m=0.08,
        rows_along_length=draw(st.integers(1, 3)),
        edge_inset_m=draw(st.sampled_from([-0.01, 0.0, 0.03, 0.06])),
    )


@st.composite
def _requests(draw: st.DrawFn) -> RoofLayoutRequest:
    seams = draw(st.lists(_metres(0.3, 2.7), max_size=2, unique=True))
    corners = draw(st.sampled_from([None, "rounded", "chamfered"]))
    roof = Roof(
        outline=RoofRectangle(
            length_m=LENGTH_M,
            width_m=WIDTH_M,
            front_corners=corners and FrontCorners(shape=corners, size_m=0.3),
        ),
        margins=EdgeMargins(
            front_m=draw(_metres(0.0, 0.2)), rear_m=0.05, side_m=draw(_metres(0.0, 0.1))
        ),
        obstacles=draw(_obstacles()),
        no_foot_lines=[
            NoFootLine(name=f"s{i}", feature="seam", points=[[x, 0.0], [x, WIDTH_M]])
            for i, x in enumerate(seams)
        ],
    )
    body = PanelBody(
        length_m=draw(_metres(0.7, 1.2)),
        width_m=draw(_metres(0.4, 0.6)),
        thickness_m=0.003,
        mass_kg=2.0,
        construction="flexible",
    )
    kind = RoofPanelType(name="sheet", body=body, p_mp_w=100.0, feet=draw(_feet()))
    return RoofLayoutRequest(
        roof=roof,
        panel_types=[kind],
        min_gap_m=draw(_metres(0.0, 0.04)),
        search=LayoutSearch(time_limit_s=3.0),
    )


_GEOMETRY = {
    "panel-edge-margin",
    "panel-obstacle-clearance",
    "panel-free-strip",
    "panel-gap",
    "foot-edge",
    "foot-obstacle",
    "foot-line",
    "foot-plates-apart",
}


def _separate(answer: RoofLayoutAnswer, gap: float) -> bool:
    boxes = [(p.x_m, p.y_m, p.x_m + p.size_x_m, p.y_m + p.size_y_m) for p in answer.plan.panels]
    return all(
        max(b[0] - a[2], a[0] - b[2], b[1] - a[3], a[1] - b[3]) >= gap - 1e-5
        for i, a in enumerate(boxes)
        for b in boxes[i + 1 :]
    )


def _clear_of_everything(request: RoofLayoutRequest, answer: RoofLayoutAnswer) -> bool:
    """Measured again with a geometry library instead of the engine's own distances."""
    roof = shapely.Polygon(answer.plan.outline)
    panels = [
        shapely.box(p.x_m, p.y_m, p.x_m + p.size_x_m, p.y_m + p.size_y_m)
        for p in answer.plan.panels
    ]
    plates = [
        shapely.box(
            f.x_m - f.size_x_m / 2,
            f.y_m - f.size_y_m / 2,
            f.x_m + f.size_x_m / 2,
            f.y_m + f.size_y_m / 2,
        )
        for p in answer.plan.panels
        for f in p.feet
    ]
    grown = roof.buffer(2e-5, join_style="mitre")
    clear = all(grown.covers(shape) for shape in [*panels, *plates])
    for feature in answer.plan.features:
        shape = (
            shapely.Point(feature.points[0]).buffer(feature.radius_m, quad_segs=64)
            if feature.radius_m
            else shapely.LineString(feature.points)
            if feature.kind == "no-foot-line"
            else shapely.Polygon(feature.points)
        )
        shapes = plates if feature.kind == "no-foot-line" else panels
        clear &= all(shape.distance(one) >= feature.clearance_m - 1e-4 for one in shapes)
    return clear and all(
        a.intersection(b).area < 1e-9 for i, a in enumerate(plates) for b in plates[i + 1 :]
    )


@_SETTINGS
@given(_requests())
def test_every_layout_found_keeps_every_rule(request: RoofLayoutRequest) -> None:
    answer = roof_layout(request)
    broken = [c for c in answer.checks if c.code in _GEOMETRY and c.verdict != "pass"]
    assert broken == []
    assert _separate(answer, request.min_gap_m or 0.0)
    assert _clear_of_everything(request, answer)
    proof = answer.plan.proof
    assert proof.panels_placed == len(answer.plan.panels)
    places = [(panel.x_m, panel.y_m) for panel in answer.plan.panels]
    assert places == sorted(places), "from front to rear and from left to right"
    assert proof.panels_placed <= proof.panels_at_most
    assert proof.power_w <= proof.power_at_most_w + 1e-9
    assert proof.power_at_most_w <= proof.area_power_at_most_w + 1e-9


def _mirrored(request: RoofLayoutRequest) -> RoofLayoutRequest:
    """Left and right exchanged."""
    flipped: list[Obstacle] = []
    for obstacle in request.roof.obstacles:
        if isinstance(obstacle, RoundObstacle):
            moved = WIDTH_M - obstacle.y_m
        else:
            moved = WIDTH_M - obstacle.y_m - obstacle.width_m
        flipped.append(msgspec.structs.replace(obstacle, y_m=round(moved, 6)))
    roof = msgspec.structs.replace(request.roof, obstacles=flipped)
    return msgspec.structs.replace(request, roof=roof)


@_SETTINGS
@given(_requests())
def test_a_mirrored_roof_holds_as_much(request: RoofLayoutRequest) -> None:
    here, there = roof_layout(request).plan.proof, roof_layout(_mirrored(request)).plan.proof
    if here.proven and there.proven:
        assert here.panels_placed == there.panels_placed
    assert here.panels_placed <= there.panels_at_most
    assert there.panels_placed <= here.panels_at_most


def _elsewhere(request: RoofLayoutRequest, dx: float, dy: float) -> RoofLayoutRequest:
    """The same roof in moved coordinates."""
    roof = request.roof
    outline = RoofPolygon(
        points=[[round(x + dx, 6), round(y + dy, 6)] for x, y in outline_points(roof.outline)]
    )
    obstacles = [
        msgspec.structs.replace(o, x_m=round(o.x_m + dx, 6), y_m=round(o.y_m + dy, 6))
        for o in roof.obstacles
    ]
    lines = [
        msgspec.structs.replace(
            line, points=[[round(x + dx, 6), round(y + dy, 6)] for x, y in line.points]
        )
        for line in roof.no_foot_lines
    ]
    moved = msgspec.structs.replace(roof, outline=outline, obstacles=obstacles, no_foot_lines=lines)
    return msgspec.structs.replace(request, roof=moved)


@_SETTINGS
@given(_requests(), _metres(-2.0, 3.0), _metres(-2.0, 3.0))
def test_a_roof_elsewhere_holds_as_much(request: RoofLayoutRequest, dx: float, dy: float) -> None:
    here = roof_layout(request).plan.proof
    there = roof_layout(_elsewhere(request, dx, dy)).plan.proof
    if here.proven and there.proven:
        assert here.panels_placed == there.panels_placed
    assert here.panels_placed <= there.panels_at_most
    assert there.panels_placed <= here.panels_at_most


@_SETTINGS
@given(_requests())
def test_same_input_same_answer_and_order_does_not_matter(request: RoofLayoutRequest) -> None:
    first, second = roof_layout(request), roof_layout(request)
    assert encode(first) == encode(second)
    turned = msgspec.structs.replace(request.roof, obstacles=list(reversed(request.roof.obstacles)))
    other = roof_layout(msgspec.structs.replace(request, roof=turned)).plan.proof
    if first.plan.proof.proven and other.proven:
        assert other.power_w == pytest.approx(first.plan.proof.power_w)
    assert other.power_w <= first.plan.proof.power_at_most_w + 1e-9


@_SETTINGS
@given(_requests())
def test_a_layout_that_was_found_is_accepted_when_given(request: RoofLayoutRequest) -> None:
    found = roof_layout(request)
    given_back = [
        PlacedPanel(
            name=p.name,
            panel_type=p.panel_type,
            x_m=p.x_m,
            y_m=p.y_m,
            rotated=p.rotated,
            plugs_towards=p.plugs_towards,
        )
        for p in found.plan.panels
    ]
    if not given_back:
        assert found.verdict == "fail"
        return
    again = roof_layout(msgspec.structs.replace(request, placements=given_back))
    assert again.plan.panels == found.plan.panels
    assert again.plan.proof.how == "not-searched"
    assert again.plan.proof.proven == found.plan.proof.proven


@_SETTINGS
@given(_requests(), st.booleans())
def test_cables_end_at_the_entry_and_are_no_shorter_than_square_steps(
    request: RoofLayoutRequest, beneath: bool
) -> None:
    answer = roof_layout(msgspec.structs.replace(request, cables_beneath_panels=beneath))
    entry = answer.plan.cable_entry
    for panel in answer.plan.panels:
        cable = panel.cable
        x, y = cable.points[0]
        assert cable.points[-1] == [entry.x_m, entry.y_m]
        steps = sum(
            abs(b[0] - a[0]) + abs(b[1] - a[1])
            for a, b in zip(cable.points, cable.points[1:], strict=False)
        )
        assert cable.to_entry_m == pytest.approx(steps, abs=1e-4)
        assert steps >= abs(x - entry.x_m) + abs(y - entry.y_m) - 1e-6
        assert cable.to_entry_m == pytest.approx(cable.to_branch_m + answer.plan.trunk_m, abs=1e-4)
