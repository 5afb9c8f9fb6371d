"""What would change an arrangement: a colder site, one more panel, another controller."""

import math
from dataclasses import replace

from sunhitch.report.grouping import severity
from sunhitch.types.array import Sensitivity, SensitivityChange
from sunhitch.types.check import VERDICTS, Check, Verdict

from .design import ArrayDesign
from .evaluate import SUN
from .figures import ArrayFigures, Wired, figures
from .rules_energy import Loaded
from .screen import currents, voltages

_IN_WORDS: dict[Verdict, str] = {
    "pass": "still fine",
    "review": "worth a look",
    "not-assessed": "not assessed",
    "fail": "fails",
}


def sensitivities(
    design: ArrayDesign, elsewhere: ArrayDesign, wired: Wired, loaded: Loaded
) -> list[Sensitivity]:
    """Changes to one controller's array, each with the rule that it touches most.

    Parameters
    ----------
    design : ArrayDesign
        Settled request.
    elsewhere : ArrayDesign
        The same where it gets 10 K colder.
    wired : Wired
        The array.
    loaded : Loaded
        The same with its power.

    Returns
    -------
    list of Sensitivity
        One per change.
    """
    array = loaded.figures
    longer = replace(wired, strings=tuple((*s, s[-1]) for s in wired.strings))
    more = currents(design, replace(wired, strings=(*wired.strings, wired.strings[0])))
    worst = max(more, key=lambda c: (VERDICTS.index(c.verdict), severity(c)))
    return [
        _from_check(array, "site-10-k-colder", "10 K colder", voltages(elsewhere, wired)[0]),
        _from_check(
            array,
            "one-more-in-series",
            "One more panel in every string",
            voltages(design, longer)[0],
        ),
        _from_check(array, "one-more-string", "One more string", worst),
        _other_voltage(design, array, figures(design, longer)),
        _other_current(design, loaded),
    ]


def _from_check(
    array: ArrayFigures, change: SensitivityChange, told: str, found: Check
) -> Sensitivity:
    title = f"{found.title[0].lower()}{found.title[1:]}"
    compared = f"{title} could not be assessed"
    if found.demand is not None and found.capacity is not None:
        compared = f"{title} would be {found.demand:.1f} of {found.capacity:.1f} {found.unit}"
    return Sensitivity(
        change=change,
        controller=array.controller.given.name,
        verdict=found.verdict,
        demand=found.demand or 0.0,
        capacity=found.capacity or 0.0,
        unit=found.unit or "1",
        text=f"{told}: {compared}: {_IN_WORDS[found.verdict]}.",
    )


def _other_voltage(design: ArrayDesign, array: ArrayFigures, longer: ArrayFigures) -> Sensitivity:
    """Which input voltage this array needs, and which one would take a longer string."""
    capacity = array.controller.given.max_input_voltage_v
    kept = 1.0 - design.voltage_reserve
    needed = max(s.cold_voc_v for s in array.strings) / kept
    more = max(s.cold_voc_v for s in longer.strings) / kept
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
