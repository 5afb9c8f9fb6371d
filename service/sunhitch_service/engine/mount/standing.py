"""Checks that road speed does not change: surface, ratings, skin, heat, cure, place."""

import numpy as np

from sunhitch.types.check import Check, Verdict
from sunhitch.types.mount import (
    AdhesiveFeet,
    BondedSheet,
    FastenedFeet,
    LoadCaseName,
    MountCheckRequest,
    Rails,
    RoofSurface,
)
from sunhitch_service.engine.checks import Rule, at_least, check
from sunhitch_service.engine.rules.rule import rule
from sunhitch_service.engine.tables import table

from .adhesive import bond_strength, hottest_known_c, surface_fraction
from .air import GRAVITY
from .cases import snow_pressure
from .cure import beads_words, curing, width_is_unknown
from .fasteners import skin_strength
from .figures import DOMAIN, figure, row
from .modes import mode
from .setup import Setup, adhesive_of
from .sheet import blister_pressure
from .thermal import Movement, held_back
from .use import WHOLE_ROOF, Use, unassessed
from .wind import on_roof


def standing_uses(setup: Setup, moved: Movement) -> list[Use]:
    """Modes with a demand and a capacity that do not depend on speed."""
    found = _bond_movement(setup, moved) or [_play(setup, moved)]
    mounting = setup.request.mounting
    if isinstance(mounting, BondedSheet):
        found.append(_trapped_air(setup, mounting))
    return found + _ratings(setup) + _outline(setup)


def standing_checks(setup: Setup) -> list[Check]:
    """Checks that only a word from a maker, or patience, can settle."""
    request = setup.request
    return [
        *_surface_checks(request),
        *_heat_checks(setup),
        *_spacer_checks(request),
        *_rating_checks(request),
        *_skin_checks(request),
        *_panel_checks(request),
        *_cure_checks(setup),
        *_securing_checks(setup),
    ]


def _heat_checks(setup: Setup) -> list[Check]:
    """Hottest bond line against where knowledge of the adhesive ends."""
    adhesive = adhesive_of(setup.request)
    if adhesive is None:
        return []
    hottest = max(setup.travel.driving_c, setup.travel.parked_c)
    known = hottest_known_c(adhesive.kind, "permanent")
    verdict: Verdict = "pass" if hottest <= known else "not-assessed"
    return [check(rule("bond-heat", "bond line"), verdict, hottest, known)]


def _alone(code: str, subject: str, demand: float, capacity: float) -> Use:
    return Use(mode(code), "any", "", subject, demand, capacity, False)


def _bond_movement(setup: Setup, moved: Movement) -> list[Use]:
    """Shear of a bond by heat; a flexible sheet between feet bows instead when it grows."""
    adhesive = adhesive_of(setup.request)
    if adhesive is None:
        return []
    both: tuple[tuple[LoadCaseName, tuple[float, float], str], ...] = (
        ("thermal-daily", moved.daily, "daily_strain"),
        ("thermal-seasonal", moved.seasonal, "seasonal_strain"),
    )
    return [
        Use(
            mode("bond-movement"),
            case,
            "day by day" if case == "thermal-daily" else "over the year",
            "bond line",
            bond_shift(setup, moved.distance, ways) / setup.bond_m,
            figure("adhesive", adhesive.kind, limit),
            False,
        )
        for case, ways, limit in both
    ]


def bond_shift(setup: Setup, distance_m: float, ways: tuple[float, float]) -> float:
    """Movement that reaches the bond line [m], out of growth and shrinkage of the panel."""
    adhesive = adhesive_of(setup.request)
    if isinstance(setup.request.mounting, BondedSheet) and adhesive is not None:
        stiff = figure("adhesive", adhesive.kind, "shear_modulus_pa") / setup.bond_m
        return held_back(max(ways), distance_m, setup.sheet.in_plane, stiff)
    free = ways[1] if setup.sheet.flexible else max(ways)
    return max(0.0, free - setup.sheet.slack / 2)


def _play(setup: Setup, moved: Movement) -> Use:
    ways = moved.seasonal
    free = ways[1] if setup.sheet.flexible else max(ways)
    room = setup.sheet.slack / 2 + figure("sheet_default", "clip_clearance_m")
    return _alone("play-movement", f"outermost {setup.word}", free, room)


def _trapped_air(setup: Setup, mounting: BondedSheet) -> Use:
    """Voids of at least a tenth of the area are taken to hold air."""
    hot = setup.travel.parked_c
    pressure = blister_pressure(hot, setup.joined_c, setup.travel.outside_pa)
    voids = max(1 - mounting.bonded_fraction, 0.1)
    held = max(mounting.bonded_fraction, 0.1)
    surface = surface_fraction(setup.request.surface, setup.request.spacer)
    strength = bond_strength(mounting.adhesive, "hours", hot, surface)
    demand = 0.0 if mounting.vented else pressure * voids / held
    case: LoadCaseName = "trapped-air"
    return Use(mode(case), case, "hot and parked", "sheet", demand, strength, False)


def _mass_on_roof(setup: Setup) -> float:
    mounting = setup.request.mounting
    rails = mounting.rails_mass_kg if isinstance(mounting, Rails) else 0.0
    return setup.mass + rails + (setup.request.vehicle.other_roof_mass_kg or 0.0)


def _ratings(setup: Setup) -> list[Use]:
    vehicle, mass = setup.request.vehicle, _mass_on_roof(setup)
    found: list[Use] = []
    if vehicle.roof_rating_kg is not None:
        found.append(_alone("roof-rating", WHOLE_ROOF, mass, vehicle.roof_rating_kg))
    if vehicle.roof_static_rating_kg is not None:
        area = setup.area + (vehicle.other_panels_area_m2 or 0.0)
        snow = snow_pressure(setup.travel.snow_pa) * area / GRAVITY
        found.append(
            _alone("roof-rating-parked", WHOLE_ROOF, mass + snow, vehicle.roof_static_rating_kg)
        )
    if isinstance(setup.request.mounting, Rails) and vehicle.rack_rating_kg is not None:
        found.append(_alone("rack-rating", "rack", mass, vehicle.rack_rating_kg))
    return found


def _rating_checks(request: MountCheckRequest) -> list[Check]:
    found: list[Check] = []
    if request.vehicle.roof_rating_kg is None:
        found.append(unassessed(mode("roof-rating"), WHOLE_ROOF))
    mounting = request.mounting
    if not isinstance(mounting, Rails):
        return found
    if request.vehicle.rack_rating_kg is None:
        found.append(unassessed(mode("rack-rating"), "rack"))
    if mounting.clamp_rating_n is None:
        found.append(unassessed(mode("clamp-rating"), "clamps"))
    if mounting.support_rating_n is None:
        found.append(unassessed(mode("support-rating"), "rail supports"))
    return found


def _outline(setup: Setup) -> list[Use]:
    """How far the panel reaches beyond the roof, where it does."""
    sides = np.array(setup.sides)
    corners = on_roof(setup.request.position, np.array([[0, 0], [1, 0], [0, 1], [1, 1]]) * sides)
    vehicle = setup.request.vehicle
    size = np.array([vehicle.roof_length_m, vehicle.roof_width_m])
    beyond = float(np.maximum(-corners, corners - size).max())
    return [_alone("roof-edge", "panel", beyond, 0.0)] if beyond > 1e-6 else []


def _surface_checks(request: MountCheckRequest) -> list[Check]:
    mounting = request.mounting
    if not isinstance(mounting, AdhesiveFeet | BondedSheet):
        return []
    return [_surface_check(request.surface), *_application_check(request)]


def _spacer_checks(request: MountCheckRequest) -> list[Check]:
    """Adhesive must hold on a spacer below a bonded sheet; feet and clamps trap it besides."""
    spacer = request.spacer
    if spacer is None or figure("spacer", spacer.material, "bond_strength_fraction") > 0:
        return []
    subject = f"{spacer.material} spacer"
    if isinstance(request.mounting, BondedSheet):
        return [said("surface", subject, "fail", f"{NOT_ON_SPACER}: take polycarbonate.")]
    remedy = f"{NOT_ON_SPACER}, so that it is only trapped: {TRAPPED}"
    return [said("surface", subject, "review", remedy)]


def said(code: str, subject: str, verdict: Verdict, remedy: str = "") -> Check:
    """A verdict without numbers."""
    about = mode(code)
    return check(Rule(code, about.title, about.unit, about.basis, remedy, subject), verdict)


def _surface_check(surface: RoofSurface | None) -> Check:
    if surface is None or surface.kind == "unknown":
        return said("surface", WHOLE_ROOF, "not-assessed", UNKNOWN_SURFACE)
    confirmed = surface.confirmed_strength_fraction is not None
    if not confirmed and figure("surface", surface.kind, "strength_fraction") == 0:
        reason = row("surface", surface.kind)["reason"]
        return said("surface", surface.kind, "fail", f"Not bondable: {reason}. {NOT_BONDABLE}")
    if not surface.abraded_and_cleaned:
        remedy = "Abrade, wipe with alcohol and water, and prime as the maker says."
        return said("surface", surface.kind, "not-assessed", remedy)
    if not confirmed and surface.kind == "painted-metal-unknown":
        remedy = "Take the paint off down to metal below the pads, or have its bond tested."
        return said("surface", surface.kind, "review", remedy)
    return said("surface", surface.kind, "pass")


def _application_check(request: MountCheckRequest) -> list[Check]:
    adhesive = adhesive_of(request)
    if adhesive is None or adhesive.application_c is None:
        return []
    least = figure("adhesive", adhesive.kind, "least_application_c")
    warm = adhesive.application_c >= least
    remedy = f"Warm roof and adhesive to {least:g} °C or more before bonding."
    verdict: Verdict = "pass" if warm else "fail"
    return [said("application-temperature", adhesive.kind, verdict, remedy)]


def _panel_checks(request: MountCheckRequest) -> list[Check]:
    """What was assumed about the panel, where it is held at points."""
    mounting, sheet = request.mounting, request.sheet
    if isinstance(mounting, BondedSheet):
        return []
    found: list[Check] = []
    if sheet is None or sheet.load_rating_pa is None:
        found.append(
            said("panel-rating", "panel", "review", mode("panel-rating").remedy.filled({}))
        )
    bored = request.panel.construction == "flexible" and not isinstance(mounting, Rails)
    if bored and (sheet is None or sheet.laminate_strength_pa is None):
        found.append(
            said(
                "laminate-strength", "panel", "review", mode("laminate-strength").remedy.filled({})
            )
        )
    return found


def _cure_checks(setup: Setup) -> list[Check]:
    """The planned rest against the time to full strength, where a rest is planned."""
    adhesive = adhesive_of(setup.request)
    if width_is_unknown(setup):
        return [said("cure-time", "bond", "not-assessed", beads_words())]
    if adhesive is None or adhesive.hours_before_driving is None:
        return []
    use = _alone("cure-time", "bond", curing(setup, adhesive).full_h, adhesive.hours_before_driving)
    return [at_least(use.rule(), adhesive.hours_before_driving, use.demand)]


def _securing_checks(setup: Setup) -> list[Check]:
    """Accelerations counted, against the least that rules for securing cargo name."""
    travel = setup.travel
    counted = {"forward": travel.forward, "rearward": travel.rearward, "sideways": travel.sideways}
    found: list[Check] = []
    for entry in table(DOMAIN, "securing").rows:
        least = {way: float(entry[f"{way}_g"]) * GRAVITY for way in counted}
        way = max(counted, key=lambda one: least[one] / max(counted[one], 1e-9))
        told = rule(entry["code"], way, least_m_s2=least[way], direction=way)
        found.append(at_least(told, counted[way], least[way]))
    return found


def _skin_checks(request: MountCheckRequest) -> list[Check]:
    mounting, skin = request.mounting, request.skin
    if not isinstance(mounting, FastenedFeet):
        return []
    if skin is None or skin.material == "unknown":
        return [said("roof-skin", WHOLE_ROOF, "not-assessed", UNKNOWN_SKIN)]
    if skin_strength(skin.material, skin.ultimate_strength_pa) is None:
        return [said("roof-skin", skin.material, "not-assessed", NO_FORMULA)]
    return []


UNKNOWN_SURFACE = (
    "Say what the roof's topmost material is (surface.kind): an adhesive holds only as well as "
    "what it sticks to, and membranes cannot be bonded at all. Until then no bond can pass."
)
NOT_BONDABLE = (
    "Fasten to the structure below or use a rack, or bring the written word of the makers of "
    "surface and adhesive."
)
NOT_ON_SPACER = "Adhesives do not hold on this plastic"
TRAPPED = "take polycarbonate, or see that all studs pass through it and no edge can work loose."
UNKNOWN_SKIN = (
    "Say what the roof's skin is made of and how thick it is (skin): thin skin fails before the "
    "bolt, so nothing can pass without it."
)
NO_FORMULA = (
    "No formula holds for this skin: have a sample pulled, or bolt through to a plate or rib that "
    "an engineer has sized."
)
