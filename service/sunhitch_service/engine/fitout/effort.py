"""How long a fit-out takes, judged from its request."""

from sunhitch.types.fitout import FitOutPanelType, FitOutRequest
from sunhitch_service.engine.mount.effort import holding_ms

_SETTLING_MS = 50.0
_PER_PANEL_MS = 4.0
_PER_CONTROLLER_MS, _PER_PANEL_AND_CONTROLLER_MS = 10.0, 5.0
_PER_LIGHT_MS, _PER_PANEL_AND_LIGHT_MS = 8.0, 2.5
_STIFFEST_MS = 330.0


def expected_ms(request: FitOutRequest) -> float:
    """Time on one core [ms], within a factor of three and rather too long than too short.

    Mount checks of the panels take most of it. The constants were fitted by hand on a 2-core
    machine: 1 to 24 panels, no to 20 states of light, one and two controllers.

    Parameters
    ----------
    request : FitOutRequest
        Decoded, perhaps contradictory.

    Returns
    -------
    float
        Time [ms].
    """
    panels, controllers = len(request.placements), len(request.controllers)
    wiring = controllers * (_PER_CONTROLLER_MS + _PER_PANEL_AND_CONTROLLER_MS * panels)
    light = len(request.light) * controllers * (_PER_LIGHT_MS + _PER_PANEL_AND_LIGHT_MS * panels)
    return _SETTLING_MS + _PER_PANEL_MS * panels + wiring + light + _holding_ms(request)


def _holding_ms(request: FitOutRequest) -> float:
    types = {entry.name: entry for entry in request.panel_types}
    return sum(_one_ms(types.get(placed.panel_type)) for placed in request.placements)


def _one_ms(entry: FitOutPanelType | None) -> float:
    """A panel's hold; the longest there is if its type or body is missing."""
    if entry is None or entry.panel.body is None:
        return _STIFFEST_MS
    return holding_ms(entry.mounting, entry.panel.body)
