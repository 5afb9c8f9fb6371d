"""What a charge controller takes in and gives out."""

from typing import Annotated

from sunhitch.types.base import Input
from sunhitch.types.check import Verdict
from sunhitch.types.quantity import choice, count, quantity
from sunhitch.types.system import RuleSet

from .texts import Remedy, WarnedAnswer


class ControllerCurrentQuestion(Input, kw_only=True):
    """Whether a charge controller passes on all that its array gives, and bears it."""

    p_mp_w: Annotated[float, quantity("W", 0.1, 2000.0, "Maximum power of a panel.", 115.0)]
    i_sc_a: Annotated[float, quantity("A", 0.01, 120.0, "Short-circuit current of a panel.", 6.4)]
    controller_output_a: Annotated[
        float, quantity("A", 0.5, 500.0, "Rated output current of the charge controller.", 30.0)
    ]
    working_voltage_v: Annotated[
        float, quantity("V", 8.0, 70.0, "Battery through most of a charge.", 13.3)
    ]
    panels_in_series: Annotated[int, count(1, 60, "Panels in a string.", 2)] | None = None
    strings_in_parallel: Annotated[int, count(1, 60, "Strings in parallel.", 2)] | None = None
    max_input_short_circuit_a: (
        Annotated[float, quantity("A", 0.5, 500.0, "Short circuit that its input bears.", 35.0)]
        | None
    ) = None
    efficiency_fraction: (
        Annotated[float, quantity("1", 0.5, 1.0, "Conversion efficiency at rating.", 0.96)] | None
    ) = None
    rules: Annotated[RuleSet, choice("Rule set.", "nec-2023")] | None = None


class QuickControllerCurrent(WarnedAnswer):
    """Whether a charge controller passes on all that its array gives, and bears it."""

    wanted_a: Annotated[float, quantity("A", 0.0, 1e6, "Output that would pass on all.", 33.2)]
    array_w: Annotated[float, quantity("W", 0.0, 1e7, "Nameplate power of the array.", 460.0)]
    lost_w: Annotated[float, quantity("W", 0.0, 1e7, "Power cut off in full sun.", 43.0)]
    strong_sun_a: Annotated[
        float, quantity("A", 0.0, 1e5, "Short-circuit current in strong sun.", 16.0)
    ]
    verdict: Annotated[
        Verdict, choice("Worst of output and short circuit; a large array is `review`.", "review")
    ]
    remedy: Remedy
