"""Check places of panels and feet, wherever they come from."""

from collections.abc import Callable, Iterable, Sequence

import numpy as np

from sunhitch.types.check import Check
from sunhitch.types.roof import Side
from sunhitch_service.engine.checks import Rule, check
from sunhitch_service.engine.sources import basis

from .geometry import TOLERANCE_M, Floats, Rectangle, box_distance, free_distance
from .panels import Laid
from .site import KeepOut, Length, RoofSite

_OPPOSITE: dict[Side, str] = {
    "front": "towards the rear",
    "rear": "towards the front",
    "left": "to the right",
    "right": "to the left",
}


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


def _judge(rule: Rule, needed: float, present: float) -> Check:
    """A distance that must be there; a negative one is the depth of an overlap."""
    ok = present >= needed - TOLERANCE_M
    used = 0.0 if needed <= TOLERANCE_M and ok else None
    if present > TOLERANCE_M:
        used = min(needed / present, 1.0) if ok else needed / present
    return check(rule, "pass" if ok else "fail", needed, present, used)


def _edge(site: RoofSite, panel: Laid) -> Check:
    free = free_distance(site.outline, panel.box)
    side = min(free, key=lambda s: free[s] - site.margins[s].metres)
    margin = site.margins[side]
    short = margin.metres - free[side]
    rule = Rule(
        "panel-edge-margin",
        f"Space between panel and {side} edge of the roof",
        "m",
        margin.basis,
        f"Move it {short:.3f} m {_OPPOSITE[side]}, or use a smaller panel.",
        panel.name,
    )
    return _judge(rule, margin.metres, free[side])


def _clearances(site: RoofSite, panel: Laid) -> list[Check]:
    """One check for the tightest obstacle and one for the tightest strip."""
    box = np.array([panel.box])
    found: list[Check] = []
    for code, title, group in (
        ("panel-obstacle-clearance", "Space between panel and", site.obstacles),
        ("panel-free-strip", "Panel stays out of", site.strips),
    ):
        if group:
            present = [float(k.distance(box)[0]) for k in group]
            spare = [here - k.clearance.metres for here, k in zip(present, group, strict=True)]
            at = int(np.argmin(spare))
            found.append(_clearance(code, title, panel, group[at], present[at]))
    return found


def _clearance(code: str, title: str, panel: Laid, around: KeepOut, present: float) -> Check:
    needed = around.clearance
    remedy = f"Move it {needed.metres - present:.3f} m away from {around.name}."
    rule = Rule(code, f"{title} {around.name}", "m", needed.basis, remedy, panel.name)
    return _judge(rule, needed.metres, present)


def _gap(site: RoofSite, panel: Laid, others: Sequence[Laid]) -> list[Check]:
    if not others:
        return []
    gaps = box_distance(np.array([other.box for other in others]), panel.box)
    nearest = int(np.argmin(gaps))
    present, name = float(gaps[nearest]), others[nearest].name
    remedy = f"Move {panel.name} and {name} {site.gap.metres - present:.3f} m further apart."
    rule = Rule("panel-gap", f"Gap to {name}", "m", site.gap.basis, remedy, panel.name)
    return [_judge(rule, site.gap.metres, present)]


def _feet(site: RoofSite, panel: Laid, others: Sequence[Laid]) -> list[Check]:
    found = [_foot_edge(site, panel)]
    keep_outs: list[tuple[str, Length, Callable[[Floats], Floats]]] = [
        (k.name, Length(0.0, basis("physics")), k.distance) for k in site.obstacles
    ]
    lines: list[tuple[str, Length, Callable[[Floats], Floats]]] = [
        (f"{line.feature} {line.name}", line.keep_off, line.distance) for line in site.lines
    ]
    found += _nearest_plate("foot-obstacle", panel, keep_outs)
    found += _nearest_plate("foot-line", panel, lines)
    found += _plate_meets_plate(panel, others)
    return found


def _foot_edge(site: RoofSite, panel: Laid) -> Check:
    spaces = [free_distance(site.outline, Rectangle(*map(float, plate))) for plate in panel.plates]
    present = min(min(space.values()) for space in spaces)
    rule = Rule(
        "foot-edge",
        "Foot plates lie on the roof with their whole area",
        "m",
        basis("physics"),
        f"Move the panel or its feet {-present:.3f} m inwards.",
        panel.name,
    )
    return _judge(rule, 0.0, present)


def _nearest_plate(
    code: str, panel: Laid, things: Sequence[tuple[str, Length, Callable[[Floats], Floats]]]
) -> list[Check]:
    if not things:
        return []
    present = [float(distance(panel.plates).min()) for _, _, distance in things]
    spare = [here - thing[1].metres for here, thing in zip(present, things, strict=True)]
    tightest = int(np.argmin(spare))
    name, needed, _ = things[tightest]
    remedy = f"Move the panel or the foot {-spare[tightest]:.3f} m away from {name}."
    rule = Rule(code, f"Foot plates keep off {name}", "m", needed.basis, remedy, panel.name)
    return [_judge(rule, needed.metres, present[tightest])]


def _plate_meets_plate(panel: Laid, others: Sequence[Laid]) -> list[Check]:
    footed = [(other.name, other.plates) for other in others if other.kind.feet is not None]
    if not footed:
        return []
    names = [name for name, plates in footed for _ in plates]
    around = np.concatenate([plates for _, plates in footed])
    gaps = np.min([box_distance(around, plate) for plate in panel.plates], axis=0)
    nearest = names[int(np.argmin(gaps))]
    remedy = f"Shift {panel.name} along its neighbour {nearest} until their plates pass each other."
    title = f"Foot plates pass those of {nearest}"
    rule = Rule("foot-plates-apart", title, "m", basis("physics"), remedy, panel.name)
    return [_judge(rule, 0.0, float(gaps.min()))]
