"""How long a roof layout may take, judged from its request."""

from sunhitch.types.roof import RoofLayoutRequest

_SETTLING_MS, _PER_PANEL_MS = 60.0, 8.0
_UNCOUNTED = 12
"""Panels reckoned with where as many as fit are wanted."""


def expected_ms(request: RoofLayoutRequest) -> float:
    """Longest time on one core [ms]: the search until its limit, then checks and cables.

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
    return search_ms + _SETTLING_MS + _PER_PANEL_MS * panels
