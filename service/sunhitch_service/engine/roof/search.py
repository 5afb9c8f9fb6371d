"""Choose among candidate places: the most worth first, then what a fitter would prefer."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from .candidates import Candidates, Integers, cover_rows, plate_conflicts
from .geometry import Floats
from .solver import Budget, Chooser

if TYPE_CHECKING:
    from scipy.sparse import csr_array


@dataclass(frozen=True, slots=True)
class SelectionProblem:
    """A selection problem.

    Parameters
    ----------
    rows : csr_array
        Shape (rows, candidates): at most one candidate of each.
    conflicts : ndarray
        Shape (pairs, 2): at most one candidate of each.
    kind : ndarray
        Panel type of each candidate.
    most : sequence of int
        How many of each type may be chosen.
    worth : ndarray
        Whole worth of each candidate, positive.
    """

    rows: "csr_array"
    conflicts: Integers
    kind: Integers
    most: Sequence[int]
    worth: Integers


@dataclass(frozen=True, slots=True)
class Selection:
    """What a search found.

    Parameters
    ----------
    chosen : tuple of int
        Candidates, rising.
    worth, at_most : int
        Their worth, and an upper bound of it.
    complete : bool
        Whether everything was searched.
    stopped_by_clock : bool
        Whether the clock ended the search before the work limit did.
    """

    chosen: tuple[int, ...]
    worth: int
    at_most: int
    complete: bool
    stopped_by_clock: bool


@dataclass(frozen=True, slots=True)
class PreferenceCosts:
    """What makes one of equally powerful layouts better than another, as whole costs.

    Parameters
    ----------
    costs : ndarray
        Cost of each candidate.
    shared : tuple of tuple
        (cost, candidates): counts once if any of them is used.
    moments : tuple of tuple
        (cost, moment of each candidate): counts per unit of the absolute sum.
    """

    costs: Integers
    shared: tuple[tuple[int, tuple[int, ...]], ...]
    moments: tuple[tuple[int, Integers], ...]


def selection_problem(
    candidates: Candidates, most: Sequence[int], worth: Integers, plates_meet: bool = True
) -> SelectionProblem:
    """The selection problem of at least one candidate.

    Parameters
    ----------
    candidates : Candidates
        Candidates.
    most : sequence of int
        How many of each type may be chosen.
    worth : ndarray
        Worth of each type.
    plates_meet : bool
        Whether foot plates exclude each other too; a bound may leave them out.

    Returns
    -------
    SelectionProblem
        What excludes what.
    """
    pairs = plate_conflicts(candidates) if plates_meet else np.zeros((0, 2), dtype=np.int64)
    return SelectionProblem(
        cover_rows(candidates), pairs, candidates.kind, most, worth[candidates.kind]
    )


def best_selection(
    problem: SelectionProblem, at_most: int, budget: Budget, guide: Floats | None = None
) -> Selection:
    """The selection of the most worth.

    Parameters
    ----------
    problem : SelectionProblem
        What excludes what.
    at_most : int
        A bound that is known already; the search ends when it is reached.
    budget : Budget
        Work, clock and seed.
    guide : ndarray, optional
        Shape (candidates,): the larger, the sooner a candidate is tried.

    Returns
    -------
    Selection
        At least as good as simple fillings.
    """
    options = _fillings(problem, np.zeros(len(problem.worth)) if guide is None else guide)
    filled = max(options, key=lambda chosen: int(problem.worth[list(chosen)].sum()))
    if int(problem.worth[list(filled)].sum()) == at_most:
        return Selection(filled, at_most, at_most, complete=True, stopped_by_clock=False)
    chooser = _chooser(problem)
    chooser.maximize(problem.worth.tolist(), at_most)
    chooser.start_from(filled)
    found = chooser.solve(budget)
    options = [filled] if found.chosen is None else [filled, found.chosen]
    chosen = max(options, key=lambda chosen: int(problem.worth[list(chosen)].sum()))
    worth = int(problem.worth[list(chosen)].sum())
    bound = at_most if math.isinf(found.bound) else min(at_most, math.floor(found.bound + 1e-6))
    return Selection(chosen, worth, bound, found.complete, found.stopped_by_clock)


def preferred_selection(
    problem: SelectionProblem, start: Selection, preferences: PreferenceCosts, budget: Budget
) -> Selection:
    """Of the selections that are worth as much as the start, one of low cost.

    Parameters
    ----------
    problem : SelectionProblem
        What excludes what.
    start : Selection
        Where the search starts; kept if nothing better is found.
    preferences : PreferenceCosts
        What costs how much.
    budget : Budget
        Work, clock and seed.

    Returns
    -------
    Selection
        With the start's worth and bound.
    """
    if budget.is_spent():
        return replace(start, stopped_by_clock=True)
    chooser = _chooser(problem)
    chooser.keep(problem.worth.tolist(), start.worth)
    chooser.cost(preferences.costs.tolist())
    for cost, members in preferences.shared:
        chooser.cost_if_used(cost, members)
    for cost, moment in preferences.moments:
        chooser.cost_of_imbalance(cost, moment.tolist())
    chooser.minimize_costs()
    chooser.start_from(start.chosen)
    found = chooser.solve(budget)
    chosen = start.chosen if found.chosen is None else found.chosen
    by_clock = start.stopped_by_clock or found.stopped_by_clock
    return Selection(chosen, start.worth, start.at_most, start.complete, by_clock)


def filling(problem: SelectionProblem, order: Integers) -> tuple[int, ...]:
    """Take candidates in an order where they still fit."""
    columns, left = problem.rows.tocsc(), list(problem.most)
    free = np.array(problem.most)[problem.kind] > 0
    taken: list[int] = []
    while len(open_ones := order[free[order]]):
        pick = int(open_ones[0])
        taken.append(pick)
        covered = columns.indices[columns.indptr[pick] : columns.indptr[pick + 1]]
        free[problem.rows[covered].indices] = False
        free[problem.conflicts[problem.conflicts[:, 0] == pick, 1]] = False
        free[problem.conflicts[problem.conflicts[:, 1] == pick, 0]] = False
        kind = int(problem.kind[pick])
        left[kind] -= 1
        if left[kind] == 0:
            free[problem.kind == kind] = False
    return tuple(sorted(taken))


def _fillings(problem: SelectionProblem, guide: Floats) -> list[tuple[int, ...]]:
    """By worth, by worth for the roof it takes, and by a guide."""
    area = np.asarray(problem.rows.sum(axis=0), dtype=np.float64)
    keys = (problem.worth.astype(np.float64), problem.worth / area, guide)
    return [filling(problem, np.argsort(-np.round(key, 9), kind="stable")) for key in keys]


def _chooser(problem: SelectionProblem) -> Chooser:
    chooser = Chooser(len(problem.worth))
    rows = problem.rows
    for start, end in zip(rows.indptr[:-1], rows.indptr[1:], strict=True):
        chooser.at_most_one(rows.indices[start:end].tolist())
    pairs = problem.conflicts[np.argsort(problem.conflicts[:, 0], kind="stable")]
    picks, starts = np.unique(pairs[:, 0], return_index=True)
    for pick, others in zip(picks.tolist(), np.split(pairs[:, 1], starts[1:]), strict=False):
        chooser.excludes(pick, others.tolist())
    for kind, most in enumerate(problem.most):
        members = np.flatnonzero(problem.kind == kind).tolist()
        if most < len(members):
            chooser.at_most(members, most)
    return chooser
