"""Fuses and disconnects of the whole build, numbered as on the diagram."""

from collections.abc import Iterable

from sunhitch.types.array import Arrangement
from sunhitch.types.fitout import ProtectiveDevice
from sunhitch.types.wiring import Disconnect, FuseOption, Gland

from .cables import SizedLine


def devices(arrangement: Arrangement, lines: list[SizedLine]) -> list[ProtectiveDevice]:
    """Every fuse: string fuses first, then what each cable needs.

    Parameters
    ----------
    arrangement : Arrangement
        How the panels are wired; it decides on string fuses.
    lines : list of SizedLine
        Sized cables; they decide on everything else.

    Returns
    -------
    list of ProtectiveDevice
        Numbered F1, F2, …
    """
    found = _string_fuses(arrangement, lines) + _line_fuses(lines)
    return [
        ProtectiveDevice(
            device=f"F{n}",
            protects=protects,
            rating_a=rating,
            family=family,
            minimum_voltage_v=volts,
            minimum_interrupting_a=breaking,
            place=place,
            pieces=1,
        )
        for n, (protects, rating, family, volts, breaking, place) in enumerate(found, start=1)
    ]


_Fuse = tuple[str, float, str, float, float, str]


def _string_fuses(arrangement: Arrangement, lines: list[SizedLine]) -> list[_Fuse]:
    cold = {
        tuple(s.panels): s.cold_voc_v or 0.0 for array in arrangement.arrays for s in array.strings
    }
    fuse = {
        tuple(s.panels): (s.fuse_a, s.reverse_current_a)
        for array in arrangement.arrays
        for s in array.strings
    }
    found: list[_Fuse] = []
    for line in lines:
        rating, reverse = fuse.get(line.panels, (None, 0.0))
        if line.kind == "pv-string" and rating is not None:
            place = f"in the positive lead of {line.start}, before the branch connector"
            found.append(
                (line.line, rating, "PV cylindrical (gPV)", cold[line.panels], reverse, place)
            )
    return found


def _line_fuses(lines: list[SizedLine]) -> list[_Fuse]:
    found: list[_Fuse] = []
    for line in lines:
        device = line.answer.protection
        if line.kind == "pv-string" or not device.needed:
            continue
        found.append(
            (
                line.line,
                device.rating_a or 0.0,
                _title(device.options, device.family),
                device.needed_voltage_v,
                device.needed_interrupting_a,
                device.place,
            )
        )
    return found


def _title(options: list[FuseOption], family: str | None) -> str:
    return next((option.title for option in options if option.family == family), "none fits")


def disconnects(lines: list[SizedLine]) -> list[Disconnect]:
    """Means to switch off, each once; the higher rating where several lines ask for the same."""
    found: dict[tuple[str, str], Disconnect] = {}
    for line in lines:
        for each in line.answer.disconnects:
            key = (each.name, line.controller)
            known = found.get(key)
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
