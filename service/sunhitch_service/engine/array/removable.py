"""A panel that is plugged in beside an array: voltage, plug, and the fuse between both."""

from sunhitch.texts import statement
from sunhitch.types.check import Check
from sunhitch_service.engine.rules.arrays import parallel_voltage_spread
from sunhitch_service.engine.rules.connectors import connector_current, plug_interlock
from sunhitch_service.engine.rules.controllers import maximum_current_a
from sunhitch_service.engine.rules.strings import fuse_rating_check, reverse_current_check
from sunhitch_service.engine.rules.voltages import cold_voc_controller, touch_voltage

from .design import ArrayDesign
from .figures import ArrayFigures
from .rules_fuse import fuse_of
from .rules_voltage import method_of, system_voltage_of


def removable_checks(design: ArrayDesign, array: ArrayFigures) -> list[Check]:
    """Every rule on what is plugged in beside an array; none where nothing is.

    Parameters
    ----------
    design : ArrayDesign
        Settled request.
    array : ArrayFigures
        The array.

    Returns
    -------
    list of Check
        Its subject is the controller with the name of the panel.
    """
    own, given = array.removable, array.controller.given
    if own is None:
        return []
    asked = next(each for each in design.request.removable if each.controller == given.name)
    subject, fuse = (
        statement("removable-of", controller=given.name, panel=asked.name),
        fuse_of(design, array, own),
    )
    plug_a = asked.plug_current_a
    strong_a, rating_a = maximum_current_a(own.i_sc_a), design.plug_a if plug_a is None else plug_a
    volts = [own.v_mp_v, *(string.v_mp_v for string in array.strings)]
    return [
        cold_voc_controller(
            subject,
            own.cold_voc_v,
            given.max_input_voltage_v,
            asked.in_series,
            method_of(own),
            design.rules,
            design.voltage_reserve,
        ),
        *([system_voltage_of(design, own, subject)] if asked.in_series > 1 else []),
        touch_voltage(subject, own.cold_voc_v),
        connector_current(subject, strong_a, rating_a, given=plug_a is not None),
        reverse_current_check(fuse, design.rules, subject),
        *([] if fuse.needed is False else [fuse_rating_check(fuse, design.rules, subject)]),
        parallel_voltage_spread(subject, 1.0 - min(volts) / max(volts)),
        plug_interlock(subject, array.i_sc_a, interlocked=asked.interlocked),
    ]
