"""Refuses work that would take too long, before it starts."""

from typing import Any

from sunhitch_service.calculations.calculation import ComputingTime

from .problems import TOO_MUCH_WORK, ProblemError


def require_affordable(time: ComputingTime, request: Any, limit_s: float) -> float:  # noqa: ANN401
    """Refuse work that would not end within the time limit.

    Returns
    -------
    float
        Expected time [ms].

    Raises
    ------
    ProblemError
        `TOO_MUCH_WORK`.
    """
    expected_ms = time.expected_ms(request)
    if expected_ms > limit_s * 1000.0:
        detail = (
            f"About {expected_ms / 1000.0:.0f} s of computing, above the limit of "
            f"{limit_s:g} s. {time.advice}"
        )
        raise ProblemError(TOO_MUCH_WORK, detail)
    return expected_ms
