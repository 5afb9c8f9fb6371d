"""String fuses of an array, asked of the one function that decides them."""

from sunhitch.types.check import Check
from sunhitch_service.engine.circuit.devices import device_listed
from sunhitch_service.engine.circuit.string_fuse import string_fuse
from sunhitch_service.engine.controller.settings import backfeed_a
from sunhitch_service.engine.rules.strings import (
    StringFuse,
    fuse_rating_check,
    reverse_current_check,
)

from .design import ArrayDesign
from .figures import ArrayFigures, StringFigures
from .margins import severity_of


def string_fuses(design: ArrayDesign, array: ArrayFigures) -> tuple[StringFuse, ...]:
    """What threatens every string of an array, and its fuse.

    Parameters
    ----------
    design : ArrayDesign
        Settled request.
    array : ArrayFigures
        The array.

    Returns
    -------
    tuple of StringFuse
        In the order of the strings.
    """
    return tuple(fuse_of(design, array, string) for string in array.strings)


def fuse_of(design: ArrayDesign, array: ArrayFigures, string: StringFigures) -> StringFuse:
    """What all others on the controller push into a string, or a removable panel, and its fuse."""
    alone = len(array.strings) == 1 and array.removable is None
    return string_fuse(
        string.i_sc_a,
        0.0 if alone else array.whole_i_sc_a - string.i_sc_a,
        string.series_fuse,
        design.rules,
        backfeed_a(array.controller.given, design.request.battery, design.assumptions),
        design.request.connectors.string_fuse_a,
    )


def fuse_checks(design: ArrayDesign, array: ArrayFigures) -> list[Check]:
    """Reverse current against the panels' series fuse, and the fuse where one is fitted.

    Parameters
    ----------
    design : ArrayDesign
        Settled request.
    array : ArrayFigures
        The array.

    Returns
    -------
    list of Check
        On the string that is worst off; empty for a single string that nothing feeds back into.
    """
    # Equal strings are judged once, on the first of them.
    distinct = dict(
        zip(reversed(string_fuses(design, array)), reversed(array.strings), strict=True)
    )
    judged = [
        (reverse_current_check(fuse, design.rules, array.subject(string)), fuse, string)
        for fuse, string in distinct.items()
        if fuse.fed
    ]
    if not judged:
        return []
    worst, fuse, string = max(judged, key=lambda each: severity_of(each[0]))
    if fuse.needed is False:
        return [worst]
    subject, given_a = array.subject(string), fuse.given_a
    listed = [] if given_a is None else [device_listed(given_a, True, None, subject)]
    return [worst, fuse_rating_check(fuse, design.rules, subject), *listed]
