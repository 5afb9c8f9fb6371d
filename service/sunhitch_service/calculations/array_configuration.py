"""Every arrangement of an array, judged and ranked."""

from sunhitch.operations import ARRAY_CONFIGURATION
from sunhitch_service.drawing.wiring_diagram import array_wiring_diagram
from sunhitch_service.engine.array.computing_time import expected_ms
from sunhitch_service.engine.array.configuration import array_configuration

from .calculation import Calculation, ComputingTime, picture, sheet

CALCULATION = Calculation(
    ARRAY_CONFIGURATION,
    array_configuration,
    ComputingTime(
        expected_ms, "Give fewer shade states, panels, controllers or `most_arrangements`."
    ),
    (
        picture("wiring-diagram", "Wiring diagram of the first arrangement.", array_wiring_diagram),
        sheet(array_wiring_diagram),
    ),
)
