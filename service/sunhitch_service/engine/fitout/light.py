"""Shadows on the roof as light on every cell of every panel."""

from collections.abc import Sequence

import numpy as np

from sunhitch.types.array import ShadeState
from sunhitch.types.fitout import FitOutLight, RoofSun
from sunhitch.types.roof import Obstacle
from sunhitch.types.shade import (
    ArrayPanel,
    ArrayWiring,
    PanelLight,
    ShadedIvRequest,
    ShadeShape,
    Sun,
)
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.pv.presets import resolve_panel
from sunhitch_service.engine.roof.panels import Laid
from sunhitch_service.engine.shade.validate import validate
from sunhitch_service.engine.shadow.casting import EVERYWHERE, cast
from sunhitch_service.engine.shadow.light import panel_light
from sunhitch_service.engine.shadow.objects import on_roof
from sunhitch_service.engine.shadow.planes import Plane, directions

from .job import Job
from .pointers import faults_of, moved

_ROOF = Plane((0.0, 0.0, 0.0), 0.0, 0.0)
"""The roof in its own coordinates; panels are reckoned to lie on it."""


def shade_states(job: Job, laid: list[Laid], assumptions: Assumptions) -> list[ShadeState]:
    """Light on every cell in every state.

    Parameters
    ----------
    job : Job
        The resolved request.
    laid : list of Laid
        Panels at their places.
    assumptions : Assumptions
        Takes what is chosen for the caller.

    Returns
    -------
    list of ShadeState
        As the array calculation takes them.

    Raises
    ------
    ContradictionError
        If a shadow is no simple outline, or a panel's cells contradict themselves.
    """
    lights = enumerate(job.request.light)
    return [_state(job, laid, index, light, assumptions) for index, light in lights]


def _state(
    job: Job, laid: list[Laid], index: int, light: FitOutLight, assumptions: Assumptions
) -> ShadeState:
    request = _request(job, laid, light)
    kinds = [kind.name for kind in job.request.panel_types]
    translate = moved(
        {
            f"/panels/{i}/panel": f"/panel_types/{kinds.index(panel.kind.name)}/panel"
            for i, panel in enumerate(laid)
        }
        | {"/shade": f"/light/{index}/shapes", "/sun": f"/light/{index}"}
    )
    part = Assumptions()
    with faults_of(translate):
        validate(request)
        lit = [_panel_light(request, i, panel, part) for i, panel in enumerate(request.panels)]
    assumptions.merge(part.listed(), translate)
    return ShadeState(
        name=light.name,
        weight_fraction=light.weight_fraction,
        irradiance_w_m2=light.irradiance_w_m2,
        cell_temperature_c=light.cell_temperature_c,
        light=[each for each in lit if each is not None],
    )


def _request(job: Job, laid: list[Laid], light: FitOutLight) -> ShadedIvRequest:
    shadows = obstacle_shadows(job.request.roof.obstacles, light.sun) if light.sun else []
    panels = [
        ArrayPanel(
            name=panel.name,
            panel=job.type_of(panel.name).panel,
            position=panel.shade_position,
        )
        for panel in laid
    ]
    return ShadedIvRequest(
        panels=panels,
        wiring=ArrayWiring(strings=[[panel.name] for panel in panels]),
        sun=Sun(
            irradiance_w_m2=light.irradiance_w_m2,
            cell_temperature_c=light.cell_temperature_c,
            diffuse_fraction=light.diffuse_fraction,
        ),
        shade=[*light.shapes, *shadows],
    )


def obstacle_shadows(obstacles: Sequence[Obstacle], sun: RoofSun) -> list[ShadeShape]:
    """Shadows of everything tall on the roof's own plane.

    Parameters
    ----------
    obstacles : sequence of Obstacle
        With their heights above the roof.
    sun : RoofSun
        As seen from the roof.

    Returns
    -------
    list of ShadeShape
        Opaque outlines; none of flat things.
    """
    towards = directions(np.radians([90.0 - sun.elevation_deg]), np.radians([sun.from_front_deg]))
    return [
        ShadeShape(polygon=outline.tolist())
        for obstacle in obstacles
        for outline in cast(on_roof(obstacle, _ROOF, 0.0), _ROOF, towards, EVERYWHERE).outlines
    ]


def _panel_light(
    request: ShadedIvRequest, index: int, panel: ArrayPanel, part: Assumptions
) -> PanelLight | None:
    pointer = f"/panels/{index}/panel"
    layout = resolve_panel(panel.panel, part, pointer).layout
    light = panel_light(request.shade, request.sun.diffuse_fraction, panel, layout, part, pointer)
    if np.all(light == 1.0):
        return None
    return PanelLight(panel=panel.name, irradiance_fraction=light.tolist())
