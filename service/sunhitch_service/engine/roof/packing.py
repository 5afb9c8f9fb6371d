"""The most panel power that fits a roof, with a limit that no layout can pass."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Literal

import numpy as np

from sunhitch.types.roof import RoofPanelType

from .bounds import Dual, area_bound, dual_bound, usable_region
from .candidates import (
    Candidates,
    Integers,
    Reach,
    candidates_by_type,
    candidates_of,
    cover_entries,
    is_plain,
    plates_meet,
)
from .geometry import Floats
from .orientations import TICK_M, OrientedType, turns_alike
from .panels import Laid
from .preferences import LayoutTargets, preference_costs
from .search import (
    Selection,
    SelectionProblem,
    best_selection,
    preferred_selection,
    selection_problem,
)
from .site import RoofSite
from .solver import Budget, SearchLimit, load

Proof = Literal["everything-placed", "dual-bound", "complete-search", "open", "not-searched"]

MOST_PANELS = 200
"""More are not laid out in one call."""

_CENTIWATTS, _SAME_W = 100, 0.01
_DUAL, _MAIN, _RELAXED, _PREFERRED = 0.4, 0.5, 0.15, 0.2
_PREFERRED_MOST_S = 0.8

_PLACES_PER_SECOND, _MOST_PLACES, _MOST_MIXED = 2000, 6000, 2500
"""Places among which the solver may choose; with more there is no time left to choose well, and
where types are mixed it chooses better among fewer places in rows of one type each."""

_WORK_PER_SECOND, _LEAST_WORK = 2_500_000, 500_000
"""Distances between plates and things on the roof that looking for places may take, for every
second of a search, about a quarter of it; and what they take however short it is."""

_MOST_ENTRIES = 3_000_000
"""Of the rows that tell which places overlap: about a second's work."""

_FEWEST_PLACES = 100
"""Enough for some layout, however short the time."""

_LOOSE_PER_PLACE = 3
"""Places of a bound, before any is ruled out by the others, for every place of the search."""


@dataclass(frozen=True, slots=True)
class Packed:
    """A layout and how good it is.

    Parameters
    ----------
    panels : tuple of Laid
        Front to rear, left to right.
    power_at_most_w, area_power_at_most_w : float
        No layout has more power; and what area alone allows [W].
    panels_at_most : int
        No layout has more panels.
    how : str
        How that is known.
    positions_tried : int
        Candidate places.
    stopped_by_clock : bool
        Whether the clock cut the search short.
    """

    panels: tuple[Laid, ...]
    power_at_most_w: float
    area_power_at_most_w: float
    panels_at_most: int
    how: Proof
    positions_tried: int
    stopped_by_clock: bool

    def is_most(self, power_w: float) -> bool:
        """Whether no layout has more than a power [W], rounding aside."""
        return power_w >= self.power_at_most_w - _SAME_W


@dataclass(frozen=True, slots=True)
class _Limits:
    """Upper bounds in whole hundredths of a watt, and what led to them."""

    worth: int
    area_worth: float
    area_panels: int
    least_worth: int
    guide: Floats
    in_time: bool


@dataclass(frozen=True, slots=True)
class _Proven:
    """An upper bound, how it is known, and whether the clock kept it from being closer."""

    bound: int
    how: Proof
    by_clock: bool = False


@dataclass(frozen=True, slots=True)
class _Places:
    """Sound places, and those that a bound must reckon with: None where there are too many."""

    sound: Candidates
    loose: Candidates | None
    complete: bool
    """Whether the sound ones are all there are, and the same as the loose ones."""


def pack(
    site: RoofSite,
    kinds: Sequence[RoofPanelType],
    targets: LayoutTargets,
    search: SearchLimit,
    polish: bool = True,
) -> Packed:
    """Lay out the most power.

    Parameters
    ----------
    site : RoofSite
        The roof.
    kinds : sequence of RoofPanelType
        What may be placed.
    targets : LayoutTargets
        What to prefer among layouts of the same power.
    search : SearchLimit
        Work, clock and seed.
    polish : bool
        Whether to seek what is preferred; without, any layout of the same power does.

    Returns
    -------
    Packed
        The same for the same input unless the clock stopped it.

    Raises
    ------
    ArithmeticError
        If a layout beats a bound, which would be a defect.
    """
    load()
    most = most_of(site, kinds)
    room, work = _room(search.whole_s), _work(search.seconds)
    places = _places(site, kinds, most, room, work)
    limit = _limits(site, kinds, places.loose, most, _DUAL * (search.end - search.start))
    if not len(places.sound):
        return _packed((), limit, limit.worth, "open" if limit.worth else "dual-bound", 0)
    problem = selection_problem(places.sound, most, _worth(kinds))
    guide = limit.guide if places.complete else None
    best = best_selection(problem, limit.worth, search.budget(_MAIN, 1.0 - _PREFERRED), guide)
    proven = _proof(
        places, problem, best, limit, kinds, search.budget(_RELAXED, 1.0 - _PREFERRED / 2)
    )
    if polish:
        preferences = preference_costs(places.sound, targets)
        best = preferred_selection(
            problem, best, preferences, search.budget(_PREFERRED, 1.0, _PREFERRED_MOST_S)
        )
    panels = _laid(places.sound, best.chosen, targets)
    by_clock = best.stopped_by_clock or proven.by_clock or not limit.in_time
    return _packed(panels, limit, proven.bound, proven.how, len(places.sound), by_clock)


def _room(seconds: float) -> int:
    return int(np.clip(_PLACES_PER_SECOND * seconds, _FEWEST_PLACES, _MOST_PLACES))


def _work(seconds: float) -> int:
    return max(round(_WORK_PER_SECOND * seconds), _LEAST_WORK)


def _places(
    site: RoofSite, kinds: Sequence[RoofPanelType], most: list[int], room: int, work: int
) -> _Places:
    loose = _loose(site, kinds, most, room, work)
    if loose is not None and is_plain(site, kinds):
        return _Places(loose, loose, complete=True)
    return _Places(_sound(site, kinds, most, room, work), loose, complete=False)


def _loose(
    site: RoofSite, kinds: Sequence[RoofPanelType], most: list[int], room: int, work: int
) -> Candidates | None:
    """Places that no layout can do without, for a bound; None where there are too many."""
    reach = Reach(False, False, _LOOSE_PER_PLACE * room, work)
    loose = candidates_of(site, kinds, sum(most), reach)
    return loose if loose is not None and _manageable(loose, room) else None


def _manageable(candidates: Candidates, room: int) -> bool:
    few = len(candidates) <= room
    return few and (not len(candidates) or cover_entries(candidates) <= _MOST_ENTRIES)


def _sound(
    site: RoofSite, kinds: Sequence[RoofPanelType], most: list[int], room: int, work: int
) -> Candidates:
    """Sound places: types mixed and standing aside for plates, where there is room for so many."""
    raw = _LOOSE_PER_PLACE * room

    def mixed(aside: bool) -> Candidates | None:
        reach = Reach(cautious=True, aside=aside, most_raw=raw, most_work=work)
        return candidates_of(site, kinds, sum(most), reach)

    @cache
    def by_type(aside: bool) -> Candidates:
        return candidates_by_type(site, kinds, most, aside, work)

    found = _widest(mixed, min(room, _MOST_MIXED), plates_meet(site, kinds))
    if found is None:
        found = _widest(by_type, room, plates_meet(site, kinds))
    if found is None:
        found = by_type(False)
        while not _manageable(found, room):
            found = found.thinned(min(room, len(found) // 2))
    return found


def _widest(
    places: Callable[[bool], Candidates | None], room: int, aside: bool
) -> Candidates | None:
    """Places with standing aside if there is room for them, else without; None without room."""
    narrow = places(False)
    if narrow is None or not _manageable(narrow, room):
        return None
    wide = places(True) if aside else narrow
    return wide if wide is not None and _manageable(wide, room) else narrow


def bounds_of(
    site: RoofSite, kinds: Sequence[RoofPanelType], panels: tuple[Laid, ...], seconds: float
) -> Packed:
    """A given layout beside the limits that no layout can pass; nothing is searched."""
    most = most_of(site, kinds)
    loose = _loose(site, kinds, most, _room(seconds), _work(seconds))
    limit = _limits(site, kinds, loose, most, seconds)
    return _packed(panels, limit, limit.worth, "not-searched", 0)


def _worth(kinds: Sequence[RoofPanelType]) -> Integers:
    return np.array([round(k.p_mp_w * _CENTIWATTS) for k in kinds], dtype=np.int64)


def most_of(site: RoofSite, kinds: Sequence[RoofPanelType]) -> list[int]:
    """How many of each type may be placed: as wanted, or what the area allows."""
    region, gap = usable_region(site), site.gap.metres
    sizes = [(k.body.length_m, k.body.width_m) for k in kinds]
    room = [area_bound(region, gap, [size], [1.0], [math.inf]) for size in sizes]
    return [
        math.floor(space + 1e-6) if kind.panels_wanted is None else kind.panels_wanted
        for kind, space in zip(kinds, room, strict=True)
    ]


def _limits(
    site: RoofSite,
    kinds: Sequence[RoofPanelType],
    loose: Candidates | None,
    most: list[int],
    seconds: float,
) -> _Limits:
    worth, numbers = _worth(kinds), [float(m) for m in most]
    sizes = [(k.body.length_m, k.body.width_m) for k in kinds]
    region, gap = usable_region(site), site.gap.metres
    by_area = area_bound(region, gap, sizes, worth.tolist(), numbers)
    panels = math.floor(area_bound(region, gap, sizes, [1.0] * len(kinds), numbers) + 1e-6)
    least = int(worth.min())
    if loose is None:
        return _Limits(math.floor(by_area), by_area, panels, least, np.zeros(0), in_time=True)
    if not len(loose):
        return _Limits(0, by_area, 0, least, np.zeros(0), in_time=True)
    dual = _dual(selection_problem(loose, most, worth, plates_meet=False), seconds)
    step = math.gcd(*worth.tolist())
    value = min(dual.bound, by_area)
    whole = math.floor(value / step + 1e-6) * step
    return _Limits(whole, by_area, panels, least, dual.shares, dual.in_time)


def _dual(problem: SelectionProblem, seconds: float) -> Dual:
    """Bound of a selection's worth, the numbers of each type included."""
    from scipy.sparse import csr_array, vstack

    n = len(problem.kind)
    kinds = csr_array((np.ones(n), (problem.kind, np.arange(n))), shape=(len(problem.most), n))
    rows = vstack([problem.rows, kinds], format="csr")
    capacities = np.append(np.ones(problem.rows.shape[0]), np.array(problem.most, dtype=np.float64))
    return dual_bound(rows, capacities, problem.worth.astype(np.float64), seconds)


def _proof(
    places: _Places,
    problem: SelectionProblem,
    best: Selection,
    limit: _Limits,
    kinds: Sequence[RoofPanelType],
    budget: Budget,
) -> _Proven:
    if best.worth > limit.worth:
        raise ArithmeticError(f"layout of {best.worth} beats its bound of {limit.worth}")
    wanted = [kind.panels_wanted for kind in kinds]
    if None not in wanted and len(best.chosen) == sum(problem.most):
        return _Proven(best.worth, "everything-placed")
    if best.worth == limit.worth:
        return _Proven(best.worth, "dual-bound")
    if places.complete:
        return _Proven(best.at_most, "complete-search" if best.worth == best.at_most else "open")
    if places.loose is None:
        return _Proven(limit.worth, "open")
    if budget.is_spent():
        return _Proven(limit.worth, "open", by_clock=True)
    relaxed = selection_problem(places.loose, problem.most, _worth(kinds), plates_meet=False)
    above = best_selection(relaxed, limit.worth, budget)
    how: Proof = "complete-search" if best.worth == above.at_most else "open"
    return _Proven(above.at_most, how, above.stopped_by_clock)


def _laid(
    candidates: Candidates, chosen: Sequence[int], targets: LayoutTargets
) -> tuple[Laid, ...]:
    corners = candidates.corners[list(chosen)] * TICK_M
    order = np.lexsort((corners[:, 1], corners[:, 0]))
    found: list[Laid] = []
    for number, at in enumerate(order.tolist(), start=1):
        oriented = candidates.orientations[int(candidates.orientation[chosen[at]])]
        x, y = (round(float(v), 5) for v in corners[at])
        found.append(_turned(f"panel-{number}", oriented, x, y, targets))
    return tuple(found)


def _turned(name: str, oriented: OrientedType, x: float, y: float, targets: LayoutTargets) -> Laid:
    """Of the turns that cover the same roof, the one whose plugs are nearer the cable side."""
    turned = [Laid(name, oriented.kind, x, y, k) for k in turns_alike(oriented)]
    return min(turned, key=lambda laid: round(targets.cable_m(laid.plug), 6))


def _packed(
    panels: tuple[Laid, ...],
    limit: _Limits,
    bound: int,
    how: Proof,
    tried: int,
    by_clock: bool = False,
) -> Packed:
    return Packed(
        panels,
        bound / _CENTIWATTS,
        limit.area_worth / _CENTIWATTS,
        min(limit.area_panels, math.floor(bound / limit.least_worth + 1e-6)),
        how,
        tried,
        by_clock,
    )
