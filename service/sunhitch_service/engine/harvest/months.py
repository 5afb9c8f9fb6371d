"""Energy by month and typical day."""

from collections.abc import Iterator

import numpy as np

from sunhitch.types.harvest import HarvestMonth
from sunhitch_service.engine.battery.simulation import BatteryModel

from .outcome import HarvestOutcome
from .study_parts import STAGES

_ARRAY = STAGES.index("mismatch")


def months(found: HarvestOutcome, battery: BatteryModel) -> list[HarvestMonth]:
    """Every month of a study.

    Parameters
    ----------
    found : HarvestOutcome
        Solved study.
    battery : BatteryModel
        Its battery.

    Returns
    -------
    list of HarvestMonth
        In order of time.
    """
    return list(_months(found, battery))


def _months(found: HarvestOutcome, battery: BatteryModel) -> Iterator[HarvestMonth]:
    clock, flows = found.weather.clock, found.flows
    hours = clock.step_h
    asked = flows.served + flows.unserved
    for number in np.unique(clock.month_number):
        own = clock.month_number == number
        yield HarvestMonth(
            year=int(1970 + number // 12),
            month=int(number % 12 + 1),
            days=float(own.sum() * hours / 24.0),
            light_wh_m2=float(found.light_w_m2[own].sum() * hours),
            array_wh=float(found.stages_w[_ARRAY, own].sum() * hours),
            charged_wh=float(flows.accepted[own].sum()),
            load_wh=float(asked[own].sum()),
            served_wh=float(flows.served[own].sum()),
            hours_without_power=float(flows.unserved_share[own].sum() * hours),
            lowest_state_fraction=float(flows.stored[own].min() / battery.capacity_wh),
            typical_day_w=_typical_day(found, own),
        )


def _typical_day(found: HarvestOutcome, own: np.ndarray) -> list[float]:
    """Mean power taken at the battery's terminals by hour of the day [W]."""
    clock = found.weather.clock
    hour = clock.hour[own].astype(np.int64)
    energy = np.bincount(hour, weights=found.flows.accepted[own], minlength=24)
    time = np.bincount(hour, minlength=24) * clock.step_h
    return [float(x) for x in np.divide(energy, time, out=np.zeros(24), where=time > 0.0)]
