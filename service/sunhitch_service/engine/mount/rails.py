"""Rails as beams on their supports, loaded by their clamps."""

from dataclasses import dataclass

import numpy as np

from sunhitch.types.mount import BoxSection, GivenSection, Rails
from sunhitch_service.engine.arrays import Floats, Numbers

from .beam import BeamInfluence, influence
from .figures import figure

MODULUS_PA = 70e9
"""Young's modulus of aluminium, EN 1999-1-1, 3.2.5 (from memory)."""


@dataclass(frozen=True, slots=True)
class RailBeam:
    """One rail with its clamps.

    Parameters
    ----------
    number : int
        Number in the request, from 1.
    clamps : ndarray of int
        Clamps on this rail.
    beam : BeamInfluence
        What they do to it.
    span : float
        Longest distance between supports [m].
    """

    number: int
    clamps: Numbers
    beam: BeamInfluence
    span: float


def box_section(height_m: float, width_m: float, wall_m: float) -> tuple[float, float]:
    """Second moment [m⁴] and section modulus [m³] of a rectangular tube."""
    inner_h, inner_w = height_m - 2 * wall_m, width_m - 2 * wall_m
    second = (width_m * height_m**3 - inner_w * inner_h**3) / 12
    return second, second / (height_m / 2)


def section(given: BoxSection | GivenSection) -> tuple[float, float]:
    """Second moment [m⁴] and section modulus [m³] of a rail."""
    if isinstance(given, BoxSection):
        return box_section(given.height_m, given.width_m, given.wall_m)
    return given.second_moment_mm4 * 1e-12, given.section_modulus_mm3 * 1e-9


def clamp_friction(mounting: Rails) -> float:
    """Friction of a frame in its clamps."""
    given = mounting.friction_fraction
    return figure("limit", "clamp_friction") if given is None else given


def side_pushes(
    rail: RailBeam, along: Floats, across: Floats, own: tuple[Floats, Floats]
) -> Floats:
    """Push along the roof on each support of a rail, out of those along and across it, (…, c) [N].

    Across the rail by its lever arms; along it, and what the rail itself is pushed by along and
    across, `own` (…,), on all supports alike.
    """
    shares = np.abs(rail.beam.reaction)
    own_along, own_across = (push[..., None] / len(shares) for push in own)
    pushes: Floats = np.hypot(
        across @ shares.T + own_across,
        along.sum(axis=-1, keepdims=True) / len(shares) + own_along,
    )
    return pushes


def rail_beams(mounting: Rails) -> tuple[RailBeam, ...]:
    """Every rail as a beam; each clamp belongs to the nearest rail."""
    along = 0 if mounting.run == "along-length" else 1
    points = np.array([[clamp.x_m, clamp.y_m] for clamp in mounting.clamps])
    across = np.array([rail.across_m for rail in mounting.rails])
    nearest = np.abs(points[:, 1 - along, None] - across).argmin(axis=1)
    second, _ = section(mounting.section)
    made: list[RailBeam] = []
    for i, rail in enumerate(mounting.rails):
        clamps = np.flatnonzero(nearest == i)
        if len(clamps) == 0:
            continue
        supports = np.sort(np.array(rail.supports_m))
        beam = influence(
            (rail.start_m, rail.end_m), supports, points[clamps, along], MODULUS_PA * second
        )
        made.append(RailBeam(i + 1, clamps, beam, float(np.diff(supports).max())))
    return tuple(made)
