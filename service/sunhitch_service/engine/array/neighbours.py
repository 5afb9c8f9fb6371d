"""Which of several panels that count alike go where: those that lie beside each other in a string.

Panels of one type in the same light are interchangeable, and so are the places in a string. Among
all ways to deal them, cable decides, so that the order of a request does not.
"""

from collections.abc import Callable, Iterator, Sequence
from itertools import combinations

from .design import ArrayDesign
from .figures import Layout, String, Wired
from .routes import HarnessRoof, Spot
from .search import by_light

_LEAST_GAIN_M = 1e-6
_DEALT_PANELS = 24
"""Panels that are dealt in all: of few, from every side; of as many, once."""


def _rounded(x_m: float, y_m: float) -> Spot:
    return round(x_m, 6), round(y_m, 6)


_SWEEPS: tuple[Callable[[Spot], Spot], ...] = (
    lambda spot: _rounded(spot[0], spot[1]),
    lambda spot: _rounded(spot[1], spot[0]),
    lambda spot: _rounded(spot[0], -spot[1]),
    lambda spot: _rounded(spot[1], -spot[0]),
    lambda spot: _rounded(spot[0] + spot[1], spot[0]),
    lambda spot: _rounded(spot[0] - spot[1], spot[0]),
)
"""Orders in which panels are dealt at first: from the front, from the left, and so on."""


def beside_each_other(
    design: ArrayDesign, roof: HarnessRoof, layouts: Sequence[Layout]
) -> list[Layout]:
    """The same wirings with panels that lie near each other in a string.

    Parameters
    ----------
    design : ArrayDesign
        Settled request.
    roof : HarnessRoof
        Where the panels are.
    layouts : sequence of Layout
        Ways to wire them.

    Returns
    -------
    list of Layout
        Each with as little cable as was found by swapping two panels at a time, and turning strings
        around; whatever the order of the request.
    """
    like = {m: n for n, members in enumerate(by_light(design).classes) for m in members}
    sweeps = _SWEEPS[: max(1, _DEALT_PANELS // len(like))]
    found: list[Layout] = []
    for layout in layouts:
        dealt = (_Dealt(roof, layout, like, sweep) for sweep in sweeps)
        unlike = {tuple(one.strings): one for one in dealt}  # few panels that are alike deal alike
        shortest = min(unlike.values(), key=lambda one: round(one.shortened(), 6))
        found.append(shortest.layout())
    return found


class _Dealt:
    """Strings of a layout with members dealt to them in the order of their places.

    The last of `strings` is what is left over.
    """

    def __init__(
        self,
        roof: HarnessRoof,
        layout: Layout,
        like: dict[int, int],
        sweep: Callable[[Spot], Spot],
    ) -> None:
        self._roof, self._arrays, self._like = roof, layout.arrays, like
        given = [string for array in layout.arrays for string in array.strings]
        waiting: dict[int, list[int]] = {}
        for member in sorted(like, key=lambda m: sweep(roof.spots[m]), reverse=True):
            waiting.setdefault(like[member], []).append(member)
        self.strings: list[String] = [
            tuple(waiting[like[member]].pop() for member in string)
            for string in (*given, layout.leftover)
        ]
        first, self._own = 0, list[range]()
        for array in layout.arrays:
            self._own.append(range(first, first := first + len(array.strings)))

    def shortened(self) -> float:
        """Make every swap that saves cable, until none does; what is needed then [m]."""
        within = [*map(self._roof.within_m, self.strings[:-1]), 0.0]
        ends = [self._ends_m(own, {}) for own in self._own]
        better = True
        while better:
            better = False
            for changed in self._moves():
                new = {n: self._within_m(n, string) for n, string in changed.items()}
                touched = [a for a, own in enumerate(self._own) if any(n in own for n in changed)]
                met = {a: self._ends_m(self._own[a], changed) for a in touched}
                saved = sum(within[n] - length for n, length in new.items())
                saved += sum(ends[a] - length for a, length in met.items())
                if saved > _LEAST_GAIN_M:
                    better = True
                    for n, length in new.items():
                        self.strings[n], within[n] = changed[n], length
                    for a, length in met.items():
                        ends[a] = length
        return sum(within) + sum(ends)

    def _within_m(self, number: int, string: String) -> float:
        rest = len(self.strings) - 1
        return 0.0 if number == rest else self._roof.within_m(string)

    def _ends_m(self, own: range, changed: dict[int, String]) -> float:
        """Cable between the ends of an array's strings and the entry, some of them changed [m]."""
        return self._roof.ends_m([changed.get(n, self.strings[n]) for n in own])

    def _moves(self) -> Iterator[dict[int, String]]:
        """Strings that change: one turned around, or two members swapped that are alike."""
        for n, string in enumerate(self.strings[:-1]):
            if len(string) > 1:
                yield {n: self.strings[n][::-1]}
                yield from self._within(n)
        for n, m in combinations(range(len(self.strings)), 2):
            for i in range(len(self.strings[n])):
                for j in range(len(self.strings[m])):
                    one, other = self.strings[n], self.strings[m]
                    if self._like[one[i]] == self._like[other[j]]:
                        yield {
                            n: (*one[:i], other[j], *one[i + 1 :]),
                            m: (*other[:j], one[i], *other[j + 1 :]),
                        }

    def _within(self, number: int) -> Iterator[dict[int, String]]:
        """Two places of one string swapped."""
        for i, j in combinations(range(len(self.strings[number])), 2):
            swapped = list(self.strings[number])
            swapped[i], swapped[j] = swapped[j], swapped[i]
            yield {number: tuple(swapped)}

    def layout(self) -> Layout:
        """The wiring, strings of the same panels numbered from the front."""
        arrays = tuple(
            Wired(array.controller, self._from_the_front([self.strings[n] for n in own]))
            for array, own in zip(self._arrays, self._own, strict=True)
        )
        return Layout(arrays, tuple(sorted(self.strings[-1])))

    def _from_the_front(self, strings: list[String]) -> tuple[String, ...]:
        kinds = [sorted(self._like[m] for m in string) for string in strings]
        waiting: dict[str, list[String]] = {}
        for kind, string in zip(kinds, strings, strict=True):
            waiting.setdefault(str(kind), []).append(string)
        for alike in waiting.values():
            alike.sort(key=lambda s: min(_rounded(*self._roof.spots[m]) for m in s), reverse=True)
        return tuple(waiting[str(kind)].pop() for kind in kinds)
