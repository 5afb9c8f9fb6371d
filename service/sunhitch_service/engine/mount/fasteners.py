"""Strength of studs, bolts, rivets and of the sheet metal around them."""

import math

from sunhitch.types.mount import AdhesiveFeet, Bracket, ClampToe, FastenedFeet

from .figures import figure, known
from .timber import core_mm

MEGA = 1e6
MILLI = 1e-3
COUNTED_SKIN_MM = 1.5
"""Thickness up to which pull-over of sheet is known."""
COUNTED_PA = 260e6
"""Tensile strength of sheet beyond which EN 1999-1-4, 8.3.2.1, counts no more (read)."""


def thread_source(property_class: str) -> str:
    """Key of the source of a property class's strength."""
    return "iso-3506-1" if property_class.startswith("A") else "iso-898-1"


def proof_load(thread: str, property_class: str) -> float:
    """Load that a thread bears without lasting stretch [N].

    References
    ----------
    ISO 898-1:2013, table 5, within its rounding.
    """
    area = figure("thread", thread, "stress_area_mm2")
    return area * figure("property_class", property_class, "proof_pa") / MEGA


def bolt_tension(thread: str, property_class: str) -> float:
    """Design tension of a bolt or stud [N]."""
    return proof_load(thread, property_class) / figure("limit", "proof_factor")


def shear_resistance(area_mm2: float, ultimate_pa: float, through: float) -> float:
    """Resistance of a bolt in shear through its thread [N].

    References
    ----------
    EN 1993-1-8:2005, table 3.4, αv·fub·As/1.25 (read in a steel maker's tables).
    """
    return through * ultimate_pa / MEGA * area_mm2 / 1.25


def bolt_shear(thread: str, property_class: str) -> float:
    """Design shear of a bolt or stud through its thread [N], its resistance over 1.5 on loads."""
    area = figure("thread", thread, "stress_area_mm2")
    ultimate, through = (
        figure("property_class", property_class, name) for name in ("ultimate_pa", "thread_shear")
    )
    least = figure("limit", "shear_of_ultimate") * area * ultimate / MEGA
    return min(least, shear_resistance(area, ultimate, through) / 1.5)


def stud_moment(thread: str, property_class: str) -> float:
    """Design bending moment of a stud [N·m], on a circle of its stress area."""
    diameter = math.sqrt(4 * figure("thread", thread, "stress_area_mm2") / math.pi) * MILLI
    proof = figure("property_class", property_class, "proof_pa")
    return math.pi * diameter**3 / 32 * proof / figure("limit", "bending_factor")


def pull_over(washer_m: float, thickness_m: float, ultimate_pa: float) -> float:
    """Characteristic pull of a washer through thin sheet [N].

    The smaller of two rules, the thickness counted up to 1.5 mm.

    References
    ----------
    EN 1999-1-4:2007, 8.3.3.1, 6.1·t·fu·√(dw/22) (from memory); EN 1993-1-3:2006, table 8.2,
    repeated wind, 0.5·dw·t·fu.
    """
    washer, sheet = washer_m / MILLI, min(thickness_m / MILLI, COUNTED_SKIN_MM)
    strength = min(ultimate_pa, COUNTED_PA) / MEGA
    return min(
        6.1 * sheet * strength * math.sqrt(washer / 22),
        0.5 * washer * sheet * strength,
    )


def bearing(diameter_mm: float, thickness_m: float, ultimate_pa: float) -> float:
    """Characteristic bearing of a fastener on thin sheet [N].

    References
    ----------
    EN 1999-1-4:2007, 8.3.2.1 (read): 2.5·fu·√(t³·d), at most 1.5·fu·t·d.
    """
    sheet, strength = thickness_m / MILLI, min(ultimate_pa, COUNTED_PA) / MEGA
    return min(
        2.5 * strength * math.sqrt(sheet**3 * diameter_mm), 1.5 * strength * sheet * diameter_mm
    )


def design_yield(alloy: str) -> float:
    """Design stress of a profile or bent plate in bending [Pa]."""
    return figure("alloy", alloy, "yield_pa") / figure("limit", "rail_factor")


def plate_modulus(plate: Bracket | ClampToe) -> float:
    """Section modulus of a bent plate [m³], w·t²/6."""
    return plate.width_m * plate.thickness_m**2 / 6


def usual_preload(thread: str, property_class: str) -> float:
    """Tension to which a bolt that comes off again is tightened, a share of its proof load [N]."""
    return figure("limit", "preload_of_proof") * proof_load(thread, property_class)


def torque(thread: str, property_class: str, preload_n: float) -> float:
    """Tightening torque [N·m], K·D·F.

    References
    ----------
    Shigley, Mechanical Engineering Design.
    """
    diameter = figure("thread", thread, "diameter_mm") * MILLI
    return figure("property_class", property_class, "nut_factor") * diameter * preload_n


def skin_strength(material: str, given_pa: float | None) -> float | None:
    """Tensile strength of a skin [Pa]: certified, or tabled; None where no formula holds."""
    tabled = known("skin", material, "ultimate_pa")
    return None if tabled is None else (tabled if given_pa is None else given_pa)


def fastener_strength(mounting: FastenedFeet) -> tuple[float, float]:
    """Design tension and shear of one fastener [N]."""
    factor = figure("limit", "rivet_factor")
    if mounting.fastener == "blind-rivet":
        pull, push = (figure("rivet", mounting.rivet, key) for key in ("tension_n", "shear_n"))
        return pull / factor, push / factor
    thread = (mounting.thread, mounting.property_class)
    pull, push = bolt_tension(*thread), bolt_shear(*thread)
    if mounting.wood is not None:  # the core of a wood screw is thinner than that of a bolt
        core = math.pi / 4 * core_mm(shank_mm(mounting)) ** 2
        share = core / figure("thread", mounting.thread, "stress_area_mm2")
        return pull * share, push * share
    if mounting.fastener != "rivet-nut":
        return pull, push
    # Its hold in the sheet is another matter.
    nut = (figure("rivet_nut", mounting.thread, key) for key in ("thread_proof_n", "shear_n"))
    held, pushed = (borne / factor for borne in nut)
    return min(pull, held), min(push, pushed)


def fastener_source(mounting: FastenedFeet) -> str:
    """Key of the source of a fastener's strength."""
    known = {"blind-rivet": "iso-15977", "rivet-nut": "rivet-nut-sheet"}
    return known.get(mounting.fastener) or thread_source(mounting.property_class)


def panel_washer(mounting: AdhesiveFeet | FastenedFeet) -> float:
    """Washer on the panel [m]."""
    given = (
        mounting.washer_diameter_m
        if isinstance(mounting, AdhesiveFeet)
        else mounting.panel_washer_diameter_m
    )
    return figure("sheet_default", "panel_washer_m") if given is None else given


def head_m(mounting: FastenedFeet) -> float:
    """Diameter of what bears on the inside of the skin [m]."""
    if mounting.fastener == "rivet-nut":
        return figure("rivet_nut", mounting.thread, "bulge_mm") / 1000
    if mounting.fastener == "blind-rivet":
        return figure("rivet", mounting.rivet, "blind_mm") / 1000
    if mounting.washer_diameter_m is not None:
        return mounting.washer_diameter_m
    return figure("thread", mounting.thread, "nut_across_flats_mm") / 1000


def shank_mm(mounting: FastenedFeet) -> float:
    """Diameter of the fastener in the skin [mm]."""
    if mounting.fastener == "blind-rivet":
        return figure("rivet", mounting.rivet, "diameter_mm")
    return figure("thread", mounting.thread, "diameter_mm")
