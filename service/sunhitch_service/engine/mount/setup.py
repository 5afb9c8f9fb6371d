"""A request with every value settled: given by the caller, or chosen and noted."""

from dataclasses import dataclass

import numpy as np

from sunhitch.texts import statement
from sunhitch.types.mount import (
    Adhesive,
    AdhesiveFeet,
    AdhesiveKind,
    BondedSheet,
    FastenedFeet,
    FootPoint,
    MountCheckRequest,
    Mounting,
    PanelWind,
    Rails,
    SpacerSheet,
)
from sunhitch.types.panel import PanelBody
from sunhitch_service.engine.arrays import Floats
from sunhitch_service.engine.assumptions import Assumptions

from .adhesive import surface_fraction
from .air import GRAVITY
from .conditions import Conditions, settle_conditions
from .feet import Feet, feet_at
from .figures import choose, figure, row, why
from .panel import PanelProperties, settle_panel
from .pull_tests import shown
from .rails import RailBeam, rail_beams
from .wind import (
    DIRECTIONS,
    Direction,
    Suction,
    has_sharp_front,
    reach_m,
    suction,
)


@dataclass(frozen=True, slots=True)
class Setup:
    """Everything that does not change with speed; SI units.

    `mass` is that of panel and spacer, `points` (n, 2) are feet or clamps from the panel's middle,
    `pads` (n, 2) [m] and `fasteners` (n,) are theirs, as far as they have any,
    `height` is that of the panel's middle above the roof. A bonded sheet has no feet. `support` is
    what supports the panel, in one word, `supports` each of them, `lost` what may be lost.
    `counted_weight` [N] is what counts against suction, `tested` what pull tests show.
    """

    request: MountCheckRequest
    air: PanelWind
    conditions: Conditions
    panel: PanelProperties
    mass: float
    sides: tuple[float, float]
    points: Floats
    feet: Feet | None
    pads: Floats
    fasteners: Floats
    height: float
    suctions: dict[Direction, Suction]
    application_c: float
    humidity: float
    bond_m: float
    bonded_share: float
    rails: tuple[RailBeam, ...]
    support: str
    supports: tuple[str, ...]
    lost: tuple[str, ...]
    counted_weight: float
    tested: float | None

    @property
    def any_loss(self) -> bool:
        """Whether the panel can lose some part of what holds it and still be balanced."""
        return self.feet is None or bool(self.feet.stable[1:].any())

    @property
    def fields(self) -> list[Floats]:
        """Suction with its moments by places, (p, 3): gusts from each direction, then the mean."""
        return [*(self.suctions[side].gust for side in DIRECTIONS), self.suctions["front"].mean]

    @property
    def surface_share(self) -> float:
        """Share of the adhesive's strength that the weakest surface takes."""
        spacer = self.request.spacer if self.feet is None else None
        return surface_fraction(self.request.surface, spacer)

    @property
    def area(self) -> float:
        """Area of the panel [m²]."""
        return self.sides[0] * self.sides[1]

    @property
    def weight(self) -> float:
        """Weight of panel and spacer [N]."""
        return self.mass * GRAVITY


def settle(
    request: MountCheckRequest,
    notes: Assumptions,
    anywhere: dict[Direction, Suction] | None = None,
) -> Setup:
    """Settle every value of a request that was found free of faults.

    Parameters
    ----------
    request : MountCheckRequest
        Free of contradictions.
    notes : Assumptions
        Collects what was chosen.
    anywhere : dict of Suction or None
        Suction at many places in place of the panel's own; then no loss of a foot is reckoned.
    """
    panel, spacer, air = request.panel, request.spacer, request.wind or PanelWind()
    sides = (panel.length_m, panel.width_m)
    points = support_points(request) - np.array(sides) / 2
    bonded, bonded_flat = isinstance(request.mounting, BondedSheet), standoff(request) == 0
    places = tuple((float(x), float(y)) for x, y in points)
    support = "clamp" if isinstance(request.mounting, Rails) else "foot"
    supports = tuple(statement(f"{support}-number", number=i + 1) for i in range(len(points)))
    strip = statement("bond-at-front-edge", strip_mm=figure("limit", "debonded_strip_m") * 1000)
    _note_chosen(request, air, notes)
    mass = panel.mass_kg + (spacer.mass_kg if spacer else 0.0)
    bonded_share = _bonded_share(request, notes)
    poisson = figure("sheet_default", "poisson")
    pads, fasteners = own_pads(request.mounting), own_fasteners(request.mounting)
    each = pads.prod(axis=1) if len(pads) else fasteners
    firm = tuple(each.tolist()) if len(each) and np.ptp(each) > 0.0 else ()
    conditions, properties = settle_conditions(request, notes), settle_panel(request, notes)
    application_c, humidity, bond_m = _bond(request, notes)
    return Setup(
        request=request,
        air=air,
        conditions=conditions,
        panel=properties,
        mass=mass,
        sides=sides,
        points=points,
        feet=None if bonded else feet_at(places, sides, poisson, anywhere is None, firm),
        pads=pads,
        fasteners=fasteners,
        height=middle_m(request.mounting, panel, spacer),
        suctions=anywhere
        or {
            side: suction(request.vehicle, request.position, sides, air, bonded_flat, side)
            for side in DIRECTIONS
        },
        application_c=application_c,
        humidity=humidity,
        bond_m=bond_m,
        bonded_share=bonded_share,
        rails=rail_beams(request.mounting) if isinstance(request.mounting, Rails) else (),
        support=support,
        supports=supports,
        lost=(strip,) if bonded else supports,
        counted_weight=figure("wind_default", "favourable_weight") * mass * GRAVITY,
        tested=shown(request.mounting, pads if len(pads) else fasteners, bonded_share),
    )


def support_points(request: MountCheckRequest) -> Floats:
    """Feet or clamps in panel coordinates, shape (n, 2)."""
    mounting = request.mounting
    if isinstance(mounting, BondedSheet):
        return np.empty((0, 2))
    listed = mounting.clamps if isinstance(mounting, Rails) else mounting.feet
    return np.array([[point.x_m, point.y_m] for point in listed]).reshape(-1, 2)


def own_size(foot: FootPoint) -> bool:
    """Whether a foot has a pad or fasteners of its own."""
    return not (foot.pad_length_m is foot.pad_width_m is foot.fasteners is None)


def own_pads(mounting: Mounting) -> Floats:
    """Length and width of the pads of glued feet, shape (n, 2) [m]."""
    if not isinstance(mounting, AdhesiveFeet):
        return np.empty((0, 2))
    usual = mounting.pad_length_m, mounting.pad_width_m
    own = [(foot.pad_length_m, foot.pad_width_m) for foot in mounting.feet]
    pads = [[one or other for one, other in zip(pad, usual, strict=True)] for pad in own]
    return np.array(pads).reshape(-1, 2)


def own_fasteners(mounting: Mounting) -> Floats:
    """Fasteners in each fastened foot, shape (n,)."""
    if not isinstance(mounting, FastenedFeet):
        return np.empty(0)
    return np.array([float(one.fasteners or mounting.fasteners_per_foot) for one in mounting.feet])


def standoff(request: MountCheckRequest) -> float:
    """Height above the roof of what lies on the feet [m]."""
    return _standoff(request.mounting)


def _standoff(mounting: Mounting) -> float:
    return 0.0 if isinstance(mounting, BondedSheet) else mounting.standoff_m


def middle_m(mounting: Mounting, panel: PanelBody, spacer: SpacerSheet | None) -> float:
    """Height of the panel's middle above the roof, on its spacer if there is one [m]."""
    below = spacer.thickness_m if spacer else 0.0
    return _standoff(mounting) + below + panel.thickness_m / 2


def adhesive_of(request: MountCheckRequest) -> Adhesive | None:
    """The adhesive, where something is glued."""
    mounting = request.mounting
    return mounting.adhesive if isinstance(mounting, AdhesiveFeet | BondedSheet) else None


def beaded_sheet(request: MountCheckRequest) -> Adhesive | None:
    """The adhesive of a whole sheet that is bonded in beads, which moisture cures."""
    adhesive = adhesive_of(request) if isinstance(request.mounting, BondedSheet) else None
    return adhesive if adhesive and by_moisture(adhesive.kind) else None


def by_moisture(kind: AdhesiveKind) -> bool:
    """Whether an adhesive cures by the air's moisture, from its edges inwards."""
    return kind != "acrylic-foam-tape"


def _bonded_share(request: MountCheckRequest, notes: Assumptions) -> float:
    """Share of a pad's area that is glued: all of it, or what beads leave of it."""
    mounting = request.mounting
    if not isinstance(mounting, AdhesiveFeet):
        return 1.0
    if mounting.adhesive.bead_width_m is None:
        return 1.0 if mounting.bonded_fraction is None else mounting.bonded_fraction
    reason = statement("air-paths-as-wide")
    return notes.choose("/mounting/bonded_fraction", mounting.bonded_fraction, 0.5, reason)


def _bond(request: MountCheckRequest, notes: Assumptions) -> tuple[float, float, float]:
    """Warmth [°C] and humidity while bonding, and thickness of the bond [m]."""
    usual_c, usual_damp = (
        figure("travel_default", name) for name in ("application_c", "humidity_fraction")
    )
    adhesive = adhesive_of(request)
    if adhesive is None:
        return usual_c, usual_damp, 0.0
    at, default = "/mounting/adhesive/", "travel_default"
    warmth = choose(notes, f"{at}application_c", adhesive.application_c, default, "application_c")
    if by_moisture(adhesive.kind):
        given = adhesive.humidity_fraction
        usual_damp = choose(notes, f"{at}humidity_fraction", given, default, "humidity_fraction")
    thick = figure("adhesive", adhesive.kind, "thickness_m")
    reason = why("adhesive", adhesive.kind)
    return warmth, usual_damp, notes.choose(f"{at}thickness_m", adhesive.thickness_m, thick, reason)


def _reach_words(request: MountCheckRequest) -> str:
    """How far the suction behind a sharp front is reckoned to reach; empty behind a rounded one."""
    vehicle = request.vehicle
    if not has_sharp_front(vehicle):
        return ""
    reach = reach_m(vehicle, vehicle.roof_width_m, "front")
    note = row("wind_default", "sharp_reach")["row_note"]
    return statement("sharp-reach", reach_m=reach, note=note)


def _note_chosen(request: MountCheckRequest, air: PanelWind, notes: Assumptions) -> None:
    for field, key in (
        ("edge_drag_coefficient", "edge_drag"),
        ("centre_of_pressure_fraction", "centre_of_pressure"),
    ):
        value: float | None = getattr(air, field)
        choose(notes, f"/wind/{field}", value, "wind_default", key)
    if air.net_uplift_coefficient is None:
        notes.note(
            "/wind/net_uplift_coefficient",
            "by zone",
            statement(
                "suction-by-zone",
                factor=figure("wind_default", "edge_factor"),
                reach=_reach_words(request),
            ),
        )
    if request.vehicle.other_roof_mass_kg is None:
        notes.note("/vehicle/other_roof_mass_kg", 0.0, statement("nothing-else-on-roof"))
    if request.vehicle.front == "unknown":
        notes.note("/vehicle/front", "sharp", statement("sharp-front-worst"))
    if beads := beaded_sheet(request):
        choose(notes, "/mounting/adhesive/bead_width_m", beads.bead_width_m, "limit", "bead_m")
