"""The hardest pull on a foot, wherever on a roof the panel lies with its sides along the roof's."""

from dataclasses import dataclass, replace

import numpy as np
from msgspec.structs import replace as with_fields

from sunhitch.types.mount import MountCheckRequest
from sunhitch.types.shade import PanelPosition
from sunhitch_service.engine.assumptions import Assumptions

from .cases import CaseLoad, cases
from .forces import feet_forces
from .places import suction_anywhere
from .setup import Setup, settle
from .wind import DIRECTIONS


@dataclass(frozen=True, slots=True)
class HardestPull:
    """Pull on the worst foot [N], the load case and the place on the roof that cause it."""

    pull_n: float
    case: CaseLoad
    setup: Setup


def hardest_pull(request: MountCheckRequest) -> HardestPull:
    """The hardest pull on any foot in any load case and place, lengthways or across.

    Parameters
    ----------
    request : MountCheckRequest
        Free of contradictions, a panel on feet that fits on the roof; its position is not read.
    """
    panel, vehicle = request.panel, request.vehicle
    roof = vehicle.roof_length_m, vehicle.roof_width_m
    found: list[HardestPull] = []
    for turned in (False, True):
        sides = (panel.width_m, panel.length_m) if turned else (panel.length_m, panel.width_m)
        if sides[0] <= roof[0] and sides[1] <= roof[1]:
            found.append(_hardest(request, turned, sides[0] if turned else 0.0))
    return max(found, key=lambda one: one.pull_n)


def _hardest(request: MountCheckRequest, turned: bool, corner_x_m: float) -> HardestPull:
    """The same with the panel lengthways or turned, then with its first corner `corner_x_m` on."""
    position = PanelPosition(x_m=corner_x_m, y_m=0.0, rotation_deg=90.0 if turned else 0.0)
    setup = settle(with_fields(request, position=position), Assumptions())
    anywhere = {
        side: suction_anywhere(request.vehicle, setup.sides, turned, setup.air, side)
        for side in DIRECTIONS
    }
    setup = replace(setup, suctions={side: found[0] for side, found in anywhere.items()})
    if setup.feet is None:
        raise ValueError("a bonded sheet has no feet")
    states = setup.feet.whole
    pulls = [
        (float(feet_forces(setup, case, states).uplift.max()), case)
        for case in cases(setup, setup.conditions.road_speed)
    ]
    pull, case = max(pulls, key=lambda one: one[0])
    foot = int(feet_forces(setup, case, states).uplift[0].argmax())
    by_place = (case.lifts @ states.lift[:, 0, foot].T).max(axis=1)
    places = [anywhere[side][1] for side in case.directions] or [np.zeros((1, 2))]
    x, y = np.concatenate(places)[int(by_place.argmax())]
    there = with_fields(position, x_m=corner_x_m + float(x), y_m=float(y))
    return HardestPull(pull, case, settle(with_fields(request, position=there), Assumptions()))
