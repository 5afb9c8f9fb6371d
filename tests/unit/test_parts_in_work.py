"""What is fixed stays and is judged, what is owned is used first, what is gone is not used."""

from functools import cache
from typing import Any

import jsonpatch
import msgspec
import pytest
from msgspec.structs import replace

from sunhitch import examples
from sunhitch.types.fitout import FitOutAnswer, FitOutRequest, PartInWork, WorkPart
from sunhitch.types.revision import FitOutChangeAnswer, FitOutChangeRequest, WantedValue
from sunhitch.types.work import PartPrice, StockedPart
from sunhitch_service.drawing.work_sheet import draw_work_sheet
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.fitout.calculation import fit_out
from sunhitch_service.engine.fitout.part_states import PartStates
from sunhitch_service.engine.revision.calculation import fit_out_change

pytestmark = pytest.mark.usefixtures("parts_kept")
THREE = ("front-left", "front-right", "rear-left")


@cache
def _job() -> FitOutRequest:
    """Two panels in parallel, each with a cable of its own to the branch connectors."""
    job = examples.load("fit-out")
    assert isinstance(job, FitOutRequest)
    kinds = [replace(kind, lead_length_m=0.2) for kind in job.panel_types]
    drawn = [{"controller": "controller-1", "strings": [["front-left"], ["rear-left"]]}]
    places = [one for one in job.placements if one.name in ("front-left", "rear-left")]
    cables = replace(job.cables, cable_diameter_mm=8.0)
    job = replace(job, panel_types=kinds, placements=places, light=[], cables=cables)
    plain = msgspec.to_builtins(job)
    return msgspec.convert(plain | {"drawn": drawn}, FitOutRequest)


def _said(*parts: dict[str, Any], job: FitOutRequest | None = None) -> FitOutRequest:
    own = msgspec.convert(list(parts), list[PartInWork])
    return replace(job or _job(), parts=own)


def _built(*parts: dict[str, Any]) -> FitOutAnswer:
    return fit_out(_said(*parts))


def _cable(awg: str, **of: Any) -> dict[str, Any]:
    return {"part": "cable", "state": "fixed", "size": {"awg": awg}} | of


def _sizes(answer: FitOutAnswer) -> dict[tuple[str, str], str]:
    return {(line.kind, line.device): line.drop_of for line in answer.wire_schedule}


def test_each_string_keeps_the_cable_that_lies() -> None:
    answer = _built(
        _cable("6", line="pv-string", name="front-left", length_m=2.5),
        _cable("10", line="pv-string", name="rear-left", length_m=2.0),
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
    answer = _built(_cable("6", line="controller-to-battery", length_m=0.7))
    (short,) = [check for check in answer.checks if check.code == "cable-length"]
    assert (short.verdict, short.demand, short.capacity) == ("fail", 1.0, 0.7)
    assert "0.3 m longer" in short.remedy
    (line,) = [line for line in answer.wire_schedule if line.kind == "controller-to-battery"]
    assert line.verdict == "fail"


def test_what_lies_is_judged_beside_the_rules() -> None:
    answer = _built(_cable("18", line="controller-to-battery"))
    assert _sizes(answer)["controller-to-battery", "controller-1"] == "18 AWG"
    assert "conductor-at-hand" in {c.code for c in answer.checks if c.verdict == "fail"}


@pytest.mark.parametrize(("awg", "used"), [("4", "4 AWG"), ("18", "8 AWG")])
def test_what_is_owned_is_used_where_it_passes(awg: str, used: str) -> None:
    """By the rules alone it is 8 AWG."""
    answer = _built(_cable(awg, line="controller-to-battery", state="owned"))
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
    at = {"part": "fuse", "line": "controller-to-battery", "state": "fixed"}
    answer = _built(at | fuse)
    (found,) = [one for one in answer.protection_schedule if not one.of_string]
    assert found.rating_a == rating_a
    part = next(one for one in answer.parts_list if one.key == found.part_key)
    there = fuse["rating_a"] == rating_a
    assert found.at_hand == there
    assert (part.to_buy == 0.0) == there


@pytest.mark.parametrize(
    ("cables", "pointer", "word"),
    [
        ([{"line": "bus-to-load"}], "/parts/0", "pv-string front-left"),
        ([{"name": "controller-9"}], "/parts/0", "controller-to-battery controller-1"),
        (
            [{"line": "pv-output"}, {"line": "pv-output", "size": {"awg": "8"}}],
            "/parts/1",
            "already",
        ),
    ],
)
def test_what_is_no_line_or_lies_twice_is_refused(
    cables: list[dict[str, Any]], pointer: str, word: str
) -> None:
    with pytest.raises(ContradictionError) as caught:
        _built(*(_cable("10", **one) for one in cables))
    assert [(f.pointer, word in f.message) for f in caught.value.faults] == [(pointer, True)]


def test_parts_in_stock_are_not_bought() -> None:
    """24 feet are needed, 10 are there, the others cost 3 each."""
    job = _job()
    key = next(part.key for part in fit_out(job).parts_list if part.kind == "foot")
    work = replace(
        job.work,
        stock=[StockedPart(key=key, amount=10.0), StockedPart(key="tether")],
        prices=[PartPrice(key=key, price=3.0), PartPrice(key="tether", price=9.0)],
    )
    answer = fit_out(replace(job, work=work))
    bought = {part.key: part.to_buy for part in answer.parts_list}
    assert (bought[key], bought["tether"]) == (14.0, 0.0)
    assert answer.work_cost.parts == 42.0


def test_an_owned_fuse_that_the_controller_does_not_allow_stays_in_the_box() -> None:
    """60 A at the controller's battery side, 40 A allowed by its maker, 40 A by the rules alone."""
    owned = {"part": "fuse", "line": "controller-to-battery", "state": "owned", "rating_a": 60.0}
    job = _job()
    (controller,) = job.controllers
    weak = replace(job, controllers=[replace(controller, max_battery_fuse_a=40.0)])
    for request, rating_a in ((job, 60.0), (weak, 40.0)):
        answer = fit_out(_said(owned, job=request))
        (fuse,) = [one for one in answer.protection_schedule if not one.of_string]
        assert (fuse.rating_a, fuse.at_hand) == (rating_a, rating_a == 60.0)
        assert not [check for check in answer.checks if check.verdict == "fail"]


def test_panels_of_which_one_lacks_a_foot_are_wired_and_tested_as_one_type() -> None:
    job = examples.load("fit-out")
    assert isinstance(job, FitOutRequest)
    lost = {"part": "foot", "name": "rear-right", "number": 2, "state": "unavailable"}
    answer = fit_out(_said(lost, job=job))
    kinds = {place.panel: place.panel_type for place in answer.roof.placements}
    assert kinds["rear-right"] == "sheet-115 held otherwise"
    assert [one.name for one in answer.configurations] == [
        one.name for one in fit_out(job).configurations
    ]
    tested = next(step for step in answer.work_steps if step.code == "try-panels")
    assert {reading.subject for reading in tested.readings} == {"sheet-115"}


A_60, A_50 = {"rating_a": 60.0}, {"rating_a": 50.0}


@pytest.mark.parametrize(
    ("said", "there"),
    [
        ([("owned", {}, A_60), ("owned", {}, A_50)], [60.0, 50.0]),
        ([("owned", {}, A_60), ("unavailable", {}, A_60)], []),
        ([("owned", {"name": "c"}, A_60), ("unavailable", {}, A_60)], [60.0]),
        ([("owned", {}, A_60), ("unavailable", {"name": "c"}, A_60)], []),
        ([("owned", {}, A_60), ("planned", {"name": "c"}, {})], []),
        ([("fixed", {}, A_60), ("owned", {"name": "c"}, A_50)], [50.0]),
        ([("fixed", {}, A_60), ("unavailable", {"name": "c"}, A_50)], []),
        ([("fixed", {}, A_60), ("planned", {"name": "c"}, {})], []),
        ([("fixed", {"line": "pv-output"}, A_60), ("owned", {}, A_50)], [60.0]),
        ([("owned", {"name": "c"}, A_60), ("owned", {}, A_50), ("fixed", {}, A_60)], [60.0, 50.0]),
    ],
)
def test_what_is_said_of_one_counts_before_what_is_said_of_all(
    said: list[tuple[str, dict[str, Any], dict[str, Any]]], there: list[float]
) -> None:
    entries = [{"part": "plug", "state": state} | of | rated for state, of, rated in said]
    states = PartStates(msgspec.convert(entries, list[PartInWork]))
    lot = states.lot("plug", "pv-output", ["c"])
    assert [one.rating_a for one in lot.at_hand] == there


def _changed(parts: list[dict[str, Any]], **values: object) -> FitOutChangeRequest:
    wanted = [WantedValue(pointer=at.replace("__", "/"), value=v) for at, v in values.items()]
    return FitOutChangeRequest(job=_said(*parts), values=wanted, goal="as-wanted")


def _after(asked: FitOutChangeRequest, answer: FitOutChangeAnswer) -> FitOutRequest:
    """The job after the patch, applied by a library that knows RFC 6902."""
    steps = msgspec.to_builtins(answer.patch)
    plain: Any = jsonpatch.apply_patch(msgspec.to_builtins(asked.job), steps)
    return msgspec.convert(plain, FitOutRequest)


@pytest.mark.parametrize("state", ["fixed", "owned", "unavailable"])
def test_a_line_by_its_number_is_changed_for_itself_alone(state: str) -> None:
    before = fit_out(_job())
    line = next(one for one in before.wire_schedule if one.kind == "controller-to-battery")
    asked = _changed(
        [{"part": "cable", "name": line.line, "state": state}], __site__highest_ambient_c=49.0
    )
    answer = fit_out_change(asked)
    (entry,) = _after(asked, answer).parts
    assert (entry.line, entry.name, entry.state) == (line.kind, line.device, state)
    assert entry.length_m == (line.length_m if state == "fixed" else None)
    gone = [change.code for change in answer.changes if change.code == "part-lost"]
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
    asked = _changed([{"part": "foot", "name": "rear-left", "number": 3, "state": "unavailable"}])
    answer = fit_out_change(asked)
    feet = {panel.name: len(panel.feet) for panel in answer.plan.panels}
    assert feet == {"front-left": 12, "rear-left": 11}
    assert [change.code for change in answer.changes] == ["feet-lost"]


def test_a_foot_on_the_roof_keeps_its_panel_in_place() -> None:
    """A vent 10 mm too near: the panel gives way unless one of its feet is on the roof."""
    nearer = {"__roof__obstacles__0__y_m": 0.85}
    free = replace(_changed([], **nearer), goal="no-failure")
    assert "panel-moved" in {change.code for change in fit_out_change(free).changes}
    foot = {"part": "foot", "name": "front-left", "number": 3, "state": "fixed"}
    held = fit_out_change(replace(free, job=_said(foot)))
    moved = [c.parameters["panel"] for c in held.changes if c.code == "panel-moved"]
    assert "front-left" not in moved


@pytest.mark.parametrize(
    ("part", "values", "pointer"),
    [
        ({"part": "cable", "name": "W9"}, {}, "/job/parts/0"),
        ({"part": "fuse", "name": "F9"}, {}, "/job/parts/0"),
        ({"part": "disconnect", "line": "pv-string"}, {}, "/job/parts/0"),
        ({"part": "disconnect", "name": "W1"}, {}, "/job/parts/0"),
        ({"part": "foot", "name": "front-left", "number": 13}, {}, "/job/parts/0/number"),
        ({"part": "panel", "number": 1}, {}, "/job/parts/0/number"),
        (
            {"part": "cable"},
            {"__cables__controller_to_battery_m": 4.0},
            "/values/0/pointer",
        ),
        (
            {"part": "cable"},
            {"__cables__conductor": {"material": "aluminium"}},
            "/values/0/pointer",
        ),
        (
            {"part": "foot", "name": "front-left", "number": 1},
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


WORTH: dict[WorkPart, tuple[str, Any, Any, Any]] = {
    "cable": ("size", {"awg": "18"}, {"awg": "2"}, {"awg": "8"}),
    "fuse": ("rating_a", 10.0, 50.0, 40.0),
    "disconnect": ("rating_a", 10.0, 100.0, 40.0),
    "gland": ("gland", "M40", "M20", "M16"),
    "plug": ("rating_a", 5.0, 40.0, 30.0),
    "branch-connector": ("rating_a", 5.0, 40.0, 30.0),
}
"""Of each part that sits in a line: what says which, one too weak, one that fits, the usual one."""
AT: dict[WorkPart, str] = {
    "cable": "controller-to-battery",
    "fuse": "controller-to-battery",
    "disconnect": "controller-to-battery",
    "gland": "pv-output",
}
FAILS: dict[WorkPart, str] = {
    "cable": "conductor-at-hand",
    "fuse": "device-carries-load",
    "disconnect": "disconnect-rating",
    "gland": "gland-at-hand",
    "plug": "connector-current",
    "branch-connector": "branch-connector-current",
}


def _entry(part: WorkPart, state: str, value: Any) -> dict[str, Any]:
    one = {"part": part, "state": state, WORTH[part][0]: value}
    return one | ({"line": AT[part]} if part in AT else {})


def _taken(answer: FitOutAnswer, part: WorkPart) -> set[Any]:
    """What the schedules and the parts list build of a kind, where the entries above are."""
    kinds = {"plug": "plug-pair", "branch-connector": "branch-connector"}
    listed = [one for one in answer.parts_list if one.kind == kinds.get(part)]
    battery = [one for one in answer.disconnects if "disconnect:battery" in one.part_key]
    found: dict[WorkPart, set[Any]] = {
        "cable": {line.drop_of for line in answer.wire_schedule if line.kind == AT["cable"]},
        "fuse": {fuse.rating_a for fuse in answer.protection_schedule if not fuse.of_string},
        "disconnect": {float(one.part_key.split(":")[-1].removesuffix("a")) for one in battery},
        "gland": {gland.size for gland in answer.glands},
        "plug": {one.minimum_current_a for one in listed},
        "branch-connector": {float(one.key.split(":")[-1].removesuffix("a")) for one in listed},
    }
    return found[part]


def _four_strings(*parts: dict[str, Any]) -> FitOutRequest:
    """Four panels in parallel: three push 1.25 × 3 × 6.4 A = 24 A back into the fourth."""
    job = examples.load("fit-out")
    assert isinstance(job, FitOutRequest)
    strings = [[place.name] for place in job.placements]
    drawn = [{"controller": "controller-1", "strings": strings}]
    more = replace(job.connectors, plug_current_a=60.0, branch_current_a=60.0)
    plain = msgspec.to_builtins(replace(job, light=[], connectors=more))
    return _said(*parts, job=msgspec.convert(plain | {"drawn": drawn}, FitOutRequest))


def _string_fuses(job: FitOutRequest) -> tuple[list[tuple[float, bool]], set[str]]:
    """Ratings of all string fuses and whether they are there; what fails of them."""
    answer = fit_out(job)
    fuses = [one for one in answer.protection_schedule if one.of_string]
    own = ("string-fuse-rating", "device-listed", "part-available")
    failing = {c.code for c in answer.checks if c.verdict == "fail" and c.code in own}
    return [(fuse.rating_a, fuse.at_hand) for fuse in fuses], failing


@pytest.mark.parametrize(
    ("entry", "first", "others", "failing"),
    [
        # 1.56 × 6.4 A is just below 10 A; the panels bear 15 A.
        ({"name": "front-left", "state": "fixed", "rating_a": 15.0}, (15.0, True), 10.0, set()),
        (
            {"name": "front-left", "state": "fixed", "rating_a": 30.0},
            (30.0, True),
            10.0,
            {"string-fuse-rating"},
        ),
        (
            {"name": "front-left", "state": "fixed", "rating_a": 1000.0},
            (1000.0, True),
            10.0,
            {"string-fuse-rating", "device-listed"},
        ),
        ({"name": "front-left", "state": "owned", "rating_a": 15.0}, (15.0, True), 10.0, set()),
        ({"name": "front-left", "state": "owned", "rating_a": 30.0}, (10.0, False), 10.0, set()),
        (
            {"name": "front-left", "state": "unavailable", "rating_a": 10.0},
            (12.0, False),
            10.0,
            set(),
        ),
        ({"state": "unavailable", "rating_a": 10.0}, (12.0, False), 12.0, set()),
        ({"name": "F1", "state": "fixed"}, (10.0, True), 10.0, set()),
    ],
)
def test_a_string_fuse_of_one_string_holds_for_that_string_alone(
    entry: dict[str, Any], first: tuple[float, bool], others: float, failing: set[str]
) -> None:
    line = {} if entry.get("name") == "F1" else {"line": "pv-string"}
    fuses, failed = _string_fuses(_four_strings({"part": "fuse"} | line | entry))
    assert (fuses, failed) == ([first, *3 * [(others, False)]], failing)


@pytest.mark.parametrize("state", ["fixed", "owned"])
def test_a_string_fuse_that_is_there_has_its_holder_and_every_holder_bears_its_fuse(
    state: str,
) -> None:
    """As of cables, whose fuses are listed with their holders; branch connectors are another's."""
    at = {"part": "fuse", "line": "pv-string", "name": "front-left", "rating_a": 15.0}
    joins = {"part": "branch-connector", "state": "owned", "rating_a": 10.0}
    listed = fit_out(_four_strings(at | {"state": state}, joins)).parts_list
    holders = [one for one in listed if one.kind == "string-fuse-holder"]
    found = {one.minimum_current_a: (one.amount, one.at_hand) for one in holders}
    assert found == {15.0: (1.0, 1.0), 10.0: (3.0, 0.0)}
    assert {one.key for one in holders} == {f"string-fuse-holder:{size}a" for size in (10, 15)}


def test_where_nothing_that_can_be_had_fits_a_check_names_what_would() -> None:
    """From 10 to 15 A there are 10, 12 and 15 A; from 30 A on plugs there are a few sizes."""
    at = {"part": "fuse", "line": "pv-string", "state": "unavailable"}
    none = [at | {"rating_a": rating_a} for rating_a in (10.0, 12.0, 15.0)]
    fuses, failing = _string_fuses(_four_strings(*none))
    assert (fuses, failing) == (4 * [(10.0, False)], {"part-available"})
    sizes = [_cable(awg, state="unavailable") for awg in LADDER]
    for part, gone in (
        ("cable", sizes),
        ("gland", [_entry("gland", "unavailable", f"M{size}") for size in (16, 20)]),
        ("disconnect", [_entry("disconnect", "unavailable", a) for a in (40, 50, 60, 80, 100)]),
    ):
        checks = [c for c in _built(*gone).checks if c.code == "part-available"]
        assert {check.verdict for check in checks} == {"fail"}
        assert all(check.remedies and "get one of" in check.remedy for check in checks), part


LADDER = ("18", "16", "14", "12", "10", "8", "6", "4", "3", "2", "1", "1/0", "2/0", "3/0", "4/0")


def test_panels_feet_and_controllers_have_their_states_in_a_fit_out_too() -> None:
    def state(part: str, name: str, **more: Any) -> dict[str, Any]:
        return {"part": part, "name": name, "state": "unavailable"} | more

    whole = fit_out(_job())
    less = _built(state("panel", "rear-left"))
    assert [one.panel for one in less.roof.placements] == ["front-left"]
    eleven = _built(
        state("foot", "rear-left", number=3), state("foot", "rear-left", number=4, state="fixed")
    )
    feet = {panel.name: len(panel.feet) for panel in eleven.plan.panels}
    assert feet == {"front-left": 12, "rear-left": 11}
    two = [*_job().controllers, replace(_job().controllers[0], name="controller-2")]
    job = replace(_job(), controllers=two, drawn=[])
    one = fit_out(_said(state("controller", "controller-1"), job=job))
    assert {array.controller for array in one.configurations[0].arrays} == {"controller-2"}
    owned = [
        {"part": "panel", "name": "front-left", "state": "fixed"},
        {"part": "controller", "state": "owned"},
        {"part": "foot", "name": "rear-left", "number": 1, "state": "owned"},
    ]
    there = {part.kind: part.at_hand for part in _built(*owned).parts_list if part.at_hand}
    assert there["panel"] == there["controller"] == 1.0
    assert there["foot"] == pytest.approx(13.0)
    needed = {part.kind: part.amount for part in whole.parts_list}
    assert needed["foot"] == 24.0


@pytest.mark.parametrize(
    ("entry", "pointer"),
    [
        ({"part": "panel", "name": "nobody"}, "/parts/0/name"),
        ({"part": "foot", "name": "front-left", "number": 13}, "/parts/0/number"),
        ({"part": "controller", "name": "nobody"}, "/parts/0/name"),
        ({"part": "cable", "rating_a": 4.0}, "/parts/0/rating_a"),
        ({"part": "panel", "line": "pv-output"}, "/parts/0/line"),
        *(
            ({"part": part, "name": name}, "/parts/0")
            for part in ("cable", "fuse", "disconnect", "gland", "plug", "branch-connector")
            for name in ("W9",) + ("nobody",) * (part == "gland")
        ),
    ],
)
def test_what_is_no_part_of_the_build_is_refused_with_those_there_are(
    entry: dict[str, Any], pointer: str
) -> None:
    with pytest.raises(ContradictionError) as caught:
        fit_out(_said(entry | {"state": "fixed"}))
    (fault,) = caught.value.faults
    assert fault.pointer == pointer
    if "name" in entry and "number" not in entry:
        assert "controller-1" in fault.message or "front-left" in fault.message


def _words(part: WorkPart, value: Any) -> Any:
    return f"{value['awg']} AWG" if part == "cable" else value


def _both(*parts: dict[str, Any]) -> tuple[FitOutAnswer, FitOutAnswer]:
    """The build by a fit-out, and that which a change of nothing else leads to."""
    asked = FitOutChangeRequest(job=_said(*parts), goal="as-wanted")
    return fit_out(asked.job), fit_out(_after(asked, fit_out_change(asked)))


def _failing(answer: FitOutAnswer) -> set[str]:
    return {check.code for check in answer.checks if check.verdict == "fail"}


def test_what_is_fixed_stays_even_if_it_fails() -> None:
    weak = {part: worth[1] for part, worth in WORTH.items()}
    for answer in _both(*(_entry(part, "fixed", value) for part, value in weak.items())):
        for part in weak.keys() - {"plug"}:
            assert _taken(answer, part) == {_words(part, weak[part])}
        assert {*FAILS.values()} <= _failing(answer)


def test_what_is_owned_is_used_where_it_fits_and_not_bought() -> None:
    weak = [_entry(part, "owned", worth[1]) for part, worth in WORTH.items()]
    strong = [_entry(part, "owned", worth[2]) for part, worth in WORTH.items()]
    for answer in _both(*weak, *strong):
        for part, (_, _, fits, _) in WORTH.items():
            assert _taken(answer, part) == {_words(part, fits)}
            kinds = {"cable": "battery-cable", "plug": "plug-pair", "gland": "cable-gland"}
            there = [one for one in answer.parts_list if one.kind == kinds.get(part, part)]
            assert any(one.at_hand > 0.0 for one in there), part
    for answer in _both(*weak):
        assert all(_taken(answer, part) == {_words(part, one[3])} for part, one in WORTH.items())
        assert not {*FAILS.values()} & _failing(answer)


def test_ratings_that_factors_give_exactly_are_enough() -> None:
    """1.25 × 1.25 × 3 × 6.4 A is 30 A, in binary a trifle more: a switch of 30 A does, as fixed."""
    job = _job()
    drawn = [{"controller": "controller-1", "strings": [[p] for p in THREE]}]
    places = [one for one in examples.load("fit-out").placements if one.name in THREE]
    plain = msgspec.to_builtins(replace(job, placements=places)) | {"drawn": drawn}
    switch = {"part": "disconnect", "line": "pv-output", "rating_a": 30.0}
    branch = {"part": "branch-connector", "rating_a": 24.0, "state": "owned"}
    three = msgspec.convert(plain, FitOutRequest)
    for state, there in (("owned", 30.0), ("fixed", 30.0), ("unavailable", None)):
        answer = fit_out(_said(switch | {"state": state}, branch, job=three))
        (own,) = (each for each in answer.disconnects if each.name.startswith("Photovoltaic"))
        assert own.at_hand_a == there
        assert own.part_key == f"disconnect:pv:{30 if there else 40}a"
        branches = [part for part in answer.parts_list if part.kind == "branch-connector"]
        assert {part.key.rpartition(":")[2] for part in branches} == {"24a"}


def test_what_is_not_available_is_not_used() -> None:
    usual = {part: _words(part, worth[3]) for part, worth in WORTH.items()}
    before = fit_out(_job())
    assert all(_taken(before, part) == {value} for part, value in usual.items())
    for answer in _both(*(_entry(part, "unavailable", one[3]) for part, one in WORTH.items())):
        assert all(value not in _taken(answer, part) for part, value in usual.items())
        assert not {*FAILS.values()} & _failing(answer)


def test_the_work_sheet_says_what_is_there() -> None:
    job = _said(*(_entry(part, "owned", WORTH[part][2]) for part in ("fuse", "disconnect")))
    sheet = draw_work_sheet(job, fit_out(job))
    assert sheet.count("there already") == 4  # each in its schedule and on the parts list
    assert "there already" not in draw_work_sheet(_job(), fit_out(_job()))


@cache
def _two_controllers() -> FitOutRequest:
    """A string alone behind a controller that blocks nothing, with a plug; two at the other."""
    job = examples.load("fit-out")
    assert isinstance(job, FitOutRequest)
    first = replace(job.controllers[0], name="front", blocks_reverse_current=False)
    plate = job.panel_types[0].panel.electrical
    plain = msgspec.to_builtins(
        replace(
            job,
            controllers=[first, replace(first, name="rear", blocks_reverse_current=True)],
            placements=[one for one in job.placements if one.name in THREE],
            light=[],
        )
    )
    suitcase = {"name": "suitcase", "controller": "front", "electrical": plate, "lead_m": 4.0}
    wired = {"front": [["front-left"]], "rear": [["front-right"], ["rear-left"]]}
    drawn = [{"controller": name, "strings": strings} for name, strings in wired.items()]
    return msgspec.convert(plain | {"removable": [suitcase], "drawn": drawn}, FitOutRequest)


@pytest.mark.parametrize("state", ["owned", "fixed"])
def test_what_a_build_chose_serves_where_it_is_there(state: str) -> None:
    """Its own fuses and disconnects, said to be there without a rating, are judged as they were."""
    job, kinds = _two_controllers(), ("fuse", "disconnect")
    free = fit_out(job)
    there = fit_out(_said(*({"part": part, "state": state} for part in kinds), job=job))
    fuses, own = free.protection_schedule, there.protection_schedule
    assert {one.protects for one in fuses} >= {"W1", "suitcase"}
    assert [(one.device, one.rating_a) for one in own] == [
        (one.device, one.rating_a) for one in fuses
    ]
    switches = [one.minimum_current_a for one in free.disconnects]
    assert len({*switches}) == 3
    assert [one.at_hand_a for one in there.disconnects] == pytest.approx(switches, rel=1e-9)
    assert free.verdict == there.verdict
    listed = [part for part in there.parts_list if part.kind in kinds]
    assert len(listed) >= 5
    assert not [part.key for part in listed if part.to_buy]


@pytest.mark.parametrize(
    ("fuse", "failing"),
    [
        ({"line": "removable-panel", "rating_a": 6.0}, "string-fuse-rating"),
        ({"line": "removable-panel", "rating_a": 100.0}, "string-fuse-rating"),
        ({"line": "removable-panel", "rating_a": 15.0, "family": "blade"}, "device-kind"),
        (
            {"line": "pv-output", "name": "front", "rating_a": 15.0, "family": "blade"},
            "device-kind",
        ),
    ],
)
def test_a_fuse_between_sources_is_judged_as_it_is(fuse: dict[str, Any], failing: str) -> None:
    """6.4 A × 1.56 is 10 A at least; a fuse for batteries does not put out a panel's arc."""
    free = fit_out(_two_controllers())
    fixed, owned = (
        fit_out(_said({"part": "fuse", "state": state} | fuse, job=_two_controllers()))
        for state in ("fixed", "owned")
    )
    new = _failing(fixed) - _failing(free)
    assert failing in new
    (built,) = (one for one in fixed.protection_schedule if one.rating_a == fuse["rating_a"])
    assert built.at_hand
    assert not _failing(owned) - _failing(free)
    assert [one.rating_a for one in owned.protection_schedule] == [
        one.rating_a for one in free.protection_schedule
    ]


PLACING = {"try-panels", "half-cover", "mark-out-roof", "dry-lay", "prepare-surface"}
PLACING |= {"bond-and-wait", "fit-panels"}


def test_what_is_on_the_roof_is_not_put_there_again() -> None:
    """Steps that place panels are about the others, and fall away where there are none."""
    free = {one.code: one for one in _built().work_steps}
    half = {one.code: one for one in _built(_panel("front-left")).work_steps}
    assert free.keys() == half.keys() > PLACING
    for code, one in half.items():
        whole = free[code]
        if code in PLACING:
            assert (one.subjects, len(whole.subjects)) == (["rear-left"], 2), code
            assert one.hours < whole.hours
        else:
            assert (one.subjects, one.hours) == (whole.subjects, whole.hours), code
    none = _built(_panel("front-left"), _panel("rear-left")).work_steps
    left = {one.code for one in none}
    assert not left & PLACING
    assert left > {"run-cables", "before-first-drive", "first-50-km", "look-yearly"}
    assert [one.number for one in none] == [*range(1, len(none) + 1)]


def test_a_panel_that_lies_uses_up_nothing_more() -> None:
    """Equal panels: half of the bonds, half of the pads and wipes that are counted one by one."""
    used = ("abrasive-pad", "cleaner", "wipe", "primer")

    def amounts(answer: FitOutAnswer) -> dict[str, float]:
        return {part.key: part.amount for part in answer.parts_list if part.key in used}

    both, one = amounts(_built()), amounts(_built(_panel("front-left")))
    assert both.keys() == one.keys() == set(used)
    for key in ("abrasive-pad", "wipe"):
        assert abs(both[key] - 2.0 * one[key]) <= 1.0
    assert not amounts(_built(_panel("front-left"), _panel("rear-left")))


def _panel(name: str) -> dict[str, Any]:
    return {"part": "panel", "state": "fixed", "name": name}
