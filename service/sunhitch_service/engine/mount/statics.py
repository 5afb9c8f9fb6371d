"""How a load on a stiff plate, and a push in its plane, share out over its feet.

Loads are resultants about the panel's middle: uplift [N] and its moments about both axes [N·m],
each the sum of force times distance along x and along y.
"""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def plane(points: Floats) -> Floats:
    """Heights of the three rigid motions at points, shape (n, 3): 1, x and y."""
    return np.column_stack([np.ones(len(points)), points])


def in_a_line(points: Floats, tolerance: float = 1e-3) -> bool:
    """Whether points lie on one line within a share of their extent, or are fewer than three.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Coordinates [m].
    tolerance : float
        Smallest ratio of the layout's two extents that counts as an area.
    """
    if len(points) < 3:
        return True
    spread = np.linalg.svd(points - points.mean(axis=0), compute_uv=False)
    return bool(spread[1] <= tolerance * spread[0])


def rigid_shares(points: Floats) -> Floats:
    """Forces on equal springs under a rigid plate, per unit of uplift and of both moments.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Feet from the panel's middle [m], not in a line.

    Returns
    -------
    ndarray, shape (n, 3)
        Columns: force per newton of uplift [1], per newton metre about either axis [1/m]. Feet
        forces and their moments equal the applied ones.
    """
    motions = plane(points)
    shares: Floats = motions @ np.linalg.inv(motions.T @ motions)
    return shares


def push_shares(points: Floats) -> Floats:
    """Sideways forces of feet per unit push through the panel's middle, as in a bolt group.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Feet from the panel's middle [m].

    Returns
    -------
    ndarray, shape (n, 2, 2)
        Force along x and y of each foot per newton of push along x and y.
    """
    centre = points.mean(axis=0)
    arms = points - centre
    polar = float((arms**2).sum())
    turned = np.stack([-arms[:, 1], arms[:, 0]], axis=1)
    torque = np.array([centre[1], -centre[0]])
    shares: Floats = np.eye(2)[None, :, :] / len(points) + (
        turned[:, :, None] * torque[None, None, :] / polar
    )
    return shares
