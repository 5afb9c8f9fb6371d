"""What the sizes of one ladder are judged with: tables, factors and currents."""

from dataclasses import dataclass
from functools import cache
from typing import Literal

from sunhitch.types.wiring import (
    Ladder,
    Material,
)
from sunhitch_service.engine.tables import number, table

from .ampacity import Ampacities, ByArea, RunFactors, run_factors
from .ampacity_cfr import CfrAmpacities
from .ampacity_iec import IecAmpacities, covers
from .ampacity_nec import NecAmpacities
from .case import Case
from .citation import Family, Group, edition_of
from .currents import STRONG_SUN, Currents, design_currents
from .device import Device
from .resistance import Metal, metal


@dataclass(frozen=True, slots=True)
class Bench:
    """What every size of one ladder is judged with.

    Parameters
    ----------
    case : Case
        Resolved request.
    device : Device
        Overcurrent device.
    ladder : str
        Ladder.
    method : str
        Whether ampacities come from the ladder's own tables.
    family : str
        Rule family of these tables.
    tables : Ampacities
        Tables.
    metal : Metal
        Resistance.
    currents : Currents
        Currents under that family.
    factors : list of RunFactors
        What each run does to every size.
    hottest_c : tuple of float
        Air and table end of the run that comes closest to it, or goes furthest beyond [°C].
    warmest_c : float
        Air of the warmest run [°C].
    backfeed_a : float
        What other strings and the battery push through an unfused string [A].
    smallest_mm2 : float
        Smallest area that the rules admit [mm²].
    least_area_mm2 : float or None
        Area of the size that the rules chose on the other ladder [mm²].
    """

    case: Case
    device: Device
    ladder: Ladder
    method: Literal["own-tables", "by-area"]
    family: Family
    tables: Ampacities
    metal: Metal
    currents: Currents
    factors: list[RunFactors]
    hottest_c: tuple[float, float]
    warmest_c: float
    backfeed_a: float
    smallest_mm2: float
    least_area_mm2: float | None


def bench(case: Case, device: Device, ladder: Ladder, least_area_mm2: float | None) -> Bench:
    """Set up the tables for one ladder.

    Each ladder is read on its own tables where they exist: NFPA 70 or 33 CFR for gauges, IEC for
    square millimetres; else on those of the rules at the next smaller gauge.
    """
    family, method, tables = _tables(case, ladder)
    factors = [run_factors(tables, run, case.ambient_c) for run in case.runs]
    conductor = case.request.conductor
    fine = case.stranding == "fine-stranded"
    return Bench(
        case=case,
        device=device,
        ladder=ladder,
        method=method,
        family=family,
        tables=tables,
        metal=metal(ladder, conductor.material, fine, conductor.tinned),
        currents=design_currents(case.request, family),
        factors=factors,
        hottest_c=_hottest_c(factors),
        warmest_c=max(each.temperature_c for each in factors),
        backfeed_a=_backfeed_a(case),
        smallest_mm2=_smallest_mm2(family, case.group, conductor.material),
        least_area_mm2=least_area_mm2,
    )


def _tables(
    case: Case, ladder: Ladder
) -> tuple[Family, Literal["own-tables", "by-area"], Ampacities]:
    material = case.request.conductor.material
    if ladder == "mm2" and case.family != "us-33-cfr-183" and covers(case.insulation):
        return "iec", "own-tables", IecAmpacities(case.insulation, material)
    if case.family == "us-33-cfr-183":
        tables: Ampacities = CfrAmpacities(case.insulation)
        family: Family = "us-33-cfr-183"
    else:
        edition = edition_of(case.request.rules)
        tables = NecAmpacities(edition, case.insulation, material, case.group == "battery")
        family = "nec"
    return (
        (family, "own-tables", tables) if ladder == "awg" else (family, "by-area", ByArea(tables))
    )


def _hottest_c(factors: list[RunFactors]) -> tuple[float, float]:
    worst = max(factors, key=lambda each: each.temperature_c - each.hottest_c)
    return worst.temperature_c, worst.hottest_c


def _backfeed_a(case: Case) -> float:
    """All other strings in strong sun, and the battery; 0 where there is no string to protect."""
    panels = case.request.panels_behind
    if panels is None or case.request.circuit != "pv-string":
        return 0.0
    others = (panels.strings_in_parallel - 1) * STRONG_SUN * panels.i_sc_a
    return others + panels.battery_backfeed_a


@cache
def _smallest_mm2(family: Family, group: Group, material: Material) -> float:
    for row in table("wiring", "smallest_size").rows:
        if row["rules"] == family and row["group"] == group:
            return number(row, f"{material}_mm2") or 0.0
    raise KeyError(f"no smallest size for {family}, {group}")
