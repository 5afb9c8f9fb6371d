"""What a meter should read on a sound array, by the functions that judge readings."""

from sunhitch.types.panel import ConstructionName, Panel, PanelElectrical
from sunhitch.types.quick.readings import (
    HalfCoveredQuestion,
    MeterReadingQuestion,
    PanelNowQuestion,
    QuickHalfCovered,
    QuickMeterReading,
)
from sunhitch_service.engine.cautions import cautions
from sunhitch_service.engine.commissioning.setup import CommissioningInspection
from sunhitch_service.engine.commissioning.sound_array import (
    half_lit,
    power_band,
    shorted_band,
    sound_array,
    sound_readings,
)
from sunhitch_service.engine.sources import basis

from .words import assumed, cited, warned

_BASIS = cited(basis("de-soto-2006", "translation to the light and heat of the reading"))
_CAUTION = warned(cautions("lit-panel", "meter-work", "dc-arc"))


def meter_reading(asked: MeterReadingQuestion) -> QuickMeterReading:
    """Readings that a commissioning check would expect, with their band."""
    inspection = _inspection(asked, None)
    found = sound_readings(inspection)
    volts, amperes = found["open-circuit voltage"], found["short-circuit current"]
    work_v, work_a = found["operating voltage"], found["operating current"]
    power = found["operating power"]
    return QuickMeterReading(
        open_circuit_v=volts.expected,
        open_circuit_low_v=volts.low,
        open_circuit_high_v=volts.high,
        short_circuit_a=amperes.expected,
        short_circuit_low_a=amperes.low,
        short_circuit_high_a=amperes.high,
        working_v=work_v.expected,
        working_low_v=work_v.low,
        working_high_v=work_v.high,
        working_a=work_a.expected,
        working_low_a=work_a.low,
        working_high_a=work_a.high,
        power_w=power.expected,
        power_low_w=power.low,
        power_high_w=power.high,
        assumed=_assumed(inspection),
        basis=_BASIS,
        caution=_CAUTION,
    )


def half_covered(asked: HalfCoveredQuestion) -> QuickHalfCovered:
    """Power with a light-tight cover across whole bypass groups, and across all of them."""
    inspection = _inspection(asked, asked.construction)
    groups, cells, bare = (half_lit(inspection, cover) for cover in ("groups", "cells", "none"))
    by_groups, by_cells = (power_band(inspection, one.power) for one in (groups, cells))
    shorted = shorted_band(inspection, groups.short_circuit_current)
    return QuickHalfCovered(
        groups_power_w=by_groups.expected,
        groups_low_w=by_groups.low,
        groups_high_w=by_groups.high,
        groups_v=groups.voltage,
        groups_a=groups.current,
        groups_short_circuit_a=shorted.expected,
        groups_short_circuit_low_a=shorted.low,
        groups_short_circuit_high_a=shorted.high,
        cells_power_w=by_cells.expected,
        cells_low_w=by_cells.low,
        cells_high_w=by_cells.high,
        cells_v=cells.voltage,
        cells_a=cells.current,
        uncovered_w=bare.power,
        assumed=_assumed(inspection),
        basis=_BASIS,
        caution=_CAUTION,
    )


def _assumed(inspection: CommissioningInspection) -> str:
    """What holds for all readings, once."""
    notes = inspection.assumptions.listed()
    repeated = ("/readings/1", "/readings/2")
    return assumed([one for one in notes if not one.field.startswith(repeated)])


def _inspection(
    asked: PanelNowQuestion, construction: ConstructionName | None
) -> CommissioningInspection:
    """The array with one reading of each kind, whose figures are not looked at."""
    plate = PanelElectrical(
        p_mp_w=asked.v_mp_v * asked.i_mp_a,
        v_mp_v=asked.v_mp_v,
        i_mp_a=asked.i_mp_a,
        v_oc_v=asked.v_oc_v,
        i_sc_a=asked.i_sc_a,
        cells_in_series=asked.cells_in_series,
        alpha_sc_fraction_per_c=asked.alpha_sc_fraction_per_c,
        beta_voc_fraction_per_c=asked.beta_voc_fraction_per_c,
        gamma_pmp_fraction_per_c=asked.gamma_pmp_fraction_per_c,
        cell_material=asked.cell_material,
    )
    strings, in_series, cable = 1, 1, 0.0
    if isinstance(asked, MeterReadingQuestion):
        strings, in_series = asked.strings_in_parallel or 1, asked.panels_in_series or 1
        cable = asked.cable_ohm or 0.0
    panel = Panel(electrical=plate, construction=construction)
    heat = asked.cell_c, asked.ambient_c
    return sound_array(panel, asked.irradiance_w_m2, heat, (strings, in_series), cable)
