"""Inner loops of a solution, compiled: the same as those in NumPy of the same names.

Imported only by `accelerate`. In arrays as small as one roof's, NumPy spends half of a solution on
calls for these.
"""

import numpy as np
from numpy.typing import NDArray

from .compiling import F1, F2, I1, MADE_2, MADE_3, compiled, entry, inlined
from .tree_loops import cell_maxima, conductance_bounds, reduced, solved

__all__ = ["at", "cell_maxima", "conductance_bounds", "placed", "reduced", "solved", "sums"]

Array = NDArray[np.float64]
Index = NDArray[np.int64]
_NEAR = 4
"""Pieces looked at one by one before all are searched."""


@inlined
def _before(x: Array, place: float) -> int:
    """How many rising abscissas lie before a place."""
    low, high = 0, len(x)
    while low < high:
        middle = (low + high) // 2
        if x[middle] < place:
            low = middle + 1
        else:
            high = middle
    return low


@compiled
def _before_from(x: Array, curve: int, k: int, place: float) -> int:
    """The same of one of several rows, soon found a little after the one before."""
    end = min(k + _NEAR, x.shape[1])
    if k == 0 or x[curve, k - 1] < place:
        while k < end:
            if x[curve, k] >= place:
                return k
            k += 1
    return _before(x[curve], place)


@inlined
def _piece(x: Array, y: Array, slope: Array, k: int) -> tuple[float, float, float, float, float]:
    """Piece `k` of a monotone cubic as `curve.pieces` has it: start, ordinate, three powers."""
    inner = min(max(k, 1), len(x) - 1)
    h = x[inner] - x[inner - 1]
    chord = (y[inner] - y[inner - 1]) / h
    left, right = min(slope[inner - 1], 3.0 * chord), min(slope[inner], 3.0 * chord)
    if k == 0:
        return x[0], y[0], left, 0.0, 0.0
    if k == len(x):
        return x[k - 1], y[k - 1], right, 0.0, 0.0
    square = (3.0 * chord - 2.0 * left - right) / h
    return x[k - 1], y[k - 1], left, square, (left + right - 2.0 * chord) / (h * h)


@entry(f"{MADE_3}({F2}, {F2}, {F2}, {F2}, {I1}, {F1})")
def sums(x: Array, y: Array, slope: Array, places: Array, starts: Index, many: Array) -> Array:
    """Ordinates and slopes of owners: their parts added up; as `curve.CubicSet.sums`.

    Parameters
    ----------
    x, y, slope : ndarray, shape (parts, n)
        Rising abscissas and ordinates, and derivatives.
    places : ndarray, shape (owners, m)
        Where, rising.
    starts : ndarray of int, shape (owners,)
        First part of every owner.
    many : ndarray, shape (parts,)
        How many of each.

    Returns
    -------
    ndarray, shape (2, owners, m)
        Sums.
    """
    owners, wanted = places.shape
    found = np.zeros((2, owners, wanted))
    for owner in range(owners):
        end = starts[owner + 1] if owner + 1 < owners else len(x)
        for part in range(starts[owner], end):
            own, weight = x[part], many[part]
            k, known = 0, -1
            start = value = first = square = cube = 0.0
            for j in range(wanted):
                place = places[owner, j]
                while k < len(own) and own[k] < place:
                    k += 1
                if k != known:
                    start, value, first, square, cube = _piece(own, y[part], slope[part], k)
                    known = k
                d = place - start
                found[0, owner, j] += weight * (value + d * (first + d * (square + d * cube)))
                found[1, owner, j] += weight * (first + d * (2.0 * square + 3.0 * d * cube))
    return found


@entry(f"{MADE_2}({F2}, {F2}, {F2}, {F1}, {I1})")
def at(x: Array, y: Array, slope: Array, places: Array, curves: Index) -> Array:
    """Ordinates and derivatives of curves; as `curve.CubicSet.at`.

    Parameters
    ----------
    x, y, slope : ndarray, shape (curves, n)
        Rising abscissas and ordinates, and derivatives.
    places : ndarray, shape (m,)
        Where, in any order: found fastest where each lies near the one before.
    curves : ndarray of int
        Numbers of the curves, over and over.

    Returns
    -------
    ndarray, shape (2, m)
        Ordinates and derivatives.
    """
    found = np.empty((2, len(places)))
    for turn in range(len(curves)):
        curve = curves[turn]
        left, right, k = np.inf, -np.inf, 0
        start = value = first = square = cube = 0.0
        for number in range(turn, len(places), len(curves)):
            place = places[number]
            if not left < place <= right:  # a view of a row costs more than all the rest
                k = _before_from(x, curve, k, place)
                start, value, first, square, cube = _piece(x[curve], y[curve], slope[curve], k)
                left = x[curve, k - 1] if k > 0 else -np.inf
                right = x[curve, k] if k < x.shape[1] else np.inf
            d = place - start
            found[0, number] = value + d * (first + d * (square + d * cube))
            found[1, number] = first + d * (2.0 * square + 3.0 * d * cube)
    return found


@entry(f"{MADE_2}({F2}, {F1}, {F1}, i8, f8, i8, f8)")
def placed(
    ranked: Array, low: Array, high: Array, least: int, share: float, most: int, apart: float
) -> Array:
    """Places between bounds, as dense as sorted points are; as `curve_sets.common_grid`.

    Parameters
    ----------
    ranked : ndarray, shape (rows, n)
        Points, sorted in every row.
    low, high : ndarray, shape (rows,)
        Bounds.
    least, share, most : int, float, int
        How many places: so many and a share of the points, and how many at most.
    apart : float
        Least distance of neighbouring places, as a share of the range.

    Returns
    -------
    ndarray, shape (rows, places)
        Rising.
    """
    rows, points = ranked.shape
    first, count = np.empty(rows, np.int64), np.empty(rows, np.int64)
    counted = 0
    for row in range(rows):
        first[row] = np.searchsorted(ranked[row], low[row])
        count[row] = np.searchsorted(ranked[row], high[row], side="right") - first[row] - 1
        counted = max(counted, count[row] + 1)
    places = min(max(counted, 2), least + int(share * counted), most)
    found, step = np.empty((rows, places)), apart * (high.max() - low.min())
    for row in range(rows):
        pitch = max(count[row], 0) / (places - 1)
        found[row, 0] = low[row]
        for place in range(1, places - 1):
            along = place * pitch
            whole = int(along)
            left = min(first[row] + whole, points - 1)
            own = ranked[row, left]
            part = along - whole
            if part > 0.0:
                own += part * (ranked[row, min(left + 1, points - 1)] - own)
            found[row, place] = own + place * step
        found[row, places - 1] = high[row] + (places - 1) * step
    return found
