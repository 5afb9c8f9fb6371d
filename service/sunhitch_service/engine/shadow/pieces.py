"""Where shadows overlap: what passes several things is the product of their transmittances.

So the light lost is a sum of weighted outlines. Convex shadows of few things are weighed by
inclusion and exclusion, all moments at once; shadows of any form, and of many things, are cut into
disjoint parts, moment by moment.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from importlib import import_module
from typing import TYPE_CHECKING, Any

import numpy as np

from sunhitch.texts import sentence
from sunhitch.types.shade import PanelPosition
from sunhitch_service.engine.errors import ContradictionError, Fault
from sunhitch_service.engine.sky import Array

from .casting import Index, Shadows, corners
from .cells import CellRaster

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

_LEAST_AREA_M2 = 1e-12
_FEW = 4
_GRID_M = 1e-7
_MOST_PARTS, _MOST_CORNERS = 1500, 20_000
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

    def on_panel(self, position: PanelPosition) -> "Pieces":
        """The same in a panel's own axes, given in roof coordinates."""
        return replace(self, outline=on_panel(self.outline, position))


def on_panel(points: Array, position: PanelPosition) -> Array:
    """Points of the roof, shape (..., 2) [m], in a panel's own axes: length, width."""
    turn = np.radians(position.rotation_deg)
    back = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    return np.asarray((points - (position.x_m, position.y_m)) @ back, dtype=np.float64)


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
    return _concatenated(found)


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
    """The same where many shadows meet, state by state."""
    shapely: Any = import_module("shapely")

    shapes = shapely.polygons(outline)
    found: list[Pieces] = []
    for one in np.unique(state):
        own = np.flatnonzero(state == one)
        found.append(_disjoint(int(one), shapes[own], takes[own].tolist()))
    return found


def weighed(outlines: Sequence[Array], takes: Sequence[float], raster: CellRaster) -> Pieces:
    """Weigh shadows of any form on one panel at one moment.

    Parameters
    ----------
    outlines : sequence of ndarray, shape (corners, 2)
        Simple outlines in the panel's axes [m], at least one.
    takes : sequence of float
        Share of the light that each takes.
    raster : CellRaster
        Cells of the panel; what lies beyond them is left out.

    Returns
    -------
    Pieces
        Of state 0.

    Raises
    ------
    ContradictionError
        If the shadows cut each other into too many parts.
    """
    if len(outlines) == 1:
        return Pieces(np.zeros(1, dtype=np.int64), np.array(takes), outlines[0][None])
    shapely: Any = import_module("shapely")

    x, y = raster.x_lines, raster.y_lines
    cells = shapely.box(x[0], y[0], x[-1], y[-1])
    return _disjoint(0, [shapely.intersection(shapely.Polygon(o), cells) for o in outlines], takes)


def _disjoint(state: int, shapes: Sequence["BaseGeometry"], takes: Sequence[float]) -> Pieces:
    """Parts of shadows, opaque ones united and see-through ones cut by one another."""
    shapely: Any = import_module("shapely")

    dark = shapely.union_all([s for s, take in zip(shapes, takes, strict=True) if take >= 1.0])
    parts: list[tuple[BaseGeometry, float]] = []
    for shape, take in zip(shapes, takes, strict=True):
        if take < 1.0:
            parts = _veiled(parts, _overlaid("difference", shape, dark), 1.0 - take)
        corners = shapely.get_num_coordinates([part for part, _ in parts]).sum()
        if len(parts) > _MOST_PARTS or corners > _MOST_CORNERS:
            message = sentence("too-many-shadows")
            raise ContradictionError([Fault("/shade", message)])
    rings = [ring for shape, passes in [*parts, (dark, 0.0)] for ring in _rings(shape, passes)]
    return Pieces(
        np.full(len(rings), state, dtype=np.int64),
        np.array([weight for _, weight in rings]),
        _padded([ring[None] for ring, _ in rings]),
    )


def _veiled(
    parts: list[tuple["BaseGeometry", float]], veil: "BaseGeometry", passes: float
) -> list[tuple["BaseGeometry", float]]:
    """Lay one more see-through shadow over disjoint parts."""
    found: list[tuple[BaseGeometry, float]] = []
    rest = veil
    for part, share in parts:
        if not part.intersects(veil):
            found.append((part, share))
            continue
        both, alone = _overlaid("intersection", part, veil), _overlaid("difference", part, veil)
        found += [(both, share * passes), (alone, share)]
        rest = _overlaid("difference", rest, part)
    found.append((rest, passes))
    return [(part, share) for part, share in found if part.area > 0.0]


def _overlaid(operation: str, one: "BaseGeometry", other: "BaseGeometry") -> "BaseGeometry":
    """Exact, or on a grid of a tenth of a micrometre where many near lines leave no exact one."""
    shapely: Any = import_module("shapely")

    try:
        found: BaseGeometry = getattr(shapely, operation)(one, other)
    except shapely.errors.GEOSException:
        found = getattr(shapely, operation)(one, other, grid_size=_GRID_M)
    return found


def _rings(shape: "BaseGeometry", passes: float) -> list[tuple[Array, float]]:
    """Outer rings with the share of light lost, holes against it."""
    shapely: Any = import_module("shapely")

    found: list[tuple[Array, float]] = []
    for part in shapely.get_parts(shape):
        if part.geom_type == "Polygon" and part.area > 0.0:
            found.append((np.array(part.exterior.coords), 1.0 - passes))
            found += [(np.array(hole.coords), passes - 1.0) for hole in part.interiors]
    return found


def _padded(outlines: list[Array]) -> Array:
    """Outlines of different length stacked, the last corner repeated."""
    longest = max((o.shape[1] for o in outlines), default=1)
    stacked = [
        np.concatenate([o, np.repeat(o[:, -1:], longest - o.shape[1], axis=1)], axis=1)
        for o in outlines
    ]
    return np.concatenate(stacked) if stacked else np.zeros((0, 1, 2))


def _concatenated(parts: list[Pieces]) -> Pieces:
    return Pieces(
        np.concatenate([p.state for p in parts]),
        np.concatenate([p.weight for p in parts]),
        _padded([p.outline for p in parts]),
    )
