"""Rules on the places of panels, feet and cables on a roof."""

from typing import Any, Literal, NamedTuple

from sunhitch.types.basis import Basis
from sunhitch.types.check import Check

from .limits import limit
from .rule import rule

TOLERANCE_M = 1e-6
"""Distances shorter than this are rounding, not space."""

Routing = Literal["around", "beneath-panels", "across-obstacles"]
ROUTINGS: tuple[Routing, ...] = ("around", "beneath-panels", "across-obstacles")
"""What a cable must do to get to the entry, worst last."""


def distance(
    code: str,
    panel: str,
    names: dict[str, Any],
    present_m: float,
    needed_m: float = 0.0,
    basis: str | Basis = "",
) -> Check:
    """Space between a panel, or its foot plates, and what comes nearest to it.

    Parameters
    ----------
    code : str
        Rule: `panel-edge-margin`, `panel-obstacle-clearance`, `panel-free-strip`, `panel-gap`,
        `foot-edge`, `foot-obstacle`, `foot-line` or `foot-plates-apart`.
    panel : str
        Name of the panel.
    names : dict of str
        What comes nearest, by the rule's own parameter; `remedy` where the rule has several.
    present_m, needed_m : float
        Space that is there, negative by the depth of an overlap, and that must be [m].
    basis : str or Basis
        Where the space needed comes from.
    """
    told = rule(code, panel, basis=basis, panel=panel, short_m=needed_m - present_m, **names)
    ok = present_m >= needed_m - TOLERANCE_M
    used = 0.0 if needed_m <= TOLERANCE_M and ok else None
    if present_m > TOLERANCE_M:
        used = min(needed_m / present_m, 1.0) if ok else needed_m / present_m
    return told.check("pass" if ok else "fail", needed_m, present_m, used)


def crown_under_frame(panel: str, sag_m: float) -> Check:
    """Rise of a curved roof beneath a rigid frame [m]."""
    return rule("crown-under-frame", panel, sag_m=sag_m).at_most(sag_m, limit("frame-sag"))


def obstacle_shadow(panel: str, obstacle: str, elevation_deg: float) -> Check:
    """Elevation of the sun below which the obstacle that rises highest can shade a panel [°]."""
    return rule("obstacle-shadow", panel, obstacle=obstacle).at_most(
        elevation_deg, limit("shading-elevation")
    )


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
    return rule("cable-entry-room", x_m=x_m, y_m=y_m, radius_m=radius_m).check(
        "pass" if is_free else "review"
    )


def cable_length(way_m: float, length_m: float) -> Check:
    """A cable that lies already against the way between its ends [m]."""
    return rule("cable-length", missing_m=way_m - length_m).at_most(way_m, length_m)


def cable_route(panel: str, routing: Routing) -> Check:
    """What a panel's cable must do to get to the entry."""
    return rule("cable-route", panel, remedy=() if routing == "around" else routing).check(
        ("pass", "review", "fail")[ROUTINGS.index(routing)]
    )


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
    return rule(
        "panels-placed",
        kind,
        missing=wanted - placed,
        wanted=wanted,
        remedy="space" if lines is None else "lines",
        **({} if lines is None else lines._asdict()),
    ).at_least(float(placed), float(wanted))


def layout_power(power_w: float, at_most_w: float, *, proven: bool) -> Check:
    """Power of a layout against a bound on that of any other [W]."""
    return rule("layout-power", more_w=at_most_w - power_w).check(
        "pass" if proven else "review", at_most_w, power_w
    )
