"""What the mount check answers for each mounting, and that its parts agree with each other."""

import math
from functools import cache
from itertools import pairwise
from typing import Any

import pytest
from mount_builders import (
    FLEXIBLE,
    FRAMED,
    LENGTH,
    SKIN,
    VEHICLE,
    WIDTH,
    bonded,
    fastened,
    glued,
    grid,
    railed,
    request,
)
from msgspec.structs import replace

from sunhitch.report.amounts import infinite
from sunhitch.types.check import Check
from sunhitch.types.mount import (
    Adhesive,
    Bracket,
    FootPoint,
    MountCheckAnswer,
    PanelWind,
    RoofSkin,
    RoofSurface,
    SheetProperties,
    SpacerSheet,
    TravelConditions,
)
from sunhitch_service.engine.checks import verdict_of
from sunhitch_service.engine.mount.calculation import mount_check
from sunhitch_service.engine.mount.speed import LEFT_OUT_OF_SPEED

BUILDS = {
    "glued": request(glued()),
    "fastened": request(fastened()),
    "bonded": request(
        bonded(adhesive=Adhesive(kind="acrylic-foam-tape", thickness_m=0.003)),
        FLEXIBLE,
        travel=TravelConditions(highest_air_c=30.0),
        wind=PanelWind(under_panel="closed-at-front"),
    ),
    "rails": request(railed()),
    "flexible": request(glued(play_m=0.002), FLEXIBLE),
}


@cache
def answer_of(name: str) -> MountCheckAnswer:
    """Worked out once, by the first test that asks."""
    return mount_check(BUILDS[name])


every_build = pytest.mark.parametrize("name", BUILDS)


def codes(answer: MountCheckAnswer, verdict: str) -> set[str]:
    return {check.code for check in answer.checks if check.verdict == verdict}


@pytest.mark.parametrize("name", ["glued", "fastened", "bonded", "rails"])
def test_sound_mountings_hold(name: str) -> None:
    assert codes(answer_of(name), "fail") == set()
    assert codes(answer_of(name), "not-assessed") == set()


def test_a_bond_below_a_sheet_is_as_hot_as_the_sheet() -> None:
    """What is known of adhesives ends at 90 °C, which a sheet on a roof passes in hot air."""
    hottest = {c.code: c.demand for c in answer_of("bonded").checks}["bond-heat"]
    warmer = TravelConditions(highest_air_c=40.0)
    hot = mount_check(request(bonded(), FLEXIBLE, travel=warmer))
    assert "bond-heat" in codes(hot, "not-assessed")
    measured = mount_check(request(bonded(), FLEXIBLE, travel=replace(warmer, bond_parked_c=88.0)))
    assert {c.code: c.demand for c in measured.checks}["bond-heat"] == 88.0
    assert hottest == 90.0
    feet = mount_check(request(glued(), travel=warmer))
    assert {c.code: c.demand for c in feet.checks}["bond-heat"] == 90.0


@pytest.mark.parametrize(
    ("kind", "least_c"),
    [
        ("acrylic-foam-tape", -40.0),
        ("one-part-polyurethane", -40.0),
        ("structural-silicone", -50.0),
    ],
)
def test_frost_beyond_what_an_adhesive_is_made_for_is_told(kind: Any, least_c: float) -> None:
    """Usual coldest service of such adhesives, from memory; a bond below it may turn brittle."""
    for coldest_c, told in ((least_c, []), (least_c - 0.1, ["not-assessed"])):
        cold = TravelConditions(lowest_air_c=coldest_c)
        answer = mount_check(request(glued(adhesive=Adhesive(kind=kind)), travel=cold))
        checks = [one for one in answer.checks if one.code == "bond-heat"]
        assert [one.verdict for one in checks if one.demand == coldest_c] == told
        assert answer.verdict != "pass" or not told


EXACT = ("cure-time", "securing-us", "securing-eu")
"""Checks that compare with what is prescribed, without a reserve of their own."""


@every_build
def test_governing_is_the_worst_check(name: str) -> None:
    """The worst failure, or the largest utilisation where nothing fails."""
    answer = answer_of(name)
    numbered = [
        c for c in answer.checks if c.utilisation_fraction is not None and c.code not in EXACT
    ]
    worst = max(numbered, key=lambda c: (c.verdict == "fail", c.utilisation_fraction))
    assert worst.code == answer.governing.code
    assert worst.utilisation_fraction == answer.governing.utilisation_fraction


@every_build
def test_codes_name_one_check_each(name: str) -> None:
    found = [(c.code, c.subject) for c in answer_of(name).checks]
    assert len(found) == len(set(found))


@every_build
def test_every_failing_check_says_what_to_change(name: str) -> None:
    for check in answer_of(name).checks:
        assert bool(check.remedy) == (check.verdict != "pass"), check.code
        assert "{" not in check.remedy


@every_build
def test_passes_keep_the_stated_reserve(name: str) -> None:
    answer = answer_of(name)
    for check in answer.checks:
        if check.verdict == "pass" and check.utilisation_fraction and check.code not in EXACT:
            assert check.utilisation_fraction <= 1 - answer.reserve_fraction + 1e-12


@every_build
def test_speed_curve_rises(name: str) -> None:
    for slower, faster in pairwise(answer_of(name).speed_curve):
        assert infinite(slower.utilisation_fraction) <= infinite(faster.utilisation_fraction)


@every_build
def test_pass_speed_is_not_above_fail_speed(name: str) -> None:
    limit = answer_of(name).speed_limit
    assert (limit.pass_speed_m_s or 0.0) <= (limit.fail_speed_m_s or 0.0)
    assert not limit.limited_by.startswith(LEFT_OUT_OF_SPEED)
    for point in answer_of(name).speed_curve:
        assert not point.governed_by.startswith(LEFT_OUT_OF_SPEED)


@every_build
def test_improvements_are_what_a_new_check_finds(name: str) -> None:
    """Each named change lowers the governing utilisation by the share that it states."""
    answer = answer_of(name)
    before = infinite(answer.governing.utilisation_fraction)
    for better in answer.improvements:
        share = max(0.0, 1 - infinite(better.utilisation_fraction) / before)
        assert better.gain_fraction == pytest.approx(share)
        assert better.gain_fraction > 0 or better.verdict != answer.verdict


def test_a_named_improvement_holds_when_built() -> None:
    """Play at the studs, as the answer proposes it, built and checked by itself."""
    tight = request(glued(), FLEXIBLE)
    proposed = next(i for i in mount_check(tight).improvements if "play" in i.change)
    built = mount_check(replace(tight, mounting=glued(play_m=0.002)))
    assert built.governing.utilisation_fraction == pytest.approx(proposed.utilisation_fraction)
    assert built.speed_limit.pass_speed_m_s == pytest.approx(proposed.pass_speed_m_s)


def test_plan_ends_where_nothing_fails() -> None:
    answer = mount_check(request(glued(), FLEXIBLE))
    assert answer.verdict == "fail"
    assert answer.plan
    assert answer.plan[-1].verdict != "fail"
    used = [step.utilisation_fraction for step in answer.plan]
    assert used == sorted(used, reverse=True)


def test_no_plan_where_nothing_fails() -> None:
    assert answer_of("bonded").plan == []


@every_build
def test_lost_foot_is_never_better(name: str) -> None:
    answer = answer_of(name)
    for foot in answer.feet:
        assert foot.lost_uplift_n is not None and foot.lost_uplift_n >= 0
    assert answer.foot_lost.reserve_fraction == pytest.approx(
        1 - infinite(answer.foot_lost.utilisation_fraction)
    )


def test_three_feet_do_not_survive_the_loss_of_one() -> None:
    feet = [glued().feet[0], glued().feet[1], glued().feet[4]]
    answer = mount_check(request(glued(feet=feet)))
    assert "foot-balance-foot-lost" in codes(answer, "fail")
    assert answer.foot_lost.code == "foot-balance-foot-lost"
    assert answer.foot_lost.utilisation_fraction is None
    assert {foot.lost_uplift_n for foot in answer.feet} == {None}


def by_code(answer: MountCheckAnswer) -> dict[str, Check]:
    return {check.code: check for check in answer.checks}


def test_loss_of_a_corner_foot_doubles_its_neighbours() -> None:
    """Four corner feet under an even load carry 1/4 each, three of them 1/2, 1/2 and 0 (statics).

    The storm governs, so the loss has to be tried in it; 1.5 on capacities is left of the factor
    on loads. The panel's weight is nothing and drag as small as the request allows.
    """
    calm = TravelConditions(
        road_speed_m_s=0.0,
        headwind_gust_m_s=0.0,
        crosswind_gust_m_s=0.0,
        passing_gust_m_s=0.0,
        storm_gust_m_s=50.0,
    )
    even = PanelWind(
        net_uplift_coefficient=1.5, centre_of_pressure_fraction=0.5, edge_drag_coefficient=0.1
    )
    light = replace(FRAMED, mass_kg=0.1, thickness_m=0.001)
    flat = glued(feet=grid(2, 2), standoff_m=0.001, foot_thickness_m=0.001)
    found = by_code(mount_check(request(flat, light, travel=calm, wind=even)))
    whole, lost = found["bond-tension-parked-storm"], found["bond-tension-foot-lost"]
    assert whole.demand is not None and lost.demand is not None
    assert lost.demand / whole.demand == pytest.approx(2.0, rel=1e-3)
    assert (lost.utilisation_fraction or 0.0) / (whole.utilisation_fraction or 1.0) == (
        pytest.approx(2.0 / 1.5, rel=1e-3)
    )
    assert "storm" in (lost.subject or "")


@every_build
def test_a_loss_is_tried_in_every_load_case(name: str) -> None:
    """With one support lost the worst demand on the others is never less than with all of them.

    Over capacities, since those differ between cases; 1.5 is the most that a loss relieves.
    """
    found = by_code(answer_of(name))
    modes = [code.removesuffix("-foot-lost") for code in found if code.endswith("-foot-lost")]
    assert modes
    for mode in modes:
        lost = infinite(found[f"{mode}-foot-lost"].utilisation_fraction)
        for load in answer_of(name).load_cases:
            if check := found.get(f"{mode}-{load.name}"):
                assert 1.5 * lost >= infinite(check.utilisation_fraction) * (1 - 1e-9), check.code


@pytest.mark.parametrize("slope_deg", [0.0, 3.0, 20.0])
def test_snow_pushes_down_the_slope(slope_deg: float) -> None:
    """(958 Pa · area + weight)·sin of the slope, on six pads and on a whole sheet of which 0.6 is
    bonded; where they lie level nothing pushes, and nowhere does snow pull at a foot."""
    sloped = replace(VEHICLE, roof_slope_deg=slope_deg)
    sine = math.sin(math.radians(slope_deg))
    framed = by_code(mount_check(request(glued(), vehicle=sloped)))
    push = (958.0 * LENGTH * WIDTH + 7.5 * 9.80665) * sine
    assert framed["bond-shear-snow"].demand == pytest.approx(push / (6 * 0.12**2))
    assert "bond-edge-snow" not in framed
    sheet = by_code(mount_check(request(bonded(), FLEXIBLE, vehicle=sloped)))
    push = (958.0 * LENGTH * WIDTH + 2.3 * 9.80665) * sine
    assert sheet["sheet-bond-shear-snow"].demand == pytest.approx(push / (LENGTH * WIDTH))
    assert "sheet-bond-tension-snow" not in sheet


def test_weight_beyond_the_feet_levers_at_those_behind() -> None:
    """Feet at 0.1 and 0.4 m of a panel of 1.18 m: snow in its middle turns it about the second row.

    Two feet a row: each of the first is pulled up by W·(0.59 − 0.4)/0.3/2 (lever), on the level.
    """
    feet = [FootPoint(x_m=x, y_m=y) for x in (0.1, 0.4) for y in (0.1, 0.44)]
    level = replace(VEHICLE, roof_slope_deg=0.0)
    found = mount_check(request(fastened(feet=feet), vehicle=level))
    snow = next(load for load in found.load_cases if load.name == "snow")
    lever = (LENGTH / 2 - 0.4) / 0.3 / 2
    per_bolt = -snow.uplift_n * lever / 2
    assert by_code(found)["fastener-tension-snow"].demand == pytest.approx(per_bolt)
    assert "fastener-tension-snow" not in by_code(answer_of("fastened"))


def test_a_sheet_pulls_its_corner_feet_along_both_sides() -> None:
    """Square sheet on four corner feet: n·w along each side, √2 as much together.

    n = (Et·p²·L²/24)^⅓ of a parabolic membrane that carries half of the suction; bending, drag and
    play are next to nothing.
    """
    side, span, stretch = 0.6, 0.5, 4.5e6
    sheet = replace(FLEXIBLE, length_m=side, width_m=side, mass_kg=1.0)
    feet = [FootPoint(x_m=x, y_m=y) for x in (0.05, 0.55) for y in (0.05, 0.55)]
    soft = SheetProperties(
        in_plane_stiffness_n_per_m=stretch, bending_stiffness_n_m=0.01, load_rating_pa=3600.0
    )
    even = PanelWind(net_uplift_coefficient=2.0, edge_drag_coefficient=0.1)
    answer = mount_check(request(fastened(feet=feet), sheet, sheet=soft, wind=even))
    gust = next(load for load in answer.load_cases if load.name == "headwind-gust")
    half = gust.dynamic_pressure_pa * 2.0 / 2
    pulled = (stretch * half**2 * span**2 / 24) ** (1 / 3) * side / 2
    found = by_code(answer)["fastener-shear-headwind-gust"].demand
    assert found is not None
    assert 2 * found == pytest.approx(math.sqrt(2) * pulled, rel=0.01)


def test_ratings_are_taken_as_given() -> None:
    """1,000 N that a maker rates are 1,000 N, with all supports and with one lost."""
    rated = railed(clamp_rating_n=1000.0, support_rating_n=900.0)
    strong = Adhesive(kind="acrylic-foam-tape", gust_strength_pa=50e3, hours_strength_pa=50e3)
    found = by_code(mount_check(request(rated))) | by_code(
        mount_check(request(glued(adhesive=strong)))
    )
    for code in ("clamp-uplift-headwind-gust", "clamp-uplift-foot-lost"):
        assert found[code].capacity == 1000.0
    assert found["rail-support-foot-lost"].capacity == 900.0
    bond = found["bond-tension-foot-lost"].capacity
    assert bond == found["bond-tension-headwind-gust"].capacity
    assert bond is not None and bond <= 50e3


@pytest.mark.parametrize("kind", ["pvc-membrane", "tpo-membrane", "epdm-membrane"])
def test_membranes_cannot_be_bonded(kind: str) -> None:
    surface = RoofSurface(kind=kind, abraded_and_cleaned=True)  # type: ignore[arg-type]
    answer = mount_check(request(glued(), surface=surface))
    check = next(c for c in answer.checks if c.code == "surface")
    assert check.verdict == "fail"
    assert "Not bondable" in check.remedy
    assert answer.speed_limit.pass_speed_m_s is None


def test_a_membrane_with_the_makers_word_is_judged() -> None:
    surface = RoofSurface(
        kind="pvc-membrane", abraded_and_cleaned=True, confirmed_strength_fraction=0.5
    )
    answer = mount_check(request(glued(), surface=surface))
    assert "surface" in codes(answer, "pass")


@pytest.mark.parametrize(
    "surface",
    [
        None,
        RoofSurface(kind="unknown", abraded_and_cleaned=True),
        RoofSurface(kind="bare-aluminium", abraded_and_cleaned=False),
    ],
)
def test_unknown_or_unprepared_surface_is_never_a_pass(surface: RoofSurface | None) -> None:
    for build in (request(glued()), request(bonded(), FLEXIBLE)):
        answer = mount_check(replace(build, surface=surface))
        assert "surface" in codes(answer, "not-assessed")
        assert answer.verdict in ("not-assessed", "fail")


def test_unknown_roof_rating_is_never_a_pass() -> None:
    for name in ("glued", "bonded", "rails"):
        vehicle = replace(VEHICLE, roof_rating_kg=None, rack_rating_kg=None)
        answer = mount_check(replace(BUILDS[name], vehicle=vehicle))
        assert "roof-rating" in codes(answer, "not-assessed")
        assert ("rack-rating" in codes(answer, "not-assessed")) == (name == "rails")


@pytest.mark.parametrize(
    ("mounting", "panel", "wanted"),
    [(glued(), FLEXIBLE, True), (glued(), FRAMED, False), (bonded(), FLEXIBLE, False)],
)
def test_a_laminate_that_is_bored_wants_its_strength(
    mounting: Any, panel: Any, wanted: bool
) -> None:
    answer = mount_check(request(mounting, panel, sheet=None))
    assert ("laminate-strength" in codes(answer, "review")) is wanted


def test_overloaded_roof_fails() -> None:
    vehicle = replace(VEHICLE, other_roof_mass_kg=95.0)
    assert "roof-rating" in codes(mount_check(request(glued(), vehicle=vehicle)), "fail")


def test_what_else_lies_on_the_roof_is_added_once() -> None:
    def demand(other_kg: float | None) -> float:
        vehicle = replace(VEHICLE, other_roof_mass_kg=other_kg)
        answer = mount_check(request(glued(), vehicle=vehicle))
        (check,) = [one for one in answer.checks if one.code == "roof-rating"]
        assert check.demand is not None
        return check.demand

    alone = demand(None)
    assert demand(0.0) == alone
    assert demand(12.0) == pytest.approx(alone + 12.0)


@pytest.mark.parametrize("material", ["sandwich", "plywood", "glass-fibre", "unknown"])
def test_skins_without_a_formula_are_not_assessed(material: str) -> None:
    skin = RoofSkin(material=material, thickness_m=0.02)  # type: ignore[arg-type]
    answer = mount_check(request(fastened(), skin=skin))
    assert "roof-skin" in codes(answer, "not-assessed")
    assert not any(c.code.startswith("skin-") for c in answer.checks)


def test_screws_earn_no_pull_out() -> None:
    answer = mount_check(request(fastened(fastener="screw")))
    assert any(code.startswith("skin-pull-out") for code in codes(answer, "fail"))


def test_skin_gives_before_the_bolt() -> None:
    """A washer through thin skin is far weaker than an M6 bolt (worked by hand below)."""
    answer = mount_check(request(fastened(washer_diameter_m=0.025), skin=replace(SKIN)))
    by_code = {c.code: c for c in answer.checks}
    skin = by_code["skin-pull-over-headwind-gust"]
    bolt = by_code["fastener-tension-headwind-gust"]
    assert skin.capacity is not None and bolt.capacity is not None
    by_hand = min(6.1 * 1.2 * 190 * math.sqrt(25 / 22), 0.5 * 25 * 1.2 * 190) / 1.875
    assert skin.capacity == pytest.approx(by_hand)
    assert bolt.capacity == pytest.approx(20.1 * 450 / 2)
    assert skin.capacity < bolt.capacity


def test_rest_before_the_first_drive() -> None:
    answer = answer_of("glued")
    assert answer.cure is not None
    assert answer.cure.hours_before_driving == 72.0
    by_hours = {step.hours: step.strength_fraction for step in answer.cure.strength}
    assert by_hours[24.0] == pytest.approx(0.9)
    half_an_hour, four, day = 0.5, 4.0, 24.0
    assert list(by_hours) == [half_an_hour, four, day, 3 * day]
    hasty = glued(adhesive=Adhesive(kind="acrylic-foam-tape", hours_before_driving=24.0))
    assert "cure-time" in codes(mount_check(request(hasty)), "fail")


def test_cold_doubles_the_cure_and_forbids_bonding() -> None:
    cold = glued(adhesive=Adhesive(kind="acrylic-foam-tape", application_c=11.0))
    answer = mount_check(request(cold))
    assert answer.cure is not None
    assert answer.cure.hours_before_driving == pytest.approx(144.0)
    assert answer.cure.at_c == 11.0
    assert "application-temperature" in codes(answer, "fail")


def test_solid_feet_shut_moisture_out() -> None:
    """Half of 80 mm at 3.5 mm per square root of a day and 23 °C: 131 days, some months.

    Beads with air paths as wide as themselves cure sooner and bond half of the pad.
    """
    solid = glued(
        pad_length_m=0.08,
        pad_width_m=0.08,
        adhesive=Adhesive(kind="one-part-polyurethane", application_c=23.0),
    )
    answer = mount_check(request(solid))
    assert answer.cure is not None
    assert answer.cure.hours_before_driving / 24 == pytest.approx((40 / 3.5) ** 2)
    week, month = 7 * 24.0, 30 * 24.0
    assert [step.hours for step in answer.cure.strength][-3:-1] == [week, month]
    beads = replace(solid, adhesive=replace(solid.adhesive, bead_width_m=0.01))
    found = mount_check(request(beads))
    assert found.cure is not None
    assert found.cure.hours_before_driving / 24 == pytest.approx((5 / 3.5) ** 2)
    for code in ("bond-tension-headwind-gust", "bond-shear-braking", "bond-edge-braking"):
        whole, half = by_code(answer)[code].demand, by_code(found)[code].demand
        assert whole is not None and half == pytest.approx(2 * whole)
    assert "/mounting/bonded_fraction" in {one.field for one in found.assumptions}


def test_trapped_air_needs_a_way_out() -> None:
    sealed = mount_check(request(bonded(vented=False), FLEXIBLE))
    assert "trapped-air-trapped-air" in codes(sealed, "fail")
    assert any("air can leave" in better.change for better in sealed.improvements)


def test_torque_is_limited_by_what_crushes_first() -> None:
    soft, hard = answer_of("flexible").nut_torque, answer_of("glued").nut_torque
    assert soft is not None and hard is not None
    assert "laminate" in soft.limited_by
    assert hard.torque_n_m == pytest.approx(0.20 * 0.006 * 0.75 * 450 * 20.1)
    assert soft.torque_n_m < hard.torque_n_m
    assert answer_of("rails").nut_torque is None


def test_glued_mounts_are_told_to_fit_a_second_retention() -> None:
    answer = answer_of("glued")
    assert answer.second_retention.advised
    gust = next(load for load in answer.load_cases if load.name == "headwind-gust")
    assert answer.second_retention.force_n > gust.uplift_n
    assert any(caution.about == "adhesive" for caution in answer.cautions)


def test_measured_coefficients_replace_the_zones() -> None:
    answer = mount_check(request(glued(), wind=PanelWind(net_uplift_coefficient=1.1)))
    gust = next(load for load in answer.load_cases if load.name == "headwind-gust")
    assert gust.uplift_coefficient == pytest.approx(1.1)
    assert gust.dynamic_pressure_pa == pytest.approx(
        0.5 * answer.air_density_kg_m3 * (33.3 + 15) ** 2
    )
    weight = 0.6 * 7.5 * 9.80665
    area = 1.18 * 0.54
    assert gust.uplift_n == pytest.approx(1.1 * gust.dynamic_pressure_pa * area - weight)


def test_leading_strip_is_worse_than_the_middle() -> None:
    places = [replace(request(glued()).position, x_m=x) for x in (0.0, 2.5)]
    at_front, behind = (mount_check(request(glued(), position=place)) for place in places)
    uplift = [
        next(load.uplift_n for load in answer.load_cases if load.name == "headwind-gust")
        for answer in (at_front, behind)
    ]
    assert uplift[0] > 2 * uplift[1]
    assert any("behind the roof's leading strip" in i.change for i in at_front.improvements)


@pytest.mark.parametrize(
    ("mounting", "verdict"),
    [(bonded(), "fail"), (glued(), "review"), (fastened(), "review"), (railed(), "review")],
)
def test_polypropylene_spacer_is_not_bondable(mounting: Any, verdict: str) -> None:
    """Below a bonded sheet nothing else holds it; feet and clamps trap it."""
    spacer = SpacerSheet(material="polypropylene", thickness_m=0.006, mass_kg=0.8)
    answer = mount_check(request(mounting, FLEXIBLE, spacer=spacer))
    (check,) = (c for c in answer.checks if c.subject == "polypropylene spacer")
    assert (check.code, check.verdict) == ("surface", verdict)


def test_every_verdict_is_the_worst_of_its_checks() -> None:
    for answer in map(answer_of, BUILDS):
        assert answer.verdict == verdict_of(answer.checks)


def test_the_answer_says_what_it_cannot_judge() -> None:
    text = " ".join(answer_of("glued").not_judged)
    for word in ("structure", "paint", "Crash", "Workmanship", "Fatigue"):
        assert word.lower() in text.lower()


def test_surface_given_for_fastened_feet_is_not_needed() -> None:
    answer = mount_check(request(fastened(), surface=None))
    assert not any(c.code == "surface" for c in answer.checks)


def _check(answer: MountCheckAnswer, code: str) -> Check:
    return next(check for check in answer.checks if check.code == code)


def test_a_stud_beside_its_fasteners_pries_and_bends_its_bracket() -> None:
    """Stud 40 mm beside bolts in the middle of a plate 60 mm wide: the pull on the bolts grows by
    1 + 40/30, and a plate of 40 × 5 mm bends by pull times 40 mm and shear times 20 mm (moments
    about the plate's far edge, worked by hand)."""
    plate = Bracket(width_m=0.04, thickness_m=0.005, alloy="6061-T6")
    straight = mount_check(request(fastened(standoff_m=0.0)))
    beside = mount_check(request(fastened(standoff_m=0.0, stud_offset_m=0.04)))
    bent = mount_check(request(fastened(standoff_m=0.02, stud_offset_m=0.04, bracket=plate)))
    code = "fastener-tension-headwind-gust"
    assert _check(beside, code).demand == pytest.approx(
        _check(straight, code).demand * (1 + 40 / 30)
    )
    assert _check(beside, "bracket").verdict == "not-assessed"
    assert not [check for check in straight.checks if check.code.startswith("bracket")]
    bending = _check(bent, "bracket-bending-headwind-gust")
    foot = next(one for one in bent.feet if one.foot == bending.subject)
    moment = foot.uplift_n * 0.04 + foot.shear_n * 0.02
    assert bending.demand == pytest.approx(6 * moment / (0.04 * 0.005**2), rel=0.02)
    assert bending.capacity == pytest.approx(241e6 / 1.65)
