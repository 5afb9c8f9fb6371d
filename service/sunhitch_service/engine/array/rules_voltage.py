"""Voltage rules on one controller's array: each on its worst string."""

from sunhitch.types.check import Check
from sunhitch_service.engine.rules.limits import limit
from sunhitch_service.engine.rules.voltages import (
    Method,
    cold_voc_controller,
    cold_voc_table,
    hot_vmp_run,
    hot_voltage_start,
    largest_series_count,
    system_voltage,
    touch_voltage,
)

from .design import ArrayDesign
from .figures import ArrayFigures, StringFigures
from .margins import severity_of


def voltage_checks(design: ArrayDesign, array: ArrayFigures) -> list[Check]:
    """Every voltage rule on one controller's array, each on its worst string.

    Parameters
    ----------
    design : ArrayDesign
        Settled request.
    array : ArrayFigures
        The array.

    Returns
    -------
    list of Check
        Cold voltage by every method that applies, system voltage, touch, hot voltages.
    """
    coldest = max(array.strings, key=lambda s: s.cold_voc_v)
    return [
        governing_cold(design, array),
        *_by_table(design, array, coldest),
        *_system_voltage(design, array),
        touch_voltage(array.subject(coldest), coldest.cold_voc_v),
        *_hot(design, array),
    ]


def governing_cold(design: ArrayDesign, array: ArrayFigures) -> Check:
    """Voltage in the cold by the governing method against the controller's input."""
    string = max(array.strings, key=lambda s: s.cold_voc_v)
    return cold_voc_controller(
        array.subject(string),
        string.cold_voc_v,
        array.controller.given.max_input_voltage_v,
        len(string.members),
        method_of(string),
        design.rules,
        design.voltage_reserve,
    )


def _by_table(design: ArrayDesign, array: ArrayFigures, coldest: StringFigures) -> list[Check]:
    """By the table beside the coefficient where both apply."""
    if coldest.cold_coefficient_v is None or coldest.cold_table_v is None:
        return []
    input_v = array.controller.given.max_input_voltage_v
    return [cold_voc_table(array.subject(coldest), coldest.cold_table_v, input_v, design.rules)]


def method_of(string: StringFigures) -> Method:
    """What its voltage in the cold follows from."""
    if not string.cold_is_known:
        return "beyond-table"
    return "table" if string.cold_coefficient_v is None else "coefficient"


def system_voltage_of(design: ArrayDesign, string: StringFigures, subject: str) -> Check:
    """Voltage of panels in series in the cold against the smallest rating of theirs."""
    rating_v, method = string.system_voltage_v, method_of(string)
    return system_voltage(subject, string.cold_voc_v, rating_v, method, design.rules)


def _system_voltage(design: ArrayDesign, array: ArrayFigures) -> list[Check]:
    """Only where panels are in series: one panel alone never exceeds its own rating."""
    judged = [
        system_voltage_of(design, s, array.subject(s)) for s in array.strings if len(s.members) > 1
    ]
    return [max(judged, key=severity_of)] if judged else []


def _hot(design: ArrayDesign, array: ArrayFigures) -> list[Check]:
    string = min(array.strings, key=lambda s: s.hot_vmp_v)
    subject, count, controller = array.subject(string), len(string.members), array.controller
    full_v, working_v = design.charge_voltage_v, design.working_voltage_v
    start_v = full_v + controller.start_margin_v
    most = _most_in_series(design, array, string)
    return [
        hot_vmp_run(
            subject,
            string.hot_vmp_v,
            count,
            full_v + controller.run_margin_v,
            working_v + controller.run_margin_v,
            most,
        ),
        hot_voltage_start(subject, string.hot_voc_v, string.hot_vmp_v, count, start_v, most),
    ]


def _most_in_series(design: ArrayDesign, array: ArrayFigures, string: StringFigures) -> int:
    """How many panels like those of a string are not too many: for input, panels and PWM."""
    count, highest_v = len(string.members), array.controller.given.max_input_voltage_v
    if string.system_voltage_v is not None:
        highest_v = min(highest_v, string.system_voltage_v)
    most = largest_series_count(string.cold_voc_v / count, highest_v)
    if not array.controller.is_pwm:
        return most
    # PWM pulls a string down to the battery: what is above it is lost.
    useful_v = design.working_voltage_v / (1.0 - limit("pwm-loss-fail"))
    return min(most, largest_series_count(string.v_mp_v / count, useful_v))
