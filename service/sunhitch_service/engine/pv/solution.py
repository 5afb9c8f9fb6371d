"""A whole array solved: network, curves and operating points."""

from dataclasses import dataclass

import numpy as np

from .cell import Array, Diode
from .curve import Curve
from .maxima import Points, solve_points
from .network import NO_DIODE, LitPanel, Network, build
from .newton import State
from .sweep import sweep

_DARK_A = 1e-9
"""Cells whose light current is below this give no power worth computing."""
_EVEN_SHARE = 0.5
"""Weight of even spacing against spacing by curvature."""


@dataclass(frozen=True, slots=True)
class Wiring:
    """Panel names in series, strings in parallel; diode and resistance [Ω] in every string."""

    strings: list[list[str]]
    blocking: Diode = NO_DIODE
    resistance: float = 0.0


@dataclass(frozen=True, slots=True)
class Solution:
    """An array under given light.

    Parameters
    ----------
    network : Network
        Its distinct parts.
    curve : Curve
        Current over voltage from short circuit to just beyond open circuit.
    points : Points
        Short circuit, open circuit and maxima; with no light, one maximum of zero power.
    """

    network: Network
    curve: Curve
    points: Points

    @property
    def best(self) -> int:
        """Row of the global maximum."""
        return self.points.maxima[0]

    @property
    def tracked(self) -> int:
        """Row where a tracker stops that walks down from open circuit to the first top."""
        return max(self.points.maxima, key=lambda row: float(self.points.state.voltage[row]))

    def power(self, row: int) -> float:
        """Array power at an operating point [W]."""
        state = self.points.state
        return float(state.voltage[row] * state.current[row])


def solve_array(panels: dict[str, LitPanel], wiring: Wiring) -> Solution:
    """Solve an array.

    Parameters
    ----------
    panels : dict
        Panels under their light, by name.
    wiring : Wiring
        How they are connected; names every panel once.

    Returns
    -------
    Solution
        Curve and operating points.

    Raises
    ------
    NotSolvedError
        If no operating point is found.
    """
    network = build(panels, wiring.strings, wiring.blocking, wiring.resistance)
    if float(np.max(network.current)) < _DARK_A:
        flat = Curve(np.array([0.0, 1.0]), np.zeros(2), np.full(2, -_DARK_A))
        return Solution(network, flat, Points(0.0, 0.0, [0], _at_rest(network)))
    curves = sweep(network)
    return Solution(network, curves.array, solve_points(network, curves))


def _at_rest(network: Network) -> State:
    def none(parts: int) -> Array:
        return np.zeros((1, parts))

    groups, strings = len(network.group_start), len(network.string_start)
    return State(
        voltage=np.zeros(1),
        current=np.zeros(1),
        junction_v=none(len(network.current)),
        bypass_u=none(groups),
        blocking_u=none(strings),
        string_i=none(strings),
        group_v=none(groups),
        branch_i=none(len(network.branch_start)),
        rise=np.zeros(1),
        curvature=np.zeros(1),
    )


def drawn(
    curve: Curve, open_circuit: float, short_circuit: float, points: int
) -> tuple[Array, Array]:
    """Points of a curve so placed that straight lines between them stay close to it.

    Parameters
    ----------
    curve : Curve
        The curve.
    open_circuit, short_circuit : float
        Its ends [V], [A].
    points : int
        How many points.

    Returns
    -------
    tuple of ndarray
        Voltages [V] from 0 to open circuit, and currents [A].
    """
    if open_circuit <= 0.0 or short_circuit <= 0.0:
        return np.zeros(points), np.zeros(points)
    end = min(int(curve.v.searchsorted(open_circuit)), len(curve.v) - 1)
    used = slice(max(int(curve.v.searchsorted(0.0, "right")) - 1, 0), end + 1)
    knots, i, slope = curve.v[used].copy(), curve.i[used].copy(), curve.slope[used]
    knots[0], i[0], knots[-1], i[-1] = 0.0, short_circuit, open_circuit, 0.0
    step = (knots[1:] - knots[:-1]) / open_circuit
    bend = np.abs(slope[1:] - slope[:-1]) * (open_circuit / short_circuit)
    length = step + np.abs(i[1:] - i[:-1]) / short_circuit
    weight = np.sqrt(bend * step) + _EVEN_SHARE * length
    along = np.zeros(len(knots))
    np.cumsum(weight, out=along[1:])
    v: Array = np.interp(np.linspace(0.0, float(along[-1]), points), along, knots)
    currents = curve.currents(v)[0]
    currents[0], currents[-1] = short_circuit, 0.0
    return v, currents
