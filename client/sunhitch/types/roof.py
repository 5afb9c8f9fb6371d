"""`roof-layout`: the roof, what stands on it, and where panels, feet and cables go.

Roof coordinates: x from the front edge rearwards, y from the left edge to the right (looking
forward), metres. A panel that is not rotated has its length along x. Lengths are taken to 0.1 mm.
"""

from typing import Annotated, Literal

from .base import Input
from .panel import PanelBody, PanelName, PanelTypeName
from .quantity import choice, count, label, listing, prose, quantity
from .shade import Point

Side = Literal["front", "rear", "left", "right"]

_X = Annotated[float, quantity("m", -5.0, 30.0, "Distance behind the front edge.", 1.2)]
_Y = Annotated[float, quantity("m", -5.0, 30.0, "Distance right of the left edge.", 0.4)]
_Extent = Annotated[float, quantity("m", 0.001, 30.0, "Size along one axis.", 0.4)]


class RoofSpot(Input):
    """A point on the roof."""

    x_m: _X
    y_m: _Y


class FrontCorners(Input):
    """How the two front corners of a rectangular roof are cut."""

    shape: Annotated[
        Literal["rounded", "chamfered"], choice("Quarter circle or straight cut.", "rounded")
    ]
    size_m: Annotated[
        float, quantity("m", 0.001, 5.0, "Radius, or the leg of a 45° chamfer.", 0.25)
    ]


class RoofRectangle(Input, tag_field="kind", tag="rectangle"):
    """A rectangular roof with its front left corner at x = 0, y = 0."""

    length_m: Annotated[float, quantity("m", 0.3, 25.0, "From front to rear edge.", 4.2)]
    width_m: Annotated[float, quantity("m", 0.3, 5.0, "From left to right edge.", 2.0)]
    front_corners: Annotated[FrontCorners, prose("Cut front corners.")] | None = None


class RoofPolygon(Input, tag_field="kind", tag="polygon"):
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


class RoundObstacle(Input, tag_field="kind", tag="round"):
    """A round thing on the roof: mushroom vent, antenna, chimney."""

    name: _ObstacleName
    x_m: Annotated[float, quantity("m", -5.0, 30.0, "Centre, behind the front edge.", 1.6)]
    y_m: Annotated[float, quantity("m", -5.0, 30.0, "Centre, right of the left edge.", 0.9)]
    diameter_m: Annotated[float, quantity("m", 0.005, 3.0, "Outer diameter.", 0.2)]
    clearance_m: _ClearanceM | None = None
    height_m: _HeightM = 0.0


class RectangularObstacle(Input, tag_field="kind", tag="rectangular"):
    """A rectangular thing on the roof, its sides along the roof's axes: hatch, cooler, roof box."""

    name: _ObstacleName
    x_m: Annotated[float, quantity("m", -5.0, 30.0, "Its front side.", 1.2)]
    y_m: Annotated[float, quantity("m", -5.0, 30.0, "Its left side.", 0.8)]
    length_m: Annotated[float, quantity("m", 0.005, 25.0, "Size along x.", 0.4)]
    width_m: Annotated[float, quantity("m", 0.005, 5.0, "Size along y.", 0.4)]
    clearance_m: _ClearanceM | None = None
    height_m: _HeightM = 0.0


Obstacle = RoundObstacle | RectangularObstacle


class NoFootLine(Input):
    """A line that no foot plate may come near: the roof there is uneven, riveted or sealed."""

    name: Annotated[str, label("Name, unique within the request.", "seam-2")]
    feature: Annotated[
        Literal["seam", "rib", "rivet-line", "edge-trim"], choice("What it is.", "seam")
    ]
    points: Annotated[list[Point], listing(2, 100, "Course of its middle, [x_m, y_m] in order.")]
    keep_off_m: (
        Annotated[
            float,
            quantity("m", 0.0, 0.5, "From its middle to the nearest edge of a foot plate.", 0.02),
        ]
        | None
    ) = None


class RoofStrip(Input):
    """A rectangle of roof that panels must leave free."""

    name: Annotated[str, label("Name, unique within the request.", "cable strip")]
    x_m: Annotated[float, quantity("m", -5.0, 30.0, "Its front side.", 0.0)]
    y_m: Annotated[float, quantity("m", -5.0, 30.0, "Its left side.", 0.9)]
    length_m: _Extent
    width_m: _Extent


class EdgeMargins(Input):
    """Free space between panels and the roof's edge, measured along the roof's axes."""

    front_m: Annotated[float, quantity("m", 0.0, 5.0, "Towards the front edge.", 0.1)] | None = None
    rear_m: Annotated[float, quantity("m", 0.0, 5.0, "Towards the rear edge.", 0.05)] | None = None
    side_m: (
        Annotated[float, quantity("m", 0.0, 2.0, "Towards left and right edge.", 0.05)] | None
    ) = None


class Roof(Input):
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


class FootPoint(Input):
    """One foot, seen from the panel's corner nearest the front left when it is not rotated."""

    along_length_m: Annotated[
        float, quantity("m", -0.5, 3.5, "Middle of the plate along the panel's length.", 0.05)
    ]
    along_width_m: Annotated[
        float, quantity("m", -0.5, 3.5, "Middle of the plate along the panel's width.", 0.05)
    ]


class FootPattern(Input):
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
        list[FootPoint], listing(0, 60, "Feet at these places instead of in rows.")
    ] = []


class RoofPanelType(Input):
    """A type of panel to be laid out."""

    name: PanelTypeName
    body: Annotated[PanelBody, prose("Size and mass.")]
    p_mp_w: Annotated[float, quantity("W", 0.1, 2000.0, "Maximum power.", 115.0)]
    panels_wanted: (
        Annotated[int, count(1, 60, "How many to place; as many as fit if not given.", 4)] | None
    ) = None
    orientation: Annotated[
        Literal["any", "along", "across"],
        choice("Length along the vehicle, across it, or either.", "any"),
    ] = "any"
    feet: Annotated[FootPattern, prose("Feet; none for a bonded or rail-mounted panel.")] | None = (
        None
    )
    plug_edge: (
        Annotated[
            Literal["end", "side"],
            choice("Leads leave at an end of the length, or at a long side.", "end"),
        ]
        | None
    ) = None
    lead_length_m: (
        Annotated[float, quantity("m", 0.0, 5.0, "Length of the panel's own leads.", 0.9)] | None
    ) = None


class PlacedPanel(Input):
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
