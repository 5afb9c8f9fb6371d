"""Panels at their places: roof checks, cable ways, mass."""

from dataclasses import dataclass

from sunhitch.types.check import Check
from sunhitch.types.fitout import RoofPlacement, RoofSummary
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.roof.panels import Laid, lay, mass_centre, total_mass_kg
from sunhitch_service.engine.roof.placement import check_placements
from sunhitch_service.engine.roof.routes import CableRoutes, cable_routes, check_routes
from sunhitch_service.engine.roof.site import resolve_site

from .job import Job


@dataclass(frozen=True)
class OnRoof:
    """What the roof part found.

    Parameters
    ----------
    laid : list of Laid
        Panels at their places.
    routes : CableRoutes
        Cable ways along the roof.
    checks : list of Check
        Every rule about places and cables.
    summary : RoofSummary
        For the answer.
    """

    laid: list[Laid]
    routes: CableRoutes
    checks: list[Check]
    summary: RoofSummary

    @property
    def cable_length_m(self) -> dict[str, float]:
        """Way from each panel to the cable entry [m], slack included."""
        return {p.panel: p.cable_to_entry_m for p in self.summary.placements}


def put_on_roof(job: Job, assumptions: Assumptions) -> OnRoof:
    """Judge the given places and lead every cable to the entry.

    Parameters
    ----------
    job : Job
        The resolved request.
    assumptions : Assumptions
        Takes what is chosen for the caller.

    Returns
    -------
    OnRoof
        Places, ways, checks and summary.
    """
    site = resolve_site(job.request.roof, job.request.min_gap_m, assumptions)
    laid = lay(job.roof_types, job.request.placements, towards=site.entry)
    routes = cable_routes(site, laid)
    slack = 1.0 + job.request.cables.slack_fraction
    centre = mass_centre(laid)
    area = sum(p.kind.body.length_m * p.kind.body.width_m for p in laid)
    summary = RoofSummary(
        placements=[
            _placement(panel, route.to_entry_m * slack)
            for panel, route in zip(laid, routes.routes, strict=True)
        ],
        entry_x_m=routes.entry[0],
        entry_y_m=routes.entry[1],
        panel_mass_kg=total_mass_kg(laid),
        centre_x_m=centre[0],
        centre_y_m=centre[1],
        panel_area_fraction=min(1.0, area / float(site.outline.area)),
    )
    checks = check_placements(site, laid) + check_routes(routes)
    return OnRoof(laid, routes, checks, summary)


def _placement(panel: Laid, cable_m: float) -> RoofPlacement:
    box = panel.box
    return RoofPlacement(
        panel=panel.name,
        panel_type=panel.kind.name,
        x_m=float(box.x1),
        y_m=float(box.y1),
        along_x_m=float(box.x2 - box.x1),
        along_y_m=float(box.y2 - box.y1),
        cable_to_entry_m=max(0.1, float(cable_m)),
    )
