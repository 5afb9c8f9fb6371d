"""What is asked of a layout is kept: lines, strips, orientation, preference, plates, balance."""

import json
from importlib import resources
from typing import Any

import msgspec
import pytest

from sunhitch.codec import encode
from sunhitch.types.fitout import RoofSun
from sunhitch.types.roof import LaidPanel, RoofLayoutAnswer, RoofLayoutRequest
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.fitout.light import obstacle_shadows
from sunhitch_service.engine.roof.layout import roof_layout, settle
from sunhitch_service.engine.roof.packing import pack
from sunhitch_service.engine.roof.placement import check_placements, fits
from sunhitch_service.engine.roof.preferences import LayoutTargets
from sunhitch_service.engine.roof.search import Budget
from sunhitch_service.engine.roof.site import resolve_site

EXAMPLE = json.loads(
    resources.files("sunhitch.examples").joinpath("roof-layout.json").read_text("utf-8")
)
BODY = {
    "length_m": 1.0,
    "width_m": 0.5,
    "thickness_m": 0.003,
    "mass_kg": 2.0,
    "construction": "flexible",
}
FEET = {"plate_length_m": 0.1, "plate_width_m": 0.1, "edge_inset_m": 0.06}


def plain(length: float, width: float, panel: dict[str, Any], **roof: Any) -> dict[str, Any]:
    outline = {"kind": "rectangle", "length_m": length, "width_m": width}
    margins = {"front_m": 0.1, "rear_m": 0.05, "side_m": 0.05}
    kind = {"name": "sheet", "body": BODY, "p_mp_w": 100.0, **panel}
    return {
        "roof": {"outline": outline, "margins": margins, **roof},
        "panel_types": [kind],
        "min_gap_m": 0.02,
        "search": {"time_limit_s": 30.0},
    }


def laid_out(request: dict[str, Any]) -> RoofLayoutAnswer:
    return roof_layout(msgspec.convert(request, RoofLayoutRequest))


def faults_of(request: dict[str, Any]) -> dict[str, str]:
    with pytest.raises(ContradictionError) as raised:
        laid_out(request)
    return {fault.pointer: fault.message for fault in raised.value.faults}


def overlap(panel: LaidPanel, x1: float, y1: float, x2: float, y2: float) -> bool:
    return (
        panel.x_m < x2 - 1e-6
        and panel.x_m + panel.size_x_m > x1 + 1e-6
        and panel.y_m < y2 - 1e-6
        and panel.y_m + panel.size_y_m > y1 + 1e-6
    )


@pytest.mark.parametrize("feature", ["seam", "rib", "rivet-line", "edge-trim"])
def test_feet_avoid_lines_of_every_kind(feature: str) -> None:
    """Pushed to the front the outer feet would stand at x = 0.16 m, on the line."""
    line = {
        "name": "line",
        "feature": feature,
        "points": [[0.16, 0.0], [0.16, 0.7]],
        "keep_off_m": 0.03,
    }
    panel = {"feet": FEET, "panels_wanted": 1, "orientation": "along"}
    answer = laid_out(plain(1.4, 0.7, panel, no_foot_lines=[line]))
    (laid,) = answer.plan.panels
    gaps = [abs(foot.x_m - 0.16) - foot.size_x_m / 2 for foot in laid.feet]
    assert min(gaps) >= 0.03 - 1e-6
    near = next(n for n in laid.nearest if n.thing == "no-foot-line")
    assert near.distance_m == pytest.approx(min(gaps), abs=1e-5)


def test_a_slanted_seam_closes_only_the_roof_along_it() -> None:
    """Both triangles beside a diagonal hold panels whose feet keep off it."""
    seam = {"name": "seam", "feature": "seam", "points": [[0.0, 0.0], [3.0, 2.0]]}
    answer = laid_out(plain(3.0, 2.0, {"feet": FEET}, no_foot_lines=[seam]))
    sides = {3.0 * foot.y_m > 2.0 * foot.x_m for p in answer.plan.panels for foot in p.feet}
    assert sides == {True, False}
    assert {c.verdict for c in answer.checks if c.code == "foot-line"} == {"pass"}


def test_walking_strip_and_cable_zone_stay_free() -> None:
    strip = {"name": "walk", "x_m": 0.0, "y_m": 0.8, "length_m": 3.0, "width_m": 0.4}
    zone = {"name": "cables", "x_m": 1.2, "y_m": 0.0, "length_m": 0.2, "width_m": 2.0}
    answer = laid_out(plain(3.0, 2.0, {}, walking_strips=[strip], cable_zone=zone))
    assert len(answer.plan.panels) == 4
    for panel in answer.plan.panels:
        assert not overlap(panel, 0.0, 0.8, 3.0, 1.2)
        assert not overlap(panel, 1.2, 0.0, 1.4, 2.0)
    assert 1.2 <= answer.plan.cable_entry.x_m <= 1.4


@pytest.mark.parametrize(("orientation", "rotated"), [("along", {False}), ("across", {True})])
def test_orientation_is_kept(orientation: str, rotated: set[bool]) -> None:
    answer = laid_out(plain(2.6, 1.7, {"orientation": orientation}))
    assert {panel.rotated for panel in answer.plan.panels} == rotated


def test_wanted_numbers_are_kept_and_a_shortage_is_told() -> None:
    few = laid_out(plain(3.0, 2.0, {"panels_wanted": 3}))
    assert len(few.plan.panels) == 3
    assert (few.plan.proof.how, few.plan.proof.proven) == ("everything-placed", True)
    many = laid_out(plain(1.2, 1.2, {"panels_wanted": 9}))
    short = next(c for c in many.checks if c.code == "panels-placed")
    assert (short.verdict, short.demand) == ("fail", 9.0)
    assert short.capacity == len(many.plan.panels) == 2


def test_where_no_number_is_wanted_one_panel_is_enough() -> None:
    told = next(c for c in laid_out(plain(1.2, 0.7, {})).checks if c.code == "panels-placed")
    assert (told.verdict, told.demand, told.capacity) == ("pass", 1.0, 1.0)


@pytest.mark.parametrize(
    ("wanted", "how", "most"), [(1, "everything-placed", 100), (2, "dual-bound", 100)]
)
def test_only_where_every_panel_wanted_is_placed_nothing_more_is_to_be_proven(
    wanted: int, how: str, most: int
) -> None:
    """Room for one panel of 1.0 × 0.5 m."""
    request = plain(1.2, 0.7, {"panels_wanted": wanted, "orientation": "along"})
    proof = laid_out(request).plan.proof
    assert (proof.how, proof.proven, proof.panels_placed) == (how, True, 1)
    assert proof.power_at_most_w == pytest.approx(most)


def test_no_more_panels_are_told_possible_than_power_allows() -> None:
    """1.75 × 0.95 m hold three of 1.0 × 0.5 m by area, but one along each way."""
    proof = laid_out(plain(1.9, 1.05, {"orientation": "along"})).plan.proof
    assert (proof.panels_placed, proof.panels_at_most, proof.power_at_most_w) == (1, 1, 100.0)
    assert proof.area_power_at_most_w == pytest.approx(300.0)


def test_no_more_panels_are_told_possible_than_area_allows() -> None:
    """Twelve squares of 0.5 m on 2 × 1.5 m, of 100 or of 50 W: 24 of the weaker by power alone."""
    square = {"length_m": 0.5, "width_m": 0.5}
    request = plain(2.0, 1.5, {}, margins={"front_m": 0.0, "rear_m": 0.0, "side_m": 0.0})
    kind = request["panel_types"][0]
    request["panel_types"] = [
        kind | {"name": name, "body": kind["body"] | square, "p_mp_w": power, "feet": None}
        for name, power in (("strong", 100.0), ("weak", 50.0))
    ]
    proof = laid_out(request | {"min_gap_m": 0.0}).plan.proof
    assert (proof.panels_placed, proof.panels_at_most, proof.power_w) == (12, 12, 1200.0)


def test_one_orientation_is_preferred_when_asked_for() -> None:
    answer = laid_out(plain(3.2, 1.8, {"panels_wanted": 4}) | {"prefer": "one-orientation"})
    assert len({panel.rotated for panel in answer.plan.panels}) == 1


def test_short_cables_are_no_longer_than_those_of_a_balanced_layout() -> None:
    entry = {"x_m": 3.6, "y_m": 1.6}
    request = plain(4.0, 2.0, {"panels_wanted": 3}, cable_entry=entry)
    balanced, short = (laid_out(request | {"prefer": w}) for w in ("balanced", "short-cables"))
    total = [sum(p.cable.to_entry_m for p in a.plan.panels) for a in (balanced, short)]
    assert total[1] <= total[0] + 1e-6


def test_symmetry_puts_the_mass_in_the_middle() -> None:
    request = plain(4.0, 2.0, {"panels_wanted": 4}) | {"prefer": "symmetry"}
    assert laid_out(request).plan.mass_centre.y_m == pytest.approx(1.0, abs=0.02)


def test_ties_are_broken_into_rows_with_plugs_towards_the_cables() -> None:
    """Four panels with room to spare: two front edges, two left edges, leads towards the entry."""
    entry = {"x_m": 2.0, "y_m": 1.0}
    answer = laid_out(plain(4.0, 2.0, {"panels_wanted": 4}, cable_entry=entry))
    panels = answer.plan.panels
    lines = len({p.x_m for p in panels}) + len({p.y_m for p in panels})
    assert lines <= 4
    for panel in panels:
        middle = panel.x_m + panel.size_x_m / 2, panel.y_m + panel.size_y_m / 2
        towards = {
            "front": middle[0] - 2.0,
            "rear": 2.0 - middle[0],
            "left": middle[1] - 1.0,
            "right": 1.0 - middle[1],
        }
        assert towards[panel.plugs_towards] > 0.0


def test_overhanging_plates_interlock_when_shifted() -> None:
    """Beside each other, plates 20 mm outside both panels need 40 mm; only 20 mm are there."""
    feet = {"plate_length_m": 0.1, "plate_width_m": 0.1, "edge_inset_m": 0.03}
    request = plain(1.4, 1.12, {"feet": feet, "orientation": "along", "panels_wanted": 2})
    request["roof"]["margins"]["side_m"] = 0.05
    answer = laid_out(request)
    first, second = answer.plan.panels
    assert abs(first.y_m - second.y_m) == pytest.approx(0.52)
    assert abs(first.x_m - second.x_m) >= 0.1 - 1e-6
    assert next(c for c in answer.checks if c.code == "foot-plates-apart").verdict == "pass"


@pytest.mark.parametrize(("length", "placed"), [(3.549, 2), (3.551, 3)])
def test_plates_beyond_the_ends_of_aligned_panels_part_them(length: float, placed: int) -> None:
    """0.1 m of margin, three times 1.0 m with twice 0.09 m of plate between, 0.09 m of plate."""
    feet = {"plate_length_m": 0.1, "plate_width_m": 0.1, "edge_inset_m": -0.04}
    answer = laid_out(plain(length, 0.75, {"feet": feet, "orientation": "along"}))
    assert (len(answer.plan.panels), answer.plan.proof.proven) == (placed, placed == 3)


def test_a_frame_on_a_crowned_roof_wants_a_second_look() -> None:
    framed = {"body": BODY | {"construction": "framed"}, "panels_wanted": 1}
    answer = laid_out(plain(2.0, 2.0, framed | {"orientation": "across"}, crown_height_m=0.05))
    crown = next(c for c in answer.checks if c.code == "crown-under-frame")
    # Sagitta of a 1.0 m chord on the circle through 2.0 m of width and 50 mm of rise.
    radius = (1.0**2 + 0.05**2) / (2 * 0.05)
    assert crown.demand == pytest.approx(radius - (radius**2 - 0.5**2) ** 0.5)
    assert crown.verdict == "review"


def test_weight_is_shared_between_left_and_right_wheels() -> None:
    """Two equal axles' wheels at y = 0.2 and 1.8 m: the lever rule across the vehicle."""
    places = [(n, x, y) for n, x in (("f", 0.5), ("r", 3.5)) for y in (0.2, 1.8)]
    supports = [{"name": f"{n} {y}", "x_m": x, "y_m": y} for n, x, y in places]
    answer = laid_out(plain(4.0, 2.0, {"panels_wanted": 3}) | {"supports": supports})
    left = sum(s.mass_kg for s in answer.support_loads if s.name.endswith("0.2"))
    share = (1.8 - answer.plan.mass_centre.y_m) / 1.6
    assert left == pytest.approx(share * answer.plan.total_mass_kg, abs=1e-4)
    assert sum(s.mass_kg for s in answer.support_loads) == pytest.approx(6.0)


def test_what_one_obstacle_costs_is_what_the_roof_without_it_holds() -> None:
    """Each answer without an obstacle equals the power proven for the roof without it."""
    vents = [
        {"kind": "rectangular", "name": n, "x_m": x, "y_m": 0.4, "length_m": 0.3, "width_m": 0.3}
        for n, x in (("front", 0.5), ("rear", 1.9))
    ]
    request = plain(2.6, 1.25, {}, obstacles=vents) | {"try_without_obstacles": True}
    found = {w.obstacle: w for w in laid_out(request).without_obstacle}
    assert set(found) == {"front", "rear"}
    for name, without in found.items():
        rest = [vent for vent in vents if vent["name"] != name]
        alone = laid_out(plain(2.6, 1.25, {}, obstacles=rest)).plan.proof
        assert alone.proven
        assert without.power_w == pytest.approx(alone.power_w)
    gains = [w.gain_w for w in laid_out(request).without_obstacle]
    assert gains == sorted(gains, reverse=True)
    assert min(gains) >= 0.0


def test_what_an_obstacle_costs_is_what_the_roof_without_it_holds() -> None:
    """The shipped roof, with work to spare: its gains are those of the roofs without each thing."""
    request = EXAMPLE | {"search": {"time_limit_s": 20.0}}
    found = laid_out(request)
    power = found.plan.proof.power_w
    assert {w.obstacle for w in found.without_obstacle} == {
        thing["name"] for thing in request["roof"]["obstacles"]
    }
    for without in found.without_obstacle:
        rest = [o for o in request["roof"]["obstacles"] if o["name"] != without.obstacle]
        alone = laid_out(
            request
            | {"roof": request["roof"] | {"obstacles": rest}, "try_without_obstacles": False}
        ).plan.proof
        assert alone.proven
        assert without.proven
        assert without.gain_w == pytest.approx(alone.power_w - power)
        assert without.gain_at_most_w == pytest.approx(without.gain_w, abs=0.01)
    assert sum(w.gain_w for w in found.without_obstacle) > 0.0


def test_what_is_not_proven_of_an_obstacle_is_told() -> None:
    """A second leaves room for too few places to prove anything: the gain has an upper bound."""
    request = EXAMPLE | {"search": {"time_limit_s": 1.0}}
    found = laid_out(request).without_obstacle
    assert found
    for without in found:
        assert without.gain_at_most_w >= without.gain_w - 0.01
        assert without.proven == (without.gain_at_most_w <= without.gain_w + 0.01)


def test_seams_that_no_foot_can_avoid_are_named() -> None:
    """Seams every 0.1 m with 0.02 m to each side leave 0.06 m; plates need 0.08 m everywhere."""
    feet = {"plate_length_m": 0.08, "plate_width_m": 0.08}
    seams = [
        {"name": f"seam {k}", "feature": "seam", "points": [[k / 10, 0.0], [k / 10, 1.2]]}
        for k in range(1, 30)
    ]
    tight = plain(3.0, 1.2, {"feet": feet}, no_foot_lines=seams)
    (told,) = [c for c in laid_out(tight).checks if c.code == "panels-placed"]
    assert told.verdict == "fail"
    assert "only lines that feet keep off are in the way" in told.remedy
    assert any(seam["name"] in told.remedy for seam in seams)
    hatch = {"kind": "rectangular", "name": "hatch", "x_m": 0.4, "y_m": 0.1}
    filled = tight | {
        "roof": tight["roof"] | {"obstacles": [hatch | {"length_m": 2.2, "width_m": 1.0}]}
    }
    (told,) = [c for c in laid_out(filled).checks if c.code == "panels-placed"]
    assert told.verdict == "fail"
    assert "only lines" not in told.remedy


def test_seams_that_stop_the_last_panel_are_named() -> None:
    """One panel finds a place on the bare front; behind it seams leave no room for its feet."""
    feet = {"plate_length_m": 0.08, "plate_width_m": 0.08}
    seams = [
        {"name": f"seam {k}", "feature": "seam", "points": [[k / 10, 0.0], [k / 10, 0.7]]}
        for k in range(13, 30)
    ]
    two = plain(3.0, 0.7, {"feet": feet, "panels_wanted": 2}, no_foot_lines=seams)
    (told,) = [c for c in laid_out(two).checks if c.code == "panels-placed"]
    assert (told.verdict, told.demand, told.capacity) == ("fail", 2.0, 1.0)
    assert "1 of 2 find no place: only lines that feet keep off are in the way" in told.remedy
    assert any(seam["name"] in told.remedy for seam in seams)


def test_another_number_wanted_than_placed_is_a_fault() -> None:
    place = {"name": "one", "panel_type": "sheet", "x_m": 0.2, "y_m": 0.1}
    request = plain(3.0, 1.2, {"panels_wanted": 2}) | {"placements": [place]}
    assert "1 panels of type 'sheet'" in faults_of(request)["/panel_types/0/panels_wanted"]
    request["panel_types"][0]["panels_wanted"] = 1
    assert len(laid_out(request).plan.panels) == 1


def test_every_fault_of_a_roof_is_named_at_once() -> None:
    """Obstacle off the roof, panel too large, margins that leave nothing."""
    vent = {"kind": "round", "name": "vent", "x_m": 9.0, "y_m": 1.0, "diameter_m": 0.3}
    request = plain(2.0, 1.0, {"body": BODY | {"length_m": 2.4}}, obstacles=[vent])
    request["roof"]["margins"] = {"front_m": 1.5, "rear_m": 0.6, "side_m": 0.5}
    faults = faults_of(request)
    assert set(faults) == {
        "/roof/obstacles/0",
        "/panel_types/0/body",
        "/roof/margins/front_m",
        "/roof/margins/side_m",
    }
    assert "'vent'" in faults["/roof/obstacles/0"]
    assert "2.400 m × 0.500 m" in faults["/panel_types/0/body"]
    assert "2.100 m of 2.000 m" in faults["/roof/margins/front_m"]


def test_a_panel_larger_than_a_round_cornered_roof_in_one_orientation_only() -> None:
    request = plain(0.8, 1.4, {"orientation": "along"})
    assert set(faults_of(request)) == {"/panel_types/0/body"}
    request["panel_types"][0]["orientation"] = "across"
    assert len(laid_out(request).plan.panels) == 1


@pytest.mark.parametrize("seconds", [1e-4, 1e-3, 1e-2])
def test_even_without_work_there_is_a_sound_layout(seconds: float) -> None:
    request = msgspec.convert(EXAMPLE, RoofLayoutRequest)
    site = resolve_site(request.roof, request.min_gap_m, Assumptions())
    targets = LayoutTargets("balanced", (3.0, 1.0), 1.0, None)
    found = pack(site, request.panel_types, targets, Budget(seconds, seconds, 0))
    assert len(found.panels) >= 2
    assert fits(check_placements(site, found.panels))
    power = sum(panel.kind.p_mp_w for panel in found.panels)
    assert power <= found.proof.power_at_most_w + 1e-9
    assert found.proof.power_at_most_w <= found.proof.area_power_at_most_w


def test_same_input_same_answer() -> None:
    plain = EXAMPLE | {"search": {"time_limit_s": 1.0, "seed": 3}}
    request = msgspec.convert(plain, RoofLayoutRequest)
    first, second = roof_layout(request), roof_layout(request)
    assert encode(first) == encode(second)


def test_a_tall_box_shades_away_from_the_sun() -> None:
    """0.3 m high, sun 45° above the roof at the right: the shadow reaches 0.3 m to the left."""
    request = plain(
        3.0,
        2.0,
        {},
        obstacles=[
            {
                "kind": "rectangular",
                "name": "box",
                "x_m": 1.0,
                "y_m": 1.0,
                "length_m": 0.5,
                "width_m": 0.4,
                "height_m": 0.3,
            }
        ],
    )
    box = msgspec.convert(request, RoofLayoutRequest).roof.obstacles[0]

    def shadow(from_front_deg: float) -> list[list[float]]:
        (found,) = obstacle_shadows([box], RoofSun(elevation_deg=45, from_front_deg=from_front_deg))
        return found.polygon

    right = shadow(90.0)
    assert min(y for _, y in right) == pytest.approx(0.7)
    assert max(y for _, y in right) == pytest.approx(1.4)
    assert {round(x, 9) for x, _ in right} == {1.0, 1.5}
    front = shadow(0.0)
    assert max(x for x, _ in front) == pytest.approx(1.8)
    assert max(y for _, y in front) == pytest.approx(1.4)
    flat = msgspec.structs.replace(box, height_m=0.0)
    assert obstacle_shadows([flat], RoofSun(elevation_deg=45.0, from_front_deg=0.0)) == []


def test_without_work_a_bound_by_area_is_told_and_nothing_claimed() -> None:
    """53 boxes of 7 × 3 fit 43 × 26; a search that may do nothing lays fewer and proves nothing."""
    body = BODY | {"length_m": 0.35, "width_m": 0.15}
    request = plain(2.15, 1.3, {"body": body, "p_mp_w": 10.0}) | {"min_gap_m": 0.0}
    request["roof"]["margins"] = {"front_m": 0.0, "rear_m": 0.0, "side_m": 0.0}
    job = msgspec.convert(request, RoofLayoutRequest)
    site = resolve_site(job.roof, job.min_gap_m, Assumptions())
    targets = LayoutTargets("balanced", (2.15, 0.65), 0.65, None)
    idle = pack(site, job.panel_types, targets, Budget(20.0, 0.0, 0)).proof
    assert (idle.how, idle.proven) == ("open", False)
    assert idle.panels_placed < 53
    assert idle.power_at_most_w == pytest.approx(530.0)
    assert idle.area_power_at_most_w == pytest.approx(530.0)  # 53.2 boxes by area, whole ones


def test_a_roof_whose_margins_leave_no_place_is_told_as_such() -> None:
    request = plain(1.2, 1.2, {}) | {"min_gap_m": 0.02}
    request["roof"]["margins"] = {"front_m": 0.3, "rear_m": 0.3, "side_m": 0.3}
    answer = laid_out(request)
    proof = answer.plan.proof
    assert (proof.panels_placed, proof.panels_at_most, proof.power_at_most_w) == (0, 0, 0.0)
    assert (proof.how, proof.proven) == ("dual-bound", True)
    assert answer.verdict == "fail"
    assert answer.plan.panels == []
    assert answer.plan.mass_centre is None
    assert answer.support_loads == []


@pytest.mark.parametrize(
    ("numbers", "too_many"), [((60, 60, 60, 20), False), ((60, 60, 60, 21), True)]
)
def test_two_hundred_panels_are_laid_out_in_one_call(
    numbers: tuple[int, ...], too_many: bool
) -> None:
    request = plain(1.2, 0.7, {})
    request["panel_types"] = [
        request["panel_types"][0] | {"name": f"k{k}", "panels_wanted": n}
        for k, n in enumerate(numbers)
    ]
    if too_many:
        assert set(faults_of(request)) == {"/panel_types"}
    else:
        assert len(laid_out(request).plan.panels) == 1


def test_a_roof_that_is_none_is_refused_before_panels_are_compared_with_it() -> None:
    request = plain(3.0, 2.0, {"body": BODY | {"length_m": 2.9}})
    request["roof"]["outline"] = {"kind": "polygon", "points": [[0, 0], [3, 2], [0, 2], [3, 0]]}
    assert set(faults_of(request)) == {"/roof/outline/points"}


@pytest.mark.parametrize(
    ("roof", "cables_to"),
    [
        ({}, (3.0, 1.0)),
        ({"cable_entry": {"x_m": 0.5, "y_m": 0.4}}, (0.5, 0.4)),
        (
            {"cable_zone": {"name": "z", "x_m": 1, "y_m": 0.2, "length_m": 1, "width_m": 0.2}},
            (1.5, 0.3),
        ),
    ],
)
def test_cables_are_wanted_short_towards_entry_zone_or_rear(
    roof: dict[str, Any], cables_to: tuple[float, float]
) -> None:
    wheels = [{"name": f"w{y}", "x_m": 2.0, "y_m": y} for y in (0.2, 1.8)]
    more = [{"name": "rear", "x_m": 2.6, "y_m": 1.0}, {"name": "hitch", "x_m": -1.0, "y_m": 1.0}]
    place = {"name": "p", "panel_type": "sheet", "x_m": 1.0, "y_m": 1.2}
    request = plain(3.0, 2.0, {}, **roof) | {"placements": [place], "supports": [*wheels, *more]}
    request["search"] = {"time_limit_s": 2.1, "seed": 5}
    settled = settle(msgspec.convert(request, RoofLayoutRequest), Assumptions())
    assert settled.job.targets.cables_to == pytest.approx(cables_to)
    assert settled.job.targets.middle_y_m == pytest.approx(1.0)
    assert settled.job.targets.axle_x_m == pytest.approx(2.2)  # the hitch ahead of the roof aside
    assert settled.job.search(0.5) == Budget(pytest.approx(1.8), pytest.approx(0.9), 5)
    assert not any(c.code == "layout-power" for c in settled.checks)
