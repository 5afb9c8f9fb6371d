"""How much of its light shadows leave to each cell of a raster: exact areas, all moments at once.

The area of a polygon left of x and below y is a sum over its edges, whatever its form; a cell's
area is the second difference of such sums over the raster's lines.
"""

import numpy as np
from numpy.typing import NDArray

from sunhitch_service.engine.sky import Array

from .cells import CellRaster, extent
from .pieces import Pieces

_NOTHING = 1e-12
"""Share of a panel that counts as nothing."""
_DIGITS = 10
"""Shares of light are rounded to this many digits, so that equal cells stay equal."""
_MANY = 8
"""From so many outlines on it pays to ask first which cover a panel as a whole."""
_BLOCK = 40_000
"""Edges times raster corners worked on at once: what fits a processor's cache."""
_LEVEL_M = 1e-30
"""Edges that rise less are level."""
_SIZES = (5, 6, 8, 10, 14, 20, 30, 60, 1_000_000)
"""Outlines with about as many corners are worked on together."""


def touching(outline: Array, raster: CellRaster) -> NDArray[np.bool_]:
    """Which outlines may cover part of a raster, by their extent.

    Parameters
    ----------
    outline : ndarray, shape (n, corners, 2)
        In the panel's axes [m].
    raster : CellRaster
        Cells of the panel.
    """
    low, high = extent(outline)
    first = raster.x_lines[0], raster.y_lines[0]
    last = raster.x_lines[-1], raster.y_lines[-1]
    return np.asarray(((low < last) & (high > first)).all(axis=1), dtype=np.bool_)


def beam_shares(found: Pieces, states: int, raster: CellRaster) -> Array:
    """Share of the beam that reaches each cell.

    Parameters
    ----------
    found : Pieces
        Shadows in the panel's axes.
    states : int
        Moments.
    raster : CellRaster
        Cells of the panel.

    Returns
    -------
    ndarray, shape (states, cells)
        1 where no shadow falls.
    """
    lost = np.zeros((states, raster.cells))
    near = touching(found.outline, raster)
    weights = found.weight[near, None] * _covered(found.outline[near], raster)
    np.add.at(lost, found.state[near], weights)
    return np.asarray(np.round(np.clip(1.0 - lost, 0.0, 1.0), _DIGITS), dtype=np.float64)


def _covered(outline: Array, raster: CellRaster) -> Array:
    """Share of each cell inside each outline; of many, those on all or no cells are quick."""
    x_lines, y_lines = raster.x_lines, raster.y_lines
    cell = np.outer(np.diff(x_lines), np.diff(y_lines)).ravel()
    if len(outline) < _MANY:
        return cell_areas(outline, x_lines, y_lines).reshape(-1, len(cell)) / cell
    whole = cell_areas(outline, x_lines[[0, -1]], y_lines[[0, -1]])[:, 0, 0] / cell.sum()
    shares = np.repeat((whole > 0.5)[:, None], len(cell), axis=1).astype(np.float64)
    partly = (whole > _NOTHING) & (whole < 1.0 - _NOTHING)
    areas = cell_areas(outline[partly], x_lines, y_lines)
    shares[partly] = areas.reshape(len(areas), len(cell)) / cell
    return shares


def cell_areas(polygons: Array, x_lines: Array, y_lines: Array) -> Array:
    """Area of each polygon inside each cell of a raster.

    Parameters
    ----------
    polygons : ndarray, shape (n, corners, 2)
        Simple outlines in order, convex or not; the last corner may be repeated.
    x_lines, y_lines : ndarray
        Rising lines of the raster [m], `rows + 1` and `columns + 1` of them.

    Returns
    -------
    ndarray, shape (n, rows, columns)
        [m²], not negative.
    """
    sums = np.zeros((len(polygons), len(x_lines), len(y_lines)))
    group = np.searchsorted(_SIZES, _used_corners(polygons))
    for number in np.unique(group).tolist():
        own = np.flatnonzero(group == number)
        corners = polygons[:, : _SIZES[number]]
        step = max(1, _BLOCK // (corners.shape[1] * len(x_lines) * len(y_lines)))
        for part in (own[start : start + step] for start in range(0, len(own), step)):
            sums[part] = _below_left(corners[part], x_lines, y_lines)
    return np.abs(np.diff(np.diff(sums, axis=1), axis=2))


def _used_corners(polygons: Array) -> NDArray[np.int64]:
    """How many corners each outline has before the last one is repeated."""
    repeated = np.all(polygons[:, ::-1] == polygons[:, -1:], axis=2)
    trailing = np.argmin(repeated, axis=1) + polygons.shape[1] * np.all(repeated, axis=1)
    return np.asarray(polygons.shape[1] - trailing + 1, dtype=np.int64)


def _below_left(polygons: Array, x_lines: Array, y_lines: Array) -> Array:
    """Signed area left of each x line and below each y line, shape (n, x lines, y lines).

    Only what lies right of the first x line is summed: what is far off would cost digits.
    """
    start, end = polygons, np.roll(polygons, -1, axis=1)
    step = max(1, _BLOCK // (len(x_lines) * len(y_lines)))
    sums = np.zeros((len(polygons), len(x_lines), len(y_lines)))
    for first in range(0, polygons.shape[1], step):
        x0, y0 = (start[:, first : first + step, axis, None] for axis in (0, 1))
        x1, y1 = (end[:, first : first + step, axis, None] for axis in (0, 1))
        width = x1 - x0
        slope = np.divide(y1 - y0, width, out=np.zeros_like(width), where=width != 0.0)
        a, b = (np.minimum(np.maximum(x, x_lines[0]), x_lines) for x in (x0, x1))
        ya, yb = y0 + (a - x0) * slope, y0 + (b - x0) * slope
        sums += np.einsum("nex,nexy->nxy", b - a, _mean_below(ya, yb, y_lines))
    return sums


def _mean_below(ya: Array, yb: Array, y_lines: Array) -> Array:
    """Mean of min(y, line) along straight edges, less the line, shape (n, edges, xs, ys)."""
    p, q = y_lines - ya[:, :, :, None], y_lines - yb[:, :, :, None]
    np.maximum(p, 0.0, out=p)
    np.maximum(q, 0.0, out=q)
    # Of an edge that crosses the line, this share is below; of one wholly below, more than all.
    share = np.maximum(p, q)
    share /= np.maximum(np.abs(yb - ya), _LEVEL_M)[:, :, :, None]
    np.minimum(share, 1.0, out=share)
    p += q
    p *= share
    p *= -0.5
    p += y_lines
    return p
