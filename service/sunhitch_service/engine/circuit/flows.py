"""What each source can push into each end of each element, and what all can together."""

import math

import msgspec

from .tree import CircuitTree, CurrentSource, Element, End


class SourceShare(msgspec.Struct, frozen=True):
    """What one source alone can push [A], and the devices that it passes on its way."""

    source: CurrentSource
    design_a: float
    lasting_a: float
    pushed_a: float
    fault_a: float
    devices: tuple[str, ...]
    converted: bool


class Flow(msgspec.Struct, frozen=True):
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
        Into a short circuit, before any device opens [A].
    shares : tuple of SourceShare
        One per source that arrives.
    """

    design_a: float
    lasting_a: float
    pushed_a: float
    fault_a: float
    shares: tuple[SourceShare, ...]

    @property
    def limited(self) -> bool:
        """Whether no source can give more for long than what it is counted with."""
        return all(share.source.limited or share.converted for share in self.shares)

    @property
    def common_devices(self) -> tuple[str, ...]:
        """Devices that the current of every source passes, the farthest first."""
        first, *others = self.shares or (None,)
        if first is None:
            return ()
        return tuple(
            name for name in first.devices if all(name in other.devices for other in others)
        )


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
    ends: tuple[End, End] = ("start", "end")
    for element in circuit.elements:
        for end in ends:
            _settle(circuit, element, end, found)
    return found


def _settle(circuit: CircuitTree, element: Element, end: End, found: Flows) -> None:
    """Work out one end after all that lie behind it."""
    waiting: list[tuple[Element, End]] = [(element, end)]
    while waiting:
        each, side = waiting[-1]
        behind: list[tuple[Element, End]] = [
            (other, _far(there)) for other, there in circuit.at[each.node(side)] if other != each
        ]
        missing: list[tuple[Element, End]] = [
            (other, far) for other, far in behind if (other.name, far) not in found
        ]
        if missing:
            waiting += missing
            continue
        arriving = [_source_flow(source) for source in circuit.sources_at(each.node(side))]
        arriving += [_through(other, far, found[other.name, far]) for other, far in behind]
        found[each.name, side] = _together(arriving)
        waiting.pop()


def _far(end: End) -> End:
    return "end" if end == "start" else "start"


def _source_flow(source: CurrentSource) -> Flow:
    share = SourceShare(
        source, source.design_a, source.design_a, source.pushed_a, source.fault_a, (), False
    )
    return Flow(source.design_a, source.design_a, source.pushed_a, source.fault_a, (share,))


def _together(arriving: list[Flow]) -> Flow:
    return Flow(
        design_a=sum(flow.design_a for flow in arriving),
        lasting_a=sum(flow.lasting_a for flow in arriving),
        pushed_a=sum(flow.pushed_a for flow in arriving),
        fault_a=sum(flow.fault_a for flow in arriving),
        shares=tuple(share for flow in arriving for share in flow.shares),
    )


def _through(element: Element, end: End, flow: Flow) -> Flow:
    """What leaves an element that a flow enters at one end."""
    most = element.passed_to_a(_far(end))
    if most == math.inf:
        return flow
    if element.kind == "device":
        return msgspec.structs.replace(
            flow,
            lasting_a=min(flow.lasting_a, most),
            pushed_a=min(flow.pushed_a, most),
            shares=tuple(_past_device(share, element.name, most) for share in flow.shares),
        )
    if most <= 0.0:
        return Flow(0.0, 0.0, 0.0, 0.0, ())
    return Flow(
        design_a=min(flow.design_a, most),
        lasting_a=min(flow.lasting_a, most),
        pushed_a=min(flow.pushed_a, most),
        fault_a=min(flow.fault_a, most),
        shares=tuple(_converted(share, most) for share in flow.shares),
    )


def _past_device(share: SourceShare, name: str, rating_a: float) -> SourceShare:
    return msgspec.structs.replace(
        share,
        lasting_a=min(share.lasting_a, rating_a),
        pushed_a=min(share.pushed_a, rating_a),
        devices=(*share.devices, name),
    )


def _converted(share: SourceShare, most_a: float) -> SourceShare:
    return msgspec.structs.replace(
        share,
        design_a=min(share.design_a, most_a),
        lasting_a=min(share.lasting_a, most_a),
        pushed_a=min(share.pushed_a, most_a),
        fault_a=min(share.fault_a, most_a),
        converted=True,
    )
