"""Requests that contradict themselves are refused, with every fault named."""

from typing import Any

import pytest
from mount_builders import FLEXIBLE, FRAMED, VEHICLE, bonded, fastened, glued, grid, railed, request
from msgspec.structs import replace

from sunhitch.types.mount import (
    FootPoint,
    MountCheckRequest,
    PullTest,
    SpacerSheet,
    TravelConditions,
)
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.mount.calculation import mount_check


def faults(build: MountCheckRequest) -> dict[str, str]:
    with pytest.raises(ContradictionError) as caught:
        mount_check(build)
    return {fault.pointer: fault.message for fault in caught.value.faults}


def with_feet(*points: tuple[float, float]) -> MountCheckRequest:
    return request(glued(feet=[FootPoint(x_m=x, y_m=y) for x, y in points]), FLEXIBLE)


@pytest.mark.parametrize("count", [0, 1, 2])
def test_fewer_than_three_feet(count: int) -> None:
    found = faults(with_feet(*[(0.1, 0.1), (1.0, 0.4)][:count]))
    assert "at least 3" in found["/mounting/feet"]


def test_feet_in_a_line() -> None:
    found = faults(with_feet((0.1, 0.27), (0.6, 0.27), (1.1, 0.27)))
    assert "one line" in found["/mounting/feet"]


def test_two_feet_in_one_place() -> None:
    found = faults(with_feet((0.1, 0.1), (0.1, 0.1), (1.0, 0.4), (1.0, 0.1)))
    assert "/mounting/feet/0" in found["/mounting/feet/1"]


def test_foot_outside_a_flexible_panel() -> None:
    found = faults(with_feet((0.1, 0.1), (0.1, 0.5), (1.3, 0.3)))
    assert "outside the panel" in found["/mounting/feet/2"]


def test_brackets_may_stand_beside_a_frame_but_not_far() -> None:
    near = [*grid(2, 2), FootPoint(x_m=0.59, y_m=-0.1)]
    assert mount_check(request(glued(feet=near))).feet[4].y_m == -0.1
    far = [*grid(2, 2), FootPoint(x_m=0.59, y_m=-0.3)]
    assert "/mounting/feet/4" in faults(request(glued(feet=far)))


def test_all_faults_are_found_at_once() -> None:
    build = with_feet((0.1, 0.1), (0.1, 0.1), (2.0, 0.3))
    build = replace(
        build,
        position=replace(build.position, x_m=20.0),
        travel=TravelConditions(lowest_air_c=30.0, highest_air_c=20.0),
    )
    assert {"/mounting/feet/1", "/mounting/feet/2", "/position", "/travel/lowest_air_c"} <= set(
        faults(build)
    )


SECTION = railed().section
RAIL = railed().rails[0]
GRID = grid(3, 2)
OWN_PAD = [replace(GRID[0], pad_length_m=0.1), *GRID[1:]]
OWN_FASTENERS = [replace(GRID[0], fasteners=3), *GRID[1:]]
WIDE_FOOT = [replace(GRID[0], pad_width_m=0.5), *GRID[1:]]
PULLED = [PullTest(load_n=900.0, seconds=10.0, broke=False)] * 3


@pytest.mark.parametrize(
    ("build", "pointer"),
    [
        (request(glued(pad_length_m=0.5, pad_width_m=0.5)), "/mounting/feet/1"),
        (request(glued(standoff_m=0.01)), "/mounting/standoff_m"),
        (request(fastened(spacing_m=0.0)), "/mounting/spacing_m"),
        (request(fastened(feet=OWN_PAD)), "/mounting/feet/0"),
        (request(glued(feet=OWN_FASTENERS)), "/mounting/feet/0"),
        (request(railed(clamps=OWN_PAD)), "/mounting/clamps/0"),
        (request(glued(feet=OWN_PAD, pull_tests=PULLED)), "/mounting/pull_tests/0/foot"),
        (request(glued(feet=WIDE_FOOT, pad_width_m=0.3)), "/mounting/feet/1"),
        (request(fastened(fastener="rivet-nut", thread="M10")), "/mounting/thread"),
        (request(bonded(), FRAMED), "/mounting/kind"),
        (request(bonded(flap_m=0.29), FLEXIBLE), "/mounting/flap_m"),
        (
            request(
                glued(), spacer=SpacerSheet(material="polycarbonate", thickness_m=0.006, mass_kg=1)
            ),
            "/spacer",
        ),
        (
            request(glued(), vehicle=replace(VEHICLE, front_radius_m=0.2)),
            "/vehicle/front_radius_m",
        ),
        (
            request(railed(section=replace(SECTION, wall_m=0.025))),
            "/mounting/section/wall_m",
        ),
        (
            request(railed(rails=[replace(RAIL, supports_m=[0.1]), railed().rails[1]])),
            "/mounting/rails/0/supports_m",
        ),
        (
            request(railed(rails=[replace(RAIL, supports_m=[0.1, 0.1]), railed().rails[1]])),
            "/mounting/rails/0/supports_m",
        ),
        (
            request(railed(rails=[replace(RAIL, supports_m=[-2.0, 0.1]), railed().rails[1]])),
            "/mounting/rails/0/supports_m",
        ),
        (
            request(railed(rails=[replace(RAIL, start_m=2.0), railed().rails[1]])),
            "/mounting/rails/0/end_m",
        ),
        (request(railed(rails=[RAIL])), "/mounting/clamps/2"),
    ],
)
def test_contradictions_are_pointed_at(build: Any, pointer: str) -> None:
    assert pointer in faults(build)
