"""What each source can push into each end of each element, and what all can together."""

import math
from functools import cached_property

import msgspec

from .tree import ENDS, OTHER_END, CircuitTree, CurrentSource, Element, End


class SourceShare(msgspec.Struct, frozen=True, dict=True):
    """What one source alone can push, and the elements that it passes, the farthest first.

    Parameters
    ----------
    source : CurrentSource
        What drives.
    path : tuple of Element
        What it passes.
    limits_a : tuple of float
        Most that each of these passes towards here [A].
    """

    source: CurrentSource
    path: tuple[Element, ...] = ()
    limits_a: tuple[float, ...] = ()

    @cached_property
    def since_converter(self) -> int:
        """Where on the path the part behind the last converter begins; 0 without one."""
        passed = enumerate(zip(self.path, self.limits_a, strict=True), start=1)
        return max((at for at, (element, most) in passed if _converts(element, most)), default=0)

    @cached_property
    def limited(self) -> bool:
        """Whether it can never give more for long than what it is counted with."""
        return self.source.limited or self.since_converter > 0

    @cached_property
    def devices(self) -> tuple[str, ...]:
        """Devices that hold it back: a fuse before a converter does not, what that makes of it."""
        return tuple(e.name for e in self.path[self.since_converter :] if e.kind == "device")

    @cached_property
    def driven_from(self) -> str:
        """Node to whose minus its current returns: the source's, or the last converter's."""
        if self.since_converter:
            return self.path[self.since_converter - 1].start
        return self.source.node

    @cached_property
    def prospective_a(self) -> float:
        """Before any device opens [A]."""
        return together([(self, 1.0)])

    @cached_property
    def lasting_a(self) -> float:
        """Until hours have passed, every device holding back what exceeds its rating [A]."""
        return together([(self, 1.0)], lasting=True)


def together(
    weighted: list[tuple[SourceShare, float]], passed: int = 0, *, lasting: bool = False
) -> float:
    """What shares push together, each by its weight: not the sum where they pass a device.

    Parameters
    ----------
    weighted : list of (SourceShare, float)
        What arrives, and the share of each that is asked for [1].
    passed : int
        Elements of every path, counted from its near end, that are not looked at.
    lasting : bool
        Whether devices have had hours to hold back what exceeds their ratings.

    Returns
    -------
    float
        A device holds back what lasts; until it opens, a fault passes. A controller trades volts
        for amperes: whatever drives it, it may give all that it passes [A].
    """
    total, behind = 0.0, dict[str, list[tuple[SourceShare, float]]]()
    for share, weight in weighted:
        if len(share.path) == passed:
            total += weight * share.source.prospective_a
        else:
            behind.setdefault(share.path[-1 - passed].name, []).append((share, weight))
    for group in behind.values():
        nearest = group[0][0]
        element, most = nearest.path[-1 - passed], nearest.limits_a[-1 - passed]
        amount = together(group, passed + 1, lasting=lasting)
        if _converts(element, most):
            amount = most * max(weight for _, weight in group) if amount > 0.0 else 0.0
        elif element.kind == "device" and lasting:
            amount = min(amount, most * max(weight for _, weight in group))
        total += amount
    return total


class Flow(msgspec.Struct, frozen=True, dict=True):
    """What enters an element at one end.

    Parameters
    ----------
    shares : tuple of SourceShare
        Of every source.
    weights : tuple of float
        How much of each takes this way [1]; all of it where none are given.
    """

    shares: tuple[SourceShare, ...] = ()
    weights: tuple[float, ...] = ()

    @cached_property
    def weighted(self) -> list[tuple[SourceShare, float]]:
        """Shares with their weights."""
        return list(zip(self.shares, self.weights or (1.0,) * len(self.shares), strict=True))

    @cached_property
    def prospective_a(self) -> float:
        """Before any device opens [A]."""
        return together(self.weighted)

    @cached_property
    def lasting_a(self) -> float:
        """Until hours have passed, every device holding back what exceeds its rating [A]."""
        return together(self.weighted, lasting=True)

    @property
    def limited(self) -> bool:
        """Whether no source can give more for long than what it is counted with."""
        return all(share.limited for share in self.shares)

    @property
    def common_devices(self) -> tuple[str, ...]:
        """Devices that the current of every source passes, the farthest first."""
        first, *others = [share.devices for share in self.shares] or [()]
        return tuple(name for name in first if all(name in other for other in others))


Flows = dict[tuple[str, End], Flow]
"""Flow into each element, by its name and end."""


def flows(circuit: CircuitTree) -> Flows:
    """What enters every element of a circuit at each of its ends.

    Every end is worked out once, from those behind it. Linear in the elements of a tree whose
    nodes join a few each, times the sources.

    Parameters
    ----------
    circuit : CircuitTree
        Tree of sources and elements.

    Returns
    -------
    dict of Flow
        By element and end.
    """
    found: Flows = {}
    for element in circuit.elements:
        for end in ENDS:
            _settle(circuit, element, end, found)
    return found


def arriving(circuit: CircuitTree, found: Flows, node: str) -> list[SourceShare]:
    """What every source of a circuit can push to a node, from wherever it comes."""
    through = [
        share
        for element, end in circuit.at[node]
        for share in _through(element, end, found[element.name, OTHER_END[end]])
    ]
    return [*map(SourceShare, circuit.sources_at(node)), *through]


def _settle(circuit: CircuitTree, element: Element, end: End, found: Flows) -> Flow:
    """Work out one end after all that lie behind it."""
    if (element.name, end) not in found:
        node = element.node(end)
        shares = [*map(SourceShare, circuit.sources_at(node))]
        for other, there in circuit.at[node]:
            if other != element:
                shares += _through(other, there, _settle(circuit, other, OTHER_END[there], found))
        found[element.name, end] = Flow(tuple(shares))
    return found[element.name, end]


def _through(element: Element, end: End, flow: Flow) -> list[SourceShare]:
    """What of a flow into an element leaves it at one end."""
    most = element.forward_a if end == "end" else element.backward_a
    return [
        SourceShare(share.source, (*share.path, element), (*share.limits_a, most))
        for share in flow.shares
        if most > 0.0
    ]


def _converts(element: Element, most_a: float) -> bool:
    return element.kind == "controller" and most_a < math.inf
