"""Panels as planes in space: where they lie when the vehicle stands in a given way.

Vehicle axes are x rearwards, y to the right, z up from the ground, level; the roof is tilted in
them by pitch and roll, and a crowned roof turns each panel outwards.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sunhitch.types.roof import Roof
from sunhitch_service.engine.roof.geometry import outline_points
from sunhitch_service.engine.roof.panels import Laid
from sunhitch_service.engine.sky import Array, SunPosition


@dataclass(frozen=True, slots=True)
class RoofFrame:
    """The roof as a whole.

    Parameters
    ----------
    centre_x, centre_y : float
        Its middle [m].
    width : float
        Between its sides [m].
    crown : float
        How much higher the middle is than the sides [m].
    height : float
        Sides above the ground [m].
    """

    centre_x: float
    centre_y: float
    width: float
    crown: float
    height: float


@dataclass(frozen=True, slots=True)
class Stance:
    """How the vehicle stands: heading, pitch and roll [°]."""

    heading_deg: float
    pitch_deg: float
    roll_deg: float


@dataclass(frozen=True, slots=True)
class Plane:
    """A plane with axes along the roof.

    Parameters
    ----------
    origin : tuple of float
        A point of it [m]: where x = y = 0 of the roof lies.
    slope_x, slope_y : float
        Rise per metre along x and y [1].
    """

    origin: tuple[float, float, float]
    slope_x: float
    slope_y: float

    @property
    def axes(self) -> Array:
        """Unit vectors along the roof's x and y, as columns, shape (3, 2)."""
        a = np.array([1.0, 0.0, self.slope_x]) / math.hypot(1.0, self.slope_x)
        b = np.array([0.0, 1.0, self.slope_y]) / math.hypot(1.0, self.slope_y)
        return np.stack([a, b], axis=1)

    @property
    def normal(self) -> Array:
        """Unit vector away from the roof, shape (3,)."""
        n = np.array([-self.slope_x, -self.slope_y, 1.0])
        return np.asarray(n / np.linalg.norm(n), dtype=np.float64)

    @property
    def tilt_deg(self) -> float:
        """Angle against the horizontal [°]."""
        return math.degrees(math.atan(math.hypot(self.slope_x, self.slope_y)))

    def azimuth_deg(self, heading_deg: float) -> float:
        """Where it looks, clockwise from north [°]."""
        rearwards, right = -self.slope_x, -self.slope_y
        return (heading_deg + math.degrees(math.atan2(right, -rearwards))) % 360.0


def roof_frame(roof: Roof, height_m: float) -> RoofFrame:
    """Middle, width and height of a roof.

    Parameters
    ----------
    roof : Roof
        Outline and crown.
    height_m : float
        Above the ground [m].

    Returns
    -------
    RoofFrame
        From the outline's extent.
    """
    x, y = np.array(outline_points(roof.outline)).T
    return RoofFrame(
        float(0.5 * (x.min() + x.max())),
        float(0.5 * (y.min() + y.max())),
        float(y.max() - y.min()),
        roof.crown_height_m,
        height_m,
    )


def plane_of(panel: Laid, frame: RoofFrame, stance: Stance, lift_m: float) -> Plane:
    """The plane of a panel's cells.

    Parameters
    ----------
    panel : Laid
        At its place.
    frame : RoofFrame
        The roof.
    stance : Stance
        How the vehicle stands.
    lift_m : float
        Of the panel above the roof [m].

    Returns
    -------
    Plane
        Panels at the same distance from the middle line share one where the roof is crowned.
    """
    half = 0.5 * frame.width
    across = min(max((panel.box.centre[1] - frame.centre_y) / half, -1.0), 1.0)
    slope_x = -math.tan(math.radians(stance.pitch_deg))
    slope_y = -math.tan(math.radians(stance.roll_deg)) - 2.0 * frame.crown * across / half
    rise = frame.crown * (1.0 - across**2) + lift_m
    middle_y = frame.centre_y + across * half if frame.crown else frame.centre_y
    tilted = -math.tan(math.radians(stance.roll_deg)) * (middle_y - frame.centre_y)
    # The roof's own coordinates are distances along it, and zero at the origin.
    along_x = frame.centre_x / math.hypot(1.0, slope_x)
    along_y = middle_y / math.hypot(1.0, slope_y)
    base = frame.height + rise + tilted - along_x * slope_x - along_y * slope_y
    return Plane((frame.centre_x - along_x, middle_y - along_y, base), slope_x, slope_y)


def towards_sun(sun: SunPosition, heading_deg: float) -> Array:
    """Unit vectors towards the sun in vehicle axes.

    Parameters
    ----------
    sun : SunPosition
        Positions.
    heading_deg : float
        Where the vehicle's front looks [°].

    Returns
    -------
    ndarray, shape (times, 3)
        x rearwards, y right, z up.
    """
    zenith = np.radians(sun.apparent_zenith_deg)
    return directions(zenith, np.radians(sun.azimuth_deg - heading_deg))


def directions(zenith: Array, from_front: Array) -> Array:
    """Unit vectors by angle from the vertical and clockwise from the vehicle's front [rad]."""
    level = np.sin(zenith)
    return np.stack(
        [-level * np.cos(from_front), level * np.sin(from_front), np.cos(zenith)], axis=-1
    )


def distinct_planes(planes: Sequence[Plane]) -> list[tuple[Plane, list[int]]]:
    """Equal planes once, with the panels that lie in them."""
    found: dict[Plane, list[int]] = {}
    for index, plane in enumerate(planes):
        found.setdefault(plane, []).append(index)
    return list(found.items())
