"""Weather files of open formats and published data sets as `harvest` takes them; needs pvlib.

Every reader answers the place and the weather of a file::

    from sunhitch import weather

    file = weather.read("station.epw")
    request = HarvestRequest(place=file.place, weather=file.weather, ...)

Light in the files is a mean over a step or a value at its middle; either way a step of the request
begins where that of the file begins. More than one request can hold in steps is averaged to hours.
What does not add up is refused with its line: gaps, doubled hours, missing values, light at night
or beyond the sun's, kilowatts for watts, parts that do not make the whole. Install with
``pip install 'sunhitch[weather]'``.
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
"""How far from zero a pyranometer may read at night (ISO 9060, class B; from memory)."""
_NIGHT_DEG = -1.0
"""A sun that stays below this through a step gives no light."""
_KILOWATTS, _HIGH_DEG = 4.0, 20.0
"""Light that never exceeds this though the sun is higher than that is not in W/m²."""
_SOLAR_W_M2, _ENHANCED, _SLACK_W_M2, _APART = 1410.0, 1.5, 60.0, 0.3
"""As in the service: the sun outside the air, what the bright edges of clouds may add, and how far
light may be from the sum of its parts, fixed and as a share."""
_LIMITS = {
    "ghi": (-_NIGHT_W_M2, 2000.0),
    "dni": (-_NIGHT_W_M2, 2000.0),
    "dhi": (-_NIGHT_W_M2, 2000.0),
    "temp_air": (-70.0, 60.0),
    "wind_speed": (0.0, 60.0),
}
"""What can be, as the contract has it."""
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


def read(path: FilePath) -> WeatherFile:
    """A file of any of the formats below, told by its suffix and its first line.

    Parameters
    ----------
    path : path
        File to read.

    Raises
    ------
    WeatherFileError
        It is of none of these formats, or values are missing.
    """
    with _known(path).open(encoding="utf-8", errors="replace") as opened:
        first = opened.readline()
    suffix = Path(path).suffix.lower()
    readers: dict[str, Callable[[FilePath], WeatherFile]] = {
        ".epw": read_epw,
        ".tm2": read_tmy2,
        ".json": read_sarah,
        ".csv": read_tmy3,
    }
    if suffix == ".csv" and first.startswith("Latitude"):
        return read_sarah(path)
    if suffix == ".csv" and first.startswith("Source"):
        return read_nsrdb(path)
    if suffix not in readers:
        raise WeatherFileError(f"{path}: end the name in one of {', '.join(readers)}.")
    return readers[suffix](path)


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
        It is not such a file, or some line of it cannot be right.

    References
    ----------
    S. Wilcox, W. Marion, NREL/TP-581-43156 (2008), as in `pvlib.iotools.read_tmy3`: light is the
    sum over the hour before the time given.
    """
    table, meta = _read(path, lambda io: io.read_tmy3(_known(path)))
    rows = _Rows(path, table, 2, year)
    return rows.file(meta, rows.first - timedelta(hours=1), str(meta["Name"]).strip('"'))


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
    rows = _Rows(path, table, 1, year)
    return rows.file(meta, rows.first, str(meta["City"]).strip())


def read_epw(path: FilePath, year: int = _ORDINARY_YEAR) -> WeatherFile:
    """Typical or measured year in the EPW format; arguments and errors as in `read_tmy3`.

    References
    ----------
    EPW data dictionary, as in `pvlib.iotools.read_epw`: light is the sum over the hour that ends at
    the time given.
    """
    table, meta = _read(path, lambda io: io.read_epw(str(_known(path))))
    rows = _Rows(path, table, 8, year)
    return rows.file(meta, rows.first, str(meta["city"]))


def read_nsrdb(path: FilePath) -> WeatherFile:
    """One year of the National Solar Radiation Database, PSM as comma-separated values.

    Parameters
    ----------
    path : path
        File to read.

    Raises
    ------
    WeatherFileError
        It is not such a file, or some line of it cannot be right.

    References
    ----------
    Standard Time Series Data File Format, as in `pvlib.iotools.read_nsrdb_psm4`; the time given is
    taken as the middle of its step.
    """
    table, meta = _read(path, lambda io: io.read_nsrdb_psm4(_known(path)))
    rows = _Rows(path, table, 3, None)
    return rows.file(meta, rows.first - 0.5 * rows.step, f"NSRDB {table.index[0].year}")


def read_sarah(
    path: FilePath, utc_offset_h: float = 0.0, year: int = _ORDINARY_YEAR
) -> WeatherFile:
    """Typical year, or hourly light on the horizontal with its parts, of the SARAH and ERA5 data.

    Parameters
    ----------
    path : path
        File as the Joint Research Centre gives it out, .csv or .json.
    utc_offset_h : float
        Local time of days and loads against UTC, in which the file is.
    year : int
        Year to take for a typical year.

    Raises
    ------
    WeatherFileError
        It is neither of the two, is for a tilted plane, or some line of it cannot be right.

    References
    ----------
    European Commission, Joint Research Centre, as in `pvlib.iotools`; the time given is taken as
    the middle of its hour.
    """
    zone = timezone(timedelta(hours=utc_offset_h))
    suffix = Path(path).suffix.lower()
    if suffix not in (".csv", ".json"):
        raise WeatherFileError(f"{path}: end the name in .csv or .json, as its publisher does.")
    text = _known(path).read_text("utf-8", errors="replace")
    lines = text.splitlines()
    heads = [k for k, line in enumerate(lines, start=1) if line.startswith("time")]
    head = heads[0] if heads and suffix == ".csv" else None
    if "tmy_hourly" in text or "time(UTC)" in text:
        table, meta = _read(path, lambda io: io.read_pvgis_tmy(str(path)))
        rows, name = _Rows(path, table, head, year), "typical year of SARAH and ERA5"
    else:
        table, meta = _read(path, lambda io: io.read_pvgis_hourly(str(path)))
        table = _horizontal(path, table)
        rows, name = _Rows(path, table, head, None), f"SARAH {table.index[0].year}"
    first = (rows.first - timedelta(minutes=30)).astimezone(zone)
    place = meta["inputs"].get("location", meta["inputs"])
    return rows.file(place | {"altitude": place["elevation"]}, first, name)


def _known(path: FilePath) -> Path:
    found = Path(path)
    if not found.is_file():
        raise WeatherFileError(f"{path}: there is no such file.")
    return found


def _read(path: FilePath, reader: Callable[[Any], Any]) -> tuple[Any, Any]:
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


def _horizontal(path: FilePath, table: Any) -> Any:  # noqa: ANN401 - a pandas table
    """Light of the sky from parts in a level plane; a low sun's beam counts as diffuse."""
    parts = ("poa_direct", "poa_sky_diffuse", "poa_ground_diffuse", "solar_elevation")
    if not set(parts) <= set(table.columns):
        raise WeatherFileError(f"{path}: ask for the parts of the light (components).")
    if float(table["poa_ground_diffuse"].abs().max()) > 0.0:
        raise WeatherFileError(f"{path} is for a tilted plane; ask for tilt 0.")
    numpy = import_module("numpy")
    sine = numpy.sin(numpy.radians(table["solar_elevation"]))
    high = sine > _LOWEST_SUN_SINE
    table["ghi"] = table["poa_direct"] + table["poa_sky_diffuse"]
    table["dni"] = numpy.where(high, table["poa_direct"] / sine.where(high, 1.0), 0.0)
    table["dhi"] = numpy.where(high, table["poa_sky_diffuse"], table["ghi"])
    return table


class _Rows:
    """Rows of a file under pvlib's column names, at even times in one year.

    `head` counts the lines before the first row, None where a file has none; `year` is what a
    typical year is taken for.
    """

    def __init__(
        self,
        path: FilePath,
        table: Any,  # noqa: ANN401 - a pandas table
        head: int | None,
        year: int | None,
    ) -> None:
        self._path, self._table, self._head = path, table, head
        times: list[datetime] = [moment.to_pydatetime() for moment in table.index]
        self.first = times[0] if year is None else times[0].replace(year=year)
        self.step = timedelta(hours=1) if year else min(b - a for a, b in self._pairs(times))
        if self.step.total_seconds() not in get_args(Step):
            known = ", ".join(map(str, get_args(Step)))
            raise self._wrong(
                1, f"comes {self.step.total_seconds():.0f} s after the one before; known: {known}"
            )
        for row, time in enumerate(times):
            due = self.first + row * self.step
            if (due.month, due.day, due.time()) != (time.month, time.day, time.time()):
                told = f"is of {time:%d %B %H:%M}, {due:%d %B %Y %H:%M} was due: "
                raise self._wrong(row, told + "an hour is missing, doubled or out of place")

    def _pairs(self, times: list[datetime]) -> list[tuple[datetime, datetime]]:
        pairs = list(pairwise(times))
        for row, (before, after) in enumerate(pairs, start=1):
            if after <= before:
                raise self._wrong(row, f"is of {after}, not later than the one before")
        return pairs or [(times[0], times[0])]

    def _wrong(self, row: int, what: str) -> WeatherFileError:
        where = f"step {row + 1}" if self._head is None else f"line {self._head + row + 1}"
        return WeatherFileError(f"{self._path}, {where}: {what}.")

    def file(self, meta: Mapping[str, Any], first: datetime, name: str) -> WeatherFile:
        """Place and weather, given the begin of the first step and what was said about the file."""
        place = Place(
            latitude_deg=float(meta["latitude"]),
            longitude_deg=float(meta["longitude"]),
            altitude_m=float(meta["altitude"]),
        )
        light = {part: self._column(part, _MISSING_LIGHT) for part in ("ghi", "dni", "dhi")}
        self._judge_light(light, place, first)
        wind = self._column("wind_speed", _MISSING_WIND, still=True)
        columns = {
            **{f"{part}_w_m2": [max(0.0, w) for w in own] for part, own in light.items()},
            "air_c": self._column("temp_air", _MISSING_AIR),
            "wind_m_s": [WIND_AT_THE_ROOF * speed for speed in wind],
        }
        step_s = int(self.step.total_seconds())
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

    def _column(self, name: str, missing_from: float, still: bool = False) -> list[float]:
        """Values of a column; from some size on they stand for missing ones, or for still air."""
        told = name.replace("_", " ")
        if name not in self._table.columns:
            raise WeatherFileError(f"{self._path} has no column for {told}.")
        lowest, highest = _LIMITS[name]
        values = [float(value) for value in self._table[name]]
        for row, value in enumerate(values):
            if still and value >= missing_from:
                values[row] = 0.0
            elif not isfinite(value) or value >= missing_from:
                raise self._wrong(row, f"no value for {told}; fill it first")
            elif not lowest <= value <= highest:
                raise self._wrong(row, f"{told} of {value:g} is not from {lowest:g} to {highest:g}")
        return values

    def _judge_light(self, light: dict[str, list[float]], place: Place, first: datetime) -> None:
        """Light comes by day, in watts, no more than the sun has, and is the sum of its parts."""
        numpy = import_module("numpy")
        sun = import_module("pvlib.solarposition")
        ghi, dni, dhi = (numpy.array(light[part]) for part in ("ghi", "dni", "dhi"))
        bounds = [first + row * self.step for row in range(len(ghi) + 1)]
        times = import_module("pandas").DatetimeIndex(bounds)
        position = sun.get_solarposition(times, place.latitude_deg, place.longitude_deg)
        deg = position["elevation"].to_numpy()
        highest, middle = numpy.maximum(deg[:-1], deg[1:]), 0.5 * (deg[:-1] + deg[1:])
        high = middle > _HIGH_DEG
        outside = _SOLAR_W_M2 * numpy.sin(numpy.radians(numpy.maximum(highest, 0.0)))
        made = dni * numpy.sin(numpy.radians(middle)) + dhi
        dull = ghi.max() <= _KILOWATTS and (ghi[high] > 0.0).any()
        wrong = {
            "is the most of the file: kilowatts or megajoules? W/m² are expected": (
                dull & (ghi == ghi.max())
            ),
            "with the sun {below:.0f}° below the horizon: times of another zone, or place astray": (
                (ghi > _NIGHT_W_M2) & (highest < _NIGHT_DEG)
            ),
            "where the sun gives {outside:.0f} above the air: kJ/m², or times of another zone": (
                ghi > _ENHANCED * outside + _SLACK_W_M2
            ),
            "where beam and diffuse light make {made:.0f}: another unit, columns changed over, or "
            "times of another zone": high & (abs(made - ghi) > _APART * ghi + _SLACK_W_M2),
        }
        for told, rows in wrong.items():
            if rows.any():
                row = int(rows.argmax())
                figures = {"below": -highest[row], "outside": outside[row], "made": made[row]}
                raise self._wrong(row, f"ghi of {ghi[row]:g} W/m² {told.format(**figures)}")


def _by_the_hour(values: list[float], step_s: int) -> list[float]:
    steps = _HOUR_S // step_s
    whole = len(values) // steps * steps
    return [sum(values[k : k + steps]) / steps for k in range(0, whole, steps)]
