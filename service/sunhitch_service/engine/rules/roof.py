"""Rules on the places of panels, feet and cables on a roof."""

from typing import Literal, NamedTuple

from sunhitch.types.basis import Basis
from sunhitch.types.check import Check
from sunhitch.types.roof import Side

from .judging import at_least, at_most, check
from .limits import limit
from .rule import Rule, rule

TOLERANCE_M = 1e-6
"""Distances shorter than this are rounding, not space."""

Routing = Literal["around", "beneath-panels", "across-obstacles"]
ROUTINGS: tuple[Routing, ...] = ("around", "beneath-panels", "across-obstacles")
"""What a cable must do to get to the entry, worst last."""


def edge_margin(panel: str, edge: Side, present_m: float, needed_m: float, basis: Basis) -> Check:
    """Space between a panel and the roof's edge that it comes nearest to."""
    short = needed_m - present_m
    told = rule("panel-edge-margin", panel, basis=basis, remedy=edge, edge=edge, short_m=short)
    return _distance(told, present_m, needed_m)


def obstacle_clearance(
    panel: str, obstacle: str, present_m: float, needed_m: float, basis: Basis
) -> Check:
    """Space between a panel and the obstacle that it comes nearest to."""
    told = rule(
        "panel-obstacle-clearance",
        panel,
        basis=basis,
        obstacle=obstacle,
        short_m=needed_m - present_m,
    )
    return _distance(told, present_m, needed_m)


def free_strip(panel: str, strip: str, present_m: float, needed_m: float, basis: Basis) -> Check:
    """Space between a panel and a strip that must stay free."""
    told = rule("panel-free-strip", panel, basis=basis, strip=strip, short_m=needed_m - present_m)
    return _distance(told, present_m, needed_m)


def panel_gap(panel: str, neighbour: str, present_m: float, needed_m: float, basis: Basis) -> Check:
    """Gap between a panel and its nearest neighbour."""
    told = rule(
        "panel-gap",
        panel,
        basis=basis,
        panel=panel,
        neighbour=neighbour,
        short_m=needed_m - present_m,
    )
    return _distance(told, present_m, needed_m)


def foot_edge(panel: str, present_m: float) -> Check:
    """Space between a panel's foot plates and the roof's edge; negative beyond it."""
    return _distance(rule("foot-edge", panel, short_m=-present_m), present_m, 0.0)


def foot_obstacle(panel: str, obstacle: str, present_m: float) -> Check:
    """Space between a panel's foot plates and the nearest obstacle."""
    told = rule("foot-obstacle", panel, obstacle=obstacle, short_m=-present_m)
    return _distance(told, present_m, 0.0)


def foot_line(panel: str, line: str, present_m: float, needed_m: float, basis: Basis) -> Check:
    """Space between a panel's foot plates and the nearest seam or other line."""
    told = rule("foot-line", panel, basis=basis, line=line, short_m=needed_m - present_m)
    return _distance(told, present_m, needed_m)


def foot_plates_apart(panel: str, neighbour: str, present_m: float) -> Check:
    """Space between a panel's foot plates and those of its nearest neighbour."""
    told = rule("foot-plates-apart", panel, panel=panel, neighbour=neighbour)
    return _distance(told, present_m, 0.0)


def _distance(told: Rule, present_m: float, needed_m: float) -> Check:
    """A distance that must be there; a negative one is the depth of an overlap."""
    ok = present_m >= needed_m - TOLERANCE_M
    used = 0.0 if needed_m <= TOLERANCE_M and ok else None
    if present_m > TOLERANCE_M:
        used = min(needed_m / present_m, 1.0) if ok else needed_m / present_m
    return check(told, "pass" if ok else "fail", needed_m, present_m, used)


def crown_under_frame(panel: str, sag_m: float) -> Check:
    """Rise of a curved roof beneath a rigid frame [m]."""
    return at_most(rule("crown-under-frame", panel, sag_m=sag_m), sag_m, limit("frame-sag"))


def obstacle_shadow(panel: str, obstacle: str, elevation_deg: float) -> Check:
    """Elevation of the sun below which the obstacle that rises highest can shade a panel [°]."""
    told = rule("obstacle-shadow", panel, obstacle=obstacle)
    return at_most(told, elevation_deg, limit("shading-elevation"))


def entry_room(x_m: float, y_m: float, radius_m: float, *, is_free: bool) -> Check:
    """Whether the roof around the cable entry is free.

    Parameters
    ----------
    x_m, y_m : float
        Place of the entry [m].
    radius_m : float
        Radius that must be free [m].
    is_free : bool
        Whether it is.
    """
    told = rule("cable-entry-room", x_m=x_m, y_m=y_m, radius_m=radius_m)
    return check(told, "pass" if is_free else "review")


def cable_route(panel: str, routing: Routing) -> Check:
    """What a panel's cable must do to get to the entry."""
    told = rule("cable-route", panel, remedy=() if routing == "around" else routing)
    return check(told, ("pass", "review", "fail")[ROUTINGS.index(routing)])


class LinesUnderFeet(NamedTuple):
    """Lines that alone keep a panel off the roof, where the fewest are in the way."""

    panel: str
    lines: str
    x_m: float
    y_m: float


def panels_placed(
    kind: str, placed: int, wanted: int, lines: LinesUnderFeet | None = None
) -> Check:
    """Panels of a type that found a place against those wanted.

    Parameters
    ----------
    kind : str
        Name of the type.
    placed, wanted : int
        Panels.
    lines : LinesUnderFeet or None
        Where lines alone keep all panels off.
    """
    missing = wanted - placed
    if lines is None:
        told = rule("panels-placed", kind, missing=missing, wanted=wanted, remedy="space")
    else:
        told = rule(
            "panels-placed",
            kind,
            missing=missing,
            wanted=wanted,
            remedy="lines",
            **lines._asdict(),
        )
    return at_least(told, float(placed), float(wanted))


def layout_power(power_w: float, at_most_w: float, *, proven: bool) -> Check:
    """Power of a layout against a bound on that of any other [W]."""
    told = rule("layout-power", more_w=at_most_w - power_w)
    return check(told, "pass" if proven else "review", at_most_w, power_w)
