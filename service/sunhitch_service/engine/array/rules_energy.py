"""Rules that need the solved power: clipping, charge rate, PWM loss, mismatch, target."""

from collections.abc import Iterable
from dataclasses import dataclass

from sunhitch.types.check import Check
from sunhitch_service.engine.battery.settings import chemistry_row
from sunhitch_service.engine.controller.settings import ChargingCurrent
from sunhitch_service.engine.rules import batteries
from sunhitch_service.engine.rules.arrays import (
    mismatch_loss,
    parallel_voltage_spread,
    series_current_spread,
)
from sunhitch_service.engine.rules.controllers import output_current, pwm_loss

from .design import ArrayDesign
from .evaluate import SUN, ArrayPower
from .figures import ArrayFigures

_EQUAL = 1e-9
"""Spread below which panels are equal and need no such check."""


@dataclass(frozen=True, slots=True)
class Loaded:
    """A controller's array with its solved power.

    Parameters
    ----------
    figures : ArrayFigures
        Nameplate figures.
    power : ArrayPower
        In every state of light.
    available_w : float
        Sum of the panels' own maxima in full sun [W].
    """

    figures: ArrayFigures
    power: ArrayPower
    available_w: float

    @property
    def lost_to_sharing(self) -> float:
        """Share of the panels' own maxima lost in full sun because they share [1]."""
        return max(0.0, 1.0 - float(self.power.unlimited_w[SUN]) / self.available_w)


def energy_checks(design: ArrayDesign, loaded: Loaded) -> list[Check]:
    """Every rule on one controller's array that needs its power.

    Parameters
    ----------
    design : ArrayDesign
        Settled request.
    loaded : Loaded
        Array with its power.

    Returns
    -------
    list of Check
        Clipping, or PWM loss; mismatch.
    """
    # PWM cuts nothing off: what exceeds its rating is judged as a current.
    own = _pwm_loss(loaded) if loaded.figures.controller.is_pwm else _clipping(design, loaded)
    return [own, *_mismatch(loaded)]


def _clipping(design: ArrayDesign, loaded: Loaded) -> Check:
    controller = loaded.figures.controller
    wanted_w = controller.efficiency * float(loaded.power.drawn_w[SUN])
    return output_current(
        loaded.figures.subject(),
        wanted_w / design.working_voltage_v,
        controller.given.max_output_current_a,
        wanted_w - float(loaded.power.charging_w[SUN]),
    )


def _pwm_loss(loaded: Loaded) -> Check:
    return pwm_loss(
        loaded.figures.subject(),
        1.0 - float(loaded.power.drawn_w[SUN]) / float(loaded.power.unlimited_w[SUN]),
    )


def _mismatch(loaded: Loaded) -> list[Check]:
    """What sharing current and voltage costs; a panel alone shares nothing."""
    array = loaded.figures
    if len(array.strings) == 1 and len(array.strings[0].members) == 1:
        return []
    found = [mismatch_loss(array.subject(), loaded.lost_to_sharing)]
    uneven = max(array.strings, key=lambda s: s.largest_i_mp_a / s.i_mp_a)
    series = 1.0 - uneven.i_mp_a / uneven.largest_i_mp_a
    volts = [s.v_mp_v for s in array.strings]
    parallel = 1.0 - min(volts) / max(volts)
    if series >= _EQUAL:
        found.append(series_current_spread(array.subject(uneven), series))
    if parallel >= _EQUAL:
        found.append(parallel_voltage_spread(array.subject(), parallel))
    return found


def charging(design: ArrayDesign, arrays: Iterable[ArrayFigures]) -> ChargingCurrent:
    """What all controllers together can push into the battery."""
    battery_v = design.working_voltage_v
    return total(
        a.controller.charging(a.whole_p_mp_w, a.whole_counted_w, a.whole_i_sc_a, battery_v)
        for a in arrays
    )


def total(currents: Iterable[ChargingCurrent]) -> ChargingCurrent:
    """Sum of what several controllers push."""
    return ChargingCurrent(*map(sum, zip(*currents, strict=True)))


def charge_rate(design: ArrayDesign, current: ChargingCurrent) -> Check:
    """What all controllers and other chargers push into the battery against its limit."""
    usual: float | None = None
    if not design.charge_limit_given:
        usual = float(chemistry_row(design.request.battery.chemistry)["charge_rate_per_h"])
    strong_a, nameplate_a = (each + design.request.other_charging_a for each in current)
    return batteries.charge_rate(strong_a, nameplate_a, design.charge_limit_a, usual)
