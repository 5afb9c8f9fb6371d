"""Drop places that no fully pushed layout can use.

A panel that has been pushed until it stops touches, towards the side it was pushed to, something
that stops it: a margin, a forbidden rectangle beside it, or another panel that stops there too. A
place at whose side there is nothing of the kind cannot occur, and its absence may leave others
without support.
"""

import numpy as np

from .geometry import Floats, Mask
from .orientations import TICK_M, Ticks


def stopped_by_things(
    corners: Ticks, forbidden: Floats, limit: tuple[int, int], axis: int, towards_low: bool
) -> Mask:
    """Which places touch a margin or a forbidden rectangle on one side.

    Parameters
    ----------
    corners : ndarray
        Shape (n, 2), places of one oriented type [ticks].
    forbidden : ndarray
        Open rectangles of forbidden corners, shape (m, 4) [m].
    limit : tuple of int
        First and last place along the axis [ticks].
    axis : int
        0 for x, 1 for y.
    towards_low : bool
        Whether places were pushed to lower positions.

    Returns
    -------
    ndarray
        Shape (n,), bool.
    """
    here, across = corners[:, axis], corners[:, 1 - axis] * TICK_M
    if towards_low:
        edge = np.ceil(forbidden[:, axis + 2] / TICK_M - 1e-3).astype(np.int64)
    else:
        edge = np.floor(forbidden[:, axis] / TICK_M + 1e-3).astype(np.int64)
    found = here == (limit[0] if towards_low else limit[1])
    for at, low, high in zip(edge, forbidden[:, 1 - axis], forbidden[:, 3 - axis], strict=True):
        found |= (here == at) & (across > low - TICK_M) & (across < high + TICK_M)
    return np.asarray(found, dtype=np.bool_)


def stopped_by_panels(corners: Ticks, ends: Ticks, alive: Mask, axis: int) -> tuple[Mask, Mask]:
    """Which places touch another living place's panel on the low side, and on the high side.

    Parameters
    ----------
    corners, ends : ndarray
        Shape (n, 2), places and where their panels and gaps end [ticks].
    alive : ndarray
        Shape (n,), bool.
    axis : int
        0 for x, 1 for y.

    Returns
    -------
    tuple of ndarray
        Two masks of shape (n,).
    """
    low, high = (np.zeros(len(corners), dtype=np.bool_) for _ in range(2))
    across = corners[:, 1 - axis], ends[:, 1 - axis]
    starting = _by_value(corners[:, axis], alive)
    ending = _by_value(ends[:, axis], alive)
    for at in starting.keys() & ending.keys():
        before, after = ending[at], starting[at]
        touch = (across[0][before][:, None] < across[1][after][None]) & (
            across[0][after][None] < across[1][before][:, None]
        )
        low[after] = touch.any(axis=0)
        high[before] = touch.any(axis=1)
    return low, high


def _by_value(values: Ticks, alive: Mask) -> dict[int, Ticks]:
    living = np.flatnonzero(alive)
    if not len(living):
        return {}
    order = living[np.argsort(values[living], kind="stable")]
    keys, starts = np.unique(values[order], return_index=True)
    return dict(zip(keys.tolist(), np.split(order, starts[1:]), strict=True))
