"""Load cases: what acts on the whole panel at one road speed."""

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from sunhitch.types.mount import AdhesiveFeet, FastenedFeet, LoadCaseName, LoadDuration

from .air import dynamic_pressure
from .figures import figure
from .setup import Setup, standoff
from .wind import DIRECTIONS, Direction, extent, turn

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class CaseLoad:
    """Everything that acts at once in one load case; all parts are adverse, none negative.

    Parameters
    ----------
    name, title, duration : str
        Stable name, the case in words, and how long it acts.
    bond_c : float
        Bond line then [°C].
    air_speed, q : float
        Speed [m/s] and dynamic pressure [Pa] of the air.
    lifts : ndarray, shape (d, 3)
        Suction per unit of q and its moments, for each direction of the wind that may act.
    peak, local : float
        Largest suction coefficient on the panel, and that over its worst third.
    pushes : ndarray, shape (k, 2)
        Rearward and sideways push in roof directions, alternatives [N].
    up, down : float
        Inertia upwards beyond gravity, and all that presses down [N].
    relief : float
        Weight that may be counted against suction [N].
    depends_on_speed : bool
        Whether road speed changes the case.
    """

    name: LoadCaseName
    title: str
    duration: LoadDuration
    bond_c: float
    air_speed: float = 0.0
    q: float = 0.0
    lifts: Floats = field(default_factory=lambda: np.zeros((1, 3)))
    peak: float = 0.0
    local: float = 0.0
    pushes: Floats = field(default_factory=lambda: np.zeros((1, 2)))
    up: float = 0.0
    down: float = 0.0
    relief: float = 0.0
    depends_on_speed: bool = True

    @property
    def lift_area(self) -> float:
        """Largest suction per unit of q among the directions of the wind [m²]."""
        return float(self.lifts[:, 0].max())


def cases(setup: Setup, speed: float) -> list[CaseLoad]:
    """Load cases at one road speed [m/s], those that do not depend on it included."""
    return [*_driving_wind(setup, speed), *_driving_inertia(setup, speed), *_parked(setup)]


def drag(setup: Setup, q: float, direction: Direction) -> float:
    """Push of the wind along its direction on edges, feet and surface [N]."""
    request = setup.request
    given = setup.air.edge_drag_coefficient
    edge = figure("wind_default", "edge_drag") if given is None else given
    spacer = request.spacer.thickness_m if request.spacer else 0.0
    front = _across(setup, direction) * (request.panel.thickness_m + spacer) + _feet_front(setup)
    return q * (edge * front + figure("wind_default", "skin_friction") * setup.area)


def _across(setup: Setup, direction: Direction) -> float:
    turned: Direction = "left" if direction in ("front", "rear") else "front"
    return extent(setup.request.position, setup.sides, turned)


def _feet_front(setup: Setup) -> float:
    mounting = setup.request.mounting
    if isinstance(mounting, AdhesiveFeet):
        width = max(mounting.pad_length_m, mounting.pad_width_m)
    elif isinstance(mounting, FastenedFeet):
        width = mounting.base_width_m
    else:
        width = 0.0
    return len(setup.points) * width * standoff(setup.request)


def _pushes(*options: tuple[float, float]) -> Floats:
    return np.abs(np.array(options, dtype=np.float64))


def _lifts(setup: Setup, *directions: Direction) -> tuple[Floats, float, float]:
    chosen = [setup.suctions[direction] for direction in directions]
    return (
        np.array([one.gust for one in chosen]),
        max(one.peak for one in chosen),
        max(one.local for one in chosen),
    )


def _driving_wind(setup: Setup, speed: float) -> list[CaseLoad]:
    travel = setup.travel
    return [
        _mean(setup, speed, "highway-hours", "Hours at road speed", "hours"),
        _gust(setup, "headwind-gust", "Road speed with a gust from ahead", speed + travel.headwind),
        _side_gust(
            setup,
            "crosswind-gust",
            "Road speed with a gust from the side, while cornering",
            math.hypot(speed, travel.crosswind),
            setup.mass * travel.sideways / 2,
        ),
        _side_gust(
            setup,
            "passing-vehicle",
            "Large vehicle that passes",
            math.hypot(speed, travel.passing),
            0.0,
        ),
    ]


def _gust(setup: Setup, name: LoadCaseName, title: str, air: float) -> CaseLoad:
    q = dynamic_pressure(setup.travel.density, air)
    suction = _lifts(setup, "front")
    return CaseLoad(
        name,
        title,
        "gust",
        setup.travel.driving_c,
        air,
        q,
        *suction,
        _pushes((drag(setup, q, "front"), 0.0)),
        relief=_relief(setup),
    )


def _side_gust(
    setup: Setup, name: LoadCaseName, title: str, air: float, inertia: float
) -> CaseLoad:
    q = dynamic_pressure(setup.travel.density, air)
    suction = _lifts(setup, "front", "left", "right")
    return CaseLoad(
        name,
        title,
        "gust",
        setup.travel.driving_c,
        air,
        q,
        *suction,
        _pushes((drag(setup, q, "front"), drag(setup, q, "left") + inertia)),
        relief=_relief(setup),
    )


def _mean(
    setup: Setup,
    speed: float,
    name: LoadCaseName,
    title: str,
    duration: LoadDuration = "gust",
    push: tuple[float, float] = (0.0, 0.0),
    up: float = 0.0,
) -> CaseLoad:
    """Mean suction at road speed, with an inertia push besides."""
    q = dynamic_pressure(setup.travel.density, speed)
    front = setup.suctions["front"]
    return CaseLoad(
        name,
        title,
        duration,
        setup.travel.driving_c,
        speed,
        q,
        front.mean[None, :],
        front.local_mean,
        front.local_mean,
        _pushes((push[0] + drag(setup, q, "front"), push[1])),
        up=up,
        relief=0.0 if up else _relief(setup),
    )


def _relief(setup: Setup) -> float:
    return figure("wind_default", "favourable_weight") * setup.weight


def _driving_inertia(setup: Setup, speed: float) -> list[CaseLoad]:
    travel, mass = setup.travel, setup.mass
    return [
        _mean(setup, speed, "braking", "Emergency braking", push=(mass * travel.forward, 0.0)),
        _mean(setup, speed, "pulling-away", "Pulling away", push=(mass * travel.rearward, 0.0)),
        _mean(setup, speed, "cornering", "Cornering", push=(0.0, mass * travel.sideways)),
        _mean(setup, speed, "bump-up", "Bump that throws up", up=mass * travel.up),
        CaseLoad(
            "bump-down",
            "Bump that presses down",
            "gust",
            travel.driving_c,
            down=mass * travel.down,
            depends_on_speed=False,
        ),
    ]


def _parked(setup: Setup) -> list[CaseLoad]:
    travel = setup.travel
    along, aside = (drag(setup, travel.storm_pa, side) for side in ("front", "left"))
    slope = setup.weight * math.sin(math.radians(travel.slope_deg))
    snow = snow_pressure(travel.snow_pa)
    return [
        CaseLoad(
            "parked-storm",
            "Storm while parked, wind from any side",
            "gust",
            figure("travel_default", "bond_storm_c"),
            travel.storm_gust,
            travel.storm_pa,
            *_lifts(setup, *DIRECTIONS),
            _pushes((along, 0.0), (0.0, aside)),
            relief=_relief(setup),
            depends_on_speed=False,
        ),
        CaseLoad(
            "snow",
            "Snow while parked",
            "permanent",
            0.0,
            down=snow * setup.area + setup.weight,
            depends_on_speed=False,
        ),
        CaseLoad(
            "own-weight",
            "Own weight for years",
            "permanent",
            travel.parked_c,
            pushes=_pushes((slope, 0.0), (0.0, slope)),
            relief=_relief(setup),
            down=setup.weight,
            depends_on_speed=False,
        ),
    ]


def snow_pressure(ground_pa: float) -> float:
    """Snow on a flat, unheated roof [Pa].

    References
    ----------
    ASCE/SEI 7-16, 7.3, 0.7·Ce·Ct·I·pg with Ce and I of 1.
    """
    return figure("limit", "snow_shape") * figure("limit", "snow_thermal") * ground_pa


def in_panel(setup: Setup, pushes: Floats) -> Floats:
    """Size of pushes along the panel's sides, whichever way they act, shape (k, 2) [N]."""
    sizes: Floats = pushes @ np.abs(turn(setup.request.position))
    return sizes
