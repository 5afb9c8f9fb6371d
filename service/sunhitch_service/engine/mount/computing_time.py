"""How long a mount check takes, judged from its request."""

from sunhitch.types.mount import BondedSheet, MountCheckRequest, Mounting, Rails
from sunhitch.types.panel import PanelBody

_BONDED_MS, _RAILS_MS, _RIGID_MS, _SHEET_MS = 25.0, 60.0, 75.0, 330.0


def expected_ms(request: MountCheckRequest) -> float:
    """Time on one core [ms], within a factor of three and rather too long than too short.

    The constants are the longest of the best of two runs on a 2-core machine: 4 to 48 feet glued
    and bolted under a stiff panel (31 to 74 ms) and under a flexible one (134 to 323 ms, trials of
    remedies included), a bonded sheet (20 ms), two rails with four clamps (52 ms). The number of
    feet matters less than what has to be tried to mend a failure.

    Parameters
    ----------
    request : MountCheckRequest
        Decoded, perhaps contradictory.

    Returns
    -------
    float
        Time [ms].
    """
    return mounting_ms(request.mounting, request.panel)


def mounting_ms(mounting: Mounting, body: PanelBody) -> float:
    """The same for a panel held in some way, whoever asks."""
    if isinstance(mounting, BondedSheet):
        return _BONDED_MS
    if isinstance(mounting, Rails):
        return _RAILS_MS
    return _SHEET_MS if body.construction == "flexible" else _RIGID_MS
