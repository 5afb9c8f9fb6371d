"""From a nameplate to the single-diode parameters of one cell.

With the ideality factor held, light current, saturation current and shunt conductance are linear
in the three nameplate points for any series resistance; the slope of power at the nameplate's
maximum then fixes the series resistance by a bracketed root.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from .cell import BOLTZMANN_OVER_CHARGE_V_K, STC_KELVIN, Array, Junction
from .translate import ReferenceCell, dim_efficiency

_USUAL_IDEALITY = 1.1
_IDEALITIES = np.arange(30, 251, 2) / 100.0
_TRIALS = 24
_LEAST_SHUNT_S = 1e-9
_HALVINGS, _IDEALITY_HALVINGS = 52, 14
_WIDEST = 0.999


@dataclass(frozen=True, slots=True)
class Plate:
    """Nameplate of one cell: voltages per cell in series, currents per path.

    Parameters
    ----------
    v_mp, i_mp, v_oc, i_sc : float
        [V] and [A] at 1000 W/m² and 25 °C.
    """

    v_mp: float
    i_mp: float
    v_oc: float
    i_sc: float


@dataclass(frozen=True, slots=True)
class Reverse:
    """Bishop's avalanche term: breakdown voltage [V], factor and exponent."""

    voltage: float
    factor: float
    exponent: float


@dataclass(frozen=True, slots=True)
class Fit:
    """Fitted cell at 1000 W/m² and 25 °C.

    Parameters
    ----------
    cell : ReferenceCell
        Light current and junction.
    ideality : float
        Ideality factor.
    exact : bool
        Whether all nameplate points are met.
    """

    cell: ReferenceCell
    ideality: float
    exact: bool


@lru_cache(maxsize=512)
def fit(plate: Plate, reverse: Reverse, dim: float | None = None) -> Fit:
    """Fit one cell to its nameplate.

    Parameters
    ----------
    plate : Plate
        With Vmp < Voc and Imp < Isc.
    reverse : Reverse
        Avalanche term, which counts in forward bias too.
    dim : float, optional
        Measured efficiency at 200 W/m² and 25 °C as a share of that at 1000 W/m².

    Returns
    -------
    Fit
        The ideality nearest 1.1 that gives Rs ≥ 0 and a positive shunt, or of all that do the one
        that comes nearest to `dim`; if none does, the set nearest to the nameplate, marked as not
        exact.
    """
    nearest = sorted(_IDEALITIES.tolist(), key=lambda ideality: abs(ideality - _USUAL_IDEALITY))
    if dim is None:
        return _first(plate, reverse, nearest) or _nearest(plate, reverse)
    low = _first(plate, reverse, sorted(nearest))
    high = _first(plate, reverse, sorted(nearest, reverse=True))
    if low is None or high is None:
        return _nearest(plate, reverse)
    return _as_dim(plate, reverse, dim, low, high)


def _first(plate: Plate, reverse: Reverse, idealities: list[float]) -> Fit | None:
    """Fit of the first ideality that can meet the nameplate."""
    return next(filter(None, (_met(plate, reverse, ideality) for ideality in idealities)), None)


def _met(plate: Plate, reverse: Reverse, ideality: float) -> Fit | None:
    """The fit of one ideality that meets the nameplate, if there is one."""
    trials = np.linspace(0.0, _WIDEST * (plate.v_oc - plate.v_mp) / plate.i_mp, _TRIALS)
    rise, _, shunt = _linear(plate, reverse, ideality, trials)
    turns = (rise[:-1] <= 0.0) != (rise[1:] <= 0.0)
    hopeful = np.maximum(shunt[:-1], shunt[1:]) > 0.0
    for start in np.flatnonzero(turns & hopeful).tolist():
        resistance = _root(plate, reverse, ideality, float(trials[start]), float(trials[start + 1]))
        _, saturation, conductance = _linear(plate, reverse, ideality, resistance)
        if saturation > 0.0 and conductance > _LEAST_SHUNT_S:
            return _fitted(plate, reverse, ideality, resistance, float(conductance), exact=True)
    return None


def _as_dim(plate: Plate, reverse: Reverse, dim: float, low: Fit, high: Fit) -> Fit:
    """Halve the range of idealities: the efficiency in dim light falls as they rise."""
    for _ in range(_IDEALITY_HALVINGS):
        middle = _met(plate, reverse, 0.5 * (low.ideality + high.ideality))
        if middle is None:
            break
        low, high = (middle, high) if dim_efficiency(middle.cell) > dim else (low, middle)
    return min((low, high), key=lambda found: abs(dim_efficiency(found.cell) - dim))


def _linear(
    plate: Plate, reverse: Reverse, ideality: Array | float, resistance: Array | float
) -> tuple[Array, Array, Array]:
    """Solve the three nameplate points for trial ideality and series resistance."""
    vt, rs = np.broadcast_arrays(ideality, resistance)
    vt = vt * (BOLTZMANN_OVER_CHARGE_V_K * STC_KELVIN)
    e, shunt, shunt_slope = _terms(_junction_voltages(plate, rs), plate.v_oc, vt, reverse)
    de, ds = e[2] - e, shunt[2] - shunt
    determinant = de[0] * ds[1] - de[1] * ds[0]
    saturation = (plate.i_sc * ds[1] - plate.i_mp * ds[0]) / determinant
    conductance = (de[0] * plate.i_mp - de[1] * plate.i_sc) / determinant
    slope = saturation * e[1] / vt + conductance * shunt_slope[1]
    return plate.i_mp - plate.v_mp * slope / (1.0 + slope * rs), saturation, conductance


def _junction_voltages(plate: Plate, rs: Array) -> Array:
    """At short circuit, maximum and open circuit."""
    at_maximum = plate.v_mp + plate.i_mp * rs
    return np.stack((plate.i_sc * rs, at_maximum, np.full_like(at_maximum, plate.v_oc)))


def _terms(v: Array, v_oc: float, vt: Array, reverse: Reverse) -> tuple[Array, Array, Array]:
    """exp((Vd − Voc)/nVt), and the shunt current per siemens with its slope."""
    x = 1.0 - v / reverse.voltage
    p = reverse.factor * x**-reverse.exponent
    slope = 1.0 + p + v * p * reverse.exponent / (reverse.voltage * x)
    return np.exp((v - v_oc) / vt), v * (1.0 + p), slope


def _root(plate: Plate, reverse: Reverse, ideality: float, low: float, high: float) -> float:
    """Series resistance at which power has its top at the nameplate's maximum."""
    falling = bool(_linear(plate, reverse, ideality, low)[0] <= 0.0)
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        if bool(_linear(plate, reverse, ideality, middle)[0] <= 0.0) == falling:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def _fitted(
    plate: Plate,
    reverse: Reverse,
    ideality: float,
    resistance: float,
    conductance: float,
    exact: bool,
) -> Fit:
    """Light and saturation current that meet Isc and Voc with the other parameters given."""
    vt = ideality * BOLTZMANN_OVER_CHARGE_V_K * STC_KELVIN
    v = _junction_voltages(plate, np.asarray(resistance))
    e, shunt, _ = _terms(v, plate.v_oc, np.asarray(vt), reverse)
    at_open = (plate.i_sc - conductance * (shunt[2] - shunt[0])) / (e[2] - e[0])
    saturation = float(at_open * np.exp(-plate.v_oc / vt))
    photocurrent = float(at_open - saturation + conductance * shunt[2])
    junction = Junction(
        saturation, vt, resistance, conductance, reverse.voltage, reverse.factor, reverse.exponent
    )
    return Fit(ReferenceCell(photocurrent, junction), ideality, exact)


def _nearest(plate: Plate, reverse: Reverse) -> Fit:
    """Least squares of current and slope at the maximum, Isc and Voc met, almost no shunt."""
    rs = np.linspace(0.0, _WIDEST * (plate.v_oc - plate.v_mp) / plate.i_mp, 10 * _TRIALS)
    ideality, resistance = np.broadcast_arrays(_IDEALITIES[:, None], rs)
    vt = ideality * (BOLTZMANN_OVER_CHARGE_V_K * STC_KELVIN)
    e, _, _ = _terms(_junction_voltages(plate, resistance), plate.v_oc, vt, reverse)
    at_open = plate.i_sc / (e[2] - e[0])
    current, slope = at_open * (e[2] - e[1]), at_open * e[1] / vt
    rise = current - plate.v_mp * slope / (1.0 + slope * resistance)
    error = (current - plate.i_mp) ** 2 + rise**2
    best = np.unravel_index(np.argmin(np.where(at_open > 0.0, error, np.inf)), error.shape)
    found = float(ideality[best]), float(resistance[best])
    return _fitted(plate, reverse, *found, _LEAST_SHUNT_S, exact=False)
