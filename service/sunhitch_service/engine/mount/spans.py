"""Which feet are neighbours along a panel's sides, and how far apart they stand."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
ROW_TOLERANCE_M = 0.03
"""Feet whose places along an axis differ by less stand in one row."""


def row_numbers(places: Floats) -> NDArray[np.intp]:
    """Number of the row in which each place lies, from 0 upwards."""
    order = np.argsort(places, kind="stable")
    steps = np.diff(places[order]) > ROW_TOLERANCE_M
    numbers = np.empty(len(places), dtype=np.intp)
    numbers[order] = np.concatenate([[0], np.cumsum(steps)])
    return numbers


def spans_along(points: Floats, axis: int, side_m: tuple[float, float]) -> tuple[Floats, Floats]:
    """Spans before and after each foot, and the width of sheet that pulls on it.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Feet from the panel's middle [m].
    axis : int
        0 for spans along the panel's length, 1 for spans along its width.
    side_m : tuple of float
        Length and width of the panel [m].

    Returns
    -------
    spans : ndarray, shape (n, 2)
        Distance to the neighbouring rows [m]; 0 where the row is the last.
    width : ndarray, shape (n,)
        Half the distance to the next feet of the row, or all the way to the panel's edge [m].
    """
    rows = row_numbers(points[:, axis])
    count = rows.max() + 1
    centres = np.array([points[rows == row, axis].mean() for row in range(count)])
    gaps = np.concatenate([[0.0], np.diff(centres), [0.0]])
    spans = np.column_stack([gaps[rows], gaps[rows + 1]])
    width = np.empty(len(points))
    for row in range(count):
        members = np.flatnonzero(rows == row)
        width[members] = _shares_of_side(points[members, 1 - axis], side_m[1 - axis])
    return spans, width


def _shares_of_side(places: Floats, side_m: float) -> Floats:
    order = np.argsort(places)
    middles = (places[order][1:] + places[order][:-1]) / 2
    ends = (min(-side_m / 2, places.min()), max(side_m / 2, places.max()))
    shares = np.empty(len(places))
    shares[order] = np.diff(np.concatenate([[ends[0]], middles, [ends[1]]]))
    return shares


def overhang(points: Floats, side_m: tuple[float, float]) -> float:
    """Widest strip of the panel beyond its outermost feet [m]."""
    half = np.array(side_m) / 2
    beyond = np.concatenate([points.min(axis=0) + half, half - points.max(axis=0)])
    return max(0.0, float(beyond.max()))
