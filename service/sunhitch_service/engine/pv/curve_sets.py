"""Sets of current-voltage curves: many of them read, and joined, at once."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from .accelerate import loops
from .cell import Array
from .curve import IvCurve, pieces, read
from .network import Index

_APART = 1e-12
"""Least distance of neighbouring points, as a share of the range."""
_LEAST_PLACES = 100
"""Besides those for each point."""
_BLOCK = 30_000
"""Readings at a time."""


class CubicSet:
    """Monotone cubics with equally many points.

    Parameters
    ----------
    x, y, slope : ndarray, shape (curves, n)
        Rising abscissas and ordinates, and derivatives.
    """

    def __init__(self, x: Array, y: Array, slope: Array) -> None:
        self._points = x, y, slope

    def each(self, places: Array) -> Array:
        """Ordinates of every curve at places of its own.

        Parameters
        ----------
        places : ndarray, shape (n, curves)
            Where.

        Returns
        -------
        ndarray, shape (n, curves)
            Ordinates.
        """
        compiled = loops()
        if compiled is not None:
            return np.asarray(compiled.each(*self._points, places))
        found: Array = self._laid.at(places, np.arange(len(self._points[0])))[0]
        return found

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
            own = self._laid.at(places.take(owners, axis=0), curves)
            own *= many[begin : begin + rows, None]
            among = slice(int(owners[0]), int(owners[-1]) + 1)
            found[:, among] += _added(own, np.maximum(starts[among] - begin, 0))
        return found

    def at(self, places: Array, curve: Index) -> Array:
        """Ordinates and slopes, stacked, of curves of these numbers; arguments broadcast."""
        return self._laid.at(places, curve)

    def pieces(self, curve: int) -> Array:
        """Pieces of one curve, as `curve.pieces` forms them."""
        return self._laid.pieces[:, curve]

    @cached_property
    def _laid(self) -> "_EndToEnd":
        return _EndToEnd(*self._points)


class _EndToEnd:
    """The curves of a bundle on one axis, so that many are read at once."""

    def __init__(self, x: Array, y: Array, slope: Array) -> None:
        curves, points = x.shape
        low, high = float(x[:, 0].min()), float(x[:, -1].max())
        width = high - low
        self._pitch = 2.0 * width
        self._reach = low - 0.25 * width, high + 0.25 * width
        axis: Array = np.empty((curves, points + 1))
        axis[:, 0], axis[:, 1:] = low - 0.5 * width, x
        axis += self._pitch * np.arange(float(curves))[:, None]
        self._axis = axis.ravel()
        self._numbers = np.arange(float(axis.size))
        self.pieces = pieces(x, y, slope)
        self._rows = self.pieces.reshape(5, -1)

    def at(self, x: Array, curve: Index) -> Array:
        """Ordinates and derivatives, stacked, of curves of these numbers; arguments broadcast."""
        low, high = self._reach
        along = np.minimum(np.maximum(x, low), high) + self._pitch * curve
        # For many places in rising order `interp` finds the piece faster than a search does.
        piece = np.interp(along, self._axis, self._numbers).astype(np.intp)
        return read(self._rows, piece, x)


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

    def __getitem__(self, part: int) -> IvCurve:
        """One of them by itself."""
        known = self.over_voltage.pieces(part)
        return IvCurve(self.v[part], -self.back[part], -self.slope[part], known)


def rising(x: Array) -> Array:
    """Rows that rise but for rounding, made to rise."""
    if bool((x[:, 1:] > x[:, :-1]).all()):
        return x
    least = _APART * float(x[:, -1].max() - x[:, 0].min())
    risen: Array = np.maximum.accumulate(x, axis=1)
    return risen + least * np.arange(float(x.shape[1]))


def padded(rows: list[Array]) -> Array:
    """Rows of unequal length as one array, with infinity where there is nothing."""
    if len(rows) == 1:
        return rows[0][None]
    found = np.full((len(rows), max(len(row) for row in rows)), np.inf)
    for into, row in zip(found, rows, strict=True):
        into[: len(row)] = row
    return found


def side_by_side(rows: Array, owner: Index, most: int) -> Array:
    """The points of every owner's parts in one row, those that are missing infinite.

    Parameters
    ----------
    rows : ndarray, shape (parts, n)
        Points of every part.
    owner : ndarray of int, shape (parts,)
        Owner of every part, rising.
    most : int
        About how many points to return at most; of more, only every so many.

    Returns
    -------
    ndarray, shape (owners, …)
        Not sorted.
    """
    sizes = np.bincount(owner)
    owners, widest = len(sizes), int(sizes.max())
    rows = rows[:, :: 1 + owners * widest * rows.shape[1] // most]
    if widest * owners == len(rows):
        return rows.reshape(owners, -1)
    found = np.full((owners, widest, rows.shape[1]), np.inf)
    found[np.arange(widest) < sizes[:, None]] = rows
    return found.reshape(owners, -1)


def common_grid(points: Array, low: Array, high: Array, share: float, most: int) -> Array:
    """Places between bounds, as dense as given points are, equally many in every row.

    Parameters
    ----------
    points : ndarray, shape (rows, n)
        In any order; those beyond a bound do not count.
    low, high : ndarray, shape (rows,)
        Bounds, which are the first and last place.
    share : float
        How many places for a point, in the row with the most points.
    most : int
        Most places of a row.

    Returns
    -------
    ndarray, shape (rows, places)
        Rising.
    """
    ranked = np.sort(points, axis=1, kind="stable")  # takes runs that rise already as they are
    compiled = loops()
    if compiled is not None:
        return np.asarray(compiled.placed(ranked, low, high, _LEAST_PLACES, share, most, _APART))
    first: Index = (ranked < low[:, None]).sum(axis=1, keepdims=True)
    count = (ranked <= high[:, None]).sum(axis=1, keepdims=True) - first - 1
    counted = int(count.max()) + 1
    places = min(max(counted, 2), _LEAST_PLACES + int(share * counted), most)
    steps = np.arange(float(places))
    row_starts = np.arange(len(ranked), dtype=np.intp)[:, None] * ranked.shape[1]
    rank: Array = row_starts + first + np.maximum(count, 0) * (steps / (places - 1))
    found: Array = np.interp(rank, np.arange(ranked.size), ranked.ravel())
    found[:, 0], found[:, -1] = low, high
    steps *= _APART * float(high.max() - low.min())
    found += steps
    return found


def _added(own: Array, starts: Index) -> Array:
    """Sums of some rows each, on the second axis."""
    kinds, rows, points = own.shape
    each, rest = divmod(rows, len(starts))
    if rest == 0 and bool((starts == each * np.arange(len(starts))).all()):
        return np.asarray(own.reshape(kinds, len(starts), each, points).sum(axis=2))
    return np.asarray(np.add.reduceat(own, starts, axis=1))
