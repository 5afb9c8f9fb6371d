"""How long a roof layout may take, judged from its request."""

from collections.abc import Sequence

from sunhitch.types.roof import FootPattern, Roof, RoofLayoutRequest

from .forbidden import MOST_BY_PLATES, pieces_of

_SETTLING_MS, _PER_PANEL_MS = 60.0, 8.0
_UNCOUNTED = 12
"""Panels reckoned with where as many as fit are wanted."""
_STOPS_MS = 250.0
"""Per search and type whose feet bring as many rectangles as are reckoned with."""
_BOUND_MS = 50.0
"""For the bound of given places; its linear programme grows with the square of the types."""


def expected_ms(request: RoofLayoutRequest) -> float:
    """Longest time on one core [ms].

    Most roofs are proven long before the limit; how soon cannot be told from the request.

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
    feet = [_feet(kind.feet) if kind.feet else 0 for kind in request.panel_types]
    tried = len(request.roof.obstacles) if request.try_without_obstacles else 0
    if request.placements:
        return settling_ms(request.roof, feet, len(request.placements))
    return settling_ms(request.roof, feet, counted, request.search.time_limit_s, 1 + tried)


def settling_ms(
    roof: Roof, feet: Sequence[int], panels: int, limit_s: float = 0.0, searches: int = 1
) -> float:
    """Time of working out what stops feet, of the search or the bound, and of checks and cables.

    The constants are those of the shipped example, of roofs with 4 to 30 panels, and of up to 100
    lines under up to 24 feet on a 2-core machine, rather too long than too short.

    Parameters
    ----------
    roof : Roof
        With the lines that feet keep off.
    feet : sequence of int
        Feet of each panel type.
    panels : int
        Panels on the roof.
    limit_s : float
        Time limit of the search [s]; 0 where places are given.
    searches : int
        Roofs that are searched: with all obstacles, and without each.

    Returns
    -------
    float
        Time [ms].
    """
    pieces = sum(len(list(pieces_of(line.points))) for line in roof.no_foot_lines)
    stops = sum(min(1.0, pieces * number / MOST_BY_PLATES) for number in feet)
    placing_ms = 1000.0 * limit_s if limit_s else _BOUND_MS * len(feet) ** 2
    return placing_ms + searches * _STOPS_MS * stops + _SETTLING_MS + _PER_PANEL_MS * panels


def _feet(feet: FootPattern) -> int:
    return len(feet.points) or feet.rows_along_length * feet.columns_along_width
