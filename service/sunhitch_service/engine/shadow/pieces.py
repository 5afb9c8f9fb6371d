"""Where shadows overlap: what passes several things is the product of their transmittances.

So the light lost is a sum of weighted outlines. Convex shadows of few things are weighed by
inclusion and exclusion, all moments at once; shadows of any form, and of many things, are cut into
disjoint parts, moment by moment.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from sunhitch.texts import sentence
from sunhitch.types.shade import PanelPosition
from sunhitch_service.engine.errors import ContradictionError, Fault
from sunhitch_service.engine.roof.geometry import shapely_functions
from sunhitch_service.engine.sky import Array, Index

from .casting import Shadows
from .cells import CellRaster
from .outlines import Outlines

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
    outlines : Outlines
        Of as many.
    """

    state: Index
    weight: Array
    outlines: Outlines

    def of(self, which: Index) -> "Pieces":
        """Some of them."""
        return Pieces(self.state[which], self.weight[which], self.outlines.of(which))

    def on_panel(self, position: PanelPosition) -> "Pieces":
        """The same in a panel's own axes, given in roof coordinates."""
        return replace(self, outlines=self.outlines.on_panel(position))


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
        return Pieces(state, np.zeros(0), Outlines.closed([]))
    takes = np.concatenate([o[s.state] for s, o in zip(shadows, opacity, strict=True)])
    every = Pieces(state, takes, Outlines.all_of(s.outlines for s in shadows))
    every = every.of(np.flatnonzero(takes > 0.0))
    together = np.bincount(every.state)[every.state]
    few = (together > 1) & (together <= _FEW)
    found = [every.of(np.flatnonzero(together == 1)), *_of_few(every.of(np.flatnonzero(few)))]
    found += _of_many(every.of(np.flatnonzero(together > _FEW)))
    return Pieces(
        np.concatenate([own.state for own in found]),
        np.concatenate([own.weight for own in found]),
        Outlines.all_of(own.outlines for own in found),
    )


def _of_few(every: Pieces) -> list[Pieces]:
    """Inclusion and exclusion over convex shadows, all states at once, one rank after another."""
    if len(every.state) == 0:
        return []
    shapely = shapely_functions()
    every = every.of(np.argsort(every.state, kind="stable"))
    state, takes, shapes = every.state, every.weight, every.outlines.shapes()
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
    return [Pieces(states, weights, Outlines.of_shapes(cuts))]


def _of_many(every: Pieces) -> list[Pieces]:
    """The same where many shadows meet, state by state."""
    shapes = every.outlines.shapes()
    return [
        _disjoint(one, list(shapes[every.state == one]), every.weight[every.state == one].tolist())
        for one in np.unique(every.state).tolist()
    ]


def weighed(outlines: Outlines, takes: Sequence[float], raster: CellRaster) -> Pieces:
    """Weigh shadows of any form on one panel at one moment.

    Parameters
    ----------
    outlines : Outlines
        Simple ones in the panel's axes, at least one.
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
        return Pieces(np.zeros(1, dtype=np.int64), np.array(takes), outlines)
    x, y = raster.x_lines, raster.y_lines
    cells = shapely_functions().box(x[0], y[0], x[-1], y[-1])
    return _disjoint(0, shapely_functions().intersection(outlines.shapes(), cells), takes)


def _disjoint(state: int, shapes: Sequence["BaseGeometry"], takes: Sequence[float]) -> Pieces:
    """Parts of shadows, opaque ones united and see-through ones cut by one another."""
    shapely = shapely_functions()
    dark = shapely.union_all([s for s, take in zip(shapes, takes, strict=True) if take >= 1.0])
    parts: list[tuple[BaseGeometry, float]] = []
    for shape, take in zip(shapes, takes, strict=True):
        if take < 1.0:
            parts = _veiled(parts, _overlaid("difference", shape, dark), 1.0 - take)
        corners = shapely.get_num_coordinates([part for part, _ in parts]).sum()
        if len(parts) > _MOST_PARTS or corners > _MOST_CORNERS:
            raise ContradictionError([Fault("/shade", sentence("too-many-shadows"))])
    rings = [ring for shape, passes in [*parts, (dark, 0.0)] for ring in _rings(shape, passes)]
    return Pieces(
        np.full(len(rings), state, dtype=np.int64),
        np.array([weight for _, weight in rings]),
        Outlines.closed([ring for ring, _ in rings]),
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
    shapely = shapely_functions()
    try:
        found: BaseGeometry = getattr(shapely, operation)(one, other)
    except shapely.errors.GEOSException:
        found = getattr(shapely, operation)(one, other, grid_size=_GRID_M)
    return found


def _rings(shape: "BaseGeometry", passes: float) -> list[tuple[Array, float]]:
    """Outer rings with the share of light lost, holes against it."""
    found: list[tuple[Array, float]] = []
    for part in shapely_functions().get_parts(shape):
        if part.geom_type == "Polygon" and part.area > 0.0:
            found.append((np.array(part.exterior.coords), 1.0 - passes))
            found += [(np.array(hole.coords), passes - 1.0) for hole in part.interiors]
    return found
