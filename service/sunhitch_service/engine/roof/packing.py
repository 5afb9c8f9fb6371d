"""The most panel power that fits a roof, with a limit that no layout can pass."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from sunhitch.types.roof import LayoutProof, RoofPanelType
from sunhitch_service.engine.arrays import Integers

from .bounds import area_bound, dual_bound, usable_region
from .candidates import Candidates, candidates_by_type, candidates_of, moved_aside, plates_meet
from .forbidden import Ground
from .orientations import TICK_M, turns_alike
from .overlaps import cover_entries, fillings
from .panels import Laid
from .preferences import LayoutTargets, preference_costs
from .search import (
    Budget,
    Selection,
    SelectionProblem,
    best_selection,
    load,
    preferred_selection,
    selection_problem,
)
from .site import RoofSite

Proof = Literal["everything-placed", "dual-bound", "complete-search", "open", "not-searched"]

MOST_PANELS = 200
"""More are not laid out in one call."""

_CENTIWATTS, _SAME_W = 100, 0.01
_MAIN, _RELAXED, _PREFERRED = 0.2, 0.05, 0.04
"""Of the work that a search's limit buys: for the most power, for its bound, and for what is
preferred. A unit of work takes 1 to 5 s on a 2-core machine, and looking for places a third of the
time."""

_PREFERRED_MOST_S = 0.8

_PLACES_PER_SECOND, _MOST_PLACES, _MOST_MIXED = 2000, 6000, 2500
"""Places among which the solver may choose; with more there is no time left to choose well. Beyond
the last number it chooses better among places in rows of one type each, and without those that
stand aside for plates."""

_WORK_PER_SECOND, _LEAST_WORK = 2_000_000, 500_000
"""Distances between plates and things on the roof that looking for places may take, for every
second of a search, about a quarter of it; and what they take however short it is."""

_MOST_ENTRIES = 3_000_000
"""Of the rows that tell which places overlap: about a second's work."""

_FEWEST_PLACES = 100
"""Enough for some layout, however short the time."""

_THINNING = 0.75
"""Share of the places that is kept at a time until there is room for them."""

_LOOSE_PER_PLACE = 3
"""Places of a bound, before any is ruled out by the others, for every place of the search."""


@dataclass(frozen=True, slots=True)
class Packed:
    """A layout, panels from front to rear and from left to right, and how good it is."""

    panels: tuple[Laid, ...]
    proof: LayoutProof


@dataclass(frozen=True, slots=True)
class Limit:
    """Upper bounds: power, and what area alone allows, in hundredths of a watt; and panels."""

    worth: int
    area_worth: float
    panels: int


def pack(
    site: RoofSite,
    kinds: Sequence[RoofPanelType],
    targets: LayoutTargets,
    budget: Budget,
    preferring: bool = True,
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
    budget : Budget
        Work and seed.
    preferring : bool
        Whether to seek what is preferred; without, any layout of the same power does.

    Returns
    -------
    Packed
        The same for the same input.

    Raises
    ------
    ArithmeticError
        If a layout beats a bound, which would be a defect.
    """
    load()
    most, room = most_of(site, kinds), _Room.of(budget.whole_s)
    narrow, wide = (Ground.of(site, kinds, cautious) for cautious in (True, False))
    loose = _loose(wide, most, room)
    complete = loose is not None and not plates_meet(narrow) and narrow.agrees_in_full(wide)
    sound = loose if loose is not None and complete else _sound(narrow, kinds, most, room)
    limit = _limit(site, kinds, loose, most, budget.seconds)
    if not len(sound):
        how: Proof = "open" if limit.worth else "dual-bound"
        return _packed((), kinds, limit, limit.worth, how)
    problem = selection_problem(sound, most, _worth(kinds))
    best = best_selection(problem, limit.worth, budget.part(_MAIN))
    if best.worth > limit.worth:
        raise ArithmeticError(f"layout of {best.worth} beats its bound of {limit.worth}")
    bound, how = _proof(loose, problem, best, limit, kinds, budget, complete)
    if preferring:
        rest = budget.part(_PREFERRED, _PREFERRED_MOST_S)
        best = preferred_selection(problem, best, preference_costs(sound, targets), rest)
    return _packed(_laid(sound, best.chosen, targets), kinds, limit, bound, how, len(sound))


@dataclass(frozen=True, slots=True)
class _Room:
    """Among how many places the solver may choose, and work that looking for them may take."""

    places: int
    work: int

    @staticmethod
    def of(seconds: float) -> "_Room":
        places = int(np.clip(_PLACES_PER_SECOND * seconds, _FEWEST_PLACES, _MOST_PLACES))
        return _Room(places, max(round(_WORK_PER_SECOND * seconds), _LEAST_WORK))

    def fits(self, candidates: Candidates) -> bool:
        few = len(candidates) <= self.places
        return few and (not len(candidates) or cover_entries(candidates) <= _MOST_ENTRIES)


def _loose(ground: Ground, most: list[int], room: _Room) -> Candidates | None:
    """Places that no layout can do without, for a bound; None where there are too many."""
    loose = candidates_of(ground, sum(most), _LOOSE_PER_PLACE * room.places, room.work)
    return loose if loose is not None and room.fits(loose) else None


def _sound(
    ground: Ground, kinds: Sequence[RoofPanelType], most: list[int], room: _Room
) -> Candidates:
    """Sound places: types mixed and standing aside for plates, where there is room for so many.

    Where there is not, those of simple layouts are kept, and of the others as many as there is
    room for.
    """
    few = replace(room, places=min(room.places, _MOST_MIXED))
    found = candidates_of(ground, sum(most), _LOOSE_PER_PLACE * room.places, room.work)
    if found is None or not few.fits(found):
        found = candidates_by_type(ground, most, room.work)
    if room.fits(found):
        wide = moved_aside(ground.site, found, room.work)
        return wide if few.fits(wide) else found
    kept = sorted({i for one in fillings(found, most, _worth(kinds)[found.kind]) for i in one})
    fewer, number = found, float(min(room.places, len(found)))
    while not room.fits(fewer):
        number *= _THINNING
        fewer = found.thinned(int(number), kept)
    return fewer


def bounds_of(site: RoofSite, kinds: Sequence[RoofPanelType], seconds: float) -> Limit:
    """Limits that no layout can pass; nothing is searched."""
    most = most_of(site, kinds)
    loose = _loose(Ground.of(site, kinds, cautious=False), most, _Room.of(seconds))
    return _limit(site, kinds, loose, most, seconds)


def beside(limit: Limit, panels: tuple[Laid, ...], kinds: Sequence[RoofPanelType]) -> Packed:
    """A given layout beside limits of its roof."""
    return _packed(panels, kinds, limit, limit.worth, "not-searched")


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


def _limit(
    site: RoofSite,
    kinds: Sequence[RoofPanelType],
    loose: Candidates | None,
    most: list[int],
    seconds: float,
) -> Limit:
    worth, numbers = _worth(kinds), [float(m) for m in most]
    sizes = [(k.body.length_m, k.body.width_m) for k in kinds]
    region, gap = usable_region(site), site.gap.metres
    by_area = area_bound(region, gap, sizes, worth.tolist(), numbers)
    panels = math.floor(area_bound(region, gap, sizes, [1.0] * len(kinds), numbers) + 1e-6)
    if loose is None:
        return Limit(math.floor(by_area), by_area, panels)
    if not len(loose):
        return Limit(0, by_area, 0)
    dual = _dual(selection_problem(loose, most, worth, plates_meet=False), seconds)
    step = math.gcd(*worth.tolist())
    return Limit(math.floor(min(dual, by_area) / step + 1e-6) * step, by_area, panels)


def _dual(problem: SelectionProblem, seconds: float) -> float:
    """Bound of a selection's worth, the numbers of each type included."""
    from scipy.sparse import csr_array, vstack

    kind, most = problem.candidates.kind, np.array(problem.most, dtype=np.float64)
    kinds = csr_array((np.ones(len(kind)), (kind, np.arange(len(kind)))), (len(most), len(kind)))
    rows = vstack([problem.rows, kinds], format="csr")
    capacities = np.append(np.ones(problem.rows.shape[0]), most)
    return dual_bound(rows, capacities, problem.worth.astype(np.float64), seconds)


def _proof(
    loose: Candidates | None,
    problem: SelectionProblem,
    best: Selection,
    limit: Limit,
    kinds: Sequence[RoofPanelType],
    budget: Budget,
    complete: bool,
) -> tuple[int, Proof]:
    """An upper bound, and how it is known."""
    counted = all(kind.panels_wanted is not None for kind in kinds)
    if counted and len(best.chosen) == sum(problem.most):
        return best.worth, "everything-placed"
    if best.worth == limit.worth:
        return best.worth, "dual-bound"
    above = best
    if not complete:
        if loose is None:
            return limit.worth, "open"
        relaxed = selection_problem(loose, problem.most, _worth(kinds), plates_meet=False)
        above = best_selection(relaxed, limit.worth, budget.part(_RELAXED))
    how: Proof = "complete-search" if best.worth == above.at_most else "open"
    return above.at_most, how


def _laid(
    candidates: Candidates, chosen: Sequence[int], targets: LayoutTargets
) -> tuple[Laid, ...]:
    """Front to rear, left to right; of turns that cover the same roof, plugs nearer the cable."""
    corners = candidates.corners[list(chosen)] * TICK_M
    order = np.lexsort((corners[:, 1], corners[:, 0]))
    found: list[Laid] = []
    for number, at in enumerate(order.tolist(), start=1):
        oriented = candidates.orientations[int(candidates.orientation[chosen[at]])]
        x, y = (round(float(v), 5) for v in corners[at])
        turned = [Laid(f"panel-{number}", oriented.kind, x, y, k) for k in turns_alike(oriented)]
        found.append(min(turned, key=lambda laid: round(targets.cable_m(laid.plug), 6)))
    return tuple(found)


def _packed(
    panels: tuple[Laid, ...],
    kinds: Sequence[RoofPanelType],
    limit: Limit,
    bound: int,
    how: Proof,
    tried: int = 0,
) -> Packed:
    power = float(sum(panel.kind.p_mp_w for panel in panels))
    at_most = bound / _CENTIWATTS
    proof = LayoutProof(
        panels_placed=len(panels),
        panels_at_most=min(limit.panels, math.floor(bound / int(_worth(kinds).min()) + 1e-6)),
        power_w=power,
        power_at_most_w=at_most,
        area_power_at_most_w=limit.area_worth / _CENTIWATTS,
        proven=is_most(power, at_most),
        how=how,
        positions_tried=tried,
    )
    return Packed(panels, proof)


def is_most(power_w: float, at_most_w: float) -> bool:
    """Whether a power reaches what no layout can pass, rounding aside."""
    return power_w >= at_most_w - _SAME_W
