"""What stands beside the lines of a wiring diagram."""

from dataclasses import dataclass

from sunhitch.report.amounts import at_least
from sunhitch.types.array import Arrangement, ControllerArray
from sunhitch.types.fitout import LineKind, ProtectiveDevice, WireLine
from sunhitch.types.parts import Part
from sunhitch.types.system import Battery, Controller
from sunhitch.types.wiring import Disconnect
from sunhitch_service.engine.rules.controllers import maximum_current_a


@dataclass(frozen=True, slots=True)
class DiagramContent:
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
    pv_switches : list of Disconnect
        Disconnects between panels and controllers, in the order of the arrays; empty where none
        were chosen.
    bond : Part or None
        Conductor between chassis and battery minus, where it was chosen.
    """

    title: str
    arrangement: Arrangement
    controllers: list[Controller]
    battery: Battery
    wires: list[WireLine]
    devices: list[ProtectiveDevice]
    pv_switches: list[Disconnect]
    bond: Part | None = None

    def controller(self, name: str) -> Controller:
        """Controller by name."""
        return next(one for one in self.controllers if one.name == name)

    def wire(self, kind: LineKind, start: str = "", end: str = "") -> WireLine | None:
        """The first cable of a kind from or to something; None where none was sized."""
        of_kind = (w for w in self.wires if w.kind == kind)
        ends = ((w, w.start) if start else (w, w.end) for w in of_kind)
        return next((w for w, reached in ends if reached == (start or end)), None)

    def of_kind(self, *kinds: LineKind) -> list[WireLine]:
        """Cables of some kinds, in order."""
        return [wire for wire in self.wires if wire.kind in kinds]

    def device(self, protected: str | None) -> ProtectiveDevice | None:
        """Fuse of a cable or a string, as the schedule names it."""
        return next((d for d in self.devices if d.protects == protected), None)


def wire_words(wire: WireLine | None) -> tuple[str, str]:
    """Number with sizes, the rules' own first, and length; empty where it was not sized."""
    if wire is None:
        return "", ""
    if wire.at_hand:
        return f"{wire.line}  {wire.at_hand} at hand", f"{wire.length_m:.1f} m one way"
    sizes = [f"{wire.metric_mm2:g} mm²"] if wire.metric_mm2 else []
    sizes += [wire.awg] if wire.awg else []
    sizes.sort(key=lambda size: size != wire.drop_of)
    return (f"{wire.line}  {' / '.join(sizes) or 'no size fits'}", f"{wire.length_m:.1f} m one way")


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


def switch_words(wiring: DiagramContent, array: ControllerArray) -> str:
    """Ratings that an array's disconnect needs: as chosen, else 1.25 × Isc and the cold Voc."""
    place = wiring.arrangement.arrays.index(array)
    if place < len(wiring.pv_switches):
        chosen = wiring.pv_switches[place]
        amperes, volts = chosen.minimum_current_a, chosen.minimum_voltage_v
    else:
        items = wiring.arrangement.harness
        currents = [item.current_a for item in items if item.controller == array.controller]
        amperes = max(currents, default=maximum_current_a(array.i_sc_a))
        volts = array.cold_voc_v or 0.0
    return f"≥ {at_least(amperes)} A" + (f", ≥ {at_least(volts)} V DC" if volts else "")


def rating_words(amperes: float | None) -> str:
    """Rating of a fuse in words."""
    return "none fits" if not amperes else f"{amperes:g} A"
