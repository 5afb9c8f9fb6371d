"""Rules on one controller's array: which string, panel or part each is asked of."""

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from array_builders import battery, controller, panels, plate, request
from msgspec import structs

from sunhitch.types.check import Check
from sunhitch_service.engine.array.design import ArrayDesign
from sunhitch_service.engine.array.evaluate import ArrayPower, Evaluator
from sunhitch_service.engine.array.figures import (
    ArrayFigures,
    Layout,
    Wired,
    figures,
)
from sunhitch_service.engine.array.margins import margin, severity_of
from sunhitch_service.engine.array.power import panel_curves
from sunhitch_service.engine.array.ranking import SAME_FRACTION, improved, ranked
from sunhitch_service.engine.array.removable import removable_checks
from sunhitch_service.engine.array.rules_current import current_checks
from sunhitch_service.engine.array.rules_energy import (
    Loaded,
    charge_rate,
    charging,
    energy_checks,
)
from sunhitch_service.engine.array.rules_fuse import fuse_checks, string_fuses
from sunhitch_service.engine.array.rules_voltage import voltage_checks
from sunhitch_service.engine.array.screen import failing, least_margin
from sunhitch_service.engine.array.sensitivity import sensitivities
from sunhitch_service.engine.array.setup import colder, settle
from sunhitch_service.engine.controller.settings import ChargingCurrent

SMALL = plate(beta_voc_fraction_per_c=-0.002)
"""Voc 22.9 V, Isc 6.4 A, Imp 5.99 A, 115 W, fuse 15 A, 600 V."""
LARGE = plate(
    v_oc_v=30.0,
    v_mp_v=25.0,
    i_sc_a=10.0,
    i_mp_a=9.0,
    p_mp_w=225.0,
    beta_voc_fraction_per_c=-0.002,
    max_series_fuse_a=25.0,
    max_system_voltage_v=100.0,
)
MILD = {"lowest_ambient_c": 0.0, "highest_ambient_c": 38.0, "hot_cell_c": 60.0}
"""25 K below the nameplate's temperature: 5 % more at −0.2 %/K."""
COLD = 1.05
SMALLS, LARGES = (0, 1, 2), (3, 4, 5)


def designed(**more: Any) -> ArrayDesign:
    """Three small panels, 0 to 2, and three large ones, 3 to 5."""
    types = [panels("small", 3, SMALL), panels("large", 3, LARGE)]
    return settle(request(types, **{"site": MILD, **more}))


def array_of(design: ArrayDesign, *strings: tuple[int, ...]) -> ArrayFigures:
    return figures(design, Wired(0, strings))


def told(checks: list[Check]) -> dict[str, Check]:
    """By code, of which there is one each."""
    found = {check.code: check for check in checks}
    assert len(found) == len(checks)
    return found


def compared(check: Check) -> tuple[float | None, float | None]:
    return check.demand, check.capacity


@pytest.mark.parametrize(
    ("volts", "hot_cell_c", "changes", "remedy"),
    [
        (24, 60.0, {}, "longer"),
        (24, 60.0, {"max_input_voltage_v": 48.0}, "too-long"),
        (24, 60.0, {"kind": "pwm"}, "longer"),
        (12, 85.0, {"kind": "pwm"}, "too-long"),
    ],
    ids=["tracking", "two-exceed-the-input", "pwm-24", "two-lose-more-than-a-third"],
)
def test_more_panels_in_series_are_told_only_where_their_controller_takes_them(
    volts: int, hot_cell_c: float, changes: dict[str, Any], remedy: str
) -> None:
    """Two panels of 22.9 V are 48.1 V in the cold; on PWM and 12 V their 38 V lose 25."""
    site = {**MILD, "hot_cell_c": hot_cell_c}
    design = designed(controllers=[controller(**changes)], battery=battery(volts), site=site)
    check = told(voltage_checks(design, array_of(design, (0,))))["hot-vmp-run"]
    cooler = ["hot-vmp-run.cooler"] if remedy == "too-long" else []
    assert check.remedies == ["hot-vmp-run.short", f"hot-vmp-run.{remedy}", *cooler]
    assert check.parameters["fewest"] == 2.0


def test_voltages_add_up_in_series_and_the_weakest_panel_holds_the_current() -> None:
    """What may flow in a fault is what the strongest gives."""
    string = array_of(designed(), (0, 3, 4)).strings[0]
    assert string.cold_voc_v == pytest.approx(COLD * (22.9 + 2 * 30.0))
    assert string.v_mp_v == pytest.approx(19.2 + 2 * 25.0)
    assert (string.i_sc_a, string.i_mp_a, string.largest_i_mp_a) == (10.0, 5.99, 9.0)
    assert string.p_mp_w == pytest.approx(115.0 + 2 * 225.0)
    assert (string.series_fuse.known, string.system_voltage_v) == (15.0, 100.0)
    single, twice = (array_of(designed(), own).strings[0] for own in ((0,), (0, 1)))
    for name in ("cold_voc_v", "cold_table_v", "cold_coefficient_v", "hot_vmp_v", "hot_voc_v"):
        assert getattr(twice, name) == pytest.approx(2.0 * getattr(single, name)), name
    assert single.hot_vmp_v < single.hot_voc_v < 22.9 < single.cold_voc_v


def test_the_cold_of_a_string_is_known_where_that_of_all_its_panels_is() -> None:
    """Below the table's −40 °C only panels with a coefficient of their own are known."""
    bare = {name: value for name, value in LARGE.items() if not name.startswith("beta")}
    types = [panels("small", 3, SMALL), panels("bare", 3, bare)]
    design = settle(request(types, site=MILD | {"lowest_ambient_c": -45.0}))
    strings = array_of(design, (0, 1), (0, 3), (3, 4)).strings
    assert [one.cold_is_known for one in strings] == [True, False, False]


def test_currents_and_powers_of_strings_add_up() -> None:
    array = array_of(designed(), (0, 3), (4,))
    assert array.i_sc_a == array.whole_i_sc_a == pytest.approx(10.0 + 10.0)
    assert array.whole_i_mp_a == pytest.approx(5.99 + 9.0)
    assert array.p_mp_w == pytest.approx(115.0 + 2 * 225.0)


def test_a_controller_takes_what_all_strings_give() -> None:
    """Imp as it is, Isc 1.25 times, power by the nameplates; a limit that is not given is none."""
    limits = {"max_input_current_a": 14.0, "max_array_power_w": 400.0}
    own = {"controllers": [controller(max_input_short_circuit_a=21.0, **limits)]}
    found = told(current_checks(*_with(own, (0,), (3,))))
    assert compared(found["controller-input-current"]) == pytest.approx((5.99 + 9.0, 14.0))
    assert compared(found["controller-short-circuit"]) == pytest.approx((1.25 * 16.4, 21.0))
    assert compared(found["controller-array-power"]) == pytest.approx((340.0, 400.0))
    usual = told(current_checks(*_with({}, (0,), (3,))))
    assert usual.keys().isdisjoint({"controller-input-current", "controller-array-power"})


def _with(more: dict[str, Any], *strings: tuple[int, ...]) -> tuple[ArrayDesign, ArrayFigures]:
    design = designed(**more)
    return design, array_of(design, *strings)


@pytest.mark.parametrize(("branch_a", "plug_a", "weaker_a"), [(30, 25, 25.0), (20, 25, 20.0)])
def test_the_weaker_of_branch_connector_and_plug_carries_all_strings(
    branch_a: float, plug_a: float, weaker_a: float
) -> None:
    """1.25 × 26.4 A through the last connector and its plug; 1.25 × 10 A through one string's."""
    own = {"connectors": {"branch_current_a": branch_a, "plug_current_a": plug_a}}
    design, array = _with(own, (0,), (3,), (4,))
    found = told(current_checks(design, array))
    assert compared(found["branch-connector-current"]) == pytest.approx((1.25 * 26.4, weaker_a))
    assert compared(found["connector-current"]) == pytest.approx((1.25 * 10.0, plug_a))
    assert found["connector-current"].subject == array.subject(array.strings[1])
    assert found["branch-connector-current"].subject == "one"


def test_a_string_alone_needs_no_branch_connector() -> None:
    design, array = _with({}, (3, 4))
    found = told(current_checks(design, array))
    assert "branch-connector-current" not in found
    assert compared(found["connector-current"]) == pytest.approx((12.5, 30.0))
    assert found["connector-current"].subject == "one"


@pytest.mark.parametrize(
    ("given", "by"),
    [
        ({}, ("practice", "practice")),
        ({"plug_current_a": 30.0}, ("given", "practice")),
        ({"branch_current_a": 30.0}, ("practice", "given")),
    ],
)
def test_ratings_that_are_given_are_told_as_given(given: dict[str, float], by: Any) -> None:
    found = told(current_checks(*_with({"connectors": given}, (0,), (1,))))
    basis = [found[f"{name}-current"].basis for name in ("connector", "branch-connector")]
    assert ["given" if "given" in one else "practice" for one in basis] == list(by)


def test_the_longest_string_decides_in_the_cold_and_the_lowest_in_the_heat() -> None:
    design, array = _with({"controllers": [controller(max_input_voltage_v=80.0)]}, (0,), (3, 4))
    found = told(voltage_checks(design, array))
    low, high = array.strings
    assert compared(found["cold-voc-controller"]) == pytest.approx((COLD * 60.0, 80.0))
    assert compared(found["cold-voc-table"]) == pytest.approx((high.cold_table_v, 80.0))
    assert found["touch-voltage"].demand == pytest.approx(COLD * 60.0)
    cold = {"cold-voc-controller", "cold-voc-table", "touch-voltage"}
    assert {found[code].subject for code in cold} == {array.subject(high)}
    # A battery of 14.4 V and the margins of a tracker.
    margins = array.controller
    run = found["hot-vmp-run"]
    assert compared(run) == pytest.approx((14.4 + margins.run_margin_v, low.hot_vmp_v))
    start = found["hot-voltage-start"]
    assert compared(start) == pytest.approx((14.4 + margins.start_margin_v, low.hot_voc_v))
    assert margins.run_margin_v < margins.start_margin_v
    assert run.subject == start.subject == array.subject(low)


def test_panels_in_series_keep_the_weakest_system_voltage() -> None:
    """Asked of panels in series alone; of several strings the one that is worst off is told."""
    assert "system-voltage" not in told(voltage_checks(*_with({}, (0,), (3,))))
    design, array = _with({}, (0, 1, 2), (3, 4), (5,))
    found = told(voltage_checks(design, array))["system-voltage"]
    # 3 × 22.9 V of 600 V against 2 × 30 V of 100 V.
    assert compared(found) == pytest.approx((COLD * 60.0, 100.0))
    assert found.subject == array.subject(array.strings[1])


def test_the_others_push_into_each_string_and_all_feed_what_is_plugged_in() -> None:
    """NFPA 70: 1.25 × Isc of all but the string itself."""
    design, array = _with({}, (0,), (3,), (4,))
    pushed = [fuse.reverse_a for fuse in string_fuses(design, array)]
    assert pushed == pytest.approx([1.25 * 20.0, 1.25 * 16.4, 1.25 * 16.4])
    found = told(fuse_checks(design, array))["string-reverse-current"]
    # The string of small panels, 25 A into 15 A, is worst off, and no fuse fits the large ones.
    assert compared(found) == pytest.approx((25.0, 15.0))
    assert found.subject == array.subject(array.strings[0])
    assert fuse_checks(*_with({}, (3, 4))) == []
    assert [fuse.reverse_a for fuse in string_fuses(*_with({}, (3, 4)))] == [0.0]


def test_a_fuse_is_told_where_one_is_needed_and_one_that_is_not_made_is_told_apart() -> None:
    codes = {"string-reverse-current", "string-fuse-rating"}
    assert told(fuse_checks(*_with({}, (0,), (1,)))).keys() == {"string-reverse-current"}
    assert told(fuse_checks(*_with({}, (0,), (3,), (4,)))).keys() == codes
    own = {"connectors": {"string_fuse_a": 15.5}}
    found = told(fuse_checks(*_with(own, (0,), (3,), (4,))))
    assert found.keys() == codes | {"device-listed"}
    assert found["device-listed"].demand == 15.5


def test_a_controller_that_feeds_back_pushes_into_a_string_alone() -> None:
    """A battery of 200 Ah: 20 kA, more than 25 A per Ah."""
    own = {"controllers": [controller(blocks_reverse_current=False)]}
    assert [f.reverse_a for f in string_fuses(*_with(own, (3, 4)))] == [20_000.0]


def powered(unlimited_w: float, drawn_w: float, charging_w: float) -> ArrayPower:
    return ArrayPower(*(np.array([one, 1.0]) for one in (unlimited_w, drawn_w, charging_w)), 1.0)


def test_full_sun_tells_what_sharing_and_the_rating_cost() -> None:
    """5 % of 200 W is lost to sharing; 190 W are drawn, and 150 W come out."""
    own = {"battery": battery(working_voltage_v=13.0)}
    own |= {"controllers": [controller(max_output_current_a=12.0)]}
    design, array = _with(own, (0, 3), (1, 4))
    wanted_w = 190.0 * array.controller.efficiency
    found = told(energy_checks(design, Loaded(array, powered(190.0, 190.0, 150.0), 200.0)))
    assert compared(found["mismatch-loss"]) == pytest.approx((0.05, 0.02))
    clipped = found["controller-output-current"]
    assert compared(clipped) == pytest.approx((wanted_w / 13.0, 12.0))
    assert clipped.parameters["lost_w"] == pytest.approx(wanted_w - 150.0)
    assert found["series-current-spread"].demand == pytest.approx(1.0 - 5.99 / 9.0)
    assert found.keys().isdisjoint({"parallel-voltage-spread", "pwm-loss"})
    assert Loaded(array, powered(210.0, 1.0, 1.0), 200.0).lost_to_sharing == 0.0


def test_the_most_uneven_string_and_the_furthest_voltages_are_told() -> None:
    design, array = _with({}, (0, 1), (2, 3))
    found = told(energy_checks(design, Loaded(array, powered(1.0, 1.0, 1.0), 1.0)))
    assert found["series-current-spread"].subject == array.subject(array.strings[1])
    assert found["parallel-voltage-spread"].demand == pytest.approx(1.0 - 38.4 / 44.2)
    assert found["parallel-voltage-spread"].subject == "one"


def test_a_panel_alone_shares_nothing() -> None:
    design, array = _with({}, (0,))
    assert told(energy_checks(design, Loaded(array, powered(1.0, 1.0, 1.0), 2.0))).keys() == {
        "controller-output-current"
    }
    for strings in (((0, 1),), ((0,), (1,))):
        design, array = _with({}, *strings)
        codes = told(energy_checks(design, Loaded(array, powered(1.0, 1.0, 1.0), 2.0))).keys()
        assert codes == {"controller-output-current", "mismatch-loss"}


def test_a_plain_controller_loses_what_it_cannot_draw() -> None:
    own = {"controllers": [controller(kind="pwm")]}
    design, array = _with(own, (0,))
    found = told(energy_checks(design, Loaded(array, powered(100.0, 70.0, 70.0), 100.0)))
    assert found["pwm-loss"].demand == pytest.approx(0.3)


@pytest.mark.parametrize(
    ("rated_a", "bears_a", "limit_a", "verdict"),
    [
        (25.0, None, 25.0, "pass"),
        (24.0, None, 24.0, "review"),
        (19.0, None, 19.0, "fail"),
        (19.0, 60.0, 19.0, "fail"),
        (60.0, 19.0, 19.0, "fail"),
    ],
)
def test_a_plain_controller_passes_on_all_that_its_array_gives(
    rated_a: float, bears_a: float | None, limit_a: float, verdict: str
) -> None:
    """Two strings of 10 A: 20 A, 25 A in strong sun, which PWM can not hold back at its rating."""
    own = controller(kind="pwm", max_output_current_a=rated_a, max_input_short_circuit_a=bears_a)
    design, array = _with({"controllers": [own]}, (3,), (4,))
    found = told(current_checks(design, array))["controller-short-circuit"]
    assert (found.verdict, compared(found)) == (verdict, pytest.approx((25.0, limit_a)))
    assert charging(design, [array]) == (25.0, 25.0)
    drawn = Loaded(array, powered(450.0, 400.0, rated_a * 13.3), 450.0)
    assert "controller-output-current" not in told(energy_checks(design, drawn))
    tracks = controller(max_output_current_a=rated_a, max_input_short_circuit_a=60.0)
    design, array = _with({"controllers": [tracks]}, (3,), (4,))
    found = told(current_checks(design, array))["controller-short-circuit"]
    assert (found.verdict, compared(found)) == ("pass", (25.0, 60.0))


def test_all_that_charges_is_held_against_the_battery() -> None:
    """Each controller by its rating or its array, and other chargers; 0.5 C where none is given."""
    small = [controller(max_output_current_a=5.0), controller("two", max_output_current_a=50.0)]
    design = designed(controllers=small, battery=battery(working_voltage_v=12.5))
    one, two = figures(design, Wired(0, ((3,), (4,)))), figures(design, Wired(1, ((0,),)))
    powered_a = two.controller.efficiency * 115.0 / 12.5
    # Strong sun gives a quarter more (NFPA 70, 690.8(A)(1)), and a rating holds it back.
    assert charging(design, [one, two]) == pytest.approx((5.0 + 1.25 * powered_a, 5.0 + powered_a))
    usual = charge_rate(designed(other_charging_a=30.0), ChargingCurrent(71.0, 69.0))
    assert compared(usual) == pytest.approx((101.0, 100.0))
    assert usual.verdict == "review"
    given = designed(battery=battery(max_charge_current_a=70.0), other_charging_a=1.0)
    for nameplate_a, verdict in ((68.9, "review"), (69.1, "fail")):
        judged = charge_rate(given, ChargingCurrent(71.0, nameplate_a))
        assert (compared(judged), judged.verdict) == ((72.0, 70.0), verdict)


def test_a_plain_switch_passes_strong_sun_on_whatever_its_rating() -> None:
    """In series with the panels it carries what they give (Kirchhoff's current law).

    They give 1.25 × Isc for hours: NFPA 70, 690.8(A)(1).
    """
    plain = [controller(kind="pwm", max_output_current_a=5.0)]
    design, array = _with({"controllers": plain}, (0,), (3,))
    assert charging(design, [array]).strong_a == pytest.approx(1.25 * (6.4 + 10.0))


def plugged_in(**more: Any) -> tuple[ArrayDesign, ArrayFigures]:
    """One large panel on the roof, two small ones in series beside it."""
    own = {"name": "suitcase", "controller": "one", "electrical": SMALL, "in_series": 2}
    own |= {"lead_m": 5.0, **more}
    return _with({"removable": [own]}, (3,))


def test_what_is_plugged_in_is_judged_beside_the_roof() -> None:
    design, array = plugged_in()
    assert array.removable is not None
    assert array.whole_i_sc_a == pytest.approx(16.4)
    found = told(removable_checks(design, array))
    assert compared(found["cold-voc-controller"]) == pytest.approx((COLD * 2 * 22.9, 100.0))
    assert compared(found["connector-current"]) == pytest.approx((1.25 * 6.4, 30.0))
    assert compared(found["string-reverse-current"]) == pytest.approx((12.5, 15.0))
    assert "string-fuse-rating" not in found, "15 A bear 12.5 A"
    assert found["parallel-voltage-spread"].demand == pytest.approx(1.0 - 25.0 / 38.4)
    assert found["plug-interlock"].verdict == "review"
    (fuse,) = string_fuses(design, array)
    assert fuse.reverse_a == pytest.approx(1.25 * 6.4)
    assert removable_checks(*_with({}, (3,))) == []
    other = told(removable_checks(*plugged_in(interlocked=True, plug_current_a=9.0)))
    assert other["plug-interlock"].verdict == "pass"
    assert compared(other["connector-current"]) == pytest.approx((8.0, 9.0))


def test_a_controller_takes_what_is_plugged_in_beside_what_all_strings_give() -> None:
    """225 W and 9.0 A on the roof, 230 W and 5.99 A beside it, 455 W ÷ 13.3 V into the battery."""
    design, array = plugged_in()
    limits = {"max_array_power_w": 300.0, "max_input_current_a": 12.0, "max_output_current_a": 99.0}
    own = {"removable": design.request.removable, "battery": battery(working_voltage_v=13.3)}
    design, array = _with({"controllers": [controller(**limits)], **own}, (3,))
    found = told(current_checks(design, array))
    assert compared(found["controller-array-power"]) == pytest.approx((455.0, 300.0))
    assert compared(found["controller-input-current"]) == pytest.approx((14.99, 12.0))
    given_a = array.controller.efficiency * 455.0 / 13.3
    assert charging(design, [array]) == pytest.approx((1.25 * given_a, given_a))
    design, array = _with({"controllers": [controller(kind="pwm")], **own}, (3,))
    assert charging(design, [array]).strong_a == pytest.approx(1.25 * 16.4)


def test_panels_in_series_that_are_plugged_in_keep_their_system_voltage() -> None:
    """Two panels of 22.9 V rated 40 V, in the cold; one alone never exceeds its own rating."""
    low = SMALL | {"max_system_voltage_v": 40.0}
    found = told(removable_checks(*plugged_in(electrical=low)))
    assert compared(found["system-voltage"]) == pytest.approx((COLD * 2 * 22.9, 40.0))
    assert found["system-voltage"].verdict == "fail"
    assert "system-voltage" not in told(removable_checks(*plugged_in(electrical=low, in_series=1)))
    three = told(removable_checks(*plugged_in(in_series=3)))["touch-voltage"]
    assert (three.verdict, three.demand) == ("review", pytest.approx(COLD * 3 * 22.9))


def test_the_nearest_limit_is_the_margin() -> None:
    """Limits of what may break; losses and habits are none. What fails leaves nothing."""
    design, array = _with({"controllers": [controller(max_input_short_circuit_a=99.0)]}, (3,), (4,))
    checks = current_checks(design, array)
    assert margin(checks) == pytest.approx(1.0 - 25.0 / 30.0), "the branch: 25 of 30 A"
    beyond = current_checks(*_with({}, (3,), (4,), (5,)))
    assert margin(beyond) == pytest.approx(1.0 - 37.5 / 30.0)
    assert margin([]) == 1.0
    assert margin(energy_checks(design, Loaded(array, powered(1.0, 1.0, 1.0), 9.0))) == 1.0
    unknown = judged(told(checks)["branch-connector-current"], "fail", None)
    assert margin([unknown]) == 0.0


def judged(check: Check, verdict: Any, used: float | None) -> Check:
    return structs.replace(check, verdict=verdict, utilisation_fraction=used)


def test_a_worse_verdict_comes_before_a_larger_use() -> None:
    (check, *_) = current_checks(*_with({}, (3,)))
    order = [("pass", 0.9), ("review", 0.2), ("review", 0.8), ("not-assessed", 0.1), ("fail", None)]
    found = [severity_of(judged(check, verdict, used)) for verdict, used in order]
    assert found == sorted(set(found))


def test_a_layout_is_as_near_to_its_limits_as_the_nearest_of_its_strings_and_arrays() -> None:
    own = {"controllers": [controller(max_input_voltage_v=65.0, max_input_short_circuit_a=20.0)]}
    design = designed(**own)
    low = Layout((Wired(0, ((0,), (3, 4))),), ())
    # 63 of 65 V in the cold; 1.25 × 16.4 A of 20 A is beyond.
    assert least_margin(design, low) == pytest.approx(1.0 - 1.25 * 16.4 / 20.0)
    roomy = designed(controllers=[controller(max_input_voltage_v=65.0)])
    assert least_margin(roomy, low) == pytest.approx(1.0 - COLD * 60.0 / 65.0)
    assert failing(roomy, low) == []


def test_ten_kelvin_colder_is_two_per_cent_more_voltage() -> None:
    """−0.2 %/K of 25 °C: 1.07 in place of 1.05, for every string and in every array."""
    warm = designed()
    for strings in (((0,),), ((0, 3),)):
        mild, cold = (array_of(design, *strings).strings[0] for design in (warm, colder(warm)))
        assert cold.cold_voc_v / mild.cold_voc_v == pytest.approx(1.07 / 1.05)
        assert cold.hot_vmp_v == mild.hot_vmp_v


def changed(design: ArrayDesign, *strings: tuple[int, ...]) -> dict[str, Any]:
    """What would change an array, by the change."""
    wired = Wired(0, strings)
    loaded = Loaded(figures(design, wired), powered(200.0, 180.0, 150.0), 200.0)
    return {one.change: one for one in sensitivities(design, colder(design), wired, loaded)}


def test_other_controllers_are_those_that_the_highest_string_and_full_sun_ask_for() -> None:
    """60 V in the cold, and 5 % of reserve kept; 180 W less what the controller takes at 13 V."""
    battery_own = battery(working_voltage_v=13.0)
    for most_v, verdict in ((100.0, "pass"), (66.4, "pass"), (66.2, "review")):
        own = [controller(max_input_voltage_v=most_v, max_output_current_a=13.0)]
        design = designed(controllers=own, battery=battery_own)
        found = changed(design, (0,), (3, 4))
        volts = found["other-controller-voltage"]
        assert (volts.demand, volts.capacity) == pytest.approx((COLD * 60.0 / 0.95, most_v))
        assert volts.verdict == verdict
        assert volts.text.parameters["longer_v"] == pytest.approx(COLD * 90.0 / 0.95)
        assert volts.text.code == "input-voltage-would-do"
    full_w = 180.0 * design.controllers[0].efficiency
    amps = found["other-controller-current"]
    assert (amps.demand, amps.capacity) == pytest.approx((full_w / 13.0, 13.0))
    assert (amps.verdict, amps.text.code) == ("review", "charging-current-more")
    assert amps.text.parameters["gain_w"] == pytest.approx(full_w - 150.0)


def test_what_is_plugged_in_asks_for_the_input_where_it_is_the_highest() -> None:
    """Three panels of 22.9 V beside one of 30 V: 68.7 V, 5 % more in the cold, 7 % 10 K below."""
    own = {"name": "suitcase", "controller": "one", "electrical": SMALL, "in_series": 3}
    own |= {"lead_m": 5.0}
    for most_v, verdict in ((73.0, "fail"), (74.0, "review"), (80.0, "pass")):
        limits = [controller(max_input_voltage_v=most_v)]
        found = changed(designed(controllers=limits, removable=[own]), (3,))
        cold = found["site-10-k-colder"]
        assert (cold.demand, cold.capacity) == pytest.approx((1.07 * 68.7, most_v))
        assert cold.verdict == verdict
        volts = found["other-controller-voltage"]
        assert volts.demand == pytest.approx(COLD * 68.7 / 0.95)
        assert volts.text.parameters["longer_v"] == pytest.approx(COLD * 68.7 / 0.95)


def test_a_change_is_told_by_the_rule_that_it_touches_most() -> None:
    """One more in series by the cold, one more string by what is worst of all currents."""
    design = designed(controllers=[controller(max_input_voltage_v=70.0)])
    found = changed(design, (3, 4))
    assert (found["one-more-in-series"].demand, found["one-more-in-series"].verdict) == (
        pytest.approx(COLD * 90.0),
        "fail",
    )
    assert found["site-10-k-colder"].demand == pytest.approx(1.07 * 60.0)
    for change, unit in (("one-more-in-series", "V"), ("one-more-string", "A")):
        assert found[change].text.parameters["unit"] == found[change].unit == unit
    more = found["one-more-string"]
    # Two strings of 10 A: 12.5 A pushed into 25 A; 25 A of the branch's 30 A are nearer.
    assert (more.demand, more.capacity) == pytest.approx((25.0, 30.0))


def test_what_cannot_be_assessed_is_told_as_the_least() -> None:
    """Colder than the table reaches, and no coefficient; a fuse that is not made has no limit."""
    bare = {k: v for k, v in SMALL.items() if k != "beta_voc_fraction_per_c"}
    icy = MILD | {"lowest_ambient_c": -45.0}
    types = [panels("small", 3, bare), panels("large", 3, LARGE)]
    found = changed(settle(request(types, site=icy)), (0,))
    volts = found["other-controller-voltage"]
    assert (volts.verdict, volts.text.code) == ("not-assessed", "input-voltage-least")
    assert changed(settle(request(types, site=icy)), (3,))["other-controller-voltage"].verdict == (
        "pass"
    )
    unmade = designed(connectors={"string_fuse_a": 21.5, "branch_current_a": 90.0})
    more = changed(unmade, (3,), (4,), (5,))["one-more-string"]
    assert (more.verdict, more.demand, more.capacity) == ("fail", 21.5, 0.0)
    assert more.text.code == "could-not-be-assessed"


@pytest.mark.parametrize("rank_by", ["sun-power", "energy"])
def test_panels_in_the_same_light_go_into_one_string(rank_by: str) -> None:
    """Half of the light on 0 and 2: paired they cost half of one string, apart half of both."""
    dim = [{"panel": f"small-{n}", "irradiance_fraction": 0.5} for n in (1, 3)]
    shade = [{"name": "mast", "weight_fraction": 1.0, "irradiance_w_m2": 1000.0}]
    shade[0] |= {"cell_temperature_c": 45.0, "light": dim}
    types = [panels("small", 4, SMALL)]
    target = {"rank_by": rank_by}
    design = settle(request(types, site=MILD, shade=shade, target=target))
    evaluator = Evaluator(design, panel_curves(design))
    apart, paired = (
        Layout((Wired(0, strings),), ()) for strings in (((0, 1), (2, 3)), ((0, 2), (1, 3)))
    )
    found = improved(design, evaluator, [apart])
    if rank_by == "sun-power":
        assert found == [], "full sun lights all alike"
        return
    strings = {frozenset(s) for s in found[-1].arrays[0].strings}
    assert strings == {frozenset({0, 2}), frozenset({1, 3})}
    low, high = evaluator.objective([apart, paired], False)
    assert high > low
    assert improved(design, evaluator, [paired]) == []


def ranking(rank_by: Any, *rows: tuple[bool, float, float, float, int]) -> list[int]:
    """Order of layouts given by whether they fail, power, margin, power in full sun and parts."""
    names = ("fails", "weighted_w", "margin", "sun_w", "pieces")
    listed: list[Any] = [SimpleNamespace(**dict(zip(names, row, strict=True))) for row in rows]
    return [listed.index(one) for one in ranked(listed, rank_by)]


def test_what_passes_comes_first_then_power_then_margin_and_parts() -> None:
    near = 100.0 * (1.0 - 0.5 * SAME_FRACTION)
    good, equal = (False, 100.0, 0.1, 50.0, 9), (False, near, 0.3, 60.0, 9)
    least, failing_ = (False, 50.0, 0.9, 90.0, 1), (True, 200.0, -0.2, 200.0, 1)
    fewer = (False, near, 0.3, 60.0, 5)
    assert ranking("energy", failing_, least, good, equal, fewer) == [4, 3, 2, 1, 0]
    assert ranking("sun-power", failing_, good, equal, least) == [3, 2, 1, 0]
    assert ranking("margin", failing_, good, equal, least) == [3, 2, 1, 0]
    # Margins count by the tenth, then parts, then what is left of the margin.
    rows = [(False, 100.0, margin_, 50.0, parts) for margin_, parts in ((0.27, 9), (0.34, 9))]
    assert ranking("energy", *rows, (False, near, 0.26, 50.0, 5), (False, near, 0.4, 0.0, 20)) == [
        3, 2, 1, 0,
    ]  # fmt: skip
    hundredth = [
        (False, watts, margin_, 50.0, 9) for watts, margin_ in ((90.0, 0.301), (80.0, 0.304))
    ]
    assert ranking("margin", *reversed(hundredth), (False, 1.0, 0.31, 1.0, 9)) == [2, 1, 0]
    worse = (True, 200.0, -0.5, 200.0, 1)
    assert ranking("energy", worse, failing_, good) == [2, 1, 0]
