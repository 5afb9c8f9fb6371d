"""Net suction on a panel by zone of the roof, gap below it and direction of the wind."""

from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Literal, cast

import numpy as np

from sunhitch.types.mount import MountVehicle, PanelWind
from sunhitch.types.shade import PanelPosition
from sunhitch_service.engine.arrays import Floats, Numbers
from sunhitch_service.engine.tables import table

from .figures import DOMAIN, figure

Direction = Literal["front", "rear", "left", "right"]
ZoneName = Literal["corner", "leading-strip", "behind-strip", "far"]
DIRECTIONS: tuple[Direction, ...] = ("front", "rear", "left", "right")
ZONES: tuple[ZoneName, ...] = ("corner", "leading-strip", "behind-strip", "far")
GRID = (48, 48)
"""Cells along a panel and across it: as many, since either side may be called its length."""


@dataclass(frozen=True, slots=True)
class Suction:
    """Suction on the panel with the wind from one side, per unit of dynamic pressure.

    Parameters
    ----------
    wind_from : str
        Where the air comes from.
    gust, mean : ndarray, shape (p, 3)
        Uplift [m²] and its moments about the panel's middle [m³], for gusts and for hours, at
        each of the places that count: one, unless the place is left open.
    peak : float
        Largest net coefficient anywhere on the panel in gusts.
    local, local_mean : float
        Mean over the worst third of the panel, in gusts and for hours.
    edge, edge_mean : float
        Largest on an edge that faces the wind, in gusts and for hours.
    shares : dict
        Share of the panel's area by zone, with gust and mean coefficients.
    """

    wind_from: Direction
    gust: Floats
    mean: Floats
    peak: float
    local: float
    local_mean: float
    edge: float
    edge_mean: float
    shares: dict[ZoneName, tuple[float, float, float]]


@lru_cache(maxsize=1024)
def turn(position: PanelPosition) -> Floats:
    """Matrix that turns panel into roof directions, shape (2, 2)."""
    angle = np.deg2rad(position.rotation_deg)
    return np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])


def on_roof(position: PanelPosition, points: Floats) -> Floats:
    """Roof coordinates of points in panel coordinates, shape (n, 2)."""
    placed: Floats = points @ turn(position).T + np.array([position.x_m, position.y_m])
    return placed


def front_row(vehicle: MountVehicle) -> dict[ZoneName, tuple[float, float]]:
    """Mean and peak suction by zone behind the roof's front edge.

    A rounded front of unknown radius takes the table's smallest ratio of radius to height.
    """
    if has_sharp_front(vehicle):
        return shape_row("sharp", 0.0)
    given, least = vehicle.front_radius_m, min(_shapes("rounded"))
    return shape_row("rounded", least if given is None else given / vehicle.roof_height_m)


def has_sharp_front(vehicle: MountVehicle) -> bool:
    """Whether the front counts as sharp: of unknown shape, or rounded less than the table knows."""
    given = vehicle.front_radius_m
    if vehicle.front != "rounded":
        return True
    return given is not None and given / vehicle.roof_height_m < min(_shapes("rounded"))


def reach_m(vehicle: MountVehicle, across_m: float, direction: Direction) -> float:
    """How far behind the windward edge the suction of an edge counts [m]."""
    far = direction == "front" and has_sharp_front(vehicle)
    share = figure("wind_default", "sharp_reach" if far else "edge_reach")
    return share * min(across_m, 2 * vehicle.roof_height_m)


def shape_row(front: str, ratio: float) -> dict[ZoneName, tuple[float, float]]:
    """Mean and peak suction by zone for a front edge, at the next smaller tabled ratio."""
    shapes = _shapes(front)
    return shapes[max(tabled for tabled in shapes if tabled <= ratio)]


@cache
def _shapes(front: str) -> dict[float, dict[ZoneName, tuple[float, float]]]:
    """Mean and peak suction by least ratio of radius to height, and by zone."""
    found: dict[float, dict[ZoneName, tuple[float, float]]] = {}
    for row in table(DOMAIN, "suction").rows:
        if row["front"] == front:
            zone = cast("ZoneName", row["zone"])
            own = found.setdefault(float(row["least_radius_over_height"]), {})
            own[zone] = float(row["mean"]), float(row["peak"])
    return found


def net_peak(peak: float, air: PanelWind, bonded: bool, direction: Direction) -> float:
    """Net suction in gusts out of the roof's own.

    Parameters
    ----------
    peak : float
        Suction on the bare roof.
    air : PanelWind
        What lies below the panel, and what the caller credits.
    bonded : bool
        Whether there is no gap.
    direction : str
        Where the air comes from; a fairing closes the gap to air from ahead only.
    """
    if air.net_uplift_coefficient is not None:
        return air.net_uplift_coefficient
    least = figure("wind_default", "least_peak")
    closed = air.under_panel == "closed-at-front" and direction == "front"
    if bonded or closed:
        return max(least, peak)
    if air.under_panel == "blocked-behind":
        added = peak + figure("wind_default", "scoop_added")
        return max(figure("wind_default", "scoop_least"), added, open_gap(peak, False))
    return max(least, open_gap(peak, air.equalisation_credited))


def edge_coefficients(
    gust: float, mean: float, air: PanelWind, bonded: bool, direction: Direction
) -> tuple[float, float]:
    """Net suction on an edge that faces the wind, in gusts and for hours, out of the panel's.

    Below the free edge of a bonded sheet air stands still, as below a panel that is blocked
    behind; a fairing, or a bead of sealant, keeps air from ahead out.
    """
    if not bonded or (air.under_panel == "closed-at-front" and direction == "front"):
        return gust, mean
    added, least = (figure("wind_default", name) for name in ("scoop_added", "scoop_least"))
    return (
        max(least, gust + added) if air.net_uplift_coefficient is None else gust,
        mean + added if air.mean_uplift_coefficient is None else mean,
    )


def open_gap(peak: float, equalised: bool) -> float:
    """Net suction over an open gap: the roof's, raised at the edge, perhaps equalised."""
    share = figure("wind_default", "equalisation_factor") if equalised else 1.0
    return peak * figure("wind_default", "edge_factor") * share


def strip_depth(across_m: float, height_m: float) -> float:
    """Depth of the leading strip [m], a tenth of the smaller of width and twice the height.

    References
    ----------
    EN 1991-1-4:2005, figure 7.6 (from memory); never below a least depth by judgement.
    """
    return max(min(across_m, 2 * height_m) / 10, figure("wind_default", "least_strip_m"))


def zone_of(
    ahead: Floats, aside: Floats, across_m: float, height_m: float, end_m: float
) -> Numbers:
    """Zone numbers of points on a roof.

    Parameters
    ----------
    ahead : ndarray
        Distance behind the windward edge [m]; negative counts as on it.
    aside : ndarray
        Distance to the nearer side edge [m].
    across_m, height_m : float
        Roof across the wind, and its height above the ground [m].
    end_m : float
        Where the zone behind the strip ends, see `reach_m` [m].

    Returns
    -------
    ndarray of int
        Index into `ZONES`.

    References
    ----------
    EN 1991-1-4:2005, figure 7.6 (from memory); least strip by judgement.
    """
    strip, corner = strip_depth(across_m, height_m), min(across_m, 2 * height_m) / 4
    zones = np.where(ahead < end_m, 2, 3)
    zones = np.where(ahead < strip, 1, zones)
    return np.where((ahead < strip) & (aside < corner), 0, zones)


@lru_cache(maxsize=512)
def suction(
    vehicle: MountVehicle,
    position: PanelPosition,
    sides_m: tuple[float, float],
    air: PanelWind,
    bonded: bool,
    direction: Direction,
) -> Suction:
    """Suction on a panel with the wind from one side.

    Parameters
    ----------
    vehicle : MountVehicle
        Roof.
    position : PanelPosition
        Place of the panel.
    sides_m : tuple of float
        Length and width of the panel [m].
    air : PanelWind
        What lies below the panel.
    bonded : bool
        Whether there is no gap.
    direction : str
        Where the air comes from.
    """
    local = _grid(sides_m)
    ahead, aside, across = _distances(vehicle, on_roof(position, local), direction)
    end_m = reach_m(vehicle, across, direction)
    zones = zone_of(ahead, aside, across, vehicle.roof_height_m, end_m)
    gust, mean = coefficients(vehicle, air, bonded, direction)
    shift = centre_shift(position, sides_m, air, direction)
    middle = local - np.array(sides_m) / 2
    area = sides_m[0] * sides_m[1]
    counts = np.bincount(zones, minlength=len(ZONES)) / len(zones)
    present: dict[ZoneName, tuple[float, float, float]] = {
        zone: (float(counts[i]), float(gust[i]), float(mean[i]))
        for i, zone in enumerate(ZONES)
        if counts[i] > 0
    }
    peak, local_mean = max(share[1] for share in present.values()), worst_third(mean[zones])
    return Suction(
        direction,
        _resultants(gust[zones], middle, area, shift)[None],
        _resultants(mean[zones], middle, area, shift)[None],
        peak,
        worst_third(gust[zones]),
        local_mean,
        *edge_coefficients(peak, local_mean, air, bonded, direction),
        present,
    )


def coefficients(
    vehicle: MountVehicle, air: PanelWind, bonded: bool, direction: Direction
) -> tuple[Floats, Floats]:
    """Net suction by zone, in gusts and for hours."""
    rows = front_row(vehicle) if direction == "front" else shape_row("sharp", 0.0)
    return (
        np.array([net_peak(rows[zone][1], air, bonded, direction) for zone in ZONES]),
        np.array([_mean(rows[zone][0], air) for zone in ZONES]),
    )


def worst_third(coefficients: Floats) -> float:
    """Mean over the worst third of the places: what the sheet between two rows of feet sees."""
    count = -(-len(coefficients) // 3)
    return float(np.sort(coefficients)[-count:].mean())


def _mean(tabled: float, air: PanelWind) -> float:
    if air.mean_uplift_coefficient is not None:
        return air.mean_uplift_coefficient
    scoops = air.under_panel == "blocked-behind"
    added = figure("wind_default", "scoop_added") if scoops else 0.0
    return max(figure("wind_default", "least_mean"), tabled + added)


def _grid(sides_m: tuple[float, float]) -> Floats:
    steps = [(np.arange(n) + 0.5) / n * side for n, side in zip(GRID, sides_m, strict=True)]
    return np.stack(np.meshgrid(*steps, indexing="ij"), axis=-1).reshape(-1, 2)


def _distances(
    vehicle: MountVehicle, points: Floats, direction: Direction
) -> tuple[Floats, Floats, float]:
    """Distance behind the windward edge, to the nearer side, and the roof's size across."""
    size = np.array([vehicle.roof_length_m, vehicle.roof_width_m])
    axis = 0 if direction in ("front", "rear") else 1
    along = points[:, axis]
    ahead = along if direction in ("front", "left") else size[axis] - along
    other = points[:, 1 - axis]
    return ahead, np.minimum(other, size[1 - axis] - other), float(size[1 - axis])


def windward(position: PanelPosition, direction: Direction) -> Floats:
    """Direction towards the wind, in panel directions, shape (2,)."""
    towards = {"front": (-1.0, 0.0), "rear": (1.0, 0.0), "left": (0.0, -1.0), "right": (0.0, 1.0)}
    return np.array(towards[direction]) @ turn(position)


def extent(position: PanelPosition, sides_m: tuple[float, float], direction: Direction) -> float:
    """Size of the panel along the wind [m]."""
    return float(np.abs(windward(position, direction)) @ np.array(sides_m))


def centre_shift(
    position: PanelPosition, sides_m: tuple[float, float], air: PanelWind, direction: Direction
) -> Floats:
    """From the panel's middle to the centre of suction, in panel directions [m]."""
    given = air.centre_of_pressure_fraction
    share = figure("wind_default", "centre_of_pressure") if given is None else given
    chord = extent(position, sides_m, direction)
    return windward(position, direction) * chord * (0.5 - share)


def _resultants(coefficients: Floats, middle: Floats, area: float, shift: Floats) -> Floats:
    uplift = coefficients.mean() * area
    moments = (coefficients[:, None] * middle).mean(axis=0) * area
    return np.concatenate([[uplift], moments + uplift * shift])
