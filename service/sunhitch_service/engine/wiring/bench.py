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
from .currents import Currents, design_currents
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
    smallest_mm2: float
    least_area_mm2: float | None


def bench(case: Case, device: Device, ladder: Ladder, least_area_mm2: float | None) -> Bench:
    """Set up the tables for one ladder.

    Each ladder is read on its own tables where they exist: NFPA 70 or 33 CFR for gauges, IEC for
    square millimetres; else on those of the rules at the next smaller gauge.
    """
    family, method, tables = _tables(case, ladder)
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
        factors=[run_factors(tables, run, case.ambient_c) for run in case.runs],
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


@cache
def _smallest_mm2(family: Family, group: Group, material: Material) -> float:
    for row in table("wiring", "smallest_size").rows:
        if row["rules"] == family and row["group"] == group:
            return number(row, f"{material}_mm2") or 0.0
    raise KeyError(f"no smallest size for {family}, {group}")
