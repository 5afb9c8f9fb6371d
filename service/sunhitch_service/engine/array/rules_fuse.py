"""String fuses: whether the other strings can hurt one, and which fuse helps."""

from sunhitch.types.check import Check, Verdict
from sunhitch_service.engine.checks import Rule, at_most, check
from sunhitch_service.engine.controller.settings import backfeed_a
from sunhitch_service.engine.wiring.protection import (
    StringFuseNeed,
    string_fuse_need,
    string_fuse_rating,
)

from .citations import cite
from .figures import ArrayFigures, StringFigures
from .job import Job


def fuse_checks(job: Job, array: ArrayFigures) -> list[Check]:
    """Reverse current against the panels' series fuse, and the fuse where one is needed.

    Parameters
    ----------
    job : Job
        Settled request.
    array : ArrayFigures
        The array.

    Returns
    -------
    list of Check
        On the string that is worst off; empty for a single string that nothing feeds back into.
    """
    needs = [(string, fuse_need(job, array, string)) for string in array.strings]
    fed = [(string, need) for string, need in needs if need.backfeed_a > 0.0]
    if not fed:
        return []
    string, need = max(fed, key=lambda pair: _severity(*pair))
    checks = [_reverse_current(job, array, string, need)]
    return checks + ([_rating(job, array, string)] if need.needed else [])


def fuse_need(job: Job, array: ArrayFigures, string: StringFigures) -> StringFuseNeed:
    """Whether one of several strings, equal or not, needs a fuse.

    Parameters
    ----------
    job : Job
        Settled request.
    array : ArrayFigures
        The array.
    string : StringFigures
        One of its strings; all others together count as one that pushes back.

    Returns
    -------
    StringFuseNeed
        With the current that the others can push.
    """
    others = array.i_sc_a - string.i_sc_a
    return string_fuse_need(
        others,
        2 if others > 1e-9 else 1,
        string.series_fuse_a,
        job.rules,
        backfeed_a(array.feed.controller, job.request.battery, job.assumptions),
    )


def fuse_ratings(job: Job, array: ArrayFigures) -> tuple[float | None, ...]:
    """Fuse of every string; None where none is needed or none fits [A]."""
    return tuple(_fuse_rating_a(job, array, string) for string in array.strings)


def _fuse_rating_a(job: Job, array: ArrayFigures, string: StringFigures) -> float | None:
    if not fuse_need(job, array, string).needed:
        return None
    return string_fuse_rating(string.i_sc_a, string.series_fuse_a, job.rules).rating_a


def _severity(string: StringFigures, need: StringFuseNeed) -> float:
    """Unknown ratings count as worst, so that they are not hidden."""
    return 1e9 if string.series_fuse_a is None else need.backfeed_a / string.series_fuse_a


def _reverse_current(
    job: Job, array: ArrayFigures, string: StringFigures, need: StringFuseNeed
) -> Check:
    rule = Rule(
        "string-reverse-current",
        "What other sources can push back into a string against its panels' series fuse",
        "A",
        cite(job.rules, "690.9(A)", "6.5.3"),
        _remedy(job, array, string),
        array.subject(string),
    )
    if need.needed is None or string.series_fuse_a is None:
        return check(rule, "not-assessed", need.backfeed_a)
    used = need.backfeed_a / string.series_fuse_a
    verdict: Verdict = "review" if need.needed else "pass"
    return check(rule, verdict, need.backfeed_a, string.series_fuse_a, used)


def _remedy(job: Job, array: ArrayFigures, string: StringFigures) -> str:
    if string.series_fuse_a is None:
        return "Give the panels' largest series fuse from their label."
    fuse = _fuse_rating_a(job, array, string)
    if fuse is None:
        return "Needs string fuses, and none fits: fewer strings in parallel."
    return f"Each such string needs its own fuse, {fuse:g} A; it is in the harness."


def _rating(job: Job, array: ArrayFigures, string: StringFigures) -> Check:
    fuse = string_fuse_rating(string.i_sc_a, string.series_fuse_a, job.rules)
    rule = Rule(
        "string-fuse-rating",
        "Smallest string fuse that does not trip in strong sun against the largest allowed",
        "A",
        cite(job.rules, "690.9(B)", "6.5.3"),
        f"No stocked fuse lies between {fuse.minimum_a:.1f} and {fuse.maximum_a:.1f} A: fewer "
        "strings in parallel, or panels with a larger series fuse rating.",
        array.subject(string),
    )
    if fuse.rating_a is None:
        used = fuse.minimum_a / fuse.maximum_a
        return check(rule, "fail", fuse.minimum_a, fuse.maximum_a, used if used > 1.0 else None)
    return at_most(rule, fuse.rating_a, fuse.maximum_a)
