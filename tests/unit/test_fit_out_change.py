"""The least change of a job: fixed parts stay, the patch says the same, and less is not enough."""

import re
from contextvars import Context
from random import Random
from typing import Any

import jsonpatch
import msgspec
import pytest
from fleet_of_jobs import WEAK, mended, ordinary
from msgspec.structs import replace
from scripted_changes import FIXED, FIXED_PANELS, scripted
from shipped import fit_out

from sunhitch import build, examples
from sunhitch.texts import Text
from sunhitch.types.array import ConnectorRatings
from sunhitch.types.fitout import (
    FitOutAnswer,
    FitOutRequest,
    PanelChoice,
    PartInWork,
    WorkPart,
    WorkState,
)
from sunhitch.types.mount import RoofSurface
from sunhitch.types.revision import (
    AddedPanels,
    FitOutChangeAnswer,
    FitOutChangeRequest,
    WantedValue,
)
from sunhitch.types.work import PartPrice
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.revision import calculation
from sunhitch_service.engine.revision.calculation import fit_out_change
from sunhitch_service.engine.revision.changes import Change
from sunhitch_service.engine.revision.mounting import other_mountings, remounted
from sunhitch_service.engine.revision.search import TriedJob

pytestmark = pytest.mark.usefixtures("parts_kept")


def _job() -> FitOutRequest:
    job = examples.load("fit-out")
    assert isinstance(job, FitOutRequest)
    return job


def _stands(job: FitOutRequest, *parts: PartInWork) -> FitOutRequest:
    return replace(job, parts=[*parts])


def _after(asked: FitOutChangeRequest, answer: FitOutChangeAnswer) -> FitOutRequest:
    """The job after the patch, applied by a library that knows RFC 6902."""
    steps = msgspec.to_builtins(answer.patch)
    plain: Any = jsonpatch.apply_patch(msgspec.to_builtins(asked.job), steps)
    return msgspec.convert(plain, FitOutRequest)


@pytest.mark.parametrize(("name", "asked"), list(scripted())[9::12], ids=lambda one: str(one)[:30])
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
        ("small-plugs", "larger-plugs"),
        ("unprotected-cold", "cold-lock-out"),
        ("fast", "less-speed"),
        ("cold-bonding", "warmer-bonding"),
        ("short-rest", "longer-rest"),
        ("trodden", "not-stepped-on"),
        ("small-sleeves", "larger-sleeves"),
        ("small-branches", "larger-branches"),
        ("desert", "cables-clipped"),
    ],
)
def test_a_vehicle_weak_in_one_point_is_mended_there(weak: str, code: str) -> None:
    answer = mended(WEAK[weak](ordinary(Random(5), 1)))
    assert answer.before.verdict == "fail"
    assert answer.after.verdict in ("pass", "review")
    assert [change.code for change in answer.changes] == [code]


def test_what_is_bonded_in_the_cold_is_not_said_to_be_bonded_in_the_warm() -> None:
    job = WEAK["cold-bonding"](ordinary(Random(5), 1))
    first = fit_out(job).roof.placements[0].panel
    answer = mended(_stands(job, PartInWork(part="panel", state="fixed", name=first)))
    assert "warmer-bonding" not in [change.code for change in answer.changes]
    assert not answer.met


def test_every_change_that_mends_is_needed() -> None:

    job = WEAK["low-input"](WEAK["small-plugs"](ordinary(Random(5), 1)))
    answer = mended(job)
    assert answer.met
    assert {change.code for change in answer.changes} == {"larger-controller", "larger-plugs"}
    # Without either change the job still fails, each check by its own rule.
    steps = msgspec.to_builtins(answer.patch)
    for part in ("/controllers", "/connectors"):
        fewer = [step for step in steps if not step["path"].startswith(part)]
        plain: Any = jsonpatch.apply_patch(msgspec.to_builtins(job), fewer)
        assert fit_out(msgspec.convert(plain, FitOutRequest)).verdict == "fail"


def test_a_vent_that_reaches_a_panel_by_20_mm_moves_it_by_20_mm() -> None:
    """Vent: middle 1.06 m from the left, radius 0.17 m, room 0.05 m, so up to 1.28 m."""
    asked = FitOutChangeRequest(
        job=_stands(_job(), *FIXED),
        values=[WantedValue(pointer="/roof/obstacles/0/y_m", value=1.06)],
    )
    answer = fit_out_change(asked)
    (moved,) = [change for change in answer.changes if change.code == "panel-moved"]
    assert moved.parameters["panel"] == "front-right"
    assert moved.parameters["y_mm"] == pytest.approx(1280.0)
    assert moved.parameters["moved_mm"] == pytest.approx(20.0)
    assert answer.met


def test_a_broken_panel_is_left_out_with_its_parts() -> None:
    asked = FitOutChangeRequest(
        job=_stands(_job(), PartInWork(part="panel", name="rear-left", state="unavailable"))
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
        job=_stands(_job(), *FIXED), add_panels=[AddedPanels(panel_type="sheet-115", number=12)]
    )
    answer = fit_out_change(asked)
    assert not answer.met
    assert answer.after.panels < 16
    assert re.search(r"\d+ of 12 panels added", " ".join(answer.summary))


def _priced() -> FitOutRequest:
    """Two panels, a rate, and a price for every part of them, and of one panel alone."""
    job = replace(_job(), placements=_job().placements[:2])
    whole, less = fit_out(job), fit_out(replace(job, placements=job.placements[:1]))
    keys = dict.fromkeys(part.key for part in whole.parts(less))
    prices = [PartPrice(key=key, price=2.0) for key in keys if not key.startswith("panel:")]
    kinds = [replace(kind, price=140.0) for kind in job.panel_types]
    work = replace(job.work, labour_per_hour=60.0, prices=prices)
    return replace(job, panel_types=kinds, work=work)


def test_a_panel_less_saves_its_price_and_its_hours_where_it_was_not_bought() -> None:
    """Planned, a panel of 140 is saved; broken, it is paid for, and only its work is saved."""
    job = _priced()
    last = job.placements[-1].name
    lost = [PartInWork(part="panel", name=last, state="unavailable")]
    broken = fit_out_change(FitOutChangeRequest(job=_stands(job, *lost))).cost
    after = replace(job, placements=job.placements[:-1])
    hours = fit_out(after).work_cost.hours - fit_out(job).work_cost.hours
    assert broken.hours == pytest.approx(hours, abs=0.01)
    assert broken.labour == pytest.approx(60.0 * hours, abs=0.6)
    assert broken.parts_spared is not None
    weaker = WantedValue(pointer="/vehicle/roof_rating_kg", value=_mass_kg(job) - 1.0)
    planned = fit_out_change(FitOutChangeRequest(job=job, values=[weaker]))
    assert [change.code for change in planned.changes] == ["value-set", "panel-less"]
    assert planned.cost.parts_spared == pytest.approx(broken.parts_spared + 140.0)
    assert planned.cost.total == pytest.approx(
        (planned.cost.labour or 0.0)
        + (planned.cost.parts_added or 0.0)
        - (planned.cost.parts_spared or 0.0)
    )
    assert f"in all {planned.cost.total:.2f} EUR" in planned.summary[-1]


def _mass_kg(job: FitOutRequest) -> float:
    """What the roof carries on the road: panels and all else."""
    return fit_out(job).vehicle.added_mass_kg + job.vehicle.other_roof_mass_kg


@pytest.mark.parametrize("rotated", [False, True])
def test_a_panel_that_is_held_otherwise_lies_where_it_lay_or_where_the_words_say(
    rotated: bool,
) -> None:
    """A mount check knows a panel by the corner about which it is turned, a job by its front left
    one: a change moves the panel by what it tells, and else not at all."""
    job = _job()
    place = replace(job.placements[0], x_m=0.02, y_m=0.05, rotated=rotated)
    assert job.surface is not None
    painted = replace(job.surface, kind="painted-metal")
    job = replace(job, placements=[place], surface=painted)
    found = other_mountings(job, place.name)
    assert found
    for texts, asked in found:
        told = [text.parameters for text in texts if isinstance(text, Text)]
        back = sum(float(of.get("back_m", 0.0)) for of in told)  # type: ignore[arg-type]
        aside = sum(float(of.get("aside_m", 0.0)) for of in told)  # type: ignore[arg-type]
        after = remounted(job, place.name, asked, [], movable=True).placements[0]
        assert after.x_m == pytest.approx(place.x_m + back, abs=1e-4)
        assert abs(after.y_m - place.y_m) == pytest.approx(aside, abs=1e-4)


def test_panels_that_are_held_otherwise_are_not_bought_again() -> None:
    """The fifth wants more below it, and so do the two that are not glued yet: one is bought."""
    fifth = [AddedPanels(panel_type="sheet-115", number=1)]
    answer = fit_out_change(FitOutChangeRequest(job=_stands(_job(), *FIXED), add_panels=fifth))
    assert "other-mounting" in {change.code for change in answer.changes}
    bought = [part for part in answer.parts_added if part.kind == "panel"]
    assert [(part.given_name, part.amount) for part in bought] == [("sheet-115", 1.0)]
    assert "panel" not in {part.kind for part in answer.parts_spared}


def test_a_part_without_a_price_leaves_the_total_open() -> None:
    lost = [PartInWork(part="panel", name="rear-left", state="unavailable")]
    cost = fit_out_change(FitOutChangeRequest(job=_stands(_job(), *lost))).cost
    assert (cost.labour, cost.parts_spared, cost.total) == (None, None, None)
    assert cost.without_price


def test_what_is_owned_is_changed_only_where_nothing_else_helps() -> None:
    """Plugs of 5 A, and 1.5625 times 6.4 A through them."""
    job = replace(_job(), connectors=ConnectorRatings(plug_current_a=5.0))
    free = fit_out_change(FitOutChangeRequest(job=job))
    assert [change.code for change in free.changes] == ["larger-plugs"]
    held = fit_out_change(FitOutChangeRequest(job=_stands(job, _state("plug", "owned"))))
    assert held.met
    assert held.changes[-1].code == "larger-plugs"
    fixed = _stands(job, _state("plug", "fixed"))
    assert not fit_out_change(FitOutChangeRequest(job=fixed)).met


def _state(part: WorkPart, state: WorkState, **of: Any) -> PartInWork:
    return msgspec.convert({"part": part, "state": state} | of, PartInWork)


@pytest.mark.parametrize(
    ("part", "at_hand"),
    [
        (_state("cable", "owned", size={"awg": "6"}), "6 AWG"),
        (_state("gland", "owned", gland="M20"), "M20"),
        (_state("fuse", "owned", line="controller-to-battery", rating_a=60.0), "60 A"),
    ],
)
def test_what_is_not_there_any_more_is_bought_by_the_schedule(
    part: PartInWork, at_hand: str
) -> None:
    """Cables of 8 mm, which M16 and M20 seal."""
    job = replace(_job(), cables=replace(_job().cables, cable_diameter_mm=8.0))
    job = _stands(job, part)
    lost = _state(part.part, "unavailable", line=part.line)
    asked = FitOutChangeRequest(job=_stands(job, part, lost), goal="as-wanted")
    answer = fit_out_change(asked)
    assert [(change.code, change.wanted) for change in answer.changes] == [("part-lost", True)]
    assert answer.changes[0].parameters["at_hand"] == at_hand
    before, after = fit_out(job), fit_out(_after(asked, answer))
    assert at_hand in _chosen(before, lost.part)
    assert at_hand not in _chosen(after, lost.part)


def _chosen(answer: FitOutAnswer, part: WorkPart) -> set[str]:
    """What the schedules name of a kind."""
    return {
        "cable": {line.drop_of for line in answer.wire_schedule},
        "gland": {str(gland.size) for gland in answer.glands},
        "fuse": {f"{fuse.rating_a:g} A" for fuse in answer.protection_schedule},
    }[part]


def test_no_list_is_longer_than_ten_lines() -> None:
    """Twelve values and a panel lost."""
    values = [
        *(WantedValue(pointer=f"/roof/obstacles/{i}/height_m", value=0.08) for i in (0, 1)),
        *(
            WantedValue(pointer=f"/travel/{name}", value=value)
            for name, value in (
                ("road_speed_m_s", 25.0),
                ("storm_gust_m_s", 28.0),
                ("storm_exposure", "b"),
            )
        ),
        *(
            WantedValue(pointer=f"/cables/{name}", value=value)
            for name, value in (
                ("entry_to_controller_m", 2.0),
                ("controller_to_battery_m", 1.0),
                ("slack_fraction", 0.12),
                ("inside_ambient_c", 40.0),
            )
        ),
        *(
            WantedValue(pointer=f"/site/{name}", value=value)
            for name, value in (("lowest_ambient_c", -10.0), ("highest_ambient_c", 35.0))
        ),
    ]
    lost = [PartInWork(part="panel", name="rear-left", state="unavailable")]
    asked = FitOutChangeRequest(job=_stands(_job(), *lost), values=values, goal="as-wanted")
    answer = fit_out_change(asked)
    assert [change.code for change in answer.changes] == ["values-set", "panel-lost"]
    assert all(value.pointer in answer.changes[0].text for value in values)
    assert _after(asked, answer).site.lowest_ambient_c == -10.0


@pytest.mark.parametrize(
    ("pointer", "value", "code"),
    [
        ("/connectors/plug_current_a", 5.0, "larger-plugs"),
        ("/battery/cold_charging", "unprotected", "cold-lock-out"),
    ],
)
def test_what_nothing_can_meet_is_told_with_the_nearest_that_holds(
    pointer: str, value: object, code: str
) -> None:
    asked = FitOutChangeRequest(
        job=_stands(_job(), *FIXED), values=[WantedValue(pointer=pointer, value=value)]
    )
    answer = fit_out_change(asked)
    assert not answer.met
    assert answer.nearest is not None
    assert code in {change.code for change in answer.nearest.changes}
    assert answer.nearest.summary in " ".join(answer.summary)
    steps = msgspec.to_builtins(answer.nearest.patch)
    plain: Any = jsonpatch.apply_patch(msgspec.to_builtins(asked.job), steps)
    after = msgspec.convert(plain, FitOutRequest)
    assert fit_out(after).verdict != "fail"
    before = {place.name: place for place in asked.job.placements}
    placed = {place.name: place for place in after.placements}
    assert all(placed[panel] == before[panel] for panel in FIXED_PANELS)


def test_a_wanted_number_that_a_fixed_panel_forbids_is_told_as_near_as_it_may_come() -> None:
    """Panel up to 0.64 m from the left, vent of 0.17 m radius with 0.05 m of room: from 0.86 m."""
    job = replace(_job(), placements=_job().placements[:1])
    asked = FitOutChangeRequest(
        job=_stands(job, *FIXED[:1]),
        values=[WantedValue(pointer="/roof/obstacles/0/y_m", value=0.8)],
    )
    answer = fit_out_change(asked)
    assert not answer.met
    assert answer.nearest is not None
    (change,) = answer.nearest.changes
    assert change.code == "value-partway"
    # Five halvings of the 0.15 m between what was and what is wanted, to the millimetre.
    assert 0.86 <= float(str(change.parameters["value"])) <= 0.86 + 0.15 / 2**5 + 0.001


def test_a_job_that_holds_stays_as_it_is() -> None:
    answer = fit_out_change(FitOutChangeRequest(job=_job()))
    assert (answer.met, answer.changes, answer.patch) == (True, [], [])
    assert answer.before == answer.after


def test_places_that_were_found_become_part_of_the_job() -> None:
    kinds = [replace(kind, panels_wanted=2) for kind in _job().panel_types]
    job = replace(_job(), placements=[], panel_types=kinds)
    parts = [PartInWork(part="panel", state="unavailable")]
    with pytest.raises(ContradictionError, match="No panel is left"):
        fit_out_change(FitOutChangeRequest(job=_stands(job, *parts)))
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
    fixed = [PartInWork(part="entry", state="fixed"), PartInWork(part="cable", state="fixed")]
    asked = FitOutChangeRequest(
        job=_stands(job, *fixed), values=[WantedValue(pointer="/roof/obstacles/0/y_m", value=1.06)]
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


def test_fixed_cables_and_a_fixed_fuse_are_judged_as_they_lie() -> None:
    """Much hotter inside, the schedule alone would take larger ones."""
    hotter = [WantedValue(pointer="/cables/inside_ambient_c", value=74.0)]
    fixed = [PartInWork(part=part, state="fixed") for part in ("cable", "fuse")]
    asked = FitOutChangeRequest(job=_stands(_job(), *fixed), values=hotter, goal="as-wanted")
    answer, before = fit_out_change(asked), fit_out(_job())
    after = fit_out(_after(asked, answer))
    assert [line.at_hand for line in after.wire_schedule] == [
        line.drop_of for line in before.wire_schedule
    ]
    kept = {fuse.part_key for fuse in before.protection_schedule}
    assert kept <= {fuse.part_key for fuse in after.protection_schedule}
    assert not answer.met
    sizes = {part.key for part in before.parts_list if "cable:" in part.key}
    assert {part.key for part in answer.parts_added if "cable:" in part.key} <= sizes
    free = fit_out_change(replace(asked, job=_job()))
    assert {part.key for part in free.parts_added if "cable:" in part.key} - sizes


@pytest.mark.parametrize(
    ("asked", "pointer", "word"),
    [
        (
            {
                "parts": [{"part": "cable", "state": "fixed"}],
                "values": [{"pointer": "/cables/conductor/material", "value": "aluminium"}],
            },
            "/values/0/pointer",
            "fixed",
        ),
        (
            {"parts": [{"part": "panel", "name": "x", "state": "fixed"}]},
            "/job/parts/0/name",
            "known",
        ),
        (
            {
                "parts": [
                    {"part": "entry", "state": "fixed"},
                    {"part": "entry", "state": "owned"},
                ]
            },
            "/job/parts/1/name",
            "already",
        ),
        (
            {"add_panels": [{"panel_type": "x", "number": 1}]},
            "/add_panels/0/panel_type",
            "known",
        ),
        (
            {
                "parts": [{"part": "gland", "state": "owned"}],
                "values": [{"pointer": "/parts/-", "value": {
                    "part": "cable", "state": "fixed", "size": {}}}],
            },
            "/job/parts/1/size",
            "Give",
        ),
        (
            {"parts": [{"part": "foot", "name": "sheet-115", "state": "unavailable"}]},
            "/job/parts/0/state",
            "/panel_types/0/mounting",
        ),
        *(
            ({"values": [{"pointer": place, "value": 1}]}, "/values/0/pointer", "Unknown field")
            for place in ("/nowhere/x", "/roof/zzz", "/roof/obstacles/0/zzz")
        ),
        (
            {"values": [{"pointer": "/layout", "value": {"x": 1}}]},
            "/values/0/value",
            "Unknown field",
        ),
        (
            {
                "parts": [{"part": "gland", "state": "fixed"}],
                "values": [{"pointer": "/parts/0/state", "value": "owned"}],
            },
            "/values/0/pointer",
            "/parts/-",
        ),
        ({"values": [{"pointer": "roof", "value": 1}]}, "/values/0/pointer", "slash"),
        ({"values": [{"pointer": "/placements/9/x_m", "value": 1}]}, "/values/0/pointer", "place"),
        ({"values": [{"pointer": "/min_gap_m", "value": "wide"}]}, "/values/0/value", "number"),
        ({"values": [{"pointer": "/min_gap_m", "value": 7.0}]}, "/values/0/value", "1"),
        ({"values": [{"pointer": "/min_gap_m", "value": 2**70}]}, "/values/0/value", "carry"),
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
                "parts": [{"part": "cable", "state": "fixed"}],
                "add_panels": [{"panel_type": "sheet-115", "number": 1}],
            },
            "/add_panels",
            "Cables are fixed",
        ),
        (
            {"parts": [{"part": "controller", "state": "unavailable"}]},
            "/job/parts",
            "No controller is left",
        ),
        ({"values": [{"pointer": "/roof/obstacles/0/name", "value": "reading-room hatch"}]},
         "/job/roof/obstacles/1/name", "already"),
    ],
)  # fmt: skip
def test_bad_input_points_at_the_place(asked: dict[str, Any], pointer: str, word: str) -> None:
    of_job = {name: value for name, value in asked.items() if name == "parts"}
    beside = {name: value for name, value in asked.items() if name != "parts"}
    job = msgspec.to_builtins(_job()) | of_job
    request = msgspec.convert({"job": job, **beside}, FitOutChangeRequest)
    with pytest.raises(ContradictionError) as caught:
        fit_out_change(request)
    assert [(f.pointer, word in f.message) for f in caught.value.faults] == [(pointer, True)]


def test_the_same_job_is_changed_in_the_same_way() -> None:
    job = WEAK["few-feet"](_job())
    asked = FitOutChangeRequest(job=replace(job, placements=job.placements[:2]))
    first, second = (Context().run(fit_out_change, asked) for _ in range(2))  # nothing is kept
    assert (first.patch, first.changes) == (second.patch, second.changes)


def test_panels_that_move_for_the_nearest_job_are_told_by_their_places(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """What such a move tells of itself only sets it apart from others."""
    job = _job()
    request = FitOutChangeRequest(job=job, goal="no-failure")
    first, *others = job.placements
    further = replace(job, placements=[replace(first, x_m=first.x_m + 0.02), *others])
    before = TriedJob(job, fit_out(job))
    move = Change("panel-moved", {"to": first.name}, lambda one: one)
    rule = Change("less-speed", {"speed_km_h": 72.0, "speed_mph": 45.0}, lambda one: one)
    wanted = calculation.Wanted(job, [], 0)
    near = calculation._Attempt(wanted, TriedJob(further, fit_out(further)), [move, rule], [])
    monkeypatch.setattr(calculation, "_mended", lambda *_: near)
    found = calculation._nearest(request, before, calculation._Attempt(wanted, before, [], []))
    assert found is not None
    moved, slower = found.changes
    assert (moved.code, slower.code) == ("panel-moved", "less-speed")
    assert moved.parameters["panel"] == first.name
    assert moved.parameters["moved_mm"] == pytest.approx(20.0)
    assert found.summary == f"{moved.text}; {slower.text}"


def _windy() -> FitOutRequest:
    """Two sheets in the leading strip of a small van's roof, too weak for its speed."""
    panel = build.panel(
        p_mp_w=100,
        v_mp_v=18.0,
        i_mp_a=5.56,
        v_oc_v=21.9,
        i_sc_a=5.95,
        cells_in_series=32,
        max_series_fuse_a=15,
        max_system_voltage_v=600,
        construction="full-cell-2-diodes",
        body=build.sheet(1.05, 0.54, 2.0),
    )
    return build.fit_out(
        "Small van",
        panel=panel,
        places_m=[(0.1, 0.05), (0.1, 0.71)],
        panel_rating_pa=2400,
        roof_m=(2.6, 1.3),
        roof_rating_kg=75,
        controller=build.pwm(50, 20),
        battery=build.battery(110, chemistry="agm"),
        speed_m_s=36.1,
    )


def test_a_panel_that_moves_is_told_once() -> None:
    answer = fit_out_change(FitOutChangeRequest(job=_windy()))
    texts = [change.text for change in answer.changes]
    moved = [change for change in answer.changes if change.code == "panel-moved"]
    assert moved
    assert len(set(texts)) == len(texts)
    assert not [text for text in texts if "further back" in text]


def test_what_still_fails_is_not_said_to_hold() -> None:
    """No adhesive holds on a membrane, and what lies below it is not known."""
    surface = RoofSurface(kind="tpo-membrane", abraded_and_cleaned=True)
    answer = fit_out_change(FitOutChangeRequest(job=replace(_windy(), surface=surface)))
    assert not answer.met
    opening, failing = answer.summary[:2]
    assert "so that it holds" not in opening
    assert isinstance(failing, Text)
    titles = failing.parameters["titles"]
    assert isinstance(titles, list)
    assert len(titles) == 5
    assert "Roof surface to bond on" in titles


def test_no_panel_is_left_out_of_a_roof_on_which_none_holds() -> None:
    """No adhesive holds on a membrane, whatever is left out; a fastener needs a skin that is known.
    Each change that is told mends a rule: without it one more fails, or fails by more."""
    surface = RoofSurface(kind="tpo-membrane", abraded_and_cleaned=True)
    job = replace(_job(), surface=surface, skin=None, harvest=None)
    answer = fit_out_change(FitOutChangeRequest(job=job))
    assert not answer.met
    assert not [one for one in answer.changes if one.code.startswith("panel")]
    assert answer.after.panels == answer.before.panels == 4
    assert {one.code for one in answer.after.failing} == {one.code for one in answer.before.failing}


def test_a_panel_is_left_out_where_its_rule_then_holds() -> None:
    """What the roof bears is less than all panels weigh, beside a surface that nothing mends."""
    surface = RoofSurface(kind="tpo-membrane", abraded_and_cleaned=True)
    own = _job()
    light = replace(own.vehicle, roof_rating_kg=own.vehicle.other_roof_mass_kg + 6.0)
    job = replace(own, surface=surface, skin=None, vehicle=light, harvest=None)
    answer = fit_out_change(FitOutChangeRequest(job=job))
    left_out = [one for one in answer.changes if one.code.startswith("panel")]
    told = {one.code for one in answer.before.failing} - {one.code for one in answer.after.failing}
    assert left_out
    assert told >= {"roof-rating"}
    assert answer.after.panel_mass_kg <= 6.0 < answer.before.panel_mass_kg
