"""Figures of the mount check against what is published; sources stand beside them in the data."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from outside_figures import Outside
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
def test_density_of_the_standard_atmosphere(row: dict[str, Any], outside: Outside) -> None:
    outside(
        air.density(row["altitude_m"]),
        row["density_kg_m3"],
        rel=row["tolerance"],
        of=f"density at {row['altitude_m']:g} m",
        source="US Standard Atmosphere 1976",
        unit="kg/m³",
        seen="read" if row["status"] == "read" else "recalled",
    )


def test_density_of_cold_air(outside: Outside) -> None:
    outside(
        air.density(0.0, -20.0),
        1.3944,
        rel=1e-4,
        of="density at sea level and −20 °C",
        source="ideal gas, 101325 Pa ÷ (287.05 J/(kg K) × 253.15 K)",
        unit="kg/m³",
        kind="hand-worked",
    )


@pytest.mark.parametrize("row", AIR["dynamic_pressures"])
def test_dynamic_pressure(row: dict[str, Any], outside: Outside) -> None:
    found = air.dynamic_pressure(row["density_kg_m3"], row["speed_m_s"])
    outside(
        found,
        row["pressure_pa"],
        rel=row["tolerance"],
        of=f"dynamic pressure at {row['speed_m_s']:.1f} m/s",
        source=row["source"],
        unit="Pa",
        kind="published" if "handbook" in row["source"] else "hand-worked",
    )


def test_velocity_pressure_of_a_filed_calculation(outside: Outside) -> None:
    given = WIND["velocity_pressure"]
    found = air.velocity_pressure(
        given["speed_mph"] * MPH,
        given["velocity_coefficient"],
        given["topographic_factor"],
        given["directionality"],
    )
    more: dict[str, Any] = {"source": given["source"], "rel": given["tolerance"], "unit": "psf"}
    outside(found / PSF, given["pressure_psf"], of="velocity pressure at 110 mph", **more)
    flush = given["flush_panel"]
    net = found / PSF * flush["gcp"] * flush["gamma_e"] * flush["gamma_a"]
    outside(net, flush["pressure_psf"], of="uplift of a flush panel at 110 mph", **more)


@pytest.mark.parametrize("row", WIND["roof_uplift"]["rows"])
def test_velocity_pressure_of_a_design_sheet(row: dict[str, float], outside: Outside) -> None:
    """Whole psf; the constants 0.613 in SI and 0.00256 in psf and mph differ by 0.05 %."""
    given = WIND["roof_uplift"]
    found = air.velocity_pressure(
        row["speed_mph"] * MPH, given["velocity_coefficient"], 1.0, given["directionality"]
    )
    uplift = found / PSF * given["importance"] * given["coefficient"]
    outside(
        uplift,
        row["pressure_psf"],
        abs=0.5 + 0.0005 * row["pressure_psf"],
        of=f"roof uplift at {row['speed_mph']} mph",
        source="a property insurer's wind design data sheet, table 3; factors from memory",
        unit="psf",
    )


@pytest.mark.parametrize("row", WIND["flat_roof"]["rows"])
def test_suction_of_flat_roofs(row: dict[str, Any], outside: Outside) -> None:
    outside(
        wind.shape_row(row["front"], row["ratio"])[row["zone"]],
        (row["mean"], row["peak"]),
        of=f"suction, {row['front']} front, radius ratio {row['ratio']:g}, {row['zone']}",
        source="EN 1991-1-4:2005, table 7.2, a reproduction",
    )


def test_open_gap_is_not_below_the_independent_set() -> None:
    """Roof-edge values with the edge factor meet or exceed the small-area net values."""
    sharp, other = wind.shape_row("sharp", 0.0), WIND["small_area_net"]
    assert wind.open_gap(sharp["leading-strip"][1], False) >= other["leading_strip"]
    assert wind.open_gap(sharp["corner"][1], False) >= other["corner"]


@pytest.mark.parametrize("row", BOLTS["stress_areas"]["rows"])
def test_stress_areas(row: dict[str, Any], outside: Outside) -> None:
    found = fasteners.stress_area(row["pitch_mm"], row["diameter_mm"])
    of, source = f"stress area of {row['size']}", "ISO 898-1, two trade reproductions"
    outside(found, row["area_mm2"], abs=0.05, of=of, source=source, unit="mm²")
    assert figure("thread", row["size"], "stress_area_mm2") == row["area_mm2"]


@pytest.mark.parametrize("row", BOLTS["proof_loads"]["rows"])
def test_proof_loads(row: dict[str, Any], outside: Outside) -> None:
    outside(
        fasteners.proof_load(row["size"], row["property_class"]),
        row["proof_n"],
        rel=BOLTS["proof_loads"]["tolerance"],
        of=f"proof load of {row['size']}, {row['property_class']}",
        source="ISO 898-1, table 5, two trade reproductions",
        unit="N",
    )


@pytest.mark.parametrize("row", BOLTS["torque"]["rows"])
def test_torque(row: dict[str, Any], outside: Outside) -> None:
    given = BOLTS["torque"]
    area = figure("thread", row["size"], "stress_area_mm2")
    preload = area * given["stress_psi"] * PSI / 1e6
    assert figure("property_class", "8.8", "nut_factor") == given["nut_factor"]
    found = fasteners.torque(row["size"], "8.8", preload)
    of, source = (
        f"torque of {row['size']}",
        "a conveyor safety guide's bolt torque page, whole ft·lb",
    )
    outside(found / FT_LB, row["torque_ft_lb"], abs=0.5, of=of, source=source, unit="ft·lb")


@pytest.mark.parametrize("row", BOLTS["nuts"]["rows"])
def test_nut_sizes(row: dict[str, Any], outside: Outside) -> None:
    found = figure("thread", row["size"], "nut_across_flats_mm")
    source = "ISO 4032:2001, table 1, and ASME B18.2.2, reproductions"
    of = f"nut of {row['size']} across flats"
    outside(found, row["across_flats_mm"], of=of, source=source, unit="mm")


@pytest.mark.parametrize(("code", "key"), [("securing-us", "us"), ("securing-eu", "eu")])
def test_cargo_accelerations(code: str, key: str, outside: Outside) -> None:
    row, given = table("mount", "securing").row("code", code), ROAD["cargo"][key]
    for way in ("forward", "rearward", "sideways"):
        of = f"cargo securing, {way}, {key}"
        outside(float(row[f"{way}_g"]), given[f"{way}_g"], of=of, source=given["source"], unit="g")
        assert figure("acceleration", way, "trailer_g") >= ROAD["cargo"][key][f"{way}_g"]


@pytest.mark.parametrize("way", ["forward", "rearward", "sideways"])
def test_cargo_forces_on_a_panel(way: str, outside: Outside) -> None:
    given, row = ROAD["cargo"]["panel_12_kg"], table("mount", "securing").rows[0]
    force = given["mass_kg"] * float(row[f"{way}_g"]) * air.GRAVITY
    outside(
        force,
        given[f"{way}_n"],
        rel=given["tolerance"],
        of=f"force on 12 kg, {way}",
        source=given["source"],
        unit="N",
        kind="hand-worked",
    )


def test_thermal_expansion_of_a_bridge(outside: Outside) -> None:
    given = ROAD["expansion"]
    found = thermal.expansion(given["expansion_per_c"], given["change_k"], given["length_m"])
    outside(
        found,
        given["answer_m"],
        rel=given["tolerance"],
        of="expansion of a bridge",
        source="College Physics, example 13.3; its printed answer from memory",
        unit="m",
    )


@pytest.mark.parametrize("row", ROAD["sections"]["rows"])
def test_square_tubes(row: dict[str, float], outside: Outside) -> None:
    second, modulus = rails.box_section(
        row["height_mm"] / 1000, row["width_mm"] / 1000, row["wall_mm"] / 1000
    )
    name = "{height_mm} × {width_mm} × {wall_mm} mm".format(**row)
    more: dict[str, Any] = {
        "source": "b·h³/12, outer less inner",
        "kind": "hand-worked",
        "abs": 0.5,
    }
    moment_mm4 = row["second_moment_mm4"]
    outside(second * 1e12, moment_mm4, of=f"second moment of {name}", unit="mm⁴", **more)
    outside(modulus * 1e9, row["modulus_mm3"], of=f"modulus of {name}", unit="mm³", **more)


E_I, SPAN, LOAD = 5135.55, 1.2, 100.0


BEAMS: dict[str, Any] = {
    "source": "beam formulas as in Roark's Formulas for Stress and Strain",
    "seen": "recalled",
}


def test_beam_with_a_load_in_the_middle(outside: Outside) -> None:
    """M = P·L/4, δ = P·L³/48EI."""
    beam = influence((0.0, SPAN), np.array([0.0, SPAN]), np.array([SPAN / 2]), E_I)
    of = "load in the middle of a beam"
    outside(beam.reaction[:, 0], [0.5, 0.5], rel=1e-6, of=f"{of}, reactions", unit="P", **BEAMS)
    moment, sag = np.abs(beam.moment).max(), np.abs(beam.deflection).max()
    outside(moment, SPAN / 4, rel=1e-6, of=f"{of}, moment", unit="m", **BEAMS)
    outside(sag, SPAN**3 / (48 * E_I), rel=1e-6, of=f"{of}, deflection", unit="m/N", **BEAMS)


def test_beam_with_a_loaded_overhang(outside: Outside) -> None:
    """M = P·a at the support, tip δ = P·a²·(L + a)/3EI."""
    over = 0.3
    beam = influence((0.0, SPAN + over), np.array([0.0, SPAN]), np.array([SPAN + over]), E_I)
    of, tip = "load on an overhang", over**2 * (SPAN + over) / (3 * E_I)
    outside(np.abs(beam.moment).max(), over, rel=1e-6, of=f"{of}, moment", unit="m", **BEAMS)
    outside(beam.deflection[-1, 0], tip, rel=1e-6, of=f"{of}, tip", unit="m/N", **BEAMS)
    levered = [-over / SPAN, 1 + over / SPAN]
    outside(beam.reaction[:, 0], levered, rel=1e-6, of=f"{of}, reactions", unit="P", **BEAMS)


def test_beam_with_two_symmetric_loads(outside: Outside) -> None:
    """M = P·a, δ = P·a·(3L² − 4a²)/24EI in the middle."""
    a = 0.35
    beam = influence((0.0, SPAN), np.array([0.0, SPAN]), np.array([a, SPAN - a]), E_I)
    moment, sag = beam.moment.sum(axis=1), beam.deflection.sum(axis=1)
    middle = a * (3 * SPAN**2 - 4 * a**2) / (24 * E_I)
    of = "two symmetric loads on a beam"
    outside(np.abs(moment).max(), a, rel=1e-6, of=f"{of}, moment", unit="m", **BEAMS)
    outside(np.abs(sag).max(), middle, rel=1e-6, of=f"{of}, deflection", unit="m/N", **BEAMS)


def uniform(ends: tuple[float, float], supports: list[float], count: int = 400) -> Any:
    """Many small loads in place of a uniform one; the error of lumping is 1/count²."""
    width = (ends[1] - ends[0]) / count
    places = ends[0] + (np.arange(count) + 0.5) * width
    beam = influence(ends, np.array(supports), places, E_I)
    return beam, np.full(count, width)


def test_rail_under_uniform_load(outside: Outside) -> None:
    """5wL⁴/384EI and wL²/8 for 400 N/m on 1.2 m of 40 × 40 × 2 mm: 72 N·m, 2.103 mm."""
    beam, load = uniform((0.0, SPAN), [0.0, SPAN])
    moment = np.abs(beam.moment @ load).max() * 400
    sag = np.abs(beam.deflection @ load).max() * 400
    outside(moment, 72.0, rel=1e-4, of="rail under 400 N/m, moment", unit="N·m", **BEAMS)
    outside(sag, 2.103e-3, rel=1e-3, of="rail under 400 N/m, deflection", unit="m", **BEAMS)


def test_two_spans_under_uniform_load(outside: Outside) -> None:
    beam, load = uniform((0.0, 2.0), [0.0, 1.0, 2.0])
    given = ROAD["two_span"]
    printed = [given["outer"], given["middle"], given["outer"]]
    of, source = "two spans under uniform load", "a piping handbook page: 0.375, 1.25, 0.375 of w·L"
    found = beam.reaction @ load
    outside(found, printed, rel=1e-3, of=f"{of}, reactions", source=source, unit="w·L")
    moment = np.abs(beam.moment @ load).max()
    outside(moment, 0.125, rel=1e-3, of=f"{of}, moment", unit="w·L²", **BEAMS)


def test_overhanging_beam_under_uniform_load(outside: Outside) -> None:
    """Ends of length a: M between supports wL²/8 − wa²/2, over supports wa²/2."""
    over, span = 0.2, 1.0
    beam, load = uniform((0.0, span + 2 * over), [over, over + span])
    moment = np.abs(beam.moment @ load)
    middle = int(np.abs(beam.places - (over + span / 2)).argmin())
    support = int(np.abs(beam.places - over).argmin())
    of, between = "overhanging beam under uniform load", span**2 / 8 - over**2 / 2
    outside(moment[middle], between, rel=1e-3, of=f"{of}, between supports", unit="w", **BEAMS)
    outside(moment[support], over**2 / 2, rel=2e-2, of=f"{of}, at supports", unit="w", **BEAMS)


def plate_shares(points: Any, sides_m: Any, poisson: float, rows: tuple[int, int]) -> Any:
    """Share of a uniform load that each foot carries; `rows` set the polynomials' degrees."""
    feet, load = compliance(plate_under(points, sides_m, rows), points, poisson)
    return elastic_shares(points[None], feet[None], load[None], np.ones((1, len(points))))[0, :, 0]


@pytest.mark.parametrize(
    ("rows", "shares"),
    [
        (3, [3 / 16, 10 / 16]),
        (4, [0.4 / 3, 1.1 / 3]),
        (5, [11 / 112, 32 / 112, 26 / 112]),
    ],
)
def test_narrow_plate_is_a_continuous_beam(
    rows: int, shares: list[float], outside: Outside
) -> None:
    """Reactions of 2, 3 and 4 equal spans under uniform load, handbook coefficients of w·L."""
    places = np.linspace(-0.5, 0.5, rows)
    points = np.array([[x, y] for x in places for y in (-0.01, 0.01)])
    found = plate_shares(points, (1.0, 0.04), 0.0, (8, 3)).reshape(rows, 2).sum(axis=1)
    of = f"shares of {rows} rows of feet under a narrow plate"
    source = "handbook coefficients of equal spans under uniform load"
    outside(found[: len(shares)], shares, rel=5e-3, of=of, source=source, seen="recalled")


def test_square_plate_on_its_edges(outside: Outside) -> None:
    """Simply supported square plate, ν = 0.3: δ = 0.00406·q·a⁴/D in the middle (Timoshenko).

    Held at many points of its edges; compared through the force on a prop in the middle, which
    times the give of the plate there is the sag it takes away: 0.0116·P·a²/D for a load in the
    middle (Timoshenko; both from memory).
    """
    edge = np.linspace(-0.5, 0.5, 13)
    ring = {(x, y) for x in edge for y in edge if 0.5 in (abs(x), abs(y))}
    points = np.array([*sorted(ring), (0.0, 0.0)])
    prop = plate_shares(points, (1.0, 1.0), 0.3, (10, 10))[-1]
    outside(
        prop,
        0.00406 / 0.0116,
        rel=0.03,
        of="share of a prop in the middle of a square plate",
        source="Timoshenko, Theory of Plates and Shells, coefficients 0.00406 and 0.0116",
        seen="recalled",
    )
