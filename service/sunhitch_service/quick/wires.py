"""Conductor sizes, what they carry and what is lost on the way."""

from sunhitch.texts import Text, sentence, statement, together
from sunhitch.types.quick.wires import (
    QuickVoltageDrop,
    QuickWireAmpacity,
    QuickWireSize,
    VoltageDropQuestion,
    WireAmpacityQuestion,
    WireSizeQuestion,
)
from sunhitch.types.wiring import (
    Circuit,
    Conductor,
    ConductorSize,
    PanelsBehind,
    Run,
    Where,
    WireSizingAnswer,
    WireSizingRequest,
)
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.cautions import cautions
from sunhitch_service.engine.errors import ContradictionError, Fault, Faults
from sunhitch_service.engine.rules.rule import rule
from sunhitch_service.engine.sources import sources_of
from sunhitch_service.engine.tables import cell_text, table
from sunhitch_service.engine.wiring.calculation import wire_sizing
from sunhitch_service.engine.wiring.citation import circuit_row
from sunhitch_service.engine.wiring.ladders import (
    LADDER_TABLES,
    Size,
    metric_areas,
    size_by_area,
    size_by_awg,
    sizes,
)
from sunhitch_service.engine.wiring.resistance import metal, resistance_at, table_ohm_per_m
from sunhitch_service.engine.wiring.voltage_drop import drop, longest_m, loop_resistance_ohm

from .words import assumed, cited, warned

_NEWEST = statement("newest-edition-here")


def wire_size(asked: WireSizeQuestion) -> QuickWireSize:
    """Smallest conductor by the whole wire-sizing calculation."""
    notes = Assumptions()
    usual: tuple[Circuit, Text] = (
        "battery-to-load",
        statement("load-where-unsaid"),
    )
    if asked.i_sc_a is not None:
        usual = "pv-output", statement("panels-feed")
    elif asked.controller_output_a is not None:
        usual = "controller-to-battery", statement("controller-feeds")
    answer = wire_sizing(
        WireSizingRequest(
            circuit=notes.choose("/circuit", asked.circuit, *usual),
            rules=notes.choose("/rules", asked.rules, "nec-2023", _NEWEST),
            voltage_v=asked.voltage_v,
            length_m=asked.length_m,
            current_a=asked.current_a,
            panels_behind=_panels(asked, notes),
            controller_output_a=asked.controller_output_a,
            allowed_drop_fraction=asked.allowed_drop_fraction,
            insulation=asked.insulation,
            runs=_runs(asked.where, asked.current_carrying_conductors),
            ambient_c=asked.ambient_c,
            terminal_temperature_c=asked.terminal_temperature_c,
            fault_current_a=asked.fault_current_a,
            fuse_family=asked.fuse_family,
        )
    )
    notes.merge(answer.assumptions)
    return _sized(answer, notes)


def _panels(asked: WireSizeQuestion, notes: Assumptions) -> PanelsBehind | None:
    if asked.i_sc_a is None:
        faults = Faults()
        for name in ("strings_in_parallel", "max_series_fuse_a"):
            faults.add_if(getattr(asked, name) is not None, f"/{name}", "panels-current-only")
        faults.raise_any()
        return None
    strings = notes.choose(
        "/strings_in_parallel", asked.strings_in_parallel, 1, statement("one-string")
    )
    return PanelsBehind(
        i_sc_a=asked.i_sc_a,
        strings_in_parallel=strings,
        max_series_fuse_a=asked.max_series_fuse_a,
    )


def _runs(where: Where | None, loaded: int | None) -> list[Run]:
    """The one way that is given; none leaves the usual one to the calculation."""
    if where is not None:
        return [Run(where=where, current_carrying_conductors=loaded or 2)]
    if loaded is None:
        return []
    raise ContradictionError([Fault("/where", sentence("say-where"))])


def _sized(answer: WireSizingAnswer, notes: Assumptions) -> QuickWireSize:
    own = answer.awg if answer.rules_ladder == "awg" else answer.metric
    chosen, device = own.chosen, answer.protection
    ladders = (own, answer.awg, answer.metric)
    size, awg, metric = (each.chosen.size if each.chosen else "none" for each in ladders)
    # A fuse that would not do its work is none.
    fails = any(one.verdict == "fail" and one.code.startswith("device-") for one in answer.checks)
    remedies = dict.fromkeys(check.remedy for check in answer.checks if check.remedy)
    return QuickWireSize(
        size=size,
        awg_size=awg,
        metric_size=metric,
        area_mm2=chosen.area_mm2 if chosen else None,
        ampacity_a=chosen.ampacity_a if chosen else None,
        drop_v=chosen.drop_v if chosen else None,
        drop_fraction=chosen.drop_fraction if chosen else None,
        loss_w=chosen.loss_w if chosen else None,
        fuse_a=device.rating_a if chosen and device.needed and not fails else None,
        governing=answer.governing,
        verdict=answer.verdict,
        remedy=together("space", remedies),
        assumed=assumed(notes.listed()),
        basis=cited(*sources_of(own.sources)),
        caution=warned(answer.cautions),
    )


_BEHIND_AMPACITY = {
    "/circuit",
    "/rules",
    "/insulation",
    "/runs",
    "/ambient_c",
    "/terminal_temperature_c",
}


def wire_ampacity(asked: WireAmpacityQuestion) -> QuickWireAmpacity:
    """Ampacity of a size as the wire-sizing calculation judges a conductor at hand."""
    notes = Assumptions()
    answer = wire_sizing(
        WireSizingRequest(
            circuit=notes.choose(
                "/circuit",
                asked.circuit,
                "battery-to-load",
                statement("load-without-plugs"),
            ),
            rules=notes.choose("/rules", asked.rules, "nec-2023", _NEWEST),
            voltage_v=12.0,
            length_m=1.0,
            current_a=0.1,
            conductor=Conductor(material=asked.material or "copper"),
            insulation=asked.insulation,
            runs=_runs(asked.where, asked.current_carrying_conductors),
            ambient_c=asked.ambient_c,
            terminal_temperature_c=asked.terminal_temperature_c,
            conductor_at_hand=ConductorSize(awg=asked.awg, area_mm2=asked.area_mm2),
        )
    )
    notes.merge([one for one in answer.assumptions if one.field in _BEHIND_AMPACITY])
    return _carried(asked, answer, notes)


def _carried(
    asked: WireAmpacityQuestion, answer: WireSizingAnswer, notes: Assumptions
) -> QuickWireAmpacity:
    held = answer.at_hand
    if held is None:
        field = "area_mm2" if asked.awg is None else "awg"
        told = sentence("no-conductor-of-material", material=asked.material or "copper")
        raise ContradictionError([Fault(f"/{field}", told)])
    run = held.runs[held.governing_run]
    read = answer.awg if held.ladder == "awg" else answer.metric
    return QuickWireAmpacity(
        ampacity_a=held.ampacity_a,
        largest_fuse_a=held.largest_device_a,
        table_a=run.base_a,
        ambient_factor=run.ambient_factor,
        bundling_factor=run.bundling_factor,
        table=run.table,
        assumed=assumed(notes.listed()),
        basis=cited(*sources_of(read.sources)),
        caution=warned(cautions("wire-fire")),
    )


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
    judged = judging.at_most(drop_v, allowed * asked.voltage_v)
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
        told = sentence("not-a-metric-size", known_mm2=metric_areas())
        raise ContradictionError([Fault("/area_mm2", told)])
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
