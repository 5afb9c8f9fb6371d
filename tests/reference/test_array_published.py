"""Voltages, temperatures and counts against published values, source beside each check."""

import csv
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from outside_figures import Outside
from sunhitch.types.system import PanelMountingHeat, SiteTemperatures
from sunhitch_service.engine.array.enumeration import Partitions, slots
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.pv import temperature, voltage
from sunhitch_service.engine.rules.voltages import largest_series_count
from sunhitch_service.engine.tables import table

DATA = Path(__file__).parent / "data"


def _rows() -> list[dict[str, str]]:
    with (DATA / "nec_690_7_a.csv").open() as lines:
        return list(csv.DictReader(lines))


@pytest.mark.parametrize("row", _rows(), ids=lambda row: row["from_c"])
def test_voc_factor_of_nec_table_690_7_a(row: dict[str, str], outside: Outside) -> None:
    """Both edges of every band."""
    outside(
        [voltage.voc_table_factor(float(row[edge])) for edge in ("from_c", "to_c")],
        [float(row["factor"])] * 2,
        of=f"Voc factor from {row['from_c']} to {row['to_c']} °C",
        source="NFPA 70, table 690.7(A), as in a public code table",
    )


def test_between_two_bands_the_colder_one_holds_and_beyond_the_table_nothing() -> None:
    """NEC Table 690.7(A) begins at 24 °C and ends at −40 °C."""
    assert voltage.voc_table_factor(-5.5) == 1.14
    assert voltage.voc_table_factor(24.9) == 1.02
    assert voltage.voc_table_factor(25.0) == 1.0
    assert voltage.voc_table_factor(-40.0) == 1.25
    assert voltage.voc_table_factor(-40.1) is None


def test_series_count_by_the_table_method(outside: Outside) -> None:
    """37.0 V × 1.20 at −24 °C, 13 modules, 600 V."""
    source = "NABCEP exam preparation slides, question 3"
    factor = voltage.voc_table_factor(-24.0)
    assert factor == 1.2
    outside(37.0 * factor, 44.4, abs=0.01, of="37.0 V at −24 °C", source=source, unit="V")
    count = largest_series_count(37.0 * factor, 600.0)
    outside(count, 13, of="panels of 44.4 V on 600 V", source=source)


def test_string_voltage_by_the_table_method(outside: Outside) -> None:
    factor = voltage.voc_table_factor(-7.0)
    assert factor == 1.14
    of = "12 panels of 38.3 V at −7 °C"
    string = 12 * 38.3 * factor
    outside(string, 524.0, abs=0.5, of=of, source="trade example", unit="V", seen="recalled")


def test_series_count_by_the_coefficient(outside: Outside) -> None:
    source = "string sizing steps on a training blog: 49.5 V, −0.28 %/K, −5 °C"
    cold = voltage.cold_voc_v(49.5, -0.0028, -5.0)
    outside(cold, 53.66, abs=0.01, of="49.5 V at −5 °C", source=source, unit="V")
    outside(largest_series_count(cold, 1000.0), 18, of="panels of 53.66 V on 1000 V", source=source)


def test_vmp_at_a_hot_cell(outside: Outside) -> None:
    found = voltage.hot_vmp_v(36.4, -0.17 / 36.4, 70.0)
    source = "a training organisation's worksheet, 2011: 36.4 V, 0.17 V/K"
    outside(found, 28.75, abs=0.01, of="Vmp at 70 °C", source=source, unit="V")


def test_cell_temperature_and_voltage_by_noct(outside: Outside) -> None:
    cell = temperature.noct_cell_c(1000.0, 30.0, 47.0)
    source = "Masters, Renewable and Efficient Electric Power Systems, 2004, chapter 8"
    more: dict[str, Any] = {"source": source, "seen": "recalled"}
    outside(cell, 64.0, abs=0.3, of="cell at 30 °C, NOCT 47 °C", unit="°C", **more)
    voc = voltage.cold_voc_v(42.8, -0.0037, cell)
    outside(voc, 36.7, abs=0.1, of="its Voc of 42.8 V", unit="V", **more)


def test_sapm_cell_temperature_of_the_pvlib_test_suite(outside: Outside) -> None:
    cell = temperature.sapm_cell_c(
        900.0, 20.0, 5.0, temperature.sapm_parameters("open-rack-glass-glass")
    )
    source = "pvlib's tests of sapm_cell: open rack, glass on glass"
    of = "cell at 900 W/m², 20 °C, 5 m/s"
    outside(cell, 43.509, abs=0.001, of=of, source=source, unit="°C")


@pytest.mark.parametrize("row", table("pv", "sapm_temperature").rows, ids=lambda r: r["set"])
def test_sapm_parameters_and_model_are_those_of_pvlib(
    row: dict[str, str], outside: Outside
) -> None:
    """pvlib.temperature: TEMPERATURE_MODEL_PARAMETERS and sapm_cell."""
    from pvlib.temperature import TEMPERATURE_MODEL_PARAMETERS, sapm_cell

    name = row["set"].replace("-", "_")
    names = {
        "open_rack_glass_glass": "open_rack_glass_glass",
        "close_mount_glass_glass": "close_mount_glass_glass",
        "open_rack_glass_polymer": "open_rack_glass_polymer",
        "insulated_back_glass_polymer": "insulated_back_glass_polymer",
    }
    given = TEMPERATURE_MODEL_PARAMETERS["sapm"][names[name]]
    ours = temperature.sapm_parameters(row["set"])
    assert ours == (given["a"], given["b"], given["deltaT"])
    winds = (0.0, 1.0, 8.0)
    outside(
        [temperature.sapm_cell_c(850.0, 31.0, wind, ours) for wind in winds],
        [sapm_cell(850.0, 31.0, wind, *ours) for wind in winds],
        rel=1e-6,
        of=f"cell temperature, {row['set']}, 0 to 8 m/s",
        source="pvlib.temperature.sapm_cell",
        unit="°C",
        kind="reference program",
    )


def test_noct_model_is_ross_of_pvlib(outside: Outside) -> None:
    from pvlib.temperature import ross

    source = "pvlib's tests of ross"
    found = temperature.noct_cell_c(1000.0, 30.0, 50.0)
    outside(found, 67.5, rel=1e-6, of="cell at 30 °C, NOCT 50 °C", source=source, unit="°C")
    outside(
        temperature.noct_cell_c(640.0, 12.0, 46.0),
        ross(640.0, 12.0, 46.0),
        rel=1e-6,
        of="cell at 640 W/m², NOCT 46 °C",
        source="pvlib.temperature.ross",
        unit="°C",
        kind="reference program",
    )


@pytest.mark.parametrize(
    ("inches", "adder"), [(0.0, 18), (0.49, 18), (0.5, 11), (1.5, 6), (2.5, 2), (3.4, 2)]
)
def test_adder_to_noct_by_gap(inches: float, adder: float, outside: Outside) -> None:
    found = temperature.noct_adder_k(inches * 0.0254 + 1e-9)
    source = "NREL/TP-6A20-67399 (2018), on the PV Performance Modeling Collaborative's page"
    outside(found, adder, of=f"addition to NOCT, gap of {inches:g} in", source=source, unit="K")


def test_bonded_panels_run_hotter_than_spaced_and_open_ones() -> None:
    """A flat glued panel 40 to 60 K above the air, an open rack 25 to 35 K (common practice)."""
    site = SiteTemperatures(lowest_ambient_c=-10.0, highest_ambient_c=38.0)
    backs = ("bonded", "spacer-sheet", "open-gap", "open-rack")
    rises = [
        temperature.hot_cell_c(site, PanelMountingHeat(back=back), Assumptions()) - 38.0
        for back in backs
    ]
    assert rises == sorted(rises, reverse=True)
    assert 40.0 <= rises[0] <= 60.0
    assert 25.0 <= rises[3] <= 35.0


SAPM_K = {"insulated": 57.527, "close": 49.456}
"""Rise in 1000 W/m² and 1 m/s: 1000·exp(−2.81 − 0.0455), and 1000·exp(−2.98 − 0.0471) + 1 K."""


@pytest.mark.parametrize(
    ("mounting", "rise_k"),
    [
        (PanelMountingHeat(back="bonded"), SAPM_K["insulated"]),
        (PanelMountingHeat(back="bonded", noct_c=40.0), SAPM_K["insulated"]),
        (PanelMountingHeat(back="spacer-sheet"), 1.25 * (47.0 + 18.0 - 20.0)),
        (PanelMountingHeat(back="spacer-sheet", noct_c=44.0), 1.25 * (44.0 + 18.0 - 20.0)),
        (PanelMountingHeat(back="open-gap"), 1.25 * (47.0 + 11.0 - 20.0)),  # 0.02 m
        (PanelMountingHeat(back="open-gap", gap_m=0.05), 1.25 * (47.0 + 6.0 - 20.0)),
        (PanelMountingHeat(back="open-gap", gap_m=0.2, noct_c=45.0), 1.25 * (45.0 + 2.0 - 20.0)),
        (PanelMountingHeat(back="open-rack"), 1.25 * (47.0 - 20.0)),
    ],
)
def test_cell_at_noon_by_mounting(
    mounting: PanelMountingHeat, rise_k: float, outside: Outside
) -> None:
    """NOCT 47 °C and a gap of 0.02 m where none is given (common practice, from memory)."""
    site = SiteTemperatures(lowest_ambient_c=-10.0, highest_ambient_c=35.0)
    outside(
        temperature.hot_cell_c(site, mounting, Assumptions()),
        35.0 + rise_k,
        abs=0.01,
        of=f"cell at noon, {mounting.back}, gap {mounting.gap_m} m, NOCT {mounting.noct_c} °C",
        source="SAND2004-3535, or NOCT with the addition of NREL/TP-6A20-67399, at 1000 W/m²",
        unit="°C",
        kind="hand-worked",
    )


def test_the_usual_gap_and_noct_are_told() -> None:
    """47 °C and 0.02 m (common practice, from memory)."""
    site, notes = SiteTemperatures(lowest_ambient_c=-10.0, highest_ambient_c=35.0), Assumptions()
    temperature.hot_cell_c(site, PanelMountingHeat(), notes)
    told = {one.field: one.value for one in notes.listed()}
    assert told["/mounting_heat/noct_c"] == 47.0
    assert told["/mounting_heat/gap_m"] == 0.02


def test_a_given_cell_temperature_is_taken_as_it_is() -> None:
    site = SiteTemperatures(lowest_ambient_c=-10.0, highest_ambient_c=35.0, hot_cell_c=61.5)
    notes = Assumptions()
    assert temperature.hot_cell_c(site, PanelMountingHeat(back="bonded"), notes) == 61.5
    assert notes.listed() == []


@pytest.mark.parametrize(
    ("mounting", "expected_c"),
    [
        # without a NOCT the Sandia model, a spacer sheet half way between two sets
        (PanelMountingHeat(back="bonded"), 20.0 + SAPM_K["insulated"]),
        (PanelMountingHeat(back="open-gap"), 20.0 + SAPM_K["close"]),
        (PanelMountingHeat(back="spacer-sheet"), 20.0 + sum(SAPM_K.values()) / 2),
        (PanelMountingHeat(back="open-rack"), 20.0 + 1000.0 * np.exp(-3.56 - 0.075) + 3.0),
        # a NOCT tells nothing of a back that is bonded
        (PanelMountingHeat(back="bonded", noct_c=45.0), 20.0 + SAPM_K["insulated"]),
        # else its own, the narrowest gap behind a spacer sheet, 0.02 m where no gap is given
        (PanelMountingHeat(back="spacer-sheet", noct_c=45.0), 20.0 + 1.25 * 43.0 * 0.8),
        (PanelMountingHeat(back="open-gap", noct_c=45.0), 20.0 + 1.25 * 36.0 * 0.8),
        (PanelMountingHeat(back="open-gap", gap_m=0.05, noct_c=45.0), 20.0 + 1.25 * 31.0 * 0.8),
        (PanelMountingHeat(back="open-rack", noct_c=45.0), 20.0 + 1.25 * 25.0 * 0.8),
    ],
)
def test_cell_through_the_day_by_mounting(
    mounting: PanelMountingHeat, expected_c: float, outside: Outside
) -> None:
    """1 m/s at the roof for a NOCT, at 10 m for the Sandia model; 0.8 = 1 − 0.18 ÷ 0.9."""
    settled = temperature.settled_heat(mounting, "", Assumptions())
    wind = 1.0 if settled.noct_c is not None else 0.72
    found = temperature.cell_c(
        settled, 0.18, np.array([1000.0]), np.array([20.0]), np.array([wind])
    )
    outside(
        found,
        [expected_c],
        abs=0.01,
        of=f"cell through the day, {mounting.back}, gap {mounting.gap_m} m, {mounting.noct_c} °C",
        source="SAND2004-3535, or NREL/TP-6A20-67399 with its addition to NOCT",
        unit="°C",
        kind="hand-worked",
    )


@pytest.mark.parametrize(
    ("given", "told"),
    [
        (PanelMountingHeat(back="open-gap", gap_m=0.03), {"/noct_c": 47.0}),
        (PanelMountingHeat(back="open-gap", noct_c=44.0), {"/gap_m": 0.02}),
        (PanelMountingHeat(back="open-gap", gap_m=0.03, noct_c=44.0), {}),
        (
            PanelMountingHeat(back="bonded", noct_c=44.0),
            {"/noct_c": "insulated-back-glass-polymer"},
        ),
    ],
)
def test_gap_and_noct_count_together_and_neither_behind_a_bond(
    given: PanelMountingHeat, told: dict[str, object]
) -> None:
    notes = Assumptions()
    settled = temperature.settled_heat(given, "", notes)
    assert {one.field: one.value for one in notes.listed()} == told
    both = (given.gap_m or 0.02, given.noct_c or 47.0)
    assert (settled.gap_m, settled.noct_c) == ((None, None) if given.back == "bonded" else both)


def test_a_mounting_without_gap_and_noct_stays_as_it_is() -> None:
    for given in (PanelMountingHeat(back="open-gap"), PanelMountingHeat(back="spacer-sheet")):
        assert temperature.settled_heat(given, "", Assumptions()) == given


@pytest.mark.parametrize("cell_c", [-20.0, 25.0, 60.0])
def test_voltages_change_by_their_coefficient_from_25_degrees(cell_c: float) -> None:
    """40 V and −0.3 %/K: 0.12 V for each kelvin; Vmp takes gamma less alpha."""
    assert voltage.cold_voc_v(40.0, -0.003, cell_c) == pytest.approx(40.0 - 0.12 * (cell_c - 25.0))
    own = voltage.vmp_coefficient(-0.0040, 0.0005)
    assert voltage.hot_vmp_v(40.0, own, cell_c) == pytest.approx(40.0 - 0.18 * (cell_c - 25.0))


def test_beyond_the_table_its_last_band_is_the_least_that_holds() -> None:
    assert voltage.coldest_factor() == 1.25


def _count(*panels: int) -> int:
    return Partitions(slots(panels, 1, lambda _: True), panels, 0).count()


def test_equal_panels_split_as_integers_do(outside: Outside) -> None:
    found = [_count(n) for n in range(1, 13)]
    partitions = [1, 2, 3, 5, 7, 11, 15, 22, 30, 42, 56, 77]
    of, source = "wirings of n equal panels", "OEIS A000041, partitions of n"
    outside(found, partitions, of=of, source=source)


def test_different_panels_split_as_sets_do(outside: Outside) -> None:
    found = [_count(*[1] * n) for n in range(1, 9)]
    of, source = "wirings of n different panels", "OEIS A000110, Bell numbers"
    outside(found, [1, 2, 5, 15, 52, 203, 877, 4140], of=of, source=source)


def test_two_types_split_as_bipartite_partitions(outside: Outside) -> None:
    found = [_count(n, n) for n in range(1, 7)]
    of, source = "wirings of n panels of each of two types", "OEIS A002774, bipartite partitions"
    outside(found, [2, 9, 31, 109, 339, 1043], of=of, source=source, seen="recalled")


@pytest.mark.parametrize("wind", [0.0, 1.0, 6.5])
def test_noct_with_efficiency_and_wind_is_that_of_pvlib(wind: float, outside: Outside) -> None:
    """pvlib.temperature.noct_sam takes 0.51 of its wind to the panels; ours is there already."""
    from pvlib.temperature import noct_sam

    outside(
        temperature.noct_cell_c(730.0, 18.0, 51.0, 0.19, wind),
        noct_sam(730.0, 18.0, wind / 0.51, 51.0, 0.19),
        rel=1e-6,
        of=f"cell at 730 W/m², NOCT 51 °C, {wind:g} m/s",
        source="pvlib.temperature.noct_sam",
        unit="°C",
        kind="reference program",
    )


def test_the_sandia_model_takes_the_wind_at_10_m(outside: Outside) -> None:
    """SAND2004-3535: wind speed at the standard 10 m; the power law with ¼ brings it to a roof."""
    from pvlib.temperature import sapm_cell

    roof = np.array([0.0, 1.5, 9.0])
    found = temperature.cell_c(
        PanelMountingHeat(back="bonded"), 0.18, np.full(3, 900.0), np.full(3, 25.0), roof
    )
    at_10_m = roof * (10.0 / 2.75) ** 0.25
    expected = sapm_cell(
        900.0, 25.0, at_10_m, *temperature.sapm_parameters("insulated-back-glass-polymer")
    )
    outside(
        found,
        expected,
        abs=0.2,
        of="bonded panel's cell, wind on the roof brought to 10 m",
        source="pvlib.temperature.sapm_cell, wind by the power law with ¼ (SAND2004-3535)",
        unit="°C",
        kind="reference program",
    )
