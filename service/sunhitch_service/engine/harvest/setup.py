"""The request with every default settled: what the rest of this domain works on."""

from dataclasses import dataclass, replace

from sunhitch.texts import statement
from sunhitch.types.harvest import (
    HarvestAlternative,
    HarvestRequest,
    Parking,
)
from sunhitch.types.panel import PanelType
from sunhitch.types.roof import Obstacle, PlacedPanel, RoofPanelType
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.pv.practice import PRACTICE as PV_PRACTICE
from sunhitch_service.engine.pv.presets import ResolvedPanel, rebuilt, resolve_panel
from sunhitch_service.engine.roof.panels import Laid, lay
from sunhitch_service.engine.shadow.cells import CellRaster, cell_raster
from sunhitch_service.engine.shadow.objects import Solid, solids
from sunhitch_service.engine.shadow.planes import RoofFrame, Stance, roof_frame

from .alternatives import changed
from .practice import PRACTICE
from .validate import validate
from .weather import WeatherSteps, conditions, on_the_road

AS_GIVEN = statement("as-given")
"""The request itself among what is compared."""


@dataclass(frozen=True, slots=True)
class Module:
    """One panel at its place, with its cells.

    Parameters
    ----------
    name, kind : str
        Names of panel and type.
    laid : Laid
        Its place.
    panel : ResolvedPanel
        Its cells and diodes.
    raster : CellRaster
        Where its cells lie.
    """

    name: str
    kind: str
    laid: Laid
    panel: ResolvedPanel
    raster: CellRaster


@dataclass(frozen=True, slots=True)
class HarvestVariant:
    """The study, or one alternative.

    Parameters
    ----------
    name : str
        For the comparison.
    request : HarvestRequest
        The study, with what it changes.
    other : HarvestAlternative
        What that is; nothing in the request itself.
    at : str
        JSON Pointer of it; empty for the request itself.
    stances : tuple of (Stance, float)
        How the vehicle stands, with weights that add up to 1.
    """

    name: str
    request: HarvestRequest
    other: HarvestAlternative
    at: str
    stances: tuple[tuple[Stance, float], ...]

    def pointer(self, member: str) -> str:
        """JSON Pointer of a member that it may change."""
        return f"{self.at}/{member}" if getattr(self.other, member) else f"/{member}"

    @property
    def wired(self) -> list[PlacedPanel]:
        """Panels that some controller uses."""
        used = {n for a in self.request.arrays for string in a.wiring.strings for n in string}
        return [p for p in self.request.placements if p.name in used]

    @property
    def wired_types(self) -> list[PanelType]:
        """Their types."""
        kinds = {kind.name: kind for kind in self.request.panel_types}
        return [kinds[p.panel_type] for p in self.wired]

    @property
    def panel_power_w(self) -> float:
        """Their nameplate [W]."""
        return sum(kind.panel.electrical.p_mp_w for kind in self.wired_types)


@dataclass(frozen=True, slots=True)
class HarvestSite:
    """What is around the panels and on them, whatever the weather.

    Parameters
    ----------
    frame : RoofFrame
        The roof.
    things : tuple of Solid
        What casts shade, at the first heading.
    fixtures : tuple of Obstacle
        What stands on the roof.
    first_deg : float
        Heading for which things on the ground were given [°].
    lift_m : float
        Panels' surface above the roof [m].
    albedo : float
        [1].
    horizon : tuple of (float, float)
        Azimuth and height of the landscape [°], all round.
    reflectance : float
        Of what hides sky [1].
    """

    frame: RoofFrame
    things: tuple[Solid, ...]
    fixtures: tuple[Obstacle, ...]
    first_deg: float
    lift_m: float
    albedo: float
    horizon: tuple[tuple[float, float], ...]
    reflectance: float


@dataclass(frozen=True, slots=True)
class HarvestStudy:
    """Everything settled but the variants.

    Parameters
    ----------
    request : HarvestRequest
        As given.
    notes : Assumptions
        What was chosen.
    weather : WeatherSteps
        Of the main weather.
    others : tuple of WeatherSteps
        Of other years.
    site : HarvestSite
        What is around the panels.
    aged : float
        What age leaves of the panels' power [1].
    """

    request: HarvestRequest
    notes: Assumptions
    weather: WeatherSteps
    others: tuple[WeatherSteps, ...]
    site: HarvestSite
    aged: float


def settle(request: HarvestRequest) -> HarvestStudy:
    """Settle every default and note it.

    Parameters
    ----------
    request : HarvestRequest
        As given.

    Returns
    -------
    HarvestStudy
        Ready for its variants.

    Raises
    ------
    ContradictionError
        If the request contradicts itself.
    """
    validate(request)
    notes = Assumptions()
    return HarvestStudy(
        request=request,
        notes=notes,
        weather=on_the_road(request, conditions(request, request.weather, "/weather", notes)),
        others=tuple(
            on_the_road(request, conditions(request, other, f"/other_years/{index}", notes))
            for index, other in enumerate(request.other_years)
        ),
        site=_site(request, notes),
        aged=_aged(request, notes),
    )


def _site(request: HarvestRequest, notes: Assumptions) -> HarvestSite:
    frame = roof_frame(request.roof, request.roof_height_m)
    return HarvestSite(
        frame=frame,
        things=tuple(solids(request, frame, notes)),
        fixtures=tuple(request.roof.obstacles),
        first_deg=stances(request.parking)[0][0].heading_deg,
        lift_m=request.panel_height_m,
        albedo=PV_PRACTICE.usual(notes, "/albedo_fraction", request.albedo_fraction, "albedo"),
        horizon=tuple((each.azimuth_deg, each.elevation_deg) for each in request.horizon),
        reflectance=request.surroundings_reflectance_fraction,
    )


def _aged(request: HarvestRequest, notes: Assumptions) -> float:
    if request.age_years == 0.0:
        return 1.0
    given = request.yearly_loss_fraction
    loss = PRACTICE.usual(notes, "/yearly_loss_fraction", given, "yearly-loss")
    return float((1.0 - loss) ** request.age_years)


def variants(request: HarvestRequest) -> list[HarvestVariant]:
    """The study as given, each heading alone where there are several, and the alternatives.

    Parameters
    ----------
    request : HarvestRequest
        As given.

    Returns
    -------
    list of HarvestVariant
        The request itself first.
    """
    nothing = HarvestAlternative(name=AS_GIVEN)
    given = HarvestVariant(AS_GIVEN, request, nothing, "", stances(request.parking))
    found = [given]
    if len(given.stances) > 1:
        found += [
            replace(
                given, name=statement("heading", heading_deg=s.heading_deg), stances=((s, 1.0),)
            )
            for s, _ in given.stances
        ]
    for number, other in enumerate(request.compare):
        own, at = changed(request, other), f"/compare/{number}"
        found.append(HarvestVariant(other.name, own, other, at, stances(own.parking)))
    return found


def stances(parking: Parking) -> tuple[tuple[Stance, float], ...]:
    """Headings with pitch, roll and weights that add up to 1."""
    turns = (
        [(h.heading_deg, h.weight_fraction) for h in parking.headings]
        if parking.spread is None
        else [(360.0 * k / parking.spread, 1.0) for k in range(parking.spread)]
    )
    total = sum(weight for _, weight in turns)
    return tuple(
        (Stance(heading, parking.pitch_deg, parking.roll_deg), weight / total)
        for heading, weight in turns
    )


def modules(study: HarvestStudy, variant: HarvestVariant) -> list[Module]:
    """The wired panels of a variant, in the order of the placements.

    Parameters
    ----------
    study : HarvestStudy
        Settled request.
    variant : HarvestVariant
        May change the construction.

    Returns
    -------
    list of Module
        With rasters of cells.
    """
    types, placed = variant.request.panel_types, variant.wired
    kinds = [
        RoofPanelType(name=t.name, body=t.panel.body, p_mp_w=t.panel.electrical.p_mp_w)
        for t in types
        if t.panel.body is not None
    ]
    at = variant.pointer("panel_types")
    pointers = {t.name: f"{at}/{k}/panel" for k, t in enumerate(types)}
    resolved = {
        t.name: resolve_panel(
            rebuilt(t.panel, variant.other.construction), study.notes, pointers[t.name]
        )
        for t in types
    }
    found: list[Module] = []
    for laid, own in zip(lay(kinds, placed), placed, strict=True):
        panel, pointer = resolved[own.panel_type], pointers[own.panel_type]
        raster = cell_raster(panel.layout, laid.kind.body, study.notes, pointer)
        found.append(Module(own.name, own.panel_type, laid, panel, raster))
    return found
