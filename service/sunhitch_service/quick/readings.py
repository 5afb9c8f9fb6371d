"""What a meter should read on a sound array, by the functions that judge readings."""

from dataclasses import dataclass
from typing import TypedDict

import numpy as np

from sunhitch.types.commissioning import (
    CheckedArray,
    CheckedString,
    CommissioningCheckRequest,
    IrradianceReading,
    MeasuredQuantity,
    Reading,
    ReadingKind,
)
from sunhitch.types.panel import CellLayout, ConstructionName, Panel, PanelElectrical, PanelType
from sunhitch.types.quick.readings import (
    HalfCoveredQuestion,
    MeterReadingQuestion,
    PanelNowQuestion,
    QuickHalfCovered,
    QuickMeterReading,
)
from sunhitch_service.engine.cautions import cautions
from sunhitch_service.engine.commissioning.evidence import figures_of
from sunhitch_service.engine.commissioning.practice import figure
from sunhitch_service.engine.commissioning.setup import CommissioningInspection, settle
from sunhitch_service.engine.pv.cell import Array
from sunhitch_service.engine.pv.presets import lit_panel
from sunhitch_service.engine.pv.solution import Interconnection, MaximumPower, maximum_power
from sunhitch_service.engine.rules.readings import least_normal
from sunhitch_service.engine.sources import basis

from .question import Question, assumed, cited, warned

_KINDS: tuple[ReadingKind, ...] = ("open-circuit", "short-circuit", "operating")
_CAUTIONS = ("lit-panel", "meter-work", "dc-arc")


@dataclass(frozen=True, slots=True)
class _Band:
    """Expected reading, and the 95 % band of a sound array."""

    expected: float
    low: float
    high: float


def meter_reading(asked: MeterReadingQuestion) -> QuickMeterReading:
    """Readings that a commissioning check would expect, with their band."""
    inspection = _inspection(asked, None)
    found: dict[str, _Band] = {}
    for index, kind in enumerate(_KINDS):
        for item in figures_of(inspection, index):
            found[f"{kind} {item.quantity}"] = _band(item.quantity, item.expected, item.share())
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
        **_words(inspection),
    )


def half_covered(asked: HalfCoveredQuestion) -> QuickHalfCovered:
    """Power with a light-tight cover across whole bypass groups, and across all of them."""
    inspection = _inspection(asked, asked.construction)
    power = figures_of(inspection, _KINDS.index("operating"))[-1]
    layout = inspection.panels["panel"].layout
    groups, cells, bare = (
        _solved(inspection, light) for light in (_over_groups(layout), _over_cells(layout), None)
    )
    share = power.share()
    by_groups, by_cells = (_band("power", one.power, share) for one in (groups, cells))
    return QuickHalfCovered(
        groups_power_w=by_groups.expected,
        groups_low_w=by_groups.low,
        groups_high_w=by_groups.high,
        groups_v=groups.voltage,
        groups_a=groups.current,
        cells_power_w=by_cells.expected,
        cells_low_w=by_cells.low,
        cells_high_w=by_cells.high,
        cells_v=cells.voltage,
        cells_a=cells.current,
        uncovered_w=bare.power,
        **_words(inspection),
    )


def _band(quantity: MeasuredQuantity, expected: float, share: float) -> _Band:
    """From the least that counts as normal to the most that a sound array can show."""
    uncertainty = figure("coverage") * share * expected
    low = max(0.0, least_normal(quantity, expected) - uncertainty)
    return _Band(expected, low, expected + uncertainty)


def _over_groups(layout: CellLayout) -> Array:
    """Light with a cover over the first half of the bypass groups."""
    half = layout.bypass[: (len(layout.bypass) + 1) // 2]
    light = np.ones((layout.paths_in_parallel, layout.positions_in_series))
    light[:, : half[-1].last + 1] = 0.0
    return light


def _over_cells(layout: CellLayout) -> Array:
    """Light with a cover over half of the cells of every group: whole paths where there are two."""
    light = np.ones((layout.paths_in_parallel, layout.positions_in_series))
    if layout.paths_in_parallel > 1:
        light[: layout.paths_in_parallel // 2] = 0.0
        return light
    for group in layout.bypass:
        light[:, group.first : (group.first + group.last) // 2 + 1] = 0.0
    return light


def _solved(inspection: CommissioningInspection, light: Array | None) -> MaximumPower:
    """One panel under its cover, cell by cell."""
    kind, at = inspection.panels["panel"], inspection.conditions[0]
    if light is None:
        light = np.ones((kind.layout.paths_in_parallel, kind.layout.positions_in_series))
    lit = lit_panel(kind, at.irradiance_w_m2, at.cell_c, light)
    return maximum_power({"panel": lit}, Interconnection([["panel"]]))


class _Words(TypedDict):
    assumed: str
    basis: str
    caution: str


def _words(inspection: CommissioningInspection) -> _Words:
    notes = inspection.assumptions.listed()
    once = [one for one in notes if not one.field.startswith(("/readings/1", "/readings/2"))]
    return _Words(
        assumed=assumed(once),
        basis=cited(basis("de-soto-2006", "translation to the light and heat of the reading")),
        caution=warned(cautions(*_CAUTIONS)),
    )


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
    light = IrradianceReading(irradiance_w_m2=asked.irradiance_w_m2)
    return settle(
        CommissioningCheckRequest(
            array=CheckedArray(
                panel_types=[PanelType(name="panel", panel=panel)],
                strings=[
                    CheckedString(name=f"{k}", panel_type="panel", panels_in_series=in_series)
                    for k in range(strings)
                ],
                cable_resistance_ohm=cable,
            ),
            readings=[
                Reading(
                    name=kind,
                    kind=kind,
                    taken_at="2027-06-21T12:00:00Z",
                    voltage_v=None if kind == "short-circuit" else 1.0,
                    current_a=None if kind == "open-circuit" else 1.0,
                    light=light,
                    cell_temperature_c=asked.cell_c,
                    air_c=asked.ambient_c,
                )
                for kind in _KINDS
            ],
        )
    )


READINGS = (
    Question(
        "meter-reading",
        "What should my meter read now?",
        "Open-circuit voltage, short-circuit current, and voltage, current and power at work of a "
        "sound array in the light and heat of now, each with the band that a commissioning check "
        "lets pass.",
        MeterReadingQuestion,
        QuickMeterReading,
        meter_reading,
        estimate_s=0.03,
    ),
    Question(
        "half-covered",
        "What with half of a panel covered?",
        "Power, voltage and current of a sound panel whose half is covered, light-tight: with the "
        "cover over whole bypass groups, and over half of the cells of each. A bypass diode that "
        "does not conduct shows next to nothing where whole groups are covered.",
        HalfCoveredQuestion,
        QuickHalfCovered,
        half_covered,
        estimate_s=0.1,
    ),
)
"""Questions about readings."""
