"""Bow and waves of a roof below rigid feet, steps and hail on a panel."""

import math
from typing import Any

import pytest
from mount_builders import FLEXIBLE, RATED, VEHICLE, bonded, glued, request
from msgspec.structs import replace

from sunhitch.types.check import Check
from sunhitch.types.mount import Adhesive, Corrugation, TravelConditions
from sunhitch_service.engine.mount.calculation import mount_check


def checks(code: str, asked: Any) -> list[Check]:
    return [check for check in mount_check(asked).checks if check.code == code]


def on_bow(radius_m: float, **changes: Any) -> Check:
    vehicle = replace(VEHICLE, roof_radius_m=radius_m)
    (found,) = checks("bond-gap", request(glued(**changes), vehicle=vehicle))
    return found


def test_gap_below_a_pad_on_a_bowed_roof() -> None:
    """120 mm on a radius of 6 m: 6000 − √(6000² − 60²) = 0.3 mm, of which half of 1.1 mm of tape
    is filled; on 2 m the 0.9 mm are not, and 93.8 mm would be the longest pad."""
    flat, tight = on_bow(6.0), on_bow(2.0)
    assert flat.demand == pytest.approx(6.0 - math.sqrt(6.0**2 - 0.06**2))
    assert flat.capacity == pytest.approx(0.55e-3)
    assert (flat.verdict, tight.verdict) == ("pass", "fail")
    assert "93.8 mm" in tight.remedy


def test_a_paste_fills_its_whole_thickness() -> None:
    paste = Adhesive(kind="one-part-polyurethane", bead_width_m=0.01)
    assert on_bow(2.0, adhesive=paste).capacity == pytest.approx(0.003)
    assert on_bow(2.0, adhesive=paste).verdict == "pass"


@pytest.mark.parametrize(("flat_m", "verdict"), [(0.13, "pass"), (0.1, "fail")])
def test_waves_below_a_pad(flat_m: float, verdict: str) -> None:
    waves = replace(VEHICLE, corrugation=Corrugation(depth_m=0.008, flat_m=flat_m))
    (found,) = checks("bond-gap", request(glued(), vehicle=waves))
    assert found.verdict == verdict


def test_a_bonded_sheet_follows_the_roof() -> None:
    """3 mm thick on a radius of 0.4 m: strain 3/(2·400) = 0.00375, above 0.003."""
    for radius, strain, verdict in ((0.4, 0.00375, "fail"), (1.0, 0.0015, "pass")):
        vehicle = replace(VEHICLE, roof_radius_m=radius)
        (found,) = checks("bow-strain", request(bonded(), FLEXIBLE, vehicle=vehicle))
        assert found.demand == pytest.approx(strain)
        assert found.verdict == verdict


@pytest.mark.parametrize(
    ("code", "travel", "field", "enough", "short"),
    [
        ("panel-step", TravelConditions(stepped_on=True), "step_rating_n", 1000.0, 900.0),
        ("hail", TravelConditions(hailstone_m=0.03), "hail_rating_m", 0.035, 0.025),
    ],
)
def test_steps_and_hail_against_the_makers_rating(
    code: str, travel: TravelConditions, field: str, enough: float, short: float
) -> None:
    """As given; not assessed without, and not asked where nobody expects it."""
    verdicts = []
    for rating in (enough, short, None):
        sheet = replace(RATED, **{field: rating})
        (found,) = checks(code, request(glued(), travel=travel, sheet=sheet))
        verdicts.append(found.verdict)
    assert verdicts == ["pass", "fail", "not-assessed"]
    assert checks(code, request(glued())) == []
