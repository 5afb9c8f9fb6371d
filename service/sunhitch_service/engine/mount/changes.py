"""Changes to a mounting that might help, as whole requests."""

from itertools import pairwise

import numpy as np
from msgspec.structs import replace
from numpy.typing import NDArray

from sunhitch.types.mount import (
    Adhesive,
    AdhesiveFeet,
    BondedSheet,
    BoxSection,
    FastenedFeet,
    FootPoint,
    MountCheckRequest,
    PanelWind,
    Rails,
    RoofSurface,
    SpacerSheet,
)

from .fasteners import skin_strength
from .figures import figure
from .setup import Setup
from .spans import row_numbers
from .wind import on_roof, strip_depth

Change = tuple[str, MountCheckRequest]


def changes(setup: Setup) -> list[Change]:
    """Changes worth trying on a mounting of this kind, each with what it is in words."""
    request, mounting = setup.request, setup.request.mounting
    found = _place_changes(setup)
    if isinstance(mounting, AdhesiveFeet):
        found += _glued_changes(request, mounting)
    elif isinstance(mounting, FastenedFeet):
        found += _fastened_changes(request, mounting)
    elif isinstance(mounting, BondedSheet):
        found += _bonded_changes(request, mounting)
    else:
        found += _rail_changes(request, mounting)
    return found


def _place_changes(setup: Setup) -> list[Change]:
    request, air = setup.request, setup.air
    found: list[Change] = []
    if air.under_panel != "closed-at-front" and not isinstance(request.mounting, BondedSheet):
        closed = replace(request.wind or PanelWind(), under_panel="closed-at-front")
        found.append(
            ("Fairing that closes the gap at the panel's front edge", replace(request, wind=closed))
        )
    return found + _moves(setup)


def _moves(setup: Setup) -> list[Change]:
    """The panel behind the leading strip, and midway between the roof's sides."""
    request, vehicle = setup.request, setup.request.vehicle
    corners, place = on_roof(request.position, _corners(setup)), request.position
    found: list[Change] = []
    strip = strip_depth(vehicle.roof_width_m, vehicle.roof_height_m)
    back = strip - float(corners[:, 0].min())
    if back > 0 and float(corners[:, 0].max()) + back <= vehicle.roof_length_m:
        moved = replace(place, x_m=place.x_m + back)
        text = f"Panel {back:.2f} m further back, behind the roof's leading strip"
        found.append((text, replace(request, position=moved)))
    aside = vehicle.roof_width_m / 2 - float(corners[:, 1].mean())
    if abs(aside) > 0.01:
        moved = replace(place, y_m=place.y_m + aside)
        text = f"Panel midway between the roof's sides, {abs(aside):.2f} m from where it is"
        found.append((text, replace(request, position=moved)))
    return found


def _corners(setup: Setup) -> NDArray[np.float64]:
    corners: NDArray[np.float64] = np.array([[0, 0], [1, 0], [0, 1], [1, 1]]) * np.array(
        setup.sides
    )
    return corners


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
        middle = (points[rows == row, axis].mean() + points[rows == row + 1, axis].mean()) / 2
        for other in points[rows == row, 1 - axis]:
            place = (float(middle), float(other))
            x, y = place if axis == 0 else (place[1], place[0])
            added.append(FootPoint(x_m=round(x, 4), y_m=round(y, 4)))
    return [*feet, *added]


def _feet_changes(
    request: MountCheckRequest, mounting: AdhesiveFeet | FastenedFeet
) -> list[Change]:
    found: list[Change] = []
    for axis, side in ((0, "along"), (1, "across")):
        more = between_rows(mounting.feet, axis)
        text = f"{len(more)} feet instead of {len(mounting.feet)}, more rows {side} the panel"
        found.append((text, _mounted(request, replace(mounting, feet=more))))
    if request.panel.construction == "flexible":
        play = mounting.play_m + 0.002
        found.append(
            (
                f"{play * 1000:.0f} mm of play at the studs, so that the sheet pulls less",
                _mounted(request, replace(mounting, play_m=play)),
            )
        )
        found += _panel_washer(request) + _spacer(request)
    return found


def _panel_washer(request: MountCheckRequest) -> list[Change]:
    """Washers twice as wide on a flexible panel."""
    mounting = request.mounting
    small = figure("sheet_default", "panel_washer_m")
    if isinstance(mounting, AdhesiveFeet):
        wide = 2 * (mounting.washer_diameter_m or small)
        changed = _mounted(request, replace(mounting, washer_diameter_m=wide))
    elif isinstance(mounting, FastenedFeet):
        wide = 2 * (mounting.panel_washer_diameter_m or small)
        changed = _mounted(request, replace(mounting, panel_washer_diameter_m=wide))
    else:
        return []
    return [(f"Washers of {wide * 1000:.0f} mm on the panel", changed)]


def _spacer(request: MountCheckRequest) -> list[Change]:
    """A stiff twin-wall sheet bonded below a flexible panel."""
    if request.spacer is not None:
        return []
    area = request.panel.length_m * request.panel.width_m
    sheet = SpacerSheet(material="polycarbonate", thickness_m=0.01, mass_kg=1.7 * area)
    text = "A 10 mm twin-wall polycarbonate sheet bonded below the panel, ends open"
    return [(text, replace(request, spacer=sheet))]


def _sheet_bonded(request: MountCheckRequest, adhesive: Adhesive) -> list[Change]:
    """A flexible panel glued over its area instead of held at points."""
    if request.panel.construction != "flexible" or request.surface is None:
        return []
    sheet = BondedSheet(adhesive=adhesive, bonded_fraction=0.6, flap_m=0.01, vented=True)
    text = "The sheet itself bonded in strips with open ends over 60 % of its area, without feet"
    return [(text, _mounted(request, sheet))]


def _mounted(
    request: MountCheckRequest, mounting: AdhesiveFeet | FastenedFeet | BondedSheet | Rails
) -> MountCheckRequest:
    return replace(request, mounting=mounting)


def _glued_changes(request: MountCheckRequest, mounting: AdhesiveFeet) -> list[Change]:
    length, width = 1.5 * mounting.pad_length_m, 1.5 * mounting.pad_width_m
    larger = replace(mounting, pad_length_m=length, pad_width_m=width)
    found = _feet_changes(request, mounting)
    found.append(
        (f"Pads of {length * 1000:.0f} × {width * 1000:.0f} mm", _mounted(request, larger))
    )
    if mounting.standoff_m > mounting.foot_thickness_m:
        low = replace(mounting, standoff_m=mounting.foot_thickness_m)
        found.append(("Panel straight on its solid feet", _mounted(request, low)))
    least = figure("limit", "thin_base_m")
    if mounting.base_thickness_m < least:
        thick = replace(mounting, base_thickness_m=least)
        found.append((f"Base plates of {least * 1000:g} mm", _mounted(request, thick)))
    found += _bond_changes(request, mounting.adhesive)
    if request.skin and skin_strength(request.skin.material, None) is not None:
        found.append(_bolted(request, mounting))
    return found + _sheet_bonded(request, mounting.adhesive)


def _bolted(request: MountCheckRequest, mounting: AdhesiveFeet) -> Change:
    base = min(mounting.pad_length_m, mounting.pad_width_m)
    bolts = FastenedFeet(
        feet=mounting.feet,
        fastener="bolt",
        fasteners_per_foot=2,
        spacing_m=0.6 * base,
        base_width_m=base,
        standoff_m=mounting.standoff_m,
        thread="M6",
        property_class="A2-70",
        washer_diameter_m=0.03,
        panel_washer_diameter_m=mounting.washer_diameter_m,
        play_m=mounting.play_m,
    )
    text = "The same feet bolted through the skin, two M6 with 30 mm washers each"
    return text, _mounted(request, bolts)


def _bond_changes(request: MountCheckRequest, adhesive: Adhesive) -> list[Change]:
    """Better surface and thicker bond line."""
    mounting = request.mounting
    found: list[Change] = []
    painted = ("painted-metal", "painted-metal-unknown", "powder-coat")
    if request.surface is not None and request.surface.kind in painted:
        bare = RoofSurface(kind="bare-aluminium", abraded_and_cleaned=True)
        text = "Paint taken off down to bare metal below the bond, where the roof is aluminium"
        found.append((text, replace(request, surface=bare)))
    tabled = figure("adhesive", adhesive.kind, "thickness_m")
    thick = 2 * (tabled if adhesive.thickness_m is None else adhesive.thickness_m)
    if isinstance(mounting, AdhesiveFeet | BondedSheet):
        twice = replace(mounting, adhesive=replace(adhesive, thickness_m=thick))
        found.append((f"Bond line of {thick * 1000:.1f} mm", _mounted(request, twice)))
    return found


def _fastened_changes(request: MountCheckRequest, mounting: FastenedFeet) -> list[Change]:
    found = _feet_changes(request, mounting)
    washer = 2 * (mounting.washer_diameter_m or 0.015)
    wide = replace(mounting, washer_diameter_m=washer)
    found.append(
        (
            f"Washers or backing plates of {washer * 1000:.0f} mm on the skin",
            _mounted(request, wide),
        )
    )
    double = 2 * mounting.fasteners_per_foot
    if double <= 12:
        spacing = mounting.spacing_m or mounting.base_width_m
        more = replace(mounting, fasteners_per_foot=double, spacing_m=spacing)
        found.append((f"{double} fasteners in each foot", _mounted(request, more)))
    broad = replace(mounting, base_width_m=0.08, spacing_m=0.06)
    if mounting.base_width_m < 0.08 and mounting.fasteners_per_foot > 1:
        found.append(("Feet 80 mm wide with 60 mm between fasteners", _mounted(request, broad)))
    if mounting.fastener != "bolt":
        bolt = replace(mounting, fastener="bolt", washer_diameter_m=0.03)
        found.append(
            (f"Bolts {mounting.thread} through the skin, 30 mm washers", _mounted(request, bolt))
        )
    return found


def _bonded_changes(request: MountCheckRequest, mounting: BondedSheet) -> list[Change]:
    found = _bond_changes(request, mounting.adhesive)
    options: list[tuple[bool, str, BondedSheet]] = [
        (
            mounting.bonded_fraction < 1,
            "Half as much again of the area bonded",
            replace(mounting, bonded_fraction=min(1.0, 1.5 * mounting.bonded_fraction)),
        ),
        (
            mounting.flap_m > 0,
            f"Unbonded edge no wider than {mounting.flap_m * 500:.0f} mm",
            replace(mounting, flap_m=mounting.flap_m / 2),
        ),
        (
            not mounting.vented,
            "Strips with open ends, so that air can leave",
            replace(mounting, vented=True),
        ),
    ]
    return found + [(text, _mounted(request, new)) for use, text, new in options if use]


def _rail_changes(request: MountCheckRequest, mounting: Rails) -> list[Change]:
    tight = 1.5 * mounting.clamp_preload_n
    firm = replace(mounting, clamp_preload_n=tight)
    found: list[Change] = [
        (f"Clamps tightened to {tight:.0f} N, if their maker allows it", _mounted(request, firm))
    ]
    section = mounting.section
    if isinstance(section, BoxSection):
        tall = replace(mounting, section=replace(section, height_m=1.5 * section.height_m))
        found.append((f"Rails {1500 * section.height_m:.0f} mm high", _mounted(request, tall)))
    propped = [replace(rail, supports_m=_with_middles(rail.supports_m)) for rail in mounting.rails]
    found.append(
        (
            "Another support between each two of every rail",
            _mounted(request, replace(mounting, rails=propped)),
        )
    )
    axis = 0 if mounting.run == "along-length" else 1
    clamps = between_rows(mounting.clamps, axis)
    found.append(
        (
            f"{len(clamps)} clamps instead of {len(mounting.clamps)}",
            _mounted(request, replace(mounting, clamps=clamps)),
        )
    )
    return found


def _with_middles(places: list[float]) -> list[float]:
    ordered = sorted(places)
    middles = [(one + other) / 2 for one, other in pairwise(ordered)]
    return sorted([*ordered, *middles])
