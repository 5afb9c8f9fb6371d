"""Check places of panels and feet, wherever they come from."""

from collections.abc import Iterable, Sequence

import numpy as np

from sunhitch.texts import statement
from sunhitch.types.check import Check
from sunhitch_service.engine.rules.roof import distance

from .geometry import SIDES, box_distance, free_distances, has_room
from .panels import Laid
from .site import Length, RoofSite


def check_placements(site: RoofSite, panels: Sequence[Laid]) -> list[Check]:
    """Judge every panel's place.

    Parameters
    ----------
    site : RoofSite
        Roof with its margins, obstacles, lines and gap.
    panels : sequence of Laid
        Panels at their places.

    Returns
    -------
    list of Check
        Per panel: roof edge, nearest obstacle, strips, nearest panel, and its feet.
    """
    found: list[Check] = []
    for panel in panels:
        found += check_place(site, panel, [other for other in panels if other is not panel])
    return found


def check_place(site: RoofSite, panel: Laid, others: Sequence[Laid]) -> list[Check]:
    """Judge one panel's place among the others."""
    found = [_edge(site, panel), *_beside(site, panel, others)]
    return found if panel.kind.feet is None else [*found, *_feet(site, panel, others)]


def fits(checks: Iterable[Check]) -> bool:
    """Whether no check failed."""
    return all(item.verdict != "fail" for item in checks)


def _tightest(
    code: str, panel: Laid, what: str, near: Sequence[tuple[float, Length | None, str]]
) -> list[Check]:
    """One check on what lacks most of its distance; none where there is nothing.

    Each has its distance [m], what is needed of it, none where touching is enough, and a name.
    """
    if not near:
        return []
    present, needed, name = min(near, key=lambda one: one[0] - (one[1].metres if one[1] else 0.0))
    if needed is None:
        return [distance(code, panel.name, {what: name}, present)]
    return [distance(code, panel.name, {what: name}, present, needed.metres, needed.basis)]


def _edge(site: RoofSite, panel: Laid) -> Check:
    (free,) = free_distances(site.outline, np.array([panel.box]))
    side = min(free, key=lambda s: free[s] - site.margins[s].metres)
    margin = site.margins[side]
    fails = free[side] < margin.metres
    told = {"edge": side, "remedy": (fails and _too_large(site, panel)) or side}
    return distance("panel-edge-margin", panel.name, told, free[side], margin.metres, margin.basis)


def _too_large(site: RoofSite, panel: Laid) -> str:
    """What helps a panel for which no move does; empty where one may."""
    x1, y1, x2, y2 = panel.box
    along_m, across_m = x2 - x1, y2 - y1
    more_m = [sum(site.margins[s].metres for s in pair) for pair in (SIDES[:2], SIDES[2:])]
    lies, turned = (
        has_room(site.outline, a + more_m[0], b + more_m[1])
        for a, b in ((along_m, across_m), (across_m, along_m))
    )
    if lies:
        return ""
    return "turned" if turned else "too-large"


def _beside(site: RoofSite, panel: Laid, others: Sequence[Laid]) -> list[Check]:
    """The tightest obstacle, strip and neighbour."""
    box = np.array([panel.box])
    obstacles, strips = (
        [(float(k.distance(box)[0]), k.clearance, k.name) for k in group]
        for group in (site.obstacles, site.strips)
    )
    gaps = [(float(box_distance(box, other.box)[0]), site.gap, other.name) for other in others]
    return [
        *_tightest("panel-obstacle-clearance", panel, "obstacle", obstacles),
        *_tightest("panel-free-strip", panel, "strip", strips),
        *_tightest("panel-gap", panel, "neighbour", gaps),
    ]


def _feet(site: RoofSite, panel: Laid, others: Sequence[Laid]) -> list[Check]:
    own = panel.plates
    spaces = free_distances(site.outline, own)
    obstacles = [(float(k.distance(own).min()), None, k.name) for k in site.obstacles]
    lines = [
        (
            float(line.distance(own).min()),
            line.keep_off,
            statement("feature-of", kind=line.feature, name=line.name),
        )
        for line in site.lines
    ]
    footed = [(other.plates, other.name) for other in others if other.kind.feet is not None]
    plates = [
        (float(min(box_distance(theirs, plate).min() for plate in own)), None, name)
        for theirs, name in footed
    ]
    return [
        distance("foot-edge", panel.name, {}, min(min(space.values()) for space in spaces)),
        *_tightest("foot-obstacle", panel, "obstacle", obstacles),
        *_tightest("foot-line", panel, "line", lines),
        *_tightest("foot-plates-apart", panel, "neighbour", plates),
    ]
