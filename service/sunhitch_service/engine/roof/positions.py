"""Positions that are enough to try.

In any layout every panel can be pushed, along x and along y, until it touches something that stops
it: a margin, a keep-out, a line under its feet, or another panel that has been pushed the same
way. So positions that are sums of panel sizes and gaps from such stops are enough (normal
patterns). Panels in front of a threshold are pushed forwards and those behind it rearwards, which
needs fewer positions than pushing all of them the same way.

References
----------
Herz (1972), IBM Journal of Research and Development 16, on normal patterns; Côté and Iori (2018),
INFORMS Journal on Computing 30, on pushing both ways. Both recalled, not read again.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sunhitch_service.engine.arrays import Floats, Integers

from .geometry import Rectangle
from .orientations import TICK_M, OrientedType, ticks

_MOST_POSITIONS = 50_000
"""More, in sum over oriented types and one way of pushing, are not gathered."""


@dataclass(frozen=True, slots=True)
class Axis:
    """One oriented type along one axis.

    Parameters
    ----------
    size : int
        Panel and gap [ticks].
    clear_size : int
        The same, or more where the plates of two aligned panels need it [ticks].
    low, high : int
        First and last position between the margins [ticks].
    stops_low, stops_high : frozenset of int
        Positions where something other than a panel stops it when it is pushed to lower or to
        higher positions [ticks].
    """

    size: int
    clear_size: int
    low: int
    high: int
    stops_low: frozenset[int]
    stops_high: frozenset[int]

    def fewer_stops(self, every: int) -> "Axis":
        """The same with every so many of the stops, the margins among them."""
        low, high = sorted(self.stops_low), sorted(self.stops_high, reverse=True)
        return replace(self, stops_low=frozenset(low[::every]), stops_high=frozenset(high[::every]))


def axis_of(
    oriented: OrientedType,
    gap: int,
    limit: Rectangle,
    forbidden: Floats,
    along: int,
    plates_meet: bool,
) -> Axis:
    """One oriented type along x (0) or y (1).

    Parameters
    ----------
    oriented : OrientedType
        What is laid.
    gap : int
        Smallest gap [ticks].
    limit : Rectangle
        Smallest and largest corner position [m].
    forbidden : ndarray
        Open rectangles of forbidden corner positions, shape (n, 4) [m].
    along : int
        0 for x, 1 for y.
    plates_meet : bool
        Whether places are wanted at which overhanging plates pass each other.

    Returns
    -------
    Axis
        With every stop between its first and last position.
    """
    low = int(np.ceil(limit[along] / TICK_M - 1e-3))
    high = int(np.floor(limit[along + 2] / TICK_M + 1e-3))
    ends = {int(v) for v in np.ceil(forbidden[:, along + 2] / TICK_M - 1e-3)}
    starts = {int(v) for v in np.floor(forbidden[:, along] / TICK_M + 1e-3)}
    first, last = overhang(oriented, along) if plates_meet else (0, 0)
    return Axis(
        size=oriented.size[along] + gap,
        clear_size=oriented.size[along] + max(gap, first + last),
        low=low,
        high=high,
        stops_low=frozenset(v for v in {low, *ends} if low <= v <= high),
        stops_high=frozenset(v for v in {high, *starts} if low <= v <= high),
    )


def overhang(oriented: OrientedType, along: int) -> tuple[int, int]:
    """How far plates reach beyond the panel at its two edges [ticks]; 0 where they do not."""
    plates = oriented.plates
    if not len(plates):
        return 0, 0
    first = -ticks(float(plates[:, along].min()))
    last = ticks(float(plates[:, along + 2].max())) - oriented.size[along]
    return max(0, first), max(0, last)


def positions(axes: Sequence[Axis], longest_chain: int) -> tuple[list[Integers], int] | None:
    """Positions to try for every oriented type along one axis.

    Parameters
    ----------
    axes : sequence of Axis
        Every oriented type along this axis.
    longest_chain : int
        Most panels that are to be placed.

    Returns
    -------
    list of ndarray
        Rising positions [ticks] per oriented type.
    int
        Panels below this position were pushed to lower ones, the others to higher ones [ticks].

    Both are missing if there are too many positions.
    """
    forward = _pushed(axes, longest_chain)
    mirrored = _pushed([_mirror(axis) for axis in axes], longest_chain)
    if forward is None or mirrored is None:
        return None
    backward = [{-p - axis.size for p in found} for axis, found in zip(axes, mirrored, strict=True)]
    threshold = _threshold(forward, backward)
    kept = [
        np.array(
            sorted({p for p in low if p < threshold} | {p for p in high if p >= threshold}),
            dtype=np.int64,
        )
        for low, high in zip(forward, backward, strict=True)
    ]
    return kept, threshold


def _mirror(axis: Axis) -> Axis:
    """The same axis seen from the other end: far edges as places, stops towards there alone."""
    return replace(
        axis,
        low=-axis.high - axis.size,
        high=-axis.low - axis.size,
        stops_low=frozenset(-p - axis.size for p in axis.stops_high),
    )


def _pushed(axes: Sequence[Axis], longest_chain: int) -> list[set[int]] | None:
    """Positions reached from stops by chains of panels, all pushed to lower ones; None if many."""
    found = [set(axis.stops_low) for axis in axes]
    fresh = [set(axis.stops_low) for axis in axes]
    for _ in range(longest_chain - 1):
        touched = {
            p + step
            for axis, news in zip(axes, fresh, strict=True)
            for p in news
            for step in (axis.size, axis.clear_size)
        }
        fresh = [
            {p for p in touched if axis.low <= p <= axis.high} - known
            for axis, known in zip(axes, found, strict=True)
        ]
        for known, news in zip(found, fresh, strict=True):
            known.update(news)
        if sum(map(len, found)) > _MOST_POSITIONS:
            return None
        if not any(fresh):
            break
    return found


def _threshold(forward: Sequence[set[int]], backward: Sequence[set[int]]) -> int:
    """Where to part the two, so that the fewest positions remain in sum over oriented types."""
    low = np.sort([p for found in forward for p in found])
    high = np.sort([p for found in backward for p in found])
    if not len(low):
        return 0
    cuts = np.unique(np.concatenate([low, high, [max(low[-1], high[-1]) + 1]]))
    kept = np.searchsorted(low, cuts) - np.searchsorted(high, cuts)
    return int(cuts[int(np.argmin(kept))])
