"""Voltages, temperatures and counts against published values, source beside each check."""

import csv
from pathlib import Path

import numpy as np
import pytest

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
def test_voc_factor_of_nec_table_690_7_a(row: dict[str, str]) -> None:
    """NEC Table 690.7(A), break points as in a public code table; both edges of every band."""
    for edge in ("from_c", "to_c"):
        assert voltage.voc_table_factor(float(row[edge])) == float(row["factor"])


def test_between_two_bands_the_colder_one_holds_and_beyond_the_table_nothing() -> None:
    """NEC Table 690.7(A) begins at 24 °C and ends at −40 °C."""
    assert voltage.voc_table_factor(-5.5) == 1.14
    assert voltage.voc_table_factor(24.9) == 1.02
    assert voltage.voc_table_factor(25.0) == 1.0
    assert voltage.voc_table_factor(-40.0) == 1.25
    assert voltage.voc_table_factor(-40.1) is None


def test_series_count_by_the_table_method() -> None:
    """NABCEP exam preparation slides, question 3: 37.0 V × 1.20 at −24 °C, 13 modules, 600 V."""
    factor = voltage.voc_table_factor(-24.0)
    assert factor == 1.2
    assert 37.0 * factor == pytest.approx(44.4, abs=0.01)
    assert largest_series_count(37.0 * factor, 600.0) == 13


def test_string_voltage_by_the_table_method() -> None:
    """Trade example, from memory: 12 modules of 38.3 V at −7 °C, 1.14, 524 V."""
    factor = voltage.voc_table_factor(-7.0)
    assert factor == 1.14
    assert 12 * 38.3 * factor == pytest.approx(524.0, abs=0.5)


def test_series_count_by_the_coefficient() -> None:
    """String sizing steps on a training blog: 49.5 V, −0.28 %/K, −5 °C: 53.66 V, 18 on 1000 V."""
    cold = voltage.cold_voc_v(49.5, -0.0028, -5.0)
    assert cold == pytest.approx(53.66, abs=0.01)
    assert largest_series_count(cold, 1000.0) == 18


def test_vmp_at_a_hot_cell() -> None:
    """Global Sustainable Energy Solutions, worksheet, 2011: 36.4 V, 0.17 V/K, 70 °C: 28.75 V."""
    assert voltage.hot_vmp_v(36.4, -0.17 / 36.4, 70.0) == pytest.approx(28.75, abs=0.01)


def test_cell_temperature_and_voltage_by_noct() -> None:
    """Masters, Renewable and Efficient Electric Power Systems, 2004, chapter 8 (from memory)."""
    cell = temperature.noct_cell_c(1000.0, 30.0, 47.0)
    assert cell == pytest.approx(64.0, abs=0.3)
    assert voltage.cold_voc_v(42.8, -0.0037, cell) == pytest.approx(36.7, abs=0.1)


def test_sapm_cell_temperature_of_the_pvlib_test_suite() -> None:
    """pvlib-python tests/test_temperature.py: 900 W/m², 20 °C, 5 m/s, open rack glass/glass."""
    cell = temperature.sapm_cell_c(
        900.0, 20.0, 5.0, temperature.sapm_parameters("open-rack-glass-glass")
    )
    assert cell == pytest.approx(43.509, abs=0.001)


@pytest.mark.parametrize("row", table("pv", "sapm_temperature").rows, ids=lambda r: r["set"])
def test_sapm_parameters_and_model_are_those_of_pvlib(row: dict[str, str]) -> None:
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
    for wind in (0.0, 1.0, 8.0):
        expected = sapm_cell(850.0, 31.0, wind, *ours)
        assert temperature.sapm_cell_c(850.0, 31.0, wind, ours) == pytest.approx(float(expected))


def test_noct_model_is_ross_of_pvlib() -> None:
    """pvlib.temperature.ross, and its test: 1000 W/m², 30 °C, NOCT 50: 67.5 °C."""
    from pvlib.temperature import ross

    assert temperature.noct_cell_c(1000.0, 30.0, 50.0) == pytest.approx(67.5)
    assert temperature.noct_cell_c(640.0, 12.0, 46.0) == pytest.approx(ross(640.0, 12.0, 46.0))


@pytest.mark.parametrize(
    ("inches", "adder"), [(0.0, 18), (0.49, 18), (0.5, 11), (1.5, 6), (2.5, 2), (3.4, 2)]
)
def test_adder_to_noct_by_gap(inches: float, adder: float) -> None:
    """NREL/TP-6A20-67399 (2018), as on the PV Performance Modeling Collaborative's page."""
    assert temperature.noct_adder_k(inches * 0.0254 + 1e-9) == adder


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


def _count(*panels: int) -> int:
    return Partitions(slots(panels, 1, lambda _: True), panels, 0).count()


def test_equal_panels_split_as_integers_do() -> None:
    """OEIS A000041, partitions of n."""
    assert [_count(n) for n in range(1, 13)] == [1, 2, 3, 5, 7, 11, 15, 22, 30, 42, 56, 77]


def test_different_panels_split_as_sets_do() -> None:
    """OEIS A000110, Bell numbers."""
    assert [_count(*[1] * n) for n in range(1, 9)] == [1, 2, 5, 15, 52, 203, 877, 4140]


def test_two_types_split_as_bipartite_partitions() -> None:
    """OEIS A002774, bipartite partitions of n pairs, from memory."""
    assert [_count(n, n) for n in range(1, 7)] == [2, 9, 31, 109, 339, 1043]


@pytest.mark.parametrize("wind", [0.0, 1.0, 6.5])
def test_noct_with_efficiency_and_wind_is_that_of_pvlib(wind: float) -> None:
    """pvlib.temperature.noct_sam takes 0.51 of its wind to the panels; ours is there already."""
    from pvlib.temperature import noct_sam

    ours = temperature.noct_cell_c(730.0, 18.0, 51.0, 0.19, wind)
    assert ours == pytest.approx(float(noct_sam(730.0, 18.0, wind / 0.51, 51.0, 0.19)))


def test_the_sandia_model_takes_the_wind_at_10_m() -> None:
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
    assert found == pytest.approx(expected, abs=0.2)
