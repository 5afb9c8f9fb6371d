"""Check places of panels and feet, wherever they come from."""

from collections.abc import Iterable, Sequence

import numpy as np

from sunhitch.texts import statement
from sunhitch.types.check import Check
from sunhitch_service.engine.rules.roof import distance

from .geometry import box_distance, free_distances
from .panels import Laid
from .site import RoofSite


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
        others = [other for other in panels if other is not panel]
        found.append(_edge(site, panel))
        found += _clearances(site, panel)
        found += _gap(site, panel, others)
        if panel.kind.feet is not None:
            found += _feet(site, panel, others)
    return found


def fits(checks: Iterable[Check]) -> bool:
    """Whether no check failed."""
    return all(item.verdict != "fail" for item in checks)


def _edge(site: RoofSite, panel: Laid) -> Check:
    (free,) = free_distances(site.outline, np.array([panel.box]))
    side = min(free, key=lambda s: free[s] - site.margins[s].metres)
    margin = site.margins[side]
    told = {"edge": side, "remedy": side}
    room = free[side], margin.metres, margin.basis
    return distance("panel-edge-margin", panel.name, told, *room)


def _clearances(site: RoofSite, panel: Laid) -> list[Check]:
    """One check for the tightest obstacle and one for the tightest strip."""
    box = np.array([panel.box])
    found: list[Check] = []
    for code, what, group in (
        ("panel-obstacle-clearance", "obstacle", site.obstacles),
        ("panel-free-strip", "strip", site.strips),
    ):
        if group:
            present = [float(k.distance(box)[0]) for k in group]
            spare = [here - k.clearance.metres for here, k in zip(present, group, strict=True)]
            at = int(np.argmin(spare))
            name, needed = group[at].name, group[at].clearance
            room = present[at], needed.metres, needed.basis
            found.append(distance(code, panel.name, {what: name}, *room))
    return found


def _gap(site: RoofSite, panel: Laid, others: Sequence[Laid]) -> list[Check]:
    if not others:
        return []
    gaps = box_distance(np.array([other.box for other in others]), panel.box)
    nearest = int(np.argmin(gaps))
    present, name = float(gaps[nearest]), others[nearest].name
    room = present, site.gap.metres, site.gap.basis
    return [distance("panel-gap", panel.name, {"neighbour": name}, *room)]


def _feet(site: RoofSite, panel: Laid, others: Sequence[Laid]) -> list[Check]:
    spaces = free_distances(site.outline, panel.plates)
    found = [distance("foot-edge", panel.name, {}, min(min(space.values()) for space in spaces))]
    if site.obstacles:
        gaps = [float(k.distance(panel.plates).min()) for k in site.obstacles]
        nearest = int(np.argmin(gaps))
        name = site.obstacles[nearest].name
        found.append(distance("foot-obstacle", panel.name, {"obstacle": name}, gaps[nearest]))
    return [*found, *_foot_line(site, panel), *_plate_meets_plate(panel, others)]


def _foot_line(site: RoofSite, panel: Laid) -> list[Check]:
    if not site.lines:
        return []
    present = [float(line.distance(panel.plates).min()) for line in site.lines]
    spare = [here - line.keep_off.metres for here, line in zip(present, site.lines, strict=True)]
    tightest = int(np.argmin(spare))
    line, needed = site.lines[tightest], site.lines[tightest].keep_off
    name = statement("feature-of", kind=line.feature, name=line.name)
    room = present[tightest], needed.metres, needed.basis
    return [distance("foot-line", panel.name, {"line": name}, *room)]


def _plate_meets_plate(panel: Laid, others: Sequence[Laid]) -> list[Check]:
    footed = [(other.name, other.plates) for other in others if other.kind.feet is not None]
    if not footed:
        return []
    names = [name for name, plates in footed for _ in plates]
    around = np.concatenate([plates for _, plates in footed])
    gaps = np.min([box_distance(around, plate) for plate in panel.plates], axis=0)
    name = names[int(np.argmin(gaps))]
    return [distance("foot-plates-apart", panel.name, {"neighbour": name}, float(gaps.min()))]
