"""Choosing among places: what excludes what, the best of all selections, and bounds above them."""

import math
from dataclasses import replace
from itertools import combinations

import msgspec
import numpy as np
import pytest
from ortools.sat.python import cp_model
from scipy import optimize

from sunhitch.types.panel import PanelBody
from sunhitch.types.roof import (
    EdgeMargins,
    FootPattern,
    FootSpot,
    RectangularObstacle,
    Roof,
    RoofPanelType,
    RoofRectangle,
    RoundObstacle,
)
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.roof.bounds import area_bound, dual_bound, usable_region
from sunhitch_service.engine.roof.candidates import Candidates
from sunhitch_service.engine.roof.geometry import box_distance
from sunhitch_service.engine.roof.orientations import TICK_M, oriented_types
from sunhitch_service.engine.roof.overlaps import (
    cover_entries,
    cover_rows,
    fillings,
    plate_conflicts,
)
from sunhitch_service.engine.roof.preferences import LayoutTargets, preference_costs
from sunhitch_service.engine.roof.search import (
    Budget,
    PreferenceCosts,
    SelectionProblem,
    best_selection,
    preferred_selection,
    selection_problem,
)
from sunhitch_service.engine.roof.site import resolve_site

SHEET = PanelBody(
    length_m=0.6, width_m=0.4, thickness_m=0.003, mass_kg=3.0, construction="flexible"
)
SMALL = msgspec.structs.replace(SHEET, length_m=0.5, width_m=0.3, mass_kg=1.0)
FEET = FootPattern(plate_length_m=0.1, plate_width_m=0.1, edge_inset_m=0.0)
KINDS = [
    RoofPanelType(name="sheet", body=SHEET, p_mp_w=100.0, feet=FEET),
    RoofPanelType(name="small", body=SMALL, p_mp_w=70.0, orientation="along", feet=FEET),
    RoofPanelType(name="bare", body=SMALL, p_mp_w=65.0, orientation="across"),
]
GAP = 2_000
PLENTY = Budget(20.0, 20.0, 0)


def candidates(seed: int, number: int) -> Candidates:
    """Places on a raster of 0.1 m, so that many touch, align and repeat."""
    random = np.random.default_rng(seed)
    oriented = oriented_types(KINDS)
    index = np.sort(random.integers(0, len(oriented), number))
    corners = random.integers(0, 16, (number, 2)) * 10_000 // np.array([1, 2])
    return Candidates(oriented, index, corners.astype(np.int64), GAP)


def boxes(found: Candidates) -> np.ndarray:
    return np.concatenate([found.corners, found.corners + found.sizes], axis=1) * TICK_M


def excluded(found: Candidates, i: int, j: int) -> bool:
    """Measured: nearer than the gap, along both axes."""
    apart = box_distance(boxes(found)[[i]], boxes(found)[j])[0]
    return bool(apart < GAP * TICK_M - 1e-9)


def plates_touch(found: Candidates, i: int, j: int) -> bool:
    def plates(k: int) -> np.ndarray:
        own = found.orientations[found.orientation[k]].plates
        return own + np.tile(found.corners[k] * TICK_M, 2)

    return any(box_distance(plates(i), one).min() < -1e-9 for one in plates(j) if len(plates(i)))


@pytest.mark.parametrize("seed", range(6))
def test_two_places_share_a_row_exactly_when_they_overlap(seed: int) -> None:
    found = candidates(seed, 40)
    rows = cover_rows(found)
    together = (rows.T @ rows).toarray() > 0.0
    for i, j in combinations(range(len(found)), 2):
        assert together[i, j] == excluded(found, i, j), (i, j)
    assert together.diagonal().all()
    told = {row.tobytes() for row in rows.toarray()}
    assert len(told) == rows.shape[0]
    assert rows.nnz <= cover_entries(found)


@pytest.mark.parametrize("seed", range(6))
def test_plates_exclude_places_that_do_not_overlap(seed: int) -> None:
    found = candidates(seed, 40)
    pairs = {tuple(sorted(pair)) for pair in plate_conflicts(found).tolist()}
    expected = {
        (i, j)
        for i, j in combinations(range(len(found)), 2)
        if not excluded(found, i, j) and plates_touch(found, i, j)
    }
    assert pairs == expected
    assert len(plate_conflicts(found)) == len(pairs)


def apart(found: Candidates, chosen: tuple[int, ...]) -> bool:
    pairs = combinations(chosen, 2)
    return not any(excluded(found, i, j) or plates_touch(found, i, j) for i, j in pairs)


def counted(found: Candidates, chosen: list[int]) -> list[int]:
    return np.bincount(found.kind[chosen], minlength=len(KINDS)).tolist()


@pytest.mark.parametrize("seed", range(2, 9))
def test_fillings_are_sound_and_leave_no_place_that_still_fits(seed: int) -> None:
    found, most = candidates(seed, 40), [2, 1, 3]
    worth = np.array([10_000, 7_000, 6_500])[found.kind]
    told = fillings(found, most, worth)
    assert len(told) == 6
    for chosen in told:
        assert apart(found, tuple(chosen))
        number = counted(found, chosen)
        assert all(n <= m for n, m in zip(number, most, strict=True))
        for other in set(range(len(found))) - set(chosen):
            full = number[found.kind[other]] == most[found.kind[other]]
            assert full or not apart(found, (*chosen, other))


def test_fillings_begin_with_what_they_are_named_after() -> None:
    """One each: sheet 417, small 467, bare 433 W/m² without gaps; the sheet is worth the most."""
    oriented = [v for v in oriented_types(KINDS) if v.quarter_turns in (0, 1)]
    index = np.array([0, 0, 2, 3])
    corners = np.array([[30_000, 0], [80_000, 60_000], [160_000, 0], [0, 100_000]])
    found = Candidates(oriented, index, corners, 0)
    worth = np.array([10_000, 7_000, 6_500])[found.kind]
    one_each = [fillings(found, [int(k == i) for i in range(3)], worth) for k in range(3)]
    assert [chosen[0] for chosen in one_each[0]] == [0, 0, 0, 0, 0, 0]
    # By worth for the roof it takes, first the smaller sheets, wherever they lie.
    crowded = Candidates(oriented, np.array([0, 2]), np.array([[0, 0], [50_000, 0]]), 0)
    first = fillings(crowded, [1, 1, 0], worth[[0, 2]])
    assert first[:4] == [[1], [1], [1], [0]]
    bare = fillings(found.only(np.array([True, False, True, True])), [1, 1, 1], worth[[0, 2, 3]])
    assert all(sorted(chosen) == [0, 1, 2] for chosen in bare)


def test_without_a_gap_panels_touch() -> None:
    """Beside, behind and diagonally, in whatever order they are taken."""
    oriented = oriented_types([msgspec.structs.replace(KINDS[0], feet=None, orientation="along")])
    corners = np.array([[0, 0], [60_000, 0], [0, 40_000], [60_000, 40_000]])
    found = Candidates(oriented, np.zeros(4, dtype=np.int64), corners, 0)
    for worth in ([1, 2, 3, 4], [4, 3, 2, 1], [2, 1, 4, 3]):
        assert all(chosen == [0, 1, 2, 3] for chosen in fillings(found, [4], np.array(worth)))


def subsets(found: Candidates, most: list[int]) -> list[tuple[int, ...]]:
    """Every sound selection."""
    every = [()]
    for i in range(len(found)):
        every += [
            (*one, i)
            for one in every
            if all(not excluded(found, i, j) and not plates_touch(found, i, j) for j in one)
        ]
    return [
        one
        for one in every
        if all(n <= m for n, m in zip(counted(found, list(one)), most, strict=True))
    ]


@pytest.mark.parametrize("seed", [0, 4, 9, 20, 26, 31])
def test_the_best_and_the_preferred_selection_are_those_of_trying_all(seed: int) -> None:
    found, most, random = candidates(seed, 14), [3, 2, 2], np.random.default_rng(seed)
    every = subsets(found, most)  # in four of six, plates decide
    worth = np.array([10_000, 7_000, 6_500])
    problem = selection_problem(found, most, worth)
    told = max(int(problem.worth[list(one)].sum()) for one in every)
    best = best_selection(problem, int(problem.worth.sum()), PLENTY)
    assert (best.worth, best.at_most) == (told, told)
    assert best.chosen in every
    equal = [one for one in every if problem.worth[list(one)].sum() == told]
    shared = [
        (int(random.integers(0, 400)), np.flatnonzero(random.random(14) < 0.4)) for _ in range(3)
    ]
    moments = [(k, random.integers(-300, 300, 14)) for k in (1, 2)]
    wanted = PreferenceCosts(random.integers(0, 500, 14), shared, moments)

    def cost(chosen: tuple[int, ...]) -> int:
        return int(
            wanted.costs[list(chosen)].sum()
            + sum(c * bool({*members.tolist()} & {*chosen}) for c, members in shared)
            + sum(c * abs(m[list(chosen)].sum()) for c, m in moments)
        )

    preferred = preferred_selection(problem, best, wanted, PLENTY)
    assert (preferred.worth, preferred.at_most) == (told, told)
    assert cost(preferred.chosen) == min(map(cost, equal))


def test_without_work_a_search_keeps_its_start_and_the_bound_it_was_given() -> None:
    found = candidates(0, 40)
    problem = selection_problem(found, [9, 9, 9], np.array([10_000, 7_000, 6_500]))
    nothing = Budget(0.0, 0.0, 0)
    best = best_selection(problem, 10**6, nothing)
    assert best.at_most == 10**6
    assert apart(found, best.chosen)
    assert best.worth == problem.worth[list(best.chosen)].sum() > 0
    kept = preferred_selection(problem, best, PreferenceCosts(problem.worth, [], []), nothing)
    assert kept == best


def test_a_search_has_one_worker_its_seed_and_a_count_of_work_but_no_clock(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Several workers, or a clock, would let the same request give another answer."""
    asked: list[tuple[int, int, float, float]] = []
    solve = cp_model.CpSolver.solve

    def noted(self: cp_model.CpSolver, *args: object) -> object:
        own = self.parameters
        limits = own.max_deterministic_time, own.max_time_in_seconds
        asked.append((own.num_workers, own.random_seed, *limits))
        return solve(self, *args)

    monkeypatch.setattr(cp_model.CpSolver, "solve", noted)
    problem = selection_problem(candidates(0, 12), [9, 9, 9], np.array([10_000, 7_000, 6_500]))
    best_selection(problem, 10**6, Budget(9.0, 2.5, 7))
    assert asked == [(1, 7, 2.5, math.inf)]


def test_a_part_of_the_work_is_a_share_up_to_a_limit() -> None:
    budget = Budget(8.0, 4.0, 7)
    assert budget.part(0.5) == Budget(8.0, 2.0, 7)
    assert budget.part(0.5, 0.8) == Budget(8.0, 0.8, 7)


def test_no_more_of_a_type_are_chosen_than_are_wanted() -> None:
    """Three places in a row, none in the way of another, worth 3, 5 and 4."""
    oriented = oriented_types(KINDS[:1])
    corners = np.array([[0, 0], [80_000, 0], [160_000, 0]])
    found = Candidates(oriented, np.zeros(3, dtype=np.int64), corners, 0)
    rows, none = cover_rows(found), np.zeros((0, 2), dtype=np.int64)
    for most, worth in ((0, 0), (1, 5), (2, 9), (3, 12), (4, 12)):
        problem = SelectionProblem(found, rows, none, [most], np.array([3, 5, 4]))
        best = best_selection(problem, 99, PLENTY)
        assert (best.worth, best.at_most) == (worth, worth)


TARGETS = LayoutTargets("balanced", (3.0, 0.2), 0.9, 1.5)


def test_costs_of_preference_are_millimetres_of_cable() -> None:
    """Two sheets, the second turned: distances of their plugs, lines, and moments by hand."""
    oriented = oriented_types([msgspec.structs.replace(KINDS[0], feet=None)])
    places = np.array([[100_000, 40_000], [100_000, 80_000], [200_000, 40_000]])
    found = Candidates(oriented, np.array([0, 0, 1]), places, 0)
    costs = preference_costs(found, TARGETS)
    # Plugs at the rear: (1.6, 0.6) and (1.6, 1.0); across, at the left: (2.2, 0.4).
    away_m = [1.4 + 0.4, 1.4 + 0.8, 0.8 + 0.2]
    assert costs.costs == pytest.approx(1000 * np.array(away_m))
    lines = [sorted(members.tolist()) for _, members in costs.shared]
    assert lines == [[0, 1], [2], [0, 2], [1], [0, 1], [2]]
    # A line counts as 0.5 m of cable, a second orientation as 1.5 m, a metre aside as 3 m or 1 m.
    assert [cost for cost, _ in costs.shared] == [500, 500, 500, 500, 1500, 1500]
    assert [cost for cost, _ in costs.moments] == [3000, 1000]
    (_, across), (_, along) = costs.moments
    # Middles at y = 0.6, 1.0, 0.7 m against 0.9 m; at x = 1.3, 1.3, 2.2 m against 1.5 m.
    assert across.tolist() == [-300, 100, -200]
    assert along.tolist() == [-200, -200, 700]
    bare = preference_costs(found, LayoutTargets("balanced", (3.0, 0.2), 0.9, None))
    assert len(bare.moments) == 1


@pytest.mark.parametrize(
    ("prefer", "weights"),
    [
        ("balanced", (1.0, 0.5, 1.5, 3.0, 1.0)),
        ("symmetry", (0.2, 0.5, 1.5, 30.0, 1.0)),
        ("one-orientation", (1.0, 0.5, 30.0, 3.0, 1.0)),
        ("short-cables", (10.0, 0.1, 0.3, 1.0, 0.2)),
    ],
)
def test_what_is_preferred_weighs_about_ten_times_as_much(
    prefer: str, weights: tuple[float, ...]
) -> None:
    """Metres of cable for a metre of it, a line, an orientation, a metre aside: judgements."""
    oriented = oriented_types([msgspec.structs.replace(KINDS[0], feet=None)])
    found = Candidates(oriented, np.array([0]), np.array([[100_000, 40_000]]), 0)
    costs = preference_costs(found, replace(TARGETS, prefer=prefer))
    cable, *shared = weights
    assert costs.costs[0] == pytest.approx(1800.0 * cable)  # plugs at (1.6, 0.6)
    told = [cost for cost, _ in (*costs.shared[1:], *costs.moments)]
    assert told == pytest.approx([1000.0 * weight for weight in shared])


def test_half_turned_panels_have_one_orientation() -> None:
    """A foot in one corner: four turns, of which two lie along the vehicle and two across it."""
    corner = msgspec.structs.replace(FEET, points=[FootSpot(along_length_m=0.1, along_width_m=0.1)])
    oriented = oriented_types([msgspec.structs.replace(KINDS[0], feet=corner)])
    assert [v.quarter_turns for v in oriented] == [0, 1, 2, 3]
    found = Candidates(oriented, np.arange(4), np.zeros((4, 2), dtype=np.int64), 0)
    shared = preference_costs(found, TARGETS).shared
    assert [members.tolist() for cost, members in shared if cost == 1500] == [[0, 2], [1, 3]]


def test_an_even_balance_costs_nothing() -> None:
    """Of two places of one worth, the balanced one for 5, or the other for 10 aside."""
    oriented = oriented_types([msgspec.structs.replace(KINDS[0], feet=None, orientation="along")])
    found = Candidates(oriented, np.zeros(2, dtype=np.int64), np.array([[0, 0], [10, 0]]), 0)
    problem = selection_problem(found, [1], np.array([10_000]))
    start = best_selection(problem, 10_000, PLENTY)
    for balanced in (0, 1):
        even, aside = np.array([5, 0]), np.array([0, 1])
        if balanced:
            even, aside = even[::-1], aside[::-1]
        wanted = PreferenceCosts(even, [], [(10, aside)])
        assert preferred_selection(problem, start, wanted, PLENTY).chosen == (balanced,)


def test_a_heavier_panel_counts_for_more_in_the_balance() -> None:
    """3 kg and 1 kg about a mean of 2 kg: shares of 1.5 and 0.5."""
    oriented = [
        v
        for v in oriented_types([KINDS[0], msgspec.structs.replace(KINDS[1], orientation="along")])
        if v.quarter_turns == 0
    ]
    found = Candidates(oriented, np.array([0, 1]), np.array([[0, 0], [0, 0]]), 0)
    (_, across), _ = preference_costs(found, TARGETS).moments
    assert across.tolist() == [round(1.5 * (200 - 900)), round(0.5 * (150 - 900))]


def test_the_usable_region_is_the_roof_less_margins_and_clearances() -> None:
    """4 × 2 m less 0.1, 0.05 and twice 0.05 m; a hatch with 0.05 m around; a disc of 0.15 m."""
    site = resolve_site(
        Roof(
            outline=RoofRectangle(length_m=4.0, width_m=2.0),
            margins=EdgeMargins(front_m=0.1, rear_m=0.05, side_m=0.06),
            obstacles=[
                RectangularObstacle(
                    name="hatch", x_m=1.0, y_m=0.5, length_m=0.4, width_m=0.3, clearance_m=0.05
                ),
                RoundObstacle(name="vent", x_m=3.0, y_m=1.0, diameter_m=0.2, clearance_m=0.05),
            ],
        ),
        None,
        Assumptions(),
    )
    region = usable_region(site)
    assert region.area == pytest.approx(3.85 * 1.88 - 0.5 * 0.4 - math.pi * 0.15**2, abs=1e-4)
    assert region.bounds == pytest.approx((0.1, 0.06, 3.95, 1.94))


def test_the_bound_by_area_takes_what_gives_most_for_its_room_first() -> None:
    """1.98 × 0.98 m with half a gap of 0.02 m around, mitred at √2: 2.00828 × 1.00828 m."""
    from shapely import box

    roof = box(0.0, 0.0, 1.98, 0.98)
    room = (1.98 + 0.02 * math.sqrt(2)) * (0.98 + 0.02 * math.sqrt(2))
    sizes, values = [(0.98, 0.48), (0.48, 0.48)], [50.0, 30.0]
    alone = area_bound(roof, 0.02, sizes[:1], values[:1], [math.inf])
    assert alone == pytest.approx(50.0 * room / 0.5)
    both = area_bound(roof, 0.02, sizes, values, [math.inf, 3.0])
    assert both == pytest.approx(3 * 30.0 + (room - 3 * 0.25) / 0.5 * 50.0)
    assert area_bound(roof, 0.02, sizes, values, [1.0, 1.0]) == pytest.approx(80.0)


def test_a_linear_programme_without_time_bounds_nothing() -> None:
    found = candidates(0, 40)
    rows, values = cover_rows(found), np.array([100.0, 70.0, 65.0])[found.kind]
    assert dual_bound(rows, np.ones(rows.shape[0]), values) < values.sum()
    assert dual_bound(rows, np.ones(rows.shape[0]), values, seconds=1e-9) == math.inf


@pytest.mark.parametrize("short", [0.5, 0.9, 1.0, 1.5])
def test_a_bound_does_not_trust_the_weights_of_the_programme(
    short: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Weights that fall short are scaled up until they satisfy the dual: never below the best."""
    found = candidates(0, 12)
    rows, values = cover_rows(found), np.array([100.0, 70.0, 65.0])[found.kind]
    ones = np.ones(rows.shape[0])
    honest = dual_bound(rows, ones, values)
    solve = optimize.linprog

    def scaled(*args: object, **options: object) -> optimize.OptimizeResult:
        solved = solve(*args, **options)
        solved.ineqlin.marginals *= short
        return solved

    monkeypatch.setattr(optimize, "linprog", scaled)
    assert dual_bound(rows, ones, values) == pytest.approx(honest)
