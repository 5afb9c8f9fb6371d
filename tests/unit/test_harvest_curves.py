"""Curves of many patterns of light, invented years by the hour, and the time that a study takes."""

from itertools import permutations

import msgspec
import numpy as np
import pytest
from harvest_builders import PLATE, ROOF, array, panel, placed, study

from sunhitch.types.harvest import (
    BatteryUse,
    ClearSkyWeather,
    HarvestAlternative,
    HarvestRequest,
    HourlyWeather,
    Load,
    ParkedHeading,
    Parking,
    TreeCrown,
    Wall,
    WeatherSeries,
)
from sunhitch.types.panel import PanelType
from sunhitch.types.roof import RoundObstacle
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.controller.settings import ANY_VOLTAGE
from sunhitch_service.engine.harvest.computing_time import expected_ms, job_states
from sunhitch_service.engine.harvest.curves import (
    LEVELS,
    GroupBook,
    GroupCurves,
    Reference,
    distinct,
    read,
    rows_at,
)
from sunhitch_service.engine.harvest.interconnection import ArrayCurves, ControllerInput
from sunhitch_service.engine.harvest.sequences import clearness
from sunhitch_service.engine.harvest.uniform import unshaded
from sunhitch_service.engine.pv.cell import Diode
from sunhitch_service.engine.pv.network import NO_DIODE
from sunhitch_service.engine.pv.presets import ResolvedPanel, lit_panel, resolve_panel
from sunhitch_service.engine.pv.solution import Interconnection, solve_array

SUN_W_M2, CELLS_C = 800.0, 40.0


def kind(construction: str = "half-cell-2-diodes") -> ResolvedPanel:
    return resolve_panel(panel(construction), Assumptions(), "")


def test_rows_are_read_by_straight_lines_and_hold_their_ends() -> None:
    grid = np.array([0.0, 1.0, 3.0, 4.0])
    rows = np.array([[0.0, 2.0, 8.0, 9.0], [5.0, 4.0, 0.0, -7.0]])
    at = np.array([-1.0, 0.0, 0.5, 1.0, 2.0, 3.5, 4.0, 9.0])
    for which in (0, 1):
        found = read(grid, rows, np.full(len(at), which), at)
        assert found == pytest.approx(np.interp(at, grid, rows[which]))


def test_many_rows_are_read_at_the_same_places() -> None:
    draw = np.random.default_rng(4)
    xs = np.sort(draw.uniform(-30.0, 20.0, (5, 9)), axis=1)
    ys = draw.uniform(-1.0, 1.0, (5, 9))
    x = np.array([-99.0, -30.0, -3.0, 0.0, 7.0, 19.0, 99.0])
    due = [np.interp(x, own, y) for own, y in zip(xs, ys, strict=True)]
    assert rows_at(x, xs, ys) == pytest.approx(np.array(due))
    inside = np.linspace(-1.0, 1.0, 4)
    wide = [np.interp(inside, own, y) for own, y in zip(xs, ys, strict=True)]
    assert rows_at(inside, xs, ys) == pytest.approx(np.array(wide))


def test_rows_differ_by_more_than_the_order_of_their_members() -> None:
    rows = np.array([*permutations((3, 1, 2)), (1, 1, 4), (0, 0, 0), (4, 1, 1), (2, 2, 2)])
    one, sort = distinct(rows)
    assert len(one) == 4
    assert len(set(sort[:6].tolist())) == 1
    assert sort[6] == sort[8]
    assert sorted(map(tuple, np.sort(rows[one], axis=1).tolist())) == [
        (0, 0, 0),
        (1, 1, 4),
        (1, 2, 3),
        (2, 2, 2),
    ]


def test_equal_groups_have_one_number_whatever_their_panel_or_the_order_of_cells() -> None:
    """Two halves that change places, cells that do; another level or another type is another."""
    own, book = kind(), GroupBook()
    levels = np.full((1, 4, 2, 36), 100, dtype=np.uint8)
    levels[0, 1, 0, :3] = 50
    levels[0, 2, 1, 10:13] = 50
    levels[0, 3, 1, 20:22] = 50
    found = book.numbers(levels, 0, own)
    assert found.shape == (1, 4, 2)
    assert found[0, 0, 0] == found[0, 0, 1] == found[0, 1, 1] == found[0, 3, 0]
    assert found[0, 1, 0] == found[0, 2, 0]
    assert len({found[0, 0, 0], found[0, 1, 0], found[0, 3, 1]}) == 3
    again = book.numbers(levels, 1, own)
    assert not set(again.ravel().tolist()) & set(found.ravel().tolist())


@pytest.mark.parametrize("construction", ["half-cell-2-diodes", "full-cell-no-diode"])
@pytest.mark.parametrize("shaded", [0, 4, 18])
def test_voltages_of_groups_are_those_of_the_exact_solver(construction: str, shaded: int) -> None:
    """Of one panel: at a current 1 % of Isc more they lie below its own, at 1 % less above."""
    own, book = kind(construction), GroupBook()
    paths = own.layout.paths_in_parallel
    share = np.ones((paths, 36))
    share[:, :shaded] = 0.4
    levels = np.rint(LEVELS * share).astype(np.uint8)[None, None]
    groups = book.numbers(levels, 0, own)[0]
    curves = GroupCurves(Reference([own], SUN_W_M2, CELLS_C, 1), book)
    solution = solve_array(
        {"p": lit_panel(own, SUN_W_M2, CELLS_C, share)}, Interconnection([["p"]])
    )
    assert (np.diff(curves.current) > 0.0).all()
    assert curves.current[0] < 0.0
    assert curves.current[-1] > 1.5 * solution.points.short_circuit_current
    open_v = solution.points.open_circuit_voltage
    volts = np.linspace(0.05 * open_v, open_v, 12)
    amperes = solution.curve.currents(volts)[0]
    near = 0.01 * solution.points.short_circuit_current
    for v, i in zip(volts, amperes, strict=True):
        high, own_v, low = (
            curves.voltages(groups[0][None], np.full((1, groups.shape[1]), i + off))
            for off in (-near, 0.0, near)
        )
        assert float(low.sum()) - 1e-3 * open_v <= v <= float(high.sum()) + 1e-3 * open_v
        in_paths = curves.path_currents(groups[0][None], own_v)
        per_group = in_paths.reshape(groups.shape[1], paths).sum(axis=1)
        if (own_v > 0.0).all():
            assert per_group == pytest.approx([i] * groups.shape[1], abs=2.0 * near)


def test_currents_reach_beyond_those_of_the_largest_type() -> None:
    """Of two types, whichever comes first: backwards by all strings, forwards by twice its Isc."""
    large = kind()
    plate = msgspec.structs.replace(PLATE, p_mp_w=57.5, i_mp_a=2.995, i_sc_a=3.2)
    half = msgspec.structs.replace(panel(), electrical=plate)
    small = resolve_panel(half, Assumptions(), "")
    for own in ([small, large], [large, small]):
        currents = Reference(own, 1000.0, 25.0, 3).currents()
        assert currents[0] == pytest.approx(-3.0 * 6.4, rel=0.02)
        assert currents[-1] == pytest.approx(2.0 * 6.4, rel=0.02)


def made(voltage: np.ndarray, current: np.ndarray) -> ArrayCurves:
    """Curves of arrays as if they had been added up, a state for each."""
    curves = object.__new__(ArrayCurves)
    curves.voltage, curves.current = voltage, current
    curves.of_state = np.arange(len(current))
    return curves


VOLTS = np.arange(10.0)
POWERS = np.array(
    [
        [0.0, 2.0, 9.0, 3.0, 2.0, 8.6, 4.0, 9.5, 1.0, 0.0],
        [0.0, 2.0, 9.0, 3.0, 2.0, 8.0, 4.0, 7.0, 1.0, 0.0],
        [0.0, 9.0, 9.0, 9.0, 2.0, 1.0, 0.5, 0.4, 0.3, 0.0],
    ]
)
CURRENTS = np.divide(POWERS, VOLTS, out=np.zeros_like(POWERS), where=VOLTS > 0.0)


def test_the_largest_maxima_are_those_within_nine_tenths_of_the_first() -> None:
    """9.5, 9.0 and 8.6 are; 8.0 and 7.0 beside 9.0 are not; a flat top counts once."""
    found = made(VOLTS, CURRENTS).tops()
    assert found[:, 0].tolist() == [7.0, 2.0, 5.0]
    assert found[0].tolist() == [7.0, 2.0, 1.0]
    assert np.isnan(found[1:, 1:]).all()


def test_tops_within_a_window_may_lie_on_its_edges() -> None:
    """From 2.5 V on 7 V and 5 V; from 5.5 V 7 V; up to 1.3 A 6 V; beyond all only the edge."""
    curves = made(VOLTS, CURRENTS)

    def tops(state: int, lowest_v: float, largest_a: float) -> list[float]:
        bounds = np.array([lowest_v]), np.array([largest_a])
        return [v for v in curves.tops_within(np.array([state]), *bounds)[:, 0] if np.isfinite(v)]

    assert tops(0, 2.5, np.inf) == [7.0, 5.0]
    assert tops(0, 5.0, np.inf) == [7.0, 5.0], "5 V is within it"
    assert tops(1, 5.5, np.inf) == [7.0]
    assert tops(0, 0.0, 1.3) == [6.0]
    assert tops(0, 0.0, CURRENTS[0, 7]) == [7.0], "its own current is within it"
    assert tops(2, 9.5, np.inf)[0] == 9.5


def test_open_circuit_is_where_current_ends() -> None:
    currents = np.array([[3.0, 2.0, 1.0, -1.0], [3.0, 2.0, -1.0, -5.0], [1.0, 1.0, 1.0, 1.0]])
    assert made(np.arange(4.0), currents).open_circuit_v.tolist() == [3.0, 2.0, 3.0]


@pytest.mark.parametrize("strings", [((0,),), ((0, 1),), ((0,), (1,))])
@pytest.mark.parametrize("resistance", [0.0, 0.3])
def test_arrays_add_up_to_the_exact_solvers(
    strings: tuple[tuple[int, ...], ...], resistance: float
) -> None:
    """Two panels, one of them with shaded cells; 130 points of an array within 2 % of its Isc."""
    own, book = kind("full-cell-2-diodes"), GroupBook()
    shares = [np.ones((1, 36)), np.ones((1, 36))]
    shares[1][0, :5] = 0.3
    levels = np.stack([np.rint(LEVELS * s).astype(np.uint8)[None] for s in shares])
    groups = list(book.numbers(levels, 0, own))
    at = Reference([own], SUN_W_M2, CELLS_C, len(strings))
    wired = ControllerInput(strings, NO_DIODE, resistance, ANY_VOLTAGE)
    curves = ArrayCurves(wired, GroupCurves(at, book), groups)
    named = [[str(n) for n in string] for string in strings]
    lit = {
        str(n): lit_panel(own, SUN_W_M2, CELLS_C, shares[n]) for string in strings for n in string
    }
    solution = solve_array(lit, Interconnection(named, NO_DIODE, resistance))
    due = solution.curve.currents(curves.voltage)[0]
    positive = due > 0.0
    assert curves.current[0][positive] == pytest.approx(due[positive], abs=0.03 * due.max())
    assert curves.open_circuit_v[0] == pytest.approx(
        solution.points.open_circuit_voltage, rel=0.015
    )
    best = np.array([solution.points.state.voltage[solution.best]])
    assert float(curves.tops()[0, 0]) == pytest.approx(best[0], rel=0.02)
    start = curves.start(np.array([0]), best)
    assert float(start.string_i.sum()) == pytest.approx(
        solution.power(solution.best) / best[0], rel=0.02
    )
    assert start.voltage.tolist() == best.tolist()


def test_a_blocking_diode_takes_its_voltage_and_lets_nothing_back() -> None:
    own, book = kind(), GroupBook()
    levels = np.full((2, 1, 2, 36), 100, dtype=np.uint8)
    levels[1] = 3
    groups = list(book.numbers(levels, 0, own))
    at = Reference([own], SUN_W_M2, CELLS_C, 2)
    diode = Diode(1e-6, 0.027, 0.0)
    own_curves = GroupCurves(at, book)
    bare, guarded = (
        ArrayCurves(ControllerInput(((0,), (1,)), each, 0.0, ANY_VOLTAGE), own_curves, groups)
        for each in (NO_DIODE, diode)
    )
    (power,), (voltage,) = unshaded(own, np.array([SUN_W_M2]), np.array([CELLS_C]))
    amperes = float(power / voltage)
    at_v = np.array([float(voltage)])
    drop = 0.027 * np.log1p(amperes / 1e-6)
    there, here = (
        float(np.interp(at_v[0] - shift, c.voltage, c.current[0]))
        for c, shift in ((bare, 0.0), (guarded, drop))
    )
    dark = np.interp(at_v, bare.voltage, bare.current[0])
    assert here == pytest.approx(there, rel=0.03)
    assert dark[0] > 0.0
    open_v = bare.open_circuit_v[0]
    assert guarded.open_circuit_v[0] >= open_v, "nothing flows back through the dim string"


EAST, SOUTH = ParkedHeading(heading_deg=90.0), ParkedHeading(heading_deg=180.0)


def of_study(**changes: object) -> HarvestRequest:
    weather = ClearSkyWeather(first_day="2027-06-21", days=30, utc_offset_h=1.0, synthetic_years=0)
    return study(**{"weather": weather, **changes})


def wall(k: int) -> Wall:
    return Wall(
        name=f"w{k}", from_x_m=0.0, from_y_m=9.0 + k, to_x_m=9.0, to_y_m=9.0 + k, top_height_m=3.0
    )


def tree(k: int) -> TreeCrown:
    return TreeCrown(
        name=f"t{k}",
        x_m=1.0,
        y_m=9.0 + k,
        crown_diameter_m=2.0,
        crown_base_height_m=2.0,
        crown_top_height_m=4.0,
    )


def test_estimates_rise_with_all_that_is_worked_out() -> None:
    """Each of these is more work than the study before it."""
    base = of_study()
    longer = msgspec.structs.replace(base.weather, days=60)
    many = msgspec.structs.replace(base.weather, synthetic_years=100)
    lamp = [Load(name="lamp", power_w=5.0)]
    other = HarvestAlternative(name="o", arrays=[array([["p0", "p1"]])])
    moved = HarvestAlternative(name="m", placements=placed((0.5, 0.2), (0.5, 1.2)))
    turned = HarvestAlternative(name="t", parking=Parking(spread=4))
    more: dict[str, dict[str, object]] = {
        "days": {"weather": longer},
        "walls": {"shade": [wall(0)]},
        "headings": {"parking": Parking(spread=2)},
        "headings of its own": {"parking": Parking(headings=[EAST, SOUTH])},
        "wirings": {"compare": [other]},
        "invented years": {"weather": many, "loads": lamp},
    }
    least = expected_ms(base)
    for name, changes in more.items():
        assert expected_ms(of_study(**changes)) > 1.05 * least, name
    shaded = {"shade": [wall(k) for k in range(4)]}
    of_walls = [expected_ms(of_study(shade=[wall(k) for k in range(n)])) for n in range(8)]
    assert (np.diff(of_walls) > 0.0).all()
    by_wiring, by_light, by_turn = (
        expected_ms(of_study(compare=[own], **shaded)) for own in (other, moved, turned)
    )
    assert expected_ms(of_study(**shaded)) < by_wiring < by_light < by_turn
    kind = PanelType(name="sheet", panel=panel("full-cell-2-diodes"))
    bank = HarvestAlternative(name="b", battery_use=BatteryUse(start_state_fraction=0.4))
    by_bank = expected_ms(of_study(compare=[bank], **shaded))
    assert by_wiring < by_bank, "two strings, not one"
    for own in ({"construction": "full-cell-2-diodes"}, {"panel_types": [kind]}):
        again = HarvestAlternative(name="again", **own)
        assert by_bank < expected_ms(of_study(compare=[again], **shaded)) <= by_light, own
    six = placed(*((0.5 + k, 0.2) for k in range(6)))
    wide = {"placements": six, "arrays": [array([[p.name] for p in six])]}
    steps = [
        expected_ms(of_study(shade=[wall(k) for k in range(n)], **own))
        for own in ({}, wide)
        for n in (1, 2)
    ]
    assert steps[3] - steps[2] > 1.5 * (steps[1] - steps[0]), "a wall shades every panel"
    of_trees = [expected_ms(of_study(shade=[tree(k) for k in range(n)])) for n in range(9)]
    assert (np.diff(of_trees, n=2) > 0.0).all(), "as the square of their number"
    assert expected_ms(of_study(shade=[tree(k) for k in range(9)])) is None
    assert expected_ms(of_study(weather=many)) == pytest.approx(least), "no loads, no years"


def test_an_estimate_counts_every_year_and_every_heading() -> None:
    """Days cost alike in any year, alternatives alike; a wall costs for each heading."""
    hour = HourlyWeather(start="2027-06-21T00:00:00+01:00", ghi_w_m2=[0.0], air_c=[15.0])
    kept = {"start": hour.start, "ghi_w_m2": [0.0] * 240, "air_c": [15.0] * 240}
    long = {**kept, "ghi_w_m2": [0.0] * 480, "air_c": [15.0] * 480}
    short, here, there = (
        expected_ms(study(weather=HourlyWeather(**own), other_years=[WeatherSeries(**other)]))
        for own, other in ((kept, kept), (long, kept), (kept, long))
    )
    assert there == pytest.approx(here)
    assert there > 1.01 * short

    banks = [
        HarvestAlternative(name=f"b{k}", battery_use=BatteryUse(start_state_fraction=0.1 + 0.1 * k))
        for k in range(3)
    ]

    def of_years(days: int, compare: int = 0) -> float:
        weather = ClearSkyWeather(first_day="2027-06-21", days=days, utc_offset_h=1.0)
        few, many = (
            expected_ms(
                study(
                    weather=msgspec.structs.replace(weather, synthetic_years=years),
                    loads=[Load(name="lamp", power_w=5.0)],
                    compare=banks[:compare],
                )
            )
            for years in (100, 200)
        )
        return many - few

    assert of_years(60) == pytest.approx(2.0 * of_years(30))
    more = np.diff([of_years(30, compare=n) for n in range(4)])
    assert more == pytest.approx([more[0]] * 3)
    assert more[0] > 0.0

    by_number = [expected_ms(of_study(compare=banks[:n])) for n in range(4)]
    assert np.diff(by_number) == pytest.approx([by_number[1] - by_number[0]] * 3)

    def of_wall(compare: list[HarvestAlternative]) -> float:
        one, two = (
            expected_ms(of_study(shade=[wall(k) for k in range(n)], compare=compare))
            for n in (1, 2)
        )
        return two - one

    for turns in (1, 3):
        other = HarvestAlternative(name="t", parking=Parking(spread=turns))
        assert of_wall([other]) == pytest.approx((1 + turns) * of_wall([]))


def test_a_thing_costs_alike_whatever_it_is_and_wherever_it_stands() -> None:
    vents = [
        RoundObstacle(name=f"v{k}", x_m=3.0 + k, y_m=1.0, diameter_m=0.2, height_m=0.3)
        for k in range(2)
    ]
    for count in (1, 2):
        walls = expected_ms(of_study(shade=[wall(k) for k in range(count)]))
        roof = msgspec.structs.replace(ROOF, obstacles=vents[:count])
        assert expected_ms(of_study(roof=roof)) == pytest.approx(walls)
    one = [expected_ms(of_study(shade=[thing(0)])) for thing in (wall, tree)]
    assert one[1] == pytest.approx(one[0]), "what trees cost more is among them"


def test_pieces_are_smaller_where_a_step_costs_more_within_bounds() -> None:
    sizes = [job_states(of_study(shade=[wall(k) for k in range(n)])) for n in (0, 4, 20, 60)]
    assert sizes == sorted(sizes, reverse=True)
    assert sizes[0] > sizes[-1] >= 100
    assert max(sizes) <= 3000


DAYS, YEARS = 360, 20
"""Years of one group: they share what is drawn of a place."""
MONTH = np.repeat(np.arange(1, 13), 30)
LIGHT = np.tile(np.maximum(0.0, np.sin(np.pi * (np.arange(24) - 5.5) / 13.0)), (DAYS, 1))


@pytest.mark.parametrize("seed", [3, 8])
def test_years_of_a_group_have_the_bounds_and_the_memory_that_are_drawn_for_it(seed: int) -> None:
    """Bounds 0.06 to 0.26 and 0.98 to 1.22, memory 0.10 to 0.45, drawn in this order."""
    drawn = np.random.default_rng(seed)
    low, high, memory = (drawn.uniform(*s) for s in ((0.06, 0.26), (0.98, 1.22), (0.10, 0.45)))
    found = clearness(np.full(12, 0.6), MONTH, LIGHT, YEARS, seed)
    weight = LIGHT[0] / LIGHT[0].sum()
    daily = np.einsum("h,dhy->dy", weight, found)
    assert daily.min() == pytest.approx(low, abs=0.01)
    assert daily.max() == pytest.approx(high, abs=0.01)
    from scipy.stats import norm, rankdata

    normal = norm.ppf(rankdata(daily).reshape(daily.shape) / (daily.size + 1))
    lag = np.corrcoef(normal[1:].ravel(), normal[:-1].ravel())[0, 1]
    assert lag == pytest.approx(memory, abs=0.03)


def test_days_follow_an_exponential_distribution_between_their_bounds() -> None:
    """Bendt et al. 1981: density e^(γk) between the bounds, γ by the mean."""
    from scipy.optimize import brentq

    seed, mean = 5, 0.45
    drawn = np.random.default_rng(seed)
    low, high = (drawn.uniform(*span) for span in ((0.06, 0.26), (0.98, 1.22)))
    share = (mean - low) / (high - low)
    slope = brentq(lambda g: 1.0 / (1.0 - np.exp(-g)) - 1.0 / g - share, -50.0, -1e-6)
    found = clearness(np.full(12, mean), MONTH, LIGHT, YEARS, seed)
    daily = np.sort(np.einsum("h,dhy->dy", LIGHT[0] / LIGHT[0].sum(), found).ravel())
    place = (daily - low) / (high - low)
    due = np.expm1(slope * place) / np.expm1(slope)
    steps = (np.arange(daily.size) + 0.5) / daily.size
    assert np.abs(due - steps).max() < 0.03


def test_hours_swing_about_their_day_as_its_clearness_says() -> None:
    """0.22, 0.29 and 0.33 at 0.42, 0.57 and 0.72; each hour remembers 0.72 of the one before.

    About the mean of 24 such hours is left 1 − 1 ÷ 24² · Σ 0.72^|i − j| of their variance.
    """
    hour = np.arange(24)
    of_mean = (0.72 ** np.abs(hour[:, None] - hour)).mean()
    found = clearness(np.full(12, 0.55), MONTH, np.ones((DAYS, 24)), 40, 1)
    daily = found.mean(axis=1)
    off = found - daily[:, None]
    for middle, spread in ((0.42, 0.22), (0.57, 0.29), (0.72, 0.33)):
        own = off.transpose(1, 0, 2)[:, np.abs(daily - middle) < 0.02]
        assert own.std() == pytest.approx(spread * np.sqrt(1.0 - of_mean), rel=0.08), middle
    lag = np.corrcoef(off[:, 1:].ravel(), off[:, :-1].ravel())[0, 1]
    assert lag == pytest.approx((0.72 - of_mean) / (1.0 - of_mean), abs=0.04)


@pytest.mark.parametrize("seed", [6, 9])
@pytest.mark.parametrize("mean", [0.02, 0.1, 1.15])
def test_months_darker_or_clearer_than_the_bounds_move_these(mean: float, seed: int) -> None:
    """The lower bound is at most half the mean, the upper one at least 0.12 above it."""
    found = clearness(np.full(12, mean), MONTH, LIGHT, YEARS, seed)
    daily = np.einsum("h,dhy->dy", LIGHT[0] / LIGHT[0].sum(), found)
    assert daily.mean() == pytest.approx(mean, rel=0.05, abs=0.012)


def test_dark_days_of_polar_night_have_hours_too() -> None:
    found = clearness(np.full(12, 0.5), MONTH, np.zeros((DAYS, 24)), 2, 1)
    assert np.isfinite(found).all()


def test_hours_are_cut_at_the_darkest_and_the_clearest() -> None:
    found = clearness(np.array([0.1] * 6 + [1.1] * 6), MONTH, LIGHT, YEARS, 1)
    assert (found.min(), found.max()) == (0.02, 1.25)
