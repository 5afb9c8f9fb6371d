"""What rails themselves add to the load of their supports: their inertia and the wind on them."""

import numpy as np

from sunhitch.types.mount import Rails
from sunhitch_service.engine.arrays import Floats

from .cases import LoadCases, in_panel
from .figures import figure
from .setup import Setup
from .wind import turn


def own_pushes(setup: Setup, cases: LoadCases, mounting: Rails) -> tuple[Floats, Floats]:
    """Push of each rail itself along and across it, in the alternatives, shape (v, c, k, r) [N].

    Its drag is that of a bar broadside to the wind, as far as it lies across it.
    """
    options = cases.pushes.shape[2]
    drag = np.array([term.drag_area[:options] for term in cases.terms])
    inertia = np.array([term.push[:options] for term in cases.terms])
    wind = cases.pushes - inertia
    pressure = np.divide(wind, drag, out=np.zeros_like(wind), where=drag > 0.0)
    axis = 0 if mounting.run == "along-length" else 1
    facing = np.abs(turn(setup.request.position)[:, 1 - axis])
    lengths = [rail.end_m - rail.start_m for rail in mounting.rails]
    sides = np.array(lengths) * mounting.section.height_m * figure("wind_default", "edge_drag")
    each = pressure[..., None, :] * facing * sides[:, None]
    each = each + (inertia * _mass_share(setup, mounting))[..., None, :]
    pushes = in_panel(setup, each)
    return pushes[..., axis], pushes[..., 1 - axis]


def own_lift(setup: Setup, cases: LoadCases, mounting: Rails) -> Floats:
    """Lift of each rail itself by inertia upwards, shape (c,) [N]."""
    lift: Floats = cases.up * _mass_share(setup, mounting)
    return lift


def _mass_share(setup: Setup, mounting: Rails) -> float:
    """Mass of one rail beside the panel's [1]."""
    return mounting.rails_mass_kg / len(mounting.rails) / setup.mass
