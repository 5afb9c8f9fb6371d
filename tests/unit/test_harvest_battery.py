"""The battery: every watt-hour is accounted for, and every limit holds."""

from dataclasses import replace
from typing import Any

import msgspec
import numpy as np
import pytest
from harvest_builders import study
from hypothesis import given
from hypothesis import strategies as st

from sunhitch.types.harvest import BatteryUse, Load
from sunhitch.types.system import Battery, Chemistry, ColdCharging
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.battery.cold import ColdLimits
from sunhitch_service.engine.battery.hot import in_heat
from sunhitch_service.engine.battery.settings import (
    BatterySettings,
    battery_settings,
    fault_current_a,
    highest_charge_v,
)
from sunhitch_service.engine.battery.simulation import (
    BatteryFlows,
    BatteryModel,
    battery_model,
    lagging,
    simulate,
)
from sunhitch_service.engine.harvest.clock import Clock, midnight
from sunhitch_service.engine.harvest.loads import load_w, peak_load_w
from sunhitch_service.engine.harvest.weather import clock_of

LITHIUM = Battery(chemistry="lithium-iron-phosphate", nominal_voltage_v=12, capacity_ah=100.0)
BANK = BatteryModel(
    working_v=13.3,
    capacity_wh=1000.0,
    start_state=0.5,
    least_state=0.1,
    efficiency=0.9,
    cold=ColdLimits(LITHIUM, BatterySettings(14.4, 13.3, 50.0), Assumptions()),
    discharge_limit_w=float("inf"),
    taper_from=1.0 - 1e-9,
    lost_per_h=0.0,
    drain_w=0.0,
    lag_h=0.0,
)
powers = st.lists(st.floats(0.0, 600.0), min_size=1, max_size=60)


@given(powers, st.data())
def test_every_watt_hour_is_accounted_for(sun: list[float], data: st.DataObject) -> None:
    n = len(sun)
    asked = np.array(data.draw(st.lists(st.floats(0.0, 400.0), min_size=n, max_size=n)))
    cold = data.draw(st.lists(st.booleans(), min_size=n, max_size=n))
    taper = data.draw(st.sampled_from([0.8, 0.95, 1.0 - 1e-9]))
    limit = data.draw(st.sampled_from([150.0, float("inf")]))
    bank = replace(BANK, taper_from=taper, discharge_limit_w=limit)
    limit_w = np.where(cold, 0.0, 200.0)
    found = simulate(bank, np.array(sun), asked, limit_w, 0.5)
    offered = 0.5 * np.array(sun)
    refused = found.full + found.frost + found.rate
    assert found.accepted + refused == pytest.approx(offered, abs=1e-9)
    assert found.served + found.unserved == pytest.approx(0.5 * asked, abs=1e-9)
    gained = found.accepted.sum() - found.storage_lost.sum() - found.served.sum()
    assert found.stored[-1] == pytest.approx(500.0 + gained, abs=1e-9 * max(1.0, offered.sum()))
    assert np.all(found.stored >= 100.0 - 1e-9)
    assert np.all(found.stored <= 1000.0 + 1e-9)
    for name in ("accepted", "full", "frost", "rate", "served", "unserved", "storage_lost"):
        assert np.all(getattr(found, name) >= -1e-12), name


def test_years_side_by_side_are_years_alone() -> None:
    random = np.random.default_rng(3)
    bank = battery_model(study().battery, BatteryUse(), Assumptions(), 0.0)
    power, load = random.uniform(0.0, 9e4, (200, 5)), random.uniform(0.0, 5e4, 200)
    limit = bank.charge_limit_w(random.uniform(-5.0, 20.0, 200), 1.0)
    many = simulate(bank, power, load, limit, 1.0)
    for year in range(5):
        alone = simulate(bank, power[:, year], load, limit, 1.0)
        for name in BatteryFlows.__slots__:
            assert np.array_equal(getattr(many, name)[:, year], getattr(alone, name)), name


def one(
    power: float,
    load: float = 0.0,
    cold: bool = False,
    start: float = 0.5,
    step_h: float = 1.0,
    **bank: float,
):
    own = replace(BANK, start_state=start, **bank)
    limit_w = np.array([0.0 if cold else 200.0])
    return simulate(own, np.array([power]), np.array([load]), limit_w, step_h)


@pytest.mark.parametrize("step_h", [0.25, 0.5, 2.0])
def test_limits_are_of_power_so_that_energy_goes_with_time(step_h: float) -> None:
    """350 W of sun, 200 W taken; 30 W of sun and 80 W of battery for loads of 150 W."""
    charged = one(350.0, step_h=step_h)
    assert charged.rate[0] == pytest.approx(150.0 * step_h)
    assert charged.stored[0] == pytest.approx(500.0 + 0.9 * 200.0 * step_h)
    drawn = one(30.0, load=150.0, discharge_limit_w=80.0, step_h=step_h)
    assert drawn.served[0] == pytest.approx(110.0 * step_h)
    assert drawn.stored[0] == pytest.approx(500.0 - 80.0 * step_h)


def test_every_flow_of_one_hour_by_hand() -> None:
    """350 W of sun, 60 W of load, 200 W to charge with, 50 Wh of room: 55.6 Wh are taken for it."""
    found = one(350.0, load=60.0, start=0.95)
    assert found.accepted[0] == pytest.approx(60.0 + 50.0 / 0.9)
    assert found.full[0] == pytest.approx(200.0 - 50.0 / 0.9)
    assert (found.rate[0], found.frost[0]) == (pytest.approx(90.0), 0.0)
    assert (found.served[0], found.unserved[0]) == (60.0, 0.0)
    assert found.stored[0] == pytest.approx(1000.0)
    assert found.storage_lost[0] == pytest.approx(50.0 / 0.9 - 50.0)
    drawn = one(30.0, load=150.0)
    assert (drawn.storage_lost[0], drawn.stored[0]) == (0.0, 380.0)


@pytest.mark.parametrize(("state", "stored_wh"), [(0.3, 490.0), (0.85, 1000.0), (0.97, 1000.0)])
def test_what_charges_fast_fills_to_full_and_no_further(state: float, stored_wh: float) -> None:
    """190 Wh to take in an hour, tapering over the last 50 Wh only: there is time to fill."""
    found = one(200.0, start=state, taper_from=0.95, efficiency=0.95)
    assert found.stored[0] == pytest.approx(stored_wh)


def test_any_load_that_is_not_served_counts_and_no_load_lacks_nothing() -> None:
    empty = replace(BANK, start_state=0.1)
    asked = np.array([0.0, 0.04, 100.0])
    found = simulate(empty, np.array([0.0, 0.0, 25.0]), asked, asked + 200.0, 1.0)
    assert found.unserved_share == pytest.approx([0.0, 1.0, 0.75])


def test_electronics_empty_a_battery_and_no_more() -> None:
    """What they draw is not cut off at the least state; there is nothing below empty."""
    nothing = np.zeros(3)
    found = simulate(replace(BANK, drain_w=300.0), nothing, nothing, nothing + 200.0, 1.0)
    assert found.stored == pytest.approx([200.0, 0.0, 0.0])


def test_the_charging_limit_cuts_what_is_above_it() -> None:
    found = one(350.0)
    assert found.rate[0] == 150.0
    assert found.stored[0] == pytest.approx(500.0 + 0.9 * 200.0)


def test_a_cold_battery_takes_nothing_but_loads_run_on_the_sun() -> None:
    found = one(150.0, load=60.0, cold=True)
    assert (found.served[0], found.frost[0], found.stored[0]) == (60.0, 90.0, 500.0)


def test_a_trickle_that_is_all_it_takes_is_no_frost() -> None:
    """0.05 W from 0 °C on are little, yet not nothing."""
    found = simulate(BANK, np.array([2.0]), np.zeros(1), np.array([0.05]), 1.0)
    assert (found.frost[0], found.rate[0]) == pytest.approx((0.0, 1.95))


@pytest.mark.parametrize("taper_from", [0.5, 0.8, 1.0 - 1e-9])
def test_a_full_battery_leaves_the_sun(taper_from: float) -> None:
    found = one(100.0, start=1.0, taper_from=taper_from)
    assert (found.full[0], found.accepted[0]) == (100.0, 0.0)


def test_loads_are_cut_off_at_the_least_state() -> None:
    found = one(0.0, load=150.0, start=0.2)
    assert (found.served[0], found.unserved[0], found.stored[0]) == (100.0, 50.0, 100.0)


def test_a_battery_stays_at_its_least_state_until_the_sun_returns() -> None:
    empty = replace(BANK, start_state=0.2)
    sun, asked = np.array([0.0, 0.0, 0.0, 250.0]), np.full(4, 150.0)
    found = simulate(empty, sun, asked, asked + 50.0, 1.0)
    assert found.stored == pytest.approx([100.0, 100.0, 100.0, 190.0])
    assert found.unserved == pytest.approx([50.0, 150.0, 150.0, 0.0])


def test_the_discharging_limit_cuts_loads_that_the_sun_does_not_serve() -> None:
    found = one(30.0, load=150.0, discharge_limit_w=80.0)
    assert (found.served[0], found.unserved[0], found.stored[0]) == (110.0, 40.0, 420.0)


@pytest.mark.parametrize("step_h", [0.25, 0.5, 1.0])
def test_acceptance_tapers_to_full(step_h: float) -> None:
    """At 0.9, half way from 0.8 to full, half the charging power is taken."""
    found = one(200.0, start=0.9, taper_from=0.8, efficiency=1.0, step_h=step_h)
    assert found.accepted[0] == pytest.approx(100.0 * step_h)


@pytest.mark.parametrize("step_h", [0.25, 0.5, 2.0])
@pytest.mark.parametrize("drain_w", [0.02, 2.0])
def test_what_an_idle_battery_loses_follows_from_time_not_from_steps(
    step_h: float, drain_w: float
) -> None:
    """2 W for 12 h are 24 Wh; a thousandth an hour is exp(−0.012) after 12 h."""
    nothing = np.zeros(round(12.0 / step_h))
    drained, leaking = (
        simulate(replace(BANK, **own), nothing, nothing, nothing + 200.0, step_h)
        for own in ({"drain_w": drain_w}, {"lost_per_h": 1e-3})
    )
    assert drained.stored[-1] == pytest.approx(500.0 - 12.0 * drain_w)
    assert drained.storage_lost.sum() == pytest.approx(12.0 * drain_w)
    assert leaking.stored[-1] == pytest.approx(500.0 * np.exp(-0.012), rel=1e-4)


def test_lead_acid_is_not_locked_out_at_the_frost_of_lithium() -> None:
    lead = Battery(chemistry="agm", nominal_voltage_v=12, capacity_ah=100.0)
    banks = [battery_model(b, BatteryUse(), Assumptions(), 0.0) for b in (lead, LITHIUM)]
    air = np.array([-5.0, 15.0])
    assert [list(bank.cold.limit_a(air)) for bank in banks] == [[25.0, 25.0], [0.0, 50.0]]


@pytest.mark.parametrize(
    ("air_c", "own", "limit_a"),
    [
        (-5.0, {}, 0.0),
        (-5.0, {"above_air_k": 6.0}, 14.0),
        (-5.0, {"kept_above_c": 5.0}, 30.0),
        (-5.0, {"cold_charging": "heater"}, 10.0),
        (-5.0, {"no_charge_below_c": -20.0}, 50.0),
        (0.0, {}, 10.0),
        (2.5, {}, 20.0),
        (10.0, {}, 50.0),
        (0.0, {"max_charge_current_a": 8.0}, 8.0),
    ],
)
def test_what_a_cold_lithium_battery_takes(
    air_c: float, own: dict[str, float], limit_a: float
) -> None:
    """Worked by hand, 100 Ah: nothing below 0 °C, 0.1 A/Ah there, 0.5 A/Ah from 10 °C on."""
    bank = battery_model(msgspec.structs.replace(LITHIUM, **own), BatteryUse(), Assumptions(), 0.0)
    assert bank.cold.limit_a(bank.cold.battery_c(air_c)) == pytest.approx(limit_a)


@pytest.mark.parametrize(
    ("held_by", "verdict"),
    [(None, "not-assessed"), ("unprotected", "fail"), ("lock-out", "pass"), ("heater", "pass")],
)
def test_a_lithium_battery_in_the_cold_wants_a_lock_out_or_a_heater(
    held_by: ColdCharging | None, verdict: str
) -> None:
    lead = msgspec.structs.replace(LITHIUM, chemistry="agm")
    cold = msgspec.structs.replace(LITHIUM, cold_charging=held_by)
    warm = msgspec.structs.replace(cold, kept_above_c=12.0)
    told = [battery_model(b, BatteryUse(), Assumptions(), 0.0).cold for b in (cold, warm, lead)]
    assert [[c.verdict for c in each.lock_out(-18.0)] for each in told] == [[verdict], [], []]
    rates = [[(c.verdict, c.capacity) for c in each.reduced(-18.0, 20.0)] for each in told]
    assert rates == [[("review", 10.0)], [], []]


@pytest.mark.parametrize(
    ("kept_c", "locked", "reduced"), [(-0.1, 1, 1), (0.0, 0, 1), (9.9, 0, 1), (10.0, 0, 0)]
)
def test_lithium_is_locked_out_below_freezing_and_reduced_below_ten_degrees(
    kept_c: float, locked: int, reduced: int
) -> None:
    own = msgspec.structs.replace(LITHIUM, cold_charging="lock-out", kept_above_c=kept_c)
    cold = battery_model(own, BatteryUse(), Assumptions(), 0.0).cold
    assert (len(cold.lock_out(-18.0)), len(cold.reduced(-18.0, 20.0))) == (locked, reduced)


@pytest.mark.parametrize("limit_c", [None, -20.0])
def test_lead_acid_takes_its_full_current_wherever_it_takes_any(limit_c: float | None) -> None:
    """Its limit of −20 °C is not told unless the maker gives one; no span of less current."""
    own = Battery(
        chemistry="agm", nominal_voltage_v=12, capacity_ah=80.0, no_charge_below_c=limit_c
    )
    cold = battery_model(own, BatteryUse(), Assumptions(), 0.0).cold
    assert cold.limit_a(np.array([-20.1, -20.0, 15.0])) == pytest.approx([0.0, 20.0, 20.0])
    assert len(cold.lock_out(-20.1)) == (limit_c is not None)
    assert cold.lock_out(-20.0) == cold.reduced(-20.0, 30.0) == []


def test_capacity_after_ageing_and_every_choice_is_noted() -> None:
    notes = Assumptions()
    bank = battery_model(study().battery, BatteryUse(), notes, 0.0)
    assert bank.capacity_wh == pytest.approx(0.9 * 5000.0 * 12.0)
    fields = {a.field for a in notes.listed()}
    assert {"/battery_use/usable_capacity_fraction", "/battery/max_charge_current_a"} <= fields


@pytest.mark.parametrize(
    ("chemistry", "told"),
    [("agm", True), ("gel", True), ("flooded-lead-acid", True), ("lithium-iron-phosphate", False)],
)
def test_lead_is_said_to_be_counted_as_if_it_were_warm(chemistry: Chemistry, told: bool) -> None:
    """IEEE 485 divides a capacity at 25 °C by 1.405 at 0 °C, which leaves 0.71 of it."""
    notes = Assumptions()
    own = Battery(chemistry=chemistry, nominal_voltage_v=12, capacity_ah=80.0)
    battery_model(own, BatteryUse(), notes, 0.0)
    (found,) = [a for a in notes.listed() if a.field == "/battery/capacity_ah"] or [None]
    assert (found is not None) == told
    if found is not None:
        assert found.value == 80.0
        assert round(1.0 / 1.405, 1) == 0.7
        assert "at 0 °C a lead-acid battery gives about seven tenths" in found.why


def test_what_a_battery_gives_and_loses_follows_from_what_is_given() -> None:
    """25 A at 12 V are 300 W; 3 % in a month of 30 days; 1.5 W and 2 W draw together."""
    use = BatteryUse(
        max_discharge_current_a=25.0, self_discharge_fraction_per_month=0.03, management_draw_w=1.5
    )
    bank = battery_model(LITHIUM, use, Assumptions(), drain_w=2.0)
    assert bank.discharge_limit_w == pytest.approx(300.0)
    assert bank.lost_per_h * 24.0 * 30.0 == pytest.approx(0.03)
    assert bank.drain_w == pytest.approx(3.5)
    free = battery_model(LITHIUM, BatteryUse(), Assumptions(), 0.0)
    assert free.discharge_limit_w == float("inf")


@pytest.mark.parametrize("steps", [2.0, 10.0])
def test_a_battery_follows_a_step_of_the_air_by_its_time_constant(steps: float) -> None:
    """First order: 1 − exp(−n / τ) of the step after n steps; never beyond the air."""
    air = np.array([20.0, *[-10.0] * 40])
    found = lagging(air, steps)
    expected = 20.0 - 30.0 * (1.0 - np.exp(-np.arange(41.0) / steps))
    assert found == pytest.approx(expected)
    assert np.all(np.diff(found) < 0.0)


@pytest.mark.parametrize("step_h", [0.25, 0.5, 2.0])
def test_a_battery_cools_by_the_clock_whatever_the_step(step_h: float) -> None:
    """From 10 °C into air of 0 °C with 8 h: 10·exp(−1) °C after 8 h, 0.1 to 0.5 A/Ah between."""
    slow = battery_model(LITHIUM, BatteryUse(thermal_lag_h=8.0), Assumptions(), 0.0)
    air = np.array([10.0, *[0.0] * round(8.0 / step_h)])
    expected_a = 10.0 + 40.0 * np.exp(-1.0)
    assert slow.charge_limit_w(air, step_h)[-1] == pytest.approx(slow.working_v * expected_a)
    quick = battery_model(LITHIUM, BatteryUse(), Assumptions(), 0.0)
    assert quick.charge_limit_w(air, step_h)[-1] == pytest.approx(quick.working_v * 10.0)


@pytest.mark.parametrize("blocks", [1, 2, 4])
@pytest.mark.parametrize(
    ("chemistry", "cells", "cell_v", "working_v", "rate_per_h"),
    [
        ("lithium-iron-phosphate", 4, 3.65, 13.3, 0.5),
        ("agm", 6, 2.4667, 13.2, 0.25),
        ("gel", 6, 2.4, 13.2, 0.2),
        ("flooded-lead-acid", 6, 2.4667, 13.2, 0.2),
    ],
)
def test_voltages_add_up_over_blocks_and_currents_over_capacity(
    chemistry: Chemistry,
    cells: int,
    cell_v: float,
    working_v: float,
    rate_per_h: float,
    blocks: int,
) -> None:
    """Cells of a 12 V block and the top of their absorption voltage: common practice, no source."""
    own = Battery(chemistry=chemistry, nominal_voltage_v=12 * blocks, capacity_ah=80.0)
    found = battery_settings(own, Assumptions())
    assert found.charge_v == pytest.approx(cells * cell_v * blocks, rel=1e-4)
    assert found.working_v == pytest.approx(working_v * blocks)
    assert found.charge_limit_a == pytest.approx(rate_per_h * 80.0)


@pytest.mark.parametrize(
    ("chemistry", "usable", "least", "efficiency", "taper_from", "coldest_c"),
    [
        ("lithium-iron-phosphate", 0.9, 0.1, 0.95, 0.98, 0.0),
        ("agm", 0.85, 0.5, 0.85, 0.8, -20.0),
        ("gel", 0.85, 0.5, 0.85, 0.8, -20.0),
        ("flooded-lead-acid", 0.8, 0.5, 0.8, 0.8, -20.0),
    ],
)
def test_each_chemistry_is_used_as_is_common_practice(
    chemistry: Chemistry,
    usable: float,
    least: float,
    efficiency: float,
    taper_from: float,
    coldest_c: float,
) -> None:
    """Lead to a half, lithium to a tenth; lead tapers from 80 %, lithium at the end (from memory).

    Every use begins at 80 %. What a caller gives counts instead.
    """
    own = Battery(chemistry=chemistry, nominal_voltage_v=24, capacity_ah=100.0)
    bank = battery_model(own, BatteryUse(), Assumptions(), 0.0)
    assert bank.capacity_wh == pytest.approx(usable * 2400.0)
    assert (bank.least_state, bank.start_state) == (least, 0.8)
    assert (bank.efficiency, bank.taper_from) == (efficiency, taper_from)
    assert bank.cold.none_below_c == coldest_c
    given_use = BatteryUse(
        usable_capacity_fraction=0.7,
        least_state_fraction=0.3,
        charge_efficiency_fraction=0.9,
        start_state_fraction=0.6,
    )
    told = battery_model(own, given_use, Assumptions(), 0.0)
    assert told.capacity_wh == pytest.approx(0.7 * 2400.0)
    assert (told.least_state, told.start_state, told.efficiency) == (0.3, 0.6, 0.9)


def test_a_battery_never_begins_below_its_least_state() -> None:
    assert replace(BANK, start_state=0.05).start_wh == pytest.approx(100.0)
    assert replace(BANK, start_state=0.3).start_wh == pytest.approx(300.0)


def test_given_voltages_count_and_none_works_above_its_charging_voltage() -> None:
    low = battery_settings(msgspec.structs.replace(LITHIUM, charge_voltage_v=13.0), Assumptions())
    assert (low.charge_v, low.working_v) == (13.0, 13.0)
    told = msgspec.structs.replace(LITHIUM, charge_voltage_v=14.0, working_voltage_v=13.5)
    found = battery_settings(told, Assumptions())
    assert (found.charge_v, found.working_v) == (14.0, 13.5)


@pytest.mark.parametrize(
    ("given_a", "capacity_ah", "fault_a", "large"),
    [
        (None, None, 20_000.0, False),
        (None, 800.0, 20_000.0, False),
        (None, 804.0, 20_100.0, True),
        (5_000.0, 804.0, 5_000.0, None),
    ],
)
def test_a_bank_gives_its_fault_current_by_the_larger_of_two_customs(
    given_a: float | None, capacity_ah: float | None, fault_a: float, large: bool | None
) -> None:
    """20 kA, or 25 A per Ah where that is more (from memory); the reason names the one taken."""
    notes = Assumptions()
    assert fault_current_a(given_a, capacity_ah, "/fault_current_a", notes) == fault_a
    told = [("large bank" in one.why) for one in notes.listed()]
    assert told == ([] if large is None else [large])


def test_loads_by_hour_and_month() -> None:
    request = study(
        loads=[
            Load(name="lamp", power_w=30.0, from_hour=22.0, to_hour=2.0, duty_fraction=0.5),
            Load(name="winter", power_w=99.0, months=[12]),
        ]
    )
    found = load_w(request.loads, clock_of(request.weather))
    assert [h for h in range(24) if found[h] > 0.0] == [0, 1, 22, 23]
    assert set(found) == {0.0, 15.0}
    december = msgspec.structs.replace(request.weather, first_day="2027-12-05")
    assert load_w(request.loads, clock_of(december)).min() == 99.0


@pytest.mark.parametrize("step_s", [300, 900, 1800, 3600])
@given(from_hour=st.floats(0.0, 24.0), to_hour=st.floats(0.0, 24.0), start=st.integers(0, 86_399))
def test_a_load_counts_by_the_share_of_each_step(
    step_s: int, from_hour: float, to_hour: float, start: int
) -> None:
    """A day's energy is power times hours, whenever the steps begin; equal hours mean all day."""
    clock = Clock(midnight("2027-03-01", 0.0) + start, step_s, 86_400 // step_s, 0.0)
    own = [Load(name="kettle", power_w=1000.0, from_hour=from_hour, to_hour=to_hour)]
    hours = (to_hour - from_hour) % 24.0 or 24.0
    energy_wh = float(load_w(own, clock).sum()) * clock.step_h
    assert energy_wh == pytest.approx(1000.0 * hours, abs=1e-3)
    if hours > 1e-3:
        assert peak_load_w(own, clock) == 1000.0


def test_nine_minutes_are_not_lost_and_half_an_hour_not_doubled() -> None:
    clock = Clock(midnight("2027-03-01", 0.0), 3600, 24, 0.0)
    kettle = Load(name="kettle", power_w=1000.0, from_hour=7.25, to_hour=7.4)
    heater = Load(name="heater", power_w=1000.0, from_hour=7.5, to_hour=8.0)
    assert load_w([kettle], clock)[7] == pytest.approx(150.0)
    assert load_w([heater], clock).sum() == pytest.approx(500.0)
    assert peak_load_w([kettle], clock) == 1000.0


def test_the_clock_keeps_local_time() -> None:
    clock = Clock(midnight("2027-03-01", 3600.0), 3600, 48, 3600.0)
    assert clock.moment(0) == "2027-03-01T00:00:00+01:00"
    assert clock.hour[:3] == pytest.approx([0.5, 1.5, 2.5])
    assert set(clock.month) == {3}
    assert len(set(clock.day_number)) == 2


@pytest.mark.parametrize(("coldest_c", "most_v"), [(40.0, 29.6), (25.0, 29.6), (5.0, 30.8)])
def test_only_cold_adds_to_what_a_lead_acid_battery_is_charged_with(
    coldest_c: float, most_v: float
) -> None:
    """12 cells, 5 mV each for a kelvin below 25 °C (from memory)."""
    own = Battery(chemistry="agm", nominal_voltage_v=24, capacity_ah=80.0)
    assert highest_charge_v(own, 29.6, coldest_c) == pytest.approx(most_v, abs=1e-9)


@pytest.mark.parametrize(
    ("air_c", "own", "told"),
    [
        # In a parked vehicle 7 K above the air outside; lithium to 45 °C, lead to 50 °C.
        (38.0, {}, []),
        (38.1, {}, [("review", 45.1, 45.0)]),
        (38.1, {"chemistry": "agm"}, []),
        (44.0, {"chemistry": "gel"}, [("review", 51.0, 50.0)]),
        (30.0, {"above_air_k": 20.0}, [("review", 50.0, 45.0)]),
        (30.0, {"above_air_k": 3.0}, []),
        (38.1, {"no_charge_above_c": 55.0}, []),
        (50.0, {"no_charge_above_c": 55.0}, [("fail", 57.0, 55.0)]),
        (-10.0, {"kept_above_c": 25.0, "no_charge_above_c": 20.0}, [("fail", 25.0, 20.0)]),
    ],
)
def test_a_battery_in_the_heat(
    air_c: float, own: dict[str, Any], told: list[tuple[str, float, float]]
) -> None:
    notes = Assumptions()
    found = in_heat(msgspec.structs.replace(LITHIUM, **own), air_c, notes)
    assert [(c.verdict, c.demand, c.capacity) for c in found] == [
        (verdict, pytest.approx(hottest_c), limit_c) for verdict, hottest_c, limit_c in told
    ]
    assert [a.field for a in notes.listed()] == [
        "/battery/no_charge_above_c" for _ in [1] if "no_charge_above_c" not in own
    ]
