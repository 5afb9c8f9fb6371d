"""The kernel of many states as plain Python: the laws of its parts, and the exact solver's maxima.

`test_shade_batch` and `agreement/test_many_states` hold it to the same, compiled, on more arrays.
"""

import numpy as np
import pytest
from hostile_arrays import array_without_diodes, hostile_array, hostile_light
from loops_switch import interpreted

from sunhitch_service.engine.pv.many_states import LightSolver
from sunhitch_service.engine.pv.maxima import CERTIFIED


@pytest.fixture(autouse=True, scope="module")
def kernel():
    with interpreted() as module:
        yield module


@pytest.mark.parametrize(
    ("array_of", "seed"),
    [(hostile_array, seed) for seed in range(1, 17)]
    + [(array_without_diodes, seed) for seed in range(1, 7)],
)
def test_maxima_are_those_of_the_exact_solver(array_of, seed):
    """The polish ends at a steepness of 1e-3, from where power is right to the square of it."""
    array = array_of(seed)
    fast, exact = (
        LightSolver(array.panels, array.wiring, compiled=compiled) for compiled in (True, False)
    )
    lit = hostile_light(seed, fast.cells, 1), array.irradiance_w_m2, array.cell_temperature_c
    found, wanted = fast.maxima(*lit), exact.maxima(*lit)
    assert found.power == pytest.approx(wanted.power, rel=1e-6)
    assert found.power == pytest.approx(found.voltage * found.current, rel=1e-9)
    assert (wanted.power <= found.bound * (1.0 + 1e-6)).all()
    assert (found.bound <= found.power * (1.0 + CERTIFIED)).all()
