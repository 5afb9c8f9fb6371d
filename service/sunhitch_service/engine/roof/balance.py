"""Where the panels' weight goes."""

from collections.abc import Sequence

import numpy as np

from sunhitch.types.roof import Support, SupportLoad
from sunhitch_service.engine.arrays import Floats


def support_shares(
    mass_kg: float, centre: tuple[float, float], supports: Sequence[tuple[float, float]]
) -> Floats:
    """Share a load among supports of a rigid body, all equally stiff.

    Forces and moments balance; with more than three supports the shares vary evenly over the
    plane, as springs of one stiffness under a rigid floor do.

    Parameters
    ----------
    mass_kg : float
        Load [kg].
    centre : tuple of float
        Where it acts [m].
    supports : sequence of tuple
        Where it is carried [m]; at least three that are not in one line.

    Returns
    -------
    ndarray
        Shape (supports,) [kg]; negative where the load relieves a support.

    Raises
    ------
    ValueError
        If the supports lie in one line.
    """
    arms = _arms(supports)
    if np.linalg.matrix_rank(arms) < 3:
        raise ValueError("the supports lie in one line")
    load = mass_kg * np.array([1.0, *centre])
    return np.asarray(arms.T @ np.linalg.solve(arms @ arms.T, load), dtype=np.float64)


def support_loads(
    mass_kg: float, centre: tuple[float, float], supports: Sequence[Support]
) -> list[SupportLoad]:
    """The same told of each support by its name; nothing where there are none."""
    if not supports:
        return []
    shares = support_shares(mass_kg, centre, [(one.x_m, one.y_m) for one in supports])
    return [
        SupportLoad(name=support.name, mass_kg=float(share))
        for support, share in zip(supports, shares, strict=True)
    ]


def carried(supports: Sequence[tuple[float, float]]) -> bool:
    """Whether supports can balance a load anywhere."""
    return len(supports) >= 3 and int(np.linalg.matrix_rank(_arms(supports))) == 3


def _arms(supports: Sequence[tuple[float, float]]) -> Floats:
    points = np.array(supports, dtype=np.float64).reshape(-1, 2)
    return np.stack([np.ones(len(points)), points[:, 0], points[:, 1]])
