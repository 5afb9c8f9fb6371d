"""Suction on a panel at every place of a roof, its sides along the roof's."""

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from sunhitch.types.mount import MountVehicle, PanelWind
from sunhitch.types.shade import PanelPosition

from .wind import GRID, Direction, Suction, centre_shift, coefficients, reach_m, strip_depth, turn

Floats = NDArray[np.float64]


def suction_anywhere(
    vehicle: MountVehicle,
    sides_m: tuple[float, float],
    turned: bool,
    air: PanelWind,
    direction: Direction,
) -> tuple[Suction, Floats]:
    """Suction at places that stand for all others: between them no cell changes its zone.

    Parameters
    ----------
    vehicle : MountVehicle
        Roof.
    sides_m : tuple of float
        Length and width of the panel [m].
    turned : bool
        Whether its length lies across the roof.
    air : PanelWind
        What lies below the panel.
    direction : str
        Where the air comes from.

    Returns
    -------
    suction : Suction
        Resultants in panel directions, of p places.
    places : ndarray, shape (p, 2)
        Corner of the panel nearest the roof's front left corner [m].
    """
    along = 0 if direction in ("front", "rear") else 1
    size = (vehicle.roof_length_m, vehicle.roof_width_m)
    sides, cells = (pair[::-1] if turned else pair for pair in (sides_m, GRID))
    centres = [(np.arange(n) + 0.5) / n * side for n, side in zip(cells, sides, strict=True)]
    across, height = size[1 - along], vehicle.roof_height_m
    strip, end = strip_depth(across, height), reach_m(vehicle, across, direction)
    corner = min(across, 2 * height) / 4
    borders = [np.array([strip, end]), np.array([corner, across - corner])]
    if direction in ("rear", "right"):
        borders[0] = size[along] - borders[0]
    starts = [
        _starts(border, centres[axis], size[axis] - sides[axis])
        for border, axis in zip(borders, (along, 1 - along), strict=True)
    ]
    ahead = starts[0][:, None] + centres[along]
    ahead = size[along] - ahead if direction in ("rear", "right") else ahead
    aside = starts[1][:, None] + centres[1 - along]
    beside = (aside < corner) | (across - aside < corner)
    position = PanelPosition(x_m=0.0, y_m=0.0, rotation_deg=90.0 if turned else 0.0)
    shift = centre_shift(position, sides_m, air, direction)
    arms = [centres[axis] - sides[axis] / 2 for axis in (along, 1 - along)]
    area = sides_m[0] * sides_m[1]
    found = []
    for by_zone in coefficients(vehicle, air, False, direction):
        base = np.where(ahead < strip, by_zone[1], np.where(ahead < end, by_zone[2], by_zone[3]))
        added = np.where(ahead < strip, by_zone[0] - by_zone[1], 0.0)
        uplift = base.mean(axis=1)[:, None] + np.outer(added.mean(axis=1), beside.mean(axis=1))
        moments = [
            (base * arms[0]).mean(axis=1)[:, None]
            + np.outer((added * arms[0]).mean(axis=1), beside.mean(axis=1)),
            np.outer(added.mean(axis=1), (beside * arms[1]).mean(axis=1)),
        ]
        if along == 1:
            moments.reverse()
        tilt = np.stack(moments, axis=-1) @ turn(position) + uplift[..., None] * shift
        found.append(area * np.concatenate([uplift[..., None], tilt], axis=-1).reshape(-1, 3))
    places = np.stack(np.meshgrid(*starts, indexing="ij"), axis=-1).reshape(-1, 2)
    top = float(coefficients(vehicle, air, False, direction)[0].max())
    suction = Suction(direction, found[0], found[1], top, top, top, {})
    return suction, places if along == 0 else places[:, ::-1]


def _starts(borders: Floats, centres: Floats, room: float) -> Floats:
    """Where a panel's side may start [m]: one place between every two at which a cell crosses."""
    crossings = np.unique((borders[:, None] - centres).ravel())
    marks = np.array([0.0, *crossings[(crossings > 0.0) & (crossings < room)], room])
    return np.unique([0.0, room, *((one + other) / 2 for one, other in pairwise(marks))])
