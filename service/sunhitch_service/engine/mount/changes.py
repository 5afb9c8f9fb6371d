"""Changes to a mounting that might help, as whole requests."""

from collections.abc import Iterator
from itertools import pairwise

import numpy as np
from msgspec.structs import replace

from sunhitch.texts import statement
from sunhitch.types.mount import (
    AdhesiveFeet,
    BondedSheet,
    BoxSection,
    FastenedFeet,
    FootPoint,
    MountCheckRequest,
    Mounting,
    PanelWind,
    Rails,
    RoofSurface,
    SpacerSheet,
)

from .fasteners import skin_strength
from .feet import row_numbers
from .figures import ROUNDING_M, figure
from .setup import Setup
from .wind import on_roof, strip_depth

WASHER_M = 0.03
"""Washer below a bolt through the skin."""
BROAD_M, APART_M = 0.08, 0.06
"""Width of a broad foot, and its fasteners apart."""

Change = tuple[str, MountCheckRequest]
Remounted = Iterator[tuple[str, Mounting]]
"""Mountings in place of the one that is, each with what changes in words."""


def changes(setup: Setup) -> Iterator[Change]:
    """Changes worth trying on a mounting of this kind, each with what it is in words."""
    request, mounting = setup.request, setup.request.mounting
    if setup.air.under_panel != "closed-at-front":
        open_air = request.wind or PanelWind()
        closed = replace(open_air, under_panel="closed-at-front", equalisation_credited=False)
        yield statement("fairing"), replace(request, wind=closed)
    yield from moves(request)
    if isinstance(mounting, AdhesiveFeet):
        remounted = _glued_changes(request, mounting)
    elif isinstance(mounting, FastenedFeet):
        remounted = _fastened_changes(request, mounting)
    elif isinstance(mounting, BondedSheet):
        remounted = _bonded_changes(mounting)
    else:
        remounted = _rail_changes(mounting)
    for text, changed in remounted:
        yield text, replace(request, mounting=changed)
    yield from _surface_changes(request)


def moves(request: MountCheckRequest) -> Iterator[Change]:
    """The panel behind the leading strip, and midway between the roof's sides.

    Neither asks what else lies on the roof: a mount check does not know.
    """
    panel, vehicle, place = request.panel, request.vehicle, request.position
    sides = np.array([panel.length_m, panel.width_m])
    corners = on_roof(place, np.array([[0, 0], [1, 0], [0, 1], [1, 1]]) * sides)
    back = strip_depth(vehicle.roof_width_m, vehicle.roof_height_m) - float(corners[:, 0].min())
    if back > 0 and float(corners[:, 0].max()) + back <= vehicle.roof_length_m:
        yield (
            statement("panel-further-back", back_m=back),
            replace(request, position=replace(place, x_m=place.x_m + back)),
        )
    aside = vehicle.roof_width_m / 2 - float(corners[:, 1].mean())
    if abs(aside) > 0.01:
        yield (
            statement("panel-midway", aside_m=abs(aside)),
            replace(request, position=replace(place, y_m=place.y_m + aside)),
        )


def _surface_changes(request: MountCheckRequest) -> Iterator[Change]:
    """A stiff sheet below a flexible panel on feet, and bare metal below a bond."""
    mounting, panel, surface = request.mounting, request.panel, request.surface
    on_feet = isinstance(mounting, AdhesiveFeet | FastenedFeet)
    if on_feet and panel.construction == "flexible" and request.spacer is None:
        mass = 1.7 * panel.length_m * panel.width_m
        sheet = SpacerSheet(material="polycarbonate", thickness_m=0.01, mass_kg=mass)
        yield (
            statement("twin-wall-below", thickness_mm=1000 * sheet.thickness_m),
            replace(request, spacer=sheet),
        )
    painted = ("painted-metal", "painted-metal-unknown", "powder-coat")
    glued = isinstance(mounting, AdhesiveFeet | BondedSheet)
    if glued and surface is not None and surface.kind in painted:
        yield (
            statement("bare-metal-below"),
            replace(request, surface=RoofSurface(kind="bare-aluminium", abraded_and_cleaned=True)),
        )


def between_rows(feet: list[FootPoint], axis: int) -> list[FootPoint]:
    """The same feet with another row between each two neighbouring rows.

    Parameters
    ----------
    feet : list of FootPoint
        As they stand.
    axis : int
        0 for rows along the panel's length, 1 for rows along its width.
    """
    points = np.array([[foot.x_m, foot.y_m] for foot in feet])
    rows = row_numbers(points[:, axis])
    added: list[FootPoint] = []
    for row in range(int(rows.max())):
        between = points[rows == row]
        between[:, axis] = (between[:, axis].mean() + points[rows == row + 1, axis].mean()) / 2
        added += [FootPoint(x_m=x, y_m=y) for x, y in between.round(4).tolist()]
    return [*feet, *added]


def _below_frame(more: list[FootPoint], feet: list[FootPoint]) -> list[FootPoint]:
    """Feet without those added inside the outer rows, where a framed panel has glass alone."""
    points = np.array([[foot.x_m, foot.y_m] for foot in feet])
    low, high = points.min(axis=0) + 1e-6, points.max(axis=0) - 1e-6

    def inside(foot: FootPoint) -> bool:
        at = np.array([foot.x_m, foot.y_m])
        return bool((at > low).all() and (at < high).all())

    return [*feet, *(foot for foot in more[len(feet) :] if not inside(foot))]


def _feet_changes(
    request: MountCheckRequest, mounting: AdhesiveFeet | FastenedFeet, washer: str
) -> Remounted:
    """More feet, and more play and wider washers (in the field `washer`) below a flexible panel."""
    for axis, side in ((0, "along"), (1, "across")):
        more = between_rows(mounting.feet, axis)
        if request.panel.construction == "framed":
            more = _below_frame(more, mounting.feet)
        if len(more) == len(mounting.feet):
            continue
        yield (
            statement(f"feet-{side}", feet=len(more), feet_now=len(mounting.feet)),
            replace(mounting, feet=more),
        )
    if request.panel.construction == "flexible":
        play = mounting.play_m + 0.002
        yield statement("play-at-studs", play_mm=play * 1000), replace(mounting, play_m=play)
        wide = 2 * (getattr(mounting, washer) or figure("sheet_default", "panel_washer_m"))
        yield (
            statement("washers-on-panel", washer_mm=wide * 1000),
            replace(mounting, **{washer: wide}),
        )


def _glued_changes(request: MountCheckRequest, mounting: AdhesiveFeet) -> Remounted:
    yield from _feet_changes(request, mounting, "washer_diameter_m")
    length, width = 1.5 * mounting.pad_length_m, 1.5 * mounting.pad_width_m
    larger = replace(mounting, feet=_alike(mounting), pad_length_m=length, pad_width_m=width)
    yield statement("pads-of", length_mm=length * 1000, width_mm=width * 1000), larger
    if mounting.standoff_m > mounting.foot_thickness_m:
        yield statement("straight-on-feet"), replace(mounting, standoff_m=mounting.foot_thickness_m)
    least = figure("limit", "thin_base_m")
    if mounting.base_thickness_m < least:
        yield (
            statement("base-plates-of", thickness_mm=least * 1000),
            replace(mounting, base_thickness_m=least),
        )
    yield from _thicker_bond(mounting)
    if request.skin and skin_strength(request.skin.material, None) is not None:
        base = min(mounting.pad_length_m, mounting.pad_width_m)
        bolted = FastenedFeet(
            feet=_alike(mounting),
            fastener="bolt",
            fasteners_per_foot=2,
            spacing_m=0.6 * base,
            base_width_m=base,
            standoff_m=mounting.standoff_m,
            thread="M6",
            property_class="A2-70",
            washer_diameter_m=WASHER_M,
            panel_washer_diameter_m=mounting.washer_diameter_m,
            play_m=mounting.play_m,
        )
        told = statement(
            "same-feet-bolted",
            fasteners=bolted.fasteners_per_foot,
            thread=bolted.thread,
            washer_mm=1000 * WASHER_M,
        )
        yield told, bolted
    if request.panel.construction == "flexible" and request.surface is not None:
        strips = BondedSheet(
            adhesive=mounting.adhesive, bonded_fraction=0.6, flap_m=0.01, vented=True
        )
        yield statement("sheet-in-strips", bonded_fraction=strips.bonded_fraction), strips


def _alike(mounting: AdhesiveFeet) -> list[FootPoint]:
    """The same feet without pads of their own."""
    return [FootPoint(x_m=foot.x_m, y_m=foot.y_m) for foot in mounting.feet]


def _thicker_bond(mounting: AdhesiveFeet | BondedSheet) -> Remounted:
    """Twice the bond line, as far as the adhesive is known."""
    adhesive = mounting.adhesive
    thick = 2 * (adhesive.thickness_m or figure("adhesive", adhesive.kind, "thickness_m"))
    if thick <= figure("adhesive", adhesive.kind, "thickest_m") + ROUNDING_M:
        twice = replace(adhesive, thickness_m=thick)
        yield statement("bond-line-of", bond_mm=thick * 1000), replace(mounting, adhesive=twice)


def _fastened_changes(request: MountCheckRequest, mounting: FastenedFeet) -> Remounted:
    yield from _feet_changes(request, mounting, "panel_washer_diameter_m")
    washer = 2 * (mounting.washer_diameter_m or 0.015)
    yield (
        statement("washers-on-skin", washer_mm=washer * 1000),
        replace(mounting, washer_diameter_m=washer),
    )
    double = 2 * mounting.fasteners_per_foot
    if double <= 12:
        spacing = mounting.spacing_m or mounting.base_width_m
        more = replace(mounting, fasteners_per_foot=double, spacing_m=spacing)
        yield statement("fasteners-in-each-foot", fasteners=double), more
    if mounting.base_width_m < BROAD_M and mounting.fasteners_per_foot > 1:
        told = statement("broad-feet", wide_mm=1000 * BROAD_M, apart_mm=1000 * APART_M)
        yield told, replace(mounting, base_width_m=BROAD_M, spacing_m=APART_M)
    if mounting.fastener != "bolt":
        bolt = replace(mounting, fastener="bolt", washer_diameter_m=WASHER_M, wood=None)
        told = statement("bolts-through-skin", thread=bolt.thread, washer_mm=1000 * WASHER_M)
        yield told, bolt


def _bonded_changes(mounting: BondedSheet) -> Remounted:
    yield from _thicker_bond(mounting)
    if mounting.bonded_fraction < 1:
        share = min(1.0, 1.5 * mounting.bonded_fraction)
        yield statement("half-as-much-again"), replace(mounting, bonded_fraction=share)
    if mounting.flap_m > 0:
        narrow = replace(mounting, flap_m=mounting.flap_m / 2)
        yield statement("narrow-edge", flap_mm=narrow.flap_m * 1000), narrow
    if not mounting.vented:
        yield statement("strips-with-open-ends"), replace(mounting, vented=True)


def _rail_changes(mounting: Rails) -> Remounted:
    tight = replace(mounting, clamp_preload_n=1.5 * mounting.clamp_preload_n)
    yield statement("clamps-tightened", preload_n=tight.clamp_preload_n), tight
    section = mounting.section
    if isinstance(section, BoxSection):
        tall = replace(section, height_m=1.5 * section.height_m)
        yield (
            statement("rails-high", height_mm=1000 * tall.height_m),
            replace(mounting, section=tall),
        )
    propped = [
        replace(
            rail,
            supports_m=sorted(
                [*rail.supports_m, *((a + b) / 2 for a, b in pairwise(sorted(rail.supports_m)))]
            ),
        )
        for rail in mounting.rails
    ]
    yield statement("another-support"), replace(mounting, rails=propped)
    clamps = between_rows(mounting.clamps, 0 if mounting.run == "along-length" else 1)
    yield (
        statement("more-clamps", clamps=len(clamps), clamps_now=len(mounting.clamps)),
        replace(mounting, clamps=clamps),
    )
