"""Ways of the load that not every mounting has: clamps' toes, rails pushed sideways, wood."""

import math

import numpy as np
import pytest
from mount_builders import FRAMED, fastened, glued, railed, request
from msgspec.structs import replace

from sunhitch.report.amounts import rest
from sunhitch.types.check import Check
from sunhitch.types.mount import (
    Adhesive,
    ClampToe,
    FootPoint,
    MountCheckAnswer,
    MountCheckRequest,
    Rail,
    Timber,
)
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.mount import timber
from sunhitch_service.engine.mount.calculation import mount_check

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
    """Braking pushes across both rails, a gust from the side along them: two supports a rail."""
    answer = mount_check(request(railed(support_side_rating_n=1500.0)))
    braking = next(one for one in answer.load_cases if one.name == "braking")
    told = check(answer, "rail-support-sideways-braking")
    assert told.demand == pytest.approx(braking.rearward_n / 4, rel=1e-6)
    unrated = mount_check(request(railed(support_side_rating_n=None)))
    assert any("support_side_rating_n" in text for text in unrated.not_judged)
    assert not any("support_side_rating_n" in text for text in answer.not_judged)
    weak = mount_check(request(railed(support_side_rating_n=5.0)))
    assert check(weak, "rail-support-sideways-braking").verdict == "fail"


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
    assert told.demand == pytest.approx(braking.rearward_n / 4 * sum(shares), rel=1e-6)


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
