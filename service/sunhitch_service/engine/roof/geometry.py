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
import numpy.typing as npt

from sunhitch.types.roof import RoofOutline, RoofRectangle, Side
from sunhitch_service.engine.rules.roof import TOLERANCE_M

if TYPE_CHECKING:
    from shapely import LineString, Polygon

Floats = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]

SIDES: tuple[Side, ...] = ("front", "rear", "left", "right")

_ARC_SEGMENTS = 16


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
    return np.where(outer > 0.0, outer, -np.maximum(inside, 0.0)) - radius_m


def outline_points(outline: RoofOutline) -> list[tuple[float, float]]:
    """Corners of the roof in order; arcs become chords that lie inside the roof."""
    if not isinstance(outline, RoofRectangle):
        return [(point[0], point[1]) for point in outline.points]
    length, width, cut = outline.length_m, outline.width_m, outline.front_corners
    if cut is None:
        return [(0.0, 0.0), (0.0, width), (length, width), (length, 0.0)]
    steps = _ARC_SEGMENTS if cut.shape == "rounded" else 1
    left = _corner(cut.size_m, steps)
    right = [(x, width - y) for x, y in reversed(left)]
    return [*left, *right, (length, width), (length, 0.0)]


def _corner(size: float, steps: int) -> list[tuple[float, float]]:
    """From the left edge round the front left corner to the front edge."""
    angles = np.linspace(0.0, np.pi / 2, steps + 1)
    return [(float(size * (1 - np.sin(a))), float(size * (1 - np.cos(a)))) for a in angles]


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
        near |= (x1 < gap.x2 + t) & (y1 < gap.y2 + t) & (x2 > gap.x1 - t) & (y2 > gap.y1 - t)
    asked = np.flatnonzero(inside & near)
    if len(asked):
        shapely = _shapely()
        shapely.prepare(outline)
        own = shapely.box(x1[asked] + t, y1[asked] + t, x2[asked] - t, y2[asked] - t)
        inside[asked] = shapely.covers(outline, own)
    return np.asarray(inside, dtype=np.bool_)


@lru_cache(maxsize=64)
def _gaps(outline: "Polygon") -> tuple[Rectangle, ...]:
    """Rectangles around what an outline leaves free of the rectangle around it."""
    shapely = _shapely()
    rest = shapely.box(*outline.bounds).difference(outline)
    return tuple(Rectangle(*part.bounds) for part in shapely.get_parts(rest) if part.area > 0.0)


def _is_rectangle(outline: "Polygon") -> bool:
    """Whether an outline fills the rectangle around it."""
    x1, y1, x2, y2 = outline.bounds
    return bool(abs(outline.area - (x2 - x1) * (y2 - y1)) < TOLERANCE_M**2)


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


def _shapely() -> ModuleType:
    """The library's array functions, which carry no types."""
    return import_module("shapely")


def free_distance(outline: "Polygon", box: Rectangle) -> dict[Side, float]:
    """How far a rectangle could move straight towards each side before it leaves the roof.

    Parameters
    ----------
    outline : Polygon
        Simple polygon.
    box : Rectangle
        A rectangle.

    Returns
    -------
    dict
        Distance [m] by side. Where the rectangle sticks out, only the sides where it does, each
        with minus the depth by which it must move back.
    """
    if bool(covered(outline, np.array([box]))[0]):
        return {side: _reach(outline, box, side) for side in SIDES}
    return _overhang(outline, box)


def _parts_outside(outline: "Polygon", box: Rectangle) -> list[Rectangle]:
    shapely = _shapely()
    rest = shapely.box(*box.grown(-TOLERANCE_M)).difference(outline)
    return [Rectangle(*part.bounds) for part in shapely.get_parts(rest) if part.area > 0.0]


def _reach(outline: "Polygon", box: Rectangle, side: Side) -> float:
    if _is_rectangle(outline):
        return max(0.0, _ahead(box, _beside(Rectangle(*outline.bounds), side), side))
    far = Rectangle(*outline.bounds).grown(1.0)
    lane = {
        "front": Rectangle(far.x1, box.y1, box.x1, box.y2),
        "rear": Rectangle(box.x2, box.y1, far.x2, box.y2),
        "left": Rectangle(box.x1, far.y1, box.x2, box.y1),
        "right": Rectangle(box.x1, box.y2, box.x2, far.y2),
    }[side]
    return max(0.0, min(_ahead(box, part, side) for part in _parts_outside(outline, lane)))


def _beside(roof: Rectangle, side: Side) -> Rectangle:
    """A rectangle that begins where a rectangular roof ends."""
    return {
        "front": Rectangle(roof.x1 - 1.0, roof.y1, roof.x1, roof.y2),
        "rear": Rectangle(roof.x2, roof.y1, roof.x2 + 1.0, roof.y2),
        "left": Rectangle(roof.x1, roof.y1 - 1.0, roof.x2, roof.y1),
        "right": Rectangle(roof.x1, roof.y2, roof.x2, roof.y2 + 1.0),
    }[side]


def _ahead(box: Rectangle, part: Rectangle, side: Side) -> float:
    return {
        "front": box.x1 - part.x2,
        "rear": part.x1 - box.x2,
        "left": box.y1 - part.y2,
        "right": part.y1 - box.y2,
    }[side]


def _overhang(outline: "Polygon", box: Rectangle) -> dict[Side, float]:
    depths: dict[Side, float] = {}
    for part in _parts_outside(outline, box):
        steps = {side: _ahead(box, part, side) for side in SIDES}
        side = max(SIDES, key=steps.__getitem__)
        depths[side] = min(depths.get(side, 0.0), steps[side])
    return depths
