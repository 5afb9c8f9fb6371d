"""Modes of failure of a sheet glued over its area, in one load case."""

import numpy as np

from sunhitch.types.mount import BondedSheet

from .adhesive import bond_strength, peel_strength, surface_fraction
from .cases import PRESSING, CaseLoad
from .figures import figure
from .holding import heat_is_known
from .modes import mode
from .setup import Setup
from .use import Use


def whole_use(case: CaseLoad, code: str, demand: float, capacity: float, subject: str) -> Use:
    """The panel as a whole in one mode."""
    return Use(mode(code), case.name, case.title, subject, demand, capacity, case.depends_on_speed)


def bonded_uses(setup: Setup, case: CaseLoad, mounting: BondedSheet) -> list[Use]:
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
        whole_use(case, "sheet-bond-tension", suction, room, "whole sheet"),
        whole_use(case, "sheet-bond-shear", push, room, "whole sheet"),
        whole_use(case, "sheet-bond-combined", suction + push, room, "whole sheet"),
        whole_use(case, "edge-peel", suction * mounting.flap_m, peel, "widest flap"),
    ]
    if case.name == "headwind-gust":
        found.append(_debonded(case, mounting, peel))
    return found


def _debonded(case: CaseLoad, mounting: BondedSheet, peel: float) -> Use:
    strip = figure("limit", "debonded_strip_m")
    return Use(
        mode("edge-peel"),
        "foot-lost",
        f"{case.title}, front edge loose",
        "front edge",
        case.q * case.peak * (mounting.flap_m + strip),
        peel * figure("limit", "foot_lost_relief"),
        True,
        f"{strip * 1000:.0f} mm of bond at the front edge",
    )
