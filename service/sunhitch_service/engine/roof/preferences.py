"""What a fitter prefers among layouts of the same power, put into whole numbers."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sunhitch.types.panel import PanelBody
from sunhitch_service.engine.arrays import Floats, Integers
from sunhitch_service.engine.tables import table

from .candidates import Candidates
from .orientations import TICK_M, turns_alike
from .panels import Laid
from .search import PreferenceCosts

_MILLI = 1000


@dataclass(frozen=True, slots=True)
class LayoutTargets:
    """Where cables and weight should be.

    Parameters
    ----------
    prefer : str
        Row of the table of weights.
    cables_to : tuple of float
        Point that plugs should be near [m].
    middle_y_m : float
        Where the mass should lie across [m].
    axle_x_m : float or None
        Where the mass should lie along [m]; None if that is not known.
    """

    prefer: str
    cables_to: tuple[float, float]
    middle_y_m: float
    axle_x_m: float | None

    def cable_m(self, plug: tuple[float, float]) -> float:
        """Distance [m] from a plug, square to the vehicle."""
        return abs(plug[0] - self.cables_to[0]) + abs(plug[1] - self.cables_to[1])


def preference_costs(candidates: Candidates, targets: LayoutTargets) -> PreferenceCosts:
    """Costs in millimetres of cable, weighted as the table says.

    Parameters
    ----------
    candidates : Candidates
        Candidate places.
    targets : LayoutTargets
        Where cables and weight should be.

    Returns
    -------
    PreferenceCosts
        For `preferred_selection`.
    """
    row = table("roof", "tie_breaks").row("prefer", targets.prefer)
    weight = {name: round(_MILLI * float(value)) for name, value in row.items() if name != "prefer"}
    # Candidates that share a front edge or a left edge stand in one line.
    shared = [
        (weight["per_line_m"], members)
        for axis in (0, 1)
        for members in _groups(candidates.corners[:, axis])
    ]
    turns = np.array([v.quarter_turns % 2 for v in candidates.orientations], dtype=np.int64)
    orientations = _groups(turns[candidates.orientation])
    shared += [(weight["per_orientation_m"], members) for members in orientations]
    moments = [(weight["side_offset_weight"], _moments(candidates, 1, targets.middle_y_m))]
    if targets.axle_x_m is not None:
        moments.append((weight["axle_offset_weight"], _moments(candidates, 0, targets.axle_x_m)))
    costs = np.round(_plug_distances(candidates, targets) * weight["cable_weight"]).astype(np.int64)
    return PreferenceCosts(costs, shared, moments)


def _plug_distances(candidates: Candidates, targets: LayoutTargets) -> Floats:
    """Distance [m] from each candidate's plugs, turned so that they are nearest."""
    found = np.zeros(len(candidates))
    for index, oriented in enumerate(candidates.orientations):
        members = candidates.orientation == index
        corners = candidates.corners[members] * TICK_M
        plugs = [Laid("", oriented.kind, 0.0, 0.0, k).plug for k in turns_alike(oriented)]
        steps = [np.abs(corners + np.array(plug) - np.array(targets.cables_to)) for plug in plugs]
        found[members] = np.min([step.sum(axis=1) for step in steps], axis=0)
    return found


def _groups(keys: Integers) -> list[Integers]:
    return [np.flatnonzero(keys == key) for key in np.unique(keys)]


def _moments(candidates: Candidates, axis: int, target_m: float) -> Integers:
    """Offset of each candidate's middle [mm], times its mass as a share of the mean mass."""
    bodies: Sequence[PanelBody] = [v.kind.body for v in candidates.orientations]
    mass = np.array([body.mass_kg for body in bodies], dtype=np.float64)
    share: Floats = (mass / float(mass.mean()))[candidates.orientation]
    middle: Floats = (candidates.corners[:, axis] + candidates.sizes[:, axis] / 2) * TICK_M
    return np.asarray(np.round(share * (middle - target_m) * _MILLI), dtype=np.int64)
