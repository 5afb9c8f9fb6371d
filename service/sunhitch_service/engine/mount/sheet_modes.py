"""Modes of failure of a sheet glued over its area, in one load case."""

import numpy as np

from sunhitch.types.mount import BondedSheet

from .adhesive import bond_strength, peel_strength, surface_fraction
from .cases import PRESSING, CaseLoad
from .figures import figure
from .foot_modes import heat_is_known
from .modes import ModeResult
from .setup import Setup


def whole_panel(
    case: CaseLoad, code: str, demand: float, capacity: float, subject: str
) -> ModeResult:
    """The panel as a whole in one mode."""
    return ModeResult(code, case.name, case.title, subject, demand, capacity, case.depends_on_speed)


def sheet_results(setup: Setup, case: CaseLoad, mounting: BondedSheet) -> list[ModeResult]:
    """Bond and edges; after a gust from ahead also with a strip of the front edge loose."""
    if case.name in PRESSING or not heat_is_known(mounting.adhesive, case):
        return []
    surface = surface_fraction(setup.request.surface, setup.request.spacer)
    strength = bond_strength(mounting.adhesive, case.duration, case.bond_c, surface)
    room = strength * mounting.bonded_fraction
    suction = max(0.0, case.q * case.peak + (case.up - case.relief) / setup.area)
    push = float(np.linalg.norm(case.pushes, axis=1).max()) / setup.area
    peel = peel_strength(mounting.adhesive, case.bond_c, surface)
    found = [
        whole_panel(case, "sheet-bond-tension", suction, room, "whole sheet"),
        whole_panel(case, "sheet-bond-shear", push, room, "whole sheet"),
        whole_panel(case, "sheet-bond-combined", suction + push, room, "whole sheet"),
        whole_panel(case, "edge-peel", suction * mounting.flap_m, peel, "widest flap"),
    ]
    if case.name == "headwind-gust":
        found.append(_debonded(case, mounting, peel))
    return found


def _debonded(case: CaseLoad, mounting: BondedSheet, peel: float) -> ModeResult:
    strip = figure("limit", "debonded_strip_m")
    return ModeResult(
        "edge-peel",
        "foot-lost",
        f"{case.title}, front edge loose",
        "front edge",
        case.q * case.peak * (mounting.flap_m + strip),
        peel * figure("limit", "foot_lost_relief"),
        True,
        f"{strip * 1000:.0f} mm of bond at the front edge",
    )
