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
        on = clock.between(load.from_hour, load.to_hour, load.months)
        total += on * load.power_w * load.duty_fraction
    return total


def peak_load_w(loads: Sequence[Load], clock: Clock) -> float:
    """Largest power of loads that may be on at once, whatever share of the time they are [W]."""
    total = np.zeros(clock.steps)
    for load in loads:
        if load.duty_fraction > 0.0:
            total += clock.between(load.from_hour, load.to_hour, load.months) * load.power_w
    return float(total.max())
