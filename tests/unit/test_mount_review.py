"""What a fitter asked of the mount check: sharp fronts, beads under a sheet, plain words."""

from typing import Any

import pytest
from mount_builders import FLEXIBLE, FRAMED, VEHICLE, bonded, fastened, glued, grid, request
from msgspec.structs import replace

from sunhitch.operations.mount_check import present
from sunhitch.report.layout import Page
from sunhitch.types.mount import Adhesive, MountCheckAnswer, MountCheckRequest, MountVehicle
from sunhitch_service.engine.mount import wind
from sunhitch_service.engine.mount.calculation import mount_check


def front(shape: str, radius: float | None = None) -> MountVehicle:
    return replace(VEHICLE, front=shape, front_radius_m=radius)


@pytest.mark.parametrize(
    ("vehicle", "share"),
    [
        (front("sharp"), 1.0),
        (front("unknown"), 1.0),
        # 0.05 m on a roof 2.7 m high is less than the 0.05 of the table's smallest ratio
        (front("rounded", 0.05), 1.0),
        (front("rounded", 0.3), 0.5),
        (front("rounded"), 0.5),
    ],
)
def test_suction_behind_a_sharp_front_reaches_further(vehicle: MountVehicle, share: float) -> None:
    """EN 1991-1-4 ends its zones at e/2, e = min(1.9 m, 2 × 2.7 m); a sharp front counts to e."""
    assert wind.reach_m(vehicle, 1.9, "front") == pytest.approx(share * 1.9)
    assert wind.reach_m(vehicle, 1.9, "left") == pytest.approx(0.5 * 1.9)


def gust_uplift(vehicle: MountVehicle) -> float:
    asked = request(glued(), vehicle=vehicle)
    place = replace(asked.position, x_m=1.0)
    loads = mount_check(replace(asked, position=place)).load_cases
    return next(load.uplift_n for load in loads if load.name == "headwind-gust")


def test_a_panel_a_metre_back_feels_a_sharp_front() -> None:
    assert gust_uplift(front("sharp")) > 1.5 * gust_uplift(front("rounded", 0.6))
    assert gust_uplift(front("unknown")) == gust_uplift(front("sharp"))


@pytest.mark.parametrize(
    ("shape", "told"), [("sharp", True), ("unknown", True), ("rounded", False)]
)
def test_the_longer_reach_is_told_as_an_assumption(shape: str, told: bool) -> None:
    answer = mount_check(
        request(glued(), vehicle=front(shape, 0.6 if shape == "rounded" else None))
    )
    wind = next(a for a in answer.assumptions if a.field == "/wind/net_uplift_coefficient")
    assert ("1.90 m" in wind.why) == told
    # The factor at the edge is no coefficient of the whole panel, which could be given.
    assert wind.value == "by zone"
    assert "times 1.5 over an open gap" in wind.why


def polyurethane(**changes: object) -> MountCheckRequest:
    return request(
        bonded(adhesive=Adhesive(kind="one-part-polyurethane", application_c=23.0, **changes)),
        FLEXIBLE,
    )


def test_beads_of_unknown_width_below_a_sheet_are_not_assessed() -> None:
    """3.5 mm after a day: beads of 12 mm take (6 / 3.5)² days."""
    answer = mount_check(polyurethane(hours_before_driving=96.0))
    assert answer.cure is not None
    assert answer.cure.hours_before_driving == pytest.approx(24 * (6 / 3.5) ** 2)
    cure = next(check for check in answer.checks if check.code == "cure-time")
    assert cure.verdict == "not-assessed"
    assert "at most 12 mm" in cure.remedy
    assert "bead_width_m" in cure.remedy
    assumed = {one.field: one.value for one in answer.assumptions}
    assert assumed["/mounting/adhesive/bead_width_m"] == 0.012


def test_beads_of_known_width_are_judged() -> None:
    answer = mount_check(polyurethane(bead_width_m=0.008, hours_before_driving=48.0))
    assert answer.cure is not None
    assert answer.cure.hours_before_driving == pytest.approx(24 * (4 / 3.5) ** 2)
    assert next(c for c in answer.checks if c.code == "cure-time").verdict == "pass"


@pytest.mark.parametrize(
    ("kind", "pad_m", "rested_h", "verdict"),
    [
        ("one-part-polyurethane", 0.12, None, "review"),
        ("structural-silicone", 0.12, None, "review"),
        ("one-part-polyurethane", 0.12, 7100.0, "pass"),
        ("one-part-polyurethane", 0.12, 72.0, "fail"),
        ("one-part-polyurethane", 0.038, None, None),
        ("one-part-polyurethane", 0.039, None, "review"),
        ("acrylic-foam-tape", 0.12, None, None),
    ],
)
def test_a_solid_pad_that_cures_for_months_is_told(
    kind: Any, pad_m: float, rested_h: float | None, verdict: str | None
) -> None:
    """3.5 mm after a day: 120 mm take (60 / 3.5)² = 294 days, and 38.3 mm a month of 30."""
    adhesive = Adhesive(kind=kind, application_c=23.0, hours_before_driving=rested_h)
    held = glued(pad_length_m=pad_m, pad_width_m=pad_m, adhesive=adhesive)
    found = [one for one in mount_check(request(held)).checks if one.code == "cure-time"]
    assert [one.verdict for one in found] == ([] if verdict is None else [verdict])
    assert all("at most 12 mm" in one.remedy for one in found if verdict != "pass")


@pytest.mark.parametrize(
    ("panel", "held", "inside"),
    [
        (FRAMED, glued(feet=grid(3, 2)), 0),
        (FRAMED, glued(feet=grid(3, 3)), 1),
        (FRAMED, glued(feet=grid(4, 4)), 4),
        (FRAMED, fastened(feet=grid(4, 3)), 2),
        (FLEXIBLE, glued(feet=grid(4, 4)), 0),
    ],
)
def test_feet_inside_a_frame_are_told(panel: Any, held: Any, inside: int) -> None:
    """Rows 0.08 m inside the edges meet the frame; those between them stand below glass."""
    found = [
        one for one in mount_check(request(held, panel)).checks if one.code == "foot-below-frame"
    ]
    assert [(one.verdict, one.parameters["inside"]) for one in found] == (
        [("review", inside)] if inside else []
    )
    assert all("crossbar" in one.remedy for one in found)


def printed(answer: MountCheckAnswer) -> str:
    return "\n".join(present(Page(100), answer))


def test_the_report_speaks_in_words() -> None:
    answer = mount_check(request(glued(), FLEXIBLE))
    text = printed(answer)
    assert answer.governing.code not in text
    assert answer.speed_limit.limited_by not in text
    assert "headwind gust, in frost" in text
    assert "headwind gust, in heat" in text
    assert "no factor of safety" in " ".join(text.split())
