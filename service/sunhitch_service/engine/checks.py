"""Worst verdicts."""

from collections.abc import Iterable

from sunhitch.types.check import VERDICTS, Check, Verdict

_RANK: dict[Verdict, int] = {verdict: rank for rank, verdict in enumerate(VERDICTS)}


def worst(verdicts: Iterable[Verdict]) -> Verdict:
    """Worst of some verdicts; `pass` if there are none."""
    return VERDICTS[max([_RANK[verdict] for verdict in set(verdicts)], default=0)]


def verdict_of(checks: Iterable[Check]) -> Verdict:
    """Worst verdict among checks."""
    return worst([check.verdict for check in checks])
