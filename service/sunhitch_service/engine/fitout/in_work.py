"""Cables, and what sits in them, that are fixed, owned or cannot be had."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import chain
from typing import Any, NamedTuple, get_args

from msgspec.structs import replace

from sunhitch.texts import statement
from sunhitch.types.array import ControllerArray
from sunhitch.types.check import Check
from sunhitch.types.fitout import PV_LINES, LineKind, PartInWork, WorkPart
from sunhitch.types.wiring import FuseFamily, GlandSize, WireSizingAnswer, WireSizingRequest
from sunhitch_service.engine.circuit.devices import families, family_named
from sunhitch_service.engine.errors import Faults
from sunhitch_service.engine.rules.parts import part_available
from sunhitch_service.engine.wiring.calculation import wire_sizing

from .bank import AskedLine
from .part_states import Lot, PartStates, width
from .pointers import Translate, faults_of, moved

_CURRENTS_A = (15.0, 20.0, 30.0, 40.0, 50.0, 60.0, 80.0, 100.0)
"""Ratings of plugs, branch connectors and disconnects. Common practice, no source."""
_RATING_DIGITS = 9
"""Decimals of a rating that are told apart: products of factors are not exact in binary."""
_INSIDE: tuple[LineKind, ...] = ("controller-to-battery", "bus-to-battery")
SITS_IN: dict[WorkPart, tuple[LineKind, ...]] = {
    "cable": (),
    "fuse": (),
    "plug": PV_LINES,
    "gland": ("pv-output",),
    "branch-connector": ("pv-output",),
    "disconnect": (*PV_LINES, *_INSIDE),
}
"""In which lines a part is; in any where none is named."""


def fixed_m(states: PartStates, kind: LineKind, names: Sequence[str]) -> float | None:
    """Length of a line that lies already [m]; None where none does or nobody measured it."""
    lot = states.lot("cable", kind, names)
    return next((one.length_m for one in lot.at_hand if one.state == "fixed"), None)


def names_of(line: AskedLine) -> list[str]:
    """By which a line is told from others of its kind."""
    return [line.behind.equipment, *line.behind.panels, line.start, line.end]


def takes_fuse(line: AskedLine) -> bool:
    """Whether its fuse is its own, and not that of a string."""
    of_string = line.kind in ("pv-string", "removable-panel")
    return not of_string and line.request.fuse_needed is None


def refuse_lines(
    states: PartStates, lines: Sequence[AskedLine], arrays: Iterable[ControllerArray]
) -> None:
    """Refuse what is said of no line of the build, and what contradicts itself on one.

    Parameters
    ----------
    states : PartStates
        What is said of the parts.
    lines : sequence of AskedLine
        Every line.
    arrays : iterable of ControllerArray
        With strings whose own leads reach: they have plugs, and perhaps a fuse, but no line.

    Raises
    ------
    ContradictionError
        With the lines that there are.
    """
    faults = Faults()
    cables = [_Place(line.kind, names_of(line)) for line in lines]
    known = {(place.kind, *place.names[:2]) for place in cables}
    bare = [
        _Place("pv-string", [array.controller, *string.panels])
        for array in arrays
        for string in array.strings
        if len(array.strings) > 1
        if ("pv-string", array.controller, string.panels[0]) not in known
    ]
    for part, kinds in SITS_IN.items():
        every = [*cables, *bare] if part in ("fuse", "plug") else cables
        here = [place for place in every if not kinds or place.kind in kinds]
        used: list[PartInWork] = []
        for place in here:
            lot = states.lot(part, place.kind, place.names)
            used += lot.entries
            fixed = lot.of("fixed")
            for one in fixed[1:]:
                if width(one) == width(fixed[0]):
                    at = f"/parts/{states.entries.index(one)}"
                    faults.add(at, "line-fixed-twice", line=place.told)
        known_lines = ", ".join(place.told for place in here)
        for index, one in enumerate(states.entries):
            # What is owned or sold out of a whole kind does no harm where there is none of it.
            said_of_lines = one.name is not None or one.state in ("fixed", "planned")
            unknown = one.part == part and one not in used and said_of_lines
            faults.add_if(unknown, f"/parts/{index}", "no-such-line", lines=known_lines)
    faults.raise_any()


class _Place(NamedTuple):
    """Where a part of a line is."""

    kind: LineKind
    names: list[str]

    @property
    def told(self) -> str:
        return f"{self.kind} {device_of(self.kind, self.names[0], self.names[1:])}"


def device_of(kind: LineKind, equipment: str, panels: Sequence[str]) -> str:
    """What tells a line from others of its kind."""
    return panels[0] if kind == "pv-string" else equipment


class Sized(NamedTuple):
    """A line as asked and answered, what of it is there, and checks on what cannot be had."""

    request: WireSizingRequest
    answer: WireSizingAnswer
    there: Sequence[PartInWork] = ()
    checks: Sequence[Check] = ()


Value = tuple[Any, ...]
"""What a part in a line is known by: its size, its rating, of a fuse its family, too."""


class _InLine(NamedTuple):
    """A part of a line: where it is asked, what was taken of it, and what may take its place."""

    asked: tuple[str, ...]
    fields: tuple[str, ...]
    taken: Callable[[WireSizingAnswer], Value | None]
    others: Callable[[WireSizingAnswer], Iterable[Value]]

    def value(self, one: PartInWork) -> Value:
        return tuple(getattr(one, field) for field in self.fields)

    def put(self, asked: WireSizingRequest, value: Value) -> WireSizingRequest:
        own = dict(zip(self.asked, value, strict=True))
        if "gland_at_hand" not in own:
            return replace(asked, **own)
        return replace(asked, entry=asked.entry and replace(asked.entry, **own))


def sized(states: PartStates, line: AskedLine, pointers: Translate) -> Sized:
    """A line as it lies, else of what is owned where that fails nothing more, else by the rules.

    Parameters
    ----------
    states : PartStates
        What is fixed, owned and unavailable.
    line : AskedLine
        The line, by the rules alone.
    pointers : callable
        From the wire sizing's pointers to the fit-out's.
    """
    lots = _lots(states, line)
    asked = _without_gone(line.request, lots)
    own: dict[str, str] = {}

    def tried(asked: WireSizingRequest) -> Sized:
        with faults_of(lambda pointer: pointers(moved(own)(pointer))):
            return Sized(asked, wire_sizing(asked))

    at_hand: list[tuple[WorkPart, PartInWork]] = [
        (part, one) for part, lot in lots.items() for one in lot.at_hand
    ]
    found, there = tried(asked), dict[WorkPart, PartInWork]()
    for part, one in sorted(at_hand, key=lambda each: each[1].state != "fixed"):
        kind = _IN_LINE[part]
        if part in there:
            continue
        own[f"/{kind.asked[0]}"] = f"/parts/{states.entries.index(one)}/{kind.fields[0]}"
        trial = tried(kind.put(found.request, kind.value(one)))
        if one.state == "fixed" or _failing(trial) <= _failing(found):
            found, there[part] = trial, one
    missing: list[Check] = []
    for part, lot in lots.items():
        if part not in there and lot.of("unavailable"):
            found, lacking = _of_others(part, lot, found, tried)
            missing += lacking
    return found._replace(there=[*there.values()], checks=missing)


def _lots(states: PartStates, line: AskedLine) -> dict[WorkPart, Lot]:
    """What is said of the parts of a line; of a fuse that is gone, in which families."""
    lots: dict[WorkPart, Lot] = {
        part: states.lot(part, line.kind, names_of(line))
        if not SITS_IN[part] or line.kind in SITS_IN[part]
        else Lot(())
        for part in _IN_LINE
    }
    fuses: Sequence[PartInWork] = lots["fuse"].entries if takes_fuse(line) else ()
    every: list[FuseFamily | None] = [each.name for each in families()]
    lots["fuse"] = Lot(
        [
            replace(one, family=family)
            for one in fuses
            for family in (
                every if one.state == "unavailable" and one.family is None else [one.family]
            )
        ]
    )
    return lots


def _without_gone(asked: WireSizingRequest, lots: dict[WorkPart, Lot]) -> WireSizingRequest:
    """A line without sizes and a string fuse that cannot be had."""
    asked = replace(
        asked, unavailable=[one.size for one in lots["cable"].of("unavailable") if one.size]
    )
    if any(one.rating_a == asked.fuse_rating_a for one in lots["fuse"].of("unavailable")):
        asked = replace(asked, fuse_rating_a=None, fuse_family=None)
    return asked


def _of_others(
    part: WorkPart, lot: Lot, found: Sized, tried: Callable[[WireSizingRequest], Sized]
) -> tuple[Sized, list[Check]]:
    """A line of what can be had, or what it lacks."""
    kind = _IN_LINE[part]
    usual = kind.taken(found.answer)
    if part == "cable":
        if usual is None and (
            size := kind.taken(tried(replace(found.request, unavailable=[])).answer)
        ):
            return found, [part_available(part, "", words_of(size))]
        return found, []
    trials: dict[Value, Sized] = {}

    def fits(value: Value | None) -> bool:
        if value is None:
            return False
        trials[value] = tried(kind.put(found.request, value))
        return _failing(trials[value]) <= _failing(found)

    taken = lot.taken(kind.value, usual, kind.others(found.answer), fits)
    if taken.missing and usual:
        return found, [part_available(part, "", words_of(usual))]
    return trials.get(taken.value or (), found), []


def words_of(value: Value) -> str:
    """What a part is known by, in words."""
    first, *family = value
    if family:
        return statement("fuse-of-family", family=family_named(family[0]).title, rating_a=first)
    return first if isinstance(first, str) else statement("rating", rating_a=first)


def _cable(answer: WireSizingAnswer) -> Value | None:
    built = answer.at_hand or (answer.awg if answer.rules_ladder == "awg" else answer.metric).chosen
    return (built.size,) if built else None


def _fuse(answer: WireSizingAnswer) -> Value | None:
    device = answer.protection
    return (device.rating_a, device.family) if device.rating_a and device.family else None


def _other_fuses(answer: WireSizingAnswer) -> Iterator[Value]:
    """Those of other families that suit, then larger ones of the same."""
    device = answer.protection
    for option in device.options:
        if option.suitable and option.rating_a:
            yield option.rating_a, option.family
    if device.family:
        sizes = family_named(device.family).sizes_a
        yield from ((size, device.family) for size in sizes if size > (device.rating_a or 0.0))


def _plug(answer: WireSizingAnswer) -> Value | None:
    return next(((c.capacity,) for c in answer.checks if c.code == "connector-current"), None)


def _other_plugs(answer: WireSizingAnswer) -> Iterable[Value]:
    (usual_a,) = _plug(answer) or (0.0,)
    return [(rating_a,) for rating_a in ratings_beside(usual_a)]


def rating_for(current_a: float) -> float:
    """What a rating must be [A], rounding aside."""
    return round(current_a, _RATING_DIGITS)


def ratings_beside(usual_a: float) -> list[float]:
    """Ratings of plugs, branch connectors and disconnects, those above a usual one first [A]."""
    return sorted(_CURRENTS_A, key=lambda one: one < usual_a)


def _gland(answer: WireSizingAnswer) -> Value | None:
    at_hand = ((c.subject,) for c in answer.checks if c.code == "gland-at-hand")
    chosen = ((gland.size,) for gland in (answer.entry.glands if answer.entry else []))
    return next(chain(at_hand, chosen), None)


def _no_others(_answer: WireSizingAnswer) -> Iterable[Value]:
    return ()


def _other_glands(_answer: WireSizingAnswer) -> Iterable[Value]:
    return [(size,) for size in get_args(GlandSize)]


_IN_LINE: dict[WorkPart, _InLine] = {
    "cable": _InLine(("conductor_at_hand",), ("size",), _cable, _no_others),
    "fuse": _InLine(("fuse_rating_a", "fuse_family"), ("rating_a", "family"), _fuse, _other_fuses),
    "plug": _InLine(("connector_rating_a",), ("rating_a",), _plug, _other_plugs),
    "gland": _InLine(("gland_at_hand",), ("gland",), _gland, _other_glands),
}


def _failing(line: Sized) -> set[str]:
    return {check.code for check in line.answer.checks if check.verdict == "fail"}
