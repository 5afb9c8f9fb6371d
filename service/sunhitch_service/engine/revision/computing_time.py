"""How long a change takes, judged from its request."""

from sunhitch.types.revision import FitOutChangeRequest
from sunhitch_service.engine.fitout.computing_time import expected_ms as fit_out_ms


def expected_ms(request: FitOutChangeRequest) -> float | None:
    """Time on one core [ms]: none, as it hangs on how much has to be mended.

    Parameters
    ----------
    request : FitOutChangeRequest
        Decoded, perhaps contradictory.

    Returns
    -------
    float or None
        Twice a fit-out where only what is wanted is done; else None.
    """
    once = fit_out_ms(request.job)
    return None if once is None or request.goal != "as-wanted" else 2.0 * once
