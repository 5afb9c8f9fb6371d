"""Cells, their fit and their translation against pvlib, scipy and their own laws."""

from dataclasses import replace

import numpy as np
import pytest
from pvlib import pvsystem
from pvlib.singlediode import bishop88
from scipy.interpolate import CubicHermiteSpline
from scipy.optimize import minimize, minimize_scalar

from outside_figures import Outside
from sunhitch.types.panel import Panel, PanelElectrical
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.pv.cell import (
    Diode,
    Junction,
    cell_maxima,
    dark_current,
    diode_columns,
    diode_current,
    least_conducting,
)
from sunhitch_service.engine.pv.curve import CubicSet, IvCurve, distinct, open_circuit
from sunhitch_service.engine.pv.nameplate import Plate, Reverse, fit
from sunhitch_service.engine.pv.presets import completed
from sunhitch_service.engine.pv.table import diode_curve, junction_table
from sunhitch_service.engine.pv.translate import (
    Coefficients,
    ReferenceCell,
    dim_efficiency,
    shunt_share,
    standard_power,
    translated,
    translated_all,
    tuning,
)
from sunhitch_service.engine.pv.translate import open_circuit as cell_open_circuit
from sunhitch_service.engine.tables import table

PVLIB = {"kind": "reference program"}
CELLS = {
    "front contact": Junction(4e-10, 0.0283, 0.004, 1.0 / 60.0, -15.0, 0.002, 3.0),
    "back contact": Junction(2e-9, 0.0257, 0.006, 1.0 / 20.0, -5.5, 0.01, 3.28),
    "leaky": Junction(2e-8, 0.0335, 0.009, 1.0 / 4.0, -12.0, 0.1, 4.0),
    "without avalanche": Junction(1e-10, 0.0265, 0.0, 1.0 / 300.0, -15.0, 0.0, 3.5),
}
kinds = pytest.mark.parametrize("cell", CELLS.values(), ids=CELLS)
WEAK = replace(CELLS["front contact"], breakdown_factor=1e-9)
"""Hardly any avalanche, so that pvlib's solutions without one hold."""
RISE = Coefficients(0.0006, -0.0031, -0.0041)


def volts(cell: Junction) -> np.ndarray:
    """Junction voltages from nearly breakdown to strong forward bias."""
    return np.concatenate(
        (cell.breakdown_voltage * np.array([0.98, 0.9, 0.5, 0.1]), [-0.1, 0.0, 0.3, 0.6, 0.68])
    )


@kinds
def test_current_of_a_cell_in_both_directions(cell: Junction, outside: Outside) -> None:
    v = volts(cell)
    theirs, _, _ = bishop88(
        v, 0.0, cell.saturation_current, cell.series_resistance, 1.0 / cell.shunt_conductance,
        cell.thermal_voltage, breakdown_factor=cell.breakdown_factor,
        breakdown_voltage=cell.breakdown_voltage, breakdown_exp=cell.breakdown_exponent,
    )  # fmt: skip
    outside(
        dark_current(v, cell)[0], -theirs, rel=1e-9, of="current of a dark cell", unit="A",
        source="pvlib.singlediode.bishop88 (Bishop 1988)", **PVLIB,
    )  # fmt: skip


@kinds
def test_slope_and_bend_are_those_of_the_current(cell: Junction) -> None:
    v, h = volts(cell), 1e-6
    low, here, high = (dark_current(v + step, cell) for step in (-h, 0.0, h))
    assert here[1] == pytest.approx((high[0] - low[0]) / (2 * h), rel=1e-5)
    assert here[2] == pytest.approx((high[1] - low[1]) / (2 * h), rel=1e-4, abs=1e-6)


def test_a_diode_follows_shockley(outside: Outside) -> None:
    u = np.array([-2.0, -0.1, 0.0, 0.2, 0.45])
    current, slope, bend = diode_current(u, 1e-6, 0.027)
    theirs, _, _ = bishop88(u, 0.0, 1e-6, 0.0, 1e12, 0.027)
    of, source = "current of a bypass diode", "pvlib.singlediode.bishop88"
    outside(current, -theirs, rel=1e-6, abs=1e-11, of=of, source=source, unit="A", **PVLIB)
    assert slope == pytest.approx(1e-6 / 0.027 * np.exp(u / 0.027) + 1e-12)
    assert bend == pytest.approx(1e-6 / 0.027**2 * np.exp(u / 0.027))


@pytest.mark.parametrize("cell", [*CELLS.values(), replace(CELLS["leaky"], saturation_current=0.1)])
def test_a_cell_conducts_least_where_scipy_finds_it(cell: Junction) -> None:
    """Of a cell whose diode lets through very much that is at a reverse voltage."""
    taken, ohms = least_conducting(cell)
    if cell.breakdown_factor == 0.0:  # its conductance falls down to the shunt's
        assert taken < -1e6
        assert ohms == pytest.approx(1.0 / cell.shunt_conductance)
        return
    found = minimize_scalar(
        lambda v: float(dark_current(np.array(v), cell)[1]),
        bounds=(0.9 * cell.breakdown_voltage, 0.6),
        method="bounded",
        options={"xatol": 1e-9},
    )
    assert ohms == pytest.approx(1.0 / found.fun, rel=1e-6)
    assert taken == pytest.approx(float(dark_current(np.array(found.x), cell)[0]), rel=1e-3)


@pytest.mark.parametrize("suns", [1.2, 1.0, 0.3, 0.02, 1e-4])
def test_maximum_of_single_cells(suns: float, outside: Outside) -> None:
    for name, cell in CELLS.items():
        light, own = 6.0 * suns, replace(cell, breakdown_factor=0.0)
        power, v = cell_maxima(own, np.array([light]))[:, 0]
        theirs = pvsystem.max_power_point(
            light, own.saturation_current, own.series_resistance, 1.0 / own.shunt_conductance,
            own.thermal_voltage, method="newton",
        )  # fmt: skip
        outside(
            [power, v], [theirs["p_mp"], theirs["v_mp"]], rel=2e-5,
            of=f"maximum of a cell, {name}, {light:g} A",
            source="pvlib.pvsystem.max_power_point", **PVLIB,
        )  # fmt: skip


@kinds
@pytest.mark.parametrize("light", [8.0, 0.5, 1e-3, 1e-6])
def test_no_current_flows_at_the_open_circuit_voltage(cell: Junction, light: float) -> None:
    v = np.array(cell_open_circuit(light, cell))
    assert dark_current(v, cell)[0] == pytest.approx(light, rel=1e-9)


def test_cells_in_the_dark_give_nothing() -> None:
    assert cell_maxima(CELLS["leaky"], np.zeros(2))[0].tolist() == [0.0, 0.0]


# Curves on points


X = np.array([[0.0, 1.0, 2.5, 3.0], [-1.0, 0.0, 4.0, 9.0]])
Y = X + 0.2 * np.sin(X)
SLOPE = 1.0 + 0.2 * np.cos(X)


@pytest.mark.parametrize("curve", [0, 1])
def test_a_curve_is_scipys_cubic_and_straight_beyond_its_ends(curve: int) -> None:
    x, y, slope = X[curve], Y[curve], SLOPE[curve]
    found = CubicSet(X, Y, SLOPE)
    inside = np.linspace(x[0], x[-1], 57)
    theirs = CubicHermiteSpline(x, y, slope)
    value, steep = found.at(inside, curve)
    assert value == pytest.approx(theirs(inside), abs=1e-12)
    assert steep == pytest.approx(theirs(inside, 1), abs=1e-12)
    for end, beyond in ((0, x[0] - 0.7), (-1, x[-1] + 50.0)):
        value, steep = found.at(np.array([beyond]), curve)
        assert value == pytest.approx(y[end] + slope[end] * (beyond - x[end]))
        assert steep == pytest.approx(slope[end])


@pytest.mark.parametrize("steep", [(9.0, 1.0), (1.0, 9.0), (9.0, 9.0)])
def test_slopes_too_steep_for_a_monotone_curve_are_cut(steep: tuple[float, float]) -> None:
    """Three times the chord's at most (Fritsch, Carlson 1980), and no less than that is cut."""
    ends = np.array([[0.0, 2.0]])
    value, slope = CubicSet(ends, ends, np.array([steep])).at(np.linspace(0.0, 2.0, 201))
    assert (np.diff(value) >= 0.0).all()
    assert [slope[0], slope[-1]] == pytest.approx([min(own, 3.0) for own in steep])
    just = np.array([[3.0, 3.0]])
    assert CubicSet(ends, ends, just).at(np.array([0.0, 2.0]))[1] == pytest.approx([3.0, 3.0])


def test_a_curve_read_over_voltage_and_over_current() -> None:
    v = np.linspace(-1.0, 20.0, 200)
    curve = IvCurve(v, 5.0 - 0.01 * v - 0.0001 * np.exp(0.6 * v), -0.01 - 0.00006 * np.exp(0.6 * v))
    at = np.array([0.3, 7.7, 17.1])
    current, slope = curve.currents(at)
    assert current == pytest.approx(5.0 - 0.01 * at - 0.0001 * np.exp(0.6 * at), rel=1e-6)
    volts, ohms = curve.voltages(current)
    assert volts == pytest.approx(at, rel=1e-4)
    assert ohms == pytest.approx(-1.0 / slope, rel=2e-3)
    assert curve.currents(np.array([curve.open_circuit]))[0] == pytest.approx([0.0], abs=5e-3)
    assert open_circuit(np.array([-2.0, 2.0]), np.array([1.0, 5.0])) == 3.0


def test_of_points_that_coincide_one_is_kept() -> None:
    x = np.array([0.0, 1e-13, 1.0, 1.0, 2.0, 2.0 + 1e-9])
    assert distinct(x).tolist() == [True, False, True, False, True, True]


@kinds
def test_a_table_of_the_junction_voltage_is_right_between_its_points(cell: Junction) -> None:
    """From breakdown to all that the other strings can drive forwards; its ends hold all asked."""
    table = junction_table(cell, 8.0, 16.0)
    assert table.j[-1] >= 24.0
    assert table.j[0] <= -24.0
    middle = 0.5 * (table.j[1:] + table.j[:-1])
    v = table.voltages.at(middle)[0]
    assert dark_current(v, cell)[0] == pytest.approx(middle, rel=2e-4, abs=2e-5)


def test_a_diodes_curve_conducts_at_negative_voltage() -> None:
    """As a source across cells: at −0.5 V what Shockley and its resistance let through."""
    diode = Diode(1e-6, 0.027, 0.01)
    curve = diode_curve(diode, 8.0, 40.0)
    assert curve.i.max() >= 8.0
    assert curve.v[-1] >= 40.0
    assert (np.diff(curve.v) > 0.0).all()
    current = curve.currents(np.array([-0.4, -0.45, 30.0]))[0]
    u = np.array([0.4, 0.45]) - 0.01 * current[:2]
    assert current[:2] == pytest.approx(1e-6 * np.expm1(u / 0.027), rel=2e-3)
    assert current[2] == pytest.approx(-1e-6, rel=1e-3)
    assert diode_columns([diode]).tolist() == [[1e-6], [0.027], [0.01]]


# From a nameplate to a cell


def plate_of(cell: ReferenceCell) -> Plate:
    """The nameplate that a cell would have, by scipy's search for its maximum."""

    def current(v: float) -> float:
        return cell.photocurrent - float(dark_current(np.array(v), cell.junction)[0])

    rs = cell.junction.series_resistance
    v_oc = cell_open_circuit(cell.photocurrent, cell.junction)
    top = minimize_scalar(
        lambda v: -current(v) * (v - rs * current(v)), bounds=(0.5 * v_oc, v_oc), method="bounded",
        options={"xatol": 1e-12},
    ).x  # fmt: skip
    short = 0.99 * cell.photocurrent
    for _ in range(200):
        short = 0.5 * (short + current(short * rs))
    return Plate(top - rs * current(top), current(top), v_oc, short)


def known(ideality: float, rs: float = 0.005, shunt: float = 0.02) -> ReferenceCell:
    vt = ideality * 0.025692579
    return ReferenceCell(
        6.4, Junction(6.4 / float(np.expm1(0.63 / vt)), vt, rs, shunt, -15.0, 0.002, 3.0)
    )


@pytest.mark.parametrize(("rs", "shunt"), [(0.005, 0.02), (0.0008, 0.1), (0.012, 0.001)])
@pytest.mark.parametrize("reverse", [(-15.0, 0.002, 3.0), (-5.5, 0.05, 3.28), (-3.0, 0.8, 4.0)])
def test_a_cell_is_found_again_from_its_nameplate(rs, shunt, reverse) -> None:
    """With the usual ideality all else is determined by the five conditions."""
    cell = known(1.1, rs, shunt)
    own = replace(
        cell.junction,
        breakdown_voltage=reverse[0], breakdown_factor=reverse[1], breakdown_exponent=reverse[2],
    )  # fmt: skip
    cell = ReferenceCell(cell.photocurrent, own)
    found = fit(plate_of(cell), Reverse(*reverse))
    assert found.exact
    assert found.ideality == pytest.approx(1.1)
    got = found.cell.junction
    assert found.cell.photocurrent == pytest.approx(6.4, rel=1e-5)
    assert got.saturation_current == pytest.approx(own.saturation_current, rel=1e-3)
    assert got.series_resistance == pytest.approx(rs, rel=1e-3)
    assert got.shunt_conductance == pytest.approx(shunt, rel=1e-3)
    assert got.thermal_voltage == pytest.approx(own.thermal_voltage, rel=1e-6)


@pytest.mark.parametrize("ideality", [0.7, 1.0, 1.3, 1.7])
def test_a_measured_low_light_efficiency_tells_the_ideality(ideality: float) -> None:
    cell = known(ideality)
    assert fit(plate_of(cell), Reverse(-15.0, 0.002, 3.0), dim_efficiency(cell)).ideality == (
        pytest.approx(ideality, abs=0.01)
    )


@pytest.mark.parametrize("dim", [0.6, 1.15])
def test_a_low_light_efficiency_beyond_reach_gives_the_nearest(dim: float) -> None:
    plate, reverse = plate_of(known(1.1)), Reverse(-15.0, 0.002, 3.0)
    reached = dim_efficiency(fit(plate, reverse, dim).cell)
    other = dim_efficiency(fit(plate, reverse, 1.75 - dim).cell)
    assert abs(reached - dim) < abs(other - dim)


def test_a_nameplate_beyond_any_cell_is_met_but_for_its_maximum() -> None:
    """A fill factor of 0.92: Voc and Isc hold, and Imp as nearly as no loss at all allows."""
    plate = Plate(0.60, 5.4, 0.63, 5.55)
    found = fit(plate, Reverse(-15.0, 0.002, 3.0))
    assert not found.exact
    assert fit(plate, Reverse(-15.0, 0.002, 3.0), 0.95) == found
    got = plate_of(found.cell)
    assert (got.v_oc, got.i_sc) == pytest.approx((0.63, 5.55), rel=1e-4)
    assert found.cell.junction.saturation_current > 0.0
    assert got.v_mp * got.i_mp == pytest.approx(0.60 * 5.4, rel=0.02)


@pytest.mark.parametrize(("v_mp", "i_mp"), [(0.45, 5.53), (0.40, 5.54), (0.60, 5.4), (0.47, 5.5)])
def test_the_nearest_cell_is_that_of_scipys_least_squares(v_mp: float, i_mp: float) -> None:
    """Of all without a shunt that meet Isc and Voc: current and slope of power at the maximum, to
    a hundredth of Isc: between points of the search is a narrow valley."""
    plate, reverse = Plate(v_mp, i_mp, 0.63, 5.55), Reverse(-15.0, 0.002, 3.0)
    found = fit(plate, reverse)
    assert not found.exact

    def off(x: np.ndarray) -> float:
        vt, rs = x[0] * 0.025692579, x[1]
        at = np.array([5.55 * rs, v_mp + i_mp * rs, 0.63])
        e = np.exp((at - 0.63) / vt)
        i0 = 5.55 / (1.0 - e[0])  # at open circuit
        current, slope = i0 * (1.0 - e[1]), i0 * e[1] / vt
        return float((current - i_mp) ** 2 + (current - v_mp * slope / (1.0 + slope * rs)) ** 2)

    most = (0.63 - v_mp) / i_mp
    best = min(
        (
            minimize(off, (n, share * most), bounds=[(0.3, 2.5), (0.0, 0.999 * most)])
            for n in (0.4, 1.0, 2.0)
            for share in (0.02, 0.5, 0.9)
        ),
        key=lambda one: float(one.fun),
    )
    own = np.array([found.ideality, found.cell.junction.series_resistance])
    assert np.sqrt(off(own)) <= np.sqrt(best.fun) + 0.01 * 5.55


def test_a_cell_of_a_hundredth_of_the_current_is_the_same_with_a_hundred_times_the_resistance():
    """Also one of some milliamperes, and one that meets its nameplate only nearly."""
    for v_mp, i_mp in ((0.53, 5.1), (0.45, 5.53)):
        plates = Plate(v_mp, i_mp, 0.63, 5.55), Plate(v_mp, i_mp / 100.0, 0.63, 5.55 / 100.0)
        large, small = (fit(plate, Reverse(-15.0, 0.002, 3.0)) for plate in plates)
        assert large.exact == small.exact
        assert small.ideality == large.ideality
        ohms = [found.cell.junction.series_resistance for found in (large, small)]
        assert ohms[1] == pytest.approx(100.0 * ohms[0])
        assert small.cell.photocurrent == pytest.approx(large.cell.photocurrent / 100.0, rel=1e-4)


# Other light and other temperatures


@pytest.mark.parametrize("sun", [1000.0, 200.0, 37.0])
@pytest.mark.parametrize("warm", [25.0, 70.0, -15.0])
def test_translation_is_de_sotos(sun: float, warm: float, outside: Outside) -> None:
    """pvlib's with the band gap that meets Voc's coefficient; ours lets Rs grow beside."""
    cell = known(1.1)
    own = cell.junction
    tuned = tuning(cell, RISE)
    theirs = pvsystem.calcparams_desoto(
        sun, warm, alpha_sc=RISE.alpha_sc * cell.photocurrent, a_ref=own.thermal_voltage,
        I_L_ref=cell.photocurrent, I_o_ref=own.saturation_current,
        R_sh_ref=1.0 / own.shunt_conductance, R_s=own.series_resistance,
        EgRef=tuned.band_gap, dEgdT=0.0,
    )  # fmt: skip
    light, ours = translated(cell, RISE, sun, warm)
    grown = np.exp(tuned.resistance_growth * (warm - 25.0))
    outside(
        [light, ours.saturation_current, ours.series_resistance / grown,
         1.0 / ours.shunt_conductance, ours.thermal_voltage],
        theirs, rel=1e-6,
        of=f"parameters of a cell at {sun:g} W/m² and {warm:g} °C",
        source="pvlib.pvsystem.calcparams_desoto (De Soto, Klein, Beckman 2006)", **PVLIB,
    )  # fmt: skip
    assert ours.breakdown_voltage == own.breakdown_voltage
    currents, rows = translated_all(cell, RISE, np.full(2, sun), np.full(2, warm))
    assert currents == pytest.approx([light, light], rel=1e-12)
    assert rows[:, 1] == pytest.approx(
        [ours.saturation_current, ours.thermal_voltage, ours.series_resistance,
         ours.shunt_conductance, ours.breakdown_voltage, ours.breakdown_factor,
         ours.breakdown_exponent], rel=1e-12,
    )  # fmt: skip


@pytest.mark.parametrize("gamma", [-0.0037, -0.0041, -0.0045])
@pytest.mark.parametrize("beta", [-0.0026, -0.0033])
@pytest.mark.parametrize("alpha", [0.0, 0.0006])
def test_coefficients_of_the_nameplate_are_met(alpha, beta, gamma, outside: Outside) -> None:
    """Between 25 and 50 °C, where the cells' power is pvlib's; resistance takes 0.05 of it."""
    rise, cell = Coefficients(alpha, beta, gamma), known(1.1, rs=0.01, shunt=0.005)
    light, warm = translated(cell, rise, 1000.0, 50.0)
    ends = [
        pvsystem.singlediode(
            i, j.saturation_current, j.series_resistance, 1.0 / j.shunt_conductance,
            j.thermal_voltage, method="lambertw",
        )
        for i, j in ((cell.photocurrent, cell.junction), (light, warm))
    ]  # fmt: skip
    reached = [(ends[1][key] / ends[0][key] - 1.0) / 25.0 for key in ("i_sc", "v_oc", "p_mp")]
    more = {"source": "pvlib.pvsystem.singlediode at 25 and 50 °C", **PVLIB}
    of = f"coefficients {alpha:g}, {beta:g} and {gamma:g} as the model has them"
    outside(reached[:2], [alpha, beta], abs=5e-7, of=f"{of}, Isc and Voc", unit="1/K", **more)
    tuned = tuning(cell, rise)
    outside(reached[2], tuned.gamma_pmp, abs=2e-5, of=f"{of}, Pmp", unit="1/K", **more)
    within = abs(tuned.resistance_growth) < 0.0099
    assert within == (abs(tuned.gamma_pmp - gamma) < 1e-6)


@pytest.mark.parametrize(("gamma", "growth"), [(-0.015, 0.01), (-0.0005, -0.01)])
def test_resistance_grows_or_shrinks_by_one_percent_a_kelvin_at_most(gamma, growth) -> None:
    """A metal's grows by 0.4 % (common practice)."""
    tuned = tuning(known(1.1), replace(RISE, gamma_pmp=gamma))
    assert tuned.resistance_growth == pytest.approx(growth, rel=1e-6)


def test_dim_light_and_standard_power_are_pvlibs(outside: Outside) -> None:
    cell = ReferenceCell(6.4, WEAK)
    full, dim = (
        pvsystem.max_power_point(
            6.4 * sun, WEAK.saturation_current, WEAK.series_resistance,
            1.0 / (WEAK.shunt_conductance * sun), WEAK.thermal_voltage,
        )["p_mp"]
        for sun in (1.0, 0.2)
    )  # fmt: skip
    source = "pvlib.pvsystem.max_power_point"
    outside(
        standard_power(cell), full, rel=1e-5, of="power of a cell", unit="W", source=source, **PVLIB
    )
    of = "efficiency of a cell at 200 W/m², of that at 1000 W/m²"
    outside(dim_efficiency(cell), dim / full / 0.2, rel=1e-5, of=of, source=source, **PVLIB)


@pytest.mark.parametrize(
    ("sun", "brightest", "share"),
    [(1000.0, 0.3, 0.3), (1000.0, 0.002, 0.002), (1000.0, 0.001, 0.002), (1.0, 1.0, 2.0)],
)
def test_shunts_follow_the_brightest_cell_down_to_2_w_m2(sun, brightest, share) -> None:
    """So that a panel in the dark keeps its shunt and its avalanche."""
    assert shunt_share(sun, brightest) == pytest.approx(share)


# What is taken where nothing is given


def test_usual_coefficients_are_medians_of_the_module_list(outside: Outside) -> None:
    listed = pvsystem.retrieve_sam("CECMod").T
    own = listed[listed.Technology == "Mono-c-Si"]
    wanted = [
        np.median((own[change] / whole).astype(float))
        for change, whole in (
            ("alpha_sc", own.I_sc_ref),
            ("beta_oc", own.V_oc_ref),
            ("gamma_r", 100.0),
        )
    ]
    names = ("alpha_sc", "beta_voc", "gamma_pmp")
    rows = table("pv", "coefficients")
    outside(
        [float(rows.row("coefficient", f"{n}_fraction_per_c")["fraction_per_c"]) for n in names],
        wanted, rel=0.01, of="coefficients where none is given", unit="1/K",
        source="module list that pvlib ships (CEC), medians of 9,725 monocrystalline modules",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("construction", "reverse", "seen"),
    [
        ("full-cell-2-diodes", (-15.0, 0.002, 3.0), "recalled"),
        ("back-contact-2-diodes", (-5.5, 0.01, 3.28), "common practice"),
    ],
)
def test_cells_break_down_as_those_of_pvlib(construction, reverse, seen, outside: Outside) -> None:
    """Its example of partial shading, and the defaults of bishop88, which has no factor."""
    plate = PanelElectrical(
        p_mp_w=90.0, v_mp_v=18.0, i_mp_a=5.0, v_oc_v=22.0, i_sc_a=5.4, cells_in_series=36
    )
    own = completed(Panel(electrical=plate, construction=construction), Assumptions(), "")
    cell = own.cell.junction
    outside(
        [cell.breakdown_voltage, cell.breakdown_factor, cell.breakdown_exponent], reverse,
        rel=1e-6, of=f"breakdown voltage, factor and exponent, {construction}",
        source="pvlib: example of partial module shading, defaults of bishop88", seen=seen,
    )  # fmt: skip


def test_the_usual_diode_is_a_schottky_diode() -> None:
    """Common practice, no source."""
    (row,) = table("pv", "diodes").rows
    figures = {key: float(value) for key, value in row.items() if key not in ("use", "row_note")}
    assert figures == {
        "saturation_current_a": 1e-6, "ideality_factor": 1.05, "series_resistance_ohm": 0.01,
    }  # fmt: skip
