"""What can overload each conductor and what opens, one row for each of its ends."""

from collections.abc import Iterable
from itertools import groupby
from typing import NamedTuple

from sunhitch.types.fitout import CurrentPath

from .amounts import figure

HEAD = ("Wire", "Enters from", "Fault to", "Lasting current of each source", "Safe by")
EXPLAINED = (
    "Proven: no source can overload it. Stub: short enough before its fuse. Open: nothing "
    "protects it. Returns and the bond stand with the fault that pushes most through them. "
    "With the battery off its currents fall away and the others stay."
)

_SAFE = {"protected": "protected by", "open": "OPEN"}


class ConductorRow(NamedTuple):
    """A conductor's end, in words."""

    conductor: str
    enters_from: str
    fault_to: str
    currents: str
    safe_by: str


def conductor_rows(paths: Iterable[CurrentPath]) -> list[ConductorRow]:
    """Sources that enter a conductor at one end in one kind of fault, together.

    Parameters
    ----------
    paths : iterable of CurrentPath
        As an answer lists them.
    """
    rows: list[ConductorRow] = []
    for (conductor, end, fault_to, state), group in groupby(
        paths, lambda one: (one.conductor, one.enters_from, one.fault_to, one.state)
    ):
        same = list(group)
        devices = dict.fromkeys(name for path in same for name in path.devices)
        opens = f" {', '.join(devices)}" if devices else ""
        safe_by = f"{_SAFE.get(state, state)}{opens}"
        currents = "; ".join(map(_told, same))
        rows.append(ConductorRow(conductor, end, fault_to, currents, safe_by))
    return rows


def _told(path: CurrentPath) -> str:
    lasting, fault = figure(path.lasting_current_a), figure(path.fault_current_a)
    held = f" of {fault} A" if fault != lasting else ""
    return f"{path.source} {lasting} A{held}"
