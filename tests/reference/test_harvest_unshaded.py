"""An unshaded day from end to end against pvlib, and a year against a published range."""

from datetime import UTC, datetime, timedelta
from typing import Any

import msgspec
import numpy as np
import pytest
from harvest_builders import PLATE, heading, panel, study
from pvlib import iam, irradiance, pvsystem, temperature

from outside_figures import Outside
from sunhitch.types.harvest import ClearSkyWeather, HourlyWeather
from sunhitch.types.panel import CellModel, PanelType
from sunhitch.types.system import PanelMountingHeat
from sunhitch_service.engine.harvest.calculation import harvest
from sunhitch_service.engine.sky import sun_at

CELL = CellModel(
    photocurrent_a=6.4,
    saturation_current_a=2e-9,
    ideality_factor=1.1,
    series_resistance_ohm=0.004,
    shunt_resistance_ohm=12.0,
    breakdown_voltage_v=-15.0,
    breakdown_factor=0.0,
    breakdown_exponent=3.5,
)
ALPHA = 0.0005
BAND_GAP_EV = 1.121
START = datetime(2027, 5, 20, tzinfo=UTC)
DAYS, YEAR = 3, 365


def de_soto(light: np.ndarray | float, cell_c: np.ndarray | float) -> dict[str, np.ndarray]:
    """pvlib's own chain for one panel, with a constant band gap as the coefficients mean it."""
    parameters = pvsystem.calcparams_desoto(
        light,
        cell_c,
        alpha_sc=ALPHA * 6.4,
        a_ref=1.1 * 36 * 8.617333262e-5 * 298.15,
        I_L_ref=6.4,
        I_o_ref=2e-9,
        R_sh_ref=12.0 * 36,
        R_s=0.004 * 36,
        EgRef=BAND_GAP_EV,
        dEgdT=0.0,
    )
    return pvsystem.singlediode(*parameters)


def plate() -> PanelType:
    """The same cell with the coefficients that pvlib's chain shows from 25 to 50 °C."""
    cold, warm = de_soto(1000.0, 25.0), de_soto(1000.0, 50.0)
    beta = (float(warm["v_oc"]) / float(cold["v_oc"]) - 1.0) / 25.0
    gamma = (float(warm["p_mp"]) / float(cold["p_mp"]) - 1.0) / 25.0
    electrical = msgspec.structs.replace(
        PLATE,
        alpha_sc_fraction_per_c=ALPHA,
        beta_voc_fraction_per_c=beta,
        gamma_pmp_fraction_per_c=gamma,
    )
    own = msgspec.structs.replace(panel("full-cell-2-diodes", CELL), electrical=electrical)
    return PanelType(name="sheet", panel=own)


def middles(days: int) -> np.ndarray:
    """Middle of every hour, in Unix seconds."""
    return START.timestamp() + 3600.0 * (np.arange(24 * days) + 0.5)


def weather(days: int = DAYS) -> HourlyWeather:
    """A clear, a hazy and a dull day in turn, cold in January and warm in July."""
    request, hours = study(), np.arange(24 * days)
    sun = sun_at(request.place, middles(days))
    up = np.maximum(np.cos(np.radians(sun.apparent_zenith_deg)), 0.0)
    dni = np.repeat(np.resize([850.0, 500.0, 30.0], days), 24) * (up > 0.03)
    dhi = np.repeat(np.resize([90.0, 200.0, 260.0], days), 24) * np.sqrt(up)
    season = 8.0 * np.cos((hours / 24.0 - 60.0) * 2.0 * np.pi / 365.0)
    return HourlyWeather(
        start="2027-05-20T00:00:00+00:00",
        ghi_w_m2=[float(x) for x in dni * up + dhi],
        dni_w_m2=[float(x) for x in dni],
        dhi_w_m2=[float(x) for x in dhi],
        air_c=[float(x) for x in 11.0 + season + 6.0 * np.sin((hours - 9) * np.pi / 12)],
        wind_m_s=[1.0 + 0.5 * (h % 3) for h in range(24 * days)],
    )


def pvlibs_power(tilt: float, azimuth: float, days: int = DAYS) -> np.ndarray:
    given, request = weather(days), study()
    sun = sun_at(request.place, middles(days))
    zenith, turn = sun.apparent_zenith_deg, sun.azimuth_deg
    dates = [START + timedelta(hours=h) for h in range(24 * days)]
    ghi, dni, dhi = (np.array(x) for x in (given.ghi_w_m2, given.dni_w_m2, given.dhi_w_m2))
    extra = irradiance.get_extra_radiation(np.array([date.timetuple().tm_yday for date in dates]))
    sky = irradiance.haydavies(tilt, azimuth, dhi, dni, extra, zenith, turn, return_components=True)
    aoi = irradiance.aoi(tilt, azimuth, zenith, turn)
    beam = dni * np.maximum(np.cos(np.radians(aoi)), 0.0) + np.nan_to_num(sky["poa_circumsolar"])
    diffuse = np.nan_to_num(sky["poa_isotropic"])
    ground = irradiance.get_ground_diffuse(tilt, ghi, 0.2)
    seen = iam.marion_diffuse("physical", tilt)
    used = (
        beam * iam.physical(np.minimum(aoi, 90.0)) + diffuse * seen["sky"] + ground * seen["ground"]
    )
    at_10_m = np.array(given.wind_m_s) / 0.72  # (2.75 ÷ 10)^¼
    cell = temperature.sapm_cell(
        beam + diffuse + ground, np.array(given.air_c), at_10_m, -3.56, -0.075, 3
    )
    lit = (zenith < 89.5) & (used > 1.0)
    power = np.zeros(len(dates))
    power[lit] = np.asarray(de_soto(used[lit], cell[lit])["p_mp"])
    return power


@pytest.mark.parametrize(("pitch", "azimuth"), [(1e-9, 180.0), (12.0, 180.0), (-20.0, 0.0)])
def test_an_unshaded_array_is_pvlibs_chain(pitch: float, azimuth: float, outside: Outside) -> None:
    """Hay and Davies, De Soto's front, Marion, Sandia's open rack, De Soto, single diode."""
    answer = harvest(
        study(
            weather=weather(),
            parking=heading(0.0, pitch_deg=pitch),
            panel_types=[plate()],
            mounting_heat=PanelMountingHeat(back="open-rack"),
            albedo_fraction=0.2,
            dirt_fraction=0.0,
            detail="steps",
        )
    )
    theirs = 2.0 * pvlibs_power(abs(pitch), azimuth)
    ours = np.array(answer.steps.array_w)
    of = f"three days, pitch {pitch:.0f}°"
    more: dict[str, Any] = {
        "source": "pvlib: Hay and Davies, De Soto's front, Marion, Sandia's rack, De Soto",
        "kind": "reference program",
    }
    outside(ours.sum(), theirs.sum(), rel=5e-4, of=f"{of}, energy", unit="Wh", **more)
    within = 0.002 * theirs.max()
    outside(ours, theirs, abs=within, of=f"{of}, hourly power", unit="W", **more)


def test_every_month_of_a_year_is_pvlibs_chain(outside: Outside) -> None:
    answer = harvest(
        study(
            weather=weather(YEAR),
            parking=heading(0.0, pitch_deg=12.0),
            panel_types=[plate()],
            mounting_heat=PanelMountingHeat(back="open-rack"),
            albedo_fraction=0.2,
            dirt_fraction=0.0,
            detail="steps",
        )
    )
    ours, theirs = np.array(answer.steps.array_w), 2.0 * pvlibs_power(12.0, 180.0, YEAR)
    months = np.array([(START + timedelta(hours=h)).month for h in range(24 * YEAR)])
    for month in range(1, 13):
        outside(
            ours[months == month].sum(),
            theirs[months == month].sum(),
            rel=5e-4,
            of=f"energy of a year, month {month:02}",
            source="pvlib: Hay and Davies, De Soto's front, Marion, Sandia's rack, De Soto",
            unit="Wh",
            kind="reference program",
        )


def test_a_year_s_performance_ratio_is_in_the_published_range(outside: Outside) -> None:
    """Energy ÷ (nameplate × light).

    About a hundred German systems had 0.70 to 0.90 after inverters and cables, which cost 0.03 to
    0.06; before them 0.75 to 0.95.
    """
    months = [0.42, 0.5, 0.55, 0.6, 0.62, 0.65, 0.7, 0.69, 0.63, 0.53, 0.43, 0.38]
    answer = harvest(
        study(
            weather=ClearSkyWeather(
                first_day="2027-01-01",
                days=365,
                utc_offset_h=1.0,
                monthly_clearness_fraction=months,
                monthly_air_c=[0, 1, 5, 9, 14, 17, 19, 19, 15, 10, 5, 1],
            )
        )
    )
    light = sum(month.light_wh_m2 for month in answer.months) / 1000.0
    energy = sum(month.array_wh for month in answer.months)
    assert answer.panel_power_w == 230.0
    outside(
        energy / answer.panel_power_w / light,
        0.85,
        abs=0.1,
        of="performance ratio of a year before inverter and cables",
        source="Reich et al., Progress in Photovoltaics 20 (2012), 0.75 to 0.95",
        seen="recalled",
    )
