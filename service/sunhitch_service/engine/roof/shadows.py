"""Shadows that things on the roof cast on its plane."""

import math

from sunhitch.types.roof import Obstacle, RoundObstacle

from .site import obstacle_box

_SIDES = 24

Corners = list[tuple[float, float]]


def shadow_on_roof(obstacle: Obstacle, elevation_deg: float, from_front_deg: float) -> Corners:
    """Outline of an upright thing's shadow on the roof, the thing's own ground included.

    The top is the ground plan moved away from the sun by height / tan(elevation); what lies
    between both is in shade.

    Parameters
    ----------
    obstacle : Obstacle
        With its height above the roof.
    elevation_deg : float
        Height of the sun above the roof's plane, above 0 [°].
    from_front_deg : float
        Direction to the sun, from forward towards the right [°].

    Returns
    -------
    list of tuple of float
        Corners [m]; empty where the thing is flat.
    """
    from shapely import MultiPoint, get_coordinates

    if obstacle.height_m <= 0.0:
        return []
    reach = obstacle.height_m / math.tan(math.radians(elevation_deg))
    azimuth = math.radians(from_front_deg)
    # The sun stands towards -x when it is in front and towards +y when it is at the right.
    dx, dy = reach * math.cos(azimuth), -reach * math.sin(azimuth)
    ground = _ground(obstacle)
    hull = MultiPoint([*ground, *((x + dx, y + dy) for x, y in ground)]).convex_hull
    return [(float(x), float(y)) for x, y in get_coordinates(hull)[:-1]]


def _ground(obstacle: Obstacle) -> Corners:
    """Corners around the thing; a round one is enclosed, so that its shadow is not too small."""
    if isinstance(obstacle, RoundObstacle):
        radius = obstacle.diameter_m / 2 / math.cos(math.pi / _SIDES)
        angles = [2.0 * math.pi * k / _SIDES for k in range(_SIDES)]
        return [
            (obstacle.x_m + radius * math.cos(a), obstacle.y_m + radius * math.sin(a))
            for a in angles
        ]
    box = obstacle_box(obstacle)
    return [(box.x1, box.y1), (box.x1, box.y2), (box.x2, box.y2), (box.x2, box.y1)]
