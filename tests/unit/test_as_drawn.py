"""What a caller drew or has at hand is judged as it is, beside what the engine would choose."""

import json
from importlib import resources
from typing import Any

import msgspec
import pytest
from shipped import fit_out

from sunhitch.types.check import Check
from sunhitch.types.fitout import FitOutAnswer, FitOutRequest
from sunhitch.types.wiring import EntryRequest, WireSizingRequest
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.rules.table import entries
from sunhitch_service.engine.wiring.calculation import wire_sizing

pytestmark = pytest.mark.usefixtures("parts_kept")

SHIPPED = json.loads(resources.files("sunhitch").joinpath("examples/fit-out.json").read_text())
PANELS = [place["name"] for place in SHIPPED["placements"]]


def drawn(*strings: list[str]) -> dict[str, Any]:
    """A wiring of all strings on the one controller."""
    return {"drawn": [{"controller": "controller-1", "strings": list(strings)}]}


def built(**changes: Any) -> FitOutAnswer:
    """The shipped build with top-level parts replaced, or `cables` and `connectors` widened."""
    body = SHIPPED | {
        name: SHIPPED[name] | value if name in ("cables", "connectors") else value
        for name, value in changes.items()
    }
    return fit_out(msgspec.convert(body, FitOutRequest))


def told(answer: Any, code: str) -> Check:
    """The worst check of a code."""
    order = ("pass", "review", "not-assessed", "fail")
    found = [check for check in answer.checks if check.code == code]
    return max(found, key=lambda check: order.index(check.verdict))


def test_a_wiring_as_drawn_is_built_and_judged_beside_the_best() -> None:
    """Four in series reach 4 × 22.9 V × (1 + 0.0028 × 43) = 102.6 V in the cold, 100 V allowed."""
    answer = built(**drawn(PANELS))
    first, second, *_ = answer.configurations
    assert [string.panels for string in first.arrays[0].strings] == [PANELS]
    assert (answer.verdict, first.verdict, second.rank) == ("fail", "fail", 1)
    assert told(answer, "cold-voc-controller").demand == pytest.approx(102.63, abs=0.01)
    assert first.rank > second.rank
    assert second.verdict == "pass"
    assert answer.wire_schedule[0].start == f"string 1 ({' + '.join(PANELS)})"


def test_panels_that_a_drawing_leaves_out_are_named() -> None:
    answer = built(**drawn(PANELS[:2]))
    assert PANELS[2] in told(answer, "panels-wired").remedy


@pytest.mark.parametrize(
    ("strings", "pointer"),
    [([["front-left", "nobody"]], "/drawn/0/strings/0/1"), ([["front-left"]] * 2, "/drawn/0")],
)
def test_a_drawing_that_names_what_is_not_there_is_refused(
    strings: list[list[str]], pointer: str
) -> None:
    with pytest.raises(ContradictionError) as refused:
        built(**drawn(*strings))
    assert all(fault.pointer.startswith(pointer) for fault in refused.value.faults)


def test_the_only_size_at_hand_is_built_everywhere_and_says_what_it_fails() -> None:
    """14 AWG: at most 15 A of fuse (NFPA 70, 240.4(D)), against 37.5 A at the battery."""
    answer = built(parts=[{"part": "cable", "state": "fixed", "size": {"awg": "14"}}])
    assert {line.at_hand for line in answer.wire_schedule} == {"14 AWG"}
    assert {line.largest_device_a for line in answer.wire_schedule} == {15.0}
    check = told(answer, "conductor-at-hand")
    assert check.verdict == "fail"
    assert entries()["small-conductor"].title in check.remedy
    assert f"Use {answer.wire_schedule[-1].awg}" in check.remedy
    assert told(answer, "overcurrent-protection").verdict == "fail"
    bought = [part.name for part in answer.parts_list if "cable 14 AWG" in part.name]
    assert len(bought) == 4


def test_a_size_that_is_no_size_points_at_the_field() -> None:
    with pytest.raises(ContradictionError) as refused:
        built(parts=[{"part": "cable", "state": "fixed", "size": {"area_mm2": 7.0}}])
    assert {f.pointer for f in refused.value.faults} == {"/parts/0/size/area_mm2"}


@pytest.mark.parametrize(
    ("fuse_a", "verdicts"),
    [(15.0, ("pass", "pass")), (6.0, ("fail", "pass")), (37.0, ("fail", "fail"))],
)
def test_string_fuses_at_hand_are_not_swapped(fuse_a: float, verdicts: tuple[str, str]) -> None:
    """Range 1.5625 × 6.4 A = 10 A to the panels' 15 A; 37 A exists nowhere."""
    four = drawn(*([name] for name in PANELS))
    sits = {"part": "fuse", "line": "pv-string", "state": "fixed", "rating_a": fuse_a}
    answer = built(**four, parts=[sits])
    found = told(answer, "string-fuse-rating").verdict, told(answer, "device-listed").verdict
    assert found == verdicts
    assert {d.rating_a for d in answer.protection_schedule if d.of_string} == {fuse_a}
    assert "10 A" in told(answer, "string-fuse-rating").remedy or verdicts[0] == "pass"


def battery_fuse(rating_a: float, family: str) -> dict[str, Any]:
    """One that sits between controller and battery."""
    line = "controller-to-battery"
    return {
        "part": "fuse",
        "line": line,
        "state": "fixed",
        "rating_a": rating_a,
        "family": family,
    }


def test_a_battery_fuse_at_hand_is_not_swapped() -> None:
    """30 A output asks for 37.5 A; a stud fuse starts at 30 A and its next size is 40 A."""
    small = built(parts=[battery_fuse(30.0, "battery-stud")])
    assert told(small, "device-carries-load").verdict == "fail"
    assert small.protection_schedule[-1].rating_a == 30.0
    other = built(parts=[battery_fuse(37.0, "battery-stud")])
    assert told(other, "device-listed").remedy.endswith("take 30 A or 40 A.")


def test_a_breaker_at_hand_is_judged_listed_and_bought_as_one() -> None:
    """A thermal breaker of 40 A breaks 5 kA at 14.4 V; no family of them is made with 45 A."""
    answer = built(parts=[battery_fuse(40.0, "breaker-surface")])
    device = answer.protection_schedule[-1]
    assert (device.kind, device.rating_a) == ("breaker", 40.0)
    assert told(answer, "device-kind").verdict == told(answer, "device-listed").verdict == "pass"
    (bought,) = [part for part in answer.parts_list if part.needed_for == ["F1"]]
    assert bought.name == "Circuit breaker, thermal, surface mount, 40 A"
    odd = built(parts=[battery_fuse(45.0, "breaker-surface")])
    assert told(odd, "device-listed").verdict == "fail"
    assert "40 A or 50 A" in told(odd, "device-listed").remedy


@pytest.mark.parametrize(("largest_a", "verdict"), [(60.0, "pass"), (30.0, "fail")])
def test_a_controllers_largest_fuse_is_judged_at_the_battery(
    largest_a: float, verdict: str
) -> None:
    controller = SHIPPED["controllers"][0] | {"max_battery_fuse_a": largest_a}
    check = told(built(controllers=[controller]), "controller-fuse")
    assert (check.verdict, check.demand, check.capacity) == (verdict, 40.0, largest_a)
    assert check.subject == "F1 (W2, controller-1)"


def test_a_controllers_largest_fuse_is_judged_towards_the_array() -> None:
    """One string behind a switch that lets the battery back: 1.5625 × 6.4 A asks for 10 A."""
    leaky = {"kind": "pwm", "blocks_reverse_current": False, "max_input_fuse_a": 8.0}
    controller = SHIPPED["controllers"][0] | leaky
    check = told(built(controllers=[controller], **drawn(PANELS[:1])), "controller-fuse")
    assert (check.verdict, check.demand, check.capacity) == ("fail", 10.0, 8.0)


@pytest.mark.parametrize(
    ("size", "cables_mm", "verdict", "remedy"),
    [
        ("M16", [6.1, 6.1], "pass", ""),
        ("M12", [6.6, 6.6], "fail", "It seals 3 to 6.5 mm: use M16."),
        ("M20", [6.1, 6.1], "fail", "It seals 7 to 13 mm: use M12."),
    ],
)
def test_a_gland_at_hand_is_judged(
    size: Any, cables_mm: list[float], verdict: str, remedy: str
) -> None:
    """Clamping ranges as in the table of glands; one too large does not seal either."""
    entry = EntryRequest(
        cable_diameters_mm=cables_mm, gland_at_hand=size, sheet="steel", thickness_mm=1.0
    )
    answer = wire_sizing(
        WireSizingRequest(
            circuit="pv-output",
            rules="iec",
            voltage_v=20.0,
            length_m=2.0,
            current_a=8.0,
            entry=entry,
        )
    )
    check = told(answer, "gland-at-hand")
    assert (check.verdict, check.remedy) == (verdict, remedy)
    assert (
        told(
            built(parts=[{"part": "gland", "state": "fixed", "gland": "M40"}]), "gland-at-hand"
        ).verdict
        == "fail"
    )
