"""What a part must have, in words."""

from collections.abc import Iterator

from sunhitch.types.parts import Part

from .amounts import at_least, at_most, both, figure, percent

_INSULATION = {
    "pvc-70": "PVC insulation, 70 °C",
    "xlpe-90": "XLPE insulation, 90 °C",
    "en-50618": "PV cable to EN 50618",
}


def part_ratings(part: Part) -> str:
    """What a part must have beyond what its name says; empty if nothing.

    Parameters
    ----------
    part : Part
        A line of the parts list.
    """
    return ", ".join([*_size(part), *_made_of(part), *_rated(part), *_least(part), *_others(part)])


def _size(part: Part) -> Iterator[str]:
    yield from (told for told in (part.size, part.colour) if told and told not in part.name)
    sides = [
        both(1000.0 * side, "mm") for side in (part.length_m, part.width_m) if side is not None
    ]
    if sides and part.kind != "extension-lead":
        yield " × ".join(sides)
    if part.thickness_m is not None:
        yield f"{both(1000.0 * part.thickness_m, 'mm')} thick"
    if part.covered_fraction is not None:
        yield f"{percent(part.covered_fraction)} of it glued"


def _made_of(part: Part) -> Iterator[str]:
    if part.kind in ("pv-cable", "battery-cable") and ", " in part.material:
        metal, insulation = part.material.split(", ")
        yield metal
        yield _INSULATION.get(insulation, f"{insulation.rstrip('c')} °C insulation")
    elif part.material and part.kind != "adhesive":
        yield part.material
    if part.sun_proof:
        yield "sun-proof"


def _rated(part: Part) -> Iterator[str]:
    figures = (
        ("{} W", part.power_w),
        ("Voc {} V", part.open_circuit_v),
        ("Isc {} A", part.short_circuit_a),
    )
    yield from (told.format(figure(value)) for told, value in figures if value is not None)
    if part.maximum_fuse_a is not None:
        yield f"series fuse ≤ {at_most(part.maximum_fuse_a)} A"
    if part.kind == "controller":
        yield part.family
    if part.rating_a is not None and part.kind not in ("fuse", "spare-fuse"):
        yield f"output {figure(part.rating_a)} A"


def _least(part: Part) -> Iterator[str]:
    figures = (
        ("≥ {} A DC", part.minimum_current_a),
        ("≥ {} V DC", part.minimum_voltage_v),
        ("breaks ≥ {} A", part.minimum_interrupting_a),
    )
    yield from (told.format(at_least(value)) for told, value in figures if value is not None)


def _others(part: Part) -> Iterator[str]:
    if part.seals_from_mm is not None and part.seals_to_mm is not None:
        yield f"seals {figure(part.seals_from_mm)} to {figure(part.seals_to_mm)} mm"
    if part.load_break:
        yield "opens under load"
    if part.blocks_reverse_current is not None:
        yield ("blocks" if part.blocks_reverse_current else "does not block") + " reverse current"
