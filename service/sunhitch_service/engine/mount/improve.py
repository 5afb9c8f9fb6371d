"""Changes that might help, each judged by running the checks again with it."""

import math
import sys
from dataclasses import dataclass

from sunhitch.types.check import VERDICTS, Verdict
from sunhitch.types.mount import Improvement, MountCheckRequest
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.checks import verdict_of
from sunhitch_service.engine.errors import ContradictionError

from .changes import changes
from .evaluate import evaluate
from .faults import refuse_contradictions
from .modes import ModeResult, finite
from .setup import Setup, settle
from .speed import SpeedRange, governing_result, pass_speed, severity
from .static_checks import static_checks, static_results
from .thermal import movement

FLOAT_MAX = sys.float_info.max
WORTH_FRACTION = 0.01
"""Least share by which a change must lower the governing utilisation to be named."""
MOST_STEPS = 4


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
            gain_fraction=min(1.0, max(0.0, 1 - share)),
            verdict=self.verdict,
            pass_speed_m_s=pass_speed(SpeedRange(self.setup)),
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
    tried = [_try(text, request) for text, request in changes(setup)]
    enough = governing.fails, min(governing.utilisation * (1 - WORTH_FRACTION), FLOAT_MAX)
    helpful = [one for one in tried if one is not None and severity(one.governing) <= enough]
    return sorted(helpful, key=lambda one: (VERDICTS.index(one.verdict), *severity(one.governing)))


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
    round_of = first if verdict == "fail" else []
    while round_of and len(steps) < MOST_STEPS:
        best = round_of[0]
        steps.append(best.described(governing))
        governing = best.governing
        round_of = trials(best.setup, governing) if best.verdict == "fail" else []
    return steps


def _try(text: str, request: MountCheckRequest) -> Trial | None:
    try:
        refuse_contradictions(request)
    except ContradictionError:
        return None
    setup = settle(request, Assumptions())
    results = evaluate(setup, setup.conditions.road_speed) + static_results(setup, movement(setup))
    checks = [*(result.check() for result in results), *static_checks(setup)]
    return Trial(text, setup, governing_result(results), verdict_of(checks))
