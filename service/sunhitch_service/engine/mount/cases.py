"""Load cases: what acts on the whole panel, at any number of road speeds at once."""

import math
from dataclasses import dataclass

import msgspec
import numpy as np
from msgspec.structs import replace

from sunhitch.texts import Text, load_case, statement
from sunhitch.types.mount import AdhesiveFeet, FastenedFeet, LoadCaseName, LoadDuration
from sunhitch_service.engine.arrays import Floats, Mask

from .air import dynamic_pressure
from .figures import figure
from .raised import force_coefficient, push_area
from .setup import Setup, adhesive_of, standoff
from .wind import DIRECTIONS, Direction, extent, turn

PRESSING: frozenset[LoadCaseName] = frozenset({"bump-down", "snow"})
"""Cases that press the panel onto its feet: nothing pulls, at most they are pushed."""
WITHOUT_SUCTION: frozenset[LoadCaseName] = frozenset({"bump-down", "snow", "own-weight", "growth"})

Suctions = tuple[float, float, float, float, float]
"""Share by which the gust's suction counts with air from each of `DIRECTIONS`, and the mean's."""
_NONE: Suctions = (0.0, 0.0, 0.0, 0.0, 0.0)
_MEAN: Suctions = (0.0, 0.0, 0.0, 0.0, 1.0)
_AHEAD: Suctions = (1.0, 0.0, 0.0, 0.0, 0.0)
_SECTOR: Suctions = (1.0, 0.0, 1.0, 1.0, 0.0)
_ANY_SIDE: Suctions = (1.0, 1.0, 1.0, 1.0, 0.0)
_NO_PUSH = ((0.0, 0.0), (0.0, 0.0))


class CaseTerms(msgspec.Struct, frozen=True, gc=False):
    """What acts in one load case, road speed aside; all parts are adverse, none negative.

    Parameters
    ----------
    name, duration : str
        Stable name, and how long it acts.
    bond_c : float
        Bond line then [°C].
    density : float
        Of the air while driving [kg/m³].
    suctions : tuple of float
        Directions of the wind that may act.
    drag_area : tuple of tuple of float
        Area of drag along the roof and across it [m²], in up to two alternatives.
    push : tuple of tuple of float
        Inertia or weight along the roof and across it [N], in the same alternatives.
    up, down : float
        Inertia upwards beyond gravity, and all that presses down [N].
    relief : float
        Weight that may be counted against suction, or what presses as it pushes [N].
    headwind, crosswind : float
        Gusts on top of the road speed [m/s].
    parked_speed, parked_pa : float
        Speed [m/s] and dynamic pressure [Pa] of the wind on a parked vehicle.
    by_speed : bool
        Whether road speed changes the case.
    climate : str
        Words for the air and the bond that go with it, if they make a difference.
    """

    name: LoadCaseName
    duration: LoadDuration
    bond_c: float
    density: float = 0.0
    suctions: Suctions = _NONE
    drag_area: tuple[tuple[float, float], tuple[float, float]] = _NO_PUSH
    push: tuple[tuple[float, float], tuple[float, float]] = _NO_PUSH
    up: float = 0.0
    down: float = 0.0
    relief: float = 0.0
    headwind: float = 0.0
    crosswind: float = 0.0
    parked_speed: float = 0.0
    parked_pa: float = 0.0
    by_speed: bool = False
    climate: str = ""

    @property
    def told(self) -> Text:
        """The case in words, with its climate."""
        title = load_case(self.name)
        if not self.climate:
            return title
        return statement("in-climate", load_case=title, climate=self.climate)


@dataclass(frozen=True, slots=True)
class LoadCases:
    """Load cases c at road speeds v; SI units.

    Parameters
    ----------
    terms : tuple of CaseTerms
        What acts besides the wind of travel.
    air_speed, q : ndarray, shape (v, c)
        Speed [m/s] and dynamic pressure [Pa] of the air.
    suction : ndarray, shape (v, c, 5)
        Pressure by which each suction counts [Pa], in the order of `Suctions`.
    pushes : ndarray, shape (v, c, k, 2)
        Rearward and sideways push in roof directions, in up to two alternatives [N].
    up, down, relief : ndarray, shape (c,)
        As in `CaseTerms` [N].
    lift_area : ndarray, shape (v, c)
        Largest suction on the whole panel per unit of q [m²].
    peak, local, edge : ndarray, shape (v, c)
        Suction anywhere on the panel, that over its worst third, and on an edge in the wind [Pa].
    """

    terms: tuple[CaseTerms, ...]
    air_speed: Floats
    q: Floats
    suction: Floats
    pushes: Floats
    up: Floats
    down: Floats
    relief: Floats
    lift_area: Floats
    peak: Floats
    local: Floats
    edge: Floats

    @property
    def lift(self) -> Floats:
        """Largest suction on the whole panel, shape (v, c) [N]."""
        return self.q * self.lift_area

    def where(self, *names: LoadCaseName) -> Mask:
        """Which cases bear one of some names, shape (c,)."""
        return np.array([term.name in names for term in self.terms])


@dataclass(frozen=True, slots=True)
class Climate:
    """Air and bond that go together: dense air is cold, and so is the bond below it.

    Words for it, density [kg/m³], bond line while driving [°C].
    """

    words: str
    density: float
    bond_c: float


def climates(setup: Setup) -> list[Climate]:
    """Frost with its dense air; where something is glued, heat with its soft bond too."""
    conditions = setup.conditions
    if adhesive_of(setup.request) is None:
        return [Climate("", conditions.density, conditions.lowest_air_c)]
    return [
        Climate(statement("in-frost"), conditions.density, conditions.lowest_air_c),
        Climate(statement("in-heat"), conditions.hot_density, conditions.driving_c),
    ]


def load_cases(setup: Setup, speeds: Floats, parked: bool = True) -> LoadCases:
    """Load cases at road speeds.

    Parameters
    ----------
    setup : Setup
        Settled request.
    speeds : ndarray, shape (v,)
        Road speeds [m/s].
    parked : bool
        Whether those of a parked vehicle are wanted too.

    Returns
    -------
    LoadCases
        Cases of driving come once for each climate, under one name.
    """
    terms = [term for climate in climates(setup) for term in _driving(setup, climate)]
    if parked:
        terms += _parked(setup)
        terms += _raised(setup)
        if setup.panel.flexible and setup.feet is not None:  # a sheet that grows and is held
            terms.append(CaseTerms("growth", "movement", setup.conditions.parked_c))
    columns = np.array(
        [
            (
                *(term.density, term.headwind, term.crosswind, term.parked_speed, term.parked_pa),
                *(term.by_speed, term.up, term.down, term.relief),
            )
            for term in terms
        ]
    ).T
    density, headwind, crosswind, parked_speed, parked_pa, by_speed, up, down, relief = columns
    ahead = (speeds[:, None] + headwind) * by_speed
    q = 0.5 * density * (ahead**2 + crosswind**2) + parked_pa
    one, aside = np.ones_like(q), side_share(ahead, crosswind)
    shares = np.stack([one, one, aside, aside, one], axis=-1) * [term.suctions for term in terms]
    options = 2 if parked else 1
    drag = np.array([term.drag_area[:options] for term in terms])
    push = np.array([term.push[:options] for term in terms])
    gusts, mean = [setup.suctions[side] for side in DIRECTIONS], setup.suctions["front"]
    lifts = [field[:, 0].max() for field in setup.fields]
    suction = q[..., None] * shares
    bare = np.zeros(len(terms))
    if setup.request.tilt is not None:
        raised = [term.name == "raised" for term in terms]
        bare = np.where(raised, force_coefficient(setup.request.tilt.angle_deg), 0.0)
    return LoadCases(
        tuple(terms),
        np.hypot(ahead, crosswind) + parked_speed,
        q,
        suction,
        q[..., None, None] * drag * np.stack([one, aside], axis=-1)[:, :, None] + push,
        up,
        down,
        relief,
        np.maximum((shares * lifts).max(axis=-1), bare * setup.area),
        _most(suction, [*(gust.peak for gust in gusts), mean.local_mean], bare * q),
        _most(suction, [*(gust.local for gust in gusts), mean.local_mean], bare * q),
        _most(suction, [*(gust.edge for gust in gusts), mean.edge_mean], bare * q),
    )


def _most(suction: Floats, coefficients: list[float], raised: Floats) -> Floats:
    """Hardest suction by any wind, or on a raised panel [Pa], shape (v, c)."""
    most: Floats = np.maximum((suction * coefficients).max(axis=-1), raised)
    return most


def side_share(speed: Floats | float, gust: Floats | float) -> Floats:
    """Dynamic pressure that counts for the coefficients of a side, as a share of the resultant's.

    Coefficients of one direction stand for air from within 45° of it. While driving, air comes from
    the side's sector only up to the speed of the gust itself; every speed up to the road speed
    has been driven through, so the worst of these counts.

    Parameters
    ----------
    speed, gust : ndarray or float
        Road speed and gust from the side [m/s].

    Returns
    -------
    ndarray
        Share, 1 where nothing moves.

    References
    ----------
    EN 1991-1-4:2005, 7.2.1 (from memory).
    """
    resultant = np.asarray(np.square(speed) + np.square(gust), dtype=np.float64)
    counted = np.square(np.minimum(speed, gust)) + np.square(gust)
    share: Floats = np.divide(
        counted, resultant, out=np.ones_like(resultant), where=resultant > 0.0
    )
    return share


def _driving(setup: Setup, climate: Climate) -> list[CaseTerms]:
    """Cases of driving in one climate."""
    conditions, mass = setup.conditions, setup.mass
    along, across = drag_area(setup, "front"), drag_area(setup, "left")
    gust = CaseTerms(
        "headwind-gust",
        "gust",
        climate.bond_c,
        climate.density,
        _AHEAD,
        ((along, 0.0), (0.0, 0.0)),
        relief=setup.counted_weight,
        headwind=conditions.headwind,
        by_speed=True,
    )
    aside = replace(
        gust,
        name="passing-vehicle",
        suctions=_SECTOR,
        drag_area=((along, across), (0.0, 0.0)),
        headwind=0.0,
        crosswind=conditions.passing,
    )
    cornering = replace(
        aside,
        name="crosswind-gust",
        push=((0.0, mass * conditions.sideways / 2), (0.0, 0.0)),
        crosswind=conditions.crosswind,
    )
    hours, *inertia = _inertia(setup, replace(gust, suctions=_MEAN, headwind=0.0))
    found = (hours, gust, cornering, aside, *inertia)
    return [replace(case, climate=climate.words) for case in found]


def _inertia(setup: Setup, mean: CaseTerms) -> list[CaseTerms]:
    """Hours at road speed, and what the road adds to the mean suction."""
    conditions, mass = setup.conditions, setup.mass
    pushes: tuple[tuple[LoadCaseName, float, float], ...] = (
        ("braking", conditions.forward, 0.0),
        ("pulling-away", conditions.rearward, 0.0),
        ("cornering", 0.0, conditions.sideways),
    )
    return [
        replace(mean, name="highway-hours", duration="hours"),
        *(
            replace(mean, name=name, push=((mass * x, mass * y), (0.0, 0.0)))
            for name, x, y in pushes
        ),
        replace(
            mean,
            name="bump-up",
            up=mass * conditions.up,
            relief=0.0 if conditions.up else mean.relief,
        ),
        CaseTerms(
            "bump-down",
            "gust",
            mean.bond_c,
            down=mass * conditions.down,
        ),
    ]


def _parked(setup: Setup) -> list[CaseTerms]:
    """Storm, snow, and years of its own weight."""
    conditions, weight = setup.conditions, setup.weight
    snow = snow_pressure(conditions.snow_pa) * setup.area + weight
    slope, snowed = (load * math.sin(math.radians(conditions.slope_deg)) for load in (weight, snow))
    return [
        CaseTerms(
            "parked-storm",
            "gust",
            figure("travel_default", "bond_storm_c"),
            suctions=_ANY_SIDE,
            drag_area=((drag_area(setup, "front"), 0.0), (0.0, drag_area(setup, "left"))),
            relief=setup.counted_weight,
            parked_speed=conditions.storm_gust,
            parked_pa=conditions.storm_pa,
        ),
        CaseTerms(
            "snow",
            "weeks",
            0.0,
            push=((snowed, 0.0), (0.0, snowed)),
            relief=snow,
            down=snow,
        ),
        CaseTerms(
            "own-weight",
            "permanent",
            conditions.parked_c,
            push=((slope, 0.0), (0.0, slope)),
            relief=setup.counted_weight,
            down=weight,
        ),
    ]


def _raised(setup: Setup) -> list[CaseTerms]:
    """A panel on raised brackets, in the strongest gust that it is left in."""
    tilt = setup.request.tilt
    if tilt is None or setup.feet is None:
        return []
    push = push_area(setup, tilt)
    return [
        CaseTerms(
            "raised",
            "gust",
            figure("travel_default", "bond_storm_c"),
            suctions=_ANY_SIDE,  # raised a little it still lies in the roof's own suction
            drag_area=((push, 0.0), (0.0, push)),
            relief=setup.counted_weight,
            parked_speed=tilt.gust_m_s,
            parked_pa=dynamic_pressure(setup.conditions.density, tilt.gust_m_s),
        )
    ]


def drag_area(setup: Setup, direction: Direction) -> float:
    """Push of the wind along its direction on edges, feet and surface, per unit of q [m²]."""
    request, mounting = setup.request, setup.request.mounting
    given = setup.air.edge_drag_coefficient
    edge = figure("wind_default", "edge_drag") if given is None else given
    width = 0.0
    if isinstance(mounting, AdhesiveFeet):
        width = float(setup.pads.max())
    elif isinstance(mounting, FastenedFeet):
        width = mounting.base_width_m
    turned: Direction = "left" if direction in ("front", "rear") else "front"
    across = extent(request.position, setup.sides, turned)
    front = across * setup.panel.depth + len(setup.points) * width * standoff(request)
    return edge * front + figure("wind_default", "skin_friction") * setup.area


def snow_pressure(ground_pa: float, thermal: str = "snow_thermal") -> float:
    """Snow on a flat roof [Pa], unheated if not told otherwise.

    References
    ----------
    ASCE/SEI 7-16, 7.3, 0.7·Ce·Ct·I·pg with Ce and I of 1; least load of low slopes, 7.3.4, I·pg up
    to 20 lb/ft² (from memory).
    """
    flat = figure("limit", "snow_shape") * figure("limit", thermal) * ground_pa
    return max(flat, min(ground_pa, figure("limit", "snow_least_pa")))


def in_panel(setup: Setup, pushes: Floats) -> Floats:
    """Size of pushes along the panel's sides, whichever way they act, shape (…, 2) [N]."""
    return pushes @ np.abs(turn(setup.request.position))
