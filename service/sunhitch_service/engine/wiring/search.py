"""Smallest size of a ladder, and its neighbours."""

from collections.abc import Iterable
from itertools import islice
from typing import Literal

from sunhitch.types.basis import Basis
from sunhitch.types.wiring import LadderResult
from sunhitch_service.engine.tables import table

from .bench import Bench
from .judging import Measured, exceeds, hopeless, measure, written
from .ladders import Size, sizes

LARGER_NEIGHBOURS = {"rules": 2, "equivalent": 1}
"""How many sizes above the chosen one are shown."""


def search(on: Bench) -> LadderResult:
    """Go up a ladder to the first size that fails no rule, and a little further.

    Parameters
    ----------
    on : Bench
        Tables and circuit for that ladder.

    Returns
    -------
    LadderResult
        Chosen size, what rules out the next smaller one, and the neighbours.
    """
    ladder = sizes(on.ladder)
    role: Literal["rules", "equivalent"] = "rules" if on.ladder == on.case.ladder else "equivalent"
    index, chosen, tried = _first_passing(on, ladder)
    below = [tried] if tried else _measured(on, reversed(ladder[:index]), 1)
    above = _measured(on, ladder[index + 1 :], LARGER_NEIGHBOURS[role])
    return LadderResult(
        ladder=on.ladder,
        role=role,
        method=on.method,
        note=_note(on),
        chosen=written(on, chosen) if chosen is not None else None,
        governing=_failing(below[0]) if below else "",
        neighbours=[written(on, measured) for measured in below + above],
        sources=_sources(on, chosen or below[0]),
    )


def _first_passing(
    on: Bench, ladder: tuple[Size, ...]
) -> tuple[int, Measured | None, Measured | None]:
    """Index and figures of the first size that fails no rule, and the figures just below it.

    The ladder's end and no figures if none does; none below where that size failed at a glance.
    """
    below = None
    for index, size in enumerate(ladder):
        measured = None if hopeless(on, size) else measure(on, size)
        if measured is not None and measured.passes:
            return index, measured, below
        below = measured
    return len(ladder), None, below


def _measured(on: Bench, ladder: Iterable[Size], count: int) -> list[Measured]:
    """Figures of the first sizes that have a resistance."""
    found = (measured for size in ladder if (measured := measure(on, size)) is not None)
    return list(islice(found, count))


def _failing(measured: Measured) -> str:
    tests = measured.tests
    return ", ".join(code for code, demand, capacity in tests if exceeds(demand, capacity))


def _note(on: Bench) -> str:
    words = "American wire gauge" if on.ladder == "awg" else "square millimetres"
    if on.ladder == on.case.ladder:
        return f"The selected rules are written for {words}; sizes are read on their own tables."
    if on.method == "by-area":
        return (
            "The selected rules have no table in square millimetres: ampacity is read at the next "
            "smaller gauge, and the area is not below that of the gauge chosen."
        )
    own = "IEC tables" if on.ladder == "mm2" else "tables of NFPA 70"
    return (
        f"An equivalent, not a reading of the selected rules: it passes the {own} with their own "
        "currents, and has no less metal than the size that the rules chose."
    )


def _sources(on: Bench, shown: Measured) -> list[Basis]:
    found = on.tables.sources(on.case.runs)
    if any(run.where == "insulated-wall" for run in on.case.runs):
        found.append(table("wiring", "thermal_insulation").basis)
    return [*found, _resistance_basis(on, shown)]


def _resistance_basis(on: Bench, shown: Measured) -> Basis:
    """Table of resistances, with the note of the chosen row where it has one."""
    found = table("wiring", "nec_table_8" if on.ladder == "awg" else "iec_60228")
    if on.ladder == "mm2":
        return found.basis
    row_note = found.row("awg", shown.size.key)["row_note"]
    return Basis(
        kind=found.basis.kind,
        reference=found.basis.reference,
        note=f"{shown.size.label}: {row_note} {found.basis.note}" if row_note else found.basis.note,
    )
