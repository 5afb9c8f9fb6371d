"""Ways of the load that not every mounting has: clamps' toes, rails pushed sideways, wood."""

import math
from typing import Any

import numpy as np
import pytest
from mount_builders import FLEXIBLE, FRAMED, bonded, fastened, glued, railed, request
from msgspec.structs import replace

from sunhitch.report.amounts import infinite, rest
from sunhitch.report.grouping import rule_of
from sunhitch.types.check import Check
from sunhitch.types.mount import (
    Accelerations,
    Adhesive,
    ClampToe,
    FootPoint,
    GivenSection,
    MountCheckAnswer,
    MountCheckRequest,
    Rail,
    Timber,
    TravelConditions,
)
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.mount import fasteners, timber
from sunhitch_service.engine.mount.calculation import governing_mount_check, mount_check
from sunhitch_service.engine.mount.rails import rail_beams

TOE = ClampToe(reach_m=0.012, heel_m=0.015, width_m=0.05, thickness_m=0.005, alloy="6063-T6")
PINE = Timber(density_kg_m3=350.0, thread_m=0.045)


def check(answer: MountCheckAnswer, code: str, subject: str = "") -> Check:
    return next(one for one in answer.checks if one.code == code and subject in (one.subject, ""))


def screwed(wood: Timber = PINE, **changes: object) -> MountCheckRequest:
    return request(fastened(fastener="screw", wood=wood, **changes))


def test_a_toe_bends_by_its_tightening_force() -> None:
    """4,000 N at 12 mm on 50 × 5 mm: 6·4000·0.012/(0.05·0.005²) = 230.4 MPa."""
    answer = mount_check(request(railed(clamp_rating_n=None, clamp_toe=TOE)))
    told = check(answer, "clamp-tightening")
    assert told.demand == pytest.approx(230.4e6)
    assert told.verdict == "fail"
    gentle = mount_check(
        request(railed(clamp_rating_n=None, clamp_toe=TOE, clamp_preload_n=1400.0))
    )
    assert check(gentle, "clamp-tightening").verdict == "pass"
    pull = next(one.uplift_n for one in gentle.feet if one.foot == "clamp 1")
    bent = max(one.demand or 0.0 for one in gentle.checks if one.code.startswith("clamp-toe-h"))
    assert bent == pytest.approx(6 * pull * 0.012 / (0.05 * 0.005**2))
    assert not [one for one in answer.checks if one.code == "clamp-rating"]


@pytest.mark.parametrize(("heel", "lever"), [(0.015, 1.8), (0.012, 2.0), (None, 2.0)])
def test_a_heel_pries_at_the_clamps_bolt(heel: float | None, lever: float) -> None:
    rated = mount_check(request(railed(clamp_toe=replace(TOE, heel_m=heel))))
    pull = check(rated, "clamp-uplift-parked-storm").demand
    assert pull
    assert check(rated, "clamp-bolt-parked-storm").demand == pytest.approx(lever * pull)


def test_clamps_without_rating_and_measures_are_not_assessed() -> None:
    answer = mount_check(request(railed(clamp_rating_n=None)))
    assert check(answer, "clamp-rating").verdict == "not-assessed"
    assert "clamp_toe" in check(answer, "clamp-rating").remedy


def test_rail_supports_share_what_pushes_along_the_roof() -> None:
    """Braking pushes across both rails, two supports a rail; of 6 kg and 40 mm high they add their
    own mass at 1 g and the drag of bars broadside, by hand, 1.04 m of each in the wind."""
    answer = mount_check(request(railed(support_side_rating_n=1500.0)))
    braking = next(one for one in answer.load_cases if one.name == "braking")
    told = check(answer, "rail-support-sideways-braking")
    own = 6.0 * 9.80665 + 2 * 1.3 * 0.04 * 1.04 * braking.dynamic_pressure_pa
    assert told.demand == pytest.approx((braking.rearward_n + own) / 4, rel=1e-6)
    unrated = mount_check(request(railed(support_side_rating_n=None)))
    assert any("support_side_rating_n" in text for text in unrated.not_judged)
    assert not any("support_side_rating_n" in text for text in answer.not_judged)
    weak = mount_check(request(railed(support_side_rating_n=5.0)))
    assert check(weak, "rail-support-sideways-braking").verdict == "fail"


def test_supports_stop_all_that_they_carry() -> None:
    """Newton: at rest in the air, braking by 8 m/s² asks (7.5 + 6) kg · 8 m/s² of four supports,
    and a bump that throws both up by 12 m/s² as much of them upwards; only clamps see 7.5 kg."""
    rough = Accelerations(forward_m_s2=8.0, up_m_s2=12.0)
    still = TravelConditions(road_speed_m_s=0.0, headwind_gust_m_s=0.0, accelerations=rough)
    answer = mount_check(
        request(railed(support_side_rating_n=1500.0, standoff_m=0.0), travel=still, detail="all")
    )
    pushed = check(answer, "rail-support-sideways-braking").demand
    assert pushed == pytest.approx(13.5 * 8.0 / 4, rel=1e-6)
    lifted = check(answer, "rail-support-bump-up").demand
    assert lifted is not None
    # An elastic panel loads its clamps unevenly, by no more than a quarter beyond an even share.
    assert 13.5 * 12.0 / 4 * (1 - 1e-9) <= lifted <= 13.5 * 12.0 / 4 * 1.25


@pytest.mark.parametrize(("run", "facing"), [("along-width", 1.0), ("along-length", 0.0)])
def test_wind_pushes_rails_that_lie_across_it(run: Any, facing: float) -> None:
    """Rails across the wind from ahead are bars broadside to it; along it they hide in it."""
    along = run == "along-length"
    places = (0.12, 0.42) if along else (0.25, 0.93)
    span = (0.1, 1.08) if along else (-0.15, 0.69)
    ends = (-0.1, 1.28) if along else (-0.25, 0.79)
    held = railed(
        run=run,
        rails=[
            Rail(across_m=at, start_m=ends[0], end_m=ends[1], supports_m=list(span))
            for at in places
        ],
        clamps=[
            FootPoint(x_m=x, y_m=y)
            for x in ((0.02, 1.16) if along else places)
            for y in (places if along else (0.02, 0.52))
        ],
        support_side_rating_n=1500.0,
        rails_mass_kg=0.0,
    )
    answer = mount_check(request(held, detail="all"))
    gust = next(one for one in answer.load_cases if one.name == "headwind-gust")
    own = facing * 2 * 1.3 * 0.04 * (ends[1] - ends[0]) * gust.dynamic_pressure_pa
    told = check(answer, "rail-support-sideways-headwind-gust")
    assert told.demand == pytest.approx((gust.rearward_n + own) / 4, rel=1e-6)


def test_a_push_beyond_the_supports_levers() -> None:
    """Clamps 0.2 m beyond one support of 0.4 m: it takes 1.5 times the push, the other half."""
    rails = [
        Rail(across_m=x, start_m=-0.3, end_m=0.6, supports_m=[-0.2, 0.2]) for x in (0.25, 0.93)
    ]
    clamps = [FootPoint(x_m=x, y_m=y) for x in (0.25, 0.93) for y in (0.14, 0.4)]
    answer = mount_check(request(railed(rails=rails, clamps=clamps, support_side_rating_n=1500.0)))
    braking = next(one for one in answer.load_cases if one.name == "braking")
    shares = (0.34 / 0.4, 0.6 / 0.4)
    told = check(answer, "rail-support-sideways-braking")
    own = 6.0 * 9.80665 + 2 * 1.3 * 0.04 * 0.9 * braking.dynamic_pressure_pa
    expected = braking.rearward_n / 4 * sum(shares) + own / 4
    assert told.demand == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("thread", ["M5", "M6", "M10"])
def test_screws_in_wood_bear_the_smaller_of_both_codes(thread: str) -> None:
    """M5 only by NDS, M10 only by EN 1995: 350 kg/m³, 70 mm of thread, gusts."""
    wood = replace(PINE, thread_m=0.07)
    answer = mount_check(screwed(wood, thread=thread, spacing_m=0.08))
    borne = check(answer, "wood-withdrawal-parked-storm").capacity
    diameter = float(thread[1:])
    european = timber.withdrawal_en(diameter, 70.0, 350.0) * 0.9 / 1.95
    american = 1.6 * timber.withdrawal_nds(diameter, 70.0, 0.94 * 0.35)
    known = {"M5": [american], "M6": [european, american], "M10": [european]}[thread]
    assert borne == pytest.approx(min(known))
    codes = {one.code for one in answer.checks}
    assert "roof-skin" not in codes
    assert not any(code.startswith("skin-pull") for code in codes)


def test_two_screws_bear_less_than_twice_one() -> None:
    one, two = (
        mount_check(screwed(fasteners_per_foot=number, standoff_m=0.0, spacing_m=0.05))
        for number in (1, 2)
    )
    demands = [check(a, "wood-withdrawal-parked-storm").demand for a in (one, two)]
    assert demands[0]
    assert demands[1] == pytest.approx(demands[0] / 2**0.9)


def test_pull_and_push_of_screws_add_as_squares() -> None:
    answer = mount_check(screwed())
    shares = [
        check(answer, f"wood-{way}-crosswind-gust").utilisation_fraction or 0.0
        for way in ("withdrawal", "lateral")
    ]
    told = check(answer, "wood-combined-crosswind-gust").demand
    assert told == pytest.approx(math.hypot(*shares), rel=0.02)
    assert told is not None
    assert told >= max(shares)


def test_short_and_crowded_screws_fail_by_what_the_wood_asks() -> None:
    """M6: 36 mm of thread at least, 42 mm between two of them."""
    short = mount_check(screwed(replace(PINE, thread_m=0.035)))
    told = check(short, "wood-depth")
    assert (told.verdict, told.demand, told.capacity) == ("fail", 0.036, 0.035)
    assert "36 mm" in told.remedy
    assert not [one for one in short.checks if one.code.startswith("wood-withdrawal")]
    crowded = mount_check(screwed(spacing_m=0.02))
    assert check(crowded, "wood-spacing").verdict == "fail"
    assert "42 mm" in check(crowded, "wood-spacing").remedy


def test_wood_for_what_is_no_screw_is_a_fault() -> None:
    with pytest.raises(ContradictionError) as refused:
        mount_check(request(fastened(wood=PINE)))
    assert [fault.pointer for fault in refused.value.faults] == ["/mounting/wood"]


@pytest.mark.parametrize(("humidity", "times"), [(0.25, 2.0), (0.1, 5.0), (0.5, 1.0), (0.9, 1.0)])
def test_moisture_cures_slower_in_dry_air(humidity: float, times: float) -> None:
    """What moisture feeds goes on in proportion to it; damp air is not credited."""
    pads = {"pad_length_m": 0.05, "pad_width_m": 0.05}

    def cured(**given: float) -> float:
        glue = Adhesive(kind="structural-silicone", bead_width_m=0.01, **given)
        found = mount_check(request(glued(adhesive=glue, **pads))).cure
        assert found
        return found.hours_before_driving

    assert cured(humidity_fraction=humidity) == pytest.approx(times * cured())


def test_humidity_is_told_where_moisture_cures_only() -> None:
    silicone = mount_check(request(glued(adhesive=Adhesive(kind="structural-silicone"))))
    tape = mount_check(request(glued()))
    assert silicone.cure
    assert tape.cure
    assert silicone.cure.at_humidity_fraction == 0.5
    assert tape.cure.at_humidity_fraction is None
    assert rest(silicone.cure).endswith("and 50 % humidity")
    assert "humidity" not in rest(tape.cure)
    told = {one.field for one in silicone.assumptions} - {one.field for one in tape.assumptions}
    assert "/mounting/adhesive/humidity_fraction" in told


@pytest.mark.parametrize(
    ("asked", "told", "silent"),
    [
        (request(railed()), ["Toe and bolt", "Rails bent sideways"], ["wood below"]),
        (request(railed(clamp_toe=TOE)), ["Rails bent sideways"], ["Toe and bolt"]),
        (screwed(), ["Thickness, ends and edges of the wood"], ["clamp", "Rails"]),
        (request(glued(), FRAMED), ["Crash and roll-over"], ["clamp", "Rails", "wood below"]),
    ],
)
def test_what_is_not_judged_is_that_of_the_mounting(
    asked: MountCheckRequest, told: list[str], silent: list[str]
) -> None:
    texts = mount_check(asked).not_judged
    assert all(any(text.startswith(words) for text in texts) for words in told)
    assert not any(words in text for text in texts for words in silent)


@pytest.mark.parametrize(
    ("diameter", "density", "by_both"),
    [(5.99, 500.0, False), (6.0, 500.0, True), (9.5, 300.0, True), (9.51, 300.0, False)],
)
def test_each_code_counts_for_the_diameters_that_it_knows(
    diameter: float, density: float, by_both: bool
) -> None:
    """EN 1995 from 6 mm, NDS to 9.5 mm; in dense wood the former says less, in light the latter."""
    wood = Timber(density_kg_m3=density, thread_m=0.07)
    european = timber.withdrawal_en(diameter, 70.0, density) * 0.9 / 1.95
    american = 1.6 * timber.withdrawal_nds(diameter, 70.0, 0.94 * density / 1000)
    less, more = sorted((european, american))
    assert timber.withdrawal(diameter, wood, "gust") == pytest.approx(less if by_both else more)


def test_six_diameters_of_thread_count() -> None:
    for thread_m, counts in ((0.036, True), (0.0359, False)):
        assert timber.is_deep(6.0, replace(PINE, thread_m=thread_m)) == counts


@pytest.mark.parametrize(
    ("duration", "k_mod", "c_d"),
    [
        ("gust", 0.9, 1.6),
        ("hours", 0.9, 1.25),
        ("weeks", 0.8, 1.15),
        ("permanent", 0.6, 0.9),
        ("movement", 0.6, 0.9),
    ],
)
def test_wood_bears_less_for_longer(duration: Any, k_mod: float, c_d: float) -> None:
    """M10 by EN 1995 alone, M5 by NDS alone; pushed sideways by EN 1995 in any case."""
    wood = Timber(density_kg_m3=350.0, thread_m=0.08)
    european = timber.withdrawal_en(10.0, 80.0, 350.0) * k_mod / 1.95
    american = timber.withdrawal_nds(5.0, 80.0, 0.94 * 0.35) * c_d
    assert timber.withdrawal(10.0, wood, duration) == pytest.approx(european)
    assert timber.withdrawal(5.0, wood, duration) == pytest.approx(american)
    for thread_mm in (20.0, 80.0):  # wood decides, then steel
        sideways = timber.lateral_en(5.0, thread_mm, 350.0, 700e6) * k_mod / 1.95
        own = replace(wood, thread_m=thread_mm / 1000)
        assert timber.lateral(5.0, own, 700e6, duration) == pytest.approx(sideways)


@pytest.mark.parametrize("seed", range(3))
def test_more_wood_never_bears_less(seed: int) -> None:
    dice = np.random.default_rng(seed)
    diameter = float(dice.choice([4.0, 5.0, 6.0, 8.0, 10.0]))
    depth, density = np.sort(dice.uniform(0.06, 0.2, 2)), np.sort(dice.uniform(300.0, 500.0, 2))
    least, most = (
        Timber(density_kg_m3=float(rho), thread_m=float(m))
        for rho, m in zip(density, depth, strict=True)
    )
    for duration in ("gust", "hours", "permanent"):
        assert timber.withdrawal(diameter, least, duration) <= timber.withdrawal(
            diameter, most, duration
        )


@pytest.mark.parametrize(
    ("thread", "strength", "held"),
    [
        ("M5", "A2-70", (6500 / 3, 1200 / 3)),
        ("M8", "A2-70", (12300 / 3, 2000 / 3)),
        ("M6", "A2-50", (20.1 * 210 / 2, 2000 / 3)),
    ],
)
def test_rivet_nuts_bear_the_lesser_of_nut_and_bolt(
    thread: str, strength: str, held: tuple[float, float]
) -> None:
    """Thread proof and shear of the nut over 3, half the proof stress of the bolt."""
    nuts = fastened(fastener="rivet-nut", thread=thread, property_class=strength)
    answer = mount_check(request(nuts))
    told = [
        check(answer, f"fastener-{way}-crosswind-gust").capacity for way in ("tension", "shear")
    ]
    assert told == pytest.approx(held)


@pytest.mark.parametrize(
    ("changes", "head_mm"),
    [
        ({"fastener": "rivet-nut", "thread": "M5"}, 10.0),
        ({"fastener": "rivet-nut", "thread": "M6"}, 13.0),
        ({"fastener": "rivet-nut", "thread": "M8"}, 16.0),
        *(
            ({"fastener": "blind-rivet", "rivet": size}, wide)
            for size, wide in (("3.2", 4.5), ("4.0", 5.7), ("4.8", 6.8), ("6.4", 9.1))
        ),
        ({"washer_diameter_m": 0.02}, 20.0),
        ({"washer_diameter_m": None}, 10.0),
        ({"washer_diameter_m": None, "thread": "M8"}, 13.0),
    ],
)
def test_the_skin_is_held_by_washer_nut_or_blind_side(
    changes: dict[str, object], head_mm: float
) -> None:
    assert fasteners.head_m(fastened(**changes)) == pytest.approx(head_mm / 1000)


@pytest.mark.parametrize(
    ("changes", "torque_n_m", "reason"),
    [
        ({"fastener": "rivet-nut"}, 3.5, "rivet nut"),
        ({"fastener": "rivet-nut", "thread": "M5"}, 1.5, "rivet nut"),
        (
            {"washer_diameter_m": 0.012},
            0.2 * 0.006 * 60e6 * math.pi / 4 * (0.012**2 - 0.006**2),
            "crush",
        ),
        ({"washer_diameter_m": 0.03}, 0.2 * 0.006 * 0.75 * 450 * 20.1, "proof load"),
    ],
)
def test_torque_of_bolts_through_the_skin(
    changes: dict[str, object], torque_n_m: float, reason: str
) -> None:
    """By the nut's limit, by what crushes an aluminium roof at 60 MPa, or by three quarters of the
    proof load."""
    told = mount_check(request(fastened(**changes))).nut_torque
    assert told
    assert told.torque_n_m == pytest.approx(torque_n_m)
    assert reason in told.limited_by


@pytest.mark.parametrize("fastener", ["screw", "blind-rivet"])
def test_torque_is_told_where_there_is_a_nut_on_the_panel(fastener: str) -> None:
    told = mount_check(request(fastened(fastener=fastener))).nut_torque
    assert (told is None) == (fastener == "screw")


def test_a_section_of_which_only_figures_are_known_bends_alike() -> None:
    """The same tube by its measures, and by second moment and modulus in mm (closed form)."""
    second = (40 * 40**3 - 36 * 36**3) / 12
    given = GivenSection(height_m=0.04, second_moment_mm4=second, section_modulus_mm3=second / 20)
    box, told = (mount_check(request(railed(**changes))) for changes in ({}, {"section": given}))
    for code in ("rail-bending-headwind-gust", "rail-deflection-headwind-gust"):
        assert check(told, code).demand == pytest.approx(check(box, code).demand)
        assert check(told, code).demand


def test_a_rail_without_clamps_bears_nothing() -> None:
    """Numbers of rails stay those of the request."""
    first, last = railed().rails
    rails = [first, replace(first, across_m=0.5), last]
    answer = mount_check(request(railed(rails=rails)))
    plain = mount_check(request(railed()))
    code = "rail-bending-headwind-gust"
    assert check(answer, code).demand == pytest.approx(check(plain, code).demand)
    subjects = {one.subject for one in answer.checks if one.code.startswith("rail-bending")}
    assert not any(subject and "rail 2" in subject for subject in subjects)
    assert [rail.number for rail in rail_beams(railed(rails=rails))] == [1, 3]


def test_each_clamp_belongs_to_the_nearest_rail() -> None:
    for run in ("along-length", "along-width"):
        rails = [
            Rail(across_m=across, start_m=-0.2, end_m=1.3, supports_m=[0.0, 0.4, 1.2])
            for across in (0.1, 0.4)
        ]
        clamps = [(0.2, 0.42), (0.9, 0.08), (0.9, 0.42), (0.2, 0.08)]
        points = [
            FootPoint(x_m=x, y_m=y) if run == "along-length" else FootPoint(x_m=y, y_m=x)
            for x, y in clamps
        ]
        beams = rail_beams(railed(run=run, rails=rails, clamps=points))
        assert [rail.clamps.tolist() for rail in beams] == [[1, 3], [0, 2]]
        assert [rail.span for rail in beams] == pytest.approx([0.8, 0.8])


@pytest.mark.parametrize("kind", ["glued", "fastened", "bonded", "rails"])
def test_of_load_cases_that_pass_the_hardest_is_told(kind: str) -> None:
    """Failures and what the answer names are told, and of each rule the highest use."""
    mounting, panel = {
        "glued": (glued(), FRAMED),
        "fastened": (fastened(), FRAMED),
        "bonded": (bonded(), FLEXIBLE),
        "rails": (railed(), FRAMED),
    }[kind]
    asked = request(mounting, panel)
    whole = governing_mount_check(replace(asked, detail="all"))
    told = governing_mount_check(asked)
    assert whole.checks == mount_check(asked).checks
    assert len(told.checks) < len(whole.checks)
    left_out = [one for one in whole.checks if one not in told.checks]
    named = {one.code for one in told.checks}
    assert {told.governing.code, told.foot_lost.code, told.speed_limit.limited_by} <= named
    for one in left_out:
        assert one.verdict == "pass"
        beside = [other for other in told.checks if rule_of(other) == rule_of(one)]
        assert max(infinite(other.utilisation_fraction) for other in beside) >= infinite(
            one.utilisation_fraction
        )
    assert told.counts.passed == sum(one.verdict == "pass" for one in told.checks)
    torque = {told.nut_torque.basis} if told.nut_torque else set()
    wanted = {one.basis for one in told.checks} | {told.air_basis} | torque
    assert wanted <= {one.key for one in told.sources}
    unused = {one.basis for one in left_out} - wanted
    assert not unused & {one.key for one in told.sources}
