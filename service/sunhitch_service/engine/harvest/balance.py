"""What went through array and battery, by month and in all, and how sure the energy is."""

import numpy as np

from sunhitch.texts import statement
from sunhitch.types.harvest import (
    BatteryBalance,
    ClearSkyWeather,
    HarvestMonth,
    HarvestRange,
    HarvestRequest,
)
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.battery.simulation import BatteryModel
from sunhitch_service.engine.sky import Mask

from .losses import light_wh, losses
from .outcome import HarvestOutcome
from .practice import PRACTICE
from .study_parts import STAGES

_SHADE = ("beam-shade", "hidden-sky", "mismatch")
_SOME_WH = 1e-6
_ARRAY = STAGES.index("mismatch")


def balance(found: HarvestOutcome, battery: BatteryModel) -> BatteryBalance:
    """The battery over a study.

    Parameters
    ----------
    found : HarvestOutcome
        Solved study.
    battery : BatteryModel
        Its battery.

    Returns
    -------
    BatteryBalance
        Charged + start = served + storage losses + end.
    """
    clock, flows = found.weather.clock, found.flows
    lowest = int(np.argmin(flows.stored))
    days = len(np.unique(clock.day_number[flows.unserved > _SOME_WH]))
    if found.invented is not None:
        days = round(float(np.median(found.invented.days)))
    cold = battery.charge_limit_w(found.weather.air_c, clock.step_h) <= 0.0
    return BatteryBalance(
        charged_wh=float(flows.accepted.sum()),
        storage_lost_wh=float(flows.storage_lost.sum()),
        served_wh=float(flows.served.sum()),
        unserved_wh=float(flows.unserved.sum()),
        start_wh=battery.start_wh,
        end_wh=float(flows.stored[-1]),
        lowest_state_fraction=float(flows.stored[lowest] / battery.capacity_wh),
        lowest_at=clock.moment(lowest),
        hours_without_power=found.hours_without_power,
        days_without_power=days,
        frost_hours=float(cold.sum() * clock.step_h),
        peak_load_w=found.peak_w,
        full_hours=float((flows.full > _SOME_WH).sum() * clock.step_h),
        autonomy_days=_autonomy(found, battery),
    )


def _autonomy(found: HarvestOutcome, battery: BatteryModel) -> float | None:
    """Days from full to cut-off without sun, in the month with the largest loads.

    What the battery loses of itself falls with what it holds: dE/dt = −P − k·E.
    """
    numbers = found.weather.clock.month_number
    load_w = max(float(found.load_w[numbers == n].mean()) for n in np.unique(numbers))
    if load_w <= 0.0:
        return None
    least_wh, lost = battery.least_state * battery.capacity_wh, battery.lost_per_h
    at_last_w = load_w + battery.drain_w + lost * least_wh
    hours = (battery.capacity_wh - least_wh) / at_last_w
    return float(np.log1p(lost * hours) / lost if lost else hours) / 24.0


def months(found: HarvestOutcome, battery: BatteryModel) -> list[HarvestMonth]:
    """Every month of a study, in order of time."""
    numbers = found.weather.clock.month_number
    return [_month(found, battery, number, numbers == number) for number in np.unique(numbers)]


def _month(found: HarvestOutcome, battery: BatteryModel, number: int, own: Mask) -> HarvestMonth:
    hours, flows = found.weather.clock.step_h, found.flows
    return HarvestMonth(
        year=int(1970 + number // 12),
        month=int(number % 12 + 1),
        days=float(own.sum() * hours / 24.0),
        light_wh_m2=float(found.light_w_m2[own].sum() * hours),
        array_wh=float(found.stages_w[_ARRAY, own].sum() * hours),
        charged_wh=float(flows.accepted[own].sum()),
        load_wh=float((flows.served + flows.unserved)[own].sum()),
        served_wh=float(flows.served[own].sum()),
        hours_without_power=float(found.unserved_share[own].sum() * hours),
        lowest_state_fraction=float(flows.stored[own].min() / battery.capacity_wh),
        typical_day_w=_typical_day(found, own),
    )


def _typical_day(found: HarvestOutcome, own: Mask) -> list[float]:
    """Mean power taken at the battery's terminals by hour of the day [W]."""
    clock = found.weather.clock
    hour = clock.hour[own].astype(np.int64)
    energy = np.bincount(hour, weights=found.flows.accepted[own], minlength=24)
    time = np.bincount(hour, minlength=24) * clock.step_h
    return [float(x) for x in np.divide(energy, time, out=np.zeros(24), where=time > 0.0)]


def uncertainty(
    request: HarvestRequest, found: HarvestOutcome, years: list[HarvestOutcome], notes: Assumptions
) -> HarvestRange:
    """How sure the study's energy is.

    Parameters
    ----------
    request : HarvestRequest
        With stated uncertainties.
    found : HarvestOutcome
        Solved study.
    years : list of HarvestOutcome
        The same in other years.
    notes : Assumptions
        Takes note of what was chosen.

    Returns
    -------
    HarvestRange
        Spread between years where there are any, else from the stated shares.
    """
    if years:
        energies = [found.charged_wh, *(year.charged_wh for year in years)]
        return HarvestRange(
            basis="weather-years",
            low_wh=min(energies),
            middle_wh=float(np.median(energies)),
            high_wh=max(energies),
            text=statement("years-of-weather", years=len(energies)),
        )
    share = _relative(request, found, notes)
    half_width = PRACTICE.figure("range-factor") * share * found.charged_wh
    return HarvestRange(
        basis="stated-range",
        low_wh=max(0.0, found.charged_wh - half_width),
        middle_wh=found.charged_wh,
        high_wh=found.charged_wh + half_width,
        text=statement("stated-range", uncertainty_fraction=share),
    )


def _relative(request: HarvestRequest, found: HarvestOutcome, notes: Assumptions) -> float:
    """Relative standard uncertainty [1]: root of the sum of squares."""
    given = request.uncertainty
    weather = request.weather
    guessed = isinstance(weather, ClearSkyWeather) and not weather.monthly_clearness_fraction
    light, model, shade = (
        PRACTICE.usual(notes, f"/uncertainty/{of}_fraction", own, name)
        for of, own, name in (
            ("light", given.light_fraction, "light-unknown" if guessed else "light-uncertainty"),
            ("model", given.model_fraction, "model-uncertainty"),
            ("shade", given.shade_fraction, "shade-uncertainty"),
        )
    )
    taken = sum(step.lost_wh for step in losses(found) if step.code in _SHADE)
    left = light_wh(found) - taken
    by_shade = shade * taken / left if left > 0.0 else 0.0
    return float(np.sqrt(light**2 + model**2 + by_shade**2))
