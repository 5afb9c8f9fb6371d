"""Modes of failure of glued and fastened feet, and of clamps on rails."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from sunhitch.texts import statement
from sunhitch.types.mount import (
    Adhesive,
    AdhesiveFeet,
    ClampToe,
    FastenedFeet,
    Rails,
    Timber,
)
from sunhitch_service.engine.arrays import Floats, Mask

from .adhesive import LASTING, ROOM_C, bond_strength, hottest_known_c, pad_edge
from .cases import PRESSING, LoadCases
from .fasteners import (
    bearing,
    bolt_shear,
    bolt_tension,
    design_yield,
    fastener_source,
    fastener_strength,
    head_m,
    panel_washer,
    plate_modulus,
    pull_over,
    shank_mm,
    skin_strength,
    stud_moment,
    thread_source,
)
from .figures import figure
from .forces import FeetForces
from .modes import Mode
from .pull_tests import fastened_pull
from .rail_loads import own_lift, own_pushes
from .rails import clamp_friction, section, side_pushes
from .setup import Setup
from .timber import effective, is_deep, lateral, withdrawal


@dataclass(frozen=True, slots=True)
class LoadedFeet:
    """Feet or clamps under their load cases."""

    setup: Setup
    cases: LoadCases
    forces: FeetForces

    def mode(
        self,
        code: str,
        demand: Floats,
        capacity: Floats | float,
        basis: str = "",
        *,
        scale: Floats | float = 1.0,
        given: bool = False,
        known: Mask | bool = True,
        parts: tuple[str, ...] = (),
    ) -> Mode:
        """One mode of every foot, or of other parts; feet that are pressed down count only push."""
        pressed = self.cases.where(*PRESSING)
        if isinstance(self.setup.request.mounting, Rails) or self.forces.uplift[:, pressed].any():
            pressed = np.zeros_like(pressed)
        counts = known & ~pressed
        if demand is self.forces.uplift:
            counts = counts & ~self.cases.where("growth")
        if demand is self.forces.shear:
            counts = counts | known & self.cases.where("snow")
        if isinstance(scale, np.ndarray):
            alike = float(scale[0])
            if np.ptp(scale) > 0.0:
                demand, alike = demand * scale, 1.0
            scale = alike
        return Mode(
            code, demand, capacity, parts or self.setup.supports, counts, scale, basis, given
        )


def foot_modes(at: LoadedFeet) -> Iterator[Mode]:
    """Modes of failure of whatever holds the panel at points."""
    mounting = at.setup.request.mounting
    if isinstance(mounting, AdhesiveFeet):
        return _glued(at, mounting)
    if isinstance(mounting, FastenedFeet):
        return _fastened(at, mounting)
    return _clamped(at, mounting) if isinstance(mounting, Rails) else iter(())


def bond_strengths(setup: Setup, cases: LoadCases, adhesive: Adhesive) -> Floats:
    """Design stress of a bond in each load case, shape (c, 1, 1) [Pa].

    Pull tests replace what is assumed for gusts; a short pull can only lower the rest.
    """
    surface = setup.surface_share
    each = np.array(
        [bond_strength(adhesive, one.duration, one.bond_c, surface) for one in cases.terms]
    )
    if setup.tested is not None:
        assumed = bond_strength(adhesive, "gust", ROOM_C, surface)
        share = setup.tested / assumed if assumed > 0.0 else 0.0
        lasting = [one.duration in LASTING for one in cases.terms]
        each = each * np.where(lasting, min(share, 1.0), share)
    return each[:, None, None]


def heat_is_known(adhesive: Adhesive, cases: LoadCases) -> Mask:
    """Whether the adhesive's strength is known at the bond line of a parked vehicle.

    A check of its own says so where it is not; while driving, unknown counts as none.
    """
    return np.array(
        [
            term.by_speed or term.bond_c <= hottest_known_c(adhesive.kind, term.duration)
            for term in cases.terms
        ]
    )


def _glued(at: LoadedFeet, mounting: AdhesiveFeet) -> Iterator[Mode]:
    """Bond, stud and laminate of glued feet."""
    adhesive, uplift, shear = mounting.adhesive, at.forces.uplift, at.forces.shear
    bonded = at.setup.pads, at.setup.bonded_share
    edge = pad_edge(mounting, *bonded, uplift[:, :, None], *at.forces.aside).max(axis=2)
    per_area, strength = (
        1 / (at.setup.pads.prod(axis=1) * at.setup.bonded_share),
        bond_strengths(at.setup, at.cases, adhesive),
    )
    given = adhesive.gust_strength_pa is not None
    known = heat_is_known(adhesive, at.cases) & ~at.cases.where("growth")  # strain, not stress
    for code, demand, scale in (
        ("bond-tension", uplift, per_area),
        ("bond-shear", shear, per_area),
        ("bond-edge", edge, 1.0),
        ("bond-combined", edge + shear * per_area, 1.0),
    ):
        yield at.mode(code, demand, strength, scale=scale, given=given, known=known)
    stud, source = (
        (mounting.thread, mounting.property_class),
        thread_source(mounting.property_class),
    )
    free = mounting.standoff_m - mounting.foot_thickness_m
    pull, push, bent = bolt_tension(*stud), bolt_shear(*stud), stud_moment(*stud)
    yield at.mode("stud-tension", uplift, pull, source)
    yield at.mode("stud-shear", shear, push, source)
    yield at.mode("stud-bending", shear, bent, scale=free)
    # Where the stud bends most its shear stress is least.
    yield at.mode("stud-combined", uplift / pull + shear * max(free / bent, 1 / push), 1.0)
    yield from _laminate(at, mounting)


def _laminate(at: LoadedFeet, mounting: AdhesiveFeet | FastenedFeet) -> Iterator[Mode]:
    """A flexible panel around its studs."""
    sheet = at.setup.panel
    if not sheet.flexible:
        return
    factor = figure("limit", "sheet_factor")
    over = pull_over(panel_washer(mounting), sheet.thickness, sheet.strength) / factor
    press = bearing(
        figure("thread", mounting.thread, "diameter_mm"), sheet.thickness, sheet.strength
    )
    uplift, shear = at.forces.uplift, at.forces.shear
    yield at.mode("sheet-pull-over", uplift, over)
    yield at.mode("sheet-bearing", shear, press / factor)
    yield at.mode("sheet-combined", uplift / over + shear * (factor / press), 1.0)


def _fastened(at: LoadedFeet, mounting: FastenedFeet) -> Iterator[Mode]:
    """Fasteners, laminate and roof skin of fastened feet."""
    count, uplift, shear = at.setup.fasteners, at.forces.uplift, at.forces.shear
    pulled = fastened_pull(mounting, count, uplift, shear)
    tension = pulled / count
    (pull, push), source = fastener_strength(mounting), fastener_source(mounting)
    yield at.mode("fastener-tension", tension, pull, source)
    yield at.mode("fastener-shear", shear, push, source, scale=1 / count)
    yield at.mode("fastener-combined", tension / pull + shear / (count * push), 1.0)
    if mounting.bracket is not None:
        bent = uplift * mounting.stud_offset_m + shear * mounting.standoff_m
        yields = design_yield(mounting.bracket.alloy)
        yield at.mode("bracket-bending", bent, yields, scale=1 / plate_modulus(mounting.bracket))
    if at.setup.tested is not None:
        usual = mounting.fasteners_per_foot / count
        yield at.mode("tested-pull", pulled + shear, at.setup.tested, scale=usual)
    yield from _skin(at, mounting, tension)
    if mounting.wood is not None and is_deep(shank_mm(mounting), mounting.wood):
        yield from _in_wood(at, mounting, mounting.wood, tension)
    yield from _laminate(at, mounting)


def _skin(at: LoadedFeet, mounting: FastenedFeet, tension: Floats) -> Iterator[Mode]:
    """Roof skin around fasteners; tests on it replace what formulas say of its pull."""
    skin, count = at.setup.request.skin, at.setup.fasteners
    strength = skin_strength(skin.material, skin.ultimate_strength_pa) if skin else None
    if skin is None or strength is None:
        return
    factor = figure("limit", "sheet_factor")
    shear, press = at.forces.shear, bearing(shank_mm(mounting), skin.thickness_m, strength) / factor
    yield at.mode("skin-bearing", shear, press, scale=1 / count)
    if at.setup.tested is not None or mounting.wood is not None:
        return
    if mounting.fastener == "screw":
        yield at.mode("skin-pull-out", tension, 0.0)
    else:
        over = pull_over(head_m(mounting), skin.thickness_m, strength) / factor
        yield at.mode("skin-pull-over", tension, over)
        yield at.mode("skin-combined", tension / over + shear / (count * press), 1.0)


def _in_wood(
    at: LoadedFeet, mounting: FastenedFeet, wood: Timber, tension: Floats
) -> Iterator[Mode]:
    """Screws in wood, each by its share of several; tests on it replace what codes say of pull."""
    count, terms = at.setup.fasteners, at.cases.terms
    several, diameter = effective(count), shank_mm(mounting)
    ultimate = figure("property_class", mounting.property_class, "ultimate_pa")
    pull, push = (
        np.array(borne)[:, None, None]
        for borne in (
            [withdrawal(diameter, wood, term.duration) for term in terms],
            [lateral(diameter, wood, ultimate, term.duration) for term in terms],
        )
    )
    pulled, pushed = tension / several, at.forces.shear / (count * several)
    yield at.mode("wood-lateral", pushed, push)
    if at.setup.tested is not None:
        return
    yield at.mode("wood-withdrawal", pulled, pull)
    yield at.mode("wood-combined", np.hypot(pulled / pull, pushed / push), 1.0)


def _clamped(at: LoadedFeet, mounting: Rails) -> Iterator[Mode]:
    """Clamps, rails and their supports."""
    uplift = at.forces.uplift
    slip = clamp_friction(mounting) * np.maximum(mounting.clamp_preload_n - uplift, 0.0)
    yield at.mode("clamp-slip", at.forces.shear, slip / figure("limit", "clamp_factor"))
    if mounting.clamp_rating_n is not None:
        yield at.mode("clamp-uplift", uplift, mounting.clamp_rating_n, given=True)
    if mounting.clamp_toe is not None:
        yield from _toe(at, mounting.clamp_toe)
    rails, names = (
        at.setup.rails,
        tuple(statement("rail-number", number=rail.number) for rail in at.setup.rails),
    )
    pulled = [uplift[..., rail.clamps] for rail in rails]
    loads = [
        np.maximum(up, at.forces.pressed[..., rail.clamps])
        for up, rail in zip(pulled, rails, strict=True)
    ]
    pairs = list(zip(rails, loads, strict=True))
    bent = np.concatenate([_adverse(rail.beam.moment, load) for rail, load in pairs], axis=-1)
    bent /= section(mounting.section)[1]
    sunk = np.concatenate([_adverse(rail.beam.deflection, load) for rail, load in pairs], axis=-1)
    spans = np.array([rail.span for rail in rails]) / figure("limit", "rail_span_over_sag")
    yield at.mode("rail-bending", bent, design_yield(mounting.alloy), parts=names)
    most = np.broadcast_to(np.minimum(spans, mounting.standoff_m / 2), sunk.shape)
    yield at.mode("rail-deflection", sunk, most, parts=names)
    yield from _supports(at, mounting, names)


def _supports(at: LoadedFeet, mounting: Rails, names: tuple[str, ...]) -> Iterator[Mode]:
    """Supports of rails against the ratings that are known."""
    pulls = pushes = None
    if (rated := mounting.support_rating_n) is not None:
        pulls = pulled_supports(at, mounting)
        yield at.mode("rail-support", _hardest(pulls), rated, given=True, parts=names)
    if (aside := mounting.support_side_rating_n) is not None:
        pushes = pushed_supports(at, mounting)
        yield at.mode("rail-support-sideways", _hardest(pushes), aside, given=True, parts=names)
    if pulls is not None and pushes is not None and rated and aside:
        both = [pull / rated + push / aside for pull, push in zip(pulls, pushes, strict=True)]
        yield at.mode("rail-support-combined", _hardest(both), 1.0, given=True, parts=names)


def _toe(at: LoadedFeet, toe: ClampToe) -> Iterator[Mode]:
    """Toe and bolt of a clamp.

    What presses the toe on the frame before anything pulls is a check of its own; the heel, or the
    toe on the other panel, adds to the bolt's tension.
    """
    uplift, source = at.forces.uplift, thread_source(toe.property_class)
    lever = toe.reach_m / plate_modulus(toe)
    yield at.mode("clamp-toe", uplift, design_yield(toe.alloy), scale=lever)
    borne = bolt_tension(toe.thread, toe.property_class)
    share = 2.0 if toe.heel_m is None else 1.0 + toe.reach_m / toe.heel_m
    yield at.mode("clamp-bolt", uplift, borne, source, scale=share)


def pulled_supports(at: LoadedFeet, mounting: Rails) -> list[Floats]:
    """Pull on every support of each rail, shape (v, c, m, s) [N]."""
    own = own_lift(at.setup, at.cases, mounting)[:, None, None]
    return [
        at.forces.uplift[..., rail.clamps] @ np.maximum(rail.beam.reaction, 0.0).T
        + own / len(rail.beam.reaction)
        for rail in at.setup.rails
    ]


def pushed_supports(at: LoadedFeet, mounting: Rails) -> list[Floats]:
    """Push along the roof on every support of each rail, shape (v, c, m, s) [N]."""
    ways = at.forces.aside if mounting.run == "along-length" else at.forces.aside[::-1]
    every = own_pushes(at.setup, at.cases, mounting)
    found: list[Floats] = []
    for rail in at.setup.rails:
        along, across = (way[..., rail.clamps] for way in ways)
        own_along, own_across = (push[..., rail.number - 1, None] for push in every)
        found.append(side_pushes(rail, along, across, (own_along, own_across)).max(axis=2))
    return found


def _hardest(supports: list[Floats]) -> Floats:
    """What acts on the hardest loaded support of each rail, shape (v, c, m, r)."""
    return np.stack([rail.max(axis=-1) for rail in supports], axis=-1)


def _adverse(shares: Floats, loads: Floats) -> Floats:
    """Largest effect of either sign of loads (…, c), of which only those that add up count.

    `shares` (k, c) hold the effect of each load, which is not negative.
    """
    up = loads @ np.maximum(shares, 0.0).T
    down = loads @ np.maximum(-shares, 0.0).T
    worst: Floats = np.maximum(up, down).max(axis=-1, keepdims=True)
    return worst
