"""Wiring diagram of one arrangement: panels, branches, fuses, entry, controller, battery."""

from itertools import accumulate
from typing import NamedTuple

from sunhitch.types.array import (
    ArrangedString,
    ArrayConfigurationAnswer,
    ArrayConfigurationRequest,
    ControllerArray,
    HarnessItem,
)
from sunhitch.types.fitout import FitOutAnswer, FitOutRequest, ProtectiveDevice, WireLine

from . import symbols
from .lettering import Box
from .sheet import Drawn, Pole, Sheet, shortened
from .symbols import PANEL
from .wiring_labels import DiagramContent, extension_words, rating_words, switch_words, wire_words

_MARGIN = 30.0
_HEAD = 78.0
_PITCH = PANEL[0] + 18.0
_ROW = 116.0
_GAP = 46.0
"""Between the plus and the minus conductor of a circuit."""
_BOX = (150.0, 118.0)
"""Size of a controller."""
_LONGEST_NAME = 16
_HALF = 133.0
"""Half of what a phone shows in letters that can be read on a roof."""
_BANK_ROW = 112.0
"""Height of a charger or load at the bus bar."""


class _DiagramColumns(NamedTuple):
    """Horizontal places, from left to right."""

    panels: float
    strings_end: float
    plus_bus: float
    minus_bus: float
    entry: float
    pv_switch: float
    controller: float
    battery_switch: float
    battery_fuse: float
    collector: float
    battery: float
    width: float

    @staticmethod
    def of(longest: int, fused: bool, bus: bool) -> "_DiagramColumns":
        """Room for strings of up to `longest` panels; as narrow as the words allow, for print."""
        to_panels, strings, to_bus = (_MARGIN + 22.0, longest * _PITCH, 222.0 if fused else 150.0)
        to_battery = 346.0 if bus else 60.0
        from_bus = 34.0, 154.0, 68.0, 64.0, _BOX[0] + 172.0, 88.0, 48.0, to_battery, 92.0
        return _DiagramColumns(*accumulate((to_panels, strings, to_bus, *from_bus)))


def array_wiring_diagram(
    request: ArrayConfigurationRequest, answer: ArrayConfigurationAnswer
) -> str:
    """Diagram of the wiring as drawn, else of the first arrangement, as SVG."""
    best = answer.drawn or answer.arrangements[0]
    content = DiagramContent(
        "Wiring diagram", best, request.controllers, request.battery, [], [], []
    )
    return wiring_diagram(content).svg


def fit_out_wiring_diagram(request: FitOutRequest, answer: FitOutAnswer) -> str:
    """Diagram of a fit-out with sizes and lengths on its lines, as SVG."""
    return drawn_fit_out(request, answer).svg


def drawn_fit_out(request: FitOutRequest, answer: FitOutAnswer) -> Drawn:
    """The same, with the windows `roof` and `inside`."""
    return wiring_diagram(
        DiagramContent(
            f"Wiring diagram: {answer.title}",
            answer.configurations[0],
            request.controllers,
            request.battery,
            answer.wire_schedule,
            answer.protection_schedule,
            [d for d in answer.disconnects if d.name.startswith("Photovoltaic")],
            next(part for part in answer.parts_list if part.kind == "bonding-conductor"),
        )
    )


def wiring_diagram(wiring: DiagramContent) -> Drawn:
    """Draw an arrangement.

    Parameters
    ----------
    wiring : DiagramContent
        What to show.

    Returns
    -------
    Drawn
        Readable in print and without colour; windows on the roof and on what is inside.
    """
    drawing = _Drawing(wiring)
    arrays = wiring.arrangement.arrays
    rooms = [(len(array.strings) + (array.removable is not None)) * _ROW + 44.0 for array in arrays]
    bank = wiring.of_kind("charger-to-battery", "bus-to-load")
    tops = list(accumulate([*rooms, *(len(bank) * [_BANK_ROW])], initial=_HEAD + 26.0))
    drawing.zones(tops[len(arrays)] - 20.0)
    heights = [drawing.array(array, top) for array, top in zip(arrays, tops, strict=False)]
    for wire, top in zip(bank, tops[len(arrays) :], strict=False):
        heights.append(drawing.equipment(wire, top + 40.0))
    drawing.battery(heights)
    inside = drawing.at.entry + 14.0, heights[0] - 50.0, drawing.at.width - 18.0, tops[-1]
    bottom = drawing.notes(tops[-1] + 34.0)
    key = tops[-1] + 44.0
    key_right = max(box[2] for box in drawing.sheet.texts if box[1] > key)
    windows = drawing.windows | {
        "roof": (20.0, _HEAD, drawing.at.entry + 18.0, tops[-1]),
        "inside": inside,
        "key": (_MARGIN, key, key_right, key + 20.0),
    }
    return Drawn(drawing.sheet.svg(drawing.at.width, bottom), windows)


class _Drawing:
    """One diagram in the making."""

    def __init__(self, wiring: DiagramContent) -> None:
        self.wiring, one = wiring, wiring.arrangement
        strings = [string for array in one.arrays for string in array.strings]
        longest = max(len(string.panels) for string in strings)
        self.main = wiring.of_kind("bus-to-battery")
        fused = any(s.fuse_a is not None for s in strings)
        self.at = _DiagramColumns.of(longest, fused, bool(self.main))
        watts = sum(array.p_mp_w for array in one.arrays)
        words = f"{one.name} · {watts:.0f} W nameplate · checks: {one.verdict}"
        words += f" · not used: {', '.join(one.leftover)}" if one.leftover else ""
        self.sheet = Sheet(wiring.title, words, left=_MARGIN)
        self.sheet.line("rule", (_MARGIN, 66), (self.at.width - _MARGIN, 66))
        self._fuses = 0
        self.windows: dict[str, Box] = {}

    def window(self, name: str, x: float, y: float) -> None:
        """What a phone shows of a circuit at a place, by the name of what stands there."""
        self.windows[name.lower()] = x - _HALF, y - 46.0, x + _HALF, y + _GAP + 42.0

    def zones(self, bottom: float) -> None:
        """Roof and inside, parted at the cable entry."""
        x = self.at.entry
        self.sheet.text(self.at.panels, _HEAD + 12, "ON THE ROOF", "small")
        self.sheet.text(x + 34, _HEAD + 12, "INSIDE", "small")
        self.sheet.line("zone", (x, _HEAD), (x, bottom))
        self.sheet.text(x + 8, bottom + 14, "cable entry", "small", "end")

    def array(self, array: ControllerArray, top: float) -> float:
        """Strings, branches and controller; returns the height of the plus line."""
        rows = [top + 46.0 + n * _ROW for n in range(len(array.strings))]
        x = self.at.minus_bus
        self.sheet.line("minus", (x, rows[0] + _GAP), (x, rows[-1] + _GAP))
        for string, y in zip(array.strings, rows, strict=True):
            start, low = self._start(string), y + _GAP
            self.sheet.line("minus", (start, y), (start - 17, y), (start - 17, low), (x, low))
        self.sheet.over("plus", (self.at.plus_bus, rows[0]), (self.at.plus_bus, rows[-1]))
        for number, y in enumerate(rows, 1):
            self._string(array, number, y)
        self._to_controller(array, rows[-1])
        self._joints(array, rows)
        self._controller(array, rows[-1])
        if array.removable is not None:
            self._removable(array, array.removable, rows[-1])
        return rows[-1]

    def _removable(self, array: ControllerArray, own: ArrangedString, y: float) -> None:
        """What is plugged in beside the array, its socket, lead and fuse."""
        sheet, at, low = self.sheet, self.at, y + _ROW
        left, joint = at.plus_bus - PANEL[0], at.controller - 7.0
        symbols.panel(sheet, left, low, shortened(own.panels[0], _LONGEST_NAME))
        sheet.line("plus", (at.plus_bus, low), (joint, low), (joint, y))
        back = low + _GAP
        sheet.line("minus", (left, low), (left - 17, low), (left - 17, back), (joint - 11, back))
        sheet.line("minus", (joint - 11, back), (joint - 11, y + _GAP))
        symbols.branch(sheet, joint, y)
        symbols.branch(sheet, joint - 11, y + _GAP)
        wire = self.wiring.wire("removable-panel", end=array.controller)
        self._wire_words(0.5 * (at.minus_bus + at.entry), low, wire)
        sheet.text(at.entry - 8, low + 28, "second plug, with switch", "small", "end")
        if own.fuse_a is not None:
            self._fuse(at.pv_switch, low, self.wiring.device(own.panels[0]), own.fuse_a)

    def equipment(self, wire: WireLine, y: float) -> float:
        """A charger or a load at the bus bar, with its cable and fuse; returns its height."""
        sheet, at = self.sheet, self.at
        name = wire.start if wire.kind == "charger-to-battery" else wire.end
        sheet.box("box", at.controller, y - 24.0, (_BOX[0], _GAP + 48.0))
        middle = at.controller + _BOX[0] / 2
        sheet.text(middle, y + 14.0, shortened(name, 20), "head", "middle")
        self.window(name, middle, y)
        kind = "charger" if wire.kind == "charger-to-battery" else "load"
        sheet.text(middle, y + 30.0, f"{kind}, {wire.maximum_current_a:.1f} A", "small", "middle")
        sheet.line("plus", (at.controller + _BOX[0], y), (at.collector, y))
        self._wire_words(at.controller + _BOX[0] + 73, y, wire)
        self._bus_fuse(wire, y)
        for starter in self.wiring.of_kind("starter-to-charger"):
            if starter.end == name:
                self._starter(starter, y)
        return y

    def _starter(self, wire: WireLine, y: float) -> None:
        """The starter battery that feeds a charger, with cable and fuse."""
        sheet, at = self.sheet, self.at
        left = at.plus_bus
        symbols.battery(sheet, left, y)
        sheet.text(left, y + _GAP + 20, "starter battery", "small", "middle")
        sheet.line("plus", (left, y), (at.controller, y))
        sheet.line("minus", (left, y + _GAP), (at.controller, y + _GAP))
        self._wire_words(0.5 * (at.minus_bus + at.entry) + 40, y, wire)
        device = self.wiring.device(wire.line)
        if device is not None:
            self._fuse(left + 46, y, device)

    def _bus_fuse(self, wire: WireLine | None, y: float) -> None:
        device = self.wiring.device(wire.line if wire else None)
        self._fuse(self.at.battery_fuse, y, device)
        where = "at the bus bar" if self.main else "at the post"
        self.sheet.text(self.at.battery_fuse, y + 20, where, "small", "middle")
        if device is not None:
            kind = device.family.partition(",")[0]
            self.sheet.text(self.at.collector - 8, y + 32, kind, "small", "end")

    def _start(self, string: ArrangedString) -> float:
        return self.at.strings_end - len(string.panels) * _PITCH + 9

    def _string(self, array: ControllerArray, number: int, y: float) -> None:
        """Panels from minus on the left to plus on the right, cable and fuse behind them."""
        sheet, at, string = self.sheet, self.at, array.strings[number - 1]
        x, alone = self._start(string), len(array.strings) == 1
        sheet.line("plus", (x + PANEL[0], y), (at.plus_bus, y))
        for place, name in enumerate(reversed(string.panels)):
            symbols.panel(sheet, x + place * _PITCH, y, shortened(name, _LONGEST_NAME))
        end = max(x + 2 * _HALF - 26.0, at.strings_end + 60.0)
        box = x - 26.0, y - 46.0, end, y + _GAP + 20.0
        self.windows[f"string {number} of {array.controller}"] = box
        words = f"string {number}: {string.p_mp_w:.0f} W, Isc {string.i_sc_a:.1f} A"
        sheet.text(x - 13, y + _GAP + 13, words, "small")
        if not alone:
            length = extension_words(self.wiring.arrangement, array.controller, [number])
            wire = self.wiring.wire("pv-string", f"string {number} ({' + '.join(string.panels)})")
            self._wire_words(at.strings_end + 69, y, wire, length and f"extension {length}")
        if string.fuse_a is not None and not alone:
            device = self.wiring.device(f"string {number} of {array.controller}")
            self._fuse(at.plus_bus - 46, y, device, string.fuse_a)

    def _fuse(
        self, x: float, y: float, device: ProtectiveDevice | None, rating_a: float | None = None
    ) -> None:
        """Symbol, number and rating: those of the schedule where there is one."""
        self._fuses += 1
        if device is not None:
            label = f"{device.device} {rating_words(device.rating_a)}"
        else:
            label = f"F{self._fuses}" + ("" if rating_a is None else f" {rating_words(rating_a)}")
        if device is not None:
            self.window(device.device, x, y)
        with self.sheet.parts([device.part_key] if device else ()):
            symbols.fuse(self.sheet, x, y, label)

    def _wire_words(self, x: float, y: float, wire: WireLine | None, instead: str = "") -> None:
        """Number and sizes above the plus line, length above that of minus."""
        size, length = wire_words(wire)
        if wire is not None:
            self.window(wire.line, x, y)
        with self.sheet.parts(wire.part_keys if wire else ()):
            self.sheet.text(x, y - 9, size or instead, "head" if size else "small", "middle")
            self.sheet.text(x, y + 13, length, "small", "middle")

    def _joints(self, array: ControllerArray, rows: list[float]) -> None:
        """Strings join one by one, or all in one piece; the sum leaves at the last one."""
        joints = [
            item
            for item in self.wiring.arrangement.harness
            if item.kind == "branch-connector" and item.controller == array.controller
        ]
        for item in joints:
            with self.sheet.parts([item.part_key]):
                self._joint(item, rows)
        if joints:
            y = rows[-1]
            self.sheet.over("plus", (self.at.plus_bus + 7, y), (self.at.minus_bus + 16, y))

    def _joint(self, item: HarnessItem, rows: list[float]) -> None:
        plus = item.polarity == "positive"
        x, shift = (self.at.plus_bus, 0.0) if plus else (self.at.minus_bus, _GAP)
        heights = [row + shift for row in rows]
        if item.joins == 2:
            label, y = f"Y, {item.current_a:.1f} A", heights[len(item.strings) - 1]
            symbols.branch(self.sheet, x, y, label, "end" if plus else "start")
            return
        symbols.manifold(self.sheet, x, heights)
        at = (x + 12, heights[0] + 4) if plus else (x + 10, heights[-1] + 16)
        self.sheet.text(*at, f"{item.joins} in 1, {item.current_a:.1f} A", "small")

    def _to_controller(self, array: ControllerArray, y: float) -> None:
        """From the last joint through entry and disconnect."""
        sheet, at, one = self.sheet, self.at, self.wiring.arrangement
        start: dict[Pole, tuple[float, float]] = {
            "plus": (at.plus_bus, y),
            "minus": (at.minus_bus, y + _GAP),
        }
        for pole, point in start.items():
            sheet.line(pole, point, (at.controller, point[1]))
            symbols.gland(sheet, at.entry, point[1])
        everyone = list(range(1, len(array.strings) + 1))
        length = extension_words(one, array.controller, everyone)
        wire = self.wiring.wire("pv-output", end=array.controller)
        middle = 0.5 * (at.minus_bus + at.entry)
        self._wire_words(middle, y, wire, length and f"to the entry {length}")
        place = one.arrays.index(array)
        for switch in self.wiring.pv_switches[place : place + 1]:
            self.window(switch.name, at.pv_switch, y)
        with sheet.parts(switch.part_key for switch in self.wiring.pv_switches[place : place + 1]):
            symbols.switch(sheet, at.pv_switch, y, y + _GAP, "PV disconnect")
        device, alone = self.wiring.device(wire.line if wire else None), len(array.strings) == 1
        if device is not None or (alone and array.strings[0].fuse_a is not None):
            self._fuse(at.pv_switch + 40.0, y, device, array.strings[0].fuse_a)
        words = switch_words(self.wiring, array)
        sheet.text(at.pv_switch, y + _GAP + 22, words, "small", "middle")

    def _controller(self, array: ControllerArray, y: float) -> None:
        sheet, x, settled = (
            self.sheet,
            self.at.controller,
            self.wiring.controller(array.controller),
        )
        top = y - 36.0
        self.window(settled.name, x + _BOX[0] / 2, y)
        sheet.box("box", x, top, _BOX)
        middle = x + _BOX[0] / 2
        sheet.text(middle, top + 17, settled.name, "head", "middle")
        sheet.text(middle, y + 27, f"{settled.kind.upper()} controller", "small", "middle")
        limits = f"≤ {settled.max_input_voltage_v:g} V in, {settled.max_output_current_a:g} A out"
        sheet.text(middle, top + 104, limits, "small", "middle")
        for height, sign in ((y, "+"), (y + _GAP, "−")):
            sheet.text(x + 6, height + 4, f"PV {sign}")
            sheet.text(x + _BOX[0] - 6, height + 4, f"BAT {sign}", anchor="end")

    def battery(self, heights: list[float]) -> None:
        """From every controller past its disconnect and fuse to the battery."""
        sheet, at, bank = self.sheet, self.at, self.wiring.battery
        y, minus = heights[-1], at.collector + 22
        sheet.line("minus", (minus, heights[0] + _GAP), (minus, y + _GAP), (at.battery, y + _GAP))
        for height in heights:
            sheet.line("minus", (at.controller + _BOX[0], height + _GAP), (minus, height + _GAP))
        sheet.over("plus", (at.collector, heights[0]), (at.collector, y))
        sheet.over("plus", (at.collector, y), (at.battery, y))
        for array, height in zip(self.wiring.arrangement.arrays, heights, strict=False):
            self._to_battery(array, height)
        for height in heights[1:]:
            symbols.branch(sheet, at.collector, height)
            symbols.branch(sheet, minus, height + _GAP)
        for wire in self.main:
            self._wire_words(at.collector + 176, y, wire)
            symbols.switch(sheet, at.collector + 82, y, None, "battery disconnect")
            self.window("battery disconnect", at.collector + 82, y)
            self._fuse(at.battery - 46, y, self.wiring.device(wire.line))
            sheet.text(at.collector - 4, heights[0] - 12, "bus bar", "small", "middle")
        at_x, bond = at.collector + 82 if self.main else at.battery_switch, self.wiring.bond
        with sheet.parts([bond.key] if bond else ()):
            words = f"one bond to the chassis{f', {bond.size}' if bond else ''}"
            symbols.chassis(sheet, at_x, y + _GAP, words)
        symbols.battery(sheet, at.battery, y)
        words = f"{bank.nominal_voltage_v} V, {bank.capacity_ah:g} Ah"
        sheet.text(at.battery, y + _GAP + 20, words, "head", "middle")
        sheet.text(at.battery, y + _GAP + 34, bank.chemistry.replace("-", " "), "small", "middle")

    def _to_battery(self, array: ControllerArray, y: float) -> None:
        """Plus line of a controller past its disconnect and the fuse at the post."""
        sheet, at = self.sheet, self.at
        start = at.controller + _BOX[0]
        wire = self.wiring.wire("controller-to-battery", start=array.controller)
        sheet.line("plus", (start, y), (at.collector, y))
        self._wire_words(start + 73, y, wire)
        if not self.main:
            symbols.switch(sheet, at.battery_switch, y, None, "battery disconnect")
            self.window("battery disconnect", at.battery_switch, y)
        self._bus_fuse(wire, y)

    def notes(self, top: float) -> float:
        """Key and warnings; returns the height of the whole sheet."""
        sheet = self.sheet
        sheet.line("rule", (_MARGIN, top), (self.at.width - _MARGIN, top))
        sheet.line("plus", (_MARGIN, top + 20), (_MARGIN + 34, top + 20))
        sheet.text(_MARGIN + 42, top + 24, "plus, thick")
        sheet.line("minus", (_MARGIN + 130, top + 20), (_MARGIN + 164, top + 20))
        sheet.text(_MARGIN + 172, top + 24, "minus, thin")
        sheet.text(_MARGIN + 262, top + 24, "● joined; lines that cross without ● are not joined")
        for n, words in enumerate(_WARNINGS):
            sheet.text(_MARGIN, top + 48 + 16 * n, words, "note")
        return top + 56.0 + 16.0 * len(_WARNINGS)


_WARNINGS = (
    "Connect the battery to the controller before the panels; disconnect the panels first.",
    "A lit panel is live. Plugs and branch connectors are not switches: never part them under "
    "load, and mate plugs of one make only.",
    "Currents are 1.25 × Isc. Local codes, the makers' instructions and a licensed electrician's "
    "judgement come first.",
)
