"""Where the power goes: light, mismatch, diodes, cables."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from .cell import Array, Junction, cell_maxima
from .network import NO_DIODE, LitPanel, Network
from .newton import State
from .solution import Solution


@dataclass(frozen=True, slots=True)
class Losses:
    """Powers [W]; the losses and what is delivered add up to `unshaded`.

    Parameters
    ----------
    unshaded : float
        Every cell at its best in full light.
    light : float
        Because cells see less light.
    mismatch : float
        Because cells must share current or voltage.
    bypass : float
        Heat in bypass diodes.
    strings : float
        Heat in blocking diodes and string cables.
    delivered : float
        Global maximum.
    """

    unshaded: float
    light: float
    mismatch: float
    bypass: float
    strings: float
    delivered: float


def split(panels: dict[str, LitPanel], solution: Solution) -> Losses:
    """Split the loss at the global maximum.

    Parameters
    ----------
    panels : dict
        Panels under their light, by name.
    solution : Solution
        The array solved.
    """
    unshaded = sum(
        panel.light.size * full_power(panel.full_sun, panel.full_current)
        for panel in panels.values()
    )
    possible = _possible(solution.network)
    bypass, strings = _bypass_heat(solution), _string_heat(solution)
    delivered = solution.power(solution.best)
    return Losses(
        unshaded=unshaded,
        light=unshaded - possible,
        mismatch=possible - bypass - strings - delivered,
        bypass=bypass,
        strings=strings,
        delivered=delivered,
    )


@lru_cache(maxsize=512)
def full_power(junction: Junction, current: float) -> float:
    """Maximum power of one cell [W] at a light current [A]."""
    return float(cell_maxima(junction, np.array([current]))[0, 0])


def _possible(network: Network) -> float:
    """Every cell at its best in its own light [W]."""
    weights, found = network.cells_in_all, 0.0
    for model, junction in enumerate(network.junctions):
        ours = network.model == model
        found += float(cell_maxima(junction, network.current[ours])[0] @ weights[ours])
    return found


def _bypass_heat(solution: Solution) -> float:
    """Heat in all bypass diodes [W]."""
    network, state, row = solution.network, solution.points.state, solution.best
    in_all = network.string_many[network.string_of_group] * network.group_many
    return float(-(bypass_currents(network, state, row) * state.group_v[row]) @ in_all)


def bypass_currents(network: Network, state: State, row: int) -> Array:
    """Current through the bypass diode of every distinct group [A], shape (groups,)."""
    cells = np.add.reduceat(network.branch_many * state.branch_i[row], network.group_start)
    spare = state.string_i[row][network.string_of_group] - cells
    return np.where(network.bypass[0] > 0.0, np.maximum(spare, 0.0), 0.0)


def _string_heat(solution: Solution) -> float:
    """Heat in blocking diodes and string cables [W]."""
    network, state, row = solution.network, solution.points.state, solution.best
    i = state.string_i[row]
    drop = i * network.resistance
    if network.blocking != NO_DIODE:
        drop = drop + state.blocking_u[row] + i * network.blocking.series_resistance
    return float((i * drop) @ network.string_many)
