"""Which arrangements there are: classes of panels, strings that stay in the window, layouts."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import islice
from math import prod

from sunhitch.grouping import grouped
from sunhitch.types.check import Verdict
from sunhitch_service.engine.checks import worst
from sunhitch_service.engine.rules.voltages import HOT_RUN

from .design import ArrayDesign, Share
from .enumeration import (
    Counts,
    Partitions,
    Pattern,
    StringOption,
    is_leading_mirror,
    mirrored_count,
    slots,
)
from .figures import Layout, String, Wired
from .screen import voltages

MOST_PATTERNS = 5000
_MOST_STRINGS = 300
_AUTOMATIC_LEAVE_OUT = 2


@dataclass(frozen=True, slots=True)
class Grouping:
    """Panels sorted into classes that count as interchangeable.

    Parameters
    ----------
    classes : tuple of String
        Members of each class, in the order in which they are dealt to strings.
    exact : bool
        Whether the members of a class see the same light, so that nothing is lost.
    """

    classes: tuple[String, ...]
    exact: bool

    @property
    def counts(self) -> Counts:
        """Panels in each class."""
        return tuple(len(members) for members in self.classes)


@dataclass(frozen=True)
class EnumerationPlan:
    """What to enumerate.

    Parameters
    ----------
    grouping : Grouping
        Classes of panels.
    strings : list of StringOption
        Every string considered.
    broken : dict
        Codes of the voltage rules that each string breaks.
    leave_out : int
        Panels that may stay unused.
    same_controllers : bool
        Whether two controllers are identical but for their name.
    all_strings : bool
        Whether `strings` holds every string there is.
    short_strings : bool
        Whether it holds those that fall a little short of a full battery in the heat.
    """

    grouping: Grouping
    strings: list[StringOption]
    broken: dict[StringOption, frozenset[str]]
    leave_out: int
    same_controllers: bool
    all_strings: bool
    short_strings: bool

    @cached_property
    def fitting(self) -> Partitions:
        """Arrangements of strings that stay within the voltage window of their controller."""
        return self.out_of([s for s in self.strings if not self.broken[s]])

    def out_of(self, strings: list[StringOption]) -> Partitions:
        """Arrangements of some strings, mirrored ones among them."""
        return Partitions(strings, self.grouping.counts, self.leave_out)

    def count(self, found: Partitions) -> int:
        """How many are distinct."""
        if not self.same_controllers:
            return found.count()
        own = [s for s in found.choices if s.controller == 0]
        return (found.count() + mirrored_count(own, self.grouping.counts, self.leave_out)) // 2


def by_light(design: ArrayDesign) -> Grouping:
    """Panels of one type and the same light in every state form a class."""
    classes = grouped(((own.kind, own.light), index) for index, own in enumerate(design.members))
    return Grouping(tuple(map(tuple, classes.values())), True)


def by_kind(design: ArrayDesign) -> Grouping:
    """Panels of one type form a class, brightest first, so that like light meets in a string."""
    classes = grouped((member.kind, index) for index, member in enumerate(design.members))
    ordered = [tuple(sorted(m, key=lambda i: -_brightness(design, i))) for m in classes.values()]
    return Grouping(tuple(ordered), len(ordered) == len(by_light(design).classes))


def _brightness(design: ArrayDesign, member: int) -> float:
    states = zip(design.request.shade, design.members[member].light, strict=True)
    return sum(state.weight_fraction * _mean(light) for state, light in states)


def _mean(light: Share) -> float:
    if not isinstance(light, tuple):
        return light
    cells = [share for row in light for share in row]
    return sum(cells) / len(cells)


def allowances(design: ArrayDesign) -> list[int]:
    """How many panels may stay unused: as given, else two, and any number if nothing passes."""
    given, most = design.request.leave_out_at_most, len(design.members) - 1
    if given is not None:
        return [min(given, most)]
    return sorted({min(_AUTOMATIC_LEAVE_OUT, most), most})


def plan(design: ArrayDesign, leave_out: int) -> EnumerationPlan:
    """The finest enumeration that stays within bounds.

    Single panels where their number allows, else types; either way without strings that fall short
    in the heat before the coarser way is taken. Where even types are too many, nothing may be left
    out unless the caller wants it, and then every string has one type only.

    Parameters
    ----------
    design : ArrayDesign
        Settled request.
    leave_out : int
        Panels that may stay unused.

    Returns
    -------
    EnumerationPlan
        Perhaps without a string that fits.
    """
    stricter = leave_out if design.request.leave_out_at_most is not None else 0
    return (
        _attempt(design, by_light(design), leave_out)
        or _attempt(design, by_kind(design), leave_out)
        or _attempt(design, by_kind(design), stricter)
        or _attempt(design, by_kind(design), stricter, one_type=True)
        or _without_short(design, _plan(design, by_kind(design), stricter, one_type=True))
    )


def _attempt(
    design: ArrayDesign,
    grouping: Grouping,
    leave_out: int,
    one_type: bool = False,
) -> EnumerationPlan | None:
    """The plan, if it stays within bounds."""
    if not one_type and prod(n + 1 for n in grouping.counts) > _MOST_STRINGS:
        return None
    everything = _plan(design, grouping, leave_out, one_type)
    for found in (everything, _without_short(design, everything)):
        if found.count(found.fitting) <= MOST_PATTERNS:
            return found
    return None


def _plan(
    design: ArrayDesign, grouping: Grouping, leave_out: int, one_type: bool
) -> EnumerationPlan:
    strings = slots(
        grouping.counts,
        len(design.controllers),
        lambda s: not one_type or sum(n > 0 for n in s.counts) == 1,
    )
    broken = {s: frozenset(_of_verdict("fail", design, grouping, s)) for s in strings}
    return EnumerationPlan(
        grouping, strings, broken, leave_out, _same_controllers(design), not one_type, True
    )


def _of_verdict(
    verdict: Verdict, design: ArrayDesign, grouping: Grouping, slot: StringOption
) -> Iterator[str]:
    """Codes of the voltage rules that come out so on a string."""
    wired = Wired(slot.controller, (members_of(grouping, slot.counts),))
    return (check.code for check in voltages(design, wired) if check.verdict == verdict)


def _without_short(design: ArrayDesign, found: EnumerationPlan) -> EnumerationPlan:
    """Without strings whose hot cells fall a little short of a full battery."""
    kept = [
        s for s in found.strings if HOT_RUN not in _of_verdict("review", design, found.grouping, s)
    ]
    return replace(found, strings=kept, all_strings=False, short_strings=False)


def _same_controllers(design: ArrayDesign) -> bool:
    if len(design.controllers) < 2:
        return False
    first, second = (f.given for f in design.controllers)
    fields = [f for f in first.__struct_fields__ if f != "name"]
    return all(getattr(first, f) == getattr(second, f) for f in fields)


def members_of(grouping: Grouping, counts: Counts) -> String:
    """The first members of each class."""
    return tuple(
        m for members, n in zip(grouping.classes, counts, strict=True) for m in members[:n]
    )


def patterns(chosen: EnumerationPlan) -> list[Pattern]:
    """Arrangements out of fitting strings, mirrored ones once, up to the bound."""
    found = iter(chosen.fitting)
    if chosen.same_controllers:
        found = (pattern for pattern in found if is_leading_mirror(pattern))
    return list(islice(found, MOST_PATTERNS))


def layout(grouping: Grouping, pattern: Pattern) -> Layout:
    """Deal single panels to the strings of a pattern, class by class in order."""
    queues = [iter(members) for members in grouping.classes]
    arrays = grouped((slot.controller, _deal(queues, slot.counts)) for slot in pattern)
    wired = tuple(
        Wired(controller, tuple(strings)) for controller, strings in sorted(arrays.items())
    )
    return Layout(wired, tuple(sorted(m for queue in queues for m in queue)))


def _deal(queues: list[Iterator[int]], counts: Counts) -> String:
    return tuple(m for queue, n in zip(queues, counts, strict=True) for m in islice(queue, n))


def short_layouts(design: ArrayDesign, chosen: EnumerationPlan) -> list[Layout]:
    """Equal strings that fall short in the heat, where the plan leaves such strings aside."""
    if chosen.short_strings:
        return []
    regular = regular_layouts(design, chosen.leave_out)
    return [one for one in regular if _verdict(design, one) == "review"]


def _verdict(design: ArrayDesign, one: Layout) -> Verdict:
    """Of the hot voltage, and of the other voltage rules where they fail."""
    return worst(
        check.verdict
        for wired in one.arrays
        for string in wired.strings
        for check in voltages(design, Wired(wired.controller, (string,)))
        if check.code == HOT_RUN or check.verdict == "fail"
    )


def unlike(design: ArrayDesign, chosen: EnumerationPlan, among: list[Layout]) -> list[Layout]:
    """Regular layouts that wire no panels alike with any of some others, whatever their order."""
    classes = by_light(design).classes
    numbers = {m: number for number, members in enumerate(classes) for m in members}

    def pattern(one: Layout) -> tuple[tuple[int, tuple[tuple[int, ...], ...]], ...]:
        arrays: list[tuple[int, tuple[tuple[int, ...], ...]]] = []
        for wired in one.arrays:
            strings = sorted(tuple(sorted(numbers[m] for m in string)) for string in wired.strings)
            arrays.append((0 if chosen.same_controllers else wired.controller, tuple(strings)))
        return tuple(sorted(arrays))

    known = {pattern(one) for one in among}
    found: dict[object, Layout] = {}
    for one in regular_layouts(design, chosen.leave_out):
        if (like := pattern(one)) not in known:
            found.setdefault(like, one)
    return list(found.values())


def regular_layouts(design: ArrayDesign, leave_out: int) -> list[Layout]:
    """Equal strings of every length on every controller; shown where little fits."""
    everyone = tuple(m for members in by_kind(design).classes for m in members)
    found: list[Layout] = []
    for controller in range(len(design.controllers)):
        for length in range(1, len(everyone) + 1):
            used = len(everyone) // length * length
            if len(everyone) - used <= leave_out:
                strings = tuple(everyone[i : i + length] for i in range(0, used, length))
                found.append(Layout((Wired(controller, strings),), everyone[used:]))
    return found
