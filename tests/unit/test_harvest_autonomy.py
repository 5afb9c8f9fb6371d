"""Invented years: they keep their means, remember the day before, and tell their spread."""

import msgspec
import numpy as np
import pytest
from harvest_builders import array, study
from scipy.integrate import quad
from typical_years import FILES, compared, of_clear_sky

from sunhitch.types.harvest import (
    BatteryUse,
    ClearSkyWeather,
    HarvestAlternative,
    HourlyWeather,
    Load,
    WeatherSeries,
)
from sunhitch_service.engine.harvest.calculation import further, harvest, prepare, work
from sunhitch_service.engine.harvest.sequences import _remembering, _slope, clearness

MONTHS = np.repeat(np.arange(1, 13), 30)
LIGHT = np.tile(np.maximum(0.0, np.sin(np.pi * (np.arange(24) - 5.5) / 13.0)), (360, 1))
WEIGHT = LIGHT[0] / LIGHT[0].sum()


def daily(mean: float, years: int = 400) -> np.ndarray:
    found = clearness(np.full(12, mean), MONTHS, LIGHT, years, 7)
    return np.einsum("h,dhy->dy", WEIGHT, found)


@pytest.mark.parametrize("mean", [0.05, 0.2, 0.4, 0.6, 0.8, 0.95, 1.1])
def test_years_keep_the_long_term_mean(mean: float) -> None:
    """Standard error of 144,000 days with a memory of 0.3 and drawn bounds: below 0.2 %."""
    assert daily(mean).mean() == pytest.approx(mean, rel=0.015)


def test_days_are_bounded_remember_and_months_differ() -> None:
    """Lag one of the Gaussian is drawn from 0.10 to 0.45; months differ as means of such days."""
    found = daily(0.55)
    assert found.min() >= 0.02
    assert found.max() <= 1.25
    lag = np.corrcoef(found[1:].ravel(), found[:-1].ravel())[0, 1]
    assert 0.15 < lag < 0.40
    of_months = found.reshape(12, 30, -1).mean(axis=1)
    due = found.std() * np.sqrt((1.0 + lag) / (1.0 - lag) / 30.0)
    assert of_months.std() == pytest.approx(due, rel=0.08)


def test_the_seed_decides() -> None:
    means = np.full(12, 0.5)
    one, same, other = (clearness(means, MONTHS, LIGHT, 3, seed) for seed in (1, 1, 2))
    assert np.array_equal(one, same)
    assert not np.array_equal(one, other)


LAMP = [Load(name="lamp", power_w=60.0)]


def test_twelve_means_tell_a_spread_where_days_alike_tell_none() -> None:
    """Every day alike serves this load; invented dull spells do not."""
    weather = ClearSkyWeather(
        first_day="2027-05-01",
        days=31,
        utc_offset_h=1.0,
        monthly_clearness_fraction=[0.55] * 12,
        monthly_air_c=[15.0] * 12,
    )
    small = msgspec.structs.replace(study().battery, capacity_ah=60.0, chemistry="agm")
    request = study(weather=weather, loads=[Load(name="lamp", power_w=22.0)], battery=small)
    told = harvest(request).autonomy
    assert told is not None
    assert (told.basis, told.years, told.seed) == ("synthetic-years", 200, 1)
    assert told.low_h <= told.middle_h <= told.one_in_ten_h <= told.high_h
    assert told.high_h > 0.0
    alike = harvest(
        msgspec.structs.replace(
            request, weather=msgspec.structs.replace(weather, synthetic_years=0)
        )
    )
    assert alike.autonomy is None
    assert alike.battery.hours_without_power == 0.0


def test_one_given_year_is_said_to_be_one_and_several_tell_their_ends() -> None:
    light = [0.0] * 8 + [500.0] * 8 + [0.0] * 8
    hourly = {"ghi_w_m2": light, "air_c": [15.0] * 24, "start": "2027-06-21T00:00:00+01:00"}
    request = study(
        loads=LAMP, weather=msgspec.convert({"kind": "hourly", **hourly}, HourlyWeather)
    )
    (one, several) = (
        harvest(msgspec.structs.replace(request, other_years=years)).autonomy
        for years in ([], [msgspec.convert(hourly, WeatherSeries)])
    )
    assert (one.basis, one.years, one.seed) == ("one-year", 1, None)
    assert "no probability" in one.text
    assert (several.basis, several.years) == ("weather-years", 2)


def test_a_typical_year_lies_within_the_spread_of_its_own_means() -> None:
    """The whole comparison, three files with ten loads each, is a command: 30 of 30 within."""
    found = compared("723170TYA.CSV", (0.7, 0.9, 1.1))
    within = [told.low_h <= hours <= told.high_h for hours, told in found]
    assert all(hours > 0.0 for hours, _ in found)
    assert sum(within) >= 2


def test_the_hours_of_a_year_are_invented_whatever_the_steps() -> None:
    """In half hours as in hours: the same skies, each hour's for both of its steps."""
    weather = msgspec.structs.replace(study().weather, synthetic_years=5)
    bank = msgspec.structs.replace(study().battery, capacity_ah=20.0)
    lacking = [
        harvest(
            study(weather=msgspec.structs.replace(weather, step_s=step_s), loads=LAMP, battery=bank)
        ).autonomy
        for step_s in (3600, 1800)
    ]
    assert lacking[0].middle_h > 1.0
    assert lacking[1].middle_h == pytest.approx(lacking[0].middle_h, abs=0.5)


def test_what_the_battery_s_cable_takes_is_lacking_in_invented_years_too() -> None:
    """Half an ohm takes from 160 W at 12.8 V, thus 12.5 A, 78 W."""
    weather = msgspec.structs.replace(study().weather, synthetic_years=5)
    bank = msgspec.structs.replace(study().battery, capacity_ah=20.0)
    lacking = [
        harvest(
            study(
                weather=weather,
                loads=LAMP,
                battery=bank,
                arrays=[
                    msgspec.structs.replace(array([["p0"], ["p1"]]), battery_cable_ohm=cable_ohm)
                ],
            )
        ).autonomy
        for cable_ohm in (0.0, 0.5)
    ]
    assert lacking[1].middle_h > lacking[0].middle_h + 0.1


def test_pieces_are_the_jobs_and_a_battery_of_every_variant_in_invented_years() -> None:
    weather = msgspec.structs.replace(study().weather, synthetic_years=5)
    full = HarvestAlternative(name="full", battery_use=BatteryUse(start_state_fraction=1.0))
    for loads, batteries in ((LAMP, 2), ([], 0)):
        prepared = prepare(study(weather=weather, loads=loads, compare=[full]))
        more = further(prepared, [work(job) for job in prepared.jobs])
        assert len(more) == batteries
        assert prepared.pieces == len(prepared.jobs) + len(more)


@pytest.mark.parametrize("mean", [0.02, 0.3, 0.4999, 0.5, 0.500004, 0.75, 0.98])
def test_a_density_has_the_mean_that_it_is_made_for(mean: float) -> None:
    """The mean of exp(s·x) from 0 to 1, by quadrature."""
    (slope,) = _slope(np.array([mean]))
    own, _ = quad(lambda x: x * np.exp(slope * (x - 1.0)), 0.0, 1.0, epsabs=1e-13, limit=200)
    whole, _ = quad(lambda x: np.exp(slope * (x - 1.0)), 0.0, 1.0, epsabs=1e-13, limit=200)
    assert own / whole == pytest.approx(mean, abs=1e-6)


def test_noise_remembers_from_its_second_row_on() -> None:
    """Of first order: a single unit dies away by its memory m, fresh noise joins by √(1 − m²)."""
    found = _remembering(np.array([[1.0], [0.0], [0.0], [1.0]]), 0.6)
    assert found[:, 0] == pytest.approx([1.0, 0.6, 0.36, 0.8 + 0.6 * 0.36])


@pytest.mark.parametrize("name", FILES)
def test_typical_years_lie_within_what_is_said_where_no_clearness_is_given(name: str) -> None:
    """A year's light against the customary share of the clear sky's, with its 5 and 95 % ends."""
    bare = study(weather=ClearSkyWeather(first_day="2027-01-01", days=1, utc_offset_h=1.0))
    chosen = {one.field: one.value for one in harvest(bare).assumptions}
    share = float(chosen["/weather/monthly_clearness_fraction"])
    half_width = 1.645 * float(chosen["/uncertainty/light_fraction"])
    assert abs(of_clear_sky(name) / share - 1.0) <= half_width
