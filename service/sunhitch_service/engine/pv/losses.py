"""Where the power goes: light, mismatch, diodes, cables."""

from collections.abc import Iterable
from functools import lru_cache

import numpy as np

from sunhitch.types.shade import LossSplit

from .cell import Array, Junction, cell_maxima, cell_maxima_of
from .network import NO_DIODE, LitPanel, Network
from .newton import State
from .solution import Solution


def loss_split(
    panels: dict[str, LitPanel], solution: Solution, lost_by_tracker_w: float
) -> LossSplit:
    """Split the loss at the global maximum.

    Parameters
    ----------
    panels : dict
        Panels under their light, by name.
    solution : Solution
        The array solved.
    lost_by_tracker_w : float
        Told with it [W].
    """
    unshaded = unshaded_power(panels.values())
    possible = _possible(solution.network)
    bypass, strings = _bypass_heat(solution), _string_heat(solution)
    delivered = solution.power(solution.best)
    return LossSplit(
        unshaded_w=unshaded,
        light_lost_w=unshaded - possible,
        mismatch_w=possible - bypass - strings - delivered,
        bypass_diodes_w=bypass,
        blocking_and_cable_w=strings,
        delivered_w=delivered,
        tracker_w=lost_by_tracker_w,
    )


def unshaded_power(panels: Iterable[LitPanel]) -> float:
    """Power of every cell at its best in the sun's full light, added up [W]."""
    return sum(p.light.size * full_power(p.full_sun, p.full_current) for p in panels)


@lru_cache(maxsize=512)
def full_power(junction: Junction, current: float) -> float:
    """Maximum power of one cell [W] at a light current [A]."""
    return float(cell_maxima(junction, np.array([current]))[0, 0])


def _possible(network: Network) -> float:
    """Every cell at its best in its own light [W]."""
    weights, found = network.cells_in_all, 0.0
    for model, junction in enumerate(network.junctions):
        ours = network.model == model
        found += float(cell_maxima_of(junction, network.current[ours])[0] @ weights[ours])
    return found


def _bypass_heat(solution: Solution) -> float:
    """Heat in all bypass diodes [W]."""
    network, state, row = solution.network, solution.points.state, solution.best
    in_all = network.string_many[network.string_of_group] * network.group_many
    return 0.0 - float((bypass_currents(network, state, row) * state.group_v[row]) @ in_all)


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
