"""How much a cold battery may be charged."""

import numpy as np
from numpy.typing import NDArray

from sunhitch.texts import statement
from sunhitch.types.check import Check
from sunhitch.types.system import Battery
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.rules import batteries

from .settings import PRACTICE, BatterySettings, chemistry_row

Array = NDArray[np.float64]


def battery_c(battery: Battery, air_c: Array | float) -> Array:
    """Temperature of a battery in air of a temperature, no heater on [°C]."""
    kept = battery.kept_above_c
    return np.maximum(np.asarray(air_c) + battery.above_air_k, -np.inf if kept is None else kept)


class ColdLimits:
    """What a battery may be charged with at its temperature.

    Nothing below its limit; from there the reduced current, growing to the full one over the next
    10 K. Makers of lithium cells give steps that lie around this line (common practice, from
    memory). Other chemistries have no reduced current.

    Parameters
    ----------
    battery : Battery
        As given, at `/battery`.
    settled : BatterySettings
        Its usual charging limit.
    notes : Assumptions
        Takes note of what was chosen.
    """

    def __init__(self, battery: Battery, settled: BatterySettings, notes: Assumptions) -> None:
        row = chemistry_row(battery.chemistry)
        self.battery, self.full_a = battery, settled.charge_limit_a
        self.none_below_c = notes.choose(
            "/battery/no_charge_below_c",
            battery.no_charge_below_c,
            float(row["no_charge_below_c"]),
            statement("usual-of-chemistry", note=row["row_note"]),
        )
        self.by_cold = bool(row["cold_rate_per_h"])
        self.least_a, self.full_from_c = self.full_a, self.none_below_c
        if self.by_cold:
            self.least_a = min(self.full_a, float(row["cold_rate_per_h"]) * battery.capacity_ah)
            self.full_from_c += PRACTICE.figure("cold-span")

    def battery_c(self, air_c: Array | float) -> Array:
        """Temperature of the battery in air of a temperature, no heater on [°C]."""
        return battery_c(self.battery, air_c)

    def limit_a(self, battery_c: Array | float) -> Array:
        """Largest charging current of a battery of a temperature [A]; 0 where it is too cold.

        A heater warms it up to its charging limit first.
        """
        own = np.asarray(battery_c)
        if self.battery.cold_charging == "heater":
            own = np.maximum(own, self.none_below_c)
        warm = np.interp(own, [self.none_below_c, self.full_from_c], [self.least_a, self.full_a])
        return np.where(own < self.none_below_c, 0.0, warm)

    def lock_out(self, air_c: float) -> list[Check]:
        """What keeps charge from it in the coldest air [°C]; none where it stays warm enough."""
        coldest_c, known = float(self.battery_c(air_c)), self.battery.no_charge_below_c is not None
        if coldest_c >= self.none_below_c or not (self.by_cold or known):
            return []
        return [batteries.cold_charging(coldest_c, self.none_below_c, self.battery.cold_charging)]

    def reduced(self, air_c: float, current_a: float) -> list[Check]:
        """Current of all chargers [A] in the coldest air [°C]; none where it takes its full one."""
        at_c = max(float(self.battery_c(air_c)), self.none_below_c)
        if at_c >= self.full_from_c:
            return []
        return [batteries.cold_rate(current_a, float(self.limit_a(at_c)), at_c, self.full_from_c)]
