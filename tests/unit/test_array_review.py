"""What a fitter asked of array configuration: single panels in the heat, reasons in words."""

import pytest
from array_builders import battery, check_of, controller, panels, plate, request, site, with_strings
from msgspec.structs import replace

from sunhitch.operations.array_configuration import present
from sunhitch.report.layout import Page
from sunhitch_service.engine.array.configuration import array_configuration

GAMMA_LESS_ALPHA, BETA = -0.0042, -0.0028


@pytest.mark.parametrize(
    ("hot_cell", "run", "start"),
    [
        # 19.2 V × (1 − 0.0042 × ΔT) against 14.4 + 1 V full, 0.95 × (13.3 + 1) V charging;
        # 22.9 V × (1 − 0.0028 × ΔT) against 14.4 + 5 V to start
        pytest.param(60.0, "pass", "pass", id="16.4 V, 20.7 V"),
        pytest.param(75.0, "review", "pass", id="15.2 V, 19.7 V"),
        pytest.param(85.0, "review", "review", id="14.4 V, 19.1 V"),
        pytest.param(105.0, "fail", "review", id="12.7 V, 17.8 V"),
    ],
)
def test_one_36_cell_panel_on_a_12_v_tracker_in_the_heat(
    hot_cell: float, run: str, start: str
) -> None:
    asked = request([panels("sheet", 1, plate())], site=site(hot_cell=hot_cell))
    alone = with_strings(array_configuration(asked), 1)
    running, starting = check_of(alone, "hot-vmp-run"), check_of(alone, "hot-voltage-start")
    assert (running.verdict, starting.verdict) == (run, start)
    assert running.capacity == pytest.approx(19.2 * (1 + GAMMA_LESS_ALPHA * (hot_cell - 25.0)))
    assert starting.capacity == pytest.approx(22.9 * (1 + BETA * (hot_cell - 25.0)))
    if start == "review":
        assert f"{starting.capacity:.1f} V" in starting.remedy


def test_a_panel_a_little_short_in_the_heat_is_still_offered() -> None:
    asked = request([panels("sheet", 2, plate())], site=site(hot_cell=85.0))
    answer = array_configuration(asked)
    assert with_strings(answer, 1, 1).verdict == "review"
    assert answer.passing == answer.examined == 2


def test_one_36_cell_panel_never_charges_24_v_in_the_heat() -> None:
    asked = request([panels("sheet", 2, plate())], battery=battery(24), site=site(hot_cell=75.0))
    answer = array_configuration(asked)
    assert check_of(with_strings(answer, 1, 1), "hot-vmp-run").verdict == "fail"
    assert len(answer.arrangements[0].arrays[0].strings) == 1


def test_many_panels_keep_their_usual_arrangements_beside_short_ones() -> None:
    """Strings short in the heat are left aside before the enumeration gets coarse."""
    groups = [panels("a", 8, plate()), panels("b", 8, plate(i_mp_a=5.7, i_sc_a=6.1, p_mp_w=109.0))]
    strong = controller(max_input_voltage_v=150.0, max_output_current_a=200.0)
    asked = request(groups, controllers=[strong], site=site(hot_cell=80.0), leave_out_at_most=2)
    answer = array_configuration(asked)
    assert not answer.complete
    best = answer.arrangements[0]
    assert best.verdict != "fail"
    assert all(len(string.panels) > 1 for array in best.arrays for string in array.strings)


def test_equal_short_strings_are_offered_even_where_others_are_left_aside() -> None:
    groups = [panels("a", 8, plate()), panels("b", 8, plate(i_mp_a=5.7, i_sc_a=6.1, p_mp_w=109.0))]
    strong = controller(
        max_input_voltage_v=150.0, max_output_current_a=300.0, max_input_short_circuit_a=400.0
    )
    thick = {"plug_current_a": 200.0, "branch_current_a": 200.0}
    asked = request(groups, controllers=[strong], connectors=thick, site=site(hot_cell=80.0))
    answer = array_configuration(replace(asked, leave_out_at_most=2))
    assert not answer.complete
    alone = [one for one in answer.arrangements if len(one.arrays[0].strings) == 16]
    assert [one.verdict for one in alone] == ["review"]


def test_rejections_are_told_in_words() -> None:
    answer = array_configuration(request([panels("sheet", 4, plate())], site=site(cold=-40.0)))
    cold = next(one for one in answer.rejections if one.code == "cold-voc-controller")
    assert cold.title == "Open-circuit voltage in the cold against the controller's input"


def test_what_would_change_it_says_whose_array_it_is() -> None:
    """Two types that one controller cannot take in series or in parallel without loss."""
    tall = plate(p_mp_w=100.0, v_mp_v=25.0, i_mp_a=4.0, v_oc_v=30.0, i_sc_a=4.3)
    feeds = [controller("left"), controller("right")]
    answer = array_configuration(
        request([panels("wide", 2, plate()), panels("tall", 2, tall)], controllers=feeds)
    )
    best = answer.arrangements[0]
    assert len(best.arrays) == 2
    told = [change.controller for change in best.sensitivity]
    assert told == ["left"] * 5 + ["right"] * 5
    text = " ".join(" ".join(present(Page(), answer)).split())
    assert "left: 10 K colder" in text
    assert "right: 10 K colder" in text


def test_reasons_of_battery_figures_speak_of_those_figures() -> None:
    bank = battery()
    del bank["charge_voltage_v"]
    answer = array_configuration(request([panels("sheet", 2, plate())], battery=bank))
    why = {one.field: one.why for one in answer.assumptions}
    assert "absorption" in why["/battery/charge_voltage_v"]
    assert "absorption" not in why["/battery/working_voltage_v"]
    assert "absorption" not in why["/battery/max_charge_current_a"]
