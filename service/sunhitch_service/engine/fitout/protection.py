"""Fuses and disconnects of the whole build, numbered as on the diagram."""

from collections.abc import Iterable, Iterator

import msgspec

from sunhitch.types.array import Arrangement
from sunhitch.types.fitout import ProtectiveDevice
from sunhitch.types.wiring import Disconnect, FuseOption, Gland
from sunhitch_service.engine.circuit.devices import family_named

from .cables import SizedLine


def devices(arrangement: Arrangement, lines: list[SizedLine]) -> list[ProtectiveDevice]:
    """Every fuse: those of strings in parallel first, then those of cables that carry them all.

    Parameters
    ----------
    arrangement : Arrangement
        How the panels are wired; it has decided on string fuses.
    lines : list of SizedLine
        Sized cables; they decide on everything else.

    Returns
    -------
    list of ProtectiveDevice
        Numbered F1, F2, …
    """
    found = [*_string_fuses(arrangement, lines), *_line_fuses(lines)]
    return [msgspec.structs.replace(fuse, device=f"F{n}") for n, fuse in enumerate(found, start=1)]


def _string_fuses(arrangement: Arrangement, lines: list[SizedLine]) -> Iterator[ProtectiveDevice]:
    for array in arrangement.arrays:
        for number, string in enumerate(array.strings, start=1):
            if string.fuse_a is not None and len(array.strings) > 1:
                own = [
                    line.line
                    for line in lines
                    if line.kind == "pv-string"
                    and (line.controller, line.strings) == (array.controller, (number,))
                ]
                yield ProtectiveDevice(
                    device="",
                    protects=string_name(array.controller, number),
                    also_protects=own,
                    of_string=True,
                    rating_a=string.fuse_a,
                    family=family_named("pv-cylindrical").title,
                    minimum_voltage_v=string.cold_voc_v or 0.0,
                    minimum_interrupting_a=string.reverse_current_a,
                    place="in its positive lead, where the strings join",
                    pieces=1,
                )


def string_name(controller: str, number: int) -> str:
    """How schedules call a string."""
    return f"string {number} of {controller}"


def _line_fuses(lines: list[SizedLine]) -> Iterator[ProtectiveDevice]:
    for line in lines:
        device = line.answer.protection
        if line.kind != "pv-string" and device.needed:
            alone = line.kind == "pv-output" and len(line.strings) == 1
            yield ProtectiveDevice(
                device="",
                protects=line.line,
                also_protects=[string_name(line.controller, 1)] if alone else [],
                of_string=False,
                rating_a=device.rating_a or 0.0,
                family=_title(device.options, device.family),
                minimum_voltage_v=device.needed_voltage_v,
                minimum_interrupting_a=device.needed_interrupting_a,
                place=device.place,
                pieces=1,
            )


def _title(options: list[FuseOption], family: str | None) -> str:
    return next((option.title for option in options if option.family == family), "none fits")


def disconnects(lines: list[SizedLine]) -> list[Disconnect]:
    """Means to switch off, each once; the higher rating where several lines ask for the same."""
    found: dict[tuple[str, str], Disconnect] = {}
    for line in lines:
        for each in line.answer.disconnects:
            key = (each.name, line.controller)
            known = found.get(key)
            fuse_a = line.answer.protection.rating_a or 0.0
            if line.kind == "controller-to-battery" and each.minimum_current_a < fuse_a:
                # It must carry whatever its fuse lets pass.
                each = msgspec.structs.replace(each, minimum_current_a=fuse_a)  # noqa: PLW2901
            if known is None or each.minimum_current_a > known.minimum_current_a:
                found[key] = each
    return list(found.values())


def glands(lines: Iterable[SizedLine]) -> list[Gland]:
    """Glands of every cable entry."""
    return [
        gland
        for line in lines
        if line.answer.entry is not None
        for gland in line.answer.entry.glands
    ]
