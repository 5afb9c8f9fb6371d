"""Changes that might help, each judged by running the checks again with it."""

import math
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial

from sunhitch.types.check import VERDICTS, Verdict
from sunhitch.types.mount import Improvement, MountCheckRequest
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.checks import verdict_of, worst
from sunhitch_service.engine.errors import ContradictionError

from .changes import changes
from .evaluate import Evaluation
from .faults import refuse_contradictions
from .modes import ModeResult, finite
from .remedies import larger
from .setup import Setup, settle
from .speed import SpeedRange, pass_speed
from .static_checks import static_checks, static_results

WORTH_FRACTION = 0.01
"""Least share by which a change must lower the governing utilisation to be named."""
MOST_STEPS = 4
MOST_TOLD = 5
"""Changes that a fit-out tells of a panel."""


@dataclass(frozen=True, slots=True)
class Trial:
    """One change in words, the settled request with it, what then decides, and the verdict."""

    text: str
    setup: Setup
    governing: ModeResult
    verdict: Verdict

    def described(self, before: ModeResult) -> Improvement:
        """The trial for the answer, compared with what decides without it."""
        used = self.governing.utilisation
        share = 1.0 if math.isinf(used) else used / before.utilisation
        return Improvement(
            change=self.text,
            governed_by=self.governing.check_code,
            utilisation_fraction=finite(used),
            gain_fraction=max(0.0, 1 - share),
            verdict=self.verdict,
            pass_speed_m_s=pass_speed(SpeedRange(self.setup)).speed,
        )


def trials(setup: Setup, governing: ModeResult) -> list[Trial]:
    """Changes that mend the governing failure or lower its utilisation, best first.

    Parameters
    ----------
    setup : Setup
        Settled request as it stands.
    governing : ModeResult
        What decides then.
    """
    if governing.utilisation == 0.0:
        return []
    most = min(governing.utilisation * (1 - WORTH_FRACTION), sys.float_info.max)
    enough = governing.severity[0], most
    helpful = [one for text, asked in changes(setup) if (one := _try(text, asked, enough))]
    return sorted(helpful, key=lambda one: (VERDICTS.index(one.verdict), *one.governing.severity))


Allowed = Callable[[MountCheckRequest], bool]
"""Whether a request with a change may stand."""


def _rounds(first: list[Trial], allowed: Allowed) -> Iterator[Trial]:
    """The best change of each round, with those before it; as long as one helps."""
    round_of = first
    for _ in range(MOST_STEPS):
        best = next((one for one in round_of if allowed(one.setup.request)), None)
        if best is None:
            return
        yield best
        round_of = trials(best.setup, best.governing)


def mended(
    request: MountCheckRequest, *allowed: Allowed
) -> list[tuple[list[str], MountCheckRequest]]:
    """Changes one after another, the best of each round, until all holds or none helps.

    Parameters
    ----------
    request : MountCheckRequest
        Without contradiction.
    *allowed : callable
        Which changes may be made, one way after the other.

    Returns
    -------
    list of tuple
        For each way its changes in words, none where none helps, and the request with them.
    """
    setup = settle(request, Assumptions())
    found = Evaluation(setup)
    static = static_results(setup)
    first = trials(setup, max([found.worst(), *static], key=lambda one: one.severity))
    ways: list[tuple[list[str], MountCheckRequest]] = []
    for may_stand in allowed:
        steps: list[Trial] = []
        for best in _rounds(first, may_stand):
            steps.append(best)
            if best.verdict in ("pass", "review"):
                break
        ways.append(([one.text for one in steps], steps[-1].setup.request if steps else request))
    return ways


def plan(first: list[Trial], governing: ModeResult, verdict: Verdict) -> list[Improvement]:
    """Changes one after another, the best of each round, until nothing fails or none helps.

    Parameters
    ----------
    first : list of Trial
        Helpful changes to the request as it stands, best first.
    governing : ModeResult
        What decides then.
    verdict : str
        Its verdict; a plan is made only where it fails.
    """
    steps: list[Improvement] = []
    for best in _rounds(first, lambda _request: True) if verdict == "fail" else ():
        steps.append(best.described(governing))
        governing = best.governing
        if best.verdict != "fail":
            break
    return steps


def _try(text: str, request: MountCheckRequest, enough: tuple[bool, float]) -> Trial | None:
    """What a change gives; none where it contradicts itself or does not help."""
    try:
        refuse_contradictions(request)
    except ContradictionError:
        return None
    setup = settle(request, Assumptions())
    static = static_results(setup)
    if max(one.severity for one in static) > enough:
        return None
    found = Evaluation(setup)
    governing = max([found.worst(), *static], key=lambda one: one.severity)
    if governing.severity > enough:
        return None
    checks = [*(result.check(partial(larger, setup)) for result in static), *static_checks(setup)]
    return Trial(text, setup, governing, worst([found.verdict(), verdict_of(checks)]))
