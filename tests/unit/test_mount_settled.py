"""What a mount check settles before it judges: masses, stiffness, heat, road, and its advice."""

import math
from typing import Any

import numpy as np
import pytest
from mount_builders import (
    FLEXIBLE,
    FRAMED,
    RATED,
    SKIN,
    VEHICLE,
    bonded,
    fastened,
    glued,
    grid,
    railed,
    request,
)
from msgspec.structs import replace

from sunhitch.types.check import Check
from sunhitch.types.mount import (
    Accelerations,
    MountCheckAnswer,
    MountCheckRequest,
    PanelWind,
    SheetProperties,
    SpacerSheet,
    TravelConditions,
)
from sunhitch.types.shade import PanelPosition
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.mount.calculation import mount_check
from sunhitch_service.engine.mount.cases import drag_area, load_cases
from sunhitch_service.engine.mount.computing_time import expected_ms
from sunhitch_service.engine.mount.cure import Curing
from sunhitch_service.engine.mount.evaluate import Evaluation
from sunhitch_service.engine.mount.figures import figure, why
from sunhitch_service.engine.mount.setup import Setup, settle
from sunhitch_service.engine.mount.thermal import movement

G = 9.80665
SPACER = SpacerSheet(material="polycarbonate", thickness_m=0.01, mass_kg=1.1)


def settled(asked: MountCheckRequest) -> Setup:
    return settle(asked, Assumptions())


def check(answer: MountCheckAnswer, code: str) -> Check:
    return next(one for one in answer.checks if one.code == code)


def test_a_table_without_a_figure_says_so() -> None:
    with pytest.raises(KeyError, match="plywood has no ultimate_pa"):
        figure("skin", "plywood", "ultimate_pa")


@pytest.mark.parametrize(
    ("asked", "height_m", "mass_kg"),
    [
        (request(glued(standoff_m=0.03)), 0.03 + 0.0175, 7.5),
        (request(glued(), FLEXIBLE, spacer=SPACER), 0.02 + 0.0015 + 0.01, 3.4),
        (request(bonded(), FLEXIBLE), 0.0015, 2.3),
        (request(bonded(), FLEXIBLE, spacer=SPACER), 0.0115, 3.4),
    ],
)
def test_mass_and_height_of_panel_and_spacer(
    asked: MountCheckRequest, height_m: float, mass_kg: float
) -> None:
    """The panel's middle over the roof; six tenths of the weight count against suction."""
    setup = settled(asked)
    assert setup.height == pytest.approx(height_m)
    assert setup.mass == pytest.approx(mass_kg)
    assert setup.counted_weight == pytest.approx(0.6 * mass_kg * G)


def test_stiffness_of_sheet_and_spacer() -> None:
    """E·t³/12(1 − ν²) of the sheet and 2·E·w·((t − w)/2)² of two walls, which also stretch."""
    alone = settled(request(glued(), FLEXIBLE, sheet=None)).panel
    solid = 1.5e9 * 0.003**3 / (12 * (1 - 0.3**2))
    assert (alone.bending, alone.in_plane) == pytest.approx((solid, 1.5e9 * 0.003))
    assert (alone.depth, alone.expansion) == (0.003, (10e-6, 40e-6))
    both = settled(request(glued(), FLEXIBLE, sheet=None, spacer=SPACER)).panel
    walls = 2 * 2.3e9 * 0.0004 * (0.0096 / 2) ** 2
    assert both.bending == pytest.approx(solid + walls)
    assert both.in_plane == pytest.approx(1.5e9 * 0.003 + 2 * 2.3e9 * 0.0004)
    assert (both.depth, both.expansion) == (pytest.approx(0.013), (10e-6, 65e-6))
    own = replace(SPACER, bending_stiffness_n_m=30.0)
    told = settled(request(glued(), FLEXIBLE, sheet=None, spacer=own)).panel
    assert told.bending == pytest.approx(solid + 30.0)
    framed = settled(request(glued(), sheet=None)).panel
    assert (framed.bending, framed.expansion) == (2000.0, (23e-6, 23e-6))


def test_a_makers_figures_replace_what_is_assumed() -> None:
    sheet = SheetProperties(
        in_plane_stiffness_n_per_m=6e6,
        bending_stiffness_n_m=7.0,
        laminate_strength_pa=45e6,
        expansion_per_c=17e-6,
        load_rating_pa=2400.0,
    )
    panel = settled(request(glued(), FLEXIBLE, sheet=sheet)).panel
    assert (panel.in_plane, panel.bending, panel.strength) == (6e6, 7.0, 45e6)
    assert (panel.expansion, panel.rating, panel.rating_given) == ((17e-6, 17e-6), 2400.0, True)
    bare = settled(request(glued(), FLEXIBLE, sheet=SheetProperties())).panel
    assert (bare.strength, bare.rating, bare.rating_given) == (30e6, 1600.0, False)


HOT = TravelConditions(lowest_air_c=-20.0, highest_air_c=40.0)
HEATS = {
    # Night of 25 °C, fitted at 21 °C; frame 30 K and roof up to 30 K above air of 40 °C
    "framed": (
        request(glued(), travel=HOT),
        70.0,
        (23e-6 * 45 - 21.8e-6 * 15, 24e-6 * 45 - 23e-6 * 45),
        (23e-6 * 49 - 21.8e-6 * 19, max(24e-6 * 49 - 23e-6 * 49, 23e-6 * 41 - 21.8e-6 * 41)),
    ),
    # a sheet over air 50 K above it
    "flexible": (
        request(glued(), FLEXIBLE, travel=HOT),
        90.0,
        (40e-6 * 65 - 21.8e-6 * 15, 24e-6 * 45 - 10e-6 * 65),
        (40e-6 * 69 - 21.8e-6 * 19, 40e-6 * 41 - 21.8e-6 * 41),
    ),
    # over a rack 32 K above it
    "rails": (
        request(railed(), FLEXIBLE, travel=HOT),
        72.0,
        (40e-6 * 47 - 21.8e-6 * 15, 24e-6 * 45 - 10e-6 * 47),
        (40e-6 * 51 - 21.8e-6 * 19, 40e-6 * 41 - 21.8e-6 * 41),
    ),
    # bonded 58 K above it, the roof below up to 20 K cooler
    "bonded": (
        request(bonded(), FLEXIBLE, travel=HOT),
        98.0,
        (40e-6 * 73 - 21.8e-6 * 53, 24e-6 * 73 - 10e-6 * 73),
        (40e-6 * 77 - 21.8e-6 * 57, 24e-6 * 77 - 10e-6 * 77),
    ),
}


@pytest.mark.parametrize("name", HEATS)
def test_movement_by_heat_by_hand(name: str) -> None:
    """Strain of panel less that of roof, each with the expansion that is worse, over the distance
    to the furthest foot, or half of a bonded sheet's diagonal; aluminium 21.8 to 24 · 10⁻⁶."""
    asked, hot_c, day, year = HEATS[name]
    moved = movement(settled(asked))
    reach = {
        "rails": math.hypot(0.34, 0.25),
        "bonded": math.hypot(1.18, 0.54) / 2,
    }.get(name, math.hypot(0.51, 0.19))
    assert moved.distance == pytest.approx(reach)
    assert moved.panel_hot_c == hot_c
    assert moved.daily == pytest.approx([part * reach for part in day])
    assert moved.seasonal == pytest.approx([part * reach for part in year])
    answer = mount_check(asked)
    assert answer.thermal.daily_movement_m == pytest.approx(max(day) * reach)
    assert answer.thermal.seasonal_movement_m == pytest.approx(max(year) * reach)


@pytest.mark.parametrize(
    ("panel", "year"),
    [
        (FRAMED, (23e-6 * 49 - 21.8e-6 * 19, 24e-6 * 49 - 23e-6 * 49)),
        (FLEXIBLE, (40e-6 * 69 - 21.8e-6 * 19, 40e-6 * 41 - 21.8e-6 * 41)),
    ],
)
def test_studs_have_room_for_what_moves(panel: Any, year: tuple[float, float]) -> None:
    """A frame moves by the larger of growth and shrinkage; a sheet bows when it grows."""
    for play_m in (0.0, 0.002):
        asked = request(fastened(play_m=play_m), panel, travel=HOT)
        told = check(mount_check(asked), "play-movement")
        reach = math.hypot(0.51, 0.19)
        free = year[1] if panel is FLEXIBLE else max(year)
        assert told.demand == pytest.approx(free * reach)
        assert told.capacity == pytest.approx(play_m + 0.001)


def test_a_skin_whose_expansion_is_known_moves_by_it() -> None:
    like_the_frame = replace(SKIN, expansion_per_c=23e-6)
    moved = movement(settled(request(glued(), skin=like_the_frame, travel=HOT)))
    assert moved.daily == pytest.approx([23e-6 * 30 * moved.distance, 0.0])
    unknown = movement(settled(request(glued(), skin=None, travel=HOT)))
    assert unknown.daily[0] == pytest.approx((23e-6 * 45 - 4e-6 * 15) * unknown.distance)


@pytest.mark.parametrize(
    ("kind", "multiples"),
    [("trailer", (1.0, 0.5, 0.8, 2.0, 3.0)), ("motor-vehicle", (1.0, 0.5, 0.8, 1.0, 2.5))],
)
def test_accelerations_by_vehicle(kind: Any, multiples: tuple[float, ...]) -> None:
    """Ways forward, rearward, sideways, up and down in multiples of gravity; given ones replace
    them one by one."""
    vehicle = replace(VEHICLE, kind=kind)
    names = ("forward", "rearward", "sideways", "up", "down")
    settled_ = settled(request(glued(), vehicle=vehicle)).conditions
    assert [getattr(settled_, name) / G for name in names] == pytest.approx(multiples)
    given = TravelConditions(accelerations=Accelerations(up_m_s2=3.0))
    own = settled(request(glued(), vehicle=vehicle, travel=given)).conditions
    assert (own.up, own.down) == pytest.approx((3.0, multiples[4] * G))


def test_inertia_of_load_cases() -> None:
    """Mass times acceleration on top of the wind; half of cornering in a gust from the side."""
    loads = {one.name: one for one in mount_check(request(fastened())).load_cases}
    hours = loads["highway-hours"]
    weight = 7.5 * G
    assert loads["braking"].rearward_n - hours.rearward_n == pytest.approx(weight)
    assert loads["pulling-away"].rearward_n - hours.rearward_n == pytest.approx(0.5 * weight)
    assert loads["cornering"].sideways_n == pytest.approx(0.8 * weight)
    passing, gust = loads["passing-vehicle"], loads["crosswind-gust"]
    wind = passing.sideways_n / passing.dynamic_pressure_pa
    assert wind > 0.0
    assert gust.sideways_n > 0.4 * weight
    assert loads["bump-up"].uplift_n == pytest.approx(hours.uplift_n + 0.6 * weight + weight)
    assert loads["bump-down"].uplift_n == pytest.approx(-2.5 * weight)
    slope = math.sin(math.radians(3.0)) * weight
    own = loads["own-weight"]
    assert (own.rearward_n, own.sideways_n) == pytest.approx((slope, slope))


def test_a_smooth_road_leaves_the_weight() -> None:
    """Without a bump upwards the weight counts against suction as ever."""
    level = TravelConditions(accelerations=Accelerations(up_m_s2=0.0))
    loads = {one.name: one for one in mount_check(request(fastened(), travel=level)).load_cases}
    assert loads["bump-up"].uplift_n == pytest.approx(loads["highway-hours"].uplift_n)


def test_a_second_means_holds_twice_the_gust() -> None:
    """Suction without weight and push of the gust from ahead, times two for shock; loose it may
    stand up as a plate broadside, 1.3 by the table of defaults."""
    answer = mount_check(request(glued()))
    gust = next(one for one in answer.load_cases if one.name == "headwind-gust")
    assert gust.uplift_coefficient < 1.3
    lift = 1.3 * gust.dynamic_pressure_pa * 1.18 * 0.54
    told = answer.second_retention
    assert told.force_n == pytest.approx(2 * (lift + gust.rearward_n))
    assert told.advised
    assert not mount_check(request(fastened())).second_retention.advised


@pytest.mark.parametrize("measured", [0.0, 0.5, 3.0])
def test_a_loose_panel_pulls_no_less_than_a_plate_broadside(measured: float) -> None:
    """S. F. Hoerner, Fluid-Dynamic Drag: 1.17 on a plate across the flow; what was measured on the
    panel as it lay says nothing of it loose."""
    air = PanelWind(net_uplift_coefficient=measured)
    answer = mount_check(request(glued(), wind=air))
    gust = next(one for one in answer.load_cases if one.name == "headwind-gust")
    least = 2 * max(1.17, measured) * gust.dynamic_pressure_pa * 1.18 * 0.54
    assert answer.second_retention.force_n >= least


@pytest.mark.parametrize(
    ("mounting", "panel", "months"),
    [
        (glued(), FRAMED, 3.0),
        (fastened(), FRAMED, 6.0),
        (bonded(), FLEXIBLE, 6.0),
        (railed(), FRAMED, 6.0),
    ],
)
def test_looks_come_twice_as_often_without_full_reserve(
    mounting: Any, panel: Any, months: float
) -> None:
    calm = TravelConditions(highest_air_c=30.0)
    sound = mount_check(request(mounting, panel, travel=calm))
    hasty = mount_check(
        request(mounting, panel, travel=calm, vehicle=replace(VEHICLE, roof_rating_kg=5.0))
    )
    assert hasty.verdict == "fail"
    assert hasty.inspection.every_months == months / 2
    assert sound.inspection.every_months == (months if sound.verdict == "pass" else months / 2)
    assert sound.inspection.first_after_km == 50.0


@pytest.mark.parametrize(
    ("travel", "told"),
    [
        (None, True),
        (TravelConditions(), True),
        (TravelConditions(stepped_on=True), True),
        (TravelConditions(hailstone_m=0.03), True),
        (TravelConditions(stepped_on=True, hailstone_m=0.03), False),
    ],
)
def test_steps_and_hail_are_not_judged_unasked(travel: Any, told: bool) -> None:
    texts = mount_check(request(glued(), travel=travel, sheet=RATED)).not_judged
    assert any("hailstone_m" in text for text in texts) == told


@pytest.mark.parametrize(
    ("x_m", "y_m", "turned", "beyond_m"),
    [
        (0.0, 0.0, 0.0, None),
        (-0.1, 0.68, 0.0, 0.1),
        (1.5, -0.05, 0.0, 0.05),
        (4.22, 1.36, 0.0, None),
        (4.3, 0.68, 0.0, 0.08),
        (1.5, 1.4, 0.0, 0.04),
        (2.0, 0.8, 90.0, 0.08),
        (1.5, -0.03, 30.0, 0.03),
        (0.2, 0.5, 30.0, 0.54 * 0.5 - 0.2),
        (4.4, 0.3, 30.0, 1.18 * math.sqrt(0.75) - 1.0),
        (2.0, 0.9, 30.0, 1.18 * 0.5 + 0.54 * math.sqrt(0.75) - 1.0),
    ],
)
def test_how_far_a_panel_reaches_beyond_the_roof(
    x_m: float, y_m: float, turned: float, beyond_m: float | None
) -> None:
    """5.4 × 1.9 m of roof, 1.18 × 0.54 m of panel; turned by 30° each corner in its turn."""
    place = PanelPosition(x_m=x_m, y_m=y_m, rotation_deg=turned)
    answer = mount_check(request(fastened(), position=place))
    found = [one for one in answer.checks if one.code == "roof-edge"]
    assert [one.demand for one in found] == ([] if beyond_m is None else [pytest.approx(beyond_m)])
    assert all((one.verdict, one.capacity) == ("review", 0.0) for one in found)


def test_feet_are_told_in_places_of_the_roof() -> None:
    """Turned by 90° length runs across the roof: x = 2 − y, y = 0.3 + x."""
    place = PanelPosition(x_m=2.0, y_m=0.3, rotation_deg=90.0)
    for foot in mount_check(request(fastened(), position=place)).feet:
        assert foot.roof_x_m == pytest.approx(2.0 - foot.y_m)
        assert foot.roof_y_m == pytest.approx(0.3 + foot.x_m)


def test_capacities_that_makers_give_are_not_raised_after_a_loss() -> None:
    """Every rating stays as it is; strengths of formulas rise by 1.5, but not for years."""
    rails = railed(support_side_rating_n=900.0, clamp_rating_n=800.0, support_rating_n=700.0)
    answer = mount_check(request(rails))
    for mode, rated in (
        ("clamp-uplift", 800.0),
        ("rail-support", 700.0),
        ("rail-support-sideways", 900.0),
    ):
        assert check(answer, f"{mode}-foot-lost").capacity == rated
    whole, lost = (check(answer, f"rail-bending-{case}") for case in ("headwind-gust", "foot-lost"))
    assert lost.capacity == pytest.approx(1.5 * (whole.capacity or 0.0))
    tape = bonded().adhesive
    for given, times in ((None, 1.5), (260.0, 1.0)):
        sheet = bonded(adhesive=replace(tape, peel_strength_n_per_m=given))
        told = mount_check(request(sheet, FLEXIBLE, travel=TravelConditions(storm_gust_m_s=0.0)))
        lost = check(told, "edge-peel-foot-lost")
        held = {one.capacity for one in told.checks if one.code.startswith("edge-peel-")}
        assert lost.capacity is not None
        assert min(abs(lost.capacity - times * (one or 0.0)) for one in held) == pytest.approx(
            0.0, abs=1e-9
        )


def test_nothing_pulls_where_nothing_acts() -> None:
    """At rest in calm air on a level roof no foot is pulled or pushed, and every use is nothing."""
    still = TravelConditions(
        road_speed_m_s=0.0,
        headwind_gust_m_s=0.0,
        crosswind_gust_m_s=0.0,
        passing_gust_m_s=0.0,
        storm_gust_m_s=0.0,
        ground_snow_pa=0.0,
        accelerations=Accelerations(
            forward_m_s2=0.0, rearward_m_s2=0.0, sideways_m_s2=0.0, up_m_s2=0.0, down_m_s2=0.0
        ),
    )
    level = replace(VEHICLE, roof_slope_deg=0.0)
    answer = mount_check(request(fastened(), travel=still, vehicle=level, detail="reactions"))
    (bump,) = (one for one in answer.reactions if one.load_case == "bump-down" and not one.lost)
    assert (bump.uplift_n, bump.along_n, bump.residual_fraction) == (0.0, 0.0, 0.0)
    assert np.array([(foot.uplift_n, foot.shear_n) for foot in answer.feet]) == pytest.approx(0.0)
    assert answer.free_body is not None
    assert answer.free_body.residual_fraction <= 1e-9
    modes = ("fastener-tension", "fastener-shear", "skin-pull-over", "skin-bearing")
    idle = {one.code: one.utilisation_fraction for one in answer.checks}
    assert [idle[f"{mode}-headwind-gust"] for mode in modes] == [0.0] * 4


def test_more_to_work_out_is_told_to_take_longer() -> None:
    """A sheet bonded, rails, feet under a stiff and under a flexible panel, more feet, and every
    foot's forces; the time grows with the square of the feet."""
    asked = [
        request(bonded(), FLEXIBLE),
        request(railed()),
        request(fastened()),
        request(fastened(), FLEXIBLE),
        request(fastened(feet=grid(4, 3)), FLEXIBLE),
        request(fastened(feet=grid(4, 3)), FLEXIBLE, detail="reactions"),
    ]
    times = [expected_ms(one) for one in asked]
    assert times == sorted(set(times))
    few, some, many = (expected_ms(request(fastened(feet=grid(n, 3)))) for n in (2, 4, 6))
    assert (many - few) / (some - few) == pytest.approx((18**2 - 6**2) / (12**2 - 6**2))


@pytest.mark.parametrize("mounting", [glued(), railed()])
def test_the_curve_of_use_by_speed(mounting: Any) -> None:
    """Every 5 m/s up to 45; at 25 m/s what a check at that speed finds to depend on it."""
    asked = request(mounting, travel=TravelConditions(road_speed_m_s=25.0))
    answer = mount_check(asked)
    assert [one.road_speed_m_s for one in answer.speed_curve] == [5.0 * i for i in range(10)]
    told = answer.speed_curve[5]
    driving = {one.name for one in answer.load_cases if one.depends_on_speed} | {"foot-lost"}
    found = {
        one.code: one.utilisation_fraction
        for one in answer.checks
        if any(one.code.endswith(f"-{name}") for name in driving)
        and not one.code.startswith("span-divergence")
    }
    assert told.utilisation_fraction == pytest.approx(found[told.governed_by])
    assert (told.utilisation_fraction or 0.0) >= max(
        used or 0.0 for code, used in found.items() if not code.endswith("foot-lost")
    ) * (1 - 1e-12)


@pytest.mark.parametrize(
    ("mounting", "names", "lost"),
    [
        (glued(), "foot 1, foot 2, foot 3, foot 4, foot 5, foot 6", ""),
        (fastened(feet=grid(2, 2)), "foot 1, foot 2, foot 3, foot 4", ""),
        (railed(), "clamp 1, clamp 2, clamp 3, clamp 4", ""),
        (bonded(), "", "50 mm of bond at the front edge"),
    ],
)
def test_supports_are_numbered_from_one(mounting: Any, names: str, lost: str) -> None:
    setup = settled(request(mounting, FLEXIBLE))
    assert ", ".join(setup.supports) == names
    assert ", ".join(setup.lost) == (lost or names)


def test_gusts_count_by_their_coefficients_and_hours_by_the_mean() -> None:
    wind = PanelWind(net_uplift_coefficient=0.1, mean_uplift_coefficient=5.0)
    gusts = {"headwind-gust", "passing-vehicle", "crosswind-gust", "parked-storm"}
    hours = {"highway-hours", "braking", "pulling-away", "cornering", "bump-up"}
    for load in mount_check(request(fastened(), wind=wind)).load_cases:
        wanted = 0.1 if load.name in gusts else 5.0 if load.name in hours else 0.0
        assert load.uplift_coefficient == pytest.approx(wanted), load.name


def test_pushes_of_load_cases_one_by_one() -> None:
    """Drag of front and side and what the mass adds, along the roof and across it; in a storm and
    on a slope either way by itself. In a gust of 20 m/s at 30 m/s of road speed the side counts by
    (20² + 20²)/(30² + 20²) of the pressure, that of 10 m/s by 200/1000."""
    setup = settled(request(fastened()))
    found = load_cases(setup, np.array([30.0]))
    front, side = drag_area(setup, "front"), drag_area(setup, "left")
    weight, none = 7.5 * G, (0.0, 0.0)
    slope = weight * math.sin(math.radians(3.0))
    snowed = slope + 958.0 * 1.18 * 0.54 * math.sin(math.radians(3.0))
    density, storm = setup.conditions.density, setup.conditions.storm_pa
    q = {speed: 0.5 * density * speed**2 for speed in (30.0, 45.0)}
    gale, passing = (0.5 * density * (30.0**2 + gust**2) for gust in (20.0, 10.0))
    wanted = {
        "highway-hours": ((q[30.0] * front, 0.0), none),
        "headwind-gust": ((q[45.0] * front, 0.0), none),
        "crosswind-gust": (
            (gale * front, gale * side * 800 / 1300 + 0.4 * weight),
            none,
        ),
        "passing-vehicle": ((passing * front, passing * side * 200 / 1000), none),
        "braking": ((q[30.0] * front + weight, 0.0), none),
        "pulling-away": ((q[30.0] * front + 0.5 * weight, 0.0), none),
        "cornering": ((q[30.0] * front, 0.8 * weight), none),
        "bump-up": ((q[30.0] * front, 0.0), none),
        "bump-down": (none, none),
        "parked-storm": ((storm * front, 0.0), (0.0, storm * side)),
        "snow": ((snowed, 0.0), (0.0, snowed)),
        "own-weight": ((slope, 0.0), (0.0, slope)),
    }
    speeds = {term.name: found.air_speed[0, i] for i, term in enumerate(found.terms)}
    hours = ("highway-hours", "braking", "pulling-away", "cornering", "bump-up")
    assert {speeds[name] for name in hours} == {30.0}
    assert speeds["headwind-gust"] == 45.0
    assert speeds["crosswind-gust"] == pytest.approx(math.hypot(30.0, 20.0))
    assert speeds["passing-vehicle"] == pytest.approx(math.hypot(30.0, 10.0))
    assert (speeds["parked-storm"], speeds["snow"], speeds["own-weight"]) == (40.0, 0.0, 0.0)
    told = {term.name: found.pushes[0, i] for i, term in enumerate(found.terms)}
    assert set(told) == set(wanted)
    for name, pushes in told.items():
        assert pushes == pytest.approx(np.array(wanted[name])), name


def test_feet_of_almost_as_many_fasteners_bear_by_their_own() -> None:
    """Rivets of 1,200 N each by threes, five in one foot and six in the others."""
    feet = [replace(grid(3, 2)[0], fasteners=5), *grid(3, 2)[1:]]
    found = Evaluation(
        settled(request(fastened(feet=feet, fasteners_per_foot=6))), np.array([33.0])
    )
    shear = next(mode for mode in found.modes if mode.code == "fastener-shear")
    demand, _ = shear.at(0)
    assert found.forces
    assert demand[0] == pytest.approx(found.forces.shear[0, 0, 0] / [5, 6, 6, 6, 6, 6])


def test_a_figure_is_told_with_its_own_reason_before_the_tables() -> None:
    assert why("travel_default", "road_speed_m_s").startswith("120 km/h. Conservative")
    assert why("adhesive_temperature", "acrylic-foam-tape").startswith("Judgement on the safe side")


def test_moisture_that_has_cured_all_cures_no_more() -> None:
    bond = Curing("one-part-polyurethane", 23.0, 0.007)
    # A thin bead is through within hours, but holds only after a day: makers tell depth by the day.
    assert Curing("one-part-polyurethane", 23.0, 0.001).full_h == 24.0
    assert Curing("one-part-polyurethane", 13.0, 0.001).full_h == 48.0
    assert bond.full_h == pytest.approx(4 * 24.0)
    assert bond.share(24.0) == pytest.approx(0.5)
    assert bond.share(1000.0) == 1.0
    assert bond.share(-1.0) == 0.0
