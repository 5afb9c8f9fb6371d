"""A request with every value settled: given by the caller, or chosen and noted."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sunhitch.types.mount import (
    Adhesive,
    AdhesiveFeet,
    BondedSheet,
    FastenedFeet,
    MountCheckRequest,
    PanelWind,
    Rails,
    TravelConditions,
)
from sunhitch_service.engine.assumptions import Assumptions

from .air import GRAVITY, density, pressure, storm_pressure
from .figures import figure, why
from .holds import Holds, holds
from .rails import RailBeam, rail_beams
from .sheet import bending_stiffness, twin_wall_stiffness
from .wind import DIRECTIONS, Direction, Suction, suction

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Travel:
    """Speed, weather and road, settled; SI units, accelerations in m/s²."""

    road_speed: float
    headwind: float
    crosswind: float
    passing: float
    density: float
    outside_pa: float
    lowest_air_c: float
    highest_air_c: float
    storm_gust: float
    storm_pa: float
    snow_pa: float
    driving_c: float
    parked_c: float
    forward: float
    rearward: float
    sideways: float
    up: float
    down: float
    slope_deg: float


@dataclass(frozen=True, slots=True)
class Sheet:
    """The panel as plate and sheet, settled; SI units."""

    flexible: bool
    thickness: float
    in_plane: float
    bending: float
    strength: float
    expansion: tuple[float, float]
    rating: float
    rating_given: bool
    slack: float


@dataclass(frozen=True, slots=True)
class Setup:
    """Everything that does not change with speed.

    Parameters
    ----------
    request : MountCheckRequest
        What the caller sent.
    air : PanelWind
        What lies below the panel, and measured coefficients.
    travel, sheet : Travel, Sheet
        Settled values.
    mass : float
        Panel and spacer [kg].
    sides : tuple of float
        Length and width of the panel [m].
    points : ndarray, shape (n, 2)
        Feet or clamps from the panel's middle [m]; none for a bonded sheet.
    holds : Holds or None
        The same, ready for loads; None for a bonded sheet.
    height : float
        Middle of the panel above the roof [m].
    suctions : dict
        Suction by direction of the wind.
    joined_c : float
        Temperature at which panel and roof were joined [°C].
    bond_m : float
        Thickness of the bond line [m]; 0 where nothing is glued.
    rails : tuple of RailBeam
        Rails with their clamps; none for other mountings.
    """

    request: MountCheckRequest
    air: PanelWind
    travel: Travel
    sheet: Sheet
    mass: float
    sides: tuple[float, float]
    points: Floats
    holds: Holds | None
    height: float
    suctions: dict[Direction, Suction]
    joined_c: float
    bond_m: float
    rails: tuple[RailBeam, ...]

    @property
    def word(self) -> str:
        """What holds the panel, in one word."""
        return "clamp" if isinstance(self.request.mounting, Rails) else "foot"

    @property
    def area(self) -> float:
        """Area of the panel [m²]."""
        return self.sides[0] * self.sides[1]

    @property
    def weight(self) -> float:
        """Weight of panel and spacer [N]."""
        return self.mass * GRAVITY


def settle(request: MountCheckRequest, notes: Assumptions) -> Setup:
    """Settle every value of a request that was found free of faults.

    Parameters
    ----------
    request : MountCheckRequest
        Free of contradictions.
    notes : Assumptions
        Collects what was chosen.
    """
    panel, air = request.panel, request.wind or PanelWind()
    sides = (panel.length_m, panel.width_m)
    points = hold_points(request) - np.array(sides) / 2
    bonded = isinstance(request.mounting, BondedSheet)
    spacer = request.spacer
    _note_wind(request, air, notes)
    return Setup(
        request=request,
        air=air,
        travel=_travel(request, notes),
        sheet=_sheet(request, notes),
        mass=panel.mass_kg + (spacer.mass_kg if spacer else 0.0),
        sides=sides,
        points=points,
        holds=None if bonded else holds(points, sides, figure("sheet_default", "poisson")),
        height=standoff(request) + panel.thickness_m / 2 + (spacer.thickness_m if spacer else 0.0),
        suctions={
            side: suction(
                request.vehicle,
                request.position,
                sides,
                air,
                bonded or standoff(request) == 0,
                side,
            )
            for side in DIRECTIONS
        },
        joined_c=_joined(request, notes),
        bond_m=_bond_thickness(request, notes),
        rails=rail_beams(request.mounting) if isinstance(request.mounting, Rails) else (),
    )


def hold_points(request: MountCheckRequest) -> Floats:
    """Feet or clamps in panel coordinates, shape (n, 2)."""
    mounting = request.mounting
    if isinstance(mounting, BondedSheet):
        return np.empty((0, 2))
    listed = mounting.clamps if isinstance(mounting, Rails) else mounting.feet
    return np.array([[point.x_m, point.y_m] for point in listed]).reshape(-1, 2)


def standoff(request: MountCheckRequest) -> float:
    """Height of the panel's underside above the roof [m]."""
    mounting = request.mounting
    return 0.0 if isinstance(mounting, BondedSheet) else mounting.standoff_m


def play(request: MountCheckRequest) -> float:
    """Free sideways play of the feet's studs [m]."""
    mounting = request.mounting
    return mounting.play_m if isinstance(mounting, AdhesiveFeet | FastenedFeet) else 0.0


def adhesive_of(request: MountCheckRequest) -> Adhesive | None:
    """The adhesive, where something is glued."""
    mounting = request.mounting
    return mounting.adhesive if isinstance(mounting, AdhesiveFeet | BondedSheet) else None


def _joined(request: MountCheckRequest, notes: Assumptions) -> float:
    adhesive = adhesive_of(request)
    if adhesive is None:
        return figure("travel_default", "application_c")
    return _chosen(
        notes,
        "/mounting/adhesive/application_c",
        adhesive.application_c,
        "travel_default",
        "application_c",
    )


def _bond_thickness(request: MountCheckRequest, notes: Assumptions) -> float:
    adhesive = adhesive_of(request)
    if adhesive is None:
        return 0.0
    return notes.choose(
        "/mounting/adhesive/thickness_m",
        adhesive.thickness_m,
        figure("adhesive", adhesive.kind, "thickness_m"),
        why("adhesive", adhesive.kind),
    )


def _chosen(notes: Assumptions, field: str, given: float | None, name: str, key: str) -> float:
    return notes.choose(field, given, figure(name, key), why(name, key))


def _travel(request: MountCheckRequest, notes: Assumptions) -> Travel:
    given = request.travel or TravelConditions()

    def pick(key: str) -> float:
        value: float | None = getattr(given, key)
        return _chosen(notes, f"/travel/{key}", value, "travel_default", key)

    altitude, lowest = pick("altitude_m"), pick("lowest_air_c")
    gust = pick("storm_gust_m_s")
    pushes = {
        key: _acceleration(request, given, key, notes)
        for key in ("forward", "rearward", "sideways", "up", "down")
    }
    return Travel(
        road_speed=pick("road_speed_m_s"),
        headwind=pick("headwind_gust_m_s"),
        crosswind=pick("crosswind_gust_m_s"),
        passing=pick("passing_gust_m_s"),
        density=density(altitude, lowest),
        outside_pa=pressure(altitude),
        lowest_air_c=lowest,
        highest_air_c=pick("highest_air_c"),
        storm_gust=gust,
        storm_pa=storm_pressure(gust, given.storm_exposure, given.topographic_factor),
        snow_pa=pick("ground_snow_pa"),
        driving_c=pick("bond_driving_c"),
        parked_c=pick("bond_parked_c"),
        slope_deg=_chosen(
            notes,
            "/vehicle/roof_slope_deg",
            request.vehicle.roof_slope_deg,
            "travel_default",
            "roof_slope_deg",
        ),
        **pushes,
    )


def _acceleration(
    request: MountCheckRequest, given: TravelConditions, key: str, notes: Assumptions
) -> float:
    column = "trailer_g" if request.vehicle.kind == "trailer" else "motor_vehicle_g"
    field = f"{key}_m_s2"
    value: float | None = getattr(given.accelerations, field) if given.accelerations else None
    default = figure("acceleration", key, column) * GRAVITY
    return notes.choose(f"/travel/accelerations/{field}", value, default, why("acceleration", key))


def _sheet(request: MountCheckRequest, notes: Assumptions) -> Sheet:
    flexible = request.panel.construction == "flexible"
    given, field = request.sheet, "/sheet/"

    def pick(name: str, default: float, reason: str) -> float:
        value: float | None = getattr(given, name) if given else None
        return notes.choose(field + name, value, default, reason)

    bending, in_plane = _stiffness_defaults(request)
    low, high = _expansion(request, notes)
    return Sheet(
        flexible=flexible,
        thickness=request.panel.thickness_m,
        in_plane=pick("in_plane_stiffness_n_per_m", in_plane, _why("in_plane_modulus_pa")),
        bending=pick(
            "bending_stiffness_n_m",
            bending,
            _why("bending_modulus_pa" if flexible else "frame_bending_n_m"),
        ),
        strength=pick(
            "laminate_strength_pa",
            figure("sheet_default", "laminate_strength_pa"),
            _why("laminate_strength_pa"),
        )
        if flexible
        else figure("sheet_default", "laminate_strength_pa"),
        expansion=(low, high),
        rating=pick(
            "load_rating_pa", figure("sheet_default", "load_rating_pa"), _why("load_rating_pa")
        ),
        rating_given=given is not None and given.load_rating_pa is not None,
        slack=2 * play(request),
    )


def _why(key: str) -> str:
    return why("sheet_default", key)


def _stiffness_defaults(request: MountCheckRequest) -> tuple[float, float]:
    """Bending [N·m] and in-plane stiffness [N/m] of panel and spacer together."""
    thickness = request.panel.thickness_m
    in_plane = figure("sheet_default", "in_plane_modulus_pa") * thickness
    if request.panel.construction == "framed":
        return figure("sheet_default", "frame_bending_n_m"), in_plane
    bending = bending_stiffness(
        figure("sheet_default", "bending_modulus_pa"),
        thickness,
        figure("sheet_default", "poisson"),
    )
    if request.spacer is None:
        return bending, in_plane
    spacer = request.spacer
    modulus = figure("spacer", spacer.material, "modulus_pa")
    wall = figure("spacer", spacer.material, "wall_m")
    own = spacer.bending_stiffness_n_m
    added = twin_wall_stiffness(modulus, wall, spacer.thickness_m) if own is None else own
    return bending + added, in_plane + 2 * modulus * wall


def _expansion(request: MountCheckRequest, notes: Assumptions) -> tuple[float, float]:
    """Least and largest expansion of what is fixed to the roof [1/K]."""
    if request.sheet is not None and request.sheet.expansion_per_c is not None:
        return request.sheet.expansion_per_c, request.sheet.expansion_per_c
    if request.panel.construction == "framed":
        frame = figure("sheet_default", "frame_expansion_per_c")
        notes.note("/sheet/expansion_per_c", frame, _why("frame_expansion_per_c"))
        return frame, frame
    low = figure("sheet_default", "expansion_low_per_c")
    high = figure("sheet_default", "expansion_high_per_c")
    if request.spacer is not None:
        high = max(high, figure("spacer", request.spacer.material, "expansion_per_c"))
    notes.note(
        "/sheet/expansion_per_c", high, f"The worse of {low:g} and {high:g} counts, from memory."
    )
    return low, high


def _note_wind(request: MountCheckRequest, air: PanelWind, notes: Assumptions) -> None:
    for field, key in (
        ("edge_drag_coefficient", "edge_drag"),
        ("centre_of_pressure_fraction", "centre_of_pressure"),
    ):
        value: float | None = getattr(air, field)
        _chosen(notes, f"/wind/{field}", value, "wind_default", key)
    if air.net_uplift_coefficient is None:
        notes.note(
            "/wind/net_uplift_coefficient",
            figure("wind_default", "edge_factor"),
            "Suction of building roofs by zone (EN 1991-1-4, Table 7.2, smallest areas) times this "
            "factor over an open gap; judgement, on the safe side. ASCE 7-16, 29.4.3 and 29.4.4 "
            "give 3.0 for the leading strip by another way.",
        )
    if request.vehicle.other_roof_mass_kg is None:
        notes.note("/vehicle/other_roof_mass_kg", 0.0, "Nothing else was named on the roof.")
    if request.vehicle.front == "unknown":
        notes.note("/vehicle/front", "sharp", "A sharp front edge has the largest suction.")
