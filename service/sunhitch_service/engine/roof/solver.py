"""The constraint solver behind one small face.

One worker, a fixed seed and a limit on the solver's own count of work make the same request give
the same answer; the clock stands behind that limit in case a machine is slow.
"""

import math
import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from importlib import import_module
from types import ModuleType
from typing import Any

WORK_PER_SECOND = 1.0
"""Units of the solver's deterministic work that one second of the caller's limit buys."""

_SETTING_UP = 0.3
"""Share of a search's time that goes into writing its rules down."""


def load() -> ModuleType:
    """The solver's library; loading it the first time takes long and is no part of a search."""
    return import_module("ortools.sat.python.cp_model")


@dataclass(frozen=True, slots=True)
class Budget:
    """What may be spent on one search.

    Parameters
    ----------
    seconds : float
        Share of the caller's limit.
    deadline : float
        When the caller's limit ends, on the monotonic clock [s].
    seed : int
        Start of random numbers.
    """

    seconds: float
    deadline: float
    seed: int

    def is_spent(self) -> bool:
        """Whether so little of the clock is left that setting up a search would outlast it."""
        return self.deadline - time.monotonic() < _SETTING_UP * self.seconds


@dataclass(frozen=True, slots=True)
class SearchLimit:
    """What one layout may take: a count of work, and the clock behind it.

    Parameters
    ----------
    whole_s : float
        The caller's limit, which decides among how many places is chosen.
    seconds : float
        Share of it, counted in work.
    start, end : float
        When the search starts and must end, on the monotonic clock [s].
    seed : int
        Start of random numbers.
    """

    whole_s: float
    seconds: float
    start: float
    end: float
    seed: int

    def budget(self, share: float, until: float, most_s: float = math.inf) -> Budget:
        """A share of the work, to be done by a share of the clock."""
        by = self.start + until * (self.end - self.start)
        return Budget(min(share * self.seconds, most_s), by, self.seed)


@dataclass(frozen=True, slots=True)
class SolverResult:
    """What the solver says.

    Parameters
    ----------
    chosen : tuple of int or None
        Candidates, rising; None if it found nothing.
    bound : float
        No selection does better; infinite if it does not know.
    complete : bool
        Whether it searched everything.
    stopped_by_clock : bool
        Whether the clock ended the search before the work limit did.
    """

    chosen: tuple[int, ...] | None
    bound: float
    complete: bool
    stopped_by_clock: bool


class Chooser:
    """A model with one yes-or-no choice per candidate.

    Parameters
    ----------
    number : int
        Candidates.
    """

    def __init__(self, number: int) -> None:
        self._cp: Any = load()
        self._model: Any = self._cp.CpModel()
        self._picks: list[Any] = [self._model.new_bool_var("") for _ in range(number)]
        self._literals: list[int] = [pick.index for pick in self._picks]
        # Thousands of rules are written into the model as they are; its own calls take longer.
        self._constraints: Any = self._model.proto.constraints
        self._costs: list[Any] = []

    def at_most_one(self, members: Iterable[int]) -> None:
        """Allow one of these at most."""
        self._constraints.add().at_most_one.literals.extend(self._literals[i] for i in members)

    def excludes(self, pick: int, others: Iterable[int]) -> None:
        """Allow none of the others beside this one."""
        rule = self._constraints.add()
        rule.enforcement_literal.append(self._literals[pick])
        rule.bool_and.literals.extend(-1 - self._literals[i] for i in others)

    def at_most(self, members: Iterable[int], most: int) -> None:
        """Allow so many of these at most."""
        self._model.add(self._cp.LinearExpr.sum([self._picks[i] for i in members]) <= most)

    def maximize(self, worth: Sequence[int], at_most: int) -> None:
        """Seek the most worth; none above a known bound."""
        total = self._weighted(worth)
        self._model.add(total <= at_most)
        self._model.maximize(total)

    def keep(self, worth: Sequence[int], exactly: int) -> None:
        """Allow only selections of one worth."""
        self._model.add(self._weighted(worth) == exactly)

    def cost(self, costs: Sequence[int]) -> None:
        """Count a cost for every chosen candidate."""
        self._costs.append(self._weighted(costs))

    def cost_if_used(self, cost: int, members: Iterable[int]) -> None:
        """Count a cost once if any of these is chosen."""
        used = self._model.new_bool_var("")
        for i in members:
            self._model.add_implication(self._picks[i], used)
        self._costs.append(cost * used)

    def cost_of_imbalance(self, cost: int, moments: Sequence[int]) -> None:
        """Count a cost per unit of the absolute sum of the chosen candidates' moments."""
        size = self._model.new_int_var(0, sum(abs(m) for m in moments), "")
        total = self._weighted(moments)
        self._model.add(size >= total)
        self._model.add(size >= -total)
        self._costs.append(cost * size)

    def minimize_costs(self) -> None:
        """Seek the least cost in sum."""
        self._model.minimize(self._cp.LinearExpr.sum(self._costs))

    def start_from(self, chosen: Iterable[int]) -> None:
        """Try this selection first."""
        kept = set(chosen)
        for i, pick in enumerate(self._picks):
            self._model.add_hint(pick, i in kept)

    def solve(self, budget: Budget) -> SolverResult:
        """Search until the end, the work limit or the clock."""
        solver: Any = self._cp.CpSolver()
        limit = budget.seconds * WORK_PER_SECOND
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = budget.seed
        solver.parameters.linearization_level = 2
        solver.parameters.max_deterministic_time = limit
        solver.parameters.max_time_in_seconds = max(0.01, budget.deadline - time.monotonic())
        status = solver.status_name(solver.solve(self._model))
        found = status in ("OPTIMAL", "FEASIBLE")
        complete = status in ("OPTIMAL", "INFEASIBLE")
        return SolverResult(
            chosen=tuple(i for i, pick in enumerate(self._picks) if solver.boolean_value(pick))
            if found
            else None,
            bound=float(solver.best_objective_bound) if found else math.inf,
            complete=complete,
            stopped_by_clock=not complete and solver.response_proto.deterministic_time < limit,
        )

    def _weighted(self, weights: Sequence[int]) -> Any:  # noqa: ANN401 - the library has no types
        return self._cp.LinearExpr.weighted_sum(self._picks, list(weights))
