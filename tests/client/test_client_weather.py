"""Weather files: written here by each format's public description, or shipped with pvlib."""

import json
import math
import re
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

import msgspec
import pvlib
import pytest

from sunhitch import Client, weather
from sunhitch.codec import decode_strict, encode
from sunhitch.types.harvest import HarvestRequest
from sunhitch.weather import WeatherFile, WeatherFileError

DATA = Path(pvlib.__file__).parent / "data"
EXAMPLE = Path(__file__).parents[2] / "client/sunhitch/examples/harvest.json"
WIND = weather.WIND_AT_THE_ROOF


def ghi(hour: int) -> float:
    """Light of the hour that begins so many hours after midnight: symmetrical about noon."""
    return 40.0 * max(0.0, 5.0 - abs(hour + 0.5 - 12.0))


def epw(path: Path, days: int = 2, air: str = "11.5", shift: int = 0) -> Path:
    """Auxiliary Programs, EPW data dictionary: eight header lines, 35 columns, hours 1 to 24."""
    header = [
        "LOCATION,Testbourn,ST,TST,invented,999999,4.60,15.0,1.0,400.0",
        "DESIGN CONDITIONS,0",
        "TYPICAL/EXTREME PERIODS,0",
        "GROUND TEMPERATURES,0",
        "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0",
        "COMMENTS 1,none",
        "COMMENTS 2,none",
        "DATA PERIODS,1,1,Data,Sunday,1/1,1/2",
    ]
    rows = [
        f"2011,1,{day},{hour},60,?,{air},5.0,60,96000,0,0,300,{ghi(hour - 1 - shift)},"
        f"{0.25 * ghi(hour - 1)},{0.75 * ghi(hour - 1)},"
        "0,0,0,0,180,4.0,5,5,20,77777,9,999999999,10,0.1,0,88,0.2,0,0"
        for day in range(1, days + 1)
        for hour in range(1, 25)
    ]
    path.write_text("\n".join([*header, *rows]) + "\n", "utf-8")
    return path


def nsrdb(path: Path, minutes: int = 60, days: int = 2) -> Path:
    """Standard time series: names and values of the place, names of the columns, then the steps."""
    fields = "Source,Location ID,City,State,Country,Latitude,Longitude,Time Zone,Elevation"
    values = "NSRDB,1,-,-,-,4.0,-105.0,-7,1600"
    columns = "Year,Month,Day,Hour,Minute,GHI,DNI,DHI,Temperature,Wind Speed"
    first = datetime(2019, 3, 1) + timedelta(minutes=30 if minutes == 60 else 0)
    rows = []
    for step in range(days * 1440 // minutes):
        t = first + timedelta(minutes=minutes * step)
        light = ghi(t.hour)
        rows.append(
            f"{t.year},{t.month},{t.day},{t.hour},{t.minute},{light},{0.25 * light},{0.75 * light},"
            "-3.5,2.0"
        )
    head = [f"{fields},Local Time Zone", f"{values},-7", columns]
    path.write_text("\n".join([*head, *rows]) + "\n", "utf-8")
    return path


def sarah_hourly(path: Path, tilted: bool = False) -> Path:
    """Hourly light with components, JSON as its publisher's manual shows it."""
    rows = []
    for step in range(48):
        t = datetime(2020, 6, 1, 0, 10) + timedelta(hours=step)
        height = 60.0 * math.sin(math.pi * (t.hour + 1 / 6 - 4.0) / 16.0) if 4 <= t.hour < 20 else 0
        beam = 500.0 * math.sin(math.radians(height))
        rows.append(
            {
                "time": t.strftime("%Y%m%d:%H%M"),
                "Gb(i)": beam,
                "Gd(i)": 0.3 * beam,
                "Gr(i)": 7.0 if tilted else 0.0,
                "H_sun": height,
                "T2m": 16.0,
                "WS10m": 3.0,
                "Int": 0,
            }
        )
    place = {"latitude": 45.0, "longitude": 8.0, "elevation": 250.0}
    whole = {"inputs": {"location": place}, "outputs": {"hourly": rows}, "meta": {"inputs": {}}}
    path.write_text(json.dumps(whole), "utf-8")
    return path


def sarah_tmy(path: Path) -> Path:
    """Typical year, JSON: hours in UTC, months from different years."""
    rows = []
    for step in range(8760):
        t = datetime(2011, 1, 1) + timedelta(hours=step)
        light = ghi(t.hour)
        year = 2005 + t.month
        rows.append(
            {
                "time(UTC)": f"{year}{t:%m%d:%H%M}",
                "T2m": 9.0,
                "RH": 70.0,
                "G(h)": light,
                "Gb(n)": 0.25 * light,
                "Gd(h)": 0.75 * light,
                "WS10m": 2.0,
            }
        )
    place = {"latitude": 5.0, "longitude": 8.0, "elevation": 250.0}
    months = [{"month": m, "year": 2005 + m} for m in range(1, 13)]
    whole = {
        "inputs": {"location": place},
        "outputs": {"months_selected": months, "tmy_hourly": rows},
        "meta": {"inputs": {}},
    }
    path.write_text(json.dumps(whole), "utf-8")
    return path


def sarah_csv(given: Path) -> Path:
    """The same as comma-separated values: place, months or settings, table, notes."""
    whole = json.loads(given.read_text("utf-8"))
    place, outputs = whole["inputs"]["location"], whole["outputs"]
    lines = [
        f"Latitude (decimal degrees): {place['latitude']:.3f}",
        f"Longitude (decimal degrees): {place['longitude']:.3f}",
        f"Elevation (m): {place['elevation']:.1f}",
    ]
    if "months_selected" in outputs:
        rows = outputs["tmy_hourly"]
        months = [f"{one['month']},{one['year']}" for one in outputs["months_selected"]]
        lines += ["month,year", *months]
    else:
        rows = outputs["hourly"]
        lines += ["Radiation database:\tinvented", "", "Slope: 0 deg. ", ""]
    lines += [",".join(rows[0]), *(",".join(map(str, row.values())) for row in rows)]
    lines += ["", "T2m: 2-m air temperature (degree Celsius)"]
    written = given.with_suffix(".csv")
    written.write_text("\r\n".join(lines) + "\r\n", "utf-8", newline="")
    return written


def test_an_epw_hour_begins_an_hour_before_its_number(tmp_path: Path) -> None:
    found = weather.read_epw(epw(tmp_path / "a.epw"))
    own = found.weather
    assert (found.place.latitude_deg, found.place.longitude_deg) == (4.6, 15.0)
    assert found.place.altitude_m == 400.0
    assert own.start == "2027-01-01T00:00:00+01:00"
    assert own.ghi_w_m2 == [ghi(step % 24) for step in range(48)]
    assert own.dni_w_m2 == [0.25 * light for light in own.ghi_w_m2]
    assert own.dhi_w_m2 == [0.75 * light for light in own.ghi_w_m2]
    assert own.air_c == [11.5] * 48
    assert own.wind_m_s == pytest.approx([4.0 * WIND] * 48)
    assert own.name == "Testbourn"


def test_the_time_of_an_nsrdb_row_is_the_middle_of_its_step(tmp_path: Path) -> None:
    hourly = weather.read_nsrdb(nsrdb(tmp_path / "h.csv")).weather
    assert (hourly.start, hourly.step_s) == ("2019-03-01T00:00:00-07:00", 3600)
    assert hourly.ghi_w_m2 == [ghi(step % 24) for step in range(48)]
    half = weather.read_nsrdb(nsrdb(tmp_path / "q.csv", 30)).weather
    assert (half.start, half.step_s) == ("2019-02-28T23:45:00-07:00", 1800)
    assert len(half.ghi_w_m2) == 96


def test_more_steps_than_a_request_holds_become_hours(tmp_path: Path) -> None:
    found = weather.read_nsrdb(nsrdb(tmp_path / "long.csv", 5, 40)).weather
    assert (found.step_s, len(found.ghi_w_m2)) == (3600, 960)
    fine = [ghi((5 * k // 60) % 24) for k in range(40 * 288)]
    assert sum(found.ghi_w_m2) == pytest.approx(sum(fine) / 12)


def test_a_sarah_typical_year_starts_half_an_hour_before_its_first_value(tmp_path: Path) -> None:
    found = weather.read_sarah(sarah_tmy(tmp_path / "tmy.json"), utc_offset_h=1.0)
    own = found.weather
    assert own.start == "2027-01-01T00:30:00+01:00"
    assert (len(own.ghi_w_m2), own.ghi_w_m2[:24]) == (8760, [ghi(h) for h in range(24)])
    assert found.place.altitude_m == 250.0


def test_hourly_light_is_split_by_the_height_of_the_sun(tmp_path: Path) -> None:
    own = weather.read_sarah(sarah_hourly(tmp_path / "hourly.json")).weather
    assert own.start == "2020-05-31T23:40:00+00:00"
    noon = 12
    assert own.dni_w_m2[noon] == pytest.approx(500.0)
    assert own.ghi_w_m2[noon] == pytest.approx(own.dhi_w_m2[noon] * 1.3 / 0.3)
    assert max(own.dni_w_m2) == pytest.approx(500.0)
    with pytest.raises(WeatherFileError, match="tilt 0"):
        weather.read_sarah(sarah_hourly(tmp_path / "tilted.json", tilted=True))


@pytest.mark.parametrize("made", [sarah_tmy, sarah_hourly])
def test_both_forms_of_a_sarah_file_hold_the_same(
    made: Callable[[Path], Path], tmp_path: Path
) -> None:
    plain = made(tmp_path / "one.json")
    assert weather.read_sarah(sarah_csv(plain), 1.0) == weather.read_sarah(plain, 1.0)


@pytest.mark.parametrize(
    ("reader", "name", "place"),
    [
        (weather.read_tmy3, "723170TYA.CSV", (36.1, -79.95, 273.0)),
        (weather.read_tmy2, "12839.tm2", (25.8, -80.2667, 2.0)),
    ],
)
def test_files_that_pvlib_ships(
    reader: Callable[[Path], WeatherFile], name: str, place: tuple[float, float, float]
) -> None:
    """The sun of every lit hour is above the horizon at its middle, or within its hour."""
    found = reader(DATA / name)
    at = found.place
    assert (at.latitude_deg, at.longitude_deg, at.altitude_m) == pytest.approx(place, abs=1e-3)
    own = found.weather
    assert len(own.ghi_w_m2) == 8760
    import pandas as pd

    start = pd.Timestamp(own.start)
    middles = start + pd.to_timedelta([k + 0.5 for k in range(8760)], unit="h")
    sun = pvlib.solarposition.get_solarposition(middles, at.latitude_deg, at.longitude_deg)
    height = sun["elevation"].to_numpy()
    lit = [k for k, light in enumerate(own.ghi_w_m2) if light > 30.0]
    assert len(lit) > 3500
    assert min(height[k] for k in lit) > -1.0
    dark = [k for k, light in enumerate(own.ghi_w_m2) if light == 0.0]
    assert max(height[k] for k in dark) < 10.0


def test_a_file_goes_into_a_request_and_through_the_engine() -> None:
    file = weather.read_tmy3(DATA / "723170TYA.CSV").days(150, 2)
    assert file.weather.start == "2027-05-31T00:00:00-05:00"
    example = msgspec.json.decode(EXAMPLE.read_bytes(), type=HarvestRequest)
    request = msgspec.structs.replace(
        example, place=file.place, weather=file.weather, other_years=[file.other_year]
    )
    assert decode_strict(encode(request), HarvestRequest) == request
    answer = Client.embedded().harvest(request)
    assert len(answer.months) == 2
    assert [year.charged_wh for year in answer.years] == pytest.approx([answer.charged_wh] * 2)


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda at: weather.read_epw(at / "none.epw"), "no such file"),
        (lambda at: weather.read_epw(nsrdb(at / "n.csv")), "does not read"),
        (
            lambda at: weather.read_epw(epw(at / "m.epw", air="99.9")),
            "line 9: no value for temp air",
        ),
        (lambda at: weather.read_sarah(at / "x.txt"), "end the name"),
    ],
)
def test_what_is_wrong_with_a_file_is_said(
    make: Callable[[Path], WeatherFile], message: str, tmp_path: Path
) -> None:
    with pytest.raises(WeatherFileError, match=message):
        make(tmp_path)


def damaged(path: Path, change: Callable[[list[str]], object]) -> Path:
    """Change the lines of a file."""
    lines = path.read_text("utf-8").splitlines()
    change(lines)
    path.write_text("\n".join(lines) + "\n", "utf-8")
    return path


def with_field(line: str, number: int, value: str) -> str:
    fields = line.split(",")
    return ",".join([*fields[:number], value, *fields[number + 1 :]])


LINE = 30
"""Counted from 0 here, from 1 where a fault is told."""


@pytest.mark.parametrize(
    ("make", "read", "ghi_field"),
    [(epw, weather.read_epw, 13), (nsrdb, weather.read_nsrdb, 5)],
)
def test_every_slip_is_told_with_its_line(
    make: Callable[[Path], Path],
    read: Callable[[Path], WeatherFile],
    ghi_field: int,
    tmp_path: Path,
) -> None:
    def told(change: Callable[[list[str]], object]) -> str:
        with pytest.raises(WeatherFileError) as refused:
            read(damaged(make(tmp_path / "file.csv"), change))
        return str(refused.value).removeprefix(f"{tmp_path / 'file.csv'}, ")

    def put(value: str) -> Callable[[list[str]], object]:
        return lambda lines: lines.__setitem__(LINE, with_field(lines[LINE], ghi_field, value))

    def times(factor: float, *fields: int) -> Callable[[list[str]], None]:
        def change(lines: list[str]) -> None:
            for k in range(8 if make is epw else 3, len(lines)):
                for field in fields:
                    light = factor * float(lines[k].split(",")[field])
                    lines[k] = with_field(lines[k], field, str(light))

        return change

    at = f"line {LINE + 1}: "
    assert told(lambda lines: lines.pop(LINE)).startswith(at)
    assert told(lambda lines: lines.insert(LINE, lines[LINE - 1])).startswith(at)
    assert told(put("3600")).startswith(f"{at}ghi of 3600 is not from")
    assert told(put("-99")).startswith(f"{at}ghi of -99 is not from")
    every = range(ghi_field, ghi_field + 3)
    assert "kilowatts or megajoules?" in told(times(1e-3, *every))
    assert "kilowatts or megajoules?" in told(times(3.6e-3, *every))
    dawn = (8 if make is epw else 3) + 6
    brighter = with_field(
        make(tmp_path / "file.csv").read_text().splitlines()[dawn], ghi_field, "900"
    )
    told_of = told(lambda lines: lines.__setitem__(dawn, brighter))
    assert told_of.startswith(f"line {dawn + 1}: ghi of 900 W/m² where the sun gives")
    for part in (ghi_field, ghi_field + 2):
        assert re.match(r"line \d+: .* where beam and diffuse light make", told(times(0.1, part)))


def test_light_of_the_night_is_told_with_its_line(tmp_path: Path) -> None:
    with pytest.raises(WeatherFileError, match=r"line 28: ghi of 20 W/m² with the sun 15° below"):
        weather.read_epw(epw(tmp_path / "a.epw", shift=3))


def test_a_leap_day_wants_a_leap_year(tmp_path: Path) -> None:
    def leap(lines: list[str]) -> None:
        lines[8:] = [line.replace("2011,1,1,", "2012,2,29,") for line in lines[8:32]]

    path = damaged(epw(tmp_path / "a.epw"), leap)
    assert weather.read_epw(path, 2028).weather.start.startswith("2028-02-29")


def test_days_outside_a_file_are_refused(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="days 0 to 1"):
        weather.read_epw(epw(tmp_path / "a.epw")).days(1, 2)


def test_a_file_is_told_by_its_suffix_and_its_first_line(tmp_path: Path) -> None:
    hourly = sarah_hourly(tmp_path / "s.json")
    for path, reader in (
        (epw(tmp_path / "a.EPW"), weather.read_epw),
        (nsrdb(tmp_path / "n.csv"), weather.read_nsrdb),
        (hourly, weather.read_sarah),
        (sarah_csv(hourly), weather.read_sarah),
    ):
        assert weather.read(path) == reader(path)
    for path in (tmp_path / "none.epw", Path(__file__)):
        with pytest.raises(weather.WeatherFileError, match=r"no such file|\.epw, \.tm2"):
            weather.read(path)
