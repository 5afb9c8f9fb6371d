"""Panels at their places, given or found: roof checks, cable routes, mass."""

from dataclasses import dataclass
from typing import NoReturn

import msgspec
import numpy as np

from sunhitch.texts import Text, sentence
from sunhitch.types.basis import Assumption
from sunhitch.types.check import Check
from sunhitch.types.fitout import FitOutRequest, RoofPlacement, RoofSummary
from sunhitch.types.roof import LaidPanel, PlacedPanel, RoofLayoutRequest, RoofPlan
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.errors import ContradictionError, Fault
from sunhitch_service.engine.reuse import reusable
from sunhitch_service.engine.roof.layout import Settled, settle
from sunhitch_service.engine.roof.panels import Laid
from sunhitch_service.engine.roof.routes import ways_between
from sunhitch_service.engine.roof.site import RoofSite

from .job import Job
from .lost import known_name
from .pointers import Translate, faults_of, moved

MOST_PANELS = 24
"""More are not wired in one call."""


@dataclass(frozen=True)
class PlacedPanels:
    """Panels at their places with their cables, judged.

    Parameters
    ----------
    job : Job
        The request with every panel placed.
    laid : list of Laid
        Panels at their places, in the request's order.
    site : RoofSite
        The roof that they lie on.
    checks : list of Check
        Every rule about places and cables.
    summary : RoofSummary
        For the answer.
    plan : RoofPlan
        For drawing and marking out.
    ways : list of list of float
        Ways of cables between the plugs of all panels, and to the entry, which is last [m].
    translate : callable
        From pointers into the job's request to those into the caller's.
    """

    job: Job
    laid: list[Laid]
    site: RoofSite
    checks: list[Check]
    summary: RoofSummary
    plan: RoofPlan
    ways: list[list[float]]
    translate: Translate


def place_panels(job: Job, assumptions: Assumptions) -> PlacedPanels:
    """Judge the given places, or find some, and lead every cable to the entry.

    Parameters
    ----------
    job : Job
        The resolved request.
    assumptions : Assumptions
        Takes what is chosen for the caller.

    Returns
    -------
    PlacedPanels
        Places, cables, checks and summary.

    Raises
    ------
    ContradictionError
        If the roof, its panels or their places contradict themselves, or no panel finds a place.
    """
    request = job.request
    kinds = range(len(request.panel_types))
    bodies = {f"/panel_types/{i}/body": f"/panel_types/{i}/panel/body" for i in kinds}
    with faults_of(moved(bodies)):
        layout = RoofLayoutRequest(
            roof=request.roof,
            panel_types=job.roof_types,
            placements=request.placements,
            min_gap_m=request.min_gap_m,
            prefer=request.layout.prefer,
            search=request.layout.search,
        )
        settled, made, ways = _settled(layout)
    assumptions.merge(made)
    plan = settled.plan
    entry, centre = plan.cable_entry, plan.mass_centre
    if entry is None or centre is None:
        told = (c.remedy for c in settled.checks if c.code == "panels-placed" and c.remedy)
        _refuse(sentence("no-panel-fits", remedy=next(told)))
    if not job.placed_by_caller:
        number = len(settled.packed.panels)
        if number > MOST_PANELS:
            _refuse(sentence("too-many-panels-wired", panels=number, most_panels=MOST_PANELS))
        job = Job(_with_places(request, plan.panels), placed_by_caller=False, given=job.given)
    slack = 1.0 + request.cables.slack_fraction
    summary = RoofSummary(
        placements=[
            RoofPlacement(
                panel=panel.name,
                panel_type=panel.panel_type,
                x_m=panel.x_m,
                y_m=panel.y_m,
                along_x_m=panel.size_x_m,
                along_y_m=panel.size_y_m,
                cable_to_entry_m=max(0.1, panel.cable.to_entry_m * slack),
            )
            for panel in plan.panels
        ],
        entry_x_m=entry.x_m,
        entry_y_m=entry.y_m,
        panel_mass_kg=plan.total_mass_kg,
        centre_x_m=centre.x_m,
        centre_y_m=centre.y_m,
        panel_area_fraction=min(1.0, plan.area_use_fraction),
    )
    laid, translate = list(settled.packed.panels), moved(_kept_types(job.given, job.request))
    site, checks = settled.job.site, settled.checks
    return PlacedPanels(job, laid, site, checks, summary, plan, ways, translate)


@reusable
def _settled(
    layout: RoofLayoutRequest,
) -> tuple[Settled, list[Assumption], list[list[float]]]:
    """The layout, what it assumes, and the ways between all plugs and the entry, which is last."""
    made = Assumptions()
    found = settle(layout, made)
    in_m = [panel.cable.to_entry_m for panel in found.plan.panels]
    between = ways_between(found.job.site, found.packed.panels)
    ways = [*np.column_stack([between, in_m]).tolist(), [*in_m, 0.0]]
    return found, made.listed(), ways


def _kept_types(before: FitOutRequest, after: FitOutRequest) -> dict[str, str]:
    """Where the caller set each of the types that found a place."""
    names = [entry.name for entry in before.panel_types]
    return {
        f"/panel_types/{index}": f"/panel_types/{names.index(known_name(entry.name, names))}"
        for index, entry in enumerate(after.panel_types)
    }


def _refuse(message: Text) -> NoReturn:
    raise ContradictionError([Fault("/panel_types", message)])


def as_placed(panel: LaidPanel, name: str = "") -> PlacedPanel:
    """A panel that was laid out, as a caller would place it, by another name if one is given."""
    return PlacedPanel(
        name=name or panel.name,
        panel_type=panel.panel_type,
        x_m=panel.x_m,
        y_m=panel.y_m,
        rotated=panel.rotated,
        plugs_towards=panel.plugs_towards,
    )


def _with_places(request: FitOutRequest, panels: list[LaidPanel]) -> FitOutRequest:
    """The same with places, and without types that found none."""
    places = [as_placed(panel) for panel in panels]
    used = {panel.panel_type for panel in panels}
    kinds = [entry for entry in request.panel_types if entry.name in used]
    return msgspec.structs.replace(request, placements=places, panel_types=kinds)
