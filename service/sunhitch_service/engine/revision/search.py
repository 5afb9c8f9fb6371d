"""Changes one after another until the goal is met; then those that were not needed go."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

import msgspec

from sunhitch.report.grouping import severity, worst_first
from sunhitch.types.check import Check
from sunhitch.types.fitout import FitOutAnswer, FitOutRequest, PartInWork, WireLine
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.fitout.calculation import fit_out
from sunhitch_service.engine.fitout.part_states import PartStates
from sunhitch_service.engine.reuse import reusable
from sunhitch_service.engine.rules.titles import title_of

from .changes import Change
from .part_states import Parts
from .repairs import Failing, repairs_of

MOST_ROUNDS = 6
MOST_TRIALS = 40
_WORST_USED = 1e3

_built = reusable(fit_out)

Weight = tuple[int, int, float]
CheckKey = tuple[str, str | None]


@dataclass(frozen=True, slots=True)
class TriedJob:
    """A job and its answer, and what of it is gone."""

    job: FitOutRequest
    answer: FitOutAnswer
    news: Sequence[PartInWork] = ()

    def lies(self, line: WireLine) -> bool:
        """Whether a cable is fixed."""
        lot = PartStates(self.job.parts).lot("cable", line.kind, [line.device])
        return [one.state for one in lot.at_hand] == ["fixed"]


Relevant = Callable[[Check], bool]
"""Whether a failing check counts against the goal."""


def tried(job: FitOutRequest) -> TriedJob:
    """A job with its answer, its energy apart; what lies in lines that it lost lies unused.

    Raises
    ------
    ContradictionError
        If it contradicts itself.
    """
    try:
        return TriedJob(job, _built(msgspec.structs.replace(job, harvest=None)))
    except ContradictionError as error:
        unused = [fault.pointer for fault in error.faults if fault.message.code == "no-such-line"]
        if len(unused) < len(error.faults):
            raise
        kept = [one for i, one in enumerate(job.parts) if f"/parts/{i}" not in unused]
        return tried(msgspec.structs.replace(job, parts=kept))


def judged(job: FitOutRequest) -> TriedJob | None:
    """The same; none where the job contradicts itself."""
    try:
        return tried(job)
    except ContradictionError:
        return None


def failing(answer: FitOutAnswer) -> list[Check]:
    """Checks that fail."""
    return [check for check in answer.checks if check.verdict == "fail"]


def key_of(check: Check) -> CheckKey:
    """What tells a check from others of an answer."""
    return check.code, check.subject


class Search:
    """The least changes that make a job hold.

    Parameters
    ----------
    parts : Parts
        What is fixed, owned and wanted.
    counts : callable
        Whether a failing check is against the goal.
    """

    def __init__(self, parts: Parts, counts: Relevant) -> None:
        self._parts = parts
        self._counts = counts
        self._trials = 0

    def mended(self, start: TriedJob) -> tuple[TriedJob, list[Change]]:
        """The job with as few and as small changes as were found, and these changes.

        What is owned is changed only where all else was tried.
        """
        now, made = start, list[Change]()
        while self._against(now) and len(made) < MOST_ROUNDS:
            changes = self._changes(now)
            found = self._best(now, (one for one in changes if not one.owned))
            found = found or self._best(now, (one for one in changes if one.owned))
            if found is None:
                break
            now, change = found
            made.append(change)
        return self._pruned(start, now, made)

    def _against(self, one: TriedJob) -> list[Check]:
        return [check for check in failing(one.answer) if self._counts(check)]

    def _best(self, now: TriedJob, changes: Iterable[Change]) -> tuple[TriedJob, Change] | None:
        """The change after which least is left; the first that leaves nothing, by rank."""
        before = self._weight(now)
        best: tuple[Weight, TriedJob, Change] | None = None
        for change in changes:
            if self._trials >= MOST_TRIALS:
                break
            trial = self._tried(now, change)
            if trial is None or (weight := self._weight(trial)) >= before:
                continue
            if best is None or weight < best[0]:
                best = weight, trial, change
            if weight[:2] <= (0, before[1]):
                break
        return None if best is None else (best[1], self._with_reason(best[2], now, best[1]))

    def _with_reason(self, change: Change, before: TriedJob, after: TriedJob) -> Change:
        """A change with what it was tried for, or with the worst that it does mend."""
        old, new = self._by_title(before), self._by_title(after)
        mended = [title for title, weight in old.items() if new.get(title, (0, 0.0)) < weight]
        if not mended or change.reason in mended:
            return change
        return replace(change, reason=mended[0])

    def _by_title(self, one: TriedJob) -> dict[str, tuple[int, float]]:
        """How many checks of each title fail, and their use in all, the worst first."""
        found: dict[str, tuple[int, float]] = {}
        for check in worst_first(self._against(one)):
            number, used = found.get(title := title_of(check), (0, 0.0))
            found[title] = number + 1, used + min(severity(check), _WORST_USED)
        return found

    def _changes(self, now: TriedJob) -> list[Change]:
        """Changes for all that fails, each once, the least first."""
        found: dict[tuple[str, str], Change] = {}
        checks = _one_a_subject(self._against(now))
        against = (Failing(now.job, now.answer, self._parts, check) for check in checks)
        for change in repairs_of(against):
            found.setdefault((change.code, str(change.parameters)), change)
        return sorted(found.values(), key=lambda change: change.rank)

    def _tried(self, now: TriedJob, change: Change) -> TriedJob | None:
        self._trials += 1
        job = change.apply(now.job)
        return None if job == now.job else judged(job)

    def _weight(self, one: TriedJob) -> Weight:
        """Checks that fail and panels that nothing connects; checks not judged; use in all."""
        against = self._against(one)
        unknown, unused = one.answer.counts.not_assessed, one.answer.configurations[0].leftover
        return (
            len(against) + len(unused),
            unknown,
            sum(min(severity(check), _WORST_USED) for check in against),
        )

    def _pruned(
        self, start: TriedJob, now: TriedJob, made: list[Change]
    ) -> tuple[TriedJob, list[Change]]:
        """The same without changes that others made superfluous, or that mend no rule."""
        for change in list(made):
            fewer = [one for one in made if one is not change]
            job = start.job
            for one in fewer:
                job = one.apply(job)
            trial = judged(job) if fewer else start
            if trial is not None and not self._mends(change, trial, now):
                now, made = trial, fewer
        return now, made

    def _mends(self, change: Change, without: TriedJob, now: TriedJob) -> bool:
        """Whether a change helps: a panel less only where a rule then fails no more on any.

        With every panel its own checks go, however badly the others are held.
        """
        if change.code == "panel-less":
            before, after = ({check.code for check in self._against(one)} for one in (without, now))
            return not before <= after
        return self._weight(without) > self._weight(now)


def _one_a_subject(checks: Iterable[Check]) -> list[Check]:
    """Of each rule on each panel or device the check that is worst."""
    worst = {
        (check.code, (check.subject or "").partition(": ")[0]): check
        for check in sorted(checks, key=severity)
    }
    return worst_first(worst.values())
