"""All layouts sorted into passing and failing, with the reasons counted."""

from dataclasses import dataclass

from msgspec.structs import replace

from sunhitch.texts import statement
from sunhitch.types.array import Rejection
from sunhitch.types.check import Check

from .describe import name_of
from .design import ArrayDesign
from .figures import Layout, Wired
from .screen import failing, voltages
from .search import (
    MOST_PATTERNS,
    EnumerationPlan,
    allowances,
    layout,
    members_of,
    patterns,
    plan,
    short_layouts,
    unlike,
)

_MOST_FAILING = 300


@dataclass(frozen=True, slots=True)
class ArrangementCandidates:
    """Layouts by outcome of the rules that need no power.

    Parameters
    ----------
    passing : list of Layout
        Without a failing rule.
    failing : list of Layout
        Some that fail, the plainest first.
    examined : int
        Distinct arrangements, those out of the voltage window included.
    leave_out : int
        Panels that may stay unused.
    complete : bool
        Whether all of them were looked at, panel by panel.
    exact : bool
        Whether panels that were exchanged freely see the same light.
    rejected : dict
        How many fail, by code; current rules count within the voltage window.
    """

    passing: list[Layout]
    failing: list[Layout]
    examined: int
    leave_out: int
    complete: bool
    exact: bool
    rejected: dict[str, Rejection]


def candidates(design: ArrayDesign) -> ArrangementCandidates:
    """Enumerate layouts and apply every rule that needs no power.

    Parameters
    ----------
    design : ArrayDesign
        Settled request.

    Returns
    -------
    ArrangementCandidates
        With at least one layout, passing or failing.
    """
    first, *more = allowances(design)
    found = _within(design, plan(design, first))
    if more and not found.passing:
        found = _within(design, plan(design, more[0]))
    if design.request.leave_out_at_most is None:
        design.assumptions.note(
            "/leave_out_at_most",
            found.leave_out,
            statement("equal-strings-of-odd-numbers"),
        )
    return found


def _within(design: ArrayDesign, chosen: EnumerationPlan) -> ArrangementCandidates:
    examined = chosen.count(chosen.out_of(chosen.strings))
    within = chosen.count(chosen.fitting)
    layouts = [layout(chosen.grouping, pattern) for pattern in patterns(chosen)]
    layouts += short_layouts(design, chosen)
    rejected = _out_of_window(design, chosen, examined)
    passing, broken = _screened(design, layouts, rejected)
    # Among so many, none is told beside them.
    regular = unlike(design, chosen, layouts) if len(layouts) < _MOST_FAILING else []
    return ArrangementCandidates(
        passing=passing,
        failing=broken[:_MOST_FAILING] + regular,
        examined=examined,
        leave_out=chosen.leave_out,
        complete=chosen.all_strings and chosen.grouping.exact and within <= MOST_PATTERNS,
        exact=chosen.grouping.exact,
        rejected=rejected,
    )


def _screened(
    design: ArrayDesign, layouts: list[Layout], rejected: dict[str, Rejection]
) -> tuple[list[Layout], list[Layout]]:
    passing: list[Layout] = []
    broken: list[Layout] = []
    for one in layouts:
        failures = failing(design, one)
        (broken if failures else passing).append(one)
        for check in {c.code: c for c in failures}.values():
            known = rejected.get(check.code)
            rejected[check.code] = (
                _rejection(check, 1, name_of(design, one))
                if known is None
                else replace(known, arrangements=known.arrangements + 1)
            )
    return passing, broken


def _out_of_window(
    design: ArrayDesign, chosen: EnumerationPlan, examined: int
) -> dict[str, Rejection]:
    """Arrangements with a string that breaks a voltage rule, by rule."""
    rejected: dict[str, Rejection] = {}
    for code in sorted({code for codes in chosen.broken.values() for code in codes}):
        kept = [s for s in chosen.strings if code not in chosen.broken[s]]
        worst = min(
            (s for s in chosen.strings if code in chosen.broken[s]), key=lambda s: sum(s.counts)
        )
        wired = Wired(worst.controller, (members_of(chosen.grouping, worst.counts),))
        check = next(c for c in voltages(design, wired) if c.code == code)
        count = examined - chosen.count(chosen.out_of(kept))
        rejected[code] = _rejection(check, count, name_of(design, Layout((wired,), ())))
    return rejected


def _rejection(check: Check, count: int, name: str) -> Rejection:
    return Rejection(
        code=check.code, title=check.title, arrangements=count, example=_example(name, check)
    )


def _example(name: str, check: Check) -> str:
    if check.demand is None or check.capacity is None:
        return name
    return statement(
        "example-needed-and-there",
        arrangement=name,
        needed=check.demand,
        there=check.capacity,
        unit=check.unit or "",
    )
