"""Candidate places of a layout problem, and which of them exclude each other."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from sunhitch.types.roof import RoofPanelType

from .forbidden import Blocked, forbidden_positions, is_whole
from .geometry import Floats, Mask
from .orientations import (
    TICK_M,
    OrientedType,
    Ticks,
    allowed_places,
    limits,
    oriented_types,
    ticks,
)
from .positions import Axis, axis_of, overhang, positions
from .site import RoofSite
from .support import stopped_by_panels, stopped_by_things

if TYPE_CHECKING:
    from scipy.sparse import csr_array

Integers = npt.NDArray[np.int64]

_HALF_TICK_M = TICK_M / 2

_PRODUCTS = 10
"""Rows times columns that are looked at, for every place that may be left of them."""

_ALL = 10**9

_HALVINGS = 13
"""How often stops are halved at most: enough to leave the margins alone of 4000."""

_TESTS_PER_DISTANCE = 20
"""Places that are held against one rectangle in the time of one distance between shapes."""


@dataclass(frozen=True, slots=True)
class Candidates:
    """Places to choose from; at most one of any that overlap.

    Parameters
    ----------
    orientations : list of OrientedType
        How panels may be laid.
    orientation : ndarray
        Shape (n,), index of how the panel is laid.
    corners : ndarray
        Shape (n, 2), front left corner [ticks].
    gap : int
        Smallest gap between panels [ticks].
    """

    orientations: list[OrientedType]
    orientation: Integers
    corners: Ticks
    gap: int

    def __len__(self) -> int:
        return len(self.orientation)

    @property
    def kind(self) -> Integers:
        """Index of each candidate's panel type."""
        return np.array([v.kind_index for v in self.orientations], dtype=np.int64)[self.orientation]

    @property
    def sizes(self) -> Ticks:
        """Size of each candidate, shape (n, 2) [ticks]."""
        return np.array([v.size for v in self.orientations], dtype=np.int64)[self.orientation]

    @property
    def ends(self) -> Ticks:
        """Where each candidate and the gap behind it end, shape (n, 2) [ticks]."""
        return self.corners + self.sizes + self.gap

    def only(self, mask: Mask) -> "Candidates":
        """Some of the candidates."""
        return Candidates(self.orientations, self.orientation[mask], self.corners[mask], self.gap)

    def thinned(self, most: int) -> "Candidates":
        """At most so many of the candidates, evenly picked."""
        kept = np.zeros(len(self), dtype=np.bool_)
        kept[np.unique(np.linspace(0, len(self) - 1, most).astype(np.int64))] = True
        return self.only(kept)


@dataclass(frozen=True, slots=True)
class _Frame:
    """What stops each oriented type along one axis, and the positions to try [ticks]."""

    axes: list[Axis]
    places: list[Ticks]
    threshold: int
    """Where pushing to lower positions ends."""


def is_plain(site: RoofSite, kinds: Sequence[RoofPanelType]) -> bool:
    """Whether rectangles tell the whole truth: nothing curved or slanted, no plates that meet."""
    cautious, loose = (Blocked.on(site, each) for each in (True, False))
    return not plates_meet(site, kinds) and all(
        is_whole(cautious, v)
        and np.array_equal(forbidden_positions(cautious, v), forbidden_positions(loose, v))
        for v in oriented_types(kinds)
    )


def plates_meet(site: RoofSite, kinds: Sequence[RoofPanelType]) -> bool:
    """Whether foot plates reach so far beyond panels that they can meet a neighbour's."""
    gap = ticks(site.gap.metres)
    return any(max(*overhang(v, 0), *overhang(v, 1)) * 2 > gap for v in oriented_types(kinds))


@dataclass(frozen=True, slots=True)
class Reach:
    """How far to go in looking for places.

    Parameters
    ----------
    cautious : bool
        Whether every place must be sound; otherwise places are allowed that rectangles inside
        curved and slanted things do not rule out, which serves bounds.
    aside : bool
        Whether panels may stand aside for a neighbour's plates.
    most_raw : int
        Give up beyond so many places before any is ruled out by the others.
    most_work : int
        Give up rather than take more distances between plates and things on the roof, or the like.
    fewer_stops : bool
        Whether to push panels against fewer of the things that stop them before giving up.
    """

    cautious: bool
    aside: bool
    most_raw: int
    most_work: int
    fewer_stops: bool = False


def candidates_of(
    site: RoofSite, kinds: Sequence[RoofPanelType], most: int, reach: Reach
) -> Candidates | None:
    """All candidate places.

    Parameters
    ----------
    site : RoofSite
        The roof.
    kinds : sequence of RoofPanelType
        What may be placed.
    most : int
        Most panels that are to be placed.
    reach : Reach
        Which places are wanted.

    Returns
    -------
    Candidates or None
        Ordered by oriented, x and y; None if there are too many or they take too much work.
    """
    orientations = oriented_types(kinds)
    blocked = Blocked.on(site, reach.cautious)
    forbidden = [forbidden_positions(blocked, oriented) for oriented in orientations]
    axes = [
        [
            axis_of(v, ticks(site.gap.metres), limits(site, v), no, axis, reach.cautious)
            for v, no in zip(orientations, forbidden, strict=True)
        ]
        for axis in (0, 1)
    ]
    for halved in range(_HALVINGS if reach.fewer_stops else 1):
        frames = [_frame(one, most, 2**halved) for one in axes]
        known = [frame for frame in frames if frame is not None]
        if len(known) == len(frames):
            thin = reach.fewer_stops and halved == _HALVINGS - 1
            found = _between_things(site, orientations, forbidden, known, reach, thin)
            if found is not None:
                return _pushed(site, found, forbidden, known, reach)
    return None


def _between_things(
    site: RoofSite,
    orientations: list[OrientedType],
    forbidden: Sequence[Floats],
    frames: Sequence[_Frame],
    reach: Reach,
    thin: bool,
) -> Candidates | None:
    """Places in no forbidden rectangle; None, or fewer, if they take too much work."""
    along, across = (frame.places for frame in frames)
    raw = [len(x) * len(y) for x, y in zip(along, across, strict=True)]
    tests = sum(places * len(no) for places, no in zip(raw, forbidden, strict=True))
    if sum(raw) > _PRODUCTS * reach.most_raw or tests > _TESTS_PER_DISTANCE * reach.most_work:
        return None
    parts = [
        _between(_product(x, y), no) for x, y, no in zip(along, across, forbidden, strict=True)
    ]
    found = _joined(orientations, parts, ticks(site.gap.metres))
    work = _distances(site, found) if reach.cautious else 0
    if work > reach.most_work and thin:
        return found.thinned(len(found) * reach.most_work // work)
    return None if work > reach.most_work or len(found) > reach.most_raw else found


def _pushed(
    site: RoofSite,
    found: Candidates,
    forbidden: Sequence[Floats],
    frames: Sequence[_Frame],
    reach: Reach,
) -> Candidates:
    """Those of the places that a layout can use, sound ones if cautious."""
    if reach.cautious:
        found = found.only(_allowed(site, found))
    found = found.only(_supported(found, frames, forbidden))
    if not (reach.cautious and reach.aside and any(v.shift for f in frames for v in f.axes)):
        return found
    aside = _standing_aside(found, frames)
    if _distances(site, aside) > reach.most_work:
        return found
    return aside.only(_allowed(site, aside))


def candidates_by_type(
    site: RoofSite, kinds: Sequence[RoofPanelType], most: Sequence[int], aside: bool, work: int
) -> Candidates:
    """Sound places in rows of one type each: far fewer where many types are mixed.

    Where they take too much work, panels are pushed against fewer of the things that stop them.
    """
    reach = Reach(True, aside, _ALL, most_work=work // len(kinds), fewer_stops=True)
    alone = [
        candidates_of(site, [kind], number, reach) for kind, number in zip(kinds, most, strict=True)
    ]
    known = [(i, part) for i, part in enumerate(alone) if part is not None]
    orientations = [replace(v, kind_index=i) for i, part in known for v in part.orientations]
    parts = [
        part.corners[part.orientation == i]
        for _, part in known
        for i in range(len(part.orientations))
    ]
    return _joined(orientations, parts, ticks(site.gap.metres))


def _distances(site: RoofSite, candidates: Candidates) -> int:
    """Distances that settle whether the candidates are allowed."""
    feet = np.array([len(v.plates) for v in candidates.orientations], dtype=np.int64)
    runs = sum(len(line.course.coords) - 1 for line in site.lines)
    plates = int(feet[candidates.orientation].sum())
    return plates * (len(site.obstacles) + runs + 1) + len(candidates) * (len(site.keep_outs) + 2)


def _joined(orientations: list[OrientedType], parts: Sequence[Ticks], gap: int) -> Candidates:
    numbers = np.array([len(part) for part in parts], dtype=np.int64)
    index = np.repeat(np.arange(len(orientations)), numbers)
    corners = np.concatenate([np.zeros((0, 2), dtype=np.int64), *parts])
    return Candidates(orientations, index, corners, gap)


def _allowed(site: RoofSite, candidates: Candidates) -> Mask:
    found = np.zeros(len(candidates), dtype=np.bool_)
    for index, oriented in enumerate(candidates.orientations):
        members = candidates.orientation == index
        found[members] = allowed_places(site, oriented, candidates.corners[members])
    return found


def _standing_aside(candidates: Candidates, frames: Sequence[_Frame]) -> Candidates:
    """The same, and where plates can meet, places moved aside by a plate in either direction."""
    parts: list[Ticks] = []
    for index in range(len(candidates.orientations)):
        corners = candidates.corners[candidates.orientation == index]
        x, y = (frame.axes[index].shift for frame in frames)
        steps = np.array([[0, 0], [x, 0], [-x, 0], [0, y], [0, -y]], dtype=np.int64)
        moved = (corners[:, None] + np.unique(steps, axis=0)[None]).reshape(-1, 2)
        parts.append(np.unique(moved, axis=0))
    return _joined(candidates.orientations, parts, candidates.gap)


def _frame(axes: Sequence[Axis], most: int, every: int) -> _Frame | None:
    fewer = [axis.fewer_stops(every) for axis in axes]
    found = positions(fewer, most)
    return None if found is None else _Frame(fewer, *found)


def _product(x: Ticks, y: Ticks) -> Ticks:
    grid = np.meshgrid(x, y, indexing="ij")
    return np.stack(grid, axis=-1).reshape(-1, 2).astype(np.int64)


def _between(corners: Ticks, forbidden: Floats) -> Ticks:
    """Those that lie in no forbidden rectangle by half a tick or more."""
    keep = np.ones(len(corners), dtype=np.bool_)
    x, y = (corners * TICK_M).T
    for x1, y1, x2, y2 in forbidden:
        inside_x = (x > x1 + _HALF_TICK_M) & (x < x2 - _HALF_TICK_M)
        inside_y = (y > y1 + _HALF_TICK_M) & (y < y2 - _HALF_TICK_M)
        keep &= ~(inside_x & inside_y)
    return corners[keep]


def _supported(
    candidates: Candidates, frames: Sequence[_Frame], forbidden: Sequence[Floats]
) -> Mask:
    """Which candidates can occur in a layout in which every panel is pushed until it stops."""
    things = [_stopped(candidates, frame, forbidden, axis) for axis, frame in enumerate(frames)]
    alive = np.ones(len(candidates), dtype=np.bool_)
    while True:
        rest = alive.copy()
        for axis, frame in enumerate(frames):
            low, high = _by_panels(candidates, frame, rest, axis)
            forwards = candidates.corners[:, axis] < frame.threshold
            rest &= things[axis] | np.where(forwards, low, high)
        if np.array_equal(rest, alive):
            return alive
        alive = rest


def _by_panels(candidates: Candidates, frame: _Frame, alive: Mask, axis: int) -> tuple[Mask, Mask]:
    """Which candidates another one stops, at the gap or where aligned plates need more."""
    low, high = stopped_by_panels(candidates.corners, candidates.ends, alive, axis)
    further = np.array([own.clear_size - own.size for own in frame.axes], dtype=np.int64)
    if further.any():
        ends = candidates.ends
        ends[:, axis] += further[candidates.orientation]
        more_low, more_high = stopped_by_panels(candidates.corners, ends, alive, axis)
        return low | more_low, high | more_high
    return low, high


def _stopped(candidates: Candidates, frame: _Frame, forbidden: Sequence[Floats], axis: int) -> Mask:
    """Which candidates something other than a panel stops on the side they are pushed to."""
    found = np.zeros(len(candidates), dtype=np.bool_)
    for index, (own, no) in enumerate(zip(frame.axes, forbidden, strict=True)):
        members = candidates.orientation == index
        corners = candidates.corners[members]
        limit = (own.low, own.high)
        found[members] = np.where(
            corners[:, axis] < frame.threshold,
            stopped_by_things(corners, no, limit, axis, True),
            stopped_by_things(corners, no, limit, axis, False),
        )
    return found


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


def _shape(oriented: OrientedType) -> Ticks:
    """The panel itself, then its plates, with the panel's corner at 0 [ticks]."""
    plates = oriented.plates
    body = np.array([[0, 0, *oriented.size]], dtype=np.int64)
    return np.concatenate([body, np.round(plates / TICK_M).astype(np.int64)])


def _conflicts_between(candidates: Candidates, shapes: Sequence[Ticks], u: int, v: int) -> Integers:
    first, second = (np.flatnonzero(candidates.orientation == index) for index in (u, v))
    step = candidates.corners[second][None] - candidates.corners[first][:, None]
    one, two = _hull(shapes[u]), _hull(shapes[v])
    body_one, body_two = (
        shapes[u][0] + np.array([0, 0, candidates.gap, candidates.gap]),
        shapes[v][0],
    )
    wide_two = body_two + np.array([0, 0, candidates.gap, candidates.gap])
    near = _meet(one, two, step) & ~_meet(body_one, wide_two, step)
    if u == v:
        near = np.tril(near, -1)
    steps, which = np.unique(step[near], axis=0, return_inverse=True)
    apart = steps[:, None, None, :]
    met = _meet(shapes[u][None, 1:, None], shapes[v][None, None, 1:], apart)
    meets: Mask = np.asarray(met.any(axis=(1, 2)), dtype=np.bool_)
    pairs = np.argwhere(near)[meets[which.ravel()]]
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
