"""Load cases: what acts on the whole panel at one road speed."""

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from sunhitch.types.mount import AdhesiveFeet, FastenedFeet, LoadCaseName, LoadDuration

from .air import dynamic_pressure
from .figures import figure
from .setup import Setup, adhesive_of, standoff
from .wind import DIRECTIONS, Direction, extent, turn

Floats = NDArray[np.float64]
PRESSING: frozenset[LoadCaseName] = frozenset({"bump-down", "snow"})
"""Cases that only press the panel onto its feet."""
WITHOUT_SUCTION = PRESSING | {"own-weight"}


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
    density : float
        Of the air while driving [kg/m³].
    pushes : ndarray, shape (k, 2)
        Rearward and sideways push in roof directions, alternatives [N].
    up, down : float
        Inertia upwards beyond gravity, and all that presses down [N].
    relief : float
        Weight that may be counted against suction [N].
    depends_on_speed : bool
        Whether road speed changes the case.
    directions : tuple of str
        Where the air of the suctions comes from.
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
    density: float = 0.0
    pushes: Floats = field(default_factory=lambda: np.zeros((1, 2)))
    up: float = 0.0
    down: float = 0.0
    relief: float = 0.0
    depends_on_speed: bool = True
    directions: tuple[Direction, ...] = ()

    @property
    def lift_area(self) -> float:
        """Largest suction per unit of q among the directions of the wind [m²]."""
        return float(self.lifts[:, 0].max())


@dataclass(frozen=True, slots=True)
class Climate:
    """Air and bond that go together: dense air is cold, and so is the bond below it.

    Titles of its cases end in `suffix`; density [kg/m³], bond line while driving [°C].
    """

    suffix: str
    density: float
    bond_c: float


def climates(setup: Setup) -> list[Climate]:
    """Frost with its dense air; where something is glued, heat with its soft bond too."""
    conditions = setup.conditions
    if adhesive_of(setup.request) is None:
        return [Climate("", conditions.density, conditions.lowest_air_c)]
    return [
        Climate(", in frost", conditions.density, conditions.lowest_air_c),
        Climate(", in heat", conditions.hot_density, conditions.driving_c),
    ]


def cases(setup: Setup, speed: float) -> list[CaseLoad]:
    """Load cases at one road speed [m/s], those that do not depend on it included.

    Cases of driving come once for each climate, under one name.
    """
    driving = [
        case
        for climate in climates(setup)
        for case in (
            *_driving_wind(setup, climate, speed),
            *_driving_inertia(setup, climate, speed),
        )
    ]
    return [*driving, *_parked(setup)]


def drag(setup: Setup, q: float, direction: Direction) -> float:
    """Push of the wind along its direction on edges, feet and surface [N]."""
    request = setup.request
    given = setup.air.edge_drag_coefficient
    edge = figure("wind_default", "edge_drag") if given is None else given
    spacer = request.spacer.thickness_m if request.spacer else 0.0
    turned: Direction = "left" if direction in ("front", "rear") else "front"
    across = extent(request.position, setup.sides, turned)
    front = across * (request.panel.thickness_m + spacer) + _feet_front(setup)
    return q * (edge * front + figure("wind_default", "skin_friction") * setup.area)


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


def _lifts(setup: Setup, shares: dict[Direction, float]) -> tuple[Floats, float, float]:
    """Suctions from some directions, each with its share of the dynamic pressure."""
    chosen = [(setup.suctions[direction], share) for direction, share in shares.items()]
    return (
        np.concatenate([one.gust * share for one, share in chosen]),
        max(one.peak * share for one, share in chosen),
        max(one.local * share for one, share in chosen),
    )


def _driving_wind(setup: Setup, climate: Climate, speed: float) -> list[CaseLoad]:
    conditions = setup.conditions
    return [
        _mean(setup, climate, speed, "highway-hours", "Hours at road speed", "hours"),
        _gust(setup, climate, speed + conditions.headwind),
        _side_gust(
            setup,
            climate,
            "crosswind-gust",
            "Road speed with a gust from the side, while cornering",
            (speed, conditions.crosswind),
            setup.mass * conditions.sideways / 2,
        ),
        _side_gust(
            setup,
            climate,
            "passing-vehicle",
            "Large vehicle that passes",
            (speed, conditions.passing),
            0.0,
        ),
    ]


def _gust(setup: Setup, climate: Climate, air: float) -> CaseLoad:
    q = dynamic_pressure(climate.density, air)
    lifts, peak, local = _lifts(setup, {"front": 1.0})
    return CaseLoad(
        "headwind-gust",
        f"Road speed with a gust from ahead{climate.suffix}",
        "gust",
        climate.bond_c,
        air,
        q,
        lifts,
        peak,
        local,
        pushes=_pushes((drag(setup, q, "front"), 0.0)),
        density=climate.density,
        relief=_relief(setup),
        directions=("front",),
    )


def side_share(speed: float, gust: float) -> float:
    """Dynamic pressure that counts for the coefficients of a side, as a share of the resultant's.

    Coefficients of one direction stand for air from within 45° of it. While driving, air comes from
    the side's sector only up to the speed of the gust itself; every speed up to the road speed
    has been driven through, so the worst of these counts.

    Parameters
    ----------
    speed, gust : float
        Road speed and gust from the side [m/s].

    References
    ----------
    EN 1991-1-4:2005, 7.2.1 (from memory).
    """
    resultant = speed**2 + gust**2
    return (min(speed, gust) ** 2 + gust**2) / resultant if resultant > 0.0 else 1.0


def _side_gust(
    setup: Setup,
    climate: Climate,
    name: LoadCaseName,
    title: str,
    speeds: tuple[float, float],
    inertia: float,
) -> CaseLoad:
    air = math.hypot(*speeds)
    q = dynamic_pressure(climate.density, air)
    aside = side_share(*speeds)
    lifts, peak, local = _lifts(setup, {"front": 1.0, "left": aside, "right": aside})
    return CaseLoad(
        name,
        f"{title}{climate.suffix}",
        "gust",
        climate.bond_c,
        air,
        q,
        lifts,
        peak,
        local,
        pushes=_pushes((drag(setup, q, "front"), drag(setup, q * aside, "left") + inertia)),
        density=climate.density,
        relief=_relief(setup),
        directions=("front", "left", "right"),
    )


def _mean(
    setup: Setup,
    climate: Climate,
    speed: float,
    name: LoadCaseName,
    title: str,
    duration: LoadDuration = "gust",
    push: tuple[float, float] = (0.0, 0.0),
    up: float = 0.0,
) -> CaseLoad:
    """Mean suction at road speed, with an inertia push besides."""
    q = dynamic_pressure(climate.density, speed)
    front = setup.suctions["front"]
    return CaseLoad(
        name,
        f"{title}{climate.suffix}",
        duration,
        climate.bond_c,
        speed,
        q,
        front.mean,
        front.local_mean,
        front.local_mean,
        pushes=_pushes((push[0] + drag(setup, q, "front"), push[1])),
        density=climate.density,
        up=up,
        relief=0.0 if up else _relief(setup),
        directions=("front",),
    )


def _relief(setup: Setup) -> float:
    return figure("wind_default", "favourable_weight") * setup.weight


def _driving_inertia(setup: Setup, climate: Climate, speed: float) -> list[CaseLoad]:
    conditions, mass = setup.conditions, setup.mass

    def case(
        name: LoadCaseName, title: str, push: tuple[float, float] = (0.0, 0.0), up: float = 0.0
    ) -> CaseLoad:
        return _mean(setup, climate, speed, name, title, push=push, up=up)

    return [
        case("braking", "Emergency braking", push=(mass * conditions.forward, 0.0)),
        case("pulling-away", "Pulling away", push=(mass * conditions.rearward, 0.0)),
        case("cornering", "Cornering", push=(0.0, mass * conditions.sideways)),
        case("bump-up", "Bump that throws up", up=mass * conditions.up),
        CaseLoad(
            "bump-down",
            f"Bump that presses down{climate.suffix}",
            "gust",
            climate.bond_c,
            down=mass * conditions.down,
            depends_on_speed=False,
        ),
    ]


def _parked(setup: Setup) -> list[CaseLoad]:
    conditions = setup.conditions
    along, aside = (drag(setup, conditions.storm_pa, side) for side in ("front", "left"))
    slope = setup.weight * math.sin(math.radians(conditions.slope_deg))
    snow = snow_pressure(conditions.snow_pa)
    return [
        CaseLoad(
            "parked-storm",
            "Storm while parked, wind from any side",
            "gust",
            figure("travel_default", "bond_storm_c"),
            conditions.storm_gust,
            conditions.storm_pa,
            *_lifts(setup, dict.fromkeys(DIRECTIONS, 1.0)),
            pushes=_pushes((along, 0.0), (0.0, aside)),
            relief=_relief(setup),
            depends_on_speed=False,
            directions=DIRECTIONS,
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
            conditions.parked_c,
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
