"""How long calculations take, estimated from their requests before they start."""

from collections.abc import Callable, Mapping
from typing import Any

Estimate = Callable[[Any], float]
"""From a request to seconds on one core."""


def unknown(_request: object) -> float:
    """Seconds for a calculation without an estimate: long enough to send it to the pool."""
    return 0.05


def a_millisecond(_request: object) -> float:
    """Seconds for a look into tables and a few rules, whatever the request."""
    return 0.001


ESTIMATES: Mapping[str, Estimate] = {"wire-sizing": a_millisecond}
"""Estimate by operation name."""
