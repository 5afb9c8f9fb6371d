"""Candidate places of a layout problem."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sunhitch_service.engine.arrays import Floats, Integers, Mask

from .forbidden import Ground
from .orientations import TICK_M, OrientedType, allowed_places, limits, ticks
from .positions import Axis, axis_of, overhang, positions
from .site import RoofSite
from .support import stopped

_HALF_TICK_M = TICK_M / 2

_PRODUCTS = 10
"""Rows times columns that are looked at, for every place that may be left of them."""

_ALL = 10**9

_HALVINGS = 13
"""How often stops are halved at most: enough to leave the margins alone of 4000."""


@dataclass(frozen=True, slots=True)
class Candidates:
    """Places to choose from; at most one of any that overlap.

    Parameters
    ----------
    orientations : sequence of OrientedType
        How panels may be laid.
    orientation : ndarray
        Shape (n,), index of how the panel is laid.
    corners : ndarray
        Shape (n, 2), front left corner [ticks].
    gap : int
        Smallest gap between panels [ticks].
    """

    orientations: Sequence[OrientedType]
    orientation: Integers
    corners: Integers
    gap: int

    def __len__(self) -> int:
        return len(self.orientation)

    @property
    def kind(self) -> Integers:
        """Index of each candidate's panel type."""
        return np.array([v.kind_index for v in self.orientations], dtype=np.int64)[self.orientation]

    @property
    def sizes(self) -> Integers:
        """Size of each candidate, shape (n, 2) [ticks]."""
        return np.array([v.size for v in self.orientations], dtype=np.int64)[self.orientation]

    @property
    def ends(self) -> Integers:
        """Where each candidate and the gap behind it end, shape (n, 2) [ticks]."""
        return self.corners + self.sizes + self.gap

    def only(self, mask: Mask) -> "Candidates":
        """Some of the candidates."""
        return Candidates(self.orientations, self.orientation[mask], self.corners[mask], self.gap)

    def thinned(self, most: int, keep: Sequence[int] = ()) -> "Candidates":
        """Some that are wanted, and so many of the others at most, evenly picked."""
        kept = np.zeros(len(self), dtype=np.bool_)
        kept[np.linspace(0, len(self) - 1, most).astype(np.int64)] = True
        kept[list(keep)] = True
        return self.only(kept)


@dataclass(frozen=True, slots=True)
class _Frame:
    """What stops each oriented type along one axis, and the positions to try [ticks]."""

    axes: list[Axis]
    places: list[Integers]
    threshold: int
    """Where pushing to lower positions ends."""


def plates_meet(ground: Ground) -> bool:
    """Whether foot plates reach so far beyond panels that they can meet a neighbour's."""
    return any(any(_step_aside(ground.site, oriented)) for oriented in ground.orientations)


def _step_aside(site: RoofSite, oriented: OrientedType) -> tuple[int, int]:
    """How far to stand aside for a neighbour's plates along x and y [ticks]; 0 if none meet."""
    gap = ticks(site.gap.metres)
    first, second = (
        ticks(float(oriented.plates[0, axis + 2] - oriented.plates[0, axis]))
        if 2 * max(overhang(oriented, axis)) > gap
        else 0
        for axis in (0, 1)
    )
    return first, second


def candidates_of(
    ground: Ground, most: int, most_raw: int, most_work: int, fewer_stops: bool = False
) -> Candidates | None:
    """All candidate places.

    Parameters
    ----------
    ground : Ground
        Where panels may not lie; if it is not cautious, places are allowed that rectangles inside
        curved and slanted things do not rule out.
    most : int
        Most panels that are to be placed.
    most_raw : int
        Give up beyond so many places before any is ruled out by the others.
    most_work : int
        Give up rather than take more distances between plates and things on the roof, or the like.
    fewer_stops : bool
        Whether to push panels against fewer of the things that stop them before giving up.

    Returns
    -------
    Candidates or None
        Ordered by oriented type, x and y; None if there are too many or they take too much work.
    """
    gap = ticks(ground.site.gap.metres)
    axes = [
        [
            axis_of(v, gap, limits(ground.site, v), no, axis, ground.cautious)
            for v, no in zip(ground.orientations, ground.forbidden, strict=True)
        ]
        for axis in (0, 1)
    ]
    for halved in range(_HALVINGS if fewer_stops else 1):
        known = [frame for one in axes if (frame := _frame(one, most, 2**halved))]
        if len(known) == len(axes):
            thin = fewer_stops and halved == _HALVINGS - 1
            found = _between_things(ground, known, most_raw, most_work, thin)
            if found is not None and ground.cautious:
                found = found.only(_allowed(ground.site, found))
            if found is not None:
                return found.only(_supported(found, known, ground.forbidden))
    return None


def _between_things(
    ground: Ground, frames: Sequence[_Frame], most_raw: int, most_work: int, thin: bool
) -> Candidates | None:
    """Places in no forbidden rectangle; None, or fewer, if they take too much work."""
    along, across = (frame.places for frame in frames)
    raw = sum(len(x) * len(y) for x, y in zip(along, across, strict=True))
    if raw > min(_PRODUCTS * most_raw, most_work):
        return None
    parts = [_between(x, y, no) for x, y, no in zip(along, across, ground.forbidden, strict=True)]
    found = united(ground.orientations, parts, ticks(ground.site.gap.metres))
    work = _distances(ground.site, found) if ground.cautious else 0
    if work > most_work and thin:
        return found.thinned(len(found) * most_work // work)
    return None if work > most_work or len(found) > most_raw else found


def candidates_by_type(ground: Ground, most: Sequence[int], work: int) -> Candidates:
    """Sound places in rows of one type each: far fewer where many types are mixed.

    Where they take too much work, panels are pushed against fewer of the things that stop them.
    """
    found: list[Candidates] = []
    for index, number in enumerate(most):
        own = ground.of_type(index)
        part = candidates_of(own, number, _ALL, work // len(most), fewer_stops=True)
        found += [] if part is None else [part]
    orientations = [v for part in found for v in part.orientations]
    parts = [p.corners[p.orientation == i] for p in found for i in range(len(p.orientations))]
    return united(orientations, parts, ticks(ground.site.gap.metres))


def moved_aside(site: RoofSite, found: Candidates, work: int) -> Candidates:
    """The same and places moved aside by a plate in either direction, if that takes no more work.

    Parameters
    ----------
    site : RoofSite
        The roof.
    found : Candidates
        Sound places.
    work : int
        Distances that may be taken.

    Returns
    -------
    Candidates
        The same ones where no plates can meet.
    """
    parts: list[Integers] = []
    for index, oriented in enumerate(found.orientations):
        corners = found.corners[found.orientation == index]
        x, y = _step_aside(site, oriented)
        steps = np.array([[0, 0], [x, 0], [-x, 0], [0, y], [0, -y]], dtype=np.int64)
        moved = (corners[:, None] + np.unique(steps, axis=0)[None]).reshape(-1, 2)
        parts.append(np.unique(moved, axis=0))
    aside = united(found.orientations, parts, found.gap)
    if len(aside) == len(found) or _distances(site, aside) > work:
        return found
    return aside.only(_allowed(site, aside))


def _distances(site: RoofSite, candidates: Candidates) -> int:
    """Distances that settle whether the candidates are allowed."""
    feet = np.array([len(v.plates) for v in candidates.orientations], dtype=np.int64)
    runs = sum(len(line.course.coords) - 1 for line in site.lines)
    plates = int(feet[candidates.orientation].sum())
    return plates * (len(site.obstacles) + runs + 1) + len(candidates) * (len(site.keep_outs) + 2)


def united(orientations: Sequence[OrientedType], parts: Sequence[Integers], gap: int) -> Candidates:
    """Candidates of several oriented types in one."""
    index = np.repeat(np.arange(len(orientations)), [len(part) for part in parts])
    corners = np.concatenate([np.zeros((0, 2), dtype=np.int64), *parts])
    return Candidates(orientations, index, corners, gap)


def _allowed(site: RoofSite, candidates: Candidates) -> Mask:
    found = np.zeros(len(candidates), dtype=np.bool_)
    for index, oriented in enumerate(candidates.orientations):
        members = candidates.orientation == index
        found[members] = allowed_places(site, oriented, candidates.corners[members])
    return found


def _frame(axes: Sequence[Axis], most: int, every: int) -> _Frame | None:
    fewer = [axis.fewer_stops(every) for axis in axes]
    found = positions(fewer, most)
    return None if found is None else _Frame(fewer, *found)


def _between(x: Integers, y: Integers, forbidden: Floats) -> Integers:
    """Crossings of positions that lie in no forbidden rectangle by half a tick or more."""
    keep = np.ones((len(x), len(y)), dtype=np.bool_)
    low = np.floor((forbidden[:, :2] + _HALF_TICK_M) / TICK_M).astype(np.int64) + 1
    high = np.ceil((forbidden[:, 2:] - _HALF_TICK_M) / TICK_M).astype(np.int64)
    first_x, last_x = np.searchsorted(x, low[:, 0]), np.searchsorted(x, high[:, 0])
    first_y, last_y = np.searchsorted(y, low[:, 1]), np.searchsorted(y, high[:, 1])
    for i, k, j, m in zip(first_x, last_x, first_y, last_y, strict=True):
        keep[i:k, j:m] = False
    in_x, in_y = np.nonzero(keep)
    return np.stack([x[in_x], y[in_y]], axis=1)


def _supported(
    candidates: Candidates, frames: Sequence[_Frame], forbidden: Sequence[Floats]
) -> Mask:
    """Which candidates can occur in a layout in which every panel is pushed until it stops."""
    alive = np.ones(len(candidates), dtype=np.bool_)
    things = [_by_things(candidates, frame, forbidden, axis) for axis, frame in enumerate(frames)]
    while True:
        rest = alive.copy()
        for axis, frame in enumerate(frames):
            open_ones = np.flatnonzero(rest & ~things[axis])
            rest[open_ones] = _by_panels(candidates, frame, rest, axis, open_ones)
        if np.array_equal(rest, alive):
            return alive
        alive = rest


def _by_panels(
    candidates: Candidates, frame: _Frame, alive: Mask, axis: int, asked: Integers
) -> Mask:
    """Which candidates another one stops, at the gap or where aligned plates need more."""
    starts, ends = candidates.corners[:, axis], candidates.ends[:, axis]
    across = np.stack([candidates.corners[:, 1 - axis], candidates.ends[:, 1 - axis]], axis=1)
    forwards = starts[asked] < frame.threshold
    low, high = asked[forwards], asked[~forwards]
    found = np.zeros(len(asked), dtype=np.bool_)
    further = np.array([own.clear_size - own.size for own in frame.axes], dtype=np.int64)
    for more in {tuple(further), (0,) * len(further)}:
        end = ends + np.array(more, dtype=np.int64)[candidates.orientation]
        found[forwards] |= stopped(end[alive], across[alive], starts[low], across[low])
        found[~forwards] |= stopped(starts[alive], across[alive], end[high], across[high])
    return found


def _by_things(
    candidates: Candidates, frame: _Frame, forbidden: Sequence[Floats], axis: int
) -> Mask:
    """Which candidates something other than a panel stops on the side they are pushed to."""
    found = np.zeros(len(candidates), dtype=np.bool_)
    for index, (own, no) in enumerate(zip(frame.axes, forbidden, strict=True)):
        members = np.flatnonzero(candidates.orientation == index)
        here, aside = candidates.corners[members, axis], candidates.corners[members, 1 - axis]
        spot = np.stack([aside, aside + 1], axis=1)
        beside = np.floor(no[:, 1 - axis] / TICK_M), np.ceil(no[:, 3 - axis] / TICK_M) + 1.0
        spans = np.stack(beside, axis=1).astype(np.int64)
        ends = np.ceil(no[:, axis + 2] / TICK_M - 1e-3).astype(np.int64)
        starts = np.floor(no[:, axis] / TICK_M + 1e-3).astype(np.int64)
        found[members] = np.where(
            here < frame.threshold,
            (here == own.low) | stopped(ends, spans, here, spot),
            (here == own.high) | stopped(starts, spans, here, spot),
        )
    return found
