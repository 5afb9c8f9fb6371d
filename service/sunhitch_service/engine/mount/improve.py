"""Changes that might help, each judged by running the checks again with it."""

import math
from dataclasses import dataclass

from sunhitch.types.check import VERDICTS, Verdict
from sunhitch.types.mount import Improvement, MountCheckRequest
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.checks import verdict_of
from sunhitch_service.engine.errors import ContradictionError

from .changes import changes
from .evaluate import evaluate
from .faults import refuse_contradictions
from .setup import Setup, settle
from .speed import governing_use, pass_speed, severity
from .standing import standing_checks, standing_uses
from .thermal import movement
from .use import Use, finite

WORTH_FRACTION = 0.01
"""Least share by which a change must lower the governing utilisation to be named."""
MOST_STEPS = 4


@dataclass(frozen=True, slots=True)
class Trial:
    """One change, run through the checks.

    Parameters
    ----------
    text : str
        What is changed.
    setup : Setup
        The request with the change, settled.
    governing : Use
        What decides with it.
    verdict : str
        Verdict with it.
    """

    text: str
    setup: Setup
    governing: Use
    verdict: Verdict

    def described(self, before: Use) -> Improvement:
        """The trial for the answer, compared with what decides without it."""
        used = self.governing.utilisation
        share = 1.0 if math.isinf(used) else used / before.utilisation
        return Improvement(
            change=self.text,
            governed_by=self.governing.code,
            utilisation_fraction=finite(used),
            gain_fraction=min(1.0, max(0.0, 1 - share)),
            verdict=self.verdict,
            pass_speed_m_s=pass_speed(self.setup),
        )


def trials(setup: Setup, governing: Use) -> list[Trial]:
    """Changes that mend the governing failure or lower its utilisation, best first.

    Parameters
    ----------
    setup : Setup
        Settled request as it stands.
    governing : Use
        What decides then.
    """
    if governing.utilisation == 0.0:
        return []
    tried = [_try(text, request) for text, request in changes(setup)]
    enough = governing.fails, governing.utilisation * (1 - WORTH_FRACTION)
    helpful = [one for one in tried if one is not None and severity(one.governing) <= enough]
    return sorted(helpful, key=lambda one: (VERDICTS.index(one.verdict), *severity(one.governing)))


def plan(first: list[Trial], governing: Use, verdict: Verdict) -> list[Improvement]:
    """Changes one after another, the best of each round, until nothing fails or none helps.

    Parameters
    ----------
    first : list of Trial
        Helpful changes to the request as it stands, best first.
    governing : Use
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
    uses = evaluate(setup, setup.travel.road_speed) + standing_uses(setup, movement(setup))
    checks = [*(use.check() for use in uses), *standing_checks(setup)]
    return Trial(text, setup, governing_use(uses), verdict_of(checks))
