"""Ways on a grid of lines: as short as square steps allow, straight where that is as short."""

from itertools import pairwise

import numpy as np
import pytest
from shapely import Polygon

from sunhitch_service.engine.roof.geometry import Rectangle
from sunhitch_service.engine.roof.grid import Grid, make_grid

FIELD = Rectangle(0.0, 0.0, 4.0, 2.0)
BLOCK = Rectangle(2.0, 0.4, 3.0, 1.6)
BEND_M = 1e-3


def length(points: list[tuple[float, float]]) -> float:
    assert all(a[0] == b[0] or a[1] == b[1] for a, b in pairwise(points))
    return sum(abs(a[0] - b[0]) + abs(a[1] - b[1]) for a, b in pairwise(points))


def bends(points: list[tuple[float, float]]) -> int:
    along = [a[0] != b[0] for a, b in pairwise(points)]
    return sum(one != other for one, other in pairwise(along))


def test_in_the_open_a_way_is_two_legs_and_one_bend() -> None:
    grid = make_grid([FIELD], [(1.0, 1.0), (3.0, 0.5)], [], None)
    assert grid.xs.tolist() == [0.0, 1.0, 3.0, 4.0]
    assert grid.ys.tolist() == [0.0, 0.5, 1.0, 2.0]
    away = np.abs(grid.nodes - (1.0, 1.0))
    assert grid.distances((1.0, 1.0)) == pytest.approx(
        away.sum(axis=1) + BEND_M * (away > 0.0).all(axis=1)
    )
    assert grid.free.all()


def test_the_way_leaves_along_the_asked_axis() -> None:
    """From (1, 1) to (3, 1): straight along x; along y first there is a bend more on the spot."""
    grid = make_grid([FIELD], [(1.0, 1.0), (3.0, 1.0)], [], None)
    for along_x in (True, False):
        (way,) = grid.paths([((1.0, 1.0), along_x)], (3.0, 1.0))
        assert way == [(1.0, 1.0), (3.0, 1.0)]
    (way,) = grid.paths([((1.0, 1.0), True)], (3.0, 2.0))
    assert way == [(1.0, 1.0), (3.0, 1.0), (3.0, 2.0)]
    (way,) = grid.paths([((1.0, 1.0), False)], (3.0, 2.0))
    assert way == [(1.0, 1.0), (1.0, 2.0), (3.0, 2.0)]


@pytest.mark.parametrize("goal", [(0.0, 0.0), (0.0, 2.0), (4.0, 0.0), (4.0, 2.0)])
@pytest.mark.parametrize("along_x", [True, False])
def test_a_way_ends_where_it_should_in_every_corner_of_the_grid(
    goal: tuple[float, float], along_x: bool
) -> None:
    grid = make_grid([FIELD], [(1.0, 1.0), (3.0, 1.0)], [], None)
    (way,) = grid.paths([((1.0, 1.0), along_x)], goal)
    assert (way[0], way[-1]) == ((1.0, 1.0), goal)
    (back,) = grid.paths([(goal, True)], (1.0, 1.0))
    assert length(back) == pytest.approx(length(way))


def around() -> Grid:
    return make_grid([FIELD, BLOCK], [(1.0, 1.0), (3.5, 1.0), (1.0, 0.4)], [BLOCK], None)


def test_a_block_is_passed_along_its_side() -> None:
    """(1, 1) to (3.5, 1): 2.5 m, and 0.6 m aside twice; along its lower side 2.5 m and 0.6 m."""
    (way,) = around().paths([((1.0, 1.0), True)], (3.5, 1.0))
    assert length(way) == pytest.approx(2.5 + 1.2)
    assert {y for _, y in way} & {0.4, 1.6}
    (way,) = around().paths([((1.0, 0.4), True)], (3.5, 1.0))
    assert length(way) == pytest.approx(2.5 + 0.6)
    assert bends(way) == 1
    inside = make_grid([FIELD, BLOCK], [(2.5, 1.0)], [BLOCK], None)
    assert inside.paths([((0.0, 0.0), True)], (2.5, 1.0)) == [[]]
    reached = np.isfinite(inside.distances((2.5, 1.0)))
    assert inside.nodes[reached].tolist() == [[2.5, 1.0]]


@pytest.mark.parametrize("beyond_m", [-1e-3, -5e-6, -1e-6, 0.0, 1e-6, 1e-3])
def test_along_every_side_of_a_block_a_way_is_open_and_within_it_none(beyond_m: float) -> None:
    """Lines just outside of each side, on it, and within it by no more than rounding are open."""
    b = BLOCK.grown(beyond_m)
    is_open = beyond_m > -2e-6
    for spot in [(b.x1, 1.0), (b.x2, 1.0), (2.5, b.y1), (2.5, b.y2)]:
        grid = make_grid([FIELD], [spot], [BLOCK], None)
        assert grid.is_free(spot) == is_open
        assert np.isfinite(grid.distances(spot)).all() == is_open


def test_a_way_stays_on_the_roof() -> None:
    """An L: from (0.5, 1.9) to (3.9, 0.2) round the inner corner at (1, 0.5)."""
    roof = Polygon([(0, 0), (0, 2), (1, 2), (1, 0.5), (4, 0.5), (4, 0)])
    spots = [(0.5, 1.9), (3.9, 0.2)]
    on_roof = make_grid([Rectangle(0.1, 0.1, 0.9, 0.4)], spots, [], roof)
    (way,) = on_roof.paths([((0.5, 1.9), True)], (3.9, 0.2))
    assert length(way) == pytest.approx(3.4 + 1.7)
    assert all(x <= 1.0 or y <= 0.5 for x, y in way)
    assert not on_roof.is_free((3.9, 1.9))
    assert make_grid([FIELD], spots, [], None).is_free((3.9, 1.9))


def test_ways_of_one_length_run_together_and_none_gets_longer() -> None:
    """Three starts on the left, one goal: where ways are as short, they share pieces."""
    starts = [((0.0, 0.0), True), ((0.0, 1.0), True), ((0.0, 2.0), True)]
    grid = make_grid([FIELD], [(0.0, 1.0), (4.0, 1.0), (1.0, 1.0), (3.0, 1.0)], [], None)
    found = grid.paths(starts, (4.0, 1.0))
    assert [length(way) for way in found] == pytest.approx([5.0, 4.0, 5.0])
    assert all(set(way) >= {(3.0, 1.0), (4.0, 1.0)} for way in found)
    pieces = [set(pairwise(way)) for way in found]
    assert pieces[0] & pieces[1]
    assert pieces[2] & pieces[1]
