"""Light, air and wind of every step: given, or a clear sky dimmed month by month."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sunhitch.types.harvest import ClearSkyWeather, HarvestRequest, WeatherSeries
from sunhitch.types.place import Place
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.sky import (
    Array,
    SkyLight,
    SunPosition,
    clear_sky,
    split,
    sun_at,
    unix_seconds,
)

from .clock import HOUR_S, Clock, midnight
from .practice import figure, usual, why

_WARMEST_HOUR = 15.0


@dataclass(frozen=True, slots=True)
class WeatherSteps:
    """Weather of a study.

    Parameters
    ----------
    clock : Clock
        Steps.
    sun : SunPosition
        At every step's middle.
    light : SkyLight
        Mean over each step; zero where the sun is down.
    air_c, wind_m_s : ndarray, shape (steps,)
        Air temperature and wind.
    away : ndarray of bool, shape (steps,)
        Whether the vehicle is on the road, away from things on the ground.
    """

    clock: Clock
    sun: SunPosition
    light: SkyLight
    air_c: Array
    wind_m_s: Array
    away: NDArray[np.bool_]

    def part(self, first: int, last: int) -> "WeatherSteps":
        """Steps from the first up to, but not with, the last."""
        own = slice(first, last)
        sun, light = self.sun, self.light
        return WeatherSteps(
            self.clock.part(first, last),
            SunPosition(sun.zenith_deg[own], sun.apparent_zenith_deg[own], sun.azimuth_deg[own]),
            SkyLight(light.ghi[own], light.dni[own], light.dhi[own]),
            self.air_c[own],
            self.wind_m_s[own],
            self.away[own],
        )


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
    place: Place, weather: ClearSkyWeather | WeatherSeries, pointer: str, notes: Assumptions
) -> WeatherSteps:
    """Light, air and wind of every step.

    Parameters
    ----------
    place : Place
        Where.
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
    clock = clock_of(weather)
    sun = sun_at(place, clock.middle_unix_s)
    if isinstance(weather, ClearSkyWeather):
        light = _dimmed(place, weather, clock, sun, pointer, notes)
        air = _seasonal_air(weather, clock, pointer, notes)
        wind = np.full(clock.steps, usual(notes, f"{pointer}/wind_m_s", weather.wind_m_s, "wind"))
    else:
        light = _given(weather, clock, sun, pointer, notes)
        air = np.array(weather.air_c)
        wind = _given_wind(weather, clock, pointer, notes)
    up = sun.is_up
    lit = SkyLight(light.ghi * up, light.dni * up, light.dhi * up)
    return WeatherSteps(clock, sun, lit, air, wind, np.zeros(clock.steps, dtype=bool))


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
    clear = clear_sky(place, clock.middle_unix_s, sun, weather.linke_turbidity)
    shares = np.array(weather.monthly_clearness_fraction or [figure("clearness")] * 12)
    if not weather.monthly_clearness_fraction:
        field = f"{pointer}/monthly_clearness_fraction"
        notes.note(field, figure("clearness"), why("clearness"))
    notes.note(
        f"{pointer}/kind",
        "clear-sky",
        "Every day of a month gets the same clearness; its light is split into beam and diffuse "
        "after Erbs 1982. Real months mix bright and dull days: shade costs somewhat more then.",
    )
    share = shares[clock.month - 1]
    dimmed = split(clear.ghi * share, sun, clock.middle_unix_s)
    cloudless = share >= 1.0
    return SkyLight(
        dimmed.ghi,
        np.where(cloudless, clear.dni * share, dimmed.dni),
        np.where(cloudless, clear.dhi * share, dimmed.dhi),
    )


def _seasonal_air(
    weather: ClearSkyWeather, clock: Clock, pointer: str, notes: Assumptions
) -> Array:
    means = np.array(weather.monthly_air_c or [figure("air")] * 12)
    if not weather.monthly_air_c:
        notes.note(f"{pointer}/monthly_air_c", figure("air"), why("air"))
    swing = usual(notes, f"{pointer}/daily_swing_k", weather.daily_swing_k, "swing")
    phase = 2.0 * np.pi * (clock.hour - _WARMEST_HOUR) / 24.0
    return np.asarray(means[clock.month - 1] + 0.5 * swing * np.cos(phase), dtype=np.float64)


def _given(
    weather: WeatherSeries, clock: Clock, sun: SunPosition, pointer: str, notes: Assumptions
) -> SkyLight:
    ghi = np.array(weather.ghi_w_m2)
    if weather.dni_w_m2:
        return SkyLight(ghi, np.array(weather.dni_w_m2), np.array(weather.dhi_w_m2))
    notes.note(
        f"{pointer}/dni_w_m2", "split", "Split off the light on the horizontal after Erbs 1982."
    )
    return split(ghi, sun, clock.middle_unix_s)


def _given_wind(weather: WeatherSeries, clock: Clock, pointer: str, notes: Assumptions) -> Array:
    if weather.wind_m_s:
        return np.array(weather.wind_m_s)
    return np.full(clock.steps, usual(notes, f"{pointer}/wind_m_s", None, "wind"))
