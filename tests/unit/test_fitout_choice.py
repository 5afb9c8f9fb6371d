"""Panels to choose from: laid out, wired, judged and ranked in one call."""

from typing import Any

import msgspec
import pytest
from msgspec.structs import replace
from shipped import fit_out

from sunhitch import examples
from sunhitch.report.amounts import figure
from sunhitch.types.fitout import FitOutAnswer, FitOutPanelType, FitOutRequest, PanelChoice
from sunhitch.types.harvest import (
    ClearSkyWeather,
    HarvestArray,
    HarvestConditions,
    HarvestRequest,
    Load,
    Parking,
)
from sunhitch.types.panel import PanelBody, PanelType
from sunhitch.types.roof import PlacedPanel
from sunhitch.types.shade import ArrayWiring
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.harvest.calculation import harvest

pytestmark = pytest.mark.usefixtures("parts_kept")


def _job(**choice: object) -> FitOutRequest:
    """The shipped job with its sheet, half of it, and one too long for the roof to choose from."""
    job = examples.load("fit-out")
    assert isinstance(job, FitOutRequest)
    whole = replace(job.panel_types[0], stock=2, price=140.0)
    electrical = whole.panel.electrical
    half = replace(
        whole,
        name="half",
        price=50.0,
        panel=replace(
            whole.panel, electrical=replace(electrical, p_mp_w=57.5, i_mp_a=2.995, i_sc_a=3.2)
        ),
    )
    body = whole.panel.body
    assert isinstance(body, PanelBody)
    sheet = replace(body, width_m=1.9, length_m=2.0)
    long = replace(whole, name="long", panel=replace(whole.panel, body=sheet))
    return replace(
        job,
        placements=[],
        panel_types=[half, long, whole],
        choose=msgspec.convert(choice, PanelChoice),
    )


@pytest.fixture(scope="module")
def answer() -> FitOutAnswer:
    """The best of the three by power."""
    return fit_out(_job())


def test_the_most_power_is_built_and_the_others_say_why_not(answer: FitOutAnswer) -> None:
    first, second, third = answer.candidates
    assert [one.panel_type for one in answer.candidates] == ["sheet-115", "half", "long"]
    # Two sheets of twice the current give about twice the power: same voltage, same shade.
    assert first.weighted_power_w == pytest.approx(2 * second.weighted_power_w, rel=0.03)
    assert (first.panels, second.panels, third.panels) == (2, 2, 0)
    assert (first.price, first.mass_kg) == (280.0, pytest.approx(2 * 2.3))
    assert "no place" in third.needs[0].lower() or "find" in third.needs[0].lower()
    assert answer.array_power_w == first.array_power_w == 230.0
    assert "sheet-115" in answer.summary[0]


def test_the_build_is_that_of_the_first_alone(answer: FitOutAnswer) -> None:
    job = _job()
    alone = fit_out(replace(job, choose=None, panel_types=[_alone(job.panel_types[2])]))
    assert answer.checks == alone.checks
    assert answer.parts_list == alone.parts_list


def _alone(kind: FitOutPanelType) -> FitOutPanelType:
    return replace(kind, panels_wanted=2)


def test_the_least_price_for_a_watt_may_be_another() -> None:
    """140 for 115 W against 50 for 57.5 W: 1.22 against 0.87 for each."""
    answer = fit_out(_job(rank_by="price"))
    assert answer.candidates[0].panel_type == "half"


def test_numbers_to_try_are_tried_as_far_as_there_are_panels() -> None:
    answer = fit_out(_job(numbers=[1, 2, 3]))
    tried = {(one.panel_type, one.panels) for one in answer.candidates if one.panels}
    assert tried == {("half", 1), ("half", 2), ("sheet-115", 1), ("sheet-115", 2)}


def _year(**values: object) -> HarvestConditions:
    """Three days of the shipped study."""
    study = examples.load("harvest")
    assert isinstance(study, HarvestRequest)
    weather = study.weather
    assert isinstance(weather, ClearSkyWeather)
    fields = {name: getattr(study, name) for name in HarvestConditions.__struct_fields__}
    days = replace(weather, first_day="2027-05-01", days=3)
    return HarvestConditions(**(fields | {"weather": days} | values))


def test_energy_ranks_where_a_place_is_given_and_is_that_of_a_study_of_its_own() -> None:
    """Three days in May; cables lose what the schedule says, 0.2 % of what arrives at most."""
    job = replace(_job(constructions=["half-cell-2-diodes", "full-cell-no-diode"]), harvest=_year())
    job = replace(job, panel_types=[job.panel_types[2]])
    answer = fit_out(job)
    first, second = answer.candidates
    assert first.energy_wh is not None
    assert second.energy_wh is not None
    assert first.energy_wh > second.energy_wh
    assert answer.harvest is not None
    assert [line.available_wh for line in answer.harvest.comparison] == [
        first.energy_wh,
        second.energy_wh,
    ]
    assert second.needs == [
        f"To come first: {figure((first.energy_wh - second.energy_wh) / 1000)} kWh more."
    ]
    # The same build studied by itself: places, strings and cables of its schedules.
    array = answer.configurations[0].arrays[0]
    output = next(line for line in answer.wire_schedule if line.kind == "pv-output")
    battery = next(line for line in answer.wire_schedule if line.kind == "controller-to-battery")
    own = harvest(
        HarvestRequest(
            **msgspec.structs.asdict(_year()),
            roof=job.roof,
            roof_height_m=job.vehicle.roof_height_m,
            panel_types=[PanelType(name="sheet-115", panel=job.panel_types[0].panel)],
            placements=[
                PlacedPanel(name=p.name, panel_type=p.panel_type, x_m=p.x_m, y_m=p.y_m,
                            rotated=p.rotated, plugs_towards=p.plugs_towards)
                for p in answer.plan.panels
            ],
            mounting_heat=job.mounting_heat,
            arrays=[
                HarvestArray(
                    controller=job.controllers[0],
                    wiring=ArrayWiring(strings=[string.panels for string in array.strings]),
                    panel_cable_ohm=output.drop_v / output.operating_current_a,
                    battery_cable_ohm=battery.drop_v / battery.operating_current_a,
                )
            ],
            battery=job.battery,
        )
    )  # fmt: skip
    available = next(step.left_wh for step in own.losses if step.code == "battery-cable")
    assert first.energy_wh == pytest.approx(available, rel=2e-3)


def _placed() -> FitOutRequest:
    """The shipped job with one of its panels."""
    job = examples.load("fit-out")
    assert isinstance(job, FitOutRequest)
    return replace(job, placements=job.placements[:1])


def test_checks_of_the_energy_stand_among_those_of_the_build() -> None:
    """A load of ten times the array's power cannot be served for long."""
    plain = _placed()
    heavy = Load(name="kiln", power_w=2300.0)
    without, answer = fit_out(plain), fit_out(replace(plain, harvest=_year(loads=[heavy])))
    told = [check for check in answer.checks if (check.subject or "").startswith("energy")]
    assert "loads-served" in {check.code for check in told}
    assert answer.verdict == "fail"
    assert answer.counts.failed == sum(check.verdict == "fail" for check in answer.checks)
    assert answer.checks[: len(without.checks)] == without.checks
    assert answer.harvest is not None
    assert (answer.harvest.checks, answer.harvest.assumptions) == ([], [])


def test_what_cannot_be_chosen_from_is_refused_at_its_place() -> None:
    job = _job(rank_by="price")
    kinds = [replace(kind, price=None) for kind in job.panel_types[:1]]
    placed = examples.load("fit-out")
    assert isinstance(placed, FitOutRequest)
    with pytest.raises(ContradictionError) as caught:
        fit_out(replace(job, panel_types=kinds, placements=placed.placements))
    pointers = [fault.pointer for fault in caught.value.faults]
    assert pointers == ["/placements", "/panel_types/0/price"]


@pytest.mark.parametrize(
    ("choice", "pointer"),
    [
        ({"rank_by": "energy"}, "/choose/rank_by"),
        ({"numbers": [1, 2, 1]}, "/choose/numbers/2"),
        (
            {
                "numbers": [1, 2, 3, 4],
                "constructions": ["half-cell-2-diodes", "half-cell-3-diodes", "full-cell-2-diodes"],
            },
            "/choose",
        ),
    ],
)
def test_candidates_that_make_no_choice_are_refused(choice: dict[str, Any], pointer: str) -> None:
    with pytest.raises(ContradictionError) as caught:
        fit_out(_job(**choice))
    assert [fault.pointer for fault in caught.value.faults] == [pointer]


def test_faults_of_the_energy_point_into_the_job() -> None:
    with pytest.raises(ContradictionError) as caught:
        fit_out(replace(_placed(), harvest=_year(parking=Parking())))
    assert {fault.pointer for fault in caught.value.faults} == {"/harvest/parking/headings"}
