"""The hardest pull on a foot, wherever on a roof the panel lies with its sides along the roof's."""

from dataclasses import dataclass

import numpy as np
from msgspec.structs import replace as with_fields

from sunhitch.types.mount import MountCheckRequest, PanelWind
from sunhitch.types.shade import PanelPosition
from sunhitch_service.engine.assumptions import Assumptions

from .cases import LoadCases, load_cases
from .forces import feet_forces
from .places import suction_anywhere
from .setup import Setup, settle
from .wind import DIRECTIONS, Direction, Suction


@dataclass(frozen=True, slots=True)
class HardestPull:
    """Pull on the worst foot [N], its load case by number, and place on the roof of the panel."""

    pull_n: float
    case: int
    cases: LoadCases
    setup: Setup
    place: PanelPosition


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
    sides = request.panel.length_m, request.panel.width_m
    air = request.wind or PanelWind()
    anywhere = [suction_anywhere(request.vehicle, sides, turned, air, side) for side in DIRECTIONS]
    suctions: dict[Direction, Suction] = {found[0].wind_from: found[0] for found in anywhere}
    setup = settle(with_fields(request, position=position), Assumptions(), suctions)
    if setup.feet is None:
        raise ValueError("a bonded sheet has no feet")
    cases = load_cases(setup, np.array([setup.conditions.road_speed]))
    pulls = feet_forces(setup, cases, setup.feet).uplift[0, :, 0]
    case, foot = divmod(int(pulls.argmax()), pulls.shape[1])
    by_place = [
        pressure * (field @ setup.feet.lift[:, 0, foot].T).max(axis=1)
        for pressure, field in zip(cases.suction[0, case], setup.fields, strict=True)
    ]
    places = np.concatenate([*(found[1] for found in anywhere), anywhere[0][1]])
    x, y = places[int(np.concatenate(by_place).argmax())]
    there = with_fields(position, x_m=corner_x_m + float(x), y_m=float(y))
    return HardestPull(float(pulls[case, foot]), case, cases, setup, there)
