"""Figures of the mount check against what is published; sources stand beside them in the data."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from outside_figures import Outside
from sunhitch_service.engine.mount import air, fasteners, rails, thermal, timber, wind
from sunhitch_service.engine.mount.adhesive import edge_stress
from sunhitch_service.engine.mount.beam import influence
from sunhitch_service.engine.mount.cases import snow_pressure
from sunhitch_service.engine.mount.feet import elastic_shares
from sunhitch_service.engine.mount.figures import figure
from sunhitch_service.engine.mount.plate import compliance, plate_under
from sunhitch_service.engine.mount.pull_tests import tolerance_factor
from sunhitch_service.engine.mount.raised import force_coefficient
from sunhitch_service.engine.statics import stiff_shares
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
    """Within the table's rounding, and as its formula gives them: π/4·(d − 0.9382·P)²."""
    found = figure("thread", row["size"], "stress_area_mm2")
    of, source = f"stress area of {row['size']}", "ISO 898-1, two trade reproductions"
    outside(found, row["area_mm2"], of=of, source=source, unit="mm²")
    core = row["diameter_mm"] - 0.9382 * row["pitch_mm"]
    assert found == pytest.approx(np.pi / 4 * core**2, abs=0.05)


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


@pytest.mark.parametrize(
    ("ratio", "uniform_load", "load_in_the_middle"),
    [
        (1.2, 0.00564, 0.01353),
        (1.4, 0.00705, 0.01484),
        (1.6, 0.00830, 0.01570),
        (2.0, 0.01013, 0.01651),
    ],
)
def test_oblong_plates_on_their_edges(
    ratio: float, uniform_load: float, load_in_the_middle: float, outside: Outside
) -> None:
    """A prop in the middle takes away the sag there: of plates a by ratio·a, tables 8 and 23."""
    along = np.linspace(-0.5, 0.5, 13)
    edge = [(x, side * ratio / 2) for x in along for side in (-1, 1)]
    edge += [(side / 2, y * ratio) for y in along[1:-1] for side in (-1, 1)]
    found = plate_shares(np.array([*edge, (0.0, 0.0)]), (1.0, ratio), 0.3, (10, 10))[-1]
    outside(
        found,
        uniform_load / ratio / load_in_the_middle,
        rel=0.03,
        of=f"share of a prop in the middle of a plate 1 by {ratio:g}",
        source="Timoshenko, Theory of Plates and Shells, tables 8 and 23",
        seen="recalled",
    )


@pytest.mark.parametrize(
    ("spans", "reactions", "moment"),
    [(3, [0.4, 1.1, 1.1, 0.4], 0.100), (4, [0.393, 1.143, 0.929, 1.143, 0.393], 0.1071)],
)
def test_continuous_beams(
    spans: int, reactions: list[float], moment: float, outside: Outside
) -> None:
    beam, load = uniform((0.0, float(spans)), [float(i) for i in range(spans + 1)])
    source = "handbook coefficients of equal spans under uniform load"
    of = f"{spans} spans under uniform load"
    outside(
        beam.reaction @ load,
        reactions,
        rel=3e-3,
        of=f"{of}, reactions",
        source=source,
        unit="w·L",
        seen="recalled",
    )
    outside(
        np.abs(beam.moment @ load).max(),
        moment,
        rel=3e-3,
        of=f"{of}, moment",
        source=source,
        unit="w·L²",
        seen="recalled",
    )


@pytest.mark.parametrize("share", [0.2, 0.35, 0.5])
def test_load_anywhere_on_a_beam(share: float, outside: Outside) -> None:
    """P·a·b/L and P·a²·b²/(3·E·I·L) below the load."""
    beam = influence((0.0, 1.0), np.array([0.0, 1.0]), np.array([share]), 1.0)
    a, b = share, 1.0 - share
    of = f"beam with a load at {share:g} of its span"
    source = "AISC manual, beam diagrams"
    moment, below = np.abs(beam.moment[:, 0]).max(), int(np.abs(beam.places - share).argmin())
    outside(moment, a * b, rel=1e-9, of=f"{of}, moment", source=source, unit="P·L", seen="recalled")
    outside(
        abs(beam.deflection[below, 0]),
        a**2 * b**2 / 3,
        rel=1e-9,
        of=f"{of}, deflection",
        source=source,
        unit="P·L³/EI",
        seen="recalled",
    )


@pytest.mark.parametrize(
    ("count", "factor"), [(3, 7.656), (5, 4.203), (10, 2.911), (20, 2.396), (50, 2.065)]
)
def test_tolerance_factors(count: int, factor: float, outside: Outside) -> None:
    outside(
        tolerance_factor(count),
        factor,
        abs=6e-4,
        of=f"one-sided tolerance factor of {count} readings, 95 % and 95 %",
        source="ISO 16269-6, tables of one-sided factors",
        seen="recalled",
    )


def test_a_worked_tolerance_factor(outside: Outside) -> None:
    outside(
        tolerance_factor(43, 0.9, 0.99),
        1.8740,
        abs=6e-5,
        of="one-sided tolerance factor of 43 readings, 90 % and 99 %",
        source="NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.3",
        seen="recalled",
    )


@pytest.mark.parametrize(
    ("thread", "steel", "newtons"),
    [("M8", "A2-70", 10248.0), ("M10", "A2-70", 16240.0), ("M10", "A4-80", 18560.0)],
)
def test_shear_of_stainless_bolts(
    thread: str, steel: str, newtons: float, outside: Outside
) -> None:
    """0.5·fub·As/1.25, our 1.5 on loads taken back."""
    outside(
        1.5 * fasteners.bolt_shear(thread, steel),
        newtons,
        rel=1e-3,
        of=f"shear of {thread} {steel} through the thread",
        source="EN 1993-1-8, table 3.4, 0.5·fub·As/1.25",
        unit="N",
        kind="hand-worked",
        seen="recalled",
    )


def test_shear_of_high_strength_bolts_is_not_above_the_code(outside: Outside) -> None:
    """Class 10.9 M10: 0.5 · 1000 MPa · 58 mm²/1.25 = 23.2 kN; ours counts 1040 MPa of ISO 898-1."""
    outside(
        1.5 * fasteners.bolt_shear("M10", "10.9") * 1000 / 1040,
        23200.0,
        rel=1e-3,
        of="shear of M10 10.9 through the thread, by nominal strength",
        source="EN 1993-1-8, table 3.4, 0.5·fub·As/1.25",
        unit="N",
        kind="hand-worked",
        seen="recalled",
    )


def test_blind_rivet_in_thin_sheet(outside: Outside) -> None:
    """4.8 mm in 1 mm of 190 MPa: 2.5·190·√4.8 = 1041 N; below a head of 14 mm the lesser of
    6.1·190·√(14/22) = 925 N and 0.5·14·190 = 1330 N."""
    source = "EN 1999-1-4, 8.3.2 and 8.3.3, worked by hand"
    for found, newtons, of in (
        (fasteners.bearing(4.8, 0.001, 190e6), 1040.7, "bearing of a 4.8 mm rivet, 1 mm sheet"),
        (fasteners.pull_over(0.014, 0.001, 190e6), 924.6, "pull-over of a 14 mm head, 1 mm sheet"),
    ):
        outside(
            found,
            newtons,
            rel=1e-3,
            of=of,
            source=source,
            unit="N",
            kind="hand-worked",
            seen="recalled",
        )


@pytest.mark.parametrize(("column", "psi"), [("gust_pa", 20.0), ("permanent_pa", 1.0)])
def test_design_stress_of_structural_glazing(column: str, psi: float, outside: Outside) -> None:
    outside(
        figure("adhesive", "structural-silicone", column) / PSI,
        psi,
        rel=2e-3,
        of=f"design stress of structural silicone, {column.split('_', maxsplit=1)[0]}",
        source="ASTM C1401, structural sealant glazing",
        unit="psi",
        seen="recalled",
    )


@pytest.mark.parametrize(("rate", "share"), [(0.5, 0.92423), (1.0, 0.76159), (2.0, 0.48201)])
def test_bonded_joint_of_volkersen(rate: float, share: float, outside: Outside) -> None:
    """Movement that reaches the end of a bond on a rigid base, tanh(λL)/(λL) of the free one."""
    found = thermal.restrained_movement(1.0, 1.0, 1e6, rate**2 * 1e6)
    outside(
        found,
        share,
        rel=1e-4,
        of=f"movement at the end of a bonded joint, λL = {rate:g}",
        source="Volkersen's shear lag, tanh of a table of functions",
        kind="hand-worked",
        seen="recalled",
    )


def test_force_on_a_raised_plate(outside: Outside) -> None:
    """The roof is near below the low edge: air that comes in at the high one is blocked there."""
    canopy = read("wind")["canopy"]
    free, blocked = (canopy[name] for name in ("free", "blocked_at_low_eaves"))
    outside(
        [force_coefficient(angle) for angle in canopy["angle_deg"]],
        [max(pair) for pair in zip(free, blocked, strict=True)],
        rel=1e-9,
        of="force upwards on a tilted plate, 5 to 30°",
        source=canopy["source"],
    )


def test_snow_on_a_flat_roof(outside: Outside) -> None:
    """30 lb/ft² on the ground: 0.7 · 1.2 · 30 = 25.2 lb/ft² on an unheated roof."""
    outside(
        snow_pressure(30 * PSF) / PSF,
        25.2,
        rel=1e-6,
        of="snow on a flat, unheated roof",
        source="ASCE 7-16, 7.3, 0.7·Ce·Ct·I·pg",
        unit="lb/ft²",
        kind="hand-worked",
        seen="recalled",
    )


@pytest.mark.parametrize(
    ("through", "ultimate", "area", "kilonewtons"),
    [
        *((0.6, 800e6, *row) for row in ((157, 60.3), (245, 94.1), (353, 136.0), (561, 215.0))),
        *((0.5, 1000e6, *row) for row in ((157, 62.8), (245, 98.0), (353, 141.0), (561, 224.0))),
    ],
)
def test_shear_of_bolts_after_a_steel_makers_tables(
    through: float, ultimate: float, area: float, kilonewtons: float, outside: Outside
) -> None:
    """Single shear of M16, M20, M24 and M30 in classes 8.8 and 10.9, three figures."""
    outside(
        fasteners.shear_resistance(area, ultimate, through) / 1000,
        kilonewtons,
        rel=4e-3,
        of=f"shear of a bolt of {area} mm², {ultimate / 1e6:.0f} N/mm²",
        source="EN 1993-1-8 bolt resistances in a steel maker's design tables",
        unit="kN",
        seen="read",
    )


@pytest.mark.parametrize(
    ("diameter", "thickness", "strength", "newtons"),
    [(5.5, 0.001, 200e6, 1172.6), (5.5, 0.002, 200e6, 3300.0), (6.0, 0.001, 320e6, 1592.2)],
)
def test_bearing_of_screws_in_aluminium_sheet(
    diameter: float, thickness: float, strength: float, newtons: float, outside: Outside
) -> None:
    """2.5·200·√5.5; 1.5·200·2·5.5, the lesser of both; 2.5·260·√6, as 260 N/mm² are counted."""
    outside(
        fasteners.bearing(diameter, thickness, strength),
        newtons,
        rel=1e-4,
        of=f"bearing of {diameter} mm on {1000 * thickness:g} mm of {strength / 1e6:.0f} N/mm²",
        source="EN 1999-1-4, 8.3.2.1, worked by hand",
        unit="N",
        kind="hand-worked",
        seen="read",
    )


@pytest.mark.parametrize(
    ("diameter", "thread", "density", "newtons"),
    [
        # 0.52/√6·40^−0.1·350^0.8 = 0.21229·0.69150·108.46 = 15.922; · 6·40·0.75
        (6.0, 40.0, 350.0, 2866.0),
        # 0.52/√8·80^−0.1·340^0.8 = 0.18385·0.64519·105.98 = 12.571; · 8·80
        (8.0, 80.0, 340.0, 8045.0),
        # 0.52/√10·100^−0.1·380^0.8 = 0.16444·0.63096·115.82 = 12.017; · 10·100
        (10.0, 100.0, 380.0, 12017.0),
    ],
)
def test_withdrawal_of_screws_by_the_european_code(
    diameter: float, thread: float, density: float, newtons: float, outside: Outside
) -> None:
    outside(
        timber.withdrawal_en(diameter, thread, density),
        newtons,
        rel=1e-3,
        of=f"withdrawal of {diameter:g} × {thread:g} mm of thread, {density:g} kg/m³",
        source="EN 1995-1-1, 8.7.2, equations 8.38 to 8.40, worked by hand",
        unit="N",
        kind="hand-worked",
        seen="read",
    )


INCH, POUND = 25.4, 4.448222


@pytest.mark.parametrize(
    ("gravity", "diameter", "pounds", "seen"),
    [
        (0.45, 0.190, 109.0, "read"),
        *((0.50, *row, "recalled") for row in ((0.138, 98.0), (0.190, 135.0), (0.242, 172.0))),
        *((0.42, *row, "recalled") for row in ((0.164, 82.0), (0.216, 109.0), (0.242, 122.0))),
    ],
)
def test_withdrawal_of_wood_screws_by_the_american_code(
    gravity: float, diameter: float, pounds: float, seen: Any, outside: Outside
) -> None:
    """Whole pounds per inch of thread; the read one is a handbook's No. 10 in spruce."""
    found = timber.withdrawal_nds(diameter * INCH, INCH, gravity) / POUND
    outside(
        found,
        pounds,
        abs=0.9,
        of=f"withdrawal of a {diameter} in screw, specific gravity {gravity}",
        source="a handbook's example" if seen == "read" else "NDS, table 12.2B",
        unit="lb/in",
        seen=seen,
    )


@pytest.mark.parametrize(
    ("diameter", "thread", "density", "ultimate", "newtons"),
    [
        # d = 3.96: f = 0.082·350·3.96^−0.3 = 18.990, M = 0.3·700·3.96^2.6 = 7523;
        # 0.4·18.990·45·3.96 = 1353.6, 1.15·√(2·7523·18.990·3.96) = 1223.3
        (6.0, 45.0, 350.0, 700e6, 1223.3),
        # d = 5.28: f = 0.082·340·5.28^−0.3 = 16.922, M = 0.3·400·5.28^2.6 = 9082;
        # 0.4·16.922·20·5.28 = 714.8, 1.15·√(2·9082·16.922·5.28) = 1465
        (8.0, 20.0, 340.0, 400e6, 714.8),
    ],
)
def test_push_on_screws_in_wood(
    diameter: float,
    thread: float,
    density: float,
    ultimate: float,
    newtons: float,
    outside: Outside,
) -> None:
    outside(
        timber.lateral_en(diameter, thread, density, ultimate),
        newtons,
        rel=1e-3,
        of=f"push on a screw of {diameter:g} mm through a thin plate",
        source="EN 1995-1-1, 8.2.3, equation 8.9, worked by hand",
        unit="N",
        kind="hand-worked",
        seen="recalled",
    )


def test_several_screws_bear_less_than_their_number(outside: Outside) -> None:
    several = np.array([2.0, 4.0])
    outside(
        (several * timber.effective(several)).tolist(),
        [1.866, 3.482],
        rel=1e-3,
        of="screws that count of 2 and of 4, n^0.9",
        source="EN 1995-1-1, 8.7.2(8), worked by hand",
        kind="hand-worked",
        seen="read",
    )


def test_double_lap_joint_of_a_handbook(outside: Outside) -> None:
    """Aluminium, steel, aluminium on 1 in of epoxy, cured warm: 13.3 and 6.0 millionths by 130 °F.

    Both sheets' give adds: 1/(10e6·0.15) + 2/(30e6·0.10) in/lb; the bond's stiffness is
    0.2e6/0.020 lb/in³. The printed shear by heat is 816·sinh(3.65·x) psi, from the middle.
    """
    in_plane, bond = 1.0 / (1.0 / 1.5e6 + 2.0 / 3.0e6), 0.2e6 / 0.020
    free, half = (13.3e-6 - 6.0e-6) * 130.0 * 0.5, 0.5
    rate = float(np.sqrt(bond / in_plane))
    shear = bond * thermal.restrained_movement(free, half, in_plane, bond)
    of = "double-lap joint by heat"
    more: Any = {
        "source": "a mechanical engineering handbook's example of a double-lap joint",
        "seen": "recalled",
    }
    outside(rate, 3.65, rel=1e-3, of=f"{of}: rate of decay", unit="1/in", **more)
    outside(shear / np.sinh(rate * half), 816.0, rel=1e-3, of=f"{of}: shear", unit="psi", **more)


def test_bite_of_structural_glazing(outside: Outside) -> None:
    """A pane of 8 by 16 ft in 60 lb/ft², silicone of 20 psi: a bite of 1 in along its long sides.

    Here as two long pads that share the wind and pull evenly.
    """
    pads = np.array([[-48.0, 0.0], [48.0, 0.0], [0.0, -1e-3], [0.0, 1e-3]])
    share = float(stiff_shares(pads, np.array([1.0, 1.0, 1e-9, 1e-9]))[0, 0])
    pull = np.array(share * 60.0 * 8.0 * 16.0)
    nothing = np.zeros(())
    found = edge_stress(pull, nothing, nothing, np.array(16.0 * 12.0), np.array(1.0))
    outside(
        float(found),
        20.0,
        rel=1e-6,
        of="tension of a structural glazing joint of 1 in",
        source="a waterproofing handbook's example of a structural glazing joint",
        unit="psi",
        seen="read",
    )
