"""Items of one key together."""

from collections.abc import Hashable, Iterable
from typing import TypeVar

K = TypeVar("K", bound=Hashable)
V = TypeVar("V")


def grouped(pairs: Iterable[tuple[K, V]]) -> dict[K, list[V]]:
    """Values by their keys, both in the order in which they come.

    Parameters
    ----------
    pairs : iterable of (key, value)
        Taken one after the other.
    """
    found: dict[K, list[V]] = {}
    for key, value in pairs:
        found.setdefault(key, []).append(value)
    return found
