"""Each model of a harvest against its own source, one at a time."""

from dataclasses import replace
from datetime import date
from itertools import pairwise
from pathlib import Path
from typing import Any, get_args

import msgspec
import numpy as np
import pandas as pd
import pvlib
import pytest
from harvest_builders import BODY, array, heading, study
from numpy.typing import NDArray
from scipy.integrate import quad, solve_ivp
from scipy.optimize import brentq

from sunhitch.types.harvest import (
    BatteryUse,
    HarvestAnswer,
    HarvestRequest,
    HorizonPoint,
    HourlyWeather,
    Load,
    LoadEfficiency,
    LossCode,
    PanelHeat,
    ParkedHeading,
    Parking,
    Soiling,
    TrackerModel,
    Wall,
)
from sunhitch_service.engine.battery.simulation import lagging
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.harvest import study_parts
from sunhitch_service.engine.harvest.calculation import harvest
from sunhitch_service.engine.harvest.clock import Clock, midnight
from sunhitch_service.engine.harvest.computing_time import expected_ms
from sunhitch_service.engine.harvest.interconnection import ArrayCurves
from sunhitch_service.engine.harvest.light import STAGES, _sky_directions, stance_light
from sunhitch_service.engine.harvest.loads import load_w
from sunhitch_service.engine.harvest.setup import modules, settle, variants
from sunhitch_service.engine.pv.temperature import cell_c, lagging_cells
from sunhitch_service.engine.shadow.crowns import passing, takes_along
from sunhitch_service.engine.shadow.objects import Solid
from sunhitch_service.engine.shadow.planes import Plane, Stance
from sunhitch_service.engine.sky import SunPosition, colour_factor

STEPS = get_args(LossCode)
SHORT = msgspec.structs.replace(study().weather, synthetic_years=0)


def asked(**changes: Any) -> HarvestRequest:
    return study(**{"weather": SHORT, **changes})


def left(answer: HarvestAnswer, code: str) -> float:
    """Share of the power that is left after a step."""
    return next(1.0 - step.lost_fraction for step in answer.losses if step.code == code)


def tracked(**model: Any) -> HarvestRequest:
    own = msgspec.structs.replace(array([["p0"], ["p1"]]), tracker=TrackerModel(**model))
    return asked(arrays=[own])


@pytest.mark.parametrize("height_deg", [10.0, 30.0])
def test_a_landscape_all_round_hides_the_sky_and_the_low_sun(height_deg: float) -> None:
    """An isotropic sky above h gives cos² h on the level; the beam is that of a higher sun."""
    found = harvest(asked(horizon=[HorizonPoint(azimuth_deg=90.0, elevation_deg=height_deg)]))
    seen = [panel.visible_sky_fraction for panel in found.panels]
    assert seen == pytest.approx([np.cos(np.radians(height_deg)) ** 2] * 2, abs=0.035)
    weather = settle(asked()).weather
    height = 90.0 - weather.sun.apparent_zenith_deg
    direct = weather.light.dni * np.maximum(np.sin(np.radians(height)), 0.0)
    kept = direct[height > height_deg].sum() / direct.sum()
    assert found.panels[0].beam_fraction == pytest.approx(kept, abs=0.01)


def test_one_side_of_the_landscape_hides_the_morning_only() -> None:
    points = [(0.0, 0.0), (45.0, 40.0), (135.0, 40.0), (180.0, 0.0), (270.0, 0.0)]
    horizon = [HorizonPoint(azimuth_deg=a, elevation_deg=h) for a, h in points]
    day, free = (harvest(asked(horizon=own)).months[0].typical_day_w for own in (horizon, []))
    assert day[7] < 0.6 * free[7]
    assert day[17] == pytest.approx(free[17], rel=0.12)


@pytest.mark.parametrize("step_deg", [30.0, 90.0])
def test_a_landscape_is_read_between_its_points_and_round_north(step_deg: float) -> None:
    """Straight lines over the azimuth: the beam is kept where the sun stands above them."""
    turns = np.arange(0.0, 360.0, step_deg) + 15.0
    highs = 30.0 + 20.0 * np.sin(np.radians(2.0 * turns))
    horizon = [
        HorizonPoint(azimuth_deg=a, elevation_deg=h) for a, h in zip(turns, highs, strict=True)
    ]
    found = harvest(asked(horizon=horizon)).panels[0].beam_fraction
    weather = settle(asked()).weather
    height = 90.0 - weather.sun.apparent_zenith_deg
    around = np.concatenate([turns - 360.0, turns, turns + 360.0])
    line = np.interp(weather.sun.azimuth_deg, around, np.tile(highs, 3))
    direct = weather.light.dni * np.maximum(np.sin(np.radians(height)), 0.0)
    kept = direct[height > line].sum() / direct.sum()
    assert kept < 0.99
    assert found == pytest.approx(kept, abs=0.01)


def test_a_landscape_stays_where_it_is_when_the_vehicle_turns() -> None:
    """A level panel has the same light of sun, sky and slopes, whichever way it looks."""
    points = [(0.0, 0.0), (45.0, 40.0), (135.0, 40.0), (180.0, 5.0), (270.0, 0.0)]
    horizon = [HorizonPoint(azimuth_deg=a, elevation_deg=h) for a, h in points]
    request = asked(horizon=horizon, surroundings_reflectance_fraction=0.4)
    given = settle(request)
    (variant,) = variants(request)
    panels = modules(given, variant)
    north, *others = (
        stance_light(given.site, given.weather.lit(), Stance(turn, 0.0, 0.0), panels)
        for turn in (0.0, 90.0, 210.0)
    )
    thrown = north.stages[STAGES.index("surroundings")] - north.stages[STAGES.index("hidden-sky")]
    assert (thrown > 0.0).all()
    for other in others:
        assert other.stages == pytest.approx(north.stages, rel=1e-9)
        assert other.beam == pytest.approx(north.beam, rel=1e-9)
        assert other.sky == pytest.approx(north.sky, rel=1e-9)


@pytest.mark.parametrize(
    ("first_deg", "y_m", "sun_is_hidden"),
    [(90.0, -1.5, False), (90.0, 3.5, True), (270.0, -1.5, True), (270.0, 3.5, False)],
)
def test_a_wall_stands_where_it_is_for_the_first_heading(
    first_deg: float, y_m: float, sun_is_hidden: bool
) -> None:
    """Left of a vehicle that looks east is north, whichever way it looks afterwards."""
    wall = Wall(name="w", from_x_m=-90, from_y_m=y_m, to_x_m=90, to_y_m=y_m, top_height_m=7.0)
    winter = msgspec.structs.replace(asked().weather, first_day="2027-12-21")
    turns = [ParkedHeading(heading_deg=d) for d in (first_deg, 180.0, 360.0 - first_deg)]
    request = asked(weather=winter, shade=[wall], parking=Parking(headings=turns))
    given = settle(request)
    variant, *_ = variants(request)
    panels = modules(given, variant)
    for stance, _ in variant.stances:
        free, kept = stance_light(given.site, given.weather.lit(), stance, panels).beam
        if sun_is_hidden:
            assert (kept < 0.3 * free).all()
        else:
            assert kept == pytest.approx(free)


def test_colour_follows_the_published_formula() -> None:
    """Pelland et al. 2020: a1·k^a2·AM^a3, 0.9845, −0.05169, 0.03034; AM 1.5 is 48.2° high."""
    place = msgspec.structs.replace(study().place, altitude_m=0.0)
    zenith = np.array([48.236])
    sun = SunPosition(zenith, zenith, np.array([180.0]))
    for share in (1.0, 0.4):
        found = colour_factor(place, sun, np.array([700.0 * share]), np.array([700.0]), "monosi")
        assert found == pytest.approx(0.9845 * share**-0.05169 * 1.5**0.03034, rel=1e-3)


def test_age_takes_its_yearly_share_of_the_power() -> None:
    found = harvest(asked(age_years=10.0, yearly_loss_fraction=0.02))
    assert left(found, "ageing") == pytest.approx(0.98**10)
    assert left(harvest(asked()), "ageing") == 1.0


def test_a_tracker_holds_its_share_and_works_at_its_part_load() -> None:
    assert left(harvest(tracked(tracking_fraction=0.97)), "tracking") == pytest.approx(0.97)
    curve = [LoadEfficiency(load_fraction=x, efficiency_fraction=y) for x, y in ((0, 0.8), (1, 1))]
    answer = harvest(msgspec.structs.replace(tracked(efficiency_by_load=curve), detail="steps"))
    rated_w = 60.0 * 13.3
    drawn = np.array(answer.steps.array_w)
    due = (drawn * (0.8 + 0.2 * drawn / rated_w)).sum() / drawn.sum()
    assert left(answer, "conversion") == pytest.approx(due, rel=2e-3)


def test_loads_of_a_tracker_rise() -> None:
    twice = [LoadEfficiency(load_fraction=0.5, efficiency_fraction=0.9)] * 2
    with pytest.raises(ContradictionError, match="/arrays/0/tracker/efficiency_by_load"):
        harvest(tracked(efficiency_by_load=twice))


def test_a_tracker_from_open_circuit_stays_on_the_first_maximum() -> None:
    """A wall's shadow gives two maxima; without shade both trackers find the same."""
    wall = Wall(name="w", from_x_m=-2.0, from_y_m=-0.4, to_x_m=7.0, to_y_m=-0.4, top_height_m=3.3)
    series = msgspec.structs.replace(
        array([["p0", "p1"]]), tracker=TrackerModel(finds="first-from-open-circuit")
    )
    shaded, free = (harvest(asked(arrays=[series], shade=own)) for own in ([wall], []))
    assert left(shaded, "tracking") < 0.97
    assert left(free, "tracking") == pytest.approx(1.0, abs=1e-3)


def test_the_first_maximum_is_the_one_next_to_open_circuit() -> None:
    curves = object.__new__(ArrayCurves)
    curves.voltage = np.arange(8.0)
    rows = [[9, 9, 9, 2, 2, 2, 1, 0], [9, 9, 9, 9, 1, 0.5, 0.1, 0], [9, 9, 9, 2, 2, 2, -1, -2]]
    curves.current = np.array(rows)
    curves.of_state = np.array([0, 1, 0, 2])
    assert curves.first_tops().tolist() == [5.0, 3.0, 5.0, 5.0]


def test_a_battery_loses_its_own_and_what_electronics_draw() -> None:
    """Dark for 30 days: an exponential, then a straight line; nothing below empty."""
    dark = HourlyWeather(
        start="2027-06-01T00:00:00+01:00", ghi_w_m2=[0.0] * 720, air_c=[15.0] * 720
    )
    use = BatteryUse(start_state_fraction=1.0, self_discharge_fraction_per_month=0.03)
    own = harvest(asked(weather=dark, battery_use=use)).battery
    assert own.end_wh / own.start_wh == pytest.approx((1.0 - 0.03 / 720) ** 720)
    use = BatteryUse(start_state_fraction=1.0, management_draw_w=0.5)
    request = msgspec.structs.replace(tracked(own_draw_w=1.5), weather=dark, battery_use=use)
    own = harvest(request).battery
    assert own.start_wh - own.end_wh == pytest.approx(2.0 * 720)
    assert own.storage_lost_wh == pytest.approx(2.0 * 720)


def test_a_battery_follows_the_air_with_its_time_constant() -> None:
    """A step of the air is followed to 1 − 1/e in one time constant."""
    air = np.concatenate([[10.0], np.zeros(48)])
    assert lagging(air, 24.0)[24] == pytest.approx(10.0 / np.e, rel=1e-9)


def rain() -> pd.Series:
    """A year of rain by the hour that pvlib ships."""
    path = Path(pvlib.__file__).parent / "data" / "soiling_hsu_example_inputs.csv"
    table = pd.read_csv(path)
    return pd.Series(table["rain"].to_numpy(), index=pd.to_datetime(table["TimeStamp"]))


def test_dirt_grows_and_is_washed_off_as_in_the_published_model() -> None:
    """Kimber et al. 2006 by pvlib, which judges rain by running days and not calendar days."""
    measured = rain()
    weather = HourlyWeather(
        start="2015-01-01T00:00:00+00:00",
        ghi_w_m2=[0.0] * 8760,
        air_c=[15.0] * 8760,
        rain_mm=measured.tolist(),
    )
    ours = settle(asked(weather=weather, soiling=Soiling(loss_per_day_fraction=0.002))).weather.dirt
    theirs = pvlib.soiling.kimber(measured, soiling_loss_rate=0.002).to_numpy()
    assert theirs.max() > 0.05
    assert ours.mean() == pytest.approx(theirs.mean(), rel=0.05)
    assert np.quantile(np.abs(ours - theirs), 0.95) < 0.005
    with pytest.raises(ContradictionError, match="/soiling"):
        settle(asked(soiling=Soiling()))


def test_computing_time_goes_by_steps_however_these_are_given() -> None:
    dark = HourlyWeather(start="2027-12-21T00:00:00+01:00", ghi_w_m2=[0.0] * 48, air_c=[5.0] * 48)
    sky = msgspec.structs.replace(SHORT, first_day="2027-12-21", days=2, step_s=3600)
    assert expected_ms(asked(weather=dark)) == pytest.approx(expected_ms(asked(weather=sky)))


def test_cells_that_want_blue_light_lose_more_by_a_low_sun() -> None:
    """Amorphous silicon against crystalline, which sees infrared: Pelland et al. 2020."""

    def share(first_day: str) -> float:
        sky = msgspec.structs.replace(SHORT, first_day=first_day, days=1)
        kinds = ("asi", "monosi", None)
        answers = [harvest(asked(weather=sky, spectrum=one)) for one in kinds]
        blue, both, neither = (sum(m.array_wh for m in one.months) for one in answers)
        assert neither not in (blue, both)
        return blue / both

    assert share("2027-12-21") < share("2027-06-21") < 1.1


def test_panels_in_even_light_lose_nothing_to_each_other_whatever_its_colour() -> None:
    """Colour takes its share of the light before heat and weak light are reckoned."""
    for spectrum in ("asi", None):
        found = harvest(asked(spectrum=spectrum))
        assert left(found, "mismatch") == pytest.approx(1.0, abs=1e-4)
    assert left(harvest(asked(spectrum="asi")), "spectrum") != pytest.approx(1.0, abs=5e-3)


@pytest.mark.parametrize(
    ("rule", "begin", "end"),
    [
        ("eu", date(2024, 3, 31), date(2024, 10, 27)),
        ("eu", date(2027, 3, 28), date(2027, 10, 31)),
        ("us", date(2024, 3, 10), date(2024, 11, 3)),
        ("eu", date(2029, 3, 25), date(2029, 10, 28)),  # the earliest Sundays that there are
        ("us", date(2027, 3, 14), date(2027, 11, 7)),
        ("us", date(2026, 3, 8), date(2026, 11, 1)),
    ],
)
def test_clocks_of_loads_are_ahead_in_summer(rule: str, begin: date, end: date) -> None:
    clock = Clock(midnight(f"{begin.year}-01-01", 0.0), 3600, 365 * 24, 0.0)
    kettle = [Load(name="kettle", power_w=10.0, from_hour=7.0, to_hour=8.0)]
    on = load_w(kettle, clock, rule).reshape(-1, 24).argmax(axis=1)
    days = [k + 1 for k, (a, b) in enumerate(pairwise(on)) if a != b]
    first = date(begin.year, 1, 1)
    assert days == [(begin - first).days, (end - first).days]
    assert set(on.tolist()) == {6, 7}


@pytest.mark.parametrize(
    ("ghi", "told"),
    [
        (
            [0.0] * 6 + [0.2, 0.4, 0.5, 0.7, 0.8, 0.6] + [0.3] * 4 + [0.0] * 8,
            "/10: 0.8 is the most",
        ),
        ([0.0] * 2 + [80.0] + [0.0] * 5 + [300.0] * 8 + [0.0] * 8, "/2: 80 W/m² at 2027-06-21T02"),
        ([0.0] * 6 + [1200.0] + [300.0] * 8 + [0.0] * 9, "/6: 1200 W/m² at 2027-06-21T06.* kJ"),
    ],
)
def test_light_that_cannot_be_is_told_with_its_step(ghi: list[float], told: str) -> None:
    weather = HourlyWeather(start="2027-06-21T00:00:00+01:00", ghi_w_m2=ghi, air_c=[15.0] * 24)
    with pytest.raises(ContradictionError, match=f"/weather/ghi_w_m2{told}"):
        harvest(asked(weather=weather))


@pytest.mark.parametrize(("beam", "diffuse"), [(0.5, 150.0), (500.0, 700.0), (0.0, 0.2)])
def test_light_that_is_not_the_sum_of_its_parts_is_told_with_its_step(
    beam: float, diffuse: float
) -> None:
    """Beam in kilowatts, diffuse and whole changed over, diffuse in kilowatts."""
    noon = [0.0] * 11 + [1.0] * 2 + [0.0] * 11
    weather = HourlyWeather(
        start="2027-06-21T00:00:00+01:00",
        ghi_w_m2=[500.0 * share for share in noon],
        dni_w_m2=[beam * share for share in noon],
        dhi_w_m2=[diffuse * share for share in noon],
        air_c=[15.0] * 24,
    )
    with pytest.raises(ContradictionError, match=r"/weather/dni_w_m2/11: .* W/m² at 2027-06-21T11"):
        harvest(asked(weather=weather))


def test_light_thrown_back_by_a_landscape_all_round_is_that_of_its_form_factor() -> None:
    """Lambertian faces towards the panel hide sin² h of a flat panel's view.

    Each has half the sky, half the ground and the beam by its direction, whose mean all round is
    DNI·sin(zenith) ÷ π (J. A. Duffie, W. A. Beckman, chapter 2, for form factors).
    """
    height_deg, share = 30.0, 0.4
    points = [HorizonPoint(azimuth_deg=90.0, elevation_deg=height_deg)]
    request = asked(
        horizon=points,
        surroundings_reflectance_fraction=share,
        albedo_fraction=0.25,
        detail="steps",
    )
    weather = settle(request).weather
    sun, light = weather.sun, weather.light
    up = sun.is_up
    due = light.dni * np.sin(np.radians(sun.apparent_zenith_deg)) / np.pi
    due = share * np.sin(np.radians(height_deg)) ** 2 * (due + 0.5 * (light.dhi + 0.25 * light.ghi))
    found = next(step for step in harvest(request).losses if step.code == "surroundings")
    nameplate_m2 = 2 * 115.0 / 1000.0
    assert -found.lost_wh == pytest.approx(nameplate_m2 * due[up].sum(), rel=0.03)
    bare = harvest(msgspec.structs.replace(request, surroundings_reflectance_fraction=0.0))
    assert next(s.lost_wh for s in bare.losses if s.code == "surroundings") == 0.0


def _an_hour(ghi_w_m2: float, dni_w_m2: float, dhi_w_m2: float) -> HourlyWeather:
    return HourlyWeather(
        start="2027-06-21T11:00:00+01:00",
        ghi_w_m2=[ghi_w_m2],
        dni_w_m2=[dni_w_m2],
        dhi_w_m2=[dhi_w_m2],
        air_c=[15.0],
    )


def _thrown_back(
    weather: HourlyWeather, azimuth_deg: float | None = None, **ends_m: float
) -> NDArray[np.float64]:
    """Light on each panel from a wall 6 m high [W/m²], the sun 35° high where it is told."""
    wall = Wall(name="w", top_height_m=6.0, **ends_m)
    request = asked(weather=weather, shade=[wall], surroundings_reflectance_fraction=0.5)
    given = settle(request)
    (variant,) = variants(request)
    lit = given.weather.lit()
    if azimuth_deg is not None:
        lit = replace(lit, sun=SunPosition(*np.array([[55.0], [55.0], [azimuth_deg]])))
    light = stance_light(given.site, lit, variant.stances[0][0], modules(given, variant))
    stages = light.stages[:, 0]
    found: NDArray[np.float64] = (
        stages[STAGES.index("surroundings")] - stages[STAGES.index("hidden-sky")]
    )
    return found


def test_light_thrown_back_by_a_wall_reaches_the_cells_beside_it_most() -> None:
    """Under an even sky a long wall of height angle α gives ρ·E·(1 − cos α) ÷ 2 to the level."""
    ends_m = {"from_x_m": -200, "from_y_m": -1.5, "to_x_m": 200, "to_y_m": -1.5}
    thrown = _thrown_back(_an_hour(200.0, 0.0, 200.0), **ends_m)
    on_wall = 0.5 * (200.0 + 0.2 * 200.0)
    for panel, across in enumerate((0.2, 1.2)):
        rise = 6.0 - 2.5 - asked().panel_height_m
        y = np.linspace(across, across + BODY.width_m, 50) + 1.5
        due = 0.5 * on_wall * 0.5 * (1.0 - np.cos(np.arctan2(rise, y))).mean()
        assert thrown[panel] == pytest.approx(due, rel=0.04)


def test_directions_of_the_sky_count_by_their_angle_on_a_plane() -> None:
    """Of equal areas on the level: by n·d ÷ d_z, none from behind; an even sky gives a flat 1."""
    plane = Plane((0.0, 0.0, 0.0), 1.2, 0.0)
    towards, weight = _sky_directions(plane)
    ahead = towards @ plane.normal
    assert (weight[ahead <= 0.0] == 0.0).all()
    assert (ahead <= 0.0).any()
    share = weight[ahead > 0.0] / (ahead / towards[:, 2])[ahead > 0.0]
    assert share == pytest.approx(np.full(len(share), share[0]))
    assert weight.sum() == pytest.approx(1.0)
    _, level = _sky_directions(Plane((0.0, 0.0, 0.0), 0.0, 0.0))
    assert level == pytest.approx(np.full(len(level), 1.0 / len(level)))


@pytest.mark.parametrize("pitch_deg", [0.0, 25.0])
def test_the_light_of_a_panel_is_the_mean_of_that_of_its_cells(pitch_deg: float) -> None:
    """With a wall that hides sky and throws light back, glass, dirt and colour; after each step."""
    wall = Wall(name="w", from_x_m=-20, from_y_m=-1.5, to_x_m=20, to_y_m=-1.5, top_height_m=6.0)
    hour = _an_hour(730.0, 700.0, 200.0)
    request = asked(
        weather=hour,
        shade=[wall],
        surroundings_reflectance_fraction=0.5,
        parking=heading(0.0, pitch_deg=pitch_deg),
    )
    given = settle(request)
    (variant,) = variants(request)
    lit = replace(given.weather.lit(), dirt=np.array([0.2]), colour=np.array([0.97]))
    found = stance_light(given.site, lit, variant.stances[0][0], modules(given, variant))
    means = np.array([cells.mean(axis=(1, 2)) for cells in found.cells]).T
    assert found.stages[-1] == pytest.approx(means, rel=1e-9)
    assert found.stages[-1] == pytest.approx(0.97 * found.stages[-2], rel=1e-9)
    assert found.stages[-2] == pytest.approx(0.8 * found.stages[-3], rel=1e-9)
    open_site = settle(msgspec.structs.replace(request, shade=[])).site
    free = stance_light(open_site, lit, variant.stances[0][0], modules(given, variant)).stages
    for stage in range(1, 4):
        assert free[stage] == pytest.approx(free[0], rel=1e-9), "nothing stands in its way"


def test_a_crown_dims_by_the_way_through_it() -> None:
    """The mean of exp(−a·√(1 − r²)) over an ellipse by quadrature; a ball dims alike all round."""
    for deep in (0.0, 1e-4, 0.3, 2.0, 9.0):
        due, _ = quad(lambda r, a=deep: 2.0 * r * np.exp(-a * np.sqrt(1.0 - r * r)), 0.0, 1.0)
        assert passing(np.array([deep])) == pytest.approx(due, rel=1e-6)
    towards = np.array([[1.0, 0.0, 0.0], [np.sqrt(0.5), 0.0, np.sqrt(0.5)], [0.0, 0.0, 1.0]])
    takes = np.array([0.7, 0.7, 0.7])
    crown = Solid(
        "crown", np.zeros((1, 3)), np.zeros((0, 2), dtype=int), (2.0, 2.0), (), False, True
    )
    assert takes_along(crown, takes, towards) == pytest.approx(takes)
    flat = replace(crown, radii=(4.0, 1.0))
    level, usual, upright = takes_along(flat, takes, towards)
    assert usual == pytest.approx(0.7)
    assert upright < usual < level
    assert takes_along(replace(flat, by_path=False), takes, towards) is takes
    depth = brentq(lambda a: passing(np.array(a)) - 0.3, 0.0, 50.0)
    longest = 2.0 / np.sqrt(0.5 / 16.0 + 0.5 / 1.0)
    assert 1.0 - upright == pytest.approx(passing(np.array(depth * 2.0 / longest)))


def test_stored_heat_follows_the_equation_of_its_balance() -> None:
    """C·dT/dt = U·(T_steady − T), integrated by scipy through even steps, mean over each."""
    random = np.random.default_rng(3)
    steady, air = random.uniform(20.0, 60.0, 8), random.uniform(5.0, 15.0, 8)
    steps = random.uniform(0.2, 3.0, 8)
    follows = np.array([False, True, True, True, False, True, True, True])
    own = 0.0
    for k in range(8):
        begin = own if follows[k] else air[k]
        path = solve_ivp(
            lambda _, t, k=k: [(steady[k] - t[0]) / steps[k], t[0]],
            (0.0, 1.0),
            [begin, 0.0],
            rtol=1e-9,
            atol=1e-9,
        ).y[:, -1]
        own = path[0]
        assert lagging_cells(steady, air, steps, follows)[k] == pytest.approx(path[1], rel=1e-7)


def test_heat_is_stored_for_as_long_as_its_loss_says(monkeypatch: pytest.MonkeyPatch) -> None:
    """C ÷ U in steps; U is what 1000 W/m², less the panels' power, are over their rise."""
    seen: list[np.ndarray] = []

    def noted(steady: np.ndarray, air: np.ndarray, steps: np.ndarray, follows: np.ndarray):
        seen.append(steps)
        return lagging_cells(steady, air, steps, follows)

    monkeypatch.setattr(study_parts, "lagging_cells", noted)
    request = asked(panel_heat=PanelHeat(stored_j_per_m2_k=60_000.0))
    harvest(request)
    efficiency = 115.0 / (1000.0 * 1.2 * 0.6)
    one = np.ones(1)
    cells = cell_c(request.mounting_heat, efficiency, 1000.0 * one, 15.0 * one, 2.0 * one)
    loss = 1000.0 * (0.9 - efficiency) / float(cells[0] - 15.0)
    assert seen[0] == pytest.approx(np.full(len(seen[0]), 60_000.0 / loss / 3600.0), rel=1e-6)


def test_a_glued_sheet_is_colder_in_the_morning_and_warmer_in_the_evening() -> None:
    by_heat = [
        harvest(asked(panel_heat=PanelHeat(stored_j_per_m2_k=c), detail="steps")).steps.array_w
        for c in (0.0, 60_000.0)
    ]
    light, heavy = map(np.array, by_heat)
    assert (heavy[6:10] > light[6:10]).all()
    assert (heavy[16:18] < light[16:18]).all()


def test_each_panel_has_the_temperature_of_its_own_light() -> None:
    """Two controllers, a panel each: as two studies of one panel, which have one temperature."""
    wall = Wall(name="w", from_x_m=-9.0, from_y_m=-0.4, to_x_m=9.0, to_y_m=-0.4, top_height_m=4.5)
    arrays = [array([["p0"]], name="a"), array([["p1"]], name="b")]
    both = asked(shade=[wall], arrays=arrays, panel_heat=PanelHeat(each_panel=True))
    alone = [
        harvest(asked(shade=[wall], arrays=[own])).losses[STEPS.index("battery-cable")].left_wh
        for own in arrays
    ]
    found = harvest(both).losses[STEPS.index("battery-cable")].left_wh
    shared = harvest(msgspec.structs.replace(both, panel_heat=PanelHeat()))
    assert found == pytest.approx(sum(alone), rel=1e-4)
    assert abs(shared.losses[STEPS.index("battery-cable")].left_wh / found - 1.0) > 5e-4


def test_light_thrown_back_by_walls_on_either_side_mirrors_the_sun() -> None:
    """Wall and sun on the left give the one panel what wall and sun on the right give the other."""
    found = []
    for across, azimuth_deg in ((-1.5, 60.0), (3.5, 300.0)):
        ends_m = {"from_x_m": -200, "to_x_m": 200, "from_y_m": across, "to_y_m": across}
        found.append(_thrown_back(_an_hour(730.0, 700.0, 100.0), azimuth_deg, **ends_m))
    assert found[0] == pytest.approx(found[1][::-1], rel=1e-9)
    assert found[0][0] > 1.3 * found[0][1]


def test_a_wall_before_the_vehicle_throws_back_the_sun_behind_it() -> None:
    """The vehicle looks north: a sun in the south shines upon the wall, one in the north not."""
    ends_m = {"from_x_m": -1, "to_x_m": -1, "from_y_m": -200, "to_y_m": 200}
    hour = _an_hour(730.0, 700.0, 100.0)
    south, north = (_thrown_back(hour, azimuth_deg, **ends_m)[0] for azimuth_deg in (180.0, 0.0))
    assert south > 2.0 * north > 0.0


@pytest.mark.parametrize("years", [0.0, 0.1, 1.0, 25.0])
def test_age_takes_its_share_year_by_year(years: float) -> None:
    settled = settle(asked(age_years=years, yearly_loss_fraction=0.01))
    assert settled.aged == pytest.approx(0.99**years)
