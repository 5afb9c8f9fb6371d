"""Smallest size of a ladder, and its neighbours."""

from functools import cache
from typing import Literal

from sunhitch.types.basis import Basis
from sunhitch.types.wiring import Ladder, LadderResult, SizeResult
from sunhitch_service.engine.tables import table

from .ladder_case import LadderCase
from .resistance import Rung
from .size_judgement import first_candidate, judge_size

LARGER_NEIGHBOURS = {"rules": 2, "equivalent": 1}
"""How many sizes above the chosen one are shown."""


def search(on: LadderCase) -> LadderResult:
    """Go up a ladder to the first size that fails no rule, and a little further.

    Parameters
    ----------
    on : LadderCase
        Way and circuit for that ladder.

    Returns
    -------
    LadderResult
        Chosen size, what rules out the next smaller one, and the neighbours.
    """
    rungs = on.installation.rungs
    role: Literal["rules", "equivalent"] = "rules" if on.ladder == on.case.ladder else "equivalent"
    index, chosen, tried = _first_passing(on, rungs)
    below = [tried] if tried else [judge_size(on, rung) for rung in rungs[:index][-1:]]
    beyond = index + 1 + LARGER_NEIGHBOURS[role]
    above = [judge_size(on, rung) for rung in rungs[index + 1 : beyond]]
    failing = [rule.code for each in below for rule in each.rules if rule.verdict == "fail"]
    return LadderResult(
        ladder=on.ladder,
        role=role,
        method=on.installation.method,
        note=_note(on),
        chosen=chosen,
        governing=", ".join(failing),
        neighbours=below + above,
        sources=[*on.installation.sources, _resistance_basis(on.ladder, (chosen or below[0]).size)],
    )


def _first_passing(
    on: LadderCase, rungs: tuple[Rung, ...]
) -> tuple[int, SizeResult | None, SizeResult | None]:
    """Index and figures of the first size that fails no rule, and the figures just below it.

    The ladder's end and no figures if none does; none below where that size failed at a glance.
    """
    below = None
    for index in range(first_candidate(on), len(rungs)):
        judged = judge_size(on, rungs[index])
        if judged.verdict == "pass":
            return index, judged, below
        below = judged
    return len(rungs), None, below


def _note(on: LadderCase) -> str:
    words = "American wire gauge" if on.ladder == "awg" else "square millimetres"
    if on.ladder == on.case.ladder:
        return f"The selected rules are written for {words}; sizes are read on their own tables."
    if on.installation.method == "by-area":
        return (
            "The selected rules have no table in square millimetres: ampacity is read at the next "
            "smaller gauge, and the area is not below that of the gauge chosen."
        )
    own = "IEC tables" if on.ladder == "mm2" else "tables of NFPA 70"
    return (
        f"An equivalent, not a reading of the selected rules: it passes the {own} with their own "
        "currents, and has no less metal than the size that the rules chose."
    )


@cache
def _resistance_basis(ladder: Ladder, label: str) -> Basis:
    """Table of resistances, with the note of the chosen row where it has one."""
    if ladder == "mm2":
        return table("wiring", "iec_60228").basis
    found = table("wiring", "nec_table_8")
    row_note = found.row("awg", label.removesuffix(" AWG"))["row_note"]
    return Basis(
        kind=found.basis.kind,
        reference=found.basis.reference,
        note=f"{label}: {row_note} {found.basis.note}" if row_note else found.basis.note,
    )
