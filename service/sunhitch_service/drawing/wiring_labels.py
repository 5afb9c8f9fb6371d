"""What stands beside the lines of a wiring diagram."""

from dataclasses import dataclass

from sunhitch.types.array import ArrangedString, Arrangement, ControllerArray
from sunhitch.types.fitout import LineKind, ProtectiveDevice, WireLine
from sunhitch.types.system import Battery, Controller

_LONGEST = 16


@dataclass(frozen=True, slots=True)
class Wiring:
    """What a wiring diagram shows.

    Parameters
    ----------
    title : str
        Heading.
    arrangement : Arrangement
        Strings and harness.
    controllers : list of Controller
        Those in use and perhaps others.
    battery : Battery
        The bank.
    wires : list of WireLine
        Sized cables; empty where none were sized.
    devices : list of ProtectiveDevice
        Fuses; empty where none were chosen.
    """

    title: str
    arrangement: Arrangement
    controllers: list[Controller]
    battery: Battery
    wires: list[WireLine]
    devices: list[ProtectiveDevice]

    def controller(self, name: str) -> Controller:
        """Controller by name."""
        return next(one for one in self.controllers if one.name == name)

    def string_wire(self, string: ArrangedString, number: int) -> WireLine | None:
        """Cable between a string and the branch connectors, if it has one of its own."""
        start = f"string {number} ({' + '.join(string.panels)})"
        return next((w for w in self.wires if w.kind == "pv-string" and w.start == start), None)

    def output_wire(self, controller: str) -> WireLine | None:
        """Cable between the branch connectors, or a string, and a controller."""
        return self._wire("pv-output", end=controller)

    def battery_wire(self, controller: str) -> WireLine | None:
        """Cable between a controller and the battery."""
        return self._wire("controller-to-battery", start=controller)

    def _wire(self, kind: LineKind, start: str = "", end: str = "") -> WireLine | None:
        return next(
            (
                w
                for w in self.wires
                if w.kind == kind and start in ("", w.start) and end in ("", w.end)
            ),
            None,
        )

    def device(self, wire: WireLine | None) -> ProtectiveDevice | None:
        """Fuse of a cable."""
        if wire is None:
            return None
        return next((d for d in self.devices if d.protects == wire.line), None)


def wire_words(wire: WireLine | None) -> tuple[str, str]:
    """Two short lines for a cable: number with sizes, and length; empty where it was not sized."""
    if wire is None:
        return "", ""
    sizes = [f"{wire.metric_mm2:g} mm²"] if wire.metric_mm2 else []
    sizes += [wire.awg] if wire.awg else []
    return f"{wire.line}  {' / '.join(sizes) or 'no size fits'}", f"{wire.length_m:.1f} m one way"


def extension_words(arrangement: Arrangement, controller: str, strings: list[int]) -> str:
    """Length of the extensions that carry some strings, where it is known."""
    lengths = [
        item.length_m
        for item in arrangement.harness
        if item.kind == "extension"
        and item.controller == controller
        and item.strings == strings
        and item.polarity in ("positive", "negative")
        and item.length_m
    ]
    return " + ".join(f"{length:.1f} m" for length in lengths)


def largest_current_a(arrangement: Arrangement, controller: str) -> float:
    """Largest current that reaches a controller from its panels, as the harness counts it [A]."""
    return max(i.current_a for i in arrangement.harness if i.controller == controller)


def cold_voltage_v(array: ControllerArray) -> float | None:
    """Largest open-circuit voltage in the cold by the governing method [V]."""
    governing = [
        string.cold_voc_table_v
        if string.cold_voc_coefficient_v is None
        else string.cold_voc_coefficient_v
        for string in array.strings
    ]
    return max((volts for volts in governing if volts is not None), default=None)


def rating_words(amperes: float | None) -> str:
    """Rating of a fuse in words."""
    return "none fits" if not amperes else f"{amperes:g} A"


def shortened(name: str) -> str:
    """A name that fits over a panel."""
    return name if len(name) <= _LONGEST else f"{name[: _LONGEST - 1]}…"
