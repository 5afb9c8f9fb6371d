"""The build as a graph of sources and conductors: what makes each cable safe, and switches off."""

import math
from collections.abc import Iterable, Iterator
from dataclasses import replace

import msgspec

from sunhitch.texts import statement
from sunhitch.types.array import Arrangement, ControllerArray
from sunhitch.types.check import Check
from sunhitch.types.fitout import (
    PV_LINES,
    CurrentPath,
    FaultTo,
    LineKind,
    PartInWork,
    ProtectiveDevice,
)
from sunhitch.types.parts import part_key, rated
from sunhitch.types.wiring import ConductorSize, Gland
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.battery.settings import fault_current_a
from sunhitch_service.engine.circuit.devices import DeviceFamily, families, family_named, pv_fuse
from sunhitch_service.engine.circuit.flows import SourceShare, flows
from sunhitch_service.engine.circuit.protection import ConductorEnd, protection, with_devices
from sunhitch_service.engine.circuit.returns import BOND, CHASSIS, ReturnEnd, return_ends
from sunhitch_service.engine.circuit.rule_figures import STRONG_SUN
from sunhitch_service.engine.circuit.tree import (
    ENDS,
    FUSE_OF,
    CircuitTree,
    CurrentSource,
    Element,
    conductor,
    controller,
)
from sunhitch_service.engine.rules.controllers import fuse_at_controller
from sunhitch_service.engine.rules.rule import rule
from sunhitch_service.engine.rules.strings import overcurrent_protection
from sunhitch_service.engine.wiring.calculation import wire_sizing
from sunhitch_service.engine.wiring.citation import circuit_row, group_of
from sunhitch_service.engine.wiring.device import within_m
from sunhitch_service.engine.wiring.entry import sized_gland

from .array_parts import fuse_lot
from .bank import BATTERY, bank_elements, bank_sources, meeting_point, minus_at_chassis
from .cables import STRING_LINES, SizedLine
from .job import Job

"""Cables whose fuse, if any, is that of the string behind them."""
BOND_M = 1.0
"""Bond between battery minus and chassis. Common practice, no source."""
_LEAST_BOND_MM2 = 8.0
"""NFPA 70, 552.10: 8 AWG."""
_BOND_SUBJECT = statement("bond-with-ends", bond=BOND, battery=BATTERY)
_ROUNDING = 1.0 + 1e-9


class ProtectedBuild(msgspec.Struct, frozen=True):
    """Every cable with what can overload it and what opens.

    Parameters
    ----------
    lines : list of SizedLine
        Cables, thicker where what other circuits lead back through their returns asks for it.
    fuses : list of ProtectiveDevice
        Numbered F1, F2, …: those of strings in parallel first, then those of cables.
    paths : list of CurrentPath
        What each source can push into each end of each cable.
    checks : list of Check
        One per cable and for the bond, on its worse end; one per string fuse, on what it breaks.
    bond : SizedLine
        Size of the one conductor between the chassis and battery minus.
    """

    lines: list[SizedLine]
    fuses: list[ProtectiveDevice]
    paths: list[CurrentPath]
    checks: list[Check]
    bond: SizedLine


def protect(
    job: Job, arrangement: Arrangement, lines: list[SizedLine], rounds: int = 4
) -> ProtectedBuild:
    """Place fuses where a source could overload a cable, and judge every end.

    Parameters
    ----------
    job : Job
        The resolved request.
    arrangement : Arrangement
        How the panels are wired; it has decided on string fuses.
    lines : list of SizedLine
        Sized cables, with the smallest device that carries what each is for.
    rounds : int
        How often cables may grow; each growth makes the others' shares a little other.

    Returns
    -------
    ProtectedBuild
        Schedule, table of sources, and checks.
    """
    built, fuses = _fused(job, arrangement, lines)
    judged = protection(built)
    # The bond to the chassis is at least of the largest size at the battery.
    inside = (line for line in lines if line.kind not in PV_LINES)
    largest = max(inside, key=lambda line: line.size.area_mm2)
    bond = _least_bond(largest)
    back = _back(job, built, bond)
    if rounds and not any(each.state == "open" for each in judged):
        grown = [_bearing(line, line.line, back) for line in lines]
        if grown != lines:
            return protect(job, arrangement, grown, rounds - 1)
    thicker = _bearing(largest, BOND, back)
    if thicker is not largest:
        bond = _least_bond(thicker)
        back = _back(job, built, bond)
    checks = [
        *_checks(job, lines, bond, judged, back),
        *(_breaks(job, fuse) for fuse in fuses if fuse.of_string),
        *_at_controllers(job, lines, fuses),
    ]
    paths = [*_paths(lines, judged), *_back_paths(lines, bond, back)]
    return ProtectedBuild(lines, fuses, paths, checks, bond)


def _fused(
    job: Job, arrangement: Arrangement, lines: list[SizedLine]
) -> tuple[CircuitTree, list[ProtectiveDevice]]:
    """The circuit with a device wherever one is wanted, by the numbers of the schedule."""
    circuit = circuit_of(job, arrangement, lines)
    fused = {each.name for each in circuit.elements if each.kind == "device"}
    ratings = {
        line.line: line.answer.protection.rating_a
        for line in lines
        if line.kind not in STRING_LINES and line.answer.protection.rating_a
        if FUSE_OF + line.line not in fused
    }
    circuit = with_devices(circuit, ratings)
    fuses = _schedule(job, arrangement, lines, circuit)
    names = {FUSE_OF + of: fuse.device for of, fuse in fuses.items()}
    renamed = [
        msgspec.structs.replace(each, name=names.get(each.name, each.name))
        for each in circuit.elements
    ]
    return CircuitTree(circuit.sources, tuple(renamed)), list(fuses.values())


def _bearing(line: SizedLine, name: str, back: list[ReturnEnd]) -> SizedLine:
    """The same, thicker where other circuits lead more back through its return than it bears."""
    demands = [
        each.judged.demand_a
        for each in back
        if each.judged.conductor.name == name and each.judged.state == "open"
    ]
    if not demands or line.answer.at_hand:
        return line
    grown = _sized_anew(line, bears_a=max(demands))
    return grown if grown.own_ladder.chosen else line


def _least_bond(line: SizedLine) -> SizedLine:
    """A bond as large as a line, or of the least size that the rules' ladder has for bonds."""
    if line.size.area_mm2 >= _LEAST_BOND_MM2:
        return line
    awg = line.own_ladder.ladder == "awg"
    least = ConductorSize(awg="8") if awg else ConductorSize(area_mm2=10.0)
    return _sized_anew(line, conductor_at_hand=least)


def _sized_anew(line: SizedLine, **changes: object) -> SizedLine:
    """The same with another request."""
    asked = msgspec.structs.replace(line.request, **changes)
    return replace(line, sized=line.sized._replace(request=asked, answer=wire_sizing(asked)))


def _back(job: Job, circuit: CircuitTree, bond: SizedLine) -> list[ReturnEnd]:
    element = conductor(
        BOND,
        CHASSIS,
        BATTERY,
        **_sizes(bond) | {"return_ohm": _return_ohm(bond) / bond.length_m * BOND_M},
    )
    return return_ends(circuit, element, frozenset(minus_at_chassis(job.request)))


def _checks(
    job: Job,
    lines: list[SizedLine],
    bond: SizedLine,
    judged: list[ConductorEnd],
    back: list[ReturnEnd],
) -> Iterator[Check]:
    """One per cable and one for the bond, at the worst end in the worst fault."""
    named = [(line.line, line.name, line) for line in lines]
    ends: list[tuple[ConductorEnd, str]] = [(each, "") for each in judged]
    ends += [(each.judged, each.fault_to) for each in back]
    for conductor_name, subject, line in [*named, (BOND, _BOND_SUBJECT, bond)]:
        worse, fault_to = max(
            [each for each in ends if each[0].conductor.name == conductor_name],
            key=lambda each: (each[0].state == "open", each[0].used),
        )
        end = _end(line, worse)
        yield overcurrent_protection(
            worse.demand_a,
            worse.capacity_a,
            line.size.largest_device_a,
            statement("from-fault-to", end=end, fault_to=fault_to) if fault_to else end,
            job.request.rules,
            subject,
        )


def _end(line: SizedLine, judged: ConductorEnd) -> str:
    """Where a current enters, in words."""
    if judged.conductor.name == BOND:
        return statement("the-chassis") if judged.end == "start" else BATTERY
    return line.start if judged.end == "start" else line.end


def _breaks(job: Job, fuse: ProtectiveDevice) -> Check:
    """The rule on what a device must break, for the fuse of a string."""
    breaks_a = _family(fuse.rating_a).interrupting_a(fuse.minimum_voltage_v)
    return rule(
        "device-interrupting",
        statement("device-of", device=fuse.device, protects=fuse.protects),
        rules=job.request.rules,
        group="pv",
        remedy="none",
        fault_a=fuse.minimum_interrupting_a,
    ).at_most(fuse.minimum_interrupting_a, breaks_a)


def _at_controllers(
    job: Job, lines: list[SizedLine], fuses: list[ProtectiveDevice]
) -> Iterator[Check]:
    """Fuses of a controller's cables against the largest that its maker names."""
    for line in lines:
        given = next((c for c in job.request.controllers if c.name == line.controller), None)
        largest = {
            "pv-output": given and given.max_input_fuse_a,
            "controller-to-battery": given and given.max_battery_fuse_a,
        }.get(line.kind)
        for fuse in fuses:
            if largest and fuse.protects == line.line and fuse.rating_a > 0.0:
                subject = statement(
                    "device-of-controller",
                    device=fuse.device,
                    line=line.line,
                    controller=line.controller,
                )
                yield fuse_at_controller(subject, fuse.rating_a, largest, job.request.rules)


def _paths(lines: list[SizedLine], judged: list[ConductorEnd]) -> Iterator[CurrentPath]:
    """A row for each source, end and cable; of its piece up to a fuse only the bare end."""
    by_name = {line.line: line for line in lines}
    for each in judged:
        line = by_name[each.conductor.name.partition(" ")[0]]
        if each.state == "idle" or (each.conductor.name != line.line and each.state != "stub"):
            continue
        for share in each.flow.shares:
            yield _path(line, each, share, 1.0, each.conductor.name, "either")


def _back_paths(
    lines: list[SizedLine], bond: SizedLine, back: list[ReturnEnd]
) -> Iterator[CurrentPath]:
    """Per return and source the fault in which most lasts; those to the return come first."""
    by_name = {line.line: line for line in lines} | {BOND: bond}
    rows: dict[tuple[str, str], CurrentPath] = {}
    for each, fault_to in back:
        name = each.conductor.name
        shown = BOND if name == BOND else statement("return-of", line=name)
        for share, weight in each.flow.weighted:
            row = _path(by_name[name], each, share, weight, shown, fault_to)
            known = rows.get((shown, row.source))
            if known is None or (row.state == "open", row.lasting_current_a) > (
                known.state == "open",
                known.lasting_current_a * _ROUNDING,
            ):
                rows[shown, row.source] = row
    order: list[str] = [statement("return-of", line=name) for name in by_name]
    yield from sorted(rows.values(), key=lambda row: [*order, BOND].index(row.conductor))


def _path(
    line: SizedLine,
    judged: ConductorEnd,
    share: SourceShare,
    weight: float,
    shown: str,
    fault_to: FaultTo,
) -> CurrentPath:
    return CurrentPath(
        conductor=shown,
        source=share.source.name,
        enters_from=_end(line, judged),
        fault_to=fault_to,
        fault_current_a=weight * share.prospective_a,
        lasting_current_a=weight * share.lasting_a,
        state="proven" if judged.state == "idle" else judged.state,
        devices=[name for name in share.devices if name in judged.devices],
    )


def _schedule(
    job: Job, arrangement: Arrangement, lines: list[SizedLine], circuit: CircuitTree
) -> dict[str, ProtectiveDevice]:
    """Fuses by the conductor that they are in."""
    placed = {each.name for each in circuit.elements if each.kind == "device"}
    bare = {e.conductor.name for e in protection(circuit) if e.state == "open"}
    bus = any(each.kind == "bus-to-battery" for each in lines)
    fuses = dict(_string_fuses(job, arrangement, lines, circuit))
    fuses |= {
        line.line: _line_fuse(job, arrangement, line, bus)
        for line in lines
        if line.kind not in STRING_LINES and (FUSE_OF + line.line in placed or line.line in bare)
    }
    return {
        of: msgspec.structs.replace(fuse, device=f"F{number}")
        for number, (of, fuse) in enumerate(fuses.items(), start=1)
    }


def _string_fuses(
    job: Job, arrangement: Arrangement, lines: list[SizedLine], circuit: CircuitTree
) -> Iterator[tuple[str, ProtectiveDevice]]:
    for array in arrangement.arrays:
        output = _line(lines, "pv-output", array)
        for number, string in enumerate(array.strings, start=1):
            if string.fuse_a is not None and len(array.strings) > 1:
                own = _lead(lines, array, number)
                beside = [line.line for line in lines if line.line == own]
                name, place = string_name(array.controller, number), statement("where-strings-join")
                there = _fuse_there(job, array, number, string.fuse_a)
                yield (
                    own,
                    _string_fuse(circuit, own, name, output, string.fuse_a, there, beside, place),
                )
        plugged = array.removable
        if plugged is not None and plugged.fuse_a is not None:
            own = _line(lines, "removable-panel", array).line
            name, place = plugged.panels[0], statement("behind-its-socket")
            there = _fuse_there(job, array, None, plugged.fuse_a)
            yield own, _string_fuse(circuit, own, name, output, plugged.fuse_a, there, [own], place)


def _fuse_there(
    job: Job, array: ControllerArray, number: int | None, rating_a: float
) -> PartInWork | None:
    """What says that the fuse of a string, or without a number of a plugged one, is at hand."""
    at_hand = fuse_lot(job.states, array, number).at_hand
    return next((one for one in at_hand if one.rating_a == rating_a), None)


def _string_fuse(
    circuit: CircuitTree,
    own: str,
    protects: str,
    output: SizedLine,
    rating_a: float,
    there: PartInWork | None,
    beside: list[str],
    place: str,
) -> ProtectiveDevice:
    found = flows(circuit)
    given = there.family if there else None
    family = family_named(given) if given else _family(rating_a)
    return ProtectiveDevice(
        device="",
        protects=protects,
        also_protects=beside,
        of_string=True,
        at_hand=there is not None,
        kind=family.device,
        rating_a=rating_a,
        family=family.title,
        part_key=part_key("fuse", family.name, rated(rating_a, "a")),
        # Where it opens, all that meets at the controller stands across it.
        minimum_voltage_v=output.answer.protection.needed_voltage_v,
        # The most that enters it, no other device having opened.
        minimum_interrupting_a=max(found[FUSE_OF + own, end].prospective_a for end in ENDS),
        place=statement("in-its-positive-lead", place=place),
        pieces=1,
    )


def _family(rating_a: float) -> DeviceFamily:
    """Family of a string fuse of a rating [A]; above them all, that of the largest."""
    found = pv_fuse(rating_a, strict=False)
    if found is not None:
        return found[0]
    return max((one for one in families() if one.for_pv), key=lambda one: one.sizes_a[-1])


def string_name(controller: str, number: int) -> str:
    """How schedules call a string."""
    return statement("string-of", number=number, controller=controller)


def _place(line: SizedLine) -> str:
    """Where the stronger source of a cable at the bus bar is, and its fuse."""
    if line.kind in PV_LINES:
        return circuit_row("pv-output")["place"]
    strong = line.start if line.kind in ("starter-to-charger", "bus-to-load") else line.end
    return statement("in-positive-lead-at", place=strong)


def _line_fuse(job: Job, arrangement: Arrangement, line: SizedLine, bus: bool) -> ProtectiveDevice:
    device = line.answer.protection
    alone = line.kind == "pv-output" and len(line.strings) == 1
    there = line.has("fuse")
    if alone:
        array = next(one for one in arrangement.arrays if one.controller == line.controller)
        fuse_a = array.strings[0].fuse_a
        there |= fuse_a is not None and _fuse_there(job, array, 1, fuse_a) is not None
    chosen = next((option for option in device.options if option.family == device.family), None)
    return ProtectiveDevice(
        device="",
        protects=line.line,
        also_protects=[string_name(line.controller, 1)] if alone else [],
        of_string=False,
        at_hand=there,
        kind=chosen.device if chosen else "fuse",
        rating_a=device.rating_a or 0.0,
        family=chosen.title if chosen else statement("none-fits"),
        minimum_voltage_v=device.needed_voltage_v,
        minimum_interrupting_a=device.needed_interrupting_a,
        place=_place(line) if bus or alone else device.place,
        pieces=1,
        part_key=part_key("fuse", device.family or "none-fits", rated(device.rating_a or 0.0, "a")),
    )


def circuit_of(job: Job, arrangement: Arrangement, lines: list[SizedLine]) -> CircuitTree:
    """Strings with their fuses, cables, controllers and battery: the positive conductors."""
    battery = job.request.battery
    fault_a = fault_current_a(
        battery.short_circuit_current_a,
        battery.capacity_ah,
        "/battery/short_circuit_current_a",
        Assumptions(),
    )
    bank = CurrentSource(BATTERY, BATTERY, fault_a, limited=False)
    strings = [each for array in arrangement.arrays for each in _strings(array)]
    elements = [each for array in arrangement.arrays for each in _array(job, array, lines)]
    others: dict[tuple[LineKind, str], tuple[str, dict[str, float]]] = {
        (line.kind, line.controller): (line.line, _sizes(line)) for line in lines
    }
    elements += bank_elements(job.request, others)
    circuit = CircuitTree((*strings, bank, *bank_sources(job.request)), tuple(elements))
    for array in arrangement.arrays:
        for number, string in enumerate(array.strings, start=1):
            if string.fuse_a is not None:
                circuit = circuit.with_device(_lead(lines, array, number), "end", string.fuse_a)
        if array.removable is not None and array.removable.fuse_a is not None:
            own = _line(lines, "removable-panel", array)
            circuit = circuit.with_device(own.line, "end", array.removable.fuse_a)
    return circuit


def _line(lines: list[SizedLine], kind: LineKind, array: ControllerArray) -> SizedLine:
    """The one cable of a kind of a controller."""
    own = kind, array.controller
    return next(line for line in lines if (line.kind, line.controller) == own)


def _strings(array: ControllerArray) -> Iterator[CurrentSource]:
    named = [
        (string_name(array.controller, number), string)
        for number, string in enumerate(array.strings, 1)
    ]
    plugged = array.removable
    for name, string in [*named, *([(plugged.panels[0], plugged)] if plugged else [])]:
        yield CurrentSource(name, name, STRONG_SUN * string.i_sc_a, limited=True)


def _lead(lines: list[SizedLine], array: ControllerArray, number: int) -> str:
    """What a string's fuse sits in: its own cable, or the leads of its panels.

    A string alone has no other place than the cable to the controller.
    """
    kind = "pv-output" if len(array.strings) == 1 else "pv-string"
    own = (
        line.line
        for line in lines
        if (line.kind, line.controller, line.strings) == (kind, array.controller, (number,))
    )
    return next(own, statement("leads-of", string=string_name(array.controller, number)))


def _array(job: Job, array: ControllerArray, lines: list[SizedLine]) -> Iterator[Element]:
    """Everything between the strings of one controller and the battery."""
    name, settled = array.controller, job.controller(array.controller)
    join, panels, out = f"{name}, join", f"{name}, panels", f"{name}, battery"
    sized = {line.line: line for line in lines}
    alone = len(array.strings) == 1
    for number in range(1, len(array.strings) + 1):
        string = string_name(name, number)
        lead = statement("leads-of", string=string) if alone else _lead(lines, array, number)
        yield _cable(lead, string, join, sized.get(lead))
    output = _line(lines, "pv-output", array)
    bank = _line(lines, "controller-to-battery", array)
    yield _cable(output.line, join, panels, output)
    if array.removable is not None:
        own = _line(lines, "removable-panel", array)
        yield _cable(own.line, array.removable.panels[0], panels, own)
    yield controller(
        name,
        panels,
        out,
        math.inf if settled.kind == "pwm" else settled.max_output_current_a,
        0.0 if settled.blocks_reverse_current else math.inf,
    )
    yield _cable(bank.line, out, meeting_point(job.request), bank)


def _cable(name: str, start: str, end: str, line: SizedLine | None) -> Element:
    return conductor(name, start, end, **({} if line is None else _sizes(line)))


def _return_ohm(line: SizedLine) -> float:
    return line.size.loop_resistance_ohm / 2.0


def _sizes(line: SizedLine) -> dict[str, float]:
    return {
        "return_ohm": _return_ohm(line),
        "ampacity_a": line.size.ampacity_a,
        "largest_device_a": line.size.largest_device_a,
        "length_m": line.length_m,
        "stub_m": within_m(line.request.rules, group_of(line.request.circuit)),
    }


def glands(lines: Iterable[SizedLine]) -> list[Gland]:
    """Glands of every cable entry: of the size that it is built with, else that seals the cable."""
    found: list[Gland] = []
    for line in lines:
        at_hand = line.request.entry.gland_at_hand if line.request.entry else None
        own = line.answer.entry.glands if line.answer.entry else []
        found += [one if at_hand is None else sized_gland(at_hand, one.cables_mm) for one in own]
    return found
