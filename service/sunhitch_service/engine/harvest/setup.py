"""The request with every default settled: what the rest of this domain works on."""

from dataclasses import dataclass, replace

from sunhitch.texts import statement
from sunhitch.types.harvest import (
    BatteryUse,
    HarvestAlternative,
    HarvestArray,
    HarvestRequest,
    Parking,
)
from sunhitch.types.panel import ConstructionName, PanelType
from sunhitch.types.roof import Obstacle, PlacedPanel, RoofPanelType
from sunhitch.types.system import Battery, PanelMountingHeat
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.pv.presets import ResolvedPanel, rebuilt, resolve_panel
from sunhitch_service.engine.roof.panels import Laid, lay
from sunhitch_service.engine.shadow.cells import CellRaster, cell_raster
from sunhitch_service.engine.shadow.objects import Solid, solids
from sunhitch_service.engine.shadow.planes import RoofFrame, Stance, roof_frame

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
    panel_types : tuple of PanelType
        Types of panel.
    placements : tuple of PlacedPanel
        Panels at their places.
    panels_at : str
        JSON Pointer of what holds `panel_types`.
    stances : tuple of (Stance, float)
        How the vehicle stands, with weights that add up to 1.
    arrays : tuple of HarvestArray
        Controllers with their panels.
    arrays_at : str
        JSON Pointer of these.
    construction : str or None
        In place of the panels' own.
    mounting_heat : PanelMountingHeat
        How panels shed heat.
    mounting_at : str
        JSON Pointer of that.
    battery : Battery
        Battery bank.
    battery_use : BatteryUse
        Its limits and reserve.
    battery_at : str
        JSON Pointer of what holds these; empty for the request.
    other_price, other_mass_kg : float
        Of what else it takes, [1] and [kg].
    """

    name: str
    panel_types: tuple[PanelType, ...]
    placements: tuple[PlacedPanel, ...]
    panels_at: str
    stances: tuple[tuple[Stance, float], ...]
    arrays: tuple[HarvestArray, ...]
    arrays_at: str
    construction: ConstructionName | None
    mounting_heat: PanelMountingHeat
    mounting_at: str
    battery: Battery
    battery_use: BatteryUse
    battery_at: str
    other_price: float = 0.0
    other_mass_kg: float = 0.0

    @property
    def wired(self) -> list[PlacedPanel]:
        """Panels that some controller uses."""
        used = {n for a in self.arrays for string in a.wiring.strings for n in string}
        return [p for p in self.placements if p.name in used]

    @property
    def wired_types(self) -> list[PanelType]:
        """Their types."""
        kinds = {kind.name: kind for kind in self.panel_types}
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
        albedo=PRACTICE.usual(notes, "/albedo_fraction", request.albedo_fraction, "albedo"),
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
    given = HarvestVariant(
        name=AS_GIVEN,
        panel_types=tuple(request.panel_types),
        placements=tuple(request.placements),
        panels_at="",
        stances=stances(request.parking),
        arrays=tuple(request.arrays),
        arrays_at="/arrays",
        construction=None,
        mounting_heat=request.mounting_heat,
        mounting_at="/mounting_heat",
        battery=request.battery,
        battery_use=request.battery_use,
        battery_at="",
    )
    headings = given.stances if len(given.stances) > 1 else ()
    return [
        given,
        *(
            replace(
                given, name=statement("heading", heading_deg=s.heading_deg), stances=((s, 1.0),)
            )
            for s, _ in headings
        ),
        *(_alternative(given, other, k) for k, other in enumerate(request.compare)),
    ]


def _alternative(given: HarvestVariant, other: HarvestAlternative, number: int) -> HarvestVariant:
    at = f"/compare/{number}"
    return HarvestVariant(
        name=other.name,
        panel_types=tuple(other.panel_types) or given.panel_types,
        placements=tuple(other.placements) or given.placements,
        panels_at=at if other.panel_types else given.panels_at,
        stances=stances(other.parking) if other.parking else given.stances,
        arrays=tuple(other.arrays) or given.arrays,
        arrays_at=f"{at}/arrays" if other.arrays else given.arrays_at,
        construction=other.construction,
        mounting_heat=other.mounting_heat or given.mounting_heat,
        mounting_at=f"{at}/mounting_heat" if other.mounting_heat else given.mounting_at,
        battery=other.battery or given.battery,
        battery_use=other.battery_use or given.battery_use,
        battery_at=at if other.battery or other.battery_use else given.battery_at,
        other_price=other.other_price,
        other_mass_kg=other.other_mass_kg,
    )


def stances(parking: Parking) -> tuple[tuple[Stance, float], ...]:
    """Headings with pitch, roll and weights that add up to 1."""
    if parking.spread is not None:
        turns = [(360.0 * k / parking.spread, 1.0) for k in range(parking.spread)]
    else:
        turns = [(h.heading_deg, h.weight_fraction) for h in parking.headings]
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
    types, placed = variant.panel_types, variant.wired
    kinds = [
        RoofPanelType(name=t.name, body=t.panel.body, p_mp_w=t.panel.electrical.p_mp_w)
        for t in types
        if t.panel.body is not None
    ]
    pointers = {t.name: f"{variant.panels_at}/panel_types/{k}/panel" for k, t in enumerate(types)}
    resolved = {
        t.name: resolve_panel(rebuilt(t.panel, variant.construction), study.notes, pointers[t.name])
        for t in types
    }
    found: list[Module] = []
    for laid, own in zip(lay(kinds, placed), placed, strict=True):
        panel, pointer = resolved[own.panel_type], pointers[own.panel_type]
        raster = cell_raster(panel.layout, laid.kind.body, study.notes, pointer)
        found.append(Module(own.name, own.panel_type, laid, panel, raster))
    return found
