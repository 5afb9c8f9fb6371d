"""A whole array solved: network, curves and operating points."""

from dataclasses import dataclass

import numpy as np

from .cell import Array, Diode
from .curve import IvCurve
from .maxima import Points, solve_points
from .network import NO_DIODE, LitPanel, Network, build
from .newton import State
from .sweep import sweep

_DARK_A = 1e-9
"""Cells whose light current is below this give no power worth computing."""
_EVEN_SHARE = 0.5
"""Weight of even spacing against spacing by curvature."""


@dataclass(frozen=True, slots=True)
class Interconnection:
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
    curve : IvCurve
        Current over voltage from short circuit to just beyond open circuit.
    points : Points
        Short circuit, open circuit and maxima; with no light, one maximum of zero power.
    """

    network: Network
    curve: IvCurve
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


def solve_array(panels: dict[str, LitPanel], wiring: Interconnection) -> Solution:
    """Solve an array.

    Parameters
    ----------
    panels : dict
        Panels under their light, by name.
    wiring : Interconnection
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
        flat = IvCurve(np.array([0.0, 1.0]), np.zeros(2), np.full(2, -_DARK_A))
        return Solution(network, flat, Points(0.0, 0.0, [0], 0.0, _at_rest(network)))
    curves = sweep(network)
    return Solution(network, curves.array, solve_points(network, curves))


@dataclass(frozen=True, slots=True)
class MaximumPower:
    """Global maximum of an array: power [W], voltage [V], current [A]; and its short circuit [A].

    No operating point gives more than `bound` [W], at most 1e-4 above the power unless the search
    was cut short.
    """

    power: float
    voltage: float
    current: float
    bound: float
    short_circuit_current: float


def maximum_power(panels: dict[str, LitPanel], wiring: Interconnection) -> MaximumPower:
    """Global maximum of power of an array, exact and certified.

    Parameters
    ----------
    panels : dict
        Panels under their light, by name.
    wiring : Interconnection
        How they are connected; names every panel once.

    Returns
    -------
    MaximumPower
        Zero without light.

    Raises
    ------
    NotSolvedError
        If no operating point is found.
    """
    solution = solve_array(panels, wiring)
    state, best = solution.points.state, solution.best
    return MaximumPower(
        solution.power(best),
        float(state.voltage[best]),
        float(state.current[best]),
        solution.points.power_bound,
        solution.points.short_circuit_current,
    )


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
        conductance=np.zeros(1),
        curvature=np.zeros(1),
    )


def drawn(solution: Solution, points: int) -> tuple[Array, Array]:
    """Points of the curve so placed that straight lines between them stay close to it.

    The global maximum is one of them, and none exceeds its power.

    Parameters
    ----------
    solution : Solution
        The array solved.
    points : int
        How many points.

    Returns
    -------
    tuple of ndarray
        Voltages [V] from 0 to open circuit, and currents [A].
    """
    opens, shorted = solution.points.open_circuit_voltage, solution.points.short_circuit_current
    if shorted <= 0.0:
        return np.zeros(points), np.zeros(points)
    v = _places(solution.curve, opens, shorted, points)
    i = solution.curve.currents(v)[0]
    state, best = solution.points.state, solution.best
    top_v, top_i = state.voltage[best], state.current[best]
    nearest = 1 + int(np.argmin(np.abs(v[1:-1] - top_v)))
    v[nearest] = top_v
    i[1:nearest] = np.maximum(i[1:nearest], top_i)
    i[nearest:] = np.minimum(i[nearest:], top_i)
    i[1:] = np.minimum(i[1:], top_v * top_i / v[1:])
    i[0], i[nearest], i[-1] = shorted, top_i, 0.0
    return v, i


def _places(curve: IvCurve, opens: float, shorted: float, points: int) -> Array:
    """Voltages from zero to open circuit, dense where the curve bends."""
    end = min(int(curve.v.searchsorted(opens)), len(curve.v) - 1)
    used = slice(max(int(curve.v.searchsorted(0.0, "right")) - 1, 0), end + 1)
    knots, i, slope = curve.v[used].copy(), curve.i[used].copy(), curve.slope[used]
    knots[0], i[0], knots[-1], i[-1] = 0.0, shorted, opens, 0.0
    step = (knots[1:] - knots[:-1]) / opens
    bend = np.abs(slope[1:] - slope[:-1]) * (opens / shorted)
    length = step + np.abs(i[1:] - i[:-1]) / shorted
    weight = np.sqrt(bend * step) + _EVEN_SHARE * length
    along = np.zeros(len(knots))
    np.cumsum(weight, out=along[1:])
    v: Array = np.interp(np.linspace(0.0, float(along[-1]), points), along, knots)
    return v
