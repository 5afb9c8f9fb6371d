"""Sun, clear sky and light on planes against published values and pvlib."""

from typing import Any

import numpy as np
import pytest
from harvest_builders import ROOF, heading, study
from pvlib import clearsky, irradiance

from outside_figures import Outside
from sunhitch.types.place import Place
from sunhitch_service.engine.harvest.setup import modules, settle, variants
from sunhitch_service.engine.shadow.planes import Stance, plane_of, roof_frame, towards_sun
from sunhitch_service.engine.sky import (
    SkyLight,
    SunPosition,
    clear_sky,
    on_plane,
    sun_at,
    unix_seconds,
)


def test_the_sun_of_the_published_worked_example(outside: Outside) -> None:
    """17 October 2003, 12:30:30, UTC − 7 h; the apparent zenith takes another air pressure."""
    place = Place(latitude_deg=39.742476, longitude_deg=-105.1786, altitude_m=1830.14)
    sun = sun_at(place, np.array([unix_seconds("2003-10-17T12:30:30-07:00")]))
    more: dict[str, Any] = {
        "source": "Reda, Andreas, NREL/TP-560-34302, table A5.1",
        "unit": "°",
    }
    elevation, apparent = 90.0 - sun.zenith_deg[0], sun.apparent_zenith_deg[0]
    outside(elevation, 39.872046, abs=2e-6, of="elevation of the sun", **more)
    outside(sun.azimuth_deg[0], 194.340241, abs=2e-6, of="azimuth of the sun", **more)
    outside(apparent, 50.11162, abs=5e-4, of="apparent zenith of the sun", **more)


def test_the_clear_sky_is_pvlibs(outside: Outside) -> None:
    """Fed with the air mass of a sea-level site."""
    zenith = np.array([10.0, 40.0, 70.0])
    sun = SunPosition(zenith, zenith, np.full(3, 180.0))
    times = np.full(3, unix_seconds("2027-07-01T12:00:00+00:00"))
    place = Place(latitude_deg=45.0, longitude_deg=0.0)
    ours = clear_sky(place, times, sun, 3.0)
    cosine = np.cos(np.radians(zenith))
    mass = 1.0 / (cosine + 0.50572 * (96.07995 - zenith) ** -1.6364)
    extra = irradiance.get_extra_radiation(182)
    theirs = clearsky.ineichen(zenith, mass, 3.0, 0, extra)
    for name in ("ghi", "dni", "dhi"):
        outside(
            getattr(ours, name),
            theirs[name],
            rel=1e-3,
            of=f"clear sky, {name}",
            source="pvlib.clearsky.ineichen",
            unit="W/m²",
            kind="reference program",
        )


def test_a_level_plane_sees_the_light_of_the_horizontal() -> None:
    zenith = np.array([20.0, 55.0, 80.0])
    sun = SunPosition(zenith, zenith, np.array([90.0, 180.0, 250.0]))
    dni, dhi = np.array([850.0, 600.0, 200.0]), np.array([100.0, 120.0, 60.0])
    light = SkyLight(dni * np.cos(np.radians(zenith)) + dhi, dni, dhi)
    times = np.full(3, unix_seconds("2027-07-01T12:00:00+00:00"))
    found = on_plane(light, sun, times, 0.0, 180.0, 0.2)
    assert found.total == pytest.approx(light.ghi)


@pytest.mark.parametrize(
    ("degrees", "pitch", "roll", "tilt", "azimuth"),
    [
        (0.0, 10.0, 0.0, 10.0, 180.0),
        (180.0, 10.0, 0.0, 10.0, 0.0),
        (0.0, -10.0, 0.0, 10.0, 0.0),
        (0.0, 0.0, 8.0, 8.0, 90.0),
        (90.0, 0.0, 8.0, 8.0, 180.0),
        (200.0, 0.0, -8.0, 8.0, 110.0),
    ],
)
def test_pitch_and_roll_turn_the_panels(
    degrees: float, pitch: float, roll: float, tilt: float, azimuth: float, outside: Outside
) -> None:
    """Nose up looks back; right side down looks right."""
    given = settle(study(parking=heading(degrees, pitch_deg=pitch, roll_deg=roll)))
    variant = variants(given.request)[0]
    (first, *_) = modules(given, variant)
    plane = plane_of(first.laid, given.site.frame, Stance(degrees, pitch, roll), 0.0)
    outside(
        (plane.tilt_deg, plane.azimuth_deg(degrees)),
        (tilt, azimuth),
        abs=1e-6,
        of=f"tilt and azimuth: heading {degrees:g}°, pitch {pitch:g}°, roll {roll:g}°",
        source="one rotation at a time: nose up looks back, right side down looks right",
        unit="°",
        kind="hand-worked",
    )


def test_a_crown_turns_panels_outwards(outside: Outside) -> None:
    """Parabola of height h over width w: slope 8·h·d/w² at distance d from the middle."""
    crowned = type(ROOF)(outline=ROOF.outline, crown_height_m=0.05)
    given = settle(study(roof=crowned))
    left, right = modules(given, variants(given.request)[0])
    frame, stance = roof_frame(crowned, 2.5), Stance(0.0, 0.0, 0.0)
    planes = [plane_of(p.laid, frame, stance, 0.0) for p in (left, right)]
    slope, source = 8 * 0.05 * 0.5 / 2.0**2, "parabola of height h over width w: 8·h·d ÷ w²"
    found = planes[0].slope_y
    outside(found, slope, rel=1e-6, of="slope of a crowned roof", source=source, kind="hand-worked")
    assert planes[0].azimuth_deg(0.0) == pytest.approx(270.0)
    assert planes[1].azimuth_deg(0.0) == pytest.approx(90.0)


def test_the_sun_in_vehicle_axes() -> None:
    """A vehicle that looks east has a southern sun at its right."""
    sun = SunPosition(np.array([60.0]), np.array([60.0]), np.array([180.0]))
    (towards,) = towards_sun(sun, 90.0)
    assert towards == pytest.approx([0.0, np.sin(np.radians(60.0)), 0.5], abs=1e-12)
