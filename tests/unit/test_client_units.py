"""Conversions against published figures, each with where it is printed."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sunhitch import units

# Conversion factors as printed in NIST SP 811 (2008), appendix B.8; from memory, not read anew.
# The exact ones are bold there; the others are printed with seven digits.
SP_811 = [
    (units.feet, 1.0, 3.048e-1, 0.0),
    (units.inches, 1.0, 2.54e-2, 0.0),
    (units.mph, 1.0, 4.4704e-1, 0.0),
    (units.km_per_h, 1.0, 2.777778e-1, 5e-7),
    (units.pounds, 1.0, 4.535924e-1, 5e-7),
    (units.pounds_force, 1.0, 4.448222, 5e-7),
    (units.psf, 1.0, 4.788026e1, 5e-7),
    (units.psi, 1.0, 6.894757e3, 5e-7),
]

# Cross-sections as printed in NEC Chapter 9, Table 8 (mm²); 8 AWG stands there as 8.367 from the
# rounded circular mils, so the last printed digit may be off by three.
NEC_TABLE_8 = [
    ("14", 2.08),
    ("12", 3.31),
    ("10", 5.261),
    ("8", 8.367),
    ("6", 13.30),
    ("4", 21.15),
    ("3", 26.67),
    ("2", 33.62),
    ("1", 42.41),
    ("1/0", 53.49),
    ("2/0", 67.43),
    ("3/0", 85.01),
    ("4/0", 107.2),
]

BOTH_WAYS = [
    (units.feet, units.to_feet),
    (units.inches, units.to_inches),
    (units.mph, units.to_mph),
    (units.km_per_h, units.to_km_per_h),
    (units.fahrenheit, units.to_fahrenheit),
    (units.pounds, units.to_pounds),
    (units.pounds_force, units.to_pounds_force),
    (units.psf, units.to_psf),
    (units.psi, units.to_psi),
]


@pytest.mark.parametrize(("to_si", "value", "expected", "printed_to"), SP_811)
def test_factors_are_those_printed(to_si, value, expected, printed_to, outside) -> None:
    outside(
        to_si(value),
        expected,
        rel=max(printed_to, 1e-15),
        of=f"SI units of one {to_si.__name__}",
        source="NIST SP 811 (2008), appendix B.8",
        seen="recalled",
        calculation="units",
    )


def test_fahrenheit_meets_its_fixed_points(outside) -> None:
    outside(
        [units.fahrenheit(f) for f in (32.0, 212.0, -40.0)],
        [0.0, 100.0, -40.0],
        of="fixed points of degrees Fahrenheit",
        source="water freezes at 32 °F and boils at 212 °F, both scales meet at −40",
        kind="hand-worked",
        calculation="units",
    )


def test_parts_of_a_foot_and_of_a_pound_add_up() -> None:
    assert units.feet(6, inches=6) == pytest.approx(units.feet(6.5), rel=1e-15)
    assert units.pounds(2, ounces=8) == pytest.approx(units.pounds(2.5), rel=1e-15)


@pytest.mark.parametrize(("to_si", "back"), BOTH_WAYS)
@given(value=st.floats(-1e6, 1e6))
def test_there_and_back_is_the_same(to_si, back, value: float) -> None:
    assert back(to_si(value)) == pytest.approx(value, rel=1e-12, abs=1e-9)


def test_dynamic_pressure_of_the_building_code_in_both_systems() -> None:
    """ASCE 7: q = 0.613 V² (Pa, m/s) is q = 0.00256 V² (psf, mph) to its three digits."""
    si = 0.613 * units.mph(100.0) ** 2
    assert units.to_psf(si) == pytest.approx(0.00256 * 100.0**2, rel=0.005 / 2.56)


@pytest.mark.parametrize(("size", "area_mm2"), NEC_TABLE_8)
def test_wire_gauges_are_those_of_the_code(size: str, area_mm2: float) -> None:
    assert units.awg(size) == pytest.approx(area_mm2, rel=1e-3)


def test_wire_gauges_meet_the_standards_two_anchors() -> None:
    """ASTM B258 anchors the series at 0.0050 in for 36 AWG and 0.4600 in for 4/0 AWG."""
    inch_mm = 25.4
    assert units.awg(36) == pytest.approx(3.141592653589793 / 4 * (0.005 * inch_mm) ** 2, rel=1e-12)
    assert units.awg("4/0") == pytest.approx(
        3.141592653589793 / 4 * (0.46 * inch_mm) ** 2, rel=1e-12
    )


@pytest.mark.parametrize(
    ("area_mm2", "size"),
    [
        (2.5, "12"),
        (4.0, "10"),
        (6.0, "8"),
        (10.0, "6"),
        (16.0, "4"),
        (25.0, "3"),
        (35.0, "1"),
        (50.0, "1/0"),
        (70.0, "3/0"),
        (95.0, "4/0"),
    ],
)
def test_a_metric_size_is_never_rounded_down_to_a_gauge(area_mm2: float, size: str) -> None:
    """IEC 60228 sizes; the gauge is the first of Table 8 that has at least as much metal."""
    assert units.to_awg(area_mm2) == size
    table = dict(NEC_TABLE_8)
    assert table[size] >= area_mm2


@pytest.mark.parametrize(("size", "area_mm2"), NEC_TABLE_8)
def test_the_printed_area_of_a_gauge_leads_back_to_it(size: str, area_mm2: float) -> None:
    assert units.to_awg(area_mm2) == size


@pytest.mark.parametrize("size", ["0", "5/0", "-1", "41", "ten", 2.5])
def test_gauges_that_do_not_exist_are_refused(size) -> None:
    with pytest.raises(ValueError, match="no AWG size"):
        units.awg(size)


@pytest.mark.parametrize("area_mm2", [0.0, -1.0, 120.0])
def test_areas_off_the_list_are_refused(area_mm2: float) -> None:
    with pytest.raises(ValueError, match="ends the list"):
        units.to_awg(area_mm2)
