"""Utilisation of each size of a circuit's conductor, and the rule that governs it."""

from collections.abc import Mapping

from sunhitch.report.amounts import both, figure, percent
from sunhitch.types.wiring import LadderResult, RuleOutcome, SizeResult, WireSizingAnswer
from sunhitch.types.wiring import WireSizingRequest as Asked

from .sheet import MARGIN, Sheet
from .used import shade

LEFT, BAR_WIDTH, _ROW = 150.0, 220.0, 24.0
LONGEST = 2.0
"""Use at the end of the longest bar; what is beyond is cut off, its figure stands beside it."""

_RESERVE = 0.1
"""A bar this close to its limit is shaded; a help for the eye, not a rule."""

_SAME_FOR_ALL = frozenset({"ambient-in-table"})
"""Rules on which the size has no influence: they count where they fail."""
_TITLES = {"awg": "American wire gauge", "mm2": "Square millimetres"}


def wire_chart(request: Asked, answer: WireSizingAnswer) -> str:
    """Draw the chart.

    Parameters
    ----------
    request : WireSizingRequest
        What was asked.
    answer : WireSizingAnswer
        What was found.

    Returns
    -------
    str
        SVG picture.
    """
    told = f"{both(request.length_m, 'm')} one way at {figure(request.voltage_v)} V"
    sheet = Sheet("Utilisation of each size", f"{told}. {_choice(answer)}")
    titles = {check.code: check.title for check in answer.checks}
    y = 96.0
    for ladder in (answer.awg, answer.metric):
        y = _ladder(sheet, ladder, titles, y) + 34
    return sheet.svg(860.0, y)


def _choice(answer: WireSizingAnswer) -> str:
    named = [one.chosen.size for one in (answer.awg, answer.metric) if one.chosen]
    return f"Smallest that passes: {' or '.join(named)}." if named else "No size passes."


def _ladder(sheet: Sheet, ladder: LadderResult, titles: Mapping[str, str], y: float) -> float:
    """Bars of one ladder; returns where they end."""
    sheet.text(MARGIN, y, _TITLES[ladder.ladder], "head")
    start, y = y + 10, y + 26
    for size in ladder.sizes:
        _bar(sheet, size, titles, y, chosen=size == ladder.chosen)
        y += _ROW
    limit = LEFT + BAR_WIDTH / LONGEST
    sheet.line("limit", (limit, start), (limit, y - 10))
    sheet.text(limit, y + 2, "all that a rule allows", "small", "middle")
    return y


def _bar(
    sheet: Sheet, size: SizeResult, titles: Mapping[str, str], y: float, *, chosen: bool
) -> None:
    sheet.text(LEFT - 10, y + 4, size.size, "head" if chosen else "", "end")
    if chosen:
        sheet.line("plate", (MARGIN, y - 8), (MARGIN, y + 8))
    telling = [one for one in size.rules if one.code not in _SAME_FOR_ALL or one.verdict == "fail"]
    worst = max(telling, key=_used)
    used = _used(worst)
    title = titles.get(worst.code, worst.code.replace("-", " ").capitalize())
    share = percent(used) if used <= 10.0 else "far over"
    said = f"{share}  {title}; drop {figure(size.drop_v)} V, {percent(size.drop_fraction)}"
    length = max(1.0, BAR_WIDTH * min(1.0, used / LONGEST))
    sheet.bar(LEFT, y, [(shade(used, _RESERVE), length)], said, LEFT + BAR_WIDTH + 10)


def _used(rule: RuleOutcome) -> float:
    """Share of what a size allows; nothing allowed is used up without end."""
    if rule.demand <= 0.0:
        return 0.0
    return rule.demand / rule.capacity if rule.capacity > 0.0 else float("inf")
