"""Conductor resistance: IEC 60228 against NFPA 70, Chapter 9, Table 8, and against copper."""

import pytest
from scipy.optimize import brentq

from sunhitch_service.engine.wiring.ladders import sizes
from sunhitch_service.engine.wiring.resistance import (
    heat_balance,
    metal,
    resistance_at,
    table_ohm_per_m,
)

ANNEALED_COPPER = 0.017241
"""Ω mm²/m at 20 °C: IEC 60028, 100 % conductivity."""
NEC = metal("awg", "copper", fine=False, tinned=False)
IEC_2 = metal("mm2", "copper", fine=False, tinned=False)
IEC_5 = metal("mm2", "copper", fine=True, tinned=False)


def resistivity(size, of, temperature_c):
    return resistance_at(table_ohm_per_m(size, of), of, temperature_c) * size.area_mm2


def test_table_8_is_12_8_to_12_9_ohm_circular_mil_per_foot(outside):
    """A constant of 12.9 stands for stranded copper at 75 °C; printed figures have three digits."""
    per_mm2 = 0.3048 / 5.067075e-4
    found = [resistivity(size, NEC, 75.0) * per_mm2 for size in sizes("awg")]
    source = "the trade's constant for stranded copper at 75 °C, three digits"
    more = {"source": source, "seen": "common practice", "unit": "Ω·cmil/ft"}
    outside(min(found), 12.8, abs=0.06, of="least resistivity in table 8", **more)
    outside(max(found), 12.9, abs=0.06, of="largest resistivity in table 8", **more)


def test_the_two_temperature_coefficients_are_one(outside):
    """0.00393 at 20 °C equals 0.00323 at 75 °C."""
    outside(
        IEC_2.per_c / (1 + IEC_2.per_c * 55.0),
        NEC.per_c,
        abs=0.000005,
        of="temperature coefficient of copper at 75 °C",
        source="NFPA 70, chapter 9, table 8, note 2, from IEC 60028's at 20 °C",
        unit="1/K",
    )


@pytest.mark.parametrize("of", [IEC_2, IEC_5])
def test_iec_maxima_lie_above_copper(of):
    """Maxima of a standard lie above the metal's own resistance, by lay and tolerance."""
    for size in sizes("mm2"):
        assert 1.0 < resistivity(size, of, 20.0) / ANNEALED_COPPER < 1.18, size


def test_iec_class_2_and_table_8_describe_the_same_metal():
    """Per mm² and at one temperature, both lie within the tolerance of IEC 60228's maxima."""
    nec = [resistivity(size, NEC, 20.0) for size in sizes("awg")]
    iec = [resistivity(size, IEC_2, 20.0) for size in sizes("mm2")]
    for ours in nec:
        assert 1.0 < ours / ANNEALED_COPPER < 1.035
    assert min(iec) > max(nec)


def test_fifty_class_5_is_below_class_2():
    """Printed so in IEC 60228: 0.386 and 0.387 Ω/km."""
    fifty = next(size for size in sizes("mm2") if size.key == "50")
    assert table_ohm_per_m(fifty, IEC_5) < table_ohm_per_m(fifty, IEC_2)


@pytest.mark.parametrize("load", [0.0, 0.3, 0.7, 1.0])
@pytest.mark.parametrize("air", [-10.0, 30.0, 60.0])
def test_conductor_temperature_balances_the_heat(load, air, outside):
    """The closed form against a root of the balance: rise ∝ I² R(t)."""

    def imbalance(t):
        share = resistance_at(1.0, NEC, t) / resistance_at(1.0, NEC, 90.0)
        return t - air - 60.0 * load**2 * share

    expected = brentq(imbalance, air - 1.0, 400.0, xtol=1e-10)
    found = heat_balance(40.0, 60.0, 90.0, air, NEC, limit_c=500.0).temperature_c(40.0 * load)
    outside(
        found,
        expected,
        abs=1e-7,
        of=f"conductor at {load:g} of its ampacity in {air:g} °C",
        source="scipy.optimize.brentq on the heat balance",
        unit="°C",
        kind="reference program",
    )


def test_table_load_in_table_air_gives_table_temperature():
    balance = heat_balance(40.0, 60.0, 90.0, 30.0, NEC, 90.0)
    assert balance.temperature_c(40.0) == pytest.approx(90.0)
    assert balance.temperature_c(200.0) == 90.0
