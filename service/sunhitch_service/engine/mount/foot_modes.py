"""Modes of failure of glued and fastened feet under the forces of one load case."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sunhitch.types.mount import Adhesive, AdhesiveFeet, FastenedFeet, RoofSkin

from .adhesive import bond_strength, edge_stress, hottest_known_c, surface_fraction
from .cases import CaseLoad
from .fasteners import (
    bearing,
    bolt_shear,
    bolt_tension,
    pull_over,
    rivet_nut_strength,
    rivet_strength,
    skin_strength,
    stud_moment,
    thread_source,
)
from .figures import figure
from .forces import FeetForces
from .modes import ModeResult, utilisation_by_foot
from .setup import Setup

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class LoadedFeet:
    """Feet under one load case; `lost` where one is missing in each of their states."""

    setup: Setup
    case: CaseLoad
    forces: FeetForces
    lost: bool

    @property
    def relief(self) -> float:
        """Factor on capacities: a foot is lost for a short while only."""
        return figure("limit", "foot_lost_relief") if self.lost else 1.0

    def result(
        self, code: str, demand: Floats, capacity: float | Floats, basis: str = ""
    ) -> ModeResult:
        """The worst foot in one mode; `basis` is named where the rule has several."""
        used = utilisation_by_foot(demand, capacity)
        i, j = divmod(int(used.argmax()), used.shape[1])
        room = float(capacity[i, j] if isinstance(capacity, np.ndarray) else capacity)
        word = self.setup.support
        return ModeResult(
            code,
            "foot-lost" if self.lost else self.case.name,
            f"{self.case.title}, one {word} lost" if self.lost else self.case.title,
            f"{word} {j + 1}",
            float(demand[i, j]),
            room * self.relief,
            self.case.depends_on_speed,
            f"{word} {i + 1}" if self.lost else "",
            None if self.lost else used[0],
            basis,
        )


def glued_results(at: LoadedFeet, mounting: AdhesiveFeet) -> list[ModeResult]:
    """Bond and stud of glued feet."""
    length, width = mounting.pad_length_m, mounting.pad_width_m
    setup, forces = at.setup, at.forces
    strength = bond_strength(
        mounting.adhesive,
        at.case.duration,
        at.case.bond_c,
        surface_fraction(setup.request.surface, None),
    )
    moment = forces.shear * mounting.standoff_m + forces.uplift * mounting.stud_offset_m
    thin = mounting.base_thickness_m < figure("limit", "thin_base_m")
    edge = edge_stress(forces.uplift, moment, length, width)
    edge *= figure("limit", "thin_base_factor") if thin else 1.0
    shear = forces.shear / (length * width)
    rest = [
        *_stud_results(at, mounting),
        *laminate_results(at, mounting.washer_diameter_m, mounting.thread),
    ]
    if not heat_is_known(mounting.adhesive, at.case):
        return rest
    return [
        at.result("bond-tension", forces.uplift / (length * width), strength),
        at.result("bond-shear", shear, strength),
        at.result("bond-edge", edge, strength),
        at.result("bond-combined", edge + shear, strength),
        *rest,
    ]


def heat_is_known(adhesive: Adhesive, case: CaseLoad) -> bool:
    """Whether the adhesive's strength is known at the bond line of a parked vehicle.

    A check of its own says so where it is not; while driving, unknown counts as none.
    """
    limit = hottest_known_c(adhesive.kind, case.duration)
    return case.depends_on_speed or case.bond_c <= limit


def _stud_results(at: LoadedFeet, mounting: AdhesiveFeet) -> list[ModeResult]:
    free = mounting.standoff_m - mounting.foot_thickness_m
    stud, source = (
        (mounting.thread, mounting.property_class),
        thread_source(mounting.property_class),
    )
    return [
        at.result("stud-tension", at.forces.uplift, bolt_tension(*stud), source),
        at.result("stud-shear", at.forces.shear, bolt_shear(*stud), source),
        at.result("stud-bending", at.forces.shear * free, stud_moment(*stud)),
    ]


def laminate_results(at: LoadedFeet, washer_m: float | None, thread: str) -> list[ModeResult]:
    """A flexible panel around its studs."""
    sheet = at.setup.panel
    if not sheet.flexible:
        return []
    washer = figure("sheet_default", "panel_washer_m") if washer_m is None else washer_m
    factor = figure("limit", "sheet_factor")
    over = pull_over(washer, sheet.thickness, sheet.strength) / factor
    press = bearing(figure("thread", thread, "diameter_mm"), sheet.thickness, sheet.strength)
    return [
        at.result("sheet-pull-over", at.forces.uplift, over),
        at.result("sheet-bearing", at.forces.shear, press / factor),
    ]


def fastened_results(
    at: LoadedFeet, mounting: FastenedFeet, skin: RoofSkin | None
) -> list[ModeResult]:
    """Fasteners and roof skin of fastened feet."""
    forces, count = at.forces, mounting.fasteners_per_foot
    arm = _prying_arm(mounting)
    tension = (forces.uplift + 2 * forces.shear * mounting.standoff_m / arm) / count
    shear = forces.shear / count
    (pull, push), source = fastener_strength(mounting), fastener_source(mounting)
    return [
        at.result("fastener-tension", tension, pull, source),
        at.result("fastener-shear", shear, push, source),
        at.result("fastener-combined", tension / pull + shear / push, 1.0),
        *_skin_results(at, mounting, skin, tension, shear),
        *laminate_results(at, mounting.panel_washer_diameter_m, mounting.thread),
    ]


def _prying_arm(mounting: FastenedFeet) -> float:
    """Lever by which half the fasteners of a foot resist a moment [m]."""
    if mounting.fasteners_per_foot == 1:
        return mounting.base_width_m
    return min(mounting.base_width_m, mounting.spacing_m)


def fastener_strength(mounting: FastenedFeet) -> tuple[float, float]:
    """Design tension and shear of one fastener [N]."""
    if mounting.fastener == "blind-rivet":
        return rivet_strength(mounting.rivet)
    thread = (mounting.thread, mounting.property_class)
    pull, push = bolt_tension(*thread), bolt_shear(*thread)
    if mounting.fastener != "rivet-nut":
        return pull, push
    nut = rivet_nut_strength(mounting.thread)
    return min(pull, nut[0]), min(push, nut[1])


def fastener_source(mounting: FastenedFeet) -> str:
    """Key of the source of a fastener's strength."""
    known = {"blind-rivet": "iso-15977", "rivet-nut": "rivet-nut-sheet"}
    return known.get(mounting.fastener) or thread_source(mounting.property_class)


def head_m(mounting: FastenedFeet) -> float:
    """Diameter of what bears on the inside of the skin [m]."""
    if mounting.fastener == "rivet-nut":
        return figure("rivet_nut", mounting.thread, "bulge_mm") / 1000
    if mounting.washer_diameter_m is not None:
        return mounting.washer_diameter_m
    if mounting.fastener == "blind-rivet":
        return figure("rivet", mounting.rivet, "head_mm") / 1000
    return figure("thread", mounting.thread, "nut_across_flats_mm") / 1000


def shank_mm(mounting: FastenedFeet) -> float:
    """Diameter of the fastener in the skin [mm]."""
    if mounting.fastener == "blind-rivet":
        return figure("rivet", mounting.rivet, "diameter_mm")
    return figure("thread", mounting.thread, "diameter_mm")


def _skin_results(
    at: LoadedFeet,
    mounting: FastenedFeet,
    skin: RoofSkin | None,
    tension: Floats,
    shear: Floats,
) -> list[ModeResult]:
    """The skin, where a formula holds for it."""
    strength = skin_strength(skin.material, skin.ultimate_strength_pa) if skin else None
    if skin is None or strength is None:
        return []
    factor = figure("limit", "sheet_factor")
    press = bearing(shank_mm(mounting), skin.thickness_m, strength) / factor
    bears = at.result("skin-bearing", shear, press)
    if mounting.fastener == "screw":
        return [bears, at.result("skin-pull-out", tension, 0.0)]
    over = pull_over(head_m(mounting), skin.thickness_m, strength) / factor
    return [bears, at.result("skin-pull-over", tension, over)]
