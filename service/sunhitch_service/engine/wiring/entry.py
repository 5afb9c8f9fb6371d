"""Cable entries: gland, hole, edge, bend, drip loop and sealant."""

from functools import cache

import msgspec

from sunhitch.texts import statement, together
from sunhitch.types.check import Check
from sunhitch.types.parts import part_key
from sunhitch.types.wiring import EntryAnswer, EntryRequest, Gland, GlandSize, SheetMaterial
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.rules.families import Group
from sunhitch_service.engine.rules.rule import rule
from sunhitch_service.engine.sources import basis
from sunhitch_service.engine.tables import table

_EDGE: dict[SheetMaterial, str] = {
    "steel": statement("edge-of-steel"),
    "aluminium": statement("edge-of-aluminium"),
    "glass-fibre": statement("edge-of-fibre"),
    "sandwich": statement("edge-of-sandwich"),
}


@cache
def _glands() -> tuple[Gland, ...]:
    """Usual sizes without cables, rising."""
    return tuple(
        Gland(
            size=row["size"],
            cables_mm=[],
            clamps_from_mm=float(row["clamps_from_mm"]),
            clamps_to_mm=float(row["clamps_to_mm"]),
            hole_mm=float(row["hole_mm"]),
            part_key=part_key("cable-gland", row["size"].lower()),
        )
        for row in table("wiring", "glands").rows
    )


def gland_for(diameter_mm: float) -> Gland | None:
    """Smallest gland that seals a cable of an outside diameter [mm]; None if none does."""
    sealing = (
        msgspec.structs.replace(each, cables_mm=[diameter_mm])
        for each in _glands()
        if each.clamps_from_mm <= diameter_mm <= each.clamps_to_mm
    )
    return next(sealing, None)


def sized_gland(size: GlandSize, cables_mm: list[float]) -> Gland:
    """The gland of a size around cables of such outside diameters [mm]."""
    found = next(each for each in _glands() if each.size == size)
    return msgspec.structs.replace(found, cables_mm=cables_mm)


def cable_entry(request: EntryRequest) -> EntryAnswer:
    """How cables pass the roof or a wall, each in a gland of its own.

    Parameters
    ----------
    request : EntryRequest
        Cables and sheet.

    Returns
    -------
    EntryAnswer
        Glands, bend radius (four diameters fixed, five where the cable flexes), drip loop, edge,
        sealant and steps.

    References
    ----------
    EN 62444 for metric glands; bend radius after makers' pages of H1Z2Z2-K cable.
    """
    glands = [gland for each in request.cable_diameters_mm if (gland := gland_for(each))]
    bend = max(request.cable_diameters_mm) * (5.0 if request.flexes else 4.0)
    sealant = statement("elastic-sealant") if request.on_roof else statement("no-sealant")
    return EntryAnswer(
        glands=glands,
        bend_radius_mm=bend,
        drip_loop_mm=max(50.0, 2.0 * bend),
        edge_protection=_EDGE[request.sheet],
        sealant=sealant,
        steps=_steps(request, glands, bend, sealant),
        basis=basis("practice", "Cable entry", statement("bend-radius-read")).key,
    )


def _steps(request: EntryRequest, glands: list[Gland], bend_mm: float, sealant: str) -> list[str]:
    sizes = sorted({gland.hole_mm for gland in glands}, key="{:g}".format)
    holes = together("comma", [statement("hole-of", hole_mm=size) for size in sizes])
    steps = [
        statement("look-behind"),
        statement(
            "drill-through", holes=holes, thickness_mm=request.thickness_mm, sheet=request.sheet
        )
        if holes
        else statement("entry-box"),
        _EDGE[request.sheet],
        sealant,
        statement("tighten-gland"),
        statement("bend-no-tighter", bend_mm=bend_mm),
    ]
    if request.on_roof:
        steps.append(statement("from-rear-or-below"))
    return steps


def with_diameters(
    request: EntryRequest, size: str, group: Group, assumptions: Assumptions
) -> EntryRequest:
    """The entry with the usual diameter of a pair of PV cables where none is given.

    Parameters
    ----------
    request : EntryRequest
        As sent.
    size : str
        Chosen size, for example ``6 mm²``.
    group : {'pv', 'battery'}
        Kind of circuit; only PV cable has usual diameters here.
    assumptions : Assumptions
        Takes the diameter.

    Returns
    -------
    EntryRequest
        Still without diameters where the size is not listed.
    """
    if request.cable_diameters_mm or group != "pv":
        return request
    for row in table("wiring", "pv_cable_diameters").rows:
        if row["size"] == size:
            usual, note = float(row["diameter_mm"]), row["row_note"]
            why = statement("two-pv-cables", size=size, note=note)
            assumptions.note("/entry/cable_diameters_mm", usual, why)
            return msgspec.structs.replace(request, cable_diameters_mm=[usual, usual])
    return request


def entry_checks(request: EntryRequest, answer: EntryAnswer) -> list[Check]:
    """Whether every cable finds a gland that seals it, and the one at hand does."""
    at_hand = request.gland_at_hand
    return [_sealed(request, answer), *([_at_hand(request, at_hand)] if at_hand else [])]


def _at_hand(request: EntryRequest, size: GlandSize) -> Check:
    gland = sized_gland(size, request.cable_diameters_mm)
    thinnest, thickest = min(request.cable_diameters_mm), max(request.cable_diameters_mm)
    fitting = [found.size for each in request.cable_diameters_mm if (found := gland_for(each))]
    told = rule(
        "gland-at-hand",
        size,
        remedy="other" if fitting else "none",
        from_mm=gland.clamps_from_mm,
        to_mm=gland.clamps_to_mm,
        fitting=", ".join(dict.fromkeys(fitting)),
    )
    if thinnest < gland.clamps_from_mm:
        return told.check("fail", thinnest, gland.clamps_from_mm)
    return told.at_most(thickest, gland.clamps_to_mm)


def _sealed(request: EntryRequest, answer: EntryAnswer) -> Check:
    thickest, smallest, largest = max(request.cable_diameters_mm), _glands()[0], _glands()[-1]
    told = rule(
        "cable-entry",
        remedy="no-gland",
        from_mm=smallest.clamps_from_mm,
        to_mm=largest.clamps_to_mm,
    )
    if thickest > largest.clamps_to_mm or len(answer.glands) == len(request.cable_diameters_mm):
        return told.at_most(thickest, largest.clamps_to_mm)
    return told.check("fail")
