"""Falling current-voltage curves on points with slopes."""

from dataclasses import dataclass
from functools import cached_property
from types import ModuleType

import numpy as np

from .accelerate import loops
from .cell import Array, Index, Mask

_BLOCK = 30_000
"""Readings at a time."""
_CLOSEST = 1e-11
"""Points closer than this share of the range count as one."""


class CubicSet:
    """Monotone cubics with equally many points, straight beyond the ends, on one axis.

    Parameters
    ----------
    x, y, slope : ndarray, shape (curves, n)
        Rising abscissas and ordinates, and derivatives.
    """

    def __init__(self, x: Array, y: Array, slope: Array) -> None:
        self._points = x, y, slope

    @cached_property
    def _laid(self) -> tuple[float, tuple[float, float], Array, Array, Array]:
        """Pitch and reach of the curves on their axis, the axis, its numbers, and the pieces."""
        x, y, slope = self._points
        curves, points = x.shape
        low, high = float(x[:, 0].min()), float(x[:, -1].max())
        width = high - low
        pitch, reach = 2.0 * width, (low - 0.25 * width, high + 0.25 * width)
        axis: Array = np.empty((curves, points + 1))
        axis[:, 0], axis[:, 1:] = low - 0.5 * width, x
        axis += pitch * np.arange(float(curves))[:, None]
        own = pieces(x, y, slope).reshape(5, -1)
        return pitch, reach, axis.ravel(), np.arange(float(axis.size)), own

    def at(self, x: Array, curve: Index | int = 0) -> Array:
        """Ordinates and derivatives, stacked, of curves of these numbers; arguments broadcast."""
        compiled = loops()
        if compiled is not None:
            return self._in_loops(compiled, x, curve)
        pitch, (low, high), axis, numbers, own = self._laid
        along = np.minimum(np.maximum(x, low), high) + pitch * curve
        # For many places in rising order `interp` finds the piece faster than a search does.
        piece = np.interp(along, axis, numbers).astype(np.intp)
        return _read(own, piece, x)

    def _in_loops(self, compiled: ModuleType, x: Array, curve: Index | int) -> Array:
        own = np.atleast_1d(curve)
        if own.ndim > 1:
            x, own = np.broadcast_arrays(x, own)
        points = map(np.ascontiguousarray, self._points)
        found: Array = compiled.at(*points, x.ravel(), own.ravel())
        return found.reshape(2, *x.shape)

    def each(self, places: Array) -> Array:
        """Ordinate of every curve at places of its own, shape (n, curves)."""
        numbers: Index = np.arange(places.shape[1], dtype=np.intp)
        return np.asarray(self.at(places, numbers)[0])

    def sums(self, places: Array, owner: Index, starts: Index, many: Array) -> Array:
        """Ordinates and slopes of owners: those of their curves, added up.

        Parameters
        ----------
        places : ndarray, shape (owners, n)
            Where, rising.
        owner : ndarray of int, shape (curves,)
            Owner of every curve, rising.
        starts : ndarray of int, shape (owners,)
            First curve of every owner.
        many : ndarray, shape (curves,)
            How many of each.

        Returns
        -------
        ndarray, shape (2, owners, n)
            Sums.
        """
        compiled = loops()
        if compiled is not None:
            return np.asarray(compiled.sums(*self._points, places, starts, many))
        found = np.zeros((2, *places.shape))
        rows = max(1, _BLOCK // places.shape[1])
        for begin in range(0, len(owner), rows):
            owners = owner[begin : begin + rows]
            curves = np.arange(begin, begin + len(owners))[:, None]
            own = self.at(places.take(owners, axis=0), curves)
            own *= many[begin : begin + rows, None]
            among = slice(int(owners[0]), int(owners[-1]) + 1)
            own_starts = np.maximum(starts[among] - begin, 0)
            found[:, among] += np.add.reduceat(own, own_starts, axis=1)
        return found


def _read(rows: Array, piece: Index, x: Array) -> Array:
    """Ordinates and derivatives, stacked, of cubics in `pieces` at abscissas in pieces known."""
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
class CurveSet:
    """Voltage and current of several parts, one a row, on equally many points.

    Parameters
    ----------
    v : ndarray, shape (parts, n)
        Voltage [V], rising.
    back : ndarray, shape (parts, n)
        Minus the current [A], so that it rises too.
    slope : ndarray, shape (parts, n)
        Its derivative over voltage [S].
    """

    v: Array
    back: Array
    slope: Array

    @cached_property
    def over_voltage(self) -> CubicSet:
        """Minus current [A] over voltage."""
        return CubicSet(self.v, self.back, self.slope)

    @cached_property
    def over_current(self) -> CubicSet:
        """Voltage over minus current [A]."""
        return CubicSet(self.back, self.v, 1.0 / self.slope)

    def of(self, parts: list[int]) -> "CurveSet":
        """Some of them, perhaps one several times."""
        return CurveSet(self.v[parts], self.back[parts], self.slope[parts])

    def __getitem__(self, part: int) -> "IvCurve":
        """One of them by itself."""
        return IvCurve(self.v[part], -self.back[part], -self.slope[part])


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
    """

    v: Array
    i: Array
    slope: Array

    def currents(self, v: Array) -> Array:
        """Current [A] and dI/dV [S], stacked, at voltages."""
        return -self._curves.over_voltage.at(v)

    def voltages(self, i: Array) -> Array:
        """Voltage [V] and −dV/dI [Ω], stacked, at currents."""
        return self._curves.over_current.at(-i)

    @property
    def open_circuit(self) -> float:
        """Voltage at which no current flows [V], nearly."""
        return open_circuit(-self.i, self.v)

    @cached_property
    def _curves(self) -> CurveSet:
        return CurveSet(self.v[None], -self.i[None], -self.slope[None])


def open_circuit(back: Array, v: Array) -> float:
    """Voltage at which no current flows [V], from minus currents; straight between points."""
    return float(np.interp(0.0, back, v))


def distinct(x: Array) -> Mask:
    """Which of some rising points to keep so that no two are equal or nearly so."""
    keep = np.ones(len(x), dtype=bool)
    np.greater(x[1:] - x[:-1], _CLOSEST * (x[-1] - x[0]), out=keep[1:])
    return keep
