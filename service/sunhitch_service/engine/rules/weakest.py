"""The weakest of several ratings, some of them perhaps unknown: one rule for every limit."""

from collections.abc import Iterable

import msgspec


class WeakestRating(msgspec.Struct, frozen=True, gc=False):
    """The weakest known rating of what shares a demand.

    Parameters
    ----------
    known : float or None
        Smallest rating that is known; None where none is.
    complete : bool
        Whether every rating is known.
    """

    known: float | None
    complete: bool

    def against(self, demand: float) -> float | None:
        """Rating that decides: a known one that the demand exceeds, else the smallest of all.

        Parameters
        ----------
        demand : float
            In the ratings' unit.

        Returns
        -------
        float or None
            None where an unknown rating may be the one that is exceeded: `not-assessed`.
        """
        if self.known is None or self.complete:
            return self.known
        return self.known if demand > self.known * (1.0 + 1e-9) else None


def weakest_rating(ratings: Iterable[float | None]) -> WeakestRating:
    """The weakest of ratings, None for each that is unknown."""
    listed = list(ratings)
    known = [rating for rating in listed if rating is not None]
    return WeakestRating(min(known, default=None), len(known) == len(listed))
