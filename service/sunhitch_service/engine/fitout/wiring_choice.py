"""The array part: arrangements of the placed panels under the given light."""

import numpy as np
from msgspec.structs import asdict, replace

from sunhitch.types.array import (
    ArrayConfigurationAnswer,
    ArrayConfigurationRequest,
    ArrayConnectors,
    HarnessLayout,
    PanelPlace,
    PanelTypeCount,
    ShadeState,
)
from sunhitch.types.base import Input
from sunhitch.types.panel import Panel
from sunhitch_service.engine.array.configuration import array_configuration
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.pv.presets import construction_of
from sunhitch_service.engine.reuse import reusable

from .job import Job
from .light import shade_states
from .placement import PlacedPanels
from .pointers import Translate, faults_of, moved


class _OnRoof(Input, kw_only=True):
    """What the array part is asked, and how far cables go from panel to panel."""

    request: ArrayConfigurationRequest
    ways: list[list[float]]


@reusable
def _configured(asked: _OnRoof) -> ArrayConfigurationAnswer:
    return array_configuration(asked.request, np.array(asked.ways))


SHOWN_WIRINGS, MOST_WIRINGS = 10, 200
"""How many an answer lists, and how many can be asked for."""


def choose_wiring(
    job: Job,
    roof: PlacedPanels,
    assumptions: Assumptions,
    most: int = SHOWN_WIRINGS,
) -> ArrayConfigurationAnswer:
    """Rank every way to wire the placed panels.

    Parameters
    ----------
    job : Job
        The resolved request.
    roof : PlacedPanels
        Where the panels are.
    assumptions : Assumptions
        Takes what is chosen for the caller.
    most : int
        How many to tell.

    Returns
    -------
    ArrayConfigurationAnswer
        The wiring as drawn, where one is, then arrangements, best first.
    """
    states = shade_states(job, roof.laid, assumptions)
    translate = _pointers(job)
    with faults_of(translate):
        request = replace(_request(job, roof, states), most_arrangements=most)
        answer = _configured(_OnRoof(request=request, ways=roof.ways))
    assumptions.merge(answer.assumptions, translate)
    drawn = answer.drawn
    if drawn is None:
        return answer
    others = [one for one in answer.arrangements if one.rank != drawn.rank]
    return replace(answer, arrangements=[drawn, *others])


def _pointers(job: Job) -> Translate:
    """Where a fit-out sets what the array request calls by another name."""
    kinds, wired = job.request.panel_types, enumerate(job.wired_types)
    own = {f"/panels/{i}": f"/panel_types/{kinds.index(each.kind)}" for i, each in wired}
    return moved(own | {"/shade": "/light"})


def _request(job: Job, roof: PlacedPanels, states: list[ShadeState]) -> ArrayConfigurationRequest:
    request = job.request
    return ArrayConfigurationRequest(
        panels=[
            PanelTypeCount(
                name=each.name,
                panel=_as_lit(each.kind.panel, states),
                count=len(each.panels),
                instances=each.panels,
                lead_length_m=each.kind.lead_length_m,
            )
            for each in job.wired_types
        ],
        controllers=request.controllers,
        battery=request.battery,
        site=request.site,
        mounting_heat=request.mounting_heat,
        rules=request.rules,
        sun=request.sun,
        shade=states,
        connectors=ArrayConnectors(**asdict(request.connectors)),
        layout=HarnessLayout(
            entry_x_m=roof.summary.entry_x_m,
            entry_y_m=roof.summary.entry_y_m,
            places=[
                PanelPlace(panel=panel.name, x_m=float(panel.plug[0]), y_m=float(panel.plug[1]))
                for panel in roof.laid
            ],
            slack_fraction=request.cables.slack_fraction,
        ),
        target=request.target,
        leave_out_at_most=request.leave_out_at_most,
        drawn=request.drawn,
        removable=request.removable,
        other_charging_a=sum(charger.output_a for charger in request.chargers),
    )


def _as_lit(panel: Panel, states: list[ShadeState]) -> Panel:
    """The panel with the construction whose cells the states' grids of light count."""
    if panel.cells is not None or not any(state.light for state in states):
        return panel
    return replace(panel, construction=construction_of(panel, Assumptions(), ""))
