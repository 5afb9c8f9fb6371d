"""What a fit-out does to its vehicle: mass, axles, centre of gravity, snow."""

import json
import math
from importlib import resources
from typing import Any

import msgspec
import pytest
from shipped import fit_out

from sunhitch.types import FitOutAnswer, FitOutRequest
from sunhitch_service.engine.errors import ContradictionError

pytestmark = pytest.mark.usefixtures("parts_kept")

EXAMPLE = json.loads(resources.files("sunhitch").joinpath("examples/fit-out.json").read_text())
WHEELS = [
    {"name": "front left", "x_m": 0.3, "y_m": 0.1},
    {"name": "front right", "x_m": 0.3, "y_m": 1.8},
    {"name": "rear left", "x_m": 3.9, "y_m": 0.1},
    {"name": "rear right", "x_m": 3.9, "y_m": 1.8},
]


def built(travel: dict[str, Any] | None = None, **vehicle: Any) -> FitOutAnswer:
    body = json.loads(json.dumps(EXAMPLE))
    body["vehicle"] |= vehicle
    body["travel"] = body.get("travel", {}) | (travel or {})
    return fit_out(msgspec.convert(body, FitOutRequest))


def test_axles_and_wheels_balance_what_the_build_adds() -> None:
    answer = built(supports=WHEELS)
    told, roof = answer.vehicle, answer.roof
    assert told.added_mass_kg == pytest.approx(4 * 2.3)
    by_name = {load.name: load.mass_kg for load in told.supports}
    assert sum(by_name.values()) == pytest.approx(told.added_mass_kg)
    for axis, centre in (("x_m", roof.centre_x_m), ("y_m", roof.centre_y_m)):
        moment = sum(by_name[wheel["name"]] * wheel[axis] for wheel in WHEELS)
        assert moment == pytest.approx(told.added_mass_kg * centre)
    front, rear = told.axles
    assert (front.supports, front.x_m, rear.x_m) == (["front left", "front right"], 0.3, 3.9)
    assert front.share_fraction == pytest.approx((3.9 - roof.centre_x_m) / 3.6)
    assert front.share_fraction + rear.share_fraction == pytest.approx(1.0)


def test_the_centre_of_gravity_rises_by_the_panels_moment() -> None:
    """(2900 kg × 1.1 m + m·h) ÷ (2900 kg + m), by hand."""
    told = built(mass_kg=2900.0, centre_height_m=1.1).vehicle
    m, h = told.added_mass_kg, told.added_height_m
    kind = EXAMPLE["panel_types"][0]
    middle = kind["mounting"]["standoff_m"] + kind["panel"]["body"]["thickness_m"] / 2
    assert h == pytest.approx(EXAMPLE["vehicle"]["roof_height_m"] + middle)
    assert told.centre_height_m == pytest.approx((2900.0 * 1.1 + m * h) / (2900.0 + m))
    assert told.centre_rise_m == pytest.approx(m * (h - 1.1) / (2900.0 + m))
    assert told.mass_kg == pytest.approx(2900.0 + m)
    assert told.axles == []


@pytest.mark.parametrize(("ground_pa", "added_pa"), [(0.0, 0.0), (1000.0, 0.0), (3000.0, 420.0)])
def test_snow_counts_as_what_panels_add(ground_pa: float, added_pa: float) -> None:
    """ASCE/SEI 7-16, 7.3: 0.7·Ct·pg with Ct of 1.2 and 1.0; up to 958 Pa both carry all of it."""
    checks = built({"ground_snow_pa": ground_pa}).checks
    parked = next(check for check in checks if check.code == "roof-rating-parked")
    driving = next(check for check in checks if check.code == "roof-rating")
    body = EXAMPLE["panel_types"][0]["panel"]["body"]
    area = 4 * body["length_m"] * body["width_m"]
    assert parked.demand is not None
    assert driving.demand is not None
    assert parked.demand - driving.demand == pytest.approx(added_pa * area / 9.80665, abs=1e-6)


@pytest.mark.parametrize(
    ("vehicle", "pointer"),
    [
        ({"supports": WHEELS[:2]}, "/vehicle/supports"),
        ({"supports": [*WHEELS, WHEELS[0]]}, "/vehicle/supports/4/name"),
        ({"mass_kg": 2900.0}, "/vehicle/centre_height_m"),
        ({"centre_height_m": 1.1}, "/vehicle/mass_kg"),
    ],
)
def test_a_vehicle_that_cannot_be_points_at_the_field(
    vehicle: dict[str, Any], pointer: str
) -> None:
    with pytest.raises(ContradictionError) as refused:
        built(**vehicle)
    assert pointer in [fault.pointer for fault in refused.value.faults]


@pytest.mark.parametrize(("told_m", "counts_m"), [(None, 2.5), (2.0, 2.0), (9.0, 2.5)])
def test_a_crowned_roof_bows_below_the_pads_too(told_m: float | None, counts_m: float) -> None:
    """A crown of h over a width w has the radius w²/8h + h/2, here 2.5 m; the tighter counts."""
    body = json.loads(json.dumps(EXAMPLE))
    width_m = body["roof"]["outline"]["width_m"]
    body["roof"]["crown_height_m"] = 2.5 - math.sqrt(2.5**2 - (width_m / 2) ** 2)
    if told_m is not None:
        body["vehicle"]["roof_radius_m"] = told_m
    mounting = body["panel_types"][0]["mounting"]
    side_m = max(mounting["pad_length_m"], mounting["pad_width_m"])
    gaps = [
        one
        for one in fit_out(msgspec.convert(body, FitOutRequest)).checks
        if one.code == "bond-gap"
    ]
    assert gaps
    for gap in gaps:
        assert gap.demand == pytest.approx(side_m**2 / (8 * counts_m), rel=1e-3)
