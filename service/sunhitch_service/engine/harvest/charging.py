"""From the panels to the battery's terminals: controller, its limits, and cables."""

from dataclasses import dataclass

import numpy as np

from sunhitch.types.harvest import HarvestArray
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.controller.settings import ControllerSettings, controller_settings
from sunhitch_service.engine.pv.presets import given_diode
from sunhitch_service.engine.sky import Array

from .interconnection import ControllerInput
from .setup import Module
from .solver import OperatingPoints

STAGES = (
    "mismatch",
    "ageing",
    "tracking",
    "controller-window",
    "panel-cable",
    "conversion",
    "controller-limit",
    "battery-cable",
)
"""What is left after each step from the wired panels to the battery's terminals."""


@dataclass(frozen=True, slots=True)
class Charger:
    """A controller with every default settled.

    Parameters
    ----------
    wired : ControllerInput
        Its panels and window.
    controller : ControllerSettings
        Itself.
    panel_ohm, battery_ohm : float
        Cables, both ways [Ω].
    battery_v : float
        Battery voltage through most of a charge [V].
    aged : float
        What age leaves of the power [1].
    tracking : float
        Share of the maximum that the tracker holds [1].
    part_load : tuple of (float, float)
        Input over the rated output and efficiency [1]; empty for one efficiency.
    """

    wired: ControllerInput
    controller: ControllerSettings
    panel_ohm: float
    battery_ohm: float
    battery_v: float
    aged: float
    tracking: float
    part_load: tuple[tuple[float, float], ...]

    def output_w(self, input_w: Array) -> Array:
        """Converted power, before the controller's rating cuts it [W]."""
        if not self.part_load:
            return self.controller.efficiency * input_w
        rated_w = self.controller.given.max_output_current_a * self.battery_v
        loads, efficiencies = zip(*self.part_load, strict=True)
        return np.asarray(input_w * np.interp(input_w / rated_w, loads, efficiencies))


def charger(
    array: HarvestArray,
    at: str,
    panels: list[Module],
    battery_v: float,
    aged: float,
    notes: Assumptions,
) -> Charger:
    """Settle a controller.

    Parameters
    ----------
    array : HarvestArray
        Controller and wiring.
    at : str
        Its JSON Pointer.
    panels : list of Module
        Wired panels of the variant.
    battery_v : float
        Working voltage of the battery [V].
    aged : float
        What age leaves of the panels' power [1].
    notes : Assumptions
        Takes note of what was chosen.

    Returns
    -------
    Charger
        Ready to work.
    """
    controller = controller_settings(array.controller, f"{at}/controller", notes)
    number = {panel.name: k for k, panel in enumerate(panels)}
    wiring = array.wiring
    return Charger(
        wired=ControllerInput(
            strings=tuple(tuple(number[name] for name in s) for s in wiring.strings),
            blocking=given_diode(wiring.blocking_diode),
            resistance=wiring.string_resistance_ohm,
            window=controller.window(battery_v),
            first_maximum=array.tracker.finds == "first-from-open-circuit",
        ),
        controller=controller,
        panel_ohm=array.panel_cable_ohm,
        battery_ohm=array.battery_cable_ohm,
        battery_v=battery_v,
        aged=aged,
        tracking=array.tracker.tracking_fraction,
        part_load=tuple(
            (each.load_fraction, each.efficiency_fraction)
            for each in array.tracker.efficiency_by_load
        ),
    )


def stages(own: Charger, working: OperatingPoints) -> Array:
    """Power left after each of `STAGES`.

    Parameters
    ----------
    own : Charger
        The controller.
    working : OperatingPoints
        Its panels in every state.

    Returns
    -------
    ndarray, shape (8, states)
        [W], not negative.
    """
    aged = own.aged * working.maximum_w
    tracked = own.aged * own.tracking * working.tracked_w
    drawn = own.aged * own.tracking * working.drawn_w
    amperes = np.divide(drawn, working.drawn_v, out=np.zeros_like(drawn), where=drawn > 0.0)
    at_input = np.maximum(drawn - own.panel_ohm * amperes**2, 0.0)
    converted = own.output_w(at_input)
    limited = np.minimum(converted, own.controller.given.max_output_current_a * own.battery_v)
    at_battery = np.maximum(limited - own.battery_ohm * (limited / own.battery_v) ** 2, 0.0)
    return np.stack(
        [working.maximum_w, aged, tracked, drawn, at_input, converted, limited, at_battery]
    )
