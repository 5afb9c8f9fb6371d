"""What a meter should read: one band in the flat question and in the commissioning check."""

import msgspec
import numpy as np
import pytest

from sunhitch import examples
from sunhitch.types.commissioning import (
    CheckedArray,
    CheckedString,
    CommissioningCheckRequest,
    InsulationReading,
    IrradianceReading,
    Reading,
)
from sunhitch.types.fitout import FitOutRequest
from sunhitch.types.panel import Panel, PanelElectrical, PanelType
from sunhitch.types.quick.readings import HalfCoveredQuestion, MeterReadingQuestion
from sunhitch_service.engine.commissioning.calculation import commissioning_check
from sunhitch_service.engine.fitout.calculation import fit_out
from sunhitch_service.quick.readings import half_covered, meter_reading

PLATE = {"v_mp_v": 19.2, "i_mp_a": 5.99, "v_oc_v": 22.9, "i_sc_a": 6.4, "cells_in_series": 36}


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("edge", [0.999, 1.001])
def test_a_reading_passes_inside_the_band_only(seed, edge):
    draw = np.random.default_rng(seed)
    light, heat = draw.uniform(500.0, 1050.0), draw.uniform(15.0, 60.0)
    strings, in_series = int(draw.integers(1, 4)), int(draw.integers(1, 4))
    cable = float(draw.uniform(0.0, 0.1))
    asked = {"irradiance_w_m2": light, "cell_c": heat, "cable_ohm": cable}
    counts = {"panels_in_series": in_series, "strings_in_parallel": strings}
    band = meter_reading(MeterReadingQuestion(**PLATE, **asked, **counts))
    plate = PanelElectrical(p_mp_w=19.2 * 5.99, **PLATE)
    shared = {
        "taken_at": "2027-06-21T12:00:00Z",
        "light": IrradianceReading(irradiance_w_m2=light),
        "cell_temperature_c": heat,
    }
    volts, amperes = band.open_circuit_low_v * edge, band.short_circuit_low_a * edge
    answer = commissioning_check(
        CommissioningCheckRequest(
            array=CheckedArray(
                panel_types=[PanelType(name="p", panel=Panel(electrical=plate))],
                strings=[
                    CheckedString(name=f"s{k}", panel_type="p", panels_in_series=in_series)
                    for k in range(strings)
                ],
                cable_resistance_ohm=cable,
            ),
            readings=[
                Reading(name="v", kind="open-circuit", voltage_v=volts, **shared),
                Reading(name="i", kind="short-circuit", current_a=amperes, **shared),
            ],
        )
    )
    expected = [one.quantities[0].expected for one in answer.readings]
    assert expected == pytest.approx([band.open_circuit_v, band.short_circuit_a])
    passes = [one.verdict == "pass" for one in answer.readings]
    assert passes == [edge > 1.0, edge > 1.0]


def test_without_shade_of_light_and_heat_the_nameplate_is_read():
    asked = MeterReadingQuestion(**PLATE, irradiance_w_m2=1000.0, cell_c=25.0)
    band = meter_reading(asked)
    told = (band.open_circuit_v, band.short_circuit_a, band.working_v, band.working_a)
    assert told == pytest.approx((22.9, 6.4, 19.2, 5.99), rel=5e-3)
    assert band.open_circuit_low_v < 22.9 < band.open_circuit_high_v


@pytest.mark.parametrize(
    ("construction", "groups", "cells"),
    [
        # One of two groups by its diode: half the voltage, and all of the current.
        ("full-cell-2-diodes", (0.5, 1.0), (None, 0.0)),
        # One of two paths in every group: half the current at the whole voltage.
        ("half-cell-2-diodes", (0.5, 1.0), (1.0, 0.5)),
        # No diode: dark cells let nothing through.
        ("full-cell-no-diode", (None, 0.0), (None, 0.0)),
    ],
)
def test_half_a_panel_covered(construction, groups, cells):
    """By hand from the circuit; a Schottky diode takes 0.4 to 0.6 V, shunts a few per cent."""
    asked = {"irradiance_w_m2": 1000.0, "cell_c": 25.0}
    found = half_covered(HalfCoveredQuestion(**PLATE, **asked, construction=construction))
    ways = (found.groups_v, found.groups_a), (found.cells_v, found.cells_a)
    for (volts, amperes), (v_share, a_share) in zip(ways, (groups, cells), strict=True):
        assert amperes == pytest.approx(5.99 * a_share, abs=0.06 * 5.99)
        if v_share is not None:
            drop = 0.5 if v_share < 1.0 else 0.0
            assert volts == pytest.approx(19.2 * v_share - drop, abs=0.05 * 19.2)
    assert found.uncovered_w == pytest.approx(19.2 * 5.99, rel=5e-3)


@pytest.mark.parametrize("v_oc_v", [22.9, 24.1])
@pytest.mark.parametrize("in_series", [2, 4])
def test_insulation_is_asked_for_alike_on_the_sheet_and_in_the_check(v_oc_v, in_series):
    """IEC 62446-1, Table 1: 1.25 × Voc at 25 °C up to 120 V asks for 0.5 MΩ at 250 V, above for 1.

    Four panels of 22.9 V make 114.5 V, of 24.1 V 120.5 V, however cold the site is.
    """
    job = examples.load("fit-out")
    names = [place.name for place in job.placements]
    kinds = msgspec.to_builtins(job.panel_types)
    for kind in kinds:
        kind["panel"]["electrical"]["v_oc_v"] = v_oc_v
    strings = [names[n : n + in_series] for n in range(0, 4, in_series)]
    drawn = [{"controller": job.controllers[0].name, "strings": strings}]
    changed = {"panel_types": kinds, "drawn": drawn, "light": [], "harvest": None}
    sheet = fit_out(msgspec.convert(msgspec.to_builtins(job) | changed, FitOutRequest))
    (told,) = (
        reading
        for step in sheet.work_steps
        for reading in step.readings
        if reading.quantity == "insulation-resistance"
    )
    array = CheckedArray(
        panel_types=[PanelType(name="p", panel=job.panel_types[0].panel)],
        strings=[CheckedString(name="s", panel_type="p", panels_in_series=in_series)],
    )
    plate = msgspec.structs.replace(array.panel_types[0].panel.electrical, v_oc_v=v_oc_v)
    panel = msgspec.structs.replace(array.panel_types[0].panel, electrical=plate)
    light = IrradianceReading(irradiance_w_m2=900.0)
    taken = {"taken_at": "2027-06-21T12:00:00Z", "cell_temperature_c": 40.0, "light": light}
    answer = commissioning_check(
        CommissioningCheckRequest(
            array=msgspec.structs.replace(array, panel_types=[PanelType(name="p", panel=panel)]),
            readings=[Reading(name="v", kind="open-circuit", voltage_v=80.0, **taken)],
            insulation=[InsulationReading(test_voltage_v=500.0, resistance_ohm=2e6)],
        )
    )
    check = next(one for one in answer.checks if one.code == "insulation")
    assert told.low == check.demand / 1e6 == (1.0 if 1.25 * in_series * v_oc_v > 120.0 else 0.5)
