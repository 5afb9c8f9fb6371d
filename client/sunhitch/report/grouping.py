"""Checks and sources in the order and in the groups in which people want to read them."""

import math
import re
from collections.abc import Iterable, Iterator, Sequence

from sunhitch.types.basis import Basis
from sunhitch.types.check import VERDICTS, Answer, Check, Verdict


def verdict_of(judged: Answer | Check) -> Verdict:
    """Its verdict; a word of a newer service, unknown here, counts as not assessed."""
    return judged.verdict if judged.verdict in VERDICTS else "not-assessed"


def judged(checks: Iterable[Check], verdict: Verdict) -> list[Check]:
    """Checks of one verdict, worst first."""
    return worst_first(check for check in checks if verdict_of(check) == verdict)


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


_MARK = re.compile(r" \[[0-9a-f]+\]$")
_KINDS = {
    "standard": "Standards and codes",
    "published": "Published work",
    "physics": "Physics",
    "common-practice": "Common practice",
    "given": "Given by the caller",
}
_UNSOURCED = re.compile(r"\.? ?[Cc]ommon practice, no source\.?$")


def grouped_sources(sources: Iterable[Basis]) -> dict[str, list[str]]:
    """What an answer rests on, by kind; clauses of a publication together.

    Parameters
    ----------
    sources : iterable of Basis
        As an answer lists them.

    Returns
    -------
    dict of str to list of str
        Kind in words, and a sentence for each publication.
    """
    known: dict[str, dict[str, dict[str, list[str]]]] = {kind: {} for kind in _KINDS}
    for one in sources:
        clause = _MARK.sub("", one.key).partition(": ")[2]
        work = one.reference.removesuffix(clause).removesuffix(", ")
        named = "" if work in _KINDS.values() else work
        notes = known.setdefault(one.kind, {}).setdefault(named, {})
        notes.setdefault(_UNSOURCED.sub("", one.note).rstrip("."), []).append(clause)
    return {
        _KINDS.get(kind, kind): [line for work in works.items() for line in _told(*work)]
        for kind, works in known.items()
        if works
    }


def _told(work: str, notes: dict[str, list[str]]) -> Iterator[str]:
    """A publication with its clauses, those that share a note together; what has none alone."""
    lines = [
        ". ".join(filter(None, ("; ".join(filter(None, clauses)), note)))
        for note, clauses in notes.items()
    ]
    if not work:
        yield from (f"{line}." for line in lines if line)
    else:
        rest = ". ".join(filter(None, lines))
        yield f"{work}: {rest}." if rest else f"{work}."
