"""Readings before and after they are judged: light, heat, bands, steps, trends, refusals."""

from itertools import product

import numpy as np
import pytest
from commissioning_builders import (
    FULL_SUN,
    I_MP,
    I_SC,
    KINDS,
    PANEL,
    V_MP,
    V_OC,
    about,
    array,
    asked,
    at_nameplate,
    reading,
    settled,
)
from msgspec import structs

from sunhitch.texts import Text
from sunhitch.types.commissioning import (
    CheckedArray,
    CheckedString,
    ClearSkySun,
    CommissioningCheckAnswer,
    CommissioningSite,
    InsulationReading,
    IrradianceReading,
    PolarityReading,
    Reading,
    ReferencePanelReading,
)
from sunhitch.types.panel import Panel, PanelElectrical, PanelType
from sunhitch.types.place import Place
from sunhitch_service.engine.commissioning.computing_time import expected_ms
from sunhitch_service.engine.commissioning.follow_up import robust_trend
from sunhitch_service.engine.commissioning.sound_array import (
    half_lit,
    power_band,
    shorted_band,
    sound_array,
    sound_readings,
)
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.sky import clear_sky, on_plane, sun_at, unix_seconds


@pytest.mark.parametrize(
    ("own_c", "array_c", "alpha", "light"),
    [
        (25.0, 60.0, None, 500.0),
        (45.0, 25.0, None, 500.0 / 1.01),
        (None, 45.0, None, 500.0 / 1.01),
        (None, None, None, 500.0),
        (45.0, 25.0, 0.001, 500.0 / 1.02),
        (5.0, 25.0, 0.001, 500.0 / 0.98),
    ],
)
def test_a_reference_panel_tells_the_light_by_its_own_heat(
    own_c: float | None, array_c: float | None, alpha: float | None, light: float
) -> None:
    """I ÷ Isc × 1000 ÷ (1 + α (T − 25)): half its Isc, 0.05 % a kelvin where nothing is given."""
    shown = ReferencePanelReading(
        current_a=3.2, i_sc_a=6.4, cell_temperature_c=own_c, alpha_sc_fraction_per_c=alpha
    )
    own = reading("i", "short-circuit", current_a=3.2, light=shown, cell_temperature_c=array_c)
    assert settled(array(1, 1), own).conditions[0].irradiance_w_m2 == pytest.approx(light)


@pytest.mark.parametrize(
    "light",
    [
        IrradianceReading(irradiance_w_m2=780.0, after_w_m2=820.0),
        IrradianceReading(irradiance_w_m2=820.0, after_w_m2=780.0),
        ReferencePanelReading(
            current_a=7.8, i_sc_a=10.0, cell_temperature_c=25.0, after_current_a=8.2
        ),
    ],
)
def test_light_that_was_read_twice_is_the_mean_and_changed_by_its_share(light: object) -> None:
    own = settled(array(1, 1), reading("i", "short-circuit", current_a=5.0, light=light))
    assert own.conditions[0].irradiance_w_m2 == pytest.approx(800.0)
    assert own.conditions[0].changed == pytest.approx(0.05)


@pytest.mark.parametrize("air", [None, 30.0])
def test_cells_are_as_hot_as_air_and_sun_make_them(air: float | None) -> None:
    """20 °C where no air was read; hotter by what the sun adds, in proportion to it."""
    heat = [
        settled(
            array(1, 1),
            reading(
                "i",
                "short-circuit",
                current_a=5.0,
                light=IrradianceReading(irradiance_w_m2=light),
                cell_temperature_c=None,
                air_c=air,
            ),
        )
        .conditions[0]
        .cell_c
        for light in (500.0, 1000.0)
    ]
    warmer = [each - (20.0 if air is None else air) for each in heat]
    assert 10.0 < warmer[0] < 40.0
    assert warmer[1] == pytest.approx(2.0 * warmer[0], rel=0.05)


@pytest.mark.parametrize(
    ("kind", "light", "weak"),
    [
        ("open-circuit", 49.9, True),
        ("open-circuit", 50.0, False),
        ("short-circuit", 199.9, True),
        ("short-circuit", 200.0, False),
        ("operating", 199.9, True),
    ],
)
def test_voltages_are_judged_in_less_light_than_currents(
    kind: str, light: float, weak: bool
) -> None:
    shown = {
        "voltage_v": None if kind == "short-circuit" else 20.0,
        "current_a": None if kind == "open-circuit" else 1.0,
    }
    own = reading("r", kind, light=IrradianceReading(irradiance_w_m2=light), **shown)
    assert settled(array(1, 1), own).conditions[0].is_weak == weak


def test_a_sound_panel_shows_its_nameplate_in_full_sun() -> None:
    found = sound_readings(sound_array(PANEL, 1000.0, (25.0, None)))
    expected = {name: band.expected for name, band in found.items()}
    assert expected == pytest.approx(
        {
            "open-circuit voltage": V_OC,
            "short-circuit current": I_SC,
            "operating voltage": V_MP,
            "operating current": I_MP,
            "operating power": V_MP * I_MP,
        },
        rel=5e-3,
    )


def test_strings_add_currents_panels_add_voltages_and_a_cable_takes_its_share() -> None:
    one = sound_readings(sound_array(PANEL, 900.0, (40.0, None)))
    many = sound_readings(sound_array(PANEL, 900.0, (40.0, None), (3, 2)))
    factors = {name: many[name].expected / band.expected for name, band in one.items()}
    assert list(factors.values()) == pytest.approx([2.0, 3.0, 2.0, 3.0, 6.0], rel=1e-3)
    long = sound_readings(sound_array(PANEL, 900.0, (40.0, None), (3, 2), 0.05))
    lost_w = many["operating power"].expected - long["operating power"].expected
    assert lost_w == pytest.approx(0.05 * many["operating current"].expected ** 2, rel=0.02)


def test_bands_reach_from_the_least_normal_to_the_most_by_the_same_uncertainty() -> None:
    """95 % of currents and powers are normal, 97 % of voltages; two standard deviations each."""
    inspection = sound_array(PANEL, 900.0, (None, 20.0))
    found = sound_readings(inspection)
    for name, band in found.items():
        normal = 0.97 if name.endswith("voltage") else 0.95
        assert band.high - band.expected == pytest.approx(normal * band.expected - band.low), name
    half = power_band(inspection, 50.0)
    whole = found["operating power"]
    for ours, theirs in ((half.low, whole.low), (half.high, whole.high)):
        assert ours / 50.0 == pytest.approx(theirs / whole.expected)
    shorted, bare = shorted_band(inspection, 5.0), found["short-circuit current"]
    for ours, theirs in ((shorted.low, bare.low), (shorted.high, bare.high)):
        assert ours / 5.0 == pytest.approx(theirs / bare.expected)


@pytest.mark.parametrize(
    ("construction", "left"),
    [("full-cell-2-diodes", 1 / 2), ("full-cell-3-diodes", 1 / 3), ("half-cell-3-diodes", 1 / 3)],
)
def test_a_cover_over_half_of_the_groups_rounded_up(construction: str, left: float) -> None:
    """The groups that are left keep their voltage, but for half a volt a diode; 0.97 of current."""
    inspection = sound_array(
        Panel(electrical=PANEL.electrical, construction=construction), 1000.0, (25.0, None)
    )
    bare, half = (half_lit(inspection, cover) for cover in ("none", "groups"))
    diodes = round((1.0 - left) * (3 if "3" in construction else 2))
    assert half.voltage == pytest.approx(left * bare.voltage - 0.5 * diodes, abs=0.5)
    assert half.current == pytest.approx(bare.current, rel=0.03)
    assert half.short_circuit_current == pytest.approx(bare.short_circuit_current, rel=0.01)
    assert bare.short_circuit_current == pytest.approx(PANEL.electrical.i_sc_a, rel=1e-3)
    cells = half_lit(inspection, "cells")
    shares = (1.0, 0.5) if construction.startswith("half") else (0.0, 0.0)
    assert cells.power == pytest.approx(shares[0] * shares[1] * bare.power, rel=0.06, abs=0.5)


def steps_of(answer: CommissioningCheckAnswer) -> dict[str, str]:
    assert [step.number for step in answer.checklist] == list(range(1, 8))
    return {step.title.split()[0]: step.state for step in answer.checklist}


def test_steps_are_done_by_the_tests_that_pass_and_open_without() -> None:
    """What is done by eye stays open; what was read in too little light too."""
    work = {"voltage_v": V_MP, "current_a": I_MP}
    weak = reading("w", "operating", light=IrradianceReading(irradiance_w_m2=100.0), **work)
    steps = steps_of(
        asked(
            array(1, 1),
            reading("v", "open-circuit", voltage_v=V_OC),
            reading("i", "short-circuit", current_a=0.3 * I_SC),
            weak,
            polarity=[PolarityReading(voltage_v=21.0)],
        )
    )
    assert steps == {
        "Look": "open",
        "Polarity": "done",
        "Open-circuit": "done",
        "Insulation": "open",
        "Short-circuit": "failed",
        "Voltage": "open",
        "Keep": "open",
    }


@pytest.mark.parametrize(
    ("in_series", "v_oc", "test"),
    [(4, 24.0, (250.0, 0.5)), (4, 24.1, (500.0, 1.0)), (24, 60.0, (1000.0, 1.0))],
)
def test_insulation_is_tested_by_the_system_voltage(
    in_series: int, v_oc: float, test: tuple[float, float]
) -> None:
    """1.25 × 4 × 24 V is 120 V, the end of a row; beyond 1000 V the last row is told."""
    plate = PanelElectrical(
        p_mp_w=0.84 * v_oc * 5.0,
        v_mp_v=0.84 * v_oc,
        i_mp_a=5.0,
        v_oc_v=v_oc,
        i_sc_a=5.4,
        cells_in_series=round(v_oc / 0.64),
    )
    built = array(1, in_series, Panel(electrical=plate))
    answer = asked(built, reading("v", "open-circuit", voltage_v=in_series * v_oc))
    how = next(s.how for s in answer.checklist if s.title.startswith("Insulation"))
    assert isinstance(how, Text)
    assert (how.parameters["test_v"], how.parameters["least_mohm"]) == test
    voltages = next(s.how for s in answer.checklist if s.title.startswith("Polarity"))
    assert f"{in_series * v_oc:.0f}" in voltages.replace(".0 V", " V")


def test_the_longest_string_makes_the_system_voltage() -> None:
    built = array(2, 1)
    longest = replace_string(built, 6)
    own = InsulationReading(test_voltage_v=250.0, resistance_ohm=1e7)
    for each, verdict in ((built, "pass"), (longest, "not-assessed")):
        answer = asked(
            each, reading("v", "open-circuit", voltage_v=V_OC, of="s0"), insulation=[own]
        )
        assert [c.verdict for c in answer.checks if c.code == "insulation"] == [verdict]


def replace_string(built: CheckedArray, in_series: int) -> CheckedArray:
    """The second string with so many panels."""
    second = CheckedString(name="s1", panel_type="sheet", panels_in_series=in_series)
    return CheckedArray(panel_types=built.panel_types, strings=[built.strings[0], second])


def dated(shares: list[float], days: list[int], **more: object) -> list[Reading]:
    start = np.datetime64("2024-01-01")
    return [
        reading(
            f"d{day} {more.get('of', '')}",
            "short-circuit",
            current_a=I_SC * share,
            taken_at=f"{start + np.timedelta64(day, 'D')}T12:00:00Z",
            **more,
        )
        for share, day in zip(shares, days, strict=True)
    ]


@pytest.mark.parametrize(("last", "told"), [("17:16:47", False), ("17:16:48", True)])
def test_readings_over_a_month_are_a_series(last: str, told: bool) -> None:
    """0.08 of a year of 365.25 days: 2,524,608 s, or 29 days and 5:16:48 from noon."""
    first, second = dated([1.0, 1.0], [0, 29])
    second = structs.replace(second, taken_at=f"2024-01-30T{last}Z")
    assert bool(asked(array(1, 1), first, second).follow_up) == told


def test_every_circuit_has_its_own_series_and_weak_light_none() -> None:
    dim = IrradianceReading(irradiance_w_m2=100.0)
    answer = asked(
        array(2, 1),
        *dated([1.0, 1.0, 0.99], [0, 400, 800], of="s0"),
        *dated([0.9, 0.8], [0, 731], of="s1"),
        *dated([0.09, 0.08], [10, 500], of="array", light=dim),
    )
    found = {(one.of, one.readings): one.span_years for one in answer.follow_up}
    assert found == pytest.approx({("s0", 3): 800 / 365.25, ("s1", 2): 731 / 365.25})


@pytest.mark.parametrize(
    ("yearly", "outcome", "code"),
    [
        (-0.03, "loss-shown", "loss-is-shown"),
        (0.0, "no-loss-shown", "interval-holds-zero"),
        (0.03, "no-loss-shown", "readings-rise"),
    ],
)
def test_a_loss_is_shown_where_the_whole_interval_is_one(
    yearly: float, outcome: str, code: str
) -> None:
    """Three years of readings that scatter by 0.2 %, in any order."""
    days = list(range(0, 1096, 60))
    shares = [
        1.0 + yearly * day / 365.25 + 0.002 * (-1) ** k * (1 + k % 3) / 2
        for k, day in enumerate(days)
    ]
    for order in (1, -1):
        (found,) = asked(array(1, 1), *dated(shares[::order], days[::order])).follow_up
        assert found.outcome == outcome
        assert isinstance(found.why, Text)
        assert found.why.code == code
        assert found.yearly_loss_fraction == pytest.approx(-yearly, abs=0.003)


def test_losses_are_shares_of_the_start_and_scatter_is_the_median_distance() -> None:
    """0.8 falling by 0.04 a year loses a twentieth; two of seven readings lie 0.01 off."""
    years = np.arange(7.0)
    shares = 0.8 - 0.04 * years
    found = robust_trend(years, shares)
    assert (found.loss, found.scatter) == pytest.approx((0.05, 0.0))
    shares += 0.01 * np.array([1, -1, 1, 0, -1, 1, -1])
    assert robust_trend(years, shares).scatter == pytest.approx(0.01, abs=0.003)


def test_readings_of_nothing_have_a_finite_trend() -> None:
    found = robust_trend(np.arange(5.0), np.zeros(5))
    assert (found.loss, found.low, found.high, found.scatter) == (0.0, 0.0, 0.0, 0.0)


def test_a_short_reading_fails_only_on_a_day_that_a_sound_array_does_not_explain() -> None:
    """Four fifths of the current is dirt as well as a fault; half a volt of forty is neither."""
    dirty = asked(array(1, 1), reading("i", "short-circuit", current_a=0.8 * I_SC))
    assert (dirty.readings[0].verdict, dirty.diagnoses[0].explained) == ("review", True)
    nonsense = [
        reading("v", "open-circuit", voltage_v=0.02 * V_OC),
        reading("i", "short-circuit", current_a=0.5 * I_SC),
    ]
    answer = asked(array(1, 1), *nonsense)
    assert not answer.diagnoses[0].explained
    assert {one.verdict for one in answer.readings} == {"fail"}


def told_codes(answer: CommissioningCheckAnswer) -> list[str]:
    return [line.code for line in answer.summary if isinstance(line, Text)]


def test_the_summary_counts_normal_readings_and_names_days_that_are_not() -> None:
    answer = asked(
        array(1, 1),
        *at_nameplate(1, 1)[:2],
        reading("low", "short-circuit", current_a=0.7 * I_SC, taken_at="2027-07-01T12:00:00+02:00"),
    )
    first = answer.summary[0]
    assert isinstance(first, Text)
    assert (first.code, first.parameters) == ("normal-readings", {"normal": 2, "readings": 3})
    bent = [
        reading("v", "open-circuit", voltage_v=2 * V_OC),
        reading("i", "short-circuit", current_a=I_SC),
        reading("w", "operating", voltage_v=2 * V_MP * 0.94, current_a=I_MP),
    ]
    fine = reading("next", "short-circuit", current_a=I_SC, taken_at="2027-07-01T12:00:00+02:00")
    both = asked(array(1, 2), *bent, fine)
    assert {each.verdict for each in both.readings} == {"pass"}
    assert told_codes(both)[0] == "together-not-normal", "one of two days is enough"
    assert told_codes(asked(array(1, 2), fine))[0] == "normal-readings"


def test_a_summary_has_at_most_twenty_lines_and_four_possible_faults() -> None:
    series = [one for k in range(24) for one in dated([1.0, 0.99], [0, 400], of=f"s{k}")]
    answer = asked(array(24, 1), *series)
    assert len(answer.follow_up) == 24
    assert len(answer.summary) == 20
    (possible,) = [
        line.parameters["possible"]
        for line in asked(array(2, 3), *at_nameplate(2, 3)[:1]).summary
        if isinstance(line, Text) and line.code == "nothing-wrong-shown"
    ]
    assert isinstance(possible, Text)
    assert len(possible.parts if hasattr(possible, "parts") else possible.split(";")) == 4


def faults(*readings: Reading, built: CheckedArray | None = None, **more: object) -> dict[str, str]:
    """Codes by pointer."""
    try:
        asked(built or array(1, 1), *readings, **more)
    except ContradictionError as refused:
        return {fault.pointer: fault.message.code for fault in refused.faults}
    return {}


def pointers(*readings: Reading, built: CheckedArray | None = None, **more: object) -> set[str]:
    return set(faults(*readings, built=built, **more))


NEEDS = {"open-circuit": {"voltage_v"}, "short-circuit": {"current_a"}}


@pytest.mark.parametrize(
    ("kind", "given"),
    [
        (kind, given)
        for kind, given in product(
            KINDS, ({"voltage_v"}, {"current_a"}, {"voltage_v", "current_a"})
        )
    ],
)
def test_a_reading_has_what_its_kind_needs_and_nothing_else(kind: str, given: set[str]) -> None:
    needed = NEEDS.get(kind, {"voltage_v", "current_a"})
    figures = dict.fromkeys(given, 5.0)
    told = {
        f"/readings/0/{n}": f"reading-{'needs' if n in needed else 'has-no'}-{n.partition('_')[0]}"
        for n in needed ^ given
    }
    assert faults(reading("r", kind, **figures)) == told


def test_names_are_unique_known_and_not_those_of_all_strings() -> None:
    fine = reading("v", "open-circuit", voltage_v=V_OC)
    twice = CheckedArray(
        panel_types=[PanelType(name="sheet", panel=PANEL)] * 2,
        strings=[
            CheckedString(name="array", panel_type="sheet", panels_in_series=1),
            CheckedString(name="s", panel_type="film", panels_in_series=1),
            CheckedString(name="s", panel_type="sheet", panels_in_series=1),
        ],
    )
    assert pointers(fine, built=twice) == {
        "/array/panel_types/1/name",
        "/array/strings/0/name",
        "/array/strings/1/panel_type",
        "/array/strings/2/name",
    }
    tests = {
        "polarity": [PolarityReading(of="s9", voltage_v=20.0)],
        "insulation": [InsulationReading(of="s9", test_voltage_v=250.0, resistance_ohm=1e7)],
    }
    own = reading("v", "open-circuit", voltage_v=V_OC, of="s9")
    due = {"/readings/0/of", "/polarity/0/of", "/insulation/0/of"}
    assert pointers(own, **tests) == due


@pytest.mark.parametrize(
    ("current", "i_sc", "refused"),
    [(9.6, 6.4, False), (9.61, 6.4, True), (1.05, 0.7, False), (9.3, 6.2, False)],
)
def test_no_sun_shines_more_than_one_and_a_half_times(
    current: float, i_sc: float, refused: bool
) -> None:
    once = ReferencePanelReading(current_a=current, i_sc_a=i_sc)
    again = ReferencePanelReading(current_a=0.9 * i_sc, i_sc_a=i_sc, after_current_a=current)
    for light, field in ((once, "current_a"), (again, "after_current_a")):
        own = reading("i", "short-circuit", current_a=5.0, light=light)
        assert pointers(own) == ({f"/readings/0/light/{field}"} if refused else set())


@pytest.mark.parametrize(
    ("light", "share"),
    [
        (FULL_SUN, 0.03),
        (ReferencePanelReading(current_a=5.0, i_sc_a=6.0), 0.03),
        (ClearSkySun(), 0.08),
        (ClearSkySun(uncertainty_fraction=0.02), 0.02),
    ],
)
@pytest.mark.parametrize(
    ("heat", "kelvin"),
    [({"cell_temperature_c": 40.0}, 2.0), ({"air_c": 25.0}, 6.0), ({}, 10.0)],
)
def test_light_and_heat_are_as_sure_as_what_told_them(
    light: object, share: float, heat: dict[str, float], kelvin: float
) -> None:
    """From memory: 3 % by meters, 8 % by a model of the sky; 2, 6 and 10 K."""
    given = {"cell_temperature_c": None, **heat}
    own = reading("i", "short-circuit", current_a=5.0, light=light, **given)
    site = CommissioningSite(place=Place(latitude_deg=47.0, longitude_deg=9.0))
    (at,) = settled(array(1, 1), own, site=site).conditions
    assert (at.irradiance_share, at.cell_k) == (share, kelvin)


def test_where_no_air_is_read_it_has_20_degrees() -> None:
    """From memory; in the dark cells are as warm as the air."""
    dark = IrradianceReading(irradiance_w_m2=0.0)
    own = reading("v", "open-circuit", voltage_v=1.0, light=dark, cell_temperature_c=None)
    (at,) = settled(array(1, 1), own).conditions
    assert at.cell_c == pytest.approx(20.0)


def test_a_clear_sky_shines_on_a_tilted_plane_off_a_ground_of_one_fifth() -> None:
    site = CommissioningSite(
        place=Place(latitude_deg=47.0, longitude_deg=9.0), tilt_deg=60.0, azimuth_deg=180.0
    )
    own = reading("i", "short-circuit", current_a=5.0, light=ClearSkySun())
    (at,) = settled(array(1, 1), own, site=site).conditions
    times = np.array([unix_seconds(own.taken_at)])
    sun = sun_at(site.place, times)
    due = on_plane(clear_sky(site.place, times, sun), sun, times, 60.0, 180.0, 0.2)
    assert at.irradiance_w_m2 == pytest.approx(float(due.total[0]))


def test_a_clear_sky_needs_a_place() -> None:
    assert pointers(reading("i", "short-circuit", current_a=5.0, light=ClearSkySun())) == {"/site"}


def test_an_estimate_adds_up_readings_days_circuits_and_strings() -> None:
    """Days beyond the ten that are looked into cost no more than their readings."""

    def ms(strings: int, days: int, of: tuple[str, ...] = ("array",)) -> float:
        own = [
            reading(
                f"{day} {n}",
                "short-circuit",
                current_a=5.0,
                of=n,
                taken_at=f"2027-06-{day:02}T12:00:00Z",
            )
            for day in range(1, days + 1)
            for n in of
        ]
        return expected_ms(about(array(strings, 1), *own))

    day = ms(1, 2) - ms(1, 1)
    late = ms(1, 12) - ms(1, 11)
    assert 0.0 < late < day
    assert ms(1, 10) - ms(1, 9) == pytest.approx(day)
    assert ms(1, 11) - ms(1, 10) == pytest.approx(late)
    string = ms(2, 1) - ms(1, 1)
    assert string > 0.0
    assert ms(2, 3) - ms(1, 3) == pytest.approx(3.0 * string), "on every day"
    circuit = ms(2, 1, ("array", "s0")) - ms(2, 1) - late
    assert circuit == pytest.approx(string), "two circuits more than none, times two strings"
    assert ms(1, 1) > day
