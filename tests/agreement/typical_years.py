"""Hours without power of invented years against typical years of measured weather.

``python tests/agreement/typical_years.py`` tells, for the typical years that pvlib ships and ten
loads each, in how many cases the year hour by hour lies between the low and the high value of
years invented about its own twelve means.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import msgspec
import numpy as np
import pvlib
from harvest_builders import array, study

from sunhitch import weather
from sunhitch.types.harvest import Autonomy, ClearSkyWeather, HarvestAnswer, HarvestRequest, Load
from sunhitch.types.system import Battery
from sunhitch.weather import WeatherFile
from sunhitch_service.engine.harvest.calculation import conclude, further, prepare, work
from sunhitch_service.engine.harvest.clock import Clock
from sunhitch_service.engine.harvest.weather import clock_of
from sunhitch_service.engine.sky import Array, clear_sky, sun_at

FILES: dict[str, Callable[[Path], WeatherFile]] = {
    "703165TY.csv": weather.read_tmy3,
    "723170TYA.CSV": weather.read_tmy3,
    "12839.tm2": weather.read_tmy2,
}
LOADS = (0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.3)
"""Shares of what the array gives in the darkest month."""


def read(name: str) -> WeatherFile:
    """A typical year."""
    return FILES[name](Path(pvlib.__file__).parent / "data" / name)


def clear_of(file: WeatherFile) -> tuple[Clock, Array]:
    """Steps of a file, and the clear sky's light on the horizontal in each [W/m²]."""
    clock = clock_of(file.weather)
    sun = sun_at(file.place, clock.middle_unix_s)
    return clock, clear_sky(file.place, clock.middle_unix_s, sun).ghi


def of_clear_sky(name: str) -> float:
    """A year's light over that of a year of clear skies."""
    file = read(name)
    return float(np.sum(file.weather.ghi_w_m2) / clear_of(file)[1].sum())


def monthly(file: WeatherFile) -> ClearSkyWeather:
    """What a caller knows who has twelve means only."""
    own = file.weather
    clock, clear = clear_of(file)
    given, air = np.array(own.ghi_w_m2), np.array(own.air_c)
    in_month = [clock.month == month for month in range(1, 13)]
    return ClearSkyWeather(
        first_day=own.start[:10],
        utc_offset_h=clock.offset_s / 3600.0,
        monthly_clearness_fraction=[float(given[m].sum() / clear[m].sum()) for m in in_month],
        monthly_air_c=[float(air[m].mean()) for m in in_month],
        wind_m_s=float(np.mean(own.wind_m_s)),
    )


def under(request: HarvestRequest, loads_w: Sequence[float] = ()) -> Iterator[HarvestAnswer]:
    """Answers under loads, or without; light solved once."""
    prepared = prepare(request)
    parts = [work(job) for job in prepared.jobs]
    for power_w in loads_w or (0.0,):
        own = msgspec.structs.replace(request, loads=[Load(name="all", power_w=power_w)])
        again = replace(prepared, study=replace(prepared.study, request=own))
        yield conclude(again, [*parts, *map(work, further(again, parts))])


def compared(
    name: str, shares: tuple[float, ...] = LOADS, capacity_ah: float = 60.0
) -> list[tuple[float, Autonomy]]:
    """Hours without power in a typical year, and what invented years say, by load."""
    file = read(name)
    request = study(
        place=file.place,
        weather=file.weather,
        arrays=[array([["p0"]])],
        loads=[Load(name="all", power_w=1.0)],
        battery=Battery(
            chemistry="agm", nominal_voltage_v=12, capacity_ah=capacity_ah, no_charge_below_c=-40.0
        ),
    )
    invented = msgspec.structs.replace(request, weather=monthly(file))
    (unloaded,) = under(request)
    mean_w = min(m.array_wh / m.days for m in unloaded.months) / 24.0
    loads_w = [share * mean_w for share in shares]
    hours = [one.autonomy.middle_h for one in under(request, loads_w)]
    return list(zip(hours, (one.autonomy for one in under(invented, loads_w)), strict=True))


def main() -> None:
    kept = total = 0
    for name in FILES:
        for load, (hours, told) in zip(LOADS, compared(name), strict=True):
            within = told.low_h <= hours <= told.high_h
            kept, total = kept + within, total + 1
            print(
                f"{name:14} {load:4.1f}: {hours:7.1f} h, invented {told.low_h:7.1f} to "
                f"{told.high_h:7.1f} h, middle {told.middle_h:7.1f}{'' if within else '  outside'}"
            )
    print(f"{kept} of {total} within")


if __name__ == "__main__":
    main()
