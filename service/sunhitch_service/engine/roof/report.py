"""Put a layout into words and numbers of the contract."""

from collections.abc import Sequence

import numpy as np

from sunhitch.types.roof import (
    CableRun,
    FootPlate,
    LaidPanel,
    LayoutProof,
    NearbyKind,
    NearbyThing,
    RoofFeature,
    RoofPlan,
    RoofPoint,
)

from .bounds import usable_region
from .geometry import box_distance, free_distances
from .grid import Spot
from .panels import Laid, mass_centre, total_mass_kg
from .practice import PRACTICE
from .routes import CableRoutes, PanelCable
from .site import KeepOut, RoofSite

_DIGITS = 6
"""Micrometres: what is finer is rounding."""


def _m(length: float) -> float:
    return round(float(length), _DIGITS) + 0.0


def _point(spot: Spot) -> RoofPoint:
    return RoofPoint(x_m=_m(spot[0]), y_m=_m(spot[1]))


def roof_plan(
    site: RoofSite, panels: Sequence[Laid], routes: CableRoutes | None, proven: LayoutProof
) -> RoofPlan:
    """A layout for drawing and marking out.

    Parameters
    ----------
    site : RoofSite
        The roof.
    panels : sequence of Laid
        Panels at their places.
    routes : CableRoutes or None
        Their cables, in the same order; None where there is no panel.
    proven : LayoutProof
        How good the layout is.

    Returns
    -------
    RoofPlan
        Lengths to the micrometre.
    """
    entry = routes.entry if routes else site.entry
    area = float(sum(p.kind.body.length_m * p.kind.body.width_m for p in panels))
    return RoofPlan(
        panels=[
            laid_panel(site, panel, [p for p in panels if p is not panel], route)
            for panel, route in zip(panels, routes.routes if routes else (), strict=True)
        ],
        proof=proven,
        cable_entry=_point(entry) if entry else None,
        branch_point=_point(routes.branch) if routes and routes.trunk_m > 0.0 else None,
        trunk_m=_m(routes.trunk_m) if routes else 0.0,
        total_mass_kg=total_mass_kg(panels),
        mass_centre=_point(mass_centre(panels)) if panels else None,
        roof_area_m2=float(site.outline.area),
        free_area_m2=float(usable_region(site).area),
        panel_area_m2=area,
        area_use_fraction=area / float(site.outline.area),
        outline=[[_m(x), _m(y)] for x, y in site.outline.exterior.coords[:-1]],
        features=features(site),
    )


def laid_panel(site: RoofSite, panel: Laid, others: Sequence[Laid], route: PanelCable) -> LaidPanel:
    """One panel with its feet, its neighbours and its cable."""
    box = panel.box
    return LaidPanel(
        name=panel.name,
        panel_type=panel.kind.name,
        x_m=_m(box.x1),
        y_m=_m(box.y1),
        rotated=panel.rotated,
        plugs_towards=panel.plugs_towards,
        size_x_m=_m(box.x2 - box.x1),
        size_y_m=_m(box.y2 - box.y1),
        p_mp_w=float(panel.kind.p_mp_w),
        feet=[
            FootPlate(
                x_m=_m((x1 + x2) / 2),
                y_m=_m((y1 + y2) / 2),
                size_x_m=_m(x2 - x1),
                size_y_m=_m(y2 - y1),
            )
            for x1, y1, x2, y2 in panel.plates.tolist()
        ],
        nearest=_nearest(site, panel, others),
        cable=_cable(panel, route),
    )


def features(site: RoofSite) -> list[RoofFeature]:
    """Everything on the roof as shapes."""
    lines = [
        RoofFeature(
            kind="no-foot-line",
            name=line.name,
            points=[[float(x), float(y)] for x, y in line.course.coords],
            radius_m=None,
            clearance_m=line.keep_off.metres,
            height_m=0.0,
        )
        for line in site.lines
    ]
    return [*map(_keep_out, site.keep_outs), *lines]


def _cable(panel: Laid, route: PanelCable) -> CableRun:
    own = panel.kind.lead_length_m
    lead = PRACTICE.figure("lead-length") if own is None else own
    return CableRun(
        points=[[_m(x), _m(y)] for x, y in route.points],
        to_branch_m=_m(route.to_branch_m),
        to_entry_m=_m(route.to_entry_m),
        extension_m=_m(max(0.0, route.to_branch_m - lead)),
        routing=route.routing,
    )


def _nearest(site: RoofSite, panel: Laid, others: Sequence[Laid]) -> list[NearbyThing]:
    box = np.array([panel.box])
    (edges,) = free_distances(site.outline, box)
    side = min(edges, key=edges.__getitem__)
    beside: dict[NearbyKind, list[tuple[float, str]]] = {
        "roof-edge": [(edges[side], side)],
        "obstacle": [(float(k.distance(box)[0]), k.name) for k in site.obstacles],
        "strip": [(float(k.distance(box)[0]), k.name) for k in site.strips],
        "panel": [(float(box_distance(box, p.box)[0]), p.name) for p in others],
    }
    if panel.kind.feet is not None:
        near = [(float(line.distance(panel.plates).min()), line.name) for line in site.lines]
        beside["no-foot-line"] = near
    return [
        NearbyThing(thing=thing, name=min(distances)[1], distance_m=_m(min(distances)[0]))
        for thing, distances in beside.items()
        if distances
    ]


def _keep_out(shape: KeepOut) -> RoofFeature:
    corners = shape.corners if shape.radius_m is None else [shape.box.centre]
    return RoofFeature(
        kind=shape.kind,
        name=shape.name,
        points=[[x, y] for x, y in corners],
        radius_m=shape.radius_m,
        clearance_m=shape.clearance.metres,
        height_m=shape.height_m,
    )
