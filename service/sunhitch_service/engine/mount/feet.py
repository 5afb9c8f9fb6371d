"""The feet of a panel, all present or with one of them lost: how loads share out over them.

Loads are resultants about the panel's middle: uplift [N] and its moments about both axes [N·m],
each the sum of force times distance along x and along y.
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sunhitch_service.engine.arrays import Floats, Mask, Numbers
from sunhitch_service.engine.statics import in_a_line, rigid_motions, stiff_shares

from .figures import ROUNDING_M
from .plate import compliance, plate_under

ROW_TOLERANCE_M = 0.03
"""Feet whose places along an axis differ by less stand in one row."""
_AHEAD, _BESIDE = 3.0, 4.0
"""Distance to the side over distance ahead: the way to a foot counts in full from the first on,
and beyond the second it is no row ahead. Judgement."""
SUPPORT_COMPLIANCE = 1e-3
"""Compliance of a support as a share of the plate's own, so that close supports do not fight."""


@dataclass(frozen=True, slots=True)
class Feet:
    """Forces of n feet per unit of load in m layouts: all present, then each lost in turn.

    Parameters
    ----------
    lift : ndarray, shape (2, m, n, 3)
        Feet forces of a stiff and of a thin elastic panel per unit of uplift and moments.
    push : ndarray, shape (m, n, 2, 2)
        Sideways forces per unit push.
    longest_m : float
        Longest span with all feet present [m].
    strips : ndarray, shape (u, 5)
        Every kind of sheet strip that occurs, once: span [m], share of the pressure that strips
        along this side carry, share of the studs' play that one span gets, narrowest strip that a
        foot holds [m], and whether a foot is lost.
    strip_of : ndarray of int, shape (m, 2, n, 2)
        Strip before and after each foot along both sides.
    width : ndarray, shape (m, 2, n)
        Width of sheet that pulls on each foot along both sides [m].
    stable : ndarray of bool, shape (m,)
        Whether the layout can hold the panel at all; its forces are zero where it cannot.
    stiffness : ndarray, shape (n,)
        Of each foot, beside the mean.
    """

    lift: Floats
    push: Floats
    longest_m: float
    strips: Floats
    strip_of: Numbers
    width: Floats
    stable: Mask
    stiffness: Floats


def elastic_shares(points: Floats, feet: Floats, load: Floats, stiffness: Floats) -> Floats:
    """The same under a thin elastic panel that bends between its feet.

    Parameters
    ----------
    points : ndarray, shape (m, n, 2)
        Feet from the panel's middle [m], not in a line.
    feet, load : ndarray, shape (m, n, n) and (m, n, 3)
        How far the feet rise by each other's forces and by the load, as `plate.compliance` tells.
    stiffness : ndarray, shape (m, n)
        Of each foot, relative to the others.

    Returns
    -------
    ndarray, shape (m, n, 3)
        As `statics.stiff_shares`.
    """
    layouts, n = points.shape[:2]
    motions = rigid_motions(points)
    system = np.zeros((layouts, n + 3, n + 3))
    own = SUPPORT_COMPLIANCE * np.trace(feet, axis1=1, axis2=2) / n
    system[:, :n, :n] = feet + (own[:, None] / stiffness)[..., None] * np.eye(n)
    system[:, :n, n:], system[:, n:, :n] = -motions, np.swapaxes(motions, 1, 2)
    sides = np.concatenate([load, np.broadcast_to(np.eye(3), (layouts, 3, 3))], axis=1)
    return np.asarray(np.linalg.solve(system, sides)[:, :n], dtype=np.float64)


def _weights(stiffness: Floats) -> Floats:
    """Share of each foot in the stiffness of all, shape (…, n, 1)."""
    shares: Floats = (stiffness / stiffness.sum(axis=-1, keepdims=True))[..., None]
    return shares


def stiffness_centre(points: Floats, stiffness: Floats) -> Floats:
    """Point about which feet give evenly, shape (…, 1, 2) [m]: it stays where it is by heat.

    Parameters
    ----------
    points : ndarray, shape (…, n, 2)
        Feet from the panel's middle [m].
    stiffness : ndarray, shape (…, n)
        Of each foot, relative to the others.
    """
    centre: Floats = (points * _weights(stiffness)).sum(axis=-2, keepdims=True)
    return centre


def push_shares(points: Floats, stiffness: Floats) -> Floats:
    """Sideways forces of feet per unit push through the panel's middle, as in a bolt group.

    Parameters
    ----------
    points : ndarray, shape (…, n, 2)
        Feet from the panel's middle [m].
    stiffness : ndarray, shape (…, n)
        Of each foot, relative to the others.

    Returns
    -------
    ndarray, shape (…, n, 2, 2)
        Force along x and y of each foot per newton of push along x and y.
    """
    weight = _weights(stiffness)
    centre = stiffness_centre(points, stiffness)
    arms = points - centre
    turned = np.stack([-arms[..., 1], arms[..., 0]], axis=-1)
    torque = np.stack([centre[..., 1], -centre[..., 0]], axis=-1)
    polar = (weight * arms**2).sum(axis=(-1, -2))[..., None, None, None]
    shares: Floats = weight[..., None] * (
        np.eye(2) + turned[..., :, None] * torque[..., None, :] / polar
    )
    return shares


def row_numbers(places: Floats) -> Numbers:
    """Number of the row in which each place along the last axis lies, from 0 upwards."""
    order = np.argsort(places, axis=-1, kind="stable")
    steps = np.diff(np.take_along_axis(places, order, -1), axis=-1) > ROW_TOLERANCE_M + ROUNDING_M
    numbers = np.zeros(places.shape, dtype=np.intp)
    np.put_along_axis(numbers, order[..., 1:], np.cumsum(steps, axis=-1), -1)
    return numbers


def _apart(places: Floats) -> Floats:
    """From every place along the last axis to every other, shape (m, n, n)."""
    apart: Floats = places[:, None, :] - places[:, :, None]
    return apart


def spans_along(points: Floats, axis: int, side_m: float) -> tuple[Floats, Floats]:
    """Spans before and after each foot, and the width of sheet that pulls on it.

    Parameters
    ----------
    points : ndarray, shape (m, n, 2)
        Feet from the panel's middle [m].
    axis : int
        0 for spans along the panel's length, 1 for spans along its width.
    side_m : float
        Side of the panel across the spans [m].

    Returns
    -------
    spans : ndarray, shape (m, n, 2)
        To the nearest foot of a row beyond [m]: along the axis alone where it lies up to one and a
        half times as far to the side as ahead, all the way from three times on; 0 where there is
        none.
    width : ndarray, shape (m, n)
        Half the distance to the next feet of the row, or all the way to the panel's edge [m].
    """
    places, other = points[..., axis], points[..., 1 - axis]
    rows = row_numbers(places)
    ahead, aside = _apart(places), np.abs(_apart(other))
    counted = np.clip(2.0 * aside - _AHEAD * np.abs(ahead), 0.0, aside)
    distance = np.where(aside > _BESIDE * np.abs(ahead), np.inf, np.hypot(ahead, counted))
    beyond = rows[:, None, :] - rows[:, :, None]
    near = [np.where(sign * beyond > 0, distance, np.inf).min(axis=2) for sign in (-1, 1)]
    spans = np.stack(near, axis=-1)
    spans[np.isinf(spans)] = 0.0
    order = np.lexsort((other, rows))
    along, row = np.take_along_axis(other, order, 1), np.take_along_axis(rows, order, 1)
    middles, joined = (along[:, 1:] + along[:, :-1]) / 2, row[:, 1:] == row[:, :-1]
    low, high = np.minimum(-side_m / 2, along), np.maximum(side_m / 2, along)
    low[:, 1:] = np.where(joined, middles, low[:, 1:])
    high[:, :-1] = np.where(joined, middles, high[:, :-1])
    width = np.empty_like(along)
    np.put_along_axis(width, order, high - low, 1)
    return spans, width


def overhang(points: Floats, sides_m: tuple[float, float]) -> float:
    """Widest strip of the panel beyond its outermost feet [m]."""
    half = np.array(sides_m) / 2
    beyond = np.concatenate([points.min(axis=0) + half, half - points.max(axis=0)])
    return max(0.0, float(beyond.max()))


@lru_cache(maxsize=256)
def feet_at(
    places: tuple[tuple[float, float], ...],
    sides_m: tuple[float, float],
    poisson: float,
    losses: bool = True,
    stiffness: tuple[float, ...] = (),
) -> Feet:
    """The feet of a panel; shared by panels held alike.

    Parameters
    ----------
    places : tuple of tuple of float
        Feet from the panel's middle [m], at least three and not in a line.
    sides_m : tuple of float
        Length and width of the panel [m].
    poisson : float
        Poisson's ratio of the panel.
    losses : bool
        Whether the loss of each foot is wanted too.
    stiffness : tuple of float
        Of each foot, relative to the others; none where they are alike.
    """
    points = np.array(places)
    firm = np.array(stiffness) / np.mean(stiffness) if stiffness else np.ones(len(points))
    n = len(points)
    rows = row_numbers(points.T).max(axis=1) + 1
    bent = compliance(plate_under(points, sides_m, (int(rows[0]), int(rows[1]))), points, poisson)
    kept = [np.arange(n)[None], np.nonzero(~np.eye(n, dtype=bool))[1].reshape(n, n - 1)]
    parts = [_layouts(points, firm, sides_m, each, *bent) for each in kept[: 2 if losses else 1]]
    lift, push, spans, strips, width, stable = (
        np.concatenate(found, axis=1 if i == 0 else 0)
        for i, found in enumerate(zip(*parts, strict=True))
    )
    kinds, strip_of = np.unique(strips.reshape(-1, 5).round(12), axis=0, return_inverse=True)
    strips_at = strip_of.reshape(spans.shape)
    return Feet(lift, push, float(spans[0].max()), kinds, strips_at, width, stable, firm)


def _layouts(
    points: Floats,
    firm: Floats,
    sides_m: tuple[float, float],
    kept: Numbers,
    feet: Floats,
    load: Floats,
) -> tuple[NDArray[Any], ...]:
    """Shares, spans, strips, widths and stability with the feet `kept` (m, k) of all n."""
    m, n = len(kept), len(points)
    held = points[kept]
    stable = ~in_a_line(held)
    rows = np.flatnonzero(stable)
    kept, held = kept[rows], held[rows]
    lift, push = np.zeros((2, m, n, 3)), np.zeros((m, n, 2, 2))
    spans, width = np.zeros((m, 2, n, 2)), np.zeros((m, 2, n))
    at = rows[:, None], kept
    lift[0][at] = stiff_shares(held, firm[kept])
    bent = feet[kept[:, :, None], kept[:, None]], load[kept]
    lift[1][at] = elastic_shares(held, *bent, firm[kept])
    push[at] = push_shares(held, firm[kept])
    for axis in (0, 1):
        spans[rows[:, None], axis, kept], width[rows[:, None], axis, kept] = spans_along(
            held, axis, sides_m[1 - axis]
        )
    extent = np.zeros((m, 2))
    extent[rows] = np.ptp(held, axis=1)
    narrowest = float(width[width > 0.0].min()) if len(rows) else 0.0
    return lift, push, spans, _strips(spans, extent, narrowest, n > kept.shape[1]), width, stable


def _strips(spans: Floats, extent: Floats, narrowest_m: float, lost: bool) -> Floats:
    """Every strip as `Feet.strips` tells it, shape (m, 2, n, 2, 5).

    Two crossed sets of strips sag alike, so each carries a share that falls with the fourth power
    of its span (Grashof and Rankine, as for slabs).
    """
    longest = spans.max(axis=(2, 3))
    stiff = np.where(longest > 0, np.maximum(longest, 1e-9) ** -4.0, 0.0)
    share = stiff / np.maximum(stiff.sum(axis=1, keepdims=True), 1e-12)
    play = spans / np.maximum(extent, 1e-9)[:, :, None, None]
    every = (spans, share[:, :, None, None], play, narrowest_m, float(lost))
    return np.stack([np.broadcast_to(part, spans.shape) for part in every], axis=-1)
