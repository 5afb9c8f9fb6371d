"""A study's sums, by month, loss and battery, against plain sums of steps that are made up."""

from dataclasses import replace
from math import inf, sqrt

import msgspec
import numpy as np
import pandas as pd
import pytest
from harvest_builders import array, heading, panel, placed, study

from sunhitch.texts import Text
from sunhitch.types.harvest import (
    Autonomy,
    BatteryUse,
    ClearSkyWeather,
    HarvestAlternative,
    HarvestComparison,
    HarvestRequest,
    HarvestUncertainty,
    Load,
    LoadEfficiency,
    ParkedHeading,
    Parking,
    TrackerModel,
)
from sunhitch.types.panel import PanelType
from sunhitch.types.system import PanelMountingHeat
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.harvest.autonomy import (
    SyntheticYears,
    of_given_years,
    of_synthetic_years,
    without_power,
)
from sunhitch_service.engine.harvest.balance import balance, months, uncertainty
from sunhitch_service.engine.harvest.charging import STAGES as CHARGING
from sunhitch_service.engine.harvest.charging import stages
from sunhitch_service.engine.harvest.compare import comparison
from sunhitch_service.engine.harvest.losses import light_wh, losses
from sunhitch_service.engine.harvest.outcome import (
    HarvestOutcome,
    VariantPlan,
    VariantSums,
    outcome,
    plan_of,
)
from sunhitch_service.engine.harvest.rules import rules
from sunhitch_service.engine.harvest.setup import settle, stances, variants
from sunhitch_service.engine.harvest.solver import OperatingPoints
from sunhitch_service.engine.harvest.study_parts import STAGES

WEATHER = ClearSkyWeather(
    first_day="2027-01-30",
    days=40,
    utc_offset_h=1.0,
    step_s=1800,
    monthly_air_c=[-8.0, 3.0, *[15.0] * 10],
    daily_swing_k=0.0,
    synthetic_years=0,
)
LOADS = [Load(name="lamp", power_w=60.0, from_hour=18.0, to_hour=6.0)]


def asked(**changes: object) -> HarvestRequest:
    battery = msgspec.structs.replace(study().battery, capacity_ah=60.0)
    return study(**{"weather": WEATHER, "loads": LOADS, "battery": battery, **changes})


def planned(request: HarvestRequest) -> tuple[HarvestRequest, list[VariantPlan]]:
    settled = settle(request)
    return request, [plan_of(settled, variant) for variant in variants(request)]


def made_up(
    request: HarvestRequest, plan: VariantPlan, scale: float = 300.0, seed: int = 2
) -> HarvestOutcome:
    """Light by day that each stage leaves less of; nothing at night."""
    weather, random = settle(request).weather, np.random.default_rng(seed)
    flow = VariantSums(weather.clock.steps, len(plan.panels))
    sun = np.maximum(np.sin(np.pi * (weather.clock.hour - 8.0) / 8.0), 0.0)
    flow.light_w_m2 += 500.0 * sun
    share = np.cumprod(random.uniform(0.9, 1.0, (len(STAGES), weather.clock.steps)), axis=0)
    flow.stages_w += scale * sun * share
    flow.beam += np.array([[4.0] * len(plan.panels), [3.0] * len(plan.panels)])
    flow.sky += 9.0
    flow.states = 10.0
    return outcome(request, weather, plan, flow)


REQUEST, (PLAN,) = planned(asked())
FOUND = made_up(REQUEST, PLAN)
BATTERY = PLAN.battery


def by_step(found: HarvestOutcome = FOUND) -> pd.DataFrame:
    """Flows of every half hour beside its local time."""
    flows, clock = found.flows, found.weather.clock
    index = pd.date_range("2027-01-30", periods=clock.steps, freq="30min")
    names = ("accepted", "full", "frost", "rate", "served", "unserved", "stored", "storage_lost")
    table = pd.DataFrame({name: getattr(flows, name) for name in names}, index=index)
    table["array"] = found.stages_w[STAGES.index("mismatch")]
    table["light"] = found.light_w_m2
    return table


def test_the_made_up_study_has_all_that_is_summed() -> None:
    table = by_step()
    assert (table[["accepted", "full", "frost", "served", "unserved"]].sum() > 0.0).all()


def test_months_are_the_sums_of_their_steps() -> None:
    table = by_step()
    own = table.groupby(table.index.month)
    found = months(FOUND, BATTERY)
    assert [(m.year, m.month, m.days) for m in found] == [
        (2027, 1, 2),
        (2027, 2, 28),
        (2027, 3, 10),
    ]
    for month in found:
        part = own.get_group(month.month)
        asked_wh = part["served"] + part["unserved"]
        lacking = (part["unserved"] / asked_wh.where(asked_wh > 0.0)).fillna(0.0)
        assert [
            month.light_wh_m2,
            month.array_wh,
            month.charged_wh,
            month.load_wh,
            month.served_wh,
            month.hours_without_power,
            month.lowest_state_fraction,
        ] == pytest.approx(
            [
                0.5 * part["light"].sum(),
                0.5 * part["array"].sum(),
                part["accepted"].sum(),
                asked_wh.sum(),
                part["served"].sum(),
                0.5 * lacking.sum(),
                part["stored"].min() / BATTERY.capacity_wh,
            ]
        )
        typical = part["accepted"].groupby(part.index.hour).sum() / month.days
        assert month.typical_day_w == pytest.approx(typical.tolist())


@pytest.mark.parametrize(("steps", "step_s"), [(8, 1800), (1, 300)])
def test_a_study_that_lacks_hours_of_the_day_has_none_in_its_typical_day(
    steps: int, step_s: int
) -> None:
    """From eight in the morning on: four hours, and five minutes alone."""
    weather = settle(asked()).weather
    first = 35 * 48 + 16
    start = weather.clock.start_unix_s + 1800.0 * first
    clock = replace(weather.clock, start_unix_s=start, steps=steps, step_s=step_s)
    own = slice(first + 1, first + 1 + steps)
    keys = ("accepted", "full", "frost", "rate", "served", "unserved", "stored", "storage_lost")
    flows = replace(FOUND.flows, **{k: getattr(FOUND.flows, k)[own] for k in keys})
    short = replace(
        FOUND,
        weather=replace(weather, clock=clock),
        flows=flows,
        stages_w=FOUND.stages_w[:, own],
        light_w_m2=FOUND.light_w_m2[own],
    )
    (month,) = months(short, BATTERY)
    lit_h = min(1.0, steps * step_s / 3600.0)
    assert sum(month.typical_day_w) == pytest.approx(flows.accepted.sum() / lit_h)
    assert sum(month.typical_day_w) > 0.0
    assert month.typical_day_w[:8] + month.typical_day_w[12:] == [0.0] * 20


def test_a_balance_is_the_sum_of_its_steps() -> None:
    table, own = by_step(), balance(FOUND, BATTERY)
    lacking = table["unserved"] > 1e-6
    lowest = table["stored"].idxmin()
    assert [
        own.charged_wh,
        own.storage_lost_wh,
        own.served_wh,
        own.unserved_wh,
        own.end_wh,
        own.full_hours,
        own.frost_hours,
        own.lowest_state_fraction,
    ] == pytest.approx(
        [
            table["accepted"].sum(),
            table["storage_lost"].sum(),
            table["served"].sum(),
            table["unserved"].sum(),
            table["stored"].iloc[-1],
            0.5 * (table["full"] > 1e-6).sum(),
            48.0,
            table["stored"].min() / BATTERY.capacity_wh,
        ]
    )
    assert own.lowest_at == lowest.strftime("%Y-%m-%dT%H:%M:%S+01:00")
    assert own.days_without_power == table.index[lacking].normalize().nunique()
    assert own.peak_load_w == 60.0
    assert own.start_wh == BATTERY.start_wh


@pytest.mark.parametrize("months_on", [[1], [1, 2], []])
def test_autonomy_is_by_the_month_with_the_largest_loads(months_on: list[int]) -> None:
    """0.9 of 12 V × 60 Ah × 0.95 or what the chemistry allows, over 12 h × 60 W a day."""
    loads = [msgspec.structs.replace(LOADS[0], months=months_on)]
    request, (plan,) = planned(asked(loads=loads))
    own = balance(made_up(request, plan), plan.battery)
    usable = (1.0 - plan.battery.least_state) * plan.battery.capacity_wh
    assert own.autonomy_days == pytest.approx(usable / 720.0)
    request, (plan,) = planned(asked(loads=[]))
    assert balance(made_up(request, plan), plan.battery).autonomy_days is None


@pytest.mark.parametrize("lost_per_h", [0.0, 1e-4, 1e-2])
def test_autonomy_counts_what_electronics_draw_and_the_battery_loses(lost_per_h: float) -> None:
    """dE/dt = −(30 W + 12 W) − k·E from full to cut-off, followed minute by minute."""
    request, (plan,) = planned(asked())
    own = replace(plan.battery, drain_w=12.0, lost_per_h=lost_per_h)
    stored, minutes = own.capacity_wh, 0
    while stored > own.least_state * own.capacity_wh:
        stored -= (30.0 + 12.0 + lost_per_h * stored) / 60.0
        minutes += 1
    told = balance(made_up(request, plan), own).autonomy_days
    assert told == pytest.approx(minutes / 1440.0, abs=2.0 / 1440.0)


def test_losses_are_what_each_stage_leaves_less() -> None:
    table, found = by_step(), losses(FOUND)
    left = 0.5 * FOUND.stages_w.sum(axis=1)
    assert light_wh(FOUND) == pytest.approx(left[0])
    for step, before, after in zip(found, left[:-1], left[1:], strict=False):
        assert (step.lost_wh, step.left_wh) == pytest.approx((before - after, after))
        assert step.lost_fraction == pytest.approx(1.0 - after / before)
    by_battery = {step.code: step.lost_wh for step in found[-3:]}
    assert by_battery == pytest.approx(
        {f"battery-{name}": table[name].sum() for name in ("full", "frost", "rate")}
    )
    assert found[-1].left_wh == pytest.approx(table["accepted"].sum())


def test_a_dark_study_has_no_shares() -> None:
    dark = made_up(REQUEST, PLAN, scale=0.0)
    assert {step.lost_fraction for step in losses(dark)} == {0.0}
    own = balance(dark, BATTERY)
    assert (own.charged_wh, own.full_hours) == (0.0, 0.0)
    told = uncertainty(REQUEST, dark, [], Assumptions())
    assert (told.low_wh, told.middle_wh, told.high_wh) == (0.0, 0.0, 0.0)


def test_an_outcome_is_its_sums() -> None:
    assert FOUND.available_wh == pytest.approx(0.5 * FOUND.stages_w[-1].sum())
    assert FOUND.charged_wh == pytest.approx(FOUND.flows.accepted.sum())
    assert FOUND.hours_without_power == pytest.approx(0.5 * FOUND.flows.unserved_share.sum())
    assert FOUND.beam.tolist() == [0.75, 0.75]
    assert FOUND.sky.tolist() == [0.9, 0.9]
    weather = settle(REQUEST).weather
    none = outcome(REQUEST, weather, PLAN, VariantSums(weather.clock.steps, 2))
    assert (none.beam.tolist(), none.sky.tolist()) == ([1.0, 1.0], [1.0, 1.0])
    half = VariantSums(weather.clock.steps, 2)
    half.beam += np.array([[4.0, 4.0], [0.0, 4.0]])
    assert outcome(REQUEST, weather, PLAN, half).beam.tolist() == [0.0, 1.0]


def years(count: int = 41) -> SyntheticYears:
    steps = settle(REQUEST).weather.clock.steps
    ramp = np.arange(count, dtype=np.float64)
    return SyntheticYears(
        hours=ramp[::-1].copy(),
        days=np.floor(ramp / 2.0),
        unserved_wh=10.0 * ramp,
        lowest_state=0.2 + ramp / 100.0,
        share=np.linspace(0.0, 0.1, steps),
    )


def test_invented_years_replace_the_study_own_hours() -> None:
    told = replace(FOUND, invented=years())
    assert told.hours_without_power == 20.0
    assert told.unserved_share is told.invented.share
    assert balance(told, BATTERY).days_without_power == 10
    found = months(told, BATTERY)
    assert sum(m.hours_without_power for m in found) == pytest.approx(
        0.5 * told.invented.share.sum()
    )


def test_the_spread_of_invented_years_is_told_by_quantiles() -> None:
    """Of 0 to 40 hours: 5, 50, 90 and 95 % are 2, 20, 36 and 38; of 41 states a tenth is worst."""
    told = of_synthetic_years(years(), 7)
    spread = told.low_h, told.middle_h, told.one_in_ten_h, told.high_h
    assert spread == pytest.approx((2.0, 20.0, 36.0, 38.0))
    assert told.years_without_gap_fraction == pytest.approx(1 / 41)
    assert told.middle_lowest_state_fraction == pytest.approx(0.4)
    assert told.one_in_ten_lowest_state_fraction == pytest.approx(0.24)
    assert (told.basis, told.years, told.seed) == ("synthetic-years", 41, 7)


def test_given_years_are_told_by_their_ends() -> None:
    told = of_given_years(np.array([0.0, 8.0, 2.0]), np.array([0.5, 0.1, 0.3]))
    assert (told.low_h, told.middle_h, told.one_in_ten_h, told.high_h) == (0.0, 2.0, 8.0, 8.0)
    assert told.years_without_gap_fraction == pytest.approx(1 / 3)
    assert told.middle_lowest_state_fraction == pytest.approx(0.3)
    assert told.one_in_ten_lowest_state_fraction == pytest.approx(0.1)
    assert (told.basis, told.years) == ("weather-years", 3)
    one = of_given_years(np.array([5.0]), np.array([0.2]))
    assert (one.basis, one.years, one.low_h, one.high_h) == ("one-year", 1, 5.0, 5.0)


def hours_told(found: Autonomy) -> tuple[str, dict[str, object]]:
    text = without_power(found)
    assert isinstance(text, Text)
    return text.code, text.parameters


def test_hours_without_power_are_told_by_what_is_known() -> None:
    states = np.full(3, 0.5)
    none, some = np.zeros(3), np.array([0.0, 8.0, 2.0])
    assert hours_told(of_given_years(none[:1], states[:1]))[0] == "all-loads-given-year"
    assert hours_told(of_given_years(none, states)) == ("all-loads-years", {"years": 3})
    one = hours_told(of_given_years(some[1:2], states[:1]))
    assert one == ("without-power-given-year", {"lacking_h": 8.0})
    told = {"low_h": 0.0, "high_h": 8.0, "middle_h": 2.0}
    assert hours_told(of_given_years(some, states)) == ("lack-power-years", told)
    typical = hours_told(of_synthetic_years(years(), 1))
    assert typical == ("lack-power-typical", {"middle_h": 20.0, "one_in_ten_h": 36.0})


def test_a_stated_range_is_the_root_of_squares_of_its_parts() -> None:
    """Shade counts by what it takes over what it leaves, of the whole light."""
    given = HarvestUncertainty(light_fraction=0.03, model_fraction=0.04, shade_fraction=0.5)
    request = msgspec.structs.replace(REQUEST, uncertainty=given)
    told = uncertainty(request, FOUND, [], Assumptions())
    left = 0.5 * FOUND.stages_w.sum(axis=1)
    taken = sum(
        left[STAGES.index(name) - 1] - left[STAGES.index(name)]
        for name in ("beam-shade", "hidden-sky", "mismatch")
    )
    share = sqrt(0.03**2 + 0.04**2 + (0.5 * taken / (left[0] - taken)) ** 2)
    assert told.high_wh / told.middle_wh == pytest.approx(1.0 + 1.645 * share)
    assert told.low_wh / told.middle_wh == pytest.approx(1.0 - 1.645 * share)
    assert told.middle_wh == FOUND.charged_wh
    wide = msgspec.structs.replace(given, light_fraction=0.5, model_fraction=0.5)
    lowest = uncertainty(
        msgspec.structs.replace(request, uncertainty=wide), FOUND, [], Assumptions()
    )
    assert lowest.low_wh == 0.0


def test_customary_figures_stand_in_for_what_is_not_given() -> None:
    """Light 8 %, or 25 % where no clearness is known, model 4 %, shade 25 %, ground 0.2, age 0.5 %
    a year (Jordan and Kurtz 2013)."""
    left = 0.5 * FOUND.stages_w.sum(axis=1)
    names = ("beam-shade", "hidden-sky", "mismatch")
    rows = [STAGES.index(name) for name in names]
    taken = sum(left[row - 1] - left[row] for row in rows)
    for clearness, light in (([], 0.25), ([0.6] * 12, 0.08)):
        weather = ClearSkyWeather(
            first_day="2027-06-01", utc_offset_h=1.0, monthly_clearness_fraction=clearness
        )
        own = msgspec.structs.replace(REQUEST, weather=weather)
        told = uncertainty(own, FOUND, [], Assumptions())
        share = sqrt(light**2 + 0.04**2 + (0.25 * taken / (left[0] - taken)) ** 2)
        assert told.high_wh / told.middle_wh == pytest.approx(1.0 + 1.645 * share)
    assert settle(REQUEST).site.albedo == 0.2
    (old,) = planned(asked(age_years=10.0))[1][0].wiring.chargers
    assert old.aged == pytest.approx(0.995**10)


def test_years_of_weather_are_the_range_with_their_median() -> None:
    others = [made_up(REQUEST, PLAN, scale) for scale in (40.0, 60.0, 20.0)]
    told = uncertainty(REQUEST, FOUND, others, Assumptions())
    energies = sorted(one.charged_wh for one in [FOUND, *others])
    assert (told.low_wh, told.high_wh) == (energies[0], energies[-1])
    assert told.middle_wh == pytest.approx((energies[1] + energies[2]) / 2.0)


def test_rules_look_at_what_there_is() -> None:
    """Loads only where there are any, a limit only where there is one, frost where it froze."""
    steps = losses(FOUND)
    own = balance(FOUND, BATTERY)

    def codes(**changes: float) -> list[str]:
        changed = msgspec.structs.replace(own, **changes)
        return [check.code for check in rules(steps, changed, None, inf)]

    always = ["controller-window", "controller-rating"]
    assert codes() == ["loads-served", *always, "battery-frost"]
    assert codes(frost_hours=0.0) == ["loads-served", *always]
    assert codes(served_wh=0.0, unserved_wh=0.0, frost_hours=0.0) == always
    limited = rules(steps, own, None, 50.0)
    (found,) = [check for check in limited if check.code == "battery-discharge"]
    assert (found.demand, found.capacity) == (60.0, 50.0)
    served = rules(steps, own, None, inf)[0]
    assert (served.demand, served.capacity) == (own.served_wh + own.unserved_wh, own.served_wh)


@pytest.mark.parametrize("share", [-1e-9, 0.0, 0.02, 0.3])
def test_a_rule_judges_the_share_that_is_lost_and_any_frost(share: float) -> None:
    """Never less than nothing, which rounding may leave; frost of five minutes counts too."""
    windows = ("controller-window", "controller-limit")
    own = next(step for step in losses(FOUND) if step.code == "battery-frost")
    own = msgspec.structs.replace(own, lost_wh=1000.0 * share)
    steps = [own] + [
        msgspec.structs.replace(step, lost_fraction=share) if step.code in windows else step
        for step in losses(FOUND)
        if step.code != own.code
    ]
    cold = msgspec.structs.replace(balance(FOUND, BATTERY), frost_hours=5.0 / 60.0)
    found = rules(steps, cold, None, inf)
    by_code = {check.code: check for check in found}
    lost = [by_code[code].demand for code in ("controller-window", "controller-rating")]
    assert lost == pytest.approx([max(share, 0.0)] * 2, abs=1e-12)
    assert by_code["battery-frost"].demand == max(own.lost_wh, 0.0)


def test_loads_of_invented_years_are_judged_by_one_year_in_ten() -> None:
    """Of 0 to 400 Wh lacking, 360 are exceeded once in ten years."""
    own = balance(FOUND, BATTERY)
    served = rules(losses(FOUND), own, years(), inf)[0]
    asked_wh = own.served_wh + own.unserved_wh
    assert (served.demand, served.capacity) == pytest.approx((asked_wh, asked_wh - 360.0))
    assert served.remedies == ["loads-served.one-in-ten"]
    assert rules(losses(FOUND), own, None, inf)[0].remedies == ["loads-served.given"]


@pytest.mark.parametrize("panel_ohm", [0.0, 0.02])
def test_stages_of_charging_are_what_each_part_leaves(panel_ohm: float) -> None:
    """By hand: 200 W aged by a tenth, 190 W tracked by 0.98, 180 W drawn at 18 V."""
    tracker = TrackerModel(tracking_fraction=0.98)
    own = msgspec.structs.replace(
        array([["p0"], ["p1"]], max_output_current_a=10.0, efficiency_fraction=0.95),
        tracker=tracker,
        panel_cable_ohm=panel_ohm,
        battery_cable_ohm=0.01,
    )
    request = asked(arrays=[own], age_years=1.0, yearly_loss_fraction=0.1)
    (charger,) = planned(request)[1][0].wiring.chargers
    each = np.array([[200.0, 0.0], [190.0, 0.0], [180.0, 0.0], [18.0, 0.0]])
    found = stages(charger, OperatingPoints(*each))
    volts = charger.battery_v
    tracked, drawn = 0.9 * 0.98 * 190.0, 0.9 * 0.98 * 180.0
    at_input = drawn - panel_ohm * (drawn / 18.0) ** 2
    converted = 0.95 * at_input
    limited = min(converted, 10.0 * volts)
    assert limited < converted
    due = [200.0, 180.0, tracked, drawn, at_input, converted, limited]
    due.append(limited - 0.01 * (limited / volts) ** 2)
    assert dict(zip(CHARGING, found[:, 0], strict=True)) == pytest.approx(
        dict(zip(CHARGING, due, strict=True))
    )
    assert not found[:, 1].any()


def test_an_efficiency_by_load_is_read_over_the_rated_output() -> None:
    """Half of 10 A × battery voltage: half way between 0.8 and 1.0; beyond the ends the ends."""
    curve = [
        LoadEfficiency(load_fraction=x, efficiency_fraction=y) for x, y in ((0.2, 0.8), (0.8, 1))
    ]
    own = msgspec.structs.replace(
        array([["p0"], ["p1"]], max_output_current_a=10.0),
        tracker=TrackerModel(efficiency_by_load=curve),
    )
    (charger,) = planned(asked(arrays=[own]))[1][0].wiring.chargers
    rated = 10.0 * charger.battery_v
    loads = rated * np.array([0.0, 0.1, 0.5, 1.5])
    assert charger.output_w(loads) == pytest.approx(loads * [0.8, 0.8, 0.9, 1.0])


def test_headings_weigh_by_their_share() -> None:
    turns = [ParkedHeading(heading_deg=d, weight_fraction=w) for d, w in ((10, 0.2), (90, 0.6))]
    found = stances(Parking(headings=turns, pitch_deg=3.0, roll_deg=-2.0))
    assert [(s.heading_deg, s.pitch_deg, s.roll_deg) for s, _ in found] == [
        (10.0, 3.0, -2.0),
        (90.0, 3.0, -2.0),
    ]
    assert [w for _, w in found] == pytest.approx([0.25, 0.75])
    around = stances(Parking(spread=4))
    assert [s.heading_deg for s, _ in around] == [0.0, 90.0, 180.0, 270.0]
    assert [w for _, w in around] == [0.25] * 4


def test_headings_are_variants_of_their_own_only_where_there_are_several() -> None:
    one, two = (
        variants(asked(parking=Parking(headings=[ParkedHeading(heading_deg=d) for d in own])))
        for own in ((10.0,), (10.0, 90.0))
    )
    assert len(one) == 1
    assert [len(each.stances) for each in two] == [2, 1, 1]
    assert [each.stances[0][1] for each in two[1:]] == [1.0, 1.0]


def test_an_alternative_keeps_what_it_does_not_change() -> None:
    """Each member given alone: it and its pointer change, all others stay."""
    other = msgspec.structs.replace(study().battery, capacity_ah=20.0)
    fields = {
        "panel_types": [PanelType(name="sheet", panel=panel("full-cell-2-diodes"))],
        "placements": placed((0.5, 0.2), (0.5, 1.2)),
        "arrays": [array([["p0", "p1"]])],
        "parking": heading(77.0),
        "mounting_heat": PanelMountingHeat(back="bonded"),
        "battery": other,
        "battery_use": BatteryUse(start_state_fraction=0.4),
        "construction": "diode-every-2-cells",
    }
    for field, value in fields.items():
        given, own = variants(asked(compare=[HarvestAlternative(name="other", **{field: value})]))
        wanted = {} if field == "construction" else {field: value}
        assert own.request == msgspec.structs.replace(given.request, **wanted), field
        assert own.stances == (stances(value) if field == "parking" else given.stances)
        assert own.other.construction == (value if field == "construction" else None)
        for member in ("panel_types", "arrays", "mounting_heat"):
            there = f"/compare/0/{member}" if member == field else f"/{member}"
            assert (given.pointer(member), own.pointer(member)) == (f"/{member}", there)
        assert (given.name, own.name) == ("as given", "other")
        settled = settle(given.request)
        plan_of(settled, own)
        told = {note.field.removeprefix("/compare/0") for note in settled.notes.listed()}
        there = {note.field for note in settled.notes.listed()}
        assert any(one.startswith("/battery") for one in told)
        assert any(one.startswith("/battery") for one in there) == (not field.startswith("battery"))


def compared(*scales: float, **changes: object) -> list[HarvestComparison]:
    """The request and alternatives of other batteries, with made-up light."""
    others = [
        HarvestAlternative(
            name=f"other {k}",
            battery=msgspec.structs.replace(REQUEST.battery, capacity_ah=70.0 + k),
            other_price=10.0 * k,
            other_mass_kg=1.0 * k,
        )
        for k in range(len(scales) - 1)
    ]
    request, plans = planned(asked(compare=others, **changes))
    return comparison(
        [made_up(request, plan, scale) for plan, scale in zip(plans, scales, strict=True)]
    )


def test_one_variant_is_compared_with_nothing() -> None:
    assert compared(100.0) == []


def test_lines_tell_how_much_more_they_have_than_what_was_given() -> None:
    lines = {line.name: line for line in compared(100.0, 130.0, 70.0)}
    shares = {name: line.against_given_fraction for name, line in lines.items()}
    assert shares == pytest.approx({"other 0": 0.3, "as given": 0.0, "other 1": -0.3})
    assert [line.rank for line in lines.values()] == [1, 2, 3]
    for line in lines.values():
        assert line.charged_wh <= line.available_wh
        assert line.served_wh > 0.0
    dark = compared(0.0, 0.0)
    assert {line.against_given_fraction for line in dark} == {0.0}
    assert {line.reason.code for line in dark} == {"request-itself", "no-loss-differs"}
    (unlit,) = (line for line in compared(100.0, 0.0) if line.name == "other 0")
    assert str(unlit.reason).count(": 0 % of the light instead of") == 2


@pytest.mark.parametrize(
    ("more", "code"),
    [(1.0031, "more-light"), (1.0029, ""), (0.9969, "less-light-faced"), (0.9971, "")],
)
def test_light_is_a_reason_from_three_thousandths(more: float, code: str) -> None:
    lines = {line.name: line.reason for line in compared(100.0, 100.0 * more)}
    reason = lines["other 0"]
    assert isinstance(reason, Text)
    told = [reason.code, *(str(part) for part in reason.parameters.values())]
    assert (reason.code == "no-loss-differs") == (not code), told
    assert ("more light" in reason) == (code == "more-light"), reason


def test_the_two_losses_that_differ_most_are_named() -> None:
    """Of three that differ by 5, 3 and 2 % of the light; those of the battery do not count."""
    request, plans = planned(
        asked(compare=[HarvestAlternative(name="other", battery=study().battery)])
    )
    given, other = (made_up(request, plan, 100.0) for plan in plans)
    lost = {"dirt": 0.03, "tracking": 0.05, "conversion": 0.02}
    changed = given.stages_w.copy()
    for name, share in lost.items():
        changed[STAGES.index(name) :] -= share * given.stages_w[0]
    (_, line) = sorted(
        comparison([given, replace(other, stages_w=changed)]), key=lambda line: line.name
    )
    reason = str(line.reason)
    assert line.name == "other"
    assert reason.count("instead of") == 2
    tracker, dirt = reason.split(";")
    assert "racker" in tracker
    assert "irt" in dirt
