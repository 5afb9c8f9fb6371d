"""`wire-sizing`: the smallest conductor that satisfies every rule, and what protects it."""

import math
from functools import cache, lru_cache
from typing import cast

from sunhitch.texts import Text, statement
from sunhitch.types.basis import Caution
from sunhitch.types.check import Check
from sunhitch.types.wiring import (
    Circuit,
    Disconnect,
    EntryAnswer,
    Ladder,
    LadderResult,
    NoteTopic,
    RuleOutcome,
    SizeResult,
    WireSizingAnswer,
    WireSizingRequest,
    WiringNote,
    WiringRules,
)
from sunhitch_service.engine.answering import common
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.cautions import cautions
from sunhitch_service.engine.rules.connectors import connector_conductor, connector_current
from sunhitch_service.engine.rules.families import Group, admits, family_of
from sunhitch_service.engine.rules.rule import MOST_TIMES, Rule, rule
from sunhitch_service.engine.rules.table import entries
from sunhitch_service.engine.sources import keys_of
from sunhitch_service.engine.tables import table

from .case import Case, resolve
from .citation import cited, group_of
from .device import Device, device_checks, disconnects, find_device, protection_of
from .entry import cable_entry, entry_checks, with_diameters
from .ladders import size_of
from .remedies import clips, remedy
from .search import judge_size, ladder_case, search


def wire_sizing(request: WireSizingRequest) -> WireSizingAnswer:
    """Size the conductor of one circuit in both ladders, with its protection and entry.

    Parameters
    ----------
    request : WireSizingRequest
        Circuit, current, way, conductor and rules.

    Returns
    -------
    WireSizingAnswer
        A size that fails no rule in each ladder, or the largest with what it fails.

    Raises
    ------
    ContradictionError
        If the request contradicts itself.
    """
    assumptions = Assumptions()
    case = resolve(request, assumptions)
    device = find_device(case)
    own = search(ladder_case(case, device, case.ladder, None))
    other = search(ladder_case(case, device, "awg" if case.ladder == "mm2" else "mm2", own))
    ladders: dict[Ladder, LadderResult] = {own.ladder: own, other.ladder: other}
    at_hand = _at_hand(case, device, own)
    entry, entry_checks = _entry(case, own, assumptions)
    checks = [
        *(_conductor_check(case, own.shown, outcome) for outcome in own.shown.rules),
        *_common_checks(case, own),
        *device_checks(case, device),
        *_at_hand_checks(at_hand, ladders),
        *entry_checks,
    ]
    protection = protection_of(case, device, own.shown)
    switches, found = _switches(case, device), _notes(request.circuit, request.rules)
    noted = [note for above_v, note in found if case.highest_v > above_v]
    noted += clips(case, device, own)
    entries = [entry] if entry else []
    own_keys = keys_of([protection], protection.options, switches, noted, entries)
    return WireSizingAnswer(
        **common(
            request,
            checks,
            assumptions,
            list(_cautions(case.group, bool(request.entry and request.entry.on_roof))),
            [*own_keys, *(key for ladder in ladders.values() for key in ladder.sources)],
        ),
        currents=case.currents,
        rules_ladder=case.ladder,
        awg=ladders["awg"],
        metric=ladders["mm2"],
        governing=own.governing,
        at_hand=at_hand,
        protection=protection,
        disconnects=switches,
        notes=noted,
        entry=entry,
    )


def _at_hand(case: Case, device: Device, own: LadderResult) -> SizeResult | None:
    given = case.request.conductor_at_hand
    if given is None:
        return None
    size = size_of(given)
    if size is None:
        return None
    on = ladder_case(case, device, size.ladder, None if size.ladder == case.ladder else own)
    table_ohm = dict(on.installation.rungs).get(size)
    return None if table_ohm is None else judge_size(on, size, table_ohm)


def _conductor_check(case: Case, size: SizeResult, outcome: RuleOutcome) -> Check:
    rules, group = case.request.rules, case.group
    told = _passing_rule(outcome.code, size.size, rules, group)
    if outcome.verdict == "fail":
        names, figures = remedy(case, outcome, size)
        told = rule(
            outcome.code, size.size, rules=rules, group=group, basis="", remedy=names, **figures
        )
    used = outcome.demand / outcome.capacity if outcome.capacity > 0.0 else math.inf
    shown = used if 0.0 <= used <= MOST_TIMES else None
    # The verdict is the size's own: judged anew it could differ by rounding.
    return told.check(outcome.verdict, outcome.demand, outcome.capacity, shown)


@lru_cache(maxsize=1024)
def _passing_rule(code: str, size: str, rules: WiringRules, group: Group) -> Rule:
    """A rule whose remedy nobody will read: most are, each applied to a size of a ladder."""
    return rule(code, size, rules=rules, group=group)


def _common_checks(case: Case, own: LadderResult) -> list[Check]:
    found: list[Check] = []
    if case.request.conductor.material == "aluminium":
        told = rule("conductor-material", rules=case.request.rules, group=case.group)
        found.append(told.check("review"))
    if case.connector_a is not None:
        given, panels = case.request.connector_rating_a is not None, case.request.panels_behind
        joined = case.request.circuit == "pv-output" and (
            panels is not None and panels.strings_in_parallel > 1
        )
        most_a = case.currents.maximum_a
        found.append(connector_current("", most_a, case.connector_a, given=given, joined=joined))
    if case.connector_mm2 is not None and (size := own.chosen) is not None:
        sleeves = case.request.connector_largest_mm2 is not None
        found.append(
            connector_conductor(size.size, size.area_mm2, case.connector_mm2, given=sleeves)
        )
    return found


def _at_hand_checks(at_hand: SizeResult | None, ladders: dict[Ladder, LadderResult]) -> list[Check]:
    if at_hand is None:
        return []
    best = ladders[at_hand.ladder].chosen
    failed: list[str] = [
        Text(entries()[one.code].title, one.code, {}, "check")
        for one in at_hand.rules
        if one.verdict == "fail"
    ]
    better = best.size if best else statement("another-way")
    name = at_hand.size
    told = rule("conductor-at-hand", name, size=name, failed=failed, better=better)
    return [told.check(at_hand.verdict, best.area_mm2 if best else None, at_hand.area_mm2)]


def _entry(
    case: Case, own: LadderResult, assumptions: Assumptions
) -> tuple[EntryAnswer | None, list[Check]]:
    """Cable entry with its check; none without a request."""
    asked = case.request.entry
    if asked is None:
        return None, []
    asked = with_diameters(asked, own.chosen.size if own.chosen else "", case.group, assumptions)
    if not asked.cable_diameters_mm:
        return None, [rule("cable-entry", remedy="unknown").check("not-assessed")]
    entry = cable_entry(asked)
    return entry, entry_checks(asked, entry)


def _switches(case: Case, device: Device) -> list[Disconnect]:
    """Means to switch off; strings in parallel have theirs in the common line."""
    panels, rules = case.request.panels_behind, case.request.rules
    if case.request.circuit == "pv-string" and panels and panels.strings_in_parallel > 1:
        return []
    return disconnects(case.group, rules, device.need.minimum_a, case.highest_v)


@cache
def _notes(circuit: Circuit, rules: WiringRules) -> list[tuple[float, WiringNote]]:
    """Notes of a circuit with the voltage above which each is told [V]."""
    words = (group_of(circuit), circuit)
    return [
        (
            float(row["above_v"]),
            WiringNote(
                code=row["code"],
                parameters={},
                topic=cast("NoteTopic", row["topic"]),
                text=row["text"],
                basis=cited(row, rules).key,
            ),
        )
        for row in table("wiring", "notes").rows
        if admits(row["rules"], family_of(rules))
        and any(admits(row["circuits"], word) for word in words)
    ]


@cache
def _cautions(group: Group, through_roof: bool) -> tuple[Caution, ...]:
    first = "lit-panel" if group == "pv" else "battery-energy"
    roof = ["roof-leak", "roof-work"] if through_roof else []
    return tuple(cautions(first, "wire-fire", "dc-arc", "connection-order", *roof, "judgement"))
