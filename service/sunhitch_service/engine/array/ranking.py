"""Which arrangement comes first, and the search for better places of single panels."""

from itertools import combinations

from sunhitch.types.array import RankBy

from .design import ArrayDesign
from .evaluate import Evaluator
from .figures import Layout, String, Wired
from .judge import Judged

SAME_FRACTION = 0.005
"""Power within half a per cent counts as equal: the model is not better than that."""
_ROUNDS = 3
_BEAMS = 6


def ranked(judged: list[Judged], rank_by: RankBy) -> list[Judged]:
    """Best first: what passes before what fails, then by the target, margins and parts.

    Parameters
    ----------
    judged : list of Judged
        To be put in order.
    rank_by : str
        Target.

    Returns
    -------
    list of Judged
        The same, in order.
    """
    good = [one for one in judged if not one.fails]
    bad = [one for one in judged if one.fails]
    if rank_by == "margin":
        return sorted(good, key=_by_margin) + sorted(bad, key=_by_margin)
    return _by_power(good, rank_by) + sorted(bad, key=_by_margin)


def _by_margin(one: Judged) -> tuple[float, float, int]:
    return -round(one.margin, 2), -one.weighted_w, one.pieces


def power_of(one: Judged, rank_by: RankBy) -> float:
    """Power that the target looks at [W]."""
    return one.sun_w if rank_by == "sun-power" else one.weighted_w


def _by_power(judged: list[Judged], rank_by: RankBy) -> list[Judged]:
    """Those equal to the best within the model's error are ordered by margin and parts."""
    left = sorted(judged, key=lambda one: -power_of(one, rank_by))
    ordered: list[Judged] = []
    while left:
        least = (1.0 - SAME_FRACTION) * power_of(left[0], rank_by)
        equal = [one for one in left if power_of(one, rank_by) >= least]
        ordered += sorted(equal, key=lambda one: (-round(one.margin, 1), one.pieces, -one.margin))
        left = left[len(equal) :]
    return ordered


def improved(design: ArrayDesign, evaluator: Evaluator, layouts: list[Layout]) -> list[Layout]:
    """Swap single panels of one type between strings while that raises the power.

    Parameters
    ----------
    design : ArrayDesign
        Settled request.
    evaluator : Evaluator
        Compares layouts.
    layouts : list of Layout
        Best first; the first few are tried.

    Returns
    -------
    list of Layout
        Better places for the panels of the tried ones; empty where there are none.
    """
    sun_only = design.request.target.rank_by == "sun-power"
    found: list[Layout] = []
    beam = layouts[:_BEAMS]
    for _ in range(_ROUNDS):
        candidates = [[one, *_swaps(design, evaluator, one)] for one in beam]
        powers = evaluator.objective([x for own in candidates for x in own], sun_only)
        best: list[Layout] = []
        start = 0
        for candidate in candidates:
            own = powers[start : start + len(candidate)]
            start += len(candidate)
            if own.max() > own[0] * (1.0 + 1e-6):
                best.append(candidate[int(own.argmax())])
        if not best:
            break
        found, beam = found + best, best
    return found


def _swaps(design: ArrayDesign, evaluator: Evaluator, layout: Layout) -> list[Layout]:
    """Layouts with two panels of one type, but in different light, exchanged."""
    place = {
        m: (a, s) for a, w in enumerate(layout.arrays) for s, x in enumerate(w.strings) for m in x
    }
    place |= dict.fromkeys(layout.leftover, (-1, -1))
    return [
        _exchanged(layout, a, b)
        for a, b in combinations(sorted(place), 2)
        if place[a] != place[b]
        and design.members[a].kind == design.members[b].kind
        and evaluator.differ(a, b)
    ]


def _exchanged(layout: Layout, a: int, b: int) -> Layout:
    other = {a: b, b: a}

    def moved(members: String) -> String:
        return tuple(other.get(m, m) for m in members)

    arrays = tuple(Wired(w.controller, tuple(moved(s) for s in w.strings)) for w in layout.arrays)
    return Layout(arrays, moved(layout.leftover))
