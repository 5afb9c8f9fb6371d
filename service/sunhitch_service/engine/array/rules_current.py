"""Current rules: what the controller, plugs, branches and panels themselves may carry."""

from sunhitch.types.check import Check
from sunhitch_service.engine.rules.connectors import branch_connector_current, connector_current
from sunhitch_service.engine.rules.controllers import (
    array_power,
    input_current,
    maximum_current_a,
    short_circuit,
)

from .design import ArrayDesign
from .figures import ArrayFigures


def current_checks(design: ArrayDesign, array: ArrayFigures) -> list[Check]:
    """Every current rule on one controller's array, string fuses apart.

    Parameters
    ----------
    design : ArrayDesign
        Settled request.
    array : ArrayFigures
        The array.

    Returns
    -------
    list of Check
        Input current, short circuit, array power, plugs, branches.
    """
    controller, subject = array.controller.given, array.subject()
    found: list[Check] = []
    if controller.max_input_current_a is not None:
        found.append(input_current(subject, array.whole_i_mp_a, controller.max_input_current_a))
    found.append(
        short_circuit(
            subject,
            array.whole_i_sc_a,
            array.controller.short_circuit_limit_a,
            design.rules,
            passed_on=array.controller.is_pwm,
        )
    )
    if controller.max_array_power_w is not None:
        found.append(array_power(subject, array.whole_p_mp_w, controller.max_array_power_w))
    return [*found, *_connectors(design, array)]


def _connectors(design: ArrayDesign, array: ArrayFigures) -> list[Check]:
    """The strongest string's plugs, and the joined side of the last branch connector."""
    worst, given = max(array.strings, key=lambda s: s.i_sc_a), design.request.connectors
    own, branched = given.plug_current_a is not None, given.branch_current_a is not None
    strong_a = maximum_current_a(worst.i_sc_a)
    plugs = connector_current(array.subject(worst), strong_a, design.plug_a, given=own)
    if len(array.strings) < 2:
        return [plugs]
    rating, subject = min(design.branch_a, design.plug_a), array.subject()
    return [
        plugs,
        branch_connector_current(subject, array.i_sc_a, worst.i_sc_a, rating, given=branched),
    ]
