"""Over-sized arrays, and short circuits at a controller's input."""

from sunhitch.texts import statement, together
from sunhitch.types.quick.controllers import ControllerCurrentQuestion, QuickControllerCurrent
from sunhitch.types.system import RuleSet
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.cautions import cautions
from sunhitch_service.engine.checks import verdict_of
from sunhitch_service.engine.controller.settings import usual_setting
from sunhitch_service.engine.rules.controllers import (
    maximum_current_a,
    output_current,
    short_circuit,
)
from sunhitch_service.engine.sources import sources_of

from .words import assumed, cited, warned


def controller_current(asked: ControllerCurrentQuestion) -> QuickControllerCurrent:
    """Charging current of the nameplate's power, and short-circuit current, against ratings."""
    notes = Assumptions()
    rules: RuleSet = notes.choose("/rules", asked.rules, "nec-2023", statement("newest-edition"))
    series = notes.choose("/panels_in_series", asked.panels_in_series, 1, statement("one-panel"))
    strings = notes.choose(
        "/strings_in_parallel", asked.strings_in_parallel, 1, statement("one-string")
    )
    array_w, i_sc_a = asked.p_mp_w * series * strings, asked.i_sc_a * strings
    efficiency = notes.choose(
        "/efficiency_fraction",
        asked.efficiency_fraction,
        usual_setting("mppt", "efficiency_fraction"),
        statement("usual-of-mppt"),
    )
    wanted_a = efficiency * array_w / asked.working_voltage_v
    lost_w = max(0.0, wanted_a - asked.controller_output_a) * asked.working_voltage_v
    checks = [
        output_current("", wanted_a, asked.controller_output_a, lost_w),
        short_circuit("", i_sc_a, asked.max_input_short_circuit_a, rules),
    ]
    return QuickControllerCurrent(
        wanted_a=wanted_a,
        array_w=array_w,
        lost_w=lost_w,
        strong_sun_a=maximum_current_a(i_sc_a),
        verdict=verdict_of(checks),
        remedy=together("space", (check.remedy for check in checks)),
        assumed=assumed(notes.listed()),
        basis=cited(*sources_of(check.basis for check in checks)),
        caution=warned(cautions("lit-panel", "judgement")),
    )
