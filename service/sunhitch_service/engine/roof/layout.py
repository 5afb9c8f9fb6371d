"""`roof-layout`: where panels, feet and cables go, and how many could fit at most."""

from collections.abc import Sequence
from dataclasses import dataclass

from msgspec.structs import replace

from sunhitch.texts import statement
from sunhitch.types.check import Check
from sunhitch.types.roof import (
    LayoutProof,
    RoofLayoutAnswer,
    RoofLayoutRequest,
    RoofPlan,
    WithoutObstacle,
)
from sunhitch_service.engine.answering import common
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.cautions import cautions
from sunhitch_service.engine.errors import Faults
from sunhitch_service.engine.reuse import reusable
from sunhitch_service.engine.rules.roof import layout_power, panels_placed

from .balance import support_loads
from .causes import unavoidable_lines
from .contradictions import (
    number_faults,
    panel_type_faults,
    placed_faults,
    roof_faults,
    support_faults,
)
from .packing import MOST_PANELS, Limit, Packed, beside, bounds_of, is_most, most_of, pack
from .panels import Laid, lay, mass_centre, total_mass_kg
from .placement import check_placements, fits
from .practice import PRACTICE
from .preferences import LayoutTargets
from .report import roof_plan
from .routes import CableRoutes, cable_routes, check_routes
from .search import Budget
from .site import KeepOut, RoofSite, resolve_site
from .surroundings import check_crown, check_shadows

_SHARE_OF_MAIN_SEARCH = 0.5
"""Of the work, where obstacles are tried too; the others share the rest."""

_SEARCHING, _SETTLING_S = 0.9, 0.1
"""Share of the limit that goes into searches, once this is set aside for checks and cables."""


@dataclass(frozen=True, slots=True)
class LayoutCase:
    """A request with its roof resolved."""

    request: RoofLayoutRequest
    site: RoofSite
    targets: LayoutTargets

    def search(self, share: float) -> Budget:
        """A share of the work."""
        whole = _SEARCHING * (self.request.search.time_limit_s - _SETTLING_S)
        return Budget(whole, share * whole, self.request.search.seed)


@dataclass(frozen=True, slots=True)
class Settled:
    """Panels and cables on a roof, judged.

    Parameters
    ----------
    job : LayoutCase
        Request and roof.
    packed : Packed
        Panels and how good the layout is.
    checks : list of Check
        Every rule about places and cables.
    plan : RoofPlan
        For drawing and marking out.
    """

    job: LayoutCase
    packed: Packed
    checks: list[Check]
    plan: RoofPlan


def roof_layout(request: RoofLayoutRequest) -> RoofLayoutAnswer:
    """Lay out panels, feet and cables on a roof, or check a layout that is given.

    Parameters
    ----------
    request : RoofLayoutRequest
        Roof, panel types and preferences.

    Returns
    -------
    RoofLayoutAnswer
        Places, feet, cables, balance, and a bound that no layout can pass.

    Raises
    ------
    ContradictionError
        If roof, panels or a given layout contradict themselves.
    """
    assume = Assumptions()
    settled = settle(request, assume)
    _note_defaults(request, assume)
    panels = settled.packed.panels
    return RoofLayoutAnswer(
        **common(
            request,
            [*settled.checks, *check_shadows(settled.job.site, panels)],
            assume,
            cautions("roof-work", "roof-leak", "road-safety", "judgement"),
        ),
        plan=settled.plan,
        support_loads=support_loads(total_mass_kg(panels), mass_centre(panels), request.supports)
        if panels
        else [],
        without_obstacle=_without_obstacles(settled.job, settled.packed),
    )


def settle(request: RoofLayoutRequest, assume: Assumptions) -> Settled:
    """Lay panels and cables, or judge what is given.

    Parameters
    ----------
    request : RoofLayoutRequest
        Roof, panel types and preferences.
    assume : Assumptions
        Takes a note of every default of the roof.

    Returns
    -------
    Settled
        Panels, cables, checks and plan.

    Raises
    ------
    ContradictionError
        If roof, panels or a given layout contradict themselves.
    """
    _refuse_contradictions(request)
    site = resolve_site(request.roof, request.min_gap_m, assume)
    _refuse_too_many(site, request)
    job = LayoutCase(request, site, _targets(request, site))
    packed = _packed(job)
    routes = (
        cable_routes(site, packed.panels, request.cables_beneath_panels) if packed.panels else None
    )
    if routes and routes.entry_chosen:
        where = f"x {routes.entry[0]:.3f} m, y {routes.entry[1]:.3f} m"
        assume.note("/roof/cable_entry", where, statement("cables-shortest"))
    places = check_placements(site, packed.panels)
    # A layout that breaks a rule proves nothing.
    proof = replace(packed.proof, proven=packed.proof.proven and fits(places))
    checks = _checks(job, packed, places, routes, proof)
    return Settled(job, packed, checks, roof_plan(site, packed.panels, routes, proof))


def _refuse_contradictions(request: RoofLayoutRequest) -> None:
    faults = Faults()
    if roof_faults(request.roof, faults):
        panel_type_faults(request.panel_types, request.roof, faults)
    plug_edges = {kind.name: kind.plug_edge for kind in request.panel_types}
    placed_faults(request.placements, plug_edges, faults)
    if request.placements:
        kinds = ((kind.name, kind.panels_wanted) for kind in request.panel_types)
        number_faults(kinds, request.placements, faults)
    support_faults(request.supports, faults, "/supports")
    faults.raise_any()


def _refuse_too_many(site: RoofSite, request: RoofLayoutRequest) -> None:
    faults = Faults()
    number = sum(most_of(site, request.panel_types))
    faults.add_if(
        number > MOST_PANELS,
        "/panel_types",
        "too-many-panels-laid",
        panels=number,
        most_panels=MOST_PANELS,
    )
    faults.raise_any()


def _note_defaults(request: RoofLayoutRequest, assume: Assumptions) -> None:
    for i, kind in enumerate(request.panel_types):
        at, end = f"/panel_types/{i}", statement("box-at-short-end")
        assume.choose(f"{at}/plug_edge", kind.plug_edge, "end", end)
        PRACTICE.usual(assume, f"{at}/lead_length_m", kind.lead_length_m, "lead-length")


def _targets(request: RoofLayoutRequest, site: RoofSite) -> LayoutTargets:
    x1, y1, x2, y2 = site.outline.bounds
    zone = next((k.box.centre for k in site.keep_outs if k.kind == "cable-zone"), None)
    wheels = [s.x_m for s in request.supports if s.x_m > x1]
    return LayoutTargets(
        prefer=request.prefer,
        cables_to=site.entry or zone or (x2, (y1 + y2) / 2),
        middle_y_m=(y1 + y2) / 2,
        axle_x_m=sum(wheels) / len(wheels) if wheels else None,
    )


def _packed(job: LayoutCase) -> Packed:
    request = job.request
    if request.placements:
        panels = lay(request.panel_types, request.placements, job.targets.cables_to)
        return beside(_limit(replace(request, placements=[])), tuple(panels), request.panel_types)
    share = _SHARE_OF_MAIN_SEARCH if _tries(job) else 1.0
    return pack(job.site, request.panel_types, job.targets, job.search(share))


@reusable
def _limit(request: RoofLayoutRequest) -> Limit:
    """What a roof holds at most, wherever panels are placed: half the time of their trials."""
    site = resolve_site(request.roof, request.min_gap_m, Assumptions())
    whole_s = LayoutCase(request, site, _targets(request, site)).search(1.0).whole_s
    return bounds_of(site, request.panel_types, whole_s)


def _tries(job: LayoutCase) -> bool:
    return job.request.try_without_obstacles and bool(job.site.obstacles)


def _checks(
    job: LayoutCase,
    packed: Packed,
    places: list[Check],
    routes: CableRoutes | None,
    proof: LayoutProof,
) -> list[Check]:
    found = [*_wanted(job, packed.panels), *places]
    found += check_crown(job.site, job.request.roof.crown_height_m, packed.panels)
    found += check_routes(routes) if routes else []
    if job.request.placements:
        return found
    return [*found, layout_power(proof.power_w, proof.power_at_most_w, proven=proof.proven)]


def _wanted(job: LayoutCase, panels: Sequence[Laid]) -> list[Check]:
    """Every wanted panel is placed; where none is counted, at least one is."""
    kinds = job.request.panel_types
    counted = [k for k in kinds if k.panels_wanted is not None]
    if not counted or job.request.placements:
        lines = None if panels else unavoidable_lines(job.site, kinds, panels)
        return [panels_placed(statement("all-types"), len(panels), 1, lines)]
    found: list[Check] = []
    for kind in counted:
        placed, wanted = sum(p.kind is kind for p in panels), kind.panels_wanted or 0
        lines = unavoidable_lines(job.site, [kind], panels) if placed < wanted else None
        found.append(panels_placed(kind.name, placed, wanted, lines))
    return found


def _without_obstacles(job: LayoutCase, packed: Packed) -> list[WithoutObstacle]:
    """What would fit if an obstacle stood elsewhere, off the roof's panel area."""
    if not _tries(job):
        return []
    obstacles = job.site.obstacles
    share = (1.0 - _SHARE_OF_MAIN_SEARCH) / len(obstacles)
    found = [_without(job, packed, obstacle, job.search(share)) for obstacle in obstacles]
    return sorted(found, key=lambda item: -item.gain_w)


def _without(job: LayoutCase, packed: Packed, obstacle: KeepOut, search: Budget) -> WithoutObstacle:
    """One obstacle gone; the layout found with it still fits."""
    other = job.site.without(obstacle)
    free = pack(other, job.request.panel_types, job.targets, search, preferring=False)
    best = max(packed, free, key=lambda one: one.proof.power_w)
    power, present = best.proof.power_w, packed.proof.power_w
    at_most = max(power, free.proof.power_at_most_w)
    return WithoutObstacle(
        obstacle=obstacle.name,
        panels_placed=len(best.panels),
        power_w=power,
        gain_w=power - present,
        gain_at_most_w=at_most - present,
        proven=is_most(power, at_most),
    )
