"""What contradicts itself on a roof is named at its field, at the limit and on either side."""

from typing import Any

import msgspec
import pytest

from sunhitch.types.roof import PlacedPanel, Roof, RoofPanelType, Support
from sunhitch_service.engine.errors import Faults
from sunhitch_service.engine.roof.contradictions import (
    number_faults,
    panel_type_faults,
    placed_faults,
    roof_faults,
    support_faults,
)

PLAIN = {"kind": "rectangle", "length_m": 3.0, "width_m": 2.0}
BODY = {"thickness_m": 0.003, "mass_kg": 1.0, "construction": "flexible"}
STRIP = {"name": "walk", "x_m": 1.0, "y_m": 0.0, "length_m": 0.5, "width_m": 2.0}
BOX = {"kind": "rectangular", "name": "box", "length_m": 0.5, "width_m": 0.4}
VENT = {"kind": "round", "name": "vent", "diameter_m": 0.4}


def told(faults: Faults) -> dict[str, str]:
    return {fault.pointer: str(fault.message) for fault in faults._found}


def of_roof(outline: dict[str, Any] = PLAIN, **more: Any) -> dict[str, str]:
    faults = Faults()
    sound = roof_faults(msgspec.convert({"outline": outline, **more}, Roof), faults)
    found = told(faults)
    assert sound == (not any(pointer.startswith("/roof/outline") for pointer in found))
    return found


@pytest.mark.parametrize(
    ("length_m", "width_m", "size_m", "wrong"),
    [
        (3.0, 2.0, 1.0, False),
        (3.0, 2.0, 1.001, True),
        (0.8, 2.0, 0.8, False),
        (0.8, 2.0, 0.801, True),
        (0.8, 2.0, 1.0, True),
    ],
)
@pytest.mark.parametrize("shape", ["rounded", "chamfered"])
def test_front_corners_take_half_the_width_and_the_length_at_most(
    length_m: float, width_m: float, size_m: float, wrong: bool, shape: str
) -> None:
    outline = PLAIN | {"length_m": length_m, "width_m": width_m}
    found = of_roof(outline | {"front_corners": {"shape": shape, "size_m": size_m}})
    at = "/roof/outline/front_corners/size_m"
    assert (at in found) == wrong
    if wrong:
        assert f"{min(width_m / 2, length_m):g} m" in found[at]


@pytest.mark.parametrize(
    ("points", "wrong"),
    [
        ([[0, 0], [0, 2], [3, 2], [3, 0]], False),
        ([[0, 0], [3, 2], [0, 2], [3, 0]], True),
        ([[0, 0], [0, 0.1], [0.11, 0.1], [0.11, 0]], False),
        ([[0, 0], [0, 0.1], [0.09, 0.1], [0.09, 0]], True),
    ],
)
def test_an_outline_is_simple_and_not_tiny(points: list[list[float]], wrong: bool) -> None:
    """Edges that cross; 0.011 and 0.009 m² beside the least of 0.01 m²."""
    assert ("/roof/outline/points" in of_roof({"kind": "polygon", "points": points})) == wrong


@pytest.mark.parametrize(
    ("margins", "fields"),
    [
        ({"front_m": 1.5, "rear_m": 1.49}, set()),
        ({"front_m": 1.5, "rear_m": 1.5}, {"front_m"}),
        ({"rear_m": 2.89}, set()),
        ({"rear_m": 2.91}, {"front_m"}),
        ({"front_m": 2.94}, set()),
        ({"front_m": 2.96}, {"front_m"}),
        ({"side_m": 0.99}, set()),
        ({"side_m": 1.0}, {"side_m"}),
    ],
)
def test_margins_leave_something_of_the_roof(margins: dict[str, float], fields: set[str]) -> None:
    """3 × 2 m; what is not given is 0.10 m in front and 0.05 m behind."""
    assert set(of_roof(margins=margins)) == {f"/roof/margins/{field}" for field in fields}


@pytest.mark.parametrize(("margins", "wrong"), [(0.99, False), (1.0, True)])
def test_margins_are_held_against_a_roof_wherever_it_lies(margins: float, wrong: bool) -> None:
    """3 × 2 m from (2, 3) on."""
    points = [[2.0, 3.0], [2.0, 5.0], [5.0, 5.0], [5.0, 3.0]]
    given = {"front_m": 1.5 * margins, "rear_m": 1.5 * margins, "side_m": margins}
    found = of_roof({"kind": "polygon", "points": points}, margins=given)
    assert set(found) == ({f"/roof/margins/{f}_m" for f in ("front", "side")} if wrong else set())


def test_margins_that_are_not_given_count_at_the_sides_too() -> None:
    for width, faults in ((0.1, {"/roof/margins/side_m"}), (0.11, set())):
        points = [[0.0, 0.0], [0.0, width], [3.0, width], [3.0, 0.0]]
        assert set(of_roof({"kind": "polygon", "points": points})) == faults


@pytest.mark.parametrize(
    ("thing", "at", "wrong"),
    [
        (BOX | {"x_m": 2.9, "y_m": 1.9}, "obstacles/0", False),
        (BOX | {"x_m": 3.0, "y_m": 1.0}, "obstacles/0", False),
        (BOX | {"x_m": 3.01, "y_m": 1.0}, "obstacles/0", True),
        (VENT | {"x_m": 3.2, "y_m": 1.0}, "obstacles/0", False),
        (VENT | {"x_m": 3.21, "y_m": 1.0}, "obstacles/0", True),
        (STRIP | {"x_m": 2.9}, "walking_strips/0", False),
        (STRIP | {"x_m": 3.0}, "walking_strips/0", True),
        (STRIP | {"x_m": 2.9}, "cable_zone", False),
        (STRIP | {"x_m": 3.0}, "cable_zone", True),
    ],
)
def test_things_lie_on_the_roof_and_obstacles_may_touch_it(
    thing: dict[str, Any], at: str, wrong: bool
) -> None:
    field, _, listed = at.partition("/")
    found = of_roof(**{field: [thing] if listed else thing})
    assert (f"/roof/{at}" in found) == wrong


def test_a_name_stands_once_on_a_roof() -> None:
    line = {"name": "seam", "feature": "seam", "points": [[0.0, 0.5], [3.0, 0.5]]}
    vent = VENT | {"x_m": 1.0, "y_m": 1.0}
    found = of_roof(
        obstacles=[vent, vent], no_foot_lines=[line, line], walking_strips=[STRIP], cable_zone=STRIP
    )
    assert set(found) == {
        f"/roof/{at}/name" for at in ("obstacles/1", "no_foot_lines/1", "cable_zone")
    }
    assert of_roof(obstacles=[vent], no_foot_lines=[line], walking_strips=[STRIP]) == {}


@pytest.mark.parametrize(
    ("x_m", "y_m", "wrong"),
    [
        (1e-3, 1e-3, False),
        (2.999, 1.999, False),
        (3.0, 1.0, True),
        (1.0, 0.0, True),
        (1.0, 1.0, True),
        (1.19, 1.0, True),
        (1.21, 1.0, False),
    ],
)
def test_the_cable_entry_lies_on_the_roof_and_on_no_obstacle(
    x_m: float, y_m: float, wrong: bool
) -> None:
    """A vent of 0.4 m at (1, 1) stands for the square around it."""
    vent = VENT | {"x_m": 1.0, "y_m": 1.0}
    found = of_roof(obstacles=[vent], cable_entry={"x_m": x_m, "y_m": y_m})
    assert set(found) == ({"/roof/cable_entry"} if wrong else set())
    assert of_roof(obstacles=[vent], cable_entry="choose") == {}


def kind(length_m: float, width_m: float, orientation: str = "any") -> RoofPanelType:
    body = BODY | {"length_m": length_m, "width_m": width_m}
    given = {"name": "sheet", "body": body, "p_mp_w": 50.0, "orientation": orientation}
    return msgspec.convert(given, RoofPanelType)


@pytest.mark.parametrize(
    ("size", "orientation", "wrong"),
    [
        ((2.8, 1.4), "any", False),
        ((2.801, 1.0), "any", True),
        ((2.5, 1.401), "any", True),
        ((2.5, 1.0), "along", False),
        ((2.5, 1.0), "across", True),
        ((1.401, 2.0), "across", True),
        ((1.4, 2.8), "across", False),
        ((1.4, 2.8), "along", True),
        ((1.4, 2.8), "any", False),
    ],
)
def test_a_panel_fits_the_roof_in_one_of_its_orientations(
    size: tuple[float, float], orientation: str, wrong: bool
) -> None:
    faults = Faults()
    outline = PLAIN | {"length_m": 2.8, "width_m": 1.4}
    roof = msgspec.convert({"outline": outline}, Roof)
    panel_type_faults([kind(*size, orientation)], roof, faults)
    assert set(told(faults)) == ({"/panel_types/0/body"} if wrong else set())
    panel_type_faults([kind(1.0, 0.5), kind(1.0, 0.4)], roof, twice := Faults())
    assert set(told(twice)) == {"/panel_types/1/name"}


@pytest.mark.parametrize("start", [(0.0, 0.0), (4.0, 7.0), (-4.0, -7.0)])
@pytest.mark.parametrize(
    ("size", "wrong"), [((2.8, 1.4), False), ((2.801, 1.0), True), ((2.5, 1.401), True)]
)
def test_a_panel_is_held_against_a_roof_wherever_it_lies(
    start: tuple[float, float], size: tuple[float, float], wrong: bool
) -> None:
    x, y = start
    points = [[x, y], [x, y + 1.4], [x + 2.8, y + 1.4], [x + 2.8, y]]
    roof = msgspec.convert({"outline": {"kind": "polygon", "points": points}}, Roof)
    panel_type_faults([kind(*size)], roof, faults := Faults())
    assert set(told(faults)) == ({"/panel_types/0/body"} if wrong else set())


@pytest.mark.parametrize("rotated", [False, True])
@pytest.mark.parametrize(("edge", "turned"), [("end", False), (None, False), ("side", True)])
def test_plugs_look_along_the_length_or_across_it(
    edge: str | None, turned: bool, rotated: bool
) -> None:
    """Leads at an end look to front or rear of a panel along the vehicle, at a side across it."""
    along = {"front", "rear"} if turned == rotated else {"left", "right"}
    for side in ("front", "rear", "left", "right"):
        one = PlacedPanel(
            name="p", panel_type="sheet", x_m=0.0, y_m=0.0, rotated=rotated, plugs_towards=side
        )
        placed_faults([one], {"sheet": edge}, faults := Faults())
        wrong = side not in along
        assert set(told(faults)) == ({"/placements/0/plugs_towards"} if wrong else set())
        assert all(word in "".join(told(faults).values()) for word in along if wrong)


def test_placed_panels_have_a_type_that_is_there_and_names_of_their_own() -> None:
    def one(panel_type: str) -> PlacedPanel:
        return PlacedPanel(name="p", panel_type=panel_type, x_m=0.0, y_m=0.0, plugs_towards="left")

    placed_faults([one("sheet"), one("other")], {"sheet": "side"}, faults := Faults())
    assert set(told(faults)) == {"/placements/1/name", "/placements/1/panel_type"}


@pytest.mark.parametrize(("wanted", "wrong"), [(None, False), (1, True), (2, False), (3, True)])
def test_as_many_are_placed_as_are_wanted(wanted: int | None, wrong: bool) -> None:
    names = ("sheet", "other", "sheet")
    placed = [PlacedPanel(name=n, panel_type=n, x_m=0.0, y_m=0.0) for n in names]
    number_faults([("other", 1), ("sheet", wanted)], placed, faults := Faults())
    assert set(told(faults)) == ({"/panel_types/1/panels_wanted"} if wrong else set())


@pytest.mark.parametrize(
    ("places", "wrong"),
    [
        ([], False),
        ([(0.0, 0.0)], True),
        ([(0.0, 0.0), (1.0, 1.0)], True),
        ([(0.0, 0.0), (1.0, 1.0), (2.0, 2.0)], True),
        ([(3.0, 0.1), (3.0, 0.1), (3.0, 0.1)], True),
        ([(0.0, 1.0), (2.0, 1.0), (4.0, 1.001)], True),
        ([(0.0, 1.0), (2.0, 1.0), (4.0, 1.1)], False),
        ([(0.0, 0.0), (1.0, 1.0), (2.0, 0.0)], False),
    ],
)
def test_supports_carry_a_load_anywhere(places: list[tuple[float, float]], wrong: bool) -> None:
    supports = [Support(name=f"s{i}", x_m=x, y_m=y) for i, (x, y) in enumerate(places)]
    support_faults(supports, faults := Faults(), "/supports")
    assert set(told(faults)) == ({"/supports"} if wrong else set())
