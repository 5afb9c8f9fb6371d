"""Whole studies: energy adds up, alternatives are told apart, and nonsense is refused."""

from pathlib import Path

import msgspec
import numpy as np
import pytest
from harvest_builders import ROOF, array, heading, panel, placed, study
from plausible import light_example

from sunhitch.operations import HARVEST
from sunhitch.texts import Text
from sunhitch.types.harvest import (
    Awning,
    BatteryUse,
    Box,
    ClearSkyWeather,
    Driving,
    HarvestAlternative,
    HarvestAnswer,
    HarvestRequest,
    HourlyWeather,
    Load,
    NeighbourVehicle,
    ParkedHeading,
    Parking,
    Pole,
    TreeCrown,
    Wall,
    WeatherSeries,
)
from sunhitch.types.panel import BypassGroup, CellLayout, DiodeModel, PanelType
from sunhitch.types.roof import RectangularObstacle, Roof
from sunhitch.types.system import Battery, PanelMountingHeat
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.harvest.calculation import harvest
from sunhitch_service.engine.pv.temperature import cell_c

EXAMPLE = Path(__file__).parents[2] / "client/sunhitch/examples/harvest.json"
WALL = Wall(name="wall", from_x_m=-3.0, from_y_m=4.0, to_x_m=9.0, to_y_m=4.0, top_height_m=6.0)
LAMP = Load(name="lamp", power_w=60.0)


def week(**changes: object) -> ClearSkyWeather:
    given = study().weather
    return msgspec.structs.replace(given, days=7, **changes)


def thinned_example() -> HarvestRequest:
    """The shipped example over a fortnight that spans two months."""
    request = msgspec.json.decode(EXAMPLE.read_bytes(), type=HarvestRequest)
    weather = msgspec.structs.replace(request.weather, first_day="2027-02-22", days=14)
    headings = [
        ParkedHeading(heading_deg=90.0, weight_fraction=0.7),
        ParkedHeading(heading_deg=180.0, weight_fraction=0.3),
    ]
    denser = HarvestAlternative(name="many diodes", construction="diode-every-2-cells")
    return msgspec.structs.replace(
        request,
        weather=weather,
        parking=Parking(headings=headings, pitch_deg=1.0),
        compare=[*request.compare, denser],
        detail="steps",
    )


def test_every_loss_step_closes_to_a_billionth() -> None:
    """Light less all losses is what the battery took; months and steps say the same."""
    answer = harvest(thinned_example())
    lost = sum(step.lost_wh for step in answer.losses)
    scale = answer.light_wh
    assert answer.light_wh - lost == pytest.approx(answer.charged_wh, abs=1e-9 * scale)
    left = answer.light_wh
    for step in answer.losses:
        left -= step.lost_wh
        assert step.left_wh == pytest.approx(left, abs=1e-9 * scale), step.code
    months = answer.months
    assert sum(m.charged_wh for m in months) == pytest.approx(answer.charged_wh, rel=1e-9)
    assert sum(answer.steps.charging_w) == pytest.approx(answer.charged_wh, rel=1e-9)
    before_mismatch = next(s for s in answer.losses if s.code == "mismatch")
    assert sum(m.array_wh for m in months) == pytest.approx(before_mismatch.left_wh, rel=1e-9)
    own = answer.battery
    assert own.start_wh + own.charged_wh == pytest.approx(
        own.served_wh + own.storage_lost_wh + own.end_wh, rel=1e-9
    )
    assert sum(m.load_wh for m in months) == pytest.approx(own.served_wh + own.unserved_wh)
    daily = sum(m.days * sum(m.typical_day_w) for m in months)
    assert daily == pytest.approx(answer.charged_wh, rel=1e-9)


def test_the_example_compares_headings_wirings_and_constructions() -> None:
    answer = harvest(thinned_example())
    names = {line.name for line in answer.comparison}
    assert names == {
        "as given",
        "heading 90°",
        "heading 180°",
        "all in parallel",
        "nose to the south",
        "a larger battery",
        "many diodes",
    }
    ordered = [line.available_wh for line in answer.comparison]
    assert ordered == sorted(ordered, reverse=True)
    assert [line.rank for line in answer.comparison] == [1, 2, 3, 4, 5, 6, 7]
    given = next(line for line in answer.comparison if line.name == "as given")
    alone = [line.available_wh for line in answer.comparison if line.name.startswith("heading")]
    assert min(alone) < given.available_wh < max(alone)
    weighed = 0.7 * by_name(answer, "heading 90°") + 0.3 * by_name(answer, "heading 180°")
    assert given.available_wh == pytest.approx(weighed, rel=0.002)
    assert all(line.reason for line in answer.comparison)


def by_name(answer: object, name: str) -> float:
    return next(line.available_wh for line in answer.comparison if line.name == name)


def test_a_level_roof_in_the_open_has_no_favourite_heading() -> None:
    found = [harvest(study(parking=heading(d))).charged_wh for d in (0.0, 77.0, 180.0)]
    assert found == pytest.approx([found[0]] * 3, rel=1e-9)


def test_tilt_towards_the_sun_pays_and_away_costs() -> None:
    """On the northern half a roof that looks south gets more in winter."""
    weather = week(first_day="2027-12-10")
    base = study(weather=weather)
    towards, level, away = (
        harvest(msgspec.structs.replace(base, parking=heading(0.0, pitch_deg=pitch))).charged_wh
        for pitch in (10.0, 0.0, -10.0)
    )
    assert towards > 1.2 * level > 1.2 * away


def test_parallel_beats_series_when_one_panel_is_in_shade() -> None:
    """A neighbour at the right keeps the morning sun off one of two panels."""
    block = Box(name="block", x_m=0.0, y_m=2.2, length_m=5.0, width_m=2.0, top_height_m=4.5)
    full = panel("full-cell-no-diode")
    kind = msgspec.structs.replace(study().panel_types[0], panel=full)
    answer = harvest(
        study(
            shade=[block],
            panel_types=[kind],
            arrays=[array([["p0", "p1"]])],
            compare=[HarvestAlternative(name="parallel", arrays=[array([["p0"], ["p1"]])])],
        )
    )
    assert answer.comparison[0].name == "parallel"
    assert answer.comparison[0].against_given_fraction > 0.02
    assert "share current" in answer.comparison[0].reason


@pytest.mark.parametrize(
    "thing",
    [
        WALL,
        Box(name="b", x_m=0.0, y_m=3.0, length_m=4.0, width_m=3.0, top_height_m=5.0),
        Pole(name="p", x_m=1.5, y_m=2.1, diameter_m=0.3, top_height_m=8.0),
        TreeCrown(
            name="t",
            x_m=1.5,
            y_m=3.5,
            crown_diameter_m=5.0,
            crown_base_height_m=2.0,
            crown_top_height_m=8.0,
            trunk_diameter_m=0.4,
        ),
        Awning(
            name="a",
            side="right",
            from_x_m=0.0,
            to_x_m=3.0,
            depth_m=2.0,
            inner_height_m=3.2,
            outer_height_m=3.6,
        ),
        NeighbourVehicle(name="n", side="right", gap_m=0.8, height_m=4.0),
    ],
    ids=lambda thing: type(thing).__name__,
)
def test_everything_that_stands_around_costs_light(thing: object) -> None:
    open_field, shaded = harvest(study()), harvest(study(shade=[thing]))
    left, right = shaded.panels
    assert right.beam_fraction < 1.0
    assert right.visible_sky_fraction < 1.0
    assert right.visible_sky_fraction <= left.visible_sky_fraction
    assert shaded.charged_wh < open_field.charged_wh


def test_a_roof_box_shades_its_neighbours_only_by_its_height() -> None:
    hatch = RectangularObstacle(name="hatch", x_m=2.3, y_m=0.2, length_m=0.5, width_m=0.6)
    flat = Roof(outline=ROOF.outline, obstacles=[hatch])
    high = Roof(outline=ROOF.outline, obstacles=[msgspec.structs.replace(hatch, height_m=0.4)])
    assert harvest(study(roof=flat)).panels[0].beam_fraction == 1.0
    first, second = harvest(study(roof=high)).panels
    assert first.beam_fraction < 0.999
    assert second.beam_fraction > first.beam_fraction


def test_a_bare_tree_lets_more_through_than_one_in_leaf() -> None:
    tree = TreeCrown(
        name="t",
        x_m=1.5,
        y_m=3.0,
        crown_diameter_m=6.0,
        crown_base_height_m=2.0,
        crown_top_height_m=9.0,
        leaf_months=[6],
    )
    bare = msgspec.structs.replace(tree, leaf_months=[1])
    evergreen = msgspec.structs.replace(tree, evergreen=True)
    leafy, thin, green = (
        harvest(study(shade=[t])).panels[1].beam_fraction for t in (tree, bare, evergreen)
    )
    assert leafy < thin
    assert green == pytest.approx(leafy)


def test_nothing_on_the_ground_shades_a_moving_vehicle() -> None:
    always = [Driving(from_hour=0.0, to_hour=24.0, air_speed_m_s=20.0)]
    moving = harvest(study(shade=[WALL], driving=always))
    assert all(p.beam_fraction == 1.0 and p.visible_sky_fraction == 1.0 for p in moving.panels)
    parked = harvest(study(shade=[WALL]))
    assert parked.panels[1].beam_fraction < 1.0
    roof_box = msgspec.structs.replace(WALL, turns_with_vehicle=True)
    assert harvest(study(shade=[roof_box], driving=always)).panels[1].beam_fraction < 1.0


def test_wind_of_the_road_cools_the_cells() -> None:
    always = [Driving(from_hour=0.0, to_hour=24.0, air_speed_m_s=20.0)]
    assert heat_loss(study(driving=always)) < 0.6 * heat_loss(study())


def test_a_bonded_sheet_runs_hotter_than_one_on_a_spacer_and_in_the_open() -> None:
    losses = [
        heat_loss(study(mounting_heat=PanelMountingHeat(back=back)))
        for back in ("bonded", "spacer-sheet", "open-gap", "open-rack")
    ]
    assert losses == sorted(losses, reverse=True)
    assert losses[0] > 1.3 * losses[3]


def heat_loss(request: HarvestRequest) -> float:
    answer = harvest(request)
    return next(s.lost_fraction for s in answer.losses if s.code == "heat-and-weak-light")


def test_light_of_a_month_is_that_before_anything_stands_in_its_way() -> None:
    def light(*shade: Wall) -> float:
        return sum(month.light_wh_m2 for month in harvest(study(shade=[*shade])).months)

    assert light(WALL) == pytest.approx(light(), rel=1e-12)


def test_air_of_the_months_is_assumed_only_where_none_is_given() -> None:
    for means, told in (([], True), ([5.0] * 12, False)):
        answer = harvest(study(weather=week(monthly_air_c=means)))
        noted = [one.field for one in answer.assumptions if "monthly_air_c" in one.field]
        assert bool(noted) is told


def test_frost_keeps_lithium_from_charging_and_is_named() -> None:
    cold = week(first_day="2027-01-10", monthly_air_c=[-12.0] * 12)
    answer = harvest(study(weather=cold))
    assert answer.battery.frost_hours == 24.0 * 7
    frost = next(s for s in answer.losses if s.code == "battery-frost")
    assert frost.lost_wh > 0.0
    assert next(c for c in answer.checks if c.code == "battery-frost").verdict == "review"


def test_loads_beyond_the_discharge_limit_are_named_and_partly_cut() -> None:
    """Two loads of 60 W that may be on at once, each half the time; 12 V · 6 A = 72 W."""
    loads = [msgspec.structs.replace(LAMP, name=n, duty_fraction=0.5) for n in ("lamp", "pump")]
    use = BatteryUse(max_discharge_current_a=6.0)
    free = harvest(study(loads=loads))
    tight = harvest(study(loads=loads, battery_use=use))
    assert "battery-discharge" not in [c.code for c in free.checks]
    (found,) = [c for c in tight.checks if c.code == "battery-discharge"]
    assert (found.verdict, found.demand, found.capacity) == ("fail", 120.0, 72.0)
    assert tight.battery.peak_load_w == 120.0
    lower = msgspec.structs.replace(use, max_discharge_current_a=4.0)
    cut = harvest(study(loads=loads, battery_use=lower)).battery
    assert cut.unserved_wh > free.battery.unserved_wh == 0.0
    assert cut.served_wh + cut.unserved_wh == pytest.approx(24 * 60.0)


def test_gap_and_wind_both_count_where_a_noct_is_given() -> None:
    """As `pvlib.temperature.noct_sam`: hotter over a narrow gap, cooler in wind."""
    sun, air = np.array([800.0]), np.array([20.0])
    efficiency = 0.9 * 0.2
    at_noct = PanelMountingHeat(back="open-rack", noct_c=46.0)
    calm, windy = np.array([1.0]), np.array([8.0])
    still = cell_c(at_noct, efficiency, sun, air, calm)
    assert still[0] == pytest.approx(20.0 + (46.0 - 20.0) * (1.0 - 0.2))
    blown = cell_c(at_noct, efficiency, sun, air, windy)
    assert (blown[0] - 20.0) / (still[0] - 20.0) == pytest.approx(9.5 / (5.7 + 3.8 * 8.0))
    narrow = PanelMountingHeat(back="open-gap", gap_m=0.01, noct_c=46.0)
    wide = PanelMountingHeat(back="open-gap", gap_m=0.1, noct_c=46.0)
    assert cell_c(narrow, efficiency, sun, air, calm)[0] == pytest.approx(
        20.0 + (46.0 + 18.0 - 20.0) * 0.8
    )
    assert cell_c(wide, efficiency, sun, air, calm)[0] == pytest.approx(
        20.0 + (46.0 + 2.0 - 20.0) * 0.8
    )


def test_a_gap_counts_without_a_noct_and_says_so() -> None:
    narrow = PanelMountingHeat(back="open-gap", gap_m=0.01)
    wide = PanelMountingHeat(back="open-gap", gap_m=0.1)
    low, high = harvest(study(mounting_heat=narrow)), harvest(study(mounting_heat=wide))
    assert low.charged_wh < high.charged_wh
    assert "/mounting_heat/noct_c" in [a.field for a in low.assumptions]


def test_hours_without_power_and_days_of_autonomy() -> None:
    """A full 12 V 100 Ah bank, all usable to 10 %, carries 60 W for 18 h: 0.75 days."""
    dark = HourlyWeather(start="2027-01-01T00:00:00+01:00", ghi_w_m2=[0.0] * 48, air_c=[10.0] * 48)
    request = study(
        weather=dark,
        loads=[LAMP],
        battery=Battery(
            chemistry="lithium-iron-phosphate", nominal_voltage_v=12, capacity_ah=100.0
        ),
        battery_use={"start_state_fraction": 1.0, "usable_capacity_fraction": 1.0},
    )
    request = msgspec.convert(msgspec.to_builtins(request), HarvestRequest)
    answer = harvest(request)
    assert answer.battery.autonomy_days == pytest.approx(0.75)
    assert answer.battery.hours_without_power == pytest.approx(48.0 - 18.0)
    assert answer.battery.days_without_power == 2
    assert answer.autonomy.middle_lowest_state_fraction == pytest.approx(0.1)
    assert answer.charged_wh == 0.0
    assert next(c for c in answer.checks if c.code == "loads-served").verdict == "fail"


def test_other_years_give_the_range() -> None:
    def year(name: str, light: float, kind: type[WeatherSeries]) -> WeatherSeries:
        day = [light * max(0.0, np.sin((h - 5) * np.pi / 14)) for h in range(24)]
        return kind(name=name, start="2027-06-01T00:00:00+01:00", ghi_w_m2=day, air_c=[15.0] * 24)

    answer = harvest(
        study(
            weather=year("a", 700.0, HourlyWeather), other_years=[year("b", 500.0, WeatherSeries)]
        )
    )
    assert answer.range.basis == "weather-years"
    assert [y.name for y in answer.years] == ["a", "b"]
    assert answer.range.low_wh == pytest.approx(answer.years[1].charged_wh)
    assert answer.range.high_wh == pytest.approx(answer.charged_wh)
    assert answer.years[1].charged_wh < 0.8 * answer.charged_wh


def test_the_stated_range_is_the_root_of_squares() -> None:
    """No shade: light 3 %, model 4 %, together 5 %; 5 to 95 % is 1.645 times that."""
    given = {"light_fraction": 0.03, "model_fraction": 0.04}
    request = msgspec.to_builtins(study())
    request["uncertainty"] = {**given, "shade_fraction": 0.0}
    answer = harvest(msgspec.convert(request, HarvestRequest))
    assert answer.range.high_wh / answer.range.middle_wh - 1.0 == pytest.approx(1.645 * 0.05)


def test_a_controller_too_small_and_one_of_the_wrong_voltage_are_named() -> None:
    small = harvest(study(arrays=[array([["p0"], ["p1"]], max_output_current_a=5.0)]))
    assert max(m for month in small.months for m in month.typical_day_w) <= 5.0 * 13.3 + 1e-9
    assert next(c for c in small.checks if c.code == "controller-rating").verdict == "review"
    wrong = Battery(chemistry="lithium-iron-phosphate", nominal_voltage_v=24, capacity_ah=100.0)
    answer = harvest(study(battery=wrong))
    assert answer.charged_wh == 0.0
    assert next(c for c in answer.checks if c.code == "controller-window").verdict == "fail"


def test_finer_steps_change_a_day_s_energy_little() -> None:
    hourly = harvest(study())
    fine = harvest(study(weather=msgspec.structs.replace(study().weather, step_s=300)))
    assert fine.charged_wh == pytest.approx(hourly.charged_wh, rel=0.02)


def test_days_of_polar_night_give_nothing_and_no_error() -> None:
    place = msgspec.structs.replace(study().place, latitude_deg=78.0)
    answer = harvest(study(place=place, weather=week(first_day="2027-12-20"), shade=[WALL]))
    assert answer.charged_wh == 0.0
    assert answer.light_wh == 0.0


def test_every_contradiction_is_named() -> None:
    with pytest.raises(ContradictionError) as caught:
        harvest(
            study(
                parking=Parking(spread=4, headings=[ParkedHeading(heading_deg=1.0)]),
                placements=[*placed((1.0, 0.2)), *placed((2.0, 0.2))],
                arrays=[array([["p0"], ["p9"]])],
                shade=[msgspec.structs.replace(WALL, base_height_m=7.0)],
                weather=msgspec.structs.replace(
                    study().weather, first_day="2027-02-30", monthly_air_c=[1.0]
                ),
                compare=[HarvestAlternative(name="same")],
            )
        )
    pointers = {fault.pointer for fault in caught.value.faults}
    assert pointers == {
        "/parking/headings",
        "/placements/1/name",
        "/arrays/0/wiring/strings/1/0",
        "/shade/0/top_height_m",
        "/weather/first_day",
        "/compare/0",
    }


def test_a_diode_that_blocks_its_own_string_is_refused() -> None:
    own = array([["p0"], ["p1"]])
    stiff = DiodeModel(saturation_current_a=1e-6, ideality_factor=1.1, series_resistance_ohm=9.0)
    wiring = msgspec.structs.replace(own.wiring, blocking_diode=stiff)
    with pytest.raises(ContradictionError) as caught:
        harvest(study(arrays=[msgspec.structs.replace(own, wiring=wiring)]))
    assert [f.pointer for f in caught.value.faults] == ["/arrays/0/wiring/blocking_diode"]


def test_a_raster_that_does_not_hold_the_cells_is_refused() -> None:
    groups = [BypassGroup(first=0, last=35, has_diode=True)]
    cells = CellLayout(
        paths_in_parallel=1, positions_in_series=36, bypass=groups, rows=9, columns=5
    )
    kind = study().panel_types[0]
    plain = msgspec.structs.replace(kind.panel, construction=None, cells=cells)
    with pytest.raises(ContradictionError) as caught:
        harvest(study(panel_types=[msgspec.structs.replace(kind, panel=plain)]))
    assert [f.pointer for f in caught.value.faults] == ["/panel_types/0/panel/cells/rows"]


def test_series_of_unequal_length_and_too_much_work_are_refused() -> None:
    short = HourlyWeather(
        start="2027-01-01T00:00:00Z", ghi_w_m2=[1.0, 2.0], dni_w_m2=[1.0], air_c=[1.0]
    )
    with pytest.raises(ContradictionError) as caught:
        harvest(study(weather=short))
    assert {f.pointer for f in caught.value.faults} == {
        "/weather/air_c",
        "/weather/dni_w_m2",
        "/weather/dhi_w_m2",
    }
    year = msgspec.structs.replace(study().weather, days=365)
    five = [
        HarvestAlternative(name=f"{k}", mounting_heat=PanelMountingHeat(back="bonded"))
        for k in range(5)
    ]
    with pytest.raises(ContradictionError, match="steps of work"):
        harvest(study(weather=year, parking=Parking(spread=16), compare=five))


@pytest.mark.parametrize(("rotated", "side"), [(False, "left"), (True, "front")])
def test_leads_that_cannot_look_that_way_are_refused(rotated: bool, side: str) -> None:
    """As in a roof layout: an end of the panel lies across the roof where it is turned."""
    body = light_example(HARVEST)
    body["placements"][0] |= {"rotated": rotated, "plugs_towards": side}
    with pytest.raises(ContradictionError) as refused:
        harvest(msgspec.convert(body, HARVEST.request))
    assert [fault.pointer for fault in refused.value.faults] == ["/placements/0/plugs_towards"]


def told(answer: HarvestAnswer, code: str) -> dict[str, object]:
    """Figures of the line of the summary that has a code."""
    (line,) = [one for one in answer.summary if isinstance(one, Text) and one.code == code]
    return line.parameters


def test_the_summary_tells_energy_the_two_largest_losses_and_the_best() -> None:
    """Two days in half hours; a wiring, and the same panels with a price."""
    weather = msgspec.structs.replace(study().weather, days=2, step_s=1800, synthetic_years=0)
    dear = PanelType(name="sheet", panel=panel(), price=9.0)
    others = [
        HarvestAlternative(name="parallel", arrays=[array([["p0"], ["p1"]])]),
        HarvestAlternative(name="dear", panel_types=[dear]),
    ]
    series = [array([["p0", "p1"]])]
    answer = harvest(
        study(weather=weather, loads=[LAMP], compare=others, shade=[WALL], arrays=series)
    )
    energy = told(answer, "reach-battery-and-loads")
    assert energy["energy_kwh"] == pytest.approx(answer.charged_wh / 1000.0)
    assert (energy["days"], energy["daily_kwh"]) == pytest.approx((2.0, energy["energy_kwh"] / 2.0))
    lost = told(answer, "most-is-lost")["losses"]
    worst = sorted(answer.losses, key=lambda step: -step.lost_wh)
    assert [line.parameters["title"] for line in lost] == [step.title for step in worst[:2]]
    kwh = [line.parameters["lost_kwh"] for line in lost]
    assert kwh == pytest.approx([step.lost_wh / 1000.0 for step in worst[:2]])
    best = answer.comparison[0]
    line = told(answer, "best-of")
    assert (line["compared"], line["name"]) == (3, best.name)
    assert line["more_percent"] == pytest.approx(100.0 * best.against_given_fraction)
    assert line["more_percent"] > 0.1
    unbeaten = [one.name for one in answer.comparison if not one.beaten_by]
    codes = [one.code for one in answer.summary if isinstance(one, Text)]
    assert ("beaten-by-none" in codes) == (len(unbeaten) > 1)
    alone = harvest(study(weather=weather))
    assert [one.code for one in alone.summary if isinstance(one, Text)] == [
        "reach-battery-and-loads",
        "most-is-lost",
    ]


def test_steps_are_told_where_they_are_asked_for() -> None:
    answer = harvest(study(loads=[LAMP], detail="steps"))
    steps = answer.steps
    assert (len(steps.array_w), steps.step_s, steps.starts_at) == (
        24,
        3600,
        "2027-06-21T00:00:00+01:00",
    )
    assert steps.load_w == [60.0] * 24
    assert sum(steps.array_w) == pytest.approx(
        next(step.left_wh for step in answer.losses if step.code == "mismatch")
    )
    own = answer.battery
    share = own.lowest_state_fraction / min(steps.state_fraction)
    assert share == pytest.approx(1.0)
    none = harvest(study(loads=[LAMP])).steps
    assert (none.array_w, none.step_s) == ([], 0)
