"""Shortest ways square to the axes past rectangles, with as few bends as possible."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from sunhitch_service.engine.arrays import Floats, Mask
from sunhitch_service.engine.rules.roof import TOLERANCE_M

from .geometry import Rectangle, covered

if TYPE_CHECKING:
    from scipy.sparse import csr_array
    from shapely import Polygon

Spot = tuple[float, float]
Integers32 = npt.NDArray[np.int32]

_BEND_M = 1e-3
"""What a bend counts in the search, so that of equally long ways the straightest is taken."""

_SHARED = 0.995
"""What a piece that already carries a cable costs: cables are bundled where that is as short."""

_DIGITS = 6


@dataclass(frozen=True)
class Grid:
    """Lines along both axes, and which pieces of them are open.

    Parameters
    ----------
    xs, ys : ndarray
        Positions of the lines, rising [m].
    open_x : ndarray
        Shape (len(xs) − 1, len(ys)), bool: from one x to the next at every y.
    open_y : ndarray
        Shape (len(xs), len(ys) − 1), bool: from one y to the next at every x.
    free : ndarray
        Shape (len(xs) · len(ys),), bool: nodes that are on the roof and inside no rectangle.
    """

    xs: Floats
    ys: Floats
    open_x: Mask
    open_y: Mask
    free: Mask

    @cached_property
    def nodes(self) -> Floats:
        """Crossings of the lines, shape (n, 2) [m]."""
        x, y = np.meshgrid(self.xs, self.ys, indexing="ij")
        return np.stack([x.ravel(), y.ravel()], axis=1)

    @cached_property
    def _graph(self) -> "csr_array":
        """Two nodes per crossing, one for each direction of travel, joined by a bend."""
        from scipy.sparse import csr_array

        n = len(self.nodes)
        ids = np.arange(n).reshape(len(self.xs), len(self.ys))
        lengths_x = np.broadcast_to(np.diff(self.xs)[:, None], self.open_x.shape)
        lengths_y = np.broadcast_to(np.diff(self.ys)[None, :], self.open_y.shape)
        rows = [ids[:-1][self.open_x], ids[:, :-1][self.open_y] + n, ids.ravel()]
        columns = [ids[1:][self.open_x], ids[:, 1:][self.open_y] + n, ids.ravel() + n]
        weights = [lengths_x[self.open_x], lengths_y[self.open_y], np.full(n, _BEND_M)]
        entries = np.concatenate(weights), (np.concatenate(rows), np.concatenate(columns))
        return csr_array(entries, shape=(2 * n, 2 * n))

    def _node(self, spot: Spot) -> int:
        i = int(np.argmin(np.abs(self.xs - spot[0])))
        j = int(np.argmin(np.abs(self.ys - spot[1])))
        return i * len(self.ys) + j

    def is_free(self, spot: Spot) -> bool:
        """Whether the crossing at a point may be used."""
        return bool(self.free[self._node(spot)])

    def distances(self, spot: Spot) -> Floats:
        """Way [m] from a point to every node, bends counted a little; infinite where none is."""
        reached, _ = _search(self._graph, self._node(spot))
        return np.asarray(reached.reshape(2, -1).min(axis=0), dtype=np.float64)

    def between(self, spot: Spot, others: Sequence[Spot]) -> Floats:
        """The same from a point to some others."""
        return self.distances(spot)[[self._node(other) for other in others]]

    def paths(self, starts: Sequence[tuple[Spot, bool]], goal: Spot) -> list[list[Spot]]:
        """Short ways to one goal that run together where that costs next to nothing.

        Parameters
        ----------
        starts : sequence of tuple
            Points on the grid [m], each with whether the way leaves it along x.
        goal : tuple of float
            Point on the grid [m].

        Returns
        -------
        list of list of tuple
            Nodes from each start to the goal [m]; empty where there is no way.
        """
        graph, root = self._graph.copy(), self._node(goal)
        n: int = len(self.nodes)
        states: list[int] = [self._node(spot) + (0 if along_x else n) for spot, along_x in starts]
        reached, _ = _search(graph, root)
        found: list[list[Spot]] = [[] for _ in starts]
        shared: set[int] = set()
        order: list[int] = np.argsort(reached[states], kind="stable").tolist()
        for i in order:
            trace = _trace(states[i], *_search(graph, root))
            shared |= _make_cheaper(graph, trace, shared)
            found[i] = self._spots(trace)
        return found

    def _spots(self, trace: Sequence[int]) -> list[Spot]:
        """Nodes along a chain of states, bends in place left out."""
        nodes = np.array(trace, dtype=np.int64) % len(self.nodes)
        kept = nodes[np.append(True, nodes[1:] != nodes[:-1])] if len(nodes) else nodes
        return [(x, y) for x, y in self.nodes[kept].tolist()]


def _search(graph: "csr_array", root: int) -> tuple[Floats, Integers32]:
    """Distance of every state from a node, whichever way it is left, and the state before."""
    from scipy.sparse.csgraph import dijkstra

    n = graph.shape[0] // 2
    reached, before, _ = dijkstra(
        graph, directed=False, indices=[root, root + n], return_predecessors=True, min_only=True
    )
    return reached, before


def _trace(state: int, reached: Floats, before: Integers32) -> list[int]:
    if not np.isfinite(reached[state]):
        return []
    trace = [state]
    while before[trace[-1]] >= 0:
        trace.append(int(before[trace[-1]]))
    return trace


def _make_cheaper(graph: "csr_array", trace: Sequence[int], shared: set[int]) -> set[int]:
    """Let later ways prefer the pieces of this one; each piece gets cheaper once."""
    pieces: set[int] = set()
    for one, other in pairwise(trace):
        row, column = min(one, other), max(one, other)
        first, last = graph.indptr[row], graph.indptr[row + 1]
        pieces.add(int(first) + int(np.flatnonzero(graph.indices[first:last] == column)[0]))
    graph.data[sorted(pieces - shared)] *= _SHARED
    return pieces


def make_grid(
    lines_from: Sequence[Rectangle],
    spots: Sequence[Spot],
    blocked: Sequence[Rectangle],
    outline: "Polygon | None",
) -> Grid:
    """Lay lines along the sides of rectangles and through points.

    Parameters
    ----------
    lines_from : sequence of Rectangle
        Rectangles whose sides give lines.
    spots : sequence of tuple
        Points through which lines run both ways.
    blocked : sequence of Rectangle
        Rectangles whose inside must not be crossed.
    outline : Polygon or None
        What must not be left; None if anything is allowed.

    Returns
    -------
    Grid
        With its open pieces.
    """
    xs = _lines([v for b in lines_from for v in (b.x1, b.x2)] + [s[0] for s in spots])
    ys = _lines([v for b in lines_from for v in (b.y1, b.y2)] + [s[1] for s in spots])

    def opened(xs_end: Floats, ys_end: Floats) -> Mask:
        """Which pieces are open, from the crossings of lines to those of others."""
        start = np.meshgrid(xs[: len(xs_end)], ys[: len(ys_end)], indexing="ij")
        end = np.meshgrid(xs_end, ys_end, indexing="ij")
        return _open(np.stack([*start, *end], axis=-1), blocked, outline)

    return Grid(xs, ys, opened(xs[1:], ys), opened(xs, ys[1:]), opened(xs, ys).ravel())


def _lines(values: Sequence[float]) -> Floats:
    return np.unique(np.round(np.array(values, dtype=np.float64), _DIGITS))


def _open(pieces: Floats, blocked: Sequence[Rectangle], outline: "Polygon | None") -> Mask:
    """Which pieces, shape (…, 4), cross no rectangle and stay on the roof."""
    t = 2 * TOLERANCE_M
    flat = pieces.reshape(-1, 4)
    grown = flat + np.array([-t, -t, t, t])
    found = np.ones(len(flat), dtype=np.bool_) if outline is None else covered(outline, grown)
    for b in blocked:
        inside_x = (flat[:, 0] < b.x2 - t) & (flat[:, 2] > b.x1 + t)
        inside_y = (flat[:, 1] < b.y2 - t) & (flat[:, 3] > b.y1 + t)
        found &= ~(inside_x & inside_y)
    return np.asarray(found.reshape(pieces.shape[:-1]), dtype=np.bool_)
