"""How long an array configuration takes, judged from its request."""

from math import prod

from sunhitch.types.array import ArrayConfigurationRequest, ShadeState

_SETTLING_MS = 8.0
_PER_STRING_MS, _ENUMERATION_MS = 2.0, 350.0
"""Per distinct string, and where the bound on arrangements ends it."""
_PER_STATE_MS, _PER_STATE_AND_PANEL_MS = 5.0, 0.9
_PER_LIGHT_LEVEL_MS = 0.25
_PER_STATE_AND_ARRANGEMENT_MS = 0.15
_PER_PAIR_OF_PLACES_MS = 0.02
"""Per arrangement and pair of panels at places, which change theirs for less cable."""
_USUALLY_SHOWN = 10


def expected_ms(request: ArrayConfigurationRequest) -> float:
    """Time on one core [ms], within a factor of three and rather too long than too short.

    The constants were fitted by hand to the best of two runs on a 2-core machine: 4 to 24 panels of
    one to six types, no, 5 and 20 shade states with one number a panel or a grid of cells, one and
    two controllers, 10 and 200 arrangements (7 to 1300 ms).

    Parameters
    ----------
    request : ArrayConfigurationRequest
        Decoded, perhaps contradictory.

    Returns
    -------
    float
        Time [ms].
    """
    states, controllers = len(request.shade), len(request.controllers)
    panels = sum(group.count for group in request.panels)
    strings = controllers * prod(group.count + 1 for group in request.panels)
    more = max(0, request.most_arrangements - _USUALLY_SHOWN)
    return (
        _SETTLING_MS
        + min(_PER_STRING_MS * strings, _ENUMERATION_MS)
        + states * (_PER_STATE_MS + _PER_STATE_AND_PANEL_MS * panels * controllers)
        + _PER_STATE_AND_ARRANGEMENT_MS * (states + 1) * more
        + _PER_LIGHT_LEVEL_MS * sum(_levels(state) for state in request.shade)
        + (_PER_PAIR_OF_PLACES_MS * panels**2 * min(strings, request.most_arrangements))
        * (request.layout is not None)
    )


def _levels(state: ShadeState) -> int:
    """Different levels of light on the cells of each panel, summed."""
    lights = [one.irradiance_fraction for one in state.light]
    grids = [light for light in lights if isinstance(light, list)]
    return sum(len({cell for row in grid for cell in row}) for grid in grids)
