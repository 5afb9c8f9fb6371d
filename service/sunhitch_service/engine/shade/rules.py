"""Checks on a solved array: hot cells, reverse voltage, tracker, series fuse, system voltage."""

from typing import cast

from sunhitch.types.check import Check, Verdict
from sunhitch.types.shade import ArrayPanel, PanelState, ShadedIvRequest, TrackerResult
from sunhitch.types.system import RuleSet
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.checks import Rule, at_most, check
from sunhitch_service.engine.circuit.string_fuse import (
    reverse_current_check,
    string_fuse,
    string_i_sc_a,
    string_series_fuse_a,
)
from sunhitch_service.engine.pv.network import LitPanel
from sunhitch_service.engine.pv.presets import ResolvedPanel
from sunhitch_service.engine.pv.translate import open_circuit
from sunhitch_service.engine.sources import basis

_HEAT_LOSS_W_M2_K = 25.0
"""Constant heat-loss coefficient of a module in still air, both faces."""
_SOLDER_SOFTENS_C = 180.0
"""Just below the melting point of tin-lead solder, 183 °C: joints of the cell let go."""
_WARM_CELL_C = 85.0
"""At which modules of IEC 61215 are held for weeks."""
_CELL_CURRENT_A_M2 = 400.0
"""Short-circuit current of a crystalline silicon cell in full sun, per area."""
_TRACKER_REVIEW_FRACTION = 0.02


def hot_cell(
    state: PanelState, panel: ArrayPanel, resolved: ResolvedPanel, cell_temperature: float
) -> Check:
    """Hottest cell of a panel against what its surface can shed.

    Parameters
    ----------
    state : PanelState
        At the array's maximum.
    panel : ArrayPanel
        With its body, if known.
    resolved : ResolvedPanel
        Its cells.
    cell_temperature : float
        Of the other cells [°C].

    Returns
    -------
    Check
        Watts dissipated against watts that melt its solder (`fail`); `review` above 85 °C.
    """
    area = _cell_area(panel, resolved)
    shed = _HEAT_LOSS_W_M2_K * area
    allowed = max(shed * (_SOLDER_SOFTENS_C - cell_temperature), 0.0)
    careful = max(shed * (_WARM_CELL_C - cell_temperature), 0.0)
    heat = max(state.hottest_cell_dissipation_w, 0.0)
    reached = cell_temperature + heat / shed
    rule = Rule(
        code="hot-cell",
        title="Heat in the most reverse-biased cell at the array's maximum",
        unit="W",
        subject=state.name,
        basis=basis(
            "faiman-2008",
            "constant heat loss 25 W/(m²·K)",
            f"Cell of {area * 1e4:.0f} cm² with the heat spread evenly: about {reached:.0f} °C "
            f"with the others at {cell_temperature:.0f} °C; a spot within it gets hotter. Two "
            f"limits, from memory: {careful:.1f} W keep it below 85 °C, at which IEC 61215 has "
            "modules held for weeks (above: review, usual for panels of two or three diodes under "
            f"a hard shadow); {allowed:.1f} W below 180 °C, where tin-lead solder is about to "
            "melt (above: fail).",
        ),
        remedy=(
            "Keep hard shadows from lying on it for hours, or choose panels with more bypass "
            f"diodes: the cell reaches about {reached:.0f} °C, {heat:.1f} W; at most "
            f"{careful:.1f} W keep it below 85 °C."
        ),
    )
    return at_most(rule, heat, allowed, careful / allowed if allowed > 0.0 else 0.0)


def _cell_area(panel: ArrayPanel, resolved: ResolvedPanel) -> float:
    """Area of one cell [m²]: from the panel's size, else from its short-circuit current."""
    layout, body = resolved.layout, panel.panel.body
    by_current = resolved.electrical.i_sc_a / layout.paths_in_parallel / _CELL_CURRENT_A_M2
    if body is None:
        return by_current
    cells = layout.paths_in_parallel * layout.positions_in_series
    return min(by_current, body.length_m * body.width_m / cells)


def reverse_voltage(panel: ArrayPanel, resolved: ResolvedPanel, lit: LitPanel) -> Check:
    """Voltage that one dark cell can be driven to, against its breakdown.

    Parameters
    ----------
    panel : ArrayPanel
        The panel.
    resolved : ResolvedPanel
        Its groups.
    lit : LitPanel
        Its cells at their temperature.

    Returns
    -------
    Check
        `review` where a bypass group is so long that a dark cell can break down.
    """
    cell_v = open_circuit(lit.full_current, lit.junction)
    longest = max(
        last - first + 1 if guarded else resolved.layout.positions_in_series
        for first, last, guarded in resolved.groups
    )
    demand, capacity = (longest - 1) * cell_v, -lit.junction.breakdown_voltage
    most = max(1, int(capacity / cell_v))
    rule = Rule(
        code="reverse-voltage",
        title="Reverse voltage on a dark cell before its bypass diode conducts",
        unit="V",
        subject=panel.name,
        basis=basis(
            "bishop-1988",
            "",
            "All other cells of the group at open circuit against the breakdown voltage, which "
            "scatters widely between cells.",
        ),
        remedy=(
            f"Groups of at most {most} positions per diode would stay below breakdown; without "
            "them keep hard shadows off single cells."
        ),
    )
    used = demand / capacity
    return check(rule, "review" if used > 1.0 else "pass", demand, capacity, used)


def tracker(found: TrackerResult) -> Check:
    """Loss of a tracker that stops at the first maximum, against 2 % of the power."""
    rule = Rule(
        code="tracker-loss",
        title="Power lost by a tracker that stops at the first maximum below open circuit",
        unit="1",
        basis=basis("practice", "", "Up to 2 % is taken as harmless."),
        remedy=(
            f"Use a controller that scans the whole curve in shade, or wire so that one maximum "
            f"is left: {found.lost_w:.1f} W are at stake."
        ),
    )
    used = found.lost_fraction / _TRACKER_REVIEW_FRACTION
    verdict: Verdict = "review" if used > 1.0 else "pass"
    return check(rule, verdict, found.lost_fraction, _TRACKER_REVIEW_FRACTION, used)


def reverse_currents(
    request: ShadedIvRequest, resolved: dict[str, ResolvedPanel], assumptions: Assumptions
) -> list[Check]:
    """Current that the other strings can drive backwards through each of several.

    Parameters
    ----------
    request : ShadedIvRequest
        Strings and rule set.
    resolved : dict of ResolvedPanel
        Panels by name.
    assumptions : Assumptions
        Takes the rule set where none is given.

    Returns
    -------
    list of Check
        One for every string; none for a string alone. Blocking diodes change nothing.
    """
    wiring = request.wiring
    if len(wiring.strings) < 2:
        return []
    why = "NFPA 70 counts the most: 1.25 × the short-circuit current of the other strings."
    rules = cast("RuleSet", assumptions.choose("/rules", request.rules, "nec-2023", why))
    strings = [[resolved[name].electrical for name in names] for names in wiring.strings]
    currents = [string_i_sc_a(plates) for plates in strings]
    return [
        reverse_current_check(
            string_fuse(own, sum(currents) - own, string_series_fuse_a(plates), rules),
            rules,
            f"string {number}",
            blocking_diodes=wiring.blocking_diode is not None,
        )
        for number, (plates, own) in enumerate(zip(strings, currents, strict=True), 1)
    ]


def system_voltages(
    request: ShadedIvRequest, resolved: dict[str, ResolvedPanel], lit: dict[str, LitPanel]
) -> list[Check]:
    """Open-circuit voltage of every string of two or more, against the panels' rating.

    Parameters
    ----------
    request : ShadedIvRequest
        Strings.
    resolved, lit : dict
        Panels by name.

    Returns
    -------
    list of Check
        In full light at the request's temperature; the cold limit is another calculation's.
    """
    return [
        _system_voltage(f"string {index + 1}", names, resolved, lit)
        for index, names in enumerate(request.wiring.strings)
        if len(names) > 1
    ]


def _system_voltage(
    subject: str,
    names: list[str],
    resolved: dict[str, ResolvedPanel],
    lit: dict[str, LitPanel],
) -> Check:
    demand = sum(
        open_circuit(lit[n].full_current, lit[n].junction) * resolved[n].layout.positions_in_series
        for n in names
    )
    known = [
        rating
        for rating in (resolved[n].electrical.max_system_voltage_v for n in names)
        if rating is not None
    ]
    rule = Rule(
        code="system-voltage",
        title="Open-circuit voltage of the string in full light at this temperature",
        unit="V",
        subject=subject,
        basis=basis("given", "", "The panels' own rating; on a cold morning Voc is higher still."),
        remedy=(
            f"Wire at most {max(1, int(len(names) * min(known) / demand))} such panels in series."
            if known
            else "State the panels' max_system_voltage_v."
        ),
    )
    if not known:
        return check(rule, "not-assessed", demand)
    return at_most(rule, demand, min(known))
