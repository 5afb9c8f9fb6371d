"""Find what contradicts itself in a roof and in what is put on it."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from sunhitch.types.roof import (
    Obstacle,
    PlacedPanel,
    Roof,
    RoofPanelType,
    RoofPolygon,
    RoofSpot,
    RoofStrip,
)
from sunhitch_service.engine.errors import Faults, Named, listed
from sunhitch_service.engine.rules.roof import TOLERANCE_M

from .geometry import Rectangle, covered, outline_polygon
from .panels import plug_sides
from .site import EDGE_MARGIN_M, FRONT_MARGIN_M, obstacle_box, strip_box

if TYPE_CHECKING:
    from shapely import Polygon


def roof_faults(roof: Roof, faults: Faults, pointer: str = "/roof") -> bool:
    """Note what contradicts itself in a roof.

    Parameters
    ----------
    roof : Roof
        As given.
    faults : Faults
        Takes every fault found.
    pointer : str
        JSON Pointer of the roof in the request.

    Returns
    -------
    bool
        Whether the outline is sound, so that panels can be compared with it.
    """
    outline = _outline(roof, faults, f"{pointer}/outline")
    if outline is None:
        return False
    _margins(roof, outline, faults, f"{pointer}/margins")
    for i, obstacle in enumerate(roof.obstacles):
        _obstacle_on_roof(obstacle, outline, faults, f"{pointer}/obstacles/{i}")
    for i, strip in enumerate(roof.walking_strips):
        _strip_on_roof(strip, outline, faults, f"{pointer}/walking_strips/{i}")
    if roof.cable_zone is not None:
        _strip_on_roof(roof.cable_zone, outline, faults, f"{pointer}/cable_zone")
    if isinstance(roof.cable_entry, RoofSpot):
        _entry(roof.cable_entry, roof.obstacles, outline, faults, f"{pointer}/cable_entry")
    _names(roof, faults, pointer)
    return True


def panel_type_faults(
    kinds: Sequence[RoofPanelType], roof: Roof, faults: Faults, pointer: str = "/panel_types"
) -> None:
    """Note panel types with the same name, or too large for the roof.

    Parameters
    ----------
    kinds : sequence of RoofPanelType
        As given.
    roof : Roof
        As given, with a sound outline.
    faults : Faults
        Takes every fault found.
    pointer : str
        JSON Pointer of the list.
    """
    faults.unique(listed(pointer, (kind.name for kind in kinds)))
    x1, y1, x2, y2 = outline_polygon(roof.outline).bounds
    for i, kind in enumerate(kinds):
        _size(kind, x2 - x1, y2 - y1, faults, f"{pointer}/{i}")


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
    faults.known(wanted, plug_edges, "panel type")
    for i, panel in enumerate(placed):
        if panel.panel_type not in plug_edges or panel.plugs_towards is None:
            continue
        around = plug_sides(plug_edges[panel.panel_type])
        sides = [side for k, side in enumerate(around) if (k % 2 == 1) == panel.rotated]
        faults.add_if(
            panel.plugs_towards not in sides,
            f"{pointer}/{i}/plugs_towards",
            f"Turned this way its leads look {' or '.join(sides)}.",
        )


def _outline(roof: Roof, faults: Faults, pointer: str) -> "Polygon | None":
    outline = roof.outline
    if isinstance(outline, RoofPolygon):
        return _polygon(outline, faults, pointer)
    cut = outline.front_corners
    limit = min(outline.width_m / 2, outline.length_m)
    if cut is not None and cut.size_m > limit + TOLERANCE_M:
        at = f"{pointer}/front_corners/size_m"
        faults.add(at, f"Two corners must fit side by side: at most {limit:.3f} m here.")
        return None
    return outline_polygon(outline)


def _polygon(outline: RoofPolygon, faults: Faults, pointer: str) -> "Polygon | None":
    polygon = outline_polygon(outline)
    if not polygon.is_valid or polygon.area < 0.01:
        message = "The outline must be a simple polygon: no crossing edges, no repeated corner, "
        faults.add(f"{pointer}/points", message + "at least 0.01 m² of area.")
        return None
    return polygon


def _margins(roof: Roof, outline: "Polygon", faults: Faults, pointer: str) -> None:
    x1, y1, x2, y2 = outline.bounds
    m = roof.margins
    front = FRONT_MARGIN_M if m.front_m is None else m.front_m
    rear = EDGE_MARGIN_M if m.rear_m is None else m.rear_m
    side = EDGE_MARGIN_M if m.side_m is None else m.side_m
    faults.add_if(
        front + rear >= x2 - x1,
        f"{pointer}/front_m",
        f"Front and rear margin together take {front + rear:.3f} m of {x2 - x1:.3f} m: "
        "nothing is left for panels.",
    )
    faults.add_if(
        2 * side >= y2 - y1,
        f"{pointer}/side_m",
        f"Both side margins together take {2 * side:.3f} m of {y2 - y1:.3f} m: "
        "nothing is left for panels.",
    )


def _on_roof(box: Rectangle, outline: "Polygon") -> bool:
    return bool(covered(outline, np.array([box]))[0])


def _obstacle_on_roof(obstacle: Obstacle, outline: "Polygon", faults: Faults, pointer: str) -> None:
    from shapely import box

    shape = box(*obstacle_box(obstacle))
    faults.add_if(
        not outline.intersects(shape),
        pointer,
        f"'{obstacle.name}' lies outside the roof, which spans {_span(outline)}.",
    )


def _strip_on_roof(strip: RoofStrip, outline: "Polygon", faults: Faults, pointer: str) -> None:
    from shapely import box

    overlap = outline.intersection(box(*strip_box(strip))).area
    faults.add_if(
        overlap <= TOLERANCE_M,
        pointer,
        f"'{strip.name}' lies outside the roof, which spans {_span(outline)}.",
    )


def _entry(
    entry: RoofSpot, obstacles: Sequence[Obstacle], outline: "Polygon", faults: Faults, pointer: str
) -> None:
    spot = Rectangle(entry.x_m, entry.y_m, entry.x_m, entry.y_m)
    on_roof = _on_roof(spot.grown(2 * TOLERANCE_M), outline)
    faults.add_if(not on_roof, pointer, f"Must lie on the roof, which spans {_span(outline)}.")
    for obstacle in obstacles:
        box = obstacle_box(obstacle)
        inside = box.x1 < entry.x_m < box.x2 and box.y1 < entry.y_m < box.y2
        faults.add_if(inside, pointer, f"Lies on obstacle '{obstacle.name}'; move one of them.")


def _names(roof: Roof, faults: Faults, pointer: str) -> None:
    zone = [] if roof.cable_zone is None else [roof.cable_zone.name]
    faults.unique(
        [
            *listed(f"{pointer}/obstacles", (obstacle.name for obstacle in roof.obstacles)),
            *listed(f"{pointer}/no_foot_lines", (line.name for line in roof.no_foot_lines)),
            *listed(f"{pointer}/walking_strips", (strip.name for strip in roof.walking_strips)),
            *(Named(f"{pointer}/cable_zone/name", name) for name in zone),
        ]
    )


def _size(kind: RoofPanelType, along: float, across: float, faults: Faults, pointer: str) -> None:
    length, width = kind.body.length_m, kind.body.width_m
    allowed = {
        "along": [(length, width)],
        "across": [(width, length)],
        "any": [(length, width), (width, length)],
    }[kind.orientation]
    fitting = [x <= along + TOLERANCE_M and y <= across + TOLERANCE_M for x, y in allowed]
    faults.add_if(
        not any(fitting),
        f"{pointer}/body",
        f"'{kind.name}' ({length:.3f} m × {width:.3f} m) is larger than the roof "
        f"({along:.3f} m × {across:.3f} m) in every orientation allowed.",
    )


def _span(outline: "Polygon") -> str:
    x1, y1, x2, y2 = outline.bounds
    return f"x {x1:.3f} to {x2:.3f} m and y {y1:.3f} to {y2:.3f} m"
