"""What must hold for every mounting: balance, superposition, and the sense of every change."""

import math
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from sunhitch.report.amounts import infinite
from sunhitch.types.mount import (
    Adhesive,
    AdhesiveFeet,
    FastenedFeet,
    FootPoint,
    MountCheckRequest,
    MountVehicle,
    PanelWind,
    RoofSkin,
    RoofSurface,
    SheetProperties,
    TravelConditions,
)
from sunhitch.types.panel import PanelBody
from sunhitch.types.shade import PanelPosition
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.mount.air import density
from sunhitch_service.engine.mount.calculation import mount_check
from sunhitch_service.engine.mount.evaluate import Evaluation
from sunhitch_service.engine.mount.feet import (
    elastic_shares,
    feet_at,
    push_shares,
)
from sunhitch_service.engine.mount.modes import ModeResult
from sunhitch_service.engine.mount.plate import compliance, plate_under
from sunhitch_service.engine.mount.setup import Setup, settle
from sunhitch_service.engine.mount.sheet import pull, sag
from sunhitch_service.engine.statics import in_a_line, rigid_motions, stiff_shares

SLOW = settings(max_examples=25, deadline=None)
LENGTH, WIDTH = 1.2, 0.55

coordinate = st.floats(-0.5, 0.5)
layouts = st.lists(st.tuples(coordinate, coordinate), min_size=3, max_size=12).map(
    lambda places: np.array(places) * [LENGTH, WIDTH]
)
resultants = st.tuples(*[st.floats(-1000, 1000)] * 3).map(np.array)


def spread(points: np.ndarray[Any, np.dtype[np.float64]]) -> bool:
    """Feet at least 30 mm apart and not in a line."""
    gaps = np.linalg.norm(points[:, None] - points[None, :], axis=2)
    return not in_a_line(points, 0.05) and float((gaps + np.eye(len(points))).min()) > 0.03


def unequal(points: Any) -> Any:
    """Stiffness of feet of which the last is four times as stiff as the first."""
    return np.linspace(0.5, 2.0, len(points))


def thin_shares(points: Any) -> Any:
    """Shares of feet under a thin panel, all of them present."""
    rows = (len(points), len(points))
    feet, load = compliance(plate_under(points, (LENGTH, WIDTH), rows), points, 0.3)
    return elastic_shares(points[None], feet[None], load[None], unequal(points)[None])[0]


def results(setup: Setup, speed: float) -> list[ModeResult]:
    """Every mode in every load case at one road speed."""
    return Evaluation(setup, np.array([speed])).results()


@SLOW
@given(layouts, resultants)
def test_feet_balance_any_load(points: Any, load: Any) -> None:
    """Sum of the feet's forces and of their moments equals the applied ones, stiff or thin."""
    assume(spread(points))
    for shares in (stiff_shares(points, unequal(points)), thin_shares(points)):
        forces = shares @ load
        assert rigid_motions(points).T @ forces == pytest.approx(load, abs=1e-6)


def test_a_plate_twice_as_large_bends_four_times_as_far() -> None:
    """By force times length squared over bending stiffness, whatever its shape and its feet."""
    points = np.array([[-0.5, -0.2], [0.45, -0.15], [0.5, 0.25], [-0.4, 0.2], [0.0, 0.1]])
    small, large = (
        compliance(plate_under(k * points, (k * LENGTH, k * WIDTH), (3, 3)), k * points, 0.3)
        for k in (1.0, 2.0)
    )
    assert large[0] == pytest.approx(4.0 * small[0])
    assert large[1] == pytest.approx(small[1] * [4.0, 2.0, 2.0])


@SLOW
@given(layouts, st.integers(0, 11))
def test_feet_balance_after_one_is_lost(points: Any, gone: int) -> None:
    assume(len(points) > 3)
    lost = gone % len(points)
    assume(spread(points) and not in_a_line(np.delete(points, lost, axis=0), 0.05))
    feet = feet_at(tuple(map(tuple, points.tolist())), (LENGTH, WIDTH), 0.3)
    for shares in feet.lift[:, 1 + lost]:
        assert not shares[lost].any()
        assert rigid_motions(points).T @ shares == pytest.approx(np.eye(3), abs=1e-6)


@SLOW
@given(layouts, st.floats(-500, 500), st.floats(-500, 500))
def test_pushes_balance(points: Any, along: float, across: float) -> None:
    """Sideways forces add up to the push, and turn the panel about its middle by nothing."""
    assume(spread(points))
    forces = push_shares(points, unequal(points)) @ np.array([along, across])
    assert forces.sum(axis=0) == pytest.approx([along, across], abs=1e-6)
    turning = points[:, 0] * forces[:, 1] - points[:, 1] * forces[:, 0]
    assert turning.sum() == pytest.approx(0.0, abs=1e-6)


@SLOW
@given(layouts, resultants, resultants)
def test_loads_superpose(points: Any, one: Any, other: Any) -> None:
    assume(spread(points))
    shares = thin_shares(points)
    assert shares @ (one + other) == pytest.approx(shares @ one + shares @ other, abs=1e-6)


@given(st.floats(0.0, 5000.0), st.floats(0.0, 5000.0), st.floats(0.05, 1.0), st.floats(0.0, 0.005))
def test_more_pressure_never_pulls_less(
    one: float, other: float, span: float, slack: float
) -> None:
    low, high = sorted((one, other))
    spans, slacks = np.full(2, span), np.full(2, slack)
    lines = pull(sag(np.array([low, high]), spans, 4.5e6, 4.0, slacks), spans, 4.5e6, slacks)
    assert lines[0] <= lines[1] * (1 + 1e-9) + 1e-9


@given(st.floats(-450.0, 5500.0), st.floats(-450.0, 5500.0), st.floats(-60.0, 40.0))
def test_higher_air_is_thinner(one: float, other: float, air_c: float) -> None:
    low, high = sorted((one, other))
    assert density(high, air_c) <= density(low, air_c)


VEHICLE = MountVehicle(
    kind="trailer",
    roof_length_m=5.0,
    roof_width_m=2.1,
    roof_height_m=2.6,
    roof_rating_kg=100.0,
)


def grid(rows: int, columns: int) -> list[FootPoint]:
    along = np.linspace(0.08, LENGTH - 0.08, rows)
    across = np.linspace(0.08, WIDTH - 0.08, columns)
    return [FootPoint(x_m=float(x), y_m=float(y)) for x in along for y in across]


def build(mounting: Any, flexible: bool, x_m: float = 1.0, y_m: float = 0.6) -> MountCheckRequest:
    return MountCheckRequest(
        panel=PanelBody(
            length_m=LENGTH,
            width_m=WIDTH,
            thickness_m=0.003 if flexible else 0.035,
            mass_kg=2.5 if flexible else 8.0,
            construction="flexible" if flexible else "framed",
        ),
        position=PanelPosition(x_m=x_m, y_m=y_m),
        mounting=mounting,
        vehicle=VEHICLE,
        surface=RoofSurface(kind="bare-aluminium", abraded_and_cleaned=True),
        skin=RoofSkin(material="aluminium-5754-h111", thickness_m=0.0012),
        sheet=SheetProperties(load_rating_pa=4000.0, laminate_strength_pa=40e6),
        travel=TravelConditions(),
    )


def glued(feet: list[FootPoint], play_m: float = 0.0) -> AdhesiveFeet:
    return AdhesiveFeet(
        feet=feet,
        pad_length_m=0.06,
        pad_width_m=0.06,
        adhesive=Adhesive(kind="acrylic-foam-tape"),
        standoff_m=0.02,
        foot_thickness_m=0.02,
        base_thickness_m=0.004,
        play_m=play_m,
    )


def bolted(feet: list[FootPoint], play_m: float = 0.0) -> FastenedFeet:
    return FastenedFeet(
        feet=feet,
        fastener="bolt",
        fasteners_per_foot=1,
        base_width_m=0.04,
        standoff_m=0.01,
        washer_diameter_m=0.02,
        play_m=play_m,
    )


mountings = st.builds(
    lambda make, rows, columns, play: make(grid(rows, columns), play),
    st.sampled_from([glued, bolted]),
    st.integers(2, 4),
    st.integers(2, 3),
    st.sampled_from([0.0, 0.001, 0.003]),
)
builds = st.builds(build, mountings, st.booleans(), st.floats(0.0, 3.5), st.floats(0.0, 1.5))


@SLOW
@given(builds, st.floats(0.0, 45.0), st.floats(0.0, 45.0), st.floats(-180.0, 180.0))
def test_more_speed_never_lowers_a_utilisation(
    request: MountCheckRequest, one: float, other: float, turned: float
) -> None:
    turned_place = replace(request.position, x_m=2.0, y_m=0.9, rotation_deg=turned)
    setup = settle(replace(request, position=turned_place), Assumptions())
    slow, fast = (results(setup, speed) for speed in sorted((one, other)))
    rising = {result.check_code: result.utilisation for result in fast}
    for result in slow:
        assert result.utilisation <= rising[result.check_code] * (1 + 1e-9) + 1e-9, (
            result.check_code
        )


@SLOW
@given(st.sampled_from([glued, bolted]), st.booleans(), st.integers(3, 5), st.integers(2, 3))
def test_more_feet_never_raise_the_governing_one(
    make: Any, flexible: bool, rows: int, columns: int
) -> None:
    """Twice as many spans along or across a symmetric grid, middle rows halving every span.

    From two rows to three the middle row of a thin panel takes 10/16 of the load instead of half,
    so the law starts at three rows. A sheet that grows is another matter: the closer its feet,
    the more it pushes before it buckles.
    """

    def governing(more_rows: int, more_columns: int) -> float:
        request = build(make(grid(more_rows, more_columns)), flexible)
        setup = settle(request, Assumptions())
        found = Evaluation(setup, np.array([30.0]))
        at_feet = [mode.parts == setup.supports for mode in found.modes]
        return float(found.used[0, at_feet, 0][:, ~found.cases.where("growth")].max())

    few = governing(rows, columns)
    assert governing(2 * rows - 1, columns) <= few * (1 + 1e-9)
    assert governing(2 * rows - 1, 2 * columns - 1) <= few * (1 + 1e-9)


@SLOW
@given(st.integers(2, 4), st.floats(0.015, 0.05), st.floats(0.015, 0.05))
def test_wider_washers_never_hurt_the_skin(rows: int, one: float, other: float) -> None:
    def used(washer_m: float) -> dict[str, float]:
        mounting = replace(bolted(grid(rows, 2)), washer_diameter_m=washer_m)
        setup = settle(build(mounting, False), Assumptions())
        return {
            result.check_code: result.utilisation
            for result in results(setup, 30.0)
            if result.code == "skin-pull-over"
        }

    narrow, wide = (used(washer) for washer in sorted((one, other)))
    assert narrow
    for code, share in wide.items():
        assert share <= narrow[code] * (1 + 1e-9)


@SLOW
@given(builds, st.floats(0.5, 3.0), st.floats(0.5, 3.0))
def test_more_suction_never_helps(request: MountCheckRequest, one: float, other: float) -> None:
    def uses(coefficient: float) -> dict[str, float]:
        wind = PanelWind(net_uplift_coefficient=coefficient)
        setup = settle(replace(request, wind=wind), Assumptions())
        return {result.check_code: result.utilisation for result in results(setup, 30.0)}

    low, high = (uses(coefficient) for coefficient in sorted((one, other)))
    for code, used in low.items():
        assert used <= high[code] * (1 + 1e-9) + 1e-9, code


@settings(max_examples=12, deadline=None)
@given(builds)
def test_every_answer_is_finite_and_consistent(request: MountCheckRequest) -> None:
    answer = mount_check(request)
    for check in answer.checks:
        for number in (check.demand, check.capacity, check.utilisation_fraction):
            assert number is None or math.isfinite(number)
    limit = answer.speed_limit
    assert (limit.pass_speed_m_s or 0.0) <= (limit.fail_speed_m_s or 0.0)
    assert isinstance(request.mounting, AdhesiveFeet | FastenedFeet)
    assert len(answer.feet) == len(request.mounting.feet)
    for slower, faster in pairwise(answer.speed_curve):
        assert infinite(slower.utilisation_fraction) <= infinite(faster.utilisation_fraction)
    for foot in answer.feet:
        code = foot.governed_by
        check = next(check for check in answer.checks if check.code == code)
        assert infinite(foot.utilisation_fraction) <= infinite(check.utilisation_fraction) * (
            1 + 1e-9
        )
