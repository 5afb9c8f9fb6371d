"""Light, air and wind of every step: given, or a clear sky dimmed month by month."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from sunhitch.texts import statement
from sunhitch.types.harvest import ClearSkyWeather, HarvestRequest, WeatherSeries
from sunhitch.types.place import Place
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.errors import Faults
from sunhitch_service.engine.sky import (
    Array,
    Index,
    Mask,
    SkyLight,
    SunPosition,
    clear_sky,
    colour_factor,
    split,
    sun_at,
    unix_seconds,
)

from .clock import HOUR_S, Clock, midnight
from .practice import PRACTICE

_WARMEST_HOUR = 15.0
_KILOWATTS, _HIGH_DEG = 4.0, 20.0
"""Light that stays below this while the sun is higher than that is in kW/m² or MJ/m² an hour."""
_SOLAR_W_M2, _ENHANCED, _SLACK_W_M2, _APART = 1410.0, 1.5, 60.0, 0.3
"""The nearest sun outside the air (1361 W/m², IAU 2015, 3.4 % nearer in January); bright edges of
clouds let through at most so much of it; what meters and steps may leave between light and its
parts, fixed and as a share (the Baseline Surface Radiation Network asks for 8 to 15 %; from
memory)."""
_NIGHT_W_M2, _TURN_DEG_PER_H, _MOST_FAULTS = 15.0, 15.0, 20
"""A night reading that may be the meter's own; how fast the sun may rise; faults told."""
_MOST_DIRT = 0.3
"""Of the light, as in the source of the model."""


@dataclass(frozen=True, slots=True)
class LitSteps:
    """Some steps, shape (states,) each; those of a study's pieces have light.

    Parameters
    ----------
    step_s : float
        Length of a step [s].
    steps : ndarray of int
        Numbers by which their results are put together.
    unix_s, month : ndarray
        Middle of the step, seconds since 1970 UTC, and month, 1 to 12.
    sun : SunPosition
        Then.
    light : SkyLight
        Mean over the step; zero where the sun is down.
    air_c, wind_m_s : ndarray
        Air temperature and wind.
    dirt, colour : ndarray
        Light lost to dirt, and what its colour makes of the rest [1].
    away : ndarray of bool
        Whether the vehicle is on the road, away from things on the ground.
    """

    step_s: float
    steps: Index
    unix_s: Array
    month: Index
    sun: SunPosition
    light: SkyLight
    air_c: Array
    wind_m_s: Array
    dirt: Array
    colour: Array
    away: Mask

    def of(self, own: Index) -> "LitSteps":
        """Some of them, by their places."""
        return LitSteps(
            self.step_s,
            self.steps[own],
            self.unix_s[own],
            self.month[own],
            self.sun.at(own),
            self.light.at(own),
            self.air_c[own],
            self.wind_m_s[own],
            self.dirt[own],
            self.colour[own],
            self.away[own],
        )

    @property
    def follows(self) -> Mask:
        """Whether a step comes right after the one before it, with no night in between."""
        return np.abs(np.diff(self.unix_s, prepend=-np.inf) - self.step_s) < 1.0

    def runs(self, most: int, whole_days: bool) -> Iterator["LitSteps"]:
        """All of them in runs of about equal length, which is `most` at the most, or days more.

        Where days need not stay whole, steps of like light come together: they share curves.
        """
        count = len(self.steps)
        bounds = np.linspace(0, count, max(1, -(-count // most)) + 1).astype(np.int64)
        order = np.arange(count)
        if whole_days:
            ends = np.append(np.flatnonzero(~self.follows), count)
            bounds = np.unique(ends[np.searchsorted(ends, bounds)])
        else:
            order = np.argsort(self.light.ghi, kind="stable")
        for first, last in pairwise(bounds.tolist()):
            yield self.of(np.sort(order[first:last]))


@dataclass(frozen=True, slots=True)
class WeatherSteps(LitSteps):
    """All steps of a study, and their clock."""

    clock: Clock

    def lit(self) -> LitSteps:
        """All that have light."""
        return self.of(np.flatnonzero(self.sun.is_up & (self.light.ghi > 0.0)))


def clock_of(weather: ClearSkyWeather | WeatherSeries) -> Clock:
    """Steps of a weather.

    Parameters
    ----------
    weather : ClearSkyWeather or WeatherSeries
        As given.

    Returns
    -------
    Clock
        In its local time.

    Raises
    ------
    ValueError
        If its first day or moment does not exist.
    """
    if isinstance(weather, ClearSkyWeather):
        offset = weather.utc_offset_h * HOUR_S
        steps = weather.days * 86_400 // weather.step_s
        return Clock(midnight(weather.first_day, offset), weather.step_s, steps, offset)
    start = unix_seconds(weather.start)
    local = unix_seconds(f"{weather.start[:16]}:00+00:00")
    offset = round((local - start) / 60.0) * 60.0
    return Clock(start, weather.step_s, len(weather.ghi_w_m2), offset)


def conditions(
    request: HarvestRequest,
    weather: ClearSkyWeather | WeatherSeries,
    pointer: str,
    notes: Assumptions,
) -> WeatherSteps:
    """Light, air and wind of every step.

    Parameters
    ----------
    request : HarvestRequest
        Place, dirt and kind of cells.
    weather : ClearSkyWeather or WeatherSeries
        As given.
    pointer : str
        JSON Pointer of the weather.
    notes : Assumptions
        Takes note of what was chosen.

    Returns
    -------
    WeatherSteps
        Ready for the panels.
    """
    clock, place = clock_of(weather), request.place
    sun = sun_at(place, clock.middle_unix_s)
    if isinstance(weather, ClearSkyWeather):
        light = _dimmed(place, weather, clock, sun, pointer, notes)
        air = _seasonal_air(weather, clock, pointer, notes)
        wind = np.full(
            clock.steps, PRACTICE.usual(notes, f"{pointer}/wind_m_s", weather.wind_m_s, "wind")
        )
    else:
        _judge_light(weather, clock, sun, pointer)
        light = _given(weather, clock, sun, pointer, notes)
        air = np.array(weather.air_c)
        wind = (
            np.array(weather.wind_m_s)
            if weather.wind_m_s
            else np.full(clock.steps, PRACTICE.usual(notes, f"{pointer}/wind_m_s", None, "wind"))
        )
    up = sun.is_up
    lit = SkyLight(light.ghi * up, light.dni * up, light.dhi * up)
    dirt = _dirt(request, weather, clock, notes)
    colour = np.ones(clock.steps)
    if request.spectrum is not None:
        clear = clear_sky(place, clock.middle_unix_s, sun)
        colour = colour_factor(place, sun, lit.ghi, clear.ghi, request.spectrum)
    away = np.zeros(clock.steps, dtype=bool)
    steps, middles = np.arange(clock.steps), clock.middle_unix_s
    return WeatherSteps(
        clock.step_s, steps, middles, clock.month, sun, lit, air, wind, dirt, colour, away, clock
    )


def _judge_light(weather: WeatherSeries, clock: Clock, sun: SunPosition, pointer: str) -> None:
    """Refuse light at night or beyond the sun's, kilowatts, parts that do not make the whole."""
    ghi, height_deg = np.array(weather.ghi_w_m2), 90.0 - sun.apparent_zenith_deg
    faults, brightest = Faults(), int(np.argmax(ghi))
    faults.add_if(
        0.0 < ghi[brightest] <= _KILOWATTS and float(height_deg[ghi > 0.0].max()) > _HIGH_DEG,
        f"{pointer}/ghi_w_m2/{brightest}",
        "light-in-kilowatts",
        ghi_w_m2=ghi[brightest],
    )
    faults.raise_any()
    highest_deg = np.minimum(height_deg + 0.5 * _TURN_DEG_PER_H * clock.step_h, 90.0)
    outside = _SOLAR_W_M2 * np.sin(np.radians(np.maximum(highest_deg, 0.0)))

    def refuse(code: str, part: str, wrong: Mask, **told: Array) -> None:
        for step in np.flatnonzero(wrong)[:_MOST_FAULTS].tolist():
            own = {name: float(each[step]) for name, each in told.items()}
            own |= {"ghi_w_m2": float(ghi[step])}
            faults.add(f"{pointer}/{part}/{step}", code, moment=clock.moment(step), **own)

    dark = highest_deg < 0.0
    refuse("light-at-night", "ghi_w_m2", dark & (ghi > _NIGHT_W_M2), below_deg=-height_deg)
    beyond = ~dark & (ghi > _ENHANCED * outside + _SLACK_W_M2)
    refuse("light-beyond-the-sun", "ghi_w_m2", beyond, outside_w_m2=outside)
    if weather.dni_w_m2:
        dni, dhi = np.array(weather.dni_w_m2), np.array(weather.dhi_w_m2)
        made = dni * np.sin(np.radians(height_deg)) + dhi
        apart = (height_deg > _HIGH_DEG) & (np.abs(made - ghi) > _APART * ghi + _SLACK_W_M2)
        refuse("light-parts-apart", "dni_w_m2", apart, made_w_m2=made, height_deg=height_deg)
    faults.raise_any()


def _dirt(
    request: HarvestRequest,
    weather: ClearSkyWeather | WeatherSeries,
    clock: Clock,
    notes: Assumptions,
) -> Array:
    """Share of the light lost to dirt in every step.

    Growing day by day until rain washes: A. Kimber et al., 4th World Conference on Photovoltaic
    Energy Conversion (2006), as in `pvlib.soiling.kimber`; washing by hand comes on top.
    """
    grows = request.soiling
    if grows is None or isinstance(weather, ClearSkyWeather):
        share = PRACTICE.usual(notes, "/dirt_fraction", request.dirt_fraction, "dirt")
        return np.full(clock.steps, share)
    days, of_day = np.unique(clock.day_number, return_inverse=True)
    rain = np.bincount(of_day, weights=np.array(weather.rain_mm))
    lost, dry = np.zeros(len(days)), grows.days_clean_after_rain + 1
    every = grows.washed_every_days or len(days)
    for day in range(1, len(days)):
        dry = 0 if rain[day] >= grows.washing_rain_mm else dry + 1
        clean = dry <= grows.days_clean_after_rain or day % every == 0
        lost[day] = 0.0 if clean else lost[day - 1] + grows.loss_per_day_fraction
    return np.minimum(lost, _MOST_DIRT)[of_day]


def on_the_road(request: HarvestRequest, parked: WeatherSteps) -> WeatherSteps:
    """The same with the air of the road in the hours of driving.

    Parameters
    ----------
    request : HarvestRequest
        With hours of driving.
    parked : WeatherSteps
        As if always parked.

    Returns
    -------
    WeatherSteps
        Steps at least half of which are driven; where trips overlap, the last one given holds.
    """
    away, wind = parked.away.copy(), parked.wind_m_s.copy()
    for trip in request.driving:
        own = parked.clock.share(trip.from_hour, trip.to_hour, trip.months) >= 0.5
        away |= own
        wind[own] = trip.air_speed_m_s
    return replace(parked, wind_m_s=wind, away=away)


def _dimmed(
    place: Place,
    weather: ClearSkyWeather,
    clock: Clock,
    sun: SunPosition,
    pointer: str,
    notes: Assumptions,
) -> SkyLight:
    shares = monthly_clearness(weather)
    if not weather.monthly_clearness_fraction:
        field = f"{pointer}/monthly_clearness_fraction"
        notes.note(field, PRACTICE.figure("clearness"), PRACTICE.why("clearness"))
    notes.note(
        f"{pointer}/kind",
        "clear-sky",
        statement("clear-sky-by-clearness"),
    )
    return dimmed_sky(place, weather, clock.middle_unix_s, sun, shares[clock.month - 1])


def monthly_clearness(weather: ClearSkyWeather) -> Array:
    """Twelve shares of the clear sky's light, customary ones where none are given."""
    return np.array(weather.monthly_clearness_fraction or [PRACTICE.figure("clearness")] * 12)


def dimmed_sky(
    place: Place, weather: ClearSkyWeather, unix_s: Array, sun: SunPosition, share: Array
) -> SkyLight:
    """A clear sky's light times a share, split after Erbs 1982 where that dims it.

    Parameters
    ----------
    place : Place
        Where.
    weather : ClearSkyWeather
        With the haze.
    unix_s : ndarray, shape (steps,)
        Seconds since 1970 UTC.
    sun : SunPosition
        At these times.
    share : ndarray, shape (steps,)
        Of the clear sky's light on the horizontal [1].

    Returns
    -------
    SkyLight
        Of every step.
    """
    clear = clear_sky(place, unix_s, sun, weather.linke_turbidity)
    dimmed = split(clear.ghi * share, sun, unix_s)
    cloudless = share >= 1.0
    return SkyLight(
        dimmed.ghi,
        np.where(cloudless, clear.dni * share, dimmed.dni),
        np.where(cloudless, clear.dhi * share, dimmed.dhi),
    )


def _seasonal_air(
    weather: ClearSkyWeather, clock: Clock, pointer: str, notes: Assumptions
) -> Array:
    means = np.array(weather.monthly_air_c or [PRACTICE.figure("air")] * 12)
    if not weather.monthly_air_c:
        notes.note(f"{pointer}/monthly_air_c", PRACTICE.figure("air"), PRACTICE.why("air"))
    swing = PRACTICE.usual(notes, f"{pointer}/daily_swing_k", weather.daily_swing_k, "swing")
    phase = 2.0 * np.pi * (clock.hour - _WARMEST_HOUR) / 24.0
    return np.asarray(means[clock.month - 1] + 0.5 * swing * np.cos(phase), dtype=np.float64)


def _given(
    weather: WeatherSeries, clock: Clock, sun: SunPosition, pointer: str, notes: Assumptions
) -> SkyLight:
    ghi = np.array(weather.ghi_w_m2)
    if weather.dni_w_m2:
        return SkyLight(ghi, np.array(weather.dni_w_m2), np.array(weather.dhi_w_m2))
    notes.note(f"{pointer}/dni_w_m2", "split", statement("split-off-horizontal"))
    return split(ghi, sun, clock.middle_unix_s)
