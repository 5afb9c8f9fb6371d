"""Forces of the feet in one load case, every part taken the adverse way.

Nothing adverse ever falls when the air gets faster, so a higher speed never lowers a force.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .cases import CaseLoad, in_panel
from .holds import Layouts
from .setup import Setup
from .sheet import pull

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class FeetForces:
    """Forces by layout and foot.

    Parameters
    ----------
    uplift, shear, pressed : ndarray, shape (m, n)
        Pull away from the roof; force along it, the sheet's own pull included; press onto it [N].
    """

    uplift: Floats
    shear: Floats
    pressed: Floats


def feet_forces(setup: Setup, case: CaseLoad, layouts: Layouts) -> FeetForces:
    """Forces of the feet.

    Parameters
    ----------
    setup : Setup
        Settled request.
    case : CaseLoad
        What acts.
    layouts : Layouts
        Which feet are there.

    Returns
    -------
    FeetForces
        Envelope of the panel as a stiff plate and as a thin elastic one; zero where a foot is
        gone.
    """
    lift = layouts.lift
    pushes = in_panel(setup, case.pushes)
    share = np.maximum(lift[..., 0], 0.0)
    wind = case.q * np.maximum(lift @ case.lifts.T, 0.0).max(axis=(0, 3))
    tilt = setup.height * (np.abs(lift[..., 1:]) @ pushes.T).max(axis=(0, 3))
    inertia = case.up * share.max(axis=0)
    relief = case.relief * share.min(axis=0)
    side = np.linalg.norm(np.abs(layouts.push) @ pushes.T, axis=2).max(axis=2)
    return FeetForces(
        np.maximum(wind + tilt + inertia - relief, 0.0),
        side + _drawn(setup, case, layouts),
        case.down * share.max(axis=0),
    )


def _drawn(setup: Setup, case: CaseLoad, layouts: Layouts) -> Floats:
    """What a sheet that lifts between its feet draws them sideways by [N]."""
    suction = case.q * case.local + case.up / setup.area
    if not setup.sheet.flexible or suction <= 0:
        return np.zeros(layouts.lift.shape[1:3])
    sheet = setup.sheet
    span, pressure, slack = layouts.strips.T * np.array([[1.0], [suction], [sheet.slack]])
    lines = pull(pressure, span, sheet.in_plane, sheet.bending, slack)
    sides = lines[layouts.which]
    drawn: Floats = (np.abs(sides[..., 0] - sides[..., 1]) * layouts.width).max(axis=1)
    return drawn
