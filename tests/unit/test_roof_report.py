"""The plan tells places, distances, cables and sums as a tape measure and scales would."""

import math
from dataclasses import replace
from typing import Any

import msgspec
import numpy as np
import pytest

from sunhitch.types.roof import (
    LaidPanel,
    Roof,
    RoofLayoutAnswer,
    RoofLayoutRequest,
    RoofPanelType,
    RoundObstacle,
)
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.roof.causes import unavoidable_lines
from sunhitch_service.engine.roof.layout import roof_layout
from sunhitch_service.engine.roof.panels import Laid
from sunhitch_service.engine.roof.site import RoofSite, obstacle_corners, resolve_site
from sunhitch_service.engine.roof.surroundings import check_crown, check_shadows

BODY = {"length_m": 1.2, "width_m": 0.5, "thickness_m": 0.003, "mass_kg": 2.5}
FEET = {"plate_length_m": 0.1, "plate_width_m": 0.06, "edge_inset_m": 0.1}
SHEET = {"name": "sheet", "body": BODY | {"construction": "flexible"}, "p_mp_w": 115.0}
ROOF: dict[str, Any] = {
    "outline": {"kind": "rectangle", "length_m": 4.0, "width_m": 2.0},
    "margins": {"front_m": 0.1, "rear_m": 0.05, "side_m": 0.05},
    "obstacles": [
        {"kind": "rectangular", "name": "hatch", "x_m": 2.5, "y_m": 0.6, "length_m": 0.4}
        | {"width_m": 0.4, "height_m": 0.3, "clearance_m": 0.03},
        {"kind": "round", "name": "vent", "x_m": 0.5, "y_m": 1.7, "diameter_m": 0.2}
        | {"height_m": 0.1},
    ],
    "walking_strips": [{"name": "walk", "x_m": 0.0, "y_m": 1.3, "length_m": 4.0, "width_m": 0.2}],
    "no_foot_lines": [
        {"name": "seam", "feature": "seam", "points": [[1.6, 0.0], [1.6, 2.0]], "keep_off_m": 0.04}
    ],
    "cable_entry": {"x_m": 3.5, "y_m": 0.75},
}
VENT = RoundObstacle(name="vent", x_m=0.5, y_m=1.7, diameter_m=0.2)
PLACES = [("a", 1.0, 0.5), ("b", 1.0, 1.02)]


def site_of(roof: dict[str, Any], notes: Assumptions | None = None) -> RoofSite:
    return resolve_site(msgspec.convert(roof, Roof), None, notes or Assumptions())


SITE = site_of(ROOF)


def answered(
    roof: dict[str, Any], places: list[tuple[str, float, float]], **kind: Any
) -> RoofLayoutAnswer:
    request = {
        "roof": roof,
        "panel_types": [SHEET | {"feet": FEET} | kind],
        "placements": [
            {"name": n, "panel_type": "sheet", "x_m": x, "y_m": y} for n, x, y in places
        ],
        "min_gap_m": 0.02,
    }
    return roof_layout(msgspec.convert(request, RoofLayoutRequest))


@pytest.fixture
def answer() -> RoofLayoutAnswer:
    return answered(ROOF, PLACES)


def first(answer: RoofLayoutAnswer) -> LaidPanel:
    return answer.plan.panels[0]


def test_a_panel_tells_what_is_nearest_of_every_kind(answer: RoofLayoutAnswer) -> None:
    """Panel a: x 1.0 to 2.2, y 0.5 to 1.0; its rear plates end at x = 2.15, the front ones 1.15."""
    told = {near.thing: (near.name, near.distance_m) for near in first(answer).nearest}
    assert told == {
        "roof-edge": ("left", pytest.approx(0.5)),
        "obstacle": ("hatch", pytest.approx(0.3)),
        "strip": ("walk", pytest.approx(0.3)),
        "panel": ("b", pytest.approx(0.02)),
        "no-foot-line": ("seam", pytest.approx(0.45)),
    }


def test_feet_lie_where_the_pattern_says(answer: RoofLayoutAnswer) -> None:
    """Two rows and columns 0.1 m from the edges, plates of 0.1 × 0.06 m."""
    feet = {(f.x_m, f.y_m, f.size_x_m, f.size_y_m) for f in first(answer).feet}
    assert feet == {(x, y, 0.1, 0.06) for x in (1.1, 2.1) for y in (0.6, 0.9)}


def test_sums_of_a_plan_are_of_its_panels(answer: RoofLayoutAnswer) -> None:
    plan = answer.plan
    assert plan.total_mass_kg == pytest.approx(5.0)
    assert (plan.mass_centre.x_m, plan.mass_centre.y_m) == pytest.approx((1.6, 1.01))
    assert (plan.roof_area_m2, plan.panel_area_m2) == pytest.approx((8.0, 1.2))
    assert plan.area_use_fraction == pytest.approx(0.15)
    # 3.85 × 1.9 m, less strip, hatch with 0.03 m, vent with 0.05 m and the entry's 0.06 m.
    strip, hatch = 3.85 * 0.2, 0.46 * 0.46
    discs = math.pi * (0.15**2 + 0.06**2)
    assert plan.free_area_m2 == pytest.approx(3.85 * 1.9 - strip - hatch - discs, abs=1e-3)
    assert plan.outline == [[0.0, 0.0], [0.0, 2.0], [4.0, 2.0], [4.0, 0.0]]


def test_features_tell_what_is_kept_free(answer: RoofLayoutAnswer) -> None:
    told = {f.name: f for f in answer.plan.features}
    assert {f.name: f.kind for f in answer.plan.features} == {
        "hatch": "obstacle",
        "vent": "obstacle",
        "walk": "walking-strip",
        "cable entry": "cable-entry",
        "seam": "no-foot-line",
    }
    assert told["hatch"].points == [[2.5, 0.6], [2.5, 1.0], [2.9, 1.0], [2.9, 0.6]]
    assert (told["hatch"].clearance_m, told["hatch"].height_m) == (0.03, 0.3)
    assert (told["vent"].points, told["vent"].radius_m) == ([[0.5, 1.7]], 0.1)
    assert (told["vent"].clearance_m, told["walk"].clearance_m) == (0.05, 0.0)
    assert (told["cable entry"].radius_m, told["cable entry"].clearance_m) == (0.06, 0.0)
    assert (told["seam"].clearance_m, told["seam"].height_m) == (0.04, 0.0)
    assert (told["walk"].height_m, told["cable entry"].height_m) == (0.0, 0.0)


def test_a_disc_lies_in_the_square_of_its_diameter() -> None:
    """0.2 m about (0.5, 1.7), along the axes of the roof."""
    vent = next(one for one in SITE.obstacles if one.name == "vent")
    square = [(0.4, 1.6), (0.4, 1.8), (0.6, 1.8), (0.6, 1.6)]
    assert np.array(vent.corners) == pytest.approx(np.array(square))
    assert vent.bounds == pytest.approx((0.4, 1.6, 0.6, 1.8))
    assert np.array(obstacle_corners(VENT)) == pytest.approx(np.array(square))


def test_no_length_is_minus_nothing() -> None:
    outline = {"kind": "polygon", "points": [[-0.0, -0.0], [4.0, -0.0], [4.0, 2.0], [-1e-9, 2.0]]}
    told = answered(ROOF | {"outline": outline}, PLACES).plan.outline
    assert {math.copysign(1.0, value) for point in told for value in point} == {1.0}


def test_cables_that_meet_just_before_the_entry_meet_at_a_branch() -> None:
    """Plugs at (2.2, 0.75) and (2.2, 1.27), the entry behind and 0.05 m aside of both."""
    entry = {"x_m": 2.25, "y_m": 0.7}
    plan = answered(ROOF | {"obstacles": [], "cable_entry": entry}, PLACES).plan
    assert plan.trunk_m == pytest.approx(0.05)
    assert plan.branch_point is not None
    assert (plan.branch_point.x_m, plan.branch_point.y_m) == pytest.approx((2.25, 0.75))


def test_cables_meet_and_run_on_together(answer: RoofLayoutAnswer) -> None:
    """Plugs at (2.2, 0.75) and (2.2, 1.27), entry at (3.5, 0.75); past the hatch at 0.58."""
    plan = answer.plan
    assert (plan.cable_entry.x_m, plan.cable_entry.y_m) == (3.5, 0.75)
    one, other = (panel.cable for panel in plan.panels)
    assert one.to_entry_m == pytest.approx(1.3 + 2 * 0.17, abs=1e-3)
    assert other.to_entry_m == pytest.approx(1.3 + 0.52, abs=1e-3)
    for cable in (one, other):
        assert cable.to_entry_m == pytest.approx(cable.to_branch_m + plan.trunk_m)
        assert cable.extension_m == pytest.approx(max(0.0, cable.to_branch_m - 0.9))


@pytest.mark.parametrize(("lead_m", "more_m"), [(None, 0.4), (0.0, 1.3), (0.5, 0.8), (1.4, 0.0)])
def test_a_cable_is_longer_than_its_lead_by_an_extension(
    lead_m: float | None, more_m: float
) -> None:
    """One panel 1.3 m before the entry; usual leads are 0.9 m."""
    bare = ROOF | {"obstacles": [], "walking_strips": [], "no_foot_lines": []}
    found = answered(bare, PLACES[:1], lead_length_m=lead_m)
    assert found.plan.panels[0].cable.extension_m == pytest.approx(more_m)
    assert (found.plan.trunk_m, found.plan.branch_point) == (0.0, None)
    told = {a.field: a.value for a in found.assumptions}
    assert told.get("/panel_types/0/lead_length_m") == (0.9 if lead_m is None else None)


def test_a_roof_that_says_nothing_takes_what_is_usual() -> None:
    """0.10 m in front against the wind, 0.05 m elsewhere, 0.02 m off lines and between panels."""
    bare = {
        "outline": ROOF["outline"],
        "obstacles": [{"kind": "round", "name": "vent", "x_m": 1, "y_m": 1, "diameter_m": 0.2}],
        "no_foot_lines": [{"name": "s", "feature": "seam", "points": [[1.6, 0.0], [1.6, 2.0]]}],
    }
    notes = Assumptions()
    site = site_of(bare, notes)
    margins = {side: length.metres for side, length in site.margins.items()}
    assert margins == {"front": 0.10, "rear": 0.05, "left": 0.05, "right": 0.05}
    assert (site.obstacles[0].clearance.metres, site.lines[0].keep_off.metres) == (0.05, 0.02)
    assert site.gap.metres == 0.02
    assert site.entry is None
    assert {a.field: a.value for a in notes.listed()} == {
        "/roof/margins/front_m": 0.10,
        "/roof/margins/rear_m": 0.05,
        "/roof/margins/side_m": 0.05,
        "/roof/obstacles/0/clearance_m": 0.05,
        "/roof/no_foot_lines/0/keep_off_m": 0.02,
        "/min_gap_m": 0.02,
    }


def panel_at(x_m: float, y_m: float, quarter_turns: int = 0, **kind: Any) -> Laid:
    own = msgspec.convert(SHEET | kind, RoofPanelType)
    return Laid("p", own, x_m, y_m, quarter_turns)


@pytest.mark.parametrize(
    ("x_m", "y_m", "apart_m"),
    [
        (1.0, 0.5, 0.3),  # behind the panel
        (3.1, 0.5, 0.2),  # before it
        (2.4, 0.0, 0.1),  # to its right
        (2.4, 1.2, 0.2),  # to its left
        (1.0, 1.4, 0.5),  # past a corner: 0.3 m and 0.4 m
        (2.0, 0.5, 0.0),  # beneath it
    ],
)
def test_a_hatch_shades_by_its_height_over_the_straight_way(
    x_m: float, y_m: float, apart_m: float
) -> None:
    """0.3 m high, x 2.5 to 2.9 m, y 0.6 to 1.0 m; the vent shades less."""
    (check,) = check_shadows(SITE, [panel_at(x_m, y_m)])
    assert check.demand == pytest.approx(math.degrees(math.atan2(0.3, apart_m)))
    assert "hatch" in check.note
    assert check.verdict == ("review" if check.demand > 30.0 else "pass")


@pytest.mark.parametrize(("y_m", "apart_m"), [(0.9, 0.2), (1.1, 0.0)])
def test_a_vent_shades_from_its_rim(y_m: float, apart_m: float) -> None:
    """A disc of 0.1 m about (0.5, 1.7), 0.1 m high, alone."""
    alone = replace(SITE, keep_outs=tuple(k for k in SITE.keep_outs if k.name == "vent"))
    (check,) = check_shadows(alone, [panel_at(0.2, y_m)])
    assert check.demand == pytest.approx(math.degrees(math.atan2(0.1, apart_m)))


def test_what_is_flat_shades_nothing() -> None:
    flat = tuple(replace(k, height_m=0.0) for k in SITE.keep_outs)
    assert check_shadows(replace(SITE, keep_outs=flat), [panel_at(1.0, 0.5)]) == []
    strips = replace(SITE, keep_outs=SITE.strips)
    assert check_shadows(strips, [panel_at(1.0, 0.5)]) == []


FRAMED = {"body": BODY | {"construction": "framed"}}


@pytest.mark.parametrize(
    ("quarter_turns", "across_m", "crown_m"), [(0, 0.5, 0.06), (1, 1.2, 0.06), (1, 1.2, 0.01)]
)
def test_a_frame_across_a_crown_rocks_by_the_rise_under_it(
    quarter_turns: int, across_m: float, crown_m: float
) -> None:
    """A circle through both sides and the middle of a roof of 2 m; 5 mm are let pass."""
    framed = panel_at(0.5, 0.5, quarter_turns, **FRAMED)
    (check,) = check_crown(SITE, crown_m, [framed, panel_at(2.0, 0.5)])
    radius = (1.0 + crown_m**2) / (2 * crown_m)
    rise = radius - math.sqrt(radius**2 - (across_m / 2) ** 2)
    assert check.demand == pytest.approx(rise)
    assert check.verdict == ("review" if rise > 0.005 else "pass")
    assert check_crown(SITE, 0.0, [framed]) == []


def test_a_crown_rises_across_the_width_of_a_roof_wherever_it_lies() -> None:
    """2 m from y = 3 m on: a frame as wide as the roof rocks by the whole crown."""
    corners = [[1.0, 3.0], [1.0, 5.0], [4.0, 5.0], [4.0, 3.0]]
    site = site_of({"outline": {"kind": "polygon", "points": corners}})
    wide = panel_at(1.0, 3.0, 1, body=BODY | {"construction": "framed", "length_m": 2.0})
    (check,) = check_crown(site, 0.06, [wide])
    assert check.demand == pytest.approx(0.06)


@pytest.mark.parametrize("number", [1, 6, 7, 9])
def test_at_most_six_lines_are_named(number: int) -> None:
    """All lines run beneath the plates of the only place; the panel is as large as the roof."""
    lines = [
        {"name": f"s{k}", "feature": "seam", "points": [[0.0, y], [1.2, y]]}
        for k, y in enumerate([0.15] if number == 1 else [0.02 * i + 0.1 for i in range(number)])
    ]
    roof = {
        "outline": {"kind": "rectangle", "length_m": 1.2, "width_m": 0.5},
        "margins": {"front_m": 0.0, "rear_m": 0.0, "side_m": 0.0},
        "no_foot_lines": lines,
    }
    feet = FEET | {"plate_width_m": 0.3, "columns_along_width": 1, "edge_inset_m": 0.1}
    site = site_of(roof)
    kind = panel_at(0.0, 0.0, feet=feet, orientation="along").kind
    found = unavoidable_lines(site, [kind], [])
    assert found is not None
    assert (found.x_m, found.y_m) == (0.0, 0.0)
    told = [f"s{k}" in found.lines for k in range(number)]
    assert told == [k < 6 for k in range(number)]
    assert (f"{number - 6} more" in found.lines) == (number > 6)


def test_the_place_with_the_fewest_lines_is_told() -> None:
    """In front every place has several ribs beneath its plate, at the rear one seam alone."""
    ribs = [
        {"name": f"rib {k}", "feature": "rib", "points": [[0.1 * k, 0.0], [0.1 * k, 0.5]]}
        for k in range(20)
    ]
    seam = {"name": "long seam", "feature": "seam", "points": [[1.5, 0.25], [3.0, 0.25]]}
    roof = {
        "outline": {"kind": "rectangle", "length_m": 3.0, "width_m": 0.5},
        "margins": {"front_m": 0.0, "rear_m": 0.0, "side_m": 0.0},
        "no_foot_lines": [*ribs, seam],
    }
    plate = {"plate_length_m": 0.3, "plate_width_m": 0.3}
    feet = plate | {"rows_along_length": 1, "columns_along_width": 1}
    kind = panel_at(0.0, 0.0, feet=feet, orientation="along").kind
    found = unavoidable_lines(site_of(roof), [kind], [])
    assert found is not None
    assert found.lines == "long seam"
    assert 1.9 + 0.02 + 0.15 - 0.6 <= found.x_m <= 1.8


def test_lines_are_to_blame_only_where_nothing_else_is_in_the_way() -> None:
    kind = panel_at(0.0, 0.0, feet=FEET).kind
    assert unavoidable_lines(SITE, [panel_at(0.0, 0.0).kind], []) is None
    assert unavoidable_lines(replace(SITE, lines=()), [kind], []) is None
    small = site_of({"outline": ROOF["outline"] | {"length_m": 0.6, "width_m": 0.6}})
    assert unavoidable_lines(replace(small, lines=SITE.lines), [kind], []) is None
