"""The same panels and light with other wiring or construction, side by side."""

from msgspec.structs import replace

from sunhitch.texts import statement
from sunhitch.types.shade import (
    AlternativeResult,
    ArrayWiring,
    ShadedIvAlternative,
    ShadedIvRequest,
)
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.pv.losses import unshaded_power
from sunhitch_service.engine.pv.network import LitPanel
from sunhitch_service.engine.pv.presets import given_diode, rebuilt
from sunhitch_service.engine.pv.solution import Interconnection, Solution, solve_array
from sunhitch_service.engine.shadow.light import lit_panels

from .report import Reporter, clean, power_point


def solver_wiring(wiring: ArrayWiring) -> Interconnection:
    """Wiring of the contract in the solver's form."""
    blocking = given_diode(wiring.blocking_diode)
    return Interconnection(wiring.strings, blocking, wiring.string_resistance_ohm)


def comparison(
    request: ShadedIvRequest,
    lit: dict[str, LitPanel],
    solution: Solution,
    assumptions: Assumptions,
) -> list[AlternativeResult]:
    """The request and its alternatives, best first.

    Parameters
    ----------
    request : ShadedIvRequest
        With alternatives.
    lit : dict of LitPanel
        The request's own panels.
    solution : Solution
        The request's own array.
    assumptions : Assumptions
        Takes a note of what another construction needed.

    Returns
    -------
    list of AlternativeResult
        Empty when there are no alternatives.
    """
    if not request.compare:
        return []
    results = [_result(statement("as-given"), lit, solution)]
    for other in request.compare:
        panels = _panels(request, other, lit, assumptions)
        wiring = other.wiring or request.wiring
        results.append(_result(other.name, panels, solve_array(panels, solver_wiring(wiring))))
    return sorted(results, key=lambda result: -result.maximum_power_point.power_w)


def _panels(
    request: ShadedIvRequest,
    other: ShadedIvAlternative,
    lit: dict[str, LitPanel],
    assumptions: Assumptions,
) -> dict[str, LitPanel]:
    if other.construction is None:
        return lit
    panels = [
        replace(panel, panel=rebuilt(panel.panel, other.construction)) for panel in request.panels
    ]
    _, own = lit_panels(request, panels, Assumptions())
    if any(isinstance(panel.irradiance_fraction, list) for panel in request.panels):
        assumptions.note(
            "/compare",
            True,
            statement("light-carried-over"),
        )
    return own


def _result(name: str, lit: dict[str, LitPanel], solution: Solution) -> AlternativeResult:
    best = power_point(solution, solution.best)
    return AlternativeResult(
        name=name,
        maximum_power_point=best,
        tracker_power_w=clean(solution.power(solution.tracked)),
        of_unshaded_fraction=clean(best.power_w / unshaded_power(lit.values())),
        hottest_cell_dissipation_w=Reporter(solution).hottest(),
    )
