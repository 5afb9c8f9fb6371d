"""Which candidate places exclude each other, and layouts filled with one place after another."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from sunhitch_service.engine.arrays import Floats, Integers, Mask

from .candidates import Candidates
from .orientations import TICK_M, OrientedType

if TYPE_CHECKING:
    from scipy.sparse import csr_array


def cover_entries(candidates: Candidates) -> int:
    """How many entries their cover rows have before alike ones are dropped."""
    spans = (_spans(candidates.corners[:, axis], candidates.ends[:, axis]) for axis in (0, 1))
    (first_x, last_x, _), (first_y, last_y, _) = spans
    return int(((last_x - first_x) * (last_y - first_y)).sum())


def cover_rows(candidates: Candidates) -> "csr_array":
    """Points of the roof against the candidates that cover them, gap included.

    Two candidates overlap exactly when some row holds both.

    Parameters
    ----------
    candidates : Candidates
        At least one candidate.

    Returns
    -------
    csr_array
        Shape (rows, candidates), of ones; no two rows are alike.
    """
    from scipy.sparse import csr_array

    ends = candidates.ends
    first_x, last_x, _ = _spans(candidates.corners[:, 0], ends[:, 0])
    first_y, last_y, lines_y = _spans(candidates.corners[:, 1], ends[:, 1])
    high = last_y - first_y
    number = (last_x - first_x) * high
    column: Integers = np.repeat(np.arange(len(candidates)), number)
    k: Integers = np.arange(len(column)) - np.repeat(np.cumsum(number) - number, number)
    in_x: Integers = first_x[column] + k // high[column]
    in_y: Integers = first_y[column] + k % high[column]
    row: Integers = in_x * lines_y + in_y
    found = csr_array(
        (np.ones(len(row)), (row, column)), shape=(int(row.max()) + 1, len(candidates))
    )
    return _distinct(found)


def _spans(starts: Integers, ends: Integers) -> tuple[Integers, Integers, int]:
    """First and one past the last line that each candidate covers, and how many lines there are.

    Lines lie where candidates start; a line after which none ends before the next line is left
    out, since the next one is covered by the same candidates and more.
    """
    lines, stops = np.unique(starts), np.unique(ends)
    following = np.append(lines[1:], stops[-1])
    kept = lines[
        np.searchsorted(stops, following, "right") > np.searchsorted(stops, lines, "right")
    ]
    return np.searchsorted(kept, starts), np.searchsorted(kept, ends), len(kept)


def _distinct(rows: "csr_array") -> "csr_array":
    """The rows with at least one entry, each only once."""
    rows.sort_indices()
    seen: dict[bytes, int] = {}
    for i in np.flatnonzero(np.diff(rows.indptr)):
        seen.setdefault(rows.indices[rows.indptr[i] : rows.indptr[i + 1]].tobytes(), int(i))
    return rows[list(seen.values())]


def plate_conflicts(candidates: Candidates) -> Integers:
    """Pairs of candidates that do not overlap but whose foot plates would.

    Parameters
    ----------
    candidates : Candidates
        Candidates.

    Returns
    -------
    ndarray
        Shape (pairs, 2), indices.
    """
    shapes = [_shape(oriented) for oriented in candidates.orientations]
    found = [
        _conflicts_between(candidates, shapes, u, v)
        for u in range(len(shapes))
        for v in range(u, len(shapes))
        if len(shapes[u]) > 1 and len(shapes[v]) > 1
    ]
    return np.concatenate([np.zeros((0, 2), dtype=np.int64), *found])


def _shape(oriented: OrientedType) -> Integers:
    """The panel itself, then its plates, with the panel's corner at 0 [ticks]."""
    body = np.array([[0, 0, *oriented.size]], dtype=np.int64)
    return np.concatenate([body, np.round(oriented.plates / TICK_M).astype(np.int64)])


def _conflicts_between(
    candidates: Candidates, shapes: Sequence[Integers], u: int, v: int
) -> Integers:
    first, second = (np.flatnonzero(candidates.orientation == index) for index in (u, v))
    step = candidates.corners[second][None] - candidates.corners[first][:, None]
    one, two = _hull(shapes[u]), _hull(shapes[v])
    wide_one, wide_two = (shapes[i][0] + [0, 0, candidates.gap, candidates.gap] for i in (u, v))
    near = _meet(one, two, step) & ~_meet(wide_one, wide_two, step)
    if u == v:
        near = np.tril(near, -1)
    steps, which = np.unique(step[near], axis=0, return_inverse=True)
    met = _meet(shapes[u][None, 1:, None], shapes[v][None, None, 1:], steps[:, None, None, :])
    meets: Mask = np.asarray(met.any(axis=(1, 2)), dtype=np.bool_)
    pairs = np.argwhere(near)[meets[which.ravel()]]
    return np.stack([first[pairs[:, 0]], second[pairs[:, 1]]], axis=1)


def fillings(candidates: Candidates, most: Sequence[int], worth: Integers) -> list[list[int]]:
    """Layouts that take candidates in a fixed order where they still fit.

    Parameters
    ----------
    candidates : Candidates
        However many.
    most : sequence of int
        How many of each type may be chosen.
    worth : ndarray
        Worth of each candidate.

    Returns
    -------
    list of list of int
        By worth for the roof it takes, by worth, from the front and from the front left.
    """
    (x, y), (end_x, _) = candidates.corners.T, candidates.ends.T
    dense = -worth / (candidates.ends - candidates.corners).prod(axis=1)
    keys: list[tuple[Floats | Integers, ...]] = [
        (dense, x, y),
        (dense, end_x, y),
        (dense, candidates.orientation, x, y),
        (-worth, x, y),
        (x, dense, y),
        (x + y, dense),
    ]
    return [_filling(candidates, most, np.lexsort(key[::-1])) for key in keys]


def _filling(candidates: Candidates, most: Sequence[int], order: Integers) -> list[int]:
    kind, corners, ends = candidates.kind, candidates.corners, candidates.ends
    shapes = [_shape(oriented) for oriented in candidates.orientations]
    left, taken = np.array(most), list[int]()
    order = order[left[kind[order]] > 0]
    while len(order):
        pick = int(order[0])
        taken.append(pick)
        left[kind[pick]] -= 1
        free = ((corners[order] >= ends[pick]) | (ends[order] <= corners[pick])).any(axis=1)
        order = order[free & (left[kind[order]] > 0)]
        order = order[~_plates_overlap(candidates, shapes, pick, order)]
    return sorted(taken)


def _plates_overlap(
    candidates: Candidates, shapes: Sequence[Integers], pick: int, others: Integers
) -> Mask:
    """Which candidates have a plate that overlaps one of a picked panel."""
    found = np.zeros(len(others), dtype=np.bool_)
    own = shapes[int(candidates.orientation[pick])]
    if len(own) == 1:
        return found
    steps = candidates.corners[others] - candidates.corners[pick]
    for index, shape in enumerate(shapes):
        near = np.flatnonzero(
            (candidates.orientation[others] == index) & _meet(_hull(own), _hull(shape), steps)
        )
        met = _meet(own[None, 1:, None], shape[None, None, 1:], steps[near][:, None, None])
        found[near] = met.any(axis=(1, 2))
    return found


def _hull(boxes: Integers) -> Integers:
    return np.concatenate([boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)])


def _meet(one: Integers, two: Integers, step: Integers) -> Mask:
    """Whether rectangles overlap when the second is moved by a step; touching is not overlap."""
    along_x = (one[..., 0] < two[..., 2] + step[..., 0]) & (
        two[..., 0] + step[..., 0] < one[..., 2]
    )
    along_y = (one[..., 1] < two[..., 3] + step[..., 1]) & (
        two[..., 1] + step[..., 1] < one[..., 3]
    )
    return np.asarray(along_x & along_y, dtype=np.bool_)
