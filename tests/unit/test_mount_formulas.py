"""Formulas of the mount check against closed forms and values worked by hand."""

import math
from typing import Any

import numpy as np
import pytest
from mount_builders import FLEXIBLE, bonded, fastened, glued, grid, railed, request
from msgspec.structs import replace

from outside_figures import Outside
from sunhitch.types.mount import (
    Accelerations,
    Adhesive,
    FootPoint,
    MountCheckRequest,
    MountVehicle,
    PanelWind,
    RoofSurface,
    SheetProperties,
    TravelConditions,
)
from sunhitch.types.shade import PanelPosition
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.mount import adhesive, fasteners, feet, plate, sheet, speed, wind
from sunhitch_service.engine.mount.air import density
from sunhitch_service.engine.mount.between_feet import lateral_compliance, lifted, pushed_by_growth
from sunhitch_service.engine.mount.calculation import mount_check
from sunhitch_service.engine.mount.cases import climates, load_cases, side_share, snow_pressure
from sunhitch_service.engine.mount.cure import Curing
from sunhitch_service.engine.mount.evaluate import Evaluation
from sunhitch_service.engine.mount.pull_tests import fastened_pull
from sunhitch_service.engine.mount.setup import settle
from sunhitch_service.engine.mount.static_checks import bond_shift
from sunhitch_service.engine.mount.thermal import movement, restrained_movement
from sunhitch_service.engine.statics import stiff_shares


def arr(*values: float) -> np.ndarray:
    return np.array(values)


def pull(pressure: float, span: float, stiff: float, bending: float, slack: float) -> float:
    """Sideways pull of a strip under pressure."""
    depth = sheet.sag(arr(pressure), arr(span), stiff, bending, arr(slack))
    return float(sheet.pull(depth, arr(span), stiff, arr(slack))[0])


def test_taut_membrane_has_a_closed_form() -> None:
    """No slack and no bending: f = (3·p·L⁴/64·Et)^(1/3) and n = p·L²/8f."""
    pressure, span, stiff = 1500.0, 0.55, 4.5e6
    depth = sheet.sag(arr(pressure), arr(span), stiff, 1e-12, arr(0.0))[0]
    assert depth == pytest.approx((3 * pressure * span**4 / (64 * stiff)) ** (1 / 3))
    drawn = pull(pressure, span, stiff, 1e-12, 0.0)
    assert drawn == pytest.approx(pressure * span**2 / (8 * depth))


def test_stiff_strip_is_a_beam() -> None:
    """No pull: the simply supported strip, 5·p·L⁴/384·D."""
    depth = sheet.sag(arr(1000.0), arr(0.4), 1e-6, 50.0, arr(0.0))[0]
    assert depth == pytest.approx(5 * 1000 * 0.4**4 / (384 * 50.0))


def test_slack_sheet_hangs_before_it_pulls() -> None:
    """With play s the pull vanishes while (8/3)·f²/L stays below s."""
    span, slack = 0.5, 0.002
    free = math.sqrt(3 * span * slack / 8)
    light = (384 / 5) * 20.0 * free / span**4
    assert pull(0.9 * light, span, 4.5e6, 20.0, slack) == 0.0
    assert pull(1.5 * light, span, 4.5e6, 20.0, slack) > 0.0


@pytest.mark.parametrize("pressure", [10.0, 500.0, 5000.0])
@pytest.mark.parametrize("slack", [0.0, 0.001, 0.004])
def test_sag_balances_the_pressure(pressure: float, slack: float) -> None:
    span, stiff, bending = 0.45, 4.5e6, 5.0
    depth = sheet.sag(arr(pressure), arr(span), stiff, bending, arr(slack))[0]
    drawn = pull(pressure, span, stiff, bending, slack)
    carried = 8 * drawn * depth / span**2 + (384 / 5) * bending * depth / span**4
    assert carried == pytest.approx(pressure, rel=1e-6)


def test_sag_keeps_its_digits_where_bending_carries_all() -> None:
    """A plate of 2,000 N·m without pull: p·L⁴·5/384·D to nine digits, whatever it weighs."""
    for pressure in (1e-3, 1.0, 1000.0):
        depth = sheet.sag(arr(pressure), arr(0.45), 1e-3, 2000.0, arr(0.0))[0]
        assert depth == pytest.approx(5 * pressure * 0.45**4 / (384 * 2000.0), rel=1e-9)


def test_trapped_air_reaches_twenty_kilopascals() -> None:
    """Bonded at 21 °C, heated to 80 °C at sea level: 101.3 kPa × 59/294 (ideal gas)."""
    assert sheet.blister_pressure(80.0, 21.0, 101325.0) == pytest.approx(101325 * 59 / 294.15)


def test_cantilevered_edge_strain() -> None:
    """Surface strain at the root, M·t/2D with M = p·c²/2."""
    assert sheet.edge_strain(1500.0, 0.1, 0.003, 3.7) == pytest.approx(
        (1500 * 0.01 / 2) * 0.0015 / 3.7
    )


def test_pad_edge_stress() -> None:
    """F/A + M/W: 200 N and 4 N·m on 80 × 100 mm, W = 100·80²/6 mm³."""
    found = adhesive.edge_stress(arr(200.0), arr(4.0), arr(0.0), 0.08, 0.1)[0]
    assert found == pytest.approx(200 / 0.008 + 4 / (0.1 * 0.08**2 / 6))


def test_oblique_moment_on_a_square_pad() -> None:
    """Pulled at 45° its corner bears 6·√2·M/b³ (section modulus of a square about its diagonal)."""
    side, part = 0.12, 5.0 / math.sqrt(2)
    found = adhesive.edge_stress(arr(0.0), arr(part), arr(part), side, side)[0]
    assert found == pytest.approx(6 * math.sqrt(2) * 5.0 / side**3)


@pytest.mark.parametrize(
    ("strength", "share"), [("8.8", 0.3), ("10.9", 0.5 / 1.875), ("A2-70", 0.5 / 1.875)]
)
def test_shear_through_a_thread(strength: str, share: float) -> None:
    """M6, 20.1 mm²: αv of EN 1993-1-8 over 1.25 and 1.5; 5,574 N of class 10.9."""
    ultimate = {"8.8": 800.0, "10.9": 1040.0, "A2-70": 700.0}[strength]
    assert fasteners.bolt_shear("M6", strength) == pytest.approx(share * 20.1 * ultimate)


def test_rivets_hold_the_skin_by_their_blind_side() -> None:
    """4.8 mm rivets with a head of 9 mm spread some 6.8 mm behind the skin, washer or not."""
    riveted = fastened(fastener="blind-rivet", rivet="4.8", washer_diameter_m=0.025)
    assert fasteners.head_m(riveted) == pytest.approx(0.0068)


@pytest.mark.parametrize(
    ("ground_pa", "roof_pa"), [(500, 500), (950, 950), (1000, 958), (2000, 1680)]
)
def test_snow_on_a_low_slope(ground_pa: float, roof_pa: float) -> None:
    """0.7 × 1.2 of the ground's, not below the ground's own up to 958 Pa (20 lb/ft²)."""
    assert snow_pressure(ground_pa) == pytest.approx(roof_pa)


def test_bond_strength_multiplies_its_shares() -> None:
    """85 kPa of tape at 60 °C on sound paint: × 0.45 × 0.7 × 0.8."""
    tape = Adhesive(kind="acrylic-foam-tape")
    surface = adhesive.surface_fraction(
        RoofSurface(kind="painted-metal", abraded_and_cleaned=True), None
    )
    assert adhesive.bond_strength(tape, "gust", 60.0, surface) == pytest.approx(
        85000 * 0.45 * 0.7 * 0.8
    )


def test_no_strength_is_credited_beyond_the_table() -> None:
    for kind in ("acrylic-foam-tape", "one-part-polyurethane", "structural-silicone"):
        assert adhesive.heat_fraction(kind, 101.0, "gust") == 0.0
        assert adhesive.heat_fraction(kind, -20.0, "gust") == 1.0


def test_bond_growth_is_interpolated_in_log_time() -> None:
    warm = Curing("acrylic-foam-tape", 21.0, 0.0)
    assert warm.share(72.0) == pytest.approx(1.0)
    assert warm.share(1 / 3) == pytest.approx(0.5, abs=1e-3)
    assert warm.share(0.1) == 0.0
    assert Curing("acrylic-foam-tape", 11.0, 0.0).share(48.0) == pytest.approx(0.9)


@pytest.mark.parametrize("cold_c", [0.0, 5.0, 10.0, 15.0])
def test_moisture_cures_slower_in_the_cold(cold_c: float, outside: Outside) -> None:
    """No faster than the air's water allows at one humidity."""
    water = [math.exp(17.62 * c / (243.12 + c)) for c in (23.0, cold_c)]
    warm, cold = (Curing("structural-silicone", c, 0.006) for c in (23.0, cold_c))
    slower = cold.full_h / warm.full_h
    outside(
        slower,
        1.15 * water[0] / water[1],
        rel=0.15 / 1.15,
        of=f"cure of silicone at {cold_c:g} °C against 23 °C, 1 to 1.3 times the water's share",
        source="Magnus' formula for water in air",
        seen="recalled",
    )
    assert Curing("structural-silicone", 35.0, 0.006).full_h == warm.full_h


def test_skin_pull_over_and_bearing_by_hand() -> None:
    """25 mm washer in 0.8 mm sheet of 140 MPa; M6 bearing on it."""
    assert fasteners.pull_over(0.025, 0.0008, 140e6) == pytest.approx(
        min(6.1 * 0.8 * 140 * math.sqrt(25 / 22), 0.5 * 25 * 0.8 * 140)
    )
    assert fasteners.bearing(6.0, 0.0008, 140e6) == pytest.approx(
        min(2.5 * 140 * math.sqrt(0.8**3 * 6), 1.5 * 140 * 0.8 * 6)
    )


def test_the_lesser_of_two_rules_holds_sheet() -> None:
    """Small heads by 0.5·d·t·fu, washers by their root; thin sheet by √(t³·d), thick by t·d."""
    small, wide = (fasteners.pull_over(mm / 1000, 0.0008, 140e6) for mm in (5.0, 12.0))
    assert small == pytest.approx(0.5 * 5 * 0.8 * 140)
    assert wide == pytest.approx(6.1 * 0.8 * 140 * math.sqrt(12 / 22))
    thin, thick = (fasteners.bearing(4.8, mm / 1000, 140e6) for mm in (1.0, 3.0))
    assert thin == pytest.approx(2.5 * 140 * math.sqrt(1.0**3 * 4.8))
    assert thick == pytest.approx(1.5 * 140 * 3.0 * 4.8)


def test_strips_of_a_sheet_share_pressure_and_play() -> None:
    """Three rows 0.5 m apart and two 0.4 m: each carries by the fourth power of the other's span
    (Grashof), and the studs' play is spread over the spans between the outermost rows."""
    places = tuple((x, y) for x in (-0.5, 0.0, 0.5) for y in (-0.2, 0.2))
    found = feet.feet_at(places, (1.2, 0.6), 0.3, losses=False)
    strips = {float(span): (share, play) for span, share, play, _, _ in found.strips if span > 0}
    along = 0.4**4 / (0.5**4 + 0.4**4)
    assert strips == {
        0.5: (pytest.approx(along), pytest.approx(0.5)),
        0.4: (pytest.approx(1 - along), pytest.approx(1.0)),
    }
    assert found.longest_m == pytest.approx(0.5)


def test_thick_skin_earns_no_more_than_the_rule_covers() -> None:
    assert fasteners.pull_over(0.03, 0.004, 140e6) == fasteners.pull_over(0.03, 0.0015, 140e6)


def test_a_plate_reaches_feet_beside_the_panel() -> None:
    """Panel of 1.2 × 0.6 m, feet from -0.7 to 0.5 m along and from -0.2 to 0.45 m across it; the
    load lies on the panel. More rows of feet take more shapes, up to the most."""
    places = np.array([[-0.7, -0.2], [0.5, -0.2], [-0.7, 0.45], [0.5, 0.1]])
    found = plate.plate_under(places, (1.2, 0.6), (2, 3))
    assert found.middle == pytest.approx((-0.05, 0.075))
    assert found.half_m == pytest.approx((0.65, 0.375))
    assert found.load_half_m == (0.6, 0.3)
    within = plate.plate_under(places * 0.5, (1.2, 0.6), (5, 30))
    assert within.middle == (0.0, 0.0)
    assert within.half_m == within.load_half_m
    degrees = (found.degrees, within.degrees)
    least, most = plate.LEAST_DEGREE, plate.MOST_DEGREE
    assert degrees == ((least, least), (5 + plate.DEGREES_BEYOND_ROWS, most))


def test_four_corner_feet_share_alike() -> None:
    corners = np.array([[-0.5, -0.2], [-0.5, 0.2], [0.5, -0.2], [0.5, 0.2]])
    shares = stiff_shares(corners, np.ones(4))
    assert shares[:, 0] == pytest.approx([0.25] * 4)
    assert shares[:, 1] == pytest.approx([-0.5, -0.5, 0.5, 0.5])


def test_stiffer_feet_draw_load() -> None:
    """Feet at -0.5, twice -0.25 and 0.5 m, the middle ones three times as stiff (by hand): centre
    at -0.1875 m, Σk·(x - xc)² of 0.59375 m², and so k·(1/8 + 0.1875/0.59375·(x - xc)) each. A push
    along the line of two pairs goes by stiffness alone."""
    line = np.array([[-0.5, 0.0], [-0.25, 0.1], [-0.25, -0.1], [0.5, 0.0]])
    heavy = stiff_shares(line, np.array([1.0, 3.0, 3.0, 1.0]))[:, 0]
    assert heavy == pytest.approx([0.02632, 0.31579, 0.31579, 0.34211], abs=1e-5)
    pairs = np.array([[-0.5, -0.2], [-0.5, 0.2], [0.5, -0.2], [0.5, 0.2]])
    pushed = feet.push_shares(pairs, np.array([1.0, 1.0, 2.0, 2.0]))[:, 0, 0]
    assert pushed == pytest.approx([1 / 6, 1 / 6, 1 / 3, 1 / 3])


def test_each_pad_bears_by_its_own_size() -> None:
    """Mean tension is pull over the foot's own area, and pull on bolts over their own number."""
    corners = grid(2, 2)
    own = [replace(corners[0], pad_length_m=0.2, pad_width_m=0.15, fasteners=None), *corners[1:]]
    asked = request(glued(feet=own, pad_length_m=0.1, pad_width_m=0.1))
    pull, tension = _pull_and("bond-tension", asked)
    assert tension == pytest.approx(pull / [0.03, 0.01, 0.01, 0.01])
    more = [replace(corners[0], fasteners=4), *corners[1:]]
    flat = fastened(feet=more, standoff_m=0.0)
    pull, tension = _pull_and("fastener-tension", request(flat))
    assert tension == pytest.approx(pull / [4, 2, 2, 2])


def _pull_and(code: str, asked: MountCheckRequest) -> tuple[Any, Any]:
    """Pull on every foot in every load case, and demand of a mode."""
    found = Evaluation(settle(asked, Assumptions()), np.array([30.0]))
    assert found.forces is not None
    mode = next(mode for mode in found.modes if mode.code == code)
    return found.forces.uplift[0, :, 0], mode.at(slice(None))[0][:, 0]


def test_bolt_group_turns_about_its_centre() -> None:
    """A push past two feet on one side: closed form H/n ± H·e·r/Σr²."""
    points = np.array([[0.0, 0.1], [0.0, 0.3], [0.4, 0.2]])
    found = feet.push_shares(points, np.ones(3)) @ np.array([100.0, 0.0])
    arms = points - points.mean(axis=0)
    torque = 100.0 * points.mean(axis=0)[1]
    expected = 100.0 / 3 - torque * arms[:, 1] / (arms**2).sum()
    assert found[:, 0] == pytest.approx(expected)


def test_rows_spans_and_widths_of_a_grid() -> None:
    points = np.array([[x, y] for x in (-0.5, 0.0, 0.5) for y in (-0.2, 0.2)])
    (gaps,), (width,) = feet.spans_along(points[None], 0, 0.54)
    assert gaps[0] == pytest.approx([0.0, 0.5])
    assert gaps[2] == pytest.approx([0.5, 0.5])
    assert width == pytest.approx([0.27] * 6)
    assert feet.overhang(points, (1.2, 0.54)) == pytest.approx(0.1)


@pytest.mark.parametrize("out_m", [0.0, 0.02, 0.04, 0.1, 0.19])
def test_a_foot_out_of_line_holds_nothing_for_those_far_beside_it(out_m: float) -> None:
    """Two rows of three, 0.4 m apart: the sheet between the outer feet spans 0.4 m all the same."""
    points = np.array([[x, y] for x in (-0.2, 0.2) for y in (-0.7, 0.0, 0.7)])
    points[1, 0] += out_m
    (spans,), _ = feet.spans_along(points[None], 0, 1.6)
    assert spans[[0, 2], 1] == pytest.approx([0.4, 0.4])
    assert spans[[3, 5], 0] == pytest.approx([0.4, 0.4])
    assert (spans[1, 1], spans[4, 0]) == pytest.approx((0.4 - out_m, 0.4 - out_m))
    assert spans[[0, 2], 0] == pytest.approx([0.0, 0.0])


def test_a_lost_foot_leaves_the_sheet_to_those_beyond_and_beside_it() -> None:
    """Of three rows of two the middle one lost a foot: from its neighbours to the one beside it."""
    points = np.array([[x, y] for x in (-0.4, 0.0, 0.4) for y in (-0.2, 0.2)])
    (close,), _ = feet.spans_along(np.delete(points, 2, axis=0)[None], 0, 0.6)
    assert close[0] == pytest.approx([0.0, 0.4])
    (wide,), _ = feet.spans_along(np.delete(points * [0.5, 1.0], 2, axis=0)[None], 0, 0.6)
    assert wide[0] == pytest.approx([0.0, math.hypot(0.2, 0.2)])


def test_feet_at_uneven_distances_hold_up_to_midway() -> None:
    """Across 0.6 m at -0.2, 0.1 and 0.25 m: borders at -0.3, -0.05, 0.175 and 0.3 m."""
    row = [(0.0, -0.2), (0.0, 0.1), (0.0, 0.25)]
    points = np.array([*row, (0.5, 0.0)])
    _, (width,) = feet.spans_along(points[None], 0, 0.6)
    assert width == pytest.approx([0.25, 0.225, 0.125, 0.6])


ROOF = MountVehicle(kind="trailer", roof_length_m=5, roof_width_m=2.0, roof_height_m=2.6)


@pytest.mark.parametrize(
    ("x", "y", "zone"),
    [
        (0.1, 0.3, "corner"),
        (0.1, 1.7, "corner"),
        (0.1, 1.0, "leading-strip"),
        (0.6, 1.0, "behind-strip"),
        (1.5, 1.0, "far"),
    ],
)
def test_zones_behind_the_front_edge(x: float, y: float, zone: str) -> None:
    """e = min(2.0, 5.2) = 2 m: strip 0.3 m (least), corners 0.5 m wide, behind to 1 m."""
    found = wind.zone_of(arr(x), arr(min(y, 2.0 - y)), 2.0, 2.6, end_m=1.0)[0]
    assert wind.ZONES[int(found)] == zone


@pytest.mark.parametrize(
    ("ahead", "aside", "zone"),
    [
        (-0.1, 0.2, "corner"),
        (0.299, 0.499, "corner"),
        (0.299, 0.5, "leading-strip"),
        (0.3, 0.1, "behind-strip"),
        (0.999, 0.1, "behind-strip"),
        (1.0, 0.1, "far"),
    ],
)
def test_zones_end_at_their_borders(ahead: float, aside: float, zone: str) -> None:
    """Of the same roof; what hangs over its edge counts as on it."""
    found = wind.zone_of(arr(ahead), arr(aside), 2.0, 2.6, end_m=1.0)[0]
    assert wind.ZONES[int(found)] == zone


@pytest.mark.parametrize(
    ("across", "height", "strip", "corner"),
    [(2.0, 2.6, 0.3, 0.5), (3.6, 2.6, 0.36, 0.9), (6.0, 2.0, 0.4, 1.0), (2.0, 0.8, 0.3, 0.4)],
)
def test_strips_and_corners_grow_with_the_roof(
    across: float, height: float, strip: float, corner: float
) -> None:
    """A tenth and a quarter of the smaller of width and twice the height; 0.3 m strip at least."""
    assert wind.strip_depth(across, height) == pytest.approx(strip)
    beside = arr(corner - 1e-6, corner + 1e-6)
    assert wind.zone_of(arr(0.0, 0.0), beside, across, height, 1.0).tolist() == [0, 1]


@pytest.mark.parametrize(
    ("ratio", "corner"),
    [(0.05, 1.5), (0.099, 1.5), (0.1, 1.2), (0.199, 1.2), (0.2, 0.8), (3.0, 0.8)],
)
def test_rounded_fronts_count_by_the_next_smaller_radius(ratio: float, corner: float) -> None:
    """Rows of EN 1991-1-4, table 7.2, from memory: 1.5, 1.2 and 0.8 in the corner."""
    assert wind.shape_row("rounded", ratio)["corner"][1] == corner
    vehicle = MountVehicle(
        kind="trailer",
        roof_length_m=5,
        roof_width_m=2.0,
        roof_height_m=2.0,
        front="rounded",
        front_radius_m=2.0 * ratio,
    )
    assert wind.front_row(vehicle)["corner"][1] == corner
    for direction in wind.DIRECTIONS:  # only the front is rounded
        gust, _ = wind.coefficients(vehicle, PanelWind(), True, direction)
        assert gust[0] == pytest.approx(corner if direction == "front" else 2.5)
    unknown = replace(vehicle, front_radius_m=None)
    assert wind.front_row(unknown)["corner"][1] == 1.5
    for shape in ("sharp", "unknown"):
        blunt = replace(unknown, front=shape)
        assert wind.front_row(blunt)["corner"][1] == 2.5


@pytest.mark.parametrize("count", [6, 7, 9])
def test_the_worst_third_counts_up(count: int) -> None:
    """Of 1, 2, … n the last third, rounded up: its mean."""
    worst = range(count, count - math.ceil(count / 3), -1)
    found = wind.worst_third(np.arange(1.0, count + 1.0))
    assert found == pytest.approx(sum(worst) / len(worst))


@pytest.mark.parametrize(
    ("direction", "towards"),
    [("front", (0.0, 1.0)), ("rear", (0.0, -1.0)), ("left", (-1.0, 0.0)), ("right", (1.0, 0.0))],
)
def test_suction_lies_towards_the_wind(direction: Any, towards: tuple[float, float]) -> None:
    """On a panel turned by 90° its width faces the front; a tenth of that towards the wind, or as
    far as the caller says; nothing where both are in the middle."""
    position = PanelPosition(x_m=3.0, y_m=0.5, rotation_deg=90.0)
    chord = 0.5 if direction in ("front", "rear") else 1.2
    for share, moved in ((None, 0.1), (0.25, 0.25), (0.5, 0.0)):
        air = PanelWind(centre_of_pressure_fraction=share)
        shift = wind.centre_shift(position, (1.2, 0.5), air, direction)
        assert shift == pytest.approx([moved * chord * part for part in towards], abs=1e-12)


def test_mean_suction_is_half_at_least_or_as_given() -> None:
    """Sharp front: 1.8, 1.2, 0.7 and 0.2 of the roof, of which 0.5 counts at least."""
    _, mean = wind.coefficients(ROOF, PanelWind(), False, "front")
    assert mean == pytest.approx([1.8, 1.2, 0.7, 0.5])
    _, given = wind.coefficients(ROOF, PanelWind(mean_uplift_coefficient=0.3), False, "front")
    assert given == pytest.approx([0.3] * 4)


def test_air_that_is_blocked_below_pushes_for_hours_too() -> None:
    """Stagnation lasts as long as the wind of travel: BS 6399-2, table 13, has 1.2 upwards over a
    whole canopy, level and blocked at its lee, where an open one has 0.5."""
    _, free = wind.coefficients(ROOF, PanelWind(), False, "front")
    _, blocked = wind.coefficients(ROOF, PanelWind(under_panel="blocked-behind"), False, "front")
    assert blocked == pytest.approx([2.6, 2.0, 1.5, 1.0])
    assert np.all(blocked - free >= 0.5 - 1e-9)
    assert np.all(blocked[:3] >= 1.2)


def test_coefficients_by_gap() -> None:
    """Leading strip, sharp: 2.0 bonded, 3.0 open or blocked, 2.4 equalised, 2.0 with fairing."""

    def net(peak: float, bonded: bool = False, **air: object) -> float:
        return wind.net_peak(peak, PanelWind(**air), bonded, "front")  # type: ignore[arg-type]

    assert net(2.0, bonded=True) == pytest.approx(2.0)
    assert net(2.0) == pytest.approx(3.0)
    assert net(2.0, equalisation_credited=True) == pytest.approx(2.4)
    assert net(2.0, under_panel="blocked-behind") == pytest.approx(3.0)
    assert net(0.2, under_panel="blocked-behind") == pytest.approx(2.2)
    assert net(2.0, under_panel="closed-at-front") == pytest.approx(2.0)
    assert net(0.2) == pytest.approx(0.8)


def test_a_turned_panel_keeps_its_place() -> None:
    """Turned by 90°, length runs along y and width towards the front."""
    position = PanelPosition(x_m=2.0, y_m=0.3, rotation_deg=90.0)
    corners = wind.on_roof(position, np.array([[0.0, 0.0], [1.2, 0.0], [0.0, 0.5]]))
    assert corners == pytest.approx(np.array([[2.0, 0.3], [2.0, 1.5], [1.5, 0.3]]))
    assert wind.extent(position, (1.2, 0.5), "front") == pytest.approx(0.5)


def test_wind_from_ahead_acts_ahead_of_the_middle() -> None:
    position = PanelPosition(x_m=2.5, y_m=0.7)
    found = wind.suction(ROOF, position, (1.2, 0.5), PanelWind(), False, "front")
    assert found.gust[0, 1] / found.gust[0, 0] == pytest.approx(-0.1 * 1.2)


def test_shear_lag_limits() -> None:
    """A soft bond lets the edge move freely; a stiff one holds it to Δε/λ."""
    assert restrained_movement(1e-3, 0.5, 4.5e6, 1e3) == pytest.approx(1e-3, rel=1e-3)
    rate = math.sqrt(1e10 / 4.5e6)
    assert restrained_movement(1e-3, 0.5, 4.5e6, 1e10) == pytest.approx(1e-3 / 0.5 / rate, rel=1e-6)


def test_soft_feet_relieve_a_taut_sheet() -> None:
    """Sheet and two end feet in series: 1/Et' = 1/Et + 2·b·δ/L, solved by the closed form."""
    pressure, span, sheet_n_per_m, width = 1000.0, 0.5, 4.5e6, 0.27
    give = 0.0011 / (0.5e6 * 0.45 * 0.12 * 0.12)
    joined = 1 / (1 / sheet_n_per_m + 2 * width * give / span)
    depth = (3 * pressure * span**4 / (64 * joined)) ** (1 / 3)
    found = pull(pressure, span, joined, 1e-12, 0.0)
    assert found == pytest.approx(pressure * span**2 / (8 * depth))
    feet = [FootPoint(x_m=x, y_m=y) for x in (0.34, 0.84) for y in (0.0, 0.54)]
    setup = settle(request(glued(feet=feet, base_thickness_m=0.004), FLEXIBLE), Assumptions())
    assert lateral_compliance(setup, "gust", 60.0) == pytest.approx(give)
    assert lateral_compliance(setup, "hours", 60.0) == pytest.approx(give * 85 / 10)


GROWN = SheetProperties(bending_stiffness_n_m=20.0, in_plane_stiffness_n_per_m=5e6)


def test_a_bump_lifts_a_sheet_by_its_mass_over_its_area() -> None:
    """2.3 kg at 50 m/s² over 1.18 × 0.54 m, standing still: strips sag as under that pressure."""
    rough = TravelConditions(accelerations=Accelerations(up_m_s2=50.0))
    setup = settle(request(fastened(), FLEXIBLE, travel=rough), Assumptions())
    assert setup.feet
    cases = load_cases(setup, np.array([0.0]))
    depth, in_plane, slack = lifted(setup, cases, setup.feet)
    bump = int(cases.where("bump-up").argmax())
    span, share = setup.feet.strips[:, :2].T
    pressure = share * 2.3 * 50.0 / (1.18 * 0.54)
    told = sheet.sag(pressure, span, in_plane[bump], setup.panel.bending, slack)
    assert depth[0, bump] == pytest.approx(told)
    assert told.max() > 0.0


def test_growth_pushes_feet_up_to_the_buckling_load() -> None:
    """Four corner feet, spans of 1.02 and 0.38 m, each with half of the panel's other side: both
    strips push a foot by π²·D/L² times that half, in all as vectors (Euler)."""
    asked = request(fastened(feet=grid(2, 2)), FLEXIBLE, sheet=GROWN)
    setup = settle(asked, Assumptions())
    assert setup.feet is not None
    along, across = pushed_by_growth(setup, setup.feet, 0.01, math.hypot(0.51, 0.19))[0]
    assert along == pytest.approx([math.pi**2 * 20 / 1.02**2 * 0.27] * 4)
    assert across == pytest.approx([math.pi**2 * 20 / 0.38**2 * 0.59] * 4)
    check = next(c for c in mount_check(asked).checks if c.code == "fastener-shear-growth")
    assert check.demand == pytest.approx(math.hypot(along[0], across[0]) / 2)


def test_little_growth_pushes_feet_by_the_sheets_stiffness() -> None:
    """Et times the strain, which is the growth over the distance to the furthest foot; play of the
    studs takes its share first."""
    rigid = replace(GROWN, bending_stiffness_n_m=1e6)
    for play in (0.0, 1e-5):
        asked = request(fastened(feet=grid(2, 2), play_m=play), FLEXIBLE, sheet=rigid)
        setup = settle(asked, Assumptions())
        assert setup.feet is not None
        along, across = pushed_by_growth(setup, setup.feet, 1e-4, math.hypot(0.51, 0.19))[0]
        strain = 1e-4 / math.hypot(0.51, 0.19)
        assert along == pytest.approx([5e6 * (strain - 2 * play / 1.02) * 0.27] * 4)
        assert across == pytest.approx([max(5e6 * (strain - 2 * play / 0.38) * 0.59, 0.0)] * 4)


def test_small_pads_move_most_where_large_ones_hold_the_panel() -> None:
    """Springs as stiff as their pads are large balance where Σk·(x − x0) is nought: two pads of
    nine times the area hold the point at rest nine tenths of the way to them, 0.998 m along."""
    feet = [
        FootPoint(x_m=x, y_m=y, pad_length_m=pad, pad_width_m=pad)
        for x, pad in ((0.08, 0.06), (1.10, 0.18))
        for y in (0.08, 0.46)
    ]
    uneven, even = (settle(request(glued(feet=f)), Assumptions()) for f in (feet, grid(2, 2)))
    assert movement(uneven).distance == pytest.approx(math.hypot(0.998 - 0.08, 0.19))
    assert movement(even).distance == pytest.approx(math.hypot(0.51, 0.19))


def test_a_bond_gives_way_to_growth_until_the_sheet_buckles() -> None:
    """The lesser of the free movement and the shear of the buckling load in the hot bond."""
    soft = request(
        glued(feet=grid(2, 2)), FLEXIBLE, sheet=replace(GROWN, bending_stiffness_n_m=5.0)
    )
    stiff = replace(soft, sheet=replace(GROWN, bending_stiffness_n_m=2000.0))
    buckled, free = (
        next(c for c in mount_check(one).checks if c.code == "bond-movement-thermal-seasonal")
        for one in (soft, stiff)
    )
    push = math.pi**2 * 5 * math.hypot(0.27 / 1.02**2, 0.59 / 0.38**2)
    assert buckled.demand == pytest.approx(push / (0.15e6 * 0.2 * 0.12**2))
    moved = movement(settle(stiff, Assumptions())).seasonal
    assert free.demand == pytest.approx(max(moved) / 0.0011)


def test_a_bonded_sheet_is_sheared_by_the_larger_of_growth_and_shrinkage() -> None:
    """Shear lag of one movement, whichever way the other is smaller, over strips that bond 0.6 of
    the area with the stiffness that heat leaves, a fifth at 90 °C and a tenth beyond; no play."""
    for parked_c, left in ((90.0, 0.2), (98.0, 0.1), (20.0, 1.0)):
        hot = TravelConditions(bond_parked_c=parked_c)
        setup = settle(request(bonded(), FLEXIBLE, travel=hot), Assumptions())
        stiff = left * 0.6 * 0.15e6 / setup.bond_m
        for free in ((3e-4, 1e-4), (1e-4, 3e-4), (3e-4, 3e-4), (3e-4, 0.0)):
            lag = restrained_movement(3e-4, 0.65, setup.panel.in_plane, stiff)
            assert bond_shift(setup, 0.65, free) == pytest.approx(lag)


def test_strips_far_apart_hold_a_sheet_back_less() -> None:
    """The edge of a long sheet moves by Δε/λ, and λ goes by the root of the share that is bonded:
    a quarter of the area lets it move twice as far (Volkersen)."""
    whole, quarter = (
        settle(request(bonded(bonded_fraction=share), FLEXIBLE), Assumptions())
        for share in (1.0, 0.25)
    )
    free = (0.01, 0.0)
    assert bond_shift(quarter, 50.0, free) == pytest.approx(2 * bond_shift(whole, 50.0, free))


@pytest.mark.parametrize(
    ("air", "wanted"),
    [
        (PanelWind(), (2.8, 2.2, 2.2)),
        (PanelWind(under_panel="closed-at-front"), (2.0, 1.2, 0.8)),
        (PanelWind(net_uplift_coefficient=1.5), (1.5, 1.5, 1.5)),
    ],
)
def test_air_stands_still_below_a_loose_edge(
    air: PanelWind, wanted: tuple[float, float, float]
) -> None:
    """Ahead of a sharp roof's strip, within it and far behind, a bonded sheet's free edge bears the
    roof's suction, 2.0, 1.2 and 0.8, and 0.8 from below, 2.2 at least; not where it is closed."""
    for x_m, least in zip((0.05, 0.6, 3.5), wanted, strict=True):
        asked = request(
            bonded(flap_m=0.1), FLEXIBLE, wind=air, position=PanelPosition(x_m=x_m, y_m=0.68)
        )
        found = load_cases(settle(asked, Assumptions()), np.array([30.0]))
        gust = int(found.where("headwind-gust").argmax())
        assert found.edge[0, gust] / found.q[0, gust] == pytest.approx(least)


def test_bending_between_feet() -> None:
    """Simply supported strip: ε = M·t/2D with M = p·L²/8, sag from bending alone."""
    pressure, span, stiff = 500.0, 0.4, 20.0
    depth = sheet.sag(arr(pressure), arr(span), 1e-6, stiff, arr(0.0))
    strain = sheet.span_strain(depth, arr(span), 0.013)[0]
    assert strain == pytest.approx(pressure * span**2 / 8 * 0.0065 / stiff)


def test_air_from_a_sides_sector() -> None:
    """Within 45° of the side: all of it up to the gust's own speed, then 2·g² of v² + g²."""
    assert side_share(0.0, 20.0) == 1.0
    assert side_share(20.0, 20.0) == 1.0
    for unit in (1e-3, 1.0, 1e3):  # a ratio: no speed is too small for it
        assert side_share(40.0 * unit, 20.0 * unit) == pytest.approx(2 * 400 / (1600 + 400))
    assert side_share(0.0, 0.0) == 1.0


def test_frost_is_dense_and_heat_is_soft() -> None:
    """Glued mountings are judged in both climates, others in the denser air alone."""
    frost, heat = climates(settle(request(glued()), Assumptions()))
    assert frost.density == pytest.approx(density(0.0, -20.0))
    assert frost.bond_c == -20.0
    assert heat.density < frost.density
    assert heat.bond_c == 60.0
    assert len(climates(settle(request(fastened()), Assumptions()))) == 1


USES = {
    "by the square of speed": lambda v: (v / 20.0) ** 2,
    "from a weight on": lambda v: 0.5 + (v / 30.0) ** 2,
    "in a step": lambda v: np.where(v < 17.345, 0.1, 3.0),
    "without end beyond a speed": lambda v: np.where(v <= 12.34, v / 20.0, np.inf),
    "never": lambda v: 0.01 * v,
    "always": lambda v: 1.0 + v,
    "at its very level": lambda v: np.where(v <= 9.99, 0.8, 0.9),
    "at its very level at the top": lambda v: 0.8 * v / 45.0,
    "just at the top": lambda v: np.where(v < 45.0, 0.2, 1.2),
}


class Driven(speed.SpeedRange):
    """Uses of two checks by speed alone: one that is asked about, and one twice as hard."""

    def __init__(self, use: Any) -> None:
        self.use, self.steps = use, np.arange(0, 4501, 500)
        self.used = self.at(self.steps)

    def at(self, steps: Any) -> Any:
        one = self.use(steps / 100.0)
        return np.stack([one, 2.0 * one], axis=1)


@pytest.mark.parametrize("name", USES)
@pytest.mark.parametrize("level", [0.8, 1.0])
def test_the_highest_speed_is_that_of_every_step_tried(name: str, level: float) -> None:
    """Against all 4,501 steps of 0.01 m/s up to 45 m/s."""
    driven = Driven(USES[name])
    every = np.arange(4501)
    holds = driven.at(every)[:, 0] <= level
    found = driven.highest(level, np.array([True, False]))
    if not holds[0]:
        assert found.speed is None
        return
    last = int(every[holds].max())
    assert found.speed == last / 100.0
    assert found.here == pytest.approx(driven.at(np.array([last]))[0])
    assert found.above == pytest.approx(driven.at(np.array([min(last + 1, 4500)]))[0])
    if name != "never":
        assert (driven.highest(level, np.array([True, True])).speed or 0.0) <= found.speed


def shares(asked: MountCheckRequest) -> dict[tuple[str, str], float]:
    """Use of every mode in a load case with all supports, by mode and case."""
    found = Evaluation(settle(asked, Assumptions()))
    cases = [term.name for term in found.cases.terms]
    return {
        (mode.code, case): float(found.used[0, i, 0, j])
        for i, mode in enumerate(found.modes)
        for j, case in enumerate(cases)
        if found.used[0, i, 0, j] >= 0.0
    }


def test_a_stud_stays_elastic_where_pull_and_bending_act_together() -> None:
    """M6 of A2-70, 20.1 mm² and 450 MPa: the stress at its edge is F/A + 32·V·h/(π·d³). Where no
    more than all of it is used, that is at most yield over 1.5, in every load case on each foot."""
    asked = request(glued(standoff_m=0.035))
    found = Evaluation(settle(asked, Assumptions()))
    assert found.forces is not None
    area = 20.1e-6
    across = math.sqrt(4 * area / math.pi)
    bent = 32 * found.forces.shear * (0.035 - 0.02) / (math.pi * across**3)
    stress = found.forces.uplift / area + bent
    mode = next(one for one in found.modes if one.code == "stud-combined")
    assert np.all(mode.demand >= stress / (450e6 / 1.5) - 1e-12)


@pytest.mark.parametrize(
    ("asked", "parts", "both"),
    [
        (glued(standoff_m=0.035), ("stud-tension", "stud-bending"), "stud-combined"),
        (glued(), ("stud-tension", "stud-shear"), "stud-combined"),
        (fastened(), ("fastener-tension", "fastener-shear"), "fastener-combined"),
        (fastened(), ("skin-pull-over", "skin-bearing"), "skin-combined"),
        (
            railed(support_side_rating_n=1500.0),
            ("rail-support", "rail-support-sideways"),
            "rail-support-combined",
        ),
    ],
)
def test_what_pulls_and_what_pushes_one_part_is_weighed_together(
    asked: Any, parts: tuple[str, str], both: str
) -> None:
    """EN 1993-1-3, 8.3(8), and an elastic bar: shares of pull and push of one part add up."""
    used = shares(request(asked))
    cases = {case for code, case in used if code == both}
    assert {"headwind-gust", "parked-storm"} <= cases
    for case in cases:
        pull, push = (used[part, case] for part in parts)
        assert max(pull, push) - 1e-12 <= used[both, case]
    assert used[both, "parked-storm"] > 1.02 * max(used[part, "parked-storm"] for part in parts)


def test_laminate_is_weighed_by_washer_and_shank_together() -> None:
    """The same shares of a flexible panel's laminate, one foot after the other."""
    used = shares(request(fastened(), FLEXIBLE))
    for case in ("headwind-gust", "parked-storm", "cornering"):
        pull, push = (used[part, case] for part in ("sheet-pull-over", "sheet-bearing"))
        assert max(pull, push) <= used["sheet-combined", case] <= pull + push + 1e-12


@pytest.mark.parametrize(
    ("count", "wanted"), [(1, 2 / 0.06), (2, 2 / 0.05), (3, 3 / 0.05), (4, 2 / 0.05)]
)
def test_fasteners_keep_their_foot_from_tilting(count: int, wanted: float) -> None:
    """A push of 100 N at 20 mm: one bolt in the middle of a plate of 60 mm bears 2·M/b, the rows
    of two and of four M/s, a single one of three all of it; each times how many there are."""
    mounting = fastened(fasteners_per_foot=count, spacing_m=0.05, base_width_m=0.06)
    pulled = fastened_pull(mounting, arr(count), arr(0.0), arr(100.0))
    assert pulled[0] == pytest.approx(100.0 * 0.02 * wanted)


def test_snow_bends_a_sheet_between_its_feet_until_it_lies_on_the_roof() -> None:
    """4 kPa on strips of 0.38 m across, 2 mm above the roof: 4.8·f·t/L² of 3 mm and 2 mm. A roof
    out of reach lets it sag as suction of the same pressure would."""
    snow = TravelConditions(ground_snow_pa=4000.0)

    def strain(standoff_m: float, travel: TravelConditions) -> float:
        low = glued(standoff_m=standoff_m, foot_thickness_m=0.002, play_m=0.01)
        checks = mount_check(request(low, FLEXIBLE, travel=travel, detail="all")).checks
        found = next(one.demand for one in checks if one.code == "span-strain-snow")
        assert found is not None
        return found

    assert strain(0.002, snow) == pytest.approx(4.8 * 0.002 * 0.003 / 0.38**2)
    high, bare = strain(0.3, snow), strain(0.3, TravelConditions(ground_snow_pa=0.0))
    assert high > strain(0.01, snow) > strain(0.002, snow) > 0.0
    assert high > 2 * bare > 0.0


def test_a_taut_sheet_under_snow_draws_its_feet() -> None:
    """Nothing gives: a fastened sheet without play pulls an outer row by n = p·L²/8f per width, f
    of a taut membrane, (3·p·L⁴/64·Et)^(1/3). Bending carries a little of it, so pull is no more."""
    firm = fastened(play_m=0.0, standoff_m=0.3, feet=grid(2, 2, edge=0.02))
    asked = request(firm, FLEXIBLE, sheet=SheetProperties(in_plane_stiffness_n_per_m=4.5e6))
    found = Evaluation(settle(asked, Assumptions()))
    assert found.forces is not None
    case = [term.name for term in found.cases.terms].index("snow")
    pressure = snow_pressure(1000.0) + 2.3 * 9.80665 / (1.18 * 0.54)
    span, width = 0.5, 1.18 / 2
    depth = (3 * pressure * span**4 / (64 * 4.5e6)) ** (1 / 3)
    drawn = found.forces.drawn[0, case, 0, 0]
    assert 0.5 < drawn / (pressure * span**2 / (8 * depth) * width) <= 1.05


def test_snow_bends_the_edge_beyond_the_feet() -> None:
    """Panel of 3 mm, D = 1.5 GPa·t³/12(1 − 0.3²) by hand, 80 mm beyond its feet: M = p·c²/2, strain
    M·t/2D under 5 kPa; 1 mm above the roof its end lies down at p·c⁴/8D of 1 mm."""
    stiff = 1.5e9 * 0.003**3 / (12 * (1 - 0.3**2))
    snow = TravelConditions(ground_snow_pa=5000.0)
    for standoff_m, pressure in (
        (0.05, snow_pressure(5000.0) + 2.3 * 9.80665 / (1.18 * 0.54)),
        (0.001, 8 * stiff * 0.001 / 0.08**4),
    ):
        asked = glued(standoff_m=standoff_m, foot_thickness_m=0.001)
        checks = mount_check(request(asked, FLEXIBLE, travel=snow, detail="all")).checks
        strain = next(one.demand for one in checks if one.code == "edge-strain-snow")
        assert strain == pytest.approx(pressure * 0.08**2 / 2 * 0.003 / (2 * stiff))
    flat = mount_check(request(bonded(), FLEXIBLE, travel=snow, detail="all")).checks
    assert "edge-strain-snow" not in {one.code for one in flat}
