"""What the battery makes of the power at its terminals, step by step."""

from dataclasses import dataclass
from math import inf

import numpy as np

from sunhitch.types.harvest import HarvestRequest
from sunhitch_service.engine.array.battery import charging
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.sky import Array
from sunhitch_service.engine.tables import table

from .clock import Clock
from .practice import usual


@dataclass(frozen=True, slots=True)
class Bank:
    """A battery with every default settled.

    Parameters
    ----------
    working_v : float
        Voltage through most of a charge [V].
    capacity_wh : float
        After ageing, full to empty [Wh].
    start, least : float
        State at the beginning, and at which loads are cut off [1].
    efficiency : float
        Energy out per energy in [1].
    largest_w, discharge_w : float
        Power that it may take and give [W].
    taper_from : float
        State from which it takes less and less [1].
    coldest_c : float
        Below it there is no charging [°C].
    above_air_k : float
        How much warmer than the air it is [K].
    kept_above_c : float or None
        Heated to this at least [°C].
    """

    working_v: float
    capacity_wh: float
    start: float
    least: float
    efficiency: float
    largest_w: float
    discharge_w: float
    taper_from: float
    coldest_c: float
    above_air_k: float
    kept_above_c: float | None


@dataclass(frozen=True, slots=True)
class Run:
    """Energy in every step, shape (steps,) [Wh].

    Parameters
    ----------
    accepted : ndarray
        Taken at the terminals: by loads at once, and into the battery.
    full, frost, rate : ndarray
        Not taken because it is full, too cold, or above the charging limit.
    served, unserved : ndarray
        Loads with and without power.
    stored : ndarray
        In the battery at the step's end.
    storage_lost : ndarray
        Heat of charging and discharging.
    """

    accepted: Array
    full: Array
    frost: Array
    rate: Array
    served: Array
    unserved: Array
    stored: Array
    storage_lost: Array


def settled_bank(request: HarvestRequest, notes: Assumptions) -> Bank:
    """Settle a battery.

    Parameters
    ----------
    request : HarvestRequest
        As given.
    notes : Assumptions
        Takes note of what was chosen.

    Returns
    -------
    Bank
        Ready to be charged.
    """
    battery, use = request.battery, request.battery_use
    own = table("harvest", "battery_use").row("chemistry", battery.chemistry)
    settled = charging(battery, notes)
    most = use.max_discharge_current_a

    def chosen(field: str, given: float | None, column: str) -> float:
        reason = f"Common practice for this chemistry. {own['row_note']}"
        return notes.choose(f"/battery_use/{field}", given, float(own[column]), reason)

    share = chosen("usable_capacity_fraction", use.usable_capacity_fraction, "usable_capacity")
    return Bank(
        working_v=settled.working_v,
        capacity_wh=share * battery.capacity_ah * battery.nominal_voltage_v,
        start=usual(
            notes, "/battery_use/start_state_fraction", use.start_state_fraction, "start-state"
        ),
        least=chosen("least_state_fraction", use.least_state_fraction, "least_state"),
        efficiency=chosen(
            "charge_efficiency_fraction", use.charge_efficiency_fraction, "charge_efficiency"
        ),
        largest_w=settled.limit_a * settled.working_v,
        discharge_w=inf if most is None else most * battery.nominal_voltage_v,
        taper_from=float(own["taper_from"]),
        coldest_c=chosen("no_charge_below_c", use.no_charge_below_c, "no_charge_below_c"),
        above_air_k=use.above_air_k,
        kept_above_c=use.kept_above_c,
    )


def loads(request: HarvestRequest, clock: Clock) -> Array:
    """Power asked for in every step [W]."""
    total = np.zeros(clock.steps)
    for load in request.loads:
        on = clock.between(load.from_hour, load.to_hour, load.months)
        total += on * load.power_w * load.duty_fraction
    return total


def peak_w(request: HarvestRequest, clock: Clock) -> float:
    """Largest power of loads that may be on at once, whatever share of the time they are [W]."""
    total = np.zeros(clock.steps)
    for load in request.loads:
        if load.duty_fraction > 0.0:
            total += clock.between(load.from_hour, load.to_hour, load.months) * load.power_w
    return float(total.max())


def too_cold(bank: Bank, air_c: Array) -> list[bool]:
    """Whether the battery is too cold to charge, in every step."""
    warm = air_c + bank.above_air_k
    if bank.kept_above_c is not None:
        warm = np.maximum(warm, bank.kept_above_c)
    return [bool(cold) for cold in warm < bank.coldest_c]


def run(bank: Bank, power_w: Array, load_w: Array, cold: list[bool], step_h: float) -> Run:
    """Follow a battery through the study.

    Parameters
    ----------
    bank : Bank
        The battery.
    power_w, load_w : ndarray, shape (steps,)
        Power at its terminals, and asked for [W].
    cold : list of bool
        Steps without charging.
    step_h : float
        Length of a step [h].

    Returns
    -------
    Run
        Loads are served from the sun first, then from the battery.
    """
    stored = max(bank.start, bank.least) * bank.capacity_wh
    least = bank.least * bank.capacity_wh
    largest, strongest = bank.largest_w * step_h, bank.discharge_w * step_h
    columns: list[tuple[float, ...]] = []
    offered_wh, wanted_wh = (power_w * step_h).tolist(), (load_w * step_h).tolist()
    for offered, wanted, frozen in zip(offered_wh, wanted_wh, cold, strict=True):
        direct = min(offered, wanted)
        spare, needed = offered - direct, wanted - direct
        given = min(needed, strongest, max(0.0, stored - least))
        frost = spare if frozen else 0.0
        rate = 0.0 if frozen else max(0.0, spare - largest)
        willing = spare - frost - rate
        taken = min(willing, _room(bank, stored, largest) / bank.efficiency)
        gained = taken * bank.efficiency
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
    return Run(*np.array(columns).T)


def _room(bank: Bank, stored: float, largest: float) -> float:
    """Energy that the battery can store in one step [Wh]; it tapers towards full."""
    space = max(0.0, bank.capacity_wh - stored)
    tapering = bank.capacity_wh * (1.0 - bank.taper_from)
    if space >= tapering:
        return space
    return min(space, largest * space / tapering)
