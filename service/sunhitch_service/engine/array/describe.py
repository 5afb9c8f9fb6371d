"""Arrangements in plain words: names, reasons, summary."""

from collections import Counter

from sunhitch.report.grouping import severity

from .design import ArrayDesign
from .evaluate import SUN
from .figures import Layout, Wired, describe
from .judge import Judged
from .ranking import SAME_FRACTION, power_of


def name_of(design: ArrayDesign, layout: Layout) -> str:
    """Short name of an arrangement, as in `2 strings of 2 × sheet-115`."""
    return "; ".join(_array_name(design, wired) for wired in layout.arrays)


def _array_name(design: ArrayDesign, wired: Wired) -> str:
    strings = Counter(describe(design, string) for string in wired.strings)
    words = " + ".join(
        f"{n} strings of {text}" if n > 1 else f"1 string of {text}" for text, n in strings.items()
    )
    if len(design.controllers) == 1:
        return words
    return f"{words} on {design.controllers[wired.controller].given.name}"


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
        f"Fails “{c.title}”: {_figures(c.demand, c.capacity, c.unit)}. {c.remedy}"
        for c in one.checks
        if c.verdict == "fail"
    ]


def _figures(demand: float | None, capacity: float | None, unit: str | None) -> str:
    if demand is None or capacity is None:
        return "not met"
    return f"{demand:.3g} needed, {capacity:.3g} {unit} there".replace(" 1 there", " there")


def _power(design: ArrayDesign, ordered: list[Judged], rank: int) -> str:
    one, best = ordered[rank], ordered[0]
    by = design.request.target.rank_by
    own, first = power_of(one, by), power_of(best, by)
    in_sun = by == "sun-power" or not design.request.shade
    when = "in full sun" if in_sun else "on average over sun and shade"
    text = f"{own:.0f} W reach the battery {when}"
    if rank == 0:
        return f"{text}.{_why_first(ordered, design)}"
    less = 1.0 - own / first if first > 0 else 0.0
    if abs(less) <= SAME_FRACTION:
        return f"{text}, as good as the first."
    word = "less" if less > 0 else "more"
    return f"{text}, {100 * abs(less):.1f} % {word} than the first."


def _why_first(ordered: list[Judged], design: ArrayDesign) -> str:
    others = [one for one in ordered[1:] if not one.fails]
    if not others:
        return "" if ordered[0].fails else " No other arrangement shown passes."
    by = design.request.target.rank_by
    if by == "margin":
        return " It keeps the largest distance from every limit."
    runner = max(power_of(one, by) for one in others)
    ahead = power_of(ordered[0], by) / runner - 1.0 if runner > 0 else 0.0
    if ahead > SAME_FRACTION:
        return f" That is {100 * ahead:.1f} % more than any other."
    return " Others give the same within half a per cent; this one has more margin or fewer parts."


def _where_it_differs(design: ArrayDesign, one: Judged, best: Judged) -> list[str]:
    """The state of light in which it falls furthest behind the first."""
    if one is best or not design.request.shade:
        return []
    gap = (best.charging_w - one.charging_w)[:-1]
    state = int(gap.argmax())
    if gap[state] < 1.0:
        return []
    name = design.lights[state].name
    return [f"Furthest behind in “{name}”: {gap[state]:.0f} W less than the first."]


def _cold(one: Judged) -> str:
    check = max(
        (c for c in one.checks if c.code == "cold-voc-controller"),
        key=severity,
    )
    if check.verdict == "not-assessed" or check.demand is None or check.capacity is None:
        return "The voltage in the cold could not be assessed."
    return (
        f"In the cold it reaches {check.demand:.1f} of {check.capacity:g} V (by the panels' "
        "coefficient where it is known, else by the rules' table)."
    )


def _parts(one: Judged) -> str:
    branches = sum(i.pieces for i in one.parts if i.kind == "branch-connector")
    fuses = sum(i.pieces for i in one.parts if i.kind == "string-fuse")
    words = [
        f"{branches} branch connectors" if branches else "no branch connectors",
        f"{fuses} string fuses" if fuses else "no string fuses",
    ]
    return f"Needs {' and '.join(words)}."


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
        found.append(f"Controllers leave {clipped + cut:.0f} W of full sun unused.")
    worst = max(a.lost_to_sharing for a in one.loaded)
    if worst > SAME_FRACTION:
        found.append(f"Unequal panels cost {100 * worst:.1f} % in full sun by sharing.")
    if one.layout.leftover:
        names = ", ".join(design.members[m].name for m in one.layout.leftover)
        found.append(f"Leaves out {names}.")
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
    if best.fails:
        lead = (
            f"None of the {examined} arrangements passes; nearest: {name_of(design, best.layout)}."
        )
        return [lead, *_failures(best)]
    lead = (
        f"Wire {name_of(design, best.layout)}: best of the {passing} without a failing "
        f"check out of {examined} distinct arrangements."
    )
    return [lead, _power(design, ordered, 0), *_one_or_two(design, ordered)]


def as_drawn(design: ArrayDesign, ordered: list[Judged], place: int) -> str:
    """The wiring as drawn in a sentence: its verdict, power and place among those judged."""
    one, by = ordered[place], design.request.target.rank_by
    verdict = "fails" if one.fails else "fails no check"
    return (
        f"As drawn, {name_of(design, one.layout)} {verdict} and gives {power_of(one, by):.0f} W; "
        f"it ranks {place + 1} of {len(ordered)} judged in full."
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
        return [f"Two controllers give {100 * gain:.1f} % more than the best on one."]
    return ["A second controller brings nothing here."]
