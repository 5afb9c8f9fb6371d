"""Plane geometry, turning of panels, and weight on wheels against hand calculation."""

import math
from typing import Any

import numpy as np
import pytest
import shapely

from sunhitch.types.panel import PanelBody
from sunhitch.types.roof import (
    FootPattern,
    FootSpot,
    FrontCorners,
    PlacedPanel,
    RoofPanelType,
    RoofPolygon,
    RoofRectangle,
    Side,
    Support,
)
from sunhitch_service.engine.roof.balance import support_loads
from sunhitch_service.engine.roof.geometry import (
    SIDES,
    Rectangle,
    box_distance,
    covered,
    disc_distance,
    free_distances,
    outline_points,
    outline_polygon,
)
from sunhitch_service.engine.roof.panels import Laid, lay, mass_centre, total_mass_kg
from sunhitch_service.engine.roof.surroundings import crown_radius_m, rise_m

BODY = PanelBody(length_m=1.2, width_m=0.5, thickness_m=0.003, mass_kg=2.5, construction="flexible")
KIND = RoofPanelType(name="sheet", body=BODY, p_mp_w=100.0)


def test_box_distance_is_the_wider_gap_or_minus_the_shorter_way_out() -> None:
    boxes = np.array([[0.0, 0.0, 1.0, 1.0], [2.3, 0.0, 3.0, 1.0], [1.4, 0.9, 2.0, 2.0]])
    assert box_distance(boxes, Rectangle(1.5, 0.5, 2.0, 0.8)) == pytest.approx([0.5, 0.3, 0.1])
    assert box_distance(boxes[:1], Rectangle(0.9, 0.2, 2.0, 0.8)) == pytest.approx([-0.1])


def test_disc_distance_past_a_corner_is_euclidean() -> None:
    corner = disc_distance(np.array([[0.3, 0.4, 1.0, 1.0]]), 0.0, 0.0, 0.2)
    assert corner == pytest.approx([0.5 - 0.2])
    inside = disc_distance(np.array([[-1.0, -1.0, 1.0, 1.0]]), 0.9, 0.0, 0.2)
    assert inside == pytest.approx([-0.1 - 0.2])
    near = disc_distance(np.array([[-1.0, -1.0, 1.0, 1.0]]), 0.0, 0.97, 0.2)
    assert near == pytest.approx([-0.03 - 0.2])


def test_rounded_corners_stay_inside_the_true_arc_and_touch_it() -> None:
    cut = FrontCorners(shape="rounded", size_m=0.3)
    points = outline_points(RoofRectangle(length_m=4.0, width_m=2.0, front_corners=cut))
    arc = [(x, y) for x, y in points if x <= 0.3 and y <= 0.3]
    assert len(arc) == 17
    assert [math.hypot(x - 0.3, y - 0.3) for x, y in arc] == pytest.approx([0.3] * 17)
    area = outline_polygon(RoofRectangle(length_m=4.0, width_m=2.0, front_corners=cut)).area
    chords = 16 * 0.09 / 2 * math.sin(math.pi / 32)
    assert area == pytest.approx(8.0 - 2 * (0.09 - chords))
    assert area < 8.0 - 2 * (0.09 - math.pi * 0.09 / 4)


def test_a_chamfer_cuts_two_triangles() -> None:
    cut = FrontCorners(shape="chamfered", size_m=0.4)
    roof = RoofRectangle(length_m=4.0, width_m=2.0, front_corners=cut)
    assert outline_polygon(roof).area == pytest.approx(8.0 - 0.16)


def test_free_distance_on_a_chamfered_roof_is_measured_along_the_axes() -> None:
    cut = FrontCorners(shape="chamfered", size_m=0.5)
    outline = outline_polygon(RoofRectangle(length_m=3.0, width_m=2.0, front_corners=cut))
    (free,) = free_distances(outline, np.array([[0.4, 0.3, 1.4, 0.9]]))
    assert free == pytest.approx(
        {"front": 0.4 - 0.2, "rear": 1.6, "left": 0.3 - 0.1, "right": 1.9 - 0.9}, abs=1e-5
    )


def test_free_distance_of_what_sticks_out_is_how_far_it_must_come_back() -> None:
    outline = outline_polygon(RoofRectangle(length_m=3.0, width_m=2.0))
    front, right = free_distances(outline, np.array([[-0.2, 0.5, 1.0, 1.0], [0.5, 1.5, 1.0, 2.3]]))
    assert front == pytest.approx({"front": -0.2}, abs=1e-5)
    assert right == pytest.approx({"right": -0.3}, abs=1e-5)


def test_an_edge_beside_a_panel_is_not_in_its_way() -> None:
    """Flush with both sides of a roof of 2 m, or with both ends of one of 3 m."""
    outline = outline_polygon(RoofRectangle(length_m=3.0, width_m=2.0))
    boxes = np.array([[1.0, 0.0, 1.5, 2.0], [0.0, 0.5, 3.0, 0.7]])
    along, across = free_distances(outline, boxes)
    assert along == pytest.approx({"front": 1.0, "rear": 1.5, "left": 0.0, "right": 0.0}, abs=1e-5)
    assert across == pytest.approx({"front": 0.0, "rear": 0.0, "left": 0.5, "right": 1.3}, abs=1e-5)


def test_of_two_parts_that_stick_out_on_one_side_the_deeper_counts() -> None:
    """A tongue in the middle of the front parts them: 0.1 m before x = 0, 0.3 m before x = 0.2."""
    tongue = [[0, 0], [0, 1], [-0.5, 1], [-0.5, 1.2], [0.2, 1.2], [0.2, 2], [3, 2], [3, 0]]
    outline = outline_polygon(RoofPolygon(points=tongue))
    for y1, y2, depth in ((0.5, 1.7, 0.3), (0.5, 1.1, 0.1), (1.1, 1.7, 0.3)):
        (free,) = free_distances(outline, np.array([[-0.1, y1, 1.0, y2]]))
        assert free == pytest.approx({"front": -depth}, abs=1e-5)


@pytest.mark.parametrize(
    ("box", "told"),
    [
        ((2.5, 1.6, 3.1, 2.3), {"rear": -0.1, "right": -0.3}),
        ((-0.02, -0.01, 1.0, 0.5), {"front": -0.02, "left": -0.01}),
        ((1.0, 1.9, 1.2, 2.9), {"right": -0.9}),
        ((4.0, 0.5, 4.4, 1.0), {"rear": -1.4}),
        ((5.0, 3.0, 5.4, 3.2), {"rear": -2.4, "right": -1.2}),
    ],
)
def test_what_sticks_out_over_a_corner_or_by_more_than_its_size_comes_back_onto_the_roof(
    box: tuple[float, float, float, float], told: dict[Side, float]
) -> None:
    """Of a roof of 3 m × 2 m: towards it, however far, and never further off it."""
    outline = outline_polygon(RoofRectangle(length_m=3.0, width_m=2.0))
    (free,) = free_distances(outline, np.array([box]))
    assert free == pytest.approx(told, abs=1e-5)


def star(rng: np.random.Generator) -> shapely.Polygon:
    """A roof of 14 corners in any distance around its middle."""
    angles = np.sort(rng.uniform(0.0, 2.0 * math.pi, 14))
    radii = rng.uniform(1.0, 4.0, 14)
    return shapely.Polygon(np.stack([radii * np.cos(angles), radii * np.sin(angles)], axis=1))


@pytest.mark.parametrize("seed", range(20))
def test_what_sticks_out_lies_on_the_roof_once_it_is_moved_back(seed: int) -> None:
    """On roofs of any shape, by the geometry library, wherever a part of the roof is large enough.

    Then half of the way is not enough.
    """
    library: Any = shapely
    rng = np.random.default_rng(seed)
    outline = star(rng)
    corners = rng.uniform(-4.0, 4.0, (40, 2))
    boxes = np.concatenate([corners, corners + rng.uniform(0.05, 0.4, (40, 2))], axis=1)
    boxes = boxes[~covered(outline, boxes)]
    roof = library.buffer(outline, 1e-5, join_style="mitre")
    for box, moves in zip(boxes, free_distances(outline, boxes), strict=True):
        x, y = (moves.get(low, 0.0) - moves.get(high, 0.0) for low, high in (SIDES[:2], SIDES[2:]))
        for share, lies in ((1.0, True), (0.5, False)):
            moved = box - share * np.array([x, y, x, y])
            assert roof.covers(library.box(*moved)) == lies


def test_what_is_larger_than_every_part_of_a_roof_is_told_out_by_its_size() -> None:
    angle = [[0, 0], [0, 2], [0.5, 2], [0.5, 0.5], [2, 0.5], [2, 0]]
    outline = outline_polygon(RoofPolygon(points=angle))
    (free,) = free_distances(outline, np.array([[0.0, 0.0, 0.6, 0.7]]))
    assert free == pytest.approx({"front": -0.6, "left": -0.7})


@pytest.mark.parametrize("beyond_m", [0.0, 1e-6 - 1e-9, 1e-6, 1e-6 + 1e-9, 1e-3])
@pytest.mark.parametrize("side", SIDES)
def test_what_sticks_out_by_a_micrometre_is_rounding(side: Side, beyond_m: float) -> None:
    """On either side of the tolerance and on it; a millimetre is told as such."""
    outline = outline_polygon(RoofRectangle(length_m=3.0, width_m=2.0))
    moved = {
        "front": (-beyond_m, 0.5, 1.0, 1.0),
        "rear": (1.0, 0.5, 3.0 + beyond_m, 1.0),
        "left": (1.0, -beyond_m, 2.0, 1.0),
        "right": (1.0, 1.0, 2.0, 2.0 + beyond_m),
    }
    (free,) = free_distances(outline, np.array([moved[side]]))
    assert free[side] == pytest.approx(-beyond_m if beyond_m == 1e-3 else 0.0, abs=3e-6)
    assert len(free) == (1 if beyond_m > 1e-6 else 4)
    assert min(free, key=free.__getitem__) == side


@pytest.mark.parametrize("seed", range(20))
def test_free_distances_are_those_of_the_geometry_library(seed: int) -> None:
    """What is left of a lane from the rectangle to far off, once the roof is taken away."""
    library: Any = shapely
    rng = np.random.default_rng(seed)
    outline = star(rng)
    corners = rng.uniform(-2.0, 2.0, (60, 2))
    boxes = np.concatenate([corners, corners + rng.uniform(0.05, 0.8, (60, 2))], axis=1)
    boxes = boxes[covered(outline, boxes)]
    assert len(boxes) > 3
    t = 1e-6  # what only touches a lane is not in the way
    for (x1, y1, x2, y2), found in zip(boxes.tolist(), free_distances(outline, boxes), strict=True):
        lanes: dict[Side, tuple[float, float, float, float]] = {
            "front": (-9.0, y1 + t, x1, y2 - t),
            "rear": (x2, y1 + t, 9.0, y2 - t),
            "left": (x1 + t, -9.0, x2 - t, y1),
            "right": (x1 + t, y2, x2 - t, 9.0),
        }
        for side, lane in lanes.items():
            outside = library.box(*lane).difference(outline)
            expected = float(outside.distance(library.box(x1, y1, x2, y2)))
            assert found[side] == pytest.approx(expected, abs=1e-5)


def test_a_notched_roof_covers_only_what_lies_wholly_on_it() -> None:
    notched = RoofPolygon(points=[[0, 0], [0, 2], [3, 2], [3, 1.5], [2, 1.5], [2, 0]])
    outline = outline_polygon(notched)
    boxes = np.array([[0.0, 0.0, 2.0, 2.0], [1.9, 1.5, 3.0, 2.0], [1.9, 1.4, 2.5, 2.0]])
    assert covered(outline, boxes).tolist() == [True, True, False]


def _turn(point: tuple[float, float], quarter_turns: int) -> tuple[float, float]:
    angle = math.pi / 2 * quarter_turns
    x, y = point
    return (x * math.cos(angle) - y * math.sin(angle), x * math.sin(angle) + y * math.cos(angle))


@pytest.mark.parametrize("quarter_turns", range(4))
def test_feet_and_plugs_turn_with_the_panel(quarter_turns: int) -> None:
    """A rotation matrix about the stated corner gives the same feet, plugs and outline."""
    pattern = FootPattern(
        plate_length_m=0.1,
        plate_width_m=0.06,
        points=[FootSpot(along_length_m=0.1, along_width_m=0.05)],
    )
    kind = RoofPanelType(name="sheet", body=BODY, p_mp_w=100.0, feet=pattern)
    panel = Laid("p", kind, 2.0, 1.0, quarter_turns)
    position = panel.shade_position
    assert position.rotation_deg == 90.0 * quarter_turns

    def on_roof(along_length: float, along_width: float) -> tuple[float, float]:
        x, y = _turn((along_length, along_width), quarter_turns)
        return position.x_m + x, position.y_m + y

    foot = panel.plates[0]
    assert ((foot[0] + foot[2]) / 2, (foot[1] + foot[3]) / 2) == pytest.approx(on_roof(0.1, 0.05))
    assert panel.plug == pytest.approx(on_roof(1.2, 0.25))
    corners = [on_roof(a, b) for a, b in ((0, 0), (1.2, 0), (1.2, 0.5), (0, 0.5))]
    xs, ys = [c[0] for c in corners], [c[1] for c in corners]
    assert panel.box == pytest.approx((min(xs), min(ys), max(xs), max(ys)))
    assert (min(xs), min(ys)) == pytest.approx((2.0, 1.0))


@pytest.mark.parametrize("quarter_turns", range(4))
def test_plugs_at_a_long_side_turn_too(quarter_turns: int) -> None:
    kind = RoofPanelType(name="sheet", body=BODY, p_mp_w=100.0, plug_edge="side")
    panel = Laid("p", kind, 0.0, 0.0, quarter_turns)
    x, y = _turn((0.6, 0.5), quarter_turns)
    corner = panel.shade_position
    assert panel.plug == pytest.approx((corner.x_m + x, corner.y_m + y))


def test_rows_of_feet_are_spread_between_the_insets() -> None:
    pattern = FootPattern(
        plate_length_m=0.08,
        plate_width_m=0.08,
        rows_along_length=3,
        columns_along_width=1,
        edge_inset_m=0.1,
    )
    kind = RoofPanelType(name="sheet", body=BODY, p_mp_w=100.0, feet=pattern)
    plates = Laid("p", kind, 0.0, 0.0, 0).plates
    assert plates[:, 0] == pytest.approx([0.06, 0.56, 1.06])
    assert plates[:, 1] == pytest.approx([0.21] * 3)


def test_plugs_face_the_entry_unless_told_otherwise() -> None:
    def towards(panel: PlacedPanel) -> str:
        return lay([KIND], [panel], (4.0, 1.0))[0].plugs_towards

    plain = PlacedPanel(name="a", panel_type="sheet", x_m=1.0, y_m=0.5)
    told = PlacedPanel(name="a", panel_type="sheet", x_m=1.0, y_m=0.5, plugs_towards="front")
    across = PlacedPanel(name="a", panel_type="sheet", x_m=1.0, y_m=1.5, rotated=True)
    before = PlacedPanel(name="a", panel_type="sheet", x_m=1.0, y_m=-0.5, rotated=True)
    behind = PlacedPanel(name="a", panel_type="sheet", x_m=5.0, y_m=0.5)
    assert (towards(plain), towards(told), towards(across)) == ("rear", "front", "left")
    assert (towards(before), towards(behind)) == ("right", "front")


def test_without_a_point_to_look_at_plugs_are_at_the_end_of_the_length() -> None:
    """Along the vehicle at the rear, across it at the right."""
    for rotated, side in ((False, "rear"), (True, "right")):
        placed = PlacedPanel(name="a", panel_type="sheet", x_m=0.0, y_m=0.0, rotated=rotated)
        assert [panel.plugs_towards for panel in lay([KIND], [placed])] == [side]


def test_mass_centre_of_two_panels_is_their_mean() -> None:
    panels = [Laid("a", KIND, 0.0, 0.0, 0), Laid("b", KIND, 1.0, 1.0, 1)]
    assert total_mass_kg(panels) == pytest.approx(5.0)
    assert mass_centre(panels) == pytest.approx(((0.6 + 1.25) / 2, (0.25 + 1.6) / 2))


def carried_by(
    places: list[tuple[float, float]], mass_kg: float, centre: tuple[float, float]
) -> list[float]:
    """Share of each support [kg]."""
    supports = [Support(name=f"s{i}", x_m=x, y_m=y) for i, (x, y) in enumerate(places)]
    return [load.mass_kg for load in support_loads(mass_kg, centre, supports)]


def test_three_supports_follow_the_lever_rule() -> None:
    """A trailer: two wheels at x = 3, the hitch at x = -1; 20 kg at x = 2, centred."""
    shares = carried_by([(3.0, 0.0), (3.0, 2.0), (-1.0, 1.0)], 20.0, (2.0, 1.0))
    assert shares == pytest.approx([7.5, 7.5, 5.0])


def test_four_wheels_balance_force_and_moments() -> None:
    wheels = [(0.5, 0.1), (0.5, 1.9), (3.9, 0.1), (3.9, 1.9)]
    shares = carried_by(wheels, 30.0, (1.7, 0.8))
    assert sum(shares) == pytest.approx(30.0)
    assert sum(s * w[0] for s, w in zip(shares, wheels, strict=True)) == pytest.approx(51.0)
    assert sum(s * w[1] for s, w in zip(shares, wheels, strict=True)) == pytest.approx(24.0)


@pytest.mark.parametrize("width_m", [1.6, 2.0, 2.4])
def test_sagitta_of_a_crowned_roof(width_m: float) -> None:
    """The rise is the crown across the whole roof, and goes with the square of a small span."""
    radius_m = crown_radius_m(0.06, width_m)
    assert rise_m(radius_m, width_m) == pytest.approx(0.06)
    assert rise_m(radius_m, width_m / 4) == pytest.approx(0.06 / 16, rel=0.01)
