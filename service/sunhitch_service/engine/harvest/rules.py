"""What someone should look at: loads without power, controllers, frost."""

from math import isfinite

from sunhitch.report.amounts import percent
from sunhitch.types.check import Check, Verdict
from sunhitch.types.harvest import BatteryBalance, LossStep
from sunhitch_service.engine.checks import Rule, check
from sunhitch_service.engine.sources import basis

from .practice import figure, figure_basis

_NOTHING_WH = 1e-6


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
    asked = battery.served_wh + battery.unserved_wh
    return [
        *([_served(battery, asked)] if asked > 0.0 else []),
        *([_discharge(battery, discharge_w)] if asked > 0.0 and isfinite(discharge_w) else []),
        _window(by_code["controller-window"]),
        _limit(by_code["controller-limit"]),
        *([_frost(by_code["battery-frost"])] if battery.frost_hours > 0.0 else []),
    ]


def _served(battery: BatteryBalance, asked: float) -> Check:
    lacking = battery.unserved_wh
    share = lacking / asked
    rule = Rule(
        "loads-served",
        "Energy of the loads against what sun and battery can give",
        "Wh",
        basis("physics", "energy balance of every step"),
        f"{battery.hours_without_power:.0f} hours on {battery.days_without_power} days lack power, "
        f"{lacking / 1000:.1f} kWh in all: more panel, less shade, smaller loads in the dark "
        "months, a larger battery, or another source of charge.",
    )
    verdict: Verdict = (
        "pass"
        if lacking <= _NOTHING_WH
        else "review"
        if share <= figure("served-review")
        else "fail"
    )
    used = asked / battery.served_wh if battery.served_wh > 0.0 else 1e9
    return check(rule, verdict, asked, battery.served_wh, used)


def _discharge(battery: BatteryBalance, limit_w: float) -> Check:
    most = battery.peak_load_w
    rule = Rule(
        "battery-discharge",
        "Loads that may be on at once without sun against what the battery may give",
        "W",
        basis("practice", "discharge limit of the battery's maker"),
        f"Up to {most:.0f} W may be on at once, the battery may give {limit_w:.0f} W: run loads "
        f"one after the other, or take a battery that may give {most / limit_w:.1f} times as much.",
    )
    return check(rule, "pass" if most <= limit_w else "fail", most, limit_w, most / limit_w)


def _window(step: LossStep) -> Check:
    lost, worth = max(0.0, step.lost_fraction), figure("window-review")
    rule = Rule(
        "controller-window",
        "Share of the panels' energy outside the controller's working voltage or current",
        "1",
        figure_basis("window-review"),
        f"{percent(lost)} is lost: more panels in series, or a controller that fits this voltage.",
    )
    verdict: Verdict = (
        "pass" if lost <= worth else "review" if lost <= figure("window-fail") else "fail"
    )
    return check(rule, verdict, lost, worth, lost / worth)


def _limit(step: LossStep) -> Check:
    lost, worth = max(0.0, step.lost_fraction), figure("limit-review")
    rule = Rule(
        "controller-rating",
        "Share of the energy cut off at the controller's rated current",
        "1",
        figure_basis("limit-review"),
        f"{percent(lost)} is cut off: a larger controller, or a second one.",
    )
    return check(rule, "pass" if lost <= worth else "review", lost, worth, lost / worth)


def _frost(step: LossStep) -> Check:
    rule = Rule(
        "battery-frost",
        "Sun that a cold battery may not take",
        "Wh",
        basis("practice", "charging limit of the battery's maker"),
        f"{step.lost_wh / 1000:.1f} kWh come while it is too cold: keep the battery inside the "
        "insulation, or heat it before charging.",
    )
    lost = max(0.0, step.lost_wh)
    return check(rule, "review" if lost > _NOTHING_WH else "pass", lost, 0.0)
