"""A build rebuilt from its printed schedules and parts list alone, and judged again.

`python tests/agreement/printed_builds.py --count 300 --seed 1` does as many as wanted.
"""

import argparse
import json
import math
import random
import re
from collections import Counter
from importlib import resources
from typing import Any

import msgspec

from sunhitch.types.check import VERDICTS, Check
from sunhitch.types.fitout import FitOutAnswer, FitOutRequest, ProtectiveDevice, WireLine
from sunhitch.types.parts import Part
from sunhitch_service.engine.circuit.protection import ConductorEnd, protection
from sunhitch_service.engine.circuit.returns import BOND, CHASSIS, ReturnEnd, return_ends
from sunhitch_service.engine.circuit.string_fuse import string_fuse
from sunhitch_service.engine.circuit.tree import (
    CircuitTree,
    CurrentSource,
    Element,
    conductor,
    controller,
    device,
)
from sunhitch_service.engine.fitout.calculation import fit_out
from sunhitch_service.engine.rules.strings import reverse_current_check
from sunhitch_service.engine.rules.weakest import weakest_rating

EXAMPLE = json.loads(resources.files("sunhitch").joinpath("examples/fit-out.json").read_text())
STRING = re.compile(r"string (\d+) \(([^)]*)\)")


def build(rng: random.Random) -> dict[str, Any]:
    """The shipped example with other panels, controller, battery, plugs, lengths and rules."""
    body: dict[str, Any] = json.loads(json.dumps(EXAMPLE))
    first = body["panel_types"][0]
    kinds = []
    for number in range(rng.randint(1, 2)):
        kind = json.loads(json.dumps(first))
        i_sc = round(rng.uniform(2.0, 13.0), 2)
        i_mp = round(0.93 * i_sc, 3)
        plate = kind["panel"]["electrical"]
        kind["name"] = f"kind-{number}"
        plate |= {"i_sc_a": i_sc, "i_mp_a": i_mp, "p_mp_w": plate["v_mp_v"] * i_mp}
        plate["max_series_fuse_a"] = rng.choice([None, 10.0, 15.0, 20.0, 25.0])
        kinds.append(kind)
    places = body["placements"][: rng.randint(len(kinds), len(body["placements"]))]
    for number, place in enumerate(places):
        place["panel_type"] = kinds[number % len(kinds)]["name"]
    used = {place["panel_type"] for place in places}
    body["panel_types"] = [kind for kind in kinds if kind["name"] in used]
    body["placements"] = places
    body["light"] = []
    body["leave_out_at_most"] = rng.choice([0, 0, 1, None])
    body["rules"] = rng.choice(["nec-2017", "nec-2020", "nec-2023", "iec"])
    kind = rng.choice(["mppt", "pwm"])
    body["controllers"] = [
        {
            "name": f"controller-{number}",
            "kind": kind,
            "max_input_voltage_v": rng.choice([30.0, 60.0, 100.0]),
            "max_output_current_a": rng.choice([20.0, 30.0, 50.0]),
            "max_input_short_circuit_a": 60.0,
            "terminal_temperature_c": 75.0,
            "blocks_reverse_current": rng.random() < 0.6,
        }
        for number in range(1, rng.randint(1, 2) + 1)
    ]
    body["battery"]["short_circuit_current_a"] = rng.choice([None, 900.0, 4000.0])
    body["cables"] = {
        "entry_to_controller_m": round(rng.uniform(0.5, 6.0), 1),
        "controller_to_battery_m": round(rng.uniform(0.1, 3.0), 1),
    }
    body["connectors"] = {"plug_current_a": rng.choice([None, 30.0, 60.0])}
    return body


class Paper:
    """What stands on the printed lists, read back."""

    def __init__(self, answer: FitOutAnswer) -> None:
        self.wires = answer.wire_schedule
        self.devices = answer.protection_schedule
        self.parts = answer.parts_list
        self.panels: dict[str, tuple[float, float | None]] = {}
        for part in (part for part in self.parts if part.group == "panels"):
            assert part.short_circuit_a
            for name in part.needed_for:
                self.panels[name] = part.short_circuit_a, part.maximum_fuse_a

    @property
    def metric(self) -> bool:
        """Whether the rules are those that count in square millimetres."""
        return self.wires[0].drop_of.endswith("mm²")

    def lines(self, kind: str) -> list[WireLine]:
        """Cables of one kind."""
        return [wire for wire in self.wires if wire.kind == kind]

    def strings(self, output: WireLine) -> dict[int, list[str]]:
        """Strings that a cable to a controller carries, with their panels."""
        found = STRING.findall(output.start)
        assert found, output.start
        return {int(number): names.split(" + ") for number, names in found}

    def string_line(self, strings: dict[int, list[str]], number: int) -> WireLine | None:
        """Own cable of a string."""
        words = f"string {number} ({' + '.join(strings[number])})"
        return next((wire for wire in self.lines("pv-string") if wire.start == words), None)

    def device(self, name: str) -> ProtectiveDevice | None:
        """What the schedule gives a cable or string."""
        named = [d for d in self.devices if d.protects == name and d.rating_a > 0.0]
        return named[0] if named else None

    def controller(self, name: str) -> Part:
        """A controller on the parts list."""
        return next(p for p in self.parts if (p.kind, p.given_name) == ("controller", name))

    def battery_fault_a(self) -> float:
        """What the battery's fuse must break."""
        battery = {wire.line for wire in self.lines("controller-to-battery")}
        return max(d.minimum_interrupting_a for d in self.devices if d.protects in battery)


def i_sc_a(paper: Paper, names: list[str]) -> float:
    """Strongest panel of a string."""
    return max(paper.panels[name][0] for name in names)


def printed_sizes(wire: WireLine) -> dict[str, float]:
    """What a conductor of the schedule bears."""
    return {"ampacity_a": wire.ampacity_a, "largest_device_a": wire.largest_device_a}


def in_line(paper: Paper, name: str, start: str, end: str, fuse: str) -> list[Element]:
    """A conductor with its fuse at its far end."""
    found, wires = paper.device(fuse), (wire for wire in paper.wires if wire.line == name)
    sized = next(wires, None)
    # Without loops a current finds back by one way, whatever its resistance.
    sizes = printed_sizes(sized) | {"return_ohm": 1.0} if sized else {}
    if found is None:
        return [conductor(name, start, end, **sizes)]
    between = f"{name} before {found.device}"
    return [
        conductor(name, start, between, **sizes),
        device(found.device, between, end, found.rating_a),
    ]


def rebuild(paper: Paper) -> CircuitTree:
    """The tree of a build, from paper."""
    fault = paper.battery_fault_a()
    sources = [CurrentSource("battery", "battery", fault, limited=False)]
    elements: list[Element] = []
    for output in paper.lines("pv-output"):
        name, strings = output.end, paper.strings(output)
        bought = paper.controller(name)
        assert bought.rating_a
        join, panels, out = f"{name} join", f"{name} in", f"{name} out"
        for number, names in strings.items():
            string = f"string {number} of {name}"
            i_sc = i_sc_a(paper, names)
            sources.append(CurrentSource(string, string, 1.25 * i_sc, True))
            own = paper.string_line(strings, number)
            lead = f"leads of {string}" if own is None else own.line
            elements += in_line(paper, lead, string, join, string)
        elements += in_line(paper, output.line, join, panels, output.line)
        elements.append(
            controller(
                name,
                panels,
                out,
                bought.rating_a if bought.family == "MPPT" else math.inf,
                0.0 if bought.blocks_reverse_current else math.inf,
            )
        )
        battery = next(w for w in paper.lines("controller-to-battery") if w.start == name)
        elements += in_line(paper, battery.line, out, "battery", battery.line)
    return CircuitTree(tuple(sources), tuple(elements))


def compare(body: dict[str, Any]) -> Counter[str]:
    """Judge a printed build again and hold it to the answer's own checks.

    Raises
    ------
    AssertionError
        Where paper and answer disagree.
    """
    answer = fit_out(msgspec.convert(body, FitOutRequest))
    paper = Paper(answer)
    batteries = {wire.line for wire in paper.lines("controller-to-battery")}
    assert batteries <= {device.protects for device in paper.devices}
    seen = _cables(answer, paper) + _strings(answer, paper) + _lists(answer, paper)
    seen[f"verdict {answer.verdict}"] += 1
    return seen


def _checks(answer: FitOutAnswer, code: str) -> list[Check]:
    return [check for check in answer.checks if check.code == code]


def _cables(answer: FitOutAnswer, paper: Paper) -> Counter[str]:
    seen = Counter[str]()
    told = {c.subject.split(" (")[0]: c for c in _checks(answer, "overcurrent-protection")}
    assert set(told) == {*(wire.line for wire in paper.wires), BOND}
    circuit, states = rebuild(paper), dict[str, list[ConductorEnd]]()
    for end in protection(circuit):
        states.setdefault(end.conductor.name, []).append(end)
    for line, ends in states.items():
        _paths(answer, line, ends)
    inside = paper.lines("controller-to-battery")
    bonded = max(inside, key=lambda wire: (wire.awg_area_mm2, wire.metric_mm2)[paper.metric])
    (bonding,) = [part for part in paper.parts if part.name.startswith("Bonding conductor")]
    bears = dict.fromkeys(("ampacity_a", "largest_device_a"), told[BOND].capacity or 0.0)
    if bonding.size == bonded.drop_of:
        bears = printed_sizes(bonded)
    bond = conductor(BOND, CHASSIS, "battery", return_ohm=1.0, **bears)
    back = return_ends(circuit, bond)
    _back_paths(answer, back)
    for end, _ in back:
        states.setdefault(end.conductor.name, []).append(end)
    for line, check in told.items():
        judged = max(states[line], key=lambda end: (end.state == "open", end.used))
        assert (judged.state == "open") == (check.verdict == "fail"), (judged, check)
        # What a bond of another size bears stands on no list: any of its ends may be the worst.
        ends = states[line] if line == BOND and bonding.size != bonded.drop_of else [judged]
        assert any(math.isclose(end.demand_a, check.demand or 0.0, rel_tol=1e-9) for end in ends)
        seen[judged.state] += 1
    return seen


def _back_paths(answer: FitOutAnswer, back: list[ReturnEnd]) -> None:
    """Of every return and the bond, what lasts most from each source in any fault."""
    rebuilt: dict[tuple[str, str], float] = {}
    for end, _ in back:
        name = end.conductor.name
        shown = name if name == BOND else f"{name} return"
        for share in end.flow.shares:
            key = shown, share.source.name
            rebuilt[key] = max(rebuilt.get(key, 0.0), share.lasting_a)
    printed = {
        (path.conductor, path.source): path.lasting_current_a
        for path in answer.current_paths
        if path.fault_to != "either" and path.state != "open"
    }
    assert rebuilt.keys() >= printed.keys()
    for key, lasting in printed.items():
        assert math.isclose(lasting, rebuilt[key], rel_tol=1e-9), (key, lasting, rebuilt[key])


def _paths(answer: FitOutAnswer, line: str, ends: list[ConductorEnd]) -> None:
    """The table of sources tells every end as it is judged, with devices of the schedule."""
    printed = Counter(
        (path.source, path.state, round(path.lasting_current_a, 9), *path.devices)
        for path in answer.current_paths
        if path.conductor == line
    )
    rebuilt = Counter(
        (
            *(share.source.name, end.state, round(share.lasting_a, 9)),
            *(name for name in share.devices if name in end.devices),
        )
        for end in ends
        for share in end.flow.shares
    )
    assert printed == rebuilt, (printed, rebuilt)


def _strings(answer: FitOutAnswer, paper: Paper) -> Counter[str]:
    seen = Counter[str]()
    told = _checks(answer, "string-reverse-current")
    rules = "iec" if paper.metric else "nec-2023"
    arrays = {array.controller: array for array in answer.configurations[0].arrays}
    for output in paper.lines("pv-output"):
        name, strings = output.end, paper.strings(output)
        blocks = paper.controller(name).blocks_reverse_current
        back = 0.0 if blocks else paper.battery_fault_a()
        verdicts = []
        total = sum(i_sc_a(paper, names) for names in strings.values())
        for number, names in strings.items():
            own = i_sc_a(paper, names)
            others = 0.0 if len(strings) == 1 else total - own
            series_fuse = weakest_rating(paper.panels[panel][1] for panel in names)
            fuse = string_fuse(own, others, series_fuse, rules, back)
            printed = paper.device(f"string {number} of {name}")
            if len(strings) == 1:
                printed = paper.device(output.line)
            rating = printed.rating_a if printed else None
            assert rating == fuse.rating_a or fuse.rating_a is None, (rating, fuse)
            string = arrays[name].strings[number - 1]
            assert math.isclose(string.reverse_current_a, fuse.reverse_a, abs_tol=1e-9)
            verdicts.append(reverse_current_check(fuse, rules).verdict)
        worst, fed = max(verdicts, key=VERDICTS.index), arrays[name].strings
        if worst == "review" and all(s.fuse_a for s in fed if s.reverse_current_a > 0.0):
            # The fuses that it asks for are on the list already.
            worst = "pass"
        own_checks = [c.verdict for c in told if c.subject.split(",")[0] == name]
        assert (own_checks or ["pass"])[0] == worst
        seen[f"strings {(own_checks or ['alone'])[0]}"] += 1
    return seen


def _lists(answer: FitOutAnswer, paper: Paper) -> Counter[str]:
    """A panel is wired or a check says why not; fuses, sizes and plugs are on the parts list."""
    outputs = paper.lines("pv-output")
    wired = {n for out in outputs for names in paper.strings(out).values() for n in names}
    unused = set(paper.panels) - wired
    remedies = [c.remedy for c in _checks(answer, "panels-wired") if c.verdict != "pass"]
    assert all(any(name in remedy for remedy in remedies) for name in unused), unused
    bought = Counter[str]()
    for part in paper.parts:
        bought[part.name] += int(part.amount) if part.unit == "piece" else 0
    for fuse in (one for one in paper.devices if one.rating_a > 0.0):
        named = [p for p in paper.parts if p.kind == "fuse" and fuse.device in p.needed_for]
        assert [(p.kind, p.rating_a, p.key) for p in named] == [
            ("fuse", fuse.rating_a, fuse.part_key)
        ]
    for wire in paper.wires:
        cables = [p for p in paper.parts if p.unit == "m" and wire.line in p.needed_for]
        assert [p.key for p in cables] == wire.part_keys
        sizes = [p.name for p in cables]
        assert len(sizes) == 2, (wire.line, sizes)
        shown = (wire.awg, f"{wire.metric_mm2:g} mm²")[paper.metric] or "(no single"
        assert all(shown in size or "no single" in size for size in sizes), (wire, sizes)
    rating = next(p.minimum_current_a for p in paper.parts if p.kind == "plug-pair")
    assert rating
    roof = [wire for wire in paper.wires if wire.kind != "controller-to-battery"]
    assert rating >= max(wire.maximum_current_a for wire in roof) - 1e-9
    return Counter({"unused": len(unused), "panels": len(paper.panels)})


def run(count: int, seed: int) -> Counter[str]:
    """Compare randomly generated builds; how often each state and verdict was met."""
    rng, seen = random.Random(seed), Counter[str]()
    for _ in range(count):
        seen += compare(build(rng))
    return seen


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    print(run(options.count, options.seed))
