"""The way back of each current: returns, the chassis, and the one bond between them.

Every conductor has a return of its own, no device lies in one, and controllers join their minus
terminals. The battery's minus is bonded to the chassis at one point; that of a starter battery is
the chassis. A fault of a positive conductor leads to the return beside it or to the chassis, and
currents find back by every way there is, each by its resistance.
"""

from collections.abc import Iterator
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sunhitch.texts import statement

from .flows import Flow, SourceShare, arriving, flows
from .protection import ConductorEnd, judged
from .tree import ENDS, CircuitTree, Element, join, root

CHASSIS, BOND = statement("chassis"), statement("chassis-bond")

FaultTo = Literal["return", "chassis"]


class ReturnEnd(NamedTuple):
    """A return, judged in one fault.

    Parameters
    ----------
    judged : ConductorEnd
        The return by the name of its conductor, or the bond; what enters it where.
    fault_to : {'return', 'chassis'}
        Where a positive conductor touches.
    """

    judged: ConductorEnd
    fault_to: FaultTo


def return_ends(
    circuit: CircuitTree, bond: Element, at_chassis: frozenset[str] = frozenset()
) -> list[ReturnEnd]:
    """Every return of a sized conductor, and the bond, in every fault that pushes through it.

    A fault to the return may be an overload that lasts: all that leads back together must stay
    within the rules. One to the chassis is no load: each strong source has a device that opens,
    which must protect the way back by itself, and what never opens one must stay within ampacity.
    A strong source that no device holds back is left out: its positive conductor's end is open,
    or kept short because nothing opens there.

    Parameters
    ----------
    circuit : CircuitTree
        Sources, conductors with the resistances of their returns, devices, controllers.
    bond : Element
        From `CHASSIS` to the node whose minus is bonded.
    at_chassis : frozenset of str
        Nodes whose minus is the chassis.

    Returns
    -------
    list of ReturnEnd
        The same rules hold as for positive conductors: devices in these hold back what returns.

    References
    ----------
    NFPA 70, 250.122 and 250.166: conductors that carry faults are sized by one device, or as the
    largest conductor of the system, from memory.
    """
    found, ways = flows(circuit), _Ways(circuit, bond, at_chassis)
    ends: list[ReturnEnd] = []
    # To the chassis a current leads back alike wherever it leaves: each is judged once.
    to_chassis: dict[tuple[tuple[str, float], ...], list[SourceShare]] = {}
    for node in circuit.at:
        shares = [s for s in arriving(circuit, found, node) if s.limited or s.devices]
        ends += [ReturnEnd(each, "return") for each in ways.back(node, shares)]
        weak = [share for share in shares if share.limited]
        for opening in [weak, *([share] for share in shares if not share.limited)]:
            to_chassis[tuple((s.driven_from, s.lasting_a) for s in opening)] = opening
    for shares in to_chassis.values():
        ends += [ReturnEnd(each, "chassis") for each in ways.back(CHASSIS, shares)]
    return ends


class _Ways:
    """Shares of a current that returns from one node to another, by conductor."""

    def __init__(self, circuit: CircuitTree, bond: Element, at_chassis: frozenset[str]) -> None:
        self.conductors = [*(each for each in circuit.elements if each.return_ohm > 0.0), bond]
        self.joined: dict[str, str] = {}
        for element in circuit.elements:
            if element.return_ohm <= 0.0:
                join(self.joined, element.start, element.end)
        for node in at_chassis:
            join(self.joined, node, CHASSIS)
        ends = [(self._at(each.start), self._at(each.end)) for each in self.conductors]
        self.index = {node: at for at, node in enumerate(dict.fromkeys(sum(ends, ())))}
        incidence = np.zeros((len(ends), len(self.index)))
        for row, (start, end) in enumerate(ends):
            incidence[row, self.index[start]] += 1.0
            incidence[row, self.index[end]] -= 1.0
        conductance = 1.0 / np.array([each.return_ohm for each in self.conductors])
        # Kirchhoff: incidence' · conductance · incidence · potentials = currents fed in.
        network = incidence.T * conductance @ incidence
        self.shares: NDArray[np.float64] = (
            conductance[:, None] * incidence @ np.linalg.pinv(network, hermitian=True)
        )

    def _at(self, node: str) -> str:
        return root(self.joined, node)

    def back(self, place: str, shares: list[SourceShare]) -> Iterator[ConductorEnd]:
        """Every return that carries something of a fault at a place, judged where it enters."""
        fed = self.shares[:, self.index[self._at(place)]]
        left = [self.index[self._at(each.driven_from)] for each in shares]
        # Rounded, so that what a tree leads one way only is a whole share.
        parts = (fed[:, None] - self.shares[:, left]).round(9)
        parts[-1] = np.sign(parts[-1])  # the bond is judged as if no other way led back
        for end in ENDS:
            sign = 1.0 if end == "start" else -1.0
            for row in np.flatnonzero((sign * parts > 0.0).any(axis=1)).tolist():
                entering = [
                    (share, sign * part)
                    for share, part in zip(shares, parts[row].tolist(), strict=True)
                    if sign * part > 0.0
                ]
                yield judged(self.conductors[row], end, Flow(*zip(*entering, strict=True)))
