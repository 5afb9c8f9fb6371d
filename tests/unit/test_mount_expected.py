"""Best estimates beside design values, and remedies that can be built."""

import math
import re
from itertools import islice

import pytest
from mount_builders import FLEXIBLE, bonded, fastened, glued, grid, railed, request
from msgspec.structs import replace
from random_mounts import KINDS, legal

from sunhitch.operations import MOUNT_CHECK
from sunhitch.types.check import Check
from sunhitch.types.mount import (
    AdhesiveFeet,
    FastenedFeet,
    MountCheckAnswer,
    MountCheckRequest,
    PanelWind,
    SheetProperties,
    TravelConditions,
)
from sunhitch_service.engine.mount.calculation import mount_check

STORMLESS = TravelConditions(storm_gust_m_s=0.0, ground_snow_pa=0.0)
WEAK = {
    "small pads": request(glued(pad_length_m=0.05, pad_width_m=0.06), travel=STORMLESS),
    "hot pads": request(glued(pad_length_m=0.06, pad_width_m=0.06)),
    "small washers": request(fastened(washer_diameter_m=0.008, fasteners_per_foot=1)),
    "few fasteners": request(
        fastened(feet=grid(2, 2), fasteners_per_foot=1, fastener="blind-rivet", rivet="3.2")
    ),
    "soft clamps": request(railed(clamp_preload_n=900.0)),
    "flat rails": request(railed(clamp_rating_n=300.0, support_rating_n=300.0)),
    "flaps": request(bonded(flap_m=0.1, bonded_fraction=0.2), FLEXIBLE),
}


def by_code(answer: MountCheckAnswer) -> dict[str, Check]:
    """The worst check of every code."""
    ordered = sorted(answer.checks, key=lambda one: one.utilisation_fraction or 0.0)
    return {check.code: check for check in ordered}


@pytest.mark.parametrize("kind", KINDS)
def test_factors_multiply_to_what_lies_between_estimate_and_design(kind: str) -> None:
    for asked in islice(legal(9, kind), 6):
        answer = mount_check(asked)
        for told in (answer.governing, answer.foot_lost):
            expected = told.expected
            product = math.prod(factor.value_fraction for factor in expected.factors)
            assert expected.asked_times == pytest.approx(product)
            if told.utilisation_fraction:
                design = 0.8 * expected.asked_times / expected.holds_times
                assert told.utilisation_fraction == pytest.approx(design)
                held = expected.capacity / expected.demand
                assert held == pytest.approx(expected.holds_times)


def test_each_allowance_is_what_the_caller_would_get_without_it() -> None:
    """The same build asked with air of 15 °C, then also with the coefficients of the mean: the
    checks' own demands give the first two factors, the design's reserve the last."""
    asked = request(fastened(feet=grid(2, 2)), sheet=SheetProperties(load_rating_pa=9000.0))
    answer = mount_check(asked)
    code = answer.foot_lost.code
    assert code == "skin-pull-over-foot-lost"
    warm = replace(asked, travel=replace(STORMLESS, lowest_air_c=15.0))
    demand = {
        name: by_code(mount_check(one))[code].demand
        for name, one in {"cold": replace(asked, travel=STORMLESS), "warm": warm}.items()
    }
    factors = {one.name: one.value_fraction for one in answer.foot_lost.expected.factors}
    assert factors["Cold or hot air"] == pytest.approx(demand["cold"] / demand["warm"], rel=0.01)
    assert factors["Strength beyond the design value"] == pytest.approx(1.875 * 1.1 / 1.5)
    assert factors["Reserve of a pass"] == 1.25


def test_measured_coefficients_leave_no_allowance_for_wind() -> None:
    asked = request(fastened(), wind=PanelWind(net_uplift_coefficient=1.2))
    names = [one.name for one in mount_check(asked).governing.expected.factors]
    assert not [name for name in names if name.startswith("Suction")]


def test_the_text_tells_both() -> None:
    answer = mount_check(WEAK["few fasteners"])
    expected = answer.governing.expected
    text = " ".join(MOUNT_CHECK.text(answer).split())
    assert f"Expected to hold {expected.holds_times:.3g} times the load of this case" in text
    assert f"reserves ask for {expected.asked_times:.3g}" in text


@pytest.mark.parametrize("name", WEAK)
def test_no_remedy_asks_for_times_of_anything(name: str) -> None:
    for check in mount_check(WEAK[name]).checks:
        assert not re.search(r"[0-9] times (the|as|more)", check.remedy), check.remedy


def remedied(asked: MountCheckRequest, remedy: str) -> MountCheckRequest | None:
    """The request with the pads, washers or fasteners that a remedy names."""
    mounting = asked.mounting
    if found := re.search(r"ads of (\d+) × (\d+) mm", remedy):
        length, width = (int(side) / 1000 for side in found.groups())
        assert isinstance(mounting, AdhesiveFeet)
        return replace(asked, mounting=replace(mounting, pad_length_m=length, pad_width_m=width))
    if found := re.search(r"washers of (\d+) mm behind", remedy):
        assert isinstance(mounting, FastenedFeet)
        washer = int(found[1]) / 1000
        return replace(asked, mounting=replace(mounting, washer_diameter_m=washer))
    if found := re.search(r"Take (\d+) fasteners", remedy):
        assert isinstance(mounting, FastenedFeet)
        more = replace(mounting, fasteners_per_foot=int(found[1]), spacing_m=mounting.base_width_m)
        return replace(asked, mounting=more)
    return None


@pytest.mark.parametrize("name", ["small pads", "hot pads", "small washers", "few fasteners"])
def test_what_a_remedy_names_mends_its_check(name: str) -> None:
    asked = WEAK[name]
    mended = 0
    for code, check in by_code(mount_check(asked)).items():
        if check.verdict != "pass" and (better := remedied(asked, check.remedy)):
            assert by_code(mount_check(better))[code].verdict == "pass", (code, check.remedy)
            mended += 1
    assert mended > 0


def test_where_no_size_helps_the_remedy_says_so() -> None:
    tiny = request(glued(feet=grid(2, 2), pad_length_m=0.02, pad_width_m=0.02))
    told = by_code(mount_check(tiny))["bond-combined-headwind-gust"].remedy
    assert told.startswith("No size that can be built")
