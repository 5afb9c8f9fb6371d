"""`fit-out`: the whole job in one request, everything for one build in one answer."""

from typing import Annotated, Literal

from .array import Arrangement, ArrayTarget, ConnectorRatings, Drawn, Rejection, Removable, SunState
from .bank import BankCharger, BankLoad
from .base import Input, Output
from .check import Answer, Verdict
from .harvest import HarvestAnswer, HarvestConditions
from .mount import (
    MOST_FEET,
    Cure,
    Expectation,
    Improvement,
    Mounting,
    PanelWind,
    PassSpeed,
    Reserve,
    RoofSkin,
    RoofSurface,
    SheetProperties,
    SpacerSheet,
    TravelConditions,
    Utilisation,
    VehicleRoof,
)
from .panel import ConstructionName, PanelName, PanelType, PanelTypeName
from .parts import Part, PartKey, PartName, merged
from .quantity import choice, count, label, listing, prose, quantity
from .roof import (
    LayoutGoal,
    LayoutSearch,
    PanelOrientation,
    PlacedPanel,
    Roof,
    RoofPlan,
    Support,
    SupportLoad,
)
from .shade import ShadeShape
from .system import Battery, Controller, PanelMountingHeat, RuleSet, SiteTemperatures
from .wiring import (
    Conductor,
    ConductorSize,
    DeviceKind,
    Disconnect,
    FuseFamily,
    Gland,
    GlandSize,
    Insulation,
    WiringNote,
)
from .work import WorkConditions, WorkCost, WorkStep

FitOutDetail = Literal["governing", "all"]

ProtectionState = Literal["proven", "protected", "stub", "open"]
"""No source can overload it; devices hold back what could; short enough before a device; open."""
FaultTo = Literal["either", "return", "chassis"]
"""Where a faulty positive conductor touches."""
LineKind = Literal[
    "pv-string",
    "pv-output",
    "controller-to-battery",
    "removable-panel",
    "starter-to-charger",
    "charger-to-battery",
    "bus-to-load",
    "bus-to-battery",
]
PV_LINES: tuple[LineKind, ...] = ("pv-string", "pv-output", "removable-panel")


WorkState = Literal["planned", "fixed", "owned", "unavailable"]
WorkPart = Literal[
    "panel",
    "foot",
    "cable",
    "fuse",
    "disconnect",
    "plug",
    "gland",
    "branch-connector",
    "controller",
    "battery",
    "entry",
]
MOST_PARTS = 200
MOST_PANEL_TYPES = 6
PanelRanking = Literal["energy", "power", "price", "mass"]


class FitOutPanelType(PanelType, kw_only=True):
    """One type of panel with what it brings along; its body is needed here."""

    mounting: Annotated[
        Mounting,
        prose("How every panel of this type is held; feet and rails in the panel's coordinates."),
    ]
    wind: Annotated[PanelWind, prose("Air under and over the panel.")] | None = None
    sheet: Annotated[SheetProperties, prose("Stiffness and strength of the panel.")] | None = None
    spacer: Annotated[SpacerSheet, prose("Twin-wall sheet under the panel.")] | None = None
    lead_length_m: (
        Annotated[float, quantity("m", 0.0, 5.0, "Length of each of the panel's own leads.", 0.9)]
        | None
    ) = None
    panels_wanted: (
        Annotated[
            int, count(1, 24, "How many; as many as fit if not given and nothing is placed.", 4)
        ]
        | None
    ) = None
    stock: Annotated[int, count(1, 24, "How many there are to choose from.", 4)] | None = None
    orientation: Annotated[
        PanelOrientation,
        choice("Where nothing is placed: length along the vehicle, across it, or either.", "any"),
    ] = "any"


class PanelChoice(Input, kw_only=True):
    """To choose one of the panel types, and how many: each is laid out, wired and judged."""

    rank_by: (
        Annotated[
            PanelRanking,
            choice(
                "Among those that hold: energy over the time of `harvest`, charging power averaged "
                "over sun and shade, or price or mass for each of them; energy where `harvest` is "
                "given, else power.",
                "energy",
            ),
        ]
        | None
    ) = None
    constructions: Annotated[
        list[Annotated[ConstructionName, choice("Cells and diodes.", "half-cell-2-diodes")]],
        listing(0, 8, "Constructions to try of each type; its own if empty."),
    ] = []
    numbers: Annotated[
        list[Annotated[int, count(1, 24, "Panels.", 2)]],
        listing(0, 4, "How many of a type to try; as many as fit and are in stock if empty."),
    ] = []


class LayoutPreferences(Input, kw_only=True):
    """How to lay panels out where no places are given."""

    prefer: Annotated[
        LayoutGoal,
        choice("What matters most among layouts of the same power.", "balanced"),
    ] = "balanced"
    search: Annotated[LayoutSearch, prose("Limits of the search.")] = LayoutSearch(time_limit_s=2.0)


class RoofSun(Input, kw_only=True):
    """Where the sun stands as seen from the roof; tall things on it cast shadows."""

    elevation_deg: Annotated[
        float, quantity("°", 1.0, 90.0, "Height of the sun above the roof's plane.", 25.0)
    ]
    from_front_deg: Annotated[
        float,
        quantity("°", -360.0, 360.0, "Direction to the sun, from forward towards the right.", 90.0),
    ]


class FitOutLight(Input, kw_only=True):
    """One state of light: the sun, and shadows as shapes on the roof."""

    name: Annotated[str, label("Name, unique within the request.", "lime tree, morning")]
    weight_fraction: Annotated[
        float,
        quantity("1", 0.0, 1.0, "Share of the useful time; what is left is full sun.", 0.3),
    ]
    irradiance_w_m2: Annotated[
        float, quantity("W/m²", 1.0, 1500.0, "Irradiance on an unshaded cell.", 700.0)
    ]
    cell_temperature_c: Annotated[
        float, quantity("°C", -60.0, 130.0, "Cell temperature of all panels.", 45.0)
    ]
    diffuse_fraction: Annotated[
        float, quantity("1", 0.0, 1.0, "Share of the light that shadows spare.", 0.15)
    ] = 0.0
    shapes: Annotated[list[ShadeShape], listing(0, 60, "Shadows in roof coordinates.")] = []
    sun: (
        Annotated[RoofSun, prose("Adds the shadows of the roof's own obstacles with a height.")]
        | None
    ) = None


class PartInWork(Input, kw_only=True):
    """How far a part of the build is, or all of a kind; a part that nothing is said of is planned.

    What is said of one counts before what is said of all. A cable, and what sits in one, is of a
    line of the wire schedule.
    """

    part: Annotated[WorkPart, choice("What it is.", "panel")]
    state: Annotated[
        WorkState,
        choice(
            "Planned: free. Fixed: built in, stays and is judged as it is. Owned: used where it "
            "fits, and not bought. Unavailable: broken, lost or sold out, and not used.",
            "fixed",
        ),
    ]
    line: (
        Annotated[LineKind, choice("What its line connects; anything if not given.", "pv-output")]
        | None
    ) = None
    name: (
        Annotated[
            str,
            label(
                "Which panel or controller; of feet, which panel or panel type; of a line, its "
                "number (W2), that of its device (F1), or the controller, charger, load or panel "
                "at it; all if not given.",
                "sheet-1",
            ),
        ]
        | None
    ) = None
    number: (
        Annotated[int, count(1, MOST_FEET, "Which foot of the panel; all if not given.", 3)] | None
    ) = None
    size: (
        Annotated[ConductorSize, prose("Of a cable; that of the schedule if not given.")] | None
    ) = None
    length_m: (
        Annotated[float, quantity("m", 0.05, 300.0, "Of a fixed cable, one way.", 4.2)] | None
    ) = None
    rating_a: (
        Annotated[
            float,
            quantity(
                "A",
                0.5,
                1000.0,
                "Of a fuse, disconnect, plug or branch connector; that of the schedule if not "
                "given.",
                40.0,
            ),
        ]
        | None
    ) = None
    family: Annotated[FuseFamily, choice("Of a fuse; any if not given.", "battery-stud")] | None = (
        None
    )
    gland: (
        Annotated[GlandSize, choice("Of a gland; that of the schedule if not given.", "M16")] | None
    ) = None


class CableRoute(Input, kw_only=True):
    """Lengths below the roof, and what the cables are made of."""

    entry_to_controller_m: Annotated[
        float, quantity("m", 0.1, 30.0, "Cable entry to charge controller, one way.", 2.5)
    ]
    controller_to_battery_m: Annotated[
        float, quantity("m", 0.1, 30.0, "Charge controller to battery, one way.", 1.2)
    ]
    conductor: Annotated[Conductor, prose("Metal and strands.")] = Conductor()
    roof_insulation: Annotated[Insulation, choice("Cable on the roof.", "en-50618")] | None = None
    inside_insulation: Annotated[Insulation, choice("Cable inside.", "90c")] | None = None
    bus_to_battery_m: (
        Annotated[float, quantity("m", 0.05, 10.0, "Bus bar to battery, one way.", 0.4)] | None
    ) = None
    cable_diameter_mm: (
        Annotated[float, quantity("mm", 2.0, 40.0, "Outside diameter of the PV cable.", 6.1)] | None
    ) = None
    plug_temperature_c: (
        Annotated[float, quantity("°C", 60.0, 150.0, "Temperature rating of the plugs.", 75.0)]
        | None
    ) = None
    height_above_roof_m: (
        Annotated[float, quantity("m", 0.0, 2.0, "Gap between roof and cable.", 0.0)] | None
    ) = None
    inside_ambient_c: (
        Annotated[float, quantity("°C", -60.0, 100.0, "Hottest air inside the vehicle.", 45.0)]
        | None
    ) = None
    pv_drop_fraction: (
        Annotated[float, quantity("1", 0.0005, 0.5, "Allowed drop, panels to controller.", 0.03)]
        | None
    ) = None
    battery_drop_fraction: (
        Annotated[float, quantity("1", 0.0005, 0.5, "Allowed drop, controller to battery.", 0.01)]
        | None
    ) = None
    slack_fraction: Annotated[
        float, quantity("1", 0.0, 1.0, "Added to every roof length for bends and loops.", 0.1)
    ] = 0.1


class FitOutVehicle(VehicleRoof, kw_only=True):
    """The vehicle as the wind and its maker see it; the roof's size comes from its outline."""

    other_roof_mass_kg: Annotated[
        float, quantity("kg", 0.0, 2000.0, "Everything on the roof but the panels.", 12.0)
    ]
    supports: Annotated[
        list[Support], listing(0, 12, "Wheels and hitch, to share what the build adds among them.")
    ] = []
    mass_kg: (
        Annotated[float, quantity("kg", 50.0, 40_000.0, "Loaded for travel, before.", 2900.0)]
        | None
    ) = None
    centre_height_m: (
        Annotated[
            float, quantity("m", 0.1, 4.0, "Its centre of gravity above the road, before.", 1.1)
        ]
        | None
    ) = None


class FitOutRequest(Input, kw_only=True):
    """The whole job; nothing needs to be said twice."""

    title: Annotated[str, label("Name of the job, printed on the sheet.", "Library van 7")]
    vehicle: Annotated[FitOutVehicle, prose("What it is and how it meets the wind.")]
    roof: Annotated[Roof, prose("Outline, obstacles, seams, cable entry.")]
    surface: Annotated[RoofSurface, prose("What adhesives stick to.")] | None = None
    skin: Annotated[RoofSkin, prose("What fasteners hold in and the cables pass.")] | None = None
    panel_types: Annotated[list[FitOutPanelType], listing(1, MOST_PANEL_TYPES, "Types of panel.")]
    choose: (
        Annotated[
            PanelChoice, prose("Take the types as candidates and build with the best of them.")
        ]
        | None
    ) = None
    placements: Annotated[
        list[PlacedPanel],
        listing(0, 24, "Every panel at its place; where none is given, panels are laid out."),
    ] = []
    layout: Annotated[LayoutPreferences, prose("How to lay out, where no places are given.")] = (
        LayoutPreferences()
    )
    min_gap_m: (
        Annotated[float, quantity("m", 0.0, 1.0, "Smallest gap between panels.", 0.02)] | None
    ) = None
    leave_out_at_most: (
        Annotated[int, count(0, 23, "Panels that the wiring may leave unused.", 0)] | None
    ) = None
    mounting_heat: Annotated[PanelMountingHeat, prose("How the panels shed heat.")] = (
        PanelMountingHeat()
    )
    travel: Annotated[TravelConditions, prose("Speed, weather and road.")] = TravelConditions()
    controllers: Annotated[list[Controller], listing(1, 2, "Charge controllers at hand.")]
    battery: Annotated[Battery, prose("Battery bank.")]
    site: Annotated[SiteTemperatures, prose("Temperatures to live with.")]
    rules: Annotated[RuleSet, choice("Electrical rules to apply.", "nec-2023")]
    cables: Annotated[CableRoute, prose("Lengths and kinds of cable.")]
    connectors: Annotated[ConnectorRatings, prose("Plugs and branches.")] = ConnectorRatings()
    removable: Removable = []
    chargers: Annotated[
        list[BankCharger], listing(0, 4, "Other chargers; with them or loads a bus bar is built.")
    ] = []
    loads: Annotated[list[BankLoad], listing(0, 8, "Inverter and circuits at the bus bar.")] = []
    parts: Annotated[
        list[PartInWork],
        listing(0, MOST_PARTS, "How far which parts are."),
    ] = []
    drawn: Drawn = []
    sun: Annotated[SunState, prose("Full sun.")] = SunState()
    light: Annotated[list[FitOutLight], listing(0, 20, "States of partial shade.")] = []
    target: Annotated[ArrayTarget, prose("What makes one wiring better than another.")] = (
        ArrayTarget()
    )
    harvest: (
        Annotated[
            HarvestConditions,
            prose("Place, weather, shade and loads, to tell the energy of the build."),
        ]
        | None
    ) = None
    work: Annotated[WorkConditions, prose("Bench test, old roof, rates and prices.")] = (
        WorkConditions()
    )
    part_names: Annotated[
        list[PartName], listing(0, 500, "Own names of parts; those of no part here do no harm.")
    ] = []
    detail: Annotated[
        FitOutDetail,
        choice(
            "Of a mount's load cases that pass: the governing one for each rule, or all.",
            "governing",
        ),
    ] = "governing"


class RoofPlacement(Output, kw_only=True):
    """One panel as placed, with its way to the cable entry."""

    panel: PanelName
    panel_type: PanelTypeName
    x_m: Annotated[float, quantity("m", -5.0, 30.0, "Corner nearest the front left, x.", 0.6)]
    y_m: Annotated[float, quantity("m", -5.0, 30.0, "Corner nearest the front left, y.", 0.2)]
    along_x_m: Annotated[float, quantity("m", 0.0, 5.0, "Size along x.", 1.2)]
    along_y_m: Annotated[float, quantity("m", 0.0, 5.0, "Size along y.", 0.5)]
    cable_to_entry_m: Annotated[
        float, quantity("m", 0.0, 200.0, "Along the roof, slack included.", 1.8)
    ]


class RoofSummary(Output, kw_only=True):
    """What is on the roof."""

    placements: Annotated[list[RoofPlacement], listing(1, 24, "Every panel.")]
    entry_x_m: Annotated[float, quantity("m", -5.0, 30.0, "Cable entry, x.", 2.8)]
    entry_y_m: Annotated[float, quantity("m", -5.0, 30.0, "Cable entry, y.", 1.0)]
    panel_mass_kg: Annotated[float, quantity("kg", 0.0, 3000.0, "Mass of all panels.", 9.2)]
    centre_x_m: Annotated[float, quantity("m", -5.0, 30.0, "Their centre of mass, x.", 2.1)]
    centre_y_m: Annotated[float, quantity("m", -5.0, 30.0, "Their centre of mass, y.", 1.0)]
    panel_area_fraction: Annotated[
        float, quantity("1", 0.0, 1.0, "Share of the roof under panels.", 0.32)
    ]


class WireLine(Output, kw_only=True):
    """One line of the wire schedule."""

    line: Annotated[str, prose("Number on plan and diagram.", "W2")]
    kind: Annotated[LineKind, choice("What it connects.", "pv-output")]
    start: Annotated[str, prose("From.", "branch connectors on the roof")]
    end: Annotated[str, prose("To.", "controller-1")]
    device: Annotated[
        str,
        prose(
            "What tells it from others of its kind: controller, charger or load, of a string's "
            "cable its first panel.",
            "controller-1",
        ),
    ]
    length_m: Annotated[float, quantity("m", 0.0, 300.0, "One way.", 4.3)]
    conductors: Annotated[int, count(1, 100, "Conductors of this length.", 2)]
    maximum_current_a: Annotated[
        float, quantity("A", 0.0, 1e5, "Largest current that the rules reckon with.", 16.0)
    ]
    operating_current_a: Annotated[float, quantity("A", 0.0, 1e5, "Current in full sun.", 12.0)]
    awg: Annotated[str, prose("Smallest gauge that passes; empty if none does.", "8")]
    awg_area_mm2: Annotated[
        float, quantity("mm²", 0.0, 1000.0, "Metal of that gauge; 0 if none.", 8.367)
    ]
    metric_mm2: Annotated[
        float, quantity("mm²", 0.0, 1000.0, "Smallest metric size that passes; 0 if none.", 10.0)
    ]
    at_hand: Annotated[
        str, prose("Size at hand that it is built of; empty where it is free.", "10 AWG")
    ]
    governing: Annotated[str, prose("Rule that decided the size.", "voltage-drop")]
    drop_of: Annotated[
        str,
        prose("Size that the figures below are of: at hand, or in the rules' ladder.", "8 AWG"),
    ]
    ampacity_a: Annotated[
        float, quantity("A", 0.0, 1e5, "What it carries here, terminals included.", 40.0)
    ]
    largest_device_a: Annotated[
        float, quantity("A", 0.0, 1e5, "Largest fuse or breaker that protects it.", 40.0)
    ]
    slotted_torque_n_m: Annotated[
        float,
        quantity("N·m", 0.0, 100.0, "Slotted terminal screws whose maker names no torque.", 5.1),
    ]
    hexagon_torque_n_m: Annotated[
        float,
        quantity("N·m", 0.0, 100.0, "Hexagon terminal screws whose maker names none.", 12.4),
    ]
    drop_v: Annotated[float, quantity("V", 0.0, 1e6, "Voltage drop in full sun.", 0.31)]
    drop_fraction: Annotated[float, quantity("1", 0.0, 1e6, "The same as a share.", 0.016)]
    loss_w: Annotated[float, quantity("W", 0.0, 1e9, "Heat in the cable in full sun.", 3.7)]
    verdict: Annotated[Verdict, choice("Worst of the line's checks.", "pass")]
    part_keys: Annotated[list[PartKey], listing(0, 2, "Cable on the parts list, plus and minus.")]


class ProtectiveDevice(Output, kw_only=True):
    """One fuse or breaker of the schedule."""

    device: Annotated[str, prose("Number on the diagram.", "F1")]
    protects: Annotated[str, prose("Wire line or string.", "W3")]
    also_protects: Annotated[
        list[Annotated[str, prose("Wire line or string.", "string 1 of controller-1")]],
        listing(0, 30, "What else lies behind it."),
    ]
    of_string: Annotated[bool, prose("Whether it is a string fuse on the roof.")]
    at_hand: Annotated[bool, prose("Whether it is there already.")]
    kind: Annotated[DeviceKind, choice("Fuse or breaker.", "fuse")]
    rating_a: Annotated[float, quantity("A", 0.0, 2000.0, "Rated current; 0 if none fits.", 40.0)]
    family: Annotated[str, prose("Family of fuses or breakers.", "Class T")]
    minimum_voltage_v: Annotated[
        float, quantity("V", 0.0, 3000.0, "Direct-current voltage rating that it needs.", 14.6)
    ]
    minimum_interrupting_a: Annotated[
        float, quantity("A", 0.0, 500_000.0, "Fault current that it must break.", 4000.0)
    ]
    place: Annotated[str, prose("Where it sits.", "at the battery's positive post")]
    pieces: Annotated[int, count(1, 100, "How many.", 1)]
    part_key: PartKey

    @property
    def protected(self) -> str:
        """Everything that it protects, in words."""
        return ", ".join([self.protects, *self.also_protects])


class CurrentPath(Output, kw_only=True):
    """What one source can push into a conductor, and what makes that safe.

    With the battery switched off its rows fall away, and the others stay.
    """

    conductor: Annotated[
        str, prose("Wire line, its piece up to a fuse, its return, or the chassis bond.", "W2")
    ]
    source: Annotated[str, prose("What drives the current.", "string 1 of controller-1")]
    enters_from: Annotated[str, prose("The end where it enters.", "controller-1")]
    fault_to: Annotated[
        FaultTo,
        choice("Where the faulty positive touches: its return, the chassis, or either.", "either"),
    ]
    fault_current_a: Annotated[
        float, quantity("A", 0.0, 500_000.0, "Into a short circuit, before a fuse opens.", 4000.0)
    ]
    lasting_current_a: Annotated[
        float, quantity("A", 0.0, 500_000.0, "What fuses and source let pass for hours.", 40.0)
    ]
    state: Annotated[
        ProtectionState,
        choice("What makes the end safe from all sources together; `open`: nothing.", "protected"),
    ]
    devices: Annotated[
        list[Annotated[str, prose("Number on the diagram.", "F1")]],
        listing(0, 30, "Devices that open for this source, the nearest to it first."),
    ]


class PanelMount(Output, kw_only=True):
    """Whether one panel stays on the roof."""

    panel: PanelName
    verdict: Annotated[Verdict, choice("Worst of its mount checks.", "review")]
    governing_code: Annotated[str, prose("Code of the governing check.", "foot-peel")]
    governing_title: Annotated[str, prose("The same in words.", "Peel at the pad's edge")]
    utilisation_fraction: Utilisation
    expected: Annotated[Expectation, prose("What is to be expected at the governing check.")]
    pass_speed_m_s: PassSpeed
    left_out: Annotated[
        list[str], listing(0, 40, "Speed-dependent checks in words that this speed leaves out.")
    ]
    fail_speed_m_s: (
        Annotated[
            float,
            quantity("m/s", 0.0, 200.0, "Fastest at which none fails; none where one does.", 27.0),
        ]
        | None
    )
    foot_lost_reserve_fraction: Reserve
    cure: Annotated[Cure, prose("When to drive; none where nothing is glued.")] | None
    nut_torque_n_m: (
        Annotated[float, quantity("N·m", 0.0, 1000.0, "Torque of nuts; none without.", 2.6)] | None
    )
    improvements: Annotated[
        list[Improvement],
        listing(0, 40, "What helps, computed, best first; nothing where all passes."),
    ]


class AxleLoad(Output, kw_only=True):
    """What the build adds to one axle, or to the hitch."""

    x_m: Annotated[float, quantity("m", -5.0, 30.0, "Behind the roof's front edge.", 3.1)]
    supports: Annotated[
        list[Annotated[str, prose("Wheel or hitch.", "rear left")]], listing(1, 12, "Its wheels.")
    ]
    mass_kg: Annotated[
        float, quantity("kg", -1e4, 1e4, "Negative where the build relieves it.", 12.0)
    ]
    share_fraction: Annotated[float, quantity("1", -100.0, 100.0, "Of what is added.", 0.6)]


class VehicleBalance(Output, kw_only=True):
    """What the build on the roof does to the vehicle; feet and cables are not counted."""

    added_mass_kg: Annotated[
        float, quantity("kg", 0.0, 3000.0, "Panels with spacer sheets and rails.", 10.4)
    ]
    added_height_m: Annotated[
        float, quantity("m", 0.0, 8.0, "Their centre of gravity above the road.", 2.8)
    ]
    supports: Annotated[list[SupportLoad], listing(0, 12, "Share of each wheel and the hitch.")]
    axles: Annotated[list[AxleLoad], listing(0, 12, "Share of each axle, from the front.")]
    mass_kg: (
        Annotated[float, quantity("kg", 0.0, 50_000.0, "Vehicle with the build.", 2910.0)] | None
    )
    centre_height_m: (
        Annotated[float, quantity("m", 0.0, 8.0, "Centre of gravity with the build.", 1.106)] | None
    )
    centre_rise_m: (
        Annotated[float, quantity("m", -8.0, 8.0, "How far the build lifts it.", 0.006)] | None
    )


class FitOutCandidate(Output, kw_only=True):
    """One panel type in one number and construction, laid out, wired and judged."""

    rank: Annotated[int, count(1, 24, "Place; the first is built.", 1)]
    panel_type: PanelTypeName
    construction: (
        Annotated[
            ConstructionName, choice("That was tried in place of its own.", "half-cell-2-diodes")
        ]
        | None
    )
    panels: Annotated[int, count(0, 24, "How many are wired; none where it is refused.", 4)]
    verdict: Annotated[Verdict, choice("Worst of its checks, those of `harvest` apart.", "review")]
    array_power_w: Annotated[float, quantity("W", 0.0, 1e6, "Nameplate power.", 460.0)]
    weighted_power_w: Annotated[
        float, quantity("W", 0.0, 1e6, "Charging power averaged over sun and shade.", 350.0)
    ]
    energy_wh: (
        Annotated[
            float,
            quantity(
                "Wh",
                0.0,
                1e12,
                "At the battery's terminals over the time of `harvest`; none without it.",
                286_000.0,
            ),
        ]
        | None
    )
    price: (
        Annotated[float, quantity("1", 0.0, 1e9, "Of the panels; none if not given.", 560.0)] | None
    )
    mass_kg: Annotated[float, quantity("kg", 0.0, 3000.0, "Of the panels.", 9.2)]
    pass_speed_m_s: PassSpeed
    reason: Annotated[str, prose("Why it ranks where it does.", "Most power of those that hold.")]
    needs: Annotated[
        list[Annotated[str, prose("What to change.", "Use two strings instead of one.")]],
        listing(0, 400, "What it would take to hold, or to come first."),
    ]


class FitOutAnswer(Answer, kw_only=True):
    """One build, checked; `checks` holds those of every part, named by `subject`."""

    title: Annotated[str, prose("Name of the job.", "Library van 7")]
    summary: Annotated[
        list[Annotated[str, prose("One sentence.")]], listing(1, 30, "The answer in plain words.")
    ]
    candidates: Annotated[
        list[FitOutCandidate], listing(0, 24, "Panels to choose from, best first, if asked for.")
    ]
    array_power_w: Annotated[
        float, quantity("W", 0.0, 1e6, "Nameplate power of the wired panels.", 460.0)
    ]
    configurations: Annotated[
        list[Arrangement],
        listing(1, 200, "Ways to wire the panels: as drawn, then best first; the first is built."),
    ]
    rejections: Annotated[list[Rejection], listing(0, 50, "Why other wirings fail.")]
    hot_cell_c: Annotated[float, quantity("°C", -60.0, 200.0, "Hot cells reckoned with.", 78.0)]
    roof: Annotated[RoofSummary, prose("Panels on the roof.")]
    vehicle: Annotated[VehicleBalance, prose("Mass, axles, centre of gravity.")]
    plan: Annotated[RoofPlan, prose("The roof with panels, feet and cables, for drawing.")]
    wire_schedule: Annotated[list[WireLine], listing(1, 60, "Every cable.")]
    protection_schedule: Annotated[list[ProtectiveDevice], listing(0, 60, "Every fuse or breaker.")]
    current_paths: Annotated[
        list[CurrentPath],
        listing(0, 2000, "Every source that can feed a cable, by its end, and what opens."),
    ]
    disconnects: Annotated[list[Disconnect], listing(0, 10, "Every means to switch off.")]
    glands: Annotated[list[Gland], listing(0, 12, "Glands of the cable entry.")]
    wiring_notes: Annotated[
        list[WiringNote], listing(0, 40, "Polarity, order, bonding, guarding: each note once.")
    ]
    mounts: Annotated[list[PanelMount], listing(1, 24, "Every panel's hold.")]
    parts_list: Annotated[list[Part], listing(1, 300, "What to buy.")]
    work_steps: Annotated[list[WorkStep], listing(1, 100, "What to do, in order.")]
    work_cost: Annotated[WorkCost, prose("Hours and money.")]
    harvest: (
        Annotated[
            HarvestAnswer,
            prose(
                "Energy of the build, and of the candidates beside it; its checks, assumptions, "
                "cautions and sources stand among those of the build."
            ),
        ]
        | None
    )

    def parts(self, *others: "FitOutAnswer") -> list[Part]:
        """What to buy for this job, and for others with it, each key once.

        Parameters
        ----------
        *others : FitOutAnswer
            Jobs of the same order.

        Returns
        -------
        list of Part
            Amounts added up, the highest of every least rating.
        """
        return merged(part for fit in (self, *others) for part in fit.parts_list)
