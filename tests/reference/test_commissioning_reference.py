"""Commissioning against pvlib, against scipy, and against published yearly losses."""

import itertools
from typing import Any

import numpy as np
import pandas as pd
import pytest
from pvlib import pvsystem
from pvlib.irradiance import get_extra_radiation, get_total_irradiance
from pvlib.location import Location
from scipy.stats import theilslopes

from outside_figures import Outside
from sunhitch.types.commissioning import (
    CheckedArray,
    CheckedString,
    ClearSkySun,
    CommissioningCheckRequest,
    CommissioningSite,
    FollowUp,
    IrradianceReading,
    Reading,
)
from sunhitch.types.panel import CellModel, Panel, PanelElectrical, PanelType
from sunhitch.types.place import Place
from sunhitch.types.system import ControllerKind
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.commissioning.calculation import commissioning_check
from sunhitch_service.engine.commissioning.evidence import figures_of
from sunhitch_service.engine.commissioning.follow_up import robust_trend
from sunhitch_service.engine.commissioning.model import StringState, terminals
from sunhitch_service.engine.commissioning.setup import settle
from sunhitch_service.engine.pv.presets import resolve_panel

I_SC = 6.4
PLATE = PanelElectrical(
    p_mp_w=115.0, v_mp_v=19.2, i_mp_a=5.99, v_oc_v=22.9, i_sc_a=I_SC, cells_in_series=36
)
ONE_SHEET = CheckedArray(
    panel_types=[
        PanelType(name="sheet", panel=Panel(electrical=PLATE, construction="half-cell-2-diodes"))
    ],
    strings=[CheckedString(name="s", panel_type="sheet", panels_in_series=1)],
)
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


@pytest.mark.parametrize("irradiance", [200.0, 600.0, 1000.0])
@pytest.mark.parametrize(("strings", "in_series"), [(1, 1), (3, 2)])
def test_an_even_array_is_pvlibs_single_diode(
    irradiance: float, strings: int, in_series: int, outside: Outside
) -> None:
    """`pvlib.pvsystem.calcparams_desoto` and `singlediode`, 25 °C, scaled to the array."""
    panel = Panel(electrical=PLATE, cell_model=CELL, construction="full-cell-2-diodes")
    ours = terminals(
        [StringState(resolve_panel(panel, Assumptions(), ""), in_series)] * strings,
        0.0,
        irradiance,
        25.0,
    )
    cells = 36 * in_series
    parameters = pvsystem.calcparams_desoto(
        irradiance,
        25.0,
        alpha_sc=0.0032,
        a_ref=1.1 * cells * 8.617333262e-5 * 298.15,
        I_L_ref=6.4,
        I_o_ref=2e-9,
        R_sh_ref=12.0 * cells,
        R_s=0.004 * cells,
        EgRef=1.121,
        dEgdT=-0.0002677,
    )
    theirs = pvsystem.singlediode(*parameters)
    of = f"{strings} × {in_series} panels at {irradiance:g} W/m²"
    more: dict[str, Any] = {
        "source": "pvlib.pvsystem.calcparams_desoto and singlediode",
        "kind": "reference program",
    }
    outside(ours.open_circuit_v, theirs["v_oc"], rel=1e-5, of=f"{of}, Voc", unit="V", **more)
    short_a, maximum_w = strings * float(theirs["i_sc"]), strings * float(theirs["p_mp"])
    outside(ours.short_circuit_a, short_a, rel=1e-5, of=f"{of}, Isc", unit="A", **more)
    outside(ours.maximum_v * ours.maximum_a, maximum_w, rel=1e-5, of=f"{of}, Pmp", unit="W", **more)
    outside(ours.maximum_v, theirs["v_mp"], rel=1e-3, of=f"{of}, Vmp", unit="V", **more)


def current_a(held_v: float) -> float:
    """Of two panels in parallel, 800 W/m², 25 °C: `calcparams_desoto` and `i_from_v`."""
    parameters = pvsystem.calcparams_desoto(
        800.0,
        25.0,
        alpha_sc=0.0032,
        a_ref=1.1 * 36 * 8.617333262e-5 * 298.15,
        I_L_ref=6.4,
        I_o_ref=2e-9,
        R_sh_ref=12.0 * 36,
        R_s=0.004 * 36,
        EgRef=1.121,
        dEgdT=-0.0002677,
    )
    return 2.0 * float(pvsystem.i_from_v(held_v, *parameters))


def charging(held_v: float, controller: ControllerKind) -> CommissioningCheckRequest:
    """A reading of the same panels while they charge."""
    panel = Panel(electrical=PLATE, cell_model=CELL, construction="full-cell-2-diodes")
    built = CheckedArray(
        panel_types=[PanelType(name="sheet", panel=panel)],
        strings=[CheckedString(name=n, panel_type="sheet", panels_in_series=1) for n in "ab"],
        controller_kind=controller,
    )
    taken = Reading(
        name="charging",
        kind="operating",
        taken_at="2027-06-01T12:00:00+02:00",
        voltage_v=held_v,
        current_a=current_a(held_v),
        light=IrradianceReading(irradiance_w_m2=800.0),
        cell_temperature_c=25.0,
    )
    return CommissioningCheckRequest(array=built, readings=[taken])


@pytest.mark.parametrize("held_v", [10.5, 13.2, 14.8])
def test_a_plain_switch_draws_pvlibs_current_at_the_batterys_voltage(
    held_v: float, outside: Outside
) -> None:
    """Two panels in parallel, 800 W/m², 25 °C."""
    answer = commissioning_check(charging(held_v, "pwm"))
    (found,) = answer.readings[0].quantities
    more: dict[str, Any] = {
        "source": "pvlib.pvsystem.calcparams_desoto and i_from_v",
        "kind": "reference program",
    }
    of = f"2 panels held at {held_v:g} V, current"
    outside(found.expected, current_a(held_v), rel=1e-4, of=of, unit="A", **more)
    assert (found.quantity, found.verdict) == ("current", "pass")


@pytest.mark.parametrize("held_v", [13.2, 19.5, 20.5])
def test_a_held_current_is_as_unsure_as_its_voltage_where_the_curve_falls(held_v: float) -> None:
    """1 % more voltage by pvlib; meter and nameplate as they are taken. A tracker holds none."""
    inspection = settle(charging(held_v, "pwm"))
    (held,) = figures_of(inspection, 0)
    by_volts = 100.0 * np.log(current_a(1.01 * held_v) / current_a(held_v))
    assert held.by_volts == pytest.approx(by_volts, rel=0.01, abs=2e-3)
    volts = float(np.hypot(inspection.volt_share, inspection.plate_volt_share))
    level = figures_of(settle(charging(1.0, "pwm")), 0)[0].own_share
    assert held.own_share**2 - level**2 == pytest.approx(
        (by_volts * volts) ** 2, rel=0.02, abs=1e-7
    )
    tracked = {one.quantity: one for one in figures_of(settle(charging(held_v, "mppt")), 0)}
    assert [one.by_volts for one in tracked.values()] == [0.0, 0.0, 0.0]
    assert tracked["current"].own_share == pytest.approx(level, rel=1e-6)


@pytest.mark.filterwarnings("ignore:DatetimeIndex.dayofyear")
def test_clear_sky_light_is_pvlibs(outside: Outside) -> None:
    """`pvlib.location.Location.get_clearsky`, then Hay and Davies by day of year."""
    place = Place(latitude_deg=47.6, longitude_deg=9.5, altitude_m=400.0)
    moment = "2027-05-19T12:30:00+02:00"
    reading = Reading(
        name="i",
        kind="short-circuit",
        taken_at=moment,
        current_a=I_SC,
        light=ClearSkySun(linke_turbidity=3.0),
        cell_temperature_c=40.0,
    )
    site = CommissioningSite(place=place, tilt_deg=12.0, azimuth_deg=200.0)
    request = CommissioningCheckRequest(array=ONE_SHEET, readings=[reading], site=site)
    answer = commissioning_check(request)

    where = Location(47.6, 9.5, altitude=400.0)
    times = pd.DatetimeIndex([pd.Timestamp(moment)])
    sun = where.get_solarposition(times)
    sky = where.get_clearsky(times, linke_turbidity=3.0)
    plane = get_total_irradiance(
        12.0,
        200.0,
        sun["apparent_zenith"],
        sun["azimuth"],
        sky["dni"],
        sky["ghi"],
        sky["dhi"],
        dni_extra=pd.Series([get_extra_radiation(139)], index=times),
        albedo=0.2,
        model="haydavies",
    )
    expected = float(plane["poa_global"].iloc[0])
    outside(
        answer.readings[0].irradiance_w_m2,
        expected,
        rel=1e-4,
        of="clear sky on a tilted roof",
        source="pvlib's Ineichen clear sky, then Hay and Davies",
        unit="W/m²",
        kind="reference program",
    )


def test_the_trend_is_the_median_of_all_pairs_as_in_scipy(outside: Outside) -> None:
    """Sen 1968: the median of the slopes between all pairs; intervals as scipy's."""
    draw = np.random.default_rng(7)
    years = np.sort(draw.uniform(0.0, 6.0, 25))
    shares = 0.97 - 0.008 * years + draw.normal(0.0, 0.004, 25)
    shares[4] = 0.2
    found = robust_trend(years, shares)
    slopes = [
        (shares[b] - shares[a]) / (years[b] - years[a])
        for a, b in itertools.combinations(range(25), 2)
    ]
    start = float(np.median(shares) - np.median(slopes) * np.median(years))
    direct = theilslopes(shares, years, 0.95)
    outside(
        (found.loss, found.low, found.high),
        (-np.median(slopes) / start, -direct.high_slope / start, -direct.low_slope / start),
        rel=1e-6,
        of="yearly loss and its interval",
        source="Sen 1968: median of all pairs; scipy.stats.theilslopes",
        kind="reference program",
    )
    true = 0.008 / 0.97
    fitted = -float(np.polyfit(years, shares, 1)[0]) / 0.97
    assert abs(found.loss - true) < 0.25 * true, "one reading far off hardly matters"
    assert abs(fitted - true) > true, "least squares is misled by it"


def followed(loss: float, scatter: float, months: list[float]) -> tuple[FollowUp, str]:
    draw = np.random.default_rng(3)
    start = pd.Timestamp("2024-06-01T12:00:00+00:00")
    readings = [
        Reading(
            name=f"r{k}",
            kind="short-circuit",
            taken_at=(start + pd.Timedelta(days=30.4 * month)).strftime("%Y-%m-%dT%H:%M:%S+00:00"),
            current_a=I_SC * (1.0 - loss * month / 12.0 + scatter * draw.normal()),
            light=IrradianceReading(irradiance_w_m2=1000.0),
            cell_temperature_c=25.0,
        )
        for k, month in enumerate(months)
    ]
    answer = commissioning_check(CommissioningCheckRequest(array=ONE_SHEET, readings=readings))
    verdict = next(c.verdict for c in answer.checks if c.code == "yearly-loss")
    return answer.follow_up[0], verdict


def test_the_published_loss_passes_and_a_fast_one_is_named() -> None:
    """Jordan et al. 2016: crystalline silicon, median 0.5 to 0.6, mean 0.8 to 0.9 % a year."""
    monthly = list(range(0, 48, 2))
    usual, verdict = followed(0.0055, 0.001, monthly)
    assert usual.outcome == "loss-shown"
    assert usual.low_fraction < 0.0055 < usual.high_fraction
    assert verdict == "pass"
    fast, verdict = followed(0.03, 0.002, monthly)
    assert fast.yearly_loss_fraction == pytest.approx(0.03, abs=0.003)
    assert verdict == "review"


@pytest.mark.parametrize(
    ("months", "scatter", "reason"),
    [
        ([0, 4, 8, 12, 16], 0.001, "5 readings"),
        ([0, 1, 2, 3, 4, 5, 6, 7, 8], 0.001, "season"),
        ([0, 2, 4, 6, 8, 10, 12, 14, 16], 0.08, "scatter"),
    ],
)
def test_not_enough_evidence_is_a_result(months: list[float], scatter: float, reason: str) -> None:
    found, verdict = followed(0.01, scatter, months)
    assert found.outcome == "not-enough-evidence"
    assert reason in found.why
    assert verdict == "not-assessed"


def test_no_loss_is_not_claimed_from_noise() -> None:
    found, verdict = followed(0.0, 0.01, list(range(0, 48, 2)))
    assert found.outcome == "no-loss-shown"
    assert found.low_fraction <= 0.0 <= found.high_fraction
    assert verdict == "pass"
