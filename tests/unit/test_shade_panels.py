"""Panels as they are given: what contradicts itself, and what is filled in."""

from typing import Any

import msgspec
import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import lambertw

from outside_figures import Outside
from sunhitch.types.panel import (
    BypassGroup,
    CellLayout,
    CellModel,
    DiodeModel,
    Panel,
    PanelElectrical,
)
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.pv.network import NO_DIODE
from sunhitch_service.engine.pv.presets import (
    completed,
    construction_of,
    given_cell,
    given_diode,
    preset_layout,
    resolve_panel,
)

PLATE = PanelElectrical(
    p_mp_w=90.0, v_mp_v=18.0, i_mp_a=5.0, v_oc_v=22.0, i_sc_a=5.4, cells_in_series=36
)
K_OVER_Q_T = 0.025692579
"""k·T/q at 25 °C [V] (CODATA)."""
CELL = CellModel(
    photocurrent_a=5.4,
    saturation_current_a=5.4 / float(np.expm1(22.0 / 36 / K_OVER_Q_T)),
    ideality_factor=1.0,
    series_resistance_ohm=0.0,
    shunt_resistance_ohm=1e6,
    breakdown_voltage_v=-15.0,
    breakdown_factor=0.0,
    breakdown_exponent=3.0,
)
"""With 0.6111 V in open circuit, as the nameplate's cells."""


def plate(**other: Any) -> PanelElectrical:
    """The nameplate with other figures, its power their product."""
    changed = msgspec.structs.replace(PLATE, **other)
    power = changed.v_mp_v * changed.i_mp_a
    return changed if "p_mp_w" in other else msgspec.structs.replace(changed, p_mp_w=power)


def faults(panel: Panel) -> list[tuple[str, str]]:
    """Where a panel contradicts itself, and how; empty if it does not."""
    try:
        resolve_panel(panel, Assumptions(), "/p")
    except ContradictionError as refused:
        return [(fault.pointer.removeprefix("/p/"), fault.message.code) for fault in refused.faults]
    return []


def of_plate(**other: Any) -> list[tuple[str, str]]:
    return faults(Panel(electrical=plate(**other)))


@pytest.mark.parametrize(
    ("inside", "beyond", "at", "code"),
    [
        ({"p_mp_w": 94.49}, {"p_mp_w": 94.51}, "p_mp_w", "power-not-product"),
        ({"p_mp_w": 85.51}, {"p_mp_w": 85.49}, "p_mp_w", "power-not-product"),
        ({"v_mp_v": 21.99}, {"v_mp_v": 22.0}, "v_mp_v", "voltage-beyond-end"),
        ({"v_mp_v": 11.0}, {"v_mp_v": 10.99}, "v_mp_v", "voltage-below-half"),
        ({"i_mp_a": 5.39}, {"i_mp_a": 5.4}, "i_mp_a", "current-beyond-end"),
        ({"i_mp_a": 2.7}, {"i_mp_a": 2.69}, "i_mp_a", "current-below-half"),
        (
            {"alpha_sc_fraction_per_c": -0.001, "gamma_pmp_fraction_per_c": -0.001},
            {"alpha_sc_fraction_per_c": -0.001, "gamma_pmp_fraction_per_c": -0.0009},
            "gamma_pmp_fraction_per_c",
            "voltage-rises-with-heat",
        ),
        (
            {"cells_in_series": 48},  # 0.458 V each; silicon has 0.45 to 0.85 V
            {"cells_in_series": 49},
            "cells_in_series",
            "voltage-per-silicon-cell",
        ),
        (
            {"cells_in_series": 26},
            {"cells_in_series": 25},
            "cells_in_series",
            "voltage-per-silicon-cell",
        ),
        (
            {"cells_in_series": 110, "cell_material": "other"},
            {"cells_in_series": 111, "cell_material": "other"},
            "cells_in_series",
            "voltage-per-other-cell",
        ),
        (
            {"cells_in_series": 6, "cell_material": "other"},
            {"cells_in_series": 5, "cell_material": "other"},
            "cells_in_series",
            "voltage-per-other-cell",
        ),
    ],
)
def test_each_limit_of_a_nameplate_from_both_sides(inside, beyond, at, code):
    """A product within 5 %, Vmp and Imp from half of the end to the end, Vmp in heat, cells."""
    assert of_plate(**inside) == []
    assert of_plate(**beyond) == [(f"electrical/{at}", code)]


@pytest.mark.parametrize(
    ("material", "cell_v"), [("silicon", 0.45), ("silicon", 0.85), ("other", 0.2), ("other", 4.0)]
)
def test_a_cell_may_have_the_least_and_the_most_volts(material, cell_v):
    one = {"v_mp_v": 0.8 * cell_v, "v_oc_v": cell_v, "cells_in_series": 1}
    assert of_plate(cell_material=material, **one) == []


def model(**other: Any) -> list[tuple[str, str]]:
    return faults(Panel(electrical=PLATE, cell_model=msgspec.structs.replace(CELL, **other)))


def saturation(cell_v: float) -> float:
    """Saturation current that gives an ideal cell of 5.4 A a voltage [A]."""
    return 5.4 / float(np.expm1(cell_v / K_OVER_Q_T))


@pytest.mark.parametrize(("inside", "beyond"), [(0.3056, 0.3054), (1.2221, 1.2224)])
def test_a_cell_model_has_half_to_twice_the_voltage_of_the_nameplates_cell(inside, beyond):
    """0.6111 V; the tolerance for another specimen is a factor of two."""
    assert model(saturation_current_a=saturation(inside)) == []
    assert model(saturation_current_a=saturation(beyond)) == [
        ("cell_model", "cell-model-of-other-panel")
    ]


@pytest.mark.parametrize(
    ("fill", "told"), [(0.26, []), (0.24, [("cell_model", "resistances-too-lossy")])]
)
def test_a_cell_model_gives_at_least_the_power_of_a_straight_line(fill, told):
    """From Isc to Voc, a quarter of their product; resistances that leave a bit more, or less."""

    def left(resistance: float) -> float:
        i = np.linspace(0.0, 5.4, 2000)[:-1]
        v = K_OVER_Q_T * np.log1p((5.4 - i) / CELL.saturation_current_a) - resistance * i
        return float((i * v).max()) / (5.4 * 22.0 / 36) - fill

    assert model(series_resistance_ohm=brentq(left, 0.0, 1.0)) == told


def test_a_breakdown_factor_at_which_the_current_would_fall_is_refused():
    """(m + 1)/(m − 1) to the power m + 1: 16 for an exponent of 3, none up to 1."""
    assert model(breakdown_factor=16.0) == []
    code = "breakdown-factor-too-large"
    assert model(breakdown_factor=16.01) == [("cell_model/breakdown_factor", code)]
    assert model(breakdown_factor=1000.0, breakdown_exponent=1.0) == []


@pytest.mark.parametrize(
    ("ideality", "resistance", "accepted"),
    [
        (1.0, 0.84, True),  # 0.398 V and 4.536 V
        (1.0, 0.86, False),
        (5.0, 0.55, True),  # 1.991 V and 2.97 V
        (5.0, 0.56, False),
    ],
)
def test_a_diode_drops_at_most_5_v_at_its_panels_current(ideality, resistance, accepted):
    """0.3 to 1.2 V are usual (common practice): n·k·T/q·ln(1 + 5.4 A/1e-6 A) + 5.4 A·Rs."""
    diode = DiodeModel(
        saturation_current_a=1e-6, ideality_factor=ideality, series_resistance_ohm=resistance
    )
    told = [] if accepted else [("bypass_diode", "diode-drops-too-much")]
    assert faults(Panel(electrical=PLATE, bypass_diode=diode)) == told


def laid(*groups: tuple[int, int], positions: int = 36) -> list[tuple[str, str]]:
    """Faults of a layout with these groups."""
    layout = CellLayout(
        paths_in_parallel=1,
        positions_in_series=positions,
        bypass=[BypassGroup(first=a, last=b, has_diode=True) for a, b in groups],
    )
    return faults(Panel(electrical=PLATE, cells=layout))


@pytest.mark.parametrize(
    ("groups", "told"),
    [
        ([(0, 17), (18, 35)], []),
        ([(0, 0), (1, 35)], []),
        ([(1, 35)], [("cells/bypass/0", "groups-not-in-order")]),
        ([(0, 17), (19, 35)], [("cells/bypass/1", "groups-not-in-order")]),
        ([(0, 17), (17, 35)], [("cells/bypass/1", "groups-not-in-order")]),
        ([(0, 17), (18, 16), (17, 35)], [("cells/bypass/1", "groups-not-in-order")]),
        ([(0, 34)], [("cells/bypass", "groups-end-early")]),
        ([(0, 36)], [("cells/bypass", "groups-end-early")]),
    ],
)
def test_groups_cover_all_positions_once_in_order(groups, told):
    assert laid(*groups) == told


def test_a_layout_that_ends_early_is_told_where_it_ends_and_where_it_should():
    layout = CellLayout(
        paths_in_parallel=1,
        positions_in_series=36,
        bypass=[BypassGroup(first=0, last=33, has_diode=True)],
    )
    with pytest.raises(ContradictionError) as refused:
        resolve_panel(Panel(electrical=PLATE, cells=layout), Assumptions(), "")
    assert refused.value.faults[0].message.parameters == {"last": 35, "end": 33}


def test_positions_are_the_nameplates_cells():
    assert laid((0, 34), positions=35) == [("cells/positions_in_series", "positions-not-cells")]
    layout = CellLayout(
        paths_in_parallel=1,
        positions_in_series=36,
        bypass=[BypassGroup(first=0, last=35, has_diode=True)],
    )
    both = Panel(electrical=PLATE, cells=layout, construction="full-cell-2-diodes")
    assert faults(both) == [("construction", "cells-or-construction")]


@pytest.mark.parametrize(
    ("construction", "cells", "paths", "ends", "guarded"),
    [
        ("full-cell-2-diodes", 36, 1, [17, 35], True),
        ("full-cell-2-diodes", 1, 1, [0], True),
        ("full-cell-3-diodes", 60, 1, [19, 39, 59], True),
        ("full-cell-3-diodes", 32, 1, [10, 20, 31], True),
        ("full-cell-no-diode", 36, 1, [35], False),
        ("half-cell-2-diodes", 36, 2, [17, 35], True),
        ("half-cell-3-diodes", 54, 2, [17, 35, 53], True),
        ("diode-every-2-cells", 6, 1, [1, 3, 5], True),
        ("diode-every-2-cells", 7, 1, [1, 3, 5, 6], True),
        ("back-contact-no-diode", 32, 1, [31], False),
        ("back-contact-2-diodes", 32, 1, [15, 31], True),
    ],
)
def test_groups_of_a_construction_are_as_equal_as_can_be(construction, cells, paths, ends, guarded):
    found = preset_layout(construction, cells)
    assert (found.paths_in_parallel, found.positions_in_series) == (paths, cells)
    assert [group.last for group in found.bypass] == ends
    assert [group.first for group in found.bypass] == [0, *(end + 1 for end in ends[:-1])]
    assert {group.has_diode for group in found.bypass} == {guarded}


@pytest.mark.parametrize(("cells", "diodes"), [(44, 2), (45, 3)])
def test_small_panels_are_taken_to_have_two_diodes_and_large_ones_three(cells, diodes):
    notes = Assumptions()
    chosen = construction_of(Panel(electrical=plate(cells_in_series=cells)), notes, "/p")
    assert chosen == f"full-cell-{diodes}-diodes"
    assert [(one.field, one.value) for one in notes.listed()] == [("/p/construction", chosen)]


def test_a_given_construction_or_layout_is_not_assumed():
    notes = Assumptions()
    named = Panel(electrical=PLATE, construction="half-cell-3-diodes")
    assert construction_of(named, notes, "") == "half-cell-3-diodes"
    laid_out = Panel(electrical=PLATE, cells=preset_layout("full-cell-3-diodes", 36))
    assert construction_of(laid_out, notes, "") == "full-cell-2-diodes"
    assert notes.listed() == []


def test_a_cell_and_a_diode_as_given(outside: Outside):
    """Thermal voltage n·k·T/q at 25 °C, conductance 1/Rsh."""
    cell = given_cell(msgspec.structs.replace(CELL, ideality_factor=1.3, shunt_resistance_ohm=8.0))
    diode = given_diode(
        DiodeModel(saturation_current_a=2e-6, ideality_factor=1.2, series_resistance_ohm=0.02)
    )
    outside(
        [cell.junction.thermal_voltage, diode.thermal_voltage, cell.junction.shunt_conductance],
        [1.3 * K_OVER_Q_T, 1.2 * K_OVER_Q_T, 0.125],
        rel=1e-6,
        of="thermal voltages of cell and diode, and shunt conductance",
        source="n·k·T/q with k and q of CODATA 2018, T = 298.15 K",
        kind="hand-worked",
    )
    assert (diode.saturation_current, diode.series_resistance) == (2e-6, 0.02)
    assert given_diode(None) == NO_DIODE


def test_what_is_not_given_is_chosen_and_told():
    notes = Assumptions()
    found = completed(Panel(electrical=PLATE), notes, "/p")
    told = {one.field.removeprefix("/p/"): one.value for one in notes.listed()}
    assert told["electrical/alpha_sc_fraction_per_c"] == found.coefficients.alpha_sc > 0.0
    assert told["electrical/beta_voc_fraction_per_c"] == found.coefficients.beta_voc < 0.0
    assert told["electrical/gamma_pmp_fraction_per_c"] == found.coefficients.gamma_pmp < 0.0
    assert told["cell_model/breakdown_voltage_v"] == found.cell.junction.breakdown_voltage
    assert told["bypass_diode/saturation_current_a"] == found.diode.saturation_current
    assert found.by_nameplate
    bare = completed(Panel(electrical=PLATE, construction="full-cell-no-diode"), notes, "")
    assert bare.diode == NO_DIODE


def test_the_usual_diode_drops_what_a_schottky_diode_does(outside: Outside):
    """1.05·k·T/q·ln(5 A/1e-6 A) + 5 A·0.01 Ω."""
    diode = completed(Panel(electrical=PLATE), Assumptions(), "").diode
    drop = diode.thermal_voltage * np.log1p(5.0 / diode.saturation_current)
    outside(
        drop + 5.0 * diode.series_resistance,
        0.47,
        abs=0.01,
        of="usual bypass diode at 5 A and 25 °C",
        source="Schottky bypass diodes",
        unit="V",
        seen="common practice",
    )


def ideal_plate(ideality: float) -> PanelElectrical:
    """Of cells without series resistance or shunt: (1 + v)·exp(v) = 1 + IL/I0 at the maximum."""
    vt, cell_v = ideality * K_OVER_Q_T, 22.0 / 36
    over = float(np.expm1(cell_v / vt))
    v = float(lambertw(np.e * (1.0 + over)).real) - 1.0
    return plate(v_mp_v=36 * vt * v, i_mp_a=5.4 * (1.0 - np.expm1(v) / over))


@pytest.mark.parametrize(
    ("ideality", "code"),
    [(0.93, "fitted-to-nameplate"), (0.87, "fitted-below-usual"), (0.27, "no-physical-set")],
)
def test_how_the_nameplate_was_met_is_told(ideality, code):
    """Losses only take power, so that no larger ideality meets an ideal cell's nameplate."""
    notes, own = Assumptions(), ideal_plate(ideality)
    completed(Panel(electrical=own), notes, "")
    (told,) = [one for one in notes.listed() if one.field == "/cell_model/ideality_factor"]
    assert told.code == code
    if code != "no-physical-set":
        assert ideality - 0.04 <= told.value <= ideality
    else:
        fill = own.v_mp_v * own.i_mp_a / (own.v_oc_v * own.i_sc_a)
        assert told.parameters["fill_fraction"] == pytest.approx(fill)


def told_of(field: str, figure: float) -> list[Any]:
    """Assumptions about a figure of the nameplate that was given."""
    made = Assumptions()
    completed(Panel(electrical=plate(**{field: figure})), made, "")
    return [one for one in made.listed() if one.field == f"/electrical/{field}"]


@pytest.mark.parametrize(
    ("field", "met", "beyond", "code", "least"),
    [
        ("gamma_pmp_fraction_per_c", -0.0041, -0.012, "coefficients-do-not-fit", 2e-4),
        ("low_light_efficiency_fraction", 0.95, 0.6, "nearest-low-light", 1e-3),
    ],
)
def test_a_figure_that_no_cell_of_the_nameplate_meets_is_told(field, met, beyond, code, least):
    """From a difference of 0.02 %/K, and of a thousandth of the efficiency; not a tenth less."""
    assert told_of(field, met) == []
    (told,) = told_of(field, beyond)
    assert told.code == code
    assert beyond < told.value < met
    if field.startswith("low_light"):
        assert told.value == round(told.value, 4)
    assert told_of(field, told.value - 0.95 * least) == []
    assert told_of(field, told.value - 1.1 * least)[0].code == code
