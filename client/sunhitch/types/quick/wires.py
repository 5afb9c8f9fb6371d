"""Conductor sizes, what they carry and what is lost on the way."""

from typing import Annotated

from sunhitch.types.base import Input
from sunhitch.types.check import Verdict
from sunhitch.types.quantity import choice, count, prose, quantity
from sunhitch.types.wiring import Awg, Circuit, FuseFamily, Insulation, Material, Where, WiringRules

from .texts import FlatAnswer, Remedy, WarnedAnswer

_AMPS = 10_000.0
Amperes = Annotated[float, quantity("A", 0.001, _AMPS, "Largest current of the circuit.", 20.0)]
Voltage = Annotated[
    float, quantity("V", 1.0, 1500.0, "Nominal voltage that the drop is measured against.", 12.0)
]
OneWay = Annotated[float, quantity("m", 0.05, 200.0, "Length one way.", 4.0)]
CircuitKind = Annotated[Circuit, choice("What the circuit connects.", "controller-to-battery")]
Rules = Annotated[WiringRules, choice("Rule set.", "nec-2023")]
AllowedDrop = Annotated[
    float, quantity("1", 0.0005, 0.5, "Allowed drop, there and back, of `voltage_v`.", 0.03)
]
InsulationKind = Annotated[Insulation, choice("Temperature class or cable standard.", "90c")]
Lies = Annotated[Where, choice("How the cable lies.", "bundled")]
Loaded = Annotated[
    int, count(1, 100, "Loaded conductors in the same bundle or raceway, these included.", 2)
]
Air = Annotated[float, quantity("°C", -60.0, 100.0, "Hottest air along the way.", 40.0)]
Terminal = Annotated[
    float, quantity("°C", 60.0, 150.0, "Lowest temperature rating of the terminals.", 75.0)
]
MetalKind = Annotated[Material, choice("Metal.", "copper")]
Gauge = Annotated[Awg, choice("American wire gauge.", "10")]
Area = Annotated[float, quantity("mm²", 0.5, 500.0, "Nominal cross-section.", 6.0)]
_Ampacity = Annotated[float, quantity("A", 0.0, _AMPS, "What the conductor may carry.", 27.5)]
DropVolts = Annotated[float, quantity("V", 0.0, 1e6, "Voltage lost there and back.", 0.29)]
DropFraction = Annotated[float, quantity("1", 0.0, 1e6, "The same over nominal voltage.", 0.024)]
Loss = Annotated[float, quantity("W", 0.0, 1e9, "Heat in the cable.", 5.8)]


class WireSizeQuestion(Input, kw_only=True):
    """Smallest conductor for a current over a length."""

    EXACTLY_ONE = ("current_a", "i_sc_a", "controller_output_a")

    current_a: Amperes | None = None
    i_sc_a: (
        Annotated[
            float,
            quantity(
                "A", 0.01, 120.0, "Short-circuit current of one string of panels, nameplate.", 6.4
            ),
        ]
        | None
    ) = None
    controller_output_a: (
        Annotated[
            float, quantity("A", 0.5, 500.0, "Rated output current of the charge controller.", 30.0)
        ]
        | None
    ) = None
    voltage_v: Voltage
    length_m: OneWay
    strings_in_parallel: (
        Annotated[int, count(1, 60, "Strings of panels in parallel.", 2)] | None
    ) = None
    max_series_fuse_a: (
        Annotated[
            float,
            quantity("A", 0.1, 200.0, "Largest series fuse that the panel maker allows.", 15.0),
        ]
        | None
    ) = None
    circuit: CircuitKind | None = None
    rules: Rules | None = None
    allowed_drop_fraction: AllowedDrop | None = None
    insulation: InsulationKind | None = None
    where: Lies | None = None
    current_carrying_conductors: Loaded | None = None
    ambient_c: Air | None = None
    terminal_temperature_c: Terminal | None = None
    fault_current_a: (
        Annotated[
            float,
            quantity("A", 1.0, 200_000.0, "Short-circuit current where the fuse sits.", 1000.0),
        ]
        | None
    ) = None
    fuse_family: (
        Annotated[FuseFamily, choice("Family of fuses or breakers to use.", "blade")] | None
    ) = None


class QuickWireSize(WarnedAnswer):
    """Smallest conductor for a current over a length."""

    size: Annotated[str, prose("In the ladder of the rules; `none` if none will do.", "8 AWG")]
    awg_size: Annotated[str, prose("In American wire gauge.", "8 AWG")]
    metric_size: Annotated[str, prose("In square millimetres.", "10 mm²")]
    area_mm2: Annotated[float, quantity("mm²", 0.1, 1000.0, "Of `size`.", 8.367)] | None
    ampacity_a: _Ampacity | None
    drop_v: DropVolts | None
    drop_fraction: DropFraction | None
    loss_w: Loss | None
    fuse_a: Annotated[float, quantity("A", 0.1, 2000.0, "Fuse; null if none.", 25.0)] | None
    governing: Annotated[str, prose("Rules that forbid the next thinner size.", "voltage-drop")]
    verdict: Annotated[Verdict, choice("Worst of all rules.", "pass")]
    remedy: Remedy


class WireAmpacityQuestion(Input, kw_only=True):
    """What a conductor may carry where it lies."""

    EXACTLY_ONE = ("awg", "area_mm2")

    awg: Gauge | None = None
    area_mm2: Area | None = None
    circuit: CircuitKind | None = None
    rules: Rules | None = None
    material: MetalKind | None = None
    insulation: InsulationKind | None = None
    where: Lies | None = None
    current_carrying_conductors: Loaded | None = None
    ambient_c: Air | None = None
    terminal_temperature_c: Terminal | None = None


class QuickWireAmpacity(WarnedAnswer):
    """What a conductor may carry where it lies."""

    ampacity_a: _Ampacity
    largest_fuse_a: Annotated[
        float, quantity("A", 0.0, _AMPS, "Largest fuse that protects it.", 30.0)
    ]
    table_a: Annotated[float, quantity("A", 0.0, _AMPS, "Table value.", 40.0)]
    ambient_factor: Annotated[
        float, quantity("1", 0.0, 2.0, "For the air; 0 beyond the table.", 0.91)
    ]
    bundling_factor: Annotated[
        float, quantity("1", 0.0, 1.0, "For loaded conductors together.", 1.0)
    ]
    table: Annotated[str, prose("Table that was read.", "NEC Table 310.16, 90 °C column")]


class VoltageDropQuestion(Input, kw_only=True):
    """What a circuit loses on the way."""

    EXACTLY_ONE = ("awg", "area_mm2")

    current_a: Amperes
    voltage_v: Voltage
    length_m: OneWay
    awg: Gauge | None = None
    area_mm2: Area | None = None
    material: MetalKind | None = None
    conductor_temperature_c: (
        Annotated[float, quantity("°C", -60.0, 150.0, "Conductor under load.", 75.0)] | None
    ) = None
    allowed_drop_fraction: AllowedDrop | None = None


class QuickVoltageDrop(FlatAnswer):
    """What a circuit loses on the way."""

    drop_v: DropVolts
    drop_fraction: DropFraction
    loss_w: Loss
    loop_resistance_ohm: Annotated[
        float, quantity("Ω", 0.0, 1e4, "There and back at that temperature.", 0.0317)
    ]
    longest_m: Annotated[
        float, quantity("m", 0.0, 1e9, "Length one way that just keeps the allowed drop.", 4.9)
    ]
    verdict: Annotated[Verdict, choice("Against the allowed drop.", "pass")]
    remedy: Remedy
