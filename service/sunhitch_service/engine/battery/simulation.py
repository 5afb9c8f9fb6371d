"""What a battery makes of the power at its terminals, step by step."""

from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import NDArray

from sunhitch.types.harvest import BatteryUse
from sunhitch.types.system import Battery
from sunhitch_service.engine.assumptions import Assumptions

from .settings import PRACTICE, battery_settings, chemistry_row

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class BatteryModel:
    """A battery with every default settled.

    `least_state` is the state at which loads are cut off, `taper_from` the state from which it
    takes less and less [1]; `capacity_wh` is after ageing, full to empty.
    """

    working_v: float
    capacity_wh: float
    start_state: float
    least_state: float
    efficiency: float
    charge_limit_w: float
    discharge_limit_w: float
    taper_from: float
    no_charge_below_c: float
    above_air_k: float
    kept_above_c: float | None

    @property
    def start_wh(self) -> float:
        """Stored at the beginning [Wh]."""
        return max(self.start_state, self.least_state) * self.capacity_wh

    def too_cold(self, air_c: Array) -> list[bool]:
        """Whether the battery is too cold to charge, at each air temperature [°C]."""
        own = air_c + self.above_air_k
        if self.kept_above_c is not None:
            own = np.maximum(own, self.kept_above_c)
        return [bool(cold) for cold in own < self.no_charge_below_c]


@dataclass(frozen=True, slots=True)
class BatteryFlows:
    """Energy in every step, shape (steps,) [Wh].

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


def battery_model(battery: Battery, use: BatteryUse, notes: Assumptions) -> BatteryModel:
    """Settle a battery and how it is used.

    Parameters
    ----------
    battery : Battery
        As given, at `/battery`.
    use : BatteryUse
        As given, at `/battery_use`.
    notes : Assumptions
        Takes note of what was chosen.

    Returns
    -------
    BatteryModel
        Ready for `simulate`.
    """
    row = chemistry_row(battery.chemistry)
    settled = battery_settings(battery, notes)
    most = use.max_discharge_current_a

    def chosen(field: str, given: float | None, column: str) -> float:
        reason = f"Common practice for this chemistry. {row['row_note']}"
        return notes.choose(f"/battery_use/{field}", given, float(row[column]), reason)

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
        charge_limit_w=settled.charge_limit_a * settled.working_v,
        discharge_limit_w=inf if most is None else most * battery.nominal_voltage_v,
        taper_from=float(row["taper_from"]),
        no_charge_below_c=chosen("no_charge_below_c", use.no_charge_below_c, "no_charge_below_c"),
        above_air_k=use.above_air_k,
        kept_above_c=use.kept_above_c,
    )


def simulate(
    model: BatteryModel, power_w: Array, load_w: Array, cold: list[bool], step_h: float
) -> BatteryFlows:
    """Follow a battery through steps of time.

    Parameters
    ----------
    model : BatteryModel
        The battery.
    power_w, load_w : ndarray, shape (steps,)
        Power at its terminals, and asked for [W].
    cold : list of bool
        Steps without charging.
    step_h : float
        Length of a step [h].

    Returns
    -------
    BatteryFlows
        Loads are served from the sun first, then from the battery.
    """
    stored, least = model.start_wh, model.least_state * model.capacity_wh
    charge_wh, discharge_wh = model.charge_limit_w * step_h, model.discharge_limit_w * step_h
    columns: list[tuple[float, ...]] = []
    offered_wh, wanted_wh = (power_w * step_h).tolist(), (load_w * step_h).tolist()
    for offered, wanted, frozen in zip(offered_wh, wanted_wh, cold, strict=True):
        direct = min(offered, wanted)
        spare, needed = offered - direct, wanted - direct
        given = min(needed, discharge_wh, max(0.0, stored - least))
        frost = spare if frozen else 0.0
        rate = 0.0 if frozen else max(0.0, spare - charge_wh)
        willing = spare - frost - rate
        taken = min(willing, _room_wh(model, stored, charge_wh) / model.efficiency)
        gained = taken * model.efficiency
        stored += gained - given
        columns.append(
            (
                direct + taken,
                willing - taken,
                frost,
                rate,
                direct + given,
                needed - given,
                stored,
                taken - gained,
            )
        )
    return BatteryFlows(*np.array(columns).T)


def _room_wh(model: BatteryModel, stored: float, charge_wh: float) -> float:
    """Energy that the battery can store in one step [Wh]; it tapers towards full."""
    space = max(0.0, model.capacity_wh - stored)
    tapering = model.capacity_wh * (1.0 - model.taper_from)
    if space >= tapering:
        return space
    return min(space, charge_wh * space / tapering)
