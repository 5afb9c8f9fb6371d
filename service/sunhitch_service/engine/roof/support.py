"""Drop places that no fully pushed layout can use.

A panel that has been pushed until it stops touches, towards the side it was pushed to, something
that stops it: a margin, a forbidden rectangle beside it, or another panel that stops there too. A
place at whose side there is nothing of the kind cannot occur, and its absence may leave others
without support.
"""

import numpy as np

from sunhitch_service.engine.arrays import Integers, Mask

_LINE = 1 << 32
"""More than any place along an edge: places at one edge sort before those at the next."""


def stopped(edges: Integers, spans: Integers, places: Integers, across: Integers) -> Mask:
    """Which places touch something that ends where they begin.

    Of the things at one edge, those that begin before a place ends are at least as many as those
    that end before it begins; where they are more, one of them lies beside the place.

    Parameters
    ----------
    edges, spans : ndarray
        Where things end, shape (m,), and what they cover along that edge, shape (m, 2) [ticks].
    places, across : ndarray
        Where places begin, shape (n,), and what they cover across, shape (n, 2) [ticks].

    Returns
    -------
    ndarray
        Shape (n,), bool.
    """
    lines: Integers = np.sort(edges[:, None] * _LINE + spans, axis=0)
    asked: Integers = places[:, None] * _LINE + across
    begun = np.searchsorted(lines[:, 0], asked[:, 1])
    ended = np.searchsorted(lines[:, 1], asked[:, 0], "right")
    return np.asarray(begun > ended, dtype=np.bool_)
