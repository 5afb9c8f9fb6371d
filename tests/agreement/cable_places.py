"""Codes of cables and strings of a fit-out asked again of wire sizing, shaded curves, questions."""

from collections import Counter
from typing import Any

import msgspec

from sunhitch.types.array import ArrangedString, ControllerArray
from sunhitch.types.check import Check
from sunhitch.types.fitout import FitOutAnswer, FitOutRequest, WireLine
from sunhitch.types.quick.fuses import BatteryFuseQuestion
from sunhitch.types.quick.wires import VoltageDropQuestion, WireAmpacityQuestion, WireSizeQuestion
from sunhitch.types.shade import ShadedIvRequest
from sunhitch.types.system import Controller
from sunhitch.types.wiring import SizeResult, WireSizingAnswer, WireSizingRequest
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.battery.settings import battery_settings, fault_current_a
from sunhitch_service.engine.controller.settings import backfeed_a
from sunhitch_service.engine.shade.calculation import shaded_iv
from sunhitch_service.engine.wiring.calculation import wire_sizing
from sunhitch_service.quick.fuses import battery_fuse_for
from sunhitch_service.quick.wires import voltage_drop, wire_ampacity, wire_size

SIZES = (
    *("ambient-in-table", "ampacity-table", "ampacity-corrected", "terminal-temperature"),
    *("small-conductor", "device-protects-conductor", "string-backfeed", "voltage-drop"),
    *("smallest-size", "connector-conductor", "cable-entry"),
)
DEVICES = ("device-carries-load", "device-voltage", "device-interrupting")
CABLES = SIZES + DEVICES


def close(one: float | None, other: float | None) -> bool:
    """Whether two figures are the same to 1e-9."""
    if one is None or other is None:
        return one is other
    return abs(one - other) <= 1e-9 * max(1.0, abs(other))


def assert_same(one: Check, other: Check) -> None:
    """Figures, verdict, remedy and basis agree.

    Raises
    ------
    AssertionError
        Where one of them differs.
    """
    figures = ((c.demand, c.capacity, c.utilisation_fraction) for c in (one, other))
    assert all(close(a, b) for a, b in zip(*figures, strict=True)), (one, other)
    assert (one.verdict, one.remedy, one.basis) == (other.verdict, other.remedy, other.basis)


def array_of(answer: FitOutAnswer, wire: WireLine) -> ControllerArray:
    """The array whose cable this is."""
    arrays = answer.configurations[0].arrays
    names = (wire.start, wire.end)
    for array in arrays:
        if array.controller in names:
            return array
    panels = wire.start.partition("(")[2].rstrip(")").split(" + ")
    return next(a for a in arrays if any(s.panels == panels for s in a.strings))


def string_of(array: ControllerArray, wire: WireLine) -> ArrangedString:
    """The string that a cable carries, or the first of several."""
    number = (
        int(wire.start.partition("string ")[2].partition(" ")[0]) if "string" in wire.start else 1
    )
    return array.strings[number - 1]


def cable(request: FitOutRequest, answer: FitOutAnswer, wire: WireLine) -> WireSizingRequest:
    """One cable of the schedule as a request of its own, from what request and answer say."""
    array, rules = array_of(answer, wire), request.rules
    controller = next(c for c in request.controllers if c.name == array.controller)
    hot = request.site.highest_ambient_c
    inside = request.cables.inside_ambient_c or max(45.0, hot + 7.0)
    common: dict[str, Any] = {
        "circuit": wire.kind,
        "rules": rules,
        "length_m": wire.length_m,
        "conductor": request.cables.conductor,
        "operating_current_a": wire.operating_current_a,
    }
    if wire.kind == "controller-to-battery":
        return msgspec.convert(
            common | _battery(request, array, controller, inside), WireSizingRequest
        )
    roof = {"where": "on-roof", "height_above_roof_m": request.cables.height_above_roof_m}
    budget = request.cables.pv_drop_fraction or 0.03
    string = string_of(array, wire)
    outputs = [
        w for w in answer.wire_schedule if (w.kind, w.end) == ("pv-output", array.controller)
    ]
    own = {
        string_of(array, w).panels[0]: w.length_m
        for w in answer.wire_schedule
        if w.kind == "pv-string" and array_of(answer, w).controller == array.controller
    }
    whole_m = outputs[0].length_m + max(
        # Leads between panels are one conductor, cables two.
        own.get(s.panels[0], 0.0) + 0.5 * _leads_m(answer, array, number)
        for number, s in enumerate(array.strings, start=1)
    )
    voltages = [sum(plate(request, answer, p).v_mp_v for p in s.panels) for s in array.strings]
    alone, joined = len(array.strings) == 1, wire.kind == "pv-output"
    common |= {
        "panels_behind": _panels(request, array, string, controller, wire, answer),
        "voltage_v": min(voltages) if joined else voltages[array.strings.index(string)],
        # Below −40 °C without a coefficient: the table's last factor, 1.25.
        "max_voltage_v": max(
            s.cold_voc_v or 1.25 * sum(plate(request, answer, p).v_oc_v for p in s.panels)
            for s in array.strings
        ),
        "allowed_drop_fraction": budget * wire.length_m / whole_m,
        "insulation": request.cables.roof_insulation,
        "ambient_c": hot,
        "connector_rating_a": request.connectors.plug_current_a,
        "connector_largest_mm2": request.connectors.largest_conductor_mm2,
        "fuse_rating_a": string.fuse_a if alone or not joined else None,
        "terminal_temperature_c": (
            controller.terminal_temperature_c if joined else request.cables.plug_temperature_c
        ),
        "runs": [roof, {"where": "raceway", "ambient_c": inside}] if joined else [roof],
    }
    if joined and request.skin is not None:
        diameter = request.cables.cable_diameter_mm
        common["entry"] = {
            "cable_diameters_mm": [diameter] * 2 if diameter else [],
            "sheet": request.skin.material.partition("-")[0],
            "thickness_mm": 1000.0 * request.skin.thickness_m,
        }
    # A fit-out may have a shorter cable, and less drop for it, than a caller may ask about.
    short = {name: common.pop(name) for name in ("length_m", "allowed_drop_fraction")}
    whole = msgspec.convert(common | {"length_m": 1.0}, WireSizingRequest, from_attributes=True)
    return msgspec.structs.replace(whole, **short)


def _leads_m(answer: FitOutAnswer, array: ControllerArray, number: int) -> float:
    return sum(
        item.length_m or 0.0
        for item in answer.configurations[0].harness
        if item.polarity == "between-panels"
        and (item.controller, item.strings) == (array.controller, [number])
    )


def plate(request: FitOutRequest, answer: FitOutAnswer, panel: str) -> Any:
    """Nameplate of a panel on the roof."""
    kinds = {kind.name: kind.panel.electrical for kind in request.panel_types}
    return next(kinds[p.panel_type] for p in answer.roof.placements if p.panel == panel)


def _panels(
    request: FitOutRequest,
    array: ControllerArray,
    string: ArrangedString,
    controller: Controller,
    wire: WireLine,
    answer: FitOutAnswer,
) -> dict[str, Any]:
    ratings = [plate(request, answer, panel).max_series_fuse_a for panel in string.panels]
    known = min((rating for rating in ratings if rating), default=None)
    decides = None not in ratings or (known and (string.reverse_current_a or 0.0) > known)
    others = sum(s.i_sc_a for s in array.strings) - string.i_sc_a
    return {
        "i_sc_a": string.i_sc_a,
        "i_mp_a": string.i_mp_a,
        "strings_in_parallel": len(array.strings),
        "other_strings_i_sc_a": others if len(array.strings) > 1 else None,
        "max_series_fuse_a": known if decides else None,
        "battery_backfeed_a": backfeed_a(controller, request.battery, Assumptions()),
    }


def _battery(
    request: FitOutRequest, array: ControllerArray, controller: Controller, inside_c: float
) -> dict[str, Any]:
    rated = controller.max_output_current_a
    strong = 1.25 * sum(string.i_sc_a for string in array.strings)
    battery = request.battery
    given = battery.short_circuit_current_a
    # 5 mV more for each cell of 2 V and kelvin below 25 °C.
    cells = 0 if battery.chemistry == "lithium-iron-phosphate" else battery.nominal_voltage_v / 2
    in_the_cold_v = 0.005 * cells * max(0.0, 25.0 - request.site.lowest_ambient_c)
    return {
        "voltage_v": float(battery.nominal_voltage_v),
        "controller_output_a": max(rated, strong) if controller.kind == "pwm" else rated,
        "max_voltage_v": battery_settings(battery, Assumptions()).charge_v + in_the_cold_v,
        "allowed_drop_fraction": request.cables.battery_drop_fraction,
        "insulation": request.cables.inside_insulation,
        "runs": [{"where": "raceway"}],
        "ambient_c": inside_c,
        "terminal_temperature_c": controller.terminal_temperature_c,
        "fault_current_a": fault_current_a(given, battery.capacity_ah, "", Assumptions()),
    }


def by_wire_sizing(request: FitOutRequest, answer: FitOutAnswer) -> Counter[str]:
    """Every cable of the schedule sized again by itself, and by the flat questions."""
    seen: Counter[str] = Counter()
    for wire in answer.wire_schedule:
        asked = cable(request, answer, wire)
        sized = wire_sizing(asked)
        alone = (sized.awg if sized.rules_ladder == "awg" else sized.metric).chosen
        grown = alone is not None and alone.size != wire.drop_of
        if alone is not None and grown:
            assert led_back_a(answer, wire) > alone.ampacity_a
            sized = wire_sizing(msgspec.structs.replace(asked, bears_a=wire.ampacity_a))
        mine = {
            c.code: c
            for c in answer.checks
            if c.code in CABLES and (c.subject or "").startswith(f"{wire.line} (")
        }
        theirs = {c.code: c for c in sized.checks if c.code in CABLES}
        if asked.fuse_rating_a and wire.kind == "pv-string":
            del theirs["device-interrupting"]  # told by the string's fuse, of all that enters it
        assert mine.keys() == theirs.keys(), (wire.line, mine.keys() ^ theirs.keys())
        for code, check in mine.items():
            assert_same(check, theirs[code])
            seen[code] += 1
        own = sized.awg if sized.rules_ladder == "awg" else sized.metric
        if own.chosen is not None:
            seen += flat_drop(asked, own.chosen, theirs["voltage-drop"])
            seen += flat_ampacity(asked, own.chosen)
        if wire.kind == "controller-to-battery":
            seen += flat_fuse(asked, sized, theirs)
            seen += Counter({"grown for its return": 1}) if grown else flat_size(asked, sized)
    return seen


def led_back_a(answer: FitOutAnswer, wire: WireLine) -> float:
    """What faults lead through a cable's return, each source at its most."""
    sums = Counter[tuple[str, str]]()
    for path in answer.current_paths:
        if path.conductor == f"{wire.line} return":
            sums[path.enters_from, path.fault_to] += path.lasting_current_a
    return max(sums.values(), default=0.0)


def flat_drop(asked: WireSizingRequest, size: SizeResult, check: Check) -> Counter[str]:
    """Drop of the chosen size at its own temperature."""
    found = voltage_drop(
        VoltageDropQuestion(
            current_a=asked.operating_current_a or 0.0,
            voltage_v=asked.voltage_v,
            length_m=asked.length_m,
            conductor_temperature_c=size.conductor_temperature_c,
            allowed_drop_fraction=asked.allowed_drop_fraction or 0.01,
            **_size(size),
        )
    )
    assert close(found.drop_v, check.demand), (found, check)
    assert found.verdict == check.verdict
    return Counter({"quick/voltage-drop": 1})


def _size(size: SizeResult) -> dict[str, Any]:
    if size.ladder == "awg":
        return {"awg": size.size.removesuffix(" AWG")}
    return {"area_mm2": size.area_mm2}


def flat_ampacity(asked: WireSizingRequest, size: SizeResult) -> Counter[str]:
    """Ampacity of the chosen size; the question knows one run on the roof's own skin."""
    run = asked.runs[0]
    if len(asked.runs) > 1 or run.height_above_roof_m:
        return Counter()
    found = wire_ampacity(
        WireAmpacityQuestion(
            circuit=asked.circuit,
            rules=asked.rules,
            insulation=asked.insulation,
            where=run.where,
            current_carrying_conductors=run.current_carrying_conductors,
            ambient_c=asked.ambient_c,
            terminal_temperature_c=asked.terminal_temperature_c,
            **_size(size),
        )
    )
    if asked.terminal_temperature_c is not None:
        assert close(found.ampacity_a, size.ampacity_a), (found, size)
        assert close(found.largest_fuse_a, size.largest_device_a), (found, size)
    assert close(found.table_a, size.runs[size.governing_run].base_a)
    return Counter({"quick/wire-ampacity": 1})


def flat_fuse(
    asked: WireSizingRequest, sized: WireSizingAnswer, checks: dict[str, Check]
) -> Counter[str]:
    """The fuse at the battery."""
    found = battery_fuse_for(
        BatteryFuseQuestion(
            current_a=sized.currents.maximum_a,
            max_voltage_v=asked.max_voltage_v or 0.0,
            fault_current_a=asked.fault_current_a,
            rules=asked.rules,
        )
    )
    assert close(found.minimum_a, checks["device-carries-load"].demand)
    if found.verdict == "pass":
        assert (found.fuse_a, found.family) == (sized.protection.rating_a, sized.protection.family)
        assert close(found.interrupting_rating_a, checks["device-interrupting"].capacity)
    failing = any(checks[code].verdict == "fail" for code in DEVICES)
    assert (found.verdict == "fail") == failing, (found, checks)
    return Counter({"quick/battery-fuse": 1})


def flat_size(asked: WireSizingRequest, sized: WireSizingAnswer) -> Counter[str]:
    """The whole wire; the question takes no operating current and no highest voltage."""
    plain = msgspec.structs.replace(asked, operating_current_a=None, max_voltage_v=None)
    whole = wire_sizing(plain)
    found = wire_size(
        WireSizeQuestion(
            controller_output_a=plain.controller_output_a,
            voltage_v=plain.voltage_v,
            length_m=plain.length_m,
            circuit=plain.circuit,
            rules=plain.rules,
            allowed_drop_fraction=plain.allowed_drop_fraction,
            insulation=plain.insulation,
            where=plain.runs[0].where,
            ambient_c=plain.ambient_c,
            terminal_temperature_c=plain.terminal_temperature_c,
            fault_current_a=plain.fault_current_a,
        )
    )
    own = whole.awg if whole.rules_ladder == "awg" else whole.metric
    assert found.verdict == whole.verdict
    assert found.size == (own.chosen.size if own.chosen else "none")
    if own.chosen is not None:
        assert close(found.ampacity_a, own.chosen.ampacity_a)
        assert close(found.drop_v, own.chosen.drop_v)
        assert close(sized.currents.maximum_a, whole.currents.maximum_a)
    return Counter({"quick/wire-size": 1})


def by_shaded_iv(request: FitOutRequest, answer: FitOutAnswer) -> Counter[str]:
    """What strings push into each other, by the calculation that knows no battery."""
    seen: Counter[str] = Counter()
    panels = {kind.name: kind.panel for kind in request.panel_types}
    kinds = {place.panel: place.panel_type for place in answer.roof.placements}
    for array in answer.configurations[0].arrays:
        controller = next(c for c in request.controllers if c.name == array.controller)
        told = {
            c.subject: c
            for c in answer.checks
            if c.code == "string-reverse-current" and (c.subject or "").startswith(array.controller)
        }
        if len(array.strings) == 1 or not controller.blocks_reverse_current:
            continue
        names = [name for string in array.strings for name in string.panels]
        shaded = shaded_iv(
            msgspec.convert(
                {
                    "panels": [{"name": n, "panel": panels[kinds[n]]} for n in names],
                    "wiring": {"strings": [string.panels for string in array.strings]},
                    "sun": {"irradiance_w_m2": 1000.0, "cell_temperature_c": 25.0},
                    "rules": request.rules,
                    "detail": "summary",
                },
                ShadedIvRequest,
                from_attributes=True,
            )
        )
        theirs = {c.subject: c for c in shaded.checks if c.code == "string-reverse-current"}
        for subject, check in told.items():
            other = theirs[(subject or "").removeprefix(f"{array.controller}, ")]
            if (check.verdict, other.verdict) == ("pass", "review"):
                # The build holds the fuses that the other asks for.
                assert all(s.fuse_a for s in array.strings if s.reverse_current_a > 0.0)
                settled = {"verdict": "pass", "remedy": "", "remedies": []}
                other = msgspec.structs.replace(other, utilisation_fraction=None, **settled)
            assert_same(check, other)
            seen["shaded-iv"] += 1
    return seen
