"""Rules that need the solved power: clipping, charge rate, PWM loss, mismatch, target."""

import math
from dataclasses import dataclass

from sunhitch.types.check import Check, Verdict
from sunhitch_service.engine.battery.settings import chemistry_row
from sunhitch_service.engine.checks import Rule, at_least, check
from sunhitch_service.engine.sources import basis

from .evaluate import SUN, ArrayPower
from .figures import ArrayFigures
from .job import Job
from .practice import limit, limit_basis


@dataclass(frozen=True, slots=True)
class Loaded:
    """A controller's array with its solved power.

    Parameters
    ----------
    figures : ArrayFigures
        Nameplate figures.
    power : ArrayPower
        In every state of light.
    available_w : float
        Sum of the panels' own maxima in full sun [W].
    """

    figures: ArrayFigures
    power: ArrayPower
    available_w: float

    @property
    def lost_to_sharing(self) -> float:
        """Share of the panels' own maxima lost in full sun because they share [1]."""
        if self.available_w <= 0.0:
            return 0.0
        return max(0.0, 1.0 - float(self.power.unlimited_w[SUN]) / self.available_w)


def energy_checks(job: Job, loaded: Loaded) -> list[Check]:
    """Every rule on one controller's array that needs its power.

    Parameters
    ----------
    job : Job
        Settled request.
    loaded : Loaded
        Array with its power.

    Returns
    -------
    list of Check
        Clipping or PWM loss, mismatch.
    """
    array = loaded.figures
    return [
        _clipping(job, loaded),
        *([_pwm_loss(loaded)] if array.feed.is_pwm else []),
        *_mismatch(loaded),
        *_series_spread(array),
        *_parallel_spread(array),
    ]


def _clipping(job: Job, loaded: Loaded) -> Check:
    feed = loaded.figures.feed
    wanted = feed.efficiency * float(loaded.power.drawn_w[SUN]) / job.working_voltage_v
    capacity = feed.controller.max_output_current_a
    lost = feed.efficiency * float(loaded.power.drawn_w[SUN]) - float(loaded.power.charging_w[SUN])
    rule = Rule(
        "controller-output-current",
        "Charging current in full sun against the controller's rating",
        "A",
        basis("physics", "power ÷ battery voltage"),
        f"{lost:.0f} W are cut off in full sun; more panel than rating helps in weak light if the "
        f"maker allows it. A rating of {math.ceil(wanted)} A would take all.",
        loaded.figures.subject(),
    )
    return check(
        rule, "review" if wanted > capacity else "pass", wanted, capacity, wanted / capacity
    )


def _pwm_loss(loaded: Loaded) -> Check:
    maximum = float(loaded.power.unlimited_w[SUN])
    lost = 1.0 - float(loaded.power.drawn_w[SUN]) / maximum if maximum > 0 else 0.0
    rule = Rule(
        "pwm-loss",
        "Share of the panels' power lost because PWM pulls them down to the battery's voltage",
        "1",
        limit_basis("pwm-loss-fail"),
        f"{100 * lost:.0f} % is lost in full sun: use an MPPT controller, or panels made for this "
        "battery voltage (36 cells in series per 12 V).",
        loaded.figures.subject(),
    )
    capacity = limit("pwm-loss-fail")
    verdict: Verdict = (
        "fail" if lost > capacity else "review" if lost > limit("pwm-loss-review") else "pass"
    )
    return check(rule, verdict, lost, capacity, lost / capacity)


def _mismatch(loaded: Loaded) -> list[Check]:
    """What sharing current and voltage costs in full sun, by the cell-level model."""
    if len(loaded.figures.strings) == 1 and len(loaded.figures.strings[0].members) == 1:
        return []
    lost, capacity = loaded.lost_to_sharing, limit("mismatch-loss")
    rule = Rule(
        "mismatch-loss",
        "Share of the panels' power lost in full sun because unequal panels share",
        "1",
        limit_basis("mismatch-loss"),
        f"{100 * lost:.1f} % is lost: put like currents in series and like voltages in parallel, "
        "or give the odd panels their own controller.",
        loaded.figures.subject(),
    )
    return [check(rule, "review" if lost > capacity else "pass", lost, capacity, lost / capacity)]


def _series_spread(array: ArrayFigures) -> list[Check]:
    worst = max(array.strings, key=lambda s: s.largest_i_mp_a / s.i_mp_a)
    spread = 1.0 - worst.i_mp_a / worst.largest_i_mp_a
    rule = Rule(
        "series-current-spread",
        "Difference of Imp among panels in series",
        "1",
        limit_basis("mismatch-spread"),
        "A string follows its weakest panel unless its bypass diodes conduct: put like currents "
        "in series.",
        array.subject(worst),
    )
    return _spread(rule, spread)


def _parallel_spread(array: ArrayFigures) -> list[Check]:
    volts = [s.v_mp_v for s in array.strings]
    rule = Rule(
        "parallel-voltage-spread",
        "Difference of Vmp among strings in parallel",
        "1",
        limit_basis("mismatch-spread"),
        "Strings in parallel follow the lowest voltage: put like voltages in parallel, or use a "
        "second controller.",
        array.subject(),
    )
    return _spread(rule, 1.0 - min(volts) / max(volts))


def _spread(rule: Rule, spread: float) -> list[Check]:
    """Equal panels need no such check."""
    if spread < 1e-9:
        return []
    capacity = limit("mismatch-spread")
    verdict: Verdict = "review" if spread > capacity else "pass"
    return [check(rule, verdict, spread, capacity, spread / capacity)]


def charge_rate(job: Job, current: float) -> Check:
    """All controllers together against the battery's largest charging current.

    Parameters
    ----------
    job : Job
        Settled request.
    current : float
        Sum of what the controllers can push into the battery [A].

    Returns
    -------
    Check
        `fail` beyond a given limit, `review` beyond an assumed one.
    """
    capacity = job.charge_limit_a
    given = job.charge_limit_given
    rate = chemistry_row(job.request.battery.chemistry)["charge_rate_per_h"]
    rule = Rule(
        "battery-charge-rate",
        "Charging current of all controllers against the battery",
        "A",
        basis("given", "Battery data sheet")
        if given
        else basis("practice", f"{rate} A per Ah of this chemistry"),
        f"Limit the charging current to {capacity:.0f} A in the controller's settings, use fewer "
        "panels or a larger battery" + ("." if given else ", or give the maker's limit."),
    )
    over: Verdict = "fail" if given else "review"
    verdict: Verdict = over if current > capacity else "pass"
    return check(rule, verdict, current, capacity, current / capacity)


def target_power(job: Job, charging_w: float) -> list[Check]:
    """Charging power in full sun against what the caller wants [W]."""
    wanted = job.request.target.minimum_power_w
    if wanted is None:
        return []
    rule = Rule(
        "target-power",
        "Charging power in full sun against what was asked for",
        "W",
        basis("given", "Target of the request"),
        f"{wanted - charging_w:.0f} W are missing: more panels, or less clipping and mismatch.",
    )
    return [at_least(rule, charging_w, wanted)]
