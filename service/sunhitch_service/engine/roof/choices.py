"""Candidate places of a layout problem, and which of them exclude each other."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from sunhitch.types.roof import RoofPanelType

from .geometry import Box, Floats, Mask
from .panels import plate_boxes
from .positions import Axis, axis_of, positions
from .site import Site
from .variants import (
    TICK_M,
    Ticks,
    Variant,
    allowed_places,
    forbidden_positions,
    limits,
    ticks,
    variants_of,
)

if TYPE_CHECKING:
    from scipy.sparse import csr_array

Integers = npt.NDArray[np.int64]

_HALF_TICK_M = TICK_M / 2


@dataclass(frozen=True, slots=True)
class Choices:
    """Places to choose from; at most one of any that overlap.

    Parameters
    ----------
    variants : list of Variant
        Ways of laying.
    variant : ndarray
        Shape (n,), index of the way.
    corners : ndarray
        Shape (n, 2), front left corner [ticks].
    gap : int
        Smallest gap between panels [ticks].
    exact : ndarray
        Shape (n,), bool: allowed in full. The others are allowed only as far as rectangles tell,
        and serve bounds.
    """

    variants: list[Variant]
    variant: Integers
    corners: Ticks
    gap: int
    exact: Mask

    def __len__(self) -> int:
        return len(self.variant)

    @property
    def kind(self) -> Integers:
        """Index of each candidate's panel type."""
        return np.array([v.kind_index for v in self.variants], dtype=np.int64)[self.variant]

    @property
    def sizes(self) -> Ticks:
        """Size of each candidate, shape (n, 2) [ticks]."""
        return np.array([v.size for v in self.variants], dtype=np.int64)[self.variant]

    def only(self, mask: Mask) -> "Choices":
        """Some of the candidates."""
        return Choices(
            self.variants, self.variant[mask], self.corners[mask], self.gap, self.exact[mask]
        )


def choices_of(site: Site, kinds: Sequence[RoofPanelType], most: int) -> Choices:
    """All candidate places.

    Parameters
    ----------
    site : Site
        The roof.
    kinds : sequence of RoofPanelType
        What may be placed.
    most : int
        Most panels that are to be placed.

    Returns
    -------
    Choices
        Ordered by variant, x and y.
    """
    variants = variants_of(kinds)
    gap = ticks(site.gap.metres)
    forbidden = [forbidden_positions(site, variant) for variant in variants]
    room = [limits(site, variant) for variant in variants]
    xs, ys = (positions(_axes(variants, gap, room, forbidden, axis), most) for axis in (0, 1))
    parts = [_relaxed(_product(x, y), no) for x, y, no in zip(xs, ys, forbidden, strict=True)]
    exact = [allowed_places(site, v, part) for v, part in zip(variants, parts, strict=True)]
    number = [len(part) for part in parts]
    return Choices(
        variants,
        np.repeat(np.arange(len(variants)), number),
        np.concatenate(parts),
        gap,
        np.concatenate(exact),
    )


def _axes(
    variants: Sequence[Variant],
    gap: int,
    room: Sequence[Box],
    forbidden: Sequence[Floats],
    axis: int,
) -> list[Axis]:
    return [
        axis_of(variant, gap, limit, no, axis)
        for variant, limit, no in zip(variants, room, forbidden, strict=True)
    ]


def _product(x: Ticks, y: Ticks) -> Ticks:
    grid = np.meshgrid(x, y, indexing="ij")
    return np.stack(grid, axis=-1).reshape(-1, 2).astype(np.int64)


def _relaxed(corners: Ticks, forbidden: Floats) -> Ticks:
    """Those that lie in no forbidden rectangle, by half a tick or more."""
    keep = np.ones(len(corners), dtype=np.bool_)
    x, y = (corners * TICK_M).T
    for x1, y1, x2, y2 in forbidden:
        inside_x = (x > x1 + _HALF_TICK_M) & (x < x2 - _HALF_TICK_M)
        inside_y = (y > y1 + _HALF_TICK_M) & (y < y2 - _HALF_TICK_M)
        keep &= ~(inside_x & inside_y)
    return corners[keep]


def cover_rows(choices: Choices) -> "csr_array":
    """Points of the roof against the candidates that cover them, gap included.

    Two candidates overlap exactly when some row holds both.

    Parameters
    ----------
    choices : Choices
        At least one candidate.

    Returns
    -------
    csr_array
        Shape (rows, candidates), of ones; no two rows are alike.
    """
    from scipy.sparse import csr_array

    ends = choices.corners + choices.sizes + choices.gap
    first_x, last_x, _ = _spans(choices.corners[:, 0], ends[:, 0])
    first_y, last_y, lines_y = _spans(choices.corners[:, 1], ends[:, 1])
    high = last_y - first_y
    number = (last_x - first_x) * high
    column: Integers = np.repeat(np.arange(len(choices)), number)
    k: Integers = np.arange(len(column)) - np.repeat(np.cumsum(number) - number, number)
    in_x: Integers = first_x[column] + k // high[column]
    in_y: Integers = first_y[column] + k % high[column]
    row: Integers = in_x * lines_y + in_y
    found = csr_array((np.ones(len(row)), (row, column)), shape=(int(row.max()) + 1, len(choices)))
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


def plate_conflicts(choices: Choices) -> Integers:
    """Pairs of candidates that do not overlap but whose foot plates would.

    Parameters
    ----------
    choices : Choices
        Candidates.

    Returns
    -------
    ndarray
        Shape (pairs, 2), indices.
    """
    shapes = [_shape(variant) for variant in choices.variants]
    found = [
        _conflicts_between(choices, shapes, u, v)
        for u in range(len(shapes))
        for v in range(u, len(shapes))
        if len(shapes[u]) > 1 and len(shapes[v]) > 1
    ]
    return np.concatenate([np.zeros((0, 2), dtype=np.int64), *found])


def _shape(variant: Variant) -> Ticks:
    """The panel itself, then its plates, with the panel's corner at 0 [ticks]."""
    plates = plate_boxes(variant.kind, variant.quarter_turns)
    body = np.array([[0, 0, *variant.size]], dtype=np.int64)
    return np.concatenate([body, np.round(plates / TICK_M).astype(np.int64)])


def _conflicts_between(choices: Choices, shapes: Sequence[Ticks], u: int, v: int) -> Integers:
    first, second = (np.flatnonzero(choices.variant == index) for index in (u, v))
    step = choices.corners[second][None] - choices.corners[first][:, None]
    one, two = _hull(shapes[u]), _hull(shapes[v])
    body_one, body_two = shapes[u][0] + np.array([0, 0, choices.gap, choices.gap]), shapes[v][0]
    wide_two = body_two + np.array([0, 0, choices.gap, choices.gap])
    near = _meet(one, two, step) & ~_meet(body_one, wide_two, step)
    if u == v:
        near = np.tril(near, -1)
    steps, which = np.unique(step[near], axis=0, return_inverse=True)
    meets = [bool(_meet(shapes[u][1:, None], shapes[v][None, 1:], s).any()) for s in steps]
    pairs = np.argwhere(near)[np.array(meets, dtype=np.bool_)[which.ravel()]]
    return np.stack([first[pairs[:, 0]], second[pairs[:, 1]]], axis=1)


def _hull(boxes: Ticks) -> Ticks:
    return np.concatenate([boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)])


def _meet(one: Ticks, two: Ticks, step: Ticks) -> Mask:
    """Whether rectangles overlap when the second is moved by a step; touching is not overlap."""
    along_x = (one[..., 0] < two[..., 2] + step[..., 0]) & (
        two[..., 0] + step[..., 0] < one[..., 2]
    )
    along_y = (one[..., 1] < two[..., 3] + step[..., 1]) & (
        two[..., 1] + step[..., 1] < one[..., 3]
    )
    return np.asarray(along_x & along_y, dtype=np.bool_)
