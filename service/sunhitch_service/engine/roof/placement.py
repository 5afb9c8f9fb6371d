"""Check places of panels and feet, wherever they come from."""

from collections.abc import Iterable, Sequence

import numpy as np

from sunhitch.types.check import Check
from sunhitch_service.engine.rules import roof as rules

from .geometry import Rectangle, box_distance, free_distance
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
    free = free_distance(site.outline, panel.box)
    side = min(free, key=lambda s: free[s] - site.margins[s].metres)
    margin = site.margins[side]
    return rules.edge_margin(panel.name, side, free[side], margin.metres, margin.basis)


def _clearances(site: RoofSite, panel: Laid) -> list[Check]:
    """One check for the tightest obstacle and one for the tightest strip."""
    box = np.array([panel.box])
    found: list[Check] = []
    for judge, group in (
        (rules.obstacle_clearance, site.obstacles),
        (rules.free_strip, site.strips),
    ):
        if group:
            present = [float(k.distance(box)[0]) for k in group]
            spare = [here - k.clearance.metres for here, k in zip(present, group, strict=True)]
            at = int(np.argmin(spare))
            name, needed = group[at].name, group[at].clearance
            found.append(judge(panel.name, name, present[at], needed.metres, needed.basis))
    return found


def _gap(site: RoofSite, panel: Laid, others: Sequence[Laid]) -> list[Check]:
    if not others:
        return []
    gaps = box_distance(np.array([other.box for other in others]), panel.box)
    nearest = int(np.argmin(gaps))
    present, name = float(gaps[nearest]), others[nearest].name
    return [rules.panel_gap(panel.name, name, present, site.gap.metres, site.gap.basis)]


def _feet(site: RoofSite, panel: Laid, others: Sequence[Laid]) -> list[Check]:
    spaces = [free_distance(site.outline, Rectangle(*map(float, plate))) for plate in panel.plates]
    found = [rules.foot_edge(panel.name, min(min(space.values()) for space in spaces))]
    if site.obstacles:
        gaps = [float(k.distance(panel.plates).min()) for k in site.obstacles]
        nearest = int(np.argmin(gaps))
        found.append(rules.foot_obstacle(panel.name, site.obstacles[nearest].name, gaps[nearest]))
    return [*found, *_foot_line(site, panel), *_plate_meets_plate(panel, others)]


def _foot_line(site: RoofSite, panel: Laid) -> list[Check]:
    if not site.lines:
        return []
    present = [float(line.distance(panel.plates).min()) for line in site.lines]
    spare = [here - line.keep_off.metres for here, line in zip(present, site.lines, strict=True)]
    tightest = int(np.argmin(spare))
    line, needed = site.lines[tightest], site.lines[tightest].keep_off
    name = f"{line.feature} {line.name}"
    return [rules.foot_line(panel.name, name, present[tightest], needed.metres, needed.basis)]


def _plate_meets_plate(panel: Laid, others: Sequence[Laid]) -> list[Check]:
    footed = [(other.name, other.plates) for other in others if other.kind.feet is not None]
    if not footed:
        return []
    names = [name for name, plates in footed for _ in plates]
    around = np.concatenate([plates for _, plates in footed])
    gaps = np.min([box_distance(around, plate) for plate in panel.plates], axis=0)
    return [rules.foot_plates_apart(panel.name, names[int(np.argmin(gaps))], float(gaps.min()))]
