"""What a conductor may carry on each run, whatever the rule set behind the table."""

from dataclasses import dataclass
from typing import Protocol

import msgspec

from sunhitch.types.basis import Basis
from sunhitch.types.wiring import Run, RunAmpacity

from .correction import thermal_insulation_factor
from .ladders import Size, not_above


@dataclass(frozen=True, slots=True)
class TableValue:
    """A table value and the temperatures that it stands for.

    Parameters
    ----------
    table : str
        Table and column in words.
    base_a : float
        Value [A]; 0 where the table has none.
    conductor_c, air_c : float
        Conductor and air temperature behind it [°C].
    """

    table: str
    base_a: float
    conductor_c: float
    air_c: float


class Ampacities(Protocol):
    """Tables of one rule set for one insulation and metal."""

    @property
    def limit_c(self) -> float:
        """Conductor temperature that the insulation bears [°C]."""
        ...

    def table_value(self, size: Size, run: Run) -> TableValue:
        """Table value for a size on a run."""
        ...

    def temperature_c(self, run: Run, air_c: float) -> float:
        """Air around the run [°C], with what a roof adds."""
        ...

    def ambient_factor(self, run: Run, temperature_c: float) -> float | None:
        """Factor for that temperature; None beyond the table."""
        ...

    def hottest_c(self, run: Run) -> float:
        """Hottest air that the table covers [°C]."""
        ...

    def bundling_factor(self, run: Run) -> float | None:
        """Factor for the conductors together; None beyond the table."""
        ...

    def terminal_limit_a(
        self, size: Size, runs: list[Run], terminal_c: float, air_c: float
    ) -> float | None:
        """Most that terminals of a rating allow [A]; None where the rules have no limit."""
        ...

    def small_limit_a(self, size: Size) -> float | None:
        """Largest device on a small conductor [A]; None for others."""
        ...

    def largest_device_a(self, size: Size, ampacity_a: float, below_50_v: bool) -> float:
        """Largest device that protects a conductor of this ampacity [A]."""
        ...

    def sources(self, runs: list[Run]) -> list[Basis]:
        """Tables that are read."""
        ...


class RunFactors(msgspec.Struct, frozen=True):
    """What a run does to every size alike.

    Parameters
    ----------
    label : str
        Where it lies.
    temperature_c, hottest_c : float
        Air around it, and the hottest that the table covers [°C].
    ambient, bundling, enclosure : float
        Factors; 0 beyond a table.
    product : float
        All three together.
    """

    label: str
    temperature_c: float
    hottest_c: float
    ambient: float
    bundling: float
    enclosure: float
    product: float


def run_factors(tables: Ampacities, run: Run, air_c: float) -> RunFactors:
    """Factors of a run.

    Parameters
    ----------
    tables : Ampacities
        Tables of the rule set.
    run : Run
        Where it lies.
    air_c : float
        Air of the whole way [°C]; the run's own counts where it is given.

    Returns
    -------
    RunFactors
        Temperatures and factors; a factor beyond its table is 0.
    """
    hot = tables.temperature_c(run, air_c if run.ambient_c is None else run.ambient_c)
    ambient = tables.ambient_factor(run, hot) or 0.0
    bundling = tables.bundling_factor(run) or 0.0
    enclosure = enclosure_factor(run)
    return RunFactors(
        label=run.where + (" in raceway" if run.in_raceway else ""),
        temperature_c=hot,
        hottest_c=tables.hottest_c(run),
        ambient=ambient,
        bundling=bundling,
        enclosure=enclosure,
        product=ambient * bundling * enclosure,
    )


def run_ampacity(table_value: TableValue, factors: RunFactors) -> RunAmpacity:
    """Ampacity on one run, step by step."""
    return RunAmpacity(
        run=factors.label,
        table=table_value.table,
        base_a=table_value.base_a,
        temperature_c=factors.temperature_c,
        ambient_factor=factors.ambient,
        bundling_factor=factors.bundling,
        enclosure_factor=factors.enclosure,
        corrected_a=table_value.base_a * factors.product,
    )


def enclosure_factor(run: Run) -> float:
    """Factor for thermal insulation around a run: by its length where given, else the harshest."""
    if run.where != "insulated-wall":
        return 1.0
    return thermal_insulation_factor(100.0 if run.length_m is None else run.length_m) or 0.0


class ByArea:
    """A rule set's tables, read for sizes of the other ladder at the next smaller area.

    Parameters
    ----------
    inner : Ampacities
        Tables for American wire gauges.
    """

    def __init__(self, inner: Ampacities) -> None:
        self._inner = inner

    @property
    def limit_c(self) -> float:
        """Conductor temperature that the insulation bears [°C]."""
        return self._inner.limit_c

    def table_value(self, size: Size, run: Run) -> TableValue:
        """Value of the largest gauge whose area is not above that of the size."""
        gauge = not_above("awg", size.area_mm2)
        if gauge is None:
            return TableValue("below the table", 0.0, self.limit_c, 30.0)
        found = self._inner.table_value(gauge, run)
        return TableValue(
            f"{found.table}, at {gauge.label}", found.base_a, found.conductor_c, found.air_c
        )

    def temperature_c(self, run: Run, air_c: float) -> float:
        """Air around the run [°C], with what a roof adds."""
        return self._inner.temperature_c(run, air_c)

    def ambient_factor(self, run: Run, temperature_c: float) -> float | None:
        """Factor for that temperature; None beyond the table."""
        return self._inner.ambient_factor(run, temperature_c)

    def hottest_c(self, run: Run) -> float:
        """Hottest air that the table covers [°C]."""
        return self._inner.hottest_c(run)

    def bundling_factor(self, run: Run) -> float | None:
        """Factor for the conductors together; None beyond the table."""
        return self._inner.bundling_factor(run)

    def terminal_limit_a(
        self, size: Size, runs: list[Run], terminal_c: float, air_c: float
    ) -> float | None:
        """Limit of the gauge that is read in its place [A]."""
        gauge = not_above("awg", size.area_mm2)
        return (
            0.0 if gauge is None else self._inner.terminal_limit_a(gauge, runs, terminal_c, air_c)
        )

    def small_limit_a(self, size: Size) -> float | None:
        """Limit of the gauge that is read in its place [A]."""
        gauge = not_above("awg", size.area_mm2)
        return 0.0 if gauge is None else self._inner.small_limit_a(gauge)

    def largest_device_a(self, size: Size, ampacity_a: float, below_50_v: bool) -> float:
        """Largest device for the gauge that is read in its place [A]."""
        gauge = not_above("awg", size.area_mm2)
        return 0.0 if gauge is None else self._inner.largest_device_a(gauge, ampacity_a, below_50_v)

    def sources(self, runs: list[Run]) -> list[Basis]:
        """Tables that are read."""
        return self._inner.sources(runs)
