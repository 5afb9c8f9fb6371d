"""`mount-check`: whether a panel stays on a vehicle's roof."""

from typing import Annotated, Literal

from .base import Input, Output
from .basis import SourceKey
from .check import Answer, Verdict
from .panel import PanelBody
from .quantity import choice, count, label, listing, prose, quantity
from .roof import Side
from .shade import PanelPosition

FastenerKind = Literal["bolt", "blind-rivet", "rivet-nut", "screw"]
RailDirection = Literal["along-length", "along-width"]
VehicleFront = Literal["sharp", "rounded", "unknown"]
StormExposure = Literal["b", "c", "d"]
AirUnderPanel = Literal["open", "blocked-behind", "closed-at-front"]
SpacerMaterial = Literal["polycarbonate", "polypropylene"]
RaisedSide = Literal["length", "width"]
MountCheckDetail = Literal["governing", "all", "reactions"]
WindZone = Literal["corner", "leading-strip", "behind-strip", "far"]
PanelStiffness = Literal["stiff", "elastic"]

AdhesiveKind = Literal["acrylic-foam-tape", "one-part-polyurethane", "structural-silicone"]
VehicleKind = Literal["trailer", "motor-vehicle"]
SurfaceKind = Literal[
    "bare-aluminium",
    "glass",
    "gelcoat",
    "painted-metal",
    "painted-metal-unknown",
    "powder-coat",
    "pvc-membrane",
    "tpo-membrane",
    "epdm-membrane",
    "unknown",
]
SkinMaterial = Literal[
    "aluminium-3003-h14",
    "aluminium-5052-h32",
    "aluminium-5754-h111",
    "steel",
    "glass-fibre",
    "sandwich",
    "plywood",
    "unknown",
]
ThreadSize = Literal["M4", "M5", "M6", "M8", "M10", "#10-24", "1/4-20", "5/16-18", "3/8-16"]
PropertyClass = Literal["8.8", "10.9", "A2-50", "A2-70", "A4-70", "A4-80"]
RivetSize = Literal["3.2", "4.0", "4.8", "6.4"]
RailAlloy = Literal["6063-T5", "6063-T6", "6061-T6"]
LoadCaseName = Literal[
    "highway-hours",
    "headwind-gust",
    "crosswind-gust",
    "passing-vehicle",
    "braking",
    "pulling-away",
    "cornering",
    "bump-up",
    "bump-down",
    "parked-storm",
    "raised",
    "snow",
    "own-weight",
    "growth",
    "trapped-air",
    "thermal-daily",
    "thermal-seasonal",
    "foot-lost",
    "any",
]
LoadDuration = Literal["gust", "hours", "weeks", "permanent", "movement"]

_N = 1e9
_Standoff = Annotated[
    float,
    quantity("m", 0.0, 0.3, "Height of the panel's underside above the roof.", 0.02),
]


class FootPoint(Input, kw_only=True):
    """Where a foot or clamp holds the panel, in the panel's own plane."""

    x_m: Annotated[
        float, quantity("m", -1.0, 4.0, "Along the panel's length from its front-left corner.", 0.1)
    ]
    y_m: Annotated[float, quantity("m", -1.0, 4.0, "Along the panel's width, likewise.", 0.05)]
    pad_length_m: (
        Annotated[float, quantity("m", 0.01, 0.5, "Pad of this glued foot, if its own.", 0.15)]
        | None
    ) = None
    pad_width_m: (
        Annotated[float, quantity("m", 0.01, 0.5, "Pad of this glued foot, if its own.", 0.15)]
        | None
    ) = None
    fasteners: (
        Annotated[int, count(1, 12, "Fasteners of this fastened foot, if its own.", 4)] | None
    ) = None


MOST_FEET = 60
FootPoints = Annotated[
    list[FootPoint], listing(0, MOST_FEET, "Points that hold the panel; at least 3.")
]


class Adhesive(Input, kw_only=True):
    """What glues feet or sheet; makers' design figures replace the engine's."""

    kind: Annotated[AdhesiveKind, choice("Kind of adhesive.", "acrylic-foam-tape")]
    thickness_m: (
        Annotated[float, quantity("m", 0.0001, 0.02, "Thickness of the bond line.", 0.0011)] | None
    ) = None
    bead_width_m: (
        Annotated[
            float,
            quantity("m", 0.002, 0.1, "Width of beads with air paths between, if not solid.", 0.01),
        ]
        | None
    ) = None
    gust_strength_pa: (
        Annotated[
            float, quantity("Pa", 100.0, 5e6, "Maker's design stress for gusts, 21 °C.", 85000.0)
        ]
        | None
    ) = None
    hours_strength_pa: (
        Annotated[
            float, quantity("Pa", 10.0, 5e6, "Maker's design stress for hours, 21 °C.", 10000.0)
        ]
        | None
    ) = None
    permanent_strength_pa: (
        Annotated[
            float, quantity("Pa", 1.0, 5e6, "Maker's design stress for years, 21 °C.", 1630.0)
        ]
        | None
    ) = None
    peel_strength_n_per_m: (
        Annotated[float, quantity("N/m", 1.0, 1e5, "Maker's design peel line load.", 260.0)] | None
    ) = None
    application_c: (
        Annotated[float, quantity("°C", -20.0, 60.0, "Roof and air while bonding.", 21.0)] | None
    ) = None
    humidity_fraction: (
        Annotated[
            float, quantity("1", 0.05, 1.0, "Relative humidity of the air while it cures.", 0.5)
        ]
        | None
    ) = None
    hours_before_driving: (
        Annotated[float, quantity("h", 0.0, 20000.0, "Planned rest before the first drive.", 72.0)]
        | None
    ) = None


class PullTest(Input, kw_only=True):
    """One foot of this kind, pulled on this roof."""

    foot: (
        Annotated[int, count(1, MOST_FEET, "Its number in the list, where feet are unlike.", 3)]
        | None
    ) = None

    load_n: Annotated[float, quantity("N", 1.0, 1e5, "Largest load that it bore.", 1500.0)]
    angle_deg: Annotated[
        float, quantity("°", 0.0, 90.0, "Of the pull, from straight away from the roof.", 15.0)
    ] = 0.0
    seconds: Annotated[float, quantity("s", 3.0, 3600.0, "How long it bore it.", 10.0)]
    bond_c: Annotated[float, quantity("°C", -40.0, 120.0, "Roof and bond, as measured.", 21.0)] = (
        21.0
    )
    broke: Annotated[bool, prose("Whether it let go; else it held and could bear more.")]


PullTests = Annotated[
    list[PullTest],
    listing(0, 60, "Readings of pull tests on this roof, at least 3: they replace what is assumed"),
]


class AdhesiveFeet(Input, tag_field="kind", tag="adhesive-feet", kw_only=True):
    """Feet glued to the roof; the panel sits on their studs."""

    feet: FootPoints
    pad_length_m: Annotated[
        float, quantity("m", 0.01, 0.5, "Bonded pad along the panel's length.", 0.1)
    ]
    pad_width_m: Annotated[
        float, quantity("m", 0.01, 0.5, "Bonded pad along the panel's width.", 0.1)
    ]
    adhesive: Annotated[Adhesive, prose("What glues the pads to the roof.")]
    standoff_m: _Standoff
    foot_thickness_m: Annotated[
        float, quantity("m", 0.0005, 0.3, "Height of the solid foot at its stud.", 0.012)
    ]
    base_thickness_m: Annotated[
        float,
        quantity("m", 0.0005, 0.05, "Thickness of the foot's plate at the pad's edge.", 0.003),
    ]
    thread: Annotated[ThreadSize, choice("Stud.", "M6")] = "M6"
    property_class: Annotated[PropertyClass, choice("Strength class of the stud.", "A2-70")] = (
        "A2-70"
    )
    stud_offset_m: Annotated[
        float, quantity("m", 0.0, 0.2, "Stud off the middle of the pad.", 0.0)
    ] = 0.0
    bonded_fraction: (
        Annotated[
            float,
            quantity("1", 0.05, 1.0, "Share of the pad that is glued; half where beads are.", 0.5),
        ]
        | None
    ) = None
    washer_diameter_m: (
        Annotated[float, quantity("m", 0.005, 0.1, "Washer or grommet on the panel.", 0.018)] | None
    ) = None
    play_m: Annotated[
        float, quantity("m", 0.0, 0.02, "Free sideways play of a stud in its hole.", 0.0)
    ] = 0.0
    pull_tests: PullTests = []


class Bracket(Input, kw_only=True):
    """Bent plate between the fasteners of a foot and its stud."""

    width_m: Annotated[float, quantity("m", 0.005, 0.5, "Width of the plate that bends.", 0.04)]
    thickness_m: Annotated[float, quantity("m", 0.0005, 0.02, "Thickness of the plate.", 0.004)]
    alloy: Annotated[RailAlloy, choice("Alloy and temper.", "6063-T6")]


class Timber(Input, kw_only=True):
    """Wood that the screws of feet hold in, across its grain."""

    density_kg_m3: Annotated[
        float,
        quantity("kg/m³", 200.0, 900.0, "Characteristic density, as its class names it.", 350.0),
    ]
    thread_m: Annotated[float, quantity("m", 0.005, 0.3, "Length of thread in the wood.", 0.045)]


class FastenedFeet(Input, tag_field="kind", tag="fastened-feet", kw_only=True):
    """Feet, or the panel itself, bolted or riveted through the roof skin."""

    feet: FootPoints
    fastener: Annotated[
        FastenerKind,
        choice("What holds a foot to the skin.", "bolt"),
    ]
    fasteners_per_foot: Annotated[int, count(1, 12, "Fasteners in one foot.", 2)]
    spacing_m: Annotated[
        float,
        quantity("m", 0.0, 0.3, "Distance between the fasteners of a foot; 0 for one.", 0.04),
    ] = 0.0
    base_width_m: Annotated[
        float, quantity("m", 0.005, 0.3, "Smallest width of the foot on the roof.", 0.04)
    ]
    standoff_m: _Standoff
    thread: Annotated[ThreadSize, choice("Bolt, rivet nut or screw, and panel stud.", "M6")] = "M6"
    property_class: Annotated[PropertyClass, choice("Strength class of bolts.", "A2-70")] = "A2-70"
    rivet: Annotated[RivetSize, choice("Blind rivet diameter [mm].", "4.8")] = "4.8"
    washer_diameter_m: (
        Annotated[
            float,
            quantity(
                "m",
                0.003,
                0.2,
                "Washer or plate on the skin below bolts; rivets hold by their blind side.",
                0.025,
            ),
        ]
        | None
    ) = None
    stud_offset_m: Annotated[
        float, quantity("m", 0.0, 0.2, "Stud beside the line of the fasteners.", 0.0)
    ] = 0.0
    bracket: Annotated[Bracket, prose("Bent plate that carries a stud beside.")] | None = None
    wood: Annotated[Timber, prose("Wood below the skin that screws hold in.")] | None = None
    panel_washer_diameter_m: (
        Annotated[float, quantity("m", 0.005, 0.1, "Washer or grommet on the panel.", 0.018)] | None
    ) = None
    play_m: Annotated[
        float, quantity("m", 0.0, 0.02, "Free sideways play of a stud in its hole.", 0.0)
    ] = 0.0
    pull_tests: PullTests = []


class BondedSheet(Input, tag_field="kind", tag="bonded-sheet", kw_only=True):
    """Sheet glued to the roof over its area, in full or in strips."""

    adhesive: Annotated[Adhesive, prose("What glues the sheet to the roof.")]
    bonded_fraction: Annotated[
        float, quantity("1", 0.05, 1.0, "Share of the sheet's area that is bonded.", 0.6)
    ]
    flap_m: Annotated[
        float, quantity("m", 0.0, 0.3, "Widest edge or strip gap that is not bonded.", 0.01)
    ]
    vented: Annotated[
        bool, prose("Whether air can leave from under the sheet everywhere (strips with open ends)")
    ]


class BoxSection(Input, tag_field="kind", tag="box", kw_only=True):
    """Rectangular tube."""

    height_m: Annotated[float, quantity("m", 0.005, 0.3, "Outer height.", 0.04)]
    width_m: Annotated[float, quantity("m", 0.005, 0.3, "Outer width.", 0.04)]
    wall_m: Annotated[float, quantity("m", 0.0005, 0.05, "Wall thickness.", 0.002)]


class GivenSection(Input, tag_field="kind", tag="given", kw_only=True):
    """Profile with section values from its maker, for vertical bending."""

    second_moment_mm4: Annotated[
        float, quantity("mm4", 10.0, 1e8, "Second moment of area.", 73365.0)
    ]
    section_modulus_mm3: Annotated[
        float, quantity("mm3", 5.0, 1e7, "Elastic section modulus.", 3668.0)
    ]
    height_m: Annotated[float, quantity("m", 0.005, 0.3, "Height.", 0.04)]


class Rail(Input, kw_only=True):
    """One rail, straight, parallel to an edge of the panel."""

    across_m: Annotated[
        float, quantity("m", -1.0, 4.0, "Its distance across, in panel coordinates.", 0.1)
    ]
    start_m: Annotated[float, quantity("m", -3.0, 6.0, "One end, in panel coordinates.", -0.1)]
    end_m: Annotated[float, quantity("m", -3.0, 6.0, "Other end.", 1.3)]
    supports_m: Annotated[
        list[Annotated[float, quantity("m", -3.0, 6.0, "Support on the rack.", 0.1)]],
        listing(0, 20, "Where the rail rests, in panel coordinates; at least 2."),
    ]


class ClampToe(Input, kw_only=True):
    """The plate of a clamp that lies on the panel's frame, and the bolt that presses it down."""

    reach_m: Annotated[
        float, quantity("m", 0.001, 0.1, "From the bolt to where it lies on the frame.", 0.012)
    ]
    heel_m: (
        Annotated[
            float,
            quantity(
                "m",
                0.001,
                0.2,
                "From the bolt to where an end clamp stands; none for one between two panels.",
                0.015,
            ),
        ]
        | None
    ) = None
    width_m: Annotated[float, quantity("m", 0.005, 0.3, "Width of the plate that bends.", 0.05)]
    thickness_m: Annotated[float, quantity("m", 0.0005, 0.02, "Its thickness.", 0.005)]
    alloy: Annotated[RailAlloy, choice("Alloy and temper.", "6063-T6")]
    thread: Annotated[ThreadSize, choice("Bolt.", "M8")] = "M8"
    property_class: Annotated[PropertyClass, choice("Strength class of the bolt.", "A2-70")] = (
        "A2-70"
    )


class Rails(Input, tag_field="kind", tag="rails", kw_only=True):
    """Panel clamped to rails on a roof rack."""

    run: Annotated[
        RailDirection,
        choice("Which edge of the panel the rails run along.", "along-width"),
    ]
    rails: Annotated[list[Rail], listing(1, 10, "Rails.")]
    section: Annotated[BoxSection | GivenSection, prose("Profile of the rails.")]
    alloy: Annotated[RailAlloy, choice("Alloy and temper.", "6063-T6")]
    clamps: FootPoints
    clamp_preload_n: Annotated[
        float, quantity("N", 0.0, 50000.0, "Tightening force of a clamp.", 3000.0)
    ]
    clamp_rating_n: (
        Annotated[float, quantity("N", 1.0, 50000.0, "Maker's uplift rating of a clamp.", 1200.0)]
        | None
    ) = None
    clamp_toe: (
        Annotated[ClampToe, prose("Measures of a clamp that its maker does not rate.")] | None
    ) = None
    friction_fraction: (
        Annotated[float, quantity("1", 0.01, 1.0, "Friction of clamp on frame.", 0.15)] | None
    ) = None
    support_rating_n: (
        Annotated[
            float, quantity("N", 1.0, 50000.0, "Maker's uplift rating of one rail support.", 1500.0)
        ]
        | None
    ) = None
    support_side_rating_n: (
        Annotated[
            float,
            quantity("N", 1.0, 50000.0, "Maker's rating of one, pushed along the roof.", 1000.0),
        ]
        | None
    ) = None
    rails_mass_kg: Annotated[
        float,
        quantity(
            "kg", 0.0, 200.0, "Rails and clamps of this panel, with its share of the rack.", 6.0
        ),
    ]
    standoff_m: _Standoff


Mounting = AdhesiveFeet | FastenedFeet | BondedSheet | Rails


class RoofSurface(Input, kw_only=True):
    """What an adhesive would stick to."""

    kind: Annotated[SurfaceKind, choice("Topmost material of the roof.", "bare-aluminium")]
    abraded_and_cleaned: Annotated[
        bool, prose("Whether it is abraded, wiped with solvent and primed as the maker says.")
    ]
    confirmed_strength_fraction: (
        Annotated[
            float,
            quantity(
                "1",
                0.01,
                1.0,
                "Share of the adhesive's strength that the makers of surface and adhesive "
                "confirm in writing.",
                0.5,
            ),
        ]
        | None
    ) = None


class RoofSkin(Input, kw_only=True):
    """What a fastener would hold in."""

    material: Annotated[SkinMaterial, choice("Material of the outer skin.", "aluminium-3003-h14")]
    thickness_m: Annotated[float, quantity("m", 0.0002, 0.05, "Thickness of the skin.", 0.001)]
    ultimate_strength_pa: (
        Annotated[float, quantity("Pa", 1e6, 2e9, "Tensile strength from its certificate.", 140e6)]
        | None
    ) = None
    expansion_per_c: (
        Annotated[float, quantity("1/K", 1e-6, 1e-4, "Thermal expansion.", 23e-6)] | None
    ) = None


class Corrugation(Input, kw_only=True):
    """Waves of a roof's skin."""

    depth_m: Annotated[float, quantity("m", 0.0001, 0.1, "From trough to crest.", 0.008)]
    flat_m: Annotated[float, quantity("m", 0.0, 1.0, "Width of the flat on a crest.", 0.06)]


class VehicleRoof(Input, kw_only=True):
    """A vehicle's roof as the wind and its maker see it, its size apart."""

    kind: Annotated[VehicleKind, choice("Kind of vehicle.", "trailer")]
    roof_height_m: Annotated[float, quantity("m", 0.8, 4.5, "Roof above the road.", 2.6)]
    front: Annotated[
        VehicleFront,
        choice("Shape of the roof's front edge; unknown counts as sharp.", "sharp"),
    ] = "unknown"
    front_radius_m: (
        Annotated[float, quantity("m", 0.0, 3.0, "Radius of a rounded front edge.", 0.2)] | None
    ) = None
    roof_slope_deg: (
        Annotated[float, quantity("°", 0.0, 30.0, "Steepest slope under a panel.", 3.0)] | None
    ) = None
    roof_rating_kg: (
        Annotated[float, quantity("kg", 1.0, 2000.0, "Maker's roof load while driving.", 75.0)]
        | None
    ) = None
    roof_static_rating_kg: (
        Annotated[float, quantity("kg", 1.0, 5000.0, "Maker's roof load when parked.", 200.0)]
        | None
    ) = None
    rack_rating_kg: (
        Annotated[float, quantity("kg", 1.0, 2000.0, "Maker's rack load while driving.", 75.0)]
        | None
    ) = None
    roof_radius_m: (
        Annotated[float, quantity("m", 0.2, 1000.0, "Tightest bow of the roof below.", 8.0)] | None
    ) = None
    corrugation: Annotated[Corrugation, prose("Waves of the skin, if any.")] | None = None


class MountVehicle(VehicleRoof, kw_only=True):
    """The roof as the wind and its maker see it."""

    roof_length_m: Annotated[float, quantity("m", 0.5, 20.0, "Roof, front to rear.", 5.0)]
    roof_width_m: Annotated[float, quantity("m", 0.5, 4.0, "Roof, left to right.", 2.1)]
    other_roof_mass_kg: (
        Annotated[float, quantity("kg", 0.0, 2000.0, "Everything else on the roof.", 12.0)] | None
    ) = None
    other_panels_area_m2: (
        Annotated[float, quantity("m²", 0.0, 100.0, "Other panels that snow lies on.", 1.9)] | None
    ) = None


class Accelerations(Input, kw_only=True):
    """What the road does to the panel, each acting by itself."""

    forward_m_s2: (
        Annotated[float, quantity("m/s²", 0.0, 50.0, "Emergency braking.", 9.81)] | None
    ) = None
    rearward_m_s2: Annotated[float, quantity("m/s²", 0.0, 50.0, "Pulling away.", 4.9)] | None = None
    sideways_m_s2: Annotated[float, quantity("m/s²", 0.0, 50.0, "Cornering.", 7.85)] | None = None
    up_m_s2: (
        Annotated[float, quantity("m/s²", 0.0, 100.0, "Upwards, beyond gravity, on a bump.", 19.6)]
        | None
    ) = None
    down_m_s2: (
        Annotated[float, quantity("m/s²", 0.0, 100.0, "Downwards, with gravity, on a bump.", 29.4)]
        | None
    ) = None


class TravelConditions(Input, kw_only=True):
    """Speed, weather and road that the mounting must bear; defaults are conservative."""

    road_speed_m_s: (
        Annotated[float, quantity("m/s", 0.0, 45.0, "Fastest road speed.", 33.3)] | None
    ) = None
    headwind_gust_m_s: (
        Annotated[float, quantity("m/s", 0.0, 40.0, "Gust from ahead while driving.", 15.0)] | None
    ) = None
    crosswind_gust_m_s: (
        Annotated[float, quantity("m/s", 0.0, 40.0, "Gust from the side while driving.", 20.0)]
        | None
    ) = None
    passing_gust_m_s: (
        Annotated[float, quantity("m/s", 0.0, 30.0, "Gust off a large vehicle that passes.", 10.0)]
        | None
    ) = None
    altitude_m: (
        Annotated[float, quantity("m", -450.0, 5500.0, "Lowest altitude of travel.", 0.0)] | None
    ) = None
    lowest_air_c: Annotated[float, quantity("°C", -60.0, 40.0, "Coldest air.", -20.0)] | None = None
    highest_air_c: Annotated[float, quantity("°C", -20.0, 60.0, "Hottest air.", 40.0)] | None = None
    storm_gust_m_s: (
        Annotated[
            float,
            quantity("m/s", 0.0, 90.0, "3 s gust at 10 m in a storm while parked.", 51.4),
        ]
        | None
    ) = None
    storm_exposure: Annotated[
        StormExposure,
        choice("Suburban (b), open country (c) or shore (d) around the parking place.", "c"),
    ] = "c"
    topographic_factor: Annotated[
        float, quantity("1", 1.0, 3.0, "Speed-up over hills, Kzt.", 1.0)
    ] = 1.0
    ground_snow_pa: (
        Annotated[float, quantity("Pa", 0.0, 20000.0, "Snow on the ground while parked.", 1000.0)]
        | None
    ) = None
    hailstone_m: (
        Annotated[float, quantity("m", 0.0, 0.2, "Hailstone to be expected while parked.", 0.03)]
        | None
    ) = None
    stepped_on: Annotated[bool, prose("Whether someone will step on the panel.")] = False
    bond_driving_c: (
        Annotated[float, quantity("°C", -40.0, 120.0, "Hottest bond line while driving.", 60.0)]
        | None
    ) = None
    bond_parked_c: (
        Annotated[float, quantity("°C", -40.0, 130.0, "Hottest bond line parked in sun.", 90.0)]
        | None
    ) = None
    accelerations: Annotated[Accelerations, prose("What the road does to the panel.")] | None = None


class PanelWind(Input, kw_only=True):
    """Air under and over the panel; measured coefficients replace the engine's."""

    under_panel: Annotated[
        AirUnderPanel,
        choice(
            "Gap open all round, blocked behind so that it scoops air, or closed by a fairing "
            "at the panel's front edge.",
            "open",
        ),
    ] = "open"
    equalisation_credited: Annotated[
        bool,
        prose("Whether a gap of 6 to 250 mm, open on all four sides, may be credited."),
    ] = False
    net_uplift_coefficient: (
        Annotated[float, quantity("1", 0.0, 8.0, "Measured net gust suction, all zones.", 2.0)]
        | None
    ) = None
    mean_uplift_coefficient: (
        Annotated[float, quantity("1", 0.0, 8.0, "Measured mean net suction.", 0.7)] | None
    ) = None
    edge_drag_coefficient: (
        Annotated[float, quantity("1", 0.1, 4.0, "Drag on the frontal area.", 1.3)] | None
    ) = None
    centre_of_pressure_fraction: (
        Annotated[
            float,
            quantity("1", 0.1, 0.5, "Centre of suction behind the windward edge.", 0.4),
        ]
        | None
    ) = None


class SheetProperties(Input, kw_only=True):
    """Stiffness and strength of the panel from its maker."""

    in_plane_stiffness_n_per_m: (
        Annotated[float, quantity("N/m", 1e4, 1e9, "Modulus × thickness.", 4.5e6)] | None
    ) = None
    bending_stiffness_n_m: (
        Annotated[float, quantity("N·m", 0.01, 1e6, "Plate bending stiffness.", 3.7)] | None
    ) = None
    laminate_strength_pa: (
        Annotated[float, quantity("Pa", 1e5, 1e9, "Tensile strength of the laminate.", 30e6)] | None
    ) = None
    expansion_per_c: (
        Annotated[float, quantity("1/K", 1e-6, 1e-4, "Thermal expansion.", 25e-6)] | None
    ) = None
    load_rating_pa: (
        Annotated[float, quantity("Pa", 100.0, 10000.0, "Maker's design load.", 1600.0)] | None
    ) = None
    step_rating_n: (
        Annotated[float, quantity("N", 1.0, 10000.0, "Maker's load of a foot on it.", 1000.0)]
        | None
    ) = None
    hail_rating_m: (
        Annotated[float, quantity("m", 0.005, 0.2, "Ball of ice that it was tested with.", 0.025)]
        | None
    ) = None


class SpacerSheet(Input, kw_only=True):
    """Twin-wall sheet bonded under a flexible panel, its ends open for air."""

    material: Annotated[SpacerMaterial, choice("Material.", "polycarbonate")]
    thickness_m: Annotated[float, quantity("m", 0.002, 0.05, "Thickness.", 0.006)]
    mass_kg: Annotated[float, quantity("kg", 0.0, 30.0, "Mass.", 0.8)]
    bending_stiffness_n_m: (
        Annotated[float, quantity("N·m", 0.1, 1e5, "Plate bending stiffness.", 15.0)] | None
    ) = None


class Tilt(Input, kw_only=True):
    """Brackets that raise the panel while parked; all else is judged with it lying flat."""

    angle_deg: Annotated[float, quantity("°", 1.0, 90.0, "Steepest position.", 30.0)]
    raised_side: Annotated[RaisedSide, choice("Side of the panel that is raised.", "length")]
    gust_m_s: Annotated[
        float, quantity("m/s", 1.0, 40.0, "Strongest gust before it is lowered.", 14.0)
    ]
    interlocked: Annotated[
        bool,
        prose("Whether a switch on the brackets warns the driver, or keeps the vehicle, when up."),
    ]


class MountCheckRequest(Input, kw_only=True):
    """One panel, how it is held, the roof below and the travel ahead."""

    panel: Annotated[PanelBody, prose("Size and mass.")]
    position: Annotated[PanelPosition, prose("Place on the roof, which decides the wind zone.")]
    mounting: Annotated[
        Mounting, prose("Adhesive feet, fastened feet, bonded sheet, or rails with clamps.")
    ]
    vehicle: Annotated[MountVehicle, prose("The roof as wind and maker see it.")]
    surface: Annotated[RoofSurface, prose("What an adhesive sticks to.")] | None = None
    skin: Annotated[RoofSkin, prose("What a fastener holds in.")] | None = None
    travel: Annotated[TravelConditions, prose("Speed, weather and road.")] | None = None
    wind: Annotated[PanelWind, prose("Air under and over the panel.")] | None = None
    sheet: Annotated[SheetProperties, prose("Stiffness and strength of the panel.")] | None = None
    spacer: Annotated[SpacerSheet, prose("Twin-wall sheet under the panel.")] | None = None
    tilt: Annotated[Tilt, prose("Brackets that raise it, up only when parked.")] | None = None
    detail: Annotated[
        MountCheckDetail,
        choice(
            "Of load cases that pass: the governing one for each rule, or all; `reactions` adds "
            "the forces of every foot in each.",
            "governing",
        ),
    ] = "governing"


Utilisation = (
    Annotated[
        float, quantity("1", 0.0, 1e12, "Demand over capacity; none where nothing is allowed.", 0.8)
    ]
    | None
)
PassSpeed = (
    Annotated[
        float,
        quantity(
            "m/s",
            0.0,
            45.0,
            "Fastest at which every speed-dependent check passes; none where no speed is slow "
            "enough.",
            24.0,
        ),
    ]
    | None
)
Reserve = (
    Annotated[
        float,
        quantity("1", -1e12, 1.0, "One less utilisation; none where nothing is allowed.", 0.1),
    ]
    | None
)


class ZoneShare(Output, kw_only=True):
    """Part of the panel that lies in one wind zone of the roof."""

    wind_from: Annotated[Side, choice("Where the air comes from.", "front")]
    zone: Annotated[WindZone, choice("Zone.", "leading-strip")]
    area_fraction: Annotated[float, quantity("1", 0.0, 1.0, "Share of the panel's area.", 0.4)]
    gust_coefficient: Annotated[float, quantity("1", 0.0, 20.0, "Net suction in gusts.", 3.0)]
    mean_coefficient: Annotated[float, quantity("1", 0.0, 20.0, "Mean suction.", 1.2)]


class LoadCase(Output, kw_only=True):
    """One load case and its resultants on the whole panel."""

    name: Annotated[LoadCaseName, choice("Stable name.", "headwind-gust")]
    title: Annotated[str, label("The case in words.", "Road speed with a headwind gust", 120)]
    duration: Annotated[LoadDuration, choice("How long it acts.", "gust")]
    bond_c: Annotated[float, quantity("°C", -60.0, 150.0, "Bond line then.", 60.0)]
    air_speed_m_s: Annotated[float, quantity("m/s", 0.0, 200.0, "Speed of the air.", 48.3)]
    dynamic_pressure_pa: Annotated[float, quantity("Pa", 0.0, 50000.0, "Of that air.", 1456.0)]
    uplift_coefficient: Annotated[
        float, quantity("1", 0.0, 20.0, "Mean net suction over the panel.", 2.3)
    ]
    uplift_n: Annotated[
        float, quantity("N", -_N, _N, "Net of favourable weight; negative presses down.", 977.0)
    ]
    rearward_n: Annotated[float, quantity("N", -_N, _N, "Drag and inertia towards the rear.", 60.0)]
    sideways_n: Annotated[float, quantity("N", -_N, _N, "Drag and inertia to the right.", 0.0)]
    depends_on_speed: Annotated[bool, prose("Whether road speed changes it.")]


class FootResult(Output, kw_only=True):
    """Worst that one foot or clamp sees."""

    foot: Annotated[str, label("Number in the order of the request.", "foot 3")]
    x_m: Annotated[float, quantity("m", -1.0, 4.0, "In panel coordinates.", 0.1)]
    y_m: Annotated[float, quantity("m", -1.0, 4.0, "In panel coordinates.", 0.05)]
    roof_x_m: Annotated[float, quantity("m", -20.0, 40.0, "In roof coordinates.", 0.7)]
    roof_y_m: Annotated[float, quantity("m", -20.0, 40.0, "In roof coordinates.", 0.25)]
    uplift_n: Annotated[float, quantity("N", 0.0, _N, "Largest pull.", 282.0)]
    shear_n: Annotated[float, quantity("N", 0.0, _N, "Largest sideways force.", 410.0)]
    lost_uplift_n: (
        Annotated[
            float,
            quantity(
                "N",
                0.0,
                _N,
                "Largest pull with another foot lost; none if the panel then tips.",
                420.0,
            ),
        ]
        | None
    )
    utilisation_fraction: Utilisation
    governed_by: Annotated[str, prose("Code of the check behind it.", "bond-edge-headwind-gust")]


FootForces = Annotated[list[float], listing(0, MOST_FEET, "One force a foot or clamp [N].")]


class Reactions(Output, kw_only=True):
    """One load case in the state that pulls a foot hardest, and the feet in balance with it.

    Directions and moments are the panel's, about its middle; a push acts at the panel's height and
    through its middle. What a flexible sheet pulls its feet by, which they bear among themselves,
    is left out. Checks take every part of a load the adverse way and count no less.
    """

    load_case: Annotated[LoadCaseName, choice("Load case.", "headwind-gust")]
    title: Annotated[str, label("The case in words.", "Road speed with a headwind gust", 120)]
    lost: Annotated[str, prose("Foot or clamp that is lost; empty with all of them.", "foot 2")]
    panel: Annotated[PanelStiffness, choice("Panel that pulls a foot harder.", "stiff")]
    uplift_n: Annotated[float, quantity("N", -_N, _N, "Load away from the roof.", 977.0)]
    along_n: Annotated[float, quantity("N", -_N, _N, "Push along the panel's length.", 60.0)]
    across_n: Annotated[float, quantity("N", -_N, _N, "Push along the panel's width.", 0.0)]
    moment_along_n_m: Annotated[
        float,
        quantity("N·m", -_N, _N, "Uplift times distance along the length, push included.", -120.0),
    ]
    moment_across_n_m: Annotated[
        float,
        quantity("N·m", -_N, _N, "Uplift times distance along the width, push included.", 0.0),
    ]
    feet_uplift_n: Annotated[FootForces, prose("Pull of each foot away from the roof.")]
    feet_along_n: Annotated[FootForces, prose("Push of each foot along the panel's length.")]
    feet_across_n: Annotated[FootForces, prose("Push of each foot along the panel's width.")]
    residual_fraction: Annotated[
        float,
        quantity(
            "1",
            0.0,
            1.0,
            "What is left of forces, and of moments over the longer side, as a share of the load.",
            1e-15,
        ),
    ]


class ConservativeFactor(Output, kw_only=True):
    """One allowance between a best estimate and the design value."""

    name: Annotated[str, prose("What is allowed for.", "Suction at an edge, over an open gap")]
    value_fraction: Annotated[
        float, quantity("1", 0.0, 1e6, "Factor; below 1 where the estimate is the harder.", 2.1)
    ]
    why: Annotated[str, prose("Where it comes from.", "Common practice, no source.")]


class Expectation(Output, kw_only=True):
    """What is to be expected in the load case of a check: mean values, no stacked allowances.

    Speeds, gusts, storm and accelerations stay those of the load case.
    """

    demand: Annotated[float, quantity("1", 0.0, 1e15, "Best estimate, in the check's unit.", 2100)]
    capacity: Annotated[
        float, quantity("1", 0.0, 1e15, "Best estimate, in the check's unit.", 95000.0)
    ]
    holds_times: Annotated[
        float, quantity("1", 0.0, 1e15, "How many times the load is expected to be held.", 45.0)
    ]
    asked_times: Annotated[
        float,
        quantity(
            "1",
            0.0,
            1e15,
            "How many times it must be for the check to pass: all factors multiplied.",
            30.0,
        ),
    ]
    factors: Annotated[
        list[ConservativeFactor],
        listing(0, 20, "What lies between estimate and design value, the reserve of a pass last."),
    ]


class WorkedLine(Output, kw_only=True):
    """One line of a sheet of paper: a figure given, or worked out of those above."""

    symbol: Annotated[str, prose("Symbol, by which later lines name it.", "q")]
    name: Annotated[str, prose("What it is.", "Dynamic pressure")]
    value: Annotated[float, quantity("1", -1e300, 1e300, "Figure, in the line's unit.", 1456.0)]
    unit: Annotated[str, prose("Unit.", "Pa")]
    formula: Annotated[
        str,
        prose(
            "How it follows from lines above, with + - * / ^, sqrt, abs, min, max and pi; empty "
            "where it is given.",
            "rho/2*(v + g_a)^2",
        ),
    ]


class Working(Output, kw_only=True):
    """A governing figure, worked on one sheet of paper, every part taken the adverse way."""

    code: Annotated[str, prose("Code of the check.", "bond-edge-headwind-gust")]
    subject: Annotated[str, prose("What it is about.", "foot 3")]
    lost: Annotated[str, prose("What is lost; empty with all supports.", "foot 2")]
    lines: Annotated[
        list[WorkedLine], listing(3, 200, "Lines, the last three demand, capacity and use.")
    ]


class Governing(Output, kw_only=True):
    """The check of the highest utilisation."""

    code: Annotated[str, prose("Code of the check.", "bond-edge-headwind-gust")]
    load_case: Annotated[LoadCaseName, choice("Load case.", "headwind-gust")]
    mode: Annotated[str, prose("Mode of failure.", "bond-edge")]
    subject: Annotated[str, prose("What fails first.", "foot 3")]
    utilisation_fraction: Utilisation
    expected: Annotated[Expectation, prose("What is to be expected there.")]


class SpeedPoint(Output, kw_only=True):
    """Worst utilisation of all speed-dependent checks at one road speed."""

    road_speed_m_s: Annotated[float, quantity("m/s", 0.0, 60.0, "Road speed.", 25.0)]
    utilisation_fraction: Utilisation
    governed_by: Annotated[str, prose("Code of the check behind it.", "bond-edge-headwind-gust")]


class SpeedLimit(Output, kw_only=True):
    """How fast it may be driven as far as the speed-dependent checks go."""

    pass_speed_m_s: PassSpeed
    left_out: Annotated[
        list[str],
        listing(
            0,
            40,
            "Speed-dependent checks that `pass_speed_m_s` leaves out and that need a "
            "review there: screening for flutter.",
        ),
    ]
    fail_speed_m_s: (
        Annotated[
            float,
            quantity(
                "m/s", 0.0, 45.0, "Fastest at which none fails; none where one always does.", 27.0
            ),
        ]
        | None
    )
    limited_by: Annotated[str, prose("Code of the first to fall short.", "bond-edge-headwind-gust")]
    beyond_range: Annotated[bool, prose("Whether all still pass at the top of the range, 45 m/s.")]
    not_covered: Annotated[
        list[str],
        listing(
            0, 200, "Checks that do not depend on speed and do not pass: no speed is right for them"
        ),
    ]


class FootLost(Output, kw_only=True):
    """The same mounting after its worst foot has let go."""

    lost: Annotated[str, prose("What is lost where that is worst.", "foot 4")]
    weakest: Annotated[str, prose("Part of the highest utilisation then.", "foot 3")]
    code: Annotated[str, prose("Code of the check.", "bond-combined-foot-lost")]
    utilisation_fraction: Utilisation
    reserve_fraction: Reserve
    expected: Annotated[Expectation, prose("What is to be expected then.")]


class Improvement(Output, kw_only=True):
    """One change, computed by running the checks again with it."""

    change: Annotated[str, prose("What to change.", "Pads of 150 × 150 mm")]
    governed_by: Annotated[str, prose("Code of the check that then governs.", "stud-bending")]
    utilisation_fraction: Utilisation
    gain_fraction: Annotated[
        float, quantity("1", 0.0, 1.0, "Share by which it lowers the governing one.", 0.3)
    ]
    verdict: Annotated[Verdict, choice("Verdict with the change.", "pass")]
    pass_speed_m_s: PassSpeed


class ProofPull(Output, kw_only=True):
    """How to pull at a foot so that, if it holds, tests can replace what was assumed.

    The load counts the reserve on tests of as many feet as there are, all of which hold.
    """

    foot: Annotated[str, label("Number in the order of the request.", "foot 3")]
    load_n: Annotated[float, quantity("N", 0.0, 1e9, "Load.", 900.0)]
    angle_deg: Annotated[float, quantity("°", 0.0, 90.0, "From straight away from the roof.", 12.0)]
    height_m: Annotated[float, quantity("m", 0.0, 0.3, "Above the roof, where it pulls.", 0.02)]
    seconds: Annotated[float, quantity("s", 1.0, 3600.0, "How long at least.", 10.0)]
    bond_c: Annotated[float, quantity("°C", -40.0, 120.0, "Roof and bond then.", 21.0)]
    load_case: Annotated[LoadCaseName, choice("Load case that it stands for.", "headwind-gust")]


class NutTorque(Output, kw_only=True):
    """How tight the nuts or bolts may be."""

    thread: Annotated[str, prose("Thread.", "M6")]
    torque_n_m: Annotated[float, quantity("N·m", 0.0, 1000.0, "Torque.", 2.6)]
    preload_n: Annotated[float, quantity("N", 0.0, 1e6, "Tightening force.", 2200.0)]
    limited_by: Annotated[str, prose("What would give first.", "crushing of the laminate")]
    nut_across_flats_mm: Annotated[float, quantity("mm", 1.0, 50.0, "Size of the wrench.", 10.0)]
    basis: SourceKey


class BondAge(Output, kw_only=True):
    """Strength of a bond some time after it was made."""

    hours: Annotated[float, quantity("h", 0.0, 1e8, "Rest since bonding.", 24.0)]
    strength_fraction: Annotated[
        float, quantity("1", 0.0, 1.0, "Share of the final strength.", 0.9)
    ]


class Cure(Output, kw_only=True):
    """When a bond may be loaded."""

    hours_before_driving: Annotated[
        float, quantity("h", 0.0, 1e8, "Rest until the bond is full.", 72.0)
    ]
    strength: Annotated[list[BondAge], listing(1, 20, "How the bond grows.")]
    at_c: Annotated[float, quantity("°C", -20.0, 60.0, "Temperature of that rest.", 21.0)]
    at_humidity_fraction: (
        Annotated[
            float,
            quantity("1", 0.0, 1.0, "Humidity of that rest; none for tapes, which need none.", 0.5),
        ]
        | None
    )
    application_c: Annotated[float, quantity("°C", -20.0, 60.0, "Roof and air on bonding.", 21.0)]
    least_application_c: Annotated[float, quantity("°C", -20.0, 60.0, "Not to bond below.", 15.0)]
    note: Annotated[str, prose("What decides it.", "Bond builds by wetting out.")]


class Inspection(Output, kw_only=True):
    """When to look again."""

    first_after_km: Annotated[float, quantity("km", 0.0, 10000.0, "First look.", 50.0)]
    every_months: Annotated[float, quantity("month", 0.25, 24.0, "Months between looks.", 3.0)]
    what: Annotated[list[str], listing(1, 20, "What to look at.")]


class Retention(Output, kw_only=True):
    """Second, mechanical means of holding the panel."""

    advised: Annotated[bool, prose("Whether it is strongly advised.")]
    force_n: Annotated[
        float, quantity("N", 0.0, _N, "Load that it should bear without breaking.", 1200.0)
    ]
    text: Annotated[str, prose("What to fit.", "A wire rope to a bolted eye.")]


class Thermal(Output, kw_only=True):
    """Movement between panel and roof at the point furthest from the fixed one."""

    distance_m: Annotated[float, quantity("m", 0.0, 5.0, "From the fixed point.", 0.55)]
    daily_movement_m: Annotated[float, quantity("m", 0.0, 0.2, "On a hot day.", 0.0007)]
    seasonal_movement_m: Annotated[float, quantity("m", 0.0, 0.2, "Over the year.", 0.0012)]
    panel_hot_c: Annotated[float, quantity("°C", -60.0, 150.0, "Hottest panel.", 90.0)]


class MountCheckAnswer(Answer, kw_only=True):
    """Every load case and mode of failure, and what follows from them."""

    mounting: Annotated[str, prose("Kind of mounting.", "adhesive-feet")]
    air_density_kg_m3: Annotated[float, quantity("kg/m³", 0.3, 2.5, "Densest air.", 1.394)]
    air_basis: SourceKey
    reserve_fraction: Annotated[
        float, quantity("1", 0.0, 1.0, "Least reserve of a pass; less is a review.", 0.2)
    ]
    zones: Annotated[list[ZoneShare], listing(0, 40, "Wind zones that the panel lies in.")]
    load_cases: Annotated[list[LoadCase], listing(1, 40, "Load cases.")]
    feet: Annotated[list[FootResult], listing(0, 60, "Feet or clamps.")]
    governing: Annotated[Governing, prose("The check of the highest utilisation.")]
    speed_limit: Annotated[SpeedLimit, prose("How fast it may be driven.")]
    speed_curve: Annotated[list[SpeedPoint], listing(2, 200, "Utilisation over road speed.")]
    foot_lost: Annotated[FootLost, prose("Reserve with the worst foot lost.")]
    improvements: Annotated[list[Improvement], listing(0, 40, "What helps, best first.")]
    plan: Annotated[
        list[Improvement],
        listing(
            0,
            10,
            "Where something fails: changes one after another, the best of each round, until "
            "nothing fails any more or none helps.",
        ),
    ]
    nut_torque: Annotated[NutTorque, prose("How tight; none where nothing is threaded.")] | None
    cure: Annotated[Cure, prose("When to drive; none where nothing is glued.")] | None
    thermal: Annotated[Thermal, prose("Movement by heat.")]
    inspection: Annotated[Inspection, prose("When to look again.")]
    second_retention: Annotated[Retention, prose("What holds if the mounting lets go.")]
    workings: Annotated[
        list[Working],
        listing(
            1,
            200,
            "The governing figure and that with a foot lost, to redo by hand; with detail "
            "`reactions` every mode of failure in its worst load case.",
        ),
    ]
    free_body: (
        Annotated[
            Reactions,
            prose("The feet in the governing load case, or the hardest gust; none for a sheet."),
        ]
        | None
    )
    proof_pulls: Annotated[
        list[ProofPull], listing(0, 60, "A pull test for each foot; none for sheets and clamps.")
    ]
    not_judged: Annotated[list[str], listing(1, 40, "What this answer cannot judge.")]
    reactions: Annotated[
        list[Reactions],
        listing(
            0,
            2000,
            "With detail `reactions`: each load case with all feet, and with each lost whose loss "
            "the others can balance.",
        ),
    ] = []
