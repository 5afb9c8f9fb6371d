"""Curves that are drawn on few points stay close to the exact solution."""

import numpy as np
import pytest

from sunhitch_service.engine.pv.cell import Diode, Junction
from sunhitch_service.engine.pv.curve import CurveSet
from sunhitch_service.engine.pv.curve_sets import common_grid, side_by_side
from sunhitch_service.engine.pv.maxima import start
from sunhitch_service.engine.pv.network import LitPanel, build
from sunhitch_service.engine.pv.newton import solve
from sunhitch_service.engine.pv.solution import Interconnection, drawn, solve_array
from sunhitch_service.engine.pv.sweep import sweep

JUNCTION = Junction(4e-10, 0.02826, 0.0079, 0.05, -15.0, 0.002, 3.5)
DIODE = Diode(1e-6, 0.02698, 0.01)
HALVES = (0, 17), (18, 35)
SIXTHS = tuple((first, first + 5) for first in range(0, 36, 6))


def _panel(light, spans=HALVES, guarded=True) -> LitPanel:
    groups = tuple((first, last, guarded) for first, last in spans)
    return LitPanel(JUNCTION, JUNCTION, 2.95, light, groups, DIODE)


def _scattered(rng) -> np.ndarray:
    shaded = rng.random((2, 36)) < 0.15
    return np.where(shaded, rng.choice([0.1, 0.3, 0.6], (2, 36)), 1.0)


def _uneven(rng) -> np.ndarray:
    return rng.random((2, 36))


@pytest.mark.parametrize(
    ("light", "strings", "in_series", "spans", "guarded"),
    [
        (_scattered, 1, 3, HALVES, True),
        (_scattered, 3, 1, HALVES, True),
        (_scattered, 10, 6, HALVES, True),
        (_scattered, 2, 3, SIXTHS, True),
        (_scattered, 2, 3, HALVES, False),
        (_uneven, 1, 1, HALVES, True),
        (_uneven, 20, 1, HALVES, True),
    ],
)
def test_the_curve_is_that_of_the_exact_solution(light, strings, in_series, spans, guarded):
    rng = np.random.default_rng(0)
    names = [[f"{s}-{k}" for k in range(in_series)] for s in range(strings)]
    panels = {name: _panel(light(rng), spans, guarded) for own in names for name in own}
    solution = solve_array(panels, Interconnection(names))
    network = build(panels, names)
    curves = sweep(network)
    v, i = drawn(solution, 200)
    inside = v[1:-1]
    fixed = np.zeros(len(inside), dtype=bool)
    exact = solve(network, start(network, curves, inside), fixed, curves.scale)
    assert np.abs(exact.current - i[1:-1]).max() < 2e-4 * solution.points.short_circuit_current


def test_places_are_dense_where_points_are():
    points = np.concatenate((np.linspace(0.0, 1.0, 50), np.linspace(1.0, 10.0, 50)))
    rows = np.stack((points, 2.0 * points))
    places = common_grid(rows[:, ::-1], np.array([0.5, 0.5]), np.array([9.0, 21.0]), 1.0, 1000)
    assert places[:, 0] == pytest.approx([0.5, 0.5])
    assert places[:, -1] == pytest.approx([9.0, 21.0])
    assert (places[:, 1:] > places[:, :-1]).all()
    assert np.mean(places[0] < 1.0) == pytest.approx(25 / 69, abs=0.03)


def test_places_that_coincide_are_kept_apart():
    places = common_grid(np.full((1, 30), 2.0), np.array([2.0]), np.array([3.0]), 1.0, 1000)
    assert (places[:, 1:] > places[:, :-1]).all()


def test_points_of_unequally_many_parts_are_filled_up():
    rows = np.arange(6.0).reshape(3, 2)
    found = side_by_side(rows, np.array([0, 1, 1]), 1000)
    assert found.tolist() == [[0.0, 1.0, np.inf, np.inf], [2.0, 3.0, 4.0, 5.0]]


@pytest.mark.parametrize("starts", [[0, 2, 4], [0, 1, 2]])
@pytest.mark.parametrize("places", [40, 20_000])
def test_sums_are_those_of_the_parts_read_one_by_one(starts, places):
    v = np.linspace(-1.0, 2.0, 60) * np.arange(1.0, 7.0)[:, None]
    family = CurveSet(v, v + 0.1 * v**3, 1.0 + 0.3 * v**2)
    owner = np.repeat(np.arange(3), np.diff([*starts, 6]))
    x = np.linspace(-2.0, 3.0, places) + np.arange(3.0)[:, None]
    many = np.arange(2.0, 8.0)
    found = family.over_voltage.sums(x, owner, np.array(starts), many)
    for row, place in enumerate(x):
        own = [part for part in range(6) if owner[part] == row]
        currents = sum(many[part] * family[part].currents(place) for part in own)
        assert found[:, row] == pytest.approx(-currents, rel=1e-9, abs=1e-9)
