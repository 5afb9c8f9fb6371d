"""Falling current-voltage curves on points with slopes."""

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
    """

    def __init__(self, x: Array, pieces: Array) -> None:
        self._x = x
        self._pieces = pieces

    def at(self, x: Array) -> Array:
        """Ordinates and derivatives, stacked."""
        return read(self._pieces, self._x.searchsorted(x), x)


def read(rows: Array, piece: NDArray[np.intp], x: Array) -> Array:
    """Ordinates and derivatives of cubics.

    Parameters
    ----------
    rows : ndarray, shape (5, n)
        From `pieces`.
    piece : ndarray of int
        In which piece each abscissa lies.
    x : ndarray
        Abscissas, of the same shape.

    Returns
    -------
    ndarray, shape (2, ...)
        Ordinates, then derivatives.
    """
    starts, ordinates, slopes, squares, cubes = rows
    d = x - starts.take(piece)
    found: Array = np.empty((2, *d.shape))
    derivative: Array = found[1]
    cubic = cubes.take(piece)
    cubic *= d
    mean = squares.take(piece)
    mean += cubic
    np.add(mean, cubic, out=derivative)
    derivative *= d
    mean *= d
    mean += slopes.take(piece)
    derivative += mean
    mean *= d
    np.add(mean, ordinates.take(piece), out=found[0])
    return found


def pieces(x: Array, y: Array, slope: Array) -> Array:
    """Pieces of one rising cubic or more, with one beyond each end.

    Parameters
    ----------
    x : ndarray, shape (..., n)
        Rising abscissas.
    y : ndarray, shape (..., n)
        Rising ordinates.
    slope : ndarray, shape (..., n)
        Derivatives, positive.

    Returns
    -------
    ndarray, shape (5, ..., n + 1)
        Abscissa and ordinate where each piece begins, and coefficients of its three powers.

    References
    ----------
    F. N. Fritsch, R. E. Carlson, SIAM J. Numer. Anal. 17 (1980): slopes of at most three times
    the chord's keep a cubic monotone.
    """
    found = np.zeros((5, *x.shape[:-1], x.shape[-1] + 1))
    starts, ordinates, slopes, squares, cubes = found
    starts[..., 1:], starts[..., 0] = x, x[..., 0]
    ordinates[..., 1:], ordinates[..., 0] = y, y[..., 0]
    h = x[..., 1:] - x[..., :-1]
    chord = (y[..., 1:] - y[..., :-1]) / h
    bound = 3.0 * chord
    left = np.minimum(slope[..., :-1], bound)
    right = np.minimum(slope[..., 1:], bound)
    slopes[..., 1:-1], slopes[..., 0], slopes[..., -1] = left, left[..., 0], right[..., -1]
    right += left
    chord -= left
    right -= bound
    right += chord
    right += left
    right /= h
    chord /= h
    np.subtract(chord, right, out=squares[..., 1:-1])
    np.divide(right, h, out=cubes[..., 1:-1])
    return found


@dataclass(frozen=True)
class IvCurve:
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
        Pieces of minus the current over voltage, where they were formed for many curves at once.
    """

    v: Array
    i: Array
    slope: Array
    known: Array | None = None

    def currents(self, v: Array) -> Array:
        """Current [A] and dI/dV [S], stacked, at voltages."""
        return -self._over_voltage.at(v)

    def voltages(self, i: Array) -> Array:
        """Voltage [V] and −dV/dI [Ω], stacked, at currents."""
        return self._over_current.at(-i)

    @property
    def open_circuit(self) -> float:
        """Voltage at which no current flows [V], nearly."""
        return open_circuit(-self.i, self.v)

    @cached_property
    def _over_voltage(self) -> Cubic:
        own = pieces(self.v, -self.i, -self.slope) if self.known is None else self.known
        return Cubic(self.v, own)

    @cached_property
    def _over_current(self) -> Cubic:
        back = -self.i
        return Cubic(back, pieces(back, self.v, -1.0 / self.slope))


def open_circuit(back: Array, v: Array) -> float:
    """Voltage at which no current flows [V], from minus currents; straight between points."""
    return float(np.interp(0.0, back, v))


def distinct(x: Array) -> NDArray[np.bool_]:
    """Which of some rising points to keep so that no two are equal or nearly so."""
    keep = np.empty(len(x), dtype=bool)
    keep[0] = True
    np.greater(x[1:] - x[:-1], _CLOSEST * (x[-1] - x[0]), out=keep[1:])
    return keep
