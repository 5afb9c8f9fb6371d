"""Arrays with a fault: strings as the diagnosis adds them up, and cell by cell."""

from dataclasses import replace

import numpy as np
import pytest
from simulated_arrays import PLATES

from sunhitch.types.panel import ConstructionName, Panel
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.commissioning.model import (
    StringState,
    Terminals,
    WeakGroup,
    terminals,
)
from sunhitch_service.engine.pv.cell import Diode
from sunhitch_service.engine.pv.network import NO_DIODE, LitPanel
from sunhitch_service.engine.pv.presets import ResolvedPanel, completed, lit_panel
from sunhitch_service.engine.pv.solution import Interconnection, Solution, solve_array

SUN_W_M2, CELLS_C = 870.0, 44.0
KT_Q_V = 0.0256926
"""At 25 °C."""
NEAR = 2e-4
"""Of currents and voltages: both are read off curves of 1,500 points."""
DIODE_V = 0.05
"""One takes a diode's voltage at all of the string's current, the other at the diode's own."""
WEAK = 3e-3
"""The same where a weak cell decides: half of what the model is trusted to."""


def panel_of(construction: ConstructionName) -> ResolvedPanel:
    return completed(Panel(electrical=PLATES[0], construction=construction), Assumptions(), "")


def lit(kind: ResolvedPanel, share: float = 1.0, warmer_k: float = 0.0) -> LitPanel:
    shape = kind.layout.paths_in_parallel, kind.layout.positions_in_series
    return lit_panel(kind, SUN_W_M2, CELLS_C + warmer_k, np.full(shape, share))


def exact(strings: list[list[LitPanel]], resistance: float = 0.0) -> Solution:
    names = [[f"{k}-{n}" for n in range(len(own))] for k, own in enumerate(strings)]
    panels = {
        name: panel
        for own, row in zip(names, strings, strict=True)
        for name, panel in zip(own, row, strict=True)
    }
    return solve_array(panels, Interconnection(names, NO_DIODE, resistance))


def ours(strings: list[StringState], cable_ohm: float = 0.0) -> Terminals:
    return terminals(strings, cable_ohm, SUN_W_M2, CELLS_C)


def agree(
    found: Terminals,
    due: Solution,
    cable_ohm: float = 0.0,
    volts: float = 0.0,
    near: float = NEAR,
) -> None:
    """At open and short circuit, and where the power behind a cable is largest."""
    open_v = due.points.open_circuit_voltage
    v = open_v * (1.0 - np.linspace(1.0, 0.0, 20_001) ** 4)
    i = due.curve.currents(v)[0]
    outside = v - cable_ohm * i
    best = int(np.argmax(outside * i))
    assert found.open_circuit_v == pytest.approx(open_v, abs=volts + NEAR * open_v)
    short_a = float(np.interp(0.0, outside, i))
    assert found.short_circuit_a == pytest.approx(short_a, rel=near)
    maximum_w = float(outside[best] * i[best])
    our_w = found.maximum_v * found.maximum_a
    assert our_w == pytest.approx(maximum_w, abs=near * maximum_w + volts * i[best])
    assert found.maximum_v == pytest.approx(outside[best], rel=1e-2, abs=2.0 * volts)
    assert found.maximum_a == pytest.approx(i[best], rel=1e-2)


@pytest.mark.parametrize("construction", ["full-cell-2-diodes", "half-cell-3-diodes"])
@pytest.mark.parametrize(
    ("state", "cells"),
    [
        ({"light": 0.7}, {"share": 0.7}),
        ({"warmer_k": 15.0}, {"warmer_k": 15.0}),
    ],
)
def test_a_string_in_less_light_or_hotter_beside_a_sound_one(construction, state, cells):
    kind = panel_of(construction)
    strings = [[lit(kind, **cells)] * 2, [lit(kind)] * 2]
    agree(ours([StringState(kind, 2, **state), StringState(kind, 2)]), exact(strings))


@pytest.mark.parametrize("construction", ["full-cell-2-diodes", "half-cell-2-diodes"])
def test_a_group_that_adds_nothing(construction):
    kind = panel_of(construction)
    whole = lit(kind)
    short = replace(whole, groups=whole.groups[1:])
    found = ours([StringState(kind, 2, lost_positions=18.0), StringState(kind, 2)])
    agree(found, exact([[short, whole], [whole, whole]]))


def test_a_string_that_is_open_gives_nothing():
    kind = panel_of("full-cell-2-diodes")
    agree(
        ours([StringState(kind, 2, is_open=True), StringState(kind, 2)]), exact([[lit(kind)] * 2])
    )
    alone = ours([StringState(kind, 2, is_open=True)])
    points = alone.open_circuit_v, alone.short_circuit_a, alone.maximum_v, alone.maximum_a
    assert points == (0.0, 0.0, 0.0, 0.0)
    assert alone.voltage.tolist() == alone.current.tolist() == [0.0, 0.0]


@pytest.mark.parametrize("construction", ["full-cell-2-diodes", "half-cell-2-diodes"])
@pytest.mark.parametrize("left", [0.3, 0.6, 0.88])
@pytest.mark.parametrize("panels", [1, 2])
def test_a_cell_that_gives_less(construction, left, panels):
    kind = panel_of(construction)
    light = np.ones((kind.layout.paths_in_parallel, 36))
    light[0, 5] = left
    weak = replace(lit(kind), light=light)
    found = ours([StringState(kind, panels, weak=WeakGroup(18, True, left), weak_groups=1)])
    agree(found, exact([[weak, *[lit(kind)] * (panels - 1)]]), 0.0, DIODE_V, WEAK)


def test_a_cell_that_gives_less_where_no_diode_leads_around_it():
    kind = panel_of("full-cell-no-diode")
    light = np.ones((1, 36))
    light[0, 5] = 0.6
    found = ours([StringState(kind, 1, weak=WeakGroup(36, False, 0.6), weak_groups=1)])
    agree(found, exact([[replace(lit(kind), light=light)]]), near=WEAK)


@pytest.mark.parametrize("construction", ["full-cell-2-diodes", "half-cell-2-diodes"])
@pytest.mark.parametrize("left", [0.7, 0.9])
def test_groups_that_all_give_less_are_a_string_in_less_light(construction, left):
    """No cell is driven backwards: what is lost in series is that of sound cells."""
    kind = panel_of(construction)
    weak = WeakGroup(18, True, left, 18, kind.layout.paths_in_parallel)
    found = ours([StringState(kind, 1, weak=weak, weak_groups=2)])
    agree(found, exact([[lit(kind, left)]]), volts=0.01, near=WEAK)


@pytest.mark.parametrize("construction", ["full-cell-2-diodes", "half-cell-2-diodes"])
@pytest.mark.parametrize("groups", [1, 2])
def test_groups_that_are_shaded(construction, groups):
    kind = panel_of(construction)
    paths = kind.layout.paths_in_parallel
    light = np.ones((paths, 36))
    light[:, : 18 * groups] = 0.15
    weak = WeakGroup(18, True, 0.15, 18, paths)
    found = ours([StringState(kind, 3, weak=weak, weak_groups=groups)])
    due = exact([[replace(lit(kind), light=light), lit(kind), lit(kind)]])
    agree(found, due, volts=groups * DIODE_V)


@pytest.mark.parametrize("diode", [Diode(1e-6, 1.05 * KT_Q_V, 0.01), Diode(1e-9, 2 * KT_Q_V, 0.0)])
def test_a_group_that_is_led_around_costs_what_its_own_diode_drops(diode):
    """By Shockley's equation, some 0.5 V over a Schottky diode and 1.2 V over a silicon one, at all
    of the string's current; against a group that adds nothing, at half of it."""
    kind = replace(panel_of("full-cell-2-diodes"), diode=diode)
    dark = ours([StringState(kind, 2, weak=WeakGroup(18, True, 0.01, 18, 1), weak_groups=1)])
    none = ours([StringState(kind, 2, lost_positions=18.0)])
    there, here = (
        float(np.interp(0.5 * none.short_circuit_a, c.current[::-1], c.voltage[::-1]))
        for c in (dark, none)
    )
    all_a = none.short_circuit_a
    dropped = diode.thermal_voltage * np.log(all_a / diode.saturation_current)
    assert here - there == pytest.approx(dropped + all_a * diode.series_resistance, abs=2e-3)


@pytest.mark.parametrize("ohm", [0.2, 1.0])
def test_resistance_in_a_string_and_in_a_cable(ohm):
    kind = panel_of("full-cell-2-diodes")
    one = StringState(kind, 2)
    agree(ours([replace(one, extra_ohm=ohm)]), exact([[lit(kind)] * 2], ohm))
    agree(ours([one] * 3, ohm), exact([[lit(kind)] * 2] * 3), cable_ohm=ohm)


@pytest.mark.parametrize(("strings", "ohm"), [(1, 2.5), (1, 10.0), (2, 7.0), (24, 10.0)])
def test_a_cable_that_leaves_little_of_the_curve(strings, ohm):
    kind = panel_of("full-cell-2-diodes")
    agree(ours([StringState(kind, 1)] * strings, ohm), exact([[lit(kind)]] * strings), ohm)


def test_a_cable_that_leaves_little_of_the_curve_of_unequal_strings():
    """The one in less light ends at a lower voltage than the array."""
    kind = panel_of("full-cell-2-diodes")
    dim, many = StringState(kind, 1, light=0.3), [StringState(kind, 1)] * 23
    agree(ours([dim, *many], 10.0), exact([[lit(kind, 0.3)], *[[lit(kind)]] * 23]), 10.0)


def test_a_string_that_is_shorted_takes_all_that_others_give():
    kind = panel_of("full-cell-2-diodes")
    found = ours([StringState(kind, 1, lost_positions=36.0), StringState(kind, 1)])
    assert (found.open_circuit_v, found.maximum_v, found.maximum_a) == (0.0, 0.0, 0.0)
