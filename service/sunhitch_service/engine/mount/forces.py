"""Forces of the feet in every load case, each part taken the adverse way.

Nothing adverse ever falls when the air gets faster, so a higher speed never lowers a force.
"""

from dataclasses import dataclass
from functools import reduce

import numpy as np

from sunhitch_service.engine.arrays import Floats

from .between_feet import drawn_and_strain
from .cases import LoadCases, in_panel
from .feet import Feet
from .raised import raised_loads
from .setup import Setup

ROUNDING = 1e-9
"""Share of a load that statics leave where there is none."""


@dataclass(frozen=True, slots=True)
class FeetForces:
    """Forces by speed v, load case c, layout of the feet m and foot n.

    Parameters
    ----------
    uplift, shear : ndarray, shape (v, c, m, n)
        Pull away from the roof; force along it, the sheet's own pull included [N].
    aside : tuple of ndarray, shape (v, c, k, m, n)
        The latter along the panel's length and along its width, in k alternatives [N].
    drawn : ndarray, shape (v, c, m, n) or broadcast against it
        What of the force along the roof is the sheet's own pull or push [N].
    pressed : ndarray, shape (c, m, n)
        Press onto the roof [N].
    strain : ndarray, shape (v, c)
        Largest bending strain of a flexible sheet between its feet, all present.
    """

    uplift: Floats
    shear: Floats
    aside: tuple[Floats, Floats]
    drawn: Floats
    pressed: Floats
    strain: Floats


def feet_forces(setup: Setup, cases: LoadCases, feet: Feet) -> FeetForces:
    """Forces of the feet.

    Parameters
    ----------
    setup : Setup
        Settled request.
    cases : LoadCases
        What acts.
    feet : Feet
        How loads share out, by layout.

    Returns
    -------
    FeetForces
        Envelope of the panel as a stiff plate and as a thin elastic one; zero where a foot is
        gone.
    """
    shape = (*cases.q.shape, *feet.push.shape[:2])
    share = np.maximum(feet.lift[..., 0], 0.0)
    most = [np.maximum(feet.lift @ one.T, 0.0).max(axis=(0, 3)) for one in setup.fields]
    wind = reduce(
        np.maximum, (cases.suction[..., i, None, None] * one for i, one in enumerate(most))
    )
    if setup.request.tilt is not None and cases.where("raised").any():
        up_or_down = feet.lift @ raised_loads(setup, setup.request.tilt).T
        raised = cases.where("raised")
        wind[:, raised] = np.maximum(
            wind[:, raised], cases.q[:, raised, None, None] * up_or_down.max(axis=(0, 3))
        )
    pushes = in_panel(setup, cases.pushes).reshape(-1, 2)
    arms = setup.height * np.abs(feet.lift[..., 1:]).reshape(-1, 2)
    tilt = (pushes @ arms.T).reshape(*shape[:2], -1, *shape[2:]).max(axis=2)
    up, down, relief = (part[:, None, None] for part in (cases.up, cases.down, cases.relief))
    drawn, strain = drawn_and_strain(setup, cases, feet)
    along, across = (
        (pushes @ np.abs(feet.push[..., i, :]).reshape(-1, 2).T).reshape(*shape[:2], -1, *shape[2:])
        + drawn[:, :, None, :, i]
        for i in (0, 1)
    )
    # A panel that overhangs its feet turns about the nearest ones: its weight pulls at the others.
    least = feet.lift[..., 0].min(axis=0)
    levered = np.where(least < -ROUNDING, -least, 0.0)
    weighing = np.maximum(down, setup.weight) * levered - relief * share.min(axis=0)
    return FeetForces(
        np.maximum(wind + tilt + up * share.max(axis=0) + weighing, 0.0),
        np.hypot(along, across).max(axis=2),
        (along, across),
        np.hypot(drawn[..., 0, :], drawn[..., 1, :]),
        down * share.max(axis=0),
        strain,
    )
