"""Random builds: no conductor without protection or proof, and one set of devices everywhere.

`python tests/agreement/random_builds.py --count 10000 --seed 1` tries as many as wanted; what a
count stands for is told at its end.
"""

import argparse
import math
import random
import re
from collections import Counter
from typing import Any

import msgspec
from printed_builds import build as array_build

from sunhitch.types.fitout import FitOutAnswer, FitOutRequest
from sunhitch_service.drawing.wiring_diagram import fit_out_wiring_diagram
from sunhitch_service.engine.circuit.returns import BOND
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.fitout.calculation import fit_out

_PARTS = re.compile(r'data-part="([^"]*)"')
_LABEL = re.compile(r">(F\d+) (?:([\d.]+) A|none fits)<")


def build(rng: random.Random) -> dict[str, Any]:
    """A random array with chargers, loads, a removable panel, and things at hand."""
    body = array_build(rng)
    names = [controller["name"] for controller in body["controllers"]]
    body["chargers"] = [_charger(rng, number) for number in range(rng.choice([0, 0, 1, 2]))]
    body["loads"] = [_load(rng, number) for number in range(rng.choice([0, 0, 1, 3]))]
    if rng.random() < 0.3:
        plate = body["panel_types"][0]["panel"]["electrical"]
        body["removable"] = [
            {
                "name": "suitcase",
                "controller": rng.choice(names),
                "electrical": plate,
                "in_series": rng.choice([1, 2]),
                "lead_m": round(rng.uniform(1.0, 10.0), 1),
            }
        ]
    body["parts"] = []
    if rng.random() < 0.2:
        size = {"awg": rng.choice(["14", "10", "6"])}
        body["parts"].append({"part": "cable", "state": "fixed", "size": size})
    if rng.random() < 0.2:
        rating_a = rng.choice([6.0, 15.0, 37.0])
        string = {"part": "fuse", "line": "pv-string", "state": "owned"}
        body["parts"].append(string | {"rating_a": rating_a})
    if rng.random() < 0.2:
        rating_a = rng.choice([30.0, 37.0, 60.0, 100.0])
        battery = {"part": "fuse", "line": "controller-to-battery", "state": "fixed"}
        body["parts"].append(battery | {"rating_a": rating_a})
    for controller in body["controllers"]:
        limits = {"max_input_fuse_a": [15.0, 30.0], "max_battery_fuse_a": [30.0, 60.0]}
        controller |= {name: rng.choice([None, *sizes]) for name, sizes in limits.items()}
    if rng.random() < 0.3:
        panels = [place["name"] for place in body["placements"]]
        strings = [panels] if rng.random() < 0.4 else [[name] for name in panels]
        body["drawn"] = [{"controller": names[0], "strings": strings}]
    return body


def _charger(rng: random.Random, number: int) -> dict[str, Any]:
    alternator = rng.random() < 0.5
    return {
        "name": f"charger-{number}",
        "kind": "alternator" if alternator else "shore",
        "output_a": rng.choice([10.0, 30.0, 60.0]),
        "to_bus_m": round(rng.uniform(0.2, 4.0), 1),
        "from_starter_m": round(rng.uniform(1.0, 8.0), 1) if alternator else None,
        "starter_short_circuit_a": rng.choice([None, 1500.0]),
    }


def _load(rng: random.Random, number: int) -> dict[str, Any]:
    power = rng.choice([None, 300.0, 2000.0])
    return {
        "name": f"load-{number}",
        "power_w": power,
        "current_a": None if power else rng.choice([1.0, 8.0, 60.0]),
        "to_bus_m": round(rng.uniform(0.2, 6.0), 1),
        "continuous": rng.random() < 0.5,
    }


def every_conductor_is_safe_or_fails(answer: FitOutAnswer) -> Counter[str]:
    """Each wire that a source can feed has its rows, and an open end its failing check."""
    judged = {
        (check.subject or "").partition(" (")[0]: check.verdict
        for check in answer.checks
        if check.code == "overcurrent-protection"
    }
    open_wires = {wire for wire, verdict in judged.items() if verdict == "fail"}
    assert set(judged) == {*(wire.line for wire in answer.wire_schedule), BOND}
    rated = {device.device: device.rating_a for device in answer.protection_schedule}
    ampacity = {wire.line: wire.ampacity_a for wire in answer.wire_schedule}
    largest = {wire.line: wire.largest_device_a for wire in answer.wire_schedule}
    # The schedule does not tell what the bond bears; its check and its rows do.
    ampacity[BOND] = largest[BOND] = math.inf
    fed = set()
    # A limited source needs no device; whatever else enters the same end has one.
    opens = {(path.conductor, path.enters_from) for path in answer.current_paths if path.devices}
    for path in answer.current_paths:
        wire = path.conductor if path.conductor == BOND else path.conductor.partition(" ")[0]
        fed.add(path.conductor.partition(" up to")[0])
        assert set(path.devices) <= set(rated)
        if path.state == "open":
            assert wire in open_wires, path
        if path.state == "protected":
            # Of a return each source is told in its own worst fault, maybe without the others.
            assert path.fault_to != "either" or (path.conductor, path.enters_from) in opens, path
            assert path.lasting_current_a <= max(ampacity[wire], largest[wire]) * (1 + 1e-9), path
        if path.state == "proven":
            assert path.lasting_current_a <= ampacity[wire] * (1 + 1e-9), path
    # Every wire and every return has a source at one end at least.
    lines = {wire.line for wire in answer.wire_schedule}
    assert fed == {*lines, *(f"{line} return" for line in lines), BOND}
    return Counter(f"{path.fault_to}, {path.state}" for path in answer.current_paths)


def one_set_of_devices(request: FitOutRequest, answer: FitOutAnswer) -> Counter[str]:
    """Schedule, diagram, parts list, table of sources and checks name the same fuses and wires."""
    devices = {device.device: device for device in answer.protection_schedule}
    drawing = fit_out_wiring_diagram(request, answer)
    labels = {(name, rating) for name, rating in _LABEL.findall(drawing)}
    assert labels == {
        (name, f"{device.rating_a:g}" if device.rating_a else "")
        for name, device in devices.items()
    }
    bought = {name for part in answer.parts_list for name in part.needed_for}
    assert set(devices) <= bought
    keys = [part.key for part in answer.parts_list]
    assert len(keys) == len(set(keys))
    drawn = {key for keys in _PARTS.findall(drawing) for key in keys.split(" ")}
    scheduled = {key for wire in answer.wire_schedule for key in wire.part_keys}
    scheduled |= {device.part_key for device in devices.values()}
    assert scheduled <= drawn <= set(keys)
    rest = [*answer.disconnects, *answer.glands, *answer.configurations[0].harness]
    assert {one.part_key for one in rest} <= {"", *keys}
    wires = {wire.line for wire in answer.wire_schedule}
    heat_w = sum(wire.loss_w for wire in answer.wire_schedule)
    assert f"{len(wires)} cables, {heat_w:.1f} W lost" in " ".join(answer.summary)
    assert wires == set(re.findall(r">(W\d+)  ", drawing))
    cabled = {
        line
        for part in answer.parts_list
        if part.kind.endswith("-cable")
        for line in part.needed_for
    }
    assert wires == cabled
    protected = {name for d in devices.values() for name in (d.protects, *d.also_protects)}
    assert {name for name in protected if re.fullmatch(r"W\d+", name)} <= wires
    return Counter({"fuses": len(devices), "wires": len(wires)})


def fuses_at_controllers_are_judged(request: FitOutRequest, answer: FitOutAnswer) -> Counter[str]:
    """Each fuse of a controller's cable is held to what its maker allows, and no other."""
    told = {
        (check.subject or "").partition(" ")[0]: check.verdict
        for check in answer.checks
        if check.code == "controller-fuse"
    }
    wires = {wire.line: wire for wire in answer.wire_schedule}
    expected: dict[str, str] = {}
    for controller in request.controllers:
        for device in answer.protection_schedule:
            wire = wires.get(device.protects)
            ends = {
                "pv-output": (wire and wire.end, controller.max_input_fuse_a),
                "controller-to-battery": (wire and wire.start, controller.max_battery_fuse_a),
            }
            name, largest = ends.get(wire.kind if wire else "", (None, None))
            if name == controller.name and largest and device.rating_a > 0.0:
                expected[device.device] = "pass" if device.rating_a <= largest else "fail"
    assert told == expected
    return Counter(f"fuse at a controller, {verdict}" for verdict in told.values())


def run(count: int, seed: int) -> Counter[str]:
    """Try random builds; how often each state, kind of wire and verdict was met."""
    rng, seen = random.Random(seed), Counter[str]()
    for _ in range(count):
        request = msgspec.convert(build(rng), FitOutRequest)
        try:
            answer = fit_out(request)
        except ContradictionError:
            seen["refused"] += 1
            continue
        seen += every_conductor_is_safe_or_fails(answer)
        seen += one_set_of_devices(request, answer)
        seen += fuses_at_controllers_are_judged(request, answer)
        seen += Counter({answer.verdict: 1, **Counter(w.kind for w in answer.wire_schedule)})
    return seen


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    print(run(options.count, options.seed))
