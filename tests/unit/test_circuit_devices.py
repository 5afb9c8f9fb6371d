"""Families of fuses and breakers, and which one fits: either side of every size and step."""

from math import inf

import pytest

from sunhitch_service.engine.circuit.devices import (
    DeviceNeed,
    chosen_option,
    device_listed,
    families,
    family_named,
    fuse_options,
    pv_fuse,
)
from sunhitch_service.engine.wiring.ampacity import standard_ratings

FAMILIES = families()
EACH = pytest.mark.parametrize("family", FAMILIES, ids=lambda family: family.name)
BATTERY, PV = 60.0, 600.0

# Sizes, direct voltage and interrupting rating as makers print them, from memory.
STATED = {
    "blade": ("fuse", 32, 1000, 1, 40),
    "maxi-blade": ("fuse", 32, 1000, 20, 100),
    "bolt-down-small": ("fuse", 32, 2000, 30, 200),
    "bolt-down-large": ("fuse", 32, 1000, 60, 500),
    "strip": ("fuse", 32, 6000, 35, 500),
    "battery-stud": ("fuse", 58, 2000, 30, 300),
    "class-t": ("fuse", 125, 20000, 30, 400),
    "pv-cylindrical": ("fuse", 1000, 10000, 1, 30),
    "pv-blade-contact": ("fuse", 1000, 10000, 32, 400),
    "breaker-surface": ("breaker", 48, 1500, 25, 150),
    "breaker-magnetic": ("breaker", 80, 5000, 5, 100),
    "breaker-pv": ("breaker", 150, 3000, 10, 100),
}
R10 = {32, 40, 50, 63, 80, 100, 125, 160, 200, 250, 315, 400}
"""ISO 3, the preferred numbers that sizes of IEC 60269 fuses follow."""


def need(minimum_a=10.0, *, pv=False, above=False, most=inf, volts=14.0, fault=900.0, **given):
    return DeviceNeed(minimum_a, above, most, volts, fault, pv, **given)


def by_name(asked):
    return {option.family: option for option in fuse_options(asked)}


@EACH
def test_each_family_as_its_makers_state_it(family):
    device, volts, amps, smallest, largest = STATED[family.name]
    assert (family.device, family.voltage_v) == (device, volts)
    assert family.interrupting_a(volts) == family.interrupting_a(volts + 1.0) == amps
    assert (family.sizes_a[0], family.sizes_a[-1]) == (smallest, largest)
    assert family.for_pv is not family.for_battery
    assert ("pv" in family.name) is family.for_pv
    assert family.made_for(pv=True) is family.for_pv
    assert family.made_for(pv=False) is family.for_battery
    assert family_named(family.name) == family


@EACH
def test_sizes_rise_and_interrupting_ratings_fall_with_voltage(family):
    assert list(family.sizes_a) == sorted(set(family.sizes_a))
    volts, amps = zip(*family.steps, strict=True)
    assert list(volts) == sorted(set(volts))
    assert list(amps) == sorted(set(amps), reverse=True)


def test_steps_of_voltage_as_makers_print_them():
    """From memory: stud fuses at 14, 32 and 58 V, surface-mounted breakers at 16, 32 and 48 V."""
    assert family_named("battery-stud").steps == ((14, 10_000), (32, 5000), (58, 2000))
    assert family_named("breaker-surface").steps == ((16, 5000), (32, 3000), (48, 1500))


def test_sizes_are_those_of_the_standards():
    """NFPA 70, 240.6(A), for class T; the preferred numbers of ISO 3 for blade contacts."""
    assert set(family_named("class-t").sizes_a) <= set(standard_ratings())
    assert set(family_named("pv-blade-contact").sizes_a) >= R10
    assert set(family_named("battery-stud").sizes_a) - set(standard_ratings()) == {75.0}


@EACH
def test_the_smallest_size_at_or_above_a_minimum(family):
    """On each size itself, just above it, and just below."""
    for size, following in zip(family.sizes_a, (*family.sizes_a[1:], None), strict=True):
        assert family.smallest_a(size, strict=False) == size
        assert family.smallest_a(size - 1e-10, strict=True) == following
        assert family.smallest_a(size + 1e-10, strict=False) == size
        assert family.smallest_a(size, strict=True) == following
        assert family.smallest_a(size + 0.01, strict=False) == following
        assert family.smallest_a(size - 0.01, strict=True) == size


@EACH
def test_interrupting_ratings_step_at_their_voltages(family):
    for (volts, amps), (_, beyond) in zip(
        family.steps, (*family.steps[1:], family.steps[-1]), strict=True
    ):
        assert family.interrupting_a(volts) == amps
        assert family.interrupting_a(volts + 0.01) == beyond


@pytest.mark.parametrize(
    ("minimum_a", "strict", "family", "size"),
    [
        (15.0, False, "pv-cylindrical", 15.0),
        (15.0, True, "pv-cylindrical", 16.0),
        (30.0, False, "pv-cylindrical", 30.0),
        (30.1, False, "pv-blade-contact", 32.0),  # cylindrical ones end at 30 A
        (400.0, False, "pv-blade-contact", 400.0),
    ],
)
def test_the_smallest_photovoltaic_fuse(minimum_a, strict, family, size):
    """Fuses alone: a breaker of 35 A is none."""
    found = pv_fuse(minimum_a, strict=strict)
    assert found is not None
    assert (found[0].name, found[1]) == (family, size)
    assert pv_fuse(400.0, strict=True) is None


@pytest.mark.parametrize(
    ("rating_a", "for_pv", "family", "near"),
    [
        (15.0, True, None, None),
        (14.0, True, None, "12 A or 15 A"),
        (75.0, False, None, None),  # on the stud alone
        (75.0, False, "strip", "60 A or 80 A"),
        (600.0, False, None, "500 A"),
        (0.5, False, None, "1 A"),
        (40.0, False, "blade", None),
        (50.0, False, "blade", "40 A"),
        (75.0, True, None, "63 A or 80 A"),  # made for batteries alone
    ],
)
def test_a_rating_at_hand_is_one_that_is_made(rating_a, for_pv, family, near):
    found = device_listed(rating_a, for_pv, family)
    assert (found.verdict, found.demand) == ("fail" if near else "pass", rating_a)
    if near:
        assert near in found.remedy
        kind = "photovoltaic fuse or breaker" if for_pv else "battery fuse or breaker"
        assert found.parameters["family"] == (family_named(family).title if family else kind)
        named = "near" in found.parameters and found.parameters["near"].code
        assert named == ("either-rating" if " or " in near else "rating")


def test_why_a_family_does_not_fit():
    def why(asked, family):
        option = by_name(asked)[family]
        assert option.suitable is (option.why.code == "fuse-fits")
        return option.why.code

    assert why(need(), "blade") == "fuse-fits"
    assert why(need(pv=True), "blade") == "made-for-batteries"
    assert why(need(), "pv-cylindrical") == "made-for-strings"
    assert why(need(40.0), "blade") == "fuse-fits"
    assert why(need(40.1), "blade") == "fuse-ends-at"
    assert by_name(need(40.1))["blade"].why.parameters == {"last_a": 40.0}
    assert why(need(rating_a=12.0), "blade") == "not-stocked"
    assert why(need(12.0, most=15.0), "blade") == "fuse-fits"  # 15 A at most 15 A
    assert why(need(15.1, most=19.9), "blade") == "smallest-fitting-above"
    assert why(need(volts=32.0), "blade") == "fuse-fits"
    assert why(need(volts=32.1), "blade") == "rated-below-circuit"
    assert why(need(fault=1000.0), "blade") == "fuse-fits"
    assert why(need(fault=1000.1), "blade") == "breaks-too-little"
    assert by_name(need(rating_a=15.0))["blade"].rating_a == 15.0
    assert by_name(need(rating_a=12.0))["blade"].rating_a is None


@pytest.mark.parametrize("pv", [False, True])
def test_families_made_for_other_circuits_are_listed_last(pv):
    listed = [family_named(option.family).made_for(pv) for option in fuse_options(need(pv=pv))]
    assert len(listed) == len(FAMILIES)
    assert listed == sorted(listed, reverse=True)
    assert [option.family for option in fuse_options(need(family="strip"))] == ["strip"]


@pytest.mark.parametrize(
    ("asked", "family", "rating_a", "suitable"),
    [
        # the smallest rating; among equals a fuse before a breaker, then what breaks least
        (need(10.0), "blade", 10.0, True),
        (need(10.0, fault=4000.0), "breaker-magnetic", 10.0, True),
        (need(30.0, fault=1500.0), "bolt-down-small", 30.0, True),
        (need(22.0, volts=48.0, fault=1500.0), "breaker-surface", 25.0, True),
        # nothing suits: the smallest that bears voltage and fault, then what breaks most
        (need(30.0, most=20.0), "blade", 30.0, False),
        (need(30.0, fault=99e3), "class-t", 30.0, False),
        (need(30.0, volts=500.0), "class-t", 30.0, False),
        (need(30.0, most=20.0, volts=32.0, fault=1000.0), "blade", 30.0, False),
        # a family of the other kind is judged where it is asked for, and only there
        (need(10.0, pv=True, family="blade"), "blade", 10.0, False),
        (need(10.0, pv=True, volts=20.0), "pv-cylindrical", 10.0, True),
        (need(10.0, pv=True, volts=20.0, family="breaker-pv"), "breaker-pv", 10.0, True),
    ],
)
def test_the_family_that_is_chosen(asked, family, rating_a, suitable):
    found = chosen_option(asked)
    assert found is not None
    assert (found.family, found.rating_a, found.suitable) == (family, rating_a, suitable)


def test_no_family_where_none_has_a_size():
    assert chosen_option(need(1000.0)) is None
    assert chosen_option(need(rating_a=13.0)) is None


def test_what_an_option_tells():
    """Of a stud fuse: 5 kA at 24 V, 2 kA above 32 V; the largest voltage is that of its family."""
    stud = by_name(need(30.0, volts=24.0))["battery-stud"]
    assert (stud.interrupting_rating_a, stud.voltage_rating_v, stud.rating_a) == (
        5000.0,
        58.0,
        30.0,
    )
    assert stud.device == "fuse"
    assert by_name(need(30.0, volts=33.0))["battery-stud"].interrupting_rating_a == 2000.0
    assert by_name(need(30.0, above=True))["battery-stud"].rating_a == 40.0
