"""A build's fuses and cables: every source is held back, every decision stands once."""

import json
from importlib import resources
from typing import Any

import msgspec
import pytest
from shipped import fit_out

from sunhitch.report.part_words import part_ratings
from sunhitch.types.fitout import FitOutAnswer, FitOutRequest, ProtectiveDevice

pytestmark = pytest.mark.usefixtures("parts_kept")


def example() -> dict[str, Any]:
    """The shipped example as plain data, without states of shade."""
    text = resources.files("sunhitch").joinpath("examples/fit-out.json").read_text("utf-8")
    return json.loads(text) | {"light": []}


def parallel(panels: int, **controller: Any) -> dict[str, Any]:
    """Single panels of 6.02 A in parallel: the input of 50 V in the cold takes no two in series."""
    body = example()
    plate = body["panel_types"][0]["panel"]["electrical"]
    plate |= {"i_sc_a": 6.02, "i_mp_a": 5.64, "p_mp_w": plate["v_mp_v"] * 5.64}
    body["placements"] = body["placements"][:panels]
    body["controllers"][0] |= {"max_input_voltage_v": 30.0} | controller
    body["controllers"][0] |= {"max_output_current_a": 50.0, "max_input_short_circuit_a": 60.0}
    body["connectors"] = {"plug_current_a": 60.0, "branch_current_a": 60.0}
    return body


def answered(body: dict[str, Any]) -> FitOutAnswer:
    return fit_out(msgspec.convert(body, FitOutRequest))


def device_of(answer: FitOutAnswer, name: str) -> ProtectiveDevice:
    return next(fuse for fuse in answer.protection_schedule if fuse.protects == name)


def line_of(answer: FitOutAnswer, kind: str) -> str:
    return next(wire.line for wire in answer.wire_schedule if wire.kind == kind)


def leaky() -> dict[str, Any]:
    return {"kind": "pwm", "blocks_reverse_current": False}


def test_a_battery_that_feeds_back_is_held_back_at_the_controller() -> None:
    """One string of 6.02 A: 1.5625 × 6.02 = 9.41 → 10 A, at most 15 A for panel and 14 AWG."""
    answer = answered(parallel(1, **leaky()))
    output = line_of(answer, "pv-output")
    fuse = device_of(answer, output)
    assert fuse.rating_a == 10.0
    assert fuse.also_protects == ["string 1 of controller-1"]
    assert "controller" in fuse.place
    holders = [p for p in answer.parts_list if "fuse holder" in p.name]
    assert not holders
    assert not [c for c in answer.checks if c.verdict == "fail"]


def test_two_strings_and_their_common_cable_each_have_a_fuse_against_the_battery() -> None:
    """Common cable: 1.5625 × 12.04 = 18.8 → 20 A; by hand."""
    answer = answered(parallel(2, **leaky()))
    assert device_of(answer, line_of(answer, "pv-output")).rating_a == 20.0
    ratings = [fuse.rating_a for fuse in answer.protection_schedule if fuse.of_string]
    assert ratings == [10.0, 10.0]
    own = line_of(answer, "pv-string")
    assert any(own in fuse.also_protects for fuse in answer.protection_schedule)


@pytest.mark.parametrize("rules", ["nec-2023", "iec"])
@pytest.mark.parametrize("length_m", [0.1, 0.19, 0.4, 3.0])
@pytest.mark.parametrize("controller", [{}, leaky()])
def test_every_battery_cable_has_a_fuse_however_short_it_is(
    rules: str, length_m: float, controller: dict[str, Any]
) -> None:
    body = parallel(1, **controller) | {"rules": rules}
    body["cables"] = {"entry_to_controller_m": 2.4, "controller_to_battery_m": length_m}
    answer = answered(body)
    fuse = device_of(answer, line_of(answer, "controller-to-battery"))
    assert fuse.rating_a > 0.0
    states = {path.state for path in answer.current_paths if "up to" not in path.conductor}
    assert states <= {"proven", "protected"}


def test_a_battery_fuse_that_protects_the_cable_does_not_spare_the_panel_its_own() -> None:
    """30 A at the battery protect 10 AWG; a panel whose series fuse is 15 A needs 1.5625 × 6.02."""
    body = parallel(1, **leaky())
    body["controllers"][0] |= {"max_output_current_a": 20.0}
    body["cables"] = {"entry_to_controller_m": 8.0, "controller_to_battery_m": 1.0}
    body["panel_types"][0]["panel"]["electrical"]["i_sc_a"] = 6.02
    answer = answered(body)
    output, bank = line_of(answer, "pv-output"), line_of(answer, "controller-to-battery")
    wire = next(each for each in answer.wire_schedule if each.line == output)
    assert wire.largest_device_a >= device_of(answer, bank).rating_a
    assert device_of(answer, output).rating_a == 10.0


def test_string_fuses_must_break_what_the_battery_feeds_back() -> None:
    """4000 A and the other string, 7.5 A; 20 kA of an unknown battery is more than gPV breaks."""
    answer = answered(parallel(2, **leaky()))
    fuses = [fuse for fuse in answer.protection_schedule if fuse.of_string]
    assert [fuse.minimum_interrupting_a for fuse in fuses] == [pytest.approx(4007.525)] * 2
    unknown = parallel(2, **leaky())
    unknown["battery"]["short_circuit_current_a"] = None
    checks = [c for c in answered(unknown).checks if c.code == "device-interrupting"]
    told = {c.subject.split(" ")[0]: c.verdict for c in checks if c.subject}
    assert (told["F1"], told["F2"]) == ("fail", "fail")


def test_a_string_has_one_reverse_current_and_one_fuse_wherever_they_stand() -> None:
    """Two panels of 9 A and two of 4 A in parallel: 21.25 and 27.5 A, fuses of 15 and 8 A."""
    body = parallel(4)
    small = json.loads(json.dumps(body["panel_types"][0])) | {"name": "small"}
    body["panel_types"].append(small)
    for kind, i_sc in zip(body["panel_types"], (9.0, 4.0), strict=True):
        plate = kind["panel"]["electrical"]
        plate |= {"i_sc_a": i_sc, "i_mp_a": 0.93 * i_sc, "p_mp_w": plate["v_mp_v"] * 0.93 * i_sc}
    for place in body["placements"][2:]:
        place["panel_type"] = "small"
    answer = answered(body)
    (array,) = answer.configurations[0].arrays
    decided = {n: (s.reverse_current_a, s.fuse_a) for n, s in enumerate(array.strings, 1)}
    assert sorted(decided.values()) == [(21.25, 15.0)] * 2 + [(27.5, 8.0)] * 2
    for number, (reverse_a, rating_a) in decided.items():
        fuse = device_of(answer, f"string {number} of controller-1")
        assert (fuse.minimum_interrupting_a, fuse.rating_a) == (reverse_a, rating_a)
    judged = [c for c in answer.checks if c.code == "string-reverse-current"]
    assert [c.demand for c in judged] == [27.5]
    lines = {wire.line: wire for wire in answer.wire_schedule if wire.kind == "pv-string"}
    fused = [c for c in answer.checks if c.code == "overcurrent-protection"]
    for check in fused:
        if check.subject.split(" ")[0] in lines:
            assert check.demand in (8.0, 15.0)


def test_panels_that_no_wiring_uses_stay_off_the_roof() -> None:
    """A small input takes few of the many panels that fit; the caller asked for no number."""
    body = example() | {"placements": []}
    body["controllers"][0] |= {"max_input_voltage_v": 52.0, "max_input_short_circuit_a": 14.0}
    answer = answered(body)
    wired = [p for a in answer.configurations[0].arrays for s in a.strings for p in s.panels]
    assert sorted(p.panel for p in answer.roof.placements) == sorted(wired)
    bought = next(part for part in answer.parts_list if part.group == "panels")
    assert bought.amount == len(wired)
    assert "/panel_types" in {made.field for made in answer.assumptions}


def test_placed_panels_that_no_wiring_uses_are_named() -> None:
    body = parallel(3)
    body["controllers"][0] |= {"max_input_short_circuit_a": 13.0, "max_output_current_a": 10.0}
    body["leave_out_at_most"] = 1
    answer = answered(body)
    left = answer.configurations[0].leftover
    assert len(left) == 1
    (check,) = [c for c in answer.checks if c.code == "panels-wired"]
    assert (check.verdict, check.demand, check.capacity) == ("review", 3.0, 2.0)
    assert left[0] in check.remedy


def test_parts_have_the_ratings_that_were_judged() -> None:
    """30.1 A flow through plugs given for 60 A: plugs of 30 A would not do."""
    answer = answered(parallel(4))
    (plugs,) = [part for part in answer.parts_list if part.name.startswith("Plug pair")]
    assert plugs.minimum_current_a == 60.0
    fuses = [part for part in answer.parts_list if part.kind == "fuse" and "gPV" in part.family]
    assert sum(part.amount for part in fuses) == 4.0
    assert not any("holder" in part.name for part in fuses)


@pytest.mark.parametrize(("rules", "words"), [("iec", "70 °C"), ("nec-2023", "90 °C")])
def test_cables_are_bought_with_the_insulation_that_they_were_sized_with(
    rules: str, words: str
) -> None:
    answer = answered(example() | {"rules": rules})
    bought = [part for part in answer.parts_list if part.name.startswith("Battery cable")]
    assert bought
    assert all(words in part_ratings(part) for part in bought)


@pytest.mark.parametrize(("rules", "hot"), [("nec-2023", "pv-output"), ("iec", "battery")])
def test_no_device_is_named_where_the_tables_end(rules: str, hot: str) -> None:
    """55 °C: 88 °C on the roof is beyond 90 °C wire, 62 °C inside beyond 70 °C wire."""
    body = example() | {"rules": rules, "light": []}
    body["site"] = {"lowest_ambient_c": -5.0, "highest_ambient_c": 55.0}
    answer = answered(body)
    beyond = [c for c in answer.checks if c.verdict == "fail" and c.capacity == 0.0]
    assert {"ampacity-corrected", "overcurrent-protection"} <= {c.code for c in beyond}
    for check in beyond:
        assert "give " in check.remedy and "no ampacity" in check.remedy, check
        assert "at most" not in check.remedy and "smaller" not in check.remedy, check
    wires = [w for w in answer.wire_schedule if w.largest_device_a == 0.0]
    assert wires and all(hot in w.kind for w in wires)
