"""What makes each end of a conductor safe, and devices where nothing does.

Devices lie in positive conductors; `returns` judges the way back, and the chassis.
"""

import math
from collections.abc import Mapping
from typing import Literal

import msgspec

from .flows import Flow, flows
from .tree import ENDS, CircuitTree, Element, End

State = Literal["idle", "proven", "protected", "stub", "open"]

_ROUNDING = 1.0 + 1e-9


class ConductorEnd(msgspec.Struct, frozen=True):
    """One end of a conductor, judged.

    Parameters
    ----------
    conductor : Element
        Which.
    end : {'start', 'end'}
        Where the current enters.
    state : {'idle', 'proven', 'protected', 'stub', 'open'}
        Nothing enters; no source can overload it; devices hold back what could; nothing does, but
        it ends at a device, as near as the rules want it; nothing does.
    demand_a, capacity_a : float
        Lasting current, and what the conductor bears of it [A].
    devices : tuple of str
        Devices that protect it.
    flow : Flow
        What enters.
    """

    conductor: Element
    end: End
    state: State
    demand_a: float
    capacity_a: float
    devices: tuple[str, ...]
    flow: Flow

    @property
    def used(self) -> float:
        """Share of the capacity [1]; infinite where the tables give a conductor none."""
        return self.demand_a / self.capacity_a if self.capacity_a > 0.0 else math.inf


def protection(circuit: CircuitTree) -> list[ConductorEnd]:
    """Both ends of every sized conductor of a circuit.

    A source that is switched off takes current away and no device: what is safe with all sources
    is safe with the battery off as well.

    Parameters
    ----------
    circuit : CircuitTree
        Sources, conductors, devices, controllers.

    Returns
    -------
    list of ConductorEnd
        A single device may be as large as the rules allow; what several devices and limited
        sources let pass together must stay within ampacity and that device.

    References
    ----------
    NFPA 70, 240.4 and 240.21; IEC 60364-4-43, 433.
    """
    found = flows(circuit)
    return [
        judged(each, end, found[each.name, end])
        for each in circuit.elements
        if each.sized
        for end in ENDS
    ]


def judged(conductor: Element, end: End, flow: Flow) -> ConductorEnd:
    """One end of a conductor, by what enters there."""
    ampacity, largest = conductor.ampacity_a, conductor.largest_device_a
    common = flow.common_devices
    if flow.lasting_a <= 0.0:
        return ConductorEnd(conductor, end, "idle", 0.0, ampacity, (), flow)
    if flow.limited and flow.prospective_a <= ampacity * _ROUNDING:
        return ConductorEnd(conductor, end, "proven", flow.prospective_a, ampacity, (), flow)
    capacity = largest if common else min(ampacity, largest)
    last = dict.fromkeys(name for share in flow.shares for name in share.devices[-1:])
    short = conductor.before_device and conductor.length_m <= conductor.stub_m
    state: State = "stub" if short else "open"
    if flow.lasting_a <= capacity * _ROUNDING:
        state = "protected"
    return ConductorEnd(
        conductor, end, state, flow.lasting_a, capacity, common or tuple(last), flow
    )


def with_devices(circuit: CircuitTree, ratings_a: Mapping[str, float]) -> CircuitTree:
    """The same with a device at every open end of the conductors that have one to choose.

    Parameters
    ----------
    circuit : CircuitTree
        Sources, conductors and controllers, and devices that were decided elsewhere.
    ratings_a : mapping of str to float
        Smallest stocked rating that carries what each conductor is for [A].

    Returns
    -------
    CircuitTree
        The open end that lies nearest to the strongest source behind it gets its device first:
        that may spare others theirs. An end whose device is too large for it stays open.
    """
    waiting = dict(ratings_a)
    while ends := [
        each
        for each in protection(circuit)
        if each.state == "open" and each.conductor.name in waiting
    ]:
        nearest = min(ends, key=_distance)
        name = nearest.conductor.name
        circuit = circuit.with_device(name, nearest.end, waiting.pop(name))
    return circuit


def _distance(found: ConductorEnd) -> tuple[int, float]:
    """Elements between an end and the strongest source that enters there."""
    strongest = max(found.flow.shares, key=lambda share: share.prospective_a)
    return len(strongest.path), -strongest.prospective_a
