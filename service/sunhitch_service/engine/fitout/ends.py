"""Ends of cables in terminals, and bonds to the chassis, for the parts list."""

from collections.abc import Iterator

from sunhitch.texts import statement
from sunhitch.types.fitout import PV_LINES
from sunhitch.types.mount import Rails
from sunhitch.types.parts import Part, part_key, worded

from .build import Build
from .cables import SizedLine
from .part_lines import part_line

_LEAST_FRAME_BOND_MM2 = 5.0
"""10 AWG or 6 mm². Common practice, no source."""


def lugs(build: Build) -> Iterator[Part]:
    """Lugs or ferrules of every cable.

    A conductor has two ends, on a roof one and a plug. A fuse in a line adds two, and so does each
    pole of a switch. Lines that lie have theirs.

    Parameters
    ----------
    build : Build
        The checked build.
    """
    for line in (line for line in build.lines if line.kind != "pv-string"):
        fuses = sum(fuse.protects == line.line and not fuse.of_string for fuse in build.fuses)
        poles = build.switches.poles_in(line.line)
        if line.kind == "removable-panel":
            poles += line.conductors  # Those of the switch of its socket.
        plugs = line.conductors if line.kind in PV_LINES else 0
        ends = 2 * (line.conductors + fuses + poles) - plugs
        size = line.size.size
        yield part_line(
            part_key("crimp-lug", worded(size)),
            statement("crimp-lug", size=size),
            ends,
            [line.line],
            at_hand=float(ends if line.lies else 0),
            size=size,
            area_mm2=line.size.area_mm2,
        )


def bonds(build: Build) -> Iterator[Part]:
    """Conductors to the chassis: of the battery's minus, and of every metal frame and rail.

    Parameters
    ----------
    build : Build
        The checked build.
    """
    bond = build.bond.size
    yield part_line(
        part_key("bonding-conductor", worded(bond.size)),
        statement("bonding-conductor"),
        1,
        [statement("battery-minus-to-chassis")],
        size=bond.size,
        area_mm2=bond.area_mm2,
        colour="green-yellow",
    )
    strongest = max(
        (line for line in build.lines if line.kind in PV_LINES),
        key=lambda line: line.size.area_mm2,
    )
    size, area_mm2 = _frame_bond(strongest)
    for panel in build.job.placed:
        pieces = _metal_parts(build, panel)
        fixed = build.job.states.state("panel", panel) == "fixed"
        if pieces:
            yield part_line(
                part_key("bonding-conductor", worded(size), "frame"),
                statement("frame-bonding-conductor"),
                pieces,
                [panel],
                at_hand=float(pieces if fixed else 0),
                size=size,
                area_mm2=area_mm2,
                colour="green-yellow",
            )


def _metal_parts(build: Build, panel: str) -> int:
    """Frame and rails of a panel."""
    mounting = build.job.type_of(panel).mounting
    rails = len(mounting.rails) if isinstance(mounting, Rails) else 0
    return rails + (build.job.body_of(panel).construction == "framed")


def _frame_bond(line: SizedLine) -> tuple[str, float]:
    """A conductor as large as that of a line, or the least in the ladder of the rules."""
    if line.size.area_mm2 >= _LEAST_FRAME_BOND_MM2:
        return line.size.size, line.size.area_mm2
    return ("10 AWG", 5.261) if line.own_ladder.ladder == "awg" else ("6 mm²", 6.0)
