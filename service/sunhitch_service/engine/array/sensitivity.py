"""What would change an arrangement: a colder site, one more panel, another controller."""

import math
from dataclasses import replace

from sunhitch.report.grouping import severity
from sunhitch.types.array import Sensitivity, SensitivityChange
from sunhitch.types.check import VERDICTS, Check, Verdict

from .design import ArrayDesign
from .evaluate import SUN
from .figures import ArrayFigures, String, Wired, figures
from .rules_current import current_checks
from .rules_energy import Loaded
from .rules_fuse import fuse_checks
from .rules_voltage import voltage_checks
from .setup import colder

_COLDER_K = 10.0


def sensitivities(design: ArrayDesign, wired: Wired, loaded: Loaded) -> list[Sensitivity]:
    """Changes to one controller's array, each with the rule that it touches most.

    Parameters
    ----------
    design : ArrayDesign
        Settled request.
    wired : Wired
        The array.
    loaded : Loaded
        The same with its power.

    Returns
    -------
    list of Sensitivity
        One per change.
    """
    longer = replace(wired, strings=tuple((*s, s[-1]) for s in wired.strings))
    return [
        _colder(design, wired),
        _one_more_in_series(design, longer),
        _one_more_string(design, wired),
        _other_voltage(design, loaded.figures, longer),
        _other_current(design, loaded),
    ]


def _from_check(
    design: ArrayDesign, wired: Wired, change: SensitivityChange, found: Check, text: str
) -> Sensitivity:
    return Sensitivity(
        change=change,
        controller=design.controllers[wired.controller].given.name,
        verdict=found.verdict,
        demand=found.demand or 0.0,
        capacity=found.capacity or 0.0,
        unit=found.unit or "1",
        text=text,
    )


def _compared(found: Check) -> str:
    title = f"{found.title[0].lower()}{found.title[1:]}"
    if found.demand is None or found.capacity is None:
        return f"{title} could not be assessed"
    return f"{title} would be {found.demand:.1f} of {found.capacity:.1f} {found.unit}"


def _says(verdict: Verdict) -> str:
    return {
        "pass": "still fine",
        "review": "worth a look",
        "not-assessed": "not assessed",
        "fail": "fails",
    }[verdict]


def _colder(design: ArrayDesign, wired: Wired) -> Sensitivity:
    other = colder(design, _COLDER_K)
    found = voltage_checks(other, figures(other, wired))[0]
    text = f"10 K colder: {_compared(found)}: {_says(found.verdict)}."
    return _from_check(design, wired, "site-10-k-colder", found, text)


def _one_more_in_series(design: ArrayDesign, longer: Wired) -> Sensitivity:
    found = voltage_checks(design, figures(design, longer))[0]
    text = f"One more panel in every string: {_compared(found)}: {_says(found.verdict)}."
    return _from_check(design, longer, "one-more-in-series", found, text)


def _one_more_string(design: ArrayDesign, wired: Wired) -> Sensitivity:
    """The same rules on one more string like the first."""
    more: tuple[String, ...] = (*wired.strings, wired.strings[0])
    array = figures(design, replace(wired, strings=more))
    checks = [*current_checks(design, array), *fuse_checks(design, array)]
    found = max(checks, key=lambda c: (VERDICTS.index(c.verdict), severity(c)))
    text = f"One more string: {_compared(found)}: {_says(found.verdict)}."
    return _from_check(design, wired, "one-more-string", found, text)


def _other_voltage(design: ArrayDesign, array: ArrayFigures, longer: Wired) -> Sensitivity:
    """Which input voltage this array needs, and which one would take a longer string."""
    capacity = array.controller.given.max_input_voltage_v
    kept = 1.0 - design.voltage_reserve
    needed = max(s.cold_voc_v for s in array.strings) / kept
    more = max(s.cold_voc_v for s in figures(design, longer).strings) / kept
    known = all(s.cold_is_known for s in array.strings)
    verdict: Verdict = "review" if needed > capacity else "pass" if known else "not-assessed"
    enough = "would do" if known else "are the least"
    return Sensitivity(
        change="other-controller-voltage",
        controller=array.controller.given.name,
        verdict=verdict,
        demand=needed,
        capacity=capacity,
        unit="V",
        text=f"Input voltage: {math.ceil(needed)} V with reserve {enough} for these strings, "
        f"{math.ceil(more)} V for one more panel in each; this controller has {capacity:g} V.",
    )


def _other_current(design: ArrayDesign, loaded: Loaded) -> Sensitivity:
    """Which rating would take all of full sun, and what that adds."""
    controller = loaded.figures.controller
    capacity = controller.given.max_output_current_a
    full = controller.efficiency * float(loaded.power.drawn_w[SUN])
    needed = full / design.working_voltage_v
    gain = full - float(loaded.power.charging_w[SUN])
    tail = (
        f"{gain:.0f} W more in full sun than with {capacity:g} A"
        if gain > 0.5
        else f"{capacity:g} A is enough"
    )
    return Sensitivity(
        change="other-controller-current",
        controller=controller.given.name,
        verdict="review" if needed > capacity else "pass",
        demand=needed,
        capacity=capacity,
        unit="A",
        text=f"Charging current: {math.ceil(needed)} A would take all of full sun, {tail}.",
    )
