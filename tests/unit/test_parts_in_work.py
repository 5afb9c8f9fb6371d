"""What is fixed stays and is judged, what is owned is used first, what is gone is not used."""

from typing import Any

import msgspec
import pytest
from msgspec.structs import replace

from sunhitch import examples
from sunhitch.types.fitout import CableInWork, FitOutAnswer, FitOutRequest, FuseInWork
from sunhitch.types.revision import FitOutChangeRequest, PartInWork, WantedValue
from sunhitch.types.wiring import ConductorSize
from sunhitch.types.work import OwnedPart, PartPrice
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.fitout.calculation import fit_out
from sunhitch_service.engine.revision.calculation import fit_out_change


def _job() -> FitOutRequest:
    """Two panels in parallel, each with a cable of its own to the branch connectors."""
    job = examples.load("fit-out")
    assert isinstance(job, FitOutRequest)
    kinds = [replace(kind, lead_length_m=0.2) for kind in job.panel_types]
    drawn = [{"controller": "controller-1", "strings": [["front-left"], ["rear-left"]]}]
    places = [one for one in job.placements if one.name in ("front-left", "rear-left")]
    plain = msgspec.to_builtins(replace(job, panel_types=kinds, placements=places, light=[]))
    return msgspec.convert(plain | {"drawn": drawn}, FitOutRequest)


def _built(*cables: CableInWork, fuses: tuple[FuseInWork, ...] = ()) -> FitOutAnswer:
    job = _job()
    own = replace(job.cables, in_work=list(cables))
    return fit_out(replace(job, cables=own, fuses_in_work=list(fuses)))


def _cable(awg: str, **of: Any) -> CableInWork:
    return CableInWork(size=ConductorSize(awg=awg), **of)


def _sizes(answer: FitOutAnswer) -> dict[tuple[str, str], str]:
    return {(line.kind, line.device): line.drop_of for line in answer.wire_schedule}


def test_each_string_keeps_the_cable_that_lies() -> None:
    answer = _built(
        _cable("6", kind="pv-string", device="front-left", length_m=2.5),
        _cable("10", kind="pv-string", device="rear-left", length_m=2.0),
    )
    strings = {line.device: line for line in answer.wire_schedule if line.kind == "pv-string"}
    assert {name: (line.drop_of, line.length_m) for name, line in strings.items()} == {
        "front-left": ("6 AWG", 2.5),
        "rear-left": ("10 AWG", 2.0),
    }
    assert not [check for check in answer.checks if check.verdict == "fail"]
    lying = [part for part in answer.parts_list if part.kind == "pv-cable" and part.at_hand]
    assert [(part.size, part.to_buy) for part in lying] == 2 * [("6 AWG", 0.0)] + 2 * [
        ("10 AWG", 0.0)
    ]


def test_a_cable_that_lies_and_is_too_short_fails_by_what_is_missing() -> None:
    """1.0 m from controller to battery."""
    answer = _built(_cable("6", kind="controller-to-battery", length_m=0.7))
    (short,) = [check for check in answer.checks if check.code == "cable-length"]
    assert (short.verdict, short.demand, short.capacity) == ("fail", 1.0, 0.7)
    assert "0.30 m" in short.remedy
    (line,) = [line for line in answer.wire_schedule if line.kind == "controller-to-battery"]
    assert line.verdict == "fail"


def test_what_lies_is_judged_beside_the_rules() -> None:
    answer = _built(_cable("18", kind="controller-to-battery"))
    assert _sizes(answer)["controller-to-battery", "controller-1"] == "18 AWG"
    assert "conductor-at-hand" in {c.code for c in answer.checks if c.verdict == "fail"}


@pytest.mark.parametrize(("awg", "used"), [("4", "4 AWG"), ("18", "8 AWG")])
def test_what_is_owned_is_used_where_it_passes(awg: str, used: str) -> None:
    """By the rules alone it is 8 AWG."""
    answer = _built(_cable(awg, kind="controller-to-battery", state="owned"))
    assert _sizes(answer)["controller-to-battery", "controller-1"] == used
    (red, _) = [part for part in answer.parts_list if part.kind == "battery-cable"]
    assert (red.to_buy == 0.0) == (used == f"{awg} AWG")


def test_a_size_that_cannot_be_had_is_not_used() -> None:
    gone = [_cable(awg, state="unavailable") for awg in ("8", "6")]
    sizes = _sizes(_built(*gone))
    assert sizes["controller-to-battery", "controller-1"] == "4 AWG"
    assert not {"8 AWG", "6 AWG"} & {*sizes.values()}


@pytest.mark.parametrize(
    ("fuse", "rating_a"),
    [
        ({"rating_a": 60.0, "family": "battery-stud"}, 60.0),
        ({"rating_a": 50.0, "state": "owned"}, 50.0),
        ({"rating_a": 300.0, "state": "owned"}, 40.0),
        ({"rating_a": 40.0, "state": "unavailable"}, 50.0),
    ],
)
def test_fuses_as_they_sit_are_there_or_are_not(fuse: dict[str, Any], rating_a: float) -> None:
    """By the rules alone it is 40 A; the next size of its family is 50 A."""
    answer = _built(fuses=(FuseInWork(kind="controller-to-battery", **fuse),))
    (found,) = [one for one in answer.protection_schedule if not one.of_string]
    assert found.rating_a == rating_a
    part = next(one for one in answer.parts_list if one.key == found.part_key)
    there = fuse["rating_a"] == rating_a
    assert (part.to_buy == 0.0) == there


@pytest.mark.parametrize(
    ("cables", "pointer", "word"),
    [
        ([{"kind": "bus-to-load"}], "/cables/in_work/0", "pv-string front-left"),
        ([{"device": "controller-9"}], "/cables/in_work/0", "controller-to-battery controller-1"),
        ([{"kind": "pv-output"}, {}], "/cables/in_work/1", "pv-output controller-1"),
    ],
)
def test_what_is_no_line_or_lies_twice_is_refused(
    cables: list[dict[str, Any]], pointer: str, word: str
) -> None:
    with pytest.raises(ContradictionError) as caught:
        _built(*(_cable("10", **one) for one in cables))
    assert [(f.pointer, word in f.message) for f in caught.value.faults] == [(pointer, True)]


def test_parts_that_are_owned_are_not_bought() -> None:
    """24 feet are needed, 10 are there, the others cost 3 each."""
    job = _job()
    key = next(part.key for part in fit_out(job).parts_list if part.kind == "foot")
    work = replace(
        job.work,
        owned=[OwnedPart(key=key, amount=10.0), OwnedPart(key="tether")],
        prices=[PartPrice(key=key, price=3.0), PartPrice(key="tether", price=9.0)],
    )
    answer = fit_out(replace(job, work=work))
    bought = {part.key: part.to_buy for part in answer.parts_list}
    assert (bought[key], bought["tether"]) == (14.0, 0.0)
    assert answer.work_cost.parts == 42.0


def _changed(parts: list[dict[str, Any]], **values: object) -> FitOutChangeRequest:
    wanted = [WantedValue(pointer=at.replace("__", "/"), value=v) for at, v in values.items()]
    own = [PartInWork(**part) for part in parts]
    return FitOutChangeRequest(job=_job(), parts=own, values=wanted, goal="as-wanted")


@pytest.mark.parametrize("state", ["fixed", "owned", "unavailable"])
def test_a_line_by_its_number_is_changed_for_itself_alone(state: str) -> None:
    before = fit_out(_job())
    line = next(one for one in before.wire_schedule if one.kind == "controller-to-battery")
    asked = _changed(
        [{"part": "cables", "name": line.line, "state": state}], __site__highest_ambient_c=49.0
    )
    answer = fit_out_change(asked)
    (step,) = [one for one in answer.patch if one.path == "/cables/in_work"]
    (entry,) = msgspec.convert(step.value, list[CableInWork])
    assert (entry.kind, entry.device, entry.state) == (line.kind, line.device, state)
    assert entry.length_m == (line.length_m if state == "fixed" else None)
    gone = [change.code for change in answer.changes if change.code == "other-cable-size"]
    assert bool(gone) == (state == "unavailable")


def test_a_fuse_by_its_number_stays() -> None:
    before = fit_out(_job())
    fuse = next(one for one in before.protection_schedule if not one.of_string)
    larger = {"__controllers__0__max_output_current_a": 50.0}
    asked = _changed([{"part": "fuse", "name": fuse.device, "state": "fixed"}], **larger)
    answer = fit_out_change(asked)
    assert "device-carries-load" in {check.code for check in answer.after.failing}
    assert "fuse" not in {part.kind for part in (*answer.parts_added, *answer.parts_spared)}


def test_a_foot_that_is_not_there_leaves_its_panel_alone_with_eleven() -> None:
    asked = _changed([{"part": "feet", "name": "rear-left", "number": 3, "state": "unavailable"}])
    answer = fit_out_change(asked)
    feet = {panel.name: len(panel.feet) for panel in answer.plan.panels}
    assert feet == {"front-left": 12, "rear-left": 11}
    assert [change.code for change in answer.changes] == ["feet-lost"]


def test_a_foot_on_the_roof_keeps_its_panel_in_place() -> None:
    """A vent 10 mm too near: the panel gives way unless one of its feet is on the roof."""
    nearer = {"__roof__obstacles__0__y_m": 0.85}
    free = replace(_changed([], **nearer), goal="no-failure")
    assert "panel-moved" in {change.code for change in fit_out_change(free).changes}
    foot = PartInWork(part="feet", name="front-left", number=3, state="fixed")
    held = fit_out_change(replace(free, parts=[foot]))
    moved = [c.parameters["panel"] for c in held.changes if c.code == "panel-moved"]
    assert "front-left" not in moved


@pytest.mark.parametrize(
    ("part", "values", "pointer"),
    [
        ({"part": "cables", "name": "W9"}, {}, "/parts/0/name"),
        ({"part": "fuse", "name": "F9"}, {}, "/parts/0/name"),
        ({"part": "feet", "name": "front-left", "number": 13}, {}, "/parts/0/number"),
        ({"part": "panel", "number": 1}, {}, "/parts/0/number"),
        (
            {"part": "cables"},
            {"__cables__controller_to_battery_m": 4.0},
            "/values/0/pointer",
        ),
        (
            {"part": "cables"},
            {"__cables__conductor": {"material": "aluminium"}},
            "/values/0/pointer",
        ),
        (
            {"part": "feet", "name": "front-left", "number": 1},
            {"__placements__0__x_m": 0.9},
            "/values/0/pointer",
        ),
    ],
)
def test_what_is_not_there_and_what_contradicts_it_is_refused(
    part: dict[str, Any], values: dict[str, object], pointer: str
) -> None:
    with pytest.raises(ContradictionError) as caught:
        fit_out_change(_changed([part | {"state": "fixed"}], **values))
    assert [fault.pointer for fault in caught.value.faults] == [pointer]
