"""Checks that road speed does not change: surface, ratings, skin, heat, cure, place."""

from dataclasses import replace

import numpy as np

from sunhitch.texts import load_case, statement
from sunhitch.types.check import Check
from sunhitch.types.mount import (
    AdhesiveFeet,
    BondedSheet,
    FastenedFeet,
    LoadCaseName,
    MountCheckRequest,
    Rails,
    RoofSurface,
)
from sunhitch_service.engine.rules import mount as rules
from sunhitch_service.engine.rules.mount import WHOLE_ROOF
from sunhitch_service.engine.rules.rule import rule
from sunhitch_service.engine.tables import table

from .adhesive import bond_strength, hottest_known_c, shear_modulus
from .air import GRAVITY
from .between_feet import lateral_compliance, pushed_by_growth
from .cases import snow_pressure
from .cure import curing, rest_checks, wide_beads, width_is_unknown
from .fasteners import design_yield, plate_modulus, shank_mm, skin_strength
from .feet import Feet
from .figures import DOMAIN, ROUNDING_M, figure, row
from .modes import ModeResult
from .roof_shape import contact_checks, roof_shape_checks
from .setup import Setup, adhesive_of, own_fasteners
from .sheet import blister_pressure
from .thermal import Movement, movement, restrained_movement
from .timber import least_depth_m
from .wind import on_roof

MOVED = "shear_modulus_pa"
"""Column of a bond's modulus for movement by heat: the low one, which lets it move further."""


def static_results(setup: Setup) -> list[ModeResult]:
    """Modes with a demand and a capacity that do not depend on speed."""
    moved = movement(setup)
    found = _bond_movement(setup, moved) or [_play(setup, moved)]
    mounting = setup.request.mounting
    if isinstance(mounting, BondedSheet):
        found.append(_trapped_air(setup, mounting))
    if isinstance(mounting, Rails) and mounting.clamp_toe is not None:
        toe, pressed = mounting.clamp_toe, mounting.clamp_preload_n
        bent = pressed * toe.reach_m / plate_modulus(toe)
        found.append(
            _static("clamp-tightening", statement("clamps"), bent, design_yield(toe.alloy))
        )
    return found + _ratings(setup) + _outline(setup) + _balance(setup)


def _balance(setup: Setup) -> list[ModeResult]:
    """The first loss after which what is left cannot balance the panel, where there is one."""
    stable = np.ones(1) if setup.feet is None else setup.feet.stable[1:]
    if stable.all():
        return []
    lost = setup.lost[int(stable.argmin())]
    return [
        ModeResult("foot-balance", "foot-lost", "", statement("whole-panel"), 1.0, 0.0, lost=lost)
    ]


def static_checks(setup: Setup) -> list[Check]:
    """Checks that only a word from a maker, or patience, can settle."""
    request = setup.request
    return [
        *_bond_checks(setup),
        *_spacer_checks(request),
        *_rating_checks(request),
        *_skin_checks(request),
        *_wood_checks(request),
        *_panel_checks(request),
        *_frame_checks(request),
        *_securing_checks(setup),
        *([rules.tilt_interlock(request.tilt.interlocked)] if request.tilt else []),
        *roof_shape_checks(setup),
        *contact_checks(setup),
    ]


def _bond_checks(setup: Setup) -> list[Check]:
    """What surface, warmth, heat and rest say of a bond, where something is glued."""
    request, adhesive = setup.request, adhesive_of(setup.request)
    if adhesive is None:
        return []
    hottest = max(setup.conditions.driving_c, setup.conditions.parked_c)
    found = [
        rules.surface(request.surface, unbondable(request.surface), setup.tested is not None),
        rules.bond_heat(hottest, hottest_known_c(adhesive.kind, "permanent")),
    ]
    coldest, made_for = (
        setup.conditions.lowest_air_c,
        figure("adhesive", adhesive.kind, "least_service_c"),
    )
    if coldest < made_for:
        found.append(rules.bond_cold(coldest, made_for))
    thickest = figure("adhesive", adhesive.kind, "thickest_m")
    if setup.bond_m > thickest + ROUNDING_M:
        found.append(rules.bond_thickness(adhesive.kind, setup.bond_m, thickest))
    if adhesive.application_c is not None:
        least = figure("adhesive", adhesive.kind, "least_application_c")
        found.append(rules.application_temperature(adhesive.kind, adhesive.application_c, least))
    if width_is_unknown(setup):
        found.append(wide_beads().check("not-assessed"))
    else:
        found += rest_checks(curing(setup, adhesive), adhesive.hours_before_driving)
    return found


def _static(code: str, subject: str, demand: float, capacity: float) -> ModeResult:
    return ModeResult(code, "any", "", subject, demand, capacity)


def _bond_movement(setup: Setup, moved: Movement) -> list[ModeResult]:
    """Shear of a bond by heat; a flexible sheet between feet bows instead when it grows."""
    adhesive = adhesive_of(setup.request)
    if adhesive is None:
        return []
    both: tuple[tuple[LoadCaseName, tuple[float, float], str], ...] = (
        ("thermal-daily", moved.daily, "daily_strain"),
        ("thermal-seasonal", moved.seasonal, "seasonal_strain"),
    )
    return [
        ModeResult(
            "bond-movement",
            case,
            load_case(case),
            statement("bond-line"),
            bond_shift(setup, moved.distance, free_m) / setup.bond_m,
            figure("adhesive", adhesive.kind, limit),
            bond_m=_thick_enough(
                setup, moved.distance, free_m, figure("adhesive", adhesive.kind, limit)
            ),
        )
        for case, free_m, limit in both
    ]


def bond_shift(setup: Setup, distance_m: float, free_m: tuple[float, float]) -> float:
    """Movement that reaches the bond line [m], out of growth and shrinkage of the panel."""
    mounting = setup.request.mounting
    if isinstance(mounting, BondedSheet):
        # In the heat the bond is softest, and the sheet moves furthest, outwards or inwards.
        soft = shear_modulus(mounting.adhesive.kind, setup.conditions.parked_c, MOVED)
        stiff = soft * mounting.bonded_fraction / setup.bond_m
        return restrained_movement(max(free_m), distance_m, setup.panel.in_plane, stiff)
    growth, shrinkage = (max(0.0, moved - setup.panel.slack / 2) for moved in free_m)
    if setup.panel.flexible and setup.feet is not None and growth > shrinkage:
        push, soft = hot_push(setup, setup.feet, free_m[0], distance_m)
        growth = min(growth, push * soft)
    return max(growth, shrinkage)


def _thick_enough(
    setup: Setup, distance_m: float, free_m: tuple[float, float], strain: float
) -> float | None:
    """Least bond line that keeps a strain with the stated reserve [m].

    None where this one does, and where none does for which the adhesive is known. A thicker bond
    gives way to more of the movement, so strain falls by less than its thickness.
    """
    # SciPy's optimizers take 0.1 s to load, for a remedy that few answers tell.
    from scipy.optimize import brentq

    kept = strain * figure("limit", "review_above")

    def beyond_m(bond_m: float) -> float:
        return bond_shift(replace(setup, bond_m=bond_m), distance_m, free_m) - kept * bond_m

    adhesive = adhesive_of(setup.request)
    thickest_m = figure("adhesive", adhesive.kind, "thickest_m") if adhesive else 0.0
    if beyond_m(setup.bond_m) <= 0.0 or beyond_m(thickest_m) > 0.0:
        return None
    return float(brentq(beyond_m, setup.bond_m, thickest_m, xtol=1e-9))


def hot_push(setup: Setup, feet: Feet, growth_m: float, distance_m: float) -> tuple[float, float]:
    """Largest push of a sheet that grows on a foot [N], and how far its hot bond gives [m/N]."""
    pushes = pushed_by_growth(setup, feet, growth_m, distance_m)[0]
    soft = lateral_compliance(setup, "movement", setup.conditions.parked_c, MOVED)
    return float(np.linalg.norm(pushes, axis=0).max()), soft


def _play(setup: Setup, moved: Movement) -> ModeResult:
    free = moved.seasonal[1] if setup.panel.flexible else max(moved.seasonal)
    room = setup.panel.slack / 2 + figure("sheet_default", "clip_clearance_m")
    return _static("play-movement", statement("outermost", support=setup.support), free, room)


def _trapped_air(setup: Setup, mounting: BondedSheet) -> ModeResult:
    """Voids of at least a tenth of the area are taken to hold air."""
    hot = setup.conditions.parked_c
    pressure = blister_pressure(hot, setup.application_c, setup.conditions.outside_pa)
    voids = max(1 - mounting.bonded_fraction, 0.1)
    held = max(mounting.bonded_fraction, 0.1)
    strength = bond_strength(mounting.adhesive, "hours", hot, setup.surface_share)
    demand = 0.0 if mounting.vented else pressure * voids / held
    case: LoadCaseName = "trapped-air"
    return ModeResult(case, case, load_case("trapped-air"), statement("sheet"), demand, strength)


def _ratings(setup: Setup) -> list[ModeResult]:
    vehicle, mounting = setup.request.vehicle, setup.request.mounting
    rails = mounting.rails_mass_kg if isinstance(mounting, Rails) else 0.0
    mass = setup.mass + rails + (vehicle.other_roof_mass_kg or 0.0)
    found: list[ModeResult] = []
    if vehicle.roof_rating_kg is not None:
        found.append(_static("roof-rating", WHOLE_ROOF, mass, vehicle.roof_rating_kg))
    if vehicle.roof_static_rating_kg is not None:
        area = setup.area + (vehicle.other_panels_area_m2 or 0.0)
        # The roof below carries snow anyway: the panels, cold from below, add only what they keep.
        ground = setup.conditions.snow_pa
        kept = snow_pressure(ground) - snow_pressure(ground, "snow_thermal_heated")
        load = mass + kept * area / GRAVITY
        found.append(_static("roof-rating-parked", WHOLE_ROOF, load, vehicle.roof_static_rating_kg))
    if isinstance(mounting, Rails) and vehicle.rack_rating_kg is not None:
        found.append(_static("rack-rating", statement("rack"), mass, vehicle.rack_rating_kg))
    return found


def _rating_checks(request: MountCheckRequest) -> list[Check]:
    """Ratings that nobody gave."""
    mounting, vehicle = request.mounting, request.vehicle
    pries = (
        isinstance(mounting, FastenedFeet)
        and mounting.stud_offset_m > 0
        and mounting.bracket is None
    )
    wanted = [
        ("bracket", statement("brackets"), pries),
        ("roof-rating", WHOLE_ROOF, vehicle.roof_rating_kg is None),
    ]
    if isinstance(mounting, Rails):
        unrated = mounting.clamp_rating_n is None and mounting.clamp_toe is None
        wanted += [
            ("rack-rating", statement("rack"), vehicle.rack_rating_kg is None),
            ("clamp-rating", statement("clamps"), unrated),
            ("support-rating", statement("rail-supports"), mounting.support_rating_n is None),
        ]
    return [rule(code, about).check("not-assessed") for code, about, missing in wanted if missing]


def _outline(setup: Setup) -> list[ModeResult]:
    """How far the panel reaches beyond the roof, where it does."""
    sides = np.array(setup.sides)
    corners = on_roof(setup.request.position, np.array([[0, 0], [1, 0], [0, 1], [1, 1]]) * sides)
    vehicle = setup.request.vehicle
    size = np.array([vehicle.roof_length_m, vehicle.roof_width_m])
    beyond = float(np.maximum(-corners, corners - size).max())
    return [_static("roof-edge", statement("panel"), beyond, 0.0)] if beyond > 1e-6 else []


def unbondable(surface: RoofSurface | None) -> str:
    """Why no adhesive holds on a surface; empty where one does, or the surface is unknown."""
    if surface is None or surface.kind == "unknown":
        return ""
    if figure("surface", surface.kind, "strength_fraction") > 0:
        return ""
    return row("surface", surface.kind)["reason"]


def _spacer_checks(request: MountCheckRequest) -> list[Check]:
    spacer = request.spacer
    if spacer is None or figure("spacer", spacer.material, "bond_strength_fraction") > 0:
        return []
    return [rules.unbondable_spacer(spacer.material, not isinstance(request.mounting, BondedSheet))]


def _panel_checks(request: MountCheckRequest) -> list[Check]:
    """What was assumed about the panel, where it is held at points."""
    mounting, sheet = request.mounting, request.sheet
    if isinstance(mounting, BondedSheet):
        return []
    bored = request.panel.construction == "flexible" and not isinstance(mounting, Rails)
    assumed = {
        "panel-rating": sheet is None or sheet.load_rating_pa is None,
        "laminate-strength": bored and (sheet is None or sheet.laminate_strength_pa is None),
    }
    told = [code for code, unknown in assumed.items() if unknown]
    return [rule(code, statement("panel")).check("review") for code in told]


def _frame_checks(request: MountCheckRequest) -> list[Check]:
    """Feet of a framed panel that its frame does not reach."""
    mounting, panel = request.mounting, request.panel
    if panel.construction != "framed" or not isinstance(mounting, AdhesiveFeet | FastenedFeet):
        return []
    reach_m = figure("limit", "frame_reach_m")
    deep_m = [
        min(foot.x_m, panel.length_m - foot.x_m, foot.y_m, panel.width_m - foot.y_m)
        for foot in mounting.feet
    ]
    inside = sum(deep > reach_m + ROUNDING_M for deep in deep_m)
    if not inside:
        return []
    deepest_m = max(deep_m)
    return [rules.foot_below_frame(1 + deep_m.index(deepest_m), deepest_m, reach_m, inside)]


def _securing_checks(setup: Setup) -> list[Check]:
    conditions = setup.conditions
    counted = {
        "forward": conditions.forward,
        "rearward": conditions.rearward,
        "sideways": conditions.sideways,
    }
    return [
        rules.securing(
            entry["code"],
            counted,
            {name: float(entry[f"{name}_g"]) * GRAVITY for name in counted},
        )
        for entry in table(DOMAIN, "securing").rows
    ]


def _skin_checks(request: MountCheckRequest) -> list[Check]:
    mounting, skin = request.mounting, request.skin
    if not isinstance(mounting, FastenedFeet) or mounting.pull_tests or mounting.wood:
        return []
    if skin and skin_strength(skin.material, skin.ultimate_strength_pa) is not None:
        return []
    return [rules.roof_skin(skin.material if skin else None)]


def _wood_checks(request: MountCheckRequest) -> list[Check]:
    """Depth of screws in wood, and their distance where a foot has several."""
    mounting = request.mounting
    if not isinstance(mounting, FastenedFeet) or mounting.wood is None:
        return []
    diameter = shank_mm(mounting)
    found = [rules.wood_depth(mounting.wood.thread_m, least_depth_m(diameter))]
    if own_fasteners(mounting).max() > 1:
        least_m = figure("limit", "wood_spacing") * diameter / 1000
        found.append(rules.wood_spacing(mounting.spacing_m, least_m))
    return found
