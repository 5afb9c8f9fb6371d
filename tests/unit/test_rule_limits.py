"""Every rule on either side of its limit and exactly on it; the limits as the trade states them."""

from math import inf

import pytest

from sunhitch.types.mount import RoofSurface
from sunhitch_service.engine.rules import mount, roof
from sunhitch_service.engine.rules.arrays import (
    mismatch_loss,
    parallel_voltage_spread,
    series_current_spread,
    target_power,
)
from sunhitch_service.engine.rules.batteries import (
    charge_rate,
    cold_charging,
    cold_rate,
    discharge,
    frost,
    hot_charging,
    loads_served,
)
from sunhitch_service.engine.rules.cells import hot_cell, reverse_voltage
from sunhitch_service.engine.rules.connectors import (
    branch_connector_current,
    connector_conductor,
    connector_current,
    plug_interlock,
)
from sunhitch_service.engine.rules.controllers import (
    array_power,
    fuse_at_controller,
    input_current,
    maximum_current_a,
    output_current,
    pwm_loss,
    rating_loss,
    short_circuit,
    tracker_loss,
    window_loss,
)
from sunhitch_service.engine.rules.limits import limit
from sunhitch_service.engine.rules.readings import (
    enough_light,
    insulation,
    insulation_row,
    is_weak,
    measured,
    polarity,
    taken_together,
    yearly_loss,
)
from sunhitch_service.engine.rules.rule import rule
from sunhitch_service.engine.rules.strings import overcurrent_protection, panels_wired
from sunhitch_service.engine.rules.table import unit_of
from sunhitch_service.engine.rules.voltages import (
    cold_voc_basis,
    cold_voc_controller,
    cold_voc_table,
    hot_vmp_run,
    hot_voltage_start,
    largest_series_count,
    system_voltage,
    system_voltage_in_light,
    touch_voltage,
)

NEC = "nec-2023"

# A rule as a function of its demand, the most that passes, the verdict beyond.
AT_MOST = {
    # shares and distances of common practice
    "mismatch-loss": (lambda x: mismatch_loss("a", x), 0.02, "review"),
    "series-current-spread": (lambda x: series_current_spread("a", x), 0.05, "review"),
    "parallel-voltage-spread": (lambda x: parallel_voltage_spread("a", x), 0.05, "review"),
    "tracker-loss": (lambda x: tracker_loss(x, 5.0), 0.02, "review"),
    "controller-rating": (rating_loss, 0.01, "review"),
    "controller-window": (window_loss, 0.02, "review"),
    "touch-voltage": (lambda x: touch_voltage("a", x), 60.0, "review"),
    "crown-under-frame": (lambda x: roof.crown_under_frame("a", x), 0.005, "review"),
    "obstacle-shadow": (lambda x: roof.obstacle_shadow("a", "vent", x), 30.0, "review"),
    # against a rating that is given
    "battery-charge-rate": (lambda x: charge_rate(x, x, 50.0, None), 50.0, "fail"),
    "battery-charge-rate, usual": (lambda x: charge_rate(x, x, 50.0, 0.5), 50.0, "review"),
    "battery-discharge": (lambda x: discharge(x, 1200.0), 1200.0, "fail"),
    "battery-cold-rate": (lambda x: cold_rate(x, 20.0, 1.0, 10.0), 20.0, "review"),
    "connector-current": (lambda x: connector_current("a", x, 30.0, given=True), 30.0, "fail"),
    "connector-conductor": (
        lambda x: connector_conductor("10 mm²", x, 6.0, given=True), 6.0, "fail"
    ),
    "connector-conductor, usual": (
        lambda x: connector_conductor("10 mm²", x, 6.0, given=False), 6.0, "review"
    ),
    "controller-input-current": (lambda x: input_current("a", x, 20.0), 20.0, "review"),
    "controller-array-power": (lambda x: array_power("a", x, 400.0), 400.0, "fail"),
    "controller-output-current": (lambda x: output_current("a", x, 30.0, 9.0), 30.0, "review"),
    "controller-fuse": (lambda x: fuse_at_controller("a", x, 60.0, NEC), 60.0, "fail"),
    "cable-length": (lambda x: roof.cable_length(x, 4.0), 4.0, "fail"),
    "overcurrent-protection": (
        lambda x: overcurrent_protection(x, 40.0, 30.0, "post", NEC), 40.0, "fail"
    ),
    "cold-voc-table": (lambda x: cold_voc_table("a", x, 100.0, NEC), 100.0, "review"),
    "system-voltage": (lambda x: system_voltage("a", x, 600.0, "coefficient", NEC), 600.0, "fail"),
    "system-voltage-in-light": (lambda x: system_voltage_in_light("a", x, 99.0, 4), 99.0, "fail"),
    "bond-gap": (lambda x: mount.bond_gap(x, 0.002, 0.1, waves=False), 0.002, "fail"),
    "panel-step": (lambda x: mount.stepped_on(x, 900.0), 900.0, "fail"),
    "foot-below-frame": (lambda x: mount.foot_below_frame(5, x, 0.15, 2), 0.15, "review"),
    "hail": (lambda x: mount.hail(x, 0.025), 0.025, "fail"),
}  # fmt: skip

# The same for what must be there: the least that passes, the verdict below.
AT_LEAST = {
    "target-power": (lambda x: target_power(x, 300.0), 300.0, "fail"),
    "cure-time": (lambda x: mount.cure_time(x, 72.0), 72.0, "fail"),
    "wood-depth": (lambda x: mount.wood_depth(x, 0.02), 0.02, "fail"),
    "wood-spacing": (lambda x: mount.wood_spacing(x, 0.025), 0.025, "fail"),
    "enough-light": (lambda x: enough_light("a", x, sun_is_down=False), 400.0, "review"),
    "hot-voltage-start": (lambda x: hot_voltage_start("a", x, 18.0, 1, 20.0), 20.0, "review"),
    "readings-together": (
        lambda x: taken_together("d", x, 0.3, "pass", "dirt", "wash"), 0.3, None
    ),
    "panels-placed": (lambda x: roof.panels_placed("a", x, 4), 4.0, "fail"),
    "insulation": (lambda x: insulation("a", x, 500.0, 300.0), 1e6, "fail"),
}  # fmt: skip


def cases(table):
    return [pytest.param(*row, id=code) for code, row in table.items()]


@pytest.mark.parametrize(("judge", "most", "beyond"), cases(AT_MOST))
def test_no_more_than_the_limit(judge, most, beyond):
    for demand, verdict in [(0.5 * most, "pass"), (most, "pass"), (1.0001 * most, beyond)]:
        found = judge(demand)
        assert found.verdict == verdict
        assert (found.demand, found.capacity) == (demand, pytest.approx(most))
        assert found.utilisation_fraction == pytest.approx(demand / most)
        assert bool(found.remedy) == (found.verdict != "pass")
        assert found.unit == unit_of(found.code)


@pytest.mark.parametrize(("judge", "least", "below"), cases(AT_LEAST))
def test_no_less_than_the_limit(judge, least, below):
    for present, verdict in [(2.0 * least, "pass"), (least, "pass"), (0.9999 * least, below)]:
        found = judge(present)
        assert found.verdict == (verdict or "pass")
        assert (found.demand, found.capacity) == (pytest.approx(least), present)
        assert found.utilisation_fraction == pytest.approx(least / present)


def test_rounding_is_no_excess_and_a_percentage_is():
    told = rule("controller-input-current", wanted_a=1.0)
    assert told.at_most(10.0 * (1.0 + 1e-12), 10.0).verdict == "pass"
    assert told.at_most(10.0 * (1.0 + 1e-6), 10.0).verdict == "review"
    assert told.at_least(10.0 * (1.0 - 1e-12), 10.0).verdict == "pass"
    assert told.at_most(9.0 * (1.0 + 1e-12), 10.0, review_above=0.9).verdict == "pass"


def test_as_good_as_nothing_allowed_has_no_utilisation():
    """Neither a capacity of nothing nor one a thousand million times too small divides."""
    told = rule("controller-input-current", wanted_a=1.0)
    for demand, capacity, verdict, used in [
        (0.0, 0.0, "pass", 0.0),
        (1.0, 0.0, "review", None),
        (1.0, -1.0, "review", None),
        (-2.0, -1.0, "pass", 0.0),
        (1.0, 1e-12, "review", None),
        (1.0, 1e-8, "review", 1e8),
        (1e9, 1.0, "review", 1e9),
        (1.05e9, 1.0, "review", None),
    ]:
        found = told.at_most(demand, capacity)
        assert (found.verdict, found.utilisation_fraction) == (
            verdict,
            used and pytest.approx(used),
        )


# --- arrays, controllers, batteries -------------------------------------------------------------


def test_what_is_missing_and_what_is_lost_is_told():
    assert target_power(250.0, 300.0).parameters == {"missing_w": 50.0}
    assert discharge(3000.0, 1200.0).parameters["times"] == pytest.approx(2.5)
    assert mismatch_loss("a", 0.03).parameters == {"lost_fraction": 0.03}


def test_usual_figures_that_others_ask_for():
    """Designers keep 5 to 10 % of voltage; common plugs and branch connectors bear 30 A."""
    assert limit("voltage-reserve") == 0.05
    assert limit("branch-current") == limit("plug-current") == 30.0


def test_strong_sun_is_a_quarter_more():
    """NFPA 70, 690.8(A)(1): 1.25 × Isc."""
    assert maximum_current_a(8.0) == 10.0


@pytest.mark.parametrize(
    ("i_sc_a", "input_a", "verdict", "used"),
    [
        (8.0, 10.0, "pass", 1.0),  # 1.25 × 8 = 10
        (8.01, 10.0, "review", 1.00125),  # only strong sun exceeds it
        (10.0, 10.0, "review", 1.25),
        (10.01, 10.0, "fail", 1.25125),
        (8.0, None, "not-assessed", None),
    ],
)
def test_short_circuit_of_an_array(i_sc_a, input_a, verdict, used):
    for passed_on, fewer in [(False, "fewer"), (True, "switch")]:
        found = short_circuit("a", i_sc_a, input_a, NEC, passed_on=passed_on)
        assert (found.verdict, found.demand) == (verdict, pytest.approx(1.25 * i_sc_a))
        assert found.utilisation_fraction == (used and pytest.approx(used))
        told = "unknown" if input_a is None else fewer
        assert found.remedies == ([] if verdict == "pass" else [f"controller-short-circuit.{told}"])


@pytest.mark.parametrize(
    ("lost", "verdict"), [(0.1, "pass"), (0.101, "review"), (0.4, "review"), (0.401, "fail")]
)
def test_pwm_loss_has_two_limits(lost, verdict):
    """A tenth is worth a look, two fifths mark the wrong class of panel: common practice."""
    assert pwm_loss("a", lost).verdict == verdict


@pytest.mark.parametrize(
    ("lost", "verdict"), [(0.02, "pass"), (0.021, "review"), (0.3, "review"), (0.301, "fail")]
)
def test_window_loss_has_two_limits(lost, verdict):
    found = window_loss(lost)
    assert (found.verdict, found.capacity) == (verdict, 0.02)


def test_pwm_is_not_told_more_panels_in_series():
    """A longer string only has more voltage to lose."""
    assert window_loss(0.1).remedies == ["controller-window.tracking"]
    assert window_loss(0.1, pwm=True).remedies == ["controller-window.pwm"]


@pytest.mark.parametrize(
    ("served_wh", "verdict"),
    [
        (1000.0, "pass"),
        (1000.0 - 5e-7, "pass"),
        (999.9, "review"),
        (990.0, "review"),
        (989.9, "fail"),
    ],
)
@pytest.mark.parametrize("one_in_ten", [False, True])
def test_a_hundredth_of_the_loads_may_lack_before_it_fails(served_wh, verdict, one_in_ten):
    found = loads_served(1000.0, served_wh, 12.0, 3.0, one_in_ten=one_in_ten)
    assert (found.verdict, found.demand, found.capacity) == (verdict, 1000.0, served_wh)
    assert found.utilisation_fraction == pytest.approx(1000.0 / served_wh)
    if verdict != "pass":
        assert found.remedies == [f"loads-served.{'one-in-ten' if one_in_ten else 'given'}"]
        assert found.parameters["lacking_kwh"] == pytest.approx((1000.0 - served_wh) / 1000.0)
    assert loads_served(1000.0, 900.0, 1.0, 1.0).remedies == ["loads-served.given"]


@pytest.mark.parametrize(("lost_wh", "verdict"), [(0.0, "pass"), (1e-7, "pass"), (1.0, "review")])
def test_sun_that_a_frozen_battery_may_not_take(lost_wh, verdict):
    found = frost(lost_wh)
    assert (found.verdict, found.demand, found.capacity) == (verdict, lost_wh, 0.0)
    assert found.parameters == ({} if verdict == "pass" else {"lost_kwh": 0.001})


@pytest.mark.parametrize(
    ("held_by", "verdict"),
    [
        (None, "not-assessed"),
        ("unprotected", "fail"),
        ("lock-out", "pass"),
        ("heater", "pass"),
    ],
)
def test_what_keeps_charge_from_a_frozen_battery(held_by, verdict):
    found = cold_charging(-15.0, 0.0, held_by)
    assert (found.verdict, found.demand, found.capacity) == (verdict, 0.0, -15.0)
    name = {"not-assessed": "unknown", "fail": "unprotected"}.get(verdict)
    assert found.remedies == ([f"battery-cold-charging.{name}"] if name else [])


@pytest.mark.parametrize(
    ("hottest_c", "usual", "verdict"),
    [
        (45.0, True, "pass"),
        (45.0, False, "pass"),
        (45.1, True, "review"),
        (45.1, False, "fail"),
    ],
)
def test_a_battery_hotter_than_it_may_be_charged(hottest_c, usual, verdict):
    found = hot_charging(hottest_c, 45.0, usual=usual)
    assert (found.verdict, found.demand, found.capacity) == (verdict, hottest_c, 45.0)
    assert (found.basis == "given: Battery data sheet") != usual
    named = "usual" if usual else "given"
    assert found.remedies == ([] if verdict == "pass" else [f"battery-hot-charging.{named}"])


def test_whose_limit_on_charging_it_is():
    given, usual = charge_rate(60.0, 51.0, 50.0, None), charge_rate(60.0, 51.0, 50.0, 0.5)
    assert given.remedies == ["battery-charge-rate.given"]
    assert given.basis == "given: Battery data sheet"
    assert usual.remedies == ["battery-charge-rate.usual"]
    assert usual.parameters == {"limit_a": 50.0, "rate_per_h": 0.5}


def test_a_charging_current_that_only_strong_sun_gives_is_a_review():
    for found in (charge_rate(60.0, 50.0, 50.0, None), charge_rate(60.0, 50.0, 50.0, 0.5)):
        assert (found.verdict, found.demand) == ("review", 60.0)
        assert found.remedies[0] == "battery-charge-rate.strong-sun"


# --- cells and connectors -----------------------------------------------------------------------


def test_heat_in_a_cell_has_two_limits():
    """25 W/(m²·K) on 0.02 m² is 0.5 W/K: from 45 °C to 180 °C 67.5 W. Glued it is 0.3 W/K: from
    45 °C to 85 °C 12 W (15 W/(m²·K), insulated, in pvlib's `TEMPERATURE_MODEL_PARAMETERS`)."""
    for heat_w, verdict in [(12.0, "pass"), (12.1, "review"), (67.5, "review"), (67.6, "fail")]:
        found = hot_cell("a", heat_w, 0.02, 45.0)
        assert (found.verdict, found.capacity) == (verdict, pytest.approx(67.5))
        assert found.parameters == pytest.approx(
            {"area_cm2": 200.0, "others_c": 45.0, "warm_c": 85.0, "solder_c": 180.0}
            | {"reached_c": 45.0 + heat_w / 0.5, "glued_c": 45.0 + heat_w / 0.3}
            | {"careful_w": 12.0, "allowed_w": 67.5}
            | ({} if verdict == "pass" else {"heat_w": heat_w})
        )
    # the others are hot already: any heat is too much
    assert hot_cell("a", 0.1, 0.02, 100.0).verdict == "review"
    assert hot_cell("a", 0.1, 0.02, 100.0).parameters["careful_w"] == 0.0
    assert hot_cell("a", 0.1, 0.02, 181.0).verdict == "fail"


@pytest.mark.parametrize(
    ("others", "verdict", "positions"),
    [(23, "pass", None), (24, "pass", None), (25, "review", 24.0)],
)
def test_the_others_that_drive_a_dark_cell_against_its_breakdown(others, verdict, positions):
    """At 0.625 V each, 24 others give 15 V."""
    found = reverse_voltage("a", others * 0.625, 0.625, 15.0)
    assert (found.verdict, found.demand) == (verdict, pytest.approx(others * 0.625))
    assert found.parameters.get("positions") == positions
    assert reverse_voltage("a", 1.4, 0.7, 0.6).parameters["positions"] == 1.0


def test_plugs_that_other_plugs_could_share():
    alone = connector_current("a", 31.0, 30.0, given=True)
    assert alone.basis == "iec-62852: Rated current, as given"
    assert alone.remedies == ["connector-current.larger"]
    joined = connector_current("a", 31.0, 30.0, given=False, joined=True)
    assert joined.remedies == ["connector-current.larger", "connector-current.split"]
    assert joined.basis.startswith("practice: ")


@pytest.mark.parametrize(
    ("i_sc_a", "string_a", "verdict", "fitting"),
    [
        (24.0, 8.0, "pass", None),  # 1.25 × 24 = 30 A
        (24.1, 8.0, "fail", 3.0),  # three such strings give 30 A
        (25.0, 12.0, "fail", 2.0),
        (25.0, 12.1, "fail", None),  # one alone gives 15.1 A: no two fit
    ],
)
def test_branches_within_the_rating_of_the_last(i_sc_a, string_a, verdict, fitting):
    found = branch_connector_current("a", i_sc_a, string_a, 30.0, given=True)
    assert (found.verdict, found.demand) == (verdict, pytest.approx(1.25 * i_sc_a))
    assert found.parameters.get("fitting") == fitting
    assert found.basis == "given: Rating of the connector"
    if verdict == "fail":
        assert found.remedies == [f"branch-connector-current.{'fewer' if fitting else 'none'}"]
    usual = branch_connector_current("a", 1.0, 1.0, 30.0, given=False)
    assert usual.basis.startswith("practice: ")


def test_a_plug_that_people_pull():
    assert plug_interlock("a", 8.0, interlocked=True).verdict == "pass"
    found = plug_interlock("a", 8.0, interlocked=False)
    assert (found.verdict, found.parameters) == ("review", {"live_a": 8.0})


# --- voltages -----------------------------------------------------------------------------------


def test_panels_in_series_below_a_limit():
    """25 V each: four make 100 V, and rounding takes none away."""
    assert [largest_series_count(25.0, limit) for limit in (99.9, 100.0, 124.9)] == [3, 4, 4]
    assert largest_series_count(0.1, 0.3) == 3  # 0.3 / 0.1 is below 3 in binary


@pytest.mark.parametrize(
    ("voltage_v", "in_series", "verdict", "remedy"),
    [
        (95.0, 2, "pass", None),
        (95.1, 2, "review", "reserve"),
        (100.0, 2, "review", "reserve"),
        (100.1, 2, "fail", "fewer"),
        (100.1, 1, "fail", "input"),
    ],
)
def test_cold_voltage_with_a_reserve_of_a_twentieth(voltage_v, in_series, verdict, remedy):
    """What is told instead keeps the reserve too: 100.1 V is 95 % of 105.4 V, so 110 V."""
    found = cold_voc_controller("a", voltage_v, 100.0, in_series, "coefficient", NEC, 0.05)
    assert (found.verdict, found.demand, found.capacity) == (verdict, voltage_v, 100.0)
    assert found.remedies == ([f"cold-voc-controller.{remedy}"] if remedy else [])
    if remedy == "fewer":
        assert found.parameters == {"fitting": 1.0, "input_v": 110.0}
    if remedy == "input":
        assert found.parameters == {"input_v": 110.0}


@pytest.mark.parametrize(
    ("voltage_v", "verdict", "remedy"),
    [(50.0, "not-assessed", []), (100.0, "not-assessed", []), (100.1, "fail", ["-fewer"])],
)
def test_beyond_the_table_a_voltage_rules_out_and_never_admits(voltage_v, verdict, remedy):
    for found in (
        cold_voc_controller("a", voltage_v, 100.0, 2, "beyond-table", NEC, 0.05),
        system_voltage("a", voltage_v, 100.0, "beyond-table", NEC),
    ):
        assert (found.verdict, found.demand) == (verdict, voltage_v)
        assert found.utilisation_fraction == pytest.approx(voltage_v / 100.0)
        assert found.remedies == [f"{found.code}.beyond-table{each}" for each in [*remedy, ""]]
        # NFPA 70, Table 690.7(A): the last band ends at -40 °C.
        assert found.parameters == {"coldest_c": -40.0, "voltage_v": voltage_v}


def test_what_a_cold_voltage_rests_on():
    """The coefficient is in the clause, the factors in the table of NFPA 70."""
    clause, factors = cold_voc_basis("coefficient", NEC), cold_voc_basis("table", NEC)
    assert "690.7(A)(1)" in clause.reference
    assert "690.7(A)" in factors.reference
    assert factors.reference != clause.reference
    assert cold_voc_basis("beyond-table", NEC) == factors
    assert "6.2.1" in cold_voc_basis("table", "iec").reference


def test_a_rating_that_is_not_known_is_not_assessed():
    for found in (
        system_voltage("a", 50.0, None, "coefficient", NEC),
        system_voltage_in_light("a", 50.0, None, 2),
    ):
        assert (found.verdict, found.demand, found.capacity) == ("not-assessed", 50.0, None)
        assert (found.unit, found.subject) == ("V", "a")
        assert found.remedies == [f"{found.code}.unknown"]
    for found in (mount.stepped_on(900.0, None), mount.hail(0.025, None)):
        assert (found.verdict, found.remedies) == ("not-assessed", [f"{found.code}.unknown"])


@pytest.mark.parametrize(("in_series", "fitting"), [(2, 1.0), (5, 4.0), (1, 1.0)])
def test_how_many_in_series_stay_within_the_system_voltage(in_series, fitting):
    """Beyond by a tenth: of five 22 V panels four stay within 100 V, never less than one."""
    found = system_voltage_in_light("a", 110.0, 100.0, in_series)
    assert (found.verdict, found.parameters) == ("fail", {"fitting": fitting})


@pytest.mark.parametrize(
    ("vmp_v", "verdict"), [(24.0, "pass"), (23.9, "review"), (19.0, "review"), (18.9, "fail")]
)
def test_a_hot_string_may_miss_a_charging_battery_by_a_twentieth(vmp_v, verdict):
    """Full battery 24 V; one that still charges 20 V, a twentieth less is 19 V."""
    found = hot_vmp_run("a", vmp_v, 2, 24.0, 20.0)
    assert (found.verdict, found.demand, found.capacity) == (verdict, 24.0, vmp_v)
    if verdict != "pass":
        assert found.remedies == ["hot-vmp-run.short", "hot-vmp-run.longer-where-borne"]
        assert found.parameters["fewest"] == 3.0


def test_how_many_in_series_reach_a_voltage():
    """30 V of 10 V each: three; of 9.9 V each four; of none no number does."""
    for each_v, fewest in [(10.0, 3.0), (9.9, 4.0)]:
        run = hot_vmp_run("a", each_v * 2, 2, 30.0, 30.0)
        start = hot_voltage_start("a", 1.0, each_v * 2, 2, 30.0)
        assert run.parameters["fewest"] == start.parameters["fewest"] == fewest
        assert start.remedies == ["hot-voltage-start.late", "hot-voltage-start.longer-where-borne"]
    dead = hot_vmp_run("a", 0.0, 1, 30.0, 30.0)
    assert dead.remedies == ["hot-vmp-run.short", "hot-vmp-run.higher"]
    assert "fewest" not in dead.parameters
    faint = hot_vmp_run("a", 0.05, 1, 30.0, 30.0)
    assert faint.remedies == ["hot-vmp-run.short", "hot-vmp-run.longer-where-borne"]
    assert faint.parameters["fewest"] == 600.0
    late = hot_voltage_start("a", 1.0, 0.0, 1, 30.0)
    assert late.remedies == ["hot-voltage-start.late", "hot-voltage-start.higher"]


def test_a_longer_string_is_told_only_where_the_controller_bears_it():
    """30 V of 10 V each take three; a controller that bears two wants other panels."""
    for most, remedy in [(None, "longer-where-borne"), (3, "longer"), (2, "too-long")]:
        run = hot_vmp_run("a", 20.0, 2, 30.0, 30.0, most)
        start = hot_voltage_start("a", 1.0, 20.0, 2, 30.0, most)
        cooler = ["hot-vmp-run.cooler"] if remedy == "too-long" else []
        assert run.remedies == ["hot-vmp-run.short", f"hot-vmp-run.{remedy}", *cooler]
        assert start.remedies == ["hot-voltage-start.late", f"hot-voltage-start.{remedy}"]


def test_a_panel_that_nothing_connects():
    for wired, verdict in [(4, "pass"), (3, "review")]:
        found = panels_wired(wired, 4, ["D"])
        assert (found.verdict, found.demand, found.capacity) == (verdict, 4.0, float(wired))
        assert found.utilisation_fraction == pytest.approx(4 / wired)
        assert found.remedies == ([] if verdict == "pass" else ["panels-wired.unused"])
    others = panels_wired(3, 4, ["D"], "cold-voc-controller"), panels_wired(3, 4, ["D"], "")
    assert {one.remedy for one in others} == {found.remedy}
    assert panels_wired(3, 4, ["D"], "battery-charge-rate").remedies == ["panels-wired.charging"]


# --- readings -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("quantity", "share", "weak_w_m2"),
    [("voltage", 0.97, 50.0), ("current", 0.95, 200.0), ("power", 0.95, 200.0)],
)
def test_a_reading_against_what_is_normal(quantity, share, weak_w_m2):
    """Of 100 expected ±2, `share` is normal: below it by more than 2 is a shortfall."""
    least = 100.0 * share - 2.0

    def judged(value, light=800.0, fault=True):
        return measured("a", quantity, value, 100.0, 2.0, 106.0, light, is_fault=fault)

    def remedies(found):
        return [code.removeprefix(f"measured-{quantity}.") for code in found.remedies]

    for value, verdict, remedy in [
        (100.0, "pass", []),
        (least, "pass", []),
        (least - 0.01, "fail", ["short"]),
        (0.0, "fail", ["short"]),
        (0.05, "fail", ["short"]),
        (-5.0, "fail", ["swapped"]),
        (106.0, "pass", []),
        (106.01, "review", ["beyond"]),
    ]:
        found = judged(value)
        assert (found.verdict, remedies(found)) == (verdict, remedy)
        assert (found.demand, found.capacity) == (pytest.approx(least), max(0.0, value))
        assert found.parameters["normal_fraction"] == share
    assert judged(least - 0.01, fault=False).verdict == "review"
    assert remedies(judged(least - 0.01, fault=False)) == ["unsure"]
    short = judged(80.0)
    assert short.utilisation_fraction == pytest.approx(least / 80.0)
    assert short.parameters["share_fraction"] == pytest.approx(0.8)
    # in too little light nothing is judged
    assert judged(50.0, light=weak_w_m2).verdict == "fail"
    weak = judged(50.0, light=weak_w_m2 - 0.1)
    assert (weak.verdict, weak.demand, remedies(weak)) == ("not-assessed", None, ["weak-light"])
    assert is_weak(quantity == "voltage", weak_w_m2 - 0.1)
    assert not is_weak(quantity == "voltage", weak_w_m2)


def test_a_reading_where_nothing_or_hardly_anything_is_expected():
    """An expected nothing is no share; an uncertainty beyond it asks for nothing."""
    none = measured("a", "current", 2.0, 0.0, 0.5, 1.0, 800.0, is_fault=True)
    assert none.verdict == "review"
    assert none.parameters["share_fraction"] == 0.0
    hardly = measured("a", "current", 0.0, 1.0, 2.0, 4.0, 800.0, is_fault=True)
    assert (hardly.verdict, hardly.demand) == ("pass", 0.0)


@pytest.mark.parametrize(
    ("light", "verdict"),
    [(399.0, "review"), (200.0, "review"), (199.0, "not-assessed"), (0.0, "not-assessed")],
)
@pytest.mark.parametrize("down", [False, True])
def test_light_to_judge_by(light, verdict, down):
    found = enough_light("a", light, sun_is_down=down)
    assert (found.verdict, found.demand, found.capacity) == (verdict, 400.0, light)
    names = ["repeat", "night"] if down else ["repeat"]
    assert found.remedies == [f"enough-light.{name}" for name in names]


@pytest.mark.parametrize(
    ("voltage_v", "verdict", "remedy"),
    [
        (1.0, "pass", None),
        (0.99, "not-assessed", "weak"),
        (0.0, "not-assessed", "weak"),
        (-0.99, "not-assessed", "swapped"),
        (-1.0, "fail", "swapped"),
    ],
)
def test_polarity_is_told_from_a_volt_on(voltage_v, verdict, remedy):
    found = polarity("a", voltage_v)
    assert found.verdict == verdict
    assert found.remedies == ([f"polarity.{remedy}"] if remedy else [])


# IEC 62446-1, Table 1, from memory: system voltage to [V], test voltage [V], least resistance [Ω].
INSULATION = [(120.0, 250.0, 0.5e6), (500.0, 500.0, 1e6), (1000.0, 1000.0, 1e6)]


@pytest.mark.parametrize(("to_v", "test_v", "least_ohm"), INSULATION)
def test_insulation_by_system_voltage(to_v, test_v, least_ohm):
    for resistance, tested_at, verdict, remedy in [
        (least_ohm, test_v, "pass", None),
        (least_ohm, test_v - 1.0, "not-assessed", "repeat"),
        (0.99 * least_ohm, test_v, "fail", "leak"),
        (0.99 * least_ohm, test_v - 1.0, "fail", "leak"),
    ]:
        found = insulation("a", resistance, tested_at, to_v)
        assert (found.verdict, found.demand, found.capacity) == (verdict, least_ohm, resistance)
        assert found.utilisation_fraction == pytest.approx(least_ohm / resistance)
        assert found.remedies == ([f"insulation.{remedy}"] if remedy else [])
        told = {"leak": {"least_mohm": least_ohm / 1e6}, "repeat": {"test_v": test_v}}
        assert found.parameters == told.get(remedy or "", {})


@pytest.mark.parametrize(
    ("system_v", "test_v", "least_ohm"),
    [
        (0.0, 250.0, 0.5e6),
        (120.0, 250.0, 0.5e6),
        (120.1, 500.0, 1.0e6),
        (500.0, 500.0, 1.0e6),
        (500.1, 1000.0, 1.0e6),
        (1000.0, 1000.0, 1.0e6),
    ],
)
def test_insulation_is_tested_by_steps_of_the_system_voltage(system_v, test_v, least_ohm):
    """IEC 62446-1, Table 1, from memory."""
    row = insulation_row(system_v)
    assert row is not None
    assert (float(row["test_voltage_v"]), float(row["least_resistance_ohm"])) == (test_v, least_ohm)


def test_no_insulation_beyond_the_table():
    assert insulation_row(1000.1) is None
    found = insulation("a", 1e9, 1000.0, 1000.1)
    assert (found.verdict, found.remedies) == ("not-assessed", ["insulation.beyond-table"])


@pytest.mark.parametrize(
    ("readings", "years", "low", "high", "verdict", "lacking"),
    [
        (8, 1.0, 0.009, 0.049, "pass", []),
        (8, 1.0, 0.0091, 0.049, "review", ["faster"]),
        (7, 1.0, 0.02, 0.04, "not-assessed", ["few-readings"]),
        (8, 0.99, 0.02, 0.04, "not-assessed", ["short-span"]),
        (8, 1.0, 0.02, 0.061, "not-assessed", ["scatter"]),
        (2, 0.1, 0.0, 0.5, "not-assessed", ["few-readings", "short-span", "scatter"]),
    ],
)
def test_yearly_loss_beside_the_published_mean(readings, years, low, high, verdict, lacking):
    """Mean of 0.9 % a year (Jordan 2016); eight readings, a year and ±2 % are practice."""
    found = yearly_loss("a", readings, years, 0.03, low, high)
    assert (found.verdict, found.remedies) == (verdict, [f"yearly-loss.{n}" for n in lacking])
    if verdict != "not-assessed":
        assert (found.demand, found.capacity) == (0.03, 0.009)
        assert found.utilisation_fraction == pytest.approx(0.03 / 0.009)
    if "scatter" in lacking:
        assert found.parameters["width_fraction"] == pytest.approx(0.5 * (high - low))
    assert yearly_loss("a", 8, 2.0, -0.01, -0.02, 0.0).utilisation_fraction == 0.0


# --- mount and roof -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("given", "reason", "tested", "verdict", "remedy"),
    [
        (None, "", False, "not-assessed", "unknown"),
        ({"kind": "unknown"}, "", False, "not-assessed", "unknown"),
        ({"kind": "epdm-membrane"}, "rubber", False, "fail", "not-bondable"),
        ({"kind": "epdm-membrane", "confirmed_strength_fraction": 0.5}, "rubber", False, "pass",
         None),
        ({"kind": "bare-aluminium"}, "", False, "pass", None),
        ({"kind": "bare-aluminium", "abraded_and_cleaned": False}, "", False, "not-assessed",
         "prepare"),
        ({"kind": "painted-metal-unknown"}, "", False, "review", "unknown-paint"),
        ({"kind": "painted-metal-unknown"}, "", True, "pass", None),
        ({"kind": "painted-metal-unknown", "confirmed_strength_fraction": 0.5}, "", False, "pass",
         None),
    ],
)  # fmt: skip
def test_a_surface_that_an_adhesive_holds_on(given, reason, tested, verdict, remedy):
    surface = given and RoofSurface(**{"abraded_and_cleaned": True, **given})
    found = mount.surface(surface, reason, tested)
    assert found.verdict == verdict
    assert found.remedies == ([f"surface.{remedy}"] if remedy else [])


def test_a_spacer_is_trapped_or_nothing_holds_it():
    assert mount.unbondable_spacer("polypropylene", trapped=True).verdict == "review"
    assert mount.unbondable_spacer("polypropylene", trapped=True).remedies == [
        "surface.trapped-spacer"
    ]
    assert mount.unbondable_spacer("polypropylene", trapped=False).verdict == "fail"
    assert mount.unbondable_spacer("polypropylene", trapped=False).remedies == ["surface.spacer"]


def test_heat_and_cold_of_a_bond():
    for air_c, verdict in [(9.9, "fail"), (10.0, "pass"), (20.0, "pass")]:
        assert mount.application_temperature("acrylic-foam-tape", air_c, 10.0).verdict == verdict
    for hottest_c, verdict in [(79.0, "pass"), (80.0, "pass"), (80.1, "not-assessed")]:
        found = mount.bond_heat(hottest_c, 80.0)
        assert (found.verdict, found.demand, found.capacity) == (verdict, hottest_c, 80.0)


def test_lengths_are_told_in_millimetres():
    assert mount.wood_depth(0.01, 0.02).parameters == {"least_mm": 20.0}
    assert mount.wood_spacing(0.01, 0.025).parameters == {"least_mm": 25.0}
    gap = mount.bond_gap(0.003, 0.002, 0.1, waves=False)
    assert (gap.remedies, gap.parameters) == (["bond-gap.bow"], {"widest_mm": 100.0})
    assert mount.bond_gap(0.003, 0.002, 0.1, waves=True).remedies == ["bond-gap.waves"]
    beads = mount.wide_beads(0.08, 900.0)
    assert (beads.remedy_codes, beads.parameters["widest_mm"]) == (["cure-time.beads"], 80.0)


@pytest.mark.parametrize(
    ("material", "remedy"), [(None, "unknown"), ("unknown", "unknown"), ("wood", "no-formula")]
)
def test_a_skin_that_no_formula_is_for(material, remedy):
    found = mount.roof_skin(material)
    assert (found.verdict, found.remedies) == ("not-assessed", [f"roof-skin.{remedy}"])


@pytest.mark.parametrize(
    ("forward", "sideways", "verdict", "governs"),
    [
        (0.8, 0.5, "pass", 0.8),
        (0.7, 0.5, "fail", 0.8),
        (0.8, 0.3, "fail", 0.5),
        (0.8, 0.0, "fail", 0.5),
    ],
)
def test_the_direction_that_is_furthest_behind_governs(forward, sideways, verdict, governs):
    """49 CFR 393.102: 0.8 g forward and 0.5 g sideways at the least."""
    counted = {"forward": 9.81 * forward, "sideways": 9.81 * sideways}
    least = {"forward": 9.81 * 0.8, "sideways": 9.81 * 0.5}
    found = mount.securing("securing-us", counted, least)
    assert (found.verdict, found.demand) == (verdict, pytest.approx(9.81 * governs))


def test_brackets_that_can_be_forgotten():
    assert mount.tilt_interlock(True).verdict == "pass"
    assert mount.tilt_interlock(False).verdict == "review"


@pytest.mark.parametrize(
    ("present_m", "needed_m", "verdict", "used"),
    [
        (0.10, 0.05, "pass", 0.5),
        (0.05, 0.05, "pass", 1.0),
        (0.05 - 5e-7, 0.05, "pass", 1.0),  # a rounding below is no excess either
        (0.04, 0.05, "fail", 1.25),
        (-0.01, 0.05, "fail", None),
        (0.0, 0.0, "pass", 0.0),
        (0.02, 0.0, "pass", 0.0),
        (-0.02, 0.0, "fail", None),
        (5e-7, 0.05, "fail", None),
    ],
)
def test_space_beside_a_panel(present_m, needed_m, verdict, used):
    needed = {"needed_m": needed_m} if needed_m else {}  # none is needed where none is said
    found = roof.distance("foot-edge", "a", {}, present_m, **needed)
    assert (found.verdict, found.demand, found.capacity) == (verdict, needed_m, present_m)
    assert found.utilisation_fraction == (used and pytest.approx(used))
    if verdict == "fail":
        assert found.parameters == pytest.approx({"short_m": needed_m - present_m})


def test_the_way_of_a_cable_and_the_room_for_its_entry():
    verdicts = {"around": "pass", "beneath-panels": "review", "across-obstacles": "fail"}
    for routing, verdict in verdicts.items():
        found = roof.cable_route("a", routing)
        assert found.verdict == verdict
        assert found.remedies == ([] if verdict == "pass" else [f"cable-route.{routing}"])
    assert roof.entry_room(1.0, 1.0, 0.1, is_free=True).verdict == "pass"
    assert roof.entry_room(1.0, 1.0, 0.1, is_free=False).verdict == "review"


def test_a_cable_that_lies_names_what_it_lacks_to_the_centimetre():
    assert roof.cable_length(5.0, 4.95).parameters["missing_m"] == pytest.approx(0.05)
    assert roof.cable_length(5.0, 5.0).remedies == []


def test_panels_without_a_place_and_what_keeps_them_off():
    found = roof.panels_placed("a", 1, 4)
    assert (found.remedies, found.parameters["missing"]) == (["panels-placed.space"], 3.0)
    lines = roof.LinesUnderFeet("a", "seam", 1.0, 0.5)
    assert roof.panels_placed("a", 0, 4, lines).remedies == ["panels-placed.lines"]


def test_a_layout_is_proven_or_may_miss_power():
    for proven, verdict in [(True, "pass"), (False, "review")]:
        found = roof.layout_power(300.0, 380.0, proven=proven)
        assert (found.verdict, found.demand, found.capacity) == (verdict, 380.0, 300.0)
    assert roof.layout_power(300.0, 380.0, proven=False).parameters == {"more_w": 80.0}


@pytest.mark.parametrize(
    ("largest_a", "remedy"),
    [(0.0, "overcurrent-protection.none"), (30.0, "overcurrent-protection")],
)
def test_no_device_is_named_where_none_may_protect(largest_a: float, remedy: str) -> None:
    found = overcurrent_protection(50.0, 40.0, largest_a, "post", NEC)
    assert found.remedies == [remedy]
    assert ("30 A" in found.remedy) == (largest_a > 0.0)


def test_figures_beyond_all_bounds_are_not_told():
    """A device of any size protects it: its rating is no figure of the answer."""
    found = overcurrent_protection(50.0, 40.0, inf, "post", NEC)
    assert found.parameters == {"lasting_a": 50.0, "from_end": "post"}


@pytest.mark.parametrize("voltage_v", [40.0, 95.1, 100.0, 142.6, 333.3])
@pytest.mark.parametrize("reserve", [0.0, 0.05, 0.2])
def test_what_is_told_against_cold_passes_when_it_is_done(voltage_v, reserve):
    """Fewer panels of the same voltage each, or the larger input: asked again, either passes."""
    limit_v, in_series = 0.7 * voltage_v, 5

    def asked(volts, input_v, panels):
        return cold_voc_controller("a", volts, input_v, panels, "coefficient", NEC, reserve)

    told = asked(voltage_v, limit_v, in_series).parameters
    fitting = int(told["fitting"])
    assert asked(voltage_v * fitting / in_series, limit_v, fitting).verdict == "pass"
    assert asked(voltage_v * (fitting + 1) / in_series, limit_v, fitting + 1).verdict != "pass"
    assert asked(voltage_v, told["input_v"], in_series).verdict == "pass"
    assert asked(voltage_v, told["input_v"] - 5.0, in_series).verdict != "pass"
