"""Worked examples published elsewhere; each names its source in the data file."""

import json
import math
from pathlib import Path

import pytest

from sunhitch.types.wiring import PanelsBehind, Run, WireSizingRequest
from sunhitch_service.engine.circuit.string_fuse import string_fuse
from sunhitch_service.engine.rules.weakest import weakest_rating
from sunhitch_service.engine.wiring.ampacity import AmpacityRules, largest_device_a, run_tables
from sunhitch_service.engine.wiring.calculation import wire_sizing
from sunhitch_service.engine.wiring.correction import roof_addition_c, step
from sunhitch_service.engine.wiring.currents import design_currents
from sunhitch_service.engine.wiring.ladders import size_by_awg
from sunhitch_service.engine.wiring.resistance import metal, resistance_at, table_ohm_per_m
from sunhitch_service.engine.wiring.voltage_drop import drop, loop_resistance_ohm

EXAMPLES = json.loads(
    (Path(__file__).parent / "data" / "electrical-worked-examples.json").read_text("utf-8")
)["examples"]
FOOT = 0.3048


def awg_area_mm2(gauge):
    """ASTM B258, by its definition: diameter 0.127 mm · 92^((36 − gauge) / 39)."""
    return math.pi / 4 * (0.127 * 92.0 ** ((36 - gauge) / 39)) ** 2


def example(name):
    found = EXAMPLES[name]
    return found["inputs"], found["published_answer"], found["tolerance_abs"]


def answered(outside, name, key, ours, of, unit):
    """Our figure against the printed answer of an example, within its source's rounding."""
    _, answer, tolerance = example(name)
    allowed = tolerance.get(key, tolerance.get("*", 0.0))
    outside(ours, answer[key], abs=allowed, of=of, source=EXAMPLES[name]["source"], unit=unit)


def string_of(i_sc_a, strings=1, fuse=None, rules="nec-2023"):
    panels = PanelsBehind(i_sc_a=i_sc_a, strings_in_parallel=strings, max_series_fuse_a=fuse)
    return WireSizingRequest(
        circuit="pv-string", rules=rules, voltage_v=18.0, length_m=3.0, panels_behind=panels
    )


def test_e01_design_current_of_a_source_circuit(outside):
    given, _, _ = example("E01")
    found = design_currents(string_of(given["isc_A"]), "nec").before_correction_a
    answered(outside, "E01", "design_A", found, "design current of a source circuit", "A")


def test_e03_three_strings_need_fuses(outside):
    given, answer, _ = example("E03")
    others = (given["strings_parallel"] - 1) * given["isc_A"]
    series_fuse = weakest_rating([given["module_max_series_fuse_A"]])
    need = string_fuse(given["isc_A"], others, series_fuse, "nec-2023")
    answered(outside, "E03", "backfeed_A", need.reverse_a, "reverse current of three strings", "A")
    assert need.needed is answer["fuse_required"]


def test_e11_wire_resistance_and_limiting_current(outside):
    given, _, _ = example("E11")
    area_cmil = awg_area_mm2(14) / 5.067075e-4
    assert area_cmil == pytest.approx(given["area_cmil"], abs=1.0)
    per_m = given["rho_ohm_cmil_ft"] / given["area_cmil"] / FOOT
    loop = loop_resistance_ohm(per_m, given["len_oneway_ft"] * FOOT)
    answered(outside, "E11", "r_total_ohm", loop, "resistance of a pair", "Ω")
    answered(outside, "E11", "r_each_ohm", loop / 2, "resistance of one wire", "Ω")
    answered(outside, "E11", "i_short_A", given["v_source"] / loop, "limiting current", "A")


def loop_ohm(awg, one_way_ft, temperature_c):
    of = metal("awg", "copper", fine=False, tinned=False)
    table_ohm = table_ohm_per_m(size_by_awg(awg), of)
    return loop_resistance_ohm(resistance_at(table_ohm, of, temperature_c), one_way_ft * FOOT)


def test_e13_three_percent_of_twelve_volts_in_a_boat():
    """The boat formula's constant 10.75 belongs to a wire near room temperature."""
    given, answer, _ = example("E13")
    allowed = given["v"] * given["drop_frac"]
    circular_mil = given["K"] * given["i_A"] * given["len_roundtrip_ft"] / allowed
    by_formula = next(
        s
        for s in ("18", "16", "14", "12", "10")
        if size_by_awg(s).area_mm2 / 5.067075e-4 > circular_mil
    )
    one_way = given["len_roundtrip_ft"] / 2
    cold = {s: drop(given["i_A"], loop_ohm(s, one_way, 25.0))[0] for s in ("14", "12")}
    assert by_formula == answer["awg"]
    assert cold["12"] <= allowed < cold["14"]
    assert drop(given["i_A"], loop_ohm("12", one_way, 75.0))[0] > allowed


def test_e15_index_charts_are_cold_wire(outside):
    """A chart's index for 4 AWG is below what warm wire loses."""
    given, _, _ = example("E15")
    index = given["i_A"] * given["len_oneway_ft"] / (given["v"] * given["drop_pct"])
    answered(outside, "E15", "vdi", index, "voltage-drop index", "")
    drop_v, _ = drop(given["i_A"], loop_ohm("4", given["len_oneway_ft"], 75.0))
    source = "NFPA 70, chapter 9, table 8: 0.308 Ω per 1000 ft × 200 ft × 10 A"
    hand = {"source": source, "kind": "hand-worked"}
    outside(drop_v, 0.616, abs=0.0005, of="drop of warm 4 AWG", unit="V", **hand)
    share = drop_v / given["v"]
    outside(share, 0.0257, abs=0.00005, of="drop of warm 4 AWG, share of 24 V", **hand)


def test_e17_band_of_the_ambient_factor(outside):
    """75 °F + 30 °F = 105 °F falls in the band of 41 to 45 °C; later editions add nothing there."""
    given, answer, _ = example("E17")
    total_f = given["ambient_F"] + given["adder_F"]
    factor = step("nec_ambient", "to_c", "factor_90c", (total_f - 32) / 1.8)
    assert total_f == answer["total_F"]
    assert factor == answer["factor"]
    corrected = given["base_A"] * factor
    answered(outside, "E17", "ampacity_A", corrected, "ampacity on a roof", "A")
    for rules in ("nec-2017", "nec-2020", "nec-2023"):
        assert roof_addition_c(rules, given["height_in"] * 0.0254) == 0.0


def nec(insulation):
    return AmpacityRules("nec", "nec-2023", insulation, "copper", low_voltage=False)


def test_e19_the_published_factor_is_wrong(outside):
    """45 °C takes 0.87, not the 0.82 of the next band: 18.27 A, not 17.22 A."""
    given, answer, _ = example("E19")
    run = Run(where="raceway", current_carrying_conductors=given["n_ccc"])
    found = run_tables(nec("90c"), run, given["ambient_C"]).ampacity(size_by_awg("12"))
    assert found.base_a == given["base_90C_A"]
    assert found.bundling_factor == given["f_bundle"]
    outside(
        found.corrected_a,
        18.27,
        abs=0.005,
        of="12 AWG, bundled, at 45 °C",
        source="NFPA 70, tables 310.16 and 310.15: 30 A × 0.7 × 0.87 (a web page takes 0.82)",
        unit="A",
        kind="hand-worked",
    )
    assert abs(found.corrected_a - answer["ampacity_A"]) > 1.0


def test_e21_two_steps_of_current(outside):
    given, _, _ = example("E21")
    currents = design_currents(string_of(given["isc_A"]), "nec")
    answered(outside, "E21", "max_A", currents.maximum_a, "largest current of a string", "A")
    fuse = string_fuse(given["isc_A"], 0.0, weakest_rating([20.0]), "nec-2023")
    answered(outside, "E21", "ocpd_min_A", fuse.minimum_a, "least rating of its fuse", "A")
    assert fuse.stocked_a == 15.0


def test_e23_boat_table_in_an_engine_space(outside):
    given, _, _ = example("E23")
    rules = AmpacityRules("us-33-cfr-183", "nec-2023", "105c", "copper", low_voltage=False)
    size, run = size_by_awg(given["awg"]), Run(where="bundled")
    free, engine = (run_tables(rules, run, air).ampacity(size) for air in (30.0, 50.0))
    cool = free.corrected_a
    answered(outside, "E23", "outside_A", cool, "boat cable outside of an engine space", "A")
    answered(outside, "E23", "engine_A", engine.corrected_a, "boat cable in an engine space", "A")
    assert largest_device_a(rules, size, cool, True) == pytest.approx(90.0)


def test_e25_pvc_at_55_c(outside):
    given, _, _ = example("E25")
    factor = step("iec_ambient", "to_c", "factor_70c", 55.0)
    assert factor == given["f"]
    for size, base in given["base_A"].items():
        of = f"PVC at 55 °C, {size} mm²"
        answered(outside, "E25", f"s{size}", base * factor, of, "A")


def test_rooftop_raceway_of_a_training_school(outside):
    """8 AWG, 75 °C, half an inch above the roof at 90 °F, NEC 2023: 50 A × 0.33 = 16.5 A.

    Source: electricallicenserenewal.com, NEC content, section 1315, read.
    """
    run = Run(where="on-roof", in_raceway=True, height_above_roof_m=0.0127)
    found = run_tables(nec("75c"), run, (90.0 - 32.0) / 1.8).ampacity(size_by_awg("8"))
    assert found.temperature_c == pytest.approx((150.0 - 32.0) / 1.8, abs=0.5)
    source = "a training school's worked case, NEC 2023 content, section 1315"
    of = "8 AWG in a raceway half an inch above a roof"
    outside(found.corrected_a, 16.5, abs=0.005, of=of, source=source, unit="A")


def test_controller_output_of_15_amperes(outside):
    """A controller maker's answer: 15 A × 1.25 = 18.75 A, next standard size 20 A (read)."""
    request = WireSizingRequest(
        circuit="controller-to-battery",
        rules="nec-2020",
        voltage_v=12.0,
        length_m=1.5,
        controller_output_a=15.0,
        fault_current_a=900.0,
    )
    answer = wire_sizing(request)
    device = answer.protection
    of, source = "device of a 15 A controller output", "a controller maker's answer: 15 A × 1.25"
    outside((device.minimum_a, device.rating_a), (18.75, 20.0), of=of, source=source, unit="A")


def test_string_fuse_range_of_iec_62548(outside):
    """Above 1.5 × Isc, below 2.4 × Isc, not above the module's rating (worked article, read)."""
    fuse = string_fuse(9.2, 0.0, weakest_rating([20.0]), "iec")
    of, source = "range of a string fuse", "IEC 62548: 1.5 × Isc, module's rating; worked article"
    found = (fuse.minimum_a, fuse.maximum_a)
    outside(found, (13.8, 20.0), rel=1e-9, of=of, source=source, unit="A")
    assert fuse.stocked_a == 15.0
    assert string_fuse(10.0, 0.0, weakest_rating([15.0]), "iec").stocked_a is None
    assert string_fuse(9.2, 9.2, weakest_rating([15.0]), "iec").reverse_a == pytest.approx(9.2)


SMALL_HOME = (
    "Wiles, Photovoltaic Power Systems and the National Electrical Code, SAND96-2797, appendix E, "
    "small residential stand-alone system, as reproduced on an engineers' portal"
)


def test_a_whole_stand_alone_system_under_the_nec(outside):
    """Ten panels of 3.25 A on a roof at 61 to 70 °C in USE-2, in two groups of five, 30 A fuses.

    The manual reads Table 310.17 at the panel's temperature.
    """
    panel = design_currents(string_of(3.25), "nec")
    outside(
        [panel.maximum_a, panel.before_correction_a], [4.06, 5.08], abs=0.005,
        of="two steps of current of a panel of 3.25 A", source=SMALL_HOME, unit="A",
    )  # fmt: skip
    rules, hot = nec("90c"), run_tables(nec("90c"), Run(where="free-air"), 68.0)
    read = [hot.ampacity(size_by_awg(awg)) for awg in ("14", "12", "10", "8")]
    outside(
        [run.corrected_a for run in read], [20.3, 23.2, 31.9, 46.4], abs=1e-6,
        of="14, 12, 10 and 8 AWG USE-2 at 68 °C", source=SMALL_HOME, unit="A",
    )  # fmt: skip
    fuses = [
        largest_device_a(rules, size_by_awg(awg), run.corrected_a, True)
        for awg, run in zip(("14", "12", "10"), read, strict=False)
    ]
    outside(
        fuses, [15.0, 20.0, 30.0], of="their largest fuses", source=SMALL_HOME, unit="A",
    )  # fmt: skip
    outside(
        5 * panel.maximum_a, 20.3, abs=0.05,
        of="largest current of five panels", source=SMALL_HOME, unit="A",
    )  # fmt: skip
    whole = wire_sizing(
        WireSizingRequest(
            circuit="pv-output", rules="nec-2020", voltage_v=17.0, length_m=1.0,
            allowed_drop_fraction=0.1, insulation="90c", terminal_temperature_c=75.0,
            panels_behind=PanelsBehind(i_sc_a=3.25, strings_in_parallel=5),
            fuse_rating_a=30.0, runs=[Run(where="free-air", ambient_c=68.0)],
        )
    )  # fmt: skip
    chosen = whole.awg.chosen
    assert (chosen.size, whole.protection.rating_a) == ("10 AWG", 30.0)
    outside(
        chosen.ampacity_a, 31.9, abs=1e-6,
        of="10 AWG behind fuses of 30 A: the size that it chooses", source=SMALL_HOME, unit="A",
    )  # fmt: skip


ROOFTOP_FUSES = "a solar trade page's two examples of string fuses to IS/IEC 62548"


@pytest.mark.parametrize(
    ("strings", "pushed_a", "needed", "fuse_a"), [(2, 12.28, False, None), (4, 36.84, True, 20.0)]
)
def test_whole_arrays_under_iec_62548(strings, pushed_a, needed, fuse_a, outside):
    """Panels of 12.28 A and 51.7 V with a largest fuse of 20 A; 16 in series on four strings."""
    fuse = string_fuse(12.28, (strings - 1) * 12.28, weakest_rating([20.0]), "iec")
    of = f"what the others push into one of {strings} strings of 12.28 A"
    outside(fuse.reverse_a, pushed_a, abs=0.005, of=of, source=ROOFTOP_FUSES, unit="A")
    assert (fuse.needed, fuse.rating_a) == (needed, fuse_a)
    outside(
        [fuse.minimum_a, string_fuse(12.28, 0.0, weakest_rating([99.0]), "iec").maximum_a],
        [18.42, 29.47], abs=0.005,
        of=f"range of the fuse of a string of 12.28 A, {strings} strings",
        source=ROOFTOP_FUSES, unit="A",
    )  # fmt: skip
    if not needed:
        return
    panels = PanelsBehind(i_sc_a=12.28, strings_in_parallel=strings, max_series_fuse_a=20.0)
    whole = wire_sizing(
        WireSizingRequest(
            circuit="pv-string", rules="iec", voltage_v=16 * 43.0, length_m=10.0,
            max_voltage_v=16 * 51.7, panels_behind=panels,
        )
    )  # fmt: skip
    assert whole.protection.rating_a == 20.0
    outside(
        whole.protection.needed_voltage_v, 827.7, abs=0.6,
        of="voltage of the string's fuse, 16 × 51.7 V", source=ROOFTOP_FUSES, unit="V",
    )  # fmt: skip
    assert next(o for o in whole.protection.options if o.suitable).voltage_rating_v == 1000.0


def test_a_battery_cable_of_an_inverter(outside):
    """2,500 W at 85 % from 22 V: the cable and its fuse carry 125 % of that."""
    source = "a course page for PV installers: 2500 W ÷ 0.85 ÷ 22 V, then × 1.25"
    current = 2500.0 / 0.85 / 22.0
    answer = wire_sizing(
        WireSizingRequest(
            circuit="battery-to-load", rules="nec-2020", voltage_v=24.0, length_m=0.5,
            current_a=current, allowed_drop_fraction=0.1,
        )
    )  # fmt: skip
    found = answer.currents.maximum_a, answer.protection.minimum_a
    outside(
        found, [134.0, 167.0], abs=0.5, of="cable of an inverter of 2.5 kW",
        source=source, unit="A",
    )  # fmt: skip
