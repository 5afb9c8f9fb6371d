"""Power that the loads ask for, by the hour."""

from collections.abc import Sequence

import numpy as np

from sunhitch.types.harvest import Load
from sunhitch_service.engine.sky import Array

from .clock import Clock


def load_w(loads: Sequence[Load], clock: Clock) -> Array:
    """Mean power asked for in every step, shape (steps,) [W]."""
    total = np.zeros(clock.steps)
    for load in loads:
        share = clock.share(load.from_hour, load.to_hour, load.months)
        total += share * load.power_w * load.duty_fraction
    return total


def peak_load_w(loads: Sequence[Load], clock: Clock) -> float:
    """Largest power of loads that may be on at once, however short a part of a step [W]."""
    total = np.zeros(clock.steps)
    for load in loads:
        if load.duty_fraction > 0.0:
            share = clock.share(load.from_hour, load.to_hour, load.months)
            total += (share > 0.0) * load.power_w
    return float(total.max())
