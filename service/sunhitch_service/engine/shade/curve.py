"""Falling current-voltage curves on points with slopes: read, join in parallel, join in series."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from .cell import Array

_CLOSEST = 1e-11
"""Points closer than this share of the range count as one."""


class Cubic:
    """Monotone cubic through points with known slopes, straight beyond the ends.

    Parameters
    ----------
    x : ndarray, shape (n,)
        Rising abscissas.
    pieces : ndarray, shape (5, n + 1)
        From `pieces`.

    References
    ----------
    F. N. Fritsch, R. E. Carlson, SIAM J. Numer. Anal. 17 (1980): slopes of at most three times
    the chord's keep a cubic monotone.
    """

    def __init__(self, x: Array, pieces: Array) -> None:
        self._x = x
        self._pieces = pieces

    def at(self, x: Array) -> tuple[Array, Array]:
        """Ordinates and derivatives."""
        x0, y0, m, c2, c3 = self._pieces.take(self._x.searchsorted(x), axis=1)
        d = x - x0
        cubic = c3 * d
        bend = cubic + c2
        mean = m + bend * d
        return y0 + d * mean, mean + d * (bend + cubic)


def pieces(x: Array, y: Array, slope: Array) -> Array:
    """Pieces of one cubic or more, with one beyond each end.

    Parameters
    ----------
    x : ndarray, shape (..., n)
        Rising abscissas.
    y : ndarray, shape (..., n) or (n,)
        Ordinates.
    slope : ndarray, shape (..., n)
        Derivatives.

    Returns
    -------
    ndarray, shape (..., 5, n + 1)
        Abscissa and ordinate where each piece begins, and coefficients of its three powers.
    """
    h = x[..., 1:] - x[..., :-1]
    chord = (y[..., 1:] - y[..., :-1]) / h
    bound = 3.0 * np.abs(chord)
    steep = np.abs(slope)
    left = np.copysign(np.minimum(steep[..., :-1], bound), chord)
    right = np.copysign(np.minimum(steep[..., 1:], bound), chord)
    excess = (left + right - 2.0 * chord) / h
    found = np.zeros((*x.shape[:-1], 5, x.shape[-1] + 1))
    found[..., 0, 1:], found[..., 0, 0] = x, x[..., 0]
    found[..., 1, 1:], found[..., 1, 0] = y, y[..., 0]
    found[..., 2, 1:-1], found[..., 2, 0], found[..., 2, -1] = left, left[..., 0], right[..., -1]
    found[..., 3, 1:-1] = (chord - left) / h - excess
    found[..., 4, 1:-1] = excess / h
    return found


@dataclass(frozen=True)
class Curve:
    """Current over voltage.

    Parameters
    ----------
    v : ndarray, shape (n,)
        Voltage [V], rising.
    i : ndarray, shape (n,)
        Current [A], falling.
    slope : ndarray, shape (n,)
        dI/dV [S], negative.
    known : ndarray, shape (5, n + 1), optional
        Pieces of the cubic over voltage, where they were formed for many curves at once.
    """

    v: Array
    i: Array
    slope: Array
    known: Array | None = None

    def currents(self, v: Array) -> tuple[Array, Array]:
        """Current [A] and dI/dV [S] at voltages."""
        return self._over_voltage.at(v)

    def voltages(self, i: Array) -> tuple[Array, Array]:
        """Voltage [V] and dV/dI [Ω] at currents."""
        return self._over_current.at(i)

    @property
    def open_circuit(self) -> float:
        """Voltage at which no current flows [V]; nearly, as between points it is straight."""
        return float(np.interp(0.0, -self.i, self.v))

    @cached_property
    def _over_voltage(self) -> Cubic:
        own = pieces(self.v, self.i, self.slope) if self.known is None else self.known
        return Cubic(self.v, own)

    @cached_property
    def _over_current(self) -> Cubic:
        rising = self.i[::-1].copy()
        return Cubic(rising, pieces(rising, self.v[::-1], 1.0 / self.slope[::-1]))

    def scaled(self, volts: float, amperes: float) -> "Curve":
        """As many in series and in parallel."""
        return Curve(self.v * volts, self.i * amperes, self.slope * (amperes / volts))


def distinct(x: Array) -> NDArray[np.bool_]:
    """Which of some rising points to keep so that no two are equal or nearly so."""
    keep = np.empty(len(x), dtype=bool)
    keep[0] = True
    np.greater(x[1:] - x[:-1], _CLOSEST * (x[-1] - x[0]), out=keep[1:])
    return keep


def merged(points: list[Array]) -> Array:
    """All of some points, rising."""
    together = np.concatenate(points)
    together.sort(kind="stable")  # takes runs that rise already as they are
    return together


def thinned(curve: Curve, v_from: float, i_scale: float, points: int) -> Curve:
    """Fewer points, spread evenly along the curve's drawn length.

    Parameters
    ----------
    curve : Curve
        At least two points.
    v_from : float
        Lowest voltage that matters [V].
    i_scale : float
        Current range that counts as much as the voltage range [A].
    points : int
        About how many points to keep at most.

    Returns
    -------
    Curve
        First and last point included.
    """
    if len(curve.v) <= points:
        return curve
    v, i = curve.v, curve.i
    span = max(v[-1] - v_from, 1e-9)
    lengths = (v[1:] - v[:-1]) / span + (i[:-1] - i[1:]) / i_scale
    lengths[: v[1:].searchsorted(v_from)] *= 0.05
    along = np.zeros(len(v))
    np.cumsum(lengths, out=along[1:])
    cell = np.floor(along * (points / along[-1]))
    keep = np.ones(len(v), dtype=bool)
    np.greater(cell[1:-1], cell[:-2], out=keep[1:-1])
    return _picked(curve, keep)


def in_parallel(parts: list[tuple[Curve, int]], v: Array) -> Curve:
    """Sum of currents at common voltages.

    Parameters
    ----------
    parts : list of (Curve, int)
        Curves, and how many of each.
    v : ndarray
        Voltages to use, rising and distinct.
    """
    i, slope = np.zeros(len(v)), np.zeros(len(v))
    for curve, many in parts:
        own_i, own_slope = curve.currents(v)
        i += many * own_i
        slope += many * own_slope
    return _falling(v, i, slope)


def in_series(parts: list[tuple[Curve, int]], i: Array) -> Curve:
    """Sum of voltages at common currents.

    Parameters
    ----------
    parts : list of (Curve, int)
        Curves, and how many of each.
    i : ndarray
        Currents to use, rising and distinct.
    """
    v, slope = np.zeros(len(i)), np.zeros(len(i))
    for curve, many in parts:
        own_v, own_slope = curve.voltages(i)
        v += many * own_v
        slope += many * own_slope
    return _falling(v[::-1], i[::-1], 1.0 / slope[::-1])


def _falling(v: Array, i: Array, slope: Array) -> Curve:
    """Drop points where rounding broke the order."""
    curve = Curve(v, i, slope)
    curve = _picked(curve, distinct(curve.v))
    return _picked(curve, distinct(-curve.i))


def _picked(curve: Curve, keep: NDArray[np.bool_]) -> Curve:
    """Some points of a curve."""
    if np.count_nonzero(keep) == len(keep):
        return curve
    return Curve(curve.v[keep], curve.i[keep], curve.slope[keep])
