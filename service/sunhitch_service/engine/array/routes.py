"""Lengths of the extensions, along the roof's two directions."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from sunhitch.texts import statement
from sunhitch.types.array import HarnessLayout, HarnessPolarity
from sunhitch_service.engine.arrays import Floats
from sunhitch_service.engine.roof.practice import PRACTICE

from .design import ArrayDesign
from .figures import ArrayFigures, String, StringFigures

Spot = tuple[float, float]
"""Junction box of a panel [m]."""
ENTRY = -1
"""Stands for the cable entry among the members."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """One extension.

    Parameters
    ----------
    polarity : str
        Conductor.
    strings : tuple of int
        Strings whose current it carries, counted from 1.
    length_m : float
        With slack, less the leads that reach into it [m].
    where : str
        From where to where.
    """

    polarity: HarnessPolarity
    strings: tuple[int, ...]
    length_m: float
    where: str


def stretches(roof: "HarnessRoof", array: ArrayFigures) -> list[Stretch]:
    """Extensions that an array needs on the roof.

    Parameters
    ----------
    roof : HarnessRoof
        Places and leads of the panels.
    array : ArrayFigures
        The array.

    Returns
    -------
    list of Stretch
        Between panels in series, from string ends to where they join, and from there to the entry.
    """
    between = [part for string in array.strings for part in _between_panels(roof, string)]
    return between + _to_entry(roof, array, "positive", 0) + _to_entry(roof, array, "negative", -1)


class HarnessRoof:
    """Ways on the roof and leads of the panels.

    Parameters
    ----------
    design : ArrayDesign
        Settled request.
    layout : HarnessLayout
        Where junction boxes and entry are.
    ways : ndarray or None
        Between the places of `layout`, the entry last, shape (places + 1, places + 1) [m]; None
        where nothing is known to be in the way.
    """

    def __init__(
        self, design: ArrayDesign, layout: HarnessLayout, ways: Floats | None = None
    ) -> None:
        order = {place.panel: number for number, place in enumerate(layout.places)}
        at = [*(order[member.name] for member in design.members), len(order)]
        every = (_straight(layout) if ways is None else ways)[np.ix_(at, at)]
        self._ways: list[list[float]] = (every * (1.0 + layout.slack_fraction)).tolist()
        """With slack."""
        spots = {place.panel: (place.x_m, place.y_m) for place in layout.places}
        self.spots: list[Spot] = [spots[member.name] for member in design.members]
        self._leads = [_lead(design, m.kind) for m in design.members]
        self._gathered_m: dict[tuple[int, ...], float] = {}
        self.names = [member.name for member in design.members]

    def extension_m(self, start: int, end: int) -> float:
        """Between the junction boxes of two panels, less both leads [m]."""
        return max(0.0, self._ways[start][end] - self._leads[start] - self._leads[end])

    def to_entry(self, ends: Sequence[int]) -> tuple[int, list[float], float]:
        """Which of the strings' ends they meet at, next to the entry, and extensions.

        Returns
        -------
        tuple of int, list of float, float
            Where they meet; from each end to there, and from there to the entry [m].
        """
        meeting = min(ends, key=lambda m: self._ways[m][ENTRY])
        there = [
            0.0 if m == meeting else max(0.0, self._ways[m][meeting] - self._leads[m]) for m in ends
        ]
        own_lead = self._leads[meeting] if len(ends) == 1 else 0.0
        return meeting, there, max(0.0, self._ways[meeting][ENTRY] - own_lead)

    def within_m(self, string: String) -> float:
        """Extensions between the panels of a string [m].

        A thousandth of the ways between them counts too, so that of leads that all reach by
        themselves those are shortest that hang least.
        """
        return sum(self.extension_m(a, b) + self._ways[a][b] / 1000 for a, b in pairwise(string))

    def ends_m(self, strings: Sequence[String]) -> float:
        """Extensions from the ends of strings to where they meet, and on to the entry [m]."""
        return sum(self._gathered(tuple(string[end] for string in strings)) for end in (0, -1))

    def _gathered(self, ends: tuple[int, ...]) -> float:
        """Of one polarity; swaps of panels ask for the same ends over and over."""
        if ends not in self._gathered_m:
            _, there, on = self.to_entry(ends)
            self._gathered_m[ends] = sum(there) + on
        return self._gathered_m[ends]


def _lead(design: ArrayDesign, kind: int) -> float:
    given = design.kinds[kind].lead_length_m
    return PRACTICE.usual(design.assumptions, f"/panels/{kind}/lead_length_m", given, "lead-length")


def _straight(layout: HarnessLayout) -> Floats:
    """Ways along the roof's two directions with nothing between [m]."""
    spots = [[place.x_m, place.y_m] for place in layout.places]
    every = np.array([*spots, [layout.entry_x_m, layout.entry_y_m]])
    ways: Floats = np.abs(every[:, None] - every).sum(axis=-1)
    return ways


def _between_panels(roof: HarnessRoof, string: StringFigures) -> list[Stretch]:
    return [
        Stretch(
            "between-panels",
            (string.number,),
            length,
            statement(
                "between-panels",
                panel=roof.names[a],
                next_panel=roof.names[b],
                string=string.number,
            ),
        )
        for a, b in zip(string.members, string.members[1:], strict=False)
        if (length := roof.extension_m(a, b)) > 0.0
    ]


def _to_entry(
    roof: HarnessRoof, array: ArrayFigures, pole: HarnessPolarity, end: int
) -> list[Stretch]:
    """The strings of one polarity meet at the end next to the entry."""
    ends = {string.number: string.members[end] for string in array.strings}
    meeting, there, on = roof.to_entry(list(ends.values()))
    found = [
        Stretch(
            pole,
            (number,),
            length,
            statement("to-connector", panel=roof.names[m], meeting=roof.names[meeting], pole=pole),
        )
        for (number, m), length in zip(ends.items(), there, strict=True)
        if length > 0.0
    ]
    where = statement("panel-to-entry", panel=roof.names[meeting], pole=pole)
    return found + ([Stretch(pole, tuple(ends), on, where)] if on > 0.0 else [])
