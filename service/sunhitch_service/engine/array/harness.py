"""Parts between the panels and the entry: branch connectors, string fuses, extensions."""

import math

from sunhitch.texts import statement
from sunhitch.types.array import HarnessItem, HarnessKind, HarnessPolarity
from sunhitch.types.parts import millimetres, part_key, rated
from sunhitch_service.engine.rules.controllers import maximum_current_a
from sunhitch_service.engine.rules.strings import StringFuse

from .design import ArrayDesign
from .figures import ArrayFigures, StringFigures
from .routes import HarnessRoof, Stretch, stretches

_LEAD_STEP_M = 0.1
"""Leads with plugs are listed in steps of so much. Common practice, no source."""

_POLES: tuple[HarnessPolarity, HarnessPolarity] = ("positive", "negative")


def harness(
    design: ArrayDesign,
    roof: HarnessRoof | None,
    array: ArrayFigures,
    fuses: tuple[StringFuse, ...],
) -> list[HarnessItem]:
    """Every part of one controller's array up to the entry.

    Parameters
    ----------
    design : ArrayDesign
        Settled request.
    roof : HarnessRoof or None
        Where the panels are, if that is known.
    array : ArrayFigures
        The array.
    fuses : tuple of StringFuse
        Of every string.

    Returns
    -------
    list of HarnessItem
        Fuses, branch connectors and extensions, in the order of the current.
    """
    return [*_fuses(array, fuses), *_branches(design, array), *_extensions(roof, array)]


def _item(  # noqa: PLR0913
    array: ArrayFigures,
    kind: HarnessKind,
    polarity: HarnessPolarity,
    strings: list[StringFigures],
    where: str,
    *,
    pieces: int = 1,
    joins: int = 0,
    rating_a: float | None = None,
    length_m: float | None = None,
) -> HarnessItem:
    current_a = maximum_current_a(sum(s.i_sc_a for s in strings))
    amps = current_a if rating_a is None else rating_a
    # The fuse of a string alone sits in the cable to the controller, with its holder.
    in_cable = kind == "string-fuse" and len(array.strings) == 1
    return HarnessItem(
        kind=kind,
        pieces=pieces,
        polarity=polarity,
        joins=joins,
        rating_a=rating_a,
        current_a=current_a,
        length_m=length_m,
        controller=array.controller.given.name,
        part_key="" if in_cable else _key(kind, polarity, joins, amps, length_m),
        strings=[s.number for s in strings],
        where=where,
    )


def _key(
    kind: HarnessKind, polarity: HarnessPolarity, joins: int, amps: float, length_m: float | None
) -> str:
    """Key of the part; none for what is cut from the cable of the wire schedule."""
    rating = rated(amps, "a")
    match kind:
        case "branch-connector":
            return part_key(kind, f"{joins}-to-1", polarity, rating)
        case "string-fuse":
            return part_key("string-fuse-holder", rating)
        case "extension":
            if polarity != "between-panels":
                return ""
            length = "" if length_m is None else millimetres(length_m)
            return part_key("extension-lead", length, rating)


def _fuses(array: ArrayFigures, fuses: tuple[StringFuse, ...]) -> list[HarnessItem]:
    return [
        _item(
            array,
            "string-fuse",
            "positive",
            [string],
            statement("before-joined", string=string.number),
            rating_a=fuse.rating_a,
        )
        for string, fuse in zip(array.strings, fuses, strict=True)
        if fuse.rating_a is not None
    ]


def _branches(design: ArrayDesign, array: ArrayFigures) -> list[HarnessItem]:
    """One piece for all, or Y pieces one after another: n − 1 per polarity."""
    strings = list(array.strings)
    if len(strings) < 2:
        return []
    if design.request.connectors.joining == "n-to-one":
        return [_branch(design, array, pole, strings, len(strings)) for pole in _POLES]
    return [
        _branch(design, array, pole, strings[:joined], 2)
        for joined in range(2, len(strings) + 1)
        for pole in _POLES
    ]


def _branch(
    design: ArrayDesign,
    array: ArrayFigures,
    pole: HarnessPolarity,
    strings: list[StringFigures],
    joins: int,
) -> HarnessItem:
    last = strings[-1].number
    others = statement("string-number" if last == 2 else "strings-to", number=last - 1)
    where = (
        statement("joins-strings", strings=last, pole=pole)
        if joins == len(strings) > 2
        else statement("joins-string", string=last, others=others, pole=pole)
    )
    return _item(
        array, "branch-connector", pole, strings, where, joins=joins, rating_a=design.branch_a
    )


def _extensions(roof: HarnessRoof | None, array: ArrayFigures) -> list[HarnessItem]:
    """With places, each stretch that the panels' own leads do not reach; else the way in only."""
    if roof is None:
        where = statement("connector-to-entry" if len(array.strings) > 1 else "string-to-entry")
        return [_item(array, "extension", "both", list(array.strings), where, pieces=2)]
    return [_stretch(array, part) for part in stretches(roof, array)]


def _stretch(array: ArrayFigures, part: Stretch) -> HarnessItem:
    strings = [array.strings[number - 1] for number in part.strings]
    length_m = part.length_m
    if part.polarity == "between-panels":
        length_m = math.ceil(length_m / _LEAD_STEP_M - 1e-9) * _LEAD_STEP_M
    return _item(array, "extension", part.polarity, strings, part.where, length_m=length_m)
