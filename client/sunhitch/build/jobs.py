"""A whole job in a few lines: what is usual is filled in, what decides must be given.

What a function here fills in is written in its parameters' defaults, is common practice without a
source, and can be given otherwise. Everything that is left out of the request is chosen by the
engine, which lists it under `assumptions`.
"""

from collections.abc import Sequence
from typing import Literal

from msgspec import structs

from sunhitch.types.fitout import CableRoute, FitOutPanelType, FitOutRequest, FitOutVehicle
from sunhitch.types.mount import (
    Adhesive,
    AdhesiveFeet,
    AdhesiveKind,
    FootPoint,
    Mounting,
    PropertyClass,
    RoofSurface,
    SurfaceKind,
    ThreadSize,
)
from sunhitch.types.panel import Panel
from sunhitch.types.roof import Obstacle, PlacedPanel, Roof, RoofRectangle, RoofSpot
from sunhitch.types.system import (
    Battery,
    Chemistry,
    ColdCharging,
    Controller,
    RuleSet,
    SiteTemperatures,
)

_TYPE = "panel"


def mppt(
    max_input_voltage_v: float,
    max_output_current_a: float,
    max_input_short_circuit_a: float | None = None,
) -> Controller:
    """A charge controller that tracks the maximum power point.

    Parameters
    ----------
    max_input_voltage_v, max_output_current_a : float
        Largest input voltage [V] and rated charging current [A], often part of its name.
    max_input_short_circuit_a : float or None
        Largest short-circuit current of the array [A], from its data sheet.
    """
    return Controller(
        name="controller",
        kind="mppt",
        max_input_voltage_v=max_input_voltage_v,
        max_output_current_a=max_output_current_a,
        max_input_short_circuit_a=max_input_short_circuit_a,
    )


def pwm(
    max_input_voltage_v: float,
    max_output_current_a: float,
    max_input_short_circuit_a: float | None = None,
) -> Controller:
    """A charge controller that switches the array onto the battery; arguments as in `mppt`."""
    tracking = mppt(max_input_voltage_v, max_output_current_a, max_input_short_circuit_a)
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
    rows: int,
    columns: int,
    *,
    pad_m: float = 0.12,
    washer_m: float = 0.03,
    play_m: float = 0.002,
    edge_m: float = 0.08,
    standoff_m: float = 0.012,
    base_thickness_m: float = 0.004,
    adhesive: AdhesiveKind = "acrylic-foam-tape",
    thread: ThreadSize = "M6",
    property_class: PropertyClass = "A2-70",
) -> AdhesiveFeet:
    """Glued feet in an even raster under a panel.

    Parameters
    ----------
    panel : Panel
        With its body.
    rows, columns : int
        Feet along the panel's length and across it, each at least 2.
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
        raise ValueError("the panel has no body; give build.panel body=build.sheet(…)")
    along = _spread(panel.body.length_m, edge_m, rows)
    across = _spread(panel.body.width_m, edge_m, columns)
    return AdhesiveFeet(
        feet=[FootPoint(x_m=x, y_m=y) for x in along for y in across],
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


def _spread(length_m: float, edge_m: float, count: int) -> list[float]:
    if count < 2:
        raise ValueError(f"at least 2 feet each way, not {count}")
    step = (length_m - 2.0 * edge_m) / (count - 1)
    return [round(edge_m + step * index, 4) for index in range(count)]


def fit_out(  # noqa: PLR0913 - a job has that many sides; all but the title are named
    title: str,
    *,
    vehicle: Literal["trailer", "motor-vehicle"],
    roof_height_m: float,
    front: Literal["sharp", "rounded", "unknown"] = "unknown",
    roof_m: tuple[float, float],
    surface: SurfaceKind,
    panel: Panel,
    mounting: Mounting,
    places_m: Sequence[tuple[float, float]],
    entry_m: tuple[float, float],
    controller: Controller,
    battery: Battery,
    ambient_c: tuple[float, float],
    cables_m: tuple[float, float],
    rules: RuleSet = "nec-2023",
    obstacles: Sequence[Obstacle] = (),
    other_roof_mass_kg: float = 0.0,
    roof_rating_kg: float | None = None,
) -> FitOutRequest:
    """The whole job with equal panels on a rectangular roof; `changed` mends what is unusual.

    Parameters
    ----------
    title : str
        Name of the job, printed on the sheet.
    vehicle : str
        Kind of vehicle.
    roof_height_m : float
        Roof above the road [m].
    front : str
        Shape of the roof's front edge; unknown counts as sharp.
    roof_m : tuple
        Length and width of the roof [m].
    surface : str
        Topmost material of the roof, taken as abraded and cleaned as the adhesive's maker says.
    panel : Panel
        The panel, with its body.
    mounting : Mounting
        How each is held, for example by `glued_feet`.
    places_m : sequence of tuple
        Corner of each panel nearest the front left: from the front edge, and from the left one [m].
        Panels are named ``panel-1``, ``panel-2``, …
    entry_m : tuple
        Cable entry, likewise [m].
    controller : Controller
        For example ``mppt(100, 30)``.
    battery : Battery
        For example ``battery(200)``.
    ambient_c : tuple
        Coldest air with sun on the panels, and hottest air [°C].
    cables_m : tuple
        One way, entry to controller and controller to battery [m].
    rules : str
        Electrical rules.
    obstacles : sequence of Obstacle
        Vents, hatches, antennas, boxes.
    other_roof_mass_kg : float
        Everything else on the roof [kg].
    roof_rating_kg : float or None
        Maker's roof load while driving [kg].
    """
    return FitOutRequest(
        title=title,
        vehicle=FitOutVehicle(
            kind=vehicle,
            roof_height_m=roof_height_m,
            front=front,
            other_roof_mass_kg=other_roof_mass_kg,
            roof_rating_kg=roof_rating_kg,
        ),
        roof=Roof(
            outline=RoofRectangle(length_m=roof_m[0], width_m=roof_m[1]),
            obstacles=list(obstacles),
            cable_entry=RoofSpot(x_m=entry_m[0], y_m=entry_m[1]),
        ),
        surface=RoofSurface(kind=surface, abraded_and_cleaned=True),
        panel_types=[FitOutPanelType(name=_TYPE, panel=panel, mounting=mounting)],
        placements=[
            PlacedPanel(name=f"{_TYPE}-{number}", panel_type=_TYPE, x_m=x_m, y_m=y_m)
            for number, (x_m, y_m) in enumerate(places_m, 1)
        ],
        controllers=[controller],
        battery=battery,
        site=SiteTemperatures(lowest_ambient_c=ambient_c[0], highest_ambient_c=ambient_c[1]),
        rules=rules,
        cables=CableRoute(entry_to_controller_m=cables_m[0], controller_to_battery_m=cables_m[1]),
    )
