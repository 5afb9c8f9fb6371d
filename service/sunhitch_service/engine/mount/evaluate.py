"""Every mode in every load case at one road speed."""

from sunhitch.types.mount import AdhesiveFeet, BondedSheet, FastenedFeet, Rails

from .cases import PRESSING, WITHOUT_SUCTION, CaseLoad, cases
from .feet import FeetStates
from .figures import figure
from .foot_modes import LoadedFeet, fastened_results, glued_results
from .forces import feet_forces
from .modes import ModeResult
from .rail_modes import rail_results
from .setup import Setup
from .sheet import edge_divergence_number, edge_strain, span_divergence_number
from .sheet_modes import sheet_results, whole_panel
from .spans import overhang


def evaluate(setup: Setup, speed: float) -> list[ModeResult]:
    """How far every mode is used up in every load case.

    Parameters
    ----------
    setup : Setup
        Settled request.
    speed : float
        Road speed [m/s].

    Returns
    -------
    list of ModeResult
        The worst part in each mode and case, in the climate that is worse for it.
    """
    worst: dict[str, ModeResult] = {}
    for case in cases(setup, speed):
        for result in case_results(setup, case):
            known = worst.get(result.check_code)
            if known is None or result.utilisation > known.utilisation:
                worst[result.check_code] = result
    return list(worst.values())


def case_results(setup: Setup, case: CaseLoad) -> list[ModeResult]:
    """How far every mode is used up in one load case."""
    mounting = setup.request.mounting
    if isinstance(mounting, BondedSheet):
        return sheet_results(setup, case, mounting) + _edge_results(setup, case, mounting.flap_m)
    if setup.feet is None:
        return []
    whole = LoadedFeet(setup, case, feet_forces(setup, case, setup.feet.whole), lost=False)
    found = _pressure_results(setup, case) + _support_results(whole, mounting)
    if setup.panel.flexible and case.name not in WITHOUT_SUCTION:
        limit = figure("sheet_default", "edge_strain")
        found.append(whole_panel(case, "span-strain", whole.forces.strain, limit, "sheet"))
    if case.name == "headwind-gust":
        found += _edge_results(setup, case, overhang(setup.points, setup.sides))
        found += _lost_results(setup, case, mounting, setup.feet.lost)
    return found


def _support_results(
    at: LoadedFeet, mounting: AdhesiveFeet | FastenedFeet | Rails
) -> list[ModeResult]:
    """Modes of the feet."""
    if isinstance(mounting, Rails):
        return rail_results(at, mounting)
    if at.case.name in PRESSING:
        return []
    if isinstance(mounting, AdhesiveFeet):
        return glued_results(at, mounting)
    return fastened_results(at, mounting, at.setup.request.skin)


def _lost_results(
    setup: Setup,
    case: CaseLoad,
    mounting: AdhesiveFeet | FastenedFeet | Rails,
    states: FeetStates,
) -> list[ModeResult]:
    """The same with each foot in turn lost, and states that cannot balance the panel any more."""
    found: list[ModeResult] = []
    if states.stable.any():
        at = LoadedFeet(setup, case, feet_forces(setup, case, states), lost=True)
        found = _support_results(at, mounting)
    if not states.stable.all():
        name = f"{setup.support} {int(states.stable.argmin()) + 1}"
        found.append(
            ModeResult("foot-balance", "foot-lost", "", "whole panel", 1.0, 0.0, False, name)
        )
    return found


def _pressure_results(setup: Setup, case: CaseLoad) -> list[ModeResult]:
    """The panel itself between its supports."""
    if case.name == "own-weight":
        return []
    pressure = case.q * case.local + (case.up + case.down) / setup.area
    code = "panel-pressure" if setup.panel.rating_given else "panel-pressure-assumed"
    return [whole_panel(case, code, pressure, setup.panel.rating, "panel")]


def _edge_results(setup: Setup, case: CaseLoad, beyond: float) -> list[ModeResult]:
    """Free edges and spans of a flexible sheet in a gust from ahead."""
    sheet = setup.panel
    if case.name != "headwind-gust" or not sheet.flexible:
        return []
    suction, air = case.q * case.peak, (case.density, case.air_speed)
    strain = edge_strain(suction, beyond, sheet.depth, sheet.bending)
    turned = edge_divergence_number(*air, beyond, sheet.bending)
    found = [
        whole_panel(case, "edge-strain", strain, figure("sheet_default", "edge_strain"), "edge"),
        whole_panel(case, "edge-divergence", turned, figure("limit", "divergence_edge"), "edge"),
    ]
    if setup.feet is not None:
        span = float(setup.feet.whole.spans.max())
        bowed = span_divergence_number(*air, span, sheet.bending)
        found.append(whole_panel(case, "span-divergence", bowed, 1.0, "longest span"))
    return found
