"""How much of its light shadows leave to each cell of a raster: exact areas, all moments at once.

The area of a polygon below y and within a strip is a sum over its edges there, whatever its form; a
cell's area is the difference of such sums over the raster's lines.
"""

import numpy as np

from sunhitch_service.engine.sky import Array, Mask

from .cells import CellRaster
from .outlines import Outlines
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


def touching(outlines: Outlines, raster: CellRaster) -> Mask:
    """Which outlines may cover part of a raster, by their extent.

    Parameters
    ----------
    outlines : Outlines
        In the panel's axes.
    raster : CellRaster
        Cells of the panel.
    """
    (x1, y1), (x2, y2) = outlines.extent()
    x, y = raster.x_lines, raster.y_lines
    return np.asarray((x1 < x[-1]) & (y1 < y[-1]) & (x2 > x[0]) & (y2 > y[0]), dtype=np.bool_)


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
    left = np.ones((states, raster.cells))
    near = np.flatnonzero(touching(found.outlines, raster))
    near = near[np.argsort(found.state[near], kind="stable")]
    if len(near):
        state, first = np.unique(found.state[near], return_index=True)
        weights = found.weight[near, None] * _covered(found.outlines.of(near), raster)
        lost = np.add.reduceat(weights, first, axis=0)
        left[state] = np.round(np.clip(1.0 - lost, 0.0, 1.0), _DIGITS)
    return left


def _covered(outlines: Outlines, raster: CellRaster) -> Array:
    """Share of each cell inside each outline; of many, those on all or no cells are quick."""
    x_lines, y_lines = raster.x_lines, raster.y_lines
    cell = np.outer(np.diff(x_lines), np.diff(y_lines)).ravel()
    if len(outlines) < _MANY:
        return cell_areas(outlines, x_lines, y_lines).reshape(-1, len(cell)) / cell
    whole = cell_areas(outlines, x_lines[[0, -1]], y_lines[[0, -1]])[:, 0, 0] / cell.sum()
    shares = np.repeat((whole > 0.5)[:, None], len(cell), axis=1).astype(np.float64)
    partly = np.flatnonzero((whole > _NOTHING) & (whole < 1.0 - _NOTHING))
    areas = cell_areas(outlines.of(partly), x_lines, y_lines)
    shares[partly] = areas.reshape(len(areas), len(cell)) / cell
    return shares


def cell_areas(outlines: Outlines, x_lines: Array, y_lines: Array) -> Array:
    """Area of each outline inside each cell of a raster.

    Parameters
    ----------
    outlines : Outlines
        Simple ones, convex or not.
    x_lines, y_lines : ndarray
        Rising lines of the raster [m], `rows + 1` and `columns + 1` of them.

    Returns
    -------
    ndarray, shape (n, rows, columns)
        [m²], not negative.
    """
    areas = np.zeros((len(outlines), len(x_lines) - 1, len(y_lines) - 1))
    work = np.cumsum(outlines.sizes + 2 * len(x_lines)) * len(y_lines) // _BLOCK
    for part in np.split(np.arange(len(outlines)), np.flatnonzero(np.diff(work)) + 1):
        areas[part] = np.abs(np.diff(_below(outlines.of(part), x_lines, y_lines), axis=2))
    return areas


def _below(outlines: Outlines, x_lines: Array, y_lines: Array) -> Array:
    """Signed area in each strip between x lines and below each y line, shape (n, strips, y lines).

    An edge counts in the strips that it reaches.
    """
    ends, (x0, y0) = np.cumsum(outlines.sizes) - 1, outlines.points
    x1, y1 = np.roll(outlines.points, -1, axis=1)
    x1[ends] = x0[ends]  # from one outline to the next there is no edge
    low, high = np.minimum(x0, x1)[:, None], np.maximum(x0, x1)[:, None]
    edge, strip = np.nonzero((low < x_lines[1:]) & (high > x_lines[:-1]) & (low < high))
    owner = np.repeat(np.arange(len(outlines)), outlines.sizes)[edge]
    x0, y0, x1, y1 = (each[edge] for each in (x0, y0, x1, y1))
    slope = (y1 - y0) / (x1 - x0)
    a, b = (np.minimum(np.maximum(x, x_lines[strip]), x_lines[strip + 1]) for x in (x0, x1))
    ya, yb = y0 + (a - x0) * slope, y0 + (b - x0) * slope
    parts = _less(ya, yb, y_lines) * (0.5 * (a - b))
    strips = len(x_lines) - 1
    place, shape = owner * strips + strip, (len(outlines), strips)
    sums = [np.bincount(place, own, len(outlines) * strips).reshape(shape) for own in parts]
    return np.stack(sums, axis=2, dtype=np.float64)


def _less(ya: Array, yb: Array, y_lines: Array) -> Array:
    """How much less than a line the smaller of y and the line is along straight edges, in the mean.

    Twice that, shape (y lines, edges).
    """
    p, q = (np.maximum(y_lines[:, None] - y, 0.0) for y in (ya, yb))
    # Of an edge that crosses the line, this share is below; of one wholly below, more than all.
    share = np.maximum(p, q) / np.maximum(np.abs(yb - ya), _LEVEL_M)
    return (p + q) * np.minimum(share, 1.0)
