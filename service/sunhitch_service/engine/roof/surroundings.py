"""What the roof's shape and its tall things mean for a panel: bending and shadow."""

import math
from collections.abc import Sequence

import numpy as np

from sunhitch.types.check import Check
from sunhitch_service.engine.rules.roof import crown_under_frame, obstacle_shadow

from .panels import Laid
from .site import KeepOut, RoofSite


def crown_radius_m(crown_height_m: float, roof_width_m: float) -> float:
    """Radius of an evenly curved roof, out of how much its middle is higher than its sides [m].

    Parameters
    ----------
    crown_height_m : float
        How much higher that is, more than zero [m].
    roof_width_m : float
        Width over which it rises [m].
    """
    return roof_width_m**2 / (8.0 * crown_height_m) + crown_height_m / 2.0


def rise_m(radius_m: float, span_m: float) -> float:
    """Rise of an evenly curved roof over the middle of what spans it, its chord's sagitta [m]."""
    half = min(span_m / 2.0, radius_m)
    return radius_m - math.sqrt(radius_m**2 - half**2)


def check_crown(site: RoofSite, crown_height_m: float, panels: Sequence[Laid]) -> list[Check]:
    """Per rigid panel: whether its frame can lie on the crown.

    Parameters
    ----------
    site : RoofSite
        The roof.
    crown_height_m : float
        Rise of the roof's middle [m].
    panels : sequence of Laid
        Panels at their places.

    Returns
    -------
    list of Check
        At worst `review`: it costs effort, and is not unsafe in itself.
    """
    if crown_height_m <= 0.0:
        return []
    _, y1, _, y2 = site.outline.bounds
    radius_m = crown_radius_m(crown_height_m, y2 - y1)
    return [
        crown_under_frame(panel.name, rise_m(radius_m, panel.box.y2 - panel.box.y1))
        for panel in panels
        if panel.kind.body.construction == "framed"
    ]


def check_shadows(site: RoofSite, panels: Sequence[Laid]) -> list[Check]:
    """Per panel: how high the sun is when a tall obstacle begins to shade it; `review` at worst."""
    tall = [obstacle for obstacle in site.obstacles if obstacle.height_m > 0.0]
    highest = [max((_elevation_deg(k, panel), k.name) for k in tall) for panel in panels if tall]
    return [
        obstacle_shadow(panel.name, name, angle)
        for panel, (angle, name) in zip(panels, highest, strict=False)
    ]


def _elevation_deg(obstacle: KeepOut, panel: Laid) -> float:
    """Height of the sun at which the shadow just reaches the panel: height over straight gap."""
    if obstacle.radius_m is None and not obstacle.turned_deg:
        b, p = obstacle.box, panel.box
        apart = math.hypot(
            *(max(*gaps, 0.0) for gaps in ((b.x1 - p.x2, p.x1 - b.x2), (b.y1 - p.y2, p.y1 - b.y2)))
        )
    else:
        apart = max(0.0, float(obstacle.distance(np.array([panel.box]))[0]))
    return math.degrees(math.atan2(obstacle.height_m, apart))
