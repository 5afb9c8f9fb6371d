"""Choose among candidate places: the most worth first, then what a fitter would prefer.

One worker of the constraint solver, a fixed seed and a limit on the solver's own count of work make
the same request give the same answer. No clock has a say: neither a slow machine nor what else it
does changes a layout.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from importlib import import_module
from operator import attrgetter
from types import ModuleType
from typing import TYPE_CHECKING, Any

import numpy as np

from sunhitch_service.engine.arrays import Integers

from .candidates import Candidates
from .overlaps import cover_rows, fillings, plate_conflicts

if TYPE_CHECKING:
    from scipy.sparse import csr_array

_PARAMETERS = {
    "num_workers": 1,
    "linearization_level": 2,
    # Of the shipped example's 122 ms in the solver, these spare 64: its problems are small, and
    # what looking for more structure finds does not pay.
    "cp_model_probing_level": 0,
    "symmetry_level": 0,
    "merge_at_most_one_work_limit": 0.0,
    "find_big_linear_overlap": False,
    "max_presolve_iterations": 1,
}


def load() -> ModuleType:
    """The solver's library; loading it the first time takes long and is no part of a search."""
    return import_module("ortools.sat.python.cp_model")


@dataclass(frozen=True, slots=True)
class Budget:
    """What a search may take.

    Parameters
    ----------
    whole_s : float
        The caller's limit, which decides among how many places is chosen.
    seconds : float
        Share of it, each a unit of the solver's deterministic work.
    seed : int
        Start of random numbers.
    """

    whole_s: float
    seconds: float
    seed: int

    def part(self, share: float, most_s: float = math.inf) -> "Budget":
        """A share of the work."""
        return replace(self, seconds=min(share * self.seconds, most_s))


@dataclass(frozen=True, slots=True)
class SelectionProblem:
    """What may be chosen together.

    Parameters
    ----------
    candidates : Candidates
        At least one.
    rows : csr_array
        Shape (rows, candidates): at most one candidate of each.
    conflicts : ndarray
        Shape (pairs, 2): at most one candidate of each.
    most : sequence of int
        How many of each type may be chosen.
    worth : ndarray
        Whole worth of each candidate, positive.
    """

    candidates: Candidates
    rows: "csr_array"
    conflicts: Integers
    most: Sequence[int]
    worth: Integers


@dataclass(frozen=True, slots=True)
class Selection:
    """What a search found: candidates, rising; their worth, and an upper bound of it."""

    chosen: tuple[int, ...]
    worth: int
    at_most: int


@dataclass(frozen=True, slots=True)
class PreferenceCosts:
    """What makes one of equally powerful layouts better than another, as whole costs.

    Parameters
    ----------
    costs : ndarray
        Cost of each candidate.
    shared : list of tuple
        (cost, candidates): counts once if any of them is used.
    moments : list of tuple
        (cost, moment of each candidate): counts per unit of the absolute sum.
    """

    costs: Integers
    shared: list[tuple[int, Integers]]
    moments: list[tuple[int, Integers]]


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
    return SelectionProblem(candidates, cover_rows(candidates), pairs, most, worth[candidates.kind])


def best_selection(problem: SelectionProblem, at_most: int, budget: Budget) -> Selection:
    """The selection of the most worth.

    Parameters
    ----------
    problem : SelectionProblem
        What excludes what.
    at_most : int
        A bound that is known already; the search ends when it is reached.
    budget : Budget
        Work and seed.

    Returns
    -------
    Selection
        At least as good as simple fillings.
    """
    filled = fillings(problem.candidates, problem.most, problem.worth)
    start = max(
        (_selection(problem, chosen, at_most) for chosen in filled), key=attrgetter("worth")
    )
    if start.worth == at_most:
        return start
    model = _Model(problem)
    total = model.sum(problem.worth)
    model.allow(total <= at_most)
    model.maximize(total)
    chosen, bound = model.solve(start.chosen, budget)
    if not math.isinf(bound):
        at_most = min(at_most, math.floor(bound + 1e-6))
    found = _selection(problem, start.chosen if chosen is None else chosen, at_most)
    return max(replace(start, at_most=at_most), found, key=attrgetter("worth"))


def _selection(problem: SelectionProblem, chosen: Sequence[int], at_most: int) -> Selection:
    return Selection(tuple(chosen), int(problem.worth[list(chosen)].sum()), at_most)


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
        Work and seed.

    Returns
    -------
    Selection
        With the start's worth and bound.
    """
    model = _Model(problem)
    model.allow(model.sum(problem.worth) == start.worth)
    costs = [model.sum(preferences.costs)]
    costs += [cost * model.any_of(members) for cost, members in preferences.shared]
    costs += [cost * model.absolute_sum(moments) for cost, moments in preferences.moments]
    model.minimize(sum(costs))
    chosen, _ = model.solve(start.chosen, budget)
    return start if chosen is None else replace(start, chosen=chosen)


class _Model:
    """One yes-or-no choice per candidate, and what excludes what."""

    def __init__(self, problem: SelectionProblem) -> None:
        self._cp: Any = load()
        self._model: Any = self._cp.CpModel()
        self.allow: Any = self._model.add
        self.maximize: Any = self._model.maximize
        self.minimize: Any = self._model.minimize
        kind = problem.candidates.kind
        self._picks: list[Any] = [self._model.new_bool_var("") for _ in kind]
        # Thousands of rules are written into the model as they are; its own calls take longer.
        rules = self._model.proto.constraints
        for row in np.split(problem.rows.indices, problem.rows.indptr[1:-1]):
            rules.add().at_most_one.literals.extend(row.tolist())
        order = np.argsort(problem.conflicts[:, 0], kind="stable")
        picks, starts = np.unique(problem.conflicts[order, 0], return_index=True)
        others = np.split(problem.conflicts[order, 1], starts[1:])
        for pick, excluded in zip(picks.tolist(), others, strict=False):
            rule = rules.add()
            rule.enforcement_literal.append(pick)
            rule.bool_and.literals.extend((-1 - excluded).tolist())
        for index, most in enumerate(problem.most):
            members = np.flatnonzero(kind == index).tolist()
            if most < len(members):
                self.allow(sum(self._picks[i] for i in members) <= most)

    def sum(self, weights: Integers) -> Any:  # noqa: ANN401 - the library has no types
        """Sum of the chosen candidates' weights."""
        return self._cp.LinearExpr.weighted_sum(self._picks, weights.tolist())

    def any_of(self, members: Integers) -> Any:  # noqa: ANN401
        """Whether any of these candidates is chosen."""
        used = self._model.new_bool_var("")
        rule = self._model.proto.constraints.add()
        rule.enforcement_literal.append(-1 - used.index)
        rule.bool_and.literals.extend((-1 - members).tolist())
        return used

    def absolute_sum(self, weights: Integers) -> Any:  # noqa: ANN401
        """Size of the sum of the chosen candidates' weights."""
        size = self._model.new_int_var(0, int(np.abs(weights).sum()), "")
        total = self.sum(weights)
        self.allow(size >= total)
        self.allow(size >= -total)
        return size

    def solve(self, start: Sequence[int], budget: Budget) -> tuple[tuple[int, ...] | None, float]:
        """Search from a selection until the end or the limit of work.

        The best selection, or None; and a bound, infinite if none is known.
        """
        for pick in self._picks:
            self._model.add_hint(pick, pick.index in start)
        solver: Any = self._cp.CpSolver()
        for name, value in _PARAMETERS.items():
            setattr(solver.parameters, name, value)
        solver.parameters.random_seed = budget.seed
        solver.parameters.max_deterministic_time = budget.seconds
        status = solver.status_name(solver.solve(self._model))
        if status not in ("OPTIMAL", "FEASIBLE"):
            return None, math.inf
        chosen = tuple(pick.index for pick in self._picks if solver.boolean_value(pick))
        return chosen, float(solver.best_objective_bound)
