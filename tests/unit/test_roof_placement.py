"""Given places and cables are judged as a tape measure would judge them."""

import math
from collections.abc import Sequence
from types import SimpleNamespace

import pytest

from sunhitch.types.check import Check
from sunhitch.types.panel import PanelBody
from sunhitch.types.roof import (
    EdgeMargins,
    FootPattern,
    NoFootLine,
    Obstacle,
    PlacedPanel,
    RectangularObstacle,
    Roof,
    RoofPanelType,
    RoofRectangle,
    RoofSpot,
    RoofStrip,
    RoundObstacle,
)
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.roof.panels import Laid, lay
from sunhitch_service.engine.roof.placement import check_placements, fits
from sunhitch_service.engine.roof.routes import _exit, cable_routes, check_routes
from sunhitch_service.engine.roof.site import RoofSite, resolve_site
from sunhitch_service.engine.roof.surroundings import _elevation_deg

BODY = PanelBody(length_m=1.2, width_m=0.5, thickness_m=0.003, mass_kg=2.5, construction="flexible")
FEET = FootPattern(plate_length_m=0.1, plate_width_m=0.1, edge_inset_m=0.05)
HATCH = RectangularObstacle(
    name="hatch", x_m=1.5, y_m=0.8, length_m=0.4, width_m=0.4, clearance_m=0.05
)
VENT = RoundObstacle(name="vent", x_m=3.0, y_m=0.5, diameter_m=0.2, clearance_m=0.1)


def _kind(feet: FootPattern | None = None) -> RoofPanelType:
    return RoofPanelType(name="sheet", body=BODY, p_mp_w=100.0, feet=feet)


def _site(
    *obstacles: Obstacle,
    entry: RoofSpot | None = None,
    lines: Sequence[NoFootLine] = (),
    zone: RoofStrip | None = None,
    gap_m: float = 0.02,
    size_m: tuple[float, float] = (4.0, 2.0),
) -> RoofSite:
    roof = Roof(
        outline=RoofRectangle(length_m=size_m[0], width_m=size_m[1]),
        margins=EdgeMargins(front_m=0.1, rear_m=0.05, side_m=0.05),
        obstacles=list(obstacles),
        no_foot_lines=list(lines),
        cable_zone=zone,
        cable_entry=entry or "choose",
    )
    return resolve_site(roof, gap_m, Assumptions())


def _panels(*places: tuple[float, float, bool], feet: FootPattern | None = None) -> list[Laid]:
    placed = [
        PlacedPanel(name=f"p{i}", panel_type="sheet", x_m=x, y_m=y, rotated=rotated)
        for i, (x, y, rotated) in enumerate(places)
    ]
    return lay([_kind(feet)], placed)


def _one(checks: Sequence[Check], code: str, subject: str = "p0") -> Check:
    return next(c for c in checks if c.code == code and c.subject == subject)


def test_a_sound_layout_passes_every_rule() -> None:
    seam = NoFootLine(name="s", feature="seam", points=[[0.7, 0.0], [0.7, 2.0]], keep_off_m=0.02)
    panels = _panels((0.1, 0.05, False), (0.1, 0.57, False), feet=FEET)
    checks = check_placements(_site(HATCH, VENT, lines=[seam]), panels)
    assert fits(checks)
    assert {c.code for c in checks} == {
        "panel-edge-margin",
        "panel-obstacle-clearance",
        "panel-gap",
        "foot-edge",
        "foot-obstacle",
        "foot-line",
        "foot-plates-apart",
    }


def test_edge_margin_names_side_and_shortage() -> None:
    check = _one(check_placements(_site(), _panels((0.07, 0.5, False))), "panel-edge-margin")
    assert check.verdict == "fail"
    assert (check.demand, check.capacity) == pytest.approx((0.1, 0.07), abs=1e-5)
    assert "0.03 m towards the rear" in check.remedy


@pytest.mark.parametrize(
    ("size_m", "told"),
    [
        ((1.36, 2.0), "Move it 0.0"),
        ((1.34, 2.0), "turn it by a quarter"),
        ((1.1, 2.0), "turn it by a quarter"),
        ((1.34, 1.29), "use a smaller panel"),
    ],
)
def test_a_panel_that_no_move_helps_is_told_to_turn_or_to_be_smaller(
    size_m: tuple[float, float], told: str
) -> None:
    """1.2 m and margins of 0.15 m along the roof; turned, 1.2 m and 0.1 m across it."""
    at = _panels((0.05, 0.5, False))
    check = _one(check_placements(_site(size_m=size_m), at), "panel-edge-margin")
    assert check.verdict == "fail"
    assert told in check.remedy


def test_a_panel_off_the_roof_has_negative_space() -> None:
    check = _one(check_placements(_site(), _panels((1.0, 1.7, False))), "panel-edge-margin")
    assert (check.verdict, check.capacity) == ("fail", pytest.approx(-0.2, abs=1e-5))
    assert check.utilisation_fraction is None


@pytest.mark.parametrize(
    ("x", "verdict", "distance"), [(0.25, "pass", 0.05), (0.26, "fail", 0.04), (0.9, "fail", -0.1)]
)
def test_clearance_to_a_rectangular_obstacle(x: float, verdict: str, distance: float) -> None:
    check = _one(
        check_placements(_site(HATCH), _panels((x, 0.4 if x > 0.5 else 0.8, False))),
        "panel-obstacle-clearance",
    )
    assert (check.verdict, check.capacity) == (verdict, pytest.approx(distance))
    assert "hatch" in check.note


def test_clearance_to_a_round_obstacle_past_its_corner() -> None:
    """The corner at (2.85, 0.7) is 0.25 m from the middle of a disc of 0.1 m radius."""
    checks = check_placements(_site(VENT), _panels((1.65, 0.7, False)))
    assert _one(checks, "panel-obstacle-clearance").capacity == pytest.approx(0.15)


def test_the_tightest_is_what_lacks_most_not_what_is_nearest() -> None:
    """Beside the panel, x 0.5 to 1.7 m, y 0.5 to 1.0 m; what is farther off asks for more."""
    near = RectangularObstacle(
        name="near", x_m=1.8, y_m=0.6, length_m=0.1, width_m=0.1, clearance_m=0.05
    )
    wide = RoundObstacle(name="wide", x_m=0.8, y_m=1.3, diameter_m=0.2, clearance_m=0.3)
    feet = FootPattern(plate_length_m=0.1, plate_width_m=0.1, edge_inset_m=0.1)
    lines = [
        NoFootLine(name="thin", feature="seam", points=[[1.0, 0.0], [1.0, 2.0]], keep_off_m=0.01),
        NoFootLine(name="broad", feature="rib", points=[[1.1, 0.0], [1.1, 2.0]], keep_off_m=0.6),
        NoFootLine(name="far", feature="rib", points=[[2.1, 0.0], [2.1, 2.0]], keep_off_m=0.05),
    ]
    checks = check_placements(_site(near, wide, lines=lines), _panels((0.5, 0.5, False), feet=feet))
    clearance = _one(checks, "panel-obstacle-clearance")
    assert (clearance.demand, clearance.capacity) == pytest.approx((0.3, 0.2))
    assert "wide" in clearance.note
    line = _one(checks, "foot-line")
    assert (line.demand, line.capacity) == pytest.approx((0.6, 1.55 - 1.1))
    assert "broad" in line.note
    # The plates end at 1.65 m, 0.15 m before what is near; they begin 0.55 m from either edge.
    foot = _one(checks, "foot-obstacle")
    assert (foot.demand, foot.capacity) == pytest.approx((0.0, 0.15))
    assert "near" in foot.note
    assert _one(checks, "foot-edge").capacity == pytest.approx(0.55)


@pytest.mark.parametrize(
    ("x", "y", "side", "room"),
    [
        (0.12, 0.5, "front", (0.1, 0.12)),
        (0.12, 0.06, "left", (0.05, 0.06)),
        (2.74, 0.5, "rear", (0.05, 0.06)),
        (1.0, 1.44, "right", (0.05, 0.06)),
        (0.14, 0.1, "front", (0.1, 0.14)),
    ],
)
def test_the_tightest_edge_is_the_one_with_least_beyond_its_margin(
    x: float, y: float, side: str, room: tuple[float, float]
) -> None:
    check = _one(check_placements(_site(), _panels((x, y, False))), "panel-edge-margin")
    assert (check.demand, check.capacity) == pytest.approx(room)
    assert (check.verdict, side in check.note) == ("pass", True)


def test_gap_counts_along_one_axis_and_names_the_neighbour() -> None:
    checks = check_placements(_site(), _panels((0.5, 0.1, False), (0.5, 0.61, False)))
    check = _one(checks, "panel-gap")
    assert (check.verdict, check.capacity) == ("fail", pytest.approx(0.01))
    assert "p1" in check.remedy


def test_feet_keep_off_seams_and_the_seam_is_named() -> None:
    seam = NoFootLine(name="s", feature="seam", points=[[0.61, 0.0], [0.61, 2.0]], keep_off_m=0.03)
    checks = check_placements(_site(lines=[seam]), _panels((0.5, 0.5, False), feet=FEET))
    check = _one(checks, "foot-line")
    assert (check.verdict, check.capacity) == ("fail", pytest.approx(0.01))
    assert "seam s" in check.note


def test_overhanging_plates_collide_when_aligned_and_pass_when_shifted() -> None:
    feet = FootPattern(plate_length_m=0.1, plate_width_m=0.1, edge_inset_m=0.0)
    aligned = check_placements(_site(), _panels((0.5, 0.1, False), (0.5, 0.65, False), feet=feet))
    assert _one(aligned, "foot-plates-apart").verdict == "fail"
    shifted = check_placements(_site(), _panels((0.5, 0.1, False), (0.61, 0.65, False), feet=feet))
    assert _one(shifted, "foot-plates-apart").verdict == "pass"
    assert fits(shifted)


def test_plates_name_the_neighbour_whose_plate_is_nearest() -> None:
    """Plates flush with edges: 0.03 m to the panel behind, 0.35 m to the one aside."""
    panels = _panels((0.1, 0.05, False), (0.1, 0.9, False), (1.33, 0.05, False), feet=FEET)
    found = _one(check_placements(_site(), panels), "foot-plates-apart")
    assert found.capacity == pytest.approx(0.03)
    assert "p2" in found.note + found.remedy


@pytest.mark.parametrize(
    ("side", "step"),
    [("front", (-1, 0)), ("rear", (1, 0)), ("left", (0, -1)), ("right", (0, 1))],
)
def test_leads_leave_the_panel_on_the_side_of_their_plugs(side: str, step: tuple[int, int]) -> None:
    """By half of a gap of 0.2 m."""
    panel = SimpleNamespace(plug=(1.0, 2.0), plugs_towards=side)
    spot = _exit(_site(gap_m=0.2), panel)  # type: ignore[arg-type]
    assert spot == pytest.approx((1.0 + 0.1 * step[0], 2.0 + 0.1 * step[1]))


def test_a_round_thing_casts_its_shadow_from_its_rim() -> None:
    """Rim of 0.1 m, 0.4 m ahead of and 0.4 m beside the corner of a panel, 0.3 m high."""
    vent = RoundObstacle(name="vent", x_m=0.6, y_m=0.5, diameter_m=0.2, height_m=0.3)
    (panel,) = _panels((1.0, 0.9, False))
    angle = _elevation_deg(_site(vent).obstacles[0], panel)
    assert angle == pytest.approx(math.degrees(math.atan2(0.3, math.hypot(0.4, 0.4) - 0.1)))


def test_plates_must_not_hang_over_the_roof_edge() -> None:
    feet = FootPattern(plate_length_m=0.1, plate_width_m=0.1, edge_inset_m=-0.04)
    checks = check_placements(_site(), _panels((0.5, 0.05, False), feet=feet))
    assert (_one(checks, "foot-edge").verdict, _one(checks, "panel-edge-margin").verdict) == (
        "fail",
        "pass",
    )


def test_the_given_entry_and_the_cable_zone_stay_free() -> None:
    zone = RoofStrip(name="cables", x_m=0.0, y_m=0.9, length_m=4.0, width_m=0.2)
    checks = check_placements(_site(zone=zone), _panels((0.5, 0.5, False)))
    assert _one(checks, "panel-free-strip").capacity == pytest.approx(-0.1)
    entry = _site(entry=RoofSpot(x_m=1.74, y_m=0.7))
    checks = check_placements(entry, _panels((0.5, 0.5, False)))
    assert _one(checks, "panel-free-strip").verdict == "fail"


def test_a_free_run_is_as_long_as_its_two_legs() -> None:
    """Plugs at (1.7, 0.75), entry at (3.5, 1.5): 1.8 m along and 0.75 m across."""
    site = _site(entry=RoofSpot(x_m=3.5, y_m=1.5))
    route = cable_routes(site, lay([_kind()], _placed((0.5, 0.5)), site.entry)).routes[0]
    assert (route.to_entry_m, route.routing) == (pytest.approx(1.8 + 0.75), "around")
    assert len(route.points) == 3


def _placed(*places: tuple[float, float]) -> list[PlacedPanel]:
    return [
        PlacedPanel(name=f"p{i}", panel_type="sheet", x_m=x, y_m=y)
        for i, (x, y) in enumerate(places)
    ]


def test_a_run_goes_around_an_obstacle_by_the_shorter_side() -> None:
    """Straight ahead at y = 0.75 lies a block from y 0.5 to 1.1: 0.25 m + 0.02 m aside and back."""
    block = RectangularObstacle(name="block", x_m=2.2, y_m=0.5, length_m=0.6, width_m=0.6)
    site = _site(block, entry=RoofSpot(x_m=3.5, y_m=0.75))
    route = cable_routes(site, lay([_kind()], _placed((0.5, 0.5)), site.entry)).routes[0]
    assert route.to_entry_m == pytest.approx(1.8 + 2 * 0.27)


def test_cables_that_meet_share_a_trunk() -> None:
    """Plugs at (1.7, 0.35) and (1.7, 0.87) look at an entry straight behind the second."""
    site = _site(entry=RoofSpot(x_m=3.5, y_m=0.87))
    found = cable_routes(site, lay([_kind()], _placed((0.5, 0.1), (0.5, 0.62)), site.entry))
    first, second = found.routes
    assert first.to_entry_m == pytest.approx(1.8 + 0.52)
    assert second.to_entry_m == pytest.approx(1.8)
    for route in found.routes:
        assert route.to_entry_m == pytest.approx(route.to_branch_m + found.trunk_m)
    assert found.trunk_m == pytest.approx(3.5 - 1.71)
    assert found.branch == pytest.approx((1.71, 0.87))


def test_a_panel_boxed_in_by_neighbours_needs_a_way_beneath_them() -> None:
    site = _site(entry=RoofSpot(x_m=3.9, y_m=1.9), gap_m=0.0)
    ring = _placed((0.2, 0.2), (0.2, 0.7), (0.2, 1.2), (1.4, 0.2), (1.4, 0.7), (1.4, 1.2))
    around = cable_routes(site, lay([_kind()], ring, site.entry))
    ways = {route.name: route.routing for route in around.routes}
    assert ways["p1"] == "beneath-panels"
    assert ways["p4"] == "around"
    verdicts = {c.subject: c.verdict for c in check_routes(around) if c.code == "cable-route"}
    assert verdicts["p1"] == "review"
    beneath = cable_routes(site, lay([_kind()], ring, site.entry), beneath_panels=True)
    assert {route.routing for route in beneath.routes} == {"around"}


def test_a_wall_across_the_roof_lets_no_cable_pass() -> None:
    wall = RectangularObstacle(name="wall", x_m=2.5, y_m=0.0, length_m=0.1, width_m=2.0)
    site = _site(wall, entry=RoofSpot(x_m=3.5, y_m=1.0))
    found = cable_routes(site, lay([_kind()], _placed((0.5, 0.5)), site.entry))
    assert found.routes[0].routing == "across-obstacles"
    assert [c.verdict for c in check_routes(found) if c.code == "cable-route"] == ["fail"]


def test_a_chosen_entry_lies_in_the_cable_zone_with_room_around_it() -> None:
    zone = RoofStrip(name="cables", x_m=3.0, y_m=0.0, length_m=0.8, width_m=2.0)
    site = _site(zone=zone)
    found = cable_routes(site, lay([_kind()], _placed((0.5, 0.1), (0.5, 1.2)), (3.4, 1.0)))
    assert found.entry_chosen
    assert found.entry_has_room
    assert 3.0 <= found.entry[0] <= 3.8


def test_a_chosen_entry_is_the_best_of_the_free_spots_tried() -> None:
    """No spot on a coarse raster of the roof has less cable in sum."""
    panels = lay([_kind()], _placed((0.5, 0.1), (0.5, 1.2), (2.0, 1.3)), (2.0, 0.9))
    chosen = cable_routes(_site(), panels)
    total = sum(route.to_entry_m for route in chosen.routes)
    for x in (0.3, 1.2, 1.8, 2.4, 3.5):
        for y in (0.75, 0.95, 1.1):
            other = cable_routes(_site(entry=RoofSpot(x_m=x, y_m=y)), panels)
            if other.entry_has_room:
                assert total <= sum(route.to_entry_m for route in other.routes) + 0.02


@pytest.mark.parametrize(
    ("x", "y", "free"),
    [
        (0.061, 1.0, True),
        (0.059, 1.0, False),
        (3.939, 1.0, True),
        (3.941, 1.0, False),
        (1.0, 0.061, True),
        (1.0, 0.059, False),
        (1.0, 1.939, True),
        (1.0, 1.941, False),
        (1.439, 1.0, True),  # before the hatch
        (1.441, 1.0, False),
        (2.841, 0.5, False),  # before the vent
        (2.839, 0.5, True),
        (1.761, 0.5, True),  # behind the panel, that ends at 1.7
        (1.759, 0.5, False),
        (2.439, 1.5, True),  # before the seam at 2.5
        (2.441, 1.5, False),
    ],
)
def test_a_gland_wants_six_centimetres_all_around(x: float, y: float, free: bool) -> None:
    seam = NoFootLine(name="s", feature="seam", points=[[2.5, 0.0], [2.5, 2.0]])
    entry = RoofSpot(x_m=x, y_m=y)
    found = cable_routes(_site(HATCH, VENT, lines=[seam], entry=entry), _panels((0.5, 0.3, False)))
    assert (found.entry, found.entry_chosen, found.entry_has_room) == ((x, y), False, free)
    (room,) = [c for c in check_routes(found) if c.code == "cable-entry-room"]
    assert room.verdict == ("pass" if free else "review")


@pytest.mark.parametrize(("x_m", "y_m"), [(0.05, 0.4), (0.1, 0.4), (0.2, 0.4), (0.4, 0.05)])
def test_a_cable_zone_is_kept_to_however_narrow(x_m: float, y_m: float) -> None:
    """Where a gland has no room, or a hatch fills the zone, the entry still lies in it."""
    zone = RoofStrip(name="cables", x_m=3.0, y_m=1.2, length_m=x_m, width_m=y_m)
    block = RectangularObstacle(name="block", x_m=2.9, y_m=1.1, length_m=0.6, width_m=0.6)
    for site in (_site(zone=zone), _site(block, zone=zone)):
        found = cable_routes(site, _panels((0.5, 0.1, False)))
        x, y = found.entry
        assert 3.0 - 1e-6 <= x <= 3.0 + x_m + 1e-6
        assert 1.2 - 1e-6 <= y <= 1.2 + y_m + 1e-6
        crossed = site.obstacles != ()
        assert found.routes[0].routing == ("across-obstacles" if crossed else "around")
        assert found.entry_has_room == (not crossed)


def test_cables_keep_two_centimetres_off_obstacles_and_leave_off_the_panel() -> None:
    """Round a block the run lies at 0.48 m; its first bend is half a gap behind the plugs."""
    block = RectangularObstacle(name="block", x_m=2.2, y_m=0.5, length_m=0.6, width_m=0.6)
    for gap, off in ((0.03, 0.015), (0.0, 0.004)):
        site = _site(block, entry=RoofSpot(x_m=3.5, y_m=0.75), gap_m=gap)
        points = (
            cable_routes(site, lay([_kind()], _placed((0.5, 0.5)), site.entry)).routes[0].points
        )
        assert points[0] == pytest.approx((1.7, 0.75))
        assert points[-1] == pytest.approx((3.5, 0.75))
        assert min(y for _, y in points) == pytest.approx(0.48)
        assert {round(x, 6) for x, _ in points} <= {1.7, round(1.7 + off, 6), 2.18, 2.82, 3.5}
    sideways = lay(
        [_kind()], [PlacedPanel(name="p", panel_type="sheet", x_m=1, y_m=0.5, rotated=True)]
    )
    (route,) = cable_routes(_site(entry=RoofSpot(x_m=3.5, y_m=1.8), gap_m=0.03), sideways).routes
    bends = route.points[1:-1]
    assert all(min(abs(x - 1.25), abs(y - 1.715), abs(y - 0.485)) < 1e-6 for x, y in bends[:1])


def test_a_straight_way_has_no_corners_and_a_bent_one_as_few_as_can_be() -> None:
    straight = _site(entry=RoofSpot(x_m=3.5, y_m=0.75))
    (route,) = cable_routes(straight, lay([_kind()], _placed((0.5, 0.5)), straight.entry)).routes
    assert route.points == ((1.7, 0.75), (3.5, 0.75))
    posts = [
        RectangularObstacle(name=f"o{k}", x_m=2.0 + 0.4 * k, y_m=1.0, length_m=0.1, width_m=0.1)
        for k in range(3)
    ]
    bent = _site(*posts, entry=RoofSpot(x_m=3.5, y_m=1.5))
    (route,) = cable_routes(bent, lay([_kind()], _placed((0.5, 0.5)), bent.entry)).routes
    assert len(route.points) == 3
    assert route.to_entry_m == pytest.approx(1.8 + 0.75)


@pytest.mark.parametrize("rotated", [False, True])
def test_a_cable_led_back_beneath_its_panel_begins_at_the_plugs(rotated: bool) -> None:
    """Plugs look away from the entry in line with them; places have more digits than cables."""
    place = PlacedPanel(
        name="p",
        panel_type="sheet",
        x_m=1.00000043,
        y_m=0.60000043,
        rotated=rotated,
        plugs_towards="right" if rotated else "rear",
    )
    (panel,) = lay([_kind()], [place])
    x, y = (round(value, 6) for value in panel.plug)
    entry = RoofSpot(x_m=x, y_m=0.2) if rotated else RoofSpot(x_m=0.2, y_m=y)
    (route,) = cable_routes(_site(entry=entry), [panel], beneath_panels=True).routes
    assert route.points == ((x, y), (entry.x_m, entry.y_m))
    assert route.to_entry_m == pytest.approx((y if rotated else x) - 0.2)


def test_a_cable_does_not_pass_its_first_bend_to_come_back_to_it() -> None:
    """Plugs at x = 1.7, the entry 20 mm behind them and aside, where panels lie 80 mm apart."""
    site = _site(entry=RoofSpot(x_m=1.72, y_m=0.2), gap_m=0.08)
    (route,) = cable_routes(site, lay([_kind()], _placed((0.5, 0.5))), True).routes
    assert route.points == ((1.7, 0.75), (1.72, 0.75), (1.72, 0.2))
    assert route.to_entry_m == pytest.approx(0.02 + 0.55)


def test_cables_run_together_where_that_is_as_short() -> None:
    """Plugs at y = 0.35 and 0.87 look rearwards, the entry lies at y = 1.5, x = 3.5."""
    site = _site(entry=RoofSpot(x_m=3.5, y_m=1.5))
    found = cable_routes(site, lay([_kind()], _placed((0.5, 0.1), (0.5, 0.62)), site.entry))
    assert [route.to_entry_m for route in found.routes] == pytest.approx([1.8 + 1.15, 1.8 + 0.63])
    assert found.trunk_m == pytest.approx(3.5 - 1.71 + 0.63)
    alone = cable_routes(site, lay([_kind()], _placed((0.5, 0.1)), site.entry))
    assert (alone.trunk_m, alone.branch) == (0.0, pytest.approx((3.5, 1.5)))
