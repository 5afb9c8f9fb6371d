"""Falling current-voltage curves on points with slopes: read, join in parallel, join in series."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .cell import Array

_CLOSEST = 1e-11
"""Points closer than this share of the range count as one."""


@dataclass(frozen=True, slots=True)
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
    """

    v: Array
    i: Array
    slope: Array

    def currents(self, v: Array) -> tuple[Array, Array]:
        """Current [A] and dI/dV [S] at voltages."""
        return read(v, self.v, self.i, self.slope)

    def voltages(self, i: Array) -> tuple[Array, Array]:
        """Voltage [V] and dV/dI [Ω] at currents."""
        return read(i, self.i[::-1], self.v[::-1], 1.0 / self.slope[::-1])

    def scaled(self, volts: float, amperes: float) -> "Curve":
        """As many in series and in parallel."""
        return Curve(self.v * volts, self.i * amperes, self.slope * (amperes / volts))


def read(x: Array, xs: Array, ys: Array, slopes: Array) -> tuple[Array, Array]:
    """Monotone cubic through points with known slopes, straight beyond the ends.

    Parameters
    ----------
    x : ndarray
        Where to read.
    xs, ys, slopes : ndarray, shape (n,)
        Rising abscissas, ordinates and derivatives.

    Returns
    -------
    tuple of ndarray
        Ordinates and derivatives.

    References
    ----------
    F. N. Fritsch, R. E. Carlson, SIAM J. Numer. Anal. 17 (1980): slopes of at most three times
    the chord's keep a cubic monotone.
    """
    right = np.minimum(np.maximum(np.searchsorted(xs, x), 1), len(xs) - 1)
    left = right - 1
    x0, y0 = xs[left], ys[left]
    h = xs[right] - x0
    chord = (ys[right] - y0) / h
    sign = np.sign(chord)
    bound = 3.0 * np.abs(chord)
    m0 = sign * np.minimum(np.abs(slopes[left]), bound)
    m1 = sign * np.minimum(np.abs(slopes[right]), bound)
    t = (x - x0) / h
    s = np.minimum(np.maximum(t, 0.0), 1.0)
    beyond = np.where(t > 1.0, m1, m0) * (t - s) * h
    c2 = 3.0 * chord - 2.0 * m0 - m1
    c3 = m0 + m1 - 2.0 * chord
    y = y0 + h * s * (m0 + s * (c2 + s * c3)) + beyond
    return y, m0 + s * (2.0 * c2 + 3.0 * s * c3)


def distinct(x: Array) -> NDArray[np.bool_]:
    """Which of some rising points to keep so that no two are equal or nearly so."""
    keep = np.ones(len(x), dtype=bool)
    keep[1:] = np.diff(x) > _CLOSEST * (x[-1] - x[0])
    return keep


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
    span = max(curve.v[-1] - v_from, 1e-9)
    lengths = np.abs(np.diff(curve.v)) / span + np.abs(np.diff(curve.i)) / i_scale
    lengths[curve.v[1:] < v_from] *= 0.05
    along = np.concatenate(([0.0], np.cumsum(lengths)))
    cell = np.floor(along * (points / along[-1]))
    keep = np.ones(len(cell), dtype=bool)
    keep[1:-1] = np.diff(cell[:-1]) > 0
    return Curve(curve.v[keep], curve.i[keep], curve.slope[keep])


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
    keep = distinct(v)
    v, i, slope = v[keep], i[keep], slope[keep]
    keep = distinct(-i)
    return Curve(v[keep], i[keep], slope[keep])
