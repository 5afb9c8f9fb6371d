"""Which strings and places are looked at, and what an arrangement is called and ranked by."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from array_builders import controller, panels, plate, request

from sunhitch.texts import Text
from sunhitch_service.engine.array.configuration import array_configuration
from sunhitch_service.engine.array.describe import name_of, reasons, summary
from sunhitch_service.engine.array.evaluate import Evaluator
from sunhitch_service.engine.array.figures import Layout, Wired
from sunhitch_service.engine.array.judge import Judged, judge
from sunhitch_service.engine.array.power import panel_curves
from sunhitch_service.engine.array.ranking import improved
from sunhitch_service.engine.array.search import EnumerationPlan, by_kind, plan, short_layouts
from sunhitch_service.engine.array.setup import settle

LARGE = plate(v_oc_v=30.0, v_mp_v=25.0, i_sc_a=10.0, i_mp_a=9.0, p_mp_w=225.0)
TWO = [controller(), controller("two")]


def state(name: str, weight: float, shares: dict[str, float]) -> dict[str, Any]:
    light = [{"panel": panel, "irradiance_fraction": share} for panel, share in shares.items()]
    own = {"name": name, "weight_fraction": weight, "irradiance_w_m2": 1000.0}
    return own | {"cell_temperature_c": 45.0, "light": light}


def types_of(types: int, count: int) -> list[dict[str, Any]]:
    return [panels(f"type-{n}", count, plate(i_mp_a=5.99 - 0.01 * n)) for n in range(types)]


def planned(controllers: int, hot_c: float, leave_out: int | None = 0) -> EnumerationPlan:
    """Of six types of four panels, of which three are within 100 V in the cold."""
    own = [controller(f"{n}") for n in range(controllers)]
    warm = {"lowest_ambient_c": -18.0, "highest_ambient_c": 38.0, "hot_cell_c": hot_c}
    asked = request(types_of(6, 4), controllers=own, site=warm, leave_out_at_most=leave_out)
    return plan(settle(asked), 2 if leave_out is None else leave_out)


def lengths(chosen: EnumerationPlan) -> set[int]:
    assert not chosen.all_strings
    assert {sum(n > 0 for n in one.counts) for one in chosen.strings} == {1}, "of one type each"
    return {sum(one.counts) for one in chosen.strings}


def test_where_types_are_too_many_every_string_has_one_type() -> None:
    """Four are 3 + 1, 2 + 2, 2 + 1 + 1 or 1 + 1 + 1 + 1: four ways, to the sixth power 4096."""
    chosen = planned(1, 60.0)
    assert chosen.count(chosen.fitting) == 4096
    assert (chosen.short_strings, lengths(chosen)) == (True, {1, 2, 3, 4})


def lit_apart(count: int) -> list[dict[str, Any]]:
    return [state("dawn", 0.5, {f"type-0-{n}": 0.9 - 0.05 * n for n in range(1, count + 1)})]


@pytest.mark.parametrize(("hot_c", "looked_at"), [(60.0, {1, 2, 3, 4}), (75.0, {2, 3, 4})])
def test_where_those_are_too_many_strings_that_are_short_in_the_heat_are_left_aside(
    hot_c: float, looked_at: set[int]
) -> None:
    """One panel of 36 cells: 16.4 V at 60 °C, 15.2 V at 75 °C, of 15.4 V wanted."""
    chosen = planned(2, hot_c)
    assert (chosen.short_strings, lengths(chosen)) == (False, looked_at)


def test_only_equal_strings_that_are_short_in_the_heat_are_added_to_those_left_aside() -> None:
    """Of 24 panels strings of 3 touch 60 V in the cold, but run hot; those of 1 alone are short."""
    own = [controller(f"{n}") for n in range(2)]
    warm = {"lowest_ambient_c": -18.0, "highest_ambient_c": 38.0, "hot_cell_c": 75.0}
    design = settle(request(types_of(6, 4), controllers=own, site=warm))
    added = short_layouts(design, plan(design, 0))
    assert [{len(s) for s in one.arrays[0].strings} for one in added] == [{1}, {1}]
    mild = settle(request(types_of(6, 4), site=warm | {"hot_cell_c": 60.0}))
    assert short_layouts(mild, plan(mild, 0)) == []


@pytest.mark.parametrize(("given", "left_out"), [(None, 0), (1, 1), (3, 3)])
def test_where_types_are_too_many_only_what_is_wanted_stays_unused(
    given: int | None, left_out: int
) -> None:
    assert planned(2, 60.0, given).leave_out == left_out


@pytest.mark.parametrize(
    ("asked", "classes", "left_out"),
    [
        pytest.param({"panels": types_of(1, 4), "shade": lit_apart(4)}, 4, 2, id="every panel"),
        pytest.param({"panels": types_of(1, 9), "shade": lit_apart(9)}, 1, 2, id="too many lights"),
        pytest.param({"panels": types_of(3, 4)}, 3, 0, id="too many with two unused"),
    ],
)
def test_the_finest_way_is_taken_that_stays_within_bounds(
    asked: Any, classes: int, left_out: int
) -> None:
    """Strings of single panels, then of types, then of types with none unused; mixed as long."""
    groups = asked["panels"]
    design = settle(request(groups, shade=asked.get("shade", []), leave_out_at_most=None))
    chosen = plan(design, 2)
    assert (len(chosen.grouping.classes), chosen.leave_out) == (classes, left_out)
    assert chosen.all_strings
    assert max(sum(n > 0 for n in one.counts) for one in chosen.strings) == classes


def test_few_types_are_looked_at_in_every_mixture() -> None:
    chosen = plan(settle(request(types_of(2, 2))), 0)
    assert {one.counts for one in chosen.strings} == {
        (a, b) for a in range(3) for b in range(3) if a or b
    }
    assert chosen.all_strings
    assert chosen.short_strings


def test_panels_of_another_type_are_never_exchanged() -> None:
    """Two of a type in each string would give more; voltages would be others."""
    design = settle(request([panels("small", 2, plate()), panels("large", 2, LARGE)]))
    evaluator = Evaluator(design, panel_curves(design))
    mixed, sorted_out = (
        Layout((Wired(0, strings),), ()) for strings in (((0, 2), (1, 3)), ((0, 1), (2, 3)))
    )
    low, high = evaluator.objective([mixed, sorted_out], False)
    assert high > 1.05 * low
    assert improved(design, evaluator, [mixed]) == []


def test_only_two_panels_that_differ_are_exchanged(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of four in the same light, and of one that is unused, no exchange is worth a look."""
    shade = [state("mast", 1.0, {"small-1": 0.5})]
    design = settle(request([panels("small", 5, plate())], shade=shade))
    evaluator = Evaluator(design, panel_curves(design))
    asked: list[list[Layout]] = []

    def objective(layouts: list[Layout], sun_only: bool) -> Any:
        assert not sun_only
        asked.append(layouts)
        return np.ones(len(layouts))

    monkeypatch.setattr(evaluator, "objective", objective)
    improved(design, evaluator, [Layout((Wired(0, ((0, 1), (2, 3))),), (4,))])
    (layouts,) = asked
    assert len(layouts) == 4, "itself, and the shaded one for each that is not in its string"


def test_three_exchanges_are_made_one_after_the_other(monkeypatch: pytest.MonkeyPatch) -> None:
    """A fourth would give more still; what is better comes in the order in which it is found."""
    shade = [state("mast", 1.0, {f"small-{n}": 0.5 for n in range(5, 9)})]
    design = settle(request([panels("small", 8, plate())], shade=shade))
    evaluator = Evaluator(design, panel_curves(design))

    def shaded_in_first(layout: Layout) -> int:
        return sum(member >= 4 for member in layout.arrays[0].strings[0])

    def objective(layouts: list[Layout], sun_only: bool) -> Any:
        return np.array([10.0 + shaded_in_first(one) for one in layouts])

    monkeypatch.setattr(evaluator, "objective", objective)
    apart = Layout((Wired(0, ((0, 1, 2, 3), (4, 5, 6, 7))),), ())
    assert [shaded_in_first(one) for one in improved(design, evaluator, [apart])] == [1, 2, 3]


def test_panels_dealt_by_brightness_alone_are_put_in_better_places() -> None:
    """Nine panels in lights of their own, each brighter by a hair than the next.

    Odd ones are shaded at noon, even ones as much of the time at dusk, when there is little to
    lose: one string of odd ones and one of even ones gives more than those dealt in order.
    """
    shares = {n: 0.3 - 0.001 * n for n in range(1, 10)}
    shade = [
        state(name, 0.5, {f"wide-{n}": s for n, s in shares.items() if n % 2 == odd})
        | {"irradiance_w_m2": sun}
        for name, odd, sun in (("noon", 1, 1000.0), ("dusk", 0, 20.0))
    ]
    asked = request([panels("wide", 9, plate())], shade=shade)
    design = settle(asked)
    assert by_kind(design).classes == (tuple(range(9)),)
    evaluator = Evaluator(design, panel_curves(design))
    dealt, by_hand = evaluator.objective(
        [
            Layout((Wired(0, strings),), ())
            for strings in (
                ((0, 1, 2), (3, 4, 5), (6, 7, 8)),
                ((0, 2, 4), (1, 3, 5), (6, 7, 8)),
            )
        ],
        False,
    )
    found = array_configuration(asked)
    assert not found.complete
    assert found.arrangements[0].weighted_power_w > 0.995 * by_hand > 1.2 * dealt


def test_layouts_are_compared_by_every_state_that_has_weight() -> None:
    """A state of a twentieth of the time counts a twentieth; one without weight nothing."""
    names = ["small-1", "small-2"]
    design = settle(
        request(
            [panels("small", 2, plate())],
            controllers=[controller(max_output_current_a=90.0)],
            shade=[
                state("mast", 0.05, dict.fromkeys(names, 0.5)),
                state("never", 0.0, dict.fromkeys(names, 1.0)),
                state("snow", 0.95, dict.fromkeys(names, 0.0)),
            ],
        )
    )
    evaluator = Evaluator(design, panel_curves(design))
    layout = Layout((Wired(0, ((0, 1),)),), ())
    evaluator.prepare([layout])
    charging = evaluator.power(layout.arrays[0]).charging_w
    (found,) = evaluator.objective([layout], False)
    assert found == pytest.approx(0.05 * charging[1], rel=1e-3)
    assert found > 1.0


def test_strings_are_called_by_what_is_in_them() -> None:
    types = [panels("small", 5, plate()), panels("large", 2, LARGE)]
    design = settle(request(types, controllers=TWO))
    alone = settle(request(types))
    single = Layout((Wired(0, ((0, 1, 2), (3, 4), (5,))),), (6,))
    assert name_of(alone, single) == (
        "1 string of 3 × small + 1 string of 2 × small + 1 string of large"
    )
    pair = Layout((Wired(0, ((0, 1), (2, 3))), Wired(1, ((4, 5), (6,)))), ())
    assert name_of(design, pair) == (
        "2 strings of 2 × small on one; 1 string of small + large + 1 string of large on two"
    )


def judged() -> tuple[Any, Judged]:
    design = settle(request([panels("small", 1, plate())]))
    evaluator = Evaluator(design, panel_curves(design))
    layout = Layout((Wired(0, ((0,),)),), ())
    evaluator.prepare([layout])
    return design, judge(design, evaluator, None, layout)


def words(design: Any, one: Judged, powers: list[float], rank: int) -> Text:
    """What is told of one's power among layouts of some powers, best first."""
    (told,) = [
        text
        for text in reasons(design, [replace(one, weighted_w=w) for w in powers], rank)
        if isinstance(text, Text) and text.code in ("in-a-row-space", *_OTHERS)
    ]
    return told


_OTHERS = [f"reach-battery-{how}" for how in ("alike", "less", "more")]


@pytest.mark.parametrize("scale", [1e-4, 1.0, 30.0])
@pytest.mark.parametrize(
    ("other", "code", "percent"),
    [
        (99.6, "alike", None),
        (99.48, "less", 0.52),
        (20.0, "less", 80.0),
        (100.48, "alike", None),
        (130.0, "more", 30.0),
    ],
)
def test_how_far_apart_two_are_is_told_in_per_cent_of_the_first(
    scale: float, other: float, code: str, percent: float | None
) -> None:
    """Whatever the size of the array; half a per cent is alike."""
    design, one = judged()
    told = words(design, one, [100.0 * scale, other * scale], 1)
    assert told.code == f"reach-battery-{code}"
    if percent is not None:
        assert told.parameters[f"{code}_percent"] == pytest.approx(percent)
    lead = words(design, one, [100.0 * scale, other * scale, 10.0 * scale], 0).parameters["parts"]
    ahead = 100.0 / other - 1.0
    assert lead[1].code == ("more-than-any-other" if ahead > 0.005 else "others-within-half")
    if ahead > 0.005:
        assert lead[1].parameters["ahead_percent"] == pytest.approx(100.0 * ahead)


def test_where_nothing_gives_power_all_are_alike() -> None:
    """A roof in the dark for all of its time."""
    design, one = judged()
    assert words(design, one, [0.0, 0.0], 1).code == "reach-battery-alike"
    lead = words(design, one, [0.0, 0.0], 0).parameters["parts"]
    assert lead[1].code == "others-within-half"
    assert summary(design, [replace(one, weighted_w=0.0)] * 2, 2, 2)


@pytest.mark.parametrize("scale", [1e-4, 1.0, 30.0])
def test_a_second_controller_is_told_by_what_it_adds_whatever_the_size(scale: float) -> None:
    design, one = judged()
    alone = replace(one, weighted_w=scale)
    for times, code in ((1.3, "two-controllers-give"), (1.004, "second-controller-nothing")):
        both = replace(one, loaded=one.loaded * 2, weighted_w=times * scale)
        told = [text for text in summary(design, [both, alone], 2, 2) if isinstance(text, Text)]
        assert told[-1].code == code
        if code == "two-controllers-give":
            assert told[-1].parameters["gain_percent"] == pytest.approx(30.0)


def test_a_wiring_as_drawn_is_judged_however_many_give_more() -> None:
    """Eight panels each alone; of ten ways that pass one is wanted, and nine are looked at."""
    names = [f"small-{n}" for n in range(1, 9)]
    drawn = [{"controller": "one", "strings": [[name] for name in names]}]
    large = controller(
        max_input_voltage_v=250.0, max_output_current_a=100.0, max_input_short_circuit_a=100.0
    )
    asked = request(
        [panels("small", 8, plate())], controllers=[large], drawn=drawn, most_arrangements=1
    )
    answer = array_configuration(asked)
    assert answer.passing == 10
    assert answer.drawn is not None
    assert [string.panels for string in answer.drawn.arrays[0].strings] == [[n] for n in names]
    told = answer.summary[0]
    assert isinstance(told, Text)
    assert told.parameters["judged"] == 1 + 8 + 1


@pytest.mark.parametrize("own", [[controller()], TWO, [controller(), controller("small")]])
@pytest.mark.parametrize("first", [0, 1])
def test_no_arrangement_is_told_twice(own: list[dict[str, Any]], first: int) -> None:
    """Whatever the order of types: strings of one controller by what is in them, and of two equal
    controllers either way round."""
    groups = [panels("odd", 1, plate(i_mp_a=5.0, p_mp_w=96.0)), panels("sheet", 3, plate())]
    asked = request([groups[first], groups[1 - first]], controllers=own, leave_out_at_most=2)
    told = [
        tuple(
            sorted(
                tuple(sorted(tuple(sorted(n[:3] for n in s.panels)) for s in array.strings))
                for array in one.arrays
            )
        )
        for one in array_configuration(asked).arrangements
    ]
    assert len(set(told)) == len(told) > 10
