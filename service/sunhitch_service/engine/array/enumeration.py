"""Every way to split interchangeable panels into strings, each counted once.

Panels of one class are alike in every respect that matters (type and light). A string is a tuple
with the number of panels of each class; an arrangement is a multiset of strings, each on one
controller.
"""

from bisect import bisect_left
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from itertools import product

import numpy as np
from numpy.typing import NDArray

Counts = tuple[int, ...]


@dataclass(frozen=True, order=True, slots=True)
class StringOption:
    """One string on one controller.

    Parameters
    ----------
    controller : int
        Index of the controller.
    counts : tuple of int
        Panels of each class.
    """

    controller: int
    counts: Counts


Pattern = tuple[StringOption, ...]
"""Strings of an arrangement, sorted."""


def slots(
    counts: Counts, controllers: int, keep: Callable[[StringOption], bool]
) -> list[StringOption]:
    """Every string that the panels allow and that `keep` accepts.

    Parameters
    ----------
    counts : tuple of int
        Panels at hand of each class.
    controllers : int
        Number of controllers.
    keep : callable
        Decides on one string.

    Returns
    -------
    list of StringOption
        Sorted.
    """
    strings = [c for c in product(*(range(n + 1) for n in counts)) if any(c)]
    return [
        s
        for controller in range(controllers)
        for c in strings
        if keep(s := StringOption(controller, c))
    ]


class Partitions:
    """Multisets of slots that use the panels up, or all but a few.

    Parameters
    ----------
    choices : list of StringOption
        Strings to choose from.
    counts : tuple of int
        Panels at hand of each class.
    leave_out : int
        Panels that may stay unused.
    """

    def __init__(self, choices: list[StringOption], counts: Counts, leave_out: int) -> None:
        self.choices = choices
        self._counts = counts
        self._used = np.array([c.counts for c in choices], dtype=np.int64).reshape(
            len(choices), len(counts)
        )
        self._leave_out = leave_out
        self._completions = self._count_completions()
        self._next = cache(self._fitting)

    def count(self) -> int:
        """How many there are, without listing them; mirrored controllers count twice."""
        return int(self._completions[0][self._counts]) - int(sum(self._counts) <= self._leave_out)

    def __iter__(self) -> Iterator[Pattern]:
        """Each of them, as sorted slots; never the empty one."""
        return (pattern for pattern in self._extend((), 0, self._counts) if pattern)

    def _count_completions(self) -> list[NDArray[np.int64]]:
        """Ways to go on with the strings from each place in the list, by panels left."""
        left = np.indices([n + 1 for n in self._counts]).sum(axis=0)
        tables = [(left <= self._leave_out).astype(np.int64)]
        for slot in reversed(self.choices):
            tables.append(_with_repeats(tables[-1], slot.counts))
        return tables[::-1]

    def _extend(self, chosen: Pattern, start: int, left: Counts) -> Iterator[Pattern]:
        if sum(left) <= self._leave_out:
            yield chosen
        indices, rests = self._next(left)
        for at in range(bisect_left(indices, start), len(indices)):
            index, rest = indices[at], rests[at]
            if self._completions[index][rest]:
                yield from self._extend((*chosen, self.choices[index]), index, rest)

    def _fitting(self, left: Counts) -> tuple[list[int], list[Counts]]:
        """Strings that the panels left allow, and what would then be left."""
        rests = np.array(left) - self._used
        fit = np.flatnonzero(np.all(rests >= 0, axis=1))
        return fit.tolist(), [tuple(rest) for rest in rests[fit].tolist()]


def _with_repeats(counts: NDArray[np.int64], used: Counts) -> NDArray[np.int64]:
    """Ways if one more string may be used any number of times."""
    total, step = counts.copy(), used
    while all(s < n for s, n in zip(step, counts.shape, strict=True)):
        beyond = tuple(slice(s, None) for s in step)
        before = tuple(slice(None, n - s) for s, n in zip(step, counts.shape, strict=True))
        total[beyond] += counts[before]
        step = tuple(s + u for s, u in zip(step, used, strict=True))
    return total


def mirrored_count(strings: list[StringOption], counts: Counts, leave_out: int) -> int:
    """How many patterns give two identical controllers the same strings each.

    Parameters
    ----------
    strings : list of StringOption
        Strings of one controller.
    counts : tuple of int
        Panels at hand of each class.
    leave_out : int
        Panels that may stay unused.

    Returns
    -------
    int
        Patterns that are their own mirror image.
    """
    twice = [StringOption(s.controller, tuple(2 * n for n in s.counts)) for s in strings]
    return Partitions(twice, counts, leave_out).count()


def is_leading_mirror(pattern: Pattern) -> bool:
    """Whether a pattern of two identical controllers comes first of its mirrored pair."""
    return pattern <= tuple(
        sorted(StringOption(1 - slot.controller, slot.counts) for slot in pattern)
    )
