"""A whole job in a few lines: what is usual is filled in, what decides must be given.

What a function here fills in is written in its parameters' defaults, is common practice without a
source, and can be given otherwise. Everything that is left out of the request is chosen by the
engine, which lists it under `assumptions`.
"""

from collections.abc import Sequence
from typing import Literal

from msgspec import structs

from sunhitch.feet import even_row, raster, spread_row
from sunhitch.types.fitout import (
    CableRoute,
    FitOutLight,
    FitOutPanelType,
    FitOutRequest,
    FitOutVehicle,
)
from sunhitch.types.mount import (
    Adhesive,
    AdhesiveFeet,
    AdhesiveKind,
    FootPoint,
    Mounting,
    PropertyClass,
    RoofSurface,
    SheetProperties,
    SurfaceKind,
    ThreadSize,
    TravelConditions,
)
from sunhitch.types.panel import Panel
from sunhitch.types.roof import Obstacle, PlacedPanel, Roof, RoofRectangle, RoofSpot
from sunhitch.types.shade import ShadeShape
from sunhitch.types.system import (
    Battery,
    Chemistry,
    ColdCharging,
    Controller,
    RuleSet,
    SiteTemperatures,
)

_FEET_APART_M = 0.2
"""Between the middles of feet below a panel. Common practice, no source."""


def mppt(
    max_input_voltage_v: float,
    max_output_current_a: float,
    max_input_short_circuit_a: float | None = None,
    name: str = "controller",
) -> Controller:
    """A charge controller that tracks the maximum power point.

    Parameters
    ----------
    max_input_voltage_v, max_output_current_a : float
        Largest input voltage [V] and rated charging current [A], often part of its name.
    max_input_short_circuit_a : float or None
        Largest short-circuit current of the array [A], from its data sheet.
    name : str
        As texts and drawings call it; two controllers need two.
    """
    return Controller(
        name=name,
        kind="mppt",
        max_input_voltage_v=max_input_voltage_v,
        max_output_current_a=max_output_current_a,
        max_input_short_circuit_a=max_input_short_circuit_a,
    )


def pwm(
    max_input_voltage_v: float,
    max_output_current_a: float,
    max_input_short_circuit_a: float | None = None,
    name: str = "controller",
) -> Controller:
    """A charge controller that switches the array onto the battery; arguments as in `mppt`."""
    tracking = mppt(max_input_voltage_v, max_output_current_a, max_input_short_circuit_a, name)
    return structs.replace(tracking, kind="pwm")


def battery(
    capacity_ah: float,
    nominal_voltage_v: Literal[12, 24, 36, 48] = 12,
    chemistry: Chemistry = "lithium-iron-phosphate",
    cold_charging: ColdCharging | None = None,
) -> Battery:
    """A house battery.

    Parameters
    ----------
    capacity_ah : float
        Rated capacity [Ah].
    nominal_voltage_v : int
        Nominal voltage [V].
    chemistry : str
        Cell chemistry.
    cold_charging : str or None
        What keeps it from charge in the cold; None where that is not known.
    """
    return Battery(
        chemistry=chemistry,
        nominal_voltage_v=nominal_voltage_v,
        capacity_ah=capacity_ah,
        cold_charging=cold_charging,
    )


def glued_feet(  # noqa: PLR0913 - what is usual has a default, and all of those are named
    panel: Panel,
    rows: int | None = None,
    columns: int | None = None,
    *,
    pad_m: float = 0.12,
    washer_m: float = 0.05,
    play_m: float = 0.002,
    edge_m: float = 0.06,
    standoff_m: float = 0.012,
    base_thickness_m: float = 0.004,
    adhesive: AdhesiveKind = "acrylic-foam-tape",
    thread: ThreadSize = "M6",
    property_class: PropertyClass = "A2-70",
) -> AdhesiveFeet:
    """Glued feet in an even raster under a panel, below the frame alone where it has one.

    Parameters
    ----------
    panel : Panel
        With its body.
    rows, columns : int or None
        Feet along the panel's length and across it, each at least 2; as many as leave 0.2 m or less
        between their middles if not given.
    pad_m : float
        Side of the square bonded pad [m].
    washer_m, play_m : float
        Diameter of the washer on the panel and free sideways play of its stud [m].
    edge_m : float
        Middle of the outer feet inside the panel's edges [m].
    standoff_m : float
        Underside of the panel above the roof; the foot is as high [m].
    base_thickness_m : float
        Thickness of the foot's plate [m].
    adhesive : str
        Kind of adhesive.
    thread, property_class : str
        Stud.

    Raises
    ------
    ValueError
        The panel has no body, or fewer than two rows or columns.
    """
    if panel.body is None:
        raise ValueError("the panel has no body; give it build.framed(…) or build.sheet(…)")
    along = _spread(panel.body.length_m, edge_m, rows)
    across = _spread(panel.body.width_m, edge_m, columns)
    return AdhesiveFeet(
        feet=[FootPoint(x_m=x, y_m=y) for x, y in raster(along, across, panel.body)],
        pad_length_m=pad_m,
        pad_width_m=pad_m,
        adhesive=Adhesive(kind=adhesive),
        standoff_m=standoff_m,
        foot_thickness_m=standoff_m,
        base_thickness_m=base_thickness_m,
        thread=thread,
        property_class=property_class,
        washer_diameter_m=washer_m,
        play_m=play_m,
    )


def _spread(length_m: float, edge_m: float, wanted: int | None) -> list[float]:
    if wanted is None:
        return even_row(length_m, edge_m, _FEET_APART_M)
    if wanted < 2:
        raise ValueError(f"at least 2 feet each way, not {wanted}")
    return spread_row(length_m, edge_m, wanted)


def shade(
    name: str,
    outline_m: Sequence[tuple[float, float]],
    weight_fraction: float,
    *,
    transmittance_fraction: float = 0.0,
    irradiance_w_m2: float = 700.0,
    cell_temperature_c: float = 45.0,
    diffuse_fraction: float = 0.15,
) -> FitOutLight:
    """A shadow that lies on the roof for some of the time.

    Parameters
    ----------
    name : str
        Unique within the job.
    outline_m : sequence of tuple
        Corners of the shadow: from the roof's front edge, and from its left one [m].
    weight_fraction : float
        Share of the useful time.
    transmittance_fraction : float
        Share of the direct light that comes through.
    irradiance_w_m2, cell_temperature_c : float
        Light on the cells beside it [W/m²], and their temperature [°C].
    diffuse_fraction : float
        Share of the light that a shadow spares.
    """
    polygon = [[x_m, y_m] for x_m, y_m in outline_m]
    return FitOutLight(
        name=name,
        weight_fraction=weight_fraction,
        irradiance_w_m2=irradiance_w_m2,
        cell_temperature_c=cell_temperature_c,
        diffuse_fraction=diffuse_fraction,
        shapes=[ShadeShape(polygon=polygon, transmittance_fraction=transmittance_fraction)],
    )


def fit_out(  # noqa: PLR0913 - a job has that many sides; all but the title are named
    title: str,
    *,
    panel: Panel,
    roof_m: tuple[float, float],
    controller: Controller | Sequence[Controller],
    battery: Battery,
    panels: int | None = None,
    places_m: Sequence[tuple[float, float]] = (),
    panel_name: str = "panel",
    panel_rating_pa: float | None = None,
    mounting: Mounting | None = None,
    vehicle: Literal["trailer", "motor-vehicle"] = "motor-vehicle",
    roof_height_m: float = 2.6,
    front: Literal["sharp", "rounded", "unknown"] | None = None,
    roof_rating_kg: float | None = None,
    other_roof_mass_kg: float = 0.0,
    surface: SurfaceKind = "painted-metal",
    obstacles: Sequence[Obstacle] = (),
    entry_m: tuple[float, float] | None = None,
    cables_m: tuple[float, float] = (2.5, 1.2),
    ambient_c: tuple[float, float] = (-20.0, 40.0),
    speed_m_s: float = 33.3,
    shades: Sequence[FitOutLight] = (),
    rules: RuleSet = "nec-2023",
) -> FitOutRequest:
    """The whole job with equal panels on a rectangular roof; `changed` mends what is unusual.

    Parameters
    ----------
    title : str
        Name of the job, printed on the sheet.
    panel : Panel
        The panel, with its body.
    roof_m : tuple
        Length and width of the roof [m].
    controller : Controller or sequence of Controller
        For example ``mppt(100, 30)``.
    battery : Battery
        For example ``battery(200)``.
    panels : int or None
        How many to lay out; as many as fit if neither this nor places are given.
    places_m : sequence of tuple
        Corner of each panel nearest the front left: from the front edge, and from the left one [m].
    panel_name : str
        Type of panel, as texts and drawings call it; placed ones are ``panel-1``, ``panel-2``, …
    panel_rating_pa : float or None
        Design load of the panel [Pa], from its data sheet: the load of its test divided by 1.5.
        Texts call it `sheet.load_rating_pa`; the least of tested panels is assumed if not given.
    mounting : Mounting or None
        How each is held; by `glued_feet` if not given.
    vehicle : str
        Kind of vehicle.
    roof_height_m : float
        Roof above the road [m].
    front : str or None
        Shape of the roof's front edge; unknown counts as sharp. Rounded for a motor vehicle and
        unknown for a trailer if not given.
    roof_rating_kg : float or None
        Maker's roof load while driving [kg].
    other_roof_mass_kg : float
        Everything else on the roof [kg].
    surface : str
        Topmost material of the roof, taken as abraded and cleaned as the adhesive's maker says.
    obstacles : sequence of Obstacle
        Vents, hatches, antennas, boxes, as ``RoundObstacle(name="fan", x_m=1.0, y_m=0.9,
        diameter_m=0.4)`` of `sunhitch.types`.
    entry_m : tuple or None
        Cable entry, as a place; the engine proposes one if not given.
    cables_m : tuple
        One way, entry to controller and controller to battery [m].
    ambient_c : tuple
        Coldest air with sun on the panels, and hottest air [°C].
    speed_m_s : float
        Fastest road speed [m/s]; 33.3 m/s are 120 km/h.
    shades : sequence of FitOutLight
        For example ``shade("lime tree", [(0.0, 0.0), (2.0, 0.0), (2.0, 1.0)], 0.3)``.
    rules : str
        Electrical rules.

    Raises
    ------
    ValueError
        The panel has no body, or both a number of panels and their places are given.
    """
    if panels is not None and places_m:
        raise ValueError("give the number of panels or their places, not both")
    held = mounting or glued_feet(panel)
    return FitOutRequest(
        title=title,
        vehicle=FitOutVehicle(
            kind=vehicle,
            roof_height_m=roof_height_m,
            front=front or ("rounded" if vehicle == "motor-vehicle" else "unknown"),
            other_roof_mass_kg=other_roof_mass_kg,
            roof_rating_kg=roof_rating_kg,
        ),
        roof=_roof(roof_m, obstacles, entry_m),
        surface=RoofSurface(kind=surface, abraded_and_cleaned=True),
        panel_types=[_panel_type(panel_name, panel, panels, panel_rating_pa, held)],
        placements=_placed(panel_name, places_m),
        controllers=[controller] if isinstance(controller, Controller) else list(controller),
        battery=battery,
        site=SiteTemperatures(lowest_ambient_c=ambient_c[0], highest_ambient_c=ambient_c[1]),
        rules=rules,
        cables=CableRoute(entry_to_controller_m=cables_m[0], controller_to_battery_m=cables_m[1]),
        travel=TravelConditions(road_speed_m_s=speed_m_s),
        light=list(shades),
    )


def _panel_type(
    name: str, panel: Panel, wanted: int | None, rating_pa: float | None, mounting: Mounting
) -> FitOutPanelType:
    return FitOutPanelType(
        name=name,
        panel=panel,
        mounting=mounting,
        sheet=SheetProperties(load_rating_pa=rating_pa),
        panels_wanted=wanted,
    )


def _roof(
    size_m: tuple[float, float],
    obstacles: Sequence[Obstacle],
    entry_m: tuple[float, float] | None,
) -> Roof:
    return Roof(
        outline=RoofRectangle(length_m=size_m[0], width_m=size_m[1]),
        obstacles=list(obstacles),
        cable_entry=RoofSpot(x_m=entry_m[0], y_m=entry_m[1]) if entry_m else "choose",
    )


def _placed(name: str, places_m: Sequence[tuple[float, float]]) -> list[PlacedPanel]:
    return [
        PlacedPanel(name=f"{name}-{number}", panel_type=name, x_m=x_m, y_m=y_m)
        for number, (x_m, y_m) in enumerate(places_m, 1)
    ]
