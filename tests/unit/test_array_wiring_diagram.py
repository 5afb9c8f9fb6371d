"""The wiring diagram shows what the arrangement says, inside its frame."""

from itertools import chain, product
from typing import Any
from xml.etree.ElementTree import Element, fromstring

import msgspec
import pytest
from array_builders import controller, panels, plate, request

from sunhitch.types.array import Arrangement, ArrayConfigurationRequest
from sunhitch.types.fitout import ProtectiveDevice, WireLine
from sunhitch_service.drawing.wiring_diagram import array_wiring_diagram, wiring_diagram
from sunhitch_service.drawing.wiring_labels import DiagramContent
from sunhitch_service.engine.array.configuration import array_configuration

SVG = "{http://www.w3.org/2000/svg}"


def _drawn(asked: ArrayConfigurationRequest) -> tuple[Arrangement, Element]:
    answer = array_configuration(asked)
    return answer.arrangements[0], fromstring(array_wiring_diagram(asked, answer))  # noqa: S314


def _words(picture: Element) -> list[str]:
    return [text.text or "" for text in picture.iter(f"{SVG}text")]


def _joints(picture: Element) -> int:
    return len([c for c in picture.iter(f"{SVG}circle") if float(c.get("r", "0")) > 5.0])


@pytest.mark.parametrize("count", [2, 4, 6])
def test_every_panel_is_drawn_once_and_named(count: int) -> None:
    """As many panel boxes as panels; every name stands over one."""
    one, picture = _drawn(request([panels("sheet", count, plate())]))
    names = [name for array in one.arrays for string in array.strings for name in string.panels]
    boxes = [r for r in picture.iter(f"{SVG}rect") if r.get("data-kind") == "cells"]
    assert len(boxes) == count
    assert sorted(w for w in _words(picture) if w.startswith("sheet-")) == sorted(names)


def test_strings_joined_two_by_two_have_a_joint_less_than_strings_per_conductor() -> None:
    """Two strings: one joint in plus, one in minus."""
    one, picture = _drawn(request([panels("sheet", 4, plate())]))
    assert [len(s.panels) for s in one.arrays[0].strings] == [2, 2]
    assert _joints(picture) == 2
    assert _words(picture).count("Y, 16.0 A") == 2


def test_two_controllers_meet_at_the_battery() -> None:
    """Two boxes, each with both its disconnects, joined towards the battery."""
    feeds = [controller("left", max_input_voltage_v=60.0), controller("right")]
    wide = panels("wide", 2, plate())
    tall = panels("tall", 3, plate(v_oc_v=30.0, v_mp_v=25.0, p_mp_w=100.0, i_mp_a=4.0, i_sc_a=4.3))
    one, picture = _drawn(request([wide, tall], controllers=feeds))
    assert len(one.arrays) == 2
    words = _words(picture)
    assert words.count("PV disconnect") == 2
    assert words.count("battery disconnect") == 2
    assert {"left", "right"} <= set(words)


def test_string_fuses_stand_in_their_strings() -> None:
    """Three strings behind a 15 A rating get 10 A each."""
    asked = request([panels("sheet", 3, plate())], connectors={"joining": "n-to-one"})
    answer = array_configuration(asked)
    one = next(a for a in answer.arrangements if len(a.arrays[0].strings) == 3)
    text = wiring_diagram(DiagramContent("Van", one, asked.controllers, asked.battery, [], [], []))
    words = _words(fromstring(text.svg))  # noqa: S314
    assert {"F1 10 A", "F2 10 A", "F3 10 A"} <= set(words)
    assert words.count("3 in 1, 24.0 A") == 2


def _wire(line: str, kind: str, start: str, end: str, awg: str, area: float) -> WireLine:
    body: dict[str, Any] = dict.fromkeys(WireLine.__struct_fields__, 0.0) | {
        "line": line,
        "kind": kind,
        "start": start,
        "end": end,
        "conductors": 2,
        "length_m": 4.3,
        "awg": awg,
        "metric_mm2": area,
        "governing": "voltage-drop",
        "drop_of": awg,
        "at_hand": "",
        "device": "",
        "part_keys": [],
        "verdict": "pass",
    }
    return msgspec.convert(body, WireLine)


def test_sizes_lengths_and_fuses_of_the_schedule_stand_on_the_lines() -> None:
    """What the wire schedule says is what the diagram shows."""
    asked = request([panels("sheet", 2, plate())])
    one = array_configuration(asked).arrangements[0]
    name = asked.controllers[0].name
    wires = [
        _wire("W1", "pv-output", "sheet-1 + sheet-2", name, "12 AWG", 4.0),
        _wire("W2", "controller-to-battery", name, "battery", "6 AWG", 16.0),
    ]
    fuse = ProtectiveDevice(
        device="F1",
        protects="W2",
        also_protects=[],
        of_string=False,
        kind="fuse",
        rating_a=40.0,
        family="Class T",
        minimum_voltage_v=14.4,
        minimum_interrupting_a=4000.0,
        place="at the post",
        pieces=1,
        at_hand=False,
        part_key="fuse",
    )
    text = wiring_diagram(
        DiagramContent("Van", one, asked.controllers, asked.battery, wires, [fuse], [])
    )
    words = _words(fromstring(text.svg))  # noqa: S314
    assert "W1  12 AWG / 4 mm²" in words
    assert "W2  6 AWG / 16 mm²" in words
    assert words.count("4.3 m one way") == 2
    assert "F1 40 A" in words


def test_names_are_escaped_and_everything_stays_inside_the_frame() -> None:
    """A name with markup in it, and the longest string that fits."""
    group = panels("<b>&\"'", 6, plate())
    feeds = [controller(max_input_voltage_v=250.0)]
    _, picture = _drawn(request([group], controllers=feeds))
    width, height = float(picture.get("width", "0")), float(picture.get("height", "0"))
    spots = [(float(t.get("x", "0")), float(t.get("y", "0"))) for t in picture.iter(f"{SVG}text")]
    lines = [p.get("points", "").split() for p in picture.iter(f"{SVG}polyline")]
    spots += [
        (float(x), float(y)) for x, y in (pair.split(",") for pair in chain.from_iterable(lines))
    ]
    assert all(0.0 <= x <= width and 0.0 <= y <= height for x, y in spots)


def test_plus_and_minus_differ_without_colour() -> None:
    """Line widths differ by half and more, and the key says so."""
    asked = request([panels("sheet", 2, plate())])
    _, picture = _drawn(asked)
    widths = {
        kind: {
            float(line.get("stroke-width", ""))
            for line in picture.iter(f"{SVG}polyline")
            if line.get("data-kind") == kind
        }
        for kind in ("plus", "minus")
    }
    assert min(widths["plus"]) >= 1.5 * max(widths["minus"])
    assert "plus, thick" in _words(picture)


def test_kind_of_the_battery_fuse_and_the_bond_to_the_chassis_are_shown() -> None:
    asked = request([panels("sheet", 2, plate())])
    one = array_configuration(asked).arrangements[0]
    name = asked.controllers[0].name
    wires = [_wire("W2", "controller-to-battery", name, "battery", "6 AWG", 16.0)]
    fuse = ProtectiveDevice(
        device="F1",
        protects="W2",
        also_protects=[],
        of_string=False,
        kind="fuse",
        rating_a=40.0,
        family="Class T fuse, fast and current-limiting",
        minimum_voltage_v=14.4,
        minimum_interrupting_a=20_000.0,
        place="at the post",
        pieces=1,
        at_hand=False,
        part_key="fuse",
    )
    text = wiring_diagram(
        DiagramContent("Van", one, asked.controllers, asked.battery, wires, [fuse], [])
    )
    words = _words(fromstring(text.svg))  # noqa: S314
    assert "Class T fuse" in words
    assert "one bond to the chassis" in words


def _box(text: Element) -> tuple[float, float, float, float]:
    """Left, top, right and bottom of a small text, by 6 for a letter and 10 for its height."""
    x, y, width = float(text.get("x", 0)), float(text.get("y", 0)), 6.0 * len(text.text or "")
    before = {"end": 1.0, "middle": 0.5}.get(text.get("text-anchor", ""), 0.0)
    return x - before * width, y - 10.0, x + (1.0 - before) * width, y


def test_currents_of_joints_stand_clear_of_lengths_of_cables() -> None:
    """Each of two strings has a cable of its own to the joint."""
    asked = request([panels("sheet", 4, plate())])
    one = array_configuration(asked).arrangements[0]
    name = asked.controllers[0].name
    strings = [
        f"string {n} ({' + '.join(s.panels)})" for n, s in enumerate(one.arrays[0].strings, 1)
    ]
    wires = [
        *(
            _wire(f"W{n}", "pv-string", s, "branch connectors", "12 AWG", 4.0)
            for n, s in enumerate(strings, 1)
        ),
        _wire("W3", "pv-output", "branch connectors", name, "8 AWG", 10.0),
    ]
    wires = [
        msgspec.structs.replace(wire, device=string.panels[0])
        for wire, string in zip(wires, one.arrays[0].strings, strict=False)
    ] + wires[2:]
    content = DiagramContent("Van", one, asked.controllers, asked.battery, wires, [], [])
    picture = fromstring(wiring_diagram(content).svg)  # noqa: S314
    told = [t for t in picture.iter(f"{SVG}text") if t.text and t.text.startswith("Y, ")]
    lengths = [t for t in picture.iter(f"{SVG}text") if t.text and t.text.endswith("one way")]
    assert (len(told), len(lengths)) == (2, 3)
    for (a, b, c, d), (e, f, g, h) in product(map(_box, told), map(_box, lengths)):
        assert c <= e or g <= a or d <= f or h <= b
