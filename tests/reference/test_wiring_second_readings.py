"""Tables and rules against a second text than the one that the table names, and sums by hand."""

import msgspec
import pytest

from sunhitch.types.harvest import BatteryUse
from sunhitch.types.system import Battery
from sunhitch.types.wiring import PanelsBehind, WireSizingRequest
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.battery.simulation import battery_model
from sunhitch_service.engine.circuit.flows import flows
from sunhitch_service.engine.circuit.string_fuse import counted_i_sc_a, string_fuse
from sunhitch_service.engine.circuit.tree import (
    CircuitTree,
    CurrentSource,
    conductor,
    controller,
    device,
)
from sunhitch_service.engine.rules.weakest import weakest_rating
from sunhitch_service.engine.tables import number, table
from sunhitch_service.engine.wiring.calculation import wire_sizing

_OLD_CODE = "a cable page that reprints table 310-16 of an older edition, sizes that never changed"
_SIZES = ("10", "4", "2", "1/0", "2/0", "3/0", "4/0")
OLDER_310_16 = {
    "copper_60c_a": (30, 70, 95, 125, 145, 165, 195),
    "copper_75c_a": (35, 85, 115, 150, 175, 200, 230),
    "copper_90c_a": (40, 95, 130, 170, 195, 225, 260),
    "aluminium_60c_a": (25, 55, 75, 100, 115, 130, 150),
    "aluminium_75c_a": (30, 65, 90, 120, 135, 155, 180),
    "aluminium_90c_a": (35, 75, 100, 135, 150, 175, 205),
}
_UK = "a distributor's copy of BS 7671 table 4E1A, two cables, direct current"
_AL = "a cable maker's sheet for aluminium after the same methods, two cables, direct current"
IEC_AGAIN = {
    "copper_raceway_xlpe_a": (
        _UK,
        {
            1.5: 23,
            2.5: 31,
            4: 42,
            6: 54,
            10: 75,
            16: 100,
            25: 133,
            35: 164,
            50: 198,
            70: 253,
            95: 306,
        },
    ),
    "copper_free_air_xlpe_a": (_UK, {25: 161, 35: 200, 50: 242, 70: 310}),
    "aluminium_raceway_pvc_a": (_AL, {50: 118, 70: 150, 95: 181, 120: 210}),
    "aluminium_surface_pvc_a": (_AL, {50: 125, 70: 160, 95: 195, 120: 226}),
    "aluminium_free_air_pvc_a": (_AL, {50: 149, 70: 192, 95: 235, 120: 273}),
}
_MANUAL = "a machine maker's manual, cables by IEC 60364-5-52, method {}, PVC, whole amperes"
METHODS = {
    "B2": {
        4: (27, 23, 21, 19, 16),
        6: (34, 30, 27, 24, 21),
        10: (46, 40, 36, 33, 28),
        16: (62, 54, 49, 44, 38),
        25: (80, 70, 63, 57, 49),
        35: (99, 86, 78, 70, 60),
        50: (118, 103, 93, 84, 72),
        70: (149, 130, 118, 106, 91),
        95: (179, 156, 141, 127, 109),
        120: (206, 179, 163, 146, 126),
    },
    "C": {
        1.5: (17, 15, 14, 12, 11),
        2.5: (24, 21, 19, 17, 15),
        4: (32, 28, 25, 23, 20),
        6: (41, 36, 32, 29, 25),
        10: (57, 50, 45, 40, 35),
        16: (76, 66, 60, 54, 46),
        25: (96, 84, 76, 68, 59),
        35: (119, 104, 94, 84, 73),
    },
}
"""Ampacity in air of 30, 40, 45, 50 and 55 °C by size."""


@pytest.mark.parametrize("column", list(OLDER_310_16))
def test_table_310_16_again(column, outside):
    held = {row["awg"]: number(row, column) for row in table("wiring", "nec_310_16").rows}
    ours = [held[size] for size in _SIZES]
    outside(ours, OLDER_310_16[column], of=f"nec_310_16 again, {column}", source=_OLD_CODE)


@pytest.mark.parametrize("column", list(IEC_AGAIN))
def test_iec_columns_again(column, outside):
    """Among them 149, 192, 235 and 273 A, once a share of copper."""
    source, printed = IEC_AGAIN[column]
    rows = table("wiring", "iec_60364_5_52").rows
    held = {float(row["area_mm2"]): number(row, column) for row in rows}
    ours = [held[size] for size in printed]
    outside(ours, list(printed.values()), of=f"iec_60364_5_52 again, {column}", source=source)


@pytest.mark.parametrize("method", list(METHODS))
@pytest.mark.parametrize(("at", "air"), [(1, "40"), (2, "45"), (3, "50"), (4, "55")])
def test_iec_ambient_factors_in_a_printed_table(method, at, air, outside):
    factor = number(table("wiring", "iec_ambient").row("to_c", air), "factor_70c")
    sizes = METHODS[method].values()
    outside(
        [factor * printed[0] for printed in sizes],
        [printed[at] for printed in sizes],
        abs=1.0,
        of=f"PVC in air of {air} °C, method {method}",
        source=_MANUAL.format(method),
        unit="A",
    )


@pytest.mark.parametrize(("awg", "i_sc_a"), [("14", 11.48), ("12", 13.78), ("10", 18.37)])
def test_largest_panel_current_of_nine_conductors_in_a_hot_conduit(awg, i_sc_a, outside):
    """90 °C column × 0.7 for nine conductors × 0.82 for 47 °C, over the 1.25 of strong sun."""
    base = number(table("wiring", "nec_310_16").row("awg", awg), "copper_90c_a")
    bundle = number(table("wiring", "nec_bundling").row("to_conductors", "9"), "factor")
    ambient = number(table("wiring", "nec_ambient").row("to_c", "50"), "factor_90c")
    outside(
        base * bundle * ambient / 1.25,
        i_sc_a,
        abs=0.005,
        of=f"largest Isc on {awg} AWG, nine in a conduit at 47 °C",
        source="a trade school's table of source circuits with all NEC correction factors",
        unit="A",
    )


def test_first_step_of_a_two_sided_panel(outside):
    ours = 1.25 * counted_i_sc_a(10.74, None, None)
    source = "a permit platform's help page on two-sided panels, before its own factor"
    outside(ours, 13.425, abs=1e-9, of="1.25 × 10.74 A", source=source, unit="A")


@pytest.mark.parametrize(
    ("bifaciality", "sun", "counted", "how"),
    [
        (0.7, None, 10.945, "10 A × (1 + 0.7 × 135 ÷ 1000)"),
        (None, 1400.0, 11.2, "10 A × 1400 ÷ 1250"),
        (0.8, 1500.0, 13.296, "10 A × (1 + 0.8 × 0.135) × 1.2"),
    ],
)
def test_light_that_the_factor_does_not_cover(bifaciality, sun, counted, how, outside):
    ours = counted_i_sc_a(10.0, bifaciality, sun)
    of = f"Isc that counts, {bifaciality or 0:g} of the back, {sun or 1000:g} W/m²"
    outside(ours, counted, abs=1e-9, of=of, source=how, kind="hand-worked", unit="A")


@pytest.mark.parametrize(
    ("battery_c", "more", "limit_a", "how"),
    [
        (-0.1, {}, 0.0, "no charge below 0 °C"),
        (0.0, {}, 10.0, "0.1 A/Ah at 0 °C"),
        (2.5, {}, 20.0, "10 A + 2.5 ÷ 10 × 40 A"),
        (7.5, {}, 40.0, "10 A + 7.5 ÷ 10 × 40 A"),
        (10.0, {}, 50.0, "0.5 A/Ah from 10 °C on"),
        (5.0, {"no_charge_below_c": 5.0}, 10.0, "the maker's limit moves the line"),
        (-20.0, {"cold_charging": "heater"}, 10.0, "warmed to 0 °C first"),
        (3.0, {"max_charge_current_a": 8.0}, 8.0, "the maker's 8 A is less than 0.1 A/Ah"),
    ],
)
def test_charging_current_of_100_ah_of_lithium_in_the_cold(battery_c, more, limit_a, how, outside):
    lithium = Battery(chemistry="lithium-iron-phosphate", nominal_voltage_v=12, capacity_ah=100.0)
    bank = battery_model(msgspec.structs.replace(lithium, **more), BatteryUse(), Assumptions(), 0.0)
    outside(
        bank.cold.limit_a(battery_c),
        limit_a,
        abs=1e-9,
        of=f"charging current at {battery_c:g} °C, {', '.join(map(str, more)) or 'usual'}",
        source=how,
        kind="hand-worked",
        unit="A",
        calculation="harvest",
    )


@pytest.mark.parametrize(
    ("rules", "strings", "i_sc_a", "reverse_a", "smallest_a", "how"),
    [
        ("nec-2023", 3, 6.4, 16.0, 10.0, "2 × 1.25 × 6.4 A; 1.25² × 6.4 A"),
        ("nec-2023", 4, 9.2, 34.5, 14.375, "3 × 1.25 × 9.2 A; 1.25² × 9.2 A"),
        ("iec", 3, 6.4, 12.8, 9.6, "2 × 6.4 A; 1.5 × 6.4 A"),
        ("iec", 5, 10.0, 40.0, 15.0, "4 × 10 A; 1.5 × 10 A"),
    ],
)
def test_string_fuses_by_hand(rules, strings, i_sc_a, reverse_a, smallest_a, how, outside):
    found = string_fuse(i_sc_a, (strings - 1) * i_sc_a, weakest_rating([15.0]), rules)
    outside(
        [found.reverse_a, found.minimum_a],
        [reverse_a, smallest_a],
        abs=1e-9,
        of=f"reverse current and smallest fuse, {strings} strings of {i_sc_a:g} A, {rules}",
        source=how,
        kind="hand-worked",
        unit="A",
    )


def test_sources_at_a_bus_bar_by_hand(outside):
    """A 60 A tracker, a 40 A charger and a battery behind 175 A at one bar; a load of 7.5 A."""
    sources = (
        CurrentSource("string", "roof", 8.0, limited=True),
        CurrentSource("shore", "shore", 40.0, limited=True),
        CurrentSource("battery", "post", 4000.0, limited=False),
    )
    tree = CircuitTree(
        sources,
        (
            controller("tracker", "roof", "out", 60.0),
            conductor("W1", "out", "bar"),
            conductor("W2", "shore", "bar"),
            device("F1", "bar", "main", 175.0),
            conductor("W3", "main", "post"),
            device("F2", "bar", "fused", 7.5),
            conductor("W4", "fused", "lamps"),
        ),
    )
    found = flows(tree)
    figures = {
        "W1 from the tracker": (found["W1", "start"].lasting_a, 60.0, "all that it may give"),
        "W1 from the bar": (found["W1", "end"].lasting_a, 215.0, "40 A + 175 A"),
        "W2 from the bar": (found["W2", "end"].lasting_a, 235.0, "60 A + 175 A"),
        "W3 from the bar": (found["W3", "start"].lasting_a, 100.0, "60 A + 40 A"),
        "W4 in a fault": (found["W4", "start"].prospective_a, 4100.0, "60 A + 40 A + 4000 A"),
        "W4 for long": (found["W4", "start"].lasting_a, 7.5, "its own fuse"),
    }
    for of, (ours, expected, how) in figures.items():
        outside(ours, expected, abs=1e-9, of=of, source=how, kind="hand-worked", unit="A")


def test_a_whole_boat_circuit_by_the_law(outside):
    """Public text: 33 CFR 183.425 table 5 and 183.455, 10 AWG of 105 °C: 60 A, fuse to 90 A."""
    answer = wire_sizing(
        WireSizingRequest(
            circuit="battery-to-load",
            rules="us-33-cfr-183",
            voltage_v=12.0,
            length_m=1.0,
            current_a=48.0,
            insulation="105c",
            ambient_c=30.0,
            allowed_drop_fraction=0.05,
            max_voltage_v=14.4,
            fault_current_a=900.0,
        )
    )
    source = "33 CFR 183.425, table 5, and 183.455(c), law text"
    chosen = answer.awg.chosen
    outside(chosen.ampacity_a, 60.0, of="10 AWG, 105 °C", source=source, unit="A")
    outside(chosen.largest_device_a, 90.0, of="its largest fuse", source=source, unit="A")
    rating = answer.protection.rating_a
    outside(rating, 60.0, of="80 % of a fuse for 48 A", source="48 A ÷ 0.8", kind="hand-worked")


def test_a_whole_array_by_the_worked_article(outside):
    """IEC 62548 as in the published article: fuse range 1.5 to 2.4 × Isc, cable 1.25 × Isc."""
    panels = PanelsBehind(i_sc_a=9.0, strings_in_parallel=4, max_series_fuse_a=20.0)
    answer = wire_sizing(
        WireSizingRequest(
            circuit="pv-string", rules="iec", voltage_v=38.0, length_m=4.0, panels_behind=panels
        )
    )
    figures = {
        "largest current of a string of 9 A": (answer.currents.maximum_a, 11.25, "1.25 × 9 A"),
        "smallest string fuse": (answer.protection.minimum_a, 13.5, "1.5 × 9 A"),
        "string fuse": (answer.protection.rating_a, 15.0, "next stocked size above 13.5 A"),
    }
    for of, (ours, expected, how) in figures.items():
        outside(ours, expected, abs=1e-9, of=of, source=how, kind="hand-worked", unit="A")
