"""A build as a tree: sources at nodes, elements between nodes, each conductor with its return."""

import math
from collections import Counter
from functools import cached_property
from typing import Any, Literal

import msgspec

from sunhitch.grouping import grouped
from sunhitch.texts import statement

ElementKind = Literal["conductor", "device", "controller"]
End = Literal["start", "end"]
FUSE_OF = "fuse of "
"""How a device is called until it has a number."""
ENDS: tuple[End, End] = ("start", "end")
OTHER_END: dict[End, End] = {"start": "end", "end": "start"}


class CurrentSource(msgspec.Struct, frozen=True):
    """A string, a battery, an alternator: what drives current out of a node.

    Parameters
    ----------
    name, node : str
        Its name, and where it is.
    prospective_a : float
        What it gives before any device opens: in strong sun, or into a short circuit [A].
    limited : bool
        Whether it can never give more for long: panels can not, a battery can.
    """

    name: str
    node: str
    prospective_a: float
    limited: bool


class Element(msgspec.Struct, frozen=True):
    """What lies between two nodes.

    Parameters
    ----------
    name : str
        As on plan and schedule.
    kind : {'conductor', 'device', 'controller'}
        A device lets more than its rating pass only until it opens; a controller never does.
    start, end : str
        Its nodes.
    forward_a, backward_a : float
        Most that it passes from start to end, and back [A]; infinite where it does not limit.
    ampacity_a, largest_device_a : float
        What a conductor bears for hours, and the largest device that the rules allow on it: the
        next standard size above its ampacity where they do, less on small conductors [A].
    length_m, stub_m : float
        Of a conductor, and how long it may be from a source to its device [m].
    before_device : bool
        Whether a conductor is the piece between a source and its device.
    return_ohm : float
        Resistance of a conductor's return [Ω]; 0 where both ends of it are one, as of leads.
    """

    name: str
    kind: ElementKind
    start: str
    end: str
    forward_a: float = math.inf
    backward_a: float = math.inf
    ampacity_a: float = math.inf
    largest_device_a: float = math.inf
    length_m: float = math.inf
    stub_m: float = 0.0
    before_device: bool = False
    return_ohm: float = 0.0

    @property
    def sized(self) -> bool:
        """Whether it is a conductor to be judged; a panel's maker has sized its leads."""
        return self.kind == "conductor" and self.ampacity_a < math.inf

    def node(self, end: End) -> str:
        """Node at one end."""
        return self.start if end == "start" else self.end


def conductor(name: str, start: str, end: str, **sizes: Any) -> Element:  # noqa: ANN401
    """A cable with its sizes, or a panel's leads, which its maker has sized; see `Element`."""
    return Element(name, "conductor", start, end, **sizes)


def device(name: str, start: str, end: str, rating_a: float) -> Element:
    """A fuse or breaker of a rating [A]; it opens in either direction."""
    return Element(name, "device", start, end, rating_a, rating_a)


def controller(
    name: str, panels: str, battery: str, output_a: float, backfeed_a: float = 0.0
) -> Element:
    """A charge controller between panels and battery.

    Parameters
    ----------
    name, panels, battery : str
        Its name and its nodes.
    output_a : float
        Most that it gives the battery [A]; infinite for a plain switch, which limits nothing.
    backfeed_a : float
        Most that the battery can push back through it [A]: 0 where it blocks, infinite where not.

    Returns
    -------
    Element
        From panels to battery.
    """
    return Element(name, "controller", panels, battery, output_a, backfeed_a)


class CircuitTree(msgspec.Struct, frozen=True, dict=True):
    """A tree of elements with the sources at its nodes.

    Parameters
    ----------
    sources : tuple of CurrentSource
        Names are unique.
    elements : tuple of Element
        Names are unique; parallel conductors count as one, and loops are refused.

    Raises
    ------
    ValueError
        If a name repeats, elements form a loop, or a source hangs on no element.
    """

    sources: tuple[CurrentSource, ...]
    elements: tuple[Element, ...]

    def __post_init__(self) -> None:
        names = Counter([*(one.name for one in self.sources), *(one.name for one in self.elements)])
        repeated = [name for name, number in names.items() if number > 1]
        if repeated:
            raise ValueError(f"names repeat: {', '.join(repeated)}")
        joined: dict[str, str] = {}
        for element in self.elements:
            if not join(joined, element.start, element.end):
                raise ValueError(f"{element.name} closes a loop")
        loose = [source.name for source in self.sources if source.node not in self.at]
        if loose:
            raise ValueError(f"on no element: {', '.join(loose)}")

    @cached_property
    def at(self) -> dict[str, list[tuple[Element, End]]]:
        """Ends of elements that meet at each node."""
        return grouped((each.node(end), (each, end)) for each in self.elements for end in ENDS)

    def with_device(self, name: str, end: End, rating_a: float) -> "CircuitTree":
        """The same with a device of a rating [A] in a conductor, as far from one end as it may."""
        at, split = next(each for each in enumerate(self.elements) if each[1].name == name)
        inner, outer = (
            statement("before-its-fuse", line=name),
            statement("behind-its-fuse", line=name),
        )
        fused = device(FUSE_OF + name, inner, outer, rating_a)
        kept = msgspec.structs.replace(split, **{end: inner})
        stub = msgspec.structs.replace(
            split,
            name=statement("up-to-its-fuse", line=name),
            length_m=split.stub_m,
            before_device=True,
            return_ohm=0.0,
            **{end: split.node(end), OTHER_END[end]: outer},
        )
        return CircuitTree(
            self.sources, (*self.elements[:at], kept, fused, stub, *self.elements[at + 1 :])
        )

    def sources_at(self, node: str) -> list[CurrentSource]:
        """Sources at a node."""
        return [source for source in self.sources if source.node == node]


def join(joined: dict[str, str], one: str, other: str) -> bool:
    """Make one of two nodes, by what each is joined to; false where they are one already."""
    first, second = root(joined, one), root(joined, other)
    joined |= {} if first == second else {first: second}
    return first != second


def root(joined: dict[str, str], node: str) -> str:
    """The node that stands for all that are one with this."""
    while node in joined:
        node = joined[node]
    return node
