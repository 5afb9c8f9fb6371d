"""Every table value that the wiring engine holds, against the copied table with its source."""

import json
import math
from importlib import resources
from pathlib import Path

import pytest

from sunhitch_service.engine.tables import number, table
from sunhitch_service.engine.wiring.ladders import size_by_awg, sizes

TABLES_OF_WIRING = resources.files("sunhitch_service.engine.wiring") / "data"
DATA = Path(__file__).parent / "data"
TABLES = json.loads((DATA / "electrical-tables.json").read_text("utf-8"))["tables"]
IEC = json.loads((DATA / "electrical-iec-methods.json").read_text("utf-8"))


def awg_area_mm2(gauge):
    """ASTM B258, by its definition: diameter 0.127 mm · 92^((36 − gauge) / 39)."""
    return math.pi / 4 * (0.127 * 92.0 ** ((36 - gauge) / 39)) ** 2


def rows_of(name, room="wiring"):
    return table(room, name).rows


def test_rows_have_a_cell_for_every_column():
    for name in sorted(path.name.removesuffix(".csv") for path in TABLES_OF_WIRING.iterdir()):
        for row in rows_of(name):
            assert None not in row, (name, row)
            assert None not in row.values(), (name, row)


# engine table, its key column, reference table, reference column by engine column
BY_KEY = [
    (
        "nec_table_8",
        "awg",
        "nec_ch9_t8_stranded",
        {
            "area_cmil": "circular_mil",
            "area_mm2": "mm2",
            "copper_ohm_per_1000ft": "cu_uncoated",
            "copper_tinned_ohm_per_1000ft": "cu_coated",
            "aluminium_ohm_per_1000ft": "al",
            "strand_diameter_in": "strand_dia_in",
        },
    ),
    (
        "iec_60228",
        "area_mm2",
        "iec60228_max_r20",
        {
            "class2_copper_ohm_per_km": "class2_cu_plain",
            "class2_copper_tinned_ohm_per_km": "class2_cu_tinned",
            "class5_copper_ohm_per_km": "class5_cu_plain",
            "class5_copper_tinned_ohm_per_km": "class5_cu_tinned",
            "class2_aluminium_ohm_per_km": "class2_al",
        },
    ),
    *(
        (
            f"nec_{table_number}",
            "awg",
            f"nec_{table_number}_{metal}",
            {f"{name}_{t}c_a": f"t{t}" for t in (60, 75, 90)},
        )
        for table_number in ("310_16", "310_17")
        for metal, name in (("cu", "copper"), ("al", "aluminium"))
    ),
    (
        "cfr_183_425",
        "awg",
        "cfr33_183_425_t5",
        {f"copper_{t}c_a": f"t{t}" for t in (60, 75, 80, 90, 105, 125, 200)},
    ),
    (
        "en_50618",
        "area_mm2",
        "en50618_h1z2z2k",
        {
            "copper_single_free_air_a": "single_free_air",
            "copper_single_on_surface_a": "single_on_surface",
            "copper_two_touching_a": "two_touching_on_surface",
        },
    ),
    (
        "iec_60364_5_52",
        "area_mm2",
        "iec60364_5_52_method_C_2",
        {"copper_surface_pvc_a": "pvc70", "copper_surface_xlpe_a": "xlpe90"},
    ),
    (
        "iec_60364_5_52",
        "area_mm2",
        "iec60364_5_52_free_air",
        {"copper_free_air_pvc_a": "F_2touching_pvc", "copper_free_air_xlpe_a": "F_2touching_xlpe"},
    ),
    (
        "iec_ambient",
        "to_c",
        "iec60364_5_52_ambient",
        {"factor_70c": "pvc70", "factor_90c": "xlpe90"},
    ),
    (
        "nec_small_conductors",
        "awg",
        "nec_240_4_D",
        {"copper_a": "cu", "aluminium_a": "al_or_cca"},
    ),
]


@pytest.mark.parametrize(("name", "key", "reference", "columns"), BY_KEY)
def test_every_value_is_that_of_the_source(name, key, reference, columns):
    published = TABLES[reference]["rows"]
    held = {row[key]: row for row in rows_of(name)}
    for row_key, values in published.items():
        for ours, theirs in columns.items():
            expected = values.get(theirs)
            assert number(held[row_key], ours) == expected, (row_key, ours)
    for row_key in held.keys() - published.keys():
        assert all(number(held[row_key], ours) is None for ours in columns), row_key


@pytest.mark.parametrize("column", list(IEC["columns"]))
def test_iec_methods_are_those_of_the_listings(column):
    held = [number(row, column) for row in rows_of("iec_60364_5_52")]
    assert [float(row["area_mm2"]) for row in rows_of("iec_60364_5_52")] == IEC["area_mm2"]
    assert held == IEC["columns"][column]


def test_no_column_of_aluminium_is_a_share_of_copper():
    """0.78 × copper, rounded, once stood in for a column; no share in whole percent gives one."""
    compared = 0
    for name in ("iec_60364_5_52", "nec_310_16", "nec_310_17"):
        rows = rows_of(name)
        for column in (column for column in rows[0] if column.startswith("aluminium")):
            copper = [number(row, column.replace("aluminium", "copper")) for row in rows]
            pairs = zip(copper, (number(row, column) for row in rows), strict=True)
            both = [(one, other) for one, other in pairs if one and other]
            for percent in range(60, 100):
                off = [abs(percent / 100 * one - other) for one, other in both]
                assert max(off) > 0.51, (name, column, percent)
            compared += 1
    assert compared == 12


def test_iec_columns_are_all_compared():
    compared = set(IEC["columns"]) | {
        column for name, _, _, columns in BY_KEY if name == "iec_60364_5_52" for column in columns
    }
    assert compared == set(rows_of("iec_60364_5_52")[0]) - {"area_mm2"}


def test_iec_grouping():
    held = {row["to_circuits"]: float(row["factor"]) for row in rows_of("iec_grouping")}
    assert held == IEC["grouping"]["rows"]


def test_nec_ambient_bands():
    held = [
        (float(row["to_c"]), *(number(row, f"factor_{t}c") for t in (60, 75, 90)))
        for row in rows_of("nec_ambient")
    ]
    rows = TABLES["nec_310_15_B1_30C"]["rows"]
    assert held == [(row["to_C"], row["t60"], row["t75"], row["t90"]) for row in rows]


def test_nec_bundling_bands():
    held = [(float(r["to_conductors"]), float(r["factor"])) for r in rows_of("nec_bundling")]
    rows = TABLES["nec_310_15_C1"]["rows"]
    assert held == [(row["to"] or 100, row["factor"]) for row in rows]


def test_nec_rooftop_addition_by_edition():
    add = {row["edition"]: row["add_C"] for row in TABLES["nec_rooftop_adder"]["rows"]}
    by_rules = {row["rules"]: row for row in rows_of("nec_rooftop")}
    assert float(by_rules["nec-2017"]["add_c"]) == 33.0
    assert float(by_rules["nec-2020"]["add_c"]) == 33.0
    assert float(by_rules["nec-2023"]["add_c"]) == add["2023"] == 33
    heights = {rules: float(row["below_height_m"]) for rules, row in by_rules.items()}
    assert heights == {"nec-2017": 0.023, "nec-2020": 0.023, "nec-2023": 0.019}
    texts = " ".join(row["height"] for row in TABLES["nec_rooftop_adder"]["rows"])
    assert "23 mm" in texts
    assert "19 mm" in texts


def test_low_voltage_limits_of_park_trailers():
    held = {r["awg"]: number(r, "copper_low_voltage_a") for r in rows_of("nec_small_conductors")}
    assert held == TABLES["nec_552_10_E_low_voltage_ocpd"]["rows"]


def test_standard_ratings():
    published = TABLES["nec_240_6_A"]["rows"]
    ours = {float(row["rating_a"]) for row in rows_of("nec_standard_ratings")}
    assert ours == (set(published["standard"]) | set(published["fuses_also"])) - {601}
    assert not ours & {55.0, 65.0, 85.0}


FAMILIES = {
    "blade": "blade_iso8820_3_32V",
    "maxi-blade": "maxi_blade_32V",
    "pv-cylindrical": "pv_10x38_gPV",
    "bolt-down-small": "bolt_down_small_32_58V",
    "bolt-down-large": "bolt_down_large_32_58V",
    "strip": "anl_strip_32_80V",
    "battery-stud": "battery_stud_58V",
    "class-t": "class_T_125_300V",
}


def test_fuse_sizes():
    published = TABLES["dc_fuse_sizes"]["rows"]
    held = {
        row["family"]: [float(s) for s in row["sizes_a"].split()]
        for row in rows_of("fuse_families", "circuit")
    }
    assert {family: held[family] for family in FAMILIES} == {
        family: published[key] for family, key in FAMILIES.items()
    }
    beyond = [row for row in rows_of("fuse_families", "circuit") if row["family"] not in FAMILIES]
    assert {row["device"] for row in beyond if row["family"] != "pv-blade-contact"} == {"breaker"}
    assert all("from memory" in row["row_note"].lower() for row in beyond)


def test_interrupting_ratings_do_not_exceed_the_source():
    published = TABLES["dc_fuse_interrupt"]["rows"]
    most = {
        "strip": published["anl_strip"],
        "battery-stud": published["battery_stud"],
        "class-t": published["class_T"],
        "blade": published["blade_32V"],
        "maxi-blade": published["blade_32V"],
        "pv-cylindrical": 10_000,
        "pv-blade-contact": 10_000,
        "bolt-down-large": int(published["bolt_down_large"].split("..")[0]),
        "bolt-down-small": int(published["bolt_down_small"].split("..")[0]),
    }
    largest = dict.fromkeys(most, 0.0)
    for row in (row for row in rows_of("fuse_families", "circuit") if row["device"] == "fuse"):
        largest[row["family"]] = max(largest[row["family"]], float(row["interrupting_a"]))
    assert largest == most


def test_en_50618_factors_never_exceed_the_printed_ones():
    printed = TABLES["en50618_temp_factor"]["rows"]
    held = {row["to_c"]: float(row["factor_120c"]) for row in rows_of("en_50618_ambient")}
    assert set(held) == set(printed)
    for temperature, factor in held.items():
        balance = ((120 - float(temperature)) / 60) ** 0.5
        assert factor == pytest.approx(balance, abs=0.005)
        assert factor <= printed[temperature]


def test_engine_space_factors_at_105_c():
    """33 CFR 183.425 Table 5 note 1: 0.85 (read); a distributor's corrected column."""
    row = rows_of("cfr_183_425_engine_space")[-1]
    assert (row["to_c"], float(row["factor_105c"])) == ("50", 0.85)
    printed = {"18": 17, "16": 21, "14": 30, "12": 38, "10": 51, "8": 68, "6": 102, "4": 136}
    ours = {r["awg"]: float(r["copper_105c_a"]) * 0.85 for r in rows_of("cfr_183_425")}
    for gauge, amps in printed.items():
        assert ours[gauge] == pytest.approx(amps, abs=0.5)


def test_ambient_factors_follow_the_heat_balance():
    """NFPA 70, 310.15(B): factor = √((Tc − Ta) / (Tc − 30)) at the top of each band."""
    for row in rows_of("nec_ambient"):
        for conductor in (60, 75, 90):
            factor = number(row, f"factor_{conductor}c")
            if factor is not None:
                balance = ((conductor - float(row["to_c"])) / (conductor - 30)) ** 0.5
                assert factor == pytest.approx(balance, abs=0.0061)


def test_awg_areas_follow_their_definition():
    gauges = {"1/0": 0, "2/0": -1, "3/0": -2, "4/0": -3}
    for size in sizes("awg"):
        gauge = gauges.get(size.key) if "/" in size.key else int(size.key)
        printed = TABLES["nec_ch9_t8_stranded"]["rows"][size.key]
        assert awg_area_mm2(gauge) == pytest.approx(printed["mm2"], rel=0.003)
        assert awg_area_mm2(gauge) / 5.067075e-4 == pytest.approx(
            printed["circular_mil"], rel=0.003
        )


def test_stranded_table_is_not_the_solid_one():
    """Many copies print solid resistances for 18 to 8 AWG as stranded ones."""
    solid = TABLES["nec_ch9_t8_solid_18_8"]["rows"]
    held = {row["awg"]: row for row in rows_of("nec_table_8")}
    for gauge, values in solid.items():
        ours = float(held[gauge]["copper_ohm_per_1000ft"])
        assert 1.015 < ours / values["cu_uncoated"] < 1.03
    assert size_by_awg("10").area_mm2 == 5.261


def test_rows_from_memory_say_so():
    for name, marked in {
        "nec_table_8": {"18", "14", "12", "10", "8"},
        "nec_310_17": {"1/0", "2/0", "3/0", "4/0"},
    }.items():
        noted = {row["awg"] for row in rows_of(name) if "memory" in row["row_note"]}
        assert marked <= noted


def test_pv_cable_diameters():
    published = TABLES["pv_cable_size"]["rows"]
    rows = rows_of("pv_cable_diameters")
    held = {row["size"]: float(row["diameter_mm"]) for row in rows}
    compared = {
        "4 mm²": published["4mm2_H1Z2Z2K"]["od_nom"],
        "6 mm²": published["6mm2_H1Z2Z2K"]["od_nom"],
        "10 mm²": published["10mm2_H1Z2Z2K"]["od_nom"],
        "12 AWG": published["12AWG_2kV"]["od_typ"],
        "10 AWG": published["10AWG_2kV"]["od_typ"],
        "8 AWG": published["8AWG_2kV"]["od_typ"],
    }
    assert {size: held[size] for size in compared} == compared
    beyond = [row for row in rows if row["size"] not in compared]
    assert all("from memory" in row["row_note"].lower() for row in beyond)
    gauges = [diameter for size, diameter in held.items() if size.endswith("AWG")]
    metric = [diameter for size, diameter in held.items() if size.endswith("mm²")]
    assert gauges == sorted(gauges)
    assert metric == sorted(metric)


def test_smallest_sizes():
    """NFPA 70, 310.3(A): 14 AWG copper, 12 AWG aluminium; 552.10(B): 18 AWG; 33 CFR 183.425(e):
    16 AWG; IEC 60364-5-52, Table 52.2: 1.5 mm² copper, 10 mm² aluminium (from memory).
    """
    held = {(row["rules"], row["group"]): row for row in rows_of("smallest_size")}
    gauges = {size.key: size.area_mm2 for size in sizes("awg")}
    expected = {
        ("nec", "pv"): (gauges["14"], gauges["12"]),
        ("nec", "battery"): (gauges["18"], gauges["12"]),
        ("us-33-cfr-183", "pv"): (gauges["16"], gauges["16"]),
        ("us-33-cfr-183", "battery"): (gauges["16"], gauges["16"]),
        ("iec", "pv"): (1.5, 10.0),
        ("iec", "battery"): (1.5, 10.0),
    }
    found = {k: (number(r, "copper_mm2"), number(r, "aluminium_mm2")) for k, r in held.items()}
    assert found == expected


def test_bundles_in_boats():
    """Two cable makers' pages: 3 conductors 0.7, 4 to 6 0.6, 7 to 24 0.5, more 0.4."""
    factor = {int(row["to_conductors"]): float(row["factor"]) for row in rows_of("marine_bundling")}
    assert factor == {2: 1.0, 3: 0.7, 6: 0.6, 24: 0.5, 100: 0.4}


def test_cables_in_thermal_insulation():
    """BS 7671, Table 52.2 (from memory): 50 mm 0.88, 100 mm 0.78, 200 mm 0.63, 400 mm 0.51; 523.9:
    half from half a metre on.
    """
    factor = {
        float(row["to_length_m"]): number(row, "factor") for row in rows_of("thermal_insulation")
    }
    assert factor == {0.05: 0.88, 0.1: 0.78, 0.2: 0.63, 0.4: 0.51, 200.0: 0.5}


def test_distances_from_a_source_to_its_device():
    """552.10(E): 18 in; 33 CFR 183.460(a): 72 in of a battery (from memory), 183.455(b): 7 in of
    other sources; ISO 10133: 200 mm (from memory); to the mm."""
    within = {
        row["rules"]: (float(row["battery_m"]), float(row["pv_m"]))
        for row in rows_of("device_distance")
    }
    assert within["nec"][0] == pytest.approx(18 * 0.0254, abs=0.0005)
    assert within["us-33-cfr-183"] == pytest.approx((72 * 0.0254, 7 * 0.0254), abs=0.0005)
    assert within["iec"] == (0.2, 0.2)
