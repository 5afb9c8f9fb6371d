"""Exact areas of polygons inside the cells of a raster, all at once.

The area of a polygon left of x and below y is a sum over its edges; a cell's area is the second
difference of such sums over the raster's lines.
"""

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from sunhitch_service.engine.sky import Array

_BLOCK = 100_000
"""Edges times raster corners worked on at once: what fits a processor's cache."""
_SIZES = (0, 5, 6, 8, 10, 14, 20, 30, 60, 1_000_000)
"""Outlines with about as many corners are worked on together."""


def cell_areas(polygons: Array, x_lines: Array, y_lines: Array) -> Array:
    """Area of each polygon inside each cell of a raster.

    Parameters
    ----------
    polygons : ndarray, shape (n, corners, 2)
        Simple outlines in order; the last corner may be repeated.
    x_lines, y_lines : ndarray
        Rising lines of the raster [m], `rows + 1` and `columns + 1` of them.

    Returns
    -------
    ndarray, shape (n, rows, columns)
        [m²], not negative.
    """
    sums = np.zeros((len(polygons), len(x_lines), len(y_lines)))
    used = _used_corners(polygons)
    for fewest, most in pairwise(_SIZES):
        own = np.flatnonzero((used > fewest) & (used <= most))
        longest = min(most, polygons.shape[1])
        step = max(1, _BLOCK // (longest * len(x_lines) * len(y_lines)))
        for part in (own[start : start + step] for start in range(0, len(own), step)):
            sums[part] = _below_left(polygons[part, :longest], x_lines, y_lines)
    return np.abs(np.diff(np.diff(sums, axis=1), axis=2))


def _used_corners(polygons: Array) -> NDArray[np.int64]:
    """How many corners each outline has before the last one is repeated."""
    repeated = np.all(polygons[:, ::-1] == polygons[:, -1:], axis=2)
    trailing = np.argmin(repeated, axis=1) + polygons.shape[1] * np.all(repeated, axis=1)
    return np.asarray(polygons.shape[1] - trailing + 1, dtype=np.int64)


def _below_left(polygons: Array, x_lines: Array, y_lines: Array) -> Array:
    """Signed area left of each x line and below each y line, shape (n, x lines, y lines)."""
    start = polygons
    end = np.roll(polygons, -1, axis=1)
    x0, y0 = start[:, :, 0, None], start[:, :, 1, None]
    x1, y1 = end[:, :, 0, None], end[:, :, 1, None]
    width = x1 - x0
    slope = np.divide(y1 - y0, width, out=np.zeros_like(width), where=width != 0.0)
    a, b = np.minimum(x0, x_lines), np.minimum(x1, x_lines)
    ya, yb = y0 + (a - x0) * slope, y0 + (b - x0) * slope
    strip = (b - a)[:, :, :, None]
    return np.asarray(np.sum(strip * _mean_below(ya, yb, y_lines), axis=1), dtype=np.float64)


def _mean_below(ya: Array, yb: Array, y_lines: Array) -> Array:
    """Mean of min(y, line) along straight edges, less the line, shape (n, edges, xs, ys)."""
    p, q = y_lines - ya[:, :, :, None], y_lines - yb[:, :, :, None]
    high, low = np.maximum(p, q), np.minimum(p, q)
    span = np.where(high > low, high - low, 1.0)
    partly = np.where(high > 0.0, high, 0.0) ** 2 / (2.0 * span)
    above = np.where(low >= 0.0, 0.5 * (high + low), np.where(high > low, partly, 0.0))
    return y_lines - above
