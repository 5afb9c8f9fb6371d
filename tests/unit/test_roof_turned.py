"""Obstacles that do not stand along the roof's axes."""

import msgspec
import numpy as np
import pytest
import shapely

from sunhitch.types.roof import RectangularObstacle, RoofLayoutAnswer, RoofLayoutRequest
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.roof.geometry import (
    Rectangle,
    box_distance,
    turned_corners,
    turned_distance,
)
from sunhitch_service.engine.roof.layout import roof_layout
from sunhitch_service.engine.roof.site import obstacle_corners

SHEET = {
    "name": "sheet",
    "p_mp_w": 50,
    "body": {
        "length_m": 0.8,
        "width_m": 0.5,
        "thickness_m": 0.003,
        "mass_kg": 1.0,
        "construction": "flexible",
    },
}


def hatch(turned_deg: float, **more: object) -> dict[str, object]:
    place = {"x_m": 1.6, "y_m": 0.6, "length_m": 0.7, "width_m": 0.5, "clearance_m": 0.04}
    return {"kind": "rectangular", "name": "hatch", "turned_deg": turned_deg, **place, **more}


def laid(
    obstacle: dict[str, object], kind: dict[str, object] = SHEET, **roof: object
) -> RoofLayoutAnswer:
    given = {
        "roof": {
            "outline": {"kind": "rectangle", "length_m": 3.2, "width_m": 1.9},
            "obstacles": [obstacle],
            **roof,
        },
        "panel_types": [kind],
    }
    return roof_layout(msgspec.convert(given, RoofLayoutRequest))


def outline(obstacle: dict[str, object]) -> shapely.Polygon:
    return shapely.Polygon(obstacle_corners(msgspec.convert(obstacle, RectangularObstacle)))


@pytest.mark.parametrize("seed", range(5))
def test_distances_are_those_of_polygons(seed: int) -> None:
    random = np.random.default_rng(seed)
    corners = turned_corners(Rectangle(1.0, 1.0, 1.7, 1.4), float(random.uniform(-90, 90)))
    low = random.uniform(0.0, 2.0, (200, 2))
    boxes = np.concatenate([low, low + random.uniform(0.05, 1.0, (200, 2))], axis=1)
    found = turned_distance(boxes, corners)
    polygon = shapely.Polygon(corners)
    theirs = np.array([polygon.distance(shapely.box(*box)) for box in boxes])
    assert np.maximum(found, 0.0) == pytest.approx(theirs, abs=1e-9)
    overlaps = np.array([polygon.intersection(shapely.box(*box)).area > 0.0 for box in boxes])
    assert ((found < 0.0) == overlaps).all()


def test_a_rectangle_that_is_not_turned_overlaps_as_deep_as_by_the_other_way() -> None:
    box = Rectangle(1.0, 1.0, 1.7, 1.4)
    boxes = np.array([[1.2, 0.5, 1.3, 1.1], [1.6, 1.2, 2.0, 2.0]])
    assert turned_distance(boxes, turned_corners(box, 0.0)) == pytest.approx(
        box_distance(boxes, box)
    )


@pytest.mark.parametrize("turned_deg", [90.0, -90.0])
def test_a_quarter_turn_is_the_other_rectangle(turned_deg: float) -> None:
    upright = {"x_m": 1.7, "y_m": 0.5, "length_m": 0.5, "width_m": 0.7}
    turned, other = laid(hatch(turned_deg)), laid(hatch(0.0, **upright))
    assert turned.plan.proof.power_w == other.plan.proof.power_w
    assert turned.plan.proof.proven
    assert other.plan.proof.proven


@pytest.mark.parametrize("turned_deg", [-63.0, -20.0, 7.0, 45.0])
def test_no_panel_comes_near_a_turned_hatch(turned_deg: float) -> None:
    answer = laid(hatch(turned_deg))
    around = outline(hatch(turned_deg))
    assert answer.plan.panels
    for panel in answer.plan.panels:
        x, y = panel.x_m, panel.y_m
        own = shapely.box(x, y, x + panel.size_x_m, y + panel.size_y_m)
        assert around.distance(own) >= 0.04 - 1e-6
    assert answer.plan.proof.power_w <= answer.plan.proof.power_at_most_w
    (feature,) = [one for one in answer.plan.features if one.name == "hatch"]
    assert shapely.Polygon(feature.points).equals_exact(around, 1e-9)


def test_the_bound_of_a_turned_hatch_is_not_below_what_fits_around_a_smaller_one() -> None:
    """A hatch that lies within the turned one leaves at least as much room."""
    turned = laid(hatch(30.0))
    within = {"x_m": 1.8, "y_m": 0.75, "length_m": 0.3, "width_m": 0.2}
    assert turned.plan.proof.power_w <= laid(hatch(0.0, **within)).plan.proof.power_at_most_w


@pytest.mark.parametrize("wanted", [None, 2])
def test_a_bar_turned_across_the_roof_leaves_room_ahead_and_behind(wanted: int | None) -> None:
    """Turned by 90° about its middle at x = 1.0 m it takes 0.3 m of 2.0 × 0.52 m."""
    bar = hatch(90.0, x_m=0.0, y_m=0.11, length_m=2.0, width_m=0.3, clearance_m=0.0)
    roof = {
        "outline": {"kind": "rectangle", "length_m": 2.0, "width_m": 0.52},
        "margins": {"front_m": 0.0, "rear_m": 0.0, "side_m": 0.0},
    }
    kind = SHEET | {"body": SHEET["body"] | {"length_m": 0.8, "width_m": 0.5}}
    plan = laid(bar, kind | {"panels_wanted": wanted}, **roof).plan
    assert len(plan.panels) == 2
    assert plan.proof.proven
    assert plan.free_area_m2 == pytest.approx(1.7 * 0.52)


@pytest.mark.parametrize("turned_deg", [-63.0, 7.0, 45.0])
def test_free_roof_is_what_a_turned_hatch_and_its_clearance_leave(turned_deg: float) -> None:
    """0.7 × 0.5 m, 0.04 m beside each side, and a quarter of a disc at each corner."""
    plan = laid(hatch(turned_deg)).plan
    around = 0.7 * 0.5 + 2 * 0.04 * (0.7 + 0.5) + np.pi * 0.04**2
    assert plan.free_area_m2 == pytest.approx(3.05 * 1.8 - around, abs=1e-4)


def test_an_entry_beside_a_turned_hatch_is_no_contradiction() -> None:
    """The corner that a turn by 45° leaves free may hold the entry; its middle may not."""
    beside = {"x_m": 1.62, "y_m": 0.62}
    assert laid(hatch(45.0), cable_entry=beside).plan.panels
    with pytest.raises(ContradictionError, match="hatch"):
        laid(hatch(45.0), cable_entry={"x_m": 1.95, "y_m": 0.85})
