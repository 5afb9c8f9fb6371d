"""What a battery makes of the power at its terminals, step by step."""

from collections.abc import Callable
from dataclasses import dataclass
from math import inf
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from sunhitch.texts import statement
from sunhitch.types.harvest import BatteryUse
from sunhitch.types.system import Battery
from sunhitch_service.engine.assumptions import Assumptions

from .cold import ColdLimits
from .settings import PRACTICE, battery_settings, chemistry_row

Array = NDArray[np.float64]
T = TypeVar("T", float, Array)
_HOURS_OF_A_MONTH = 720.0


@dataclass(frozen=True, slots=True)
class BatteryModel:
    """A battery with every default settled.

    `least_state` is the state at which loads are cut off, `taper_from` the state from which it
    takes less and less [1]; `capacity_wh` is after ageing, full to empty. It loses `lost_per_h` of
    what it holds [1/h] and `drain_w` to electronics, and follows the air with `lag_h`.
    """

    working_v: float
    capacity_wh: float
    start_state: float
    least_state: float
    efficiency: float
    cold: ColdLimits
    discharge_limit_w: float
    taper_from: float
    lost_per_h: float
    drain_w: float
    lag_h: float

    @property
    def start_wh(self) -> float:
        """Stored at the beginning [Wh]."""
        return max(self.start_state, self.least_state) * self.capacity_wh

    def charge_limit_w(self, air_c: Array, step_h: float) -> Array:
        """Most that it may be charged with, in air of each step [W]; 0 where too cold."""
        around_c = lagging(air_c, self.lag_h / step_h) if self.lag_h else air_c
        return self.working_v * self.cold.limit_a(self.cold.battery_c(around_c))


@dataclass(frozen=True, slots=True)
class BatteryFlows:
    """Energy in every step, shape (steps,) or (steps, years) [Wh].

    `accepted` is taken at the terminals, by loads at once and into the battery; `full`, `frost`
    and `rate` are not taken because it is full, too cold, or above the charging limit; `stored`
    is in the battery at the step's end, `storage_lost` the heat of charging and discharging.
    """

    accepted: Array
    full: Array
    frost: Array
    rate: Array
    served: Array
    unserved: Array
    stored: Array
    storage_lost: Array

    @property
    def unserved_share(self) -> Array:
        """Share of every step in which loads lack power [1]."""
        asked = self.served + self.unserved
        return np.divide(self.unserved, asked, out=np.zeros_like(asked), where=asked > 0.0)


def battery_model(
    battery: Battery, use: BatteryUse, notes: Assumptions, drain_w: float
) -> BatteryModel:
    """Settle a battery and how it is used.

    Parameters
    ----------
    battery : Battery
        As given, at `/battery`.
    use : BatteryUse
        As given, at `/battery_use`.
    notes : Assumptions
        Takes note of what was chosen.
    drain_w : float
        What controllers draw day and night [W].

    Returns
    -------
    BatteryModel
        Ready for `simulate`.
    """
    row = chemistry_row(battery.chemistry)
    settled = battery_settings(battery, notes)
    most = use.max_discharge_current_a

    def chosen(field: str, given: float | None, column: str) -> float:
        reason = statement("usual-of-chemistry", note=row["row_note"])
        return notes.choose(f"/battery_use/{field}", given, float(row[column]), reason)

    if battery.chemistry != "lithium-iron-phosphate":
        notes.note("/battery/capacity_ah", battery.capacity_ah, statement("capacity-at-25-c"))
    share = chosen("usable_capacity_fraction", use.usable_capacity_fraction, "usable_capacity")
    return BatteryModel(
        working_v=settled.working_v,
        capacity_wh=share * battery.capacity_ah * battery.nominal_voltage_v,
        start_state=PRACTICE.usual(
            notes, "/battery_use/start_state_fraction", use.start_state_fraction, "start-state"
        ),
        least_state=chosen("least_state_fraction", use.least_state_fraction, "least_state"),
        efficiency=chosen(
            "charge_efficiency_fraction", use.charge_efficiency_fraction, "charge_efficiency"
        ),
        cold=ColdLimits(battery, settled, notes),
        discharge_limit_w=inf if most is None else most * battery.nominal_voltage_v,
        taper_from=float(row["taper_from"]),
        lost_per_h=use.self_discharge_fraction_per_month / _HOURS_OF_A_MONTH,
        drain_w=use.management_draw_w + drain_w,
        lag_h=use.thermal_lag_h,
    )


def lagging(air_c: Array, steps: float) -> Array:
    """Air as a battery follows it, shape (steps,) [°C], with a time constant of so many steps."""
    share, own = 1.0 - np.exp(-1.0 / steps), float(air_c[0])
    found: list[float] = []
    for air in air_c.tolist():
        own += share * (air - own)
        found.append(own)
    return np.array(found)


def simulate(
    model: BatteryModel, power_w: Array, load_w: Array, charge_limit_w: Array, step_h: float
) -> BatteryFlows:
    """Follow a battery through steps of time.

    Parameters
    ----------
    model : BatteryModel
        The battery.
    power_w : ndarray, shape (steps,) or (steps, years)
        Power at its terminals, in one year or in many side by side [W].
    load_w : ndarray, shape (steps,)
        Power asked for [W].
    charge_limit_w : ndarray, shape (steps,)
        Most that it may be charged with; 0 where it is too cold [W].
    step_h : float
        Length of a step [h].

    Returns
    -------
    BatteryFlows
        Loads are served from the sun first, then from the battery.
    """
    many = power_w.ndim > 1
    offered = power_w * step_h
    wanted, limit = (
        (each[:, None] if many else each) * step_h for each in (load_w, charge_limit_w)
    )
    direct = np.minimum(offered, wanted)
    spare, needed = offered - direct, wanted - direct
    willing = np.minimum(spare, limit)
    gain, wish = model.efficiency * willing, np.minimum(needed, model.discharge_limit_w * step_h)
    tapering = model.capacity_wh * (1.0 - model.taper_from)
    filling = np.minimum(1.0, charge_limit_w * step_h / tapering)
    least = model.least_state * model.capacity_wh
    keeps, drain_wh = 1.0 - model.lost_per_h * step_h, model.drain_w * step_h
    before = _before(model, gain - wish, filling.tolist(), tapering, (keeps, drain_wh))
    own = filling[:, None] if many else filling
    gained = np.minimum(gain, _room_wh(model, before, own, tapering, np.maximum))
    given = np.minimum(wish, np.maximum(before - least, 0.0))
    taken = gained / model.efficiency
    frost = np.where(limit > 0.0, 0.0, spare)
    held = np.full((1, *power_w.shape[1:]), model.start_wh)
    return BatteryFlows(
        accepted=direct + taken,
        full=willing - taken,
        frost=frost,
        rate=spare - willing - frost,
        served=direct + given,
        unserved=needed - given,
        stored=(stored := before + gained - given),
        storage_lost=taken - gained + np.concatenate([held, stored[:-1]]) - before,
    )


def _before(
    model: BatteryModel,
    net: Array,
    filling: list[float],
    tapering: float,
    own: tuple[float, float],
) -> Array:
    """Stored in every step once it has lost its own [Wh], of `net`'s shape.

    Followed as figures in one year, as rows in many.
    """
    start = model.start_wh
    if net.ndim == 1:
        return np.array(_followed(model, start, net.tolist(), filling, tapering, own, min, max))
    stored = np.full(net.shape[1], start)
    return np.array(
        _followed(model, stored, list(net), filling, tapering, own, np.minimum, np.maximum)
    )


def _followed(
    model: BatteryModel,
    stored: T,
    net: list[T],
    filling: list[float],
    tapering: float,
    own: tuple[float, float],
    low: Callable[..., T],
    high: Callable[..., T],
) -> list[T]:
    least = model.least_state * model.capacity_wh
    keeps, drain_wh = own
    loses = keeps < 1.0 or drain_wh > 0.0
    found: list[T] = []
    for change, share in zip(net, filling, strict=True):
        if loses:
            stored = high(keeps * stored - drain_wh, 0.0)
        found.append(stored)
        room = _room_wh(model, stored, share, tapering, high)
        stored = low(high(stored + change, low(stored, least)), stored + room)
    return found


def _room_wh(
    model: BatteryModel,
    stored: T,
    filling: T | float,
    tapering: float,
    high: Callable[..., T],
) -> T:
    """Energy that the battery can store in one step [Wh]; it tapers towards full."""
    space = high(model.capacity_wh - stored, 0.0)
    before_taper = high(space - tapering, 0.0)
    room: T = filling * (space - before_taper) + before_taper
    return room
