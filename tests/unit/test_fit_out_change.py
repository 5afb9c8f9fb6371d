"""The least change of a job: fixed parts stay, the patch says the same, and less is not enough."""

import re
from random import Random
from typing import Any

import jsonpatch
import msgspec
import pytest
from fleet_of_jobs import WEAK, mended, ordinary
from msgspec.structs import replace
from scripted_changes import FIXED, FIXED_PANELS, scripted

from sunhitch import examples
from sunhitch.types.fitout import FitOutRequest, PanelChoice
from sunhitch.types.revision import (
    AddedPanels,
    FitOutChangeAnswer,
    FitOutChangeRequest,
    PartInWork,
    WantedValue,
)
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.fitout.calculation import fit_out
from sunhitch_service.engine.revision.calculation import fit_out_change


def _job() -> FitOutRequest:
    job = examples.load("fit-out")
    assert isinstance(job, FitOutRequest)
    return job


def _after(asked: FitOutChangeRequest, answer: FitOutChangeAnswer) -> FitOutRequest:
    """The job after the patch, applied by a library that knows RFC 6902."""
    steps = msgspec.to_builtins(answer.patch)
    plain: Any = jsonpatch.apply_patch(msgspec.to_builtins(asked.job), steps)
    return msgspec.convert(plain, FitOutRequest)


@pytest.mark.parametrize(("name", "asked"), list(scripted())[3::12], ids=lambda one: str(one)[:30])
def test_a_change_moves_nothing_fixed_and_fails_nothing_that_passed(
    name: str, asked: FitOutChangeRequest
) -> None:
    answer = fit_out_change(asked)
    after = _after(asked, answer)
    before = {place.name: place for place in asked.job.placements}
    placed = {place.name: place for place in after.placements}
    assert all(placed[panel] == before[panel] for panel in FIXED_PANELS)
    assert fit_out(after).checks == answer.checks
    passed = {(c.code, c.subject) for c in fit_out(asked.job).checks if c.verdict != "fail"}
    new = {(c.code, c.subject) for c in answer.checks if c.verdict == "fail"} & passed
    assert not (answer.met and new)
    assert answer.met == (not answer.after.failing) or name.endswith("panels more")


@pytest.mark.parametrize(
    ("weak", "code"),
    [
        ("few-feet", "other-mounting"),
        ("low-input", "larger-controller"),
        ("large-fuse", "free-battery-fuse"),
        ("unprotected-cold", "cold-lock-out"),
        ("fast", "less-speed"),
    ],
)
def test_a_vehicle_weak_in_one_point_is_mended_there(weak: str, code: str) -> None:
    answer = mended(WEAK[weak](ordinary(Random(5), 1)))
    assert answer.before.verdict == "fail"
    assert answer.after.verdict in ("pass", "review")
    assert [change.code for change in answer.changes] == [code]


def test_every_change_that_mends_is_needed() -> None:

    job = WEAK["low-input"](WEAK["thin-cable"](ordinary(Random(5), 1)))
    answer = mended(job)
    assert answer.met
    assert {change.code for change in answer.changes} == {"larger-controller", "free-cable-size"}
    # Without either change the job still fails, each check by its own rule.
    steps = msgspec.to_builtins(answer.patch)
    for part in ("/controllers", "/cables"):
        fewer = [step for step in steps if not step["path"].startswith(part)]
        plain: Any = jsonpatch.apply_patch(msgspec.to_builtins(job), fewer)
        assert fit_out(msgspec.convert(plain, FitOutRequest)).verdict == "fail"


def test_a_vent_that_reaches_a_panel_by_20_mm_moves_it_by_20_mm() -> None:
    """Vent: middle 1.06 m from the left, radius 0.17 m, room 0.05 m, so up to 1.28 m."""
    asked = FitOutChangeRequest(
        job=_job(), parts=FIXED, values=[WantedValue(pointer="/roof/obstacles/0/y_m", value=1.06)]
    )
    answer = fit_out_change(asked)
    (moved,) = [change for change in answer.changes if change.code == "panel-moved"]
    assert moved.parameters["panel"] == "front-right"
    assert moved.parameters["y_mm"] == pytest.approx(1280.0)
    assert moved.parameters["moved_mm"] == pytest.approx(20.0)
    assert answer.met


def test_a_broken_panel_is_left_out_with_its_parts() -> None:
    asked = FitOutChangeRequest(
        job=_job(), parts=[PartInWork(part="panel", name="rear-left", state="unavailable")]
    )
    answer = fit_out_change(asked)
    assert [change.code for change in answer.changes] == ["panel-lost"]
    assert answer.after.panels == answer.before.panels - 1
    assert answer.after.array_power_w == answer.before.array_power_w - 115.0
    spared = {part.group: part.amount for part in answer.parts_spared if part.group == "panels"}
    assert spared == {"panels": 1.0}


def test_more_panels_than_find_a_place_are_told_with_the_nearest_that_do() -> None:
    """5.4 m of roof hold four sheets of 1.18 m in a row at most: never twelve more."""
    asked = FitOutChangeRequest(
        job=_job(), parts=FIXED, add_panels=[AddedPanels(panel_type="sheet-115", number=12)]
    )
    answer = fit_out_change(asked)
    assert not answer.met
    assert answer.after.panels < 16
    assert re.search(r"\d+ of 12 panels added", " ".join(answer.summary))


def test_a_job_that_holds_stays_as_it_is() -> None:
    answer = fit_out_change(FitOutChangeRequest(job=_job()))
    assert (answer.met, answer.changes, answer.patch) == (True, [], [])
    assert answer.before == answer.after


def test_places_that_were_found_become_part_of_the_job() -> None:
    kinds = [replace(kind, panels_wanted=2) for kind in _job().panel_types]
    job = replace(_job(), placements=[], panel_types=kinds)
    parts = [PartInWork(part="panel", state="unavailable")]
    with pytest.raises(ContradictionError, match="No panel is left"):
        fit_out_change(FitOutChangeRequest(job=job, parts=parts))
    asked = FitOutChangeRequest(
        job=job, values=[WantedValue(pointer="/travel/road_speed_m_s", value=25.0)]
    )
    after = _after(asked, fit_out_change(asked))
    assert len(after.placements) == len(fit_out(job).roof.placements)
    assert after.travel.road_speed_m_s == 25.0


def test_a_job_that_chooses_its_panels_is_changed_as_it_was_chosen() -> None:
    kinds = [replace(kind, stock=2) for kind in _job().panel_types]
    job = replace(_job(), placements=[], panel_types=kinds, choose=PanelChoice())
    asked = FitOutChangeRequest(
        job=job, values=[WantedValue(pointer="/travel/road_speed_m_s", value=25.0)]
    )
    answer = fit_out_change(asked)
    assert answer.before.panels == answer.after.panels == 2
    assert _after(asked, answer).choose is None


def test_a_fixed_entry_and_fixed_cables_stay() -> None:
    job = replace(_job(), roof=replace(_job().roof, cable_entry="choose"))
    fixed = [PartInWork(part="entry", state="fixed"), PartInWork(part="cables", state="fixed")]
    asked = FitOutChangeRequest(
        job=job, parts=fixed, values=[WantedValue(pointer="/roof/obstacles/0/y_m", value=1.06)]
    )
    before, after = fit_out(job), _after(asked, fit_out_change(asked))
    whole = fit_out(after)
    assert after.placements != job.placements
    assert (whole.roof.entry_x_m, whole.roof.entry_y_m) == (
        before.roof.entry_x_m,
        before.roof.entry_y_m,
    )
    assert [s.panels for a in whole.configurations[0].arrays for s in a.strings] == [
        s.panels for a in before.configurations[0].arrays for s in a.strings
    ]


@pytest.mark.parametrize(
    ("asked", "pointer", "word"),
    [
        ({"parts": [{"part": "panel", "name": "x", "state": "fixed"}]}, "/parts/0/name", "known"),
        (
            {
                "parts": [
                    {"part": "entry", "state": "fixed"},
                    {"part": "entry", "state": "owned"},
                ]
            },
            "/parts/1/name",
            "already",
        ),
        (
            {"add_panels": [{"panel_type": "x", "number": 1}]},
            "/add_panels/0/panel_type",
            "known",
        ),
        ({"values": [{"pointer": "/nowhere/x", "value": 1}]}, "/values/0/value", "Unknown field"),
        ({"values": [{"pointer": "roof", "value": 1}]}, "/values/0/pointer", "slash"),
        ({"values": [{"pointer": "/placements/9/x_m", "value": 1}]}, "/values/0/pointer", "place"),
        ({"values": [{"pointer": "/min_gap_m", "value": "wide"}]}, "/values/0/value", "number"),
        ({"values": [{"pointer": "/min_gap_m", "value": 7.0}]}, "/values/0/value", "1"),
        (
            {
                "parts": [{"part": "panel", "name": "front-left", "state": "fixed"}],
                "values": [{"pointer": "/placements/0/x_m", "value": 0.5}],
            },
            "/values/0/pointer",
            "fixed",
        ),
        (
            {
                "parts": [{"part": "battery", "state": "fixed"}],
                "values": [{"pointer": "/battery/capacity_ah", "value": 50.0}],
            },
            "/values/0/pointer",
            "fixed",
        ),
        (
            {
                "parts": [{"part": "cables", "state": "fixed"}],
                "add_panels": [{"panel_type": "sheet-115", "number": 1}],
            },
            "/add_panels",
            "Cables are fixed",
        ),
        (
            {"parts": [{"part": "controller", "state": "unavailable"}]},
            "/parts",
            "No controller is left",
        ),
        ({"values": [{"pointer": "/roof/obstacles/0/name", "value": "reading-room hatch"}]},
         "/job/roof/obstacles/1/name", "already"),
    ],
)  # fmt: skip
def test_bad_input_points_at_the_place(asked: dict[str, Any], pointer: str, word: str) -> None:
    request = msgspec.convert({"job": msgspec.to_builtins(_job()), **asked}, FitOutChangeRequest)
    with pytest.raises(ContradictionError) as caught:
        fit_out_change(request)
    assert [(f.pointer, word in f.message) for f in caught.value.faults] == [(pointer, True)]


def test_the_same_job_is_changed_in_the_same_way() -> None:
    job = WEAK["few-feet"](_job())
    asked = FitOutChangeRequest(job=replace(job, placements=job.placements[:2]))
    first, second = fit_out_change(asked), fit_out_change(asked)
    assert (first.patch, first.changes) == (second.patch, second.changes)
