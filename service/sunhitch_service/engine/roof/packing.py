"""The most panel power that fits a roof, with a limit that no layout can pass."""

import math
import time
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from sunhitch.types.roof import LayoutSearch, RoofPanelType

from .bounds import area_bound, dual_bound, usable_region
from .choices import Choices, Integers, choices_of, is_plain
from .panels import Laid
from .search import Problem, Selection, best_selection, nicest_selection, problem_of
from .site import Site
from .solver import Budget
from .taste import Aim, taste_of
from .variants import TICK_M, Variant, turns_alike

Proof = Literal["everything-placed", "dual-bound", "complete-search", "open", "not-searched"]

MOST_PANELS = 200
"""More are not laid out in one call."""

_CENTIWATTS = 100
_MAIN, _RELAXED, _NICE = 0.6, 0.15, 0.2
_NICE_MOST_S = 1.0


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


@dataclass(frozen=True, slots=True)
class _Limits:
    """Upper bounds in whole hundredths of a watt, and of the number of panels."""

    worth: int
    area_worth: float
    panels: int


def pack(site: Site, kinds: Sequence[RoofPanelType], aim: Aim, search: LayoutSearch) -> Packed:
    """Lay out the most power.

    Parameters
    ----------
    site : Site
        The roof.
    kinds : sequence of RoofPanelType
        What may be placed.
    aim : Aim
        What to prefer among layouts of the same power.
    search : LayoutSearch
        Time limit and seed.

    Returns
    -------
    Packed
        The same for the same input unless the clock stopped it.

    Raises
    ------
    ArithmeticError
        If a layout beats a bound, which would be a defect.
    """
    deadline = time.monotonic() + search.time_limit_s
    most = most_of(site, kinds)
    worth = _worth(kinds)
    sound = choices_of(site, kinds, sum(most), cautious=True)
    plain = is_plain(site, kinds)
    loose = sound if plain else choices_of(site, kinds, sum(most), cautious=False)
    limit = _limits(site, kinds, loose, most, worth)
    if not len(sound):
        return _packed((), limit, limit.worth, "dual-bound" if not limit.worth else "open", loose)
    problem = problem_of(sound, most, worth)

    def budget(share: float, most_s: float = math.inf) -> Budget:
        return Budget(min(share * search.time_limit_s, most_s), deadline, search.seed)

    best = best_selection(problem, limit.worth, budget(_MAIN))
    bound, how = _proof(None if plain else loose, problem, best, limit, kinds, budget(_RELAXED))
    nice = nicest_selection(problem, best, taste_of(sound, aim), budget(_NICE, _NICE_MOST_S))
    panels = _laid(sound, nice.chosen, aim)
    return _packed(panels, limit, bound, how, sound, nice.stopped_by_clock)


def bounds_of(site: Site, kinds: Sequence[RoofPanelType], panels: tuple[Laid, ...]) -> Packed:
    """A given layout beside the limits that no layout can pass; nothing is searched."""
    most = most_of(site, kinds)
    worth = _worth(kinds)
    loose = choices_of(site, kinds, sum(most), cautious=False)
    limit = _limits(site, kinds, loose, most, worth)
    return _packed(panels, limit, limit.worth, "not-searched", loose)


def _worth(kinds: Sequence[RoofPanelType]) -> Integers:
    return np.array([round(k.p_mp_w * _CENTIWATTS) for k in kinds], dtype=np.int64)


def most_of(site: Site, kinds: Sequence[RoofPanelType]) -> list[int]:
    """How many of each type may be placed: as wanted, or what the area allows."""
    region, gap = usable_region(site), site.gap.metres
    sizes = [(k.body.length_m, k.body.width_m) for k in kinds]
    room = [area_bound(region, gap, [size], [1.0], [math.inf]) for size in sizes]
    return [
        math.floor(space + 1e-6) if kind.panels_wanted is None else kind.panels_wanted
        for kind, space in zip(kinds, room, strict=True)
    ]


def _limits(
    site: Site, kinds: Sequence[RoofPanelType], choices: Choices, most: list[int], worth: Integers
) -> _Limits:
    sizes = [(k.body.length_m, k.body.width_m) for k in kinds]
    by_area = area_bound(
        usable_region(site), site.gap.metres, sizes, worth.tolist(), [float(m) for m in most]
    )
    if not len(choices):
        return _Limits(0, by_area, 0)
    problem = problem_of(choices, most, worth, plates_meet=False)
    step = math.gcd(*worth.tolist())
    value = min(_dual(problem, problem.worth.astype(np.float64)), by_area)
    number = _dual(problem, np.ones(len(choices)))
    return _Limits(math.floor(value / step + 1e-6) * step, by_area, math.floor(number + 1e-6))


def _dual(problem: Problem, values: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> float:
    """Bound of a selection's value, the numbers of each type included."""
    from scipy.sparse import csr_array, vstack

    n = len(problem.kind)
    kinds = csr_array((np.ones(n), (problem.kind, np.arange(n))), shape=(len(problem.most), n))
    rows = vstack([problem.rows, kinds], format="csr")
    capacities = np.append(np.ones(problem.rows.shape[0]), np.array(problem.most, dtype=np.float64))
    return dual_bound(rows, capacities, values)


def _proof(
    loose: Choices | None,
    problem: Problem,
    best: Selection,
    limit: _Limits,
    kinds: Sequence[RoofPanelType],
    budget: Budget,
) -> tuple[int, Proof]:
    if best.worth > limit.worth:
        raise ArithmeticError(f"layout of {best.worth} beats its bound of {limit.worth}")
    wanted = [kind.panels_wanted for kind in kinds]
    if None not in wanted and len(best.chosen) == sum(problem.most):
        return best.worth, "everything-placed"
    if best.worth == limit.worth:
        return best.worth, "dual-bound"
    if loose is None:
        return best.at_most, "complete-search" if best.worth == best.at_most else "open"
    relaxed = problem_of(loose, problem.most, _worth(kinds), plates_meet=False)
    above = best_selection(relaxed, limit.worth, budget)
    return above.at_most, "complete-search" if best.worth == above.at_most else "open"


def _laid(choices: Choices, chosen: Sequence[int], aim: Aim) -> tuple[Laid, ...]:
    corners = choices.corners[list(chosen)] * TICK_M
    order = np.lexsort((corners[:, 1], corners[:, 0]))
    found: list[Laid] = []
    for number, at in enumerate(order.tolist(), start=1):
        variant = choices.variants[int(choices.variant[chosen[at]])]
        x, y = (round(float(v), 5) for v in corners[at])
        found.append(_turned(f"panel-{number}", variant, x, y, aim))
    return tuple(found)


def _turned(name: str, variant: Variant, x: float, y: float, aim: Aim) -> Laid:
    """Of the ways that cover the same roof, the one whose plugs are nearer the cable side."""
    ways = [Laid(name, variant.kind, x, y, k) for k in turns_alike(variant)]
    return min(ways, key=lambda way: round(aim.cable_m(way.plug), 6))


def _packed(
    panels: tuple[Laid, ...],
    limit: _Limits,
    bound: int,
    how: Proof,
    choices: Choices,
    by_clock: bool = False,
) -> Packed:
    least = min((v.kind.p_mp_w for v in choices.variants), default=1.0)
    number = min(limit.panels, math.floor(bound / _CENTIWATTS / least + 1e-6))
    return Packed(
        panels,
        bound / _CENTIWATTS,
        limit.area_worth / _CENTIWATTS,
        number,
        how,
        len(choices),
        by_clock,
    )
