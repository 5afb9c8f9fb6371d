"""What a circuit loses on the way."""

from typing import Annotated

from sunhitch.types.base import Input
from sunhitch.types.check import Verdict
from sunhitch.types.quantity import choice, quantity

from .texts import FlatAnswer, Remedy
from .wires import (
    AllowedDrop,
    Amperes,
    Area,
    DropFraction,
    DropVolts,
    Gauge,
    Loss,
    MetalKind,
    OneWay,
    Voltage,
)


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
