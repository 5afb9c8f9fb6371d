"""Places for the points of many curves at once."""

import numpy as np

from .accelerate import loops
from .cell import Array, Index

_APART = 1e-12
"""Least distance of neighbouring points, as a share of the range."""
_LEAST_PLACES = 100
"""Besides those for each point."""


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
