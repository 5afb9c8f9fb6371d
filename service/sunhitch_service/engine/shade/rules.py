"""Checks on a solved array: hot cells, reverse voltage, series fuse, system voltage."""

from typing import cast

from sunhitch.texts import statement
from sunhitch.types.check import Check
from sunhitch.types.shade import ArrayPanel, ShadedIvRequest
from sunhitch.types.system import RuleSet
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.circuit.string_fuse import string_fuse, string_i_sc_a
from sunhitch_service.engine.pv.network import LitPanel
from sunhitch_service.engine.pv.presets import ResolvedPanel
from sunhitch_service.engine.pv.translate import open_circuit
from sunhitch_service.engine.rules import cells
from sunhitch_service.engine.rules.strings import reverse_current_check
from sunhitch_service.engine.rules.voltages import system_voltage_in_light
from sunhitch_service.engine.rules.weakest import weakest_rating

_CELL_CURRENT_A_M2 = 400.0
"""Short-circuit current of a crystalline silicon cell in full sun, per area."""


def cell_area_m2(panel: ArrayPanel, resolved: ResolvedPanel) -> float:
    """Area of one cell [m²]: from the panel's size, else from its short-circuit current."""
    layout, body = resolved.layout, panel.panel.body
    by_current = resolved.electrical.i_sc_a / layout.paths_in_parallel / _CELL_CURRENT_A_M2
    if body is None:
        return by_current
    count = layout.paths_in_parallel * layout.positions_in_series
    return min(by_current, body.length_m * body.width_m / count)


def reverse_voltage(
    panel: ArrayPanel, resolved: ResolvedPanel, lit: LitPanel, string_v: float
) -> Check:
    """Voltage that one dark cell can be driven to, against its breakdown.

    Parameters
    ----------
    panel : ArrayPanel
        The panel.
    resolved : ResolvedPanel
        Its groups.
    lit : LitPanel
        Its cells at their temperature.
    string_v : float
        Open-circuit voltage of its string [V].

    Returns
    -------
    Check
        `review` where a dark cell can break down: a bypass diode leaves it the others of its group,
        without one all others of the string drive it.
    """
    cell_v = open_circuit(lit.full_current, lit.full_sun)
    others_v = max(
        (last - first) * cell_v if guarded else string_v - cell_v
        for first, last, guarded in resolved.groups
    )
    return cells.reverse_voltage(panel.name, others_v, cell_v, -lit.junction.breakdown_voltage)


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
    why = statement("nfpa-counts-most")
    rules = cast("RuleSet", assumptions.choose("/rules", request.rules, "nec-2023", why))
    strings = [[resolved[name].electrical for name in names] for names in wiring.strings]
    currents = [string_i_sc_a(plates, request.sun.irradiance_w_m2) for plates in strings]
    fuses = [weakest_rating(p.max_series_fuse_a for p in plates) for plates in strings]
    return [
        reverse_current_check(
            string_fuse(own, sum(currents) - own, series_fuse, rules),
            rules,
            statement("string-number", number=number),
            blocking_diodes=wiring.blocking_diode is not None,
        )
        for number, (series_fuse, own) in enumerate(zip(fuses, currents, strict=True), 1)
    ]


def string_voltages(
    request: ShadedIvRequest, resolved: dict[str, ResolvedPanel], lit: dict[str, LitPanel]
) -> list[float]:
    """Open-circuit voltage of every string in full light at its cells' temperature [V].

    Parameters
    ----------
    request : ShadedIvRequest
        Strings.
    resolved, lit : dict
        Panels by name.
    """
    return [
        sum(
            open_circuit(lit[n].full_current, lit[n].full_sun)
            * resolved[n].layout.positions_in_series
            for n in names
        )
        for names in request.wiring.strings
    ]


def system_voltages(
    request: ShadedIvRequest, resolved: dict[str, ResolvedPanel], voltages: list[float]
) -> list[Check]:
    """Open-circuit voltage of every string of two or more, against the panels' rating.

    Parameters
    ----------
    request : ShadedIvRequest
        Strings.
    resolved : dict
        Panels by name.
    voltages : list of float
        Of every string [V].

    Returns
    -------
    list of Check
        In full light at the request's temperature; the cold limit is another calculation's.
    """
    found: list[Check] = []
    for number, (names, volts) in enumerate(zip(request.wiring.strings, voltages, strict=True), 1):
        if len(names) < 2:
            continue
        ratings = [resolved[n].electrical.max_system_voltage_v for n in names]
        least = weakest_rating(ratings).against(volts)
        found.append(
            system_voltage_in_light(
                statement("string-number", number=number), volts, least, len(names)
            )
        )
    return found
