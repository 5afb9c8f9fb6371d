"""The build as a tree of sources and conductors, and whether each cable is protected."""

import math
from collections.abc import Iterator

import msgspec

from sunhitch.types.array import ControllerArray
from sunhitch.types.check import Check
from sunhitch.types.fitout import ProtectiveDevice
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.battery.settings import fault_current_a
from sunhitch_service.engine.circuit.devices import family_named
from sunhitch_service.engine.circuit.flows import Flows
from sunhitch_service.engine.circuit.protection import protected
from sunhitch_service.engine.circuit.rule_figures import STRONG_SUN, rule_figures
from sunhitch_service.engine.circuit.tree import (
    CircuitTree,
    CurrentSource,
    Element,
    End,
    conductor,
    controller,
    device,
)
from sunhitch_service.engine.rules.judging import at_most
from sunhitch_service.engine.rules.rule import rule
from sunhitch_service.engine.rules.strings import overcurrent_protection

from .build import Build
from .cables import SizedLine
from .protection import string_name

_BATTERY = "battery"


def protection_checks(build: Build, found: Flows) -> list[Check]:
    """Whether every cable is safe from what each source can push into each of its ends.

    Parameters
    ----------
    build : Build
        The build with its cables and fuses.
    found : dict of Flow
        Of its circuit.

    Returns
    -------
    list of Check
        One per cable, on its worse end; one per string fuse, on what it must break.
    """
    checks: list[Check] = []
    for line in build.lines:
        size = line.size
        judged = protected(found, line.line, size.ampacity_a, size.largest_device_a)
        checks.append(
            overcurrent_protection(
                judged.demand_a,
                judged.capacity_a,
                size.largest_device_a,
                line.start if judged.end == "start" else line.end,
                build.job.request.rules,
                line.name,
            )
        )
    return checks + [_breaks(build, fuse) for fuse in build.fuses if fuse.of_string]


def _breaks(build: Build, fuse: ProtectiveDevice) -> Check:
    """The rule on what a device must break, for the fuse of a string."""
    family = family_named("pv-cylindrical")
    told = rule(
        "device-interrupting",
        f"{fuse.device} ({fuse.protects})",
        rules=build.job.request.rules,
        group="pv",
        remedy="none",
        fault_a=fuse.minimum_interrupting_a,
    )
    breaks_a = family.interrupting_a(fuse.minimum_voltage_v)
    return at_most(told, fuse.minimum_interrupting_a, breaks_a)


def with_breaking_currents(fuses: list[ProtectiveDevice], found: Flows) -> list[ProtectiveDevice]:
    """The schedule with what each string fuse must break: the most that enters it, unopened."""
    ends: tuple[End, End] = ("start", "end")
    return [
        msgspec.structs.replace(
            fuse, minimum_interrupting_a=max(found[fuse.device, end].fault_a for end in ends)
        )
        if fuse.of_string
        else fuse
        for fuse in fuses
    ]


def circuit_of(build: Build) -> CircuitTree:
    """The positive conductors of a build: strings, cables, fuses, controllers, battery."""
    request = build.job.request
    battery = request.battery
    fault_a = fault_current_a(
        battery.short_circuit_current_a,
        battery.capacity_ah,
        "/battery/short_circuit_current_a",
        Assumptions(),
    )
    bank = CurrentSource(_BATTERY, _BATTERY, fault_a, fault_a, fault_a, limited=False)
    elements = [each for array in build.arrangement.arrays for each in _array(build, array)]
    strings = [each for array in build.arrangement.arrays for each in _strings(build, array)]
    return CircuitTree((*strings, bank), tuple(elements))


def _strings(build: Build, array: ControllerArray) -> Iterator[CurrentSource]:
    pushed = rule_figures(build.job.request.rules).pushed_factor
    for number, string in enumerate(array.strings, 1):
        name, strong_a = string_name(array.controller, number), STRONG_SUN * string.i_sc_a
        yield CurrentSource(name, name, strong_a, pushed * string.i_sc_a, strong_a, limited=True)


def _array(build: Build, array: ControllerArray) -> Iterator[Element]:
    """Everything between the strings of one controller and the battery."""
    name, settled = array.controller, build.job.controller(array.controller)
    join, panels, out = f"{name}, join", f"{name}, panels", f"{name}, battery"
    of = {(line.kind, line.strings): line for line in build.lines if line.controller == name}
    numbers = tuple(range(1, len(array.strings) + 1))
    for number in numbers:
        string = string_name(name, number)
        line = of.get(("pv-string", (number,)))
        lead = f"leads of {string}" if line is None else line.line
        yield from _fused(lead, string, join, _fuse(build.fuses, string))
    output, bank = of["pv-output", numbers], of["controller-to-battery", numbers]
    yield from _fused(output.line, join, panels, _fuse(build.fuses, output.line))
    yield controller(
        name,
        panels,
        out,
        math.inf if settled.kind == "pwm" else settled.max_output_current_a,
        0.0 if settled.blocks_reverse_current else math.inf,
    )
    yield from _fused(bank.line, out, _BATTERY, _fuse(build.fuses, bank.line))


def _fuse(fuses: list[ProtectiveDevice], name: str) -> ProtectiveDevice | None:
    return next((fuse for fuse in fuses if fuse.protects == name and fuse.rating_a > 0.0), None)


def _fused(name: str, start: str, end: str, fuse: ProtectiveDevice | None) -> Iterator[Element]:
    """A conductor with its fuse at its far end."""
    if fuse is None:
        yield conductor(name, start, end)
        return
    yield conductor(name, start, f"{name}, fuse")
    yield device(fuse.device, f"{name}, fuse", end, fuse.rating_a)


def handed_on(line: SizedLine, check: Check) -> bool:
    """Whether the array part, or the string's fuse, has told this check of a string already."""
    if check.code == "device-interrupting":
        return line.kind == "pv-string" and line.request.fuse_rating_a is not None
    return line.kind != "controller-to-battery" and check.code in (
        "string-reverse-current",
        "string-fuse-rating",
        "connector-current",
    )
