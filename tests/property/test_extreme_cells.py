"""Cells and diodes at the ends of what a request may say: an answer, or a problem, never a fault.

A table of a cell's voltages, the curve of an array and the search for its maximum each cut a range
into pieces. With a weak avalanche, no light or a shunt of a gigaohm the range shrinks to nothing or
grows beyond every real voltage.
"""

from math import isfinite, log
from typing import Any

import msgspec
import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from pvlib.pvsystem import singlediode

from sunhitch.types.array import ArrayConfigurationRequest
from sunhitch.types.shade import ShadedIvRequest
from sunhitch_service.engine.array.configuration import array_configuration
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.pv.cell import Junction
from sunhitch_service.engine.pv.plausibility import largest_breakdown_factor
from sunhitch_service.engine.pv.table import junction_table
from sunhitch_service.engine.shade.calculation import shaded_iv

K_OVER_Q_T = 0.025692579
"""k·T/q at 25 °C [V]."""
PLATE = {
    "p_mp_w": 115.0,
    "v_mp_v": 19.2,
    "i_mp_a": 5.99,
    "v_oc_v": 22.9,
    "i_sc_a": 6.4,
    "cells_in_series": 36,
}


def wide(low: float, high: float) -> st.SearchStrategy[float]:
    """Evenly over the decades, the ends among them."""
    inner = st.floats(log(low), log(high)).map(lambda x: float(np.clip(np.exp(x), low, high)))
    return st.sampled_from([low, high]) | inner


def none_or(values: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.just(0.0) | values


CELLS = st.fixed_dictionaries(
    {
        "photocurrent_a": wide(1e-4, 100.0),
        "saturation_current_a": wide(1e-15, 1e-3),
        "ideality_factor": wide(0.5, 3.0),
        "series_resistance_ohm": none_or(wide(1e-6, 1.0)),
        "shunt_resistance_ohm": wide(1e-3, 1e9),
        "breakdown_voltage_v": wide(0.5, 200.0).map(lambda v: -v),
        "breakdown_factor": none_or(wide(1e-6, 10.0)),
        "breakdown_exponent": wide(0.1, 20.0),
    }
)
DIODES = st.fixed_dictionaries(
    {
        "saturation_current_a": wide(1e-20, 1e-2),
        "ideality_factor": wide(0.3, 5.0),
        "series_resistance_ohm": none_or(wide(1e-4, 10.0)),
    }
)
PANELS = st.fixed_dictionaries(
    {
        "electrical": st.just(PLATE),
        "cell_model": st.none() | CELLS,
        "bypass_diode": st.none() | DIODES,
        "construction": st.sampled_from(["full-cell-2-diodes", "half-cell-2-diodes"]),
    }
)
SUNS = st.fixed_dictionaries(
    {"irradiance_w_m2": wide(1.0, 1500.0), "cell_temperature_c": st.floats(-60.0, 130.0)}
)
SHARES = st.sampled_from([0.0, 1e-9, 1e-3, 0.15, 0.5, 1.0])


@settings(max_examples=120)
@given(PANELS, SUNS, st.lists(SHARES, min_size=2, max_size=2), st.none() | DIODES, st.booleans())
def test_any_legal_cell_is_solved_or_refused(panel, sun, shares, blocking, parallel):
    lit = zip("abc", [1.0, *shares], strict=True)
    request = {
        "panels": [{"name": n, "panel": panel, "irradiance_fraction": s} for n, s in lit],
        "wiring": {
            "strings": [["a", "b"], ["c"]] if parallel else [["a", "b", "c"]],
            "blocking_diode": blocking,
        },
        "sun": sun,
    }
    try:
        answer = shaded_iv(msgspec.convert(request, ShadedIvRequest))
    except ContradictionError:
        return
    best = answer.maximum_power_point
    assert isfinite(best.power_w)
    assert best.power_w >= 0.0
    assert answer.open_circuit_voltage_v < 1e4


@settings(max_examples=60)
@given(PANELS, SUNS, SHARES, st.sampled_from(["mppt", "pwm"]))
def test_any_legal_cell_is_configured_or_refused(panel, sun, share, kind):
    request = {
        "panels": [{"name": "sheet", "count": 3, "panel": panel}],
        "controllers": [
            {
                "name": "charger",
                "kind": kind,
                "max_input_voltage_v": 100.0,
                "max_output_current_a": 30.0,
            }
        ],
        "battery": {"chemistry": "agm", "nominal_voltage_v": 12, "capacity_ah": 200.0},
        "site": {"lowest_ambient_c": -10.0, "highest_ambient_c": 35.0},
        "sun": sun,
        "shade": [
            {
                "name": "wall",
                "weight_fraction": 0.3,
                **sun,
                "light": [{"panel": "sheet-1", "irradiance_fraction": share}],
            }
        ],
    }
    try:
        answer = array_configuration(msgspec.convert(request, ArrayConfigurationRequest))
    except ContradictionError:
        return
    for one in answer.arrangements:
        assert 0.0 <= one.sun.charging_power_w < 1e5


@settings(max_examples=200)
@given(CELLS, wide(1e-9, 200.0), st.floats(1.0, 60.0))
def test_a_cells_table_rises_from_near_breakdown(cell, forward, strings):
    assume(cell["breakdown_factor"] <= largest_breakdown_factor(cell["breakdown_exponent"]))
    shunt, breakdown = 1.0 / cell["shunt_resistance_ohm"], cell["breakdown_voltage_v"]
    table = junction_table(
        Junction(
            saturation_current=cell["saturation_current_a"],
            thermal_voltage=0.0257 * cell["ideality_factor"],
            series_resistance=cell["series_resistance_ohm"],
            shunt_conductance=shunt,
            breakdown_voltage=breakdown,
            breakdown_factor=cell["breakdown_factor"],
            breakdown_exponent=cell["breakdown_exponent"],
        ),
        forward,
        forward * strings,
    )
    assert np.all(np.isfinite([table.j, table.v, table.slope]))
    assert np.all(np.diff(table.v) > 0.0)
    assert np.all(np.diff(table.j) >= 0.0)
    if cell["breakdown_factor"] > 0.0:
        assert table.v[0] >= breakdown


@pytest.mark.parametrize("exponent", [0.1, 0.2, 3.5, 20.0])
def test_an_avalanche_that_begins_only_at_breakdown_itself(exponent):
    """Below an exponent of about 0.3 the avalanche is nearer to breakdown than floats resolve.

    In even light it hardly counts, so that the power is pvlib's of a single diode.
    """
    cell = {
        "photocurrent_a": 2.95,
        "saturation_current_a": 4e-10,
        "ideality_factor": 1.1,
        "series_resistance_ohm": 0.0079,
        "shunt_resistance_ohm": 10.3,
        "breakdown_voltage_v": -15.0,
        "breakdown_factor": 0.002,
        "breakdown_exponent": exponent,
    }
    panel = {"electrical": PLATE, "construction": "half-cell-2-diodes", "cell_model": cell}
    request = {
        "panels": [{"name": "a", "panel": panel}, {"name": "b", "panel": panel}],
        "wiring": {"strings": [["a", "b"]]},
        "sun": {"irradiance_w_m2": 1000.0, "cell_temperature_c": 25.0},
    }
    best = shaded_iv(msgspec.convert(request, ShadedIvRequest)).maximum_power_point
    cell_w = singlediode(2.95, 4e-10, 0.0079, 10.3, 1.1 * K_OVER_Q_T)["p_mp"]
    assert best.power_w == pytest.approx(2 * 72 * cell_w, rel=1e-3)


@pytest.mark.parametrize("exponent", [1.01, 1.5, 3.0, 8.0, 20.0])
def test_the_largest_breakdown_factor_is_where_the_current_would_begin_to_fall(exponent):
    x = np.geomspace(1e-6, 1e6, 200_001)
    slope = (1.0 + x) ** -(exponent + 1.0) * (1.0 + x - exponent * x)
    largest = largest_breakdown_factor(exponent)
    assert np.all(1.0 + 0.999 * largest * slope > 0.0)
    assert np.any(1.0 + 1.001 * largest * slope < 0.0)


def test_a_cell_whose_current_falls_is_refused():
    cell = {
        "photocurrent_a": 6.4,
        "saturation_current_a": 1e-9,
        "ideality_factor": 1.1,
        "series_resistance_ohm": 0.003,
        "shunt_resistance_ohm": 10.0,
        "breakdown_voltage_v": -15.0,
        "breakdown_factor": 9.0,
        "breakdown_exponent": 20.0,
    }
    request = {
        "panels": [{"name": "a", "panel": {"electrical": PLATE, "cell_model": cell}}],
        "wiring": {"strings": [["a"]]},
        "sun": {"irradiance_w_m2": 1000.0, "cell_temperature_c": 25.0},
    }
    with pytest.raises(ContradictionError) as refused:
        shaded_iv(msgspec.convert(request, ShadedIvRequest))
    assert [fault.pointer for fault in refused.value.faults] == [
        "/panels/0/panel/cell_model/breakdown_factor"
    ]
