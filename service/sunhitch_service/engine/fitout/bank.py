"""What shares the battery with the array: other chargers and loads at a bus bar."""

from collections.abc import Iterator
from typing import NamedTuple

from msgspec.structs import replace

from sunhitch.texts import Text, statement, together
from sunhitch.types.bank import BankCharger, BankLoad
from sunhitch.types.fitout import FitOutRequest, LineKind
from sunhitch.types.wiring import Run, WireSizingRequest
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.battery.settings import PRACTICE, fault_current_a
from sunhitch_service.engine.circuit.tree import CurrentSource, Element, conductor, controller
from sunhitch_service.engine.errors import Faults, listed
from sunhitch_service.engine.wiring.case import at_fuse_block

BATTERY, BUS = statement("battery"), statement("bus-bar")


class Behind(NamedTuple):
    """Equipment that a cable belongs to, and strings and panels whose current it carries."""

    equipment: str
    strings: tuple[int, ...] = ()
    panels: tuple[str, ...] = ()


class AskedLine(NamedTuple):
    """A cable to be sized; its way where that is another than its length."""

    kind: LineKind
    start: str
    end: str
    behind: Behind
    request: WireSizingRequest
    way_m: float | None = None


def has_bus(request: FitOutRequest) -> bool:
    """Whether anything but controllers hangs on the battery."""
    return bool(request.chargers or request.loads)


def meeting_point(request: FitOutRequest) -> str:
    """Where the controllers' outputs end."""
    return BUS if has_bus(request) else BATTERY


def refuse_bank(request: FitOutRequest, faults: Faults) -> None:
    """Note names that stand twice, loads without a figure, starters of shore chargers."""
    faults.unique(
        [
            *listed("/controllers", (each.name for each in request.controllers)),
            *listed("/chargers", (each.name for each in request.chargers)),
            *listed("/loads", (each.name for each in request.loads)),
        ]
    )
    for index, charger in enumerate(request.chargers):
        faults.add_if(
            (charger.from_starter_m is not None) != (charger.kind == "alternator"),
            f"/chargers/{index}/from_starter_m",
            "alternator-charger-only",
        )
    for index, load in enumerate(request.loads):
        faults.exactly_one(load, f"/loads/{index}")


class BankCircuits:
    """Cables of chargers, loads and bus bar, and their places in the tree of sources.

    Parameters
    ----------
    request : FitOutRequest
        The job.
    charge_v : float
        Highest charging voltage at 25 °C [V].
    solar_a : float
        Charging current of all solar controllers [A].
    usual : WireSizingRequest
        A controller's cable to the battery: conductor, insulation, air, highest voltage.
    notes : Assumptions
        Takes what is chosen.
    """

    def __init__(
        self,
        request: FitOutRequest,
        charge_v: float,
        solar_a: float,
        usual: WireSizingRequest,
        notes: Assumptions,
    ) -> None:
        self.request, self.charge_v, self.solar_a = request, charge_v, solar_a
        self.usual, self.notes = usual, notes

    def lines(self) -> Iterator[AskedLine]:
        """Every cable, the one from the bus bar to the battery last."""
        charging = self.solar_a
        for index, charger in enumerate(self.request.chargers):
            behind = Behind(charger.name)
            if charger.kind == "alternator":
                asked = self._from_starter(index, charger)
                start = starter_of(charger.name)
                yield AskedLine("starter-to-charger", start, charger.name, behind, asked)
            output = self._line(charger.to_bus_m, charger.output_a, True)
            yield AskedLine("charger-to-battery", charger.name, BUS, behind, output)
            charging += charger.output_a
        drawn = 0.0
        for index, load in enumerate(self.request.loads):
            current = self._load_a(index, load)
            asked = self._line(load.to_bus_m, current, load.continuous, at_block=True)
            yield AskedLine("bus-to-load", BUS, load.name, Behind(load.name), asked)
            drawn += current
        length = PRACTICE.usual(
            self.notes, "/cables/bus_to_battery_m", self.request.cables.bus_to_battery_m, "bus-bar"
        )
        main = self._line(length, max(charging, drawn), True)
        yield AskedLine("bus-to-battery", BUS, BATTERY, Behind(BUS), main)

    def _line(
        self, length_m: float, current_a: float, continuous: bool, at_block: bool = False
    ) -> WireSizingRequest:
        small = at_block and at_fuse_block("battery-to-load", current_a)
        return WireSizingRequest(
            circuit="battery-to-load",
            rules=self.request.rules,
            voltage_v=self.usual.voltage_v,
            length_m=length_m,
            current_a=current_a,
            continuous=continuous,
            max_voltage_v=self.usual.max_voltage_v,
            conductor=self.usual.conductor,
            insulation=self.usual.insulation,
            runs=[Run(where="raceway", current_carrying_conductors=2)],
            ambient_c=self.usual.ambient_c,
            fault_current_a=None if small else self.usual.fault_current_a,
        )

    def _from_starter(self, index: int, charger: BankCharger) -> WireSizingRequest:
        volts = float(charger.starter_voltage_v)
        given, at = charger.input_a, f"/chargers/{index}"
        lowest_v = volts * PRACTICE.figure("lowest-voltage")
        usual = charger.output_a * self.charge_v / (lowest_v * PRACTICE.figure("converter"))
        current = self.notes.choose(f"{at}/input_a", given, usual, PRACTICE.why("converter"))
        return replace(
            self._line(charger.from_starter_m or 0.0, current, True),
            voltage_v=volts,
            max_voltage_v=None,
            fault_current_a=starter_fault_a(charger, at, self.notes),
        )

    def _load_a(self, index: int, load: BankLoad) -> float:
        """Largest current of a load; of an inverter at the lowest voltage of the bank [A]."""
        if load.power_w is None:
            return load.current_a or 0.0
        lowest_v = self.usual.voltage_v * PRACTICE.figure("lowest-voltage")
        current = load.power_w / (lowest_v * PRACTICE.figure("converter"))
        why = together("space", [PRACTICE.why(one) for one in ("lowest-voltage", "converter")])
        return self.notes.choose(f"/loads/{index}/current_a", None, current, why)


def starter_of(charger: str) -> Text:
    """The battery that feeds a charger, as schedules name it."""
    return statement("starter-battery-of", charger=charger)


def starter_fault_a(charger: BankCharger, at: str, notes: Assumptions) -> float:
    """Fault current of the starter battery and its alternator [A]."""
    given_a = charger.starter_short_circuit_a
    return fault_current_a(given_a, None, f"{at}/starter_short_circuit_a", notes)


def bank_sources(request: FitOutRequest) -> Iterator[CurrentSource]:
    """Chargers from shore, and starter batteries: each can feed the bank's cables."""
    for charger in request.chargers:
        if charger.kind == "shore":
            name, amps = statement("output-of", name=charger.name), charger.output_a
            yield CurrentSource(f"{charger.name}", name, amps, limited=True)
        else:
            name = starter_of(charger.name)
            fault = starter_fault_a(charger, "", Assumptions())
            yield CurrentSource(name, statement("post-of", name=name), fault, limited=False)


def minus_at_chassis(request: FitOutRequest) -> Iterator[str]:
    """Posts whose minus is the vehicle's chassis: those of starter batteries."""
    for charger in request.chargers:
        if charger.kind == "alternator":
            yield statement("post-of", name=starter_of(charger.name))


def bank_elements(
    request: FitOutRequest, lines: dict[tuple[LineKind, str], tuple[str, dict[str, float]]]
) -> Iterator[Element]:
    """Their cables and converters, by the numbers and sizes of their lines."""
    for charger in request.chargers:
        name, output = charger.name, statement("output-of", name=charger.name)
        if charger.kind == "alternator":
            number, sizes = lines["starter-to-charger", name]
            yield conductor(
                number,
                statement("post-of", name=starter_of(name)),
                statement("input-of", name=name),
                **sizes,
            )
            yield controller(name, statement("input-of", name=name), output, charger.output_a)
        number, sizes = lines["charger-to-battery", name]
        yield conductor(number, output, BUS, **sizes)
    for load in request.loads:
        number, sizes = lines["bus-to-load", load.name]
        yield conductor(number, BUS, statement("terminals-of", name=load.name), **sizes)
    if has_bus(request):
        number, sizes = lines["bus-to-battery", BUS]
        yield conductor(number, BUS, BATTERY, **sizes)
