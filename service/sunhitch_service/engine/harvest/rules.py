"""What someone should look at: loads without power, controllers, frost."""

from math import isfinite

import numpy as np

from sunhitch.types.check import Check
from sunhitch.types.harvest import BatteryBalance, LossStep
from sunhitch_service.engine.rules.batteries import discharge, frost, loads_served
from sunhitch_service.engine.rules.controllers import rating_loss, window_loss

from .autonomy import ONE_IN_TEN, SyntheticYears


def rules(
    steps: list[LossStep],
    battery: BatteryBalance,
    invented: SyntheticYears | None,
    discharge_w: float,
    *,
    pwm: bool = False,
) -> list[Check]:
    """Every rule on the study as given.

    Parameters
    ----------
    steps : list of LossStep
        Its losses.
    battery : BatteryBalance
        Its battery.
    invented : SyntheticYears or None
        Years by which loads are judged, if the study's own tells nothing of dull spells.
    discharge_w : float
        Power that the battery may give, infinite without a limit [W].
    pwm : bool
        Whether a controller is a PWM controller.

    Returns
    -------
    list of Check
        Rules on loads only where there are any.
    """
    by_code = {step.code: step for step in steps}
    asked_wh = battery.served_wh + battery.unserved_wh
    found: list[Check] = []
    if asked_wh > 0.0:
        found.append(_loads(asked_wh, battery, invented))
        if isfinite(discharge_w):
            found.append(discharge(battery.peak_load_w, discharge_w))
    found.append(window_loss(max(0.0, by_code["controller-window"].lost_fraction), pwm=pwm))
    found.append(rating_loss(max(0.0, by_code["controller-limit"].lost_fraction)))
    if battery.frost_hours > 0.0:
        found.append(frost(max(0.0, by_code["battery-frost"].lost_wh)))
    return found


def _loads(asked_wh: float, battery: BatteryBalance, invented: SyntheticYears | None) -> Check:
    if invented is None:
        return loads_served(
            asked_wh, battery.served_wh, battery.hours_without_power, battery.days_without_power
        )
    lacking, hours, days = (
        float(np.quantile(each, ONE_IN_TEN))
        for each in (invented.unserved_wh, invented.hours, invented.days)
    )
    return loads_served(asked_wh, asked_wh - lacking, hours, days, one_in_ten=True)
