"""Sizes in which devices come. Common practice, no source."""

from msgspec.structs import replace

from sunhitch.types.array import ControllerArray
from sunhitch.types.system import Battery, Controller
from sunhitch_service.engine.rules.controllers import maximum_current_a

_INPUT_V = (50.0, 75.0, 100.0, 150.0, 200.0, 250.0, 450.0)
_OUTPUT_A = (10.0, 15.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0, 85.0, 100.0)
CURRENTS_A = (15.0, 20.0, 30.0, 40.0, 50.0, 60.0, 80.0, 100.0)
AREAS_MM2 = (2.5, 4.0, 6.0, 10.0, 16.0, 25.0, 35.0)
_ROUNDING = 1e-9
_VOLTAGES = 3
"""How many controllers of rising input voltage are tried."""


def next_of(needed: float, ladder: tuple[float, ...]) -> float:
    """The smallest that is enough; what is needed itself beyond the largest."""
    return next((one for one in ladder if one >= needed - _ROUNDING), needed)


def controllers_beyond(
    given: Controller, array: ControllerArray, more: float, battery: Battery
) -> list[Controller]:
    """Controllers that take the array, no smaller than the given one in anything.

    Parameters
    ----------
    given : Controller
        The one that is too small.
    array : ControllerArray
        What is wired to it.
    more : float
        How many times that there is on the roof, if some of it found no wiring.
    battery : Battery
        What it charges.

    Returns
    -------
    list of Controller
        For the array as it is, then for longer strings.
    """
    power_w = array.whole_p_mp_w + (more - 1.0) * array.p_mp_w
    i_sc_a = array.whole_i_sc_a + (more - 1.0) * array.i_sc_a
    short_a = next_of(1.5625 * i_sc_a, CURRENTS_A)
    output_a = power_w / battery.nominal_voltage_v
    if battery.max_charge_current_a is not None:
        output_a = min(output_a, battery.max_charge_current_a)
    if given.kind == "pwm":
        output_a = max(output_a, maximum_current_a(i_sc_a))
    input_v = max(given.max_input_voltage_v, next_of(1.02 * (array.cold_voc_v or 0.0), _INPUT_V))
    found = [
        replace(
            given,
            max_input_voltage_v=voltage,
            max_output_current_a=max(given.max_output_current_a, next_of(output_a, _OUTPUT_A)),
            max_input_short_circuit_a=_beyond(given.max_input_short_circuit_a, short_a),
            max_input_current_a=_beyond(given.max_input_current_a, short_a),
            max_array_power_w=_beyond(given.max_array_power_w, power_w),
        )
        for voltage in [input_v, *(one for one in _INPUT_V if one > input_v)][:_VOLTAGES]
    ]
    return [one for one in found if one != given]


def _beyond(given: float | None, needed: float) -> float | None:
    return None if given is None else max(given, needed)
