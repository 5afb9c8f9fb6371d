"""Each contradiction of a study at its own place, and either side of each limit."""

from typing import Any

import msgspec
import pytest
from harvest_builders import array, heading, panel, placed, study

from sunhitch.types.harvest import (
    MOST_STEPS,
    Awning,
    BatteryUse,
    Box,
    ClearSkyWeather,
    HarvestAlternative,
    HarvestRequest,
    HorizonPoint,
    HourlyWeather,
    Load,
    LoadEfficiency,
    NeighbourVehicle,
    ParkedHeading,
    Parking,
    Pole,
    Soiling,
    TrackerModel,
    TreeCrown,
    Wall,
    WeatherSeries,
)
from sunhitch.types.panel import CellModel, PanelType
from sunhitch.types.system import PanelMountingHeat
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.harvest.validate import validate

SKY = ClearSkyWeather(first_day="2027-06-21", days=1, utc_offset_h=1.0)
HOURS: dict[str, Any] = {
    "start": "2027-06-21T00:00:00+01:00",
    "ghi_w_m2": [0.0] * 24,
    "air_c": [15.0] * 24,
}
MODEL = CellModel(
    photocurrent_a=6.4,
    saturation_current_a=2e-9,
    ideality_factor=1.1,
    series_resistance_ohm=0.004,
    shunt_resistance_ohm=12.0,
    breakdown_voltage_v=-15.0,
    breakdown_factor=0.0,
    breakdown_exponent=3.5,
)


def pointers(request: HarvestRequest) -> set[str]:
    try:
        validate(request)
    except ContradictionError as refused:
        return {fault.pointer for fault in refused.faults}
    return set()


def asked(**changes: Any) -> HarvestRequest:
    return study(**{"weather": SKY, **changes})


def compared(**changes: Any) -> HarvestRequest:
    return asked(compare=[HarvestAlternative(name="other", **changes)])


ALTERNATIVES: dict[str, Any] = {
    "panel_types": [PanelType(name="sheet", panel=panel("full-cell-2-diodes"))],
    "placements": placed((0.5, 0.2), (0.5, 1.2)),
    "arrays": [array([["p0", "p1"]])],
    "construction": "diode-every-2-cells",
    "parking": heading(77.0),
    "mounting_heat": PanelMountingHeat(back="bonded"),
    "battery": msgspec.structs.replace(study().battery, capacity_ah=20.0),
    "battery_use": BatteryUse(start_state_fraction=0.4),
}


@pytest.mark.parametrize("field", ALTERNATIVES)
def test_any_one_change_makes_an_alternative(field: str) -> None:
    assert pointers(compared(**{field: ALTERNATIVES[field]})) == set()


def test_an_alternative_changes_something_that_counts() -> None:
    assert pointers(compared(other_price=3.0, other_mass_kg=1.0)) == {"/compare/0"}


def test_panels_of_an_alternative_are_those_that_are_wired() -> None:
    three = placed((1.0, 0.2), (1.0, 1.2), (3.0, 0.2))
    assert pointers(compared(placements=three)) == set(), "one more lies there for nothing"
    assert pointers(compared(placements=three[:1])) == {"/compare/0/arrays"}
    assert pointers(compared(placements=three[:1], arrays=[array([["p0"]])])) == set()
    wrong = pointers(compared(placements=three[:1], arrays=[array([["p0", "p1"]])]))
    assert wrong == {"/compare/0/arrays/0/wiring/strings/0/1"}
    film = [PanelType(name="film", panel=panel())]
    assert pointers(compared(panel_types=film)) == {"/compare/0/panel_types"}


def test_whatever_is_wrong_with_an_alternative_is_told_where_something_was_sent() -> None:
    """Each pointer leads to a place in the request, its last step perhaps to what is missing."""
    twice = placed((1.0, 0.2), (1.0, 1.2))
    twice[1] = msgspec.structs.replace(twice[1], name="p0")
    film = [PanelType(name="film", panel=panel())]
    for of_base in ({}, {"placements": twice}):
        for of_other in (
            {"panel_types": film},
            {"panel_types": film * 2, "arrays": [array([["p0", "p9"]])]},
            {"placements": twice},
            {"placements": twice[:1], "panel_types": film},
            {"parking": Parking()},
        ):
            others = [HarvestAlternative(name="other", **of_other)]
            request = asked(compare=others, **of_base)
            told = pointers(request)
            assert told
            for pointer in told:
                within: Any = msgspec.to_builtins(request)
                for step in pointer.split("/")[1:-1]:
                    within = within[int(step)] if isinstance(within, list) else within[step]


def test_cell_models_hold_for_one_construction() -> None:
    modelled = [PanelType(name="sheet", panel=panel("full-cell-2-diodes", MODEL))]
    others = [HarvestAlternative(name="other", construction="full-cell-3-diodes")]
    assert pointers(asked(panel_types=modelled, compare=others)) == {"/compare/0/construction"}
    heat = [HarvestAlternative(name="heat", mounting_heat=PanelMountingHeat(back="bonded"))]
    assert pointers(asked(panel_types=modelled, compare=heat)) == set()
    plain = [msgspec.structs.replace(others[0], panel_types=asked().panel_types)]
    assert pointers(asked(panel_types=modelled, compare=plain)) == set()


def test_names_are_unique() -> None:
    wall = Wall(name="w", from_x_m=0.0, from_y_m=9.0, to_x_m=9.0, to_y_m=9.0, top_height_m=3.0)
    lamp = Load(name="lamp", power_w=1.0)
    other = HarvestAlternative(name="other", parking=heading(9.0))
    twice = asked(
        shade=[wall, wall],
        loads=[lamp, lamp],
        compare=[other, other],
        panel_types=asked().panel_types * 2,
        arrays=[array([["p0"]]), array([["p1"]])],
    )
    assert pointers(twice) == {
        "/shade/1/name",
        "/loads/1/name",
        "/compare/1/name",
        "/panel_types/1/name",
        "/arrays/1/controller/name",
    }
    alone = asked(arrays=[array([["p0"]]), array([["p0"], ["p1"]], name="second")])
    assert pointers(alone) == {"/arrays/1/wiring/strings/0/0"}


@pytest.mark.parametrize(
    ("parking", "wrong"),
    [
        (Parking(), {"/parking/headings"}),
        (Parking(spread=4), set()),
        (heading(10.0), set()),
        (Parking(spread=4, headings=[ParkedHeading(heading_deg=1.0)]), {"/parking/headings"}),
        (
            Parking(headings=[ParkedHeading(heading_deg=d) for d in (0.0, 90.0, 360.0)]),
            {"/parking/headings/2/heading_deg"},
        ),
    ],
)
def test_a_vehicle_stands_by_headings_or_evenly_all_round(
    parking: Parking, wrong: set[str]
) -> None:
    assert pointers(asked(parking=parking)) == wrong
    assert pointers(compared(parking=parking)) == {f"/compare/0{each}" for each in wrong}


def test_directions_of_the_landscape_are_unique_around() -> None:
    points = [HorizonPoint(azimuth_deg=a, elevation_deg=5.0) for a in (0.0, 90.0, 360.0)]
    assert pointers(asked(horizon=points)) == {"/horizon/2/azimuth_deg"}


LEVEL: dict[str, Any] = {"x_m": 0.0, "y_m": 9.0}


@pytest.mark.parametrize("top", [2.0, 2.1])
def test_things_end_above_where_they_begin(top: float) -> None:
    ends = {"base_height_m": 2.0, "top_height_m": top}
    line = {"from_x_m": 0.0, "from_y_m": 9.0, "to_x_m": 9.0, "to_y_m": 9.0}
    things = [
        Box(name="b", length_m=1.0, width_m=1.0, **LEVEL, **ends),
        Wall(name="w", **line, **ends),
        Pole(name="p", diameter_m=0.1, **LEVEL, **ends),
        TreeCrown(
            name="t",
            crown_diameter_m=3.0,
            crown_base_height_m=2.0,
            crown_top_height_m=top,
            **LEVEL,
        ),
    ]
    wrong = {f"/shade/{k}/top_height_m" for k in range(3)} | {"/shade/3/crown_top_height_m"}
    assert pointers(asked(shade=things)) == (wrong if top == 2.0 else set())


def test_things_that_let_light_through_are_limited_and_others_not() -> None:
    from sunhitch_service.engine.shadow.pieces import MOST_VEILS

    box: dict[str, Any] = {"length_m": 1.0, "width_m": 1.0, "top_height_m": 1.0, **LEVEL}
    trees = [
        TreeCrown(
            name=f"t{k}",
            crown_diameter_m=3.0,
            crown_base_height_m=2.0,
            crown_top_height_m=4.0,
            **LEVEL,
        )
        for k in range(MOST_VEILS - 1)
    ]
    veil = Box(name="veil", transmittance_fraction=0.01, **box)
    awning = Awning(
        name="a",
        side="left",
        from_x_m=0.0,
        to_x_m=1.0,
        depth_m=1.0,
        inner_height_m=3.0,
        outer_height_m=3.0,
    )
    solid = [
        awning,
        Box(name="solid", **box),
        NeighbourVehicle(name="n", side="left", gap_m=1.0, height_m=2.0),
    ]
    assert pointers(asked(shade=[*trees, veil, *solid])) == set()
    more = msgspec.structs.replace(veil, name="more")
    assert pointers(asked(shade=[*trees, veil, more, *solid])) == {"/shade"}


@pytest.mark.parametrize(
    ("loads", "wrong"), [((0.2, 0.5, 0.9), False), ((0.2, 0.2), True), ((0.5, 0.2), True)]
)
def test_loads_of_an_efficiency_rise(loads: tuple[float, ...], wrong: bool) -> None:
    curve = [LoadEfficiency(load_fraction=x, efficiency_fraction=0.9) for x in loads]
    own = msgspec.structs.replace(
        array([["p0"], ["p1"]]), tracker=TrackerModel(efficiency_by_load=curve)
    )
    due = {"/arrays/0/tracker/efficiency_by_load"} if wrong else set()
    assert pointers(asked(arrays=[own])) == due


def test_panels_of_types_and_bodies_are_judged_where_they_are_given() -> None:
    bare = [PanelType(name="sheet", panel=msgspec.structs.replace(panel(), body=None))]
    assert pointers(asked(panel_types=bare)) == {"/panel_types/0/panel/body"}
    assert pointers(compared(panel_types=bare)) == {"/compare/0/panel_types/0/panel/body"}


def test_a_wiring_of_panels_that_are_not_there_is_told_once_for_each() -> None:
    strings = [f"/arrays/0/wiring/strings/{n}/0" for n in (0, 1)]
    assert pointers(asked(arrays=[array([["ghost"], ["shade"]])])) >= set(strings)


@pytest.mark.parametrize("count", [0, 12, 1, 11, 13])
def test_months_have_twelve_values_or_none(count: int) -> None:
    weather = msgspec.structs.replace(
        SKY, monthly_clearness_fraction=[0.5] * count, monthly_air_c=[9.0] * count
    )
    fields = ("monthly_clearness_fraction", "monthly_air_c")
    wrong = {f"/weather/{field}" for field in fields if count not in (0, 12)}
    assert pointers(asked(weather=weather)) == wrong


SERIES = ("wind_m_s", "dni_w_m2", "dhi_w_m2", "rain_mm")


@pytest.mark.parametrize("count", [0, 1, 23, 24, 25])
def test_series_are_as_long_as_the_light_where_they_are_needed_or_given(count: int) -> None:
    for field in (*SERIES, "air_c"):
        together = ("dni_w_m2", "dhi_w_m2") if field in ("dni_w_m2", "dhi_w_m2") else (field,)
        weather = HourlyWeather(**{**HOURS, **dict.fromkeys(together, [1.0] * count)})
        fits = count == 24 or (count == 0 and field != "air_c")
        wrong = set() if fits else {f"/weather/{each}" for each in together}
        assert pointers(asked(weather=weather)) == wrong, (field, count)


def test_dirt_by_rain_needs_rain_in_every_year() -> None:
    dry = HourlyWeather(**HOURS)
    wet = HourlyWeather(**HOURS, rain_mm=[0.0] * 24)
    years = [
        WeatherSeries(name="dry", **HOURS),
        WeatherSeries(name="wet", rain_mm=[0.0] * 24, **HOURS),
    ]
    soiling = Soiling()
    assert pointers(asked(weather=dry, soiling=soiling)) == {"/weather/rain_mm"}
    assert pointers(asked(weather=dry, other_years=years)) == set()
    own = asked(weather=wet, other_years=years, soiling=soiling)
    assert pointers(own) == {"/other_years/0/rain_mm"}
    assert pointers(asked(soiling=soiling)) == {"/soiling"}


@pytest.mark.parametrize("given", ["dni_w_m2", "dhi_w_m2"])
def test_beam_and_diffuse_come_together(given: str) -> None:
    weather = HourlyWeather(**HOURS, **{given: [0.0] * 24})
    assert pointers(asked(weather=weather)) == {"/weather/dhi_w_m2"}


@pytest.mark.parametrize(
    ("weather", "pointer"),
    [
        (msgspec.structs.replace(SKY, first_day="2027-02-29"), "/weather/first_day"),
        (HourlyWeather(**{**HOURS, "start": "2027-02-29T00:00:00+01:00"}), "/weather/start"),
    ],
)
def test_days_that_do_not_exist_are_told(weather: Any, pointer: str) -> None:
    assert pointers(asked(weather=weather)) == {pointer}
    year = WeatherSeries(name="y", **{**HOURS, "start": "2027-02-29T00:00:00+01:00"})
    assert pointers(asked(other_years=[year])) == {"/other_years/0/start"}


def test_a_study_has_so_many_steps_and_no_more() -> None:
    """8928 are the hours of 372 days: as many at a quarter of an hour are 93 days."""
    quarter = msgspec.structs.replace(SKY, step_s=900, days=93)
    assert MOST_STEPS == 93 * 96
    assert pointers(asked(weather=quarter)) == set()
    assert pointers(asked(weather=msgspec.structs.replace(quarter, days=94))) == {"/weather"}


def test_work_is_steps_times_headings_of_all_variants_and_years() -> None:
    """600,000: 8,000 steps, 25 headings and twice as many more; a year of 24 h 25 times."""
    weather = HourlyWeather(**{**HOURS, "ghi_w_m2": [0.0] * 8000, "air_c": [1.0] * 8000})

    def work(own: int, others: list[Parking | None], hours: int) -> set[str]:
        compare = [
            HarvestAlternative(
                name=f"{k}", parking=parking, mounting_heat=PanelMountingHeat(back="bonded")
            )
            for k, parking in enumerate(others)
        ]
        years = [
            WeatherSeries(name="y", **{**HOURS, "ghi_w_m2": [0.0] * hours, "air_c": [1.0] * hours})
        ]
        parking = Parking(headings=[ParkedHeading(heading_deg=float(k)) for k in range(own)])
        return pointers(asked(weather=weather, parking=parking, compare=compare, other_years=years))

    eight = Parking(spread=8)
    assert work(10, [None] * 6, 0) == set(), "560,000"
    assert work(10, [*[None] * 6, eight], 0) == {""}, "624,000"
    assert work(10, [*[None] * 5, eight], 0) == set(), "544,000"
    assert work(10, [None] * 6, 4000) == set(), "600,000"
    assert work(10, [None] * 6, 4001) == {""}, "600,010"
