"""Checks in the order and in the groups in which people want to read them."""

import math
from collections.abc import Iterable, Sequence

from sunhitch.types.check import VERDICTS, Answer, Check, Verdict


def verdict_of(judged: Answer | Check) -> Verdict:
    """Its verdict; a word of a newer service, unknown here, counts as not assessed."""
    return judged.verdict if judged.verdict in VERDICTS else "not-assessed"


def worst_first(checks: Iterable[Check]) -> list[Check]:
    """Checks by falling utilisation; a failure without one comes first, as no amount mends it."""
    return sorted(checks, key=severity, reverse=True)


def severity(check: Check) -> float:
    """Utilisation to compare by: infinite for a failure without a ratio, 0 where none is needed."""
    if check.utilisation_fraction is None:
        return math.inf if check.verdict == "fail" else 0.0
    return check.utilisation_fraction


def alike(checks: list[Check]) -> list[list[Check]]:
    """Checks of one rule together, in the order of the worst of each."""
    rules: dict[str, list[Check]] = {}
    for check in checks:
        rules.setdefault(rule_of(check), []).append(check)
    return list(rules.values())


def rule_of(check: Check) -> str:
    """Title of a check's rule, without the case after a colon."""
    return check.title.partition(": ")[0]


def counted(checks: Sequence[Check]) -> str:
    """How many checks there are of each verdict, worst first, as a sentence."""
    counts = [
        f"{count} {verdict.replace('-', ' ')}"
        for verdict in reversed(VERDICTS)
        if (count := sum(verdict_of(check) == verdict for check in checks))
    ]
    return f"{len(checks)} checks: {', '.join(counts) or 'none apply'}."
