"""Sun, sky and light on a plane: pvlib behind one door, arrays in and out."""

import warnings
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from importlib import import_module
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sunhitch.types.harvest import CellSpectrum
from sunhitch.types.place import Place

Array = NDArray[np.float64]
Index = NDArray[np.int64]
Mask = NDArray[np.bool_]

LOWEST_SUN_DEG = 0.5
"""Sun lower than this gives no light worth following."""
_LOW_DEG, _DULLEST = 87.0, 0.05
"""Lower suns and duller skies have the colour of these."""
_FIRST_YEAR, _LAST_YEAR = 1900, 2199
"""Well within what nanoseconds since 1970 can count."""


@dataclass(frozen=True, slots=True)
class SunPosition:
    """Where the sun is.

    Parameters
    ----------
    zenith_deg, apparent_zenith_deg : ndarray
        Angle from the vertical, without and with refraction [°].
    azimuth_deg : ndarray
        Clockwise from true north [°].
    """

    zenith_deg: Array
    apparent_zenith_deg: Array
    azimuth_deg: Array

    def at(self, steps: Index) -> "SunPosition":
        """Some of them."""
        own = (self.zenith_deg, self.apparent_zenith_deg, self.azimuth_deg)
        return SunPosition(*(each[steps] for each in own))

    @property
    def is_up(self) -> Mask:
        """Whether it is high enough to matter."""
        return self.apparent_zenith_deg < 90.0 - LOWEST_SUN_DEG


@dataclass(frozen=True, slots=True)
class SkyLight:
    """Light from the sky.

    Parameters
    ----------
    ghi, dni, dhi : ndarray
        On the horizontal, from the sun's disc, and diffuse on the horizontal [W/m²].
    """

    ghi: Array
    dni: Array
    dhi: Array

    def at(self, steps: Index) -> "SkyLight":
        """Some of them."""
        return SkyLight(self.ghi[steps], self.dni[steps], self.dhi[steps])


@dataclass(frozen=True, slots=True)
class PlaneLight:
    """Light on a plane by where it comes from.

    Parameters
    ----------
    beam, circumsolar, sky, ground : ndarray
        From the disc, from around it, from the rest of the sky, from the ground [W/m²].
    incidence_deg : ndarray
        Angle between the sun and the plane's normal [°].
    """

    beam: Array
    circumsolar: Array
    sky: Array
    ground: Array
    incidence_deg: Array

    @property
    def total(self) -> Array:
        """All of it [W/m²]."""
        return self.beam + self.circumsolar + self.sky + self.ground


def unix_seconds(moment: str) -> float:
    """Seconds since 1970 UTC of an ISO 8601 moment with offset.

    Raises
    ------
    ValueError
        If there is no such date or time, or the sun is not reckoned that far from today.
    """
    return seconds_of(datetime.fromisoformat(moment))


def seconds_of(moment: datetime) -> float:
    """Seconds since 1970 UTC of a moment with offset; raises as `unix_seconds`."""
    if not _FIRST_YEAR <= moment.year <= _LAST_YEAR:
        raise ValueError(f"year {moment.year} is not from {_FIRST_YEAR} to {_LAST_YEAR}")
    return moment.timestamp()


def sun_at(place: Place, unix_s: Array) -> SunPosition:
    """Position of the sun.

    Parameters
    ----------
    place : Place
        Where.
    unix_s : ndarray
        When, seconds since 1970 UTC.

    Returns
    -------
    SunPosition
        One position per time.

    References
    ----------
    I. Reda, A. Andreas, NREL/TP-560-34302 (2008), as in `pvlib.solarposition`.
    """
    times = np.asarray(unix_s, dtype=np.float64).tobytes()
    return _sun_at(place.latitude_deg, place.longitude_deg, place.altitude_m, times)


@lru_cache(maxsize=8)
def _sun_at(latitude: float, longitude: float, altitude: float, unix_s: bytes) -> SunPosition:
    """The same for the bytes of the times: who asks again has changed something else."""
    found = _pvlib("solarposition").get_solarposition(
        _index(np.frombuffer(unix_s)), latitude, longitude, altitude
    )
    columns = tuple(_array(found[name]) for name in ("zenith", "apparent_zenith", "azimuth"))
    for column in columns:
        column.setflags(write=False)
    return SunPosition(*columns)


def clear_sky(
    place: Place, unix_s: Array, sun: SunPosition, linke_turbidity: float | None = None
) -> SkyLight:
    """Light of a cloudless sky.

    Parameters
    ----------
    place : Place
        Where.
    unix_s : ndarray
        When, seconds since 1970 UTC.
    sun : SunPosition
        At these times.
    linke_turbidity : float, optional
        Haze; the place's monthly climate if not given.

    Returns
    -------
    SkyLight
        Zero where the sun is down.

    References
    ----------
    P. Ineichen, R. Perez, Solar Energy 73 (2002), as in `pvlib.clearsky.ineichen`.
    """
    atmosphere, ineichen = _pvlib("atmosphere"), _pvlib("clearsky").ineichen
    turbidity = _climate(place, unix_s) if linke_turbidity is None else linke_turbidity
    airmass = atmosphere.get_absolute_airmass(
        atmosphere.get_relative_airmass(sun.apparent_zenith_deg),
        atmosphere.alt2pres(place.altitude_m),
    )
    extra = _extra(unix_s)
    with np.errstate(divide="ignore", invalid="ignore"):
        found = ineichen(sun.apparent_zenith_deg, airmass, turbidity, place.altitude_m, extra)
    return _sky_light(found)


def split(ghi: Array, sun: SunPosition, unix_s: Array) -> SkyLight:
    """Beam and diffuse part of light on the horizontal.

    With the sun low, what bright edges of clouds or a sun that sets within a step add to the
    horizontal would make a beam brighter than the sun outside the air: what is beyond is diffuse.

    Parameters
    ----------
    ghi : ndarray
        On the horizontal [W/m²].
    sun : SunPosition
        At these times.
    unix_s : ndarray
        Seconds since 1970 UTC.

    Returns
    -------
    SkyLight
        Its parts add up to `ghi`.

    References
    ----------
    D. G. Erbs, S. A. Klein, J. A. Duffie, Solar Energy 28 (1982), as in `pvlib.irradiance.erbs`.
    """
    parts = _pvlib("irradiance").erbs(ghi, sun.zenith_deg, _day_of_year(unix_s))
    dni, dhi, outside = _array(parts["dni"]), _array(parts["dhi"]), _extra(unix_s)
    beyond = dni > outside
    rest = ghi - outside * np.cos(np.radians(sun.zenith_deg))
    return SkyLight(_array(ghi), np.where(beyond, outside, dni), np.where(beyond, rest, dhi))


def on_plane(
    light: SkyLight,
    sun: SunPosition,
    unix_s: Array,
    tilt_deg: float,
    azimuth_deg: float,
    albedo: float,
) -> PlaneLight:
    """Light on a tilted plane.

    Parameters
    ----------
    light : SkyLight
        From the sky.
    sun : SunPosition
        At these times.
    unix_s : ndarray
        Seconds since 1970 UTC.
    tilt_deg, azimuth_deg : float
        How the plane lies [°].
    albedo : float
        Share of light that the ground throws back [1].

    Returns
    -------
    PlaneLight
        By origin.

    References
    ----------
    J. E. Hay, J. A. Davies (1980), as in `pvlib.irradiance.haydavies`.
    """
    irradiance = _pvlib("irradiance")
    at = sun.apparent_zenith_deg, sun.azimuth_deg
    parts = irradiance.haydavies(
        tilt_deg, azimuth_deg, light.dhi, light.dni, _extra(unix_s), *at, return_components=True
    )
    incidence = _array(irradiance.aoi(tilt_deg, azimuth_deg, *at))
    facing = np.maximum(np.cos(np.radians(incidence)), 0.0)
    ground = irradiance.get_ground_diffuse(tilt_deg, light.ghi, albedo)
    return PlaneLight(
        beam=light.dni * facing,
        circumsolar=_array(parts["poa_circumsolar"]),
        sky=_array(parts["poa_isotropic"]),
        ground=_array(ground) * np.ones_like(facing),
        incidence_deg=incidence,
    )


def on_uprights(light: SkyLight, sun: SunPosition, facing_deg: Array, albedo: float) -> Array:
    """Light on upright faces.

    Parameters
    ----------
    light : SkyLight
        From the sky.
    sun : SunPosition
        At these times.
    facing_deg : ndarray, shape (faces,)
        Where they look, clockwise from north [°].
    albedo : float
        Share of light that the ground throws back [1].

    Returns
    -------
    ndarray, shape (times, faces)
        Beam, half the sky and half the ground [W/m²].

    References
    ----------
    B. Y. H. Liu, R. C. Jordan, Solar Energy 7 (1963), as in `pvlib.irradiance.isotropic`.
    """
    beside = np.radians(sun.azimuth_deg[:, None] - facing_deg)
    upon = np.cos(beside) * np.sin(np.radians(sun.apparent_zenith_deg))[:, None]
    around = 0.5 * (light.dhi + albedo * light.ghi)
    return np.asarray(light.dni[:, None] * np.maximum(upon, 0.0) + around[:, None])


def colour_factor(
    place: Place, sun: SunPosition, ghi: Array, clear_ghi: Array, cells: CellSpectrum
) -> Array:
    """What the colour of the light makes of a panel's current.

    Parameters
    ----------
    place : Place
        Where.
    sun : SunPosition
        In every step.
    ghi, clear_ghi : ndarray
        Light on the horizontal, and that of a clear sky [W/m²].
    cells : CellSpectrum
        Kind of cells.

    Returns
    -------
    ndarray
        Against the reference spectrum [1].

    References
    ----------
    S. Pelland et al., 47th IEEE PVSC (2020), as in `pvlib.spectrum.spectral_factor_pvspec`.
    """
    atmosphere = _pvlib("atmosphere")
    relative = atmosphere.get_relative_airmass(np.minimum(sun.apparent_zenith_deg, _LOW_DEG))
    airmass = atmosphere.get_absolute_airmass(relative, atmosphere.alt2pres(place.altitude_m))
    share = np.divide(ghi, clear_ghi, out=np.ones_like(ghi), where=clear_ghi > 1.0)
    found = _pvlib("spectrum").spectral_factor_pvspec(
        airmass, np.clip(share, _DULLEST, 1.0), module_type="fs4-2" if cells == "cdte" else cells
    )
    return _array(found)


def _pvlib(part: str) -> Any:  # noqa: ANN401 - its annotations are incomplete
    """A module of pvlib, loaded when it is first needed."""
    return import_module(f"pvlib.{part}")


def _sky_light(found: Mapping[str, Any]) -> SkyLight:
    return SkyLight(_array(found["ghi"]), _array(found["dni"]), _array(found["dhi"]))


def _array(values: Any) -> Array:  # noqa: ANN401 - pvlib answers arrays, series or lists
    return np.nan_to_num(np.asarray(values, dtype=np.float64), nan=0.0)


def _extra(unix_s: Array) -> Array:
    return _array(_pvlib("irradiance").get_extra_radiation(_day_of_year(unix_s)))


def _climate(place: Place, unix_s: Array) -> Array:
    """Linke turbidity of the month at this place [1]."""
    lookup = _pvlib("clearsky").lookup_linke_turbidity
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", "DatetimeIndex", DeprecationWarning)
        found = lookup(_index(unix_s), place.latitude_deg, place.longitude_deg)
    return _array(found)


def _day_of_year(unix_s: Array) -> Index:
    day = np.asarray(unix_s, dtype="datetime64[s]").astype("datetime64[D]")
    first = day.astype("datetime64[Y]")
    return np.asarray((day - first).astype(np.int64) + 1, dtype=np.int64)


def _index(unix_s: Array) -> Any:  # noqa: ANN401 - a pandas index, used inside this module only
    pandas: Any = import_module("pandas")
    return pandas.DatetimeIndex(np.asarray(unix_s * 1e9).astype("datetime64[ns]"), tz="UTC")


def front_passes(incidence_deg: Array) -> Array:
    """Share of the beam that passes a panel's front, against upright light.

    Parameters
    ----------
    incidence_deg : ndarray
        Angle from the normal [°].

    Returns
    -------
    ndarray
        1 for upright light, 0 from behind.

    References
    ----------
    De Soto, Klein, Beckman, Solar Energy 80 (2006), as in `pvlib.iam.physical`.
    """
    return _array(_pvlib("iam").physical(np.minimum(incidence_deg, 90.0)))


@lru_cache(maxsize=256)
def front_passes_diffuse(tilt_deg: float) -> tuple[float, float]:
    """The same for light from the whole sky and from the ground.

    Parameters
    ----------
    tilt_deg : float
        Of the panel [°].

    Returns
    -------
    tuple of float
        Sky and ground; 1 for a ground that the panel does not see.

    References
    ----------
    B. Marion, Solar Energy 147 (2017), as in `pvlib.iam.marion_diffuse`.
    """
    found = _pvlib("iam").marion_diffuse("physical", tilt_deg)
    ground = float(found["ground"])
    return float(found["sky"]), ground if np.isfinite(ground) and tilt_deg > 0.0 else 1.0
