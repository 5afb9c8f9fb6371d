"""Power that the loads ask for, by the hour."""

from collections.abc import Sequence

import numpy as np

from sunhitch.types.harvest import Load, SummerTime
from sunhitch_service.engine.sky import Array

from .clock import Clock

_FIRST_SUNDAYS = {"eu": (3, 25, 10, 25), "us": (3, 8, 11, 1)}
"""Summer time lasts from the first Sunday on or after a day of a month to another one: the last of
March and October in the Union (Directive 2000/84/EC), the second of March and the first of November
in the United States (15 U.S.C. 260a). Both from memory; the hour of night does not count."""


def load_w(loads: Sequence[Load], clock: Clock, summer: SummerTime | None = None) -> Array:
    """Mean power asked for in every step, shape (steps,) [W]."""
    total = np.zeros(clock.steps)
    for load in loads:
        total += _share(load, clock, summer) * load.power_w * load.duty_fraction
    return total


def peak_load_w(loads: Sequence[Load], clock: Clock, summer: SummerTime | None = None) -> float:
    """Largest power of loads that may be on at once, however short a part of a step [W]."""
    total = np.zeros(clock.steps)
    for load in loads:
        if load.duty_fraction > 0.0:
            total += (_share(load, clock, summer) > 0.0) * load.power_w
    return float(total.max())


def _share(load: Load, clock: Clock, summer: SummerTime | None) -> Array:
    """Share of every step in which a load may be on; in summer its clock is an hour ahead."""
    winter = clock.share(load.from_hour, load.to_hour, load.months)
    if summer is None:
        return winter
    first_month, first_day, last_month, last_day = _FIRST_SUNDAYS[summer]
    ahead = clock.share(load.from_hour - 1.0, load.to_hour - 1.0, load.months)
    begin, end = clock.sunday(first_month, first_day), clock.sunday(last_month, last_day)
    return np.where((clock.day_number >= begin) & (clock.day_number < end), ahead, winter)
