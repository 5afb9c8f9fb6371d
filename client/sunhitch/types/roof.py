"""`roof-layout`: the roof, what stands on it, and where panels, feet and cables go.

Roof coordinates: x from the front edge rearwards, y from the left edge to the right (looking
forward), metres. A panel that is not rotated has its length along x. Lengths are taken to 0.1 mm.
"""

from typing import Annotated, Literal

from .base import Input, Output
from .check import Answer
from .panel import PanelBody, PanelName, PanelTypeName
from .quantity import choice, count, label, listing, prose, quantity
from .shade import Point

CornerShape = Literal["rounded", "chamfered"]
Side = Literal["front", "rear", "left", "right"]
LineFeature = Literal["seam", "rib", "rivet-line", "edge-trim"]
PanelOrientation = Literal["any", "along", "across"]
PlugEdge = Literal["end", "side"]
LayoutGoal = Literal["balanced", "symmetry", "one-orientation", "short-cables"]
CableRouting = Literal["around", "beneath-panels", "across-obstacles"]
ProofMethod = Literal["everything-placed", "dual-bound", "complete-search", "open", "not-searched"]

NearbyKind = Literal["roof-edge", "obstacle", "strip", "panel", "no-foot-line"]
FeatureKind = Literal["obstacle", "walking-strip", "cable-zone", "cable-entry", "no-foot-line"]

_Extent = Annotated[float, quantity("m", 0.001, 30.0, "Size along one axis.", 0.4)]


class RoofSpot(Input, kw_only=True):
    """A point on the roof."""

    x_m: Annotated[float, quantity("m", -5.0, 30.0, "Distance behind the front edge.", 1.2)]
    y_m: Annotated[float, quantity("m", -5.0, 30.0, "Distance right of the left edge.", 0.4)]


class FrontCorners(Input, kw_only=True):
    """How the two front corners of a rectangular roof are cut."""

    shape: Annotated[CornerShape, choice("Quarter circle or straight cut.", "rounded")]
    size_m: Annotated[
        float, quantity("m", 0.001, 5.0, "Radius, or the leg of a 45° chamfer.", 0.25)
    ]


class RoofRectangle(Input, tag_field="kind", tag="rectangle", kw_only=True):
    """A rectangular roof with its front left corner at x = 0, y = 0."""

    length_m: Annotated[float, quantity("m", 0.3, 25.0, "From front to rear edge.", 4.2)]
    width_m: Annotated[float, quantity("m", 0.3, 5.0, "From left to right edge.", 2.0)]
    front_corners: Annotated[FrontCorners, prose("Cut front corners.")] | None = None


class RoofPolygon(Input, tag_field="kind", tag="polygon", kw_only=True):
    """A roof of any simple outline."""

    points: Annotated[list[Point], listing(3, 200, "Corners [x_m, y_m] in order, not repeated.")]


RoofOutline = RoofRectangle | RoofPolygon

_ClearanceM = Annotated[
    float, quantity("m", 0.0, 2.0, "Free space that panels must leave around it.", 0.05)
]
_HeightM = Annotated[
    float, quantity("m", 0.0, 3.0, "Height above the roof; tall ones cast shade.", 0.1)
]
_ObstacleName = Annotated[str, label("Name, unique within the request.", "vent")]


class RoundObstacle(Input, tag_field="kind", tag="round", kw_only=True):
    """A round thing on the roof: mushroom vent, antenna, chimney."""

    name: _ObstacleName
    x_m: Annotated[float, quantity("m", -5.0, 30.0, "Centre, behind the front edge.", 1.6)]
    y_m: Annotated[float, quantity("m", -5.0, 30.0, "Centre, right of the left edge.", 0.9)]
    diameter_m: Annotated[float, quantity("m", 0.005, 3.0, "Outer diameter.", 0.2)]
    clearance_m: _ClearanceM | None = None
    height_m: _HeightM = 0.0


class RectangularObstacle(Input, tag_field="kind", tag="rectangular", kw_only=True):
    """A rectangular thing on the roof: hatch, cooler, roof box.

    Place and size are those before it is turned about its middle.
    """

    name: _ObstacleName
    x_m: Annotated[float, quantity("m", -5.0, 30.0, "Its front side.", 1.2)]
    y_m: Annotated[float, quantity("m", -5.0, 30.0, "Its left side.", 0.8)]
    length_m: Annotated[float, quantity("m", 0.005, 25.0, "Size along x.", 0.4)]
    width_m: Annotated[float, quantity("m", 0.005, 5.0, "Size along y.", 0.4)]
    turned_deg: Annotated[
        float,
        quantity("deg", -90.0, 90.0, "Turned about its middle, from x towards y.", 15.0),
    ] = 0.0
    clearance_m: _ClearanceM | None = None
    height_m: _HeightM = 0.0


Obstacle = RoundObstacle | RectangularObstacle


class NoFootLine(Input, kw_only=True):
    """A line that no foot plate may come near: the roof there is uneven, riveted or sealed."""

    name: Annotated[str, label("Name, unique within the request.", "seam-2")]
    feature: Annotated[LineFeature, choice("What it is.", "seam")]
    points: Annotated[list[Point], listing(2, 100, "Course of its middle, [x_m, y_m] in order.")]
    keep_off_m: (
        Annotated[
            float,
            quantity("m", 0.0, 0.5, "From its middle to the nearest edge of a foot plate.", 0.02),
        ]
        | None
    ) = None


class RoofStrip(Input, kw_only=True):
    """A rectangle of roof that panels must leave free."""

    name: Annotated[str, label("Name, unique within the request.", "cable strip")]
    x_m: Annotated[float, quantity("m", -5.0, 30.0, "Its front side.", 0.0)]
    y_m: Annotated[float, quantity("m", -5.0, 30.0, "Its left side.", 0.9)]
    length_m: _Extent
    width_m: _Extent


class EdgeMargins(Input, kw_only=True):
    """Free space between panels and the roof's edge, measured along the roof's axes."""

    front_m: Annotated[float, quantity("m", 0.0, 5.0, "Towards the front edge.", 0.1)] | None = None
    rear_m: Annotated[float, quantity("m", 0.0, 5.0, "Towards the rear edge.", 0.05)] | None = None
    side_m: (
        Annotated[float, quantity("m", 0.0, 2.0, "Towards left and right edge.", 0.05)] | None
    ) = None


class Roof(Input, kw_only=True):
    """The roof and everything on it that panels, feet and cables must respect."""

    outline: Annotated[RoofOutline, prose("Outer edge of the roof that can carry panels.")]
    crown_height_m: Annotated[
        float, quantity("m", 0.0, 0.5, "How much higher the middle is than the sides.", 0.0)
    ] = 0.0
    margins: Annotated[EdgeMargins, prose("Free space along the edges.")] = EdgeMargins()
    obstacles: Annotated[list[Obstacle], listing(0, 60, "Vents, hatches, antennas, boxes.")] = []
    no_foot_lines: Annotated[
        list[NoFootLine], listing(0, 100, "Seams, ribs, rivet lines and trims that feet avoid.")
    ] = []
    walking_strips: Annotated[
        list[RoofStrip], listing(0, 10, "Where someone must be able to step or lie.")
    ] = []
    cable_zone: (
        Annotated[RoofStrip, prose("Kept free for cables; a chosen entry lies in it.")] | None
    ) = None
    cable_entry: Annotated[
        RoofSpot | Literal["choose"],
        prose("Where cables pass through the roof, or `choose` to have a place proposed."),
    ] = "choose"


class FootSpot(Input, kw_only=True):
    """One foot, seen from the panel's corner nearest the front left when it is not rotated."""

    along_length_m: Annotated[
        float, quantity("m", -0.5, 3.5, "Middle of the plate along the panel's length.", 0.05)
    ]
    along_width_m: Annotated[
        float, quantity("m", -0.5, 3.5, "Middle of the plate along the panel's width.", 0.05)
    ]


class FootPattern(Input, kw_only=True):
    """Feet under one panel, in rows along its length or at given points.

    Plates may overhang the panel's edge and reach under a neighbour, as long as no two plates
    touch.
    """

    plate_length_m: Annotated[
        float, quantity("m", 0.005, 0.5, "Plate, along the panel's length.", 0.08)
    ]
    plate_width_m: Annotated[
        float, quantity("m", 0.005, 0.5, "Plate, along the panel's width.", 0.08)
    ]
    rows_along_length: Annotated[
        int, count(1, 12, "Feet one behind the other along the length, evenly spread.", 3)
    ] = 2
    columns_along_width: Annotated[
        int, count(1, 8, "Feet beside each other along the width, evenly spread.", 2)
    ] = 2
    edge_inset_m: Annotated[
        float,
        quantity("m", -0.25, 1.0, "Inwards from the edge to the middle of the outer plates.", 0.04),
    ] = 0.04
    points: Annotated[
        list[FootSpot], listing(0, 60, "Feet at these places instead of in rows.")
    ] = []


class RoofPanelType(Input, kw_only=True):
    """A type of panel to be laid out."""

    name: PanelTypeName
    body: Annotated[PanelBody, prose("Size and mass.")]
    p_mp_w: Annotated[float, quantity("W", 0.1, 2000.0, "Maximum power.", 115.0)]
    panels_wanted: (
        Annotated[int, count(1, 60, "How many to place; as many as fit if not given.", 4)] | None
    ) = None
    orientation: Annotated[
        PanelOrientation,
        choice("Length along the vehicle, across it, or either.", "any"),
    ] = "any"
    feet: Annotated[FootPattern, prose("Feet; none for a bonded or rail-mounted panel.")] | None = (
        None
    )
    plug_edge: (
        Annotated[
            PlugEdge,
            choice("Leads leave at an end of the length, or at a long side.", "end"),
        ]
        | None
    ) = None
    lead_length_m: (
        Annotated[float, quantity("m", 0.0, 5.0, "Length of the panel's own leads.", 0.9)] | None
    ) = None


class PlacedPanel(Input, kw_only=True):
    """One panel at its place."""

    name: PanelName
    panel_type: PanelTypeName
    x_m: Annotated[float, quantity("m", -5.0, 30.0, "Its corner nearest the front left, x.", 0.6)]
    y_m: Annotated[float, quantity("m", -5.0, 30.0, "Its corner nearest the front left, y.", 0.2)]
    rotated: Annotated[bool, prose("Length across the vehicle instead of along it.")] = False
    plugs_towards: (
        Annotated[
            Side, choice("Side where its leads leave; the one nearer the entry if absent.", "rear")
        ]
        | None
    ) = None


class Support(Input, kw_only=True):
    """A wheel, or the hitch, that carries the vehicle."""

    name: Annotated[str, label("Name, unique within the request.", "rear left")]
    x_m: Annotated[
        float, quantity("m", -5.0, 30.0, "Behind the roof's front edge; negative before it.", 3.1)
    ]
    y_m: Annotated[float, quantity("m", -5.0, 30.0, "Right of the roof's left edge.", 0.1)]


class LayoutSearch(Input, kw_only=True):
    """How long to search, and where the search starts."""

    time_limit_s: Annotated[
        float,
        quantity(
            "s",
            1.0,
            60.0,
            "Work of a search, as seconds of a common core: the same on any machine.",
            10.0,
        ),
    ] = 10.0
    seed: Annotated[int, count(0, 1_000_000, "Start of the solver's random numbers.", 0)] = 0


class RoofLayoutRequest(Input, kw_only=True):
    """A roof and the panels that shall go on it."""

    roof: Annotated[Roof, prose("The roof and what is on it.")]
    panel_types: Annotated[
        list[RoofPanelType], listing(1, 6, "Panels to choose from, and how many of each.")
    ]
    placements: Annotated[
        list[PlacedPanel],
        listing(0, 60, "A layout to be checked as it is; when given, nothing is searched."),
    ] = []
    min_gap_m: (
        Annotated[float, quantity("m", 0.0, 1.0, "Between panels, along x or y.", 0.02)] | None
    ) = None
    cables_beneath_panels: Annotated[
        bool, prose("Whether cables may run beneath panels instead of around them.")
    ] = False
    prefer: Annotated[
        LayoutGoal,
        choice("What matters most among layouts of the same power.", "balanced"),
    ] = "balanced"
    supports: Annotated[
        list[Support], listing(0, 12, "Wheels and hitch, to share the panels' weight among them.")
    ] = []
    try_without_obstacles: Annotated[
        bool, prose("Whether to search again without each obstacle, one at a time.")
    ] = False
    search: Annotated[LayoutSearch, prose("Limits of the search.")] = LayoutSearch()


_Size = Annotated[float, quantity("m", 0.0, 60.0, "Size along one axis.", 1.18)]
_Area = Annotated[float, quantity("m²", 0.0, 1000.0, "Area.", 4.1)]
_Corner = Annotated[
    list[Annotated[float, quantity("m", -60.0, 60.0, "Roof coordinate.", 1.2)]],
    listing(2, 2, "[x_m, y_m] in roof coordinates."),
]


class RoofPoint(Output, kw_only=True):
    """A point on the roof."""

    x_m: Annotated[float, quantity("m", -60.0, 60.0, "Behind the front edge.", 1.2)]
    y_m: Annotated[float, quantity("m", -60.0, 60.0, "Right of the left edge.", 0.4)]


class FootPlate(Output, kw_only=True):
    """One foot plate at its place."""

    x_m: Annotated[float, quantity("m", -60.0, 60.0, "Its middle, behind the front edge.", 0.64)]
    y_m: Annotated[float, quantity("m", -60.0, 60.0, "Its middle, right of the left edge.", 0.24)]
    size_x_m: _Size
    size_y_m: _Size


class NearbyThing(Output, kw_only=True):
    """The nearest thing of one kind, and the space left to it."""

    thing: Annotated[
        NearbyKind,
        choice("What it is; for a line the distance is measured from the foot plates.", "obstacle"),
    ]
    name: Annotated[str, prose("Its name, or the side of the roof.", "vent")]
    distance_m: Annotated[
        float, quantity("m", -50.0, 50.0, "Free distance; negative where they overlap.", 0.06)
    ]


class CableRun(Output, kw_only=True):
    """One panel's cable, laid square to the vehicle around what is in the way."""

    points: Annotated[list[_Corner], listing(1, 1000, "Its corners from the plugs to the entry.")]
    to_branch_m: Annotated[
        float, quantity("m", 0.0, 500.0, "From the plugs to where all cables have met.", 1.3)
    ]
    to_entry_m: Annotated[float, quantity("m", 0.0, 500.0, "From the plugs to the entry.", 2.6)]
    extension_m: Annotated[
        float, quantity("m", 0.0, 500.0, "To the branch, beyond the panel's own leads.", 0.4)
    ]
    routing: Annotated[
        CableRouting,
        choice("What it has to pass; the last cannot be built.", "around"),
    ]


class LaidPanel(Output, kw_only=True):
    """One panel at its place, with its feet and its cable."""

    name: PanelName
    panel_type: PanelTypeName
    x_m: Annotated[float, quantity("m", -60.0, 60.0, "Its corner nearest the front left, x.", 0.6)]
    y_m: Annotated[float, quantity("m", -60.0, 60.0, "Its corner nearest the front left, y.", 0.2)]
    rotated: Annotated[bool, prose("Length across the vehicle instead of along it.")]
    plugs_towards: Annotated[Side, choice("Side where its leads leave.", "rear")]
    size_x_m: _Size
    size_y_m: _Size
    p_mp_w: Annotated[float, quantity("W", 0.0, 2000.0, "Maximum power.", 115.0)]
    feet: Annotated[list[FootPlate], listing(0, 100, "Its foot plates.")]
    nearest: Annotated[list[NearbyThing], listing(0, 5, "What is closest to it, by kind.")]
    cable: Annotated[CableRun, prose("Its cable.")]


class LayoutProof(Output, kw_only=True):
    """How good the layout is, and how that is known."""

    panels_placed: Annotated[int, count(0, 10_000, "Panels in this layout.", 8)]
    panels_at_most: Annotated[int, count(0, 1_000_000, "No layout holds more panels.", 8)]
    power_w: Annotated[float, quantity("W", 0.0, 1e6, "Power of this layout.", 920.0)]
    power_at_most_w: Annotated[float, quantity("W", 0.0, 1e8, "No layout has more power.", 920.0)]
    area_power_at_most_w: Annotated[
        float,
        quantity("W", 0.0, 1e8, "Limit that the free area alone sets, for comparison.", 1180.0),
    ]
    proven: Annotated[bool, prose("Whether this layout is proven to have the most power.")]
    how: Annotated[
        ProofMethod,
        choice(
            "All wanted panels are placed; a bound that is checked by arithmetic; the solver's "
            "complete search; the limit came first; or the layout was given.",
            "dual-bound",
        ),
    ]
    positions_tried: Annotated[int, count(0, 100_000_000, "Places that were considered.", 412)]


class WithoutObstacle(Output, kw_only=True):
    """What the roof would hold if one obstacle were somewhere else."""

    obstacle: Annotated[str, prose("The obstacle that is left out.", "vent")]
    panels_placed: Annotated[int, count(0, 10_000, "Panels found without it.", 9)]
    power_w: Annotated[float, quantity("W", 0.0, 1e6, "Power found without it.", 1035.0)]
    gain_w: Annotated[float, quantity("W", 0.0, 1e6, "More than with it; at least so much.", 115.0)]
    gain_at_most_w: Annotated[
        float, quantity("W", 0.0, 1e8, "No layout without it gains more on the one found.", 115.0)
    ]
    proven: Annotated[bool, prose("Whether no layout without it has more power.")]


class SupportLoad(Output, kw_only=True):
    """Share of the panels' weight on one support."""

    name: Annotated[str, prose("Wheel or hitch.", "rear left")]
    mass_kg: Annotated[
        float, quantity("kg", -1e4, 1e4, "Negative where the panels relieve it.", 5.1)
    ]


class RoofFeature(Output, kw_only=True):
    """One thing on the roof as a shape, for drawing."""

    kind: Annotated[
        FeatureKind,
        choice("What it is.", "obstacle"),
    ]
    name: Annotated[str, prose("Its name.", "vent")]
    points: Annotated[
        list[_Corner],
        listing(1, 400, "Corners in order, the course of a line, or the middle of a disc."),
    ]
    radius_m: (
        Annotated[
            float, quantity("m", 0.0, 5.0, "Of a disc around its only point, else null.", 0.15)
        ]
        | None
    )
    clearance_m: Annotated[float, quantity("m", 0.0, 5.0, "Space required around it.", 0.05)]
    height_m: Annotated[float, quantity("m", 0.0, 5.0, "Height above the roof.", 0.1)]


class RoofPlan(Output, kw_only=True):
    """A roof with its panels, feet and cables, complete for drawing and for marking out."""

    panels: Annotated[list[LaidPanel], listing(0, 10_000, "Panels, front to rear, left to right.")]
    proof: Annotated[LayoutProof, prose("How good the layout is.")]
    cable_entry: Annotated[
        RoofPoint | None,
        prose("Where cables pass through the roof; null where none is given and no panel placed."),
    ]
    branch_point: Annotated[
        RoofPoint | None,
        prose("Where all cables have met; null where they meet at the entry or there are none."),
    ]
    trunk_m: Annotated[float, quantity("m", 0.0, 500.0, "From there to the entry.", 0.9)]
    total_mass_kg: Annotated[
        float, quantity("kg", 0.0, 1e5, "Panels alone, feet and cables not counted.", 18.4)
    ]
    mass_centre: Annotated[
        RoofPoint | None, prose("Centre of that mass; null where no panel is placed.")
    ]
    roof_area_m2: _Area
    free_area_m2: Annotated[
        float, quantity("m²", 0.0, 1000.0, "Inside the margins, outside clearances.", 6.6)
    ]
    panel_area_m2: _Area
    area_use_fraction: Annotated[
        float, quantity("1", 0.0, 100.0, "Panel area as a share of the roof's area.", 0.61)
    ]
    outline: Annotated[list[_Corner], listing(3, 400, "Corners of the roof.")]
    features: Annotated[list[RoofFeature], listing(0, 300, "What is on the roof, for drawing.")]


class RoofLayoutAnswer(Answer, kw_only=True):
    """Where panels, feet and cables go, and how many could fit at most."""

    plan: Annotated[RoofPlan, prose("The roof with everything on it.")]
    support_loads: Annotated[
        list[SupportLoad],
        listing(0, 12, "Weight on wheels and hitch, where they and panels are given."),
    ]
    without_obstacle: Annotated[
        list[WithoutObstacle], listing(0, 60, "Largest gain first; only when asked for.")
    ]
