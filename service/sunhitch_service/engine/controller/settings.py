"""A controller with every default settled, and what it makes of its array."""

from dataclasses import dataclass
from math import inf
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sunhitch.texts import statement
from sunhitch.types.system import Battery, Controller
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.battery.settings import fault_current_a
from sunhitch_service.engine.rules.controllers import maximum_current_a
from sunhitch_service.engine.rules.limits import limit
from sunhitch_service.engine.tables import table

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class InputWindow:
    """Where a controller works: lowest working and starting voltage [V], largest current [A].

    One that is `fixed` works at `lowest_v` and nowhere else.
    """

    lowest_v: float
    start_v: float
    largest_a: float
    fixed: bool


ANY_VOLTAGE = InputWindow(0.0, 0.0, inf, False)
"""The window of a tracker that can do anything."""


class ChargingCurrent(NamedTuple):
    """What goes into a battery: in strong sun, and in the sun of the panels' nameplates [A]."""

    strong_a: float
    nameplate_a: float


@dataclass(frozen=True, slots=True)
class ControllerSettings:
    """A controller, its input above battery voltage to start and to run [V], its efficiency [1]."""

    given: Controller
    start_margin_v: float
    run_margin_v: float
    efficiency: float

    @property
    def is_pwm(self) -> bool:
        """Whether it connects the panels straight to the battery."""
        return self.given.kind == "pwm"

    def window(self, battery_v: float) -> InputWindow:
        """Where it works at a battery voltage [V]; a PWM controller at the battery's own."""
        largest = self.given.max_input_current_a
        return InputWindow(
            lowest_v=battery_v if self.is_pwm else battery_v + self.run_margin_v,
            start_v=battery_v + self.start_margin_v,
            largest_a=inf if largest is None else largest,
            fixed=self.is_pwm,
        )

    def output_w(self, input_w: Array, battery_v: float) -> Array:
        """Power into the battery [W]: efficiency, then the limit of the output current."""
        return np.minimum(self.efficiency * input_w, self.given.max_output_current_a * battery_v)

    def charging(
        self, p_mp_w: float, counted_w: float, i_sc_a: float, battery_v: float
    ) -> ChargingCurrent:
        """Largest current into the battery from an array.

        A PWM controller is a switch: it passes on all that the panels give, whatever its rating,
        and has no setting to hold it back. An MPPT controller trades volts for current and holds
        its rating. Frost adds nothing to its strong sun: there, cells by a NOCT of 47 °C are as
        warm as the nameplate's in air of -17 °C.

        Parameters
        ----------
        p_mp_w, counted_w : float
            Power by the nameplates, and in the light that the rules' factor applies to [W].
        i_sc_a : float
            Short-circuit current in that light [A].
        battery_v : float
            Voltage of the battery while it charges [V].
        """
        if self.is_pwm:
            passed_a = maximum_current_a(i_sc_a)
            return ChargingCurrent(passed_a, passed_a)
        rating_a, per_w = self.given.max_output_current_a, self.efficiency / battery_v
        strong_w = limit("current-factor") * counted_w
        return ChargingCurrent(min(rating_a, per_w * strong_w), min(rating_a, per_w * p_mp_w))

    @property
    def short_circuit_limit_a(self) -> float | None:
        """Array's short-circuit current that it bears [A]; None where that is not known."""
        given_a, rated_a = self.given.max_input_short_circuit_a, self.given.max_output_current_a
        return switch_limit_a(rated_a, given_a) if self.is_pwm else given_a


def switch_limit_a(rated_a: float, input_a: float | None) -> float:
    """Array's short-circuit current that a PWM controller bears: it passes it on to its output."""
    return min(rated_a, input_a or rated_a)


def usual_setting(kind: str, column: str) -> float:
    """What a maker usually gives, a column of `kinds.csv`."""
    return float(table("controller", "kinds").row("kind", kind)[column])


def controller_settings(controller: Controller, at: str, notes: Assumptions) -> ControllerSettings:
    """Settle a controller's margins and efficiency by common practice for its kind.

    Parameters
    ----------
    controller : Controller
        As given.
    at : str
        Its JSON Pointer.
    notes : Assumptions
        Takes note of what was chosen.

    Returns
    -------
    ControllerSettings
        Given figures come first.
    """
    row = table("controller", "kinds").row("kind", controller.kind)

    def settled(field: str, given: float | None) -> float:
        why = statement("usual-of-controller", kind=controller.kind.upper(), note=row["row_note"])
        return notes.choose(f"{at}/{field}", given, float(row[field]), why)

    return ControllerSettings(
        given=controller,
        start_margin_v=settled("start_margin_v", controller.start_margin_v),
        run_margin_v=settled("run_margin_v", controller.run_margin_v),
        efficiency=settled("efficiency_fraction", controller.efficiency_fraction),
    )


def backfeed_a(controller: Controller, battery: Battery, notes: Assumptions) -> float:
    """What a battery can push back through a controller into its array [A].

    Nothing where the controller blocks it, which is the contract's default; else the battery's
    whole fault current.
    """
    if controller.blocks_reverse_current:
        return 0.0
    field, given = "/battery/short_circuit_current_a", battery.short_circuit_current_a
    return fault_current_a(given, battery.capacity_ah, field, notes)
