"""How readings of one day err, each and together: what is shared and what is each one's own."""

from dataclasses import replace

import numpy as np
import pytest
from commissioning_builders import (
    I_MP,
    I_SC,
    V_MP,
    V_OC,
    array,
    asked,
    at_nameplate,
    reading,
    settled,
)
from numpy.typing import NDArray

from sunhitch.types.commissioning import IrradianceReading, MeterUncertainty, Reading
from sunhitch_service.engine.commissioning.evidence import Figure, covariance, figures_of, predicted
from sunhitch_service.engine.commissioning.model import Terminals
from sunhitch_service.engine.commissioning.setup import CommissioningInspection, ReadingConditions

Array = NDArray[np.float64]
OWN = 0.2
"""Part of an instrument's uncertainty that is each reading's own, as in `practice.csv`."""
READINGS = [
    *at_nameplate(2, 3),
    reading("one open", "open-circuit", voltage_v=3 * V_OC, of="s0"),
    reading("one short", "short-circuit", current_a=I_SC, of="s0"),
    reading("short again", "short-circuit", current_a=2 * I_SC),
]


def listed(inspection: CommissioningInspection) -> list[Figure]:
    return [
        figure
        for k in range(len(inspection.request.readings))
        for figure in figures_of(inspection, k)
        if figure.quantity != "power"
    ]


SOUND = settled(array(2, 3), *READINGS)
FIGURES = listed(SOUND)
VOLTS = np.array([figure.quantity == "voltage" for figure in FIGURES])
BY_LIGHT = np.array([figure.by_light for figure in FIGURES])
BY_HEAT = np.array([figure.by_heat for figure in FIGURES])


def added(more: CommissioningInspection, figures: list[Figure] = FIGURES) -> Array:
    """What a larger uncertainty adds to the covariance."""
    return covariance(more, figures) - covariance(SOUND, FIGURES)


def with_conditions(**changed: float) -> list[Figure]:
    return [replace(figure, at=replace(figure.at, **changed)) for figure in FIGURES]


def shared(each: Array) -> Array:
    """All alike but for the own part: its square on the diagonal, the rest between any two."""
    found = (1.0 - OWN**2) * np.outer(each, each)
    np.fill_diagonal(found, each**2)
    return found


def test_figures_err_alike_with_light_and_heat() -> None:
    """JCGM 100:2008, 5.2.2: what two figures share times how each goes with it."""
    at = SOUND.conditions[0]
    lit = added(SOUND, with_conditions(irradiance_share=np.hypot(at.irradiance_share, 0.05)))
    assert lit == pytest.approx(shared(0.05 * BY_LIGHT), abs=1e-12)
    warm = added(SOUND, with_conditions(cell_k=np.hypot(at.cell_k, 7.0)))
    assert warm == pytest.approx(shared(7.0 * BY_HEAT), abs=1e-12)


@pytest.mark.parametrize(
    ("field", "own"), [("volt_share", VOLTS), ("ampere_share", ~VOLTS)], ids=["volts", "amperes"]
)
def test_a_meter_errs_alike_in_all_that_it_reads_and_in_nothing_else(
    field: str, own: NDArray[np.bool_]
) -> None:
    larger = replace(SOUND, **{field: np.hypot(getattr(SOUND, field), 0.04)})
    assert added(larger) == pytest.approx(shared(0.04 * own), abs=1e-12)


@pytest.mark.parametrize(("plate", "volts"), [(0.04, 0.01), (0.012, 0.006)])
def test_nameplates_err_by_half_as_much_in_voltage_and_at_most_by_a_hundredth(
    plate: float, volts: float
) -> None:
    own = replace(SOUND, plate_share=plate)
    none = replace(SOUND, plate_share=0.0)
    due = np.outer(plate * ~VOLTS, plate * ~VOLTS) + np.outer(volts * VOLTS, volts * VOLTS)
    assert covariance(own, FIGURES) - covariance(none, FIGURES) == pytest.approx(due, abs=1e-12)


def test_light_that_changes_moves_all_figures_of_its_reading_and_no_other() -> None:
    """Even over its change: standard deviation 1 ÷ √12 (JCGM 100:2008, 4.3.7)."""
    names = np.array([figure.reading.name for figure in FIGURES])
    moved = 0.06 / np.sqrt(12.0) * BY_LIGHT
    due = np.where(names[:, None] == names, np.outer(moved, moved), 0.0)
    assert added(SOUND, with_conditions(changed=0.06)) == pytest.approx(due, abs=1e-12)


def silent() -> CommissioningInspection:
    """Meters and nameplates without fault."""
    return replace(SOUND, volt_share=0.0, ampere_share=0.0, plate_share=0.0)


def test_what_is_left_are_panels_model_dust_and_tracker() -> None:
    """Panels by how many two readings share, of one quantity: 6 of 6 behind the array, 3 of one
    string, 3 shared between both; a tracker off its maximum has more volts and fewer amperes.
    """
    still = with_conditions(irradiance_share=0.0, cell_k=0.0, irradiance_w_m2=1e9)
    left = covariance(silent(), still) - np.outer(0.009 * BY_LIGHT, 0.009 * BY_LIGHT)
    kinds = ["Voc", "Isc", "V", "I", "Voc of one", "Isc of one", "Isc again"]
    panels, model, tracker = 0.008**2, 0.006**2, 0.008**2
    due = {
        ("Voc", "Voc"): panels / 6 + model,
        ("Voc of one", "Voc of one"): panels / 3 + model,
        ("Voc", "Voc of one"): 3 * panels / (6 * 3) + model,
        ("Voc", "V"): panels / 6,
        ("Voc", "Isc"): 0.0,
        ("Isc", "Isc"): panels / 6 + model,
        ("Isc", "Isc again"): panels / 6 + model,
        ("Isc", "I"): panels / 6,
        ("Isc of one", "Isc again"): 3 * panels / (6 * 3) + model,
        ("Isc of one", "I"): 3 * panels / (6 * 3),
        ("V", "V"): panels / 6 + model + tracker,
        ("I", "I"): panels / 6 + model + tracker,
        ("V", "I"): -tracker,
    }
    for (one, other), value in due.items():
        found = left[kinds.index(one), kinds.index(other)]
        assert found == pytest.approx(value, rel=1e-6, abs=1e-12), (one, other)


@pytest.mark.parametrize("cells", [{"cell_temperature_c": 40.0}, {"air_c": 20.0}, {}])
def test_parts_of_an_uncertainty_are_those_of_the_table(cells: dict[str, float]) -> None:
    """2 K at a panel's back, 6 K from the air, 10 K from nothing; standard meters; 3 % of light."""
    light = IrradianceReading(irradiance_w_m2=800.0)
    given = {"cell_temperature_c": None, "light": light, **cells}
    inspection = settled(
        array(1, 1), reading("w", "operating", voltage_v=V_MP, current_a=4.7, **given)
    )
    kelvin = {"cell_temperature_c": 2.0, "air_c": 6.0}.get(next(iter(cells), ""), 10.0)
    volt, ampere, plate, plate_v, model = 0.005, 0.02, 0.025, 0.01, 0.006
    own = {
        "voltage": (volt, plate_v, model),
        "current": (ampere, plate, model),
        "power": (volt, ampere, plate, model),
    }
    figures = figures_of(inspection, 0)
    assert [figure.quantity for figure in figures] == ["voltage", "current", "power"]
    for figure in figures:
        parts = figure.parts()
        due = {
            "irradiance": abs(figure.by_light) * np.hypot(0.03, 4.0 / 800.0),
            "dust": abs(figure.by_light) * 0.009,
            "cell temperature": abs(figure.by_heat) * kelvin,
            "meter and model": np.linalg.norm(own[figure.quantity]),
        }
        assert list(parts.values()) == pytest.approx(list(due.values())), figure.quantity
        assert figure.share() == pytest.approx(np.linalg.norm(list(due.values())))


def test_figures_go_with_light_and_heat_as_a_panels_do() -> None:
    """Isc in proportion to light, Voc by n k T ÷ q a cell; −0.28 and 0.05 % a kelvin.

    n k T ÷ q is 26 mV at 25 °C and n = 1; the nameplate's own coefficients.
    """
    voc, isc = (figures_of(SOUND, k)[0] for k in (0, 1))
    assert isc.by_light == pytest.approx(1.0, abs=0.01)
    assert 0.8 * 0.0257 < voc.by_light * V_OC / 36 < 2.0 * 0.0257
    assert voc.by_heat == pytest.approx(-0.0028, rel=0.03)
    assert isc.by_heat == pytest.approx(0.0005, rel=0.03)


def test_slopes_at_work_are_those_over_a_wider_step() -> None:
    """Of voltage and current at maximum power, which is found within a step of its curve."""
    kinds = [figure.reading.name for figure in FIGURES]
    work = kinds.index("array work")
    light, heat = (
        settled(
            array(2, 3),
            *at_nameplate(
                2,
                3,
                cell_temperature_c=cells_c,
                light=IrradianceReading(irradiance_w_m2=light_w_m2),
            ),
        )
        for cells_c, light_w_m2 in ((25.0, 1100.0), (35.0, 1000.0))
    )
    for k in (work, work + 1):
        base = FIGURES[k]
        by_light = np.log(listed(light)[k].expected / base.expected) / np.log(1.1)
        by_heat = np.log(listed(heat)[k].expected / base.expected) / 10.0
        assert base.by_light == pytest.approx(by_light, rel=0.1, abs=4e-3)
        assert base.by_heat == pytest.approx(by_heat, rel=0.1, abs=4e-5)


def test_own_figures_take_the_place_of_customary_ones() -> None:
    light = IrradianceReading(irradiance_w_m2=1000.0, uncertainty_fraction=0.011)
    meters = MeterUncertainty(voltage_fraction=0.002, current_fraction=0.013)
    given = settled(
        array(1, 1),
        reading("v", "open-circuit", voltage_v=V_OC, light=light),
        meters=meters,
        nameplate_uncertainty_fraction=0.007,
    )
    assert given.conditions[0].irradiance_share == 0.011
    assert (given.volt_share, given.ampere_share) == (0.002, 0.013)
    assert (given.plate_share, given.plate_volt_share) == (0.007, 0.0035)


def test_a_meters_offset_counts_most_in_weak_light() -> None:
    """4 W/m² of 400 are a hundredth; below 1 W/m² it is no more."""
    shares = {
        light: ReadingConditions(light, 0.03, 25.0, 2.0).own_share for light in (400.0, 1.0, 0.5)
    }
    assert shares == {400.0: 0.01, 1.0: 4.0, 0.5: 4.0}


@pytest.mark.parametrize(
    ("changed", "steady", "unsteady"),
    [(None, False, False), (0.0, True, False), (0.05, True, False), (0.051, False, True)],
)
def test_light_is_steady_up_to_a_twentieth_if_it_was_read_twice(
    changed: float | None, steady: bool, unsteady: bool
) -> None:
    own = ReadingConditions(800.0, 0.03, 25.0, 2.0, changed)
    assert (own.is_steady, own.is_unsteady) == (steady, unsteady)


def test_what_a_meter_shows_of_a_curve() -> None:
    """A straight line from 4 A to 20 V: half way from the maximum to open circuit 15 V and 1 A."""
    volts = np.linspace(0.0, 20.0, 201)
    curve = Terminals(20.0, 4.0, 10.0, 2.0, volts, 4.0 - 0.2 * volts)
    shown = {
        kind: predicted(reading("r", kind), curve) for kind in ("open-circuit", "short-circuit")
    }
    assert shown == {"open-circuit": {"voltage": 20.0}, "short-circuit": {"current": 4.0}}
    work = reading("r", "operating")
    assert predicted(work, curve) == {"voltage": 10.0, "current": 2.0, "power": 20.0}
    half = predicted(work, curve, 0.5)
    assert half == pytest.approx({"voltage": 15.0, "current": 1.0, "power": 15.0})
    tenth = predicted(work, curve, 0.1)
    assert tenth == pytest.approx({"voltage": 11.0, "current": 1.8, "power": 19.8})


@pytest.mark.parametrize("sign", [1.0, -1.0])
@pytest.mark.parametrize("chance", [0.02275])
def test_one_of_many_figures_may_exceed_its_own_interval(sign: float, chance: float) -> None:
    """Bonferroni: of n figures each is allowed 1 ÷ n of what one alone is; 2 to 2.6 deviations."""
    from scipy.stats import norm

    one, many = (
        [reading(f"i{k}", "short-circuit", current_a=I_SC) for k in range(n)] for n in (1, 6)
    )
    for group in (one, many):
        answer = asked(array(1, 1), *group)
        (own,) = answer.readings[0].quantities
        deviation = own.uncertainty / 2.0
        most = own.expected + deviation * norm.isf(chance / len(group))
        edge = most + sign * 1e-3 * deviation
        group[0] = reading("i0", "short-circuit", current_a=edge)
        verdict = asked(array(1, 1), *group).readings[0].verdict
        assert verdict == ("review" if sign > 0.0 else "pass")


def test_figures_of_other_days_do_not_count_among_those_of_one() -> None:
    """At 2.3 deviations: too far for one figure alone, near enough for one of six of its day."""
    (own,) = (
        asked(array(1, 1), reading("i", "short-circuit", current_a=I_SC)).readings[0].quantities
    )
    high = reading("i", "short-circuit", current_a=own.expected + 1.15 * own.uncertainty)
    for day, verdict in (("2027-06-01", "pass"), ("2027-06-02", "review")):
        others = [
            reading(f"o{k}", "short-circuit", current_a=I_SC, taken_at=f"{day}T12:10:00+02:00")
            for k in range(5)
        ]
        assert asked(array(1, 1), high, *others).readings[0].verdict == verdict


def operating(volts: float, amperes: float) -> Reading:
    return reading("w", "operating", voltage_v=volts, current_a=amperes)


def test_power_is_what_was_read_of_both() -> None:
    (result,) = asked(array(1, 1), operating(V_MP, I_MP)).readings
    measured = [each.measured for each in result.quantities]
    assert measured == pytest.approx([V_MP, I_MP, V_MP * I_MP])
    assert [each.unit for each in result.quantities] == ["V", "A", "W"]
