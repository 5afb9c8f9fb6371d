"""Requests for tests of the mount check: an invented mobile library's van and trailer."""

from typing import Any

from msgspec.structs import replace

from sunhitch.types.mount import (
    Adhesive,
    AdhesiveFeet,
    BondedSheet,
    BoxSection,
    FastenedFeet,
    FootPoint,
    MountCheckRequest,
    MountVehicle,
    Rail,
    Rails,
    RoofSkin,
    RoofSurface,
    SheetProperties,
    TravelConditions,
)
from sunhitch.types.panel import PanelBody
from sunhitch.types.shade import PanelPosition

LENGTH, WIDTH = 1.18, 0.54


def grid(rows: int, columns: int, edge: float = 0.08) -> list[FootPoint]:
    """Feet in rows along the panel and columns across, the outermost `edge` inside."""
    along = [edge + i * (LENGTH - 2 * edge) / (rows - 1) for i in range(rows)]
    across = [edge + i * (WIDTH - 2 * edge) / (columns - 1) for i in range(columns)]
    return [FootPoint(x_m=x, y_m=y) for x in along for y in across]


def glued(**changes: Any) -> AdhesiveFeet:
    """Six solid feet on foam tape, the panel straight on them."""
    given: dict[str, Any] = {
        "feet": grid(3, 2),
        "pad_length_m": 0.12,
        "pad_width_m": 0.12,
        "adhesive": Adhesive(kind="acrylic-foam-tape"),
        "standoff_m": 0.02,
        "foot_thickness_m": 0.02,
        "base_thickness_m": 0.004,
    }
    return AdhesiveFeet(**given | changes)


def fastened(**changes: Any) -> FastenedFeet:
    """Six feet, each with two M6 bolts through the skin."""
    given: dict[str, Any] = {
        "feet": grid(3, 2),
        "fastener": "bolt",
        "fasteners_per_foot": 2,
        "spacing_m": 0.05,
        "base_width_m": 0.06,
        "standoff_m": 0.02,
        "washer_diameter_m": 0.03,
    }
    return FastenedFeet(**given | changes)


def bonded(**changes: Any) -> BondedSheet:
    """Sheet in vented strips of foam tape."""
    given: dict[str, Any] = {
        "adhesive": Adhesive(kind="acrylic-foam-tape"),
        "bonded_fraction": 0.6,
        "flap_m": 0.01,
        "vented": True,
    }
    return BondedSheet(**given | changes)


def railed(**changes: Any) -> Rails:
    """Two rails across the roof, four clamps."""
    given: dict[str, Any] = {
        "run": "along-width",
        "rails": [
            Rail(across_m=x, start_m=-0.25, end_m=0.79, supports_m=[-0.15, 0.69])
            for x in (0.25, 0.93)
        ],
        "section": BoxSection(height_m=0.04, width_m=0.04, wall_m=0.002),
        "alloy": "6063-T6",
        "clamps": [FootPoint(x_m=x, y_m=y) for x in (0.25, 0.93) for y in (0.02, 0.52)],
        "clamp_preload_n": 4000.0,
        "clamp_rating_n": 1500.0,
        "support_rating_n": 1500.0,
        "rails_mass_kg": 6.0,
        "standoff_m": 0.06,
    }
    return Rails(**given | changes)


FRAMED = PanelBody(
    length_m=LENGTH, width_m=WIDTH, thickness_m=0.035, mass_kg=7.5, construction="framed"
)
FLEXIBLE = PanelBody(
    length_m=LENGTH, width_m=WIDTH, thickness_m=0.003, mass_kg=2.3, construction="flexible"
)
VEHICLE = MountVehicle(
    kind="motor-vehicle",
    roof_length_m=5.4,
    roof_width_m=1.9,
    roof_height_m=2.7,
    front="sharp",
    roof_rating_kg=100.0,
    rack_rating_kg=75.0,
    other_roof_mass_kg=10.0,
)
SURFACE = RoofSurface(kind="bare-aluminium", abraded_and_cleaned=True)
SKIN = RoofSkin(material="aluminium-5754-h111", thickness_m=0.0012)
RATED = SheetProperties(load_rating_pa=3600.0, laminate_strength_pa=40e6)


def request(mounting: Any, panel: PanelBody = FRAMED, **changes: Any) -> MountCheckRequest:
    """A request around a mounting; the panel lies midway between the roof's sides."""
    base = MountCheckRequest(
        panel=panel,
        position=PanelPosition(x_m=1.5, y_m=0.68),
        mounting=mounting,
        vehicle=VEHICLE,
        surface=SURFACE,
        skin=SKIN,
        sheet=RATED,
        travel=TravelConditions(),
    )
    return replace(base, **changes)
