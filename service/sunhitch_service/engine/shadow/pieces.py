"""Where shadows overlap: disjoint bookkeeping, so that no light is lost twice."""

from collections.abc import Sequence
from dataclasses import dataclass
from importlib import import_module
from typing import TYPE_CHECKING, Any

import numpy as np

from sunhitch_service.engine.sky import Array

from .casting import Index, Shadows, corners

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

_LEAST_AREA_M2 = 1e-12
_FEW = 4
MOST_VEILS = 8
"""See-through things whose shadows may lie on one another."""


@dataclass(frozen=True, slots=True)
class Pieces:
    """Outlines with weights: the light lost at a point is the sum of the weights around it.

    Parameters
    ----------
    state : ndarray of int, shape (n,)
        State of light.
    weight : ndarray, shape (n,)
        Share of the beam lost; negative where an overlap would count twice.
    outline : ndarray, shape (n, corners, 2)
        Corners in order around [m].
    """

    state: Index
    weight: Array
    outline: Array


def pieces(shadows: Sequence[Shadows], opacity: Sequence[Array]) -> Pieces:
    """Weigh shadows so that opaque ones unite and see-through ones multiply.

    Parameters
    ----------
    shadows : sequence of Shadows
        One per solid.
    opacity : sequence of ndarray, shape (states,)
        Share of the light that each solid takes in each state.

    Returns
    -------
    Pieces
        States with one shadow keep it; overlaps are worked out where there are more.
    """
    state = np.concatenate([s.state for s in shadows]) if shadows else np.zeros(0, dtype=np.int64)
    if len(state) == 0:
        return Pieces(state, np.zeros(0), np.zeros((0, 1, 2)))
    takes = np.concatenate([o[s.state] for s, o in zip(shadows, opacity, strict=True)])
    outline = _padded([s.outline for s in shadows])
    real = takes > 0.0
    state, takes, outline = state[real], takes[real], outline[real]
    together = np.bincount(state, minlength=1)[state]
    single = together == 1
    found = [Pieces(state[single], takes[single], outline[single])]
    few, many = (together > 1) & (together <= _FEW), together > _FEW
    found += _of_few(state[few], takes[few], outline[few])
    found += _of_many(state[many], takes[many], outline[many])
    return _joined(found)


def _of_few(state: Index, takes: Array, outline: Array) -> list[Pieces]:
    """Inclusion and exclusion over convex shadows, all states at once, one rank after another."""
    shapely: Any = import_module("shapely")

    if len(state) == 0:
        return []
    order = np.argsort(state, kind="stable")
    state, takes = state[order], takes[order]
    shapes = shapely.polygons(outline[order])
    rank = np.arange(len(state)) - np.searchsorted(state, state)
    known = rank == 0
    states, weights, cuts = state[known], takes[known], shapes[known]
    for current in range(1, int(rank.max()) + 1):
        own = np.flatnonzero(rank == current)
        at = np.searchsorted(state[own], states)
        inside = at < len(own)
        pair = np.flatnonzero(inside)[state[own][at[inside]] == states[inside]]
        partner = own[at[pair]]
        both = shapely.intersection(cuts[pair], shapes[partner])
        real = shapely.area(both) > _LEAST_AREA_M2
        states = np.concatenate([states, states[pair][real], state[own]])
        weights = np.concatenate([weights, -(weights[pair] * takes[partner])[real], takes[own]])
        cuts = np.concatenate([cuts, both[real], shapes[own]])
    return [Pieces(states, weights, corners(cuts))]


def _of_many(state: Index, takes: Array, outline: Array) -> list[Pieces]:
    """The same where many shadows meet: opaque ones united, state by state."""
    shapely: Any = import_module("shapely")

    shapes = shapely.polygons(outline)
    found: list[Pieces] = []
    for one in np.unique(state):
        own = np.flatnonzero(state == one)
        weighed = _weighed([(shapes[k], float(takes[k])) for k in own])
        found += [_rings(int(one), shape, weight) for shape, weight in weighed]
    return found


def _weighed(
    shapes: list[tuple["BaseGeometry", float]],
) -> list[tuple["BaseGeometry", float]]:
    """Opaque shapes united first, then one see-through shape after another laid over."""
    shapely: Any = import_module("shapely")

    opaque = [shape for shape, takes in shapes if takes >= 1.0]
    found = [(shapely.union_all(opaque), 1.0)] if opaque else []
    for shape, takes in shapes:
        if takes < 1.0:
            both = [(shapely.intersection(other, shape), -w * takes) for other, w in found]
            found += [(cut, w) for cut, w in both if cut.area > _LEAST_AREA_M2]
            found.append((shape, takes))
    return found


def _rings(state: int, shape: "BaseGeometry", weight: float) -> Pieces:
    """Outer rings with the weight, holes against it."""
    shapely: Any = import_module("shapely")

    rings: list[Array] = []
    weights: list[float] = []
    for part in shapely.get_parts(shape):
        if part.geom_type == "Polygon":
            holes = [np.array(hole.coords) for hole in part.interiors]
            rings += [np.array(part.exterior.coords), *holes]
            weights += [weight, *([-weight] * len(holes))]
    outline = _padded([ring[None] for ring in rings])
    return Pieces(np.full(len(rings), state, dtype=np.int64), np.array(weights), outline)


def _padded(outlines: list[Array]) -> Array:
    """Outlines of different length stacked, the last corner repeated."""
    longest = max((o.shape[1] for o in outlines), default=1)
    stacked = [
        np.concatenate([o, np.repeat(o[:, -1:], longest - o.shape[1], axis=1)], axis=1)
        for o in outlines
    ]
    return np.concatenate(stacked) if stacked else np.zeros((0, 1, 2))


def _joined(parts: list[Pieces]) -> Pieces:
    return Pieces(
        np.concatenate([p.state for p in parts]),
        np.concatenate([p.weight for p in parts]),
        _padded([p.outline for p in parts]),
    )
