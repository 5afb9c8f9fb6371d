"""Requests that contradict themselves are refused, with every fault named."""

from typing import Any

import pytest
from mount_builders import FLEXIBLE, FRAMED, VEHICLE, bonded, fastened, glued, grid, railed, request
from msgspec.structs import replace

from sunhitch.types.mount import (
    FootPoint,
    MountCheckRequest,
    PanelWind,
    PullTest,
    SpacerSheet,
    TravelConditions,
)
from sunhitch.types.shade import PanelPosition
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.mount.calculation import mount_check
from sunhitch_service.engine.mount.faults import refuse_contradictions


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
    reach = f"0 to {FLEXIBLE.length_m:g} m along x_m and to {FLEXIBLE.width_m:g} m along y_m"
    assert reach in found["/mounting/feet/2"]


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


def pulled(**changes: Any) -> list[PullTest]:
    return [replace(PULLED[0], **changes)] * 3


def on_roof(x_m: float, y_m: float) -> MountCheckRequest:
    """The panel with its middle at a place of the roof."""
    return request(glued(), position=PanelPosition(x_m=x_m - 0.59, y_m=y_m - 0.27))


def apart(by_m: float) -> MountCheckRequest:
    """Two bolted feet so far apart, and two more."""
    places = [(0.1, 0.1), (0.1 + by_m, 0.1), (1.0, 0.4), (1.0, 0.1)]
    return request(fastened(feet=[FootPoint(x_m=x, y_m=y) for x, y in places]))


def pads_of(length_m: float, width_m: float) -> MountCheckRequest:
    """Pads on feet 0.38 m apart across the panel and 0.51 m along it."""
    return request(glued(pad_length_m=length_m, pad_width_m=width_m))


def beside(y_m: float, panel: Any) -> MountCheckRequest:
    """A foot beside the panel, or within it."""
    return request(fastened(feet=[*grid(2, 2), FootPoint(x_m=0.59, y_m=y_m)]), panel)


def walls(wall_m: float, height_m: float, width_m: float) -> MountCheckRequest:
    section = replace(SECTION, wall_m=wall_m, height_m=height_m, width_m=width_m)
    return request(railed(section=section))


def propped(*supports_m: float) -> MountCheckRequest:
    """Rails from -0.25 to 0.79 m on other supports."""
    rails = [replace(rail, supports_m=list(supports_m)) for rail in railed().rails]
    return request(railed(rails=rails))


def equalised(gap_m: float, **air: Any) -> MountCheckRequest:
    """A credit that ASCE 7-16, 29.4.4, gives over gaps of 0.25 to 10 in."""
    wind = PanelWind(equalisation_credited=True, **air)
    return request(fastened(standoff_m=gap_m), wind=wind)


def clamped(across_m: float, place_m: float) -> MountCheckRequest:
    """The first of four clamps elsewhere; its rail lies at 0.25 m, from -0.25 to 0.79 m."""
    first = FootPoint(x_m=across_m, y_m=place_m)
    return request(railed(clamps=[first, *railed().clamps[1:]]))


def tape_pulled_at(bond_c: float) -> MountCheckRequest:
    return request(glued(pull_tests=pulled(bond_c=bond_c)))


EDGES = {
    "middle on the front edge": (on_roof(0.0, 0.9), on_roof(-0.01, 0.9)),
    "middle on the rear edge": (on_roof(5.4, 0.9), on_roof(5.41, 0.9)),
    "middle on the left edge": (on_roof(2.0, 0.0), on_roof(2.0, -0.01)),
    "middle on the right edge": (on_roof(2.0, 1.9), on_roof(2.0, 1.91)),
    "coldest below hottest": (
        request(glued(), travel=TravelConditions(lowest_air_c=19.9, highest_air_c=20.0)),
        request(glued(), travel=TravelConditions(lowest_air_c=20.0, highest_air_c=20.0)),
    ),
    "flap below half": (
        request(bonded(flap_m=0.269), FLEXIBLE),
        request(bonded(flap_m=0.27), FLEXIBLE),
    ),
    "three feet": (request(fastened(feet=grid(2, 2)[:3])), request(fastened(feet=grid(2, 2)[:2]))),
    "feet 10 mm apart": (apart(0.0101), apart(0.0099)),
    "feet on a flexible panel's edge": (beside(0.0, FLEXIBLE), beside(-0.001, FLEXIBLE)),
    "feet on its other edge": (beside(0.54, FLEXIBLE), beside(0.541, FLEXIBLE)),
    "brackets 0.15 m beside a frame": (beside(-0.15, FRAMED), beside(-0.151, FRAMED)),
    "brackets beyond its other side": (beside(0.69, FRAMED), beside(0.691, FRAMED)),
    "pads that touch across": (pads_of(0.3, 0.38), pads_of(0.3, 0.381)),
    "pads that touch along": (pads_of(0.51, 0.3), pads_of(0.511, 0.3)),
    "panel on its feet": (
        request(glued(standoff_m=0.02, foot_thickness_m=0.02)),
        request(glued(standoff_m=0.0199, foot_thickness_m=0.02)),
    ),
    "equal pressures over a quarter of an inch at least": (equalised(0.006), equalised(0.0059)),
    "equal pressures over ten inches at most": (equalised(0.25), equalised(0.251)),
    "equal pressures over an open gap": (
        equalised(0.02),
        equalised(0.02, under_panel="closed-at-front"),
    ),
    "one fastener needs no spacing": (
        request(fastened(fasteners_per_foot=1, spacing_m=0.0)),
        request(fastened(fasteners_per_foot=2, spacing_m=0.0)),
    ),
    "rivet nuts up to M8": (
        request(fastened(fastener="rivet-nut", thread="M8")),
        request(fastened(fastener="rivet-nut", thread="M4")),
    ),
    "three pull tests, or none": (
        request(fastened(pull_tests=PULLED)),
        request(fastened(pull_tests=PULLED[:2])),
    ),
    "the last foot pulled": (
        request(fastened(pull_tests=pulled(foot=6))),
        request(fastened(pull_tests=pulled(foot=7))),
    ),
    "tape at 90 °C": (tape_pulled_at(90.0), tape_pulled_at(90.1)),
    "hollow rails": (walls(0.0099, 0.02, 0.04), walls(0.01, 0.02, 0.04)),
    "hollow flat rails": (walls(0.0099, 0.04, 0.02), walls(0.01, 0.04, 0.02)),
    "supports 10 mm apart": (propped(0.1, 0.1101), propped(0.1, 0.1099)),
    "supports on both ends": (propped(-0.25, 0.79), propped(-0.25, 0.791)),
    "supports on the other end": (propped(-0.25, 0.5), propped(-0.251, 0.5)),
    "clamps 50 mm beside a rail": (clamped(0.2, 0.02), clamped(0.199, 0.02)),
    "clamps at a rail's end": (clamped(0.25, 0.54), clamped(0.3001, 0.54)),
}


@pytest.mark.parametrize("name", EDGES)
def test_what_just_fits_is_no_contradiction(name: str) -> None:
    """Either side of every limit, or exactly on it."""
    fits, does_not = EDGES[name]
    refuse_contradictions(fits)
    with pytest.raises(ContradictionError) as caught:
        refuse_contradictions(does_not)
    assert caught.value.faults


def test_each_pair_of_supports_in_one_place_is_named_once() -> None:
    """The later of two points at the earlier one."""
    found = faults(with_feet((0.1, 0.1), (1.0, 0.4), (1.0, 0.1), (0.1, 0.1), (1.0, 0.1)))
    assert set(found) == {"/mounting/feet/3", "/mounting/feet/4"}
    assert "/mounting/feet/0" in found["/mounting/feet/3"]
    assert "/mounting/feet/2" in found["/mounting/feet/4"]
