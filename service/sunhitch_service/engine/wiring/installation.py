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

from .ampacity import (
    BELOW_THE_TABLE,
    AmpacityRules,
    RunTables,
    covered_by_iec,
    largest_device_a,
    run_tables,
    small_limit_a,
    sources,
    terminal_limit_a,
)
from .ladders import Size, not_above
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
    rules : AmpacityRules
        Rule set of the tables.
    metal : Metal
        Resistance.
    runs : list of RunTables
        What each run is read in, and what it does to every size.
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
    rules: AmpacityRules
    metal: Metal
    runs: list[RunTables]
    ambient: RuleOutcome
    smallest_mm2: float
    rungs: tuple[Rung, ...]
    in_air: float
    sources: list[Basis]
    known: dict[str, SizeAmpacity]

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
    own = family_of(key.rules)
    in_mm2 = key.ladder == "mm2"
    by_iec = in_mm2 and own != "us-33-cfr-183" and covered_by_iec(key.insulation)
    rules = AmpacityRules(
        family="iec" if by_iec else own if own == "us-33-cfr-183" else "nec",
        edition=edition_of(key.rules),
        insulation=key.insulation,
        material=key.material,
        low_voltage=key.group == "battery",
    )
    runs = [run_tables(rules, run, key.ambient_c) for run in key.runs]
    of = metal(key.ladder, key.material, key.fine, key.tinned)
    hottest = max(runs, key=lambda each: each.temperature_c - each.hottest_c)
    return Installation(
        key=key,
        method="by-area" if in_mm2 and not by_iec else "own-tables",
        rules=rules,
        metal=of,
        runs=runs,
        ambient=outcome("ambient-in-table", hottest.temperature_c, hottest.hottest_c),
        smallest_mm2=_smallest_mm2(rules.family, key.group, key.material),
        rungs=rungs(key.ladder, of),
        in_air=resistance_at(1.0, of, max(each.temperature_c for each in runs)),
        sources=sources(rules, runs),
        known={},
    )


@cache
def _smallest_mm2(family: Family, group: Group, material: Material) -> float:
    rows = table("wiring", "smallest_size").rows
    row = next(row for row in rows if (row["rules"], row["group"]) == (family, group))
    return number(row, f"{material}_mm2") or 0.0


def _size_ampacity(on: Installation, size: Size) -> SizeAmpacity:
    key, rules, by_area = on.key, on.rules, on.method == "by-area"
    read = (not_above("awg", size.area_mm2) or BELOW_THE_TABLE) if by_area else size
    runs = [run.ampacity(read, by_area) for run in on.runs]
    corrected = [run.corrected_a for run in runs]
    ampacity = least = min(corrected)
    terminal = None
    if key.terminal_c is not None:
        terminal = terminal_limit_a(rules, read, on.runs, key.terminal_c, key.ambient_c)
        ampacity = least if terminal is None else min(least, terminal)
    return SizeAmpacity(
        warming=[
            heat_balance(
                run.base_a * tables.bundling * tables.enclosure,
                tables.column.conductor_c - tables.column.air_c,
                tables.column.conductor_c,
                tables.temperature_c,
                on.metal,
                rules.rated_c,
            )
            for run, tables in zip(runs, on.runs, strict=True)
        ],
        runs=runs,
        governing=corrected.index(least),
        base_a=min(run.base_a for run in runs),
        corrected_a=least,
        terminal_a=terminal,
        small_a=small_limit_a(rules, read),
        ampacity_a=ampacity,
        largest_device_a=largest_device_a(rules, read, ampacity, key.below_50_v),
        smallest=outcome("smallest-size", on.smallest_mm2, size.area_mm2),
    )
