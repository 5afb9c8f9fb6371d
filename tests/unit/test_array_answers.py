"""Ranking, harness, sensitivity and refusals of array configuration."""

from typing import Any

import msgspec
import pytest
from array_builders import check_of, controller, panels, plate, request, site, with_strings

from sunhitch.codec import encode
from sunhitch.types.array import ArrayConfigurationRequest
from sunhitch_service.engine.array.configuration import array_configuration
from sunhitch_service.engine.errors import ContradictionError


def test_the_first_arrangement_lends_verdict_and_checks_to_the_answer() -> None:
    """The call's verdict is that of what it recommends; the cold battery's checks follow."""
    answer = array_configuration(request([panels("sheet", 4, plate())]))
    own = answer.arrangements[0].checks
    assert answer.checks[: len(own)] == own
    cold = [check.code for check in answer.checks[len(own) :]]
    assert cold == ["battery-cold-charging", "battery-cold-rate"]
    assert (answer.verdict, answer.arrangements[0].verdict) == ("not-assessed", "pass")
    assert [one.rank for one in answer.arrangements] == list(range(1, len(answer.arrangements) + 1))


def test_failing_arrangements_come_last_and_say_why() -> None:
    """Four in series exceed 100 V in the cold."""
    answer = array_configuration(request([panels("sheet", 4, plate())]))
    verdicts = [one.verdict == "fail" for one in answer.arrangements]
    assert verdicts == sorted(verdicts)
    series = with_strings(answer, 4)
    assert series.verdict == "fail"
    assert series.reasons[0].startswith("Fails “Open-circuit voltage in the cold")
    assert series.margin_fraction < 0.0


def test_every_arrangement_is_counted_and_rejections_name_an_example() -> None:
    """Five ways to split four panels; only 4 in series breaks the cold limit."""
    answer = array_configuration(request([panels("sheet", 4, plate())]))
    assert answer.examined == 5
    assert answer.complete
    rejected = {r.code: r for r in answer.rejections}
    assert rejected["cold-voc-controller"].arrangements == 1
    assert rejected["cold-voc-controller"].example.startswith("1 string of 4 × sheet: 102.6")


def test_ranking_by_margin_prefers_distance_from_every_limit() -> None:
    """With a tight controller voltage the margin puts short strings first."""
    groups = [panels("sheet", 4, plate())]
    feeds = [controller(max_input_voltage_v=110.0)]
    by_energy = array_configuration(request(groups, controllers=feeds))
    by_margin = array_configuration(
        request(groups, controllers=feeds, target={"rank_by": "margin"})
    )
    margins = [one.margin_fraction for one in by_margin.arrangements if one.verdict != "fail"]
    assert [round(m, 2) for m in margins] == sorted((round(m, 2) for m in margins), reverse=True)
    assert margins[0] >= by_energy.arrangements[0].margin_fraction - 0.005


def test_a_power_target_that_is_missed_fails_with_what_is_missing() -> None:
    """Two panels do not make 400 W."""
    asked = request([panels("sheet", 2, plate())], target={"minimum_power_w": 400.0})
    one = array_configuration(asked).arrangements[0]
    check = check_of(one, "target-power")
    assert check.verdict == "fail"
    assert check.demand == 400.0
    assert check.capacity == pytest.approx(one.sun.charging_power_w)


def test_sensitivity_agrees_with_asking_again() -> None:
    """10 K colder, one more string: the same figures as a request of its own."""
    one = with_strings(array_configuration(request([panels("sheet", 4, plate())])), 2, 2)
    told = {s.change: s for s in one.sensitivity}
    colder = array_configuration(request([panels("sheet", 4, plate())], site=site(-28.0)))
    check = check_of(with_strings(colder, 2, 2), "cold-voc-controller")
    assert told["site-10-k-colder"].demand == pytest.approx(check.demand)
    more = with_strings(array_configuration(request([panels("sheet", 6, plate())])), 2, 2, 2)
    reverse = check_of(more, "string-reverse-current")
    assert told["one-more-string"].demand == pytest.approx(reverse.demand)
    assert told["one-more-string"].verdict == reverse.verdict == "review"
    longer = with_strings(array_configuration(request([panels("sheet", 6, plate())])), 3, 3)
    cold = check_of(longer, "cold-voc-controller")
    assert told["one-more-in-series"].demand == pytest.approx(cold.demand)


def test_another_current_rating_tells_what_it_would_add() -> None:
    """A 15 A controller clips; the rating named takes all."""
    group = panels("sheet", 4, plate())
    clipped = array_configuration(
        request([group], controllers=[controller(max_output_current_a=15.0)])
    )
    told = {s.change: s for s in with_strings(clipped, 2, 2).sensitivity}[
        "other-controller-current"
    ]
    enough = [controller(max_output_current_a=told.demand)]
    free = with_strings(array_configuration(request([group], controllers=enough)), 2, 2)
    assert check_of(free, "controller-output-current").utilisation_fraction == pytest.approx(1.0)


def test_extensions_follow_the_roof_and_spare_the_leads() -> None:
    """Two panels 2 m apart with 0.5 m leads leave 1 m; slack is added before."""
    layout = {
        "entry_x_m": 4.0,
        "entry_y_m": 0.0,
        "slack_fraction": 0.0,
        "places": [
            {"panel": "sheet-1", "x_m": 0.0, "y_m": 0.0},
            {"panel": "sheet-2", "x_m": 2.0, "y_m": 0.0},
        ],
    }
    groups = [panels("sheet", 2, plate(), lead_length_m=0.5)]
    answer = array_configuration(request(groups, layout=layout))
    series = {i.where: i.length_m for i in with_strings(answer, 2).harness}
    assert series == {
        "from sheet-1 to sheet-2 in string 1": pytest.approx(1.0),
        "from sheet-1 to the entry, positive": pytest.approx(3.5),
        "from sheet-2 to the entry, negative": pytest.approx(1.5),
    }
    parallel = with_strings(answer, 1, 1)
    lengths = [i.length_m for i in parallel.harness if i.kind == "extension"]
    assert lengths == pytest.approx([1.5, 2.0, 1.5, 2.0])


def test_without_places_the_way_in_is_listed_without_a_length() -> None:
    """A pair of extensions, length unknown."""
    one = with_strings(array_configuration(request([panels("sheet", 2, plate())])), 2)
    (item,) = one.harness
    assert (item.kind, item.pieces, item.length_m) == ("extension", 2, None)


def test_both_cold_methods_are_shown_where_both_apply() -> None:
    """The coefficient governs; the table stands beside it."""
    one = with_strings(array_configuration(request([panels("sheet", 2, plate())])), 2)
    string = one.arrays[0].strings[0]
    assert string.cold_voc_coefficient_v == pytest.approx(2 * 22.9 * (1 + 0.0028 * 43.0))
    assert string.cold_voc_table_v == pytest.approx(2 * 22.9 * 1.18)
    assert check_of(one, "cold-voc-controller").demand == string.cold_voc_coefficient_v
    assert check_of(one, "cold-voc-table").demand == string.cold_voc_table_v


def test_chosen_values_are_listed_and_given_ones_are_not() -> None:
    """Start margin is chosen, charging voltage is given."""
    fields = {
        a.field for a in array_configuration(request([panels("sheet", 2, plate())])).assumptions
    }
    assert "/controllers/0/start_margin_v" in fields
    assert "/connectors/plug_current_a" in fields
    assert "/battery/charge_voltage_v" not in fields
    assert "/site/hot_cell_c" not in fields


def _refused(**more: Any) -> set[str]:
    groups = more.pop("panels", [panels("sheet", 2, plate())])
    with pytest.raises(ContradictionError) as caught:
        array_configuration(request(groups, **more))
    return {fault.pointer for fault in caught.value.faults}


def test_contradictions_are_all_named_at_once() -> None:
    """Names used twice, weights above one, unknown panels, a nameplate that does not add up."""
    state = {
        "name": "tree",
        "weight_fraction": 0.7,
        "irradiance_w_m2": 800.0,
        "cell_temperature_c": 40.0,
        "light": [{"panel": "nobody", "irradiance_fraction": 0.5}],
    }
    pointers = _refused(
        panels=[panels("sheet", 2, plate(p_mp_w=150.0))],
        controllers=[controller(), controller()],
        shade=[state, state],
        site=site(cold=39.0),
        battery={
            "chemistry": "agm",
            "nominal_voltage_v": 12,
            "capacity_ah": 100.0,
            "charge_voltage_v": 28.8,
        },
    )
    assert pointers >= {
        "/panels/0/panel/electrical/p_mp_w",
        "/controllers/1/name",
        "/shade/1/name",
        "/shade",
        "/shade/0/light/0/panel",
        "/site/lowest_ambient_c",
        "/battery/charge_voltage_v",
    }


def test_a_grid_of_the_wrong_size_is_refused() -> None:
    """Half-cell panels have two paths of 36."""
    light = [{"panel": "sheet-1", "irradiance_fraction": [[1.0] * 36]}]
    state = {
        "name": "tree",
        "weight_fraction": 0.5,
        "irradiance_w_m2": 800.0,
        "cell_temperature_c": 40.0,
        "light": light,
    }
    assert _refused(shade=[state]) == {"/shade/0/light/0/irradiance_fraction"}


def test_too_many_panels_are_refused() -> None:
    """More than 24 are not enumerated."""
    assert _refused(panels=[panels("a", 24, plate()), panels("b", 1, plate())]) == {"/panels"}


def test_many_types_on_two_controllers_stay_within_bounds() -> None:
    """Six types of four: strings of one type each, and the answer says that it is not complete."""
    groups = [panels(f"type-{n}", 4, plate(i_mp_a=5.99 - 0.01 * n)) for n in range(6)]
    asked = request(groups, controllers=[controller("one"), controller("two")], most_arrangements=5)
    answer = array_configuration(asked)
    assert not answer.complete
    assert len(answer.arrangements) == 5


def test_the_answer_survives_its_own_schema() -> None:
    """Limits of the contract hold, encoded and decoded."""
    answer = array_configuration(request([panels("sheet", 3, plate())]))
    assert msgspec.json.decode(encode(answer), type=type(answer)) == answer
    assert isinstance(request([panels("sheet", 1, plate())]), ArrayConfigurationRequest)
