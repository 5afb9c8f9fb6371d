"""Chargers, loads and a removable panel beside the array: sums, fuses, and who protects what."""

import json
import re
from importlib import resources
from typing import Any

import msgspec
import pytest
from shipped import fit_out

from sunhitch.types.check import Check
from sunhitch.types.fitout import FitOutAnswer, FitOutRequest, ProtectiveDevice, WireLine
from sunhitch_service.engine.circuit.protection import protection
from sunhitch_service.engine.circuit.tree import (
    CircuitTree,
    CurrentSource,
    conductor,
    controller,
    device,
)
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.fitout.energy import bus_discharge

pytestmark = pytest.mark.usefixtures("parts_kept")

SHIPPED = json.loads(resources.files("sunhitch").joinpath("examples/fit-out.json").read_text())
PLATE = SHIPPED["panel_types"][0]["panel"]["electrical"]
ALTERNATOR = {
    "name": "alternator charger",
    "kind": "alternator",
    "output_a": 30.0,
    "to_bus_m": 1.0,
    "from_starter_m": 5.0,
    "input_a": 40.0,
}
SHORE = {"name": "shore charger", "kind": "shore", "output_a": 35.0, "to_bus_m": 1.5}
INVERTER = {"name": "inverter", "power_w": 950.4, "to_bus_m": 0.8}
LAMPS = {"name": "lamps", "current_a": 6.0, "to_bus_m": 3.0}
SUITCASE = {
    "name": "suitcase",
    "controller": "controller-1",
    "electrical": PLATE,
    "in_series": 2,
    "lead_m": 6.0,
}


def built(**changes: Any) -> FitOutAnswer:
    """The shipped build with more equipment."""
    return fit_out(msgspec.convert(SHIPPED | changes, FitOutRequest))


def told(answer: FitOutAnswer, code: str, subject: str = "") -> Check:
    return next(
        c for c in answer.checks if c.code == code and (c.subject or "").startswith(subject)
    )


def wire(answer: FitOutAnswer, name: str) -> WireLine:
    return next(w for w in answer.wire_schedule if name in (w.start, w.end))


def fuse(answer: FitOutAnswer, of: WireLine) -> ProtectiveDevice:
    return next(d for d in answer.protection_schedule if d.protects == of.line)


@pytest.fixture(scope="module")
def full() -> FitOutAnswer:
    return built(chargers=[ALTERNATOR, SHORE], loads=[INVERTER, LAMPS], removable=[SUITCASE])


def test_all_chargers_together_against_the_battery(full: FitOutAnswer) -> None:
    """30 A of the controller, 30 A and 35 A beside it: 95 A of the 100 A allowed."""
    check = told(full, "battery-charge-rate")
    assert (check.verdict, check.demand, check.capacity) == ("pass", 95.0, 100.0)
    more = built(chargers=[SHORE | {"output_a": 101.0}])
    assert told(more, "battery-charge-rate").verdict == "fail"


@pytest.mark.parametrize(
    ("bank_v", "battery", "needed_v"),
    [
        (12, {"chemistry": "lithium-iron-phosphate"}, 14.6),
        (12, {"chemistry": "agm"}, 14.8 + 6 * 0.005 * 43.0),
        (24, {"chemistry": "gel"}, 28.8 + 12 * 0.005 * 43.0),
        (24, {"chemistry": "gel", "kept_above_c": 10.0}, 28.8 + 12 * 0.005 * 15.0),
        (48, {"chemistry": "flooded-lead-acid", "above_air_k": 3.0}, 59.2 + 24 * 0.005 * 40.0),
    ],
)
def test_circuits_of_a_lead_acid_battery_bear_what_it_is_charged_with_in_the_cold(
    bank_v: int, battery: dict[str, Any], needed_v: float
) -> None:
    """Cells take up to 5 mV more for each kelvin below 25 °C (makers' manuals, from memory)."""
    own = {"nominal_voltage_v": bank_v, "capacity_ah": 200.0} | battery
    site = SHIPPED["site"] | {"lowest_ambient_c": -18.0}
    found = built(battery=own, site=site, loads=[LAMPS])
    inside = {
        each.line for each in found.wire_schedule if each.kind not in ("pv-string", "pv-output")
    }
    others = [each for each in found.protection_schedule if each.protects in inside]
    assert others
    for each in others:
        assert each.minimum_voltage_v == pytest.approx(needed_v)
    above_60 = [n for n in found.wiring_notes if "the battery needs a disconnect" in n.text]
    assert bool(above_60) == (needed_v > 60.0)


def test_panels_that_the_other_chargers_keep_from_the_battery_are_told_so() -> None:
    """60 A and 30 A leave 10 of 100 A, which one panel of 115 W fills; 60 A and 5 A leave 35 A."""
    chargers = [ALTERNATOR | {"output_a": 60.0, "input_a": 80.0}, SHORE | {"output_a": 30.0}]
    check = told(built(chargers=chargers), "panels-wired")
    assert check.remedies == ["panels-wired.charging"]
    limited = [chargers[0], SHORE | {"output_a": 5.0}]
    assert all(one.code != "panels-wired" for one in built(chargers=limited).checks)


def test_an_inverter_is_sized_at_the_lowest_voltage(full: FitOutAnswer) -> None:
    """950.4 W over 0.88 × 10.8 V: 100 A; 125 A of fuse; the bus bar carries 106 A to loads."""
    cable = wire(full, "inverter")
    assert cable.maximum_current_a == pytest.approx(100.0)
    assert fuse(full, cable).rating_a == 125.0
    assert fuse(full, cable).place == "In the positive lead, at the bus bar."
    main = next(w for w in full.wire_schedule if w.kind == "bus-to-battery")
    assert main.maximum_current_a == pytest.approx(106.0)
    assert main.length_m == 0.4, "common practice: the bus bar sits beside the battery"
    assert fuse(full, main).place == "In the positive lead, at the battery."


def test_every_cable_has_its_own_fuse_where_the_stronger_source_is(full: FitOutAnswer) -> None:
    """40 A from the starter battery: a fuse of 50 A there; its charger gives 30 A, 40 A of fuse."""
    starter = next(w for w in full.wire_schedule if w.kind == "starter-to-charger")
    assert fuse(full, starter).rating_a == 50.0
    assert "starter battery" in fuse(full, starter).place
    output = next(w for w in full.wire_schedule if w.start == "alternator charger")
    assert fuse(full, output).rating_a == 40.0
    assert fuse(full, wire(full, "lamps")).rating_a == 7.5
    open_ends = [path for path in full.current_paths if path.state == "open"]
    assert open_ends == []
    assert {d.device for d in full.protection_schedule} == {
        f"F{n}" for n in range(1, len(full.protection_schedule) + 1)
    }


def test_the_lamps_are_told_every_source_and_the_fuse_that_opens(full: FitOutAnswer) -> None:
    cable = wire(full, "lamps")
    rows = [path for path in full.current_paths if path.conductor == cable.line]
    sources = {"battery", "shore charger", "starter battery of alternator charger", "suitcase"}
    assert sources < {path.source for path in rows}
    assert {tuple(path.devices) for path in rows} == {(fuse(full, cable).device,)}


def test_a_removable_panel_counts_with_the_strings_and_gets_its_fuse(full: FitOutAnswer) -> None:
    """Three strings of 6.4 A now: 2 × 1.25 × 6.4 = 16 A above the panels' 15 A; 10 A fuses."""
    for subject in ("controller-1, string 1", "controller-1, suitcase"):
        check = told(full, "string-reverse-current", subject)
        assert (check.verdict, check.demand) == ("pass", pytest.approx(16.0))
    assert told(full, "controller-short-circuit").demand == pytest.approx(3 * 8.0)
    assert told(full, "plug-interlock").verdict == "review"
    of_string = [d for d in full.protection_schedule if d.of_string]
    assert [d.rating_a for d in of_string] == [10.0, 10.0, 10.0]
    assert of_string[-1].protects == "suitcase"
    assert any("shrouded pins" in part.name for part in full.parts_list)


@pytest.mark.parametrize(
    ("strings", "in_series", "longest"),
    [
        ([["front-left"], ["front-right"]], 3, 3),
        ([["front-left"], ["front-right", "rear-left"]], None, 2),
        ([["front-left", "rear-left"], ["front-right"]], 1, 2),
    ],
)
def test_all_that_meets_at_a_controller_stands_across_what_opens_there(
    strings: list[list[str]], in_series: int | None, longest: int
) -> None:
    """Panels of 22.9 V at −18 °C: 1.18 by NFPA 70, Table 690.7(A), which is above −0.28 %/K.

    The battery feeds back through the controller, so that every string has a fuse.
    """
    plugged = [SUITCASE | {"in_series": in_series}] if in_series else []
    answer = built(
        controllers=[SHIPPED["controllers"][0] | {"blocks_reverse_current": False}],
        removable=plugged,
        drawn=[{"controller": "controller-1", "strings": strings}],
        leave_out_at_most=2,
    )
    of_string = [d for d in answer.protection_schedule if d.of_string]
    assert len(of_string) == len(strings) + len(plugged)
    (switch,) = (d for d in answer.disconnects if d.name.startswith("Photovoltaic"))
    for each in (*of_string, switch):
        assert each.minimum_voltage_v == pytest.approx(longest * 22.9 * 1.18), each


def test_cables_of_strings_with_their_fuse_pass_and_bear_what_is_plugged_in(
    full: FitOutAnswer,
) -> None:
    """What comes back is told of the array, once: a schedule told each cable as to review.

    The fuse is the smallest that a string and the strong sun of the rules allow for, 10 A, whether
    a string has a cable of its own or a plugged panel beside it.
    """
    pairs = [["front-left", "rear-left"], ["front-right", "rear-right"]]
    drawn = [{"controller": "controller-1", "strings": pairs}]
    answer = built(removable=[SUITCASE], drawn=drawn)
    lines = {line.kind: line.verdict for line in answer.wire_schedule}
    assert lines["pv-string"] == lines["removable-panel"] == "pass"
    told_of = [c.subject or "" for c in answer.checks if c.code == "string-reverse-current"]
    assert told_of
    assert not [one for one in told_of if one.startswith("W")]
    assert [d.rating_a for d in answer.protection_schedule if d.of_string] == [10.0, 10.0, 10.0]
    assert {w.verdict for w in full.wire_schedule if w.kind == "removable-panel"} == {"pass"}


def test_the_cable_to_the_battery_carries_what_is_plugged_in(full: FitOutAnswer) -> None:
    """460 W on the roof and 230 W beside them: half as much again, up to the 30 A rated."""
    line = next(w for w in full.wire_schedule if w.kind == "controller-to-battery")
    roof = built()
    alone = next(w for w in roof.wire_schedule if w.kind == "controller-to-battery")
    wanted_a = 1.5 * alone.operating_current_a
    assert line.operating_current_a == pytest.approx(min(30.0, wanted_a))
    assert line.operating_current_a > alone.operating_current_a


def test_an_interlock_and_a_larger_rating_settle_the_plug() -> None:
    answer = built(removable=[SUITCASE | {"interlocked": True, "plug_current_a": 7.0}])
    assert told(answer, "plug-interlock").verdict == "pass"
    check = told(answer, "connector-current", "controller-1, suitcase")
    assert (check.verdict, check.demand) == ("fail", pytest.approx(8.0))


def test_order_of_connection_is_told(full: FitOutAnswer) -> None:
    """Battery, other chargers one by one, panels, the second plug last."""
    titles = [step.title for step in full.work_steps]
    order = ["Battery first", "Other chargers one by one", "Then the panels"]
    order.append("The second plug last")
    assert [title for title in titles if title in order] == order


@pytest.mark.parametrize(
    ("changes", "pointer"),
    [
        ({"chargers": [SHORE | {"from_starter_m": 2.0}]}, "/chargers/0/from_starter_m"),
        ({"loads": [LAMPS | {"power_w": 10.0}]}, "/loads/0/current_a /loads/0/power_w"),
        ({"loads": [LAMPS, LAMPS]}, "/loads/1/name"),
        ({"loads": [LAMPS | {"name": "controller-1"}]}, "/loads/0/name"),
        ({"removable": [SUITCASE | {"controller": "none"}]}, "/removable/0/controller"),
    ],
)
def test_what_contradicts_itself_is_refused(changes: dict[str, Any], pointer: str) -> None:
    with pytest.raises(ContradictionError) as refused:
        built(**changes)
    assert [fault.pointer for fault in refused.value.faults] == pointer.split()


def test_a_fuse_before_a_converter_protects_nothing_behind_it() -> None:
    """A converter turns 5 A at a high voltage into its 30 A: the cable behind must bear them."""
    sun = CurrentSource("string", "roof", 8.0, limited=True)
    sizes = {"ampacity_a": 20.0, "largest_device_a": 20.0}
    tree = CircuitTree(
        (sun,),
        (
            device("F1", "roof", "in", 5.0),
            controller("tracker", "in", "out", 30.0),
            conductor("W1", "out", "post", **sizes),
        ),
    )
    (entering,) = (each for each in protection(tree) if each.end == "start")
    assert (entering.state, entering.demand_a, entering.devices) == ("open", 30.0, ())


@pytest.fixture(scope="module")
def equipped() -> FitOutAnswer:
    more = {"chargers": [ALTERNATOR, SHORE], "loads": [INVERTER, LAMPS], "removable": [SUITCASE]}
    return built(**more)


def test_every_end_of_a_cable_in_a_terminal_has_its_lug(equipped: FitOutAnswer) -> None:
    """Counted on the diagram: two conductors have four ends, two of them plugs on the roof.

    A fuse adds two, a pole of a switch two. Array and suitcase: 2 + 4 each; seven lines at the
    bus bar and the starter's: 4 + 2; the battery's one-pole switch: 2.
    """
    lugs = [part for part in equipped.parts_list if part.kind == "crimp-lug"]
    assert len(equipped.wire_schedule) == 9
    assert sum(part.amount for part in lugs) == 2 * 6 + 7 * 6 + 2


def test_every_fuse_has_a_holder_and_a_spare(equipped: FitOutAnswer) -> None:
    """A breaker needs neither."""
    fuses = [one for one in equipped.protection_schedule if one.kind == "fuse"]
    held = [
        part
        for part in equipped.parts_list
        if part.kind == "string-fuse-holder" or "with holder" in part.name
    ]
    assert sum(part.amount for part in held) == sum(one.pieces for one in fuses)
    spares = [part for part in equipped.parts_list if part.kind == "spare-fuse"]
    spared = {name for part in spares for name in part.needed_for}
    assert spared == {one.device for one in fuses}


def test_every_fuse_goes_in_once_and_those_of_chargers_with_their_charger(
    equipped: FitOutAnswer,
) -> None:
    steps = {step.code: step.text for step in equipped.work_steps}
    places = ["join-panels", "connect-battery", "other-chargers"]
    devices = {device.protects: device.device for device in equipped.protection_schedule}
    for name in devices.values():
        named = [code for code in places if re.search(rf"\b{name}\b", steps[code])]
        assert len(named) == 1
    charger = wire(equipped, "shore charger").line
    assert f"shore charger ({devices[charger]})" in steps["other-chargers"]


def test_a_disconnect_is_needed_for_the_line_that_it_opens(equipped: FitOutAnswer) -> None:
    main = next(line.line for line in equipped.wire_schedule if line.kind == "bus-to-battery")
    parts = {part.name: part for part in equipped.parts_list if part.kind == "disconnect"}
    assert parts["Battery disconnect"].needed_for == [main]


def test_circuits_at_the_bus_bar_are_weighed_against_what_the_battery_gives(
    equipped: FitOutAnswer,
) -> None:
    """950.4 W of an inverter and 6 A of lamps, at 12 V, against 100 A and against 40 A."""
    loads_a = sum(w.maximum_current_a for w in equipped.wire_schedule if w.kind == "bus-to-load")
    harvest = json.loads(resources.files("sunhitch").joinpath("examples/harvest.json").read_text())
    known = {name: harvest[name] for name in ("place", "weather", "parking", "loads")}
    for most_a, verdict in [(150.0, "pass"), (40.0, "review")]:
        use = {"battery_use": {"max_discharge_current_a": most_a}}
        job = msgspec.convert(SHIPPED | {"harvest": known | use}, FitOutRequest)
        (check,) = bus_discharge(job, equipped.wire_schedule)
        assert (check.verdict, check.subject, check.capacity) == (verdict, "bus bar", 12.0 * most_a)
        assert check.demand == pytest.approx(12.0 * loads_a)
    free = msgspec.convert(SHIPPED | {"harvest": known}, FitOutRequest)
    assert bus_discharge(free, equipped.wire_schedule) == []


STRONG = PLATE | {"i_sc_a": 14.0, "i_mp_a": 13.1, "p_mp_w": 19.2 * 13.1, "max_series_fuse_a": 25.0}
FOUR = [["front-left", "front-right", "rear-left", "rear-right"]]


@pytest.mark.parametrize(
    ("series_fuse_a", "fused"),
    [(15.0, True), (25.0, False)],
)
def test_the_cable_of_a_string_alone_counts_what_is_plugged_in_beside_it(
    series_fuse_a: float, fused: bool
) -> None:
    """What is plugged in pushes 1.25 × 14 A = 17.5 A into the string on the roof.

    Above its panels' 15 A a fuse of 1.56 × 6.4 A = 10 A is needed, which stands across what both
    push, 1.25 × (6.4 A + 14 A) = 25.5 A; at 25 A none is needed, and the cable bears 17.5 A.
    """
    kind = SHIPPED["panel_types"][0]
    plate = PLATE | {"max_series_fuse_a": series_fuse_a}
    kind = kind | {"panel": kind["panel"] | {"electrical": plate}}
    answer = built(
        panel_types=[kind],
        controllers=[SHIPPED["controllers"][0] | {"max_input_voltage_v": 150.0}],
        removable=[SUITCASE | {"electrical": STRONG, "in_series": 4}],
        drawn=[{"controller": "controller-1", "strings": FOUR}],
    )
    line = next(w for w in answer.wire_schedule if w.kind == "pv-output")
    own = [d for d in answer.protection_schedule if d.protects == line.line]
    assert line.ampacity_a >= 17.5 or own
    assert told(answer, "overcurrent-protection", f"{line.line} (").verdict == "pass"
    assert bool(own) == fused
    for each in own:
        assert each.rating_a == 10.0
        assert each.minimum_interrupting_a == pytest.approx(1.25 * (6.4 + 14.0))
        assert "meets the controller" in each.place


@pytest.mark.parametrize(("battery_v", "judged_v"), [(12, 15.0), (24, 30.0)])
def test_a_starter_cable_bears_what_its_fuse_is_judged_at(battery_v: int, judged_v: float) -> None:
    """A charging voltage of 1.25 × nominal, told of the fuse and of the cable that is bought."""
    alternator = ALTERNATOR | {"starter_voltage_v": battery_v}
    answer = built(chargers=[alternator])
    line = next(w for w in answer.wire_schedule if w.kind == "starter-to-charger")
    assert fuse(answer, line).minimum_voltage_v == judged_v
    for part in (p for p in answer.parts_list if p.key in line.part_keys):
        assert (part.minimum_voltage_v or 0.0) >= judged_v


def test_leads_between_panels_lose_volts_and_watts_too() -> None:
    """Panels with leads of 0.2 m want 0.9 m and 1.1 m more in their strings, of 4 mm².

    IEC 60228, Table 9: tinned class 5 of 4 mm² has at most 5.09 Ω/km at 20 °C, 0.393 % more per
    kelvin; hot on a roof, between 60 °C and 90 °C, 1.1 m lose 0.039 to 0.043 V of 5.99 A.
    """
    kinds = [kind | {"lead_length_m": 0.2} for kind in SHIPPED["panel_types"]]
    answer = built(panel_types=kinds)
    harness = answer.configurations[0].harness
    between = {h.strings[0]: h.length_m or 0.0 for h in harness if h.polarity == "between-panels"}
    assert between == pytest.approx({1: 0.9, 2: 1.1})
    leads = [part for part in answer.parts_list if part.kind == "extension-lead"]
    assert {(part.size, part.area_mm2) for part in leads} == {("4 mm²", 4.0)}
    own, common = (w for w in answer.wire_schedule if w.kind in ("pv-string", "pv-output"))
    for line, string, alone in ((own, 2, 0.152), (common, 1, 3.61)):
        # By itself, as NFPA 70, Chapter 9, Table 8 has 14 AWG: 3.14 Ω per 1000 ft at 75 °C.
        amps = 5.99 * (1 if line.kind == "pv-string" else 2)
        copper_ohm = 2.0 * alone * 3.14 / 304.8
        lost_v = line.drop_v - amps * copper_ohm
        hot = [5.99 * between[string] * 0.00509 * (1 + 0.00393 * (c - 20.0)) for c in (60.0, 90.0)]
        assert hot[0] - 0.02 * amps * copper_ohm <= lost_v <= hot[1] + 0.02 * amps * copper_ohm
        assert line.drop_fraction == pytest.approx(line.drop_v / 38.4)
    assert own.drop_fraction + common.drop_fraction <= 0.03
