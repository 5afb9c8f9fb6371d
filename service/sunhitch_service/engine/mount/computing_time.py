"""How long a mount check takes, judged from its request."""

from sunhitch.types.mount import BondedSheet, MountCheckRequest, Mounting, Rails
from sunhitch.types.panel import PanelBody

_BONDED_MS, _RAILS_MS, _RIGID_MS, _SHEET_MS = 12.0, 20.0, 25.0, 35.0
_REACTIONS_TIMES = 2.5
"""Told for each case and each foot that may be lost."""


def expected_ms(request: MountCheckRequest) -> float:
    """Time on one core [ms], within a factor of three and rather too long than too short.

    The constants are the longest of the best of two runs on a 2-core machine: a bonded sheet
    (6 ms), two rails with four clamps (18 ms), 4, 12 and 48 feet glued and bolted under a stiff
    panel (17 to 310 ms) and under a flexible one (70 to 640 ms), trials of remedies included. Each
    foot may be lost, so that time grows with the square of their number.

    Parameters
    ----------
    request : MountCheckRequest
        Decoded, perhaps contradictory.

    Returns
    -------
    float
        Time [ms].
    """
    whole = request.detail == "reactions"
    return mounting_ms(request.mounting, request.panel) * (_REACTIONS_TIMES if whole else 1.0)


def mounting_ms(mounting: Mounting, body: PanelBody) -> float:
    """The same for a panel held in some way, whoever asks."""
    if isinstance(mounting, BondedSheet):
        return _BONDED_MS
    if isinstance(mounting, Rails):
        return _RAILS_MS
    flexible = body.construction == "flexible"
    return (_SHEET_MS if flexible else _RIGID_MS) + 0.25 * len(mounting.feet) ** 2
