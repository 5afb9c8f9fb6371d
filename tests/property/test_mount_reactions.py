"""Reactions of feet balance their load, and can be redone by hand."""

import math
import random
from typing import Any

import numpy as np
import pytest
from mount_builders import (
    FLEXIBLE,
    FRAMED,
    LENGTH,
    WIDTH,
    bonded,
    fastened,
    glued,
    grid,
    railed,
    request,
)
from msgspec.structs import replace

from sunhitch.types.mount import (
    FootPoint,
    MountCheckAnswer,
    MountCheckRequest,
    PanelWind,
    Reactions,
    TravelConditions,
)
from sunhitch.types.shade import PanelPosition
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.mount.calculation import mount_check
from sunhitch_service.engine.mount.reactions import _residual
from sunhitch_service.engine.mount.setup import settle

SHARE = 1e-6
"""Of the load, the most that may be left of forces and moments."""


def random_build(dice: random.Random) -> MountCheckRequest:
    """3 to 12 feet anywhere, mostly beside the middle, under a stiff or a thin panel."""
    count = dice.randint(3, 12)
    feet: list[FootPoint] = []
    while len(feet) < count:
        x, y = dice.uniform(0.0, 0.8) * LENGTH, dice.uniform(0.2, 1.0) * WIDTH
        if all(np.hypot(x - one.x_m, y - one.y_m) > 0.05 for one in feet):
            feet.append(FootPoint(x_m=x, y_m=y))
    make = dice.choice((glued, fastened))
    small = {"pad_length_m": 0.02, "pad_width_m": 0.02} if make is glued else {}
    return request(
        make(feet=feet, **small),
        dice.choice((FRAMED, FLEXIBLE)),
        position=PanelPosition(x_m=2.0, y_m=0.9, rotation_deg=dice.uniform(-180.0, 180.0)),
        detail="reactions",
    )


def points(asked: MountCheckRequest) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Feet or clamps from the panel's middle [m]."""
    mounting = asked.mounting
    listed = getattr(mounting, "feet", None) or getattr(mounting, "clamps", [])
    places = [[foot.x_m - LENGTH / 2, foot.y_m - WIDTH / 2] for foot in listed]
    return np.array(places, dtype=np.float64)


def balances(asked: MountCheckRequest, one: Reactions) -> None:
    """Three sums of forces and three of moments, out of nothing but the answer."""
    x, y = points(asked).T
    up, along, across = map(np.array, (one.feet_uplift_n, one.feet_along_n, one.feet_across_n))
    load = np.linalg.norm([one.uplift_n, one.along_n, one.across_n])
    allowed = SHARE * (load + abs(one.moment_along_n_m) + abs(one.moment_across_n_m))
    assert up.sum() == pytest.approx(one.uplift_n, abs=allowed)
    assert along.sum() == pytest.approx(one.along_n, abs=allowed)
    assert across.sum() == pytest.approx(one.across_n, abs=allowed)
    assert up @ x == pytest.approx(one.moment_along_n_m, abs=allowed)
    assert up @ y == pytest.approx(one.moment_across_n_m, abs=allowed)
    assert x @ across - y @ along == pytest.approx(0.0, abs=allowed)
    assert one.residual_fraction < SHARE
    if one.lost:
        gone = int(one.lost.split()[-1]) - 1
        assert up[gone] == along[gone] == across[gone] == 0.0


def within_the_checks(answer: MountCheckAnswer) -> None:
    """The forces that checks count are never less than a reaction."""
    for one in answer.reactions:
        for foot, pull in zip(answer.feet, one.feet_uplift_n, strict=True):
            counted = foot.lost_uplift_n if one.lost else foot.uplift_n
            assert counted is None or pull <= counted * (1 + 1e-9) + 1e-9


def test_reactions_of_random_builds_balance() -> None:
    dice, seen = random.Random(7), set[tuple[str, bool]]()
    for _ in range(20):
        asked = random_build(dice)
        answer = mount_check(asked)
        within_the_checks(answer)
        for one in answer.reactions:
            balances(asked, one)
            seen.add((one.panel, bool(one.lost)))
    assert len(seen) == 4


def test_clamps_balance_and_a_sheet_has_no_feet() -> None:
    asked = request(railed(), detail="reactions")
    answer = mount_check(asked)
    assert {one.load_case for one in answer.reactions} >= {"snow", "parked-storm", "braking"}
    for one in answer.reactions:
        balances(asked, one)
    assert mount_check(request(bonded(), FLEXIBLE, detail="reactions")).reactions == []


@pytest.mark.parametrize(
    ("mounting", "height_m"), [(glued(), 0.0375), (fastened(), 0.0375), (railed(), 0.0775)]
)
def test_reactions_to_weight_alone_bear_that_of_their_load_case(
    mounting: Any, height_m: float
) -> None:
    """Snow, a bump downwards and years of weight: no wind, so their uplift is the case's own, and
    their moment that of its push at the height of the panel's middle."""
    answer = mount_check(request(mounting, detail="reactions"))
    loads = {one.name: one for one in answer.load_cases}
    for one in answer.reactions:
        if one.load_case in ("snow", "bump-down", "own-weight"):
            assert one.uplift_n == pytest.approx(loads[one.load_case].uplift_n, rel=1e-9)
            pushed = math.hypot(one.along_n, one.across_n)
            load = loads[one.load_case]
            assert pushed == pytest.approx(max(load.rearward_n, load.sideways_n), abs=1e-9)
            assert one.moment_along_n_m == pytest.approx(-one.along_n * height_m, abs=1e-9)
            assert one.moment_across_n_m == pytest.approx(-one.across_n * height_m, abs=1e-9)


def test_reactions_come_on_request() -> None:
    asked = request(fastened())
    told = mount_check(replace(asked, detail="reactions"))
    plain = mount_check(asked)
    assert plain.reactions == []
    first = told.workings[: len(plain.workings)]
    alike = replace(told, reactions=[], workings=first, answer_id=plain.answer_id)
    assert alike == plain
    assert len(told.workings) > len(first)


def test_three_feet_follow_from_statics_alone() -> None:
    """Suction of 2.0 evenly over the panel, wind from ahead, redone with three equations.

    N = C·q·A − 0.6·m·g; drag at the height of the panel's middle, 0.02 + 0.0175 m, either lifts the
    front feet or the rear ones, whichever is worse.
    """
    feet = [FootPoint(x_m=0.1, y_m=0.1), FootPoint(x_m=0.1, y_m=0.44), FootPoint(x_m=1.0, y_m=0.2)]
    wind = PanelWind(net_uplift_coefficient=2.0, centre_of_pressure_fraction=0.5)
    asked = request(fastened(feet=feet), wind=wind, travel=TravelConditions(), detail="reactions")
    answer = mount_check(asked)
    assert not any(one.lost for one in answer.reactions)
    (gust,) = (one for one in answer.reactions if one.load_case == "headwind-gust")
    q = 0.5 * answer.air_density_kg_m3 * (33.3 + 15.0) ** 2
    uplift = 2.0 * q * LENGTH * WIDTH - 0.6 * 7.5 * 9.80665
    drag = q * (1.3 * (WIDTH * 0.035 + 3 * 0.06 * 0.02) + 0.01 * LENGTH * WIDTH)
    assert gust.uplift_n == pytest.approx(uplift)
    assert abs(gust.along_n) == pytest.approx(drag)
    x, y = points(asked).T
    by_hand = [
        np.linalg.solve([[1.0, 1.0, 1.0], x, y], [uplift, -sense * drag * 0.0375, 0.0])
        for sense in (1.0, -1.0)
    ]
    assert gust.feet_uplift_n == pytest.approx(max(by_hand, key=max))


def test_what_does_not_balance_is_told_as_a_share() -> None:
    """Each load without any reaction is left whole; a couple of the feet that turns the panel is
    told over its longer side."""
    setup = settle(request(fastened(feet=grid(2, 2))), Assumptions())
    for i in range(5):
        assert _residual(setup, np.zeros((4, 3)), np.eye(5)[i]) == pytest.approx(1.0)
    even = np.array([[0.25, 0.0, 0.0]] * 4)
    assert _residual(setup, even, np.eye(5)[0]) == pytest.approx(0.0, abs=1e-12)
    couple = even + np.array([[0.0, -1.0, 0.0], [0.0, 1.0, 0.0]] * 2)
    turned = 2 * 1.0 * (WIDTH - 2 * 0.08) / LENGTH
    assert _residual(setup, couple, np.eye(5)[0]) == pytest.approx(turned)
