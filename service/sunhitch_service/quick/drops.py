"""What a circuit loses on the way."""

from sunhitch.texts import sentence, statement
from sunhitch.types.quick.drops import QuickVoltageDrop, VoltageDropQuestion
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.errors import ContradictionError, Fault
from sunhitch_service.engine.rules.judging import at_most
from sunhitch_service.engine.rules.rule import rule
from sunhitch_service.engine.tables import cell_text, table
from sunhitch_service.engine.wiring.citation import circuit_row
from sunhitch_service.engine.wiring.ladders import (
    LADDER_TABLES,
    Size,
    size_by_area,
    size_by_awg,
    sizes,
)
from sunhitch_service.engine.wiring.resistance import metal, resistance_at, table_ohm_per_m
from sunhitch_service.engine.wiring.voltage_drop import drop, longest_m, loop_resistance_ohm

from .words import assumed, cited


def voltage_drop(asked: VoltageDropQuestion) -> QuickVoltageDrop:
    """Drop and loss of a given conductor at a given temperature."""
    notes = Assumptions()
    warm_c = notes.choose(
        "/conductor_temperature_c",
        asked.conductor_temperature_c,
        75.0,
        statement("well-loaded"),
    )
    row = circuit_row("battery-to-load")
    allowed = notes.choose(
        "/allowed_drop_fraction",
        asked.allowed_drop_fraction,
        float(row["allowed_drop_fraction"]),
        cell_text(row, "drop_why"),
    )
    size = _size(asked)
    loop_ohm = _loop_ohm(asked, size, warm_c)
    if loop_ohm is None:
        told = sentence("no-size-of-material", material=asked.material or "copper", size=size.label)
        raise ContradictionError([Fault("/material", told)])
    drop_v, loss_w = drop(asked.current_a, loop_ohm)
    thicker = _thicker(asked, size, warm_c, allowed)
    source = table("wiring", LADDER_TABLES[size.ladder]).basis
    judging = rule(
        "voltage-drop", remedy="thicker" if thicker else "no-size", size=thicker or size.label
    )
    judged = at_most(judging, drop_v, allowed * asked.voltage_v)
    return QuickVoltageDrop(
        drop_v=drop_v,
        drop_fraction=drop_v / asked.voltage_v,
        loss_w=loss_w,
        loop_resistance_ohm=loop_ohm,
        longest_m=longest_m(asked.length_m, drop_v, allowed * asked.voltage_v),
        verdict=judged.verdict,
        remedy=judged.remedy,
        assumed=assumed(notes.listed()),
        basis=cited(source),
    )


def _size(asked: VoltageDropQuestion) -> Size:
    if asked.awg is not None:
        return size_by_awg(asked.awg)
    size = size_by_area(asked.area_mm2 or 0.0)
    if size is None:
        known = ", ".join(one.key for one in sizes("mm2"))
        raise ContradictionError(
            [Fault("/area_mm2", sentence("not-a-metric-size", known_mm2=known))]
        )
    return size


def _loop_ohm(asked: VoltageDropQuestion, size: Size, warm_c: float) -> float | None:
    """Resistance of a size there and back [Ω]; None where its table has none of the metal."""
    material = asked.material or "copper"
    of = metal(size.ladder, material, fine=material == "copper", tinned=False)
    ohm = table_ohm_per_m(size, of)
    if ohm is None:
        return None
    return loop_resistance_ohm(resistance_at(ohm, of, warm_c), asked.length_m)


def _thicker(asked: VoltageDropQuestion, size: Size, warm_c: float, allowed: float) -> str | None:
    """The next size of the same ladder that keeps the allowed drop; None if none does."""
    for wider in sizes(size.ladder):
        loop_ohm = _loop_ohm(asked, wider, warm_c)
        if loop_ohm is not None and (
            drop(asked.current_a, loop_ohm)[0] <= allowed * asked.voltage_v
        ):
            return wider.label
    return None
