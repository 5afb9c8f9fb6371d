"""Unshaded panels against pvlib's single-diode solutions by Lambert's W, at several conditions."""

import numpy as np
import pytest
from pvlib import pvsystem

from sunhitch_service.engine.pv.cell import Diode, Junction
from sunhitch_service.engine.pv.network import LitPanel
from sunhitch_service.engine.pv.solution import Interconnection, Solution, solve_array

POSITIONS = 36
GROUPS = ((0, 17, True), (18, 35, True))
CASES = {
    "good": Junction(4e-10, 0.0283, 0.004, 1.0 / 60.0, -15.0, 0.0, 3.5),
    "leaky": Junction(2e-8, 0.0335, 0.009, 1.0 / 4.0, -15.0, 0.0, 3.5),
    "no series resistance": Junction(1e-10, 0.0265, 0.0, 1.0 / 300.0, -15.0, 0.0, 3.5),
}


def _solved(cell: Junction, light: float, paths: int) -> Solution:
    panel = LitPanel(
        cell, cell, light, np.ones((paths, POSITIONS)), GROUPS, Diode(1e-12, 0.027, 0.01)
    )
    return solve_array({"a": panel}, Interconnection([["a"]]))


@pytest.mark.parametrize("paths", [1, 2])
@pytest.mark.parametrize("light", [6.0, 1.2, 0.05])
@pytest.mark.parametrize("name", CASES)
def test_ends_maximum_and_curve(name, light, paths, outside):
    cell = CASES[name]
    ours = _solved(cell, light, paths)
    module = (
        light * paths,
        cell.saturation_current * paths,
        cell.series_resistance * POSITIONS / paths,
        POSITIONS / cell.shunt_conductance / paths,
        cell.thermal_voltage * POSITIONS,
    )
    theirs = pvsystem.singlediode(*module, method="lambertw")
    own = (
        ours.points.short_circuit_current,
        ours.points.open_circuit_voltage,
        ours.power(ours.best),
    )
    outside(
        own,
        [theirs[key] for key in ("i_sc", "v_oc", "p_mp")],
        rel=1e-7,
        of=f"Isc, Voc, Pmp of an unshaded panel: {name} cells, {light:g} A, {paths} in parallel",
        source="pvlib.pvsystem.singlediode by Lambert's W",
        kind="reference program",
    )
    v = np.linspace(0.0, theirs["v_oc"], 50)
    i = pvsystem.i_from_v(v, *module, method="lambertw")
    outside(
        ours.curve.currents(v)[0],
        i,
        abs=1e-3 * theirs["i_sc"],
        of=f"curve of an unshaded panel: {name} cells, {light:g} A, {paths} in parallel",
        source="pvlib.pvsystem.i_from_v by Lambert's W",
        unit="A",
        kind="reference program",
    )
