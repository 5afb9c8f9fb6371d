"""Steps of a study in the year, and loads by the clock, against calendars and plain counting."""

from datetime import UTC, datetime, timedelta, timezone
from itertools import product

import numpy as np
import pandas as pd
import pytest

from sunhitch.types.harvest import ClearSkyWeather, Load, WeatherSeries
from sunhitch_service.engine.harvest.clock import Clock, midnight
from sunhitch_service.engine.harvest.loads import load_w, peak_load_w
from sunhitch_service.engine.harvest.weather import clock_of


def of(step_s: int, days: int = 2, day: str = "2027-06-21", offset_h: float = 0.0) -> Clock:
    offset = 3600.0 * offset_h
    return Clock(midnight(day, offset), step_s, days * 86_400 // step_s, offset)


def counted(clock: Clock, from_hour: float, to_hour: float) -> np.ndarray:
    """Share of every step by minutes: equal hours mean the whole day."""
    minute = (np.arange(clock.steps * clock.step_s // 60) + 0.5) % 1440.0
    begin, end = 60.0 * from_hour, 60.0 * to_hour
    inside = (minute >= begin) & (minute < end)
    if begin >= end:
        inside = (minute >= begin) | (minute < end)
    return inside.reshape(clock.steps, -1).mean(axis=1)


HOURS = [0.0, 0.25, 1.0, 6.5, 12.0, 22.75, 23.0, 24.0]


@pytest.mark.parametrize("step_s", [300, 900, 3600, 10_800])
def test_hours_cover_the_share_of_a_step_that_minutes_count(step_s: int) -> None:
    clock = of(step_s)
    for from_hour, to_hour in product(HOURS, HOURS):
        found = clock.share(from_hour, to_hour, [])
        due = counted(clock, from_hour % 24.0, to_hour % 24.0 or 24.0 * (from_hour % 24.0 > 0.0))
        assert found == pytest.approx(due, abs=1e-9), (from_hour, to_hour)


def test_hours_of_some_months_are_those_of_the_steps_middle() -> None:
    clock = of(3600, 3, "2027-06-29", 2.0)
    assert clock.share(5.0, 7.0, [7]).tolist() == [0.0] * 48 + [0.0] * 5 + [1.0] * 2 + [0.0] * 17
    assert clock.share(5.0, 7.0, [6, 7]).sum() == 6.0


@pytest.mark.parametrize("offset_h", [-9.5, 0.0, 5.75])
def test_months_days_and_hours_are_those_of_the_local_calendar(offset_h: float) -> None:
    clock = of(1800, 400, "2027-12-30", offset_h)
    zone = timezone(timedelta(hours=offset_h))
    first = pd.Timestamp("2027-12-30 00:15", tz=zone)
    local = pd.date_range(first, periods=clock.steps, freq="30min")
    assert (clock.month == local.month).all()
    assert (clock.month_number == (local.year - 1970) * 12 + local.month - 1).all()
    days = (local.tz_localize(None).normalize() - pd.Timestamp("1970-01-01")).days
    assert (clock.day_number == days).all()
    assert clock.hour == pytest.approx(local.hour + local.minute / 60.0)
    assert clock.middle_unix_s[0] == first.timestamp()
    assert clock.step_h == 0.5
    for step in (0, 1, 47, clock.steps - 1):
        begin = datetime.fromisoformat(clock.moment(step))
        assert begin == (local[step] - pd.Timedelta(minutes=15)).to_pydatetime()
        assert begin.utcoffset() == timedelta(hours=offset_h)


@pytest.mark.parametrize(("month", "day"), [(3, 25), (3, 8), (10, 25), (11, 1)])
def test_sundays_are_those_of_the_calendar(month: int, day: int) -> None:
    """All years of the Gregorian calendar's seven beginnings, leap years too."""
    for year in range(2020, 2048):
        sunday = datetime(year, month, day, tzinfo=UTC)
        sunday += timedelta(days=(6 - sunday.weekday()) % 7)
        found = of(43_200, 1, f"{year}-08-01").sunday(month, day)
        assert set(found.tolist()) == {sunday.toordinal() - datetime(1970, 1, 1).toordinal()}


def test_a_weather_begins_when_it_says() -> None:
    series = {"ghi_w_m2": [0.0] * 4, "air_c": [1.0] * 4}
    clock = clock_of(WeatherSeries(name="w", start="2027-06-01T03:20:00-04:30", **series))
    assert (clock.offset_s, clock.step_s, clock.steps) == (-4.5 * 3600.0, 3600, 4)
    assert clock.moment(0) == "2027-06-01T03:20:00-04:30"
    sky = ClearSkyWeather(first_day="2027-06-01", days=3, utc_offset_h=-4.5, step_s=900)
    clock = clock_of(sky)
    assert (clock.steps, clock.moment(0)) == (3 * 96, "2027-06-01T00:00:00-04:30")


def test_loads_add_up_by_their_share_of_the_time_and_on_at_once_by_their_whole_power() -> None:
    """100 W for half of 22:30 to 01:00, 40 W from 00:30; what is never on counts for nothing."""
    loads = [
        Load(name="heater", power_w=100.0, from_hour=22.5, to_hour=1.0, duty_fraction=0.5),
        Load(name="pump", power_w=40.0, from_hour=0.5, to_hour=1.0),
        Load(name="idle", power_w=500.0, duty_fraction=0.0),
    ]
    clock = of(3600, 1)
    due = np.zeros(24)
    due[0], due[22], due[23] = 50.0 + 20.0, 25.0, 50.0
    assert load_w(loads, clock) == pytest.approx(due)
    assert peak_load_w(loads, clock) == 140.0
    assert peak_load_w(loads[:2], of(1800, 1)) == 140.0
    late = [Load(name="late", power_w=30.0, from_hour=2.0, to_hour=3.0)]
    assert peak_load_w([*loads, *late], clock) == 140.0
    brief = Load(name="brief", power_w=900.0, from_hour=0.9, to_hour=0.95)
    assert peak_load_w([*loads, brief], clock) == 1040.0, "however short"
    assert peak_load_w([*loads, Load(name="most", power_w=200.0, months=[7])], clock) == 140.0


@pytest.mark.parametrize(
    ("rule", "day", "ahead"),
    [
        ("eu", "2027-03-27", False),
        ("eu", "2027-03-28", True),
        ("eu", "2027-10-30", True),
        ("eu", "2027-10-31", False),
        ("us", "2027-03-13", False),
        ("us", "2027-03-14", True),
        ("us", "2027-11-06", True),
        ("us", "2027-11-07", False),
    ],
)
def test_loads_are_an_hour_earlier_in_summer_from_its_first_day_to_before_its_last(
    rule: str, day: str, ahead: bool
) -> None:
    """Directive 2000/84/EC and 15 U.S.C. 260a; a load at midnight moves to the hour before."""
    for from_hour, hour in ((7.0, 7), (0.0, 24)):
        load = [Load(name="kettle", power_w=10.0, from_hour=from_hour, to_hour=from_hour + 1.0)]
        found = load_w(load, of(3600, 1, day), rule)
        assert np.flatnonzero(found).tolist() == [(hour - ahead) % 24]
        assert found.sum() == pytest.approx(10.0), "as long as in winter"
