"""An answer as text to act on: verdict, what fails and how to mend it, results, assumptions."""

import re
from collections.abc import Sequence
from itertools import takewhile
from typing import Literal, TypeAlias

from sunhitch.types.basis import Caution
from sunhitch.types.check import VERDICTS, Answer, Check, Verdict

from .amounts import beside, figure, near_limit
from .grouping import alike, counted, judged, verdict_of
from .layout import Page

_HEADINGS: dict[Verdict, str] = {
    "fail": "What fails, and what to change",
    "not-assessed": "What could not be assessed",
    "review": "What needs a second look",
    "pass": "What passes",
}
Detail: TypeAlias = Literal["short", "long", "full"]
"""What must be mended and chosen; all results; passing checks and the basis of every rule too."""

_BRIEF_LINES, _CHOICE_LINES, _BETWEEN = 40, 14, 5
_TIGHTEST = 5
_OTHERS = 3
_EXACT = 6
_INDEX = re.compile(r"/\d+(?=/|$)")


def summary(page: Page, title: str, answer: Answer, results: Sequence[str], detail: Detail) -> str:
    """The whole text, with the verdict last as well as first.

    Parameters
    ----------
    page : Page
        Width and colour.
    title : str
        What was asked.
    answer : Answer
        Any answer of the contract.
    results : sequence of str
        Lines about the results that only this calculation has, the choice first.
    detail : str
        How much to tell.
    """
    full, verdict = detail == "full", _verdict(page, title, answer)
    blocks = [
        verdict,
        *(_judged(page, answer, one, full) for one in reversed(VERDICTS[1:])),
        list(results),
        _passing(page, answer, full),
        _assumptions(page, answer),
        _cautions(page, answer),
        [
            f"Engine {answer.engine.version}, data {answer.engine.data_sha256[:12]}.",
            verdict[0],
        ],
    ]
    if detail == "short":
        blocks = _brief(page, answer, verdict, results)
    return "\n\n".join("\n".join(block) for block in blocks if block) + "\n"


def _brief(
    page: Page, answer: Answer, verdict: list[str], results: Sequence[str]
) -> list[list[str]]:
    """What to mend as far as there is room, the choice, and what kinds of danger there are."""
    choice = list(takewhile(bool, results))
    if len(choice) > _CHOICE_LINES:
        choice = [*choice[: _CHOICE_LINES - 1], "  …"]
    dangers = ", ".join(dict.fromkeys(danger(caution).lower() for caution in answer.cautions))
    care = page.wrap(f"Take care: {dangers}. The long form tells how.") if dangers else []
    room = _BRIEF_LINES - sum(map(len, (verdict, choice, care))) - _BETWEEN
    mend: list[str] = []
    told = 0
    rules = [rule for one in reversed(VERDICTS[1:]) for rule in _rules(page, answer, one, False)]
    for rule in rules:
        if len(mend) + len(rule) <= room:
            mend += rule
            told += 1
    if told < len(rules):
        mend.append(f"  and {len(rules) - told} more in the long form")
    return [verdict, mend, choice, [*care, verdict[0]]]


def _verdict(page: Page, title: str, answer: Answer) -> list[str]:
    word = f"VERDICT: {page.verdict(verdict_of(answer))}"
    fits = len(f"VERDICT: {verdict_of(answer)}  {title}") <= page.width
    first = [f"{word}  {title}"] if fits else [word, *page.wrap(title)]
    return [*first, *page.wrap(counted(answer.checks))]


def _judged(page: Page, answer: Answer, verdict: Verdict, full: bool) -> list[str]:
    return [line for rule in _rules(page, answer, verdict, full) for line in rule]


def _rules(page: Page, answer: Answer, verdict: Verdict, full: bool) -> list[list[str]]:
    """Lines about each rule that is judged so; the first has the heading."""
    rules = [
        _rule(page, f"{number:3d}. ", same, _basis(answer, same[0]) if full else "")
        for number, same in enumerate(alike(judged(answer.checks, verdict)), 1)
    ]
    if rules:
        rules[0].insert(0, page.verdict(verdict, _HEADINGS[verdict].upper()))
    return rules


def _rule(page: Page, number: str, same: list[Check], basis: str) -> list[str]:
    """One rule with everything it was applied to; the worst case stands for all."""
    worst, *others = same
    indent = " " * len(number)
    return [
        *page.wrap(f"{worst.title}{_of(worst)}", number),
        *page.wrap(_compared(worst), indent),
        *page.wrap(worst.note, indent),
        *page.wrap(worst.remedy, f"{indent}→ "),
        *page.wrap(f"also: {_listed(worst, others)}" if others else "", indent),
        *page.wrap(f"basis: {basis} [{worst.code}]" if basis else "", indent),
    ]


def _of(check: Check) -> str:
    return f" ({check.subject})" if check.subject else ""


def _compared(check: Check) -> str:
    """Demand against capacity; the share alone where that is all there is."""
    if check.demand is None or check.capacity is None or check.unit is None:
        return ""
    share = check.utilisation_fraction
    used = "" if share is None else f"{near_limit(share)} used"
    if check.capacity == 1.0 and check.unit == "1" and used:
        return used
    sides = beside(check.demand, check.capacity, check.unit)
    return f"{sides}, {used}" if used else sides


def _listed(worst: Check, others: list[Check]) -> str:
    """What else one rule judges the same way, by the part in which it differs."""
    same_title = all(check.title == worst.title for check in others)
    named = [
        (check.subject or check.title if same_title else _case(check))
        + (f" {near_limit(share)}" if (share := check.utilisation_fraction) is not None else "")
        for check in others
    ]
    more = len(named) - _OTHERS
    return "; ".join(named[:_OTHERS]) + (f"; and {more} more" if more > 0 else "")


def _case(check: Check) -> str:
    return (check.title.partition(": ")[2] or check.title) + _of(check)


def _basis(answer: Answer, check: Check) -> str:
    source = answer.source_of(check)
    if source is None:
        return check.basis
    return ". ".join(part.rstrip(".") for part in (source.reference, source.note) if part)


def _passing(page: Page, answer: Answer, full: bool) -> list[str]:
    if full:
        return _judged(page, answer, "pass", full)
    rules = alike(judged(answer.checks, "pass"))
    if not rules:
        return []
    more = f": {len(rules)} rules, the tightest of them" if len(rules) > _TIGHTEST else ""
    named = (_tightest(same) for same in rules[:_TIGHTEST])
    return [page.verdict("pass", f"{_HEADINGS['pass']}{more}".upper()), *page.bullets(named)]


def _tightest(same: list[Check]) -> str:
    worst, *others = same
    share = worst.utilisation_fraction
    used = "" if share is None else f": {near_limit(share)} used"
    return f"{worst.title}{_of(worst)}{used}{f'; {len(others)} more' if others else ''}"


def _assumptions(page: Page, answer: Answer) -> list[str]:
    if not answer.assumptions:
        return []
    fields: dict[tuple[str, str, str], list[str]] = {}
    for one in answer.assumptions:
        place = _INDEX.sub("/*", one.field)
        fields.setdefault((place, _value(one.value), one.why), []).append(one.field)
    named = (
        f"{found[0] if len(found) == 1 else place} = {value}. {why}"
        for (place, value, why), found in fields.items()
    )
    return [page.heading("Assumed, because not given"), *page.bullets(named)]


def _value(value: float | str | bool) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    return value if isinstance(value, str) else figure(value, _EXACT)


def _cautions(page: Page, answer: Answer) -> list[str]:
    if not answer.cautions:
        return []
    named = (f"{danger(caution)}: {caution.text}" for caution in answer.cautions)
    return [page.heading("Take care"), *page.bullets(named, "! ")]


def danger(caution: Caution) -> str:
    """Kind of danger, to begin a line with."""
    return caution.about.replace("-", " ").capitalize()
