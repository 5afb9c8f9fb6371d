"""Hours without power as a probability: the battery through many invented years.

Twelve monthly means tell nothing of dull spells. The array's power is solved at even steps of
clearness on some days of the year; invented hours read it in between.
"""

from dataclasses import dataclass, replace

import numpy as np

from sunhitch.texts import statement
from sunhitch.types.harvest import Autonomy, AutonomyBasis, ClearSkyWeather, HarvestRequest
from sunhitch_service.engine.battery.simulation import BatteryModel, simulate
from sunhitch_service.engine.sky import Array, Index

from .clock import Clock
from .sequences import clearness
from .weather import LitSteps, WeatherSteps, dimmed_sky, monthly_clearness

_STEP = 0.2
_LEVELS = 6
"""Even steps of clearness that are solved, the first one above none."""
_DAYS = 8
"""Days of the year from one that is solved to the next."""
_SIDE_BY_SIDE = 100
_SOME_WH = 1e-6
ONE_IN_TEN = 0.9
"""Quantile that one year in ten exceeds."""


@dataclass(frozen=True, slots=True)
class TrialSkies:
    """What is to be solved for invented years.

    Parameters
    ----------
    days : ndarray of int
        Days of the study that are solved.
    of_day : int
        Steps of a day.
    lit : LitSteps
        All levels of clearness on these days, numbered by level, day and step.
    """

    days: Index
    of_day: int
    lit: LitSteps

    @property
    def size(self) -> int:
        """How many numbers there are."""
        return _LEVELS * len(self.days) * self.of_day

    def by_clearness(self, power_w: Array, clock: Clock) -> Array:
        """Power at every level and step of the study, none at first, shape (levels, steps) [W]."""
        own = power_w.reshape(_LEVELS, len(self.days), self.of_day)
        every = np.arange(clock.steps // self.of_day)
        place = np.interp(every, self.days, np.arange(len(self.days)))
        left = place.astype(np.int64)
        share = (place - left)[:, None]
        right = np.minimum(left + 1, len(self.days) - 1)
        found = (own[:, left] * (1.0 - share) + own[:, right] * share).reshape(_LEVELS, -1)
        return np.concatenate([np.zeros((1, found.shape[1])), found])


def trial_skies(request: HarvestRequest, weather: WeatherSteps) -> TrialSkies | None:
    """Skies to be solved for a study; none where years are given or nothing asks for power.

    Parameters
    ----------
    request : HarvestRequest
        With weather and loads.
    weather : WeatherSteps
        Of the study.

    Returns
    -------
    TrialSkies or None
        On some of its days.
    """
    given = request.weather
    if not isinstance(given, ClearSkyWeather) or not given.synthetic_years or not request.loads:
        return None
    of_day = 86_400 // given.step_s
    days = weather.clock.steps // of_day
    chosen = np.unique(np.rint(np.linspace(0, days - 1, -(-days // _DAYS))).astype(np.int64))
    own = (chosen[:, None] * of_day + np.arange(of_day)).ravel()
    numbers = np.arange(_LEVELS * len(own))
    level, own = numbers // len(own) + 1, np.tile(own, _LEVELS)
    up = weather.sun.is_up[own]
    numbers, level, own = numbers[up], level[up], own[up]
    times, sun = weather.clock.middle_unix_s[own], weather.sun.at(own)
    share = np.asarray(_STEP * level, dtype=np.float64)
    light = dimmed_sky(request.place, given, times, sun, share)
    return TrialSkies(chosen, of_day, replace(weather.of(own), steps=numbers, light=light))


@dataclass(frozen=True, slots=True)
class SyntheticYears:
    """What one battery and its loads come to in invented years.

    Parameters
    ----------
    hours, days : ndarray, shape (years,)
        Without power.
    unserved_wh, lowest_state : ndarray, shape (years,)
        Energy that is lacking [Wh], and lowest state [1].
    share : ndarray, shape (steps,)
        Of every step without power, mean over the years [1].
    """

    hours: Array
    days: Array
    unserved_wh: Array
    lowest_state: Array
    share: Array


@dataclass(frozen=True, slots=True)
class InventedYears:
    """A battery in years to be invented: a piece of a study, complete in itself.

    Parameters
    ----------
    given : ClearSkyWeather
        Whose months the years have.
    weather : WeatherSteps
        Steps, and the air.
    battery : BatteryModel
        The battery.
    load_w : ndarray, shape (steps,)
        Asked for [W].
    power_w : ndarray, shape (levels, steps)
        At its terminals by clearness, from none in even steps [W].
    """

    given: ClearSkyWeather
    weather: WeatherSteps
    battery: BatteryModel
    load_w: Array
    power_w: Array

    def clearness(self) -> Array:
        """Share of the clear sky's light, shape (steps, years)."""
        given, clock = self.given, self.weather.clock
        an_hour = 3600 // given.step_s
        by_hour = self.weather.light.ghi.reshape(-1, 24, an_hour).sum(axis=2)
        month = clock.month.reshape(-1, 24 * an_hour)[:, 0]
        means = monthly_clearness(given)
        found = clearness(means, month, by_hour, given.synthetic_years, given.seed)
        return np.repeat(found.reshape(-1, found.shape[2]), an_hour, axis=0)

    def followed(self) -> SyntheticYears:
        """The battery through all of them."""
        clock, battery, power_w = self.weather.clock, self.battery, self.power_w
        limit_w = battery.charge_limit_w(self.weather.air_c, clock.step_h)
        begins = np.arange(0, clock.steps, 86_400 // self.given.step_s)
        every, share = np.arange(clock.steps)[:, None], self.clearness()
        found, lacking = np.zeros((4, share.shape[1])), np.zeros(clock.steps)
        for first in range(0, share.shape[1], _SIDE_BY_SIDE):
            own = slice(first, first + _SIDE_BY_SIDE)
            place = share[:, own] / _STEP
            left = np.minimum(place.astype(np.int64), len(power_w) - 2)
            below = power_w[left, every]
            power = below + (place - left) * (power_w[left + 1, every] - below)
            flows = simulate(battery, power, self.load_w, limit_w, clock.step_h)
            found[:, own] = (
                flows.unserved_share.sum(axis=0) * clock.step_h,
                (np.maximum.reduceat(flows.unserved, begins, axis=0) > _SOME_WH).sum(axis=0),
                flows.unserved.sum(axis=0),
                flows.stored.min(axis=0) / battery.capacity_wh,
            )
            lacking += flows.unserved_share.sum(axis=1)
        hours, days, unserved_wh, lowest_state = found
        return SyntheticYears(hours, days, unserved_wh, lowest_state, lacking / share.shape[1])


def of_synthetic_years(found: SyntheticYears, seed: int) -> Autonomy:
    """Their spread, as the answer tells it."""
    text = statement("invented-years", years=len(found.hours), seed=seed)
    return _range_of_years("synthetic-years", found.hours, found.lowest_state, seed, text)


def of_given_years(hours: Array, lowest_state: Array) -> Autonomy:
    """What given years of weather say."""
    if len(hours) == 1:
        return _range_of_years("one-year", hours, lowest_state, None, statement("one-given-year"))
    text = statement("given-years", years=len(hours))
    return _range_of_years("weather-years", hours, lowest_state, None, text)


def without_power(found: Autonomy) -> str:
    """Hours without power and their spread in one sentence."""
    if found.high_h == 0.0:
        if found.basis == "one-year":
            return statement("all-loads-given-year")
        return statement("all-loads-years", years=found.years)
    if found.basis == "one-year":
        return statement("without-power-given-year", lacking_h=found.middle_h)
    if found.basis == "weather-years":
        return statement(
            "lack-power-years", low_h=found.low_h, high_h=found.high_h, middle_h=found.middle_h
        )
    return statement("lack-power-typical", middle_h=found.middle_h, one_in_ten_h=found.one_in_ten_h)


def _range_of_years(
    basis: AutonomyBasis, hours: Array, lowest_state: Array, seed: int | None, text: str
) -> Autonomy:
    ends = (0.05, 0.5, ONE_IN_TEN, 0.95) if basis == "synthetic-years" else (0.0, 0.5, 1.0, 1.0)
    low, middle, one_in_ten, high = (float(x) for x in np.quantile(hours, ends))
    states = [float(x) for x in np.quantile(lowest_state, (1.0 - ends[2], 0.5))]
    return Autonomy(
        basis=basis,
        years=len(hours),
        seed=seed,
        low_h=low,
        middle_h=middle,
        one_in_ten_h=one_in_ten,
        high_h=high,
        years_without_gap_fraction=float(np.mean(hours <= _SOME_WH)),
        middle_lowest_state_fraction=states[1],
        one_in_ten_lowest_state_fraction=states[0],
        text=text,
    )
