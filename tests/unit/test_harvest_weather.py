"""Weather of a study: what is refused, what is filled in, and how steps are cut into pieces."""

from dataclasses import replace

import msgspec
import numpy as np
import pytest
from harvest_builders import study

from sunhitch.types.harvest import (
    BatteryUse,
    ClearSkyWeather,
    Driving,
    HourlyWeather,
    Load,
    Soiling,
    WeatherSeries,
)
from sunhitch.types.place import Place
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.battery.simulation import battery_model, simulate
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.harvest.autonomy import InventedYears, TrialSkies, trial_skies
from sunhitch_service.engine.harvest.clock import Clock
from sunhitch_service.engine.harvest.setup import settle
from sunhitch_service.engine.harvest.weather import WeatherSteps, _judge_light, clock_of
from sunhitch_service.engine.sky import SunPosition, clear_sky, split, sun_at

PLACE = study().place
SKY = ClearSkyWeather(
    first_day="2027-06-20",
    days=4,
    utc_offset_h=1.0,
    monthly_clearness_fraction=[1.0] * 12,
    synthetic_years=0,
)
START = "2027-06-21T00:00:00+01:00"
EMPTY = HourlyWeather(start=START, ghi_w_m2=[0.0] * 24, air_c=[15.0] * 24)


def steps_of(weather: ClearSkyWeather | WeatherSeries, **changes: object) -> WeatherSteps:
    return settle(study(weather=weather, **changes)).weather


def series(ghi: list[float], **more: object) -> HourlyWeather:
    given = {"air_c": [15.0] * len(ghi), **more}
    return msgspec.structs.replace(EMPTY, ghi_w_m2=ghi, **given)


def heights_deg(weather: WeatherSeries) -> np.ndarray:
    return 90.0 - sun_at(PLACE, clock_of(weather).middle_unix_s).apparent_zenith_deg


def refused(weather: HourlyWeather) -> list[str]:
    try:
        steps_of(weather)
    except ContradictionError as error:
        return [fault.pointer for fault in error.faults]
    return []


def at(step: int, light: float, **parts: float) -> HourlyWeather:
    """A day with light in one hour."""
    own = {name: [value if k == step else 0.0 for k in range(24)] for name, value in parts.items()}
    return series([light if k == step else 0.0 for k in range(24)], **own)


HEIGHTS = heights_deg(EMPTY)
UP = sun_at(PLACE, clock_of(EMPTY).middle_unix_s).is_up
NOON = int(np.argmax(HEIGHTS))
NIGHT = int(np.argmin(HEIGHTS))


@pytest.mark.parametrize("step", [NIGHT, 3])
def test_light_where_the_sun_is_down_all_hour_is_a_meters_own_up_to_15_w(step: int) -> None:
    """In an hour the sun rises by 15° at most, by 7.5° from its middle."""
    assert HEIGHTS[step] < -7.5 or step == 3
    dark = HEIGHTS[step] + 7.5 < 0.0
    assert refused(at(step, 15.0)) == []
    assert refused(at(step, 15.1)) == ([f"/weather/ghi_w_m2/{step}"] if dark else [])


@pytest.mark.parametrize("step", [5, 7, 9, NOON])
def test_light_is_at_most_what_clouds_make_of_the_suns(step: int) -> None:
    """1.5 times 1410 W/m² on the level at the highest of the hour, and 60 W/m²."""
    highest = np.radians(min(HEIGHTS[step] + 7.5, 90.0))
    most = 1.5 * 1410.0 * np.sin(highest) + 60.0
    assert refused(at(step, most - 0.5)) == []
    assert refused(at(step, most + 0.5)) == [f"/weather/ghi_w_m2/{step}"]


@pytest.mark.parametrize(
    ("height_deg", "light", "pointers"),
    [
        (-7.5, 20.0, []),
        (-7.49, 20.0, []),
        (-7.51, 20.0, ["/w/ghi_w_m2/0"]),
        (20.0, 3.0, []),
        (20.01, 3.0, ["/w/ghi_w_m2/0"]),
    ],
)
def test_light_is_judged_by_where_a_given_sun_stands(
    height_deg: float, light: float, pointers: list[str]
) -> None:
    """An hour ends 7.5° above its middle: at the horizon it is no night. 20° are not above 20°."""
    sun = SunPosition(*(np.array([x]) for x in (90.0, 90.0 - height_deg, 180.0)))
    told: list[str] = []
    try:
        _judge_light(series([light]), Clock(0.0, 3600, 1, 0.0), sun, "/w")
    except ContradictionError as error:
        told = [fault.pointer for fault in error.faults]
        by_night = [fault.message.parameters.get("below_deg") for fault in error.faults]
        assert by_night == [pytest.approx(-height_deg) if height_deg < 0.0 else None]
    assert told == pointers


def test_finer_steps_know_better_where_the_sun_is() -> None:
    """A quarter of an hour at dawn: 1.9° on from its middle, not 7.5°."""
    low = msgspec.structs.replace(at(4, 300.0), step_s=900, start="2027-06-21T03:00:00+01:00")
    hour = at(4, 300.0)
    assert refused(low) == ["/weather/ghi_w_m2/4"]
    assert refused(hour) == []


def test_at_most_twenty_faults_of_a_kind_are_told() -> None:
    """Far too much light in all quarters of an hour: twenty at night and twenty by day."""
    quarters = msgspec.structs.replace(series([1e4] * 96), step_s=900)
    told = [int(pointer.rsplit("/", 1)[1]) for pointer in refused(quarters)]
    dark = heights_deg(quarters) + 0.5 * 15.0 / 4.0 < 0.0
    assert dark.sum() > 20
    assert [int(dark[told].sum()), int((~dark[told]).sum())] == [20, 20]


@pytest.mark.parametrize("part", [0, 1])
def test_light_is_judged_by_units_and_parts_where_the_sun_is_above_twenty_degrees(
    part: int,
) -> None:
    """Either side of 20°, in steps of five minutes."""
    steps = msgspec.structs.replace(series([0.0] * 288), step_s=300)
    above = heights_deg(steps)
    at_20 = int(np.argmax(above > 20.0))
    assert 19.0 < above[at_20 - 1] <= 20.0 < above[at_20] < 21.0
    for step, judged in ((at_20 - 1, False), (at_20, True)):
        lit = [3.0 if k == step else 0.0 for k in range(288)]
        if part:
            lit = [300.0 * x / 3.0 for x in lit]
        zeros = {"dni_w_m2": [0.0] * 288, "dhi_w_m2": [0.0] * 288} if part else {}
        own = msgspec.structs.replace(series(lit, **zeros), step_s=300)
        field = "dni_w_m2" if part else "ghi_w_m2"
        assert refused(own) == ([f"/weather/{field}/{step}"] if judged else [])


@pytest.mark.parametrize(("light", "kilo"), [(4.0, True), (0.05, True), (4.1, False), (0.0, False)])
def test_light_of_at_most_four_is_in_other_units_where_the_sun_is_high(
    light: float, kilo: bool
) -> None:
    assert refused(at(NOON, light)) == ([f"/weather/ghi_w_m2/{NOON}"] if kilo else [])
    early = next(k for k in range(24) if 5.0 < HEIGHTS[k] < 20.0)
    assert refused(at(early, light)) == []


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_beam_and_diffuse_make_up_the_whole_within_three_tenths(sign: float) -> None:
    """500 W/m² leave 0.3 × 500 + 60 = 210 W/m² to meters; below 20° of height nothing is judged."""
    sine = np.sin(np.radians(HEIGHTS[NOON]))
    for apart, wrong in ((209.0, False), (211.0, True)):
        beam = (500.0 + sign * apart - 100.0) / sine
        own = at(NOON, 500.0, dni_w_m2=beam, dhi_w_m2=100.0)
        assert refused(own) == ([f"/weather/dni_w_m2/{NOON}"] if wrong else [])
    early = next(k for k in range(24) if 10.0 < HEIGHTS[k] < 20.0)
    assert refused(at(early, 100.0, dni_w_m2=900.0, dhi_w_m2=300.0)) == []


def test_a_given_light_is_taken_as_it_is_where_the_sun_is_up() -> None:
    found = steps_of(series([200.0 if up else 10.0 for up in UP])).light
    assert 10 < UP.sum() < 20
    assert found.ghi == pytest.approx(np.where(UP, 200.0, 0.0))
    whole = found.dni * np.sin(np.radians(HEIGHTS)) + found.dhi
    assert whole[UP] == pytest.approx(found.ghi[UP], rel=0.03)
    beam = [300.0 * u for u in UP]
    sums = np.where(UP, 100.0 + 300.0 * np.sin(np.radians(np.maximum(HEIGHTS, 0.0))), 10.0)
    parts = steps_of(series(sums.tolist(), dni_w_m2=beam, dhi_w_m2=[100.0] * 24)).light
    assert parts.dni.tolist() == beam
    assert parts.dhi.tolist() == [100.0 * u for u in UP]


@pytest.mark.parametrize("share", [1.1, 1.0, 0.99, 0.5])
def test_a_clear_sky_is_dimmed_as_a_whole_and_split_anew_below_one(share: float) -> None:
    """Erbs 1982 below; at 1 and above the clear sky's own parts."""
    own = msgspec.structs.replace(SKY, monthly_clearness_fraction=[share] * 12)
    found = steps_of(own)
    clear = clear_sky(PLACE, found.clock.middle_unix_s, found.sun)
    up = found.sun.is_up
    assert found.light.ghi[up] == pytest.approx(share * clear.ghi[up])
    due = clear if share >= 1.0 else split(clear.ghi * share, found.sun, found.clock.middle_unix_s)
    times = share if share >= 1.0 else 1.0
    assert found.light.dni[up] == pytest.approx(times * due.dni[up])
    assert found.light.dhi[up] == pytest.approx(times * due.dhi[up])


def test_the_air_swings_about_its_month_and_is_warmest_at_three() -> None:
    own = msgspec.structs.replace(
        SKY, monthly_air_c=[*[0.0] * 5, 18.0, *[0.0] * 6], daily_swing_k=9.0
    )
    air = steps_of(own).air_c.reshape(-1, 24)
    assert air[0].mean() == pytest.approx(18.0)
    assert np.ptp(air[0]) == pytest.approx(9.0 * np.cos(np.pi / 24.0))
    assert air[0, 14] == pytest.approx(air[0, 15]) == pytest.approx(air[0].max())


def test_customary_weather_fills_what_is_not_given() -> None:
    """15 °C, swing 8 K, 1.5 m/s, clearness 0.6, 4 % dirt, as in the table of practice."""
    bare = msgspec.structs.replace(SKY, monthly_clearness_fraction=[])
    found = steps_of(bare)
    clear = clear_sky(PLACE, found.clock.middle_unix_s, found.sun)
    up = found.sun.is_up
    assert found.light.ghi[up] == pytest.approx(0.6 * clear.ghi[up])
    assert found.air_c.mean() == pytest.approx(15.0)
    assert np.ptp(found.air_c) == pytest.approx(8.0 * np.cos(np.pi / 24.0))
    assert set(found.wind_m_s) == {1.5}
    assert set(found.dirt) == {0.04}
    assert set(found.colour) == {1.0}
    assert set(steps_of(EMPTY).wind_m_s) == {1.5}
    assert steps_of(series([0.0] * 24, wind_m_s=[2.5] * 24)).wind_m_s.tolist() == [2.5] * 24


def soiled(rain: dict[int, float], **model: object) -> np.ndarray:
    """Dirt by day over 20 days with rain on some of them."""
    hourly = np.zeros((20, 24))
    for day, millimetres in rain.items():
        hourly[day, 5:7] = 0.5 * millimetres
    weather = series([0.0] * 480, rain_mm=hourly.ravel().tolist())
    given = {"loss_per_day_fraction": 0.01, "washing_rain_mm": 6.0, "days_clean_after_rain": 3}
    dirt = steps_of(weather, soiling=Soiling(**{**given, **model})).dirt.reshape(20, 24)
    assert (dirt == dirt[:, :1]).all()
    return dirt[:, 0]


def test_dirt_grows_day_by_day_until_rain_and_starts_again_after_its_grace() -> None:
    """1 % a day from the second day; 6 mm on day 8 wash it, and three days after stay clean."""
    due = [0.01 * k for k in range(8)] + [0.0] * 4 + [0.01 * k for k in range(1, 9)]
    assert soiled({8: 6.0}) == pytest.approx(due)
    assert soiled({8: 5.9}) == pytest.approx([0.01 * k for k in range(20)])


def test_dirt_is_washed_off_by_hand_and_never_more_than_three_tenths() -> None:
    by_hand = soiled({}, washed_every_days=6)
    assert by_hand == pytest.approx([0.01 * (k % 6) for k in range(20)])
    fast = soiled({}, loss_per_day_fraction=0.1)
    assert fast == pytest.approx([0.0, 0.1, 0.2, *[0.3] * 17])


def test_steps_of_which_half_is_driven_are_on_the_road() -> None:
    """07:30 to 09:29: half of the first hour, all of one, not quite half of the last."""
    trips = [
        Driving(from_hour=7.5, to_hour=9.49, air_speed_m_s=20.0),
        Driving(from_hour=8.0, to_hour=9.0, air_speed_m_s=9.0),
    ]
    found = steps_of(series([0.0] * 24), driving=trips)
    assert np.flatnonzero(found.away).tolist() == [7, 8]
    assert found.wind_m_s[6:10].tolist() == [1.5, 20.0, 9.0, 1.5]


def test_light_counts_only_where_the_sun_is_up() -> None:
    found = steps_of(series([12.0] * 24))
    lit = found.lit()
    assert lit.steps.tolist() == np.flatnonzero(UP).tolist()
    assert lit.step_s == 3600
    follows = lit.follows.tolist()
    assert follows == [False] + [True] * (len(follows) - 1)


def test_hours_without_light_are_not_solved_though_the_sun_is_up() -> None:
    found = steps_of(at(NOON, 500.0)).lit()
    assert found.steps.tolist() == [NOON]


@pytest.mark.parametrize("most", [1, 7, 10, 64, 1000])
@pytest.mark.parametrize("whole_days", [True, False])
def test_runs_hold_every_step_once_and_days_together_where_heat_is_stored(
    most: int, whole_days: bool
) -> None:
    lit = steps_of(SKY).lit()
    runs = list(lit.runs(most, whole_days))
    numbers = [run.steps.tolist() for run in runs]
    assert sorted(n for own in numbers for n in own) == lit.steps.tolist()
    assert all(own == sorted(own) for own in numbers)
    if not whole_days:
        assert max(map(len, numbers)) <= most
        assert max(map(len, numbers)) - min(map(len, numbers)) <= 1
        assert len(runs) == -(-len(lit.steps) // most)
        tops = [run.light.ghi.max() for run in runs]
        assert tops == sorted(tops), "like light comes together"
    else:
        assert all(not run.follows[0] for run in runs)
        assert {n // 24 for own in numbers for n in own} == {0, 1, 2, 3}
        days = [{n // 24 for n in own} for own in numbers]
        assert sum(map(len, days)) == 4
        assert len(runs) == (1 if most >= len(lit.steps) else 4 if most < 20 else len(runs))
    for run in runs:
        own = run.steps
        where = np.searchsorted(lit.steps, own)
        assert run.unix_s.tolist() == lit.unix_s[where].tolist()
        assert run.light.ghi.tolist() == lit.light.ghi[where].tolist()
        assert run.month.tolist() == [6] * len(own)


LAMP = [Load(name="lamp", power_w=5.0)]


@pytest.mark.parametrize(
    ("change", "there"),
    [
        ({}, True),
        ({"loads": []}, False),
        ({"weather": SKY}, False),
        ({"weather": series([0.0] * 24)}, False),
    ],
)
def test_years_are_invented_for_loads_under_monthly_means(
    change: dict[str, object], there: bool
) -> None:
    weather = msgspec.structs.replace(SKY, synthetic_years=20)
    request = study(**{"weather": weather, "loads": LAMP, **change})
    assert (trial_skies(request, settle(request).weather) is not None) == there


@pytest.mark.parametrize(("days", "solved"), [(1, 1), (8, 1), (9, 2), (17, 3), (365, 46)])
def test_one_day_in_eight_is_solved_from_the_first_to_the_last(days: int, solved: int) -> None:
    weather = msgspec.structs.replace(SKY, days=days, synthetic_years=20)
    request = study(weather=weather, loads=LAMP)
    own = settle(request).weather
    skies = trial_skies(request, own)
    assert len(skies.days) == solved
    assert skies.days[0] == 0
    assert skies.days[-1] == (days - 1 if solved > 1 else 0)
    assert skies.size == 6 * solved * 24
    assert np.diff(skies.days, prepend=0).max() <= 9


def test_levels_of_clearness_are_even_steps_of_the_clear_sky() -> None:
    """From a fifth to six fifths; their numbers run by level, day and step."""
    weather = msgspec.structs.replace(SKY, days=9, synthetic_years=20)
    request = study(weather=weather, loads=LAMP)
    own = settle(request).weather
    skies = trial_skies(request, own)
    clear = clear_sky(PLACE, own.clock.middle_unix_s, own.sun)
    level, rest = np.divmod(skies.lit.steps, len(skies.days) * 24)
    day, hour = np.divmod(rest, 24)
    step = skies.days[day] * 24 + hour
    assert set(level.tolist()) == set(range(6))
    assert skies.lit.light.ghi == pytest.approx(0.2 * (level + 1) * clear.ghi[step])
    assert skies.lit.unix_s == pytest.approx(own.clock.middle_unix_s[step])


def test_power_between_days_that_are_solved_lies_on_straight_lines() -> None:
    """Days 0, 4 and 6 of seven; a line of power over days is met exactly, level by level."""
    clock = Clock(0.0, 21_600, 7 * 4, 0.0)
    lit = steps_of(SKY).lit()
    skies = TrialSkies(np.array([0, 4, 6]), 4, lit)

    def line(level: int, day: int, step: int) -> float:
        return 100.0 * level + 7.0 * day * level + step

    solved = np.array([[[line(k, d, s) for s in range(4)] for d in (0, 4, 6)] for k in range(1, 7)])
    found = skies.by_clearness(solved.ravel(), clock)
    due = [[line(k, d, s) for d in range(7) for s in range(4)] for k in range(1, 7)]
    assert found[0].tolist() == [0.0] * 28
    assert found[1:] == pytest.approx(np.array(due))
    alone = TrialSkies(np.array([0]), 4, lit)
    one = alone.by_clearness(solved[:, :1].ravel(), Clock(0.0, 21_600, 4, 0.0))
    assert one[1:] == pytest.approx(solved[:, 0])


def test_a_battery_goes_through_every_invented_year_on_its_own() -> None:
    """Power read between levels of clearness by numpy, year by year; days in the study's clock."""
    weather = msgspec.structs.replace(SKY, days=6, synthetic_years=130, seed=3)
    request = study(weather=weather, loads=LAMP)
    own = settle(request).weather
    bank = battery_model(
        msgspec.structs.replace(study().battery, capacity_ah=4.0), BatteryUse(), Assumptions(), 0.0
    )
    ghi = own.light.ghi / own.light.ghi.max()
    power = np.outer([0.0, 2.0, 5.0, 9.0, 11.0, 12.0, 12.5], ghi)
    load = np.full(own.clock.steps, 2.5)
    invented = InventedYears(weather, own, bank, load, power)
    share = invented.clearness()
    assert share.shape == (own.clock.steps, 130)
    found = invented.followed()
    limit = bank.charge_limit_w(own.air_c, 1.0)
    lacking = np.zeros(own.clock.steps)
    for year in range(130):
        at = share[:, year] / 0.2
        shone = [np.interp(x, range(7), power[:, k]) for k, x in enumerate(at)]
        shone = [
            w if x <= 6.0 else power[6, k] + (x - 6.0) * (power[6, k] - power[5, k])
            for k, (w, x) in enumerate(zip(shone, at, strict=True))
        ]
        flows = simulate(bank, np.array(shone), load, limit, 1.0)
        dark = flows.unserved.reshape(6, 24).max(axis=1) > 1e-6
        assert [
            found.hours[year],
            found.days[year],
            found.unserved_wh[year],
            found.lowest_state[year],
        ] == pytest.approx(
            [
                flows.unserved_share.sum(),
                dark.sum(),
                flows.unserved.sum(),
                flows.stored.min() / bank.capacity_wh,
            ]
        )
        lacking += flows.unserved_share / 130
    assert found.share == pytest.approx(lacking)
    assert 0.0 < found.days.mean() < 6.0


def test_a_place_at_the_pole_has_a_clock_too() -> None:
    """Half a year of night: no step has light, none fails."""
    place = Place(latitude_deg=90.0, longitude_deg=0.0)
    winter = msgspec.structs.replace(SKY, first_day="2027-12-20")
    found = steps_of(winter, place=place)
    assert len(found.lit().steps) == 0
    assert [run.steps.tolist() for run in found.lit().runs(100, whole_days=False)] == [[]]
    assert replace(found, away=~found.away).away.all()


def test_no_beam_is_brighter_than_the_sun_outside_the_air() -> None:
    """1367 W/m² (WMO 1981), at most 3.5 % more in January; light on the horizontal stays whole.

    200 W/m² with the sun 4° high would make a beam of 2400 W/m² by the model alone.
    """
    start = 1_800_000_000.0
    times = np.arange(start, start + 365 * 86_400.0, 1200.0)
    sun = sun_at(PLACE, times)
    height = np.cos(np.radians(sun.zenith_deg))
    for ghi in (np.full(len(times), 200.0), 1.3 * 1361.0 * np.maximum(height, 0.0) + 60.0):
        found = split(ghi, sun, times)
        assert found.dni.max() <= 1367.0 * 1.035
        lit = found.dni > 0.0
        assert lit.any()
        assert (found.dni * height + found.dhi)[lit] == pytest.approx(ghi[lit])
        assert found.dhi.min() >= 0.0
