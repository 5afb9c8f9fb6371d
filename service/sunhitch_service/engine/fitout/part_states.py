"""How far each part of a job is, and what is taken where some are there and some are not."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import takewhile
from typing import Generic, TypeVar

from msgspec.structs import replace

from sunhitch.types.fitout import (
    FitOutPanelType,
    FitOutRequest,
    LineKind,
    PartInWork,
    WorkPart,
    WorkState,
)
from sunhitch.types.mount import AdhesiveFeet, FastenedFeet, FootPoint, Mounting
from sunhitch.types.roof import PlacedPanel

V = TypeVar("V")


@dataclass(frozen=True, slots=True)
class Taken(Generic[V]):
    """What a part is built of.

    Parameters
    ----------
    value : object
        Size or rating.
    there : PartInWork or None
        The entry that says it is there already.
    missing : bool
        Whether it cannot be had, and nothing else fits.
    """

    value: V
    there: PartInWork | None = None
    missing: bool = False


@dataclass(frozen=True, slots=True)
class Lot:
    """All that is said of one part, what is said of it alone first."""

    entries: Sequence[PartInWork]

    def of(self, state: WorkState) -> list[PartInWork]:
        """Entries of a state."""
        return [one for one in self.entries if one.state == state]

    @property
    def at_hand(self) -> list[PartInWork]:
        """What is fixed alone, else all that is owned and not gone.

        What is said of one counts before what is said of all.
        """
        fixed = next(iter(self.of("fixed")), None)
        if fixed and width(fixed) == width(self.entries[0]):
            return [fixed]
        said = takewhile(lambda one: one.state not in ("fixed", "planned"), self.entries)
        return [one for one in said if one.state == "owned" and not self._is_gone(one)]

    def _is_gone(self, owned: PartInWork) -> bool:
        gone = [one for one in self.of("unavailable") if width(one) <= width(owned)]
        return any(_may_be_same(one, owned) for one in gone)

    def taken(
        self,
        value: Callable[[PartInWork], V | None],
        usual: V,
        others: Iterable[V],
        fits: Callable[[V], bool],
    ) -> Taken[V]:
        """What is fixed, else what is owned and fits, else the usual or another that can be had.

        Parameters
        ----------
        value : callable
            What an entry names.
        usual : object
            What is taken where nothing is said; None for no such part.
        others : iterable
            What may take its place, the best first.
        fits : callable
            Whether one would do.
        """
        for one in self.at_hand:
            own = value(one)
            if own is not None and (one.state == "fixed" or (usual is not None and fits(own))):
                return Taken(own, one)
        gone = [value(one) for one in self.of("unavailable")]
        if usual is None or usual not in gone:
            return Taken(usual)
        found = next((one for one in others if one not in gone and fits(one)), None)
        return Taken(usual, missing=True) if found is None else Taken(found)


def width(entry: PartInWork) -> tuple[bool, bool]:
    """Of how much an entry speaks: the least first."""
    return entry.name is None, entry.line is None


def _may_be_same(one: PartInWork, other: PartInWork) -> bool:
    pairs = ((getattr(one, each), getattr(other, each)) for each in _KNOWN_BY)
    return all(None in pair or pair[0] == pair[1] for pair in pairs)


_KNOWN_BY = ("size", "rating_a", "family", "gland")


def rating_of(entry: PartInWork) -> float | None:
    """What a part is known by that has a rating alone."""
    return entry.rating_a


@dataclass(frozen=True)
class PartStates:
    """States of all parts of a job."""

    entries: Sequence[PartInWork]

    def lot(self, part: WorkPart, kind: LineKind, names: Sequence[str]) -> Lot:
        """What is said of a part in a line, by the line's kind and the names that it goes by."""
        own = [
            one
            for one in self.entries
            if one.part == part
            and one.line in (None, kind)
            and (one.name is None or one.name in names)
        ]
        return Lot(sorted(own, key=width))

    def state(
        self,
        part: WorkPart,
        name: str | None = None,
        number: int | None = None,
        line: LineKind | None = None,
    ) -> WorkState:
        """State of a part: its own, else that of all of its kind."""
        states: dict[str | None, WorkState] = {
            one.name: one.state
            for one in self.entries
            if (one.part, one.number) == (part, number) and one.line in (None, line)
        }
        return states.get(name) or states.get(None) or "planned"

    def foot(self, place: PlacedPanel, number: int) -> WorkState:
        """State of one foot: its own, else that of its panel's feet, else of the type's."""
        own = self.state("foot", place.name, number)
        if own == "planned":
            own = self.state("foot", place.name)
        return self.state("foot", place.panel_type) if own == "planned" else own

    def fixed_panels(self, job: FitOutRequest) -> list[str]:
        """Panels that stay where they are: they, or feet of theirs, are on the roof."""
        return [p.name for p in job.placements if self.fixed_feet(job, p) or self._stays(p)]

    def _stays(self, place: PlacedPanel) -> bool:
        return "fixed" in (self.state("panel", place.name), self.state("foot", place.panel_type))

    def fixed_feet(self, job: FitOutRequest, place: PlacedPanel) -> list[FootPoint]:
        """Feet of a panel that are on the roof already."""
        return [
            foot
            for number, foot in enumerate(feet_of(kind_of(job, place).mounting), start=1)
            if "fixed" in (self.state("panel", place.name), self.foot(place, number))
        ]

    def keeps_fixed(self, job: FitOutRequest, place: PlacedPanel, new: Mounting) -> bool:
        """Whether a mounting of a panel keeps all that is fixed of the one that it has."""
        held, fixed = kind_of(job, place).mounting, self.fixed_feet(job, place)
        if new == held or not (fixed or self._stays(place)):
            return True
        if not (isinstance(held, AdhesiveFeet | FastenedFeet) and isinstance(new, type(held))):
            return False
        return replace(new, feet=held.feet) == held and all(foot in new.feet for foot in fixed)

    def there_fraction(self, job: FitOutRequest, part: WorkPart, name: str) -> float:
        """How much of a panel, a controller, or what holds the panels of a type is there."""
        if part != "foot":
            return float(self.state(part, name) in _THERE)
        there = [
            self.state("panel", place.name) == "fixed" or self.foot(place, number) in _THERE
            for place in job.placements
            if place.panel_type == name
            for number in range(1, 1 + _feet(kind_of(job, place).mounting))
        ]
        return sum(there) / max(1, len(there))


_THERE: tuple[WorkState, ...] = ("fixed", "owned")


def _feet(held: Mounting) -> int:
    """Feet that hold a panel; one for what is not held by feet."""
    return len(held.feet) if isinstance(held, AdhesiveFeet | FastenedFeet) else 1


def feet_of(held: Mounting) -> list[FootPoint]:
    """Feet that hold a panel."""
    return held.feet if isinstance(held, AdhesiveFeet | FastenedFeet) else []


def kind_of(job: FitOutRequest, place: PlacedPanel) -> FitOutPanelType:
    """Type of a placed panel."""
    return next(kind for kind in job.panel_types if kind.name == place.panel_type)
