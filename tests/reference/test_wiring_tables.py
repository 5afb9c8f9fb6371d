"""Every table value that the wiring engine holds, against the copied table with its source."""

import json
import math
from importlib import resources
from pathlib import Path

import pytest

from sunhitch_service.engine.tables import number, table
from sunhitch_service.engine.wiring.ladders import size_by_awg, sizes
from sunhitch_service.engine.wiring.terminals import terminal_torque

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


RECALLED = {
    ("nec_310_17", "aluminium_60c_a"),
    ("nec_310_17", "aluminium_75c_a"),
    ("nec_310_17", "aluminium_90c_a"),
    ("en_50618", "copper_single_on_surface_a"),
    ("en_50618", "copper_two_touching_a"),
    ("iec_60364_5_52", "copper_free_air_pvc_a"),
    ("iec_60364_5_52", "copper_free_air_xlpe_a"),
}
"""Columns whose copied values are from memory; others are read, but for rows that say so."""


@pytest.mark.parametrize(("name", "key", "reference", "columns"), BY_KEY)
def test_every_value_is_that_of_the_source(name, key, reference, columns, outside):
    published = TABLES[reference]["rows"]
    held = {row[key]: row for row in rows_of(name)}
    for ours, theirs in columns.items():
        expected = {row: values.get(theirs) for row, values in published.items()}
        found = {row: number(values, ours) for row, values in held.items()}
        absent = {row for row in found if expected.get(row) is None}
        assert all(found[row] is None for row in absent), absent
        there = [row for row in expected if row not in absent]
        outside(
            [found[row] for row in there],
            [expected[row] for row in there],
            of=f"{name}, {ours}",
            source=TABLES[reference]["title"],
            seen="recalled" if (name, ours) in RECALLED else "read",
        )


@pytest.mark.parametrize("column", list(IEC["columns"]))
def test_iec_methods_are_those_of_the_listings(column, outside):
    held = [number(row, column) for row in rows_of("iec_60364_5_52")]
    assert [float(row["area_mm2"]) for row in rows_of("iec_60364_5_52")] == IEC["area_mm2"]
    seen = "recalled" if column.startswith("aluminium_free_air") else "read"
    title = "IEC 60364-5-52, tables B.52.2 to B.52.13, two public listings"
    printed = IEC["columns"][column]
    assert [cell is None for cell in held] == [cell is None for cell in printed]
    cells = ([cell for cell in given if cell is not None] for given in (held, printed))
    outside(*cells, of=f"iec_60364_5_52, {column}", source=title, seen=seen)


def test_iec_columns_are_all_compared():
    compared = set(IEC["columns"]) | {
        column for name, _, _, columns in BY_KEY if name == "iec_60364_5_52" for column in columns
    }
    assert compared == set(rows_of("iec_60364_5_52")[0]) - {"area_mm2"}


def test_iec_grouping(outside):
    held = {row["to_circuits"]: float(row["factor"]) for row in rows_of("iec_grouping")}
    published = IEC["grouping"]["rows"]
    assert held.keys() == published.keys()
    source = "IEC 60364-5-52, table B.52.17, two public listings"
    outside(list(held.values()), list(published.values()), of="grouping factors", source=source)


@pytest.mark.parametrize("insulation", [60, 75, 90])
def test_nec_ambient_bands(insulation, outside):
    rows, held = TABLES["nec_310_15_B1_30C"]["rows"], rows_of("nec_ambient")
    assert [float(row["to_c"]) for row in held] == [row["to_C"] for row in rows]
    pairs = [
        (number(a, f"factor_{insulation}c"), b[f"t{insulation}"])
        for a, b in zip(held, rows, strict=True)
    ]
    assert all((ours is None) == (theirs is None) for ours, theirs in pairs)
    ours, theirs = zip(*(pair for pair in pairs if None not in pair), strict=True)
    source = TABLES["nec_310_15_B1_30C"]["title"]
    outside(ours, theirs, of=f"ambient factors, {insulation} °C", source=source)


def test_nec_bundling_bands(outside):
    held = [(float(r["to_conductors"]), float(r["factor"])) for r in rows_of("nec_bundling")]
    rows = [(row["to"] or 100, row["factor"]) for row in TABLES["nec_310_15_C1"]["rows"]]
    outside(held, rows, of="bundling bands", source=TABLES["nec_310_15_C1"]["title"])


def test_nec_rooftop_addition_by_edition(outside):
    by_rules = {row["rules"]: row for row in rows_of("nec_rooftop")}
    added = [float(by_rules[f"nec-{year}"]["add_c"]) for year in (2017, 2020, 2023)]
    title = TABLES["nec_rooftop_adder"]["title"]
    outside(added, [33.0] * 3, of="rooftop addition", source=title, unit="K")
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


def test_fuse_sizes(outside):
    published = TABLES["dc_fuse_sizes"]["rows"]
    held = {
        row["family"]: [float(s) for s in row["sizes_a"].split()]
        for row in rows_of("fuse_families", "circuit")
    }
    for family, key in FAMILIES.items():
        title = TABLES["dc_fuse_sizes"]["title"]
        seen = "common practice"
        outside(held[family], published[key], of=f"sizes, {family}", source=title, seen=seen)
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


def test_en_50618_factors_never_exceed_the_printed_ones(outside):
    printed = TABLES["en50618_temp_factor"]["rows"]
    held = {row["to_c"]: float(row["factor_120c"]) for row in rows_of("en_50618_ambient")}
    assert set(held) == set(printed)
    assert all(factor <= printed[temperature] for temperature, factor in held.items())
    balance = [((120 - float(temperature)) / 60) ** 0.5 for temperature in held]
    outside(
        list(held.values()),
        balance,
        abs=0.005,
        of="en_50618_ambient",
        source="heat balance √((120 °C − air) ÷ 60 K), rounded to two digits",
        kind="hand-worked",
    )


def test_engine_space_factors_at_105_c(outside):
    """33 CFR 183.425 Table 5 note 1: 0.85 (read); a distributor's corrected column."""
    row = rows_of("cfr_183_425_engine_space")[-1]
    assert (row["to_c"], float(row["factor_105c"])) == ("50", 0.85)
    printed = {"18": 17, "16": 21, "14": 30, "12": 38, "10": 51, "8": 68, "6": 102, "4": 136}
    ours = {r["awg"]: float(r["copper_105c_a"]) * 0.85 for r in rows_of("cfr_183_425")}
    outside(
        [ours[gauge] for gauge in printed],
        list(printed.values()),
        abs=0.5,
        of="ampacity in an engine space, 105 °C",
        source="a marine distributor's corrected column of 33 CFR 183.425, table 5, whole amperes",
        unit="A",
    )


@pytest.mark.parametrize("conductor", [60, 75, 80, 90, 125])
def test_engine_space_factors_follow_the_heat_balance(conductor, outside):
    """Recalled ones, at 50 °C against 30 °C; 0.85 at 105 °C is the law's own."""
    below, above = rows_of("cfr_183_425_engine_space")
    assert (float(below["to_c"]), float(above["to_c"])) == (30.0, 50.0)
    assert float(below[f"factor_{conductor}c"]) == 1.0
    outside(
        float(above[f"factor_{conductor}c"]),
        ((conductor - 50.0) / (conductor - 30.0)) ** 0.5,
        abs=0.0061,
        of=f"factor of an engine space, {conductor} °C, by heat balance",
        source="heat balance √((Tc − 50 °C) ÷ (Tc − 30 °C))",
        kind="hand-worked",
    )


@pytest.mark.parametrize("conductor", [60, 75, 90])
def test_ambient_factors_follow_the_heat_balance(conductor, outside):
    """NFPA 70, 310.15(B): factor = √((Tc − Ta) / (Tc − 30)) at the top of each band."""
    held = {
        float(row["to_c"]): number(row, f"factor_{conductor}c") for row in rows_of("nec_ambient")
    }
    bands = [to for to, factor in held.items() if factor is not None]
    outside(
        [held[to] for to in bands],
        [((conductor - to) / (conductor - 30)) ** 0.5 for to in bands],
        abs=0.0061,
        of=f"ambient factors, {conductor} °C, by heat balance",
        source="NFPA 70, 310.15(B): √((Tc − Ta) ÷ (Tc − 30))",
        kind="hand-worked",
    )


def test_awg_areas_follow_their_definition(outside):
    gauges = {"1/0": 0, "2/0": -1, "3/0": -2, "4/0": -3}
    keys = [size.key for size in sizes("awg")]
    ours = [awg_area_mm2(gauges[key] if "/" in key else int(key)) for key in keys]
    printed = [TABLES["nec_ch9_t8_stranded"]["rows"][key] for key in keys]
    areas, mils = ([row[column] for row in printed] for column in ("mm2", "circular_mil"))
    source = "ASTM B258: 0.127 mm · 92^((36 − gauge) ÷ 39)"
    outside(areas, ours, rel=0.003, of="AWG areas", source=source, unit="mm²", kind="hand-worked")
    circular = [area / 5.067075e-4 for area in ours]
    outside(mils, circular, rel=0.003, of="AWG circular mils", source=source, kind="hand-worked")


def test_stranded_table_is_not_the_solid_one(outside):
    """Many copies print solid resistances for 18 to 8 AWG as stranded ones, 2 % below."""
    solid = TABLES["nec_ch9_t8_solid_18_8"]["rows"]
    held = {row["awg"]: float(row["copper_ohm_per_1000ft"]) for row in rows_of("nec_table_8")}
    outside(
        [held[gauge] / values["cu_uncoated"] for gauge, values in solid.items()],
        [1.0225] * len(solid),
        abs=0.0075,
        of="stranded ÷ solid resistance, 18 to 8 AWG",
        source=TABLES["nec_ch9_t8_solid_18_8"]["title"],
    )
    assert size_by_awg("10").area_mm2 == 5.261


def test_rows_from_memory_say_so():
    for name, marked in {
        "nec_table_8": {"18", "14", "12", "10", "8"},
        "nec_310_17": {"1/0", "2/0", "3/0", "4/0"},
    }.items():
        noted = {row["awg"] for row in rows_of(name) if "memory" in row["row_note"]}
        assert marked <= noted


def test_pv_cable_diameters(outside):
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
    outside(
        [held[size] for size in compared],
        list(compared.values()),
        of="outside diameters of PV cable",
        source="data sheets of PV cables, two makers, and UL 4703's insulation for 600 V and 2 kV",
        unit="mm",
    )
    beyond = [row for row in rows if row["size"] not in compared]
    assert all("from memory" in row["row_note"].lower() for row in beyond)
    gauges = [diameter for size, diameter in held.items() if size.endswith("AWG")]
    metric = [diameter for size, diameter in held.items() if size.endswith("mm²")]
    assert gauges == sorted(gauges)
    assert metric == sorted(metric)


def test_smallest_sizes(outside):
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
    assert found.keys() == expected.keys()
    source = {
        "nec": "NFPA 70, 310.3(A) and 552.10(B)",
        "us-33-cfr-183": "33 CFR 183.425(e)",
        "iec": "IEC 60364-5-52, table 52.2",
    }
    for (rules, group), sizes_mm2 in expected.items():
        outside(
            found[rules, group],
            sizes_mm2,
            of=f"smallest copper and aluminium, {group}, {rules}",
            source=source[rules],
            unit="mm²",
            seen="recalled" if rules == "iec" else "read",
        )


def test_bundles_in_boats(outside):
    factor = {int(row["to_conductors"]): float(row["factor"]) for row in rows_of("marine_bundling")}
    printed = {2: 1.0, 3: 0.7, 6: 0.6, 24: 0.5, 100: 0.4}
    assert factor.keys() == printed.keys()
    source = "pages of two marine cable makers"
    outside(list(factor.values()), list(printed.values()), of="bundles in boats", source=source)


def test_cables_in_thermal_insulation(outside):
    factor = {
        float(row["to_length_m"]): number(row, "factor") for row in rows_of("thermal_insulation")
    }
    printed = {0.05: 0.88, 0.1: 0.78, 0.2: 0.63, 0.4: 0.51, 200.0: 0.5}
    assert factor.keys() == printed.keys()
    outside(
        list(factor.values()),
        list(printed.values()),
        of="cables in thermal insulation",
        source="BS 7671, table 52.2 and 523.9",
        seen="recalled",
    )


def test_distances_from_a_source_to_its_device(outside):
    """552.10(E): 18 in; 33 CFR 183.460(a): 72 in of a battery (from memory), 183.455(b): 7 in of
    other sources; ISO 10133: 200 mm (from memory); to the mm."""
    within = {
        row["rules"]: (float(row["battery_m"]), float(row["pv_m"]))
        for row in rows_of("device_distance")
    }
    of, inch = "distance from a source to its device", 0.0254
    source = "NFPA 70, 552.10(E): 18 in"
    outside(within["nec"][0], 18 * inch, abs=0.0005, of=of, source=source, unit="m")
    source = "33 CFR 183.460(a): 72 in of a battery; 183.455(b): 7 in of other sources"
    boats = within["us-33-cfr-183"]
    both = (72 * inch, 7 * inch)
    outside(boats, both, abs=0.0005, of=of, source=source, unit="m", seen="recalled")
    outside(within["iec"], (0.2, 0.2), of=of, source="ISO 10133", unit="m", seen="recalled")


TORQUES_LBF_IN = {
    **dict.fromkeys(("18", "16", "14", "12", "10"), (35, 75)),
    "8": (40, 75),
    **dict.fromkeys(("6", "4"), (45, 110)),
    **dict.fromkeys(("3", "2", "1"), (50, 150)),
    **dict.fromkeys(("1/0", "2/0"), (50, 180)),
    **dict.fromkeys(("3/0", "4/0"), (50, 250)),
}
"""NFPA 70, Annex I, Table I.1, as a generator maker's manual and a public reprint print it."""


def test_torques_of_terminal_screws(outside):
    found = [terminal_torque(size_by_awg(awg).area_mm2) for awg in TORQUES_LBF_IN]
    for at, kind in enumerate(("slotted", "hexagon")):
        outside(
            [torque[at] / 0.1129848 for torque in found],
            [torque[at] for torque in TORQUES_LBF_IN.values()],
            abs=0.75,  # printed to 0.1 N·m
            of=f"torque of {kind} terminal screws, 18 to 4/0 AWG",
            source="NFPA 70, Annex I, Table I.1, by two reproductions",
            unit="lbf·in",
        )
