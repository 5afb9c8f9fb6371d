"""What every size of a ladder may carry as it is laid, whatever the current: worked out once."""

import math
from functools import cache, lru_cache
from typing import Literal

import msgspec

from sunhitch.types.basis import Basis
from sunhitch.types.wiring import (
    Insulation,
    Ladder,
    Material,
    RuleOutcome,
    Run,
    RunAmpacity,
    WiringRules,
)
from sunhitch_service.engine.rules.families import Family, Group, edition_of, family_of
from sunhitch_service.engine.tables import number, table

from .ampacity import Ampacities, ByArea, RunFactors, TableValue, run_ampacity, run_factors
from .ampacity_cfr import CfrAmpacities
from .ampacity_iec import IecAmpacities, covers
from .ampacity_nec import NecAmpacities
from .ladders import Size
from .outcome import outcome
from .resistance import HeatBalance, Metal, Rung, heat_balance, metal, resistance_at, rungs

_REMEMBERED = 256
"""Ways kept at hand; a fleet of builds uses a few dozen."""


class InstallationKey(msgspec.Struct, frozen=True):
    """All that decides on ampacities and resistance.

    Parameters
    ----------
    ladder, rules, group : str
        Ladder, rule set and kind of circuit.
    insulation, material : str
        Of the conductor.
    fine, tinned : bool
        Strands.
    runs : tuple of Run
        At least one.
    ambient_c : float
        Air along the way [°C].
    terminal_c : float or None
        Rating of the terminals [°C].
    below_50_v : bool
        Whether the highest voltage is below 50 V.
    """

    ladder: Ladder
    rules: WiringRules
    group: Group
    insulation: Insulation
    material: Material
    fine: bool
    tinned: bool
    runs: tuple[Run, ...]
    ambient_c: float
    terminal_c: float | None
    below_50_v: bool


class SizeAmpacity(msgspec.Struct, frozen=True):
    """What one size may carry as it is laid [A].

    Parameters
    ----------
    warming : list of HeatBalance
        How each run warms it.
    runs : list of RunAmpacity
        The same, corrected, as the contract writes them.
    governing : int
        Run with the least ampacity.
    base_a, corrected_a : float
        Least table value, and least after correction.
    terminal_a, small_a : float or None
        Limits of terminals and of small conductors; None where there are none.
    ampacity_a, largest_device_a : float
        Least of all, and the largest device that protects it.
    smallest : RuleOutcome
        Its area against the smallest that the rules admit.
    """

    warming: list[HeatBalance]
    runs: list[RunAmpacity]
    governing: int
    base_a: float
    corrected_a: float
    terminal_a: float | None
    small_a: float | None
    ampacity_a: float
    largest_device_a: float
    smallest: RuleOutcome

    def warmest_c(self, current_a: float) -> float:
        """Temperature at a current [A] on the run that warms the conductor most [°C]."""
        warmest_c = -math.inf
        for run in self.warming:
            warm_c = run.temperature_c(current_a)
            if warm_c > warmest_c:  # noqa: PLR1730 - calling max costs as much as all the rest
                warmest_c = warm_c
        return warmest_c


class Installation(msgspec.Struct):
    """Tables, factors, and what was read of them so far.

    Parameters
    ----------
    key : InstallationKey
        What it is for.
    method : str
        Whether ampacities come from the ladder's own tables.
    family : str
        Rule family of these tables.
    tables : Ampacities
        Tables.
    metal : Metal
        Resistance.
    factors : list of RunFactors
        What each run does to every size.
    ambient : RuleOutcome
        Air against the table's end, on the run that comes closest to it or goes furthest beyond.
    smallest_mm2 : float
        Smallest area that the rules admit [mm²].
    rungs : tuple of Rung
        Sizes of the ladder, smallest first.
    in_air : float
        Resistance in the warmest air along it over that of the table [1].
    sources : list of Basis
        Tables that are read, resistance apart.
    known : dict
        Ampacity of every size asked for so far, by its key.
    """

    key: InstallationKey
    method: Literal["own-tables", "by-area"]
    family: Family
    tables: Ampacities
    metal: Metal
    factors: list[RunFactors]
    ambient: RuleOutcome
    smallest_mm2: float
    rungs: tuple[Rung, ...]
    in_air: float
    sources: list[Basis]
    known: dict[str, SizeAmpacity]

    def rung(self, size: Size) -> Rung | None:
        """A size with its resistance; None where the table has none for the metal."""
        return next((rung for rung in self.rungs if rung.size == size), None)

    def ampacity_of(self, size: Size) -> SizeAmpacity:
        """What a size may carry."""
        found = self.known.get(size.key)
        if found is None:
            found = self.known[size.key] = _size_ampacity(self, size)
        return found


@lru_cache(maxsize=_REMEMBERED)
def installation(key: InstallationKey) -> Installation:
    """Set up the tables for one ladder.

    Each ladder is read on its own tables where they exist: NFPA 70 or 33 CFR for gauges, IEC for
    square millimetres; else on those of the rules at the next smaller gauge.
    """
    family, method, tables = _tables(key)
    factors = [run_factors(tables, run, key.ambient_c) for run in key.runs]
    of = metal(key.ladder, key.material, key.fine, key.tinned)
    return Installation(
        key=key,
        method=method,
        family=family,
        tables=tables,
        metal=of,
        factors=factors,
        ambient=_ambient(factors),
        smallest_mm2=_smallest_mm2(family, key.group, key.material),
        rungs=rungs(key.ladder, of),
        in_air=resistance_at(1.0, of, max(each.temperature_c for each in factors)),
        sources=_sources(key, tables),
        known={},
    )


@cache
def _smallest_mm2(family: Family, group: Group, material: Material) -> float:
    for row in table("wiring", "smallest_size").rows:
        if row["rules"] == family and row["group"] == group:
            return number(row, f"{material}_mm2") or 0.0
    raise KeyError(f"no smallest size for {family}, {group}")


def _tables(key: InstallationKey) -> tuple[Family, Literal["own-tables", "by-area"], Ampacities]:
    own = family_of(key.rules)
    if key.ladder == "mm2" and own != "us-33-cfr-183" and covers(key.insulation):
        return "iec", "own-tables", IecAmpacities(key.insulation, key.material)
    if own == "us-33-cfr-183":
        tables: Ampacities = CfrAmpacities(key.insulation)
        family: Family = "us-33-cfr-183"
    else:
        edition = edition_of(key.rules)
        tables = NecAmpacities(edition, key.insulation, key.material, key.group == "battery")
        family = "nec"
    if key.ladder == "awg":
        return family, "own-tables", tables
    return family, "by-area", ByArea(tables)


def _ambient(factors: list[RunFactors]) -> RuleOutcome:
    worst = max(factors, key=lambda each: each.temperature_c - each.hottest_c)
    return outcome("ambient-in-table", worst.temperature_c, worst.hottest_c)


def _sources(key: InstallationKey, tables: Ampacities) -> list[Basis]:
    found = tables.sources(list(key.runs))
    if any(run.where == "insulated-wall" for run in key.runs):
        found.append(table("wiring", "thermal_insulation").basis)
    return found


def _size_ampacity(on: Installation, size: Size) -> SizeAmpacity:
    key, tables = on.key, on.tables
    table_values = [tables.table_value(size, run) for run in key.runs]
    pairs = zip(table_values, on.factors, strict=True)
    runs = [run_ampacity(table_value, factors) for table_value, factors in pairs]
    corrected = [run.corrected_a for run in runs]
    least = min(corrected)
    terminal = None
    if key.terminal_c is not None:
        terminal = tables.terminal_limit_a(size, list(key.runs), key.terminal_c, key.ambient_c)
    ampacity = least if terminal is None else min(least, terminal)
    return SizeAmpacity(
        warming=[_warming(on, *pair) for pair in zip(table_values, on.factors, strict=True)],
        runs=runs,
        governing=corrected.index(least),
        base_a=min(table_value.base_a for table_value in table_values),
        corrected_a=least,
        terminal_a=terminal,
        small_a=tables.small_limit_a(size),
        ampacity_a=ampacity,
        largest_device_a=tables.largest_device_a(size, ampacity, key.below_50_v),
        smallest=outcome("smallest-size", on.smallest_mm2, size.area_mm2),
    )


def _warming(on: Installation, table_value: TableValue, factors: RunFactors) -> HeatBalance:
    return heat_balance(
        table_value.base_a * factors.bundling * factors.enclosure,
        table_value.conductor_c - table_value.air_c,
        table_value.conductor_c,
        factors.temperature_c,
        on.metal,
        on.tables.limit_c,
    )
