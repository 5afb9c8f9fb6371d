"""Every mode in every load case at one road speed."""

import numpy as np

from sunhitch.types.mount import AdhesiveFeet, BondedSheet, FastenedFeet, Rails

from .bonded import bonded_uses, whole_use
from .cases import PRESSING, WITHOUT_SUCTION, CaseLoad, cases
from .figures import figure
from .forces import feet_forces, strips
from .holding import Situation, fastened_uses, glued_uses
from .holds import Layouts
from .modes import mode
from .railed import railed_uses
from .setup import Setup
from .sheet import edge_divergence_number, edge_strain, sag, span_divergence_number, span_strain
from .spans import overhang
from .use import Use


def evaluate(setup: Setup, speed: float) -> list[Use]:
    """How far every mode is used up in every load case.

    Parameters
    ----------
    setup : Setup
        Settled request.
    speed : float
        Road speed [m/s].

    Returns
    -------
    list of Use
        The worst part in each mode and case, in the climate that is worse for it.
    """
    worst: dict[str, Use] = {}
    for case in cases(setup, speed):
        for use in case_uses(setup, case):
            known = worst.get(use.code)
            if known is None or use.utilisation > known.utilisation:
                worst[use.code] = use
    return list(worst.values())


def case_uses(setup: Setup, case: CaseLoad) -> list[Use]:
    """How far every mode is used up in one load case."""
    mounting = setup.request.mounting
    if isinstance(mounting, BondedSheet):
        return bonded_uses(setup, case, mounting) + _edge_uses(setup, case, mounting.flap_m)
    if setup.holds is None:
        return []
    found = _pressure_uses(setup, case) + _span_uses(setup, case, setup.holds.whole)
    found += _held_uses(setup, case, mounting, lost=False)
    if case.name == "headwind-gust":
        found += _edge_uses(setup, case, overhang(setup.points, setup.sides))
        found += _held_uses(setup, case, mounting, lost=True)
        found += _balance_uses(setup, setup.holds.lost)
    return found


def _held_uses(
    setup: Setup, case: CaseLoad, mounting: AdhesiveFeet | FastenedFeet | Rails, lost: bool
) -> list[Use]:
    """Modes of the feet, all of them present or each in turn lost."""
    if setup.holds is None:
        return []
    layouts = setup.holds.lost if lost else setup.holds.whole
    if not layouts.stable.any():
        return []
    at = Situation(setup, case, feet_forces(setup, case, layouts), lost)
    if isinstance(mounting, Rails):
        return railed_uses(at, mounting)
    if case.name in PRESSING:
        return []
    if isinstance(mounting, AdhesiveFeet):
        return glued_uses(at, mounting)
    return fastened_uses(at, mounting, setup.request.skin)


def _balance_uses(setup: Setup, lost: Layouts) -> list[Use]:
    """Layouts that cannot balance the panel any more once one foot is gone."""
    unstable = np.flatnonzero(~lost.stable)
    if len(unstable) == 0:
        return []
    name = f"{setup.word} {unstable[0] + 1}"
    return [Use(mode("foot-balance"), "foot-lost", "", "whole panel", 1.0, 0.0, False, name)]


def _pressure_uses(setup: Setup, case: CaseLoad) -> list[Use]:
    """The panel itself between its holds."""
    if case.name == "own-weight":
        return []
    pressure = case.q * case.local + (case.up + case.down) / setup.area
    code = "panel-pressure" if setup.sheet.rating_given else "panel-pressure-assumed"
    return [whole_use(case, code, pressure, setup.sheet.rating, "panel")]


def _span_uses(setup: Setup, case: CaseLoad, layouts: Layouts) -> list[Use]:
    """Bending of a flexible sheet between its feet."""
    if not setup.sheet.flexible or case.name in WITHOUT_SUCTION:
        return []
    given = strips(setup, case, layouts)
    strain = float(span_strain(sag(*given), given[1], setup.sheet.depth).max())
    limit = figure("sheet_default", "edge_strain")
    return [whole_use(case, "span-strain", strain, limit, "sheet")]


def _edge_uses(setup: Setup, case: CaseLoad, beyond: float) -> list[Use]:
    """Free edges and spans of a flexible sheet in a gust from ahead."""
    sheet = setup.sheet
    if case.name != "headwind-gust" or not sheet.flexible:
        return []
    suction, air = case.q * case.peak, (case.density, case.air_speed)
    strain = edge_strain(suction, beyond, sheet.depth, sheet.bending)
    turned = edge_divergence_number(*air, beyond, sheet.bending)
    found = [
        whole_use(case, "edge-strain", strain, figure("sheet_default", "edge_strain"), "edge"),
        whole_use(case, "edge-divergence", turned, figure("limit", "divergence_edge"), "edge"),
    ]
    if setup.holds is not None:
        span = float(setup.holds.whole.spans.max())
        bowed = span_divergence_number(*air, span, sheet.bending)
        found.append(whole_use(case, "span-divergence", bowed, 1.0, "longest span"))
    return found
