"""Cable runs along the roof: from each panel's plugs to the entry, around what is in the way.

Cables are laid square to the vehicle, with as few bends as the shortest way allows, on a grid of
lines that pass beside every obstacle and panel.
"""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise, takewhile

import numpy as np

from sunhitch.types.check import Check
from sunhitch_service.engine.arrays import Floats, Mask
from sunhitch_service.engine.rules.roof import TOLERANCE_M, Routing, cable_route, entry_room

from .geometry import Rectangle, box_distance, covered
from .grid import Grid, Spot, make_grid
from .panels import Laid
from .site import ENTRY_SPACE_M, RoofSite

CABLE_SPACE_M = 0.02
"""Between a cable and an obstacle: room for its sealed edge and a clip."""

_CABLE_RADIUS_M = 0.004


@dataclass(frozen=True, slots=True)
class PanelCable:
    """One panel's cable.

    Parameters
    ----------
    name : str
        Panel.
    points : tuple of tuple
        Corners from the plugs to the entry [m].
    to_entry_m, to_branch_m : float
        Length to the entry, and to the point where all cables have met [m].
    routing : str
        What it passes.
    """

    name: str
    points: tuple[Spot, ...]
    to_entry_m: float
    to_branch_m: float
    routing: Routing


@dataclass(frozen=True, slots=True)
class CableRoutes:
    """All cable runs.

    Parameters
    ----------
    entry : tuple of float
        Where cables pass through the roof [m].
    entry_chosen, entry_has_room : bool
        Whether the place was chosen here, and whether enough free roof surrounds it.
    branch : tuple of float
        Where all cables have met; the entry itself if they meet only there [m].
    trunk_m : float
        From there to the entry [m].
    routes : tuple of PanelCable
        One per panel, in the given order.
    """

    entry: Spot
    entry_chosen: bool
    entry_has_room: bool
    branch: Spot
    trunk_m: float
    routes: tuple[PanelCable, ...]


def cable_routes(
    site: RoofSite, panels: Sequence[Laid], beneath_panels: bool = False
) -> CableRoutes:
    """Lead every panel's cable to the entry, and choose the entry if none is given.

    A chosen entry lies in the cable zone if there is one, where all cables together are shortest.

    Parameters
    ----------
    site : RoofSite
        Roof; its entry is used if it has one.
    panels : sequence of Laid
        At least one panel.
    beneath_panels : bool
        Whether cables may run beneath panels.

    Returns
    -------
    CableRoutes
        The same for the same input; ties are broken by position.
    """
    zone = next((k.box for k in site.keep_outs if k.kind == "cable-zone"), None)
    grids = _grids(site, panels, beneath_panels, zone)
    entry = site.entry or next(_entries(site, panels, grids, zone))
    found = _paths(site, panels, grids, entry)
    trunk = _shared_end([points for points, _ in found])
    trunk_m = path_length(trunk)
    routes = tuple(
        PanelCable(
            panel.name,
            _corners(points),
            path_length(points),
            path_length(points) - trunk_m,
            routing,
        )
        for panel, (points, routing) in zip(panels, found, strict=True)
    )
    room = bool(_entry_room(site, panels, np.array([entry]))[0])
    return CableRoutes(entry, site.entry is None, room, trunk[0], trunk_m, routes)


def ways_between(site: RoofSite, panels: Sequence[Laid]) -> Floats:
    """Shortest way of a cable from the plugs of each panel to those of each other.

    Around what is in the way, as `cable_routes` leads them to the entry; beneath panels or across
    things only where there is no other.

    Parameters
    ----------
    site : RoofSite
        Roof.
    panels : sequence of Laid
        Panels at their places.

    Returns
    -------
    ndarray
        Shape (panels, panels) [m]; each bend counts a millimetre.
    """
    ways = np.full((len(panels), len(panels)), np.inf)
    for _, grid in _grids(site, panels, False, None):
        if np.isfinite(ways).all():
            break
        starts = [_start(site, panel, grid)[0] for panel in panels]
        off = np.array(
            [path_length([p.plug, spot]) for p, spot in zip(panels, starts, strict=True)]
        )
        found = np.array([grid.between(spot, starts) for spot in starts]) + off[:, None] + off
        ways = np.where(np.isfinite(ways), ways, found)
    np.fill_diagonal(ways, 0.0)
    return ways


def check_routes(found: CableRoutes) -> list[Check]:
    """One check per cable on what it must pass, and one on the entry's room."""
    room = entry_room(*found.entry, ENTRY_SPACE_M, is_free=found.entry_has_room)
    return [room, *(cable_route(route.name, route.routing) for route in found.routes)]


def path_length(points: Iterable[Spot]) -> float:
    """Length of a polyline [m]."""
    steps = np.diff(np.array(list(points)).reshape(-1, 2), axis=0)
    return float(np.hypot(steps[:, 0], steps[:, 1]).sum())


def _offset(site: RoofSite) -> float:
    return max(site.gap.metres / 2, _CABLE_RADIUS_M)


def _grids(
    site: RoofSite, panels: Sequence[Laid], beneath: bool, zone: Rectangle | None
) -> list[tuple[Routing, Grid]]:
    """Grids in the order in which they are tried, each with what its cables pass."""
    solid = [k.bounds.grown(CABLE_SPACE_M) for k in site.obstacles]
    spots = [spot for panel in panels for spot in (_exit(site, panel), panel.plug)]
    spots += [site.entry] if site.entry else _entry_lines(site, panels, zone)
    lines = [*solid, *[panel.box.grown(_offset(site)) for panel in panels]]
    roof = site.outline.buffer(10 * TOLERANCE_M, join_style="mitre")
    below = make_grid(lines, spots, solid, roof)
    across: tuple[Routing, Grid] = ("across-obstacles", make_grid(lines, spots, [], None))
    if beneath:
        return [("around", below), across]
    around = make_grid(lines, spots, lines, site.outline)
    return [("around", around), ("beneath-panels", below), across]


def _exit(site: RoofSite, panel: Laid) -> Spot:
    """Point just off the plugs, where the cable is free to turn."""
    x, y = panel.plug
    off = _offset(site)
    step = {"front": (-off, 0.0), "rear": (off, 0.0), "left": (0.0, -off), "right": (0.0, off)}
    dx, dy = step[panel.plugs_towards]
    return x + dx, y + dy


def _entry_lines(site: RoofSite, panels: Sequence[Laid], zone: Rectangle | None) -> list[Spot]:
    """Corners around things at the distance that an entry needs, so that the grid offers them."""
    things = [k.bounds for k in site.obstacles] + [panel.box for panel in panels]
    boxes = [thing.grown(ENTRY_SPACE_M) for thing in things]
    roof = zone or Rectangle(*site.outline.bounds)
    boxes.append(roof.grown(-min(ENTRY_SPACE_M, (roof.x2 - roof.x1) / 2, (roof.y2 - roof.y1) / 2)))
    return [corner for b in boxes for corner in ((b.x1, b.y1), (b.x2, b.y2))]


def _entries(
    site: RoofSite,
    panels: Sequence[Laid],
    grids: list[tuple[Routing, Grid]],
    zone: Rectangle | None,
) -> Iterator[Spot]:
    """Free grid points with the least cable in sum, the best first; across things there is one."""
    zone = zone or Rectangle(-math.inf, -math.inf, math.inf, math.inf)
    low, high = np.array(zone.grown(TOLERANCE_M)).reshape(2, 2)
    for _, grid in grids:
        nodes = grid.nodes
        within = ((nodes > low) & (nodes < high)).all(axis=1)
        total = sum((grid.distances(_exit(site, panel)) for panel in panels), np.zeros(len(nodes)))
        for allowed in (_entry_room(site, panels, nodes), grid.free):
            usable = allowed & np.isfinite(total) & within
            if usable.any():
                best = int(np.argmin(np.where(usable, np.round(total, 6), np.inf)))
                yield float(nodes[best, 0]), float(nodes[best, 1])


def _entry_room(site: RoofSite, panels: Sequence[Laid], nodes: Floats) -> Mask:
    """Where a gland has room: on the roof, clear of panels, obstacles and lines."""
    need = ENTRY_SPACE_M - TOLERANCE_M
    points = np.concatenate([nodes, nodes], axis=1)
    around = points + np.array([-need, -need, need, need])
    room: Mask = covered(site.outline, around)
    for panel in panels:
        room = room & (box_distance(points, panel.box) >= need)
    for thing in site.obstacles:
        room = room & (thing.distance(points) >= need)
    for line in site.lines:
        room = room & (line.distance(around) > 0.0)
    return np.asarray(room, dtype=np.bool_)


def _paths(
    site: RoofSite, panels: Sequence[Laid], grids: list[tuple[Routing, Grid]], entry: Spot
) -> list[tuple[list[Spot], Routing]]:
    """Every panel's route on the first grid that has one, from its plugs."""
    found: dict[int, tuple[list[Spot], Routing]] = {}
    for routing, grid in grids:
        left = [i for i in range(len(panels)) if i not in found]
        starts = [_start(site, panels[i], grid) for i in left]
        for i, path in zip(left, grid.paths(starts, entry) if left else [], strict=True):
            if path:
                plug = (round(panels[i].plug[0], 6), round(panels[i].plug[1], 6))
                found[i] = (_from(plug, path), routing)
    return [found[i] for i in range(len(panels))]


def _from(plug: Spot, path: list[Spot]) -> list[Spot]:
    """A route from the plugs, without going off them only to come back towards them."""
    back = sum(1 for _ in takewhile(lambda way: _between(plug, *way), pairwise(path)))
    return path[back:] if path[back] == plug else [plug, *path[back:]]


def _between(plug: Spot, off: Spot, point: Spot) -> bool:
    """Whether a point lies on the straight way from the plugs to a spot off them."""
    return all(min(a, b) <= c <= max(a, b) for a, b, c in zip(plug, off, point, strict=True))


def _start(site: RoofSite, panel: Laid, grid: Grid) -> tuple[Spot, bool]:
    """Where a cable begins, off the plugs if that is free, and whether it runs along x first."""
    beside = _exit(site, panel)
    return beside if grid.is_free(beside) else panel.plug, panel.plugs_towards in ("front", "rear")


def _shared_end(paths: Sequence[Sequence[Spot]]) -> list[Spot]:
    """The end that all paths have in common; with one path, only its last point."""
    backwards = zip(*(reversed(path) for path in paths), strict=False)
    shared = [spots[0] for spots in takewhile(lambda spots: len(set(spots)) == 1, backwards)]
    return shared[::-1] if len(paths) > 1 and shared else [paths[0][-1]]


def _corners(points: Sequence[Spot]) -> tuple[Spot, ...]:
    """The same polyline without points on straight runs."""
    runs = zip(points, points[1:], points[2:], strict=False)
    bends = [b for a, b, c in runs if not (a[0] == b[0] == c[0] or a[1] == b[1] == c[1])]
    return (points[0], *bends, points[-1])
