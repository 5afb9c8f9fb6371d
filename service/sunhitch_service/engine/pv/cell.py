"""A solar cell and a diode: current over junction voltage, with derivatives.

Currents are those of a generator: positive out of the positive terminal.
"""

from dataclasses import dataclass, fields
from functools import lru_cache
from typing import Generic, TypeVar

import numpy as np
from numpy.typing import NDArray

from .accelerate import loops

Array = NDArray[np.float64]
Index = NDArray[np.int64]
Mask = NDArray[np.bool_]
Value = TypeVar("Value", float, Array)

BOLTZMANN_OVER_CHARGE_V_K = 8.617333262e-5
"""k/q [V/K], from the exact SI values of k and q."""
STC_KELVIN = 298.15
LARGEST_EXPONENT = 600.0
"""Of e, in a diode's current: finite, and far beyond any current that an array has."""
NEAREST_BREAKDOWN = 1e-12
"""1 − Vd/Vbr at least: a cell without an avalanche term may be driven beyond Vbr."""
_NEVER_A = 1e30
_HALVINGS, _MOST_STEPS = 50, 12
_CLOSE_V = 1e-5
"""From here the next change of a junction's voltage does not matter at the top of its power [V]."""
LEAST_CONDUCTANCE_S = 1e-12
"""In parallel with every diode, so that a blocked one still has a slope, and where none is."""

LIMITS = LARGEST_EXPONENT, NEAREST_BREAKDOWN, LEAST_CONDUCTANCE_S
"""For compiled loops, which may read nothing of other modules."""


@dataclass(frozen=True, slots=True)
class JunctionFields(Generic[Value]):
    """Cells without their light current, each field one figure or one for every cell.

    Parameters
    ----------
    saturation_current : float or ndarray
        I0 [A].
    thermal_voltage : float or ndarray
        n·k·T/q [V].
    series_resistance, shunt_conductance : float or ndarray
        Rs [Ω] and 1/Rsh [S].
    breakdown_voltage : float or ndarray
        Vbr [V], negative.
    breakdown_factor, breakdown_exponent : float or ndarray
        a and m of the avalanche term.
    """

    saturation_current: Value
    thermal_voltage: Value
    series_resistance: Value
    shunt_conductance: Value
    breakdown_voltage: Value
    breakdown_factor: Value
    breakdown_exponent: Value


_FIELDS = [field.name for field in fields(JunctionFields)]


@dataclass(frozen=True, slots=True)
class Junction(JunctionFields[float]):
    """One cell."""


@dataclass(frozen=True, slots=True)
class Junctions(JunctionFields[Array]):
    """Many cells."""


@dataclass(frozen=True, slots=True)
class Diode:
    """A bypass or blocking diode: saturation current [A], n·k·T/q [V], series resistance [Ω]."""

    saturation_current: float
    thermal_voltage: float
    series_resistance: float


def gather(junctions: list[Junction], index: Index) -> Junctions:
    """Junction parameters per element.

    Parameters
    ----------
    junctions : list of Junction
        The distinct ones.
    index : ndarray of int, shape (elements,)
        Which of them each element is.

    Returns
    -------
    Junctions
        Arrays of shape (elements,).
    """
    rows = np.array([[getattr(j, field.name) for field in fields(Junction)] for j in junctions])
    return Junctions(*rows[index].T)


def rows_of(cells: Junction | Junctions) -> Array:
    """Cells as compiled loops read them, one a row: one row for equal cells.

    Returns
    -------
    ndarray, shape (cells, 9)
        The fields in order, then 1/(n·k·T/q) and 1/Vbr [1/V].
    """
    columns = [getattr(cells, name) for name in _FIELDS]
    columns += [1.0 / cells.thermal_voltage, 1.0 / cells.breakdown_voltage]
    return np.array(columns).reshape(len(columns), -1).T.copy()


def dark_current(v: Array, cell: Junction | Junctions) -> tuple[Array, Array, Array]:
    """Current that the junction takes from the light current, with two derivatives.

    Parameters
    ----------
    v : ndarray
        Junction voltage Vd [V], above the breakdown voltage.
    cell : Junction or Junctions
        Parameters that broadcast with `v`.

    Returns
    -------
    tuple of ndarray
        IL − I [A], its derivative [S] and second derivative [S/V] over Vd.

    References
    ----------
    J. W. Bishop, Solar Cells 25 (1988): avalanche term in the shunt current.
    """
    vt, g, vbr = cell.thermal_voltage, cell.shunt_conductance, cell.breakdown_voltage
    saturation, m = cell.saturation_current, cell.breakdown_exponent
    e = saturation * np.exp(np.minimum(v / vt, LARGEST_EXPONENT))
    e1 = e / vt
    inner = np.minimum(vbr - v, NEAREST_BREAKDOWN * vbr)
    x = inner / vbr
    p = (g * cell.breakdown_factor) * x**-m
    p1 = p * m / inner
    ohmic, bend = g + p, v * p1
    return (
        e - saturation + ohmic * v,
        e1 + ohmic + bend,
        e1 / vt + 2.0 * p1 + bend * ((m + 1.0) / inner),
    )


@lru_cache(maxsize=512)
def least_conducting(cell: Junction) -> tuple[float, float]:
    """Where a junction conducts least: IL − I there [A], and its resistance [Ω].

    Its conductance falls with voltage towards there and rises beyond, by halving its slope.

    Parameters
    ----------
    cell : Junction
        The junction.
    """
    if cell.breakdown_factor == 0.0:
        return -_NEVER_A, 1.0 / cell.shunt_conductance
    low, high = 0.9 * cell.breakdown_voltage, -cell.breakdown_voltage
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        bend = dark_current(np.array(middle), cell)[2]
        low, high = (low, middle) if bend > 0.0 else (middle, high)
    taken, slope, _ = dark_current(np.array(low), cell)
    return float(taken), float(1.0 / slope)


def cell_maxima_of(junction: Junction | Junctions, currents: Array) -> Array:
    """Maximum power of single cells and its voltage, compiled where this process has loops.

    As `cell_maxima`, whose last bits may differ: nothing of it is kept for later requests.
    """
    compiled = loops()
    if compiled is None:
        return cell_maxima(junction, currents)
    limits = LIMITS, _CLOSE_V, _MOST_STEPS
    light = np.ascontiguousarray(currents)
    return np.asarray(compiled.cell_maxima(rows_of(junction), light, *limits))


def cell_maxima(junction: Junction | Junctions, currents: Array) -> Array:
    """Maximum power of single cells and its voltage, by Newton on dP/dVd.

    Parameters
    ----------
    junction : Junction or Junctions
        Their junctions.
    currents : ndarray, shape (n,)
        Light currents [A].

    Returns
    -------
    ndarray, shape (2, n)
        Power [W] and terminal voltage [V].
    """
    rs, vt = junction.series_resistance, junction.thermal_voltage
    ratio = np.log1p(currents / junction.saturation_current)
    arm = np.maximum(vt * (ratio - np.log1p(ratio)) - (2.0 * rs) * currents, 0.0)
    v = np.minimum(
        vt * (ratio - np.log1p(np.minimum(arm / vt, ratio))),
        currents / (2.0 * junction.shunt_conductance),
    )
    i, most = currents, ratio * vt
    for _ in range(_MOST_STEPS):
        taken, slope, bend = dark_current(v, junction)
        i = currents - taken
        arm = v - (2.0 * rs) * i
        change = (i - slope * arm) / (bend * arm + 2.0 * slope * (1.0 + slope * rs))
        moved = np.minimum(np.maximum(v + change, 0.0), most)
        change = moved - v
        v = moved
        i = i - change * (slope + 0.5 * bend * change)
        if np.abs(change).max() < _CLOSE_V:
            break
    v = v - i * rs
    return np.array((np.maximum(i * v, 0.0), v))


def diode_columns(diodes: list[Diode]) -> Array:
    """Saturation currents [A], n·k·T/q [V] and series resistances [Ω], one row each."""
    return np.array(
        [
            [d.saturation_current for d in diodes],
            [d.thermal_voltage for d in diodes],
            [d.series_resistance for d in diodes],
        ]
    )


def conducting_v(diodes: Array, current: Array) -> Array:
    """Junction voltage [V] at which diodes in columns carry a current; zero where there is none."""
    saturation, thermal, _ = diodes
    present = np.where(saturation > 0.0, saturation, np.inf)
    return np.asarray(thermal * np.log1p(np.maximum(current, 0.0) / present))


def diode_current(
    u: Array, saturation: float | Array, thermal: float | Array
) -> tuple[Array, Array, Array]:
    """Diode current over its junction voltage, with two derivatives.

    Parameters
    ----------
    u : ndarray
        Junction voltage, positive when it conducts [V].
    saturation, thermal : float or ndarray
        Saturation current [A], 0 where there is no diode, and n·k·T/q [V].

    Returns
    -------
    tuple of ndarray
        Current [A], slope [S], curvature [S/V].
    """
    e = saturation * np.exp(np.minimum(u / thermal, LARGEST_EXPONENT))
    slope = e / thermal
    current = e - saturation + LEAST_CONDUCTANCE_S * u
    return current, slope + LEAST_CONDUCTANCE_S, slope / thermal
