"""Rows of the mounting's tables, by what formulas make of them: figures of the trade and of codes.

Each stands here as its source says it, not as the table does; see the sources beside the tables.
"""

import math
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from mount_builders import FLEXIBLE, RATED, bonded, fastened, glued, railed, request
from msgspec.structs import replace

from outside_figures import Outside
from sunhitch.types.mount import (
    Adhesive,
    Bracket,
    MountCheckRequest,
    RoofSkin,
    RoofSurface,
    SpacerSheet,
    Timber,
    TravelConditions,
)
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.mount import adhesive, air, cases, fasteners, raised, wind
from sunhitch_service.engine.mount.between_feet import lateral_compliance
from sunhitch_service.engine.mount.calculation import mount_check
from sunhitch_service.engine.mount.rails import clamp_friction
from sunhitch_service.engine.mount.setup import settle
from sunhitch_service.engine.mount.thermal import _roof_expansion

DURATIONS = ("gust", "hours", "permanent", "movement")


@pytest.mark.parametrize(
    ("kind", "stresses", "peel", "thick_mm", "least_c"),
    [
        ("acrylic-foam-tape", (85e3, 10e3, 1630.0, 85e3), 260.0, 1.1, 15.0),
        ("one-part-polyurethane", (100e3, 20e3, 5e3, 100e3), 1000.0, 3.0, 10.0),
        ("structural-silicone", (138e3, 6.9e3, 6.9e3, 138e3), 1000.0, 6.0, 10.0),
    ],
)
def test_design_stresses_of_adhesives(
    kind: Any, stresses: tuple[float, ...], peel: float, thick_mm: float, least_c: float
) -> None:
    """At 21 °C for gusts, hours, years and movement, of which eight tenths of the area are wetted
    (common practice, no source); given ones replace them one by one."""
    glue = Adhesive(kind=kind)
    for duration, stress in zip(DURATIONS, stresses, strict=True):
        strength = adhesive.bond_strength(glue, duration, 21.0, 1.0)  # type: ignore[arg-type]
        assert strength == pytest.approx(0.8 * stress)
    assert adhesive.peel_strength(glue, 21.0, 0.5) == pytest.approx(peel / 2)
    setup = settle(request(glued(adhesive=glue)), Assumptions())
    assert setup.bond_m == pytest.approx(thick_mm / 1000)
    told = mount_check(request(glued(adhesive=glue))).cure
    assert told
    assert told.least_application_c == least_c
    for i, name in enumerate(("gust", "hours", "permanent")):
        own = replace(glue, **{f"{name}_strength_pa": 12e3})
        found = [adhesive.base_strength(own, duration) for duration in DURATIONS]  # type: ignore[arg-type]
        wanted = [
            12e3 if at == i or (i == 0 and at == 3) else each for at, each in enumerate(stresses)
        ]
        assert found == pytest.approx(wanted)
    assert adhesive.peel_strength(replace(glue, peel_strength_n_per_m=90.0), 21.0, 1.0) == 90.0


@pytest.mark.parametrize("given", [{}, {"hours": 15e3}, {"permanent": 1e3}])
def test_snow_lies_between_hours_and_years(given: dict[str, float]) -> None:
    """Half a year between a day's drive of 10 h and 10 years, on a straight line through both on
    logarithms; wherever it is asked, whose figures they are."""
    glue = Adhesive(
        kind="acrylic-foam-tape", **{f"{name}_strength_pa": own for name, own in given.items()}
    )
    known = [given.get(name, tabled) for name, tabled in (("hours", 10e3), ("permanent", 1630.0))]
    line = np.polyfit(np.log10([10.0, 10 * 8760.0]), np.log10(known), 1)
    wanted = 10 ** np.polyval(line, np.log10(8760.0 / 2))
    assert adhesive.base_strength(glue, "weeks") == pytest.approx(wanted)
    assert known[1] < wanted < known[0]


HEATS = {
    ("acrylic-foam-tape", "gust"): {
        25: 1.0,
        40: 0.7,
        50: 0.55,
        60: 0.45,
        70: 0.35,
        80: 0.28,
        90: 0.2,
    },
    ("acrylic-foam-tape", "hours"): {25: 1.0, 70: 1.0, 90: 0.5},
    ("one-part-polyurethane", "gust"): {25: 1.0, 60: 0.7, 90: 0.5},
    ("one-part-polyurethane", "hours"): {25: 1.0, 60: 0.7, 90: 0.5},
    ("structural-silicone", "gust"): {25: 1.0, 60: 0.9, 100: 0.8},
    ("acrylic-foam-tape", "permanent"): {25: 1.0, 60: 0.45, 90: 0.2},
}


@pytest.mark.parametrize(("kind", "duration"), HEATS)
def test_heat_takes_strength_row_by_row(kind: str, duration: Any) -> None:
    """On each row, straight between two, all of it in the cold, and none above the last."""
    rows = HEATS[kind, duration]
    hot = list(rows)
    for celsius, share in rows.items():
        assert adhesive.heat_fraction(kind, celsius, duration) == pytest.approx(share)
    between = [(a + b) / 2 for a, b in pairwise(hot)]
    if (kind, duration) != ("acrylic-foam-tape", "permanent"):
        for celsius in between:
            straight = float(np.interp(celsius, hot, list(rows.values())))
            assert adhesive.heat_fraction(kind, celsius, duration) == pytest.approx(straight)
    assert adhesive.heat_fraction(kind, -40.0, duration) == 1.0
    assert adhesive.heat_fraction(kind, hot[-1] + 0.1, duration) == 0.0
    assert adhesive.hottest_known_c(kind, duration) == hot[-1]


@pytest.mark.parametrize(
    ("kind", "share"),
    [
        *(("bare-aluminium", 1.0), ("glass", 1.0), ("gelcoat", 0.8), ("painted-metal", 0.7)),
        *(("painted-metal-unknown", 0.4), ("powder-coat", 0.5), ("pvc-membrane", 0.0)),
        *(("tpo-membrane", 0.0), ("epdm-membrane", 0.0), ("unknown", 0.4)),
    ],
)
def test_surfaces_take_their_share(kind: Any, share: float) -> None:
    """Prepared; unprepared the least of them and of old paint; a maker's word as it is; below a
    spacer the weaker of both."""
    ready, raw = (RoofSurface(kind=kind, abraded_and_cleaned=done) for done in (True, False))
    assert adhesive.surface_fraction(ready, None) == share
    assert adhesive.surface_fraction(raw, None) == min(share, 0.4)
    told = replace(raw, confirmed_strength_fraction=0.9)
    assert adhesive.surface_fraction(told, None) == 0.9
    for material, most in (("polycarbonate", 0.6), ("polypropylene", 0.0)):
        spacer = SpacerSheet(material=material, thickness_m=0.01, mass_kg=1.0)  # type: ignore[arg-type]
        assert adhesive.surface_fraction(ready, spacer) == min(share, most)
    assert adhesive.surface_fraction(None, None) == 0.4


@pytest.mark.parametrize("mounting", [glued(), bonded()])
def test_only_a_spacer_that_bonds_is_bonded(mounting: Any) -> None:
    for material, verdicts in (("polycarbonate", 0), ("polypropylene", 1)):
        spacer = SpacerSheet(material=material, thickness_m=0.006, mass_kg=0.8)
        checks = mount_check(request(mounting, FLEXIBLE, spacer=spacer)).checks
        assert sum("spacer" in (one.subject or "") for one in checks) == verdicts


@pytest.mark.parametrize(
    ("size", "shank_mm", "shear_n", "pull_n"),
    [
        ("3.2", 3.2, 500.0, 670.0),
        ("4.0", 4.0, 850.0, 1020.0),
        ("4.8", 4.8, 1200.0, 1425.0),
        ("6.4", 6.4, 2200.0, 2400.0),
    ],
)
def test_blind_rivets_bear_a_third_of_their_least_strength(
    size: Any, shank_mm: float, shear_n: float, pull_n: float, outside: Outside
) -> None:
    riveted = fastened(fastener="blind-rivet", rivet=size)
    pull, push = fasteners.fastener_strength(riveted)
    source = "ISO 15977, table 4, class L, aluminium with a steel mandrel"
    for name, found, least in (("pull", pull, pull_n), ("shear", push, shear_n)):
        of = f"{name} of a blind rivet of {size} mm over three"
        outside(found, least / 3, rel=1e-9, of=of, source=source, seen="recalled")
    assert fasteners.shank_mm(riveted) == shank_mm
    assert fasteners.fastener_source(riveted) == "iso-15977"


@pytest.mark.parametrize(
    ("thread", "proof_n", "shear_n", "torque_n_m"),
    [("M5", 6500.0, 1200.0, 1.5), ("M6", 7800.0, 2000.0, 3.5), ("M8", 12300.0, 2000.0, 5.0)],
)
def test_rivet_nuts_bear_a_third_of_their_figures(
    thread: Any, proof_n: float, shear_n: float, torque_n_m: float
) -> None:
    nuts = fastened(fastener="rivet-nut", thread=thread, property_class="10.9")
    assert fasteners.fastener_strength(nuts) == pytest.approx((proof_n / 3, shear_n / 3))
    told = mount_check(request(nuts)).nut_torque
    assert told
    assert told.torque_n_m == pytest.approx(torque_n_m)
    assert fasteners.fastener_source(nuts) == "rivet-nut-sheet"


@pytest.mark.parametrize(
    ("strength", "proof", "ultimate", "source"),
    [
        *(("8.8", 580e6, 800e6, "iso-898-1"), ("10.9", 830e6, 1040e6, "iso-898-1")),
        *(("A2-50", 210e6, 500e6, "iso-3506-1"), ("A2-70", 450e6, 700e6, "iso-3506-1")),
        *(("A4-70", 450e6, 700e6, "iso-3506-1"), ("A4-80", 600e6, 800e6, "iso-3506-1")),
    ],
)
def test_property_classes_of_bolts(
    strength: str, proof: float, ultimate: float, source: str
) -> None:
    """M6 of 20.1 mm²: half the proof stress; a stud bends on a circle of that area to two thirds
    of it; torque at three quarters of it by K of 0.2; shear 0.6 or 0.5 of the tensile strength
    over 1.875, at most 0.3 of it."""
    stress = fasteners.bolt_tension("M6", strength)
    assert stress == pytest.approx(20.1e-6 * proof / 2)
    wide = math.sqrt(4 * 20.1e-6 / math.pi)
    bent = fasteners.stud_moment("M6", strength)
    assert bent == pytest.approx(math.pi * wide**3 / 32 * proof / 1.5)
    preload = fasteners.usual_preload("M6", strength)
    assert preload == pytest.approx(0.75 * 20.1e-6 * proof)
    assert fasteners.torque("M6", strength, preload) == pytest.approx(0.2 * 0.006 * preload)
    through = 0.6 if strength == "8.8" else 0.5
    shear = fasteners.bolt_shear("M6", strength)
    assert shear == pytest.approx(20.1e-6 * ultimate * min(0.3, through / 1.875))
    assert fasteners.thread_source(strength) == source


@pytest.mark.parametrize(
    ("alloy", "least_mpa"), [("6063-T5", 110.0), ("6063-T6", 172.0), ("6061-T6", 241.0)]
)
def test_yield_of_profiles(alloy: str, least_mpa: float) -> None:
    """Over 1.65; a plate bends by w·t²/6."""
    assert fasteners.design_yield(alloy) == pytest.approx(least_mpa * 1e6 / 1.65)
    plate = Bracket(width_m=0.03, thickness_m=0.004, alloy=alloy)  # type: ignore[arg-type]
    assert fasteners.plate_modulus(plate) == pytest.approx(0.03 * 0.004**2 / 6)


@pytest.mark.parametrize(
    ("material", "mpa", "crush_mpa"),
    [
        ("aluminium-3003-h14", 140.0, 60.0),
        ("aluminium-5052-h32", 210.0, 60.0),
        ("aluminium-5754-h111", 190.0, 60.0),
        ("steel", 270.0, 120.0),
        *(("glass-fibre", None, 3.0), ("sandwich", None, 1.0), ("plywood", None, 3.0)),
        ("unknown", None, 1.0),
    ],
)
def test_roof_skins(material: Any, mpa: float | None, crush_mpa: float) -> None:
    """Least tensile strength, a certified one in its place, none where no formula holds; a washer
    of 10 mm tightens an M6 until it crushes what lies below, or to three quarters of proof."""
    known = fasteners.skin_strength(material, None)
    assert known == (None if mpa is None else pytest.approx(mpa * 1e6))
    certified = fasteners.skin_strength(material, 300e6)
    assert certified == (None if mpa is None else 300e6)
    skin = RoofSkin(material=material, thickness_m=0.0012)
    told = mount_check(request(fastened(washer_diameter_m=0.01), skin=skin)).nut_torque
    assert told
    ring = math.pi / 4 * (0.01**2 - 0.006**2)
    assert told.preload_n == pytest.approx(min(crush_mpa * 1e6 * ring, 0.75 * 450 * 20.1))


def test_a_laminate_is_not_crushed_by_its_nut() -> None:
    """2 MPa below a washer of 16 mm if none is told, around a hole of 6 mm."""
    for washer_m, wide in ((None, 0.016), (0.03, 0.03)):
        told = mount_check(request(glued(washer_diameter_m=washer_m), FLEXIBLE)).nut_torque
        assert told
        assert told.preload_n == pytest.approx(2e6 * math.pi / 4 * (wide**2 - 0.006**2))


@pytest.mark.parametrize(
    ("angle", "coefficient"),
    [(0, 1.3), (5, 1.4), (10, 1.4), (15, 1.5), (20, 1.5), (25, 1.6), (30, 1.8), (60, 1.8)],
)
def test_raised_panels_row_by_row(angle: float, coefficient: float, outside: Outside) -> None:
    of = f"canopy at {angle:g}°, upwards, free below or blocked, whichever is more"
    source = "EN 1991-1-4, table 7.6, and BS 6399-2, table 13"
    found = raised.force_coefficient(angle)
    outside(found, coefficient, rel=1e-9, of=of, source=source, seen="recalled")


@pytest.mark.parametrize(
    ("exposure", "gradient_ft", "power", "height_ft"),
    [("b", 1200.0, 7.0, 30.0), ("c", 900.0, 9.5, 15.0), ("d", 700.0, 11.5, 15.0)],
)
def test_exposures_follow_the_power_law(
    exposure: str, gradient_ft: float, power: float, height_ft: float, outside: Outside
) -> None:
    """K_z = 2.01·(z/z_g)^(2/α); a hill and the site's directionality of 0.85 multiply it."""
    law = 2.01 * (height_ft / gradient_ft) ** (2 / power)
    found = air.storm_pressure(40.0, exposure, 1.2)
    outside(
        found / (0.613 * 0.85 * 1.2 * 40.0**2),
        law,
        rel=0.003,
        of=f"velocity coefficient of exposure {exposure.upper()} at a parked vehicle's height",
        source="ASCE/SEI 7-16, table 26.10-1, note 1",
        seen="recalled",
    )


def test_travel_that_nobody_told() -> None:
    """120 km/h, gusts of 15, 20 and 10 m/s, from −20 to 40 °C, a storm of 40 m/s, a thousand
    pascals of snow, bonds at 60 and 90 °C, a roof by 3° out of level (common practice)."""
    found = settle(request(fastened(), travel=None), Assumptions()).conditions
    assert (found.road_speed, found.headwind, found.crosswind) == (33.3, 15.0, 20.0)
    assert (found.passing, found.storm_gust, found.snow_pa) == (10.0, 40.0, 1000.0)
    assert (found.lowest_air_c, found.highest_air_c) == (-20.0, 40.0)
    assert (found.driving_c, found.parked_c, found.slope_deg) == (60.0, 90.0, 3.0)
    assert found.outside_pa == pytest.approx(101325.0)
    assert found.density == pytest.approx(101325 / (287.05287 * 253.15))
    assert found.hot_density == pytest.approx(101325 / (287.05287 * 313.15))
    assert found.storm_pa == pytest.approx(0.613 * 0.85 * 0.85 * 40.0**2)


def test_drag_of_edges_feet_and_skin() -> None:
    """1.3 of the front that panel and feet show, and 0.01 of the panel's area."""
    flat = settle(request(fastened(base_width_m=0.07)), Assumptions())
    feet = 6 * 0.07 * 0.02
    for direction, side in (("front", 0.54), ("left", 1.18)):
        drag = cases.drag_area(flat, direction)  # type: ignore[arg-type]
        assert drag == pytest.approx(1.3 * (side * 0.035 + feet) + 0.01 * 1.18 * 0.54)
    pads = settle(request(glued(pad_length_m=0.1, pad_width_m=0.13)), Assumptions())
    assert cases.drag_area(pads, "front") == pytest.approx(
        1.3 * (0.54 * 0.035 + 6 * 0.13 * 0.02) + 0.01 * 1.18 * 0.54
    )
    rails = settle(request(railed()), Assumptions())
    assert cases.drag_area(rails, "front") == pytest.approx(1.3 * 0.54 * 0.035 + 0.01 * 1.18 * 0.54)


def test_bonds_in_a_storm_are_at_40_degrees_and_snow_lies_on_cold_ones() -> None:
    loads = {one.name: one for one in mount_check(request(glued())).load_cases}
    assert loads["parked-storm"].bond_c == 40.0
    assert loads["snow"].bond_c == 0.0
    assert loads["own-weight"].bond_c == 90.0
    kept = {one.name: one.duration for one in mount_check(request(glued())).load_cases}
    assert (kept["snow"], kept["own-weight"]) == ("weeks", "permanent")
    assert kept["highway-hours"] == "hours"


@pytest.mark.parametrize(
    ("kind", "daily", "seasonal"),
    [
        ("acrylic-foam-tape", 0.5, 1.0),
        ("one-part-polyurethane", 0.25, 0.25),
        ("structural-silicone", 0.125, 0.125),
    ],
)
def test_strains_that_bonds_bear(kind: Any, daily: float, seasonal: float) -> None:
    answer = mount_check(request(glued(adhesive=Adhesive(kind=kind))))
    limits = {one.code: one.capacity for one in answer.checks}
    assert limits["bond-movement-thermal-daily"] == daily
    assert limits["bond-movement-thermal-seasonal"] == seasonal


@pytest.mark.parametrize(
    ("code", "wanted"),
    [("edge-strain-headwind-gust", 0.003), ("edge-divergence-headwind-gust", 1.85)],
)
def test_limits_of_free_edges(code: str, wanted: float) -> None:
    """Cells crack at 0.3 %; a flag that faces the wind bends away above 1.85."""
    told = {one.code: one.capacity for one in mount_check(request(bonded(), FLEXIBLE)).checks}
    assert told[code] == wanted


@pytest.mark.parametrize("case", ["parked-storm", "crosswind-gust", "headwind-gust"])
def test_free_edges_face_every_wind(case: str) -> None:
    """ρU²c³/D of a flap of 40 mm, by its own pressure in each case: twice q·c³/D."""
    travel = TravelConditions(storm_gust_m_s=70.0)
    flap = bonded(flap_m=0.04)
    sheet = replace(RATED, bending_stiffness_n_m=0.2)
    answer = mount_check(request(flap, FLEXIBLE, travel=travel, sheet=sheet, detail="all"))
    pressure = next(one.dynamic_pressure_pa for one in answer.load_cases if one.name == case)
    told = next(one for one in answer.checks if one.code == f"edge-divergence-{case}")
    assert told.demand == pytest.approx(2 * pressure * 0.04**3 / 0.2, rel=1e-9)


def test_blister_of_a_sheet_bonded_all_over() -> None:
    """Voids and bond of a tenth each at least; by the stress for hours in the heat."""
    warm = TravelConditions(highest_air_c=30.0)
    for share, voids, held in (
        (1.0, 0.1, 1.0),
        (0.95, 0.1, 0.95),
        (0.6, 0.4, 0.6),
        (0.05, 0.95, 0.1),
    ):
        sealed = bonded(vented=False, bonded_fraction=share)
        answer = mount_check(request(sealed, FLEXIBLE, travel=warm))
        told = next(one for one in answer.checks if one.code == "trapped-air-trapped-air")
        pressure = 101325.0 * (90.0 - 21.0) / (21.0 + 273.15)
        assert told.demand == pytest.approx(pressure * voids / held)
        assert told.capacity == pytest.approx(10e3 * 0.5 * 0.8)


@pytest.mark.parametrize(
    ("asked", "mode"),
    [
        (request(fastened()), "fastener-combined"),
        (
            request(fastened(fastener="screw", wood=Timber(density_kg_m3=380.0, thread_m=0.05))),
            "wood-combined",
        ),
    ],
)
def test_shares_together_reach_one_and_more_after_a_loss(
    asked: MountCheckRequest, mode: str
) -> None:
    told = {one.code: one.capacity for one in mount_check(asked).checks}
    assert told[f"{mode}-headwind-gust"] == 1.0
    assert told[f"{mode}-foot-lost"] == 1.5


def test_a_span_bows_by_itself_above_one() -> None:
    told = {one.code: one.capacity for one in mount_check(request(fastened(), FLEXIBLE)).checks}
    assert told["span-divergence-headwind-gust"] == 1.0
    assert told["span-strain-headwind-gust"] == 0.003


def test_a_bonded_sheet_bears_suction_and_push_over_its_area() -> None:
    """Both pushes of a load case as vectors, its suction with what it adds up to, per area."""
    answer = mount_check(request(bonded(), FLEXIBLE, travel=TravelConditions(highest_air_c=30.0)))
    checks = {one.code: one for one in answer.checks}
    area = 1.18 * 0.54
    for name in ("highway-hours", "headwind-gust", "crosswind-gust", "passing-vehicle"):
        loads = [one for one in answer.load_cases if one.name == name]
        shears = [math.hypot(one.rearward_n, one.sideways_n) / area for one in loads]
        ways = ("shear", "tension", "combined")
        shear, tension, both = (checks[f"sheet-bond-{way}-{name}"].demand or 0.0 for way in ways)
        assert any(shear == pytest.approx(one) for one in shears)
        assert any(both == pytest.approx(tension + one) for one in shears)
        assert tension >= min(one.uplift_n for one in loads) / area - 1e-9


@pytest.mark.parametrize(("standoff_m", "most_m"), [(0.06, 0.84 / 150), (0.01, 0.005)])
def test_rails_may_sag_by_a_share_of_their_span(standoff_m: float, most_m: float) -> None:
    """A 150th of 0.84 m between supports, and half of the air below the panel at most."""
    answer = mount_check(request(railed(standoff_m=standoff_m)))
    told = {one.code: one.capacity for one in answer.checks}
    assert told["rail-deflection-headwind-gust"] == pytest.approx(most_m)
    assert told["rail-deflection-foot-lost"] == pytest.approx(1.5 * most_m)


def test_clamps_hold_by_the_friction_that_is_left() -> None:
    """Friction 0.15 of the tightening force less the pull, over 1.5; or a measured friction."""
    for given, friction in ((None, 0.15), (0.3, 0.3)):
        answer = mount_check(request(railed(friction_fraction=given)))
        slip = next(one for one in answer.checks if one.code == "clamp-slip-headwind-gust")
        pulls = [friction * (4000.0 - foot.uplift_n) / 1.5 for foot in answer.feet]
        whole = friction * 4000.0 / 1.5
        assert slip.capacity is not None
        assert min(pulls) - 1e-6 <= slip.capacity <= whole


@pytest.mark.parametrize("thread", ["M5", "M6", "M8"])
def test_a_wood_screw_bears_by_its_core(thread: Any) -> None:
    """Six tenths of its diameter: half the proof stress and the shear of A2-70 on that circle."""
    wood = Timber(density_kg_m3=380.0, thread_m=0.06)
    screw = fastened(fastener="screw", thread=thread, wood=wood)
    core = math.pi / 4 * (0.6 * float(thread[1:])) ** 2
    pull, push = fasteners.fastener_strength(screw)
    assert pull == pytest.approx(core * 450 / 2)
    assert push == pytest.approx(core * 700 * 0.5 / 1.875)
    bolt = fasteners.fastener_strength(replace(screw, fastener="bolt", wood=None))
    assert pull < bolt[0]


def test_a_panel_bears_what_lies_on_it_and_what_lifts_it() -> None:
    """Snow of 958 Pa with the panel's own weight; the worst third's suction in the gust."""
    checks = {one.code: one.demand for one in mount_check(request(fastened())).checks}
    weight = 7.5 * 9.80665 / (1.18 * 0.54)
    assert checks["panel-pressure-snow"] == pytest.approx(958.0 + weight)
    assert checks["panel-pressure-bump-down"] == pytest.approx(2.5 * weight)


@pytest.mark.parametrize(
    ("shape", "ratio", "mean", "peak"),
    [
        ("sharp", 0.0, (1.8, 1.2, 0.7, 0.2), (2.5, 2.0, 1.2, 0.2)),
        ("rounded", 0.05, (1.0, 1.2, 0.4, 0.2), (1.5, 1.8, 0.4, 0.2)),
        ("rounded", 0.1, (0.7, 0.8, 0.3, 0.2), (1.2, 1.4, 0.3, 0.2)),
        ("rounded", 0.2, (0.5, 0.5, 0.3, 0.2), (0.8, 0.8, 0.3, 0.2)),
    ],
)
def test_suction_zone_by_zone(
    shape: Any, ratio: float, mean: tuple[float, ...], peak: tuple[float, ...]
) -> None:
    """EN 1991-1-4, table 7.2, from memory: sharp and curved eaves, zones F, G, H and I."""
    rows = wind.shape_row(shape, ratio)
    assert [rows[zone] for zone in wind.ZONES] == list(zip(mean, peak, strict=True))


def test_the_edge_of_a_bond_bears_double_below_a_thin_plate() -> None:
    """Below 3 mm of metal; from there on the plate is stiff."""
    loads = np.array([100.0]), np.array([10.0]), np.array([20.0])
    edges = [
        adhesive.pad_edge(glued(base_thickness_m=thick), np.array([[0.12, 0.1]]), 1.0, *loads)[0]
        for thick in (0.0029, 0.003)
    ]
    assert edges[0] == pytest.approx(2 * edges[1])


@pytest.mark.parametrize(
    ("kind", "soft", "stiff"),
    [
        ("acrylic-foam-tape", 0.15e6, 0.5e6),
        ("one-part-polyurethane", 0.5e6, 1.5e6),
        ("structural-silicone", 0.4e6, 1.0e6),
    ],
)
def test_a_bond_gives_by_its_shear_modulus(kind: Any, soft: float, stiff: float) -> None:
    """t/(G·A) of a pad of 120 × 120 mm at 21 °C (common practice, from memory)."""
    pads = glued(adhesive=Adhesive(kind=kind), pad_length_m=0.12, pad_width_m=0.12)
    setup = settle(request(pads), Assumptions())
    for modulus, name in ((soft, "shear_modulus_pa"), (stiff, "stiff_modulus_pa")):
        found = lateral_compliance(setup, "gust", 21.0, name)
        assert found == pytest.approx(setup.bond_m / (modulus * 0.12**2))


@pytest.mark.parametrize(
    ("material", "low", "high"),
    [
        *((f"aluminium-{alloy}", 21.8, 24.0) for alloy in ("3003-h14", "5052-h32", "5754-h111")),
        *(("steel", 12.0, 12.0), ("glass-fibre", 14.0, 35.0), ("sandwich", 14.0, 35.0)),
        *(("plywood", 4.0, 8.0), ("unknown", 4.0, 35.0)),
    ],
)
def test_roofs_grow_by_their_material(material: Any, low: float, high: float) -> None:
    """In millionths a kelvin (from memory); of what nobody knows the least and the most."""
    asked = request(glued(), skin=RoofSkin(material=material, thickness_m=0.0012))
    found = _roof_expansion(settle(asked, Assumptions()))
    assert found == pytest.approx((low * 1e-6, high * 1e-6))


@pytest.mark.parametrize(
    ("material", "modulus_pa", "growth"),
    [("polycarbonate", 2.3e9, 65e-6), ("polypropylene", 1.2e9, 120e-6)],
)
def test_two_walls_of_a_spacer_stiffen_a_sheet(
    material: Any, modulus_pa: float, growth: float
) -> None:
    """2·E·w·((t − w)/2)² of walls of 0.4 mm in 10 mm (modulus and expansion from memory)."""
    spacer = SpacerSheet(material=material, thickness_m=0.01, mass_kg=1.0)
    alone, both = (
        settle(request(glued(), FLEXIBLE, sheet=None, spacer=one), Assumptions()).panel
        for one in (None, spacer)
    )
    walls = 2 * modulus_pa * 0.0004 * (0.0096 / 2) ** 2
    assert both.bending - alone.bending == pytest.approx(walls)
    assert max(both.expansion) == pytest.approx(growth)


@pytest.mark.parametrize(("given", "friction"), [(None, 0.15), (0.3, 0.3)])
def test_frames_hold_in_clamps_by_friction(given: float | None, friction: float) -> None:
    """As anodised or painted, EN 1090-2 from memory, or as measured."""
    assert clamp_friction(railed(friction_fraction=given)) == friction
