"""Disconnects and glands of the whole build, each once."""

from collections.abc import Iterable

import msgspec

from sunhitch.types.wiring import Disconnect, Gland

from .cables import SizedLine


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
