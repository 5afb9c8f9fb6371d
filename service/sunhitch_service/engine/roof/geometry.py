"""Rectangles, discs and outlines: the plane geometry behind the roof plan.

Rectangles have their sides along the roof's axes and are rows ``[x1, y1, x2, y2]`` of an array
with shape (n, 4) [m].
"""

from collections.abc import Sequence
from functools import lru_cache
from importlib import import_module
from itertools import pairwise
from types import ModuleType
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from sunhitch.types.roof import RoofOutline, RoofRectangle, Side
from sunhitch_service.engine.arrays import Floats, Mask
from sunhitch_service.engine.rules.roof import TOLERANCE_M

if TYPE_CHECKING:
    from shapely import LineString, Polygon


SIDES: tuple[Side, ...] = ("front", "rear", "left", "right")

_ARC_SEGMENTS = 16
_NO_MOVE_M = 1e-10
_HALVES = (-0.5, 0.5)


class Rectangle(NamedTuple):
    """A rectangle along the axes [m]."""

    x1: float
    y1: float
    x2: float
    y2: float

    def grown(self, by: float) -> "Rectangle":
        """The same with `by` [m] more on every side."""
        return Rectangle(self.x1 - by, self.y1 - by, self.x2 + by, self.y2 + by)

    @property
    def centre(self) -> tuple[float, float]:
        """Its middle."""
        return (self.x1 + self.x2) / 2, (self.y1 + self.y2) / 2


def turned_corners(box: Rectangle, turned_deg: float) -> list[tuple[float, float]]:
    """Corners [m], in order, of a rectangle that is turned about its middle, from x towards y."""
    corners = [(box.x1, box.y1), (box.x1, box.y2), (box.x2, box.y2), (box.x2, box.y1)]
    if turned_deg == 0.0:
        return corners  # to the last digit
    angle = np.radians(turned_deg)
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    placed = (np.array(corners) - box.centre) @ turn + box.centre
    return [(float(x), float(y)) for x, y in placed]


def turned_distance(boxes: Floats, corners: Sequence[tuple[float, float]]) -> Floats:
    """Distance from rectangles to a turned one; negative where they overlap.

    Parameters
    ----------
    boxes : ndarray
        Shape (n, 4) [m].
    corners : sequence of tuple of float
        Of the turned rectangle, in order [m].

    Returns
    -------
    ndarray
        Shape (n,) [m]; when negative, the shortest of the moves that part them along a side of
        one of both, by the theorem of separating axes.
    """
    shapely = shapely_functions()
    ring = np.array(corners)
    sides = ring[1:3] - ring[:2]
    axes = np.concatenate([np.eye(2), sides / np.hypot(*sides.T)[:, None]])
    middle, half = (boxes[:, :2] + boxes[:, 2:]) / 2, (boxes[:, 2:] - boxes[:, :2]) / 2
    along, reach = middle @ axes.T, half @ np.abs(axes.T)
    low, high = (ring @ axes.T).min(axis=0), (ring @ axes.T).max(axis=0)
    gaps = np.maximum(low - (along + reach), along - reach - high).max(axis=1)
    apart = shapely.distance(shapely.Polygon(ring), shapely.box(*boxes.T))
    return np.asarray(np.where(gaps > 0.0, apart, gaps), dtype=np.float64)


def box_distance(boxes: Floats, other: Sequence[float] | Floats) -> Floats:
    """Gap along x or y, whichever is larger; negative where rectangles overlap.

    Parameters
    ----------
    boxes : ndarray
        Shape (n, 4) [m].
    other : sequence of float or ndarray
        One rectangle, or as many as `boxes` [m].

    Returns
    -------
    ndarray
        Shape (n,) [m]; when negative, the shorter of the moves that part them.
    """
    o = np.asarray(other, dtype=np.float64)
    dx = np.maximum(o[..., 0] - boxes[:, 2], boxes[:, 0] - o[..., 2])
    dy = np.maximum(o[..., 1] - boxes[:, 3], boxes[:, 1] - o[..., 3])
    return np.maximum(dx, dy)


def disc_distance(boxes: Floats, x_m: float, y_m: float, radius_m: float) -> Floats:
    """Distance from rectangles to a disc, negative where they overlap.

    Parameters
    ----------
    boxes : ndarray
        Shape (n, 4) [m].
    x_m, y_m, radius_m : float
        Middle and radius of the disc [m].

    Returns
    -------
    ndarray
        Shape (n,) [m].
    """
    dx = np.maximum(np.maximum(boxes[:, 0] - x_m, x_m - boxes[:, 2]), 0.0)
    dy = np.maximum(np.maximum(boxes[:, 1] - y_m, y_m - boxes[:, 3]), 0.0)
    inside = np.minimum.reduce(
        [x_m - boxes[:, 0], boxes[:, 2] - x_m, y_m - boxes[:, 1], boxes[:, 3] - y_m]
    )
    outer = np.hypot(dx, dy)
    return np.where(outer > 0.0, outer, -inside) - radius_m


def outline_points(outline: RoofOutline) -> list[tuple[float, float]]:
    """Corners of the roof in order; arcs become chords that lie inside the roof."""
    if not isinstance(outline, RoofRectangle):
        return [(point[0], point[1]) for point in outline.points]
    length, width, cut = outline.length_m, outline.width_m, outline.front_corners
    if cut is None:
        return [(0.0, 0.0), (0.0, width), (length, width), (length, 0.0)]
    steps, size = _ARC_SEGMENTS if cut.shape == "rounded" else 1, cut.size_m
    # From the left edge round the front left corner to the front edge.
    angles = np.linspace(0.0, np.pi / 2, steps + 1)
    left = [(float(size * (1 - np.sin(a))), float(size * (1 - np.cos(a)))) for a in angles]
    right = [(x, width - y) for x, y in reversed(left)]
    return [*left, *right, (length, width), (length, 0.0)]


def front_left(outline: RoofOutline) -> tuple[float, float]:
    """Foremost and leftmost line of the roof, from which wind and tape measures count [m].

    Only a rectangle begins at 0, 0; a polygon lies wherever its corners are given.
    """
    x_m, y_m = zip(*outline_points(outline), strict=True)
    return min(x_m), min(y_m)


def front_before(outline: RoofOutline, box: Rectangle) -> float:
    """Where the roof's front edge is nearest before a rectangle, at most at its own front [m].

    Of a pointed or cut front it lies behind the foremost line.
    """
    corners = outline_points(outline)
    foremost_m, _ = front_left(outline)
    beside = [y for _, y in corners if box.y1 < y < box.y2]
    edges = list(zip(corners, [*corners[1:], corners[0]], strict=True))

    def at(y: float) -> float:
        crossed = [
            x1 + (x2 - x1) * (y - y1) / (y2 - y1)
            for (x1, y1), (x2, y2) in edges
            if y1 != y2 and min(y1, y2) <= y <= max(y1, y2)
        ]
        ahead = [x for x in crossed if x <= box.x1]
        return max(ahead) if ahead else min(crossed, default=foremost_m)

    nearest_m = max(map(at, (box.y1, *beside, box.y2)))
    return min(nearest_m, max(box.x1, foremost_m))


def outline_polygon(outline: RoofOutline) -> "Polygon":
    """The roof as a polygon."""
    from shapely import Polygon

    return Polygon(outline_points(outline))


def covered(outline: "Polygon", boxes: Floats) -> Mask:
    """Which rectangles lie within a polygon, touching its edge allowed.

    Parameters
    ----------
    outline : Polygon
        Simple polygon.
    boxes : ndarray
        Shape (n, 4) [m].

    Returns
    -------
    ndarray
        Shape (n,), bool.
    """
    t = TOLERANCE_M
    x1, y1, x2, y2 = boxes.T
    low_x, low_y, high_x, high_y = outline.bounds
    inside = (x1 > low_x - t) & (y1 > low_y - t) & (x2 < high_x + t) & (y2 < high_y + t)
    near = np.zeros(len(boxes), dtype=np.bool_)
    for gap in _gaps(outline):
        near |= box_distance(boxes, gap) < 0.0
    asked = np.flatnonzero(inside & near)
    if len(asked):
        shapely = shapely_functions()
        shapely.prepare(outline)
        own = shapely.box(x1[asked] + t, y1[asked] + t, x2[asked] - t, y2[asked] - t)
        inside[asked] = shapely.covers(outline, own)
    return np.asarray(inside, dtype=np.bool_)


@lru_cache(maxsize=64)
def _gaps(outline: "Polygon") -> tuple[Rectangle, ...]:
    """Rectangles around what an outline leaves free of the rectangle around it."""
    shapely = shapely_functions()
    rest = shapely.box(*outline.bounds).difference(outline)
    return tuple(Rectangle(*part.bounds) for part in shapely.get_parts(rest))


def line_distance(line: "LineString", boxes: Floats) -> Floats:
    """Distance [m] from a line to rectangles of shape (n, 4); 0 where it crosses them."""
    found = np.full(len(boxes), np.inf)
    for (xa, ya), (xb, yb) in pairwise(line.coords):
        dx = np.maximum(min(xa, xb) - boxes[:, 2], boxes[:, 0] - max(xa, xb))
        dy = np.maximum(min(ya, yb) - boxes[:, 3], boxes[:, 1] - max(ya, yb))
        apart = np.hypot(np.maximum(dx, 0.0), np.maximum(dy, 0.0))
        if xa != xb and ya != yb:
            near = np.flatnonzero(apart < found)
            apart[near] = _slanted_distance((xa, ya), (xb, yb), boxes[near])
        found = np.minimum(found, apart)
    return found


def _slanted_distance(a: tuple[float, float], b: tuple[float, float], boxes: Floats) -> Floats:
    """Distance [m] to a straight run: 0 where it crosses, else from an end or a corner."""
    x, y = boxes[:, [0, 0, 2, 2]], boxes[:, [1, 3, 1, 3]]
    ux, uy = b[0] - a[0], b[1] - a[1]
    share = np.clip(((x - a[0]) * ux + (y - a[1]) * uy) / (ux * ux + uy * uy), 0.0, 1.0)
    found = np.hypot(x - a[0] - share * ux, y - a[1] - share * uy).min(axis=1)
    for end in (a, b):
        found = np.minimum(found, np.maximum(disc_distance(boxes, *end, 0.0), 0.0))
    side = (x - a[0]) * uy - (y - a[1]) * ux
    both = (side.min(axis=1) <= 0.0) & (side.max(axis=1) >= 0.0)
    meets_x = (boxes[:, 0] <= max(a[0], b[0])) & (boxes[:, 2] >= min(a[0], b[0]))
    meets_y = (boxes[:, 1] <= max(a[1], b[1])) & (boxes[:, 3] >= min(a[1], b[1]))
    return np.where(both & meets_x & meets_y, 0.0, found)


def shapely_functions() -> ModuleType:
    """The library's array functions, which carry no types."""
    return import_module("shapely")


def free_distances(outline: "Polygon", boxes: Floats) -> list[dict[Side, float]]:
    """How far rectangles could move straight towards each side before they leave the roof.

    Parameters
    ----------
    outline : Polygon
        Simple polygon.
    boxes : ndarray
        Shape (n, 4) [m].

    Returns
    -------
    list of dict
        For each, distance [m] by side. Where a rectangle sticks out, only the sides where it does,
        each with minus the depth by which it must move back.
    """
    found = zip(boxes, covered(outline, boxes), np.maximum(_room(outline, boxes), 0.0), strict=True)
    return [
        (not inside and _overhang(outline, Rectangle(*box.tolist())))
        or dict(zip(SIDES, room.tolist(), strict=True))
        for box, inside, room in found
    ]


def _room(outline: "Polygon", boxes: Floats) -> Floats:
    """Space to the nearest edge of the roof in each direction, shape (n, sides) [m]."""
    ring = np.array(outline.exterior.coords)
    start, step = ring[:-1], np.diff(ring, axis=0)
    found: list[Floats] = []
    for along, across in ((0, 1), (1, 0)):
        # Where each edge of the roof lies within the lane that a rectangle would move along.
        lane = boxes[:, [across, across + 2], None] + [[TOLERANCE_M], [-TOLERANCE_M]]
        level = step[:, across] == 0.0
        shares = (lane - start[:, across]) / np.where(level, np.inf, step[:, across])
        shares[:, 1] += level
        places = start[:, along] + np.clip(shares, 0.0, 1.0) * step[:, along]
        ends = np.sort(np.stack([ring[:-1, across], ring[1:, across]]), axis=0)
        meets = (ends[0] < lane[:, 1]) & (ends[1] > lane[:, 0])
        low, high = places.min(axis=1), places.max(axis=1)
        near, far = boxes[:, along, None], boxes[:, along + 2, None]
        ahead = high < (near + far) / 2
        found.append(np.where(meets & ahead, near - high, np.inf).min(axis=1))
        found.append(np.where(meets & ~ahead, low - far, np.inf).min(axis=1))
    return np.stack(found, axis=1)


def has_room(outline: "Polygon", along_m: float, across_m: float) -> bool:
    """Whether a rectangle finds a place on the roof, as it lies [m]."""
    less_m = 2.0 * TOLERANCE_M
    return not _middles(outline, along_m - less_m, across_m - less_m).is_empty


def _middles(outline: "Polygon", along_m: float, across_m: float) -> "Polygon":
    """Places of a rectangle's middle, out of those at which it would meet an edge of the roof."""
    shapely = shapely_functions()
    ends = np.array(list(pairwise(outline.exterior.coords)))[:, :, None]
    corners = ends + np.array([[i * along_m, j * across_m] for i in _HALVES for j in _HALVES])
    meeting = shapely.convex_hull(shapely.multipoints(corners.reshape(len(ends), 8, 2)))
    return shapely.difference(outline, shapely.union_all(meeting))


def _overhang(outline: "Polygon", box: Rectangle) -> dict[Side, float]:
    """How far a rectangle must move back onto the roof, as minus the distance, by side.

    Straight back where that is a way, else the shortest way, of which each part is told; by its
    whole size where no part of the roof is large enough.
    """
    shapely = shapely_functions()
    x1, y1, x2, y2 = box.grown(-TOLERANCE_M)
    places = _middles(outline, x2 - x1, y2 - y1)
    if places.is_empty:
        return {"front": box.x1 - box.x2, "left": box.y1 - box.y2}
    (x, y), far = box.centre, sum(map(abs, (*outline.bounds, *box)))
    lanes = shapely.linestrings([[(x - far, y), (x + far, y)], [(x, y - far), (x, y + far)]])
    straight = [place for place in shapely.intersection(places, lanes) if not place.is_empty]
    ways = shapely.shortest_line(shapely.Point(x, y), straight or [places])
    way = min(ways, key=shapely.length)
    dx, dy = np.diff(shapely.get_coordinates(way), axis=0)[0].tolist()
    moves = zip(SIDES, (-dx, dx, -dy, dy), strict=True)
    return {side: move - TOLERANCE_M for side, move in moves if move < -_NO_MOVE_M}
