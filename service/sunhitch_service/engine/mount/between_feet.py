"""A flexible sheet between its feet: what it draws them by as it lifts, and pushes as it grows."""

import math

import numpy as np

from sunhitch.types.mount import AdhesiveFeet, LoadDuration
from sunhitch_service.engine.arrays import Floats

from .adhesive import shear_modulus, tabled_strength
from .cases import LoadCases
from .feet import Feet
from .setup import Setup, standoff
from .sheet import pull, sag, span_strain
from .thermal import movement


def drawn_and_strain(setup: Setup, cases: LoadCases, feet: Feet) -> tuple[Floats, Floats]:
    """What a flexible sheet does to its feet and to itself in every load case.

    Parameters
    ----------
    setup : Setup
        Settled request.
    cases : LoadCases
        What acts.
    feet : Feet
        Spans of the sheet, by layout.

    Returns
    -------
    drawn : ndarray, shape (v, c, m, 2, n)
        Force on each foot along both sides of the panel [N]: of the sheet's pull where it lifts,
        of its push where it grows.
    strain : ndarray, shape (v, c)
        Largest bending strain of the sheet, all feet present.
    """
    if not setup.panel.flexible:
        return np.zeros((*cases.q.shape, 1, 2, 1)), np.zeros(cases.q.shape)
    span, lost = feet.strips[:, 0], feet.strips[:, 4]
    depth, in_plane, slack = lifted(setup, cases, feet)
    drawn = _on_feet(pull(depth, span, in_plane, slack), feet)
    grows = cases.where("growth")
    if grows.any():
        moved = movement(setup)
        drawn[:, grows] = pushed_by_growth(setup, feet, max(moved.grown), moved.distance)
    return drawn, (span_strain(depth, span, setup.panel.depth) * (lost == 0.0)).max(axis=-1)


def lifted(setup: Setup, cases: LoadCases, feet: Feet) -> tuple[Floats, Floats, Floats]:
    """Sag of every strip u [m], its in-plane stiffness [N/m], shapes (v, c, u), and slack [m].

    Suction lifts a strip; snow presses it down until it lies on the roof.
    """
    span, share, play, _, _ = feet.strips.T
    snow = cases.where("snow")
    down = np.where(snow, cases.down, 0.0)
    pressure = (cases.local + (cases.up + down) / setup.area)[..., None] * share
    slack = play * setup.panel.slack
    give: dict[tuple[LoadDuration, float], float] = {}
    for term in cases.terms:
        if (term.duration, term.bond_c) not in give:
            give[term.duration, term.bond_c] = lateral_compliance(setup, term.duration, term.bond_c)
    soft = [give[term.duration, term.bond_c] for term in cases.terms]
    in_plane = _with_its_ends(setup, feet, np.array(soft)[:, None])
    free = sag(pressure, span, in_plane, setup.panel.bending, slack)
    room = np.where(snow, standoff(setup.request), np.inf)[:, None]
    return np.minimum(free, room), in_plane, slack


def pushed_by_growth(setup: Setup, feet: Feet, growth_m: float, distance_m: float) -> Floats:
    """Force of a sheet that grows on each foot along both sides, shape (m, 2, n) [N].

    Held by its feet it is compressed, until it buckles between two rows of them.

    Parameters
    ----------
    setup : Setup
        Settled request.
    feet : Feet
        Spans of the sheet, by layout.
    growth_m, distance_m : float
        Growth against the roof at the point furthest from the middle, and how far that is [m].

    References
    ----------
    Euler's load of a strip that its feet leave free to turn, π²·D/L².
    """
    span, _, play, _, _ = feet.strips.T
    length = np.maximum(span, 1e-9)
    tight = growth_m / distance_m - play * setup.panel.slack / length
    held = held_stiffness(setup, feet) * np.maximum(tight, 0.0)
    buckles = math.pi**2 * setup.panel.bending / length**2
    return _on_feet(np.where(span > 0.0, np.minimum(held, buckles), 0.0), feet)


def held_stiffness(setup: Setup, feet: Feet) -> Floats:
    """In-plane stiffness of each strip that grows, with the feet that hold it [N/m]."""
    return _with_its_ends(
        setup, feet, lateral_compliance(setup, "movement", setup.conditions.parked_c)
    )


def _on_feet(strips: Floats, feet: Feet) -> Floats:
    """Force on each foot along both sides [N] out of that of all strips per width [N/m]."""
    sides = strips[..., feet.strip_of]
    return np.abs(sides[..., 0] - sides[..., 1]) * feet.width


def _with_its_ends(setup: Setup, feet: Feet, soft: Floats | float) -> Floats:
    """In-plane stiffness of each strip with the feet that hold it [N/m].

    Sheet and end feet act one after the other; the feet's movement is spread over the spans
    between them like the play of their studs. The narrowest strip counts for all.
    """
    span, _, play, narrowest, _ = feet.strips.T
    per_length = np.divide(play, span, out=np.zeros_like(span), where=span > 0.0)
    stiff: Floats = 1.0 / (1.0 / setup.panel.in_plane + soft * 2.0 * narrowest * per_length)
    return stiff


def lateral_compliance(
    setup: Setup, duration: LoadDuration, bond_c: float, modulus: str = "stiff_modulus_pa"
) -> float:
    """Lateral movement of one glued foot per force along the roof [m/N]; 0 where nothing gives.

    A rectangular pad in simple shear, t/(G·A), with a high modulus, since a stiff bond lets the
    sheet pull harder; for movement, name the low one. It falls with heat and, for loads that
    last, with creep, both in proportion to the design stress: judgement.
    """
    mounting = setup.request.mounting
    if not isinstance(mounting, AdhesiveFeet):
        return 0.0
    kind = mounting.adhesive.kind
    stiff = shear_modulus(kind, bond_c, modulus)
    stiff *= tabled_strength(kind, duration) / tabled_strength(kind, "gust")
    # The largest pad, which gives least, counts for all.
    return setup.bond_m / (stiff * float(setup.pads.prod(axis=1).max()))
