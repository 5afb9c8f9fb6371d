"""What each source can push into each end of each element, and what all can together."""

import math
from typing import Self

import msgspec

from .tree import ENDS, OTHER_END, CircuitTree, CurrentSource, Element, End


class EndCurrents(msgspec.Struct, frozen=True):
    """What enters an element at one end.

    Parameters
    ----------
    design_a : float
        For hours, devices apart [A].
    lasting_a : float
        Until hours have passed, every device holding back what exceeds its rating [A].
    pushed_a : float
        The same as counted against a panel's series fuse [A].
    fault_a : float
        Into a short circuit, to the return or to the chassis, before any device opens [A].
    """

    design_a: float
    lasting_a: float
    pushed_a: float
    fault_a: float

    def past(self, element: Element, most_a: float) -> Self:
        """What is left behind an element that passes so much [A].

        A fault passes a device until that opens. A controller trades volts for amperes: whatever
        drives it, it may give all that it passes.
        """
        if element.kind == "device":
            held = {name: min(getattr(self, name), most_a) for name in ("lasting_a", "pushed_a")}
            return msgspec.structs.replace(self, **held)
        if element.kind == "controller" and most_a < math.inf:
            passed = most_a if self.fault_a > 0.0 else 0.0
            return msgspec.structs.replace(
                self, **dict.fromkeys(EndCurrents.__struct_fields__, passed)
            )
        return self


class SourceShare(EndCurrents, frozen=True):
    """What one source alone can push, and the elements that it passes, the farthest first."""

    source: CurrentSource
    path: tuple[Element, ...] = ()
    limited: bool = False

    @property
    def devices(self) -> tuple[str, ...]:
        """Devices on its path, the farthest first."""
        return tuple(each.name for each in self.path if each.kind == "device")


class Flow(EndCurrents, frozen=True):
    """What all sources that arrive can push together: not the sum where they share a device."""

    shares: tuple[SourceShare, ...] = ()

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


def _settle(circuit: CircuitTree, element: Element, end: End, found: Flows) -> Flow:
    """Work out one end after all that lie behind it."""
    if (element.name, end) not in found:
        node = element.node(end)
        behind = [
            _through(other, there, _settle(circuit, other, OTHER_END[there], found))
            for other, there in circuit.at[node]
            if other != element
        ]
        found[element.name, end] = _together([*map(_alone, circuit.sources_at(node)), *behind])
    return found[element.name, end]


def _alone(source: CurrentSource) -> Flow:
    own = (source.design_a, source.design_a, source.pushed_a, source.fault_a)
    return Flow(*own, (SourceShare(*own, source, limited=source.limited),))


def _together(arriving: list[Flow]) -> Flow:
    names = EndCurrents.__struct_fields__
    sums = {name: math.fsum(getattr(flow, name) for flow in arriving) for name in names}
    return Flow(**sums, shares=tuple(share for flow in arriving for share in flow.shares))


def _through(element: Element, end: End, flow: Flow) -> Flow:
    """What of a flow into an element leaves it at one end."""
    most = element.passed_to_a(end)
    converts = element.kind == "controller" and most < math.inf
    shares = [
        msgspec.structs.replace(
            share.past(element, most),
            # A fuse before a converter does not hold back what that makes of it.
            path=(*(e for e in share.path if not (converts and e.kind == "device")), element),
            limited=share.limited or converts,
        )
        for share in flow.shares
        if most > 0.0
    ]
    return msgspec.structs.replace(flow.past(element, most), shares=tuple(shares))
