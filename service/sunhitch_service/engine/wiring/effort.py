"""How long a wire sizing takes, judged from its request."""

from sunhitch.types.wiring import WireSizingRequest

_SIZING_MS, _PER_RUN_MS = 0.2, 0.02


def expected_ms(request: WireSizingRequest) -> float:
    """Time on one core [ms], within a factor of two.

    The constants are the best of 30 runs of the shipped example on a 2-core machine with 1 to 20
    runs on the way (0.2 to 0.5 ms); nothing else in a request costs much.

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
