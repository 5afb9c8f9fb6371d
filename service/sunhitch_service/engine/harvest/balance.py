"""What went through the battery, and how sure the energy is."""

import numpy as np

from sunhitch.report.amounts import percent
from sunhitch.types.harvest import BatteryBalance, HarvestRange, HarvestRequest
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.battery.simulation import BatteryModel

from .losses import light_wh, losses
from .outcome import HarvestOutcome
from .practice import figure, usual

_SHADE = ("beam-shade", "hidden-sky", "mismatch")
_SOME_WH = 1e-6


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
    lacking = flows.unserved > _SOME_WH
    cold = np.array(battery.too_cold(found.weather.air_c))
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
        days_without_power=len(np.unique(clock.day_number[lacking])),
        frost_hours=float(cold.sum() * clock.step_h),
        peak_load_w=found.peak_w,
        full_hours=float((flows.full > _SOME_WH).sum() * clock.step_h),
        autonomy_days=_autonomy(found, battery),
    )


def _autonomy(found: HarvestOutcome, battery: BatteryModel) -> float | None:
    """Days from full to cut-off without sun, in the month with the largest loads."""
    clock = found.weather.clock
    numbers = np.unique(clock.month_number)
    daily = max(24.0 * float(found.load_w[clock.month_number == n].mean()) for n in numbers)
    if daily <= 0.0:
        return None
    return float((1.0 - battery.least_state) * battery.capacity_wh / daily)


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
            text=f"Lowest, median and highest of {len(energies)} years of weather.",
        )
    share = _relative(request, found, notes)
    spread = figure("range-factor") * share * found.charged_wh
    return HarvestRange(
        basis="stated-range",
        low_wh=max(0.0, found.charged_wh - spread),
        middle_wh=found.charged_wh,
        high_wh=found.charged_wh + spread,
        text=f"5 to 95 %, from a standard uncertainty of {percent(share)}: light, shade and model. "
        "Loads that leave sun unused make the upper end optimistic.",
    )


def _relative(request: HarvestRequest, found: HarvestOutcome, notes: Assumptions) -> float:
    """Relative standard uncertainty [1]: root of the sum of squares."""
    given = request.uncertainty
    at = "/uncertainty"
    light = usual(notes, f"{at}/light_fraction", given.light_fraction, "light-uncertainty")
    model = usual(notes, f"{at}/model_fraction", given.model_fraction, "model-uncertainty")
    shade = usual(notes, f"{at}/shade_fraction", given.shade_fraction, "shade-uncertainty")
    whole = light_wh(found)
    taken = sum(step.lost_wh for step in losses(found) if step.code in _SHADE)
    left = whole - taken
    by_shade = shade * taken / left if left > 0.0 else 0.0
    return float(np.sqrt(light**2 + model**2 + by_shade**2))
