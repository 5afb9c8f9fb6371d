"""Panels to choose from: laid out, wired, judged and ranked in one call."""

import msgspec
import pytest
from msgspec.structs import replace

from sunhitch import examples
from sunhitch.types.fitout import FitOutPanelType, FitOutRequest, PanelChoice
from sunhitch.types.panel import PanelBody
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.fitout.calculation import fit_out


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


def test_the_most_power_is_built_and_the_others_say_why_not() -> None:
    answer = fit_out(_job())
    first, second, third = answer.candidates
    assert [one.panel_type for one in answer.candidates] == ["sheet-115", "half", "long"]
    # Two sheets of twice the current give about twice the power: same voltage, same shade.
    assert first.weighted_power_w == pytest.approx(2 * second.weighted_power_w, rel=0.03)
    assert (first.panels, second.panels, third.panels) == (2, 2, 0)
    assert (first.price, first.mass_kg) == (280.0, pytest.approx(2 * 2.3))
    assert "no place" in third.needs[0].lower() or "find" in third.needs[0].lower()
    assert answer.array_power_w == first.array_power_w == 230.0
    assert "sheet-115" in answer.summary[0]


def test_the_build_is_that_of_the_first_alone() -> None:
    job = _job()
    answer = fit_out(job)
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


def test_what_cannot_be_chosen_from_is_refused_at_its_place() -> None:
    job = _job(rank_by="price")
    kinds = [replace(kind, price=None) for kind in job.panel_types[:1]]
    placed = examples.load("fit-out")
    assert isinstance(placed, FitOutRequest)
    with pytest.raises(ContradictionError) as caught:
        fit_out(replace(job, panel_types=kinds, placements=placed.placements))
    pointers = [fault.pointer for fault in caught.value.faults]
    assert pointers == ["/placements", "/panel_types/0/price"]
