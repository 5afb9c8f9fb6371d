"""Arrangements in plain words: names, reasons, summary."""

from collections import Counter

from sunhitch.report.grouping import severity
from sunhitch.texts import statement, together
from sunhitch.texts.templates import Parameter
from sunhitch_service.engine.rules.titles import title_of

from .design import ArrayDesign
from .evaluate import SUN
from .figures import Layout, String, Wired, describe
from .judge import Judged
from .ranking import SAME_FRACTION, power_of


def name_of(design: ArrayDesign, layout: Layout) -> str:
    """Short name of an arrangement, as in `2 strings of 2 × sheet-115`."""
    return together("semicolon", [_array_name(design, wired) for wired in layout.arrays])


def _array_name(design: ArrayDesign, wired: Wired) -> str:
    strings = Counter(describe(design, string) for string in wired.strings)
    words = [
        statement("strings-of", strings=n, string=text)
        if n > 1
        else statement("one-string-of", string=text)
        for text, n in strings.items()
    ]
    told = together("plus", words)
    if len(design.controllers) == 1:
        return told
    name = design.controllers[wired.controller].given.name
    return statement("on-controller", strings=told, controller=name)


def beside(design: ArrayDesign, layout: Layout, other: Layout) -> str:
    """Name of an arrangement that stands beside another one, perhaps of the same strings in number.

    Then a string tells them apart which the other has not.
    """
    name = name_of(design, layout)
    if name != name_of(design, other):
        return name
    known = {(wired.controller, *sorted(one)) for wired in other.arrays for one in wired.strings}
    for wired in layout.arrays:
        for string in wired.strings:
            if (wired.controller, *sorted(string)) not in known:
                return _the_same_with(design, wired, string)
    return name


def _the_same_with(design: ArrayDesign, wired: Wired, string: String) -> str:
    panels = [design.members[member].name for member in string]
    joined = statement("panels-in-series", panels=panels) if len(panels) > 1 else panels[0]
    if len(design.controllers) == 1:
        return statement("the-same-with", string=joined)
    name = design.controllers[wired.controller].given.name
    return statement("the-same-with-on", string=joined, controller=name)


def reasons(design: ArrayDesign, ordered: list[Judged], rank: int) -> list[str]:
    """Why an arrangement ranks where it does.

    Parameters
    ----------
    design : ArrayDesign
        Settled request.
    ordered : list of Judged
        Best first.
    rank : int
        Its place, counted from 0.

    Returns
    -------
    list of str
        Whole sentences, the weightiest first.
    """
    one, best = ordered[rank], ordered[0]
    return [
        *_failures(one),
        _power(design, ordered, rank),
        *_where_it_differs(design, one, best),
        _cold(one),
        _parts(one),
        *_limits(design, one),
    ]


def _failures(one: Judged) -> list[str]:
    return [
        statement(
            "fails",
            title=title_of(c),
            figures=_figures(c.demand, c.capacity, c.unit),
            remedy=c.remedy,
        )
        for c in one.checks
        if c.verdict == "fail"
    ]


def _figures(demand: float | None, capacity: float | None, unit: str | None) -> str:
    if demand is None or capacity is None:
        return statement("not-met")
    if unit in (None, "1"):
        return statement("needed-and-there-ratio", needed=demand, there=capacity)
    return statement("needed-and-there", needed=demand, there=capacity, unit=unit)


def _power(design: ArrayDesign, ordered: list[Judged], rank: int) -> str:
    one, best = ordered[rank], ordered[0]
    by = design.request.target.rank_by
    own, first = power_of(one, by), power_of(best, by)
    in_sun = by == "sun-power" or not design.request.shade
    state = statement("in-full-sun" if in_sun else "over-sun-and-shade")
    if rank == 0:
        lead = statement("reach-battery", power_w=own, state=state)
        return together("space", [lead, _why_first(ordered, design)])
    less = 1.0 - own / first if first > 0 else 0.0
    told: dict[str, Parameter] = {
        "power_w": own,
        "state": state,
        "best": beside(design, best.layout, one.layout),
    }
    if abs(less) <= SAME_FRACTION:
        return statement("reach-battery-alike", **told)
    if less > 0.0:
        return statement("reach-battery-less", less_percent=100 * less, **told)
    return statement("reach-battery-more", more_percent=-100 * less, **told)


def _why_first(ordered: list[Judged], design: ArrayDesign) -> str:
    others = [one for one in ordered[1:] if not one.fails]
    if not others:
        return "" if ordered[0].fails else statement("no-other-passes")
    by = design.request.target.rank_by
    if by == "margin":
        return statement("largest-distance")
    runner = max(others, key=lambda one: power_of(one, by))
    beaten_w = power_of(runner, by)
    ahead = power_of(ordered[0], by) / beaten_w - 1.0 if beaten_w > 0 else 0.0
    if ahead > SAME_FRACTION:
        next_best = beside(design, runner.layout, ordered[0].layout)
        return statement("more-than-any-other", ahead_percent=100 * ahead, next_best=next_best)
    return statement("others-within-half")


def _where_it_differs(design: ArrayDesign, one: Judged, best: Judged) -> list[str]:
    """The state of light in which it falls furthest behind the first."""
    if one is best or not design.request.shade:
        return []
    gap = (best.charging_w - one.charging_w)[:-1]
    state = int(gap.argmax())
    if gap[state] < 1.0:
        return []
    return [statement("furthest-behind", state=design.lights[state].name, behind_w=gap[state])]


def _cold(one: Judged) -> str:
    check = max(
        (c for c in one.checks if c.code == "cold-voc-controller"),
        key=severity,
    )
    if check.verdict == "not-assessed" or check.demand is None or check.capacity is None:
        return statement("cold-not-assessed")
    return statement("reaches-in-cold", reached_v=check.demand, limit_v=check.capacity)


def _parts(one: Judged) -> str:
    branches = sum(i.pieces for i in one.parts if i.kind == "branch-connector")
    fuses = sum(i.pieces for i in one.parts if i.kind == "string-fuse")
    words: list[str] = [
        statement("branch-connectors", pieces=branches)
        if branches
        else statement("no-branch-connectors"),
        statement("string-fuses", pieces=fuses) if fuses else statement("no-string-fuses"),
    ]
    return statement("needs-parts", parts=words)


def _limits(design: ArrayDesign, one: Judged) -> list[str]:
    """Clipping, sharing and idle panels, where they cost something."""
    found: list[str] = []
    clipped = sum(float((a.power.unlimited_w - a.power.drawn_w)[SUN]) for a in one.loaded)
    cut = sum(
        a.figures.controller.efficiency * float(a.power.drawn_w[SUN])
        - float(a.power.charging_w[SUN])
        for a in one.loaded
    )
    if clipped + cut > 0.5:
        found.append(statement("controllers-leave", unused_w=clipped + cut))
    worst = max(a.lost_to_sharing for a in one.loaded)
    if worst > SAME_FRACTION:
        found.append(statement("unequal-panels-cost", lost_percent=100 * worst))
    if one.layout.leftover:
        names = [design.members[m].name for m in one.layout.leftover]
        found.append(statement("leaves-out", panels=names))
    return found


def summary(design: ArrayDesign, ordered: list[Judged], examined: int, passing: int) -> list[str]:
    """What to build and why.

    Parameters
    ----------
    design : ArrayDesign
        Settled request.
    ordered : list of Judged
        Best first.
    examined, passing : int
        Distinct arrangements looked at, and how many of them fail no check.

    Returns
    -------
    list of str
        A few sentences.
    """
    best = ordered[0]
    name = name_of(design, best.layout)
    if best.fails:
        return [statement("none-passes", examined=examined, nearest=name), *_failures(best)]
    lead = statement("wire-best", arrangement=name, passing=passing, examined=examined)
    return [lead, _power(design, ordered, 0), *_one_or_two(design, ordered)]


def as_drawn(design: ArrayDesign, ordered: list[Judged], place: int) -> str:
    """The wiring as drawn in a sentence: its verdict, power and place among those judged."""
    one, by = ordered[place], design.request.target.rank_by
    return statement(
        "as-drawn-fails" if one.fails else "as-drawn-holds",
        arrangement=name_of(design, one.layout),
        power_w=power_of(one, by),
        rank=place + 1,
        judged=len(ordered),
    )


def _one_or_two(design: ArrayDesign, ordered: list[Judged]) -> list[str]:
    """What the second controller is worth, among the arrangements shown."""
    by = design.request.target.rank_by
    groups = {
        n: [power_of(o, by) for o in ordered if len(o.loaded) == n and not o.fails] for n in (1, 2)
    }
    if not groups[1] or not groups[2]:
        return []
    one, two = max(groups[1]), max(groups[2])
    gain = two / one - 1.0 if one > 0 else 0.0
    if gain > SAME_FRACTION:
        return [statement("two-controllers-give", gain_percent=100 * gain)]
    return [statement("second-controller-nothing")]
