"""The feet of a panel, all present or with one of them lost, ready for any load."""

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from .plate import ElasticPlate
from .spans import spans_along
from .statics import in_a_line, push_shares, rigid_shares

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class FeetStates:
    """Several states of the same feet, one per row; forces per unit of load.

    Parameters
    ----------
    lift : ndarray, shape (2, m, n, 3)
        Feet forces of a stiff and of a thin elastic panel per unit of uplift and moments.
    push : ndarray, shape (m, n, 2, 2)
        Sideways forces per unit push.
    spans : ndarray, shape (m, 2, n, 2)
        Spans before and after each foot along both sides [m].
    strips : ndarray, shape (u, 3)
        Every kind of sheet strip that occurs, once: span [m], share of the pressure that strips
        along this side carry, and share of the studs' play that one span gets.
    which : ndarray of int, shape (m, 2, n, 2)
        Strip on either side of each foot.
    width : ndarray, shape (m, 2, n)
        Width of sheet that pulls on each foot along both sides [m].
    stable : ndarray of bool, shape (m,)
        Whether the layout can hold the panel at all.
    """

    lift: Floats
    push: Floats
    spans: Floats
    strips: Floats
    which: NDArray[np.intp]
    width: Floats
    stable: NDArray[np.bool_]


class Feet:
    """Feet of a panel, prepared for any load where a load first asks for it.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Feet from the panel's middle [m], at least three and not in a line.
    side_m : tuple of float
        Length and width of the panel [m].
    poisson : float
        Poisson's ratio of the panel.
    """

    def __init__(self, points: Floats, side_m: tuple[float, float], poisson: float) -> None:
        self._points, self._side_m = points, side_m
        self._plate = ElasticPlate(*side_m, points, poisson)

    @cached_property
    def whole(self) -> FeetStates:
        """One state, all feet present."""
        everyone = np.ones((1, len(self._points)), dtype=bool)
        return _states(self._points, self._side_m, self._plate, everyone)

    @cached_property
    def lost(self) -> FeetStates:
        """One state per foot, in order, that foot missing."""
        others = ~np.eye(len(self._points), dtype=bool)
        return _states(self._points, self._side_m, self._plate, others)


@lru_cache(maxsize=256)
def feet_at(
    places: tuple[tuple[float, float], ...], side_m: tuple[float, float], poisson: float
) -> Feet:
    """Feet, shared by panels held alike; arguments as of `Feet`."""
    return Feet(np.array(places), side_m, poisson)


def _states(
    points: Floats,
    side_m: tuple[float, float],
    plate: ElasticPlate,
    alive: NDArray[np.bool_],
) -> FeetStates:
    m, n = alive.shape
    lift, push = np.zeros((2, m, n, 3)), np.zeros((m, n, 2, 2))
    spans, width = np.zeros((m, 2, n, 2)), np.zeros((m, 2, n))
    stable = np.array([not in_a_line(points[left]) for left in alive])
    for i in np.flatnonzero(stable):
        left = points[alive[i]]
        lift[0, i, alive[i]] = rigid_shares(left)
        lift[1, i] = plate.shares(alive[i])
        push[i, alive[i]] = push_shares(left)
        for axis in (0, 1):
            spans[i, axis, alive[i]], width[i, axis, alive[i]] = spans_along(left, axis, side_m)
    extent = np.array([np.ptp(points[left], axis=0) for left in alive])
    strips, which = np.unique(_strips(spans, extent), axis=0, return_inverse=True)
    return FeetStates(lift, push, spans, strips, which.reshape(spans.shape), width, stable)


def _strips(spans: Floats, extent: Floats) -> Floats:
    """Span, share of pressure and share of play of every strip, shape (…, 3) flattened.

    Two crossed sets of strips sag alike, so each carries a share that falls with the fourth power
    of its span (Grashof and Rankine, as for slabs).
    """
    longest = spans.max(axis=(2, 3))
    stiff = np.where(longest > 0, np.maximum(longest, 1e-9) ** -4.0, 0.0)
    share = stiff / np.maximum(stiff.sum(axis=1, keepdims=True), 1e-12)
    whole = np.broadcast_to(share[:, :, None, None], spans.shape)
    play = spans / np.maximum(extent, 1e-9)[:, :, None, None]
    return np.stack([spans, whole, play], axis=-1).reshape(-1, 3)
