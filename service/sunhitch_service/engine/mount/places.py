"""Suction on a panel at every place of a roof, its sides along the roof's."""

from itertools import pairwise

import numpy as np

from sunhitch.types.mount import MountVehicle, PanelWind
from sunhitch.types.shade import PanelPosition
from sunhitch_service.engine.arrays import Floats, Mask

from .wind import GRID, Direction, Suction, centre_shift, coefficients, reach_m, strip_depth, turn


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
    corner, backwards = min(across, 2 * height) / 4, direction in ("rear", "right")
    borders = np.array([strip, end])
    room = [whole - side for whole, side in zip(size, sides, strict=True)]
    behind = _starts(size[along] - borders if backwards else borders, centres[along], room[along])
    beside = _starts(np.array([corner, across - corner]), centres[1 - along], room[1 - along])
    ahead = behind[:, None] + centres[along]
    aside = beside[:, None] + centres[1 - along]
    upwind = size[along] - ahead if backwards else ahead
    in_corner = (aside < corner) | (across - aside < corner)
    position = PanelPosition(x_m=0.0, y_m=0.0, rotation_deg=90.0 if turned else 0.0)
    shift = centre_shift(position, sides_m, air, direction)
    arms = centres[along] - sides[along] / 2, centres[1 - along] - sides[1 - along] / 2

    def everywhere(by_zone: Floats) -> Floats:
        uplift, moments = _resultants(by_zone, upwind, in_corner, (strip, end), arms)
        tilt = (moments if along == 0 else moments[..., ::-1]) @ turn(position)
        whole = np.concatenate([uplift[..., None], tilt + uplift[..., None] * shift], axis=-1)
        return sides_m[0] * sides_m[1] * whole.reshape(-1, 3)

    gust, mean = coefficients(vehicle, air, False, direction)
    top = float(gust.max())
    suction = Suction(direction, everywhere(gust), everywhere(mean), top, top, top, top, top, {})
    places = np.stack(np.meshgrid(behind, beside, indexing="ij"), axis=-1).reshape(-1, 2)
    return suction, places if along == 0 else places[:, ::-1]


def _resultants(
    by_zone: Floats,
    ahead: Floats,
    in_corner: Mask,
    borders_m: tuple[float, float],
    arms: tuple[Floats, Floats],
) -> tuple[Floats, Floats]:
    """Mean coefficient (p, q), and its moments along and beside the wind (p, q, 2).

    Rows of cells ahead (p, n), and of cells beside the roof's sides (q, m), make p·q places.
    """
    (strip, end), (arm, side_arm) = borders_m, arms
    corner = in_corner.mean(axis=1)
    behind: Floats = np.where(ahead < end, by_zone[2:3], by_zone[3:])
    base: Floats = np.where(ahead < strip, by_zone[1], behind)
    added: Floats = np.where(ahead < strip, by_zone[0] - by_zone[1], 0.0)
    uplift = base.mean(axis=1)[:, None] + np.outer(added.mean(axis=1), corner)
    tilt = (base * arm).mean(axis=1)[:, None] + np.outer((added * arm).mean(axis=1), corner)
    aside = np.outer(added.mean(axis=1), (in_corner * side_arm).mean(axis=1))
    return uplift, np.stack([tilt, aside], axis=-1)


def _starts(borders: Floats, centres: Floats, room: float) -> Floats:
    """Where a panel's side may start [m]: one place between every two at which a cell crosses."""
    crossings = np.unique((borders[:, None] - centres).ravel())
    marks = np.array([0.0, *crossings[(crossings > 0.0) & (crossings < room)], room])
    return np.unique([0.0, room, *((one + other) / 2 for one, other in pairwise(marks))])
