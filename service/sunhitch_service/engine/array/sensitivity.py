"""What would change an arrangement: a colder site, one more panel, another controller."""

from dataclasses import replace

from sunhitch.report.grouping import severity
from sunhitch.texts import Text, statement
from sunhitch.types.array import Sensitivity, SensitivityChange
from sunhitch.types.check import VERDICTS, Check, Verdict
from sunhitch_service.engine.rules.titles import title_of

from .design import ArrayDesign
from .evaluate import SUN
from .figures import ArrayFigures, Wired, figures
from .margins import severity_of
from .removable import removable_checks
from .rules_energy import Loaded
from .rules_voltage import governing_cold
from .screen import currents

_IN_WORDS: dict[Verdict, Text] = {
    "pass": statement("still-fine"),
    "review": statement("worth-a-look"),
    "not-assessed": statement("not-assessed"),
    "fail": statement("fails-word"),
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
    longer = figures(design, replace(wired, strings=tuple((*s, s[-1]) for s in wired.strings)))
    more = currents(design, replace(wired, strings=(*wired.strings, wired.strings[0])))
    worst = max(more, key=lambda c: (VERDICTS.index(c.verdict), severity(c)))
    colder = figures(elsewhere, wired)
    in_cold = [governing_cold(elsewhere, colder), *removable_checks(elsewhere, colder)[:1]]
    return [
        _from_check(
            array,
            "site-10-k-colder",
            statement("colder-10-k"),
            max(in_cold, key=severity_of),
        ),
        _from_check(
            array,
            "one-more-in-series",
            statement("one-more-panel"),
            governing_cold(design, longer),
        ),
        _from_check(array, "one-more-string", statement("one-more-string"), worst),
        _other_voltage(design, array, longer),
        # A larger rating adds nothing to what PWM passes on.
        *([] if array.controller.is_pwm else [_other_current(design, loaded)]),
    ]


def _from_check(
    array: ArrayFigures, change: SensitivityChange, told: Text, found: Check
) -> Sensitivity:
    title, outcome = title_of(found), _IN_WORDS[found.verdict]
    if found.demand is None or found.capacity is None:
        text = statement("could-not-be-assessed", change=told, title=title, outcome=outcome)
    else:
        text = statement(
            "would-be",
            change=told,
            title=title,
            demand=found.demand,
            capacity=found.capacity,
            unit=found.unit or "",
            outcome=outcome,
        )
    return Sensitivity(
        change=change,
        controller=array.controller.given.name,
        verdict=found.verdict,
        demand=found.demand or 0.0,
        capacity=found.capacity or 0.0,
        unit=found.unit or "1",
        text=text,
    )


def _other_voltage(design: ArrayDesign, array: ArrayFigures, longer: ArrayFigures) -> Sensitivity:
    """Which input voltage this array needs, and which one would take a longer string."""
    capacity = array.controller.given.max_input_voltage_v
    kept = 1.0 - design.voltage_reserve
    needed = max(s.cold_voc_v for s in array.meeting) / kept
    more = max(s.cold_voc_v for s in longer.meeting) / kept
    known = all(s.cold_is_known for s in array.meeting)
    verdict: Verdict = "review" if needed > capacity else "pass" if known else "not-assessed"
    return Sensitivity(
        change="other-controller-voltage",
        controller=array.controller.given.name,
        verdict=verdict,
        demand=needed,
        capacity=capacity,
        unit="V",
        text=statement(
            "input-voltage-would-do" if known else "input-voltage-least",
            needed_v=needed,
            longer_v=more,
            capacity_v=capacity,
        ),
    )


def _other_current(design: ArrayDesign, loaded: Loaded) -> Sensitivity:
    """Which rating would take all of full sun, and what that adds."""
    controller = loaded.figures.controller
    capacity = controller.given.max_output_current_a
    full = controller.efficiency * float(loaded.power.drawn_w[SUN])
    needed = full / design.working_voltage_v
    gain = full - float(loaded.power.charging_w[SUN])
    text = (
        statement("charging-current-more", needed_a=needed, gain_w=gain, capacity_a=capacity)
        if gain > 0.5
        else statement("charging-current-enough", needed_a=needed, capacity_a=capacity)
    )
    return Sensitivity(
        change="other-controller-current",
        controller=controller.given.name,
        verdict="review" if needed > capacity else "pass",
        demand=needed,
        capacity=capacity,
        unit="A",
        text=text,
    )
