"""The whole job: parts agree with each other, nothing is said twice, every fault is named."""

import copy
import json
import math
from importlib import resources
from typing import Any

import msgspec
import msgspec.inspect
import pytest
from shipped import fit_out

from sunhitch.codec import encode
from sunhitch.types.fitout import FitOutAnswer, FitOutRequest
from sunhitch.types.mount import MountCheckRequest
from sunhitch_service.engine.checks import worst
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.mount.calculation import mount_check

pytestmark = pytest.mark.usefixtures("parts_kept")

EXAMPLE: dict[str, Any] = json.loads(
    resources.files("sunhitch.examples").joinpath("fit-out.json").read_text("utf-8")
)


def answer_of(plain: dict[str, Any]) -> FitOutAnswer:
    return fit_out(msgspec.convert(plain, FitOutRequest))


def changed(**parts: object) -> dict[str, Any]:
    plain = copy.deepcopy(EXAMPLE)
    for path, value in parts.items():
        *way, last = path.split("__")
        node: Any = plain
        for step in way:
            node = node[int(step)] if step.isdigit() else node[step]
        if value is None:
            del node[last]
        else:
            node[last] = value
    return plain


def names_a_field(pointer: str) -> bool:
    """Whether a JSON Pointer leads through the request's types to a field."""
    kinds = [msgspec.inspect.type_info(FitOutRequest)]
    for step in pointer.split("/")[1:]:
        kinds = [inner for kind in kinds for inner in stepped_into(kind, step)]
    return bool(kinds)


def stepped_into(kind: msgspec.inspect.Type, step: str) -> list[msgspec.inspect.Type]:
    if isinstance(kind, msgspec.inspect.UnionType):
        return [inner for each in kind.types for inner in stepped_into(each, step)]
    if isinstance(kind, msgspec.inspect.Metadata):
        return stepped_into(kind.type, step)
    if isinstance(kind, msgspec.inspect.ListType):
        return [kind.item_type] if step.isdigit() else []
    if isinstance(kind, msgspec.inspect.StructType):
        return [field.type for field in kind.fields if field.encode_name == step]
    return []


@pytest.fixture(scope="module")
def answer() -> FitOutAnswer:
    return answer_of(EXAMPLE)


def line(answer: FitOutAnswer, kind: str) -> Any:
    return next(w for w in answer.wire_schedule if w.kind == kind)


def test_the_verdict_is_the_worst_of_all_checks(answer: FitOutAnswer) -> None:
    assert answer.verdict == worst(check.verdict for check in answer.checks)
    assert answer.verdict != "pass", "the example must show a remedy"
    assert all(check.remedy for check in answer.checks if check.verdict != "pass")


def test_every_part_has_its_checks_in_the_one_list(answer: FitOutAnswer) -> None:
    codes = {check.code for check in answer.checks}
    assert {"cold-voc-controller", "voltage-drop", "panel-obstacle-clearance"} <= codes
    for placement in answer.roof.placements:
        assert any((check.subject or "").startswith(placement.panel) for check in answer.checks)
    for wire in answer.wire_schedule:
        assert any((check.subject or "").startswith(f"{wire.line} ") for check in answer.checks)


def test_output_circuit_current_is_that_of_the_code(answer: FitOutAnswer) -> None:
    """NFPA 70, 690.8(A)(1): 1.25 times the sum of the parallel strings' short-circuit currents."""
    strings = [s for array in answer.configurations[0].arrays for s in array.strings]
    expected = 1.25 * sum(string.i_sc_a for string in strings)
    assert line(answer, "pv-output").maximum_current_a == pytest.approx(expected, rel=1e-9)


def test_the_battery_circuit_carries_the_controllers_rating(answer: FitOutAnswer) -> None:
    rated = EXAMPLE["controllers"][0]["max_output_current_a"]
    assert line(answer, "controller-to-battery").maximum_current_a >= rated
    fuse = next(
        f
        for f in answer.protection_schedule
        if f.protects == line(answer, "controller-to-battery").line
    )
    assert fuse.rating_a >= 1.25 * rated
    assert fuse.minimum_interrupting_a == EXAMPLE["battery"]["short_circuit_current_a"]


def test_pv_drop_stays_within_its_share(answer: FitOutAnswer) -> None:
    pv = [w for w in answer.wire_schedule if w.kind != "controller-to-battery"]
    assert sum(w.drop_fraction for w in pv) <= 0.03
    for wire in answer.wire_schedule:
        assert wire.drop_v * wire.operating_current_a == pytest.approx(wire.loss_w, rel=1e-6)


def test_cable_to_buy_covers_the_schedule(answer: FitOutAnswer) -> None:
    bought = sum(p.amount for p in answer.parts_list if p.kind.endswith("-cable"))
    needed = sum(w.conductors * w.length_m for w in answer.wire_schedule)
    assert needed <= bought <= 1.05 * needed + 0.5 * 2 * len(answer.wire_schedule)


def test_roof_cable_is_no_shorter_than_the_way(answer: FitOutAnswer) -> None:
    entry = (answer.roof.entry_x_m, answer.roof.entry_y_m)
    for p in answer.roof.placements:
        dx = max(p.x_m - entry[0], 0.0, entry[0] - p.x_m - p.along_x_m)
        dy = max(p.y_m - entry[1], 0.0, entry[1] - p.y_m - p.along_y_m)
        assert p.cable_to_entry_m >= math.hypot(dx, dy)


def test_mass_and_its_centre_are_those_of_the_panels(answer: FitOutAnswer) -> None:
    mass = EXAMPLE["panel_types"][0]["panel"]["body"]["mass_kg"]
    assert answer.roof.panel_mass_kg == pytest.approx(mass * len(EXAMPLE["placements"]))
    xs = [p.x_m + p.along_x_m / 2 for p in answer.roof.placements]
    assert answer.roof.centre_x_m == pytest.approx(sum(xs) / len(xs))


def test_a_panels_hold_is_what_the_mount_check_says_by_itself(answer: FitOutAnswer) -> None:
    """Nothing is lost or added on the way from the fit-out to the mount check."""
    kind, place, van = EXAMPLE["panel_types"][0], EXAMPLE["placements"][0], EXAMPLE["vehicle"]
    others = kind["panel"]["body"]["mass_kg"] * (len(EXAMPLE["placements"]) - 1)
    outline = EXAMPLE["roof"]["outline"]
    alone = mount_check(
        msgspec.convert(
            {
                "panel": kind["panel"]["body"],
                "position": {"x_m": place["x_m"], "y_m": place["y_m"]},
                "mounting": kind["mounting"],
                "sheet": kind["sheet"],
                "vehicle": van
                | {
                    "roof_length_m": outline["length_m"],
                    "roof_width_m": outline["width_m"],
                    "other_roof_mass_kg": van["other_roof_mass_kg"] + others,
                    "other_panels_area_m2": 3 * 1.18 * 0.54,
                },
                "surface": EXAMPLE["surface"],
                "skin": EXAMPLE["skin"],
                "travel": EXAMPLE["travel"]
                | {
                    "lowest_air_c": EXAMPLE["site"]["lowest_ambient_c"],
                    "highest_air_c": EXAMPLE["site"]["highest_ambient_c"],
                },
            },
            MountCheckRequest,
        )
    )
    hold = answer.mounts[0]
    assert hold.utilisation_fraction == pytest.approx(alone.governing.utilisation_fraction)
    assert hold.pass_speed_m_s == pytest.approx(alone.speed_limit.pass_speed_m_s)


def test_changes_to_a_mount_are_tried_where_it_does_not_pass(answer: FitOutAnswer) -> None:
    fast = answer_of(changed(travel__road_speed_m_s=45.0))
    assert {mount.verdict for mount in fast.mounts} == {"fail"}
    assert all(mount.improvements for mount in fast.mounts)
    for mount in answer.mounts:
        assert (mount.verdict, mount.improvements) == ("pass", [])


def test_battery_comes_before_panels_and_bond_before_driving(answer: FitOutAnswer) -> None:
    titles = [step.title for step in answer.work_steps]
    assert titles.index("Battery first") < titles.index("Then the panels")
    assert titles.index("Bond and wait") < titles.index("Before the first drive")
    assert [step.number for step in answer.work_steps] == list(range(1, len(titles) + 1))
    live = next(step for step in answer.work_steps if step.title == "Then the panels")
    known = {caution.code: caution for caution in answer.cautions}
    assert {known[code].about for code in live.cautions} >= {"electric-shock", "battery"}


def test_every_panel_is_wired_or_named_as_left_over(answer: FitOutAnswer) -> None:
    best = answer.configurations[0]
    wired = [name for array in best.arrays for s in array.strings for name in s.panels]
    assert sorted([*wired, *best.leftover]) == sorted(p["name"] for p in EXAMPLE["placements"])


def test_shadows_on_the_roof_lower_the_power(answer: FitOutAnswer) -> None:
    for state in answer.configurations[0].shade:
        assert state.panel_power_w < state.available_w
    bright = answer_of(changed(light=[])).configurations[0]
    assert bright.shade == []
    assert bright.weighted_power_w > answer.configurations[0].weighted_power_w


def test_a_panel_on_the_vent_fails_with_how_far_to_move_it() -> None:
    found = answer_of(changed(placements__0__y_m=0.4))
    (bad,) = [
        c
        for c in found.checks
        if c.code == "panel-obstacle-clearance" and c.subject == "front-left"
    ]
    assert bad.verdict == "fail"
    assert "mushroom vent" in bad.remedy
    assert found.verdict == "fail"


def test_a_weak_controller_rules_out_what_frost_would_destroy(answer: FitOutAnswer) -> None:
    """Three sheets reach 77 V at −18 °C; the coefficient of the nameplate says so."""
    nameplate = EXAMPLE["panel_types"][0]["panel"]["electrical"]
    factor = 1 + nameplate["beta_voc_fraction_per_c"] * (EXAMPLE["site"]["lowest_ambient_c"] - 25)
    limit = 1.9 * nameplate["v_oc_v"] * factor
    weak = answer_of(changed(controllers__0__max_input_voltage_v=limit))
    assert any(r.code == "cold-voc-controller" for r in weak.rejections)
    for arrangement in weak.configurations:
        if arrangement.verdict != "fail":
            assert all(len(s.panels) == 1 for a in arrangement.arrays for s in a.strings)


def test_metric_rules_size_in_square_millimetres() -> None:
    found = answer_of(changed(rules="iec"))
    assert all(w.metric_mm2 > 0 for w in found.wire_schedule)
    assert any("mm²" in p.name for p in found.parts_list if p.unit == "m")


def test_a_roof_that_nobody_described_is_not_assessed() -> None:
    found = answer_of(changed(surface=None))
    unknown = [c for c in found.checks if c.verdict == "not-assessed"]
    assert unknown
    assert found.verdict in ("not-assessed", "fail")


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"placements__1__name": "front-left"}, "/placements/1/name"),
        ({"placements__0__panel_type": "sheet-120"}, "/placements/0/panel_type"),
        ({"panel_types__0__panel__body": None}, "/panel_types/0/panel/body"),
        ({"light__1__name": "lime tree, morning"}, "/light/1/name"),
        ({"panel_types__0__panel__electrical__p_mp_w": 200.0}, "/panel_types/0/panel/electrical"),
        ({"light__0__shapes__0__polygon": [[0, 0], [1, 1], [1, 0], [0, 1]]}, "/light/0/shapes/0"),
        ({"panel_types__0__mounting__feet": [{"x_m": 0.1, "y_m": 0.1}]}, "/panel_types/0/mounting"),
        ({"roof__obstacles__0__x_m": 25.0}, "/roof/obstacles/0"),
    ],
    ids=lambda v: v if isinstance(v, str) else next(iter(v)),
)
def test_contradictions_point_at_the_fit_outs_own_fields(
    change: dict[str, object], pointer: str
) -> None:
    with pytest.raises(ContradictionError) as raised:
        answer_of(changed(**change))
    pointers = [fault.pointer for fault in raised.value.faults]
    assert any(p.startswith(pointer) for p in pointers), pointers


def test_assumptions_point_at_fields_of_the_fit_out(answer: FitOutAnswer) -> None:
    """Every step of every pointer is a field of the contract, present or optional."""
    strayed = [a.field for a in answer.assumptions if not names_a_field(a.field)]
    assert strayed == []


@pytest.mark.parametrize(
    "pointer", ["/panel_types/name", "/cables/pv_drop_fraction/share", "/nothing", "/skin/0"]
)
def test_a_pointer_astray_is_seen(pointer: str) -> None:
    assert not names_a_field(pointer)


def test_parallel_strings_point_at_fields_too() -> None:
    """Lines of strings make assumptions of their own."""
    answer = answer_of(
        changed(
            controllers__0__max_input_voltage_v=45.0,
            controllers__0__max_input_short_circuit_a=60.0,
            connectors__plug_current_a=50.0,
            connectors__branch_current_a=50.0,
            placements__0__x_m=0.2,
            skin=None,
        )
    )
    assert any(w.kind == "pv-string" for w in answer.wire_schedule)
    strayed = [a.field for a in answer.assumptions if not names_a_field(a.field)]
    assert strayed == []


def test_terminals_of_one_controller_are_one_field() -> None:
    """NFPA 70, 110.14(C): unmarked, 60 °C up to 100 A and 75 °C above; both reasons are told."""
    plain = changed(
        controllers__0__terminal_temperature_c=None, controllers__0__max_output_current_a=100.0
    )
    answer = answer_of(plain)
    field = "/controllers/0/terminal_temperature_c"
    (noted,) = [a for a in answer.assumptions if a.field == field]
    assert noted.value == 60.0
    assert "60 °C" in noted.why
    assert "75 °C" in noted.why


def test_a_cable_held_off_the_roof_runs_no_hotter() -> None:
    """NFPA 70, 310.15(B)(2): the rooftop addition ends at 19 mm above the roof."""
    lying, lifted = answer_of(EXAMPLE), answer_of(changed(cables__height_above_roof_m=0.03))
    assert "/cables/height_above_roof_m" in {a.field for a in lying.assumptions}
    assert "/cables/height_above_roof_m" not in {a.field for a in lifted.assumptions}
    area = {name: line(a, "pv-output").awg_area_mm2 for name, a in (("on", lying), ("off", lifted))}
    assert area["off"] <= area["on"]


def test_every_string_that_needs_a_fuse_has_one_in_the_schedule() -> None:
    """Four panels of 10 A series fuse in parallel push 3 × 1.25 × 6.4 A into a faulty one."""
    plain = changed(
        controllers__0__max_input_voltage_v=30.0,
        controllers__0__max_input_short_circuit_a=60.0,
        panel_types__0__panel__electrical__max_series_fuse_a=15.0,
        connectors={"plug_current_a": 50.0, "branch_current_a": 50.0},
    )
    answer = answer_of(plain)
    strings = [s for array in answer.configurations[0].arrays for s in array.strings]
    fused = [s for s in strings if s.fuse_a is not None]
    assert len(strings) > 2
    assert len(fused) == len(strings)
    assert sum(f.of_string for f in answer.protection_schedule) == len(fused)


@pytest.mark.parametrize("kind", ["epdm-membrane", "pvc-membrane", "tpo-membrane"])
def test_a_membrane_roof_fails_with_its_reason(kind: str) -> None:
    answer = answer_of(changed(surface__kind=kind))
    assert answer.verdict == "fail"
    assert any(c.verdict == "fail" and "bond" in c.title.lower() for c in answer.checks)
    assert msgspec.json.decode(encode(answer), type=FitOutAnswer) == answer


def test_inside_is_finished_before_the_roof_is_plugged_together(answer: FitOutAnswer) -> None:
    """No bare end is live at any step, and each string is measured before it meets another."""
    titles = [step.title for step in answer.work_steps]
    order = [
        "Fit disconnects, fuse holders and controller",
        "Run all cables, panels still unplugged",
        "Test every string by itself",
        "Join the panels, plugs last",
        "Battery first",
        "Then the panels",
    ]
    assert [t for t in titles if t in order] == order


def test_a_bond_hotter_than_anything_known_is_not_assessed() -> None:
    """A sheet bonded flat reaches more than the 90 °C at which the adhesive's table ends."""
    bonded = {
        "kind": "bonded-sheet",
        "adhesive": {"kind": "acrylic-foam-tape", "thickness_m": 0.004},
        "bonded_fraction": 0.6,
        "flap_m": 0.01,
        "vented": True,
    }
    plain = changed(panel_types__0__mounting=bonded, mounting_heat={"back": "bonded"})
    found = answer_of(plain)
    assert found.hot_cell_c > 90.0
    heat = [c for c in found.checks if c.code == "bond-heat"]
    assert len(heat) == len(plain["placements"])
    assert {c.verdict for c in heat} == {"not-assessed"}
    assert found.verdict == "not-assessed"


def test_what_the_whole_roof_carries_is_checked_once(answer: FitOutAnswer) -> None:
    """Four panels on one roof: their weight together meets each of its two ratings once."""
    ratings = [c for c in answer.checks if c.code.startswith("roof-rating")]
    assert [(c.code, c.subject) for c in ratings] == [
        ("roof-rating", "roof"),
        ("roof-rating-parked", "roof"),
    ]
    panels = EXAMPLE["panel_types"][0]["panel"]["body"]["mass_kg"] * len(EXAMPLE["placements"])
    carried = panels + EXAMPLE["vehicle"]["other_roof_mass_kg"]
    assert ratings[0].demand == pytest.approx(carried)


def test_an_undescribed_roof_is_named_once() -> None:
    unknown = answer_of(changed(surface=None, skin=None, vehicle__roof_rating_kg=None))
    named = [c.code for c in unknown.checks if c.subject == "roof"]
    assert "roof-rating" in named
    assert len(named) == len(set(named))


def test_driving_waits_for_what_the_example_can_fulfil(answer: FitOutAnswer) -> None:
    """A build may drive with a `review` that was looked at; a failed check keeps it parked."""
    (waits,) = [s.hold_until for s in answer.work_steps if s.title == "Before the first drive"]
    assert "No mount check fails" in waits
    assert "`review`" in waits
    assert {c.verdict for c in answer.checks} == {"pass", "review"}


def test_a_wiring_that_fails_is_not_told_to_be_wired() -> None:
    """Two panels of 22.9 V in the cold are too many for 40 V, and one alone charges no 24 V."""
    plain = changed(battery__nominal_voltage_v=24, battery__charge_voltage_v=28.8)
    plain["controllers"][0]["max_input_voltage_v"] = 40.0
    told = answer_of(plain)
    assert told.configurations[0].verdict == "fail"
    assert told.summary[1].startswith("No wiring passes; ")
    assert "Wire it as" not in " ".join(told.summary)
