"""Light through a tree's crown by its way through the leaves."""

import numpy as np

from sunhitch_service.engine.sky import Array

from .objects import Solid

_AT_DEG = 45.0
"""Height of the sun for which a crown's transmittance is given."""
_THIN, _DENSEST = 1e-3, 1e5


def takes_along(crown: Solid, takes: Array, towards: Array) -> Array:
    """Share of light that a crown takes, mean over its shadow, by direction.

    A beam that crosses s of a crown keeps exp(−k·s); ways through an ellipsoid are the longest one
    times √(1 − r²), r from the shadow's middle to its rim, so that the shadow's mean is
    2·(1 − (1 + a)·exp(−a)) ÷ a², a = k times the longest way.

    Parameters
    ----------
    crown : Solid
        An ellipsoid; of others what they take does not change with direction.
    takes : ndarray, shape (directions,)
        Share that it takes where light comes from 45° high.
    towards : ndarray, shape (directions, 3)
        Unit vectors towards the light.

    Returns
    -------
    ndarray, shape (directions,)
        [1].

    References
    ----------
    M. Monsi, T. Saeki 1953, in Annals of Botany 95 (2005): exponential extinction in foliage;
    J. M. Norman, J. M. Welles, Agronomy Journal 75 (1983): crowns as ellipsoids. From memory.
    """
    if crown.radii is None or not crown.by_path:
        return takes
    axes = np.array([crown.radii[0], crown.radii[0], crown.radii[1]])
    angle = np.radians(_AT_DEG)
    usual = np.linalg.norm(np.array([np.cos(angle), 0.0, np.sin(angle)]) / axes)
    longer = usual / np.linalg.norm(towards / axes, axis=1)
    known, of = np.unique(takes, return_inverse=True)
    depth = np.array([_depth(1.0 - share) for share in known.tolist()])[of]
    return np.where(takes < 1.0, 1.0 - passing(depth * longer), 1.0)


def passing(depth: Array) -> Array:
    """Mean over an ellipse of what passes, by the optical depth of the longest way."""
    a = np.maximum(depth, _THIN)
    return np.where(depth < _THIN, 1.0 - depth / 1.5, 2.0 * (1.0 - (1.0 + a) * np.exp(-a)) / a**2)


def _depth(passes: float) -> float:
    """Optical depth of the longest way at which this share passes."""
    from scipy.optimize import brentq

    least = float(passing(np.array(_DENSEST)))
    if passes >= 1.0 or passes <= least:
        return 0.0 if passes >= 1.0 else _DENSEST
    return float(brentq(lambda a: float(passing(np.array(a))) - passes, 0.0, _DENSEST))
