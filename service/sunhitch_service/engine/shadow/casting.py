"""Shadows of solids on planes, as convex outlines in the plane's own axes."""

import math
from dataclasses import dataclass

import numpy as np

from sunhitch_service.engine.roof.geometry import shapely_functions
from sunhitch_service.engine.sky import Array, Index

from .objects import Solid
from .outlines import Outlines
from .planes import Plane

_RIM = 24
"""Points around a crown."""
_RIM_GROWTH = float(np.sqrt(2.0 * np.pi / _RIM / np.sin(2.0 * np.pi / _RIM)))
"""So much larger is the radius of a crown's outline that it has the ellipse's area."""
_LEAST_RISE_M = 1e-9
_GRAZING = 0.01
"""Sine of the angle between sun and plane below which a shadow is not followed."""
EVERYWHERE = (-math.inf, -math.inf, math.inf, math.inf)
"""Window of a whole plane."""


@dataclass(frozen=True, slots=True)
class Shadows:
    """Outlines of one solid's shadow.

    Parameters
    ----------
    state : ndarray of int, shape (n,)
        Direction that each outline belongs to.
    outlines : Outlines
        Of as many.
    """

    state: Index
    outlines: Outlines


def cast(solid: Solid, plane: Plane, towards: Array, window: tuple[float, ...]) -> Shadows:
    """Shadows on the part of a plane that matters.

    Parameters
    ----------
    solid : Solid
        What casts them.
    plane : Plane
        What they fall on.
    towards : ndarray, shape (directions, 3)
        Unit vectors towards the light.
    window : tuple of float
        Smallest and largest coordinates that matter: u1, v1, u2, v2 [m].

    Returns
    -------
    Shadows
        Only those that reach the window.
    """
    rise = np.einsum("ij,j->i", towards, plane.normal)
    facing = np.flatnonzero((rise > _GRAZING) & (towards[:, 2] > 0.0))
    points = _outline_points(solid, plane, towards[facing])
    if points is None:
        return Shadows(facing[:0], Outlines.closed([]))
    flat = _projected(points, plane, towards[facing])
    (u, v), (u_high, v_high) = flat.min(axis=2), flat.max(axis=2)
    u1, v1, u2, v2 = window
    reached = np.flatnonzero((u < u2) & (v < v2) & (u_high > u1) & (v_high > v1))
    shapely = shapely_functions()
    hulls = shapely.convex_hull(shapely.linestrings(flat[:, reached].transpose(1, 2, 0)))
    # The sun in the plane of a wall leaves a line.
    real = shapely.get_type_id(hulls) == shapely.GeometryType.POLYGON
    return Shadows(facing[reached[real]], Outlines.of_shapes(hulls[real]))


def _outline_points(solid: Solid, plane: Plane, towards: Array) -> Array | None:
    """Points whose shadows' convex hull is the shadow, shape (directions, points, 3)."""
    if solid.radii is not None:
        return _rims(solid.corners[0], solid.radii, plane, towards)
    kept = _above(solid, plane)
    if kept is None:
        return None
    return np.broadcast_to(kept, (len(towards), *kept.shape))


def _above(solid: Solid, plane: Plane) -> Array | None:
    """Corners above the plane, and where edges cross it; None where nothing is above."""
    rise = (solid.corners - plane.origin) @ plane.normal
    if float(rise.max()) <= _LEAST_RISE_M:
        return None
    first, last = solid.edges.T
    crossing = (rise[first] > 0.0) != (rise[last] > 0.0)
    a, b = first[crossing], last[crossing]
    share = (rise[a] / (rise[a] - rise[b]))[:, None]
    cut = solid.corners[a] + share * (solid.corners[b] - solid.corners[a])
    return np.concatenate([solid.corners[rise > 0.0], cut])


def _rims(middle: Array, radii: tuple[float, float], plane: Plane, towards: Array) -> Array | None:
    """Where light grazes an ellipsoid; below the plane, its section with the plane instead."""
    axes = np.array([radii[0], radii[0], radii[1]])
    normal = plane.normal * axes
    reach = float(np.linalg.norm(normal))
    rise = float((middle - plane.origin) @ plane.normal)
    if rise + reach <= _LEAST_RISE_M:
        return None
    ball = towards / axes
    ball /= np.linalg.norm(ball, axis=1)[:, None]
    rim = middle + axes * _RIM_GROWTH * _circles(ball)
    if rise >= reach:
        return rim
    ground = _section(middle, axes, normal / reach, rise / reach)
    below = (rim - plane.origin) @ plane.normal <= 0.0
    kept = np.where(below[:, :, None], ground[0], rim)
    return np.concatenate([kept, np.broadcast_to(ground, (len(towards), *ground.shape))], axis=1)


def _circles(axes: Array) -> Array:
    """Unit circles around unit vectors, shape (vectors, points, 3)."""
    helper = np.where(np.abs(axes[:, 2:]) < 0.9, (0.0, 0.0, 1.0), (1.0, 0.0, 0.0))
    first = np.cross(axes, helper)
    first /= np.linalg.norm(first, axis=1)[:, None]
    second = np.cross(axes, first)
    angle = 2.0 * np.pi * np.arange(_RIM)[:, None] / _RIM
    rim = np.cos(angle) * first[:, None, :] + np.sin(angle) * second[:, None, :]
    return np.asarray(rim, dtype=np.float64)


def _section(middle: Array, axes: Array, normal: Array, rise: float) -> Array:
    """Points where an ellipsoid meets the plane; `normal` and `rise` are those of its ball."""
    radius = np.sqrt(max(0.0, 1.0 - rise**2))
    circle = _circles(normal[None, :])[0] * radius * _RIM_GROWTH - rise * normal
    return np.asarray(middle + axes * circle, dtype=np.float64)


def _projected(points: Array, plane: Plane, towards: Array) -> Array:
    """Shadows of points in the plane's axes, which may be skew, shape (2, directions, points)."""
    apart, rows = points - plane.origin, np.linalg.pinv(plane.axes)
    slope = (towards @ rows.T) / (towards @ plane.normal)[:, None]
    high = apart @ plane.normal
    flat = [apart @ row - own[:, None] * high for row, own in zip(rows, slope.T, strict=True)]
    return np.array(flat)
