"""How long a wire sizing takes, judged from its request."""

from sunhitch.types.wiring import WireSizingRequest

_SIZING_MS, _PER_RUN_MS = 0.13, 0.016


def expected_ms(request: WireSizingRequest) -> float:
    """Time on one core [ms], within a factor of two for a way not met before.

    The constants are the best of 300 rounds of the shipped example on a 2-core machine with 1 to 20
    runs on the way (0.15 to 0.45 ms); a way that is at hand takes less (0.08 to 0.11 ms). Nothing
    else in a request costs much.

    Parameters
    ----------
    request : WireSizingRequest
        Decoded, perhaps contradictory.

    Returns
    -------
    float
        Time [ms].
    """
    return _SIZING_MS + _PER_RUN_MS * max(1, len(request.runs))
