"""Shadows by plane geometry, and visible sky by closed formulas."""

import math
from typing import Any

import msgspec
import numpy as np
import pytest
import shapely
from harvest_builders import beam_all_day, heading, placed, study

from outside_figures import Outside
from sunhitch.types.harvest import Awning, Box, HarvestRequest, HourlyWeather, TreeCrown, Wall
from sunhitch.types.panel import PanelBody
from sunhitch.types.shade import PanelPosition, ShadeShape
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.harvest import light as light_module
from sunhitch_service.engine.harvest.light import stance_light
from sunhitch_service.engine.harvest.setup import modules, settle, variants
from sunhitch_service.engine.shadow.casting import cast
from sunhitch_service.engine.shadow.light import shape_shares
from sunhitch_service.engine.shadow.objects import prism, solids, turned
from sunhitch_service.engine.shadow.outlines import Outlines
from sunhitch_service.engine.shadow.overlap import cell_areas
from sunhitch_service.engine.shadow.planes import Plane, Stance, directions, roof_frame

LEVEL = Plane((0.0, 0.0, 0.0), 0.0, 0.0)
EVERYWHERE = (-1e4, -1e4, 1e4, 1e4)
EYE_M = 0.01
"""Side of a small panel that stands for a point."""


def towards(elevation_deg: float, from_front_deg: float) -> np.ndarray:
    zenith = np.radians([90.0 - elevation_deg])
    return directions(zenith, np.radians([from_front_deg]))


@pytest.mark.parametrize("elevation", [10.0, 30.0, 45.0, 70.0])
@pytest.mark.parametrize("from_front", [0.0, 90.0, 200.0])
def test_the_length_of_a_shadow(elevation: float, from_front: float, outside: Outside) -> None:
    """Away from the sun; x points rearwards, y to the right."""
    height = 3.0
    post = prism([(0.0, 0.0), (1e-3, 0.0), (1e-3, 1e-3), (0.0, 1e-3)], 0.0, height)
    shadow = cast(post, LEVEL, towards(elevation, from_front), EVERYWHERE)
    tip = max(next(iter(shadow.outlines)), key=lambda corner: math.hypot(*corner))
    length = height / math.tan(math.radians(elevation))
    angle = math.radians(from_front)
    outside(
        tip,
        [length * math.cos(angle), -length * math.sin(angle)],
        abs=3e-3,
        of=f"tip of a shadow, sun at {elevation:g}°, {from_front:g}° from the front",
        source="height ÷ tan(elevation)",
        unit="m",
        kind="hand-worked",
    )


def test_only_what_is_above_the_plane_casts_a_shadow() -> None:
    """A block of 5 m beside a plane at 2 m shades it as one of 3 m that stands on it."""
    outline = [(0.0, 0.0), (2.0, 0.0), (2.0, 1.0), (0.0, 1.0)]
    high = Plane((0.0, 0.0, 2.0), 0.0, 0.0)
    whole = cast(prism(outline, 0.0, 5.0), high, towards(35.0, 70.0), EVERYWHERE)
    part = cast(prism(outline, 0.0, 3.0), LEVEL, towards(35.0, 70.0), EVERYWHERE)
    ours, theirs = (s.outlines.shapes()[0] for s in (whole, part))
    assert ours.symmetric_difference(theirs).area == pytest.approx(0.0, abs=1e-9)
    below = cast(prism(outline, 0.0, 1.9), high, towards(35.0, 70.0), EVERYWHERE)
    assert len(below.state) == 0


@pytest.mark.parametrize("elevation", [20.0, 50.0, 89.9])
def test_the_shadow_of_a_ball_is_an_ellipse(elevation: float, outside: Outside) -> None:
    """Semi-axes r and r ÷ sin(elevation)."""
    ball = ball_at(0.0, 0.0, 5.0, 1.5)
    shadow = cast(ball, LEVEL, towards(elevation, 0.0), EVERYWHERE).outlines.shapes()[0]
    sine = math.sin(math.radians(elevation))
    outside(
        shadow.area,
        math.pi * 1.5**2 / sine,
        rel=1e-9,
        of=f"shadow of a ball, sun at {elevation:g}°",
        source="ellipse of semi-axes r and r ÷ sin(elevation)",
        unit="m²",
        kind="hand-worked",
    )
    assert shadow.centroid.x == pytest.approx(5.0 / math.tan(math.radians(elevation)), abs=1e-9)


def test_half_a_ball_on_the_plane_casts_half_a_ball_s_shadow(outside: Outside) -> None:
    """Sun at 90°: the cap's outline is the equator; low sun: half ellipse and half circle."""
    ball = ball_at(0.0, 0.0, 0.0, 2.0)
    upright = cast(ball, LEVEL, towards(89.999, 0.0), EVERYWHERE)
    more: dict[str, Any] = {
        "source": "half a circle, and half an ellipse of r ÷ sin(elevation)",
        "kind": "hand-worked",
        "unit": "m²",
        "rel": 0.01,
    }
    above = upright.outlines.shapes()[0].area
    outside(above, math.pi * 4.0, of="shadow of half a ball, sun above", **more)
    low = cast(ball, LEVEL, towards(30.0, 0.0), EVERYWHERE)
    half_each = 0.5 * math.pi * 4.0 + 0.5 * math.pi * 4.0 / math.sin(math.radians(30.0))
    area = low.outlines.shapes()[0].area
    outside(area, half_each, of="shadow of half a ball, sun at 30°", **more)


def ball_at(x: float, y: float, z: float, radius: float):
    """A ball, as the trees are made of; an opaque one."""
    tree = TreeCrown(
        name="ball",
        x_m=x,
        y_m=y,
        crown_diameter_m=2 * radius,
        crown_base_height_m=10.0,
        crown_top_height_m=10.0 + 2 * radius,
        evergreen=True,
        transmittance_in_leaf_fraction=0.0,
    )
    request = study(shade=[tree])
    (solid,) = solids(request, roof_frame(request.roof, 2.5), Assumptions())
    corners = solid.corners.copy()
    corners[0, 2] = z
    return type(solid)(solid.name, corners, solid.edges, solid.radii, solid.passes, solid.moves)


def eye(*shade: object) -> HarvestRequest:
    """A tiny panel at (2, 1), 2.53 m high, on the way of the light."""
    given = study(shade=list(shade))
    body = PanelBody(
        length_m=0.06,
        width_m=0.06,
        thickness_m=0.003,
        mass_kg=0.1,
        construction="flexible",
        cell_edge_margin_m=0.0,
    )
    kind = given.panel_types[0]
    small = msgspec.structs.replace(kind, panel=msgspec.structs.replace(kind.panel, body=body))
    arrays = [
        msgspec.structs.replace(
            given.arrays[0], wiring=type(given.arrays[0].wiring)(strings=[["p0"]])
        )
    ]
    return msgspec.structs.replace(
        given, panel_types=[small], placements=placed((1.97, 0.97)), arrays=arrays
    )


def visible_sky(*shade: object) -> float:
    given = settle(eye(*shade))
    variant = variants(given.request)[0]
    stance = Stance(0.0, 0.0, 0.0)
    found = stance_light(given.site, given.weather.lit(), stance, modules(given, variant))
    return float(found.sky[0, 0])


def long_wall(name: str, distance: float, angle_deg: float) -> Wall:
    """Very long, at the left for a negative distance, its top seen under an angle."""
    top = 2.53 + abs(distance) * math.tan(math.radians(angle_deg))
    y = 1.0 + distance
    return Wall(name=name, from_x_m=-198.0, from_y_m=y, to_x_m=200.0, to_y_m=y, top_height_m=top)


@pytest.mark.parametrize("angle", [15.0, 30.0, 45.0, 60.0])
def test_the_sky_beside_a_long_wall(angle: float, outside: Outside) -> None:
    expected = 0.5 * (1.0 + math.cos(math.radians(angle)))
    outside(
        visible_sky(long_wall("w", 1.5, angle)),
        expected,
        abs=0.012,
        of=f"sky beside an endless wall, top at {angle:g}°",
        source="view factor (1 + cos α) ÷ 2",
        kind="hand-worked",
    )


@pytest.mark.parametrize(("left", "right"), [(30.0, 30.0), (60.0, 20.0)])
def test_the_sky_between_two_walls(left: float, right: float, outside: Outside) -> None:
    """As in a street or under an open tent."""
    cosines = math.cos(math.radians(left)) + math.cos(math.radians(right))
    found = visible_sky(long_wall("l", -1.5, left), long_wall("r", 1.5, right))
    outside(
        found,
        0.5 * cosines,
        abs=0.015,
        of=f"sky between endless walls, tops at {left:g}° and {right:g}°",
        source="view factor (cos α + cos β) ÷ 2",
        kind="hand-worked",
    )


def test_every_cell_sees_its_own_share_of_the_sky() -> None:
    """Under an overcast sky, cells beside an endless wall: (1 + cos α) ÷ 2, α from each cell."""
    wall = Wall(
        name="box", from_x_m=-198.0, from_y_m=0.1, to_x_m=200.0, to_y_m=0.1, top_height_m=2.83
    )
    overcast = HourlyWeather(
        start="2027-06-21T11:00:00+01:00",
        ghi_w_m2=[150.0],
        dni_w_m2=[0.0],
        dhi_w_m2=[150.0],
        air_c=[15.0],
    )
    given = settle(study(shade=[wall], weather=overcast))
    panels = modules(given, variants(given.request)[0])
    found = stance_light(given.site, given.weather.lit(), Stance(0.0, 0.0, 0.0), panels)
    near = panels[0]
    raster = near.raster
    rows, columns = len(raster.x_lines) - 1, len(raster.y_lines) - 1
    light = np.empty(rows * columns)
    light[raster.order.ravel()] = found.cells[0][0].ravel()
    away = 0.2 - 0.1 + 0.5 * (raster.y_lines[:-1] + raster.y_lines[1:])
    expected = 0.5 * (1.0 + np.cos(np.arctan2(2.83 - 2.53, away)))
    lit = light.reshape(rows, columns) / light.max()
    assert expected.min() < 0.8
    assert expected.max() > 0.95
    assert lit == pytest.approx(np.tile(expected / expected.max(), (rows, 1)), abs=0.015)


@pytest.mark.parametrize("ridge", [0.6, 1.5])
def test_the_sky_in_an_open_tent(ridge: float, outside: Outside) -> None:
    """Two sloping sheets with an open ridge: they hide all below their upper edges."""
    steep = math.degrees(math.atan(ridge / 1.0))
    sheets = [
        Awning(
            name=side,
            side=side,
            from_x_m=-198.0,
            to_x_m=200.0,
            depth_m=3.0,
            inner_height_m=2.53 + ridge,
            outer_height_m=2.53,
        )
        for side in ("left", "right")
    ]
    expected = math.cos(math.radians(steep))
    outside(
        visible_sky(*sheets),
        expected,
        abs=0.015,
        of=f"sky in an open tent, edges at {steep:.0f}°",
        source="view factor cos α between two endless sheets",
        kind="hand-worked",
    )


@pytest.mark.parametrize(("radius", "distance", "zenith"), [(2.0, 4.0, 0.0), (1.5, 5.0, 50.0)])
def test_the_sky_behind_a_ball(
    radius: float, distance: float, zenith: float, outside: Outside
) -> None:
    angle = math.radians(zenith)
    middle = 2.53 + distance * math.cos(angle)
    ball = TreeCrown(
        name="ball",
        x_m=2.0,
        y_m=1.0 + distance * math.sin(angle),
        crown_diameter_m=2 * radius,
        crown_base_height_m=middle - radius,
        crown_top_height_m=middle + radius,
        evergreen=True,
        transmittance_in_leaf_fraction=0.0,
    )
    hidden = (radius / distance) ** 2 * math.cos(angle)
    outside(
        1.0 - visible_sky(ball),
        hidden,
        abs=0.012,
        of=f"sky hidden by a ball of {radius:g} m, {distance:g} m away, at {zenith:g}°",
        source="Howell's catalogue of view factors: (r ÷ d)² · cos θ",
        seen="recalled",
    )


def test_cells_agree_with_shadows_given_as_shapes() -> None:
    """The same block: projected here by hand, given to the shading of `shaded-iv` as outlines."""
    tall = Box(
        name="tall",
        x_m=2.6,
        y_m=0.3,
        length_m=0.5,
        width_m=0.7,
        base_height_m=2.53,
        top_height_m=3.1,
        turns_with_vehicle=True,
    )
    veil = Box(
        name="veil",
        x_m=0.4,
        y_m=1.1,
        length_m=0.6,
        width_m=0.3,
        base_height_m=2.53,
        top_height_m=3.4,
        transmittance_fraction=0.4,
        turns_with_vehicle=True,
    )
    given = settle(study(shade=[tall, veil], parking=heading(130.0), weather=beam_all_day()))
    variant = variants(given.request)[0]
    panels = modules(given, variant)
    towards_light = light_module.towards_sun(given.weather.sun, 130.0)
    lit = given.weather.lit()
    ours = stance_light(given.site, lit, Stance(130.0, 0.0, 0.0), panels)
    compared = 0
    for state, step in enumerate(lit.steps):
        s = towards_light[step]
        shapes = [_by_hand(box, s) for box in (tall, veil)]
        for number, panel in enumerate(panels):
            position = PanelPosition(x_m=panel.laid.box.x1, y_m=panel.laid.box.y1)
            theirs = shape_shares(shapes, panel.raster, position)
            scale = ours.cells[number][state]
            lit = theirs[panel.raster.order]
            if 0.05 < lit.mean() < 0.95:
                slope = np.polyfit(lit.ravel(), scale.ravel(), 1)
                assert np.polyval(slope, lit) == pytest.approx(scale, abs=1e-6 * scale.max())
                compared += 1
    assert compared > 5


def _by_hand(box: Box, s: np.ndarray) -> ShadeShape:
    """Outline of a block's shadow on the level at its foot."""
    rise = box.top_height_m - box.base_height_m
    shift = -rise * s[:2] / s[2]
    foot = [
        (box.x_m, box.y_m),
        (box.x_m + box.length_m, box.y_m),
        (box.x_m + box.length_m, box.y_m + box.width_m),
        (box.x_m, box.y_m + box.width_m),
    ]
    points = [*foot, *((x + shift[0], y + shift[1]) for x, y in foot)]
    hull = shapely.convex_hull(shapely.MultiPoint(np.clip(points, -49.0, 49.0)))
    ring = [list(map(float, corner)) for corner in hull.exterior.coords[:-1]]
    return ShadeShape(polygon=ring, transmittance_fraction=box.transmittance_fraction)


def test_things_on_the_ground_stay_when_the_vehicle_turns() -> None:
    """What is 3 m to the right of a north-bound van is straight ahead of an east-bound one."""
    wall = Box(name="b", x_m=2.5, y_m=4.0, length_m=0.1, width_m=0.1, top_height_m=5.0)
    request = study(shade=[wall])
    frame = roof_frame(request.roof, 2.5)
    (solid,) = solids(request, frame, Assumptions())
    east = turned(solid, frame, 90.0)
    offset = east.corners[0, :2] - (frame.centre_x, frame.centre_y)
    assert offset == pytest.approx([-3.0, 0.0], abs=0.11)


def test_areas_in_cells_are_shapelys() -> None:
    """Intersections of random convex outlines with every cell, by shapely one at a time."""
    draw = np.random.default_rng(5)
    x_lines, y_lines = np.linspace(0.0, 1.2, 7), np.array([0.1, 0.15, 0.4, 0.6])
    hulls = [
        shapely.convex_hull(shapely.MultiPoint(p)) for p in draw.uniform(-0.5, 1.5, (40, 7, 2))
    ]
    found = cell_areas(Outlines.of_shapes(np.array(hulls)), x_lines, y_lines)
    for hull, areas in zip(hulls, found, strict=True):
        for i in range(6):
            for j in range(3):
                cell = shapely.box(x_lines[i], y_lines[j], x_lines[i + 1], y_lines[j + 1])
                assert areas[i, j] == pytest.approx(hull.intersection(cell).area, abs=1e-12)
