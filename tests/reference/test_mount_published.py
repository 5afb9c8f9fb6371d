"""Figures of the mount check against what is published; sources stand beside them in the data."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from sunhitch_service.engine.mount import air, fasteners, rails, thermal, wind
from sunhitch_service.engine.mount.beam import influence
from sunhitch_service.engine.mount.feet import elastic_shares
from sunhitch_service.engine.mount.figures import figure
from sunhitch_service.engine.mount.plate import compliance, plate_under
from sunhitch_service.engine.tables import table

DATA = Path(__file__).parent / "data"
PSF = 47.88026
MPH = 0.44704
PSI = 6894.757
FT_LB = 1.355818


def read(name: str) -> Any:
    return json.loads((DATA / f"mechanical-{name}.json").read_text("utf-8"))


AIR, WIND, BOLTS, ROAD = read("air"), read("wind"), read("fasteners"), read("road")


@pytest.mark.parametrize("row", AIR["densities"])
def test_density_of_the_standard_atmosphere(row: dict[str, float]) -> None:
    assert air.density(row["altitude_m"]) == pytest.approx(
        row["density_kg_m3"], rel=row["tolerance"]
    )


def test_density_of_cold_air() -> None:
    """Ideal gas at sea level and -20 °C, 101325 Pa / (287.05 J/(kg K) × 253.15 K)."""
    assert air.density(0.0, -20.0) == pytest.approx(1.3944, rel=1e-4)


@pytest.mark.parametrize("row", AIR["dynamic_pressures"])
def test_dynamic_pressure(row: dict[str, float]) -> None:
    found = air.dynamic_pressure(row["density_kg_m3"], row["speed_m_s"])
    assert found == pytest.approx(row["pressure_pa"], rel=row["tolerance"])


def test_velocity_pressure_of_a_filed_calculation() -> None:
    given = WIND["velocity_pressure"]
    found = air.velocity_pressure(
        given["speed_mph"] * MPH,
        given["velocity_coefficient"],
        given["topographic_factor"],
        given["directionality"],
    )
    assert found / PSF == pytest.approx(given["pressure_psf"], rel=given["tolerance"])
    flush = given["flush_panel"]
    net = found / PSF * flush["gcp"] * flush["gamma_e"] * flush["gamma_a"]
    assert net == pytest.approx(flush["pressure_psf"], rel=flush["tolerance"])


@pytest.mark.parametrize("row", WIND["roof_uplift"]["rows"])
def test_velocity_pressure_of_a_design_sheet(row: dict[str, float]) -> None:
    """Whole psf; the constants 0.613 in SI and 0.00256 in psf and mph differ by 0.05 %."""
    given = WIND["roof_uplift"]
    found = air.velocity_pressure(
        row["speed_mph"] * MPH, given["velocity_coefficient"], 1.0, given["directionality"]
    )
    uplift = found / PSF * given["importance"] * given["coefficient"]
    assert abs(uplift - row["pressure_psf"]) <= 0.5 + 0.0005 * row["pressure_psf"]


@pytest.mark.parametrize("row", WIND["flat_roof"]["rows"])
def test_suction_of_flat_roofs(row: dict[str, Any]) -> None:
    rows = wind.shape_row(row["front"], row["ratio"])
    assert rows[row["zone"]] == (row["mean"], row["peak"])


def test_open_gap_is_not_below_the_independent_set() -> None:
    """Roof-edge values with the edge factor meet or exceed the small-area net values."""
    sharp, other = wind.shape_row("sharp", 0.0), WIND["small_area_net"]
    assert wind.open_gap(sharp["leading-strip"][1], False) >= other["leading_strip"]
    assert wind.open_gap(sharp["corner"][1], False) >= other["corner"]


@pytest.mark.parametrize("row", BOLTS["stress_areas"]["rows"])
def test_stress_areas(row: dict[str, Any]) -> None:
    found = fasteners.stress_area(row["pitch_mm"], row["diameter_mm"])
    assert found == pytest.approx(row["area_mm2"], abs=0.05)
    assert figure("thread", row["size"], "stress_area_mm2") == row["area_mm2"]


@pytest.mark.parametrize("row", BOLTS["proof_loads"]["rows"])
def test_proof_loads(row: dict[str, Any]) -> None:
    found = fasteners.proof_load(row["size"], row["property_class"])
    assert found == pytest.approx(row["proof_n"], rel=BOLTS["proof_loads"]["tolerance"])


@pytest.mark.parametrize("row", BOLTS["torque"]["rows"])
def test_torque(row: dict[str, Any]) -> None:
    given = BOLTS["torque"]
    area = figure("thread", row["size"], "stress_area_mm2")
    preload = area * given["stress_psi"] * PSI / 1e6
    assert figure("property_class", "8.8", "nut_factor") == given["nut_factor"]
    found = fasteners.torque(row["size"], "8.8", preload)
    assert abs(found / FT_LB - row["torque_ft_lb"]) <= 0.5


@pytest.mark.parametrize("row", BOLTS["nuts"]["rows"])
def test_nut_sizes(row: dict[str, Any]) -> None:
    assert figure("thread", row["size"], "nut_across_flats_mm") == row["across_flats_mm"]


@pytest.mark.parametrize(("code", "key"), [("securing-us", "us"), ("securing-eu", "eu")])
def test_cargo_accelerations(code: str, key: str) -> None:
    row = table("mount", "securing").row("code", code)
    for way in ("forward", "rearward", "sideways"):
        assert float(row[f"{way}_g"]) == ROAD["cargo"][key][f"{way}_g"]
        assert figure("acceleration", way, "trailer_g") >= ROAD["cargo"][key][f"{way}_g"]


@pytest.mark.parametrize("way", ["forward", "rearward", "sideways"])
def test_cargo_forces_on_a_panel(way: str) -> None:
    given, row = ROAD["cargo"]["panel_12_kg"], table("mount", "securing").rows[0]
    force = given["mass_kg"] * float(row[f"{way}_g"]) * air.GRAVITY
    assert force == pytest.approx(given[f"{way}_n"], rel=given["tolerance"])


def test_thermal_expansion_of_a_bridge() -> None:
    given = ROAD["expansion"]
    found = thermal.expansion(given["expansion_per_c"], given["change_k"], given["length_m"])
    assert found == pytest.approx(given["answer_m"], rel=given["tolerance"])


@pytest.mark.parametrize("row", ROAD["sections"]["rows"])
def test_square_tubes(row: dict[str, float]) -> None:
    second, modulus = rails.box_section(
        row["height_mm"] / 1000, row["width_mm"] / 1000, row["wall_mm"] / 1000
    )
    assert second * 1e12 == pytest.approx(row["second_moment_mm4"], abs=0.5)
    assert modulus * 1e9 == pytest.approx(row["modulus_mm3"], abs=0.5)


E_I, SPAN, LOAD = 5135.55, 1.2, 100.0


def test_beam_with_a_load_in_the_middle() -> None:
    """Roark's case: M = P·L/4, δ = P·L³/48EI."""
    beam = influence((0.0, SPAN), np.array([0.0, SPAN]), np.array([SPAN / 2]), E_I)
    assert beam.reaction[:, 0] == pytest.approx([0.5, 0.5])
    assert np.abs(beam.moment).max() == pytest.approx(SPAN / 4)
    assert np.abs(beam.deflection).max() == pytest.approx(SPAN**3 / (48 * E_I))


def test_beam_with_a_loaded_overhang() -> None:
    """M = P·a at the support, tip δ = P·a²·(L + a)/3EI."""
    over = 0.3
    beam = influence((0.0, SPAN + over), np.array([0.0, SPAN]), np.array([SPAN + over]), E_I)
    assert np.abs(beam.moment).max() == pytest.approx(over)
    assert beam.deflection[-1, 0] == pytest.approx(over**2 * (SPAN + over) / (3 * E_I))
    assert beam.reaction[:, 0] == pytest.approx([-over / SPAN, 1 + over / SPAN])


def test_beam_with_two_symmetric_loads() -> None:
    """M = P·a, δ = P·a·(3L² − 4a²)/24EI in the middle."""
    a = 0.35
    beam = influence((0.0, SPAN), np.array([0.0, SPAN]), np.array([a, SPAN - a]), E_I)
    moment, sag = beam.moment.sum(axis=1), beam.deflection.sum(axis=1)
    assert np.abs(moment).max() == pytest.approx(a)
    assert np.abs(sag).max() == pytest.approx(a * (3 * SPAN**2 - 4 * a**2) / (24 * E_I))


def uniform(ends: tuple[float, float], supports: list[float], count: int = 400) -> Any:
    """Many small loads in place of a uniform one; the error of lumping is 1/count²."""
    width = (ends[1] - ends[0]) / count
    places = ends[0] + (np.arange(count) + 0.5) * width
    beam = influence(ends, np.array(supports), places, E_I)
    return beam, np.full(count, width)


def test_rail_under_uniform_load() -> None:
    """5wL⁴/384EI and wL²/8 for 400 N/m on 1.2 m of 40 × 40 × 2 mm: 72 N·m, 2.103 mm."""
    beam, load = uniform((0.0, SPAN), [0.0, SPAN])
    assert np.abs(beam.moment @ load).max() * 400 == pytest.approx(72.0, rel=1e-4)
    assert np.abs(beam.deflection @ load).max() * 400 == pytest.approx(2.103e-3, rel=1e-3)


def test_two_spans_under_uniform_load() -> None:
    beam, load = uniform((0.0, 2.0), [0.0, 1.0, 2.0])
    given = ROAD["two_span"]
    assert beam.reaction @ load == pytest.approx(
        [given["outer"], given["middle"], given["outer"]], rel=1e-3
    )
    assert np.abs(beam.moment @ load).max() == pytest.approx(0.125, rel=1e-3)


def test_overhanging_beam_under_uniform_load() -> None:
    """Ends of length a: M between supports wL²/8 − wa²/2, over supports wa²/2."""
    over, span = 0.2, 1.0
    beam, load = uniform((0.0, span + 2 * over), [over, over + span])
    moment = np.abs(beam.moment @ load)
    middle = int(np.abs(beam.places - (over + span / 2)).argmin())
    support = int(np.abs(beam.places - over).argmin())
    assert moment[middle] == pytest.approx(span**2 / 8 - over**2 / 2, rel=1e-3)
    assert moment[support] == pytest.approx(over**2 / 2, rel=2e-2)


def plate_shares(points: Any, sides_m: Any, poisson: float, rows: tuple[int, int]) -> Any:
    """Share of a uniform load that each foot carries; `rows` set the polynomials' degrees."""
    feet, load = compliance(plate_under(points, sides_m, rows), points, poisson)
    return elastic_shares(points[None], feet[None], load[None])[0, :, 0]


@pytest.mark.parametrize(
    ("rows", "shares"),
    [
        (3, [3 / 16, 10 / 16]),
        (4, [0.4 / 3, 1.1 / 3]),
        (5, [11 / 112, 32 / 112, 26 / 112]),
    ],
)
def test_narrow_plate_is_a_continuous_beam(rows: int, shares: list[float]) -> None:
    """Reactions of 2, 3 and 4 equal spans under uniform load, handbook coefficients of w·L."""
    places = np.linspace(-0.5, 0.5, rows)
    points = np.array([[x, y] for x in places for y in (-0.01, 0.01)])
    found = plate_shares(points, (1.0, 0.04), 0.0, (8, 3)).reshape(rows, 2).sum(axis=1)
    assert found[: len(shares)] == pytest.approx(shares, rel=5e-3)


def test_square_plate_on_its_edges() -> None:
    """Simply supported square plate, ν = 0.3: δ = 0.00406·q·a⁴/D in the middle (Timoshenko).

    Held at many points of its edges; compared through the force on a prop in the middle, which
    times the give of the plate there is the sag it takes away: 0.0116·P·a²/D for a load in the
    middle (Timoshenko; both from memory).
    """
    edge = np.linspace(-0.5, 0.5, 13)
    ring = {(x, y) for x in edge for y in edge if 0.5 in (abs(x), abs(y))}
    points = np.array([*sorted(ring), (0.0, 0.0)])
    prop = plate_shares(points, (1.0, 1.0), 0.3, (10, 10))[-1]
    assert prop == pytest.approx(0.00406 / 0.0116, rel=0.03)
