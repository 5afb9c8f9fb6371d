"""How long calculations take, estimated from their requests before they start."""

from collections.abc import Callable, Mapping
from typing import Any

Estimate = Callable[[Any], float]
"""From a request to seconds on one core."""

_UNKNOWN_S = 0.05


def unknown(_request: object) -> float:
    """Seconds for a calculation that was never measured: enough to send it to the pool."""
    return _UNKNOWN_S


ESTIMATES: Mapping[str, Estimate] = {}
"""Estimate by operation name."""
