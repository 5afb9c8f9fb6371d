"""Loops find what the same steps in NumPy find, on seeded random arrays: compiled, and as written.

As written, coverage and changes on purpose see them; few arrays are enough for that.
"""

import subprocess
import sys
from dataclasses import fields
from functools import partial
from pathlib import Path

import msgspec
import numpy as np
import pytest
from loops_switch import interpreted, solving
from shade_networks import random_request

from sunhitch.types.shade import ShadedIvRequest
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.pv import accelerate
from sunhitch_service.engine.pv.bounds import conductance_bounds
from sunhitch_service.engine.pv.curve import CubicSet
from sunhitch_service.engine.pv.curve_sets import common_grid
from sunhitch_service.engine.pv.many_states import LightSolver
from sunhitch_service.engine.pv.maxima import start
from sunhitch_service.engine.pv.network import Network, build
from sunhitch_service.engine.pv.newton import NotSolvedError, State, solve
from sunhitch_service.engine.pv.presets import completed
from sunhitch_service.engine.pv.sweep import Sweep, sweep
from sunhitch_service.engine.shade.compare import solver_wiring
from sunhitch_service.engine.shade.states import load_kernel
from sunhitch_service.engine.shadow.light import lit_panels

needs_compiler = pytest.mark.skipif(not accelerate.installed(), reason="the compiler is an extra")
COMPILED, AS_WRITTEN = partial(solving, compiled=True), interpreted
ways = pytest.mark.parametrize("looping", [COMPILED, AS_WRITTEN], ids=["compiled", "as written"])
ROUNDING = 1e-9
SOLVED = 1e-8
"""Newton's method ends when no part moves by more than 1e-9 of itself."""


def both(find, looping):
    """What is found without the loops, and with them."""
    with solving(compiled=False):
        plainly = find()
    with looping():
        assert accelerate.loops() is not None
        return plainly, find()


def drawn(seed: int) -> tuple[Network, Sweep]:
    """A random array and its curves."""
    request = msgspec.convert(random_request(seed), ShadedIvRequest)
    _, lit = lit_panels(request, request.panels, Assumptions())
    wiring = solver_wiring(request.wiring)
    network = build(lit, wiring.strings, wiring.blocking, wiring.resistance)
    with solving(compiled=False):
        return network, sweep(network)


@pytest.mark.parametrize("followed", [False, True])
@pytest.mark.parametrize(
    ("seed", "looping"),
    [(seed, COMPILED) for seed in range(40)] + [(seed, AS_WRITTEN) for seed in (2, 5)],
)
def test_operating_points(seed, looping, followed):
    network, curves = drawn(seed)
    v = np.concatenate(([0.0], np.linspace(0.02, 0.999, 9) * curves.array.open_circuit))
    is_open = np.arange(len(v)) == len(v) - 1
    tops = np.where(followed, 0.97 * v, v), np.where(followed, 1.03 * v, v)
    plainly, compiled = both(
        lambda: solve(network, start(network, curves, v), is_open, curves.scale, tops), looping
    )
    assert compiled.conductance == pytest.approx(plainly.conductance, rel=1e-5)
    assert compiled.curvature == pytest.approx(plainly.curvature, rel=1e-4, abs=1e-9)
    for name in ("voltage", "junction_v", "string_i", "group_v", "branch_i", "current"):
        one, other = getattr(plainly, name), getattr(compiled, name)
        assert other == pytest.approx(one, rel=SOLVED, abs=SOLVED * curves.scale), name


@pytest.mark.parametrize(
    ("seed", "looping"),
    [(seed, COMPILED) for seed in range(40)] + [(seed, AS_WRITTEN) for seed in (2, 5)],
)
def test_bounds_of_conductance(seed, looping):
    network, curves = drawn(seed)
    v = np.linspace(0.0, 0.999, 8) * curves.array.open_circuit
    left = np.array([0, 1, 3, 6])
    with solving(compiled=False):
        state = start(network, curves, v)
        solve(network, state, np.zeros(len(v), dtype=bool), curves.scale)
    plainly, compiled = both(lambda: conductance_bounds(network, state, left, left + 1), looping)
    assert compiled == pytest.approx(plainly, rel=ROUNDING)


@ways
def test_what_cannot_be_solved_is_refused_by_both(looping):
    network, curves = drawn(3)
    v = np.array([1.0])

    def refused() -> bool:
        state: State = start(network, curves, v)
        state.junction_v[0, -1] = np.nan
        with pytest.raises(NotSolvedError):
            solve(network, state, np.zeros(1, dtype=bool), curves.scale)
        return True

    assert both(refused, looping) == (True, True)


def bundle() -> CubicSet:
    """Six curves, of unlike width and with slopes too steep to be monotone."""
    x = np.linspace(-1.0, 2.0, 60) * np.arange(1.0, 7.0)[:, None]
    return CubicSet(x, x + 0.1 * x**3, (1.0 + 0.3 * x**2) * np.linspace(0.5, 9.0, 60))


@ways
@pytest.mark.parametrize("starts", [[0, 2, 4], [0, 1, 2]])
def test_sums_of_curves(starts, looping):
    owner = np.repeat(np.arange(3), np.diff([*starts, 6]))
    places = np.linspace(-2.0, 3.0, 200) + np.arange(3.0)[:, None]
    many = np.arange(2.0, 8.0)
    plainly, compiled = both(lambda: bundle().sums(places, owner, np.array(starts), many), looping)
    assert compiled == pytest.approx(plainly, rel=ROUNDING, abs=ROUNDING)


@ways
def test_every_curve_at_places_of_its_own(looping):
    places = np.random.default_rng(3).uniform(-8.0, 14.0, (50, 6))
    plainly, compiled = both(lambda: bundle().each(places), looping)
    assert compiled == pytest.approx(plainly, rel=ROUNDING, abs=ROUNDING)


@ways
def test_what_may_only_be_read_is_taken_too(looping):
    """As what was spread from one row to several is."""
    x, y, slope = bundle()._points
    for one in (x, y, slope):
        one.flags.writeable = False
    places, many = np.linspace(-2.0, 3.0, 200)[None], np.ones(6)
    owner, starts = np.zeros(6, dtype=np.intp), np.zeros(1, dtype=np.intp)
    found = [
        lambda: CubicSet(x, y, slope).at(places, 2),
        lambda: CubicSet(x, y, slope).at(places, np.arange(6)[:, None]),
        lambda: CubicSet(x, y, slope).sums(places, owner, starts, many),
    ]
    for one in found:
        plainly, compiled = both(one, looping)
        assert compiled == pytest.approx(plainly, rel=ROUNDING, abs=ROUNDING)


@ways
def test_starting_values_stay_as_they_were_given(looping):
    network, curves = drawn(7)
    v = np.linspace(0.1, 0.9, 5) * curves.array.open_circuit
    begun = start(network, curves, v)
    columns = {field.name: getattr(begun, field.name) for field in fields(State)}
    for column in columns.values():
        column.flags.writeable = False
    is_open = np.arange(5) == 4

    def found():
        return solve(network, State(**columns), is_open, curves.scale).power

    plainly, compiled = both(found, looping)
    assert compiled == pytest.approx(plainly, rel=SOLVED)
    assert (columns["voltage"] == np.linspace(0.1, 0.9, 5) * curves.array.open_circuit).all()


@ways
@pytest.mark.parametrize("most", [2, 40, 1000])
def test_places_between_bounds(most, looping):
    points = np.sort(np.random.default_rng(2).normal(0.0, 2.0, (3, 150)))
    points[1, 100:] = np.inf
    low, high = np.array([-3.0, -0.5, -4.0]), np.array([2.5, 1.0, 9.0])
    plainly, compiled = both(lambda: common_grid(points, low, high, 0.6, most), looping)
    assert compiled == pytest.approx(plainly, rel=ROUNDING, abs=ROUNDING)


@ways
@pytest.mark.parametrize("at", [2.0, 3.0])
def test_places_that_coincide_with_an_end_are_kept_apart(at, looping):
    ends = np.array([2.0]), np.array([3.0])
    for found in both(lambda: common_grid(np.full((1, 30), at), *ends, 1.0, 1000), looping):
        assert (np.diff(found) > 0.0).all()


@needs_compiler
def test_what_is_compiled_ahead_serves_one_state_and_many():
    """One kernel for all: a second would be compiled while somebody waits for an answer."""
    from sunhitch_service.engine.pv.kernel import maxima  # only where there is a compiler

    load_kernel()
    request = msgspec.convert(random_request(1), ShadedIvRequest)
    panels = {panel.name: completed(panel.panel, Assumptions(), "") for panel in request.panels}
    for states in (1, 2, 300):
        solver = LightSolver(panels, solver_wiring(request.wiring), compiled=True)
        solver.maxima(np.full((states, solver.cells), 0.7), 900.0, 30.0)
    assert len(maxima.signatures) == 1


def test_later_processes_are_told_what_was_compiled_from_these_sources(tmp_path, monkeypatch):
    source = tmp_path / "kernel.py"
    source.write_text("1")
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path / "made" / "below"))
    monkeypatch.setattr(accelerate.metadata, "version", lambda _: "1")
    monkeypatch.setattr(accelerate, "_SOURCES", (source,))
    mark = accelerate._mark.__wrapped__
    monkeypatch.setattr(accelerate, "_mark", mark)
    with interpreted():
        assert not accelerate.kept()
        accelerate.keep()
        accelerate.keep()
        assert accelerate.kept()
        assert mark().parent == tmp_path / "made" / "below"
        source.write_text("22")
        assert not accelerate.kept()
        monkeypatch.delenv("NUMBA_CACHE_DIR")
        assert mark().parent == Path(accelerate.__file__).parent / "__pycache__"


def test_with_nowhere_to_keep_them_the_kernel_is_used_and_the_loops_are_not():
    """A kernel solves hundreds of states; what loops save is less than what compiling takes."""
    with interpreted(kept=False) as kernel:
        assert accelerate.loops() is None
        assert kernel.maxima(range(13), np.zeros((1, 2))).tolist() == [[0.0, 0.0, 0.0, 0.0]]


def test_a_process_that_postpones_compiles_nothing_until_it_asks(monkeypatch):
    monkeypatch.setattr(accelerate, "_waiting", [])
    with interpreted():
        assert accelerate.at_hand()
        accelerate.postpone()
        assert not accelerate.at_hand()
        accelerate.load_loops()
        assert accelerate.at_hand()
        (first,) = accelerate._asked
        accelerate.load_loops()
        assert accelerate._asked == [first]
    monkeypatch.setitem(sys.modules, "numba", None)
    accelerate.load_loops()
    assert accelerate.loops() is None
    assert not accelerate.at_hand()


@needs_compiler
def test_without_a_folder_to_keep_them_in_they_are_not_used():
    """Every process would wait for the compiler."""
    code = (
        "from numba.core.caching import CacheImpl\n"
        "CacheImpl._locator_classes = []\n"
        "from sunhitch_service.engine.pv import accelerate\n"
        "accelerate.load_loops()\n"
        "print(accelerate.loops())\n"
    )
    run = subprocess.run([sys.executable, "-c", code], stdout=subprocess.PIPE, check=True)
    assert run.stdout.strip() == b"None"
