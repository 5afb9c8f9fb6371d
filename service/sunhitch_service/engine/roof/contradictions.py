"""Find what contradicts itself in a roof and in what is put on it."""

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from sunhitch.types.roof import (
    Obstacle,
    PlacedPanel,
    Roof,
    RoofPanelType,
    RoofRectangle,
    RoofSpot,
    Support,
)
from sunhitch_service.engine.errors import Faults, Named, listed
from sunhitch_service.engine.rules.roof import TOLERANCE_M
from sunhitch_service.engine.statics import in_a_line

from .geometry import Rectangle, covered, outline_polygon
from .panels import plug_sides
from .site import EDGE_MARGIN_M, FRONT_MARGIN_M, obstacle_corners, strip_box

if TYPE_CHECKING:
    from shapely import Polygon


def roof_faults(roof: Roof, faults: Faults) -> bool:
    """Note what contradicts itself in a roof.

    Parameters
    ----------
    roof : Roof
        As given.
    faults : Faults
        Takes every fault found.

    Returns
    -------
    bool
        Whether the outline is sound, so that panels can be compared with it.
    """
    outline = _outline(roof, faults)
    if outline is None:
        return False
    _margins(roof, outline, faults)
    _things(roof, outline, faults)
    if isinstance(roof.cable_entry, RoofSpot):
        _entry(roof.cable_entry, roof.obstacles, outline, faults)
    return True


def panel_type_faults(kinds: Sequence[RoofPanelType], roof: Roof, faults: Faults) -> None:
    """Note panel types with the same name, or too large for the roof.

    Parameters
    ----------
    kinds : sequence of RoofPanelType
        As given.
    roof : Roof
        As given, with a sound outline.
    faults : Faults
        Takes every fault found.
    """
    faults.unique(listed("/panel_types", (kind.name for kind in kinds)))
    x1, y1, x2, y2 = outline_polygon(roof.outline).bounds
    for i, kind in enumerate(kinds):
        _size(kind, x2 - x1, y2 - y1, faults, f"/panel_types/{i}")


def placed_faults(
    placed: Sequence[PlacedPanel],
    plug_edges: Mapping[str, str | None],
    faults: Faults,
    pointer: str = "/placements",
) -> None:
    """Note unknown types, names used twice, and plugs that cannot look that way.

    Parameters
    ----------
    placed : sequence of PlacedPanel
        As given.
    plug_edges : mapping
        Edge that the leads leave, by the name of each type that may be used.
    faults : Faults
        Takes every fault found.
    pointer : str
        JSON Pointer of the list of placed panels.
    """
    faults.unique(listed(pointer, (panel.name for panel in placed)))
    wanted = listed(pointer, (panel.panel_type for panel in placed), "panel_type")
    faults.known(wanted, plug_edges, "panel-type")
    for i, panel in enumerate(placed):
        if panel.panel_type not in plug_edges or panel.plugs_towards is None:
            continue
        around = plug_sides(plug_edges[panel.panel_type])
        sides = [side for k, side in enumerate(around) if (k % 2 == 1) == panel.rotated]
        faults.add_if(
            panel.plugs_towards not in sides,
            f"{pointer}/{i}/plugs_towards",
            "leads-look-aside",
            one_side=sides[0],
            other_side=sides[1],
        )


def number_faults(
    kinds: Iterable[tuple[str, int | None]], placed: Sequence[PlacedPanel], faults: Faults
) -> None:
    """Note types of which another number is wanted than is placed.

    Parameters
    ----------
    kinds : iterable of tuple
        Name and wanted number of each type, in the request's order.
    placed : sequence of PlacedPanel
        As given.
    faults : Faults
        Takes every fault found.
    """
    for index, (name, wanted) in enumerate(kinds):
        number = sum(panel.panel_type == name for panel in placed)
        faults.add_if(
            wanted is not None and wanted != number,
            f"/panel_types/{index}/panels_wanted",
            "placements-and-number",
            placed=number,
            name=name,
        )


def support_faults(supports: Sequence[Support], faults: Faults, pointer: str) -> None:
    """Note supports of one name, and such as balance no load.

    Parameters
    ----------
    supports : sequence of Support
        Wheels and hitch; none is no fault.
    faults : Faults
        Takes what is wrong.
    pointer : str
        JSON Pointer of the list.
    """
    faults.unique(listed(pointer, (support.name for support in supports)))
    places = np.array([[one.x_m, one.y_m] for one in supports]).reshape(-1, 2)
    faults.add_if(
        bool(supports) and bool(in_a_line(places)), pointer, "supports-of-vehicle-in-line"
    )


def _outline(roof: Roof, faults: Faults) -> "Polygon | None":
    outline = roof.outline
    if isinstance(outline, RoofRectangle):
        cut, limit = outline.front_corners, min(outline.width_m / 2, outline.length_m)
        wrong = cut is not None and cut.size_m > limit + TOLERANCE_M
        faults.add_if(
            wrong, "/roof/outline/front_corners/size_m", "corners-too-large", most_m=limit
        )
        return None if wrong else outline_polygon(outline)
    polygon = outline_polygon(outline)
    wrong = not polygon.is_valid or polygon.area < 0.01
    faults.add_if(wrong, "/roof/outline/points", "roof-outline-not-simple")
    return None if wrong else polygon


def _margins(roof: Roof, outline: "Polygon", faults: Faults) -> None:
    x1, y1, x2, y2 = outline.bounds
    m = roof.margins
    front = FRONT_MARGIN_M if m.front_m is None else m.front_m
    rear = EDGE_MARGIN_M if m.rear_m is None else m.rear_m
    side = EDGE_MARGIN_M if m.side_m is None else m.side_m
    for field, code, taken, there in (
        ("front_m", "front-margins-too-wide", front + rear, x2 - x1),
        ("side_m", "side-margins-too-wide", 2 * side, y2 - y1),
    ):
        faults.add_if(
            taken >= there,
            f"/roof/margins/{field}",
            code,
            taken_m=taken,
            there_m=there,
        )


def _things(roof: Roof, outline: "Polygon", faults: Faults) -> None:
    """What lies off the roof, obstacles that touch it aside, and names that stand twice."""
    from shapely import Polygon, box

    zone = [] if roof.cable_zone is None else [roof.cable_zone]
    things = [
        (f"obstacles/{i}", obstacle.name, Polygon(obstacle_corners(obstacle)))
        for i, obstacle in enumerate(roof.obstacles)
    ]
    strips = [(f"walking_strips/{i}", strip) for i, strip in enumerate(roof.walking_strips)]
    strips += [("cable_zone", strip) for strip in zone]
    things += [(at, strip.name, box(*strip_box(strip))) for at, strip in strips]
    for at, name, shape in things:
        least = -1.0 if at.startswith("obstacles") else TOLERANCE_M
        faults.add_if(
            not outline.intersects(shape) or outline.intersection(shape).area <= least,
            f"/roof/{at}",
            "off-the-roof",
            name=name,
            span=_span(outline),
        )
    faults.unique(
        [
            *listed("/roof/obstacles", (obstacle.name for obstacle in roof.obstacles)),
            *listed("/roof/no_foot_lines", (line.name for line in roof.no_foot_lines)),
            *(Named(f"/roof/{at}/name", strip.name) for at, strip in strips),
        ]
    )


def _entry(
    entry: RoofSpot, obstacles: Sequence[Obstacle], outline: "Polygon", faults: Faults
) -> None:
    from shapely import Point, Polygon

    pointer = "/roof/cable_entry"
    spot = Rectangle(entry.x_m, entry.y_m, entry.x_m, entry.y_m).grown(2 * TOLERANCE_M)
    on_roof = covered(outline, np.array([spot])).all()
    faults.add_if(not on_roof, pointer, "spot-off-the-roof", span=_span(outline))
    for obstacle in obstacles:
        inside = Polygon(obstacle_corners(obstacle)).contains(Point(entry.x_m, entry.y_m))
        faults.add_if(inside, pointer, "on-obstacle", name=obstacle.name)


def _size(kind: RoofPanelType, along: float, across: float, faults: Faults, pointer: str) -> None:
    length, width = kind.body.length_m, kind.body.width_m
    sizes = {"along": (length, width), "across": (width, length)}
    allowed = [size for turn, size in sizes.items() if kind.orientation in (turn, "any")]
    fitting = [x <= along + TOLERANCE_M and y <= across + TOLERANCE_M for x, y in allowed]
    faults.add_if(
        not any(fitting),
        f"{pointer}/body",
        "panel-larger-than-roof",
        name=kind.name,
        length_m=length,
        width_m=width,
        along_m=along,
        across_m=across,
    )


def _span(outline: "Polygon") -> str:
    x1, y1, x2, y2 = outline.bounds
    return f"x {x1:.3f} to {x2:.3f} m and y {y1:.3f} to {y2:.3f} m"
