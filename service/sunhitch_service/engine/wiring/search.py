"""Smallest size of a ladder, and its neighbours."""

from sunhitch.types.basis import Basis
from sunhitch.types.wiring import LadderResult
from sunhitch_service.engine.tables import table

from .bench import Bench
from .judging import Measured, exceeds, measure, written
from .ladders import sizes

LARGER_NEIGHBOURS = 2


def search(on: Bench) -> LadderResult:
    """Go up a ladder to the first size that fails no rule, and two further.

    Parameters
    ----------
    on : Bench
        Tables and circuit for that ladder.

    Returns
    -------
    LadderResult
        Chosen size, what rules out the next smaller one, and the neighbours.
    """
    below: Measured | None = None
    chosen: Measured | None = None
    above: list[Measured] = []
    for size in sizes(on.ladder):
        measured = measure(on, size)
        if measured is None:
            continue
        if chosen is not None:
            above.append(measured)
        elif measured.passes:
            chosen = measured
        else:
            below = measured
        if len(above) == LARGER_NEIGHBOURS:
            break
    beside = ([below] if below is not None else []) + above
    return LadderResult(
        ladder=on.ladder,
        role="rules" if on.ladder == on.case.ladder else "equivalent",
        method=on.method,
        note=_note(on),
        chosen=written(on, chosen) if chosen is not None else None,
        governing=_failing(below) if below is not None else "",
        neighbours=[written(on, measured) for measured in beside],
        sources=_sources(on, chosen or below),
    )


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


def _sources(on: Bench, shown: Measured | None) -> list[Basis]:
    found = on.tables.sources(on.case.runs)
    if any(run.where == "insulated-wall" for run in on.case.runs):
        found.append(table("wiring", "thermal_insulation").basis)
    return [*found, _resistance_basis(on, shown)]


def _resistance_basis(on: Bench, shown: Measured | None) -> Basis:
    """Table of resistances, with the note of the chosen row where it has one."""
    found = table("wiring", "nec_table_8" if on.ladder == "awg" else "iec_60228")
    if on.ladder == "mm2" or shown is None:
        return found.basis
    row_note = found.row("awg", shown.size.key)["row_note"]
    return Basis(
        kind=found.basis.kind,
        reference=found.basis.reference,
        note=f"{shown.size.label}: {row_note} {found.basis.note}" if row_note else found.basis.note,
    )
