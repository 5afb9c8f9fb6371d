"""How every flat question of the contract is answered."""

from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

from sunhitch.types.quick.texts import FlatAnswer

from . import arrays, fixings, fuses, readings, shades, winds, wires


class Answering(NamedTuple):
    """Function from a question's Struct to its answer, and the time that it takes [s]."""

    answer: Callable[[Any], FlatAnswer]
    estimate_s: float = 0.0005


ANSWERING: Mapping[str, Answering] = {
    "cold-voc": Answering(arrays.cold_voc),
    "hot-vmp": Answering(arrays.hot_vmp),
    "string-count": Answering(arrays.string_count),
    "cell-temperature": Answering(arrays.cell_temperature),
    "controller-current": Answering(arrays.controller_current),
    "shaded-power": Answering(shades.shaded_power, 0.2),
    "wire-size": Answering(wires.wire_size, 0.001),
    "wire-ampacity": Answering(wires.wire_ampacity, 0.001),
    "voltage-drop": Answering(wires.voltage_drop),
    "string-fuse": Answering(fuses.string_fuse_for),
    "battery-fuse": Answering(fuses.battery_fuse_for),
    "foot-load": Answering(winds.load_on_feet, 0.03),
    "dynamic-pressure": Answering(winds.pressure_of_air),
    "bond-strength": Answering(fixings.strength_of_bond),
    "cure-time": Answering(fixings.time_to_cure),
    "bolt-torque": Answering(fixings.torque_of_nut),
    "meter-reading": Answering(readings.meter_reading, 0.03),
    "half-covered": Answering(readings.half_covered, 0.1),
}
"""By the name of the question."""
