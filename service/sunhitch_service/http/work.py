"""How long calculations take, estimated from their requests before they start."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from sunhitch_service.engine.array import effort as array
from sunhitch_service.engine.commissioning import effort as commissioning
from sunhitch_service.engine.fitout import effort as fitout
from sunhitch_service.engine.harvest import effort as energy
from sunhitch_service.engine.mount import cost as mount
from sunhitch_service.engine.roof import effort as roof
from sunhitch_service.engine.shade import effort as shade
from sunhitch_service.engine.wiring import effort as wiring

from .problems import TOO_MUCH_WORK, ProblemError


@dataclass(frozen=True, slots=True)
class Effort:
    """What a calculation costs.

    Parameters
    ----------
    expected_ms : callable
        From a request to milliseconds on one core; module-level, since it goes to other processes.
    advice : str
        What a caller can reduce.
    """

    expected_ms: Callable[[Any], float]
    advice: str

    def require_affordable(self, request: Any, limit_s: float) -> float:  # noqa: ANN401
        """Refuse work that would not end within the time limit, before it starts.

        Returns
        -------
        float
            Expected time [ms].

        Raises
        ------
        ProblemError
            `TOO_MUCH_WORK`.
        """
        expected_ms = self.expected_ms(request)
        if expected_ms > limit_s * 1000.0:
            detail = (
                f"About {expected_ms / 1000.0:.0f} s of computing, above the limit of "
                f"{limit_s:g} s. {self.advice}"
            )
            raise ProblemError(TOO_MUCH_WORK, detail)
        return expected_ms


EFFORTS: Mapping[str, Effort] = {
    "array-configuration": Effort(
        array.expected_ms, "Give fewer shade states, panels, controllers or `most_arrangements`."
    ),
    "commissioning-check": Effort(
        commissioning.expected_ms, "Give fewer readings, panels or shadows."
    ),
    "fit-out": Effort(fitout.expected_ms, "Give fewer panels or states of light."),
    "harvest": Effort(
        energy.expected_ms,
        "Give fewer days, longer steps, or fewer alternatives, headings, panels or shadows; or ask "
        "for lines of progress (Accept: application/x-ndjson), which may take longer.",
    ),
    "mount-check": Effort(mount.expected_ms, "Give fewer feet."),
    "roof-layout": Effort(roof.expected_ms, "Lower `search/time_limit_s`."),
    "shaded-iv": Effort(
        shade.expected_ms,
        "Give fewer panels, shadows, curve points or alternatives, or less `detail`.",
    ),
    "wire-sizing": Effort(wiring.expected_ms, "Give fewer runs."),
}
"""Effort by operation name."""
