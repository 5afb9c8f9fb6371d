"""A fit-out without places lays its panels out, and everything else takes the places over."""

import copy
import csv
import io
import json
from importlib import resources
from itertools import product
from typing import Any

import msgspec
import pytest
from shipped import fit_out

from sunhitch.types.fitout import FitOutAnswer, FitOutRequest
from sunhitch.types.revision import FitOutChangeRequest
from sunhitch.types.roof import RoofLayoutRequest, RoofPolygon
from sunhitch_service.drawing.columns import CsvStyle
from sunhitch_service.drawing.marking_out import mark_rows, marking_out
from sunhitch_service.drawing.work_sheet import draw_work_sheet
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.revision.calculation import fit_out_change
from sunhitch_service.engine.roof.geometry import Rectangle, front_before
from sunhitch_service.engine.roof.layout import roof_layout

pytestmark = pytest.mark.usefixtures("parts_kept")

EXAMPLE: dict[str, Any] = json.loads(
    resources.files("sunhitch.examples").joinpath("fit-out.json").read_text("utf-8")
)


def unplaced(**kind: Any) -> dict[str, Any]:
    plain = copy.deepcopy(EXAMPLE)
    del plain["placements"]
    plain["panel_types"][0].update({"panels_wanted": 4} | kind)
    plain["layout"] = {"search": {"time_limit_s": 30.0}}
    return plain


def asked(plain: dict[str, Any]) -> FitOutRequest:
    return msgspec.convert(plain, FitOutRequest)


def faults_of(plain: dict[str, Any]) -> dict[str, str]:
    with pytest.raises(ContradictionError) as raised:
        fit_out(asked(plain))
    return {fault.pointer: fault.message for fault in raised.value.faults}


@pytest.fixture(scope="module")
def laid_out() -> FitOutAnswer:
    return fit_out(asked(unplaced()))


def test_the_layout_decides_where_nothing_is_placed(laid_out: FitOutAnswer) -> None:
    """The same places as the roof layout by itself."""
    kind = EXAMPLE["panel_types"][0]
    feet = kind["mounting"]
    alone = roof_layout(
        msgspec.convert(
            {
                "roof": EXAMPLE["roof"],
                "panel_types": [
                    {
                        "name": kind["name"],
                        "body": kind["panel"]["body"],
                        "p_mp_w": 115.0,
                        "panels_wanted": 4,
                        "lead_length_m": kind["lead_length_m"],
                        "feet": {
                            "plate_length_m": feet["pad_length_m"],
                            "plate_width_m": feet["pad_width_m"],
                            "points": [
                                {"along_length_m": f["x_m"], "along_width_m": f["y_m"]}
                                for f in feet["feet"]
                            ],
                        },
                    }
                ],
                "search": {"time_limit_s": 30.0},
            },
            RoofLayoutRequest,
        )
    )
    assert laid_out.plan.panels == alone.plan.panels
    assert laid_out.plan.proof.how == "everything-placed"
    assert [p.panel for p in laid_out.roof.placements] == [p.name for p in laid_out.plan.panels]


def test_places_that_were_found_and_given_back_make_the_same_build(laid_out: FitOutAnswer) -> None:
    """Nothing but the proof tells a layout that was found from one that was typed."""
    plain = unplaced()
    plain["placements"] = [
        {
            "name": p.name,
            "panel_type": p.panel_type,
            "x_m": p.x_m,
            "y_m": p.y_m,
            "rotated": p.rotated,
            "plugs_towards": p.plugs_towards,
        }
        for p in laid_out.plan.panels
    ]
    again = fit_out(asked(plain))
    assert again.plan.proof.how == "not-searched"
    assert again.plan.panels == laid_out.plan.panels
    assert again.roof == laid_out.roof
    assert again.wire_schedule == laid_out.wire_schedule
    assert again.mounts == laid_out.mounts


def test_cable_ways_become_wire_lengths(laid_out: FitOutAnswer) -> None:
    """The output line is the way of the panel next to the entry, with slack, and the way inside."""
    ways = {p.name: p.cable.to_entry_m for p in laid_out.plan.panels}
    slack = 1.1
    for place in laid_out.roof.placements:
        assert place.cable_to_entry_m == pytest.approx(ways[place.panel] * slack)
    strings = laid_out.configurations[0].arrays[0].strings
    assert len(strings) > 1
    on_roof = max(min(ways[s.panels[end]] for s in strings) for end in (0, -1)) * slack
    output = next(w for w in laid_out.wire_schedule if w.kind == "pv-output")
    inside = EXAMPLE["cables"]["entry_to_controller_m"]
    assert output.length_m == pytest.approx(on_roof + inside)


def test_a_single_string_buys_no_cable_that_its_own_leads_are() -> None:
    """Two in series: the way of the worse end less 0.9 m of lead, and the way inside."""
    plain = copy.deepcopy(EXAMPLE)
    plain["placements"] = plain["placements"][:2]
    plain["connectors"] = {"plug_current_a": 10.0, "branch_current_a": 10.0}
    answer = fit_out(asked(plain))
    strings = answer.configurations[0].arrays[0].strings
    assert len(strings) == 1
    ways = {p.panel: p.cable_to_entry_m for p in answer.roof.placements}
    ends = max(ways[strings[0].panels[end]] for end in (0, -1))
    output = next(w for w in answer.wire_schedule if w.kind == "pv-output")
    assert output.length_m == pytest.approx(max(0.0, ends - 0.9) + 2.4)


def test_every_panel_is_held_at_its_place(laid_out: FitOutAnswer) -> None:
    assert [m.panel for m in laid_out.mounts] == [p.name for p in laid_out.plan.panels]


def test_a_tall_box_shades_the_panels_behind_it() -> None:
    """The sun low over the front: a box in front of the panels costs power, far behind it none."""
    plain = copy.deepcopy(EXAMPLE)
    sun = {"elevation_deg": 12.0, "from_front_deg": 0.0}
    plain["light"] = [
        {
            "name": "low sun ahead",
            "weight_fraction": 0.5,
            "irradiance_w_m2": 500.0,
            "cell_temperature_c": 30.0,
            "sun": sun,
        }
    ]
    box = {"kind": "rectangular", "name": "roof box", "length_m": 0.4, "width_m": 1.7}
    powers = []
    for x, height in ((0.6, 0.35), (0.6, 0.0), (4.6, 0.35)):
        plain["roof"]["obstacles"][2:] = [box | {"x_m": x, "y_m": 0.1, "height_m": height}]
        best = fit_out(asked(plain)).configurations[0]
        powers.append(best.shade[0].charging_power_w)
    before, flat, behind = powers
    assert before < 0.9 * flat
    assert behind == pytest.approx(flat)


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"panels_wanted": 3}, "/panel_types/0/panels_wanted"),
        ({"panel": None}, "/panel_types/0/panel/body"),
    ],
)
def test_contradictions_of_places_name_the_fit_outs_fields(
    change: dict[str, Any], pointer: str
) -> None:
    plain = copy.deepcopy(EXAMPLE)
    if change.get("panel", 0) is None:
        plain["panel_types"][0]["panel"]["body"]["length_m"] = 2.95
        plain["roof"] = {"outline": {"kind": "rectangle", "length_m": 2.9, "width_m": 1.9}}
    else:
        plain["panel_types"][0].update(change)
    assert pointer in faults_of(plain)


def test_a_roof_without_any_room_is_refused() -> None:
    plain = unplaced()
    plain["roof"]["walking_strips"] = [
        {"name": "all", "x_m": 0.0, "y_m": 0.0, "length_m": 5.4, "width_m": 1.9}
    ]
    assert "find no place" in faults_of(plain)["/panel_types"]


def test_a_shortage_fails_and_says_how_many_are_missing() -> None:
    answer = fit_out(asked(unplaced(panels_wanted=24)))
    short = next(c for c in answer.checks if c.code == "panels-placed")
    assert short.verdict == "fail"
    assert short.capacity == len(answer.plan.panels)
    assert f"{24 - len(answer.plan.panels)} of 24" in short.remedy


def test_a_type_that_finds_no_place_leaves_pointers_of_the_others_alone() -> None:
    """The first type is too wide for what is left; assumptions name the second as it was given."""
    plain = unplaced()
    wide = copy.deepcopy(plain["panel_types"][0])
    wide["name"], wide["panels_wanted"] = "wide", 1
    wide["panel"]["body"] |= {"length_m": 1.85, "width_m": 1.7}
    wide["mounting"]["feet"] = wide["mounting"]["feet"][:4]
    plain["panel_types"].insert(0, wide)
    plain["panel_types"][1]["panels_wanted"] = 1
    plain["roof"]["walking_strips"] = [
        {"name": "side", "x_m": 0.0, "y_m": 1.2, "length_m": 5.4, "width_m": 0.3}
    ]
    answer = fit_out(asked(plain))
    assert {p.panel_type for p in answer.plan.panels} == {"sheet-115"}
    fields = [a.field for a in answer.assumptions if a.field.startswith("/panel_types/")]
    assert fields
    assert all(field.startswith("/panel_types/1/") for field in fields)


def test_notes_beside_sizes_are_carried_once(laid_out: FitOutAnswer) -> None:
    """Conductors above 30 V are to be guarded (NFPA 70, 690.31); frames are to be bonded."""
    texts = [note.text for note in laid_out.wiring_notes]
    assert len(texts) == len(set(texts))
    assert any("30 V" in text and "guarded" in text for text in texts)
    assert any(note.topic == "bonding" for note in laid_out.wiring_notes)
    metric = fit_out(asked(copy.deepcopy(EXAMPLE) | {"rules": "iec"}))
    assert any("IEC 60364-7-721" in note.text for note in metric.wiring_notes)


def test_what_the_caller_gave_is_not_assumed_otherwise() -> None:
    """The controller's terminals are given: no assumption names them, whatever ends in plugs."""
    plain = copy.deepcopy(EXAMPLE)
    plain["controllers"][0]["max_input_voltage_v"] = 45.0
    plain["controllers"][0]["max_input_short_circuit_a"] = 60.0
    plain["connectors"] = {"plug_current_a": 50.0, "branch_current_a": 50.0}
    plain["placements"][0]["x_m"] = 0.2
    answer = fit_out(asked(plain))
    fields = {a.field for a in answer.assumptions}
    assert not {f for f in fields if f.startswith("/controllers/0/terminal_temperature_c")}


def test_shadows_fall_on_panels_whose_cells_are_assumed() -> None:
    """36 cells in full size with two diodes are assumed; to give that changes no figure."""
    plain = copy.deepcopy(EXAMPLE)
    del plain["panel_types"][0]["panel"]["construction"]
    unknown = fit_out(asked(plain))
    plain["panel_types"][0]["panel"]["construction"] = "full-cell-2-diodes"
    known = fit_out(asked(plain))
    assert unknown.configurations[0].shade == known.configurations[0].shade
    assert known.configurations[0].shade[0].panel_power_w > 0.0
    assumed = [one.value for one in unknown.assumptions if one.field.endswith("/construction")]
    assert assumed == ["full-cell-2-diodes"]


def test_the_sheet_shows_plan_and_list(laid_out: FitOutAnswer) -> None:
    """Every point of the list for a tape measure lies where two lines of the sheet's list cross."""
    request = asked(unplaced())
    sheet = draw_work_sheet(request, laid_out)
    assert "Roof plan, seen from above" in sheet
    rows = list(csv.DictReader(io.StringIO(CsvStyle().written(marking_out(laid_out))[1:])))
    crossings = {
        (row.thing, round(1000 * x), round(1000 * y))
        for row in mark_rows(laid_out.plan)
        for x, y in product(row.from_front_m, row.from_left_m)
    }
    marked = [row for row in rows if not row["thing"].startswith("cable of")]
    assert len(marked) > 20
    for row in marked:
        assert (row["thing"], int(row["from_front_mm"]), int(row["from_left_mm"])) in crossings
    for row in mark_rows(laid_out.plan):
        assert " · ".join(f"{1000 * x:.0f}" for x in row.from_front_m) in sheet
    corners = {(one.name, round(1000 * one.x_m)) for one in laid_out.plan.panels}
    assert corners <= {(thing, x) for thing, x, _ in crossings}


def test_feet_in_no_grid_are_listed_one_by_one(laid_out: FitOutAnswer) -> None:
    first, *others = laid_out.plan.panels
    fewer = msgspec.structs.replace(first, feet=first.feet[1:])
    plan = msgspec.structs.replace(laid_out.plan, panels=[fewer, *others])
    rows = [row for row in mark_rows(plan) if row.thing == first.name]
    feet = [row for row in rows if row.point.startswith("foot ")]
    assert [len(row.from_front_m) * len(row.from_left_m) for row in feet] == [1] * len(fewer.feet)


def elsewhere(dx: float, dy: float) -> dict[str, Any]:
    """The shipped job on a roof whose corners are given from another point; a panel in front."""
    plain = copy.deepcopy(EXAMPLE)
    plain["light"] = []
    plain["placements"][0]["x_m"] = 0.12
    roof = plain["roof"]
    length, width = roof["outline"]["length_m"], roof["outline"]["width_m"]
    corners = [[0.0, 0.0], [length, 0.0], [length, width], [0.0, width]]
    roof["outline"] = {"kind": "polygon", "points": [[x + dx, y + dy] for x, y in corners]}
    for line in roof["no_foot_lines"]:
        line["points"] = [[x + dx, y + dy] for x, y in line["points"]]
    for spot in (*roof["obstacles"], roof["cable_entry"], *plain["placements"]):
        spot["x_m"] += dx
        spot["y_m"] += dy
    return plain


@pytest.mark.parametrize(("dx", "dy"), [(1.0, 0.0), (-1.5, 0.0), (0.0, 0.75), (2.0, -0.5)])
def test_zones_of_wind_and_tape_measures_begin_at_the_roof_s_own_edges(
    dx: float, dy: float
) -> None:
    """Where its corners are counted from is nothing to the wind: the same roof, all moved."""
    here, there = (fit_out(asked(elsewhere(*moved))) for moved in ((0.0, 0.0), (dx, dy)))
    assert here.mounts[0].verdict == "fail"  # at the front edge, in its highest suction
    for one, other in zip(here.mounts, there.mounts, strict=True):
        assert other.verdict == one.verdict
        assert other.pass_speed_m_s == one.pass_speed_m_s
        assert other.utilisation_fraction == pytest.approx(one.utilisation_fraction, rel=1e-6)
    marked = [
        next(step.text for step in answer.work_steps if "Corners at the front" in step.text)
        for answer in (here, there)
    ]
    assert marked[1] == marked[0]


@pytest.mark.parametrize("beyond_m", [0.3, 1.0])
def test_behind_a_pointed_front_the_wind_meets_the_edge_right_before_a_panel(
    beyond_m: float,
) -> None:
    """The panel's outer corner is as far behind the slanted edge as behind a straight front."""
    straight = elsewhere(0.0, 0.0)
    width = EXAMPLE["roof"]["outline"]["width_m"]
    pointed = copy.deepcopy(straight)
    panel = pointed["placements"][0]
    edge_m = beyond_m * (1 - 2 * panel["y_m"] / width)  # where the slant is at its outer corner
    rear = straight["roof"]["outline"]["points"][1][0] + edge_m
    pointed["roof"]["outline"]["points"] = [
        *([0.0, width / 2], [beyond_m, 0.0], [rear, 0.0], [rear, width], [beyond_m, width]),
    ]
    for spot in (*pointed["roof"]["obstacles"], pointed["roof"]["cable_entry"]):
        spot["x_m"] += edge_m
    for line in pointed["roof"]["no_foot_lines"]:
        line["points"] = [[x + edge_m, y] for x, y in line["points"]]
    for place in pointed["placements"]:
        place["x_m"] += edge_m
    one, other = fit_out(asked(straight)).mounts[0], fit_out(asked(pointed)).mounts[0]
    assert other.verdict == one.verdict == "fail"
    assert other.pass_speed_m_s == one.pass_speed_m_s
    assert other.utilisation_fraction == pytest.approx(one.utilisation_fraction, rel=1e-6)


@pytest.mark.parametrize(
    ("x_m", "y_m", "front_m"),
    [
        *((1.5, 0.2, 0.8), (1.5, 0.9, 0.1), (0.5, 0.2, 0.5), (-0.1, 0.9, 0.0), (1.5, -0.1, 1.0)),
    ],
)
def test_the_edge_before_a_rectangle(x_m: float, y_m: float, front_m: float) -> None:
    """A front pointed by a metre, its tip 1 m from the left: at y the edge is at |1 − y|. What
    hangs over it stands at the edge, and nothing is before the tip."""
    points = [[0.0, 1.0], [1.0, 0.0], [5.0, 0.0], [5.0, 2.0], [1.0, 2.0]]
    box = Rectangle(x_m, y_m, x_m + 1.0, y_m + 0.2)
    assert front_before(RoofPolygon(points=points), box) == pytest.approx(front_m)


def test_a_change_of_a_job_counts_from_the_same_edges() -> None:
    """The vent reaches 1.28 m from the roof's left edge, wherever its corners are counted from."""
    plain = elsewhere(0.5, -0.25)
    plain["placements"][0]["x_m"] = 1.1 + 0.5
    plain["parts"] = [
        {"part": "panel", "name": name, "state": "fixed"} for name in ("front-left", "rear-left")
    ]
    wanted = [{"pointer": "/roof/obstacles/0/y_m", "value": 1.06 - 0.25}]
    change = {"job": plain, "values": wanted}
    answer = fit_out_change(msgspec.convert(change, FitOutChangeRequest))
    (moved,) = [one for one in answer.changes if one.code == "panel-moved"]
    assert moved.parameters["panel"] == "front-right"
    assert moved.parameters["x_mm"] == pytest.approx(1100.0)
    assert moved.parameters["y_mm"] == pytest.approx(1280.0)


BOX = {
    "kind": "rectangular",
    "name": "roof box",
    "x_m": 0.6,
    "y_m": 0.8,
    "length_m": 4.2,
    "width_m": 0.3,
    "height_m": 0.3,
}
SIDES: list[dict[str, Any]] = [
    {"name": name, "panel_type": "sheet-115", "x_m": 1.8, "y_m": y_m, "plugs_towards": "rear"}
    for name, y_m in (("left", 0.1), ("right", 1.26))
]


def between(obstacles: list[dict[str, Any]], **changes: Any) -> FitOutAnswer:
    """A panel on either side of what stands between them, the entry on the left behind them."""
    plain = copy.deepcopy(EXAMPLE) | {"placements": SIDES, "light": []} | changes
    entry = {"x_m": 3.1, "y_m": 0.2}
    plain["roof"] |= {"obstacles": obstacles, "no_foot_lines": [], "cable_entry": entry}
    return fit_out(asked(plain))


def extensions(answer: FitOutAnswer) -> dict[str, float]:
    harness = answer.configurations[0].harness
    return {h.polarity: h.length_m or 0.0 for h in harness if h.kind == "extension"}


def test_a_link_between_panels_goes_around_what_stands_between_them() -> None:
    """Behind a box that ends at 4.8 m, 20 mm off it: 2 · 1.84 m + 1.16 m, a tenth more, less leads.

    Each lead is 0.9 m; plugs lie at 2.98 m and 0.37 or 1.53 m: 1.1 · 4.84 - 1.8 = 3.524 m are
    missing, and leads are made in full decimetres.
    """
    answer = between([BOX])
    found = extensions(answer)
    assert found["between-panels"] == pytest.approx(3.6)
    (lead,) = [part for part in answer.parts_list if part.kind == "extension-lead"]
    assert lead.length_m == found["between-panels"]
    assert "between-panels" not in extensions(between([])), "1.16 m are within both leads"


@pytest.mark.parametrize("obstacles", [[], [BOX]])
def test_the_way_in_is_as_long_in_harness_plan_and_schedule(obstacles: list[Any]) -> None:
    """With the slack of a tenth, less a lead of 0.9 m; inside 2.4 m more."""
    answer = between(obstacles)
    way_m = {panel.name: 1.1 * panel.cable.to_entry_m for panel in answer.plan.panels}["right"]
    assert extensions(answer)["negative"] == pytest.approx(way_m - 0.9)
    output = next(line for line in answer.wire_schedule if line.kind == "pv-output")
    assert output.length_m == pytest.approx(way_m - 0.9 + 2.4)


def test_cables_of_strings_go_around_what_stands_between_them() -> None:
    """From 10 mm behind the right panel to the connectors at the left one, less its own lead."""
    drawn = [{"controller": "controller-1", "strings": [["left"], ["right"]]}]
    lengths = [
        next(
            one.length_m for one in between(box, drawn=drawn).wire_schedule if "string" in one.kind
        )
        for box in ([], [BOX])
    ]
    assert lengths == pytest.approx([1.1 * (1.16 + 0.02) - 0.9, 1.1 * 4.84 - 0.9], abs=0.006)


def test_no_panel_is_told_to_move_onto_something_else() -> None:
    """Midway between the sides there is a box beside one panel, and room beside the other."""
    plain = copy.deepcopy(EXAMPLE)
    plain["panel_types"][0]["sheet"]["load_rating_pa"] = 800.0
    plain["placements"] = plain["placements"][::2]
    box = {"kind": "rectangular", "name": "box", "length_m": 0.3, "width_m": 0.3, "height_m": 0.2}
    plain["roof"]["obstacles"] = [box | {"x_m": 3.35, "y_m": 0.85}]
    mounts = fit_out(asked(plain)).mounts
    told = {
        mount.panel: "midway" in " ".join(one.change for one in mount.improvements)
        for mount in mounts
    }
    assert told == {"front-left": True, "rear-left": False}
