"""How tables of ampacity and their factors are read: columns, steps and limits."""

from itertools import pairwise
from math import inf, sqrt

import pytest

from sunhitch.types.wiring import Run
from sunhitch_service.engine.tables import number, table
from sunhitch_service.engine.wiring.ampacity import (
    BELOW_THE_TABLE,
    AmpacityRules,
    covered_by_iec,
    enclosure_factor,
    largest_device_a,
    next_standard_a,
    run_tables,
    small_limit_a,
    sources,
    standard_ratings,
    terminal_limit_a,
)
from sunhitch_service.engine.wiring.correction import (
    heat_balance_factor,
    last_key,
    roof_addition_c,
    roof_clearance_m,
    step,
)
from sunhitch_service.engine.wiring.device import within_m
from sunhitch_service.engine.wiring.ladders import (
    not_above,
    size_by_area,
    size_by_awg,
    sizes,
)
from sunhitch_service.engine.wiring.outcome import outcome
from sunhitch_service.engine.wiring.resistance import FOOT_M, heat_balance, metal, table_ohm_per_m
from sunhitch_service.engine.wiring.terminals import terminal_torque
from sunhitch_service.engine.wiring.voltage_drop import drop, longest_m, loop_resistance_ohm

INCH_M = 0.0254

TEN, FOUR_MM2 = size_by_awg("10"), size_by_area(4.0)


def under(family="nec", insulation="90c", material="copper", low_voltage=False, edition="nec-2023"):
    return AmpacityRules(family, edition, insulation, material, low_voltage)


STEPS = [
    *(("nec_ambient", "to_c", f"factor_{c}c") for c in (60, 75, 90)),
    *(("iec_ambient", "to_c", f"factor_{c}c") for c in (70, 90)),
    *(
        ("cfr_183_425_engine_space", "to_c", f"factor_{c}c")
        for c in (60, 75, 80, 90, 105, 125, 200)
    ),
    ("en_50618_ambient", "to_c", "factor_120c"),
    ("nec_bundling", "to_conductors", "factor"),
    ("marine_bundling", "to_conductors", "factor"),
    ("iec_grouping", "to_circuits", "factor"),
    ("thermal_insulation", "to_length_m", "factor"),
]


@pytest.mark.parametrize(("name", "key", "column"), STEPS)
def test_between_two_rows_the_harsher_one_counts(name, key, column):
    rows = [(float(row[key]), number(row, column)) for row in table("wiring", name).rows]
    for (upper, entry), (_, harsher) in zip(rows, [*rows[1:], (inf, None)], strict=True):
        assert step(name, key, column, upper) == entry
        assert step(name, key, column, upper + 1e-6) == harsher
        if entry and harsher:
            assert harsher <= entry
    assert last_key(name, key, column) == max(upper for upper, entry in rows if entry is not None)


@pytest.mark.parametrize("insulation_c", [60, 75, 80, 90, 105, 125, 200])
def test_an_engine_space_as_cool_as_its_table_takes_nothing_off(insulation_c):
    """33 CFR 183.425 is for 30 °C."""
    assert step("cfr_183_425_engine_space", "to_c", f"factor_{insulation_c}c", 30.0) == 1.0


def test_the_addition_on_a_roof_ends_at_the_height_of_its_edition():
    """7/8 in, 23 mm, before 2023; 3/4 in, 19 mm, from then on; 33 K below."""
    for rules, height_m in [("nec-2017", 0.023), ("nec-2020", 0.023), ("nec-2023", 0.019)]:
        assert roof_clearance_m(rules) == height_m
        assert roof_addition_c(rules, height_m - 1e-6) == roof_addition_c(rules, 0.0) == 33.0
        assert roof_addition_c(rules, height_m) == 0.0


def test_the_heat_balance_of_a_table():
    assert heat_balance_factor(30.0, 90.0, 30.0, 90.0) == 1.0
    assert heat_balance_factor(45.0, 90.0, 30.0, 90.0) == pytest.approx(sqrt(0.75))
    assert heat_balance_factor(40.0, 70.0, 60.0, 120.0) == pytest.approx(sqrt(0.5))
    assert heat_balance_factor(90.0, 90.0, 30.0, 90.0) == 0.0
    assert heat_balance_factor(89.5, 90.0, 30.0, 90.0) == pytest.approx(sqrt(0.5 / 60.0))
    assert heat_balance_factor(95.0, 90.0, 30.0, 90.0) == 0.0


def test_thermal_insulation_by_its_length():
    """BS 7671, table 52.2, from memory; a length that is not given counts as the harshest."""
    for length_m, factor in {0.05: 0.88, 0.06: 0.78, 0.1: 0.78, 0.4: 0.51, 0.5: 0.5}.items():
        assert enclosure_factor(Run(where="insulated-wall", length_m=length_m)) == factor
    assert step("thermal_insulation", "to_length_m", "factor", 200.1) is None
    assert enclosure_factor(Run(where="insulated-wall")) == 0.5
    assert enclosure_factor(Run(where="raceway", length_m=0.1)) == 1.0


COLUMNS = [
    # NFPA 70: 310.17 in free air and on a roof without raceway, 310.16 elsewhere
    ("nec", "90c", "free-air", False, "nec_310_17", 90, 55.0),
    ("nec", "90c", "on-roof", False, "nec_310_17", 90, 55.0),
    ("nec", "90c", "on-roof", True, "nec_310_16", 90, 40.0),
    ("nec", "75c", "raceway", False, "nec_310_16", 75, 35.0),
    ("nec", "60c", "bundled", False, "nec_310_16", 60, 30.0),
    ("nec", "125c", "insulated-wall", False, "nec_310_16", 90, 40.0),
    # 33 CFR 183.425, Table 5, however it lies
    ("us-33-cfr-183", "105c", "free-air", False, "cfr_183_425", 105, 60.0),
    ("us-33-cfr-183", "60c", "raceway", False, "cfr_183_425", 60, 40.0),
]


@pytest.mark.parametrize(
    ("family", "insulation", "where", "raceway", "name", "conductor_c", "base_a"), COLUMNS
)
def test_the_column_of_a_gauge(family, insulation, where, raceway, name, conductor_c, base_a):
    run = Run(where=where, in_raceway=raceway)
    column = run_tables(under(family, insulation), run, 30.0).column
    assert (column.table, column.conductor_c, column.air_c) == (name, conductor_c, 30.0)
    assert column.read(TEN)[1] == base_a
    assert f"{conductor_c} °C" in column.title
    assert column.read(BELOW_THE_TABLE)[1] == 0.0


IEC_COLUMNS = [
    # EN 50618, table A.3: single in free air 55 A, two touching 44 A, at 60 °C air
    ("en-50618", "free-air", False, "en_50618", 55.0, 120.0, 60.0),
    ("en-50618", "on-roof", False, "en_50618", 44.0, 120.0, 60.0),
    ("en-50618", "bundled", False, "en_50618", 44.0, 120.0, 60.0),
    # IEC 60364-5-52: raceway, surface; free air only from 25 mm² on
    ("en-50618", "raceway", False, "iec_60364_5_52", 42.0, 90.0, 30.0),
    ("en-50618", "on-roof", True, "iec_60364_5_52", 42.0, 90.0, 30.0),
    ("en-50618", "insulated-wall", False, "iec_60364_5_52", 45.0, 90.0, 30.0),
    ("xlpe-90", "bundled", False, "iec_60364_5_52", 45.0, 90.0, 30.0),
    ("xlpe-90", "free-air", False, "iec_60364_5_52", 45.0, 90.0, 30.0),
    ("pvc-70", "bundled", False, "iec_60364_5_52", 36.0, 70.0, 30.0),
    ("pvc-70", "raceway", False, "iec_60364_5_52", 32.0, 70.0, 30.0),
    ("75c", "bundled", False, "iec_60364_5_52", 36.0, 70.0, 30.0),
]


@pytest.mark.parametrize(
    ("insulation", "where", "raceway", "name", "base_a", "conductor_c", "air_c"), IEC_COLUMNS
)
def test_the_column_of_four_mm2(insulation, where, raceway, name, base_a, conductor_c, air_c):
    run = Run(where=where, in_raceway=raceway)
    column = run_tables(under("iec", insulation), run, 30.0).column
    assert (column.table, column.conductor_c, column.air_c) == (name, conductor_c, air_c)
    assert column.read(FOUR_MM2)[1] == base_a


def test_free_air_of_iec_starts_at_25_mm2():
    column = run_tables(under("iec", "xlpe-90"), Run(where="free-air"), 30.0).column
    assert column.read(size_by_area(16.0)) == (
        "IEC 60364-5-52, surface, XLPE", 107.0
    )  # fmt: skip
    assert column.read(size_by_area(25.0)) == ("IEC 60364-5-52, free air, XLPE", 161.0)
    beside_others = run_tables(under("iec", "xlpe-90"), Run(where="bundled"), 30.0).column
    assert beside_others.read(size_by_area(25.0))[0] == "IEC 60364-5-52, surface, XLPE"


@pytest.mark.parametrize(
    ("family", "conductors", "factor"),
    [
        *(("iec", n, f) for n, f in [(1, 1.0), (2, 1.0), (3, 0.8), (4, 0.8), (5, 0.7), (6, 0.7)]),
        *(("nec", n, f) for n, f in [(2, 1.0), (3, 1.0), (4, 0.8), (6, 0.8), (7, 0.7), (101, 0.0)]),
        *(("us-33-cfr-183", n, f) for n, f in [(2, 1.0), (3, 0.7), (4, 0.6), (7, 0.5)]),
    ],
)
def test_conductors_together(family, conductors, factor):
    """IEC counts circuits of two conductors, an odd one as a circuit; the others conductors."""
    run = Run(where="raceway", current_carrying_conductors=conductors)
    assert run_tables(under(family), run, 30.0).bundling == factor


@pytest.mark.parametrize(
    ("family", "where", "height_m", "own_c", "around_c"),
    [
        ("nec", "on-roof", 0.0, None, 73.0),
        ("nec", "on-roof", None, None, 73.0),
        ("nec", "on-roof", 0.03, None, 40.0),
        ("nec", "raceway", None, None, 40.0),
        ("nec", "on-roof", 0.0, 20.0, 53.0),
        ("us-33-cfr-183", "on-roof", 0.0, None, 73.0),
        ("iec", "on-roof", 0.0, None, 70.0),  # behind panels, IEC 60364-7-712
        ("iec", "on-roof", 0.0, 75.0, 75.0),
        ("iec", "bundled", None, None, 40.0),
    ],
)
def test_air_around_a_run(family, where, height_m, own_c, around_c):
    run = Run(where=where, height_above_roof_m=height_m, ambient_c=own_c)
    assert run_tables(under(family), run, 40.0).temperature_c == around_c


@pytest.mark.parametrize(
    ("family", "insulation", "air_c", "factor", "hottest_c"),
    [
        ("nec", "90c", 40.0, 0.91, 85.0),
        ("nec", "60c", 55.1, 0.0, 55.0),  # beyond its table nothing is left
        # insulation above its column: the equation for its own temperature
        ("nec", "105c", 60.0, sqrt(45.0 / 75.0), 105.0),
        ("nec", "125c", 30.0, 1.0, 125.0),
        ("us-33-cfr-183", "105c", 50.0, 0.85, 50.0),
        ("us-33-cfr-183", "105c", 50.1, 0.0, 50.0),
        ("iec", "pvc-70", 60.1, 0.0, 60.0),
        ("iec", "xlpe-90", 60.1, 0.65, 80.0),
    ],
)
def test_the_factor_for_the_air(family, insulation, air_c, factor, hottest_c):
    found = run_tables(under(family, insulation), Run(where="raceway"), air_c)
    assert (found.ambient, found.hottest_c) == (pytest.approx(factor), hottest_c)


def test_factors_multiply():
    """10 AWG in raceway, 40 A: × 0.91 at 40 °C × 0.8 of four conductors = 29.1 A."""
    run = Run(where="raceway", current_carrying_conductors=4)
    found = run_tables(under(), run, 40.0)
    assert found.product == pytest.approx(0.91 * 0.8)
    ampacity = found.ampacity(TEN)
    assert (ampacity.run, ampacity.base_a) == ("raceway", 40.0)
    assert ampacity.corrected_a == pytest.approx(29.12)
    assert "at 10 AWG" in found.ampacity(TEN, by_area=True).table
    assert "at 10 AWG" not in ampacity.table
    wall = run_tables(under(), Run(where="insulated-wall", length_m=0.1), 30.0)
    assert wall.product == pytest.approx(0.78)
    roof = run_tables(under(), Run(where="on-roof", in_raceway=True), 30.0).ampacity(TEN)
    assert (roof.run, roof.in_raceway, ampacity.in_raceway) == ("on-roof", True, False)


@pytest.mark.parametrize(
    ("family", "terminal_c", "limit_a"),
    [
        ("nec", 60.0, 30.0),
        ("nec", 74.0, 30.0),
        ("nec", 75.0, 35.0),
        ("nec", 90.0, 40.0),
        ("nec", 120.0, 40.0),
        ("us-33-cfr-183", 60.0, 40.0),
        ("us-33-cfr-183", 75.0, 40.0),
        ("us-33-cfr-183", 80.0, 50.0),
        ("us-33-cfr-183", 89.0, 50.0),
        ("us-33-cfr-183", 90.0, 55.0),
        ("us-33-cfr-183", 105.0, 60.0),
        ("us-33-cfr-183", 125.0, 70.0),
    ],
)
def test_terminals_read_their_own_column(family, terminal_c, limit_a):
    """10 AWG in 310.16 (110.14(C)) and in Table 5 of 33 CFR 183.425, without correction."""
    assert terminal_limit_a(under(family), TEN, [], terminal_c, 30.0) == limit_a


def test_terminals_of_boats_step_from_column_to_column():
    """4 AWG in Table 5: on each rating, and just below it what the cooler column says."""
    of, four, cooler = under("us-33-cfr-183"), size_by_awg("4"), None
    printed = {60: 105.0, 75: 125.0, 80: 130.0, 90: 135.0, 105: 160.0, 125: 170.0}
    for terminal_c, limit_a in printed.items():
        assert terminal_limit_a(of, four, [], terminal_c, 30.0) == limit_a
        if cooler:
            assert terminal_limit_a(of, four, [], terminal_c - 0.1, 30.0) == cooler
        cooler = limit_a


def test_terminals_under_iec_are_held_by_the_heat_balance():
    """4 mm² on a surface, 45 A at 90 °C: at 70 °C in 40 °C air 45 × √(30/60) = 31.8 A."""
    of = under("iec", "xlpe-90")
    surface = run_tables(of, Run(where="bundled"), 40.0)
    raceway = run_tables(of, Run(where="raceway"), 40.0)
    found = terminal_limit_a(of, FOUR_MM2, [surface], 70.0, 40.0)
    assert found == pytest.approx(45.0 * sqrt(0.5))
    lower = terminal_limit_a(of, FOUR_MM2, [surface, raceway], 70.0, 40.0)
    assert lower == pytest.approx(42.0 * sqrt(0.5))
    assert terminal_limit_a(of, FOUR_MM2, [surface], 90.0, 40.0) is None
    assert terminal_limit_a(of, FOUR_MM2, [surface], 89.0, 40.0) is not None


@pytest.mark.parametrize(
    ("of", "awg", "limit_a"),
    [
        # 240.4(D), and less in low-voltage circuits of park trailers: Table 552.10(E)(1)
        (under(), "18", 7.0),
        (under(), "14", 15.0),
        (under(), "10", 30.0),
        (under(), "8", None),
        (under(low_voltage=True), "18", 6.0),
        (under(low_voltage=True), "16", 8.0),
        (under(low_voltage=True), "14", 15.0),
        (under(material="aluminium"), "12", 15.0),
        (under(material="aluminium", low_voltage=True), "12", 15.0),
        (under("us-33-cfr-183"), "14", None),
    ],
)
def test_the_largest_device_on_a_small_conductor(of, awg, limit_a):
    assert small_limit_a(of, size_by_awg(awg)) == limit_a


@pytest.mark.parametrize(
    ("family", "awg", "ampacity_a", "below_50_v", "largest_a"),
    [
        ("nec", "8", 51.0, True, 60.0),  # the next standard rating
        ("nec", "8", 50.0, True, 50.0),
        ("nec", "10", 40.0, True, 30.0),  # 240.4(D)
        ("nec", "10", 22.0, True, 25.0),
        ("us-33-cfr-183", "10", 40.0, True, 60.0),  # 150 %
        ("us-33-cfr-183", "10", 41.0, False, 45.0),
        ("us-33-cfr-183", "10", 7.0, False, 10.0),
        ("us-33-cfr-183", "10", 1.5, False, 2.25),
        ("iec", "10", 41.0, True, 41.0),
    ],
)
def test_the_largest_device_that_protects_a_conductor(
    family, awg, ampacity_a, below_50_v, largest_a
):
    found = largest_device_a(under(family), size_by_awg(awg), ampacity_a, below_50_v)
    assert found == pytest.approx(largest_a)


def test_the_next_standard_rating_at_every_rung():
    """NFPA 70, 240.6(A): on a rating, just above it, beyond the list."""
    ratings = standard_ratings()
    for rating, following in pairwise(ratings):
        assert next_standard_a(rating) == next_standard_a(rating + 1e-10) == rating
        assert next_standard_a(rating + 0.01) == following
    assert next_standard_a(ratings[-1] + 1.0) == ratings[-1] + 1.0
    assert [next_standard_a(a) for a in (-1.0, 0.0, 0.01)] == [0.0, 0.0, 1.0]


def test_the_tables_that_are_told_as_sources():
    def keys(of, *runs):
        return " ".join(
            found.reference for found in sources(of, [run_tables(of, r, 30.0) for r in runs])
        )

    raceway, roof = Run(where="raceway"), Run(where="on-roof")
    assert "310.16" in keys(under(), raceway)
    assert "sunlight" not in keys(under(), raceway)
    assert "sunlight" in keys(under(), roof)
    assert "52.2" in keys(under(), Run(where="insulated-wall"))
    assert "52.2" not in keys(under(), roof, raceway)
    assert "70 °C" in keys(under("iec", "xlpe-90"), roof)
    assert "310.15" not in keys(under("iec", "xlpe-90"), roof)
    assert "70 °C" not in keys(under(), roof)


def test_insulation_that_iec_tables_know():
    known = {name: covered_by_iec(name) for name in ("60c", "75c", "90c", "pvc-70", "en-50618")}
    assert known == {"60c": False, "75c": True, "90c": True, "pvc-70": True, "en-50618": True}
    assert (under().rated_c, under("nec", "105c").rated_c, under("nec", "105c").column_c) == (
        90.0, 105.0, 90,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("insulation", "rated_c"),
    [
        ("60c", 60),
        ("75c", 75),
        ("90c", 90),
        ("105c", 105),
        ("125c", 125),
        ("pvc-70", 60),
        ("xlpe-90", 90),
        ("en-50618", 90),
    ],
)
def test_temperatures_of_insulation_under_each_rule_set(insulation, rated_c):
    """NFPA 70 has no column beyond 90 °C; 70 °C PVC is read as the 60 °C of American wire.

    IEC 60364-5-52 knows 70 and 90 °C, EN 50618 a conductor of 120 °C.
    """
    nec, boat, iec = (under(family, insulation) for family in ("nec", "us-33-cfr-183", "iec"))
    assert (nec.column_c, nec.rated_c) == (min(rated_c, 90), rated_c)
    assert (boat.column_c, boat.rated_c) == (rated_c, rated_c)
    if insulation != "60c":
        column_c = 70 if insulation in ("75c", "pvc-70") else 90
        assert iec.column_c == column_c
        assert iec.rated_c == (120 if insulation == "en-50618" else column_c)


def test_sizes_of_both_ladders():
    """10 AWG is 5.26 mm²: 4 mm² is the largest metric size below it, never 6."""
    assert not_above("mm2", TEN.area_mm2).key == "4"
    assert not_above("awg", 6.0).key == "10"
    assert not_above("mm2", 4.0).key == "4"
    assert not_above("mm2", 3.99).key == "2.5"
    assert not_above("awg", 0.5) is None
    assert size_by_area(5.0) is None
    assert (TEN.label, FOUR_MM2.label) == ("10 AWG", "4 mm²")
    for ladder in ("awg", "mm2"):
        areas = [size.area_mm2 for size in sizes(ladder)]
        assert areas == sorted(areas)


def test_an_outcome_fails_beyond_rounding():
    for demand, capacity, verdict in [
        (10.0, 10.0, "pass"),
        (10.0 * (1.0 + 1e-12), 10.0, "pass"),
        (10.0 * (1.0 + 1e-6), 10.0, "fail"),
        (9.0, 10.0, "pass"),
        (-5.0, -10.0, "fail"),
        (-10.0, -10.0, "pass"),
        (-10.0 * (1.0 - 1e-12), -10.0, "pass"),
        (0.1, 0.0, "fail"),
        (0.0, 0.0, "pass"),
    ]:
        found = outcome("ambient-in-table", demand, capacity)
        assert (found.verdict, found.demand, found.capacity) == (verdict, demand, capacity)
        assert found.unit == "°C"


@pytest.mark.parametrize(
    ("ladder", "material", "fine", "tinned", "per_c", "reference_c", "metres", "column"),
    [
        # NFPA 70, chapter 9, table 8, note 2; IEC 60287-1-1, table 1
        ("awg", "copper", True, False, 0.00323, 75.0, 304.8, "copper_ohm_per_1000ft"),
        ("awg", "copper", False, True, 0.00323, 75.0, 304.8, "copper_tinned_ohm_per_1000ft"),
        ("awg", "aluminium", False, False, 0.00330, 75.0, 304.8, "aluminium_ohm_per_1000ft"),
        ("awg", "aluminium", False, True, 0.00330, 75.0, 304.8, "aluminium_ohm_per_1000ft"),
        ("mm2", "copper", True, False, 0.00393, 20.0, 1000.0, "class5_copper_ohm_per_km"),
        ("mm2", "copper", False, True, 0.00393, 20.0, 1000.0, "class2_copper_tinned_ohm_per_km"),
        ("mm2", "aluminium", False, False, 0.00403, 20.0, 1000.0, "class2_aluminium_ohm_per_km"),
    ],
)
def test_resistance_and_temperature_of_each_metal(
    ladder, material, fine, tinned, per_c, reference_c, metres, column
):
    found = metal(ladder, material, fine, tinned)
    assert (found.per_c, found.reference_c, found.metres) == (per_c, reference_c, metres)
    assert found.column == column
    assert FOOT_M == 0.3048


def test_one_metre_of_each_metal():
    """10 AWG: 1.24 Ω per 1000 ft; 4 mm² of class 5: 4.95 Ω/km; no thin aluminium of class 2."""
    assert table_ohm_per_m(TEN, metal("awg", "copper", True, False)) == 1.24 / 304.8
    assert table_ohm_per_m(FOUR_MM2, metal("mm2", "copper", True, False)) == 4.95 / 1000.0
    assert table_ohm_per_m(FOUR_MM2, metal("mm2", "aluminium", False, False)) is None


def test_an_overloaded_conductor_is_stated_at_its_limit():
    """Without a table value, beyond any balance, and in air that is hotter than its insulation."""
    of = metal("awg", "copper", True, False)

    def at(current_a, reference_a=40.0, air_c=30.0):
        return heat_balance(reference_a, 60.0, 90.0, air_c, of, 90.0).temperature_c(current_a)

    assert at(10.0, reference_a=0.0) == 90.0
    assert at(1e4) == 90.0
    assert at(0.0) == 30.0
    assert at(0.0, air_c=100.0) == 100.0
    assert 30.0 < at(20.0) < at(30.0) < at(40.0) == pytest.approx(90.0)
    assert 30.0 < at(0.02, reference_a=0.05) < 60.0
    assert {at(float(amperes)) for amperes in range(41, 200)} == {90.0}


def test_torques_by_the_largest_wire_not_above():
    """NFPA 70, annex I, table I.1: 45 and 110 lbf·in from 6 AWG on.

    Hexagon screws from 3 AWG on 150, from 1/0 on 180, from 3/0 on 250, from 250 kcmil on 325, from
    500 on 375 lbf·in (from memory).
    """
    for area_mm2, slotted, hexagon in [
        (0.5, 4.0, 8.5), (8.35, 4.0, 8.5), (8.36, 4.5, 8.5),
        (8.367, 4.5, 8.5), (13.3, 5.1, 12.4), (21.15, 5.1, 12.4), (26.67, 5.6, 16.9),
        (42.41, 5.6, 16.9), (53.49, 5.6, 20.3), (67.43, 5.6, 20.3), (85.01, 5.6, 28.2),
        (107.2, 5.6, 28.2), (126.7, 5.6, 36.7), (202.7, 5.6, 36.7), (253.0, 5.6, 42.4),
    ]:  # fmt: skip
        found = terminal_torque(area_mm2)
        assert (found.slotted_n_m, found.hexagon_n_m) == (slotted, hexagon)


def test_drop_there_and_back():
    """10 A through 2 × 5 m of 4 mΩ/m, 40 mΩ: 0.4 V and 4 W; one way and 2 mΩ of chassis 22 mΩ."""
    assert loop_resistance_ohm(0.004, 5.0) == pytest.approx(0.04)
    assert loop_resistance_ohm(0.004, 5.0, 0.002) == pytest.approx(0.022)
    assert drop(10.0, 0.04) == pytest.approx((0.4, 4.0))


@pytest.mark.parametrize(
    ("drop_v", "allowed_v", "chassis_v", "reach_m"),
    [
        (0.4, 0.2, 0.0, 2.5),
        (0.4, 0.4, 0.0, 5.0),
        (0.4, 0.3, 0.2, 2.5),  # 0.1 V of the 0.2 V that the cable loses
        (0.4, 0.1, 0.2, 0.0),
        (0.2, 0.3, 0.2, 5.0),  # all of it is the chassis's
    ],
)
def test_how_far_a_conductor_reaches(drop_v, allowed_v, chassis_v, reach_m):
    assert longest_m(5.0, drop_v, allowed_v, chassis_v) == pytest.approx(reach_m)
    if not chassis_v:
        assert longest_m(5.0, drop_v, allowed_v) == pytest.approx(reach_m)


@pytest.mark.parametrize(
    ("rules", "group", "sheathed", "within"),
    [
        ("nec-2017", "battery", False, 18 * INCH_M),
        ("us-33-cfr-183", "battery", False, 72 * INCH_M),
        ("us-33-cfr-183", "battery", True, 72 * INCH_M),
        ("us-33-cfr-183", "pv", False, 7 * INCH_M),
        ("us-33-cfr-183", "pv", True, 40 * INCH_M),
        ("iec", "pv", False, 0.2),
    ],
)
def test_how_near_a_device_sits(rules, group, sheathed, within):
    """552.10(E): 18 in; 33 CFR 183.455(b) and 183.460(a): 7, 40 and 72 in; ISO 10133: 200 mm."""
    assert within_m(rules, group, sheathed) == pytest.approx(within)
    if not sheathed:
        assert within_m(rules, group) == pytest.approx(within)


def test_no_note_stands_twice() -> None:
    """What holds for every circuit is one row, whose circuits are `any`."""
    rows = table("wiring", "notes").rows
    for column in ("code", "text"):
        told = [row[column] for row in rows]
        assert len(set(told)) == len(told), column


@pytest.mark.parametrize("rules", ["nec", "iec"])
def test_the_thinnest_cable_of_an_array_has_a_diameter_for_its_gland(rules):
    rows = table("wiring", "smallest_size").rows
    (least,) = (number(r, "copper_mm2") for r in rows if (r["rules"], r["group"]) == (rules, "pv"))
    listed = [number(row, "area_mm2") for row in table("wiring", "pv_cable_diameters").rows]
    assert least in listed
