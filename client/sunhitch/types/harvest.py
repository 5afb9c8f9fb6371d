"""`harvest`: shade through the day, energy through the year, and what the battery makes of it.

Roof coordinates as in `roof`: x rearwards, y to the right, metres; heights are above the ground.
Things on the ground keep their place while the vehicle turns about the middle of its roof; their
coordinates hold for the first heading.
"""

from typing import Annotated, Literal

from .base import Input, Output
from .check import Answer
from .panel import ConstructionName, PanelName, PanelType
from .place import Moment, Place
from .quantity import choice, count, label, listing, prose, quantity
from .roof import PlacedPanel, Roof
from .shade import ArrayWiring
from .system import Battery, Controller, PanelMountingHeat

VehicleSide = Literal["left", "right"]
TrackedMaximum = Literal["highest-maximum", "first-from-open-circuit"]
HarvestDetail = Literal["months", "steps"]
RangeBasis = Literal["weather-years", "stated-range"]

Step = Literal[300, 600, 900, 1800, 3600]
LossCode = Literal[
    "beam-shade",
    "hidden-sky",
    "surroundings",
    "reflection",
    "dirt",
    "spectrum",
    "heat-and-weak-light",
    "mismatch",
    "ageing",
    "tracking",
    "controller-window",
    "panel-cable",
    "conversion",
    "controller-limit",
    "battery-cable",
    "battery-full",
    "battery-frost",
    "battery-rate",
]
SummerTime = Literal["eu", "us"]
CellSpectrum = Literal["monosi", "multisi", "cdte", "cigs", "asi"]
AutonomyBasis = Literal["synthetic-years", "weather-years", "one-year"]
WIND_AT_THE_ROOF = 0.72
"""Share of the wind at 10 m that reaches a roof at 2.75 m: (2.75 ÷ 10)^¼, among houses."""
MOST_STEPS = 8928
"""Steps of time in one study: a leap year of hours, or a month of five minutes."""

_Month = Annotated[int, count(1, 12, "Month.", 7)]
_Months = Annotated[list[_Month], listing(0, 12, "Months in which it holds; all if empty.")]
_Name = Annotated[str, label("Name, unique in its list.", "lime tree")]
_X = Annotated[float, quantity("m", -200.0, 200.0, "Behind the roof's front edge.", 2.0)]
_Y = Annotated[float, quantity("m", -200.0, 200.0, "Right of the roof's left edge.", -3.0)]
_Size = Annotated[float, quantity("m", 0.01, 200.0, "Size.", 4.0)]
_Height = Annotated[float, quantity("m", 0.0, 100.0, "Height above the ground.", 6.0)]
_Passes = Annotated[
    float,
    quantity("1", 0.0, 1.0, "Share of the light that passes; multiplies where shadows meet.", 0.0),
]
_Hour = Annotated[float, quantity("h", 0.0, 24.0, "Local time of the study.", 18.0)]
_Watts = Annotated[float, quantity("W", 0.0, 1e6, "Power.", 240.0)]
_WattHours = Annotated[float, quantity("Wh", -1e12, 1e12, "Energy.", 412_000.0)]
_Share = Annotated[float, quantity("1", 0.0, 1.0, "Share.", 0.6)]
_Light = Annotated[float, quantity("W/m²", 0.0, 2000.0, "Mean over the step.", 640.0)]
_Air = Annotated[float, quantity("°C", -70.0, 60.0, "Air temperature.", 18.0)]
_Wind = Annotated[float, quantity("m/s", 0.0, 60.0, "Air speed over the roof.", 1.5)]


class Upright(Input, kw_only=True):
    """What throws a shadow between two heights."""

    name: _Name
    base_height_m: _Height = 0.0
    top_height_m: _Height
    transmittance_fraction: _Passes = 0.0
    turns_with_vehicle: Annotated[bool, prose("Whether it is part of the vehicle.")] = False


class Box(Upright, tag_field="kind", tag="box", kw_only=True):
    """A building, a hedge, a roof box: a block with vertical sides."""

    x_m: _X
    y_m: _Y
    length_m: Annotated[float, quantity("m", 0.01, 200.0, "Along x before it is turned.", 8.0)]
    width_m: Annotated[float, quantity("m", 0.01, 200.0, "Along y before it is turned.", 5.0)]
    rotation_deg: Annotated[
        float, quantity("°", -360.0, 360.0, "Turn about x_m, y_m, from x towards y.", 0.0)
    ] = 0.0


class Wall(Upright, tag_field="kind", tag="wall", kw_only=True):
    """A wall or fence, thin, between two points."""

    from_x_m: _X
    from_y_m: _Y
    to_x_m: _X
    to_y_m: _Y


class Pole(Upright, tag_field="kind", tag="pole", kw_only=True):
    """A lamp post, a mast, an antenna."""

    x_m: _X
    y_m: _Y
    diameter_m: Annotated[float, quantity("m", 0.005, 5.0, "Diameter.", 0.15)]


class TreeCrown(Input, tag_field="kind", tag="tree", kw_only=True):
    """A tree: its crown as an ellipsoid, its trunk as a pole."""

    name: _Name
    x_m: _X
    y_m: _Y
    crown_diameter_m: _Size
    crown_base_height_m: _Height
    crown_top_height_m: _Height
    trunk_diameter_m: Annotated[
        float, quantity("m", 0.0, 5.0, "Trunk below the crown; 0 for none.", 0.4)
    ] = 0.0
    evergreen: Annotated[bool, prose("Whether it keeps its leaves.")] = False
    leaf_months: _Months = []
    transmittance_in_leaf_fraction: _Passes | None = None
    transmittance_bare_fraction: _Passes | None = None
    by_path_length: Annotated[
        bool,
        prose("Whether a longer way through it dims more; shares then hold for a sun 45° high."),
    ] = False


class Awning(Input, tag_field="kind", tag="awning", kw_only=True):
    """A sheet of cloth at one side of the vehicle."""

    name: _Name
    side: Annotated[VehicleSide, choice("Side of the vehicle.", "right")]
    from_x_m: _X
    to_x_m: _X
    depth_m: Annotated[float, quantity("m", 0.1, 10.0, "How far it reaches out.", 2.5)]
    inner_height_m: _Height
    outer_height_m: _Height
    transmittance_fraction: _Passes = 0.0


class NeighbourVehicle(Input, tag_field="kind", tag="neighbour-vehicle", kw_only=True):
    """A vehicle parked alongside."""

    name: _Name
    side: Annotated[VehicleSide, choice("On which side it stands.", "left")]
    gap_m: Annotated[float, quantity("m", 0.0, 100.0, "Free space between the two.", 2.0)]
    front_x_m: _X = 0.0
    length_m: _Size | None = None
    width_m: _Size | None = None
    height_m: _Height | None = None


ShadeObject = Box | Wall | Pole | TreeCrown | Awning | NeighbourVehicle


class ClearSkyWeather(Input, tag_field="kind", tag="clear-sky", kw_only=True):
    """No weather file: a cloudless sky, dimmed month by month."""

    first_day: Annotated[
        str, label("First day of the study, `YYYY-MM-DD`.", "2027-01-01", longest=10)
    ]
    days: Annotated[int, count(1, 366, "Days of the study.", 365)] = 365
    utc_offset_h: Annotated[
        float, quantity("h", -12.0, 14.0, "Local time of loads and days against UTC.", 1.0)
    ]
    step_s: Annotated[Step, choice("Length of a step [s]; 8,928 steps at most.", 3600)] = 3600
    monthly_clearness_fraction: Annotated[
        list[Annotated[float, quantity("1", 0.0, 1.2, "Of the clear sky's light.", 0.6)]],
        listing(0, 12, "Twelve values from January on; a default if empty."),
    ] = []
    monthly_air_c: Annotated[
        list[_Air], listing(0, 12, "Mean air temperature, twelve values; a default if empty.")
    ] = []
    daily_swing_k: (
        Annotated[float, quantity("K", 0.0, 40.0, "Warmest minus coldest of a day.", 9.0)] | None
    ) = None
    wind_m_s: _Wind | None = None
    linke_turbidity: (
        Annotated[float, quantity("1", 1.0, 10.0, "Haze; monthly climate if absent.", 3.5)] | None
    ) = None
    synthetic_years: Annotated[
        int,
        count(
            0, 500, "Years of days invented about the monthly means, for hours without power.", 200
        ),
    ] = 200
    seed: Annotated[
        int, count(0, 2**31 - 1, "Of these years; the same seed, the same years.", 1)
    ] = 1


class WeatherSeries(Input, kw_only=True):
    """Weather in steps, as a file of a year or of some days gives it."""

    name: Annotated[str, label("Name of the year or station.", "2019")] = "given"
    start: Moment
    step_s: Annotated[Step, choice("Length of a step [s].", 3600)] = 3600
    ghi_w_m2: Annotated[
        list[_Light], listing(1, MOST_STEPS, "Light on the horizontal, mean over each step.")
    ]
    dni_w_m2: Annotated[
        list[_Light],
        listing(0, MOST_STEPS, "Light from the sun's disc; split off the horizontal if empty."),
    ] = []
    dhi_w_m2: Annotated[
        list[_Light], listing(0, MOST_STEPS, "Diffuse light; together with `dni_w_m2` only.")
    ] = []
    air_c: Annotated[list[_Air], listing(1, MOST_STEPS, "Air temperature of each step.")]
    wind_m_s: Annotated[
        list[_Wind], listing(0, MOST_STEPS, "Wind of each step; a default if empty.")
    ] = []
    rain_mm: Annotated[
        list[Annotated[float, quantity("mm", 0.0, 500.0, "Rain of the step.", 0.4)]],
        listing(0, MOST_STEPS, "Rain of each step, for `soiling`."),
    ] = []


class HourlyWeather(WeatherSeries, tag_field="kind", tag="hourly", kw_only=True):
    """Weather in steps, as a file of a year or of some days gives it."""


Weather = ClearSkyWeather | HourlyWeather


class ParkedHeading(Input, kw_only=True):
    """One way in which the vehicle stands."""

    heading_deg: Annotated[
        float, quantity("°", 0.0, 360.0, "Where its front looks, clockwise from north.", 90.0)
    ]
    weight_fraction: Annotated[
        float, quantity("1", 0.001, 1.0, "Share of the time, against the others.", 1.0)
    ] = 1.0


class Parking(Input, kw_only=True):
    """How the vehicle stands: one heading, several, or all round."""

    headings: Annotated[
        list[ParkedHeading], listing(0, 16, "Headings; the first fixes things on the ground.")
    ] = []
    spread: (
        Annotated[int, count(2, 16, "So many headings all round, instead of a list.", 8)] | None
    ) = None
    pitch_deg: Annotated[
        float, quantity("°", -30.0, 30.0, "Roof tilt, positive with the nose up.", 0.0)
    ] = 0.0
    roll_deg: Annotated[
        float, quantity("°", -30.0, 30.0, "Roof tilt, positive with the right side down.", 0.0)
    ] = 0.0


class Driving(Input, kw_only=True):
    """Hours on the road: air over the roof, and nothing on the ground casts shade."""

    from_hour: _Hour
    to_hour: _Hour
    months: _Months = []
    air_speed_m_s: _Wind


class LoadEfficiency(Input, kw_only=True):
    """A controller's efficiency at part of its rating."""

    load_fraction: Annotated[float, quantity("1", 0.0, 1.0, "Input over the rated output.", 0.2)]
    efficiency_fraction: Annotated[float, quantity("1", 0.3, 1.0, "Output over input.", 0.97)]


class TrackerModel(Input, kw_only=True):
    """How a controller differs from an ideal one of its efficiency."""

    own_draw_w: Annotated[
        float, quantity("W", 0.0, 100.0, "Drawn from the battery day and night.", 0.5)
    ] = 0.0
    efficiency_by_load: Annotated[
        list[LoadEfficiency],
        listing(0, 20, "In place of the one efficiency; by rising load, the ends hold beyond."),
    ] = []
    tracking_fraction: Annotated[
        float, quantity("1", 0.5, 1.0, "Of the maximum that the tracker holds.", 0.99)
    ] = 1.0
    finds: Annotated[
        TrackedMaximum,
        choice("Which maximum of a shaded array it works at.", "highest-maximum"),
    ] = "highest-maximum"


class HarvestArray(Input, kw_only=True):
    """What feeds one controller."""

    controller: Annotated[Controller, prose("The controller.")]
    wiring: Annotated[ArrayWiring, prose("Its panels.")]
    tracker: Annotated[TrackerModel, prose("Its own draw, part load and tracking.")] = (
        TrackerModel()
    )
    panel_cable_ohm: Annotated[
        float, quantity("Ω", 0.0, 5.0, "Panels to controller, both ways.", 0.04)
    ] = 0.0
    battery_cable_ohm: Annotated[
        float, quantity("Ω", 0.0, 1.0, "Controller to battery, both ways.", 0.004)
    ] = 0.0


class BatteryUse(Input, kw_only=True):
    """How the battery is used."""

    start_state_fraction: _Share | None = None
    least_state_fraction: (
        Annotated[float, quantity("1", 0.0, 0.95, "State at which loads are cut off.", 0.1)] | None
    ) = None
    usable_capacity_fraction: (
        Annotated[float, quantity("1", 0.1, 1.0, "Of the rating, after ageing.", 0.9)] | None
    ) = None
    charge_efficiency_fraction: (
        Annotated[float, quantity("1", 0.3, 1.0, "Energy out per energy in.", 0.95)] | None
    ) = None
    self_discharge_fraction_per_month: Annotated[
        float, quantity("1", 0.0, 0.5, "Of what it holds, lost in 30 days.", 0.03)
    ] = 0.0
    management_draw_w: Annotated[
        float, quantity("W", 0.0, 100.0, "Drawn by its own electronics.", 0.2)
    ] = 0.0
    thermal_lag_h: Annotated[
        float, quantity("h", 0.0, 200.0, "Time constant with which it follows the air.", 12.0)
    ] = 0.0
    max_discharge_current_a: (
        Annotated[
            float,
            quantity("A", 0.5, 5000.0, "Largest current to loads; no limit if absent.", 100.0),
        ]
        | None
    ) = None


class HorizonPoint(Input, kw_only=True):
    """Height of the landscape in one direction."""

    azimuth_deg: Annotated[
        float, quantity("°", 0.0, 360.0, "Direction, clockwise from north.", 180.0)
    ]
    elevation_deg: Annotated[float, quantity("°", 0.0, 80.0, "Above the level.", 8.0)]


class PanelHeat(Input, kw_only=True):
    """Cell temperatures beyond a steady one that all panels share."""

    each_panel: Annotated[
        bool, prose("Whether each panel has the temperature of its own light, not of the mean.")
    ] = False
    stored_j_per_m2_k: Annotated[
        float,
        quantity(
            "J/(m²·K)",
            0.0,
            200_000.0,
            "Heat taken in by a panel and by what it is glued to; none by default.",
            9000.0,
        ),
    ] = 0.0


class Soiling(Input, kw_only=True):
    """Dirt that grows day by day until rain washes it off; wants `rain_mm` in the weather."""

    loss_per_day_fraction: Annotated[
        float, quantity("1", 0.0, 0.02, "Light lost more with every dry day.", 0.0015)
    ] = 0.0015
    washing_rain_mm: Annotated[
        float, quantity("mm", 0.1, 100.0, "Rain of a day that washes.", 6.0)
    ] = 6.0
    days_clean_after_rain: Annotated[
        int, count(0, 60, "Days after such rain on which no dirt settles.", 14)
    ] = 14
    washed_every_days: (
        Annotated[int, count(1, 366, "Washed by hand so often; never if absent.", 60)] | None
    ) = None


class Load(Input, kw_only=True):
    """Something that draws power at certain hours."""

    name: _Name
    power_w: Annotated[float, quantity("W", 0.0, 20_000.0, "While it is on.", 45.0)]
    from_hour: _Hour = 0.0
    to_hour: _Hour = 24.0
    duty_fraction: Annotated[
        float, quantity("1", 0.0, 1.0, "Share of these hours in which it is on.", 0.4)
    ] = 1.0
    months: _Months = []


class HarvestAlternative(Input, kw_only=True):
    """A candidate: the same study with something changed."""

    name: _Name
    panel_types: Annotated[
        list[PanelType], listing(0, 6, "Types of panel instead; as before if empty.")
    ] = []
    placements: Annotated[
        list[PlacedPanel], listing(0, 24, "Panels and places instead; as before if empty.")
    ] = []
    arrays: Annotated[
        list[HarvestArray], listing(0, 2, "Wiring and controllers instead; as before if empty.")
    ] = []
    construction: (
        Annotated[ConstructionName, choice("Of every panel instead.", "half-cell-2-diodes")] | None
    ) = None
    parking: Annotated[Parking, prose("Headings and tilt instead.")] | None = None
    mounting_heat: Annotated[PanelMountingHeat, prose("Mounting instead.")] | None = None
    battery: Annotated[Battery, prose("Battery bank instead.")] | None = None
    battery_use: Annotated[BatteryUse, prose("Limits and reserve instead.")] | None = None
    other_price: Annotated[
        float, quantity("1", 0.0, 1e7, "Price of what else it takes: cables, brackets.", 60.0)
    ] = 0.0
    other_mass_kg: Annotated[
        float, quantity("kg", 0.0, 2000.0, "Mass of what else it takes.", 3.0)
    ] = 0.0


class HarvestUncertainty(Input, kw_only=True):
    """Standard uncertainty (one sigma) of the year, as shares."""

    light_fraction: Annotated[float, quantity("1", 0.0, 0.5, "Light of the year.", 0.06)] | None = (
        None
    )
    shade_fraction: (
        Annotated[float, quantity("1", 0.0, 1.0, "Of what shade takes.", 0.25)] | None
    ) = None
    model_fraction: (
        Annotated[float, quantity("1", 0.0, 0.5, "Panels, dirt and heat.", 0.04)] | None
    ) = None


class HarvestConditions(Input, kw_only=True):
    """Where and how the vehicle stands, its shade, its loads, and over what time."""

    place: Annotated[Place, prose("Where it stands.")]
    weather: Annotated[Weather, prose("Light, air and wind.")]
    parking: Annotated[Parking, prose("Headings and tilt.")]
    driving: Annotated[list[Driving], listing(0, 4, "Hours on the road.")] = []
    panel_height_m: Annotated[
        float, quantity("m", 0.0, 0.5, "Panels' surface above the roof.", 0.03)
    ] = 0.03
    albedo_fraction: (
        Annotated[float, quantity("1", 0.0, 0.95, "Light thrown back by the ground.", 0.2)] | None
    ) = None
    shade: Annotated[list[ShadeObject], listing(0, 20, "What casts shade.")] = []
    surroundings_reflectance_fraction: Annotated[
        float,
        quantity("1", 0.0, 0.95, "Light thrown back by what hides sky; 0.5 for a light wall.", 0.3),
    ] = 0.0
    panel_heat: Annotated[PanelHeat, prose("Temperature by panel, and stored heat.")] = PanelHeat()
    dirt_fraction: Annotated[float, quantity("1", 0.0, 0.5, "Light lost to dirt.", 0.03)] | None = (
        None
    )
    soiling: (
        Annotated[Soiling, prose("Dirt, rain and washing, in place of `dirt_fraction`.")] | None
    ) = None
    horizon: Annotated[
        list[HorizonPoint],
        listing(0, 72, "Landscape all round; straight lines between points, none if empty."),
    ] = []
    spectrum: (
        Annotated[
            CellSpectrum,
            choice("Kind of cell whose response to colour counts; none if absent.", "monosi"),
        ]
        | None
    ) = None
    age_years: Annotated[float, quantity("a", 0.0, 50.0, "Age of the panels.", 5.0)] = 0.0
    yearly_loss_fraction: (
        Annotated[float, quantity("1", 0.0, 0.2, "Power lost with every year.", 0.006)] | None
    ) = None
    battery_use: Annotated[BatteryUse, prose("Limits and reserve.")] = BatteryUse()
    loads: Annotated[list[Load], listing(0, 40, "What draws power.")] = []
    summer_time: (
        Annotated[
            SummerTime,
            choice("Clocks of the loads are an hour ahead in summer, by whose rule.", "eu"),
        ]
        | None
    ) = None


class HarvestRequest(HarvestConditions, kw_only=True):
    """Site, weather, roof, shade, panels, battery and loads.

    Work is limited: steps × headings × (1 + alternatives and other years) at most 600,000; a
    service may allow less at a time.
    """

    other_years: Annotated[
        list[WeatherSeries], listing(0, 9, "More years, for the spread between years.")
    ] = []
    roof: Annotated[Roof, prose("Outline, crown, and what stands on it.")]
    roof_height_m: Annotated[float, quantity("m", 0.5, 4.5, "Roof above the ground.", 2.75)]
    panel_types: Annotated[list[PanelType], listing(1, 6, "Types of panel.")]
    placements: Annotated[list[PlacedPanel], listing(1, 24, "Every panel at its place.")]
    mounting_heat: Annotated[PanelMountingHeat, prose("How the panels shed heat.")] = (
        PanelMountingHeat()
    )
    arrays: Annotated[list[HarvestArray], listing(1, 2, "Controllers with their panels.")]
    battery: Annotated[Battery, prose("Battery bank.")]
    compare: Annotated[list[HarvestAlternative], listing(0, 24, "Candidates.")] = []
    uncertainty: Annotated[HarvestUncertainty, prose("How sure the inputs are.")] = (
        HarvestUncertainty()
    )
    detail: Annotated[HarvestDetail, choice("`steps` adds every step of time.", "months")] = (
        "months"
    )


class LossStep(Output, kw_only=True):
    """One step from the light on the roof to the battery."""

    code: Annotated[LossCode, choice("What takes it.", "beam-shade")]
    title: Annotated[str, prose("The same in words.", "Shadows on the cells")]
    lost_wh: _WattHours
    left_wh: _WattHours
    lost_fraction: Annotated[
        float, quantity("1", -1e6, 1e6, "Share of what was left before; negative for a gain.", 0.08)
    ]


class HarvestMonth(Output, kw_only=True):
    """One month of the study."""

    year: Annotated[int, count(1900, 2200, "Year.", 2027)]
    month: _Month
    days: Annotated[float, quantity("d", 0.0, 31.0, "Days of it in the study.", 30.0)]
    light_wh_m2: Annotated[
        float, quantity("Wh/m²", 0.0, 1e7, "In the panels' planes, no shade.", 152_000.0)
    ]
    array_wh: _WattHours
    charged_wh: _WattHours
    load_wh: _WattHours
    served_wh: _WattHours
    hours_without_power: Annotated[
        float, quantity("h", 0.0, 800.0, "Loads cut off; mean of invented years.", 6.0)
    ]
    lowest_state_fraction: _Share
    typical_day_w: Annotated[
        list[_Watts], listing(24, 24, "Mean power into the battery by hour of the day.")
    ]


class BatteryBalance(Output, kw_only=True):
    """What went through the battery; ends agree with what it held."""

    charged_wh: _WattHours
    storage_lost_wh: _WattHours
    served_wh: _WattHours
    unserved_wh: _WattHours
    start_wh: _WattHours
    end_wh: _WattHours
    lowest_state_fraction: _Share
    lowest_at: Annotated[Moment, prose("When it was lowest.", "2027-12-21T06:00:00+01:00")]
    hours_without_power: Annotated[
        float, quantity("h", 0.0, 9000.0, "Loads cut off; in a typical invented year.", 31.0)
    ]
    days_without_power: Annotated[int, count(0, 366, "Days with such an hour.", 9)]
    frost_hours: Annotated[float, quantity("h", 0.0, 9000.0, "Too cold to charge.", 210.0)]
    peak_load_w: Annotated[
        float, quantity("W", 0.0, 1e6, "Loads that may be on at once, their full power.", 180.0)
    ]
    full_hours: Annotated[float, quantity("h", 0.0, 9000.0, "Full, sun left over.", 640.0)]
    autonomy_days: (
        Annotated[
            float, quantity("d", 0.0, 1e6, "Full to empty without sun; None without loads.", 3.2)
        ]
        | None
    )


class Autonomy(Output, kw_only=True):
    """How long loads lack power, as a probability where the weather allows one."""

    basis: Annotated[
        AutonomyBasis,
        choice(
            "Years invented about monthly means, several given years, or one, which tells no "
            "probability.",
            "synthetic-years",
        ),
    ]
    years: Annotated[int, count(1, 500, "How many years.", 200)]
    seed: Annotated[int, count(0, 2**31 - 1, "Of invented years.", 1)] | None
    low_h: Annotated[
        float, quantity("h", 0.0, 9000.0, "Least of given years; 5 % of invented ones.", 2.0)
    ]
    middle_h: Annotated[float, quantity("h", 0.0, 9000.0, "Without power in a typical year.", 31.0)]
    one_in_ten_h: Annotated[
        float,
        quantity("h", 0.0, 9000.0, "What one year in ten exceeds; most of given years.", 80.0),
    ]
    high_h: Annotated[
        float, quantity("h", 0.0, 9000.0, "Most of given years; 95 % of invented ones.", 96.0)
    ]
    years_without_gap_fraction: Annotated[
        float, quantity("1", 0.0, 1.0, "Years in which loads always have power.", 0.1)
    ]
    middle_lowest_state_fraction: _Share
    one_in_ten_lowest_state_fraction: _Share
    text: Annotated[str, prose("What these figures are, and what they do not promise.")]


class PanelSky(Output, kw_only=True):
    """What one panel sees, over the study and all headings."""

    panel: PanelName
    visible_sky_fraction: _Share
    beam_fraction: Annotated[
        float, quantity("1", 0.0, 1.0, "Share of the beam's energy that reaches its cells.", 0.87)
    ]


class HarvestComparison(Output, kw_only=True):
    """One line of the comparison."""

    rank: Annotated[
        int,
        count(
            1,
            48,
            "Place, by energy at the battery's terminals, then hours without power and price.",
            1,
        ),
    ]
    name: Annotated[str, prose("`as given`, a heading, or the alternative.", "all in series")]
    available_wh: Annotated[
        float, quantity("Wh", 0.0, 1e12, "At the terminals, before a full battery.", 286_000.0)
    ]
    charged_wh: _WattHours
    served_wh: _WattHours
    hours_without_power: Annotated[
        float, quantity("h", 0.0, 9000.0, "Loads cut off, in a typical year.", 31.0)
    ]
    panel_power_w: Annotated[float, quantity("W", 0.0, 1e6, "Nameplate of wired panels.", 345.0)]
    price: (
        Annotated[
            float,
            quantity(
                "1",
                0.0,
                1e9,
                "Of wired panels, controllers, battery and `other_price`; what all candidates "
                "share and nobody priced is left out. None where a differing part has no price.",
                620.0,
            ),
        ]
        | None
    )
    mass_kg: Annotated[float, quantity("kg", 0.0, 1e5, "Counted in the same way.", 34.0)] | None
    beaten_by: Annotated[
        str,
        prose(
            "A candidate at least as good in energy, hours without power, price and mass, and "
            "better in one of them; empty if there is none."
        ),
    ]
    against_given_fraction: Annotated[
        float, quantity("1", -1.0, 1e9, "Available energy against the request.", 0.04)
    ]
    reason: Annotated[str, prose("Which losses make the difference.")]


class HarvestRange(Output, kw_only=True):
    """How sure the year's energy is."""

    basis: Annotated[
        RangeBasis,
        choice("Where the range comes from.", "stated-range"),
    ]
    low_wh: _WattHours
    middle_wh: _WattHours
    high_wh: _WattHours
    text: Annotated[str, prose("What the range is.")]


class YearResult(Output, kw_only=True):
    """Energy in one of several years of weather."""

    name: Annotated[str, prose("Name of the year.", "2019")]
    charged_wh: _WattHours
    hours_without_power: Annotated[float, quantity("h", 0.0, 9000.0, "Loads cut off.", 31.0)]


class HarvestSteps(Output, kw_only=True):
    """Every step of time; empty lists unless asked for."""

    starts_at: Annotated[Moment, prose("Begin of the first step; null if not asked for.")] | None
    step_s: Annotated[int, count(0, 3600, "Length of a step [s]; 0 if not asked for.", 3600)]
    array_w: Annotated[list[_Watts], listing(0, MOST_STEPS, "Maximum power of the wired panels.")]
    charging_w: Annotated[list[_Watts], listing(0, MOST_STEPS, "Power into the battery.")]
    load_w: Annotated[list[_Watts], listing(0, MOST_STEPS, "Power asked for.")]
    state_fraction: Annotated[list[_Share], listing(0, MOST_STEPS, "State at each step's end.")]


class HarvestAnswer(Answer, kw_only=True):
    """Energy by month and typical day, losses, battery, comparison."""

    summary: Annotated[
        list[Annotated[str, prose("One sentence.")]], listing(1, 20, "The answer in plain words.")
    ]
    panel_power_w: Annotated[float, quantity("W", 0.0, 1e6, "Nameplate of wired panels.", 345.0)]
    light_wh: Annotated[
        float, quantity("Wh", 0.0, 1e12, "Nameplate energy of the unshaded light.", 560_000.0)
    ]
    losses: Annotated[list[LossStep], listing(18, 18, "From that light to the battery, in order.")]
    charged_wh: _WattHours
    months: Annotated[list[HarvestMonth], listing(1, 13, "Every month of the study.")]
    battery: Annotated[BatteryBalance, prose("The battery over the study.")]
    autonomy: (
        Annotated[
            Autonomy, prose("Hours without power; None without loads, or if every day is alike.")
        ]
        | None
    )
    panels: Annotated[list[PanelSky], listing(1, 24, "What each panel sees.")]
    comparison: Annotated[
        list[HarvestComparison], listing(0, 48, "Best first; empty where nothing is compared.")
    ]
    range: Annotated[HarvestRange, prose("How sure the energy is.")]
    years: Annotated[list[YearResult], listing(0, 10, "Energy by year of weather.")]
    steps: Annotated[HarvestSteps, prose("Every step of time.")]
