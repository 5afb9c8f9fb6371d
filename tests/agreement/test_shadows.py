"""The same shadow told as a shape, as a thing on the roof and as a thing of a year's study."""

import math
import os

import numpy as np
import pytest
import shapely
from harvest_builders import ROOF, array, beam_all_day, study

from sunhitch.types.fitout import RoofSun
from sunhitch.types.panel import PanelBody
from sunhitch.types.roof import (
    Obstacle,
    PlacedPanel,
    RectangularObstacle,
    Roof,
    RoofPanelType,
    RoundObstacle,
)
from sunhitch.types.shade import PanelPosition, ShadeShape
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.fitout.light import obstacle_shadows
from sunhitch_service.engine.harvest.light import stance_light
from sunhitch_service.engine.harvest.setup import modules, settle, variants
from sunhitch_service.engine.pv.presets import preset_layout
from sunhitch_service.engine.roof.panels import lay
from sunhitch_service.engine.roof.site import resolve_site
from sunhitch_service.engine.roof.surroundings import check_shadows
from sunhitch_service.engine.shadow.casting import Shadows
from sunhitch_service.engine.shadow.cells import CellRaster, cell_raster
from sunhitch_service.engine.shadow.light import shape_shares
from sunhitch_service.engine.shadow.outlines import Outlines
from sunhitch_service.engine.shadow.overlap import beam_shares
from sunhitch_service.engine.shadow.pieces import pieces
from sunhitch_service.engine.shadow.planes import Stance, towards_sun

CASES = range(int(os.environ.get("AGREEMENT_CASES", "20")))
SHARE = 1e-9
LAYOUT = preset_layout("half-cell-2-diodes", 36)
BODY = PanelBody(
    length_m=1.1, width_m=0.55, thickness_m=0.003, mass_kg=2.0, construction="flexible"
)


def raster() -> CellRaster:
    return cell_raster(LAYOUT, BODY, Assumptions(), "")


def star(draw: np.random.Generator, corners: int, convex: bool) -> np.ndarray:
    """A simple outline near the roof's front left, its corners at rising angles."""
    angles = 2.0 * np.pi * (np.arange(corners) + draw.uniform(0.0, 0.8, corners)) / corners
    radius = draw.uniform(0.1, 0.7) if convex else draw.uniform(0.1, 0.9, corners)
    middle = draw.uniform((0.5, 0.0), (2.0, 1.0))
    return middle + np.stack([radius * np.cos(angles), radius * np.sin(angles)], axis=1)


def transmittances(draw: np.random.Generator, number: int) -> list[float]:
    """Some opaque, the others see-through."""
    return [0.0 if draw.random() < 0.4 else float(draw.uniform(0.05, 0.95)) for _ in range(number)]


def cell_on_roof(raster: CellRaster, at: PanelPosition, row: int, column: int) -> shapely.Polygon:
    """A cell's outline in roof coordinates, turned about the panel's corner."""
    x, y = raster.x_lines[row : row + 2], raster.y_lines[column : column + 2]
    box = shapely.box(x[0], y[0], x[1], y[1])
    turned = shapely.affinity.rotate(box, at.rotation_deg, origin=(0.0, 0.0))
    return shapely.affinity.translate(turned, at.x_m, at.y_m)


def faces_share(cell: shapely.Polygon, shapes: list[shapely.Polygon], passes: list[float]) -> float:
    """Mean over a cell of the product of transmittances: cut into faces, each asked at a point."""
    near = [(s, p) for s, p in zip(shapes, passes, strict=True) if s.intersects(cell)]
    edges = shapely.union_all([cell.exterior, *(s.exterior for s, _ in near)])
    total = 0.0
    for face in shapely.get_parts(shapely.polygonize([edges])):
        inside = face.representative_point()
        if cell.contains(inside):
            total += face.area * math.prod(p for s, p in near if s.contains(inside))
    return total / cell.area


@pytest.mark.parametrize("seed", CASES)
@pytest.mark.parametrize("convex", [True, False], ids=["convex", "any form"])
def test_overlapping_shapes_multiply_their_transmittances_on_each_cell(
    seed: int, convex: bool
) -> None:
    draw = np.random.default_rng(seed)
    number = int(draw.integers(1, 7))
    outlines = [star(draw, int(draw.integers(4, 9)), convex) for _ in range(number)]
    passes = transmittances(draw, number)
    at = PanelPosition(x_m=1.0, y_m=0.3, rotation_deg=float(draw.uniform(-180.0, 180.0)))
    cells = raster()
    ours = shape_shares(
        [
            ShadeShape(polygon=o.tolist(), transmittance_fraction=p)
            for o, p in zip(outlines, passes, strict=True)
        ],
        cells,
        at,
    )
    polygons = [shapely.Polygon(outline) for outline in outlines]
    columns = len(cells.y_lines) - 1
    for index in draw.choice(cells.cells, 8, replace=False).tolist():
        cell = cell_on_roof(cells, at, index // columns, index % columns)
        assert ours[index] == pytest.approx(faces_share(cell, polygons, passes), abs=SHARE)


@pytest.mark.parametrize("seed", CASES)
def test_few_shadows_many_shadows_and_shapes_leave_the_same_light(seed: int) -> None:
    """Inclusion and exclusion over four at most, disjoint parts over more, shapes one by one."""
    draw = np.random.default_rng(seed)
    states, corners = 5, 6
    solids = int(draw.integers(2, 8))
    at = PanelPosition(x_m=1.0, y_m=0.3, rotation_deg=float(draw.integers(0, 4)) * 90.0)
    outlines = np.array([[star(draw, corners, True) for _ in range(states)] for _ in range(solids)])
    passes = np.array([transmittances(draw, states) for _ in range(solids)])
    reach = draw.random((solids, states)) < 0.8
    shadows = [
        Shadows(np.flatnonzero(own), Outlines.closed(list(outline[own])))
        for own, outline in zip(reach, outlines, strict=True)
    ]
    cells = raster()
    ours = beam_shares(pieces(shadows, list(1.0 - passes)).on_panel(at), states, cells)
    for state in range(states):
        shapes = [
            ShadeShape(polygon=outlines[k, state].tolist(), transmittance_fraction=passes[k, state])
            for k in np.flatnonzero(reach[:, state])
        ]
        theirs = shape_shares(shapes, cells, at) if shapes else np.ones(cells.cells)
        assert ours[state] == pytest.approx(theirs, abs=SHARE)


def obstacle(draw: np.random.Generator, name: str, least_m: float) -> Obstacle:
    x, y = draw.uniform((0.2, 0.1), (3.5, 1.6))
    height = float(draw.uniform(least_m, 0.8))
    if draw.random() < 0.5:
        size = float(draw.uniform(0.05, 0.5))
        return RoundObstacle(name=name, x_m=x, y_m=y, diameter_m=size, height_m=height)
    length, width = draw.uniform(0.05, 0.8, 2).tolist()
    return RectangularObstacle(
        name=name, x_m=x, y_m=y, length_m=length, width_m=width, height_m=height
    )


@pytest.mark.parametrize("seed", CASES)
def test_things_on_the_roof_shade_a_year_s_study_as_they_shade_a_fit_out(seed: int) -> None:
    draw = np.random.default_rng(seed)
    things = [obstacle(draw, f"thing {k}", 0.05) for k in range(int(draw.integers(1, 6)))]
    rotated = bool(draw.random() < 0.5)
    place = PlacedPanel(name="p0", panel_type="sheet", x_m=1.0, y_m=0.3, rotated=rotated)
    asked = settle(
        study(
            roof=Roof(outline=ROOF.outline, obstacles=things),
            placements=[place],
            arrays=[array([["p0"]])],
            weather=beam_all_day(),
            panel_height_m=0.0,
        )
    )
    (module,) = modules(asked, variants(asked.request)[0])
    lit = asked.weather.lit()
    found = stance_light(asked.site, lit, Stance(0.0, 0.0, 0.0), [module])
    towards = towards_sun(lit.sun, 0.0)
    compared = 0
    for state, (x, y, z) in enumerate(towards):
        elevation = math.degrees(math.asin(z))
        if elevation < 2.0:
            continue
        sun = RoofSun(elevation_deg=elevation, from_front_deg=math.degrees(math.atan2(y, -x)))
        shadows = obstacle_shadows(things, sun)
        shares = shape_shares(shadows, module.raster, module.laid.shade_position)
        lit, light = shares[module.raster.order], found.cells[0][state]
        brightest = np.unravel_index(np.argmax(lit), lit.shape)
        if lit[brightest] > 0.9:
            unshaded = light[brightest] / lit[brightest]
            assert light == pytest.approx(unshaded * lit, abs=SHARE * unshaded)
            compared += 1
    assert compared > 3


@pytest.mark.parametrize("seed", CASES)
def test_the_height_of_the_sun_that_is_told_is_where_a_thing_begins_to_shade(seed: int) -> None:
    """Just above it no shadow reaches the panel from any side, just below one does.

    A round thing is cast as the polygon of 16 sides around it, up to 2 % larger.
    """
    draw = np.random.default_rng(seed)
    (thing,) = (obstacle(draw, "thing", 0.05),)
    asked = study(roof=Roof(outline=ROOF.outline, obstacles=[thing])).panel_types[0]
    kind = RoofPanelType(name=asked.name, body=BODY, p_mp_w=115.0)
    (laid,) = lay([kind], [PlacedPanel(name="p0", panel_type=kind.name, x_m=3.8, y_m=0.2)])
    site = resolve_site(Roof(outline=ROOF.outline, obstacles=[thing]), None, Assumptions())
    (told,) = check_shadows(site, [laid])
    if told.demand > 89.0:
        return
    panel = shapely.box(*laid.box)

    def reached(elevation_deg: float) -> bool:
        suns = (RoofSun(elevation_deg=elevation_deg, from_front_deg=a) for a in range(360))
        shadows = (shape for sun in suns for shape in obstacle_shadows([thing], sun))
        return any(shapely.Polygon(s.polygon).intersects(panel) for s in shadows)

    larger = 1.02 if isinstance(thing, RoundObstacle) else 1.0
    assert not reached(told.demand * (larger + 0.01))
    assert reached(told.demand * 0.98)
