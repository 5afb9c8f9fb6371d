"""The roof with every default filled in, ready for geometry."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from sunhitch.texts import Text, statement
from sunhitch.types.basis import Basis
from sunhitch.types.roof import NoFootLine, Obstacle, Roof, RoofSpot, RoofStrip, RoundObstacle, Side
from sunhitch_service.engine.arrays import Floats
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.sources import basis

from .geometry import (
    Rectangle,
    box_distance,
    disc_distance,
    line_distance,
    outline_polygon,
    turned_corners,
    turned_distance,
)

if TYPE_CHECKING:
    from shapely import LineString, Polygon

KeepOutKind = Literal["obstacle", "walking-strip", "cable-zone", "cable-entry"]

FRONT_MARGIN_M = 0.10
EDGE_MARGIN_M = 0.05
CLEARANCE_M = 0.05
KEEP_OFF_M = 0.02
GAP_M = 0.02

ENTRY_SPACE_M = 0.06
"""Radius around the cable entry that its gland, sealant and a hand need."""


@dataclass(frozen=True, slots=True)
class Length:
    """A required distance and where it comes from."""

    metres: float
    basis: Basis


@dataclass(frozen=True, slots=True)
class KeepOut:
    """A rectangle, turned or not, or disc of roof that panels must leave free.

    Parameters
    ----------
    name, kind : str
        As given.
    box : Rectangle
        Rectangle before it is turned, or the square around a disc [m].
    radius_m : float or None
        Radius of a disc [m]; None for a rectangle.
    clearance : Length
        Space that panels leave around it.
    height_m : float
        Height above the roof [m].
    turned_deg : float
        Of a rectangle about its middle, from x towards y [°].
    """

    name: str
    kind: KeepOutKind
    box: Rectangle
    radius_m: float | None
    clearance: Length
    height_m: float
    turned_deg: float = 0.0

    @property
    def corners(self) -> list[tuple[float, float]]:
        """Of a rectangle, or of the square around a disc, in order [m]."""
        return turned_corners(self.box, self.turned_deg)

    @property
    def bounds(self) -> Rectangle:
        """The rectangle along the axes around it [m]."""
        return bounds_of(self.corners)

    def distance(self, boxes: Floats) -> Floats:
        """Distance [m] to rectangles of shape (n, 4); negative where they overlap."""
        if self.radius_m is not None:
            return disc_distance(boxes, *self.box.centre, self.radius_m)
        if self.turned_deg:
            return turned_distance(boxes, self.corners)
        return box_distance(boxes, self.box)


@dataclass(frozen=True, slots=True)
class FootLine:
    """A line that foot plates keep off."""

    name: str
    feature: str
    course: "LineString"
    keep_off: Length

    def distance(self, plates: Floats) -> Floats:
        """Distance [m] from the line's middle to rectangles of shape (n, 4)."""
        return line_distance(self.course, plates)


@dataclass(frozen=True, slots=True)
class RoofSite:
    """Everything about the roof that a layout must respect.

    Parameters
    ----------
    outline : Polygon
        Roof outline [m].
    margins : dict
        Required space to the roof's edge by side.
    keep_outs : tuple of KeepOut
        Obstacles and strips.
    lines : tuple of FootLine
        Lines that feet avoid.
    gap : Length
        Smallest gap between panels, along x or y.
    entry : tuple of float or None
        Where cables pass through the roof [m]; None to have a place chosen.
    """

    outline: "Polygon"
    margins: dict[Side, Length]
    keep_outs: tuple[KeepOut, ...]
    lines: tuple[FootLine, ...]
    gap: Length
    entry: tuple[float, float] | None

    @property
    def obstacles(self) -> tuple[KeepOut, ...]:
        """Only what stands on the roof."""
        return tuple(k for k in self.keep_outs if k.kind == "obstacle")

    @property
    def strips(self) -> tuple[KeepOut, ...]:
        """What is kept free without standing on the roof: strips, cable zone and entry."""
        return tuple(k for k in self.keep_outs if k.kind != "obstacle")

    def without(self, obstacle: KeepOut) -> "RoofSite":
        """The same roof with one obstacle elsewhere."""
        return replace(self, keep_outs=tuple(k for k in self.keep_outs if k is not obstacle))


def resolve_site(roof: Roof, min_gap_m: float | None, assume: Assumptions) -> RoofSite:
    """Fill in every default of a roof and note it.

    Parameters
    ----------
    roof : Roof
        As given.
    min_gap_m : float or None
        Smallest gap between panels [m].
    assume : Assumptions
        Takes a note of every default.

    Returns
    -------
    RoofSite
        Ready for geometry.
    """
    entry = roof.cable_entry
    return RoofSite(
        outline=outline_polygon(roof.outline),
        margins=_margins(roof, assume),
        keep_outs=_keep_outs(roof, assume),
        lines=tuple(
            _line(line, assume, f"/roof/no_foot_lines/{i}")
            for i, line in enumerate(roof.no_foot_lines)
        ),
        gap=_length(assume, "/min_gap_m", min_gap_m, GAP_M, statement("room-for-movement")),
        entry=None if isinstance(entry, str) else (entry.x_m, entry.y_m),
    )


def _length(
    assume: Assumptions, pointer: str, given: float | None, default: float, why: Text
) -> Length:
    source = basis("practice") if given is None else basis("given")
    return Length(assume.choose(pointer, given, default, why), source)


def _margins(roof: Roof, assume: Assumptions) -> dict[Side, Length]:
    edge = statement("room-for-trim")
    front = statement("wind-behind-front")
    at = "/roof/margins"
    side = _length(assume, f"{at}/side_m", roof.margins.side_m, EDGE_MARGIN_M, edge)
    return {
        "front": _length(assume, f"{at}/front_m", roof.margins.front_m, FRONT_MARGIN_M, front),
        "rear": _length(assume, f"{at}/rear_m", roof.margins.rear_m, EDGE_MARGIN_M, edge),
        "left": side,
        "right": side,
    }


def _keep_outs(roof: Roof, assume: Assumptions) -> tuple[KeepOut, ...]:
    found = [
        _obstacle(obstacle, assume, f"/roof/obstacles/{i}")
        for i, obstacle in enumerate(roof.obstacles)
    ]
    kept_free: tuple[tuple[KeepOutKind, Sequence[RoofStrip]], ...] = (
        ("walking-strip", roof.walking_strips),
        ("cable-zone", [roof.cable_zone] if roof.cable_zone else []),
    )
    none = Length(0.0, basis("given"))
    found += [
        KeepOut(strip.name, kind, strip_box(strip), None, none, 0.0)
        for kind, strips in kept_free
        for strip in strips
    ]
    if isinstance(entry := roof.cable_entry, RoofSpot):
        box = Rectangle(entry.x_m, entry.y_m, entry.x_m, entry.y_m).grown(ENTRY_SPACE_M)
        room = Length(0.0, basis("practice"))
        name = statement("cable-entry")
        found.append(KeepOut(name, "cable-entry", box, ENTRY_SPACE_M, room, 0.0))
    return tuple(found)


def _obstacle(given: Obstacle, assume: Assumptions, pointer: str) -> KeepOut:
    why = statement("room-to-reseal")
    clearance = _length(assume, f"{pointer}/clearance_m", given.clearance_m, CLEARANCE_M, why)
    box, turned_deg = _box(given)
    radius = given.diameter_m / 2 if isinstance(given, RoundObstacle) else None
    return KeepOut(given.name, "obstacle", box, radius, clearance, given.height_m, turned_deg)


def _box(obstacle: Obstacle) -> tuple[Rectangle, float]:
    """The rectangle that an obstacle fills, or the square around a round one, and its turn [°]."""
    x, y = obstacle.x_m, obstacle.y_m
    if isinstance(obstacle, RoundObstacle):
        return Rectangle(x, y, x, y).grown(obstacle.diameter_m / 2), 0.0
    return Rectangle(x, y, x + obstacle.length_m, y + obstacle.width_m), obstacle.turned_deg


def obstacle_corners(obstacle: Obstacle) -> list[tuple[float, float]]:
    """Corners [m] of an obstacle, or of the square around a round one, in order."""
    return turned_corners(*_box(obstacle))


def bounds_of(corners: Sequence[tuple[float, float]]) -> Rectangle:
    """The rectangle along the axes around points [m]."""
    xs, ys = zip(*corners, strict=True)
    return Rectangle(min(xs), min(ys), max(xs), max(ys))


def strip_box(strip: RoofStrip) -> Rectangle:
    """The rectangle of a strip."""
    return Rectangle(strip.x_m, strip.y_m, strip.x_m + strip.length_m, strip.y_m + strip.width_m)


def _line(line: NoFootLine, assume: Assumptions, pointer: str) -> FootLine:
    from shapely import LineString

    why = statement("plate-needs-flat-skin")
    keep_off = _length(assume, f"{pointer}/keep_off_m", line.keep_off_m, KEEP_OFF_M, why)
    return FootLine(line.name, line.feature, LineString(line.points), keep_off)
