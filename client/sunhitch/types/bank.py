"""What shares the battery with the array: other chargers, inverter and loads."""

from typing import Annotated, Literal

from .base import Input
from .quantity import choice, label, prose, quantity

ChargerKind = Literal["alternator", "shore"]
StarterVoltage = Literal[12, 24]


class BankCharger(Input, kw_only=True):
    """A charger beside the array."""

    name: Annotated[str, label("Name, unique among all equipment.", "alternator charger")]
    kind: Annotated[
        ChargerKind,
        choice("From a starter battery with its alternator, or from shore power.", "alternator"),
    ]
    output_a: Annotated[float, quantity("A", 0.5, 400.0, "Rated charging current.", 30.0)]
    to_bus_m: Annotated[float, quantity("m", 0.05, 30.0, "Cable to the bus bar, one way.", 1.5)]
    from_starter_m: (
        Annotated[float, quantity("m", 0.05, 30.0, "Cable from the starter battery, one way.", 5.0)]
        | None
    ) = None
    starter_voltage_v: Annotated[
        StarterVoltage, choice("Nominal voltage of the starter battery [V].", 12)
    ] = 12
    input_a: (
        Annotated[float, quantity("A", 0.5, 1000.0, "Largest current from the starter.", 38.0)]
        | None
    ) = None
    starter_short_circuit_a: (
        Annotated[
            float, quantity("A", 10.0, 200_000.0, "Fault current of the starter battery.", 3000.0)
        ]
        | None
    ) = None


class BankLoad(Input, kw_only=True):
    """An inverter, or a circuit of loads; its current, or the power that it gives."""

    EXACTLY_ONE = ("current_a", "power_w")
    name: Annotated[str, label("Name, unique among all equipment.", "inverter")]
    current_a: (
        Annotated[float, quantity("A", 0.1, 2000.0, "Largest current from the bank.", 20.0)] | None
    ) = None
    power_w: (
        Annotated[float, quantity("W", 1.0, 30_000.0, "Power that an inverter gives.", 1000.0)]
        | None
    ) = None
    to_bus_m: Annotated[float, quantity("m", 0.05, 30.0, "Cable to the bus bar, one way.", 1.0)]
    continuous: Annotated[bool, prose("Whether it may last three hours.")] = True
