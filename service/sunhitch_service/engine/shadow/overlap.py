"""How much of its light shadows leave to each cell of a raster: exact areas, all moments at once.

The area of a polygon below y and within a strip is a sum over its edges there, whatever its form; a
cell's area is the difference of such sums over the raster's lines.
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
_BLOCK = 16_000
"""Edges in strips times lines worked on at once: what fits a processor's cache, and no more than
an allocator hands out without asking the system."""
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
    near = np.flatnonzero(touching(found.outline, raster))
    near = near[np.argsort(found.state[near], kind="stable")]
    if len(near):
        state, first = np.unique(found.state[near], return_index=True)
        weights = found.weight[near, None] * _covered(found.outline[near], raster)
        lost[state] = np.add.reduceat(weights, first, axis=0)
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
    areas = np.zeros((len(polygons), len(x_lines) - 1, len(y_lines) - 1))
    group = np.searchsorted(_SIZES, _used_corners(polygons))
    for number in np.unique(group).tolist():
        own = np.flatnonzero(group == number)
        corners = polygons[:, : _SIZES[number]]
        step = max(1, _BLOCK // ((corners.shape[1] + 2 * len(x_lines)) * len(y_lines)))
        for part in (own[start : start + step] for start in range(0, len(own), step)):
            areas[part] = np.abs(np.diff(_below(corners[part], x_lines, y_lines), axis=2))
    return areas


def _used_corners(polygons: Array) -> NDArray[np.int64]:
    """How many corners each outline has before the last one is repeated."""
    repeated = np.all(polygons[:, ::-1] == polygons[:, -1:], axis=2)
    trailing = np.argmin(repeated, axis=1) + polygons.shape[1] * np.all(repeated, axis=1)
    return np.asarray(polygons.shape[1] - trailing + 1, dtype=np.int64)


def _below(polygons: Array, x_lines: Array, y_lines: Array) -> Array:
    """Signed area in each strip between x lines and below each y line, shape (n, strips, y lines).

    An edge counts in the strips that it reaches.
    """
    start, end = polygons, np.roll(polygons, -1, axis=1)
    low, high = np.minimum(start[..., 0], end[..., 0]), np.maximum(start[..., 0], end[..., 0])
    reaches = (low[:, :, None] < x_lines[1:]) & (high[:, :, None] > x_lines[:-1])
    reaches &= (low < high)[:, :, None]
    owner, edge, strip = np.nonzero(reaches)
    x0, y0 = start[owner, edge].T
    x1, y1 = end[owner, edge].T
    slope = (y1 - y0) / (x1 - x0)
    a, b = (np.minimum(np.maximum(x, x_lines[strip]), x_lines[strip + 1]) for x in (x0, x1))
    ya, yb = y0 + (a - x0) * slope, y0 + (b - x0) * slope
    parts = _less(ya, yb, y_lines) * (0.5 * (a - b))
    strips = len(x_lines) - 1
    place, shape = owner * strips + strip, (len(polygons), strips)
    sums = [np.bincount(place, own, len(polygons) * strips).reshape(shape) for own in parts]
    return np.stack(sums, axis=2, dtype=np.float64)


def _less(ya: Array, yb: Array, y_lines: Array) -> Array:
    """How much less than a line the smaller of y and the line is along straight edges, in the mean.

    Twice that, shape (y lines, edges).
    """
    p, q = y_lines[:, None] - ya, y_lines[:, None] - yb
    np.maximum(p, 0.0, out=p)
    np.maximum(q, 0.0, out=q)
    # Of an edge that crosses the line, this share is below; of one wholly below, more than all.
    share = np.maximum(p, q)
    share /= np.maximum(np.abs(yb - ya), _LEVEL_M)
    np.minimum(share, 1.0, out=share)
    p += q
    p *= share
    return p
