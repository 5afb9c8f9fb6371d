"""Builds that look right and are not, and the words that the answer finds for them."""

import pytest
from array_builders import battery, check_of, controller, panels, plate, request, site, with_strings

from outside_figures import Outside
from sunhitch_service.engine.array.configuration import array_configuration


@pytest.mark.parametrize(("series_fuse", "needed"), [(15.0, True), (20.0, False)])
def test_three_parallel_strings_need_fuses_with_one_module_rating_only(
    series_fuse: float, needed: bool
) -> None:
    """(3 − 1) × 1.25 × 6.4 A = 16 A lies between the two module ratings."""
    group = panels("sheet", 3, plate(max_series_fuse_a=series_fuse))
    one = with_strings(array_configuration(request([group])), 1, 1, 1)
    check = check_of(one, "string-reverse-current")
    assert check.demand == pytest.approx(16.0)
    assert check.capacity == series_fuse
    assert check.verdict == ("review" if needed else "pass")
    fuses = [item for item in one.harness if item.kind == "string-fuse"]
    assert [item.rating_a for item in fuses] == ([10.0] * 3 if needed else [])
    assert "690.9(A)" in check.basis


def test_two_rules_differ_on_the_same_strings(outside: Outside) -> None:
    group = panels("sheet", 3, plate())
    one = with_strings(array_configuration(request([group], rules="iec")), 1, 1, 1)
    check = check_of(one, "string-reverse-current")
    of, source = "reverse current of three strings", "IEC 62548: 1 × Isc for each other string"
    outside(check.demand, 12.8, rel=1e-6, of=of, source=source, unit="A", kind="hand-worked")
    assert check.verdict == "pass"
    assert "62548" in check.basis


def test_a_fuse_that_cannot_exist_fails() -> None:
    """A rating below 1.56 × Isc leaves no room for a fuse."""
    group = panels("sheet", 4, plate(max_series_fuse_a=9.0))
    one = with_strings(array_configuration(request([group])), 1, 1, 1, 1)
    assert check_of(one, "string-fuse-rating").verdict == "fail"
    assert "none fits" in check_of(one, "string-reverse-current").remedy


@pytest.mark.parametrize(("cold", "verdict"), [(0.0, "pass"), (-10.0, "review"), (-25.0, "fail")])
def test_a_cold_morning_pushes_three_in_series_over_the_controller(
    cold: float, verdict: str
) -> None:
    """3 × 29 V at −0.30 %/K: 93.5 V at 0 °C, 96.1 V at −10 °C, 100.05 V at −25 °C."""
    group = panels("glass", 3, plate(v_oc_v=29.0, v_mp_v=19.2, beta_voc_fraction_per_c=-0.003))
    one = with_strings(array_configuration(request([group], site=site(cold))), 3)
    check = check_of(one, "cold-voc-controller")
    assert check.demand == pytest.approx(3 * 29.0 * (1 + 0.003 * (25.0 - cold)))
    assert check.verdict == verdict
    if verdict == "fail":
        assert "At most 2 in series" in check.remedy


def test_one_panel_cannot_charge_a_24_v_battery_when_hot() -> None:
    """A 60-cell panel: 31 V nominal is 24.9 V at 75 °C; 28.8 V and 1 V are needed."""
    sixty = plate(
        p_mp_w=279.0, v_mp_v=31.0, i_mp_a=9.0, v_oc_v=38.0, i_sc_a=9.5, cells_in_series=60
    )
    asked = request([panels("glass", 2, sixty)], battery=battery(24), site=site(hot_cell=75.0))
    answer = array_configuration(asked)
    alone = check_of(with_strings(answer, 1, 1), "hot-vmp-run")
    assert alone.capacity == pytest.approx(31.0 * (1 - 0.0042 * 50.0))
    assert alone.demand == pytest.approx(29.8)
    assert alone.verdict == "fail"
    assert "At least 2 such panels in series" in alone.remedy
    assert check_of(with_strings(answer, 2), "hot-vmp-run").verdict == "pass"
    assert len(answer.arrangements[0].arrays[0].strings) == 1


def test_hot_vmp_takes_gamma_less_alpha_and_not_beta() -> None:
    """With beta the same panel would seem to keep 1 V more."""
    one = with_strings(array_configuration(request([panels("sheet", 1, plate())])), 1)
    assert one.arrays[0].strings[0].hot_vmp_v == pytest.approx(19.2 * (1 - 0.0042 * 35.0))


def test_four_branch_joined_panels_on_a_30_a_plug() -> None:
    """4 × 6.4 A seems to fit 30 A, but in strong sun it is 32 A; three fit."""
    one = with_strings(array_configuration(request([panels("sheet", 4, plate())])), 1, 1, 1, 1)
    check = check_of(one, "branch-connector-current")
    assert check.demand == pytest.approx(32.0)
    assert check.capacity == 30.0
    assert check.verdict == "fail"
    assert "at most 3" in check.remedy
    last = [i for i in one.harness if i.kind == "branch-connector" and i.strings == [1, 2, 3, 4]]
    assert [item.current_a for item in last] == pytest.approx([32.0, 32.0])


def test_joined_two_by_two_takes_one_less_than_strings_per_polarity() -> None:
    """n − 1 Y pieces, or a single one for all."""
    group = panels("sheet", 3, plate())
    pairs = with_strings(array_configuration(request([group])), 1, 1, 1).harness
    single = with_strings(
        array_configuration(request([group], connectors={"joining": "n-to-one"})), 1, 1, 1
    ).harness
    for parts, pieces, joins in ((pairs, 2, 2), (single, 1, 3)):
        for pole in ("positive", "negative"):
            found = [i for i in parts if i.kind == "branch-connector" and i.polarity == pole]
            assert sum(i.pieces for i in found) == pieces
            assert {i.joins for i in found} == {joins}


def test_pwm_wastes_a_36_v_panel_on_a_12_v_battery() -> None:
    """A 72-cell panel loses 45 to 65 % (common practice), a 36-cell one much less."""
    big = plate(p_mp_w=360.0, v_mp_v=37.5, i_mp_a=9.6, v_oc_v=45.5, i_sc_a=10.1, cells_in_series=72)
    pwm = [controller(kind="pwm")]
    wrong = array_configuration(request([panels("glass", 1, big)], controllers=pwm))
    right = array_configuration(request([panels("sheet", 1, plate())], controllers=pwm))
    lost = check_of(wrong.arrangements[0], "pwm-loss")
    assert lost.verdict == "fail"
    assert 0.45 < (lost.demand or 0.0) < 0.65
    assert "MPPT" in lost.remedy
    assert check_of(right.arrangements[0], "pwm-loss").verdict != "fail"


def test_pwm_power_is_battery_voltage_times_panel_current() -> None:
    """Near short circuit the current is at most Isc, warm, and at least Imp."""
    pwm = [controller(kind="pwm")]
    sun = {"irradiance_w_m2": 1000.0, "cell_temperature_c": 25.0}
    asked = request([panels("sheet", 1, plate())], controllers=pwm, sun=sun)
    power = array_configuration(asked).arrangements[0].sun.charging_power_w
    assert 13.3 * 5.99 < power < 13.3 * 6.4


def test_unequal_panels_in_series_follow_the_weaker() -> None:
    """Panels of 5.99 A and 3 A: in series more than a fifth is lost, in parallel nearly none."""
    strong = panels("strong", 1, plate(v_mp_v=38.4, v_oc_v=45.8, p_mp_w=230.0, cells_in_series=72))
    weak = panels(
        "weak",
        1,
        plate(p_mp_w=115.2, v_mp_v=38.4, i_mp_a=3.0, v_oc_v=45.8, i_sc_a=3.2, cells_in_series=72),
    )
    two = [controller("one"), controller("two")]
    answer = array_configuration(request([strong, weak], controllers=two))
    series = with_strings(answer, 2)
    assert check_of(series, "series-current-spread").verdict == "review"
    assert check_of(series, "mismatch-loss").verdict == "review"
    assert series.mismatch_fraction > 0.2
    parallel = with_strings(answer, 1, 1)
    assert parallel.mismatch_fraction < 0.01
    assert parallel.rank < series.rank


def test_two_controllers_beat_one_in_shade() -> None:
    """Strings with unequal bright panels share a voltage on one controller, not on two."""
    shade = [
        {
            "name": "awning",
            "weight_fraction": 0.6,
            "irradiance_w_m2": 900.0,
            "cell_temperature_c": 45.0,
            "light": [{"panel": "sheet-1", "irradiance_fraction": 0.15}],
        }
    ]
    two = [
        controller("one", max_output_current_a=30.0),
        controller("two", max_output_current_a=30.0),
    ]
    asked = request(
        [panels("sheet", 4, plate())], controllers=two, shade=shade, leave_out_at_most=0
    )
    answer = array_configuration(asked)
    best = answer.arrangements[0]
    assert len(best.arrays) == 2
    on_one = max(
        a.weighted_power_w
        for a in answer.arrangements
        if len(a.arrays) == 1 and a.verdict != "fail"
    )
    assert best.weighted_power_w > 1.01 * on_one
    assert any("Two controllers give" in line for line in answer.summary)


def test_a_missing_rating_is_never_a_pass() -> None:
    """Unknown limits give `not-assessed` and say which figure is wanted."""
    bare = {k: v for k, v in plate().items() if not k.startswith("max_")}
    feed = {k: v for k, v in controller().items() if k != "max_input_short_circuit_a"}
    group = panels("sheet", 3, bare)
    one = with_strings(array_configuration(request([group], controllers=[feed])), 1, 1, 1)
    for code in ("controller-short-circuit", "string-reverse-current"):
        assert check_of(one, code).verdict == "not-assessed"
        assert check_of(one, code).remedy.startswith("Give ")
    assert one.verdict == "not-assessed"


def test_below_the_end_of_the_table_nothing_is_extrapolated() -> None:
    """Without a coefficient the table ends at −40 °C."""
    bare = {k: v for k, v in plate().items() if k != "beta_voc_fraction_per_c"}
    group = panels("sheet", 2, bare)
    at_end = with_strings(array_configuration(request([group], site=site(-40.0))), 2)
    beyond = with_strings(array_configuration(request([group], site=site(-41.0))), 2)
    assert check_of(at_end, "cold-voc-controller").demand == pytest.approx(1.25 * 2 * 22.9)
    assert check_of(beyond, "cold-voc-controller").verdict == "not-assessed"
    assert beyond.arrays[0].strings[0].cold_voc_table_v is None


def test_beyond_the_table_its_last_band_still_rules_strings_out() -> None:
    """4 × 22.9 V × 1.25 = 114.5 V at −40 °C are more than 100 V, and no less where it is colder."""
    bare = {k: v for k, v in plate().items() if k != "beta_voc_fraction_per_c"}
    asked = request([panels("sheet", 4, bare)], site=site(-45.0))
    four = with_strings(array_configuration(asked), 4)
    cold = check_of(four, "cold-voc-controller")
    assert (cold.verdict, cold.demand) == ("fail", pytest.approx(114.5))
    assert "coefficient" in cold.remedy
    best = array_configuration(asked).arrangements[0]
    assert max(len(s.panels) for array in best.arrays for s in array.strings) < 4
    assert "The voltage in the cold could not be assessed." in best.reasons
    panels_own = check_of(best, "system-voltage")
    assert panels_own.verdict == "not-assessed"


def test_more_panel_than_rating_is_a_review_with_the_loss() -> None:
    """A 15 A controller at 13.3 V takes 199.5 W; the rest is named."""
    group = panels("sheet", 4, plate())
    small = [controller(max_output_current_a=15.0)]
    one = with_strings(array_configuration(request([group], controllers=small)), 2, 2)
    check = check_of(one, "controller-output-current")
    assert check.verdict == "review"
    assert one.sun.charging_power_w == pytest.approx(15.0 * 13.3)
    assert one.sun.clipped_w > 100.0
    assert any("unused" in reason for reason in one.reasons)


def test_an_input_current_limit_holds_the_power_back() -> None:
    """At 8 A two strings of 2 in parallel cannot deliver their 12 A."""
    group = panels("sheet", 4, plate())
    tight = array_configuration(request([group], controllers=[controller(max_input_current_a=8.0)]))
    loose = array_configuration(request([group]))
    held, free = with_strings(tight, 2, 2), with_strings(loose, 2, 2)
    assert check_of(held, "controller-input-current").verdict == "review"
    assert held.sun.panel_power_w < 8.0 * 2 * 22.9
    assert held.sun.panel_power_w < 0.9 * free.sun.panel_power_w


def test_charging_beyond_a_given_battery_limit_fails_and_beyond_an_assumed_one_is_a_review() -> (
    None
):
    """460 W into 13.3 V is 33 A."""
    group = panels("sheet", 4, plate())
    given = array_configuration(request([group], battery=battery(max_charge_current_a=20.0)))
    assumed = array_configuration(request([group], battery=battery(capacity_ah=40.0)))
    assert check_of(with_strings(given, 2, 2), "battery-charge-rate").verdict == "fail"
    assert check_of(with_strings(assumed, 2, 2), "battery-charge-rate").verdict == "review"


@pytest.mark.parametrize(
    ("limit_a", "more", "verdict", "demand_a"),
    [
        (41.6, {}, "pass", 41.504),
        (41.4, {}, "review", 41.504),  # The nameplates' 33.2 A are borne.
        (33.1, {}, "fail", 41.504),
        (100.0, {"bifaciality_fraction": 0.8}, "pass", 45.986),
    ],
)
def test_strong_sun_charges_a_battery_with_a_quarter_more(limit_a, more, verdict, demand_a) -> None:
    """NFPA 70, 690.8(A)(1): 1.25 × 0.96 × 460 W ÷ 13.3 V = 41.5 A; × (1 + 0.135 × 0.8) with a
    lit back by IEC 61215-1 (from memory)."""
    group = panels("sheet", 4, plate(**more))
    own = battery(max_charge_current_a=limit_a, working_voltage_v=13.3)
    found = array_configuration(
        request([group], battery=own, controllers=[controller(max_output_current_a=50.0)])
    )
    check = check_of(with_strings(found, 2, 2), "battery-charge-rate")
    assert (check.verdict, check.demand) == (verdict, pytest.approx(demand_a, abs=5e-4))


def test_a_controller_that_lets_the_battery_feed_back_needs_string_fuses() -> None:
    """Even a single string then has a source behind it."""
    leaky = [controller(kind="pwm", blocks_reverse_current=False)]
    one = with_strings(
        array_configuration(request([panels("sheet", 1, plate())], controllers=leaky)), 1
    )
    assert check_of(one, "string-reverse-current").verdict == "review"
    assert [i.rating_a for i in one.harness if i.kind == "string-fuse"] == [10.0]


def test_leftover_panels_are_named() -> None:
    """Five panels make two strings of two and one spare."""
    asked = request([panels("sheet", 5, plate())], leave_out_at_most=1)
    one = with_strings(array_configuration(asked), 2, 2)
    assert one.leftover == ["sheet-5"]
    assert "Leaves out sheet-5." in one.reasons


def test_where_nothing_passes_the_answer_says_why() -> None:
    """A 48 V battery and one small panel: every arrangement fails, none is an error."""
    answer = array_configuration(request([panels("sheet", 1, plate())], battery=battery(48)))
    assert answer.verdict == "fail"
    assert answer.passing == 0
    assert "None of the 1 arrangements passes" in answer.summary[0]
    assert {r.code for r in answer.rejections} >= {"hot-vmp-run"}
