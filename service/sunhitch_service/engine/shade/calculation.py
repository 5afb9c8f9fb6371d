"""`shaded-iv`: what an array delivers when some of its cells see less light."""

from sunhitch.texts import statement
from sunhitch.types.check import Check
from sunhitch.types.shade import PanelState, ShadedIvAnswer, ShadedIvRequest, TrackerResult
from sunhitch_service.engine.answering import common
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.cautions import cautions
from sunhitch_service.engine.pv.losses import loss_split
from sunhitch_service.engine.pv.network import LitPanel
from sunhitch_service.engine.pv.presets import ResolvedPanel
from sunhitch_service.engine.pv.solution import solve_array
from sunhitch_service.engine.rules.cells import hot_cell
from sunhitch_service.engine.rules.controllers import tracker_loss
from sunhitch_service.engine.shadow.light import lit_panels

from . import rules
from .compare import comparison, solver_wiring
from .report import Reporter, curve, power_point, tracker_result
from .states import state_maxima
from .validate import validate


def shaded_iv(request: ShadedIvRequest) -> ShadedIvAnswer:
    """Solve a partly shaded array down to its cells and diodes.

    Parameters
    ----------
    request : ShadedIvRequest
        Panels, wiring, sun and shade.

    Returns
    -------
    ShadedIvAnswer
        Curve, maxima, states, losses and checks.

    Raises
    ------
    ContradictionError
        If the request contradicts itself or asks for too much work.
    """
    validate(request)
    assumptions = Assumptions()
    resolved, lit = lit_panels(request, request.panels, assumptions)
    if request.sun.cell_temperature_c != 25.0:
        why = statement("diodes-at-25-c")
        assumptions.note("/panels/0/panel/bypass_diode", "25 °C", why)
    solution = solve_array(lit, solver_wiring(request.wiring))
    if not solution.points.certified:
        why = statement("search-at-its-limit")
        assumptions.note("/maximum_power_point/power_w", solution.points.power_bound, why)
    reporter = Reporter(solution)
    with_cells = request.detail == "cells"
    panels = [
        reporter.panel(panel.name, resolved[panel.name], lit[panel.name], with_cells)
        for panel in request.panels
    ]
    tracked = tracker_result(solution)
    checks = _checks(request, resolved, lit, panels, tracked)
    checks += rules.reverse_currents(request, resolved, assumptions)
    return ShadedIvAnswer(
        maximum_power_point=power_point(solution, solution.best),
        local_maxima=[power_point(solution, row) for row in solution.points.maxima],
        open_circuit_voltage_v=solution.points.open_circuit_voltage,
        short_circuit_current_a=solution.points.short_circuit_current,
        curve=curve(solution, None if request.detail == "summary" else request.curve_points),
        tracker=tracked,
        panels=panels,
        loss_split=loss_split(lit, solution, tracked.lost_w),
        comparison=comparison(request, lit, solution, assumptions),
        states=state_maxima(request, resolved, lit, assumptions),
        **common(
            request,
            checks,
            assumptions,
            cautions("lit-panel", "heat-under-panel", "judgement"),
        ),
    )


def _checks(
    request: ShadedIvRequest,
    resolved: dict[str, ResolvedPanel],
    lit: dict[str, LitPanel],
    panels: list[PanelState],
    tracked: TrackerResult,
) -> list[Check]:
    checks: list[Check] = []
    voltages = rules.string_voltages(request, resolved, lit)
    strings = zip(request.wiring.strings, voltages, strict=True)
    string_v = {name: volts for names, volts in strings for name in names}
    for panel, state in zip(request.panels, panels, strict=True):
        own = resolved[panel.name]
        warm = panel.cell_temperature_c
        usual = request.sun.cell_temperature_c if warm is None else warm
        heat = max(state.hottest_cell_dissipation_w, 0.0)
        checks.append(hot_cell(state.name, heat, rules.cell_area_m2(panel, own), usual))
        checks.append(rules.reverse_voltage(panel, own, lit[panel.name], string_v[panel.name]))
    checks.append(tracker_loss(tracked.lost_fraction, tracked.lost_w))
    checks += rules.system_voltages(request, resolved, voltages)
    return checks
