"""How long a roof layout may take, judged from its request."""

import math
from collections.abc import Sequence
from itertools import pairwise

from sunhitch.types.roof import FootPattern, RoofLayoutRequest

from .forbidden import MOST_BY_PLATES, SLAB_M

_SETTLING_MS, _PER_PANEL_MS = 60.0, 8.0
_UNCOUNTED = 12
"""Panels reckoned with where as many as fit are wanted."""
_STOPS_MS = 400.0
"""Per search and type whose feet bring as many rectangles as are reckoned with."""


def expected_ms(request: RoofLayoutRequest) -> float:
    """Longest time on one core [ms]: what stops feet, the search until its limit, the rest.

    Most roofs are proven long before the limit; how soon cannot be told from the request. The
    constants are the settling and the checks of the shipped example and of roofs with 4 to 30
    panels on a 2-core machine, rather too long than too short.

    Parameters
    ----------
    request : RoofLayoutRequest
        Decoded, perhaps contradictory.

    Returns
    -------
    float
        Time [ms].
    """
    counted = sum(kind.panels_wanted or _UNCOUNTED for kind in request.panel_types)
    panels = len(request.placements) or counted
    search_ms = 1000.0 * request.search.time_limit_s
    return search_ms + _stops_ms(request) + _SETTLING_MS + _PER_PANEL_MS * panels


def _stops_ms(request: RoofLayoutRequest) -> float:
    """Working out what stops feet, once for the roof and once without each obstacle."""
    pieces = sum(_pieces(line.points) for line in request.roof.no_foot_lines)
    obstacles = len(request.roof.obstacles) if request.try_without_obstacles else 0
    searches = 1 if request.placements else 1 + obstacles
    rectangles = (pieces * _feet(kind.feet) for kind in request.panel_types if kind.feet)
    return searches * _STOPS_MS * sum(min(1.0, r / MOST_BY_PLATES) for r in rectangles)


def _pieces(points: Sequence[Sequence[float]]) -> int:
    """Rectangles around a line: one for every straight run, more for a slanted one."""
    runs = [(abs(xb - xa), abs(yb - ya)) for (xa, ya), (xb, yb) in pairwise(points)]
    return sum(math.ceil(math.hypot(x, y) / SLAB_M) if min(x, y) > 0.0 else 1 for x, y in runs)


def _feet(feet: FootPattern) -> int:
    return len(feet.points) or feet.rows_along_length * feet.columns_along_width
