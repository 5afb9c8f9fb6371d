"""Panels in series and parallel: voltages in frost and heat, and what a controller takes."""

import math

from sunhitch.texts import sentence, statement, together
from sunhitch.types.basis import Basis
from sunhitch.types.check import Verdict
from sunhitch.types.quick.arrays import (
    CellTemperatureQuestion,
    ColdVocQuestion,
    ControllerCurrentQuestion,
    HotVmpQuestion,
    QuickCellTemperature,
    QuickColdVoc,
    QuickControllerCurrent,
    QuickHotVmp,
    QuickStringCount,
    StringCountQuestion,
)
from sunhitch.types.system import Chemistry, PanelMountingHeat, RuleSet
from sunhitch.types.wiring import WiringRules
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.battery.settings import chemistry_row, usual_charge_v
from sunhitch_service.engine.cautions import cautions
from sunhitch_service.engine.checks import verdict_of
from sunhitch_service.engine.controller.settings import switch_limit_a, usual_setting
from sunhitch_service.engine.errors import ContradictionError, Fault, Faults
from sunhitch_service.engine.pv.plausibility import coefficient_faults, end_faults
from sunhitch_service.engine.pv.temperature import cell_in_sun_c
from sunhitch_service.engine.pv.voltage import (
    cold_voc_v,
    hot_vmp_v,
    vmp_coefficient,
    voc_table_factor,
)
from sunhitch_service.engine.rules.controllers import (
    maximum_current_a,
    output_current,
    short_circuit,
)
from sunhitch_service.engine.rules.limits import limit, limit_basis
from sunhitch_service.engine.rules.voltages import (
    Method,
    cold_voc_basis,
    cold_voc_controller,
    hot_vmp_run,
    input_for_v,
    largest_series_count,
    table_ends_c,
)
from sunhitch_service.engine.sources import basis, sources_of
from sunhitch_service.engine.tables import table

from .words import assumed, cited, warned

_RULES: WiringRules = "nec-2023"
"""Rules of these questions; other editions have the same factors."""


def cold_voc(asked: ColdVocQuestion) -> QuickColdVoc:
    """Cold open-circuit voltage by the panel's coefficient, or by the table without one."""
    notes = Assumptions()
    panel, method = _cold_panel(asked.v_oc_v, asked.beta_voc_fraction_per_c, asked.lowest_ambient_c)
    in_series = _one_by_default(asked.panels_in_series, notes)
    verdict, remedy = _against_input(panel, in_series, asked.max_input_voltage_v, method)
    return QuickColdVoc(
        string_v_oc_v=panel * in_series,
        panel_v_oc_v=panel,
        verdict=verdict,
        remedy=remedy,
        assumed=assumed(notes.listed()),
        basis=cited(cold_voc_basis(method, _RULES)),
        caution=warned(cautions("lit-panel", "judgement")),
    )


def _cold_panel(v_oc_v: float, beta: float | None, air_c: float) -> tuple[float, Method]:
    """Voc of one panel and how it was found; refused below the end of the table."""
    if beta is not None:
        return cold_voc_v(v_oc_v, beta, air_c), "coefficient"
    factor = voc_table_factor(air_c)
    if factor is None:
        told = sentence("coldest-of-table", coldest_c=table_ends_c())
        raise ContradictionError([Fault("/beta_voc_fraction_per_c", told)])
    return v_oc_v * factor, "table"


def _one_by_default(panels_in_series: int | None, notes: Assumptions) -> int:
    why = statement("panel-by-itself")
    return int(notes.choose("/panels_in_series", panels_in_series, 1, why))


def _against_input(
    panel_v: float, in_series: int, limit_v: float | None, method: Method
) -> tuple[Verdict, str]:
    if limit_v is None:
        return "not-assessed", statement("give-to-judge", field="max_input_voltage_v")
    judged = cold_voc_controller(
        "", panel_v * in_series, limit_v, in_series, method, _RULES, limit("voltage-reserve")
    )
    return judged.verdict, judged.remedy


def hot_vmp(asked: HotVmpQuestion) -> QuickHotVmp:
    """Voltage at maximum power with hot cells, by the coefficients of power and of current."""
    notes = Assumptions()
    slope = _slope(asked.gamma_pmp_fraction_per_c, asked.alpha_sc_fraction_per_c, notes)
    in_series = _one_by_default(asked.panels_in_series, notes)
    panel = hot_vmp_v(asked.v_mp_v, slope, asked.hot_cell_c)
    verdict, remedy = _against_battery(panel * in_series, in_series, asked, notes)
    return QuickHotVmp(
        string_v_mp_v=panel * in_series,
        panel_v_mp_v=panel,
        coefficient_fraction_per_c=slope,
        verdict=verdict,
        remedy=remedy,
        assumed=assumed(notes.listed()),
        basis=cited(_slope_basis(), limit_basis("hot-vmp-shortfall")),
    )


def _slope(gamma: float | None, alpha: float | None, notes: Assumptions) -> float:
    faults = Faults()
    coefficient_faults(gamma, alpha, "", faults)
    faults.raise_any()
    return vmp_coefficient(
        _usual("gamma_pmp_fraction_per_c", gamma, notes),
        _usual("alpha_sc_fraction_per_c", alpha, notes),
    )


def _usual(name: str, given: float | None, notes: Assumptions) -> float:
    usual = table("pv", "coefficients")
    default = float(usual.row("coefficient", name)["fraction_per_c"])
    return notes.choose(
        f"/{name}",
        given,
        default,
        statement("as-cited", source=usual.basis.reference, note=usual.basis.note),
    )


def _slope_basis() -> Basis:
    return basis("physics", "Vmp = Pmp ÷ Imp, so that its coefficient is that of Pmp less Isc's")


def _needed_v(charge_voltage_v: float, margin_v: float | None, notes: Assumptions) -> float:
    """Panel voltage at which a controller still charges a full battery [V]."""
    usual = usual_setting("mppt", "run_margin_v")
    why = statement("usual-of-mppt")
    return charge_voltage_v + notes.choose("/run_margin_v", margin_v, usual, why)


def _against_battery(
    string_v: float, in_series: int, asked: HotVmpQuestion, notes: Assumptions
) -> tuple[Verdict, str]:
    if asked.charge_voltage_v is None:
        return "not-assessed", statement("give-to-judge", field="charge_voltage_v")
    full = _needed_v(asked.charge_voltage_v, asked.run_margin_v, notes)
    while_charging = notes.choose(
        "/working_voltage_v",
        asked.working_voltage_v,
        asked.charge_voltage_v,
        statement("full-battery"),
    )
    working = while_charging + full - asked.charge_voltage_v
    judged = hot_vmp_run("", string_v, in_series, full, working)
    return judged.verdict, judged.remedy


def string_count(asked: StringCountQuestion) -> QuickStringCount:
    """Most panels in series for the cold, fewest for the heat."""
    notes = Assumptions()
    cold, method = _cold_panel(asked.v_oc_v, asked.beta_voc_fraction_per_c, asked.lowest_ambient_c)
    slope = _slope(asked.gamma_pmp_fraction_per_c, asked.alpha_sc_fraction_per_c, notes)
    hot = hot_vmp_v(asked.v_mp_v, slope, asked.hot_cell_c)
    _refuse_wrong_plate(asked, hot)
    needed = _needed_v(_charging_v(asked.charge_voltage_v, notes), asked.run_margin_v, notes)
    largest = largest_series_count(cold, asked.max_input_voltage_v)
    smallest = math.ceil(needed / hot - 1e-9)
    verdict, remedy = _between(smallest, largest, cold, asked.max_input_voltage_v, method)
    return QuickStringCount(
        largest=largest,
        smallest=smallest,
        largest_v_oc_v=cold * largest,
        smallest_v_mp_v=hot * smallest,
        verdict=verdict,
        remedy=remedy,
        assumed=assumed(notes.listed()),
        basis=cited(cold_voc_basis(method, _RULES), _slope_basis()),
        caution=warned(cautions("lit-panel", "judgement")),
    )


def _charging_v(given: float | None, notes: Assumptions) -> float:
    chemistry: Chemistry = "lithium-iron-phosphate"
    why = statement("lithium-12-v", note=chemistry_row(chemistry)["row_note"])
    return notes.choose("/charge_voltage_v", given, usual_charge_v(chemistry, 12.0), why)


def _refuse_wrong_plate(asked: StringCountQuestion, hot_v: float) -> None:
    faults = Faults()
    end_faults("voltage", asked.v_mp_v, asked.v_oc_v, "/v_mp_v", faults)
    faults.add_if(
        hot_v <= 0.0,
        "/gamma_pmp_fraction_per_c",
        "no-voltage-left",
    )
    faults.raise_any()


def _between(
    smallest: int, largest: int, cold_v: float, limit_v: float, method: Method
) -> tuple[Verdict, str]:
    if smallest > largest:
        wanted = input_for_v(cold_v * smallest, limit("voltage-reserve"))
        return "fail", statement("no-number-in-series", panels=smallest, input_v=wanted)
    verdict, remedy = _against_input(cold_v, largest, limit_v, method)
    return verdict, remedy and statement("with-in-series", panels=largest, remedy=remedy)


def cell_temperature(asked: CellTemperatureQuestion) -> QuickCellTemperature:
    """Cell temperature in calm air, rather too high than too low."""
    notes = Assumptions()
    back = asked.mounting_heat or "open-gap"
    if asked.mounting_heat is None:
        notes.note("/mounting_heat", back, statement("feet-over-gap"))
    light = notes.choose("/irradiance_w_m2", asked.irradiance_w_m2, 1000.0, statement("full-sun"))
    heat = PanelMountingHeat(back=back, gap_m=asked.gap_m, noct_c=asked.noct_c)
    _refuse_idle(asked, back)
    cell = cell_in_sun_c(heat, light, asked.ambient_c, notes)
    source = basis("sapm-2004") if back == "bonded" else basis("noct-adder")
    return QuickCellTemperature(
        cell_c=cell,
        above_air_k=cell - asked.ambient_c,
        assumed=assumed(notes.listed()),
        basis=cited(source),
        caution=warned(cautions("heat-under-panel")),
    )


def _refuse_idle(asked: CellTemperatureQuestion, back: str) -> None:
    faults = Faults()
    faults.add_if(
        asked.gap_m is not None and back != "open-gap",
        "/gap_m",
        "open-gap-only",
    )
    faults.add_if(
        asked.noct_c is not None and back == "bonded",
        "/noct_c",
        "noct-of-bonded",
    )
    faults.raise_any()


def controller_current(asked: ControllerCurrentQuestion) -> QuickControllerCurrent:
    """Charging current of the nameplate's power, and short-circuit current, against ratings."""
    notes = Assumptions()
    rules: RuleSet = notes.choose("/rules", asked.rules, "nec-2023", statement("newest-edition"))
    series = notes.choose("/panels_in_series", asked.panels_in_series, 1, statement("one-panel"))
    strings = notes.choose(
        "/strings_in_parallel", asked.strings_in_parallel, 1, statement("one-string")
    )
    array_w, i_sc_a = asked.p_mp_w * series * strings, asked.i_sc_a * strings
    kind = notes.choose(
        "/controller_kind", asked.controller_kind, "mppt", statement("tracker-most-usual")
    )
    if kind == "pwm":
        rating_a, input_a = asked.controller_output_a, asked.max_input_short_circuit_a
        wanted_a, lost_w = maximum_current_a(i_sc_a), 0.0
        limit_a = switch_limit_a(rating_a, input_a)
        checks = [short_circuit("", i_sc_a, limit_a, rules, passed_on=True)]
    else:
        wanted_a = _efficiency(asked, notes) * array_w / asked.working_voltage_v
        lost_w = max(0.0, wanted_a - asked.controller_output_a) * asked.working_voltage_v
        checks = [
            output_current("", wanted_a, asked.controller_output_a, lost_w),
            short_circuit("", i_sc_a, asked.max_input_short_circuit_a, rules),
        ]
    return QuickControllerCurrent(
        wanted_a=wanted_a,
        array_w=array_w,
        lost_w=lost_w,
        strong_sun_a=maximum_current_a(i_sc_a),
        verdict=verdict_of(checks),
        remedy=together("space", (check.remedy for check in checks)),
        assumed=assumed(notes.listed()),
        basis=cited(*sources_of(check.basis for check in checks)),
        caution=warned(cautions("lit-panel", "judgement")),
    )


def _efficiency(asked: ControllerCurrentQuestion, notes: Assumptions) -> float:
    usual, why = usual_setting("mppt", "efficiency_fraction"), statement("usual-of-mppt")
    return notes.choose("/efficiency_fraction", asked.efficiency_fraction, usual, why)
