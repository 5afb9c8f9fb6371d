"""Cables and fuses of a line that are fixed, owned or cannot be had."""

from collections.abc import Iterable, Iterator, Sequence
from itertools import product
from typing import TypeVar

from msgspec.structs import replace

from sunhitch.types.fitout import CableInWork, FitOutRequest, FuseInWork, InWork, LineKind
from sunhitch.types.wiring import WireSizingAnswer, WireSizingRequest
from sunhitch_service.engine.circuit.devices import family_named
from sunhitch_service.engine.errors import Faults
from sunhitch_service.engine.wiring.calculation import wire_sizing
from sunhitch_service.engine.wiring.ladders import size_of

from .bank import AskedLine
from .pointers import Translate, faults_of, moved

T = TypeVar("T", bound=InWork)
_At = tuple[str, T]


def fixed_m(request: FitOutRequest, kind: LineKind, names: Sequence[str]) -> float | None:
    """Length of a line that lies already [m]; None where none does or nobody measured it."""
    lying = (one for _, one in _of(request.cables.in_work, kind, names) if one.state == "fixed")
    return next((one.length_m for one in lying), None)


def names_of(line: AskedLine) -> list[str]:
    """By which a line is told from others of its kind."""
    return [line.behind.equipment, *line.behind.panels, line.start, line.end]


def _of(entries: Sequence[T], kind: LineKind, names: Sequence[str]) -> Iterator[_At[T]]:
    for index, one in enumerate(entries):
        if one.kind in (None, kind) and (one.device is None or one.device in names):
            yield f"{index}", one


def takes_fuse(line: AskedLine) -> bool:
    """Whether its fuse is its own, and not that of a string."""
    of_string = line.kind in ("pv-string", "removable-panel")
    return not of_string and line.request.fuse_needed is None


def refuse_lines(request: FitOutRequest, lines: Sequence[AskedLine]) -> None:
    """Refuse what is said of no line of the build, and what contradicts itself on one.

    Raises
    ------
    ContradictionError
        With the lines that there are.
    """
    faults = Faults()
    fused = [line for line in lines if takes_fuse(line)]
    _refuse("/cables/in_work", request.cables.in_work, lines, faults)
    _refuse("/fuses_in_work", request.fuses_in_work, fused, faults)
    faults.raise_any()


def _refuse(at: str, entries: Sequence[InWork], lines: Sequence[AskedLine], faults: Faults) -> None:
    used: set[str] = set()
    for line in lines:
        own = list(_of(entries, line.kind, names_of(line)))
        used |= {index for index, _ in own}
        fixed = [index for index, one in own if one.state == "fixed"]
        for index in fixed[1:]:
            faults.add(f"{at}/{index}", "line-fixed-twice", line=_told(line))
    known = ", ".join(map(_told, lines))
    unknown = [index for index in map(str, range(len(entries))) if index not in used]
    for index in unknown:
        faults.add(f"{at}/{index}", "no-such-line", lines=known)


def _told(line: AskedLine) -> str:
    return f"{line.kind} {device_of(line.kind, line.behind.equipment, line.behind.panels)}"


def device_of(kind: LineKind, equipment: str, panels: Sequence[str]) -> str:
    """What tells a line from others of its kind."""
    return panels[0] if kind == "pv-string" else equipment


def sized(
    request: FitOutRequest, line: AskedLine, pointers: Translate
) -> tuple[WireSizingRequest, WireSizingAnswer, list[InWork]]:
    """A line as it lies, else of what is owned where that fails nothing more, else by the rules.

    Parameters
    ----------
    request : FitOutRequest
        With what is fixed, owned and unavailable.
    line : AskedLine
        The line, by the rules alone.
    pointers : callable
        From the wire sizing's pointers to the fit-out's.

    Returns
    -------
    tuple of WireSizingRequest, WireSizingAnswer and list of InWork
        As asked and answered, and what of it is there already.
    """
    names = names_of(line)
    cables = list(_of(request.cables.in_work, line.kind, names))
    fuses = list(_of(request.fuses_in_work, line.kind, names)) if takes_fuse(line) else []
    gone = [one.size for _, one in cables if one.state == "unavailable"]
    blown = [one for _, one in fuses if one.state == "unavailable"]
    asked = replace(line.request, unavailable=gone)
    hand, sizes = request.cables.conductor_at_hand, [*map(size_of, gone)]
    if hand is not None and size_of(hand) not in sizes:
        asked = replace(asked, conductor_at_hand=hand)
    asked = _without_fuses(asked, blown)
    cables = [one for one in cables if size_of(one[1].size) not in sizes]
    fuses = [one for one in fuses if not _is_gone(one[1].family, one[1].rating_a, blown)]
    options = product(_ways(cables), _ways(fuses))
    *owned, last = [_built(asked, cable, fuse, pointers) for cable, fuse in options]
    bare = _failing(last[1])
    return next((one for one in owned if _failing(one[1]) <= bare), last)


def _ways(entries: Iterable[_At[T]]) -> list[_At[T] | None]:
    """What a line may be built of, the first that does: what is fixed alone, else all."""
    known = list(entries)
    fixed: list[_At[T] | None] = [one for one in known if one[1].state == "fixed"]
    return fixed[:1] or [*(one for one in known if one[1].state == "owned"), None]


def _built(
    asked: WireSizingRequest,
    cable: _At[CableInWork] | None,
    fuse: _At[FuseInWork] | None,
    pointers: Translate,
) -> tuple[WireSizingRequest, WireSizingAnswer, list[InWork]]:
    own: dict[str, str] = {}
    if cable is not None:
        asked = replace(asked, conductor_at_hand=cable[1].size)
        own["/conductor_at_hand"] = f"/cables/in_work/{cable[0]}/size"
    if fuse is not None:
        asked = replace(asked, fuse_rating_a=fuse[1].rating_a, fuse_family=fuse[1].family)
    translate = moved(own)
    with faults_of(lambda pointer: pointers(translate(pointer))):
        answer = wire_sizing(asked)
    return asked, answer, [one[1] for one in (cable, fuse) if one is not None]


def _without_fuses(asked: WireSizingRequest, gone: Sequence[FuseInWork]) -> WireSizingRequest:
    """With a fuse that can be had in place of one that cannot; as it is where none fits."""
    if not gone:
        return asked
    named = asked.fuse_rating_a
    if named is not None and any(one.rating_a == named for one in gone):
        asked = replace(asked, fuse_rating_a=None, fuse_family=None)
    chosen = wire_sizing(asked).protection
    if not _is_gone(chosen.family, chosen.rating_a, gone):
        return asked
    for option in chosen.options:
        if option.suitable and not _is_gone(option.family, option.rating_a, gone):
            return replace(asked, fuse_family=option.family)
    larger = family_named(chosen.family).sizes_a if chosen.family else ()
    for rating_a in larger:
        if rating_a > (chosen.rating_a or 0.0) and not _is_gone(chosen.family, rating_a, gone):
            return replace(asked, fuse_family=chosen.family, fuse_rating_a=rating_a)
    return asked


def _is_gone(family: str | None, rating_a: float | None, gone: Sequence[FuseInWork]) -> bool:
    return any(one.rating_a == rating_a and one.family in (None, family) for one in gone)


def _failing(answer: WireSizingAnswer) -> set[str]:
    return {check.code for check in answer.checks if check.verdict == "fail"}
