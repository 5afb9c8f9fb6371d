"""What an arrangement is told to be better or worse by, against the figures of all of them."""

from typing import Any

import numpy as np
import pytest
from array_builders import battery, controller, panels, plate, request

from sunhitch import examples
from sunhitch.texts import Text
from sunhitch.types.array import Arrangement, ArrayConfigurationAnswer, HarnessItem
from sunhitch_service.engine.array.configuration import array_configuration
from sunhitch_service.engine.array.evaluate import Evaluator
from sunhitch_service.engine.array.figures import Layout, Wired, figures
from sunhitch_service.engine.array.judge import Judged
from sunhitch_service.engine.array.power import panel_curves
from sunhitch_service.engine.array.search import allowances, by_kind, patterns, plan
from sunhitch_service.engine.array.setup import settle
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.pv.temperature import cell_in_sun_c

LARGE = plate(v_oc_v=30.0, v_mp_v=25.0, i_sc_a=10.0, i_mp_a=9.0, p_mp_w=225.0)
SAME = 0.005
"""Half a per cent: what the model cannot tell apart."""


def state(name: str, weight: float, panel: str, share: float, **more: float) -> dict[str, Any]:
    light = [{"panel": panel, "irradiance_fraction": share}]
    own = {"name": name, "weight_fraction": weight, "irradiance_w_m2": 1000.0}
    return own | {"cell_temperature_c": 45.0, "light": light} | more


SHADE = [state("mast", 0.4, "small-1", 0.2), state("tree", 0.3, "large-2", 0.4)]


@pytest.fixture(scope="module", params=["energy", "sun-power"])
def answer(request: pytest.FixtureRequest) -> ArrayConfigurationAnswer:
    return asked(target={"rank_by": request.param})


def asked(**more: Any) -> ArrayConfigurationAnswer:
    groups = [panels("small", 2, plate()), panels("large", 2, LARGE)]
    own = {"controllers": [controller(), controller("two")], "shade": SHADE}
    return array_configuration(request(groups, **(own | more)))


def told(texts: Any) -> dict[str, dict[str, Any]]:
    """Parameters of texts, and of the texts within them, by their codes."""
    found: dict[str, dict[str, Any]] = {}
    for one in texts:
        if isinstance(one, Text):
            found[one.code] = one.parameters
            inner = one.parameters.values()
            found |= told(x for value in inner for x in (value if type(value) is list else [value]))
    return found


def power(answer: ArrayConfigurationAnswer, one: Arrangement) -> float:
    in_sun = "over-sun-and-shade" not in told(answer.arrangements[0].reasons)
    return one.sun.charging_power_w if in_sun else one.weighted_power_w


def test_the_first_is_told_by_how_far_it_leads_the_best_of_the_others(
    answer: ArrayConfigurationAnswer,
) -> None:
    first, *others = answer.arrangements
    powers = [power(answer, one) for one in others if one.verdict != "fail"]
    assert max(powers) > (1.0 + SAME) * min(powers)
    ahead = power(answer, first) / max(powers) - 1.0
    found = told(first.reasons)
    assert ("more-than-any-other" in found) == (ahead > SAME)
    assert ("others-within-half" in found) == (ahead <= SAME)
    if ahead > SAME:
        assert found["more-than-any-other"]["ahead_percent"] == pytest.approx(100.0 * ahead)


def test_the_others_are_told_how_much_less_they_reach_and_in_which_light_most(
    answer: ArrayConfigurationAnswer,
) -> None:
    first, *others = answer.arrangements
    seen = set[str]()
    for one in others:
        found = told(one.reasons)
        less = 1.0 - power(answer, one) / power(answer, first)
        code = "alike" if abs(less) <= SAME else "less" if less > 0.0 else "more"
        assert f"reach-battery-{code}" in found
        if code == "less":
            percent = found["reach-battery-less"]["less_percent"]
            assert percent == pytest.approx(100.0 * less)
        behind = {
            best.name: best.charging_power_w - own.charging_power_w
            for best, own in zip([first.sun, *first.shade], [one.sun, *one.shade], strict=True)
        }
        worst = max(behind, key=lambda name: behind[name])
        assert ("furthest-behind" in found) == (behind[worst] >= 1.0)
        if behind[worst] >= 1.0:
            assert found["furthest-behind"]["state"] == worst
            assert found["furthest-behind"]["behind_w"] == pytest.approx(behind[worst])
            seen.add(worst)
    assert len(seen) > 1


def test_what_sharing_costs_is_that_of_the_controller_that_loses_most(
    answer: ArrayConfigurationAnswer,
) -> None:
    """A panel alone shares nothing, and no check says so."""
    apart = 0
    for one in answer.arrangements:
        lost = [check.demand or 0.0 for check in one.checks if check.code == "mismatch-loss"]
        lost += [0.0] * (len(one.arrays) - len(lost))
        found = told(one.reasons)
        assert ("unequal-panels-cost" in found) == (max(lost) > SAME)
        if "unequal-panels-cost" in found:
            assert found["unequal-panels-cost"]["lost_percent"] == pytest.approx(100.0 * max(lost))
            apart += min(lost) < 0.5 * max(lost)
    assert apart


def test_the_second_controller_is_told_by_the_best_with_and_without_it(
    answer: ArrayConfigurationAnswer,
) -> None:
    best = {
        count: max(
            power(answer, one)
            for one in answer.arrangements
            if len(one.arrays) == count and one.verdict != "fail"
        )
        for count in (1, 2)
    }
    gain, found = best[2] / best[1] - 1.0, told(answer.summary)
    assert ("two-controllers-give" in found) == (gain > SAME)
    assert ("second-controller-nothing" in found) == (gain <= SAME)
    if gain > SAME:
        assert found["two-controllers-give"]["gain_percent"] == pytest.approx(100.0 * gain)


def test_parts_are_pieces_of_the_harness_and_two_for_every_controller() -> None:
    """A controller counts as much as a pair of branch connectors."""
    item = asked(shade=[]).arrangements[0].harness
    parts = [HarnessItem(**{n: getattr(one, n) for n in one.__struct_fields__}) for one in item]
    judged: Any = Judged(Layout((), ()), (object(), object()), (), parts, [], np.zeros(1), 0.0, 0.0)
    assert judged.pieces == sum(one.pieces for one in parts) + 4


@pytest.mark.parametrize(
    ("count", "given", "tried"),
    [(6, None, [2, 5]), (3, None, [2]), (2, None, [1]), (6, 1, [1]), (6, 9, [5])],
)
def test_two_panels_may_stay_unused_and_any_number_where_nothing_passes(
    count: int, given: int | None, tried: list[int]
) -> None:
    asked = request([panels("small", count, plate())], leave_out_at_most=given)
    assert allowances(settle(asked)) == tried


def test_a_rejection_is_shown_by_the_shortest_string_that_breaks_the_rule() -> None:
    """Three of 29 V in the cold are beyond 70 V; up to six could be in series."""
    groups = [panels("small", 6, plate(beta_voc_fraction_per_c=-0.003))]
    mild = {"lowest_ambient_c": -18.0, "highest_ambient_c": 38.0, "hot_cell_c": 60.0}
    found = array_configuration(
        request(groups, site=mild, controllers=[controller(max_input_voltage_v=70.0)])
    )
    (cold,) = [one for one in found.rejections if one.code == "cold-voc-controller"]
    example = told([cold.example])["example-needed-and-there"]
    assert example["needed"] == pytest.approx(3 * 22.9 * (1.0 + 0.003 * 43.0))
    assert (example["there"], example["unit"]) == (70.0, "V")


@pytest.mark.parametrize(("sun", "times"), [(1000.0, 1.0), (1250.0, 1.0), (1400.0, 1.12)])
def test_the_strongest_sun_asked_about_counts_wherever_it_shines(sun: float, times: float) -> None:
    """The rules' factor covers 1250 W/m²; beyond that Isc grows."""
    for more in (
        {"sun": {"irradiance_w_m2": sun, "cell_temperature_c": 50.0}},
        {"shade": [state("snow", 0.1, "small-1", 1.0, irradiance_w_m2=sun)]},
    ):
        design = settle(request([panels("small", 2, plate())], **more))
        (string,) = figures(design, Wired(0, ((0,),))).strings
        assert string.i_sc_a == pytest.approx(times * 6.4)


def test_distinct_arrangements_are_counted_as_they_are_listed() -> None:
    """Two controllers that are alike are mirrors of each other: counted, and listed, once."""
    for others, alike in (({}, True), ({"max_output_current_a": 40.0}, False)):
        for groups in ([panels("a", 3, plate())], [panels("a", 2, plate()), panels("b", 1, LARGE)]):
            for leave_out in (0, 1):
                own = [controller(), controller("two", **others)]
                chosen = plan(settle(request(groups, controllers=own)), leave_out)
                assert chosen.same_controllers == alike
                assert chosen.count(chosen.fitting) == len(patterns(chosen)) > 1


def test_panels_of_a_type_are_dealt_from_the_brightest_on() -> None:
    """Half of the light on every cell of the first is less than nine tenths of the second."""
    grid = [[0.5] * 36] * 2
    light: list[Any] = [{"panel": "small-1", "irradiance_fraction": grid}]
    light += [{"panel": "small-2", "irradiance_fraction": 0.9}]
    shaded = state("mast", 0.5, "small-1", 0.5) | {"light": light}
    design = settle(request([panels("small", 3, plate())], shade=[shaded]))
    assert by_kind(design).classes == ((2, 1, 0),)


def test_arrangements_that_fail_are_counted_by_rule() -> None:
    """Of 4, 3 + 1, 2 + 2, 2 + 1 + 1 and 1 + 1 + 1 + 1 panels two are too long, two too strong.

    Three of 22.9 V are beyond 65 V in any cold; three strings of 6.4 A beyond 17 A in any sun.
    """
    own = [controller(max_input_voltage_v=65.0, max_input_short_circuit_a=17.0)]
    found = array_configuration(request([panels("small", 4, plate())], controllers=own))
    counted = {one.code: one.arrangements for one in found.rejections}
    assert found.examined == 5
    assert (counted["cold-voc-controller"], counted["controller-short-circuit"]) == (2, 2)


def test_power_into_the_battery_is_that_of_the_panels_less_what_is_lost_on_the_way() -> None:
    """A rating of 10 A at 13 V; what is cut is told by state and in the reasons."""
    own = [controller(max_output_current_a=10.0, efficiency_fraction=0.9)]
    usual = battery(working_voltage_v=13.0)
    found = asked(controllers=own, battery=usual, shade=[]).arrangements[0]
    assert found.sun.charging_power_w == pytest.approx(130.0)
    assert found.sun.panel_power_w == pytest.approx(130.0 / 0.9)
    assert found.arrays[0].output_current_a == pytest.approx(10.0)
    unused = told(found.reasons)["controllers-leave"]["unused_w"]
    assert unused == pytest.approx(0.9 * found.sun.clipped_w)
    roomy = asked(controllers=[controller(max_output_current_a=90.0)], battery=usual, shade=[])
    best = roomy.arrangements[0]
    assert "controllers-leave" not in told(best.reasons)
    assert best.sun.clipped_w == pytest.approx(0.0, abs=1e-6)
    for left_w, is_told in ((0.48, False), (0.52, True)):
        own = [controller(max_output_current_a=(best.sun.charging_power_w - left_w) / 13.0)]
        same = asked(controllers=own, battery=usual, shade=[])
        (one,) = [one for one in same.arrangements if one.name == best.name]
        assert ("controllers-leave" in told(one.reasons)) == is_told, "half a watt"


def test_a_plain_controller_holds_hot_panels_at_the_voltage_of_a_full_battery() -> None:
    """Far below the maximum the current hardly changes: power goes with that voltage."""
    hot = [
        asked(controllers=[controller(kind="pwm")], battery=own, shade=[]).arrangements[0].arrays[0]
        for own in (battery(charge_voltage_v=volts, working_voltage_v=12.5) for volts in (13.0, 14))
    ]
    assert hot[1].hot_power_w / hot[0].hot_power_w == pytest.approx(14.0 / 13.0, rel=0.01)


def test_a_cold_battery_is_charged_by_all_that_charges_it() -> None:
    found = asked(other_charging_a=20.0)
    demands = {
        check.code: check.demand
        for check in found.checks
        if check.code in ("battery-charge-rate", "battery-cold-rate")
    }
    # Strong sun gives a quarter more (NFPA 70, 690.8(A)(1)), but no frost.
    solar_a = demands["battery-cold-rate"] - 20.0
    assert solar_a > 0.0
    assert demands["battery-charge-rate"] == pytest.approx(20.0 + 1.25 * solar_a)


def test_full_sun_is_thought_of_in_mild_air() -> None:
    """25 °C, customary, where no cell temperature is given."""
    design = settle(request([panels("small", 1, plate())]))
    mild = cell_in_sun_c(design.request.mounting_heat, 1000.0, 25.0, Assumptions())
    assert design.lights[0].cell_c == pytest.approx(mild, abs=0.05)


def test_cells_whose_heat_is_estimated_are_told_as_they_are_reckoned_with() -> None:
    """Given back they lead to the same answer, which a tenth of a kelvin may change."""
    warm = {"lowest_ambient_c": -18.0, "highest_ambient_c": 38.27}
    design = settle(request([panels("small", 1, plate())], site=warm))
    told_c = {a.field: a.value for a in design.assumptions.listed()}["/site/hot_cell_c"]
    assert told_c == design.hot_cell_c != round(design.hot_cell_c, 1)


def test_the_wiring_as_drawn_is_told_by_its_place() -> None:
    drawn = [{"controller": "one", "strings": [["small-1", "small-2"], ["large-1", "large-2"]]}]
    found = asked(drawn=drawn, shade=[])
    assert found.drawn is not None
    words = told(found.summary)
    (code,) = words.keys() & {"as-drawn-holds", "as-drawn-fails"}
    assert (code == "as-drawn-fails") == (found.drawn.verdict == "fail")
    place = [one.name for one in found.arrangements].index(found.drawn.name)
    assert words[code]["rank"] == place + 1 == found.drawn.rank > 1
    assert words[code]["judged"] >= len(found.arrangements)
    assert words[code]["power_w"] == pytest.approx(found.drawn.sun.charging_power_w)


def test_the_cold_is_told_of_the_string_that_comes_nearest_to_its_limit(
    answer: ArrayConfigurationAnswer,
) -> None:
    apart = 0
    for one in answer.arrangements:
        cold = [check for check in one.checks if check.code == "cold-voc-controller"]
        worst = max(cold, key=lambda check: check.utilisation_fraction or 0.0)
        found = told(one.reasons)["reaches-in-cold"]
        assert (found["reached_v"], found["limit_v"]) == (worst.demand, worst.capacity)
        apart += len({check.demand for check in cold}) > 1
    assert apart


def test_what_is_plugged_in_is_told_beside_the_strings() -> None:
    """Two in series of 6.4 A; strings of the others push 12.5 A, for which none needs a fuse."""
    own = {"name": "suitcase", "controller": "one", "electrical": plate(), "in_series": 2}
    groups = [panels("large", 1, LARGE)]
    found = array_configuration(request(groups, removable=[own | {"lead_m": 5.0}]))
    plugged = found.arrangements[0].arrays[0].removable
    assert plugged is not None
    assert (plugged.panels, plugged.i_sc_a) == (["suitcase", "suitcase"], 6.4)
    assert (plugged.reverse_current_a, plugged.fuse_a) == (pytest.approx(12.5), None)
    assert plugged.p_mp_w == pytest.approx(230.0)


def test_more_than_two_stay_unused_only_where_nothing_else_passes() -> None:
    """Two in series, 51 V in the cold of 55 V, and one string, 8 A of 10 A, leave three of five."""
    tight = controller(max_input_voltage_v=55.0, max_input_short_circuit_a=10.0)
    for own, left, tried in ((tight, 3, 4.0), (controller(), 0, 2.0)):
        found = array_configuration(
            request(
                [panels("small", 5, plate())],
                controllers=[own],
                leave_out_at_most=None,
            )
        )
        (told_,) = [a.value for a in found.assumptions if a.field == "/leave_out_at_most"]
        assert (len(found.arrangements[0].leftover), told_) == (left, tried)
        assert found.verdict != "fail"


def test_connectors_and_fuses_are_told_by_their_number(answer: ArrayConfigurationAnswer) -> None:
    weak = asked(shade=[], connectors={"joining": "n-to-one"}, rules="nec-2023")
    fused = 0
    for one in [*answer.arrangements, *weak.arrangements]:
        words = told(one.reasons)
        for kind in ("branch-connector", "string-fuse"):
            pieces = sum(item.pieces for item in one.harness if item.kind == kind)
            assert (f"no-{kind}s" in words) == (pieces == 0)
            if pieces:
                assert words[f"{kind}s"]["pieces"] == pieces
                fused += kind == "string-fuse"
    assert fused


def test_all_controllers_charge_the_battery_at_once() -> None:
    """5 A each: 10 A where both are in use; layouts are compared by what their ratings let on."""
    own = [controller(max_output_current_a=5.0), controller("two", max_output_current_a=5.0)]
    usual = battery(working_voltage_v=13.0)
    found = asked(controllers=own, battery=usual, shade=[])
    counts = set()
    for one in found.arrangements:
        (rate,) = [check for check in one.checks if check.code == "battery-charge-rate"]
        assert rate.demand == pytest.approx(5.0 * len(one.arrays))
        counts.add(len(one.arrays))
    assert counts == {1, 2}
    groups = [panels("small", 2, plate())]
    design = settle(request(groups, controllers=own, battery=usual))
    evaluator = Evaluator(design, panel_curves(design))
    both = Layout((Wired(0, ((0,),)), Wired(1, ((1,),))), ())
    alone = Layout((Wired(0, ((0, 1),)),), ())
    powers = evaluator.objective([both, alone], True)
    assert powers == pytest.approx([2 * 65.0, 65.0])


def test_the_best_on_either_controller_is_looked_at_however_many_are_better_on_both() -> None:
    """5 A each: whatever is on one alone gives half, and is told against both."""
    own = [controller(max_output_current_a=5.0), controller("two", max_output_current_a=5.0)]
    groups = [panels("small", 4, plate()), panels("large", 2, LARGE)]
    found = array_configuration(request(groups, controllers=own, most_arrangements=1))
    assert len(found.arrangements) == 1
    gain = told(found.summary)["two-controllers-give"]["gain_percent"]
    assert gain == pytest.approx(100.0, abs=1.0)


def test_full_sun_shines_for_the_time_that_shade_leaves() -> None:
    groups = [panels("small", 2, plate())]
    for weights, rest in (((0.3, 0.2), 0.5), ((0.6, 0.4), 0.0)):
        shade = [state(f"{n}", w, "small-1", 0.5) for n, w in enumerate(weights)]
        lights = settle(request(groups, shade=shade)).lights
        assert lights[0].weight == pytest.approx(rest)
        assert sum(light.weight for light in lights) == pytest.approx(1.0)


def test_few_arrangements_are_the_first_of_many() -> None:
    """Those that promise most in the light that the target counts are looked at closely.

    In full sun six equal panels give the same in any arrangement, in uneven shade they do not.
    """
    uneven = state("mast", 1.0, "small-1", 0.2)
    uneven["light"] += [
        {"panel": f"small-{n}", "irradiance_fraction": share} for n, share in ((2, 0.5), (3, 0.8))
    ]
    wide = [controller(max_input_voltage_v=200.0, max_output_current_a=90.0)]
    groups = [panels("small", 6, plate(max_series_fuse_a=60.0))]
    strong = {"plug_current_a": 90.0, "branch_current_a": 90.0}
    powers = [
        [
            one.weighted_power_w
            for one in array_configuration(
                request(
                    groups,
                    controllers=wide,
                    connectors=strong,
                    shade=[uneven],
                    most_arrangements=most,
                )
            ).arrangements
            if one.verdict != "fail"
        ]
        for most in (1, 200)
    ]
    few, many = powers
    assert len(few) == 1 < len(many)
    assert few[0] >= (1.0 - SAME) * max(many)
    assert min(many) < 0.9 * max(many)


def test_hot_cells_are_thought_of_in_full_sun() -> None:
    """Far below its maximum a panel gives its Isc, 0.05 % more for every kelvin above 25 °C."""
    own = [controller(kind="pwm", efficiency_fraction=1.0)]
    groups = [panels("small", 1, plate())]
    found = array_configuration(
        request(groups, controllers=own, battery=battery(charge_voltage_v=12.0))
    )
    hot_w = found.arrangements[0].arrays[0].hot_power_w
    assert hot_w == pytest.approx(12.0 * 6.4 * (1.0 + 0.0005 * 35.0), rel=0.01)


def test_failures_are_told_with_their_units() -> None:
    """Shares have none."""
    long = [controller(max_input_voltage_v=65.0)]
    lossy = [controller(kind="pwm", max_input_voltage_v=65.0)]
    high = plate(v_oc_v=45.0, v_mp_v=38.0, p_mp_w=227.0, cells_in_series=72)
    seen = set()
    for own, electrical in ((long, plate()), (lossy, high)):
        found = array_configuration(request([panels("small", 3, electrical)], controllers=own))
        for one in found.arrangements:
            failing = [check for check in one.checks if check.verdict == "fail"]
            figures = [r.parameters["figures"] for r in one.reasons if r.code == "fails"]
            for check, figure in zip(failing, figures, strict=True):
                ratio = check.unit == "1"
                assert figure.code == ("needed-and-there-ratio" if ratio else "needed-and-there")
                assert figure.parameters["needed"] == pytest.approx(check.demand)
                assert ratio or figure.parameters["unit"] == check.unit
                seen.add(check.unit)
    assert {"V", "1"} <= seen


def test_a_failure_without_a_limit_is_told_as_not_met() -> None:
    """No fuse of 21.5 A is made."""
    own = {"string_fuse_a": 21.5}
    feeding = [controller(blocks_reverse_current=False)]
    groups = [panels("small", 1, plate())]
    found = array_configuration(request(groups, controllers=feeding, connectors=own))
    failing = [c.code for c in found.arrangements[0].checks if c.verdict == "fail"]
    figures = [
        r.parameters["figures"].code for r in found.arrangements[0].reasons if r.code == "fails"
    ]
    assert figures[failing.index("device-listed")] == "not-met"


def test_no_wiring_is_told_beside_one_of_its_own_name() -> None:
    """Nor by a string that it has itself: of four panels, two pairs are wired in many ways."""
    first, *others = array_configuration(examples.load("array-configuration")).arrangements
    apart = 0
    for one in (first, *others):
        found = told(one.reasons)
        named = [p[k] for p in found.values() for k in ("best", "next_best") if k in p]
        assert one.name not in map(str, named)
        if "panels-in-series" in found:
            assert sorted(found["panels-in-series"]["panels"]) not in [
                sorted(string.panels) for array in one.arrays for string in array.strings
            ]
            apart += 1
    assert 1 < apart < len(others)
