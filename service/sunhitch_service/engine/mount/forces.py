"""Forces of the feet in one load case, every part taken the adverse way.

Nothing adverse ever falls when the air gets faster, so a higher speed never lowers a force.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .cases import CaseLoad, in_panel
from .give import sideways_give
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


def strips(
    setup: Setup, case: CaseLoad, layouts: Layouts
) -> tuple[Floats, Floats, Floats, float, Floats]:
    """Pressure, span, in-plane and bending stiffness and slack of every strip of a sheet.

    In the order that `sheet.sag` and `sheet.pull` take them.
    """
    suction = case.q * case.local + case.up / setup.area
    span, pressure, slack = layouts.strips.T * np.array([[1.0], [suction], [setup.sheet.slack]])
    return pressure, span, _in_plane(setup, case, layouts), setup.sheet.bending, slack


def _drawn(setup: Setup, case: CaseLoad, layouts: Layouts) -> Floats:
    """What a sheet that lifts between its feet draws them sideways by [N]."""
    quiet = case.q * case.local + case.up <= 0
    if not setup.sheet.flexible or quiet or not layouts.stable.any():
        return np.zeros(layouts.lift.shape[1:3])
    lines = pull(*strips(setup, case, layouts))
    sides = lines[layouts.which]
    drawn: Floats = (np.abs(sides[..., 0] - sides[..., 1]) * layouts.width).max(axis=1)
    return drawn


def _in_plane(setup: Setup, case: CaseLoad, layouts: Layouts) -> Floats:
    """Stiffness of each strip along its plane with the give of the feet at its ends [N/m].

    Sheet and end feet act one after the other; the feet's give is spread over the spans between
    them like the play of their studs. The narrowest strip that a foot holds counts for all.
    """
    span, _, share = layouts.strips.T
    width = float(layouts.width[layouts.width > 0.0].min())
    give = 2.0 * width * sideways_give(setup, case.duration, case.bond_c)
    per_length = np.divide(share, span, out=np.zeros_like(span), where=span > 0.0)
    stiffness: Floats = 1.0 / (1.0 / setup.sheet.in_plane + give * per_length)
    return stiffness
