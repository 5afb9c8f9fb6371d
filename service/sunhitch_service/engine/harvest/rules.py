"""What someone should look at: loads without power, controllers, frost."""

from math import isfinite

from sunhitch.types.check import Check
from sunhitch.types.harvest import BatteryBalance, LossStep
from sunhitch_service.engine.rules.batteries import discharge, frost, loads_served
from sunhitch_service.engine.rules.controllers import rating_loss, window_loss


def rules(steps: list[LossStep], battery: BatteryBalance, discharge_w: float) -> list[Check]:
    """Every rule on the study as given.

    Parameters
    ----------
    steps : list of LossStep
        Its losses.
    battery : BatteryBalance
        Its battery.
    discharge_w : float
        Power that the battery may give, infinite without a limit [W].

    Returns
    -------
    list of Check
        Rules on loads only where there are any.
    """
    by_code = {step.code: step for step in steps}
    asked_wh = battery.served_wh + battery.unserved_wh
    found: list[Check] = []
    if asked_wh > 0.0:
        hours, days = battery.hours_without_power, battery.days_without_power
        found.append(loads_served(asked_wh, battery.served_wh, hours, days))
        if isfinite(discharge_w):
            found.append(discharge(battery.peak_load_w, discharge_w))
    found.append(window_loss(max(0.0, by_code["controller-window"].lost_fraction)))
    found.append(rating_loss(max(0.0, by_code["controller-limit"].lost_fraction)))
    if battery.frost_hours > 0.0:
        found.append(frost(max(0.0, by_code["battery-frost"].lost_wh)))
    return found
