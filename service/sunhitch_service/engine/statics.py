"""A stiff body on springs: feet below a panel, wheels below a vehicle."""

import numpy as np

from .arrays import Floats, Mask


def in_a_line(points: Floats, tolerance: float = 1e-3) -> Mask:
    """Whether points lie on one line within a share of their extent, or are fewer than three.

    Parameters
    ----------
    points : ndarray, shape (…, n, 2)
        Coordinates [m].
    tolerance : float
        Smallest ratio of the layout's two extents that counts as an area.

    Returns
    -------
    ndarray of bool, shape (…)
        One for each layout.
    """
    if points.shape[-2] < 3:
        return np.ones(points.shape[:-2], dtype=bool)
    spread = np.linalg.svd(points - points.mean(axis=-2, keepdims=True), compute_uv=False)
    return spread[..., 1] <= tolerance * spread[..., 0]


def rigid_motions(points: Floats) -> Floats:
    """Heights of the three rigid motions at points, shape (…, n, 3): 1, x and y."""
    return np.concatenate([np.ones((*points.shape[:-1], 1)), points], axis=-1)


def stiff_shares(points: Floats, stiffness: Floats) -> Floats:
    """Forces on springs under a stiff body, per unit of a load across it and of both its moments.

    Parameters
    ----------
    points : ndarray, shape (…, n, 2)
        Supports from the point about which moments are taken [m], not in a line.
    stiffness : ndarray, shape (…, n)
        Of each support, relative to the others.

    Returns
    -------
    ndarray, shape (…, n, 3)
        Columns: force per unit of load [1], per unit of its sums of force times distance along x
        and along y [1/m]. Forces and their moments equal the applied ones.
    """
    motions = rigid_motions(points)
    weighed = stiffness[..., None] * motions
    return weighed @ np.linalg.inv(np.swapaxes(motions, -1, -2) @ weighed)
