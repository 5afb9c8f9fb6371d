"""Weather files of the public formats as `harvest` takes them; reading needs pvlib.

Every reader answers the place and the weather of a file::

    from sunhitch import weather

    file = weather.read_epw("station.epw")
    request = HarvestRequest(place=file.place, weather=file.weather, ...)

Light in the files is a mean over a step or a value at its middle; either way a step of the request
begins where that of the file begins. More than one request can hold in steps is averaged to hours.
Install with ``pip install 'sunhitch[weather]'``.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone
from importlib import import_module
from itertools import pairwise
from math import isfinite
from os import PathLike
from pathlib import Path
from typing import Any, TypeAlias, cast, get_args

import msgspec

from .errors import SunhitchError
from .types.harvest import MOST_STEPS, WIND_AT_THE_ROOF, HourlyWeather, Step, WeatherSeries
from .types.place import Place

FilePath: TypeAlias = str | PathLike[str]
_COLUMNS = ("ghi_w_m2", "dni_w_m2", "dhi_w_m2", "air_c", "wind_m_s")
_HOUR_S = 3600
_MISSING_LIGHT, _MISSING_AIR, _MISSING_WIND = 9000.0, 99.0, 900.0
_NIGHT_W_M2 = 15.0
"""How far below zero a pyranometer may read at night (ISO 9060, class B; from memory)."""
_LOWEST_SUN_SINE = 0.05
_ORDINARY_YEAR = 2027
"""A year without a leap day, as typical years are."""


class WeatherFileError(SunhitchError):
    """A weather file that cannot be read, or that `harvest` cannot use."""


@dataclass(frozen=True, slots=True)
class WeatherFile:
    """What a weather file holds.

    Parameters
    ----------
    place : Place
        Where it was recorded.
    weather : HourlyWeather
        For the field `weather` of a request.
    """

    place: Place
    weather: HourlyWeather

    @property
    def other_year(self) -> WeatherSeries:
        """The same for the list `other_years` of a request."""
        names = WeatherSeries.__struct_fields__
        return WeatherSeries(**{name: getattr(self.weather, name) for name in names})

    def days(self, first: int, count: int) -> "WeatherFile":
        """Some days of the file.

        Parameters
        ----------
        first : int
            Day to begin with; 0 is the first of the file.
        count : int
            How many.

        Raises
        ------
        ValueError
            The file does not have these days.
        """
        own = self.weather
        a_day = 86_400 // own.step_s
        begin, end = first * a_day, (first + count) * a_day
        if not 0 <= begin < end <= len(own.ghi_w_m2):
            raise ValueError(f"The file has days 0 to {len(own.ghi_w_m2) // a_day - 1}.")
        start = datetime.fromisoformat(own.start) + timedelta(days=first)
        columns = {name: getattr(own, name)[begin:end] for name in _COLUMNS}
        weather = msgspec.structs.replace(own, start=start.isoformat(), **columns)
        return WeatherFile(self.place, weather)


def read_tmy3(path: FilePath, year: int = _ORDINARY_YEAR) -> WeatherFile:
    """Typical year in the TMY3 format.

    Parameters
    ----------
    path : path
        File to read.
    year : int
        Year to take for it, since its months come from different ones.

    Raises
    ------
    WeatherFileError
        It is not such a file, or values are missing.

    References
    ----------
    S. Wilcox, W. Marion, NREL/TP-581-43156 (2008), as in `pvlib.iotools.read_tmy3`: light is the
    sum over the hour before the time given.
    """
    table, meta = _read(path, lambda io: io.read_tmy3(_known(path)))
    first = _in_year(table.index[0], year) - timedelta(hours=1)
    return _file(path, table, meta, first, str(meta["Name"]).strip('"'))


def read_tmy2(path: FilePath, year: int = _ORDINARY_YEAR) -> WeatherFile:
    """Typical year in the TMY2 format; arguments and errors as in `read_tmy3`.

    References
    ----------
    W. Marion, K. Urban, User's Manual for TMY2s (NREL 1995), as in `pvlib.iotools.read_tmy2`:
    temperature and wind are in tenths.
    """
    table, meta = _read(path, lambda io: io.read_tmy2(_known(path)))
    names = {"GHI": "ghi", "DNI": "dni", "DHI": "dhi", "DryBulb": "temp_air", "Wspd": "wind_speed"}
    table = table.rename(columns=names)
    table["temp_air"] = table["temp_air"] / 10.0
    table["wind_speed"] = table["wind_speed"] / 10.0
    return _file(path, table, meta, _in_year(table.index[0], year), str(meta["City"]).strip())


def read_epw(path: FilePath, year: int = _ORDINARY_YEAR) -> WeatherFile:
    """Typical or measured year in the EnergyPlus weather format; as `read_tmy3`.

    References
    ----------
    EnergyPlus, Auxiliary Programs: Weather Converter, as in `pvlib.iotools.read_epw`: light is the
    sum over the hour that ends at the time given.
    """
    table, meta = _read(path, lambda io: io.read_epw(str(_known(path))))
    return _file(path, table, meta, _in_year(table.index[0], year), str(meta["city"]))


def read_nsrdb(path: FilePath) -> WeatherFile:
    """One year of the National Solar Radiation Database, PSM as comma-separated values.

    Parameters
    ----------
    path : path
        File to read.

    Raises
    ------
    WeatherFileError
        It is not such a file, its times have gaps, or values are missing.

    References
    ----------
    Standard Time Series Data File Format (SAM CSV), as in `pvlib.iotools.read_nsrdb_psm4`; the time
    given is taken as the middle of its step.
    """
    table, meta = _read(path, lambda io: io.read_nsrdb_psm4(_known(path)))
    step = _even_step(path, table)
    first = table.index[0].to_pydatetime() - 0.5 * step
    name = f"NSRDB {table.index[0].year}"
    return _file(path, table, meta, first, name, int(step.total_seconds()))


def read_pvgis(
    path: FilePath, utc_offset_h: float = 0.0, year: int = _ORDINARY_YEAR
) -> WeatherFile:
    """Typical year, or hourly light on the horizontal with its parts, of PVGIS.

    Parameters
    ----------
    path : path
        File to read, .csv or .json.
    utc_offset_h : float
        Local time of days and loads against UTC, in which the file is.
    year : int
        Year to take for a typical year.

    Raises
    ------
    WeatherFileError
        It is neither of the two, is for a tilted plane, or values are missing.

    References
    ----------
    European Commission, Joint Research Centre, PVGIS, as in `pvlib.iotools.read_pvgis_tmy` and
    `pvlib.iotools.read_pvgis_hourly`; the time given is taken as the middle of its hour.
    """
    zone = timezone(timedelta(hours=utc_offset_h))
    suffix = Path(path).suffix.lower()
    if suffix not in (".csv", ".json"):
        raise WeatherFileError(f"{path}: end the name in .csv or .json, as PVGIS does.")
    if _is_pvgis_tmy(path):
        table, meta = _read(path, lambda io: io.read_pvgis_tmy(str(path)))
        middle, name = _in_year(table.index[0], year), "PVGIS typical year"
    else:
        table, meta = _read(path, lambda io: io.read_pvgis_hourly(str(path)))
        _even_step(path, table)
        table = _horizontal(path, table)
        middle = table.index[0].to_pydatetime()
        name = f"PVGIS {table.index[0].year}"
    first = (middle - timedelta(minutes=30)).astimezone(zone)
    place = meta["inputs"].get("location", meta["inputs"])
    return _file(path, table, place | {"altitude": place["elevation"]}, first, name)


def _known(path: FilePath) -> Path:
    found = Path(path)
    if not found.is_file():
        raise WeatherFileError(f"{path}: there is no such file.")
    return found


def _read(path: FilePath, reader: Callable[[Any], Any]) -> tuple[Any, Any]:
    """Let pvlib read a file."""
    _known(path)
    try:
        formats = import_module("pvlib.iotools")
    except ModuleNotFoundError as missing:
        raise WeatherFileError(
            f"Reading weather files needs {missing.name}; run pip install 'sunhitch[weather]'."
        ) from missing
    try:
        return cast("tuple[Any, Any]", reader(formats))
    except Exception as fault:
        raise WeatherFileError(
            f"{path} does not read as a file of that format: {type(fault).__name__}: {fault}"
        ) from fault


def _is_pvgis_tmy(path: FilePath) -> bool:
    text = _known(path).read_text("utf-8", errors="replace")
    return "tmy_hourly" in text or "time(UTC)" in text


def _in_year(moment: Any, year: int) -> datetime:  # noqa: ANN401 - a pandas timestamp
    return cast("datetime", moment.to_pydatetime()).replace(year=year)


def _even_step(path: FilePath, table: Any) -> timedelta:  # noqa: ANN401 - a pandas table
    """Distance of the times, which must be equal and one that `harvest` takes."""
    moments: list[datetime] = [moment.to_pydatetime() for moment in table.index]
    steps = {b - a for a, b in pairwise(moments)}
    if len(steps) != 1:
        raise WeatherFileError(f"{path}: its times are not evenly spaced; fill the gaps first.")
    (step,) = steps
    if step.total_seconds() not in get_args(Step):
        raise WeatherFileError(
            f"{path}: steps of {step.total_seconds():.0f} s; known are "
            f"{', '.join(map(str, get_args(Step)))}."
        )
    return step


def _horizontal(path: FilePath, table: Any) -> Any:  # noqa: ANN401 - a pandas table
    """Light of the sky from parts in a level plane; a low sun's beam counts as diffuse."""
    parts = ("poa_direct", "poa_sky_diffuse", "poa_ground_diffuse", "solar_elevation")
    if not set(parts) <= set(table.columns):
        raise WeatherFileError(f"{path}: ask PVGIS for the parts of the light (components).")
    if float(table["poa_ground_diffuse"].abs().max()) > 0.0:
        raise WeatherFileError(f"{path} is for a tilted plane; ask PVGIS for tilt 0.")
    numpy = import_module("numpy")
    sine = numpy.sin(numpy.radians(table["solar_elevation"]))
    high = sine > _LOWEST_SUN_SINE
    table["ghi"] = table["poa_direct"] + table["poa_sky_diffuse"]
    table["dni"] = numpy.where(high, table["poa_direct"] / sine.where(high, 1.0), 0.0)
    table["dhi"] = numpy.where(high, table["poa_sky_diffuse"], table["ghi"])
    return table


def _file(
    path: FilePath,
    table: Any,  # noqa: ANN401 - a pandas table
    meta: Mapping[str, Any],
    first: datetime,
    name: str,
    step_s: int = _HOUR_S,
) -> WeatherFile:
    """Place and weather out of a table with pvlib's column names and what was said about it."""
    place = Place(
        latitude_deg=float(meta["latitude"]),
        longitude_deg=float(meta["longitude"]),
        altitude_m=float(meta["altitude"]),
    )
    light = {
        f"{part}_w_m2": _light(path, part, _column(path, table, part, _MISSING_LIGHT))
        for part in ("ghi", "dni", "dhi")
    }
    wind = [
        WIND_AT_THE_ROOF * speed if speed < _MISSING_WIND else 0.0
        for speed in _column(path, table, "wind_speed", float("inf"))
    ]
    columns = {
        **light,
        "air_c": _column(path, table, "temp_air", _MISSING_AIR),
        "wind_m_s": wind,
    }
    if len(wind) > MOST_STEPS:
        columns = {key: _by_the_hour(values, step_s) for key, values in columns.items()}
        step_s = _HOUR_S
    weather = HourlyWeather(
        name=name or "given",
        start=first.isoformat(timespec="seconds"),
        step_s=cast("Step", step_s),
        **columns,
    )
    return WeatherFile(place, weather)


def _column(
    path: FilePath,
    table: Any,  # noqa: ANN401 - a pandas table
    name: str,
    missing_from: float,
) -> list[float]:
    """Values of a column; those from some size on stand for missing ones."""
    if name not in table.columns:
        raise WeatherFileError(f"{path} has no column for {name.replace('_', ' ')}.")
    values = [float(value) for value in table[name]]
    for row, value in enumerate(values):
        if not isfinite(value) or value >= missing_from:
            raise WeatherFileError(
                f"{path}: no value for {name.replace('_', ' ')} in step {row + 1} of "
                f"{len(values)}; fill it first."
            )
    return values


def _light(path: FilePath, name: str, values: list[float]) -> list[float]:
    """Light, with small negative readings of the night as none."""
    lowest = min(values)
    if lowest < -_NIGHT_W_M2:
        raise WeatherFileError(f"{path}: {name} of {lowest:g} W/m² is not light.")
    return [max(0.0, value) for value in values]


def _by_the_hour(values: list[float], step_s: int) -> list[float]:
    steps = _HOUR_S // step_s
    whole = len(values) // steps * steps
    return [sum(values[k : k + steps]) / steps for k in range(0, whole, steps)]
