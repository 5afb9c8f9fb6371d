"""What casts shade, as convex solids in vehicle axes."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sunhitch.texts import statement
from sunhitch.types.harvest import (
    Awning,
    Box,
    HarvestRequest,
    NeighbourVehicle,
    Pole,
    ShadeObject,
    TreeCrown,
    Wall,
)
from sunhitch.types.roof import Obstacle, RoundObstacle
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.practice import Practice
from sunhitch_service.engine.roof.site import obstacle_corners
from sunhitch_service.engine.sky import Array, Index

from .planes import Plane, RoofFrame

_PRACTICE = Practice("shadow", "practice")
_SIDES = 16
"""Of the polygon around whatever is round."""
_LEAFY_NORTH = (4, 5, 6, 7, 8, 9, 10)


@dataclass(frozen=True)
class Solid:
    """A convex polyhedron, or an ellipsoid with a vertical axis.

    Parameters
    ----------
    name : str
        Of the object.
    corners : ndarray, shape (n, 3)
        Corners [m]; of an ellipsoid its middle alone.
    edges : ndarray of int, shape (m, 2)
        Corners that an edge joins; empty for an ellipsoid.
    radii : tuple of float or None
        Horizontal and vertical semi-axis of an ellipsoid [m].
    passes : tuple of float
        Share of the light that passes, by month.
    moves : bool
        Whether it is part of the vehicle.
    by_path : bool
        Whether an ellipsoid dims by the way through it; `passes` then holds for a sun 45° high.
    """

    name: str
    corners: Array
    edges: Index
    radii: tuple[float, float] | None
    passes: tuple[float, ...]
    moves: bool
    by_path: bool = False


def solids(request: HarvestRequest, frame: RoofFrame, notes: Assumptions) -> list[Solid]:
    """Everything that casts shade, for the first heading.

    Parameters
    ----------
    request : HarvestRequest
        Shade objects and roof obstacles.
    frame : RoofFrame
        The roof.
    notes : Assumptions
        Takes note of what was chosen.

    Returns
    -------
    list of Solid
        Roof obstacles last; those stand upright on a level roof and are tilted with it later.
    """
    south = request.place.latitude_deg < 0.0
    groups = (
        _solids_of(item, frame, south, f"/shade/{index}", notes)
        for index, item in enumerate(request.shade)
    )
    return [solid for group in groups for solid in group]


def _solids_of(
    item: ShadeObject, frame: RoofFrame, south: bool, at: str, notes: Assumptions
) -> list[Solid]:
    if isinstance(item, TreeCrown):
        return _tree(item, south, at, notes)
    moves = False
    if isinstance(item, NeighbourVehicle):
        solid = _vehicle(item, frame, at, notes)
    elif isinstance(item, Awning):
        solid, moves = _cloth(item, frame), True
    else:
        solid, moves = _upright(item), item.turns_with_vehicle
    passes = 0.0 if isinstance(item, NeighbourVehicle) else item.transmittance_fraction
    return [replace(solid, name=item.name, passes=(passes,) * 12, moves=moves)]


def _upright(item: Wall | Pole | Box) -> Solid:
    low, high = item.base_height_m, item.top_height_m
    if isinstance(item, Wall):
        (x1, y1), (x2, y2) = (item.from_x_m, item.from_y_m), (item.to_x_m, item.to_y_m)
        return _quad([(x1, y1, low), (x2, y2, low), (x2, y2, high), (x1, y1, high)])
    if isinstance(item, Pole):
        return prism(_circle(item.x_m, item.y_m, item.diameter_m), low, high)
    return prism(_box_outline(item), low, high)


def prism(outline: Sequence[tuple[float, float]], low: float, high: float) -> Solid:
    """Upright block over a convex outline.

    Parameters
    ----------
    outline : sequence of tuple of float
        Corners in order [m].
    low, high : float
        Heights [m].

    Returns
    -------
    Solid
        Opaque, standing on the ground, without a name.
    """
    n = len(outline)
    corners = np.array([(x, y, z) for z in (low, high) for x, y in outline])
    ring = [(k, (k + 1) % n) for k in range(n)]
    edges = [*ring, *((a + n, b + n) for a, b in ring), *((k, k + n) for k in range(n))]
    return Solid("", corners, np.array(edges), None, (0.0,) * 12, False)


def _quad(corners: Sequence[tuple[float, float, float]]) -> Solid:
    ring = np.array([(0, 1), (1, 2), (2, 3), (3, 0)])
    return Solid("", np.array(corners), ring, None, (0.0,) * 12, False)


def _cloth(item: Awning, frame: RoofFrame) -> Solid:
    sign = 1.0 if item.side == "right" else -1.0
    inner = frame.centre_y + sign * 0.5 * frame.width
    outer = inner + sign * item.depth_m
    return _quad(
        [
            (item.from_x_m, inner, item.inner_height_m),
            (item.to_x_m, inner, item.inner_height_m),
            (item.to_x_m, outer, item.outer_height_m),
            (item.from_x_m, outer, item.outer_height_m),
        ]
    )


def _vehicle(item: NeighbourVehicle, frame: RoofFrame, at: str, notes: Assumptions) -> Solid:
    length = _PRACTICE.usual(notes, f"{at}/length_m", item.length_m, "neighbour-length")
    width = _PRACTICE.usual(notes, f"{at}/width_m", item.width_m, "neighbour-width")
    height = _PRACTICE.usual(notes, f"{at}/height_m", item.height_m, "neighbour-height")
    sign = 1.0 if item.side == "right" else -1.0
    near = frame.centre_y + sign * (0.5 * frame.width + item.gap_m)
    far = near + sign * width
    x1, x2 = item.front_x_m, item.front_x_m + length
    return prism([(x1, near), (x2, near), (x2, far), (x1, far)], 0.0, height)


def _box_outline(item: Box) -> list[tuple[float, float]]:
    turn = math.radians(item.rotation_deg)
    cos, sin = math.cos(turn), math.sin(turn)
    size = [(0.0, 0.0), (item.length_m, 0.0), (item.length_m, item.width_m), (0.0, item.width_m)]
    return [(item.x_m + a * cos - b * sin, item.y_m + a * sin + b * cos) for a, b in size]


def _circle(x: float, y: float, diameter: float) -> list[tuple[float, float]]:
    """Corners around a circle, which they enclose: no shadow is too small."""
    step = 2.0 * math.pi / _SIDES
    radius = 0.5 * diameter / math.cos(0.5 * step)
    return [
        (x + radius * math.cos(k * step), y + radius * math.sin(k * step)) for k in range(_SIDES)
    ]


def _tree(item: TreeCrown, south: bool, at: str, notes: Assumptions) -> list[Solid]:
    height = item.crown_top_height_m - item.crown_base_height_m
    middle = np.array([[item.x_m, item.y_m, item.crown_base_height_m + 0.5 * height]])
    radii = (0.5 * item.crown_diameter_m, 0.5 * height)
    passes = _by_month(item, south, at, notes)
    none = np.zeros((0, 2), dtype=np.int64)
    crown = Solid(item.name, middle, none, radii, passes, False, item.by_path_length)
    if item.trunk_diameter_m == 0.0:
        return [crown]
    outline = _circle(item.x_m, item.y_m, item.trunk_diameter_m)
    trunk = prism(outline, 0.0, item.crown_base_height_m + 0.5 * height)
    return [crown, replace(trunk, name=item.name)]


def _by_month(item: TreeCrown, south: bool, at: str, notes: Assumptions) -> tuple[float, ...]:
    leafy = _PRACTICE.usual(
        notes,
        f"{at}/transmittance_in_leaf_fraction",
        item.transmittance_in_leaf_fraction,
        "leaf",
    )
    if item.evergreen:
        return (leafy,) * 12
    bare = _PRACTICE.usual(
        notes, f"{at}/transmittance_bare_fraction", item.transmittance_bare_fraction, "bare"
    )
    months = item.leaf_months or [(m + 5) % 12 + 1 if south else m for m in _LEAFY_NORTH]
    if not item.leaf_months:
        text = ", ".join(str(month) for month in sorted(months))
        notes.note(f"{at}/leaf_months", text, statement("leaf-months"))
    return tuple(leafy if month in months else bare for month in range(1, 13))


def on_roof(obstacle: Obstacle, plane: Plane, lift_m: float) -> Solid:
    """A thing that stands on the roof and is tilted with it.

    Parameters
    ----------
    obstacle : RoundObstacle or RectangularObstacle
        With its height above the roof.
    plane : Plane
        The plane of the panels beside it.
    lift_m : float
        Of that plane above the roof [m].

    Returns
    -------
    Solid
        Part of the vehicle.
    """
    if isinstance(obstacle, RoundObstacle):
        outline = _circle(obstacle.x_m, obstacle.y_m, obstacle.diameter_m)
    else:
        outline = obstacle_corners(obstacle)[::-1]
    flat = prism(outline, -lift_m, obstacle.height_m - lift_m)
    placed = (
        np.array(plane.origin)
        + flat.corners[:, :2] @ plane.axes.T
        + flat.corners[:, 2:] * plane.normal
    )
    return replace(flat, name=obstacle.name, corners=placed, moves=True)


def turned(solid: Solid, frame: RoofFrame, by_deg: float) -> Solid:
    """A thing on the ground as seen from the vehicle after it has turned.

    Parameters
    ----------
    solid : Solid
        As seen at the first heading.
    frame : RoofFrame
        The roof, about whose middle the vehicle turns.
    by_deg : float
        Heading minus the first heading [°].

    Returns
    -------
    Solid
        The same where it is part of the vehicle.
    """
    if solid.moves or by_deg == 0.0:
        return solid
    angle = math.radians(by_deg)
    cos, sin = math.cos(angle), math.sin(angle)
    level = solid.corners[:, :2] - (frame.centre_x, frame.centre_y)
    back = np.array([[cos, sin], [-sin, cos]])
    spun = level @ back + (frame.centre_x, frame.centre_y)
    return replace(solid, corners=np.concatenate([spun, solid.corners[:, 2:]], axis=1))
