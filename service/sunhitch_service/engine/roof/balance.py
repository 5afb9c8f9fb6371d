"""Where the panels' weight goes."""

from collections.abc import Sequence

import numpy as np

from sunhitch.types.roof import Support, SupportLoad
from sunhitch_service.engine.statics import stiff_shares


def support_loads(
    mass_kg: float, centre: tuple[float, float], supports: Sequence[Support]
) -> list[SupportLoad]:
    """Share a load among the supports of a rigid body, all equally stiff.

    Parameters
    ----------
    mass_kg : float
        Load [kg].
    centre : tuple of float
        Where it acts [m].
    supports : sequence of Support
        What carries it: none, or at least three that are not in one line.

    Returns
    -------
    list of SupportLoad
        Of each, by its name; negative where the load relieves it.
    """
    if not supports:
        return []
    arms = np.array([[one.x_m - centre[0], one.y_m - centre[1]] for one in supports])
    shares = mass_kg * stiff_shares(arms, np.ones(len(supports)))[:, 0]
    return [
        SupportLoad(name=support.name, mass_kg=float(share))
        for support, share in zip(supports, shares, strict=True)
    ]
